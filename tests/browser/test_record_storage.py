"""What is saved is there whole, whatever ends the browser and whoever saves at once; what fails changes nothing."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Error as PlaywrightError
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from tests.browser.recording import DIGESTS, EXPORT, opened, run

pytestmark = pytest.mark.browser


# -- the browser is ended ------------------------------------------------------------------------------------


@pytest.fixture
def killable(playwright: Any, need_chromium: Path, tmp_path: Path) -> Iterator[Callable[[], tuple[Any, Any]]]:
    """Starts a Chromium with the profile that `phone` opens too; gives a page and what kills all its processes."""
    started: list[subprocess.Popen[bytes]] = []

    def kill() -> None:
        if started:
            os.killpg(started[0].pid, signal.SIGKILL)
            started.pop().wait()

    def start() -> tuple[Any, Any]:
        profile = tmp_path / "profile"
        flags = ["--no-sandbox", "--disable-gpu", "--headless=new", "--no-first-run", "--remote-debugging-port=0"]
        command = [str(need_chromium), *flags, f"--user-data-dir={profile}"]
        quiet = subprocess.DEVNULL
        started.append(subprocess.Popen(command, start_new_session=True, stdout=quiet, stderr=quiet))
        port = profile / "DevToolsActivePort"
        until = time.monotonic() + 30
        while not port.exists() or "\n" not in port.read_text():
            assert time.monotonic() < until, "Chromium did not start"
            time.sleep(0.05)
        address = f"http://127.0.0.1:{port.read_text().split()[0]}"
        try:
            browser = playwright.chromium.connect_over_cdp(address)
        except PlaywrightTimeout:  # a browser that has just started may not answer its first caller
            browser = playwright.chromium.connect_over_cdp(address)
        return browser.contexts[0].new_page(), kill

    yield start
    kill()


def reopened(phone: Any, tmp_path: Path, url: str) -> Any:
    for lock in (tmp_path / "profile").glob("Singleton*"):
        lock.unlink()  # a killed browser leaves it behind
    return opened(phone().page, url)


def test_a_record_is_whole_after_the_browser_was_killed_right_after_saving(
    killable: Any, phone: Any, tmp_path: Path, recording_url: str
) -> None:
    page, kill = killable()
    record = run(
        opened(page, recording_url),
        """const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4_000_000, 1));
        await store.addPhoto(draft, photo(2_000_000, 2));
        const { thumb, ...record } = await store.save(draft);
        return record;""",
    )
    kill()
    again = reopened(phone, tmp_path, recording_url)
    assert [record] == run(again, "return (await store.latest()).map(({ thumb, ...row }) => row);")
    assert {"photo-01.jpg": True, "photo-02.jpg": True} == run(again, DIGESTS, record["photos"])
    assert [] == run(again, "return store.drafts();")


def test_draft_and_photo_are_there_after_the_browser_was_killed_behind_the_camera(
    killable: Any, phone: Any, tmp_path: Path, recording_url: str
) -> None:
    page, kill = killable()
    row = run(
        opened(page, recording_url),
        """const draft = await store.saveDraft(find("F26-015-K7Q4", { text: "by the gate" }));
        return (await store.addPhoto(draft.record, photo(4_000_000, 1))).photo;""",
    )
    kill()
    again = reopened(phone, tmp_path, recording_url)
    assert [("by the gate", [row])] == [
        (draft["text"], draft["photos"]) for draft in run(again, "return store.drafts();")
    ]
    assert {"photo-01.jpg": True} == run(again, DIGESTS, [row])


def test_draft_and_photo_are_there_after_the_tab_was_closed_and_the_browser_restarted(
    phone: Any, recording_url: str
) -> None:
    page = opened(phone().page, recording_url)
    row = run(page, """return (await store.addPhoto(find("F26-015-K7Q4"), photo(4_000_000, 1))).photo;""")
    page.close()
    again = opened(phone().page, recording_url)
    assert [[row]] == [draft["photos"] for draft in run(again, "return store.drafts();")]
    assert {"photo-01.jpg": True} == run(again, DIGESTS, [row])


def test_every_write_is_strictly_durable(page: Any) -> None:
    kinds = run(
        page,
        """const begin = IDBDatabase.prototype.transaction;
        const seen = new Set();
        IDBDatabase.prototype.transaction = function (...given) {
          const transaction = begin.apply(this, given);
          if (transaction.mode === "readwrite") seen.add(transaction.durability);
          return transaction;
        };
        await store.device();
        const { draft, photo: row } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        await store.dropPhoto(draft, row);
        const record = await store.save(draft);
        await store.remove(record);
        return [...seen];""",
    )
    assert ["strict"] == kinds


# -- storage fails -------------------------------------------------------------------------------------------

LIMIT = 10_000_000
"""Bytes. Chromium may count what was just written twice for a while: what is to fit is far smaller than this, and what
is not to fit is larger by itself."""


@pytest.fixture
def limit(page: Any) -> Callable[..., None]:
    """Gives the site this many bytes of storage; with none given, as many as before. A limit lasts with its session."""
    origin = page.evaluate("location.origin")
    session = page.context.new_cdp_session(page)

    def to(**size: int) -> None:
        session.send("Storage.overrideQuotaForOrigin", {"origin": origin, **size})

    return to


def test_a_photo_that_no_longer_fits_changes_nothing(page: Any, limit: Callable[..., None]) -> None:
    limit(quotaSize=LIMIT)  # first: Chromium asks for the limit only where it seems to be reached
    row = run(page, """return (await store.addPhoto(find("F26-015-K7Q4"), photo(1_000_000, 1))).photo;""")
    fault = run(page, "return fault(store.addPhoto((await store.drafts())[0], photo(given, 2)));", LIMIT + 2_000_000)
    assert "full" == fault["kind"]
    assert "no more storage" in fault["message"]
    assert [[row]] == [draft["photos"] for draft in run(page, "return store.drafts();")]
    assert 1 == run(page, "return (await store.savedPhotos()).size;")
    assert {"photo-01.jpg": True} == run(page, DIGESTS, [row])
    limit()
    more = "return (await store.addPhoto((await store.drafts())[0], photo(4_000_000, 2))).photo.name;"
    assert "photo-02.jpg" == run(page, more)


def test_a_save_that_no_longer_fits_keeps_the_draft_and_writes_no_half_record(
    page: Any, limit: Callable[..., None]
) -> None:
    limit(quotaSize=LIMIT)
    before = run(
        page,
        """const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(1_000_000, 1));
        return store.saveDraft({ ...draft, text: "by the gate" });""",
    )
    save = """const [draft] = await store.drafts();
    return fault(store.save({ ...draft, text: "x".repeat(given) }));"""
    assert "full" == run(page, save, LIMIT + 2_000_000)["kind"]
    assert [before] == run(page, "return store.drafts();")
    assert [] == run(page, "return store.latest();")
    assert {"photo-01.jpg": True} == run(page, DIGESTS, before["photos"])
    limit()
    assert 1 == run(page, "return (await store.save((await store.drafts())[0])).revision;")


REFUSALS = [
    "throw new DOMException('denied', 'SecurityError');",
    """const request = new EventTarget();
    request.error = new DOMException('denied', 'UnknownError');
    setTimeout(() => request.onerror());
    return request;""",
]


@pytest.mark.parametrize("refusal", REFUSALS, ids=["throws", "fails"])
def test_storage_that_is_refused_is_said_plainly(page: Any, refusal: str) -> None:
    run(page, f"IDBFactory.prototype.open = () => {{ {refusal} }};")
    test, fault = run(
        page, """return [await store.selfTest(), await fault(store.save(find("F26-015-K7Q4", { text: "kept" })))];"""
    )
    assert fault["message"] == test["says"]
    assert "refused" == fault["kind"]
    assert fault["message"].startswith("This browser does not let the journal store anything")


def test_storage_that_is_given_later_is_used(page: Any) -> None:
    run(page, "globalThis.open_ = IDBFactory.prototype.open; IDBFactory.prototype.open = () => { throw new Error(); };")
    assert "refused" == run(page, "return fault(store.save(find('F26-015-K7Q4')));")["kind"]
    run(page, "IDBFactory.prototype.open = open_;")
    assert 1 == run(page, "return (await store.save(find('F26-015-K7Q4'))).revision;")


def test_storage_that_works_passes_its_own_test(page: Any) -> None:
    assert {"persisted": False, "says": None} == run(page, "return store.selfTest();")


DEAD = """
  const begin = IDBDatabase.prototype.transaction;
  const dead = new WeakSet();
  let left = given;
  IDBDatabase.prototype.transaction = function (...rest) {
    if (left > 0 || dead.has(this)) {
      left -= dead.has(this) ? 0 : 1;
      dead.add(this);
      throw new DOMException("Connection to Indexed Database server lost.", "UnknownError");
    }
    return begin.apply(this, rest);
  };
"""


def test_storage_that_does_not_answer_is_said_plainly(page: Any) -> None:
    """As WebKit's, where the page that made the database was left at once."""
    run(page, "const later = setTimeout; globalThis.setTimeout = (act, ms) => later(act, ms / 50);")
    run(page, "IDBFactory.prototype.open = () => ({});")
    test = run(page, "return store.selfTest();")
    assert test["says"].startswith("The browser’s storage does not answer. Close")


def test_a_connection_that_died_is_opened_again(page: Any) -> None:
    draft = run(page, "return store.saveDraft(find('F26-015-K7Q4'));")
    run(page, DEAD, 1)
    assert 1 == run(page, "return (await store.save(given)).revision;", draft)
    assert [1] == [row["revision"] for row in run(page, "return store.history(given);", draft)]


def test_a_database_that_stays_dead_is_said_plainly_and_the_draft_is_kept(page: Any, recording_tab: Any) -> None:
    draft = run(page, "return store.saveDraft(find('F26-015-K7Q4'));")
    run(page, DEAD, 1000)
    fault = run(page, "return fault(store.save(given));", draft)
    assert "lost" == fault["kind"]
    assert "Try again, or reload the page." in fault["message"]
    assert [draft] == run(recording_tab(page.context), "return store.drafts();")


# -- two tabs ------------------------------------------------------------------------------------------------


def both(tabs: list[Any], script: str) -> list[Any]:
    """What the script gives in each of the tabs, in all of them at once."""
    for tab in tabs:
        tab.evaluate(f"() => {{ globalThis.working = (async () => {{ {script} }})(); }}")
    return [tab.evaluate("() => working") for tab in tabs]


def test_two_tabs_that_save_at_once_lose_no_record_and_share_no_id(page: Any, recording_tab: Any) -> None:
    tabs = [page, recording_tab(page.context)]
    script = """const ids = [];
    for (let at = 0; at < 8; at += 1) {
      const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, at));
      ids.push((await store.save(draft)).id);
    }
    return ids;"""
    ids = [name for names in both(tabs, script) for name in names]
    assert {f"F26-{number:03}-K7Q4" for number in range(15, 31)} == set(ids)
    assert sorted(ids) == sorted(row["id"] for row in run(page, "return store.latest();"))
    assert sorted(ids) == sorted(run(page, "return store.usedIds();"))


def test_two_tabs_that_edit_one_record_lose_no_revision(page: Any, recording_tab: Any) -> None:
    tabs = [page, recording_tab(page.context)]
    record = run(page, "return store.save(find('F26-015-K7Q4'));")
    for one in tabs:
        one.evaluate("(record) => { globalThis.edited = record; }", record)
    script = """const who = crypto.randomUUID();
    const texts = Array.from({ length: 8 }, (_, at) => `${who} ${at}`);
    let asked = 0;
    for (const text of texts) {
      const says = await fault(store.save({ ...edited, text }));
      if (says === null) continue;
      asked += says.kind === "changed";
      await store.save({ ...edited, text }, { over: true }); // as the author answers
    }
    return [texts, asked];"""
    found = both(tabs, script)
    texts = [text for some, _ in found for text in some]
    assert 15 == sum(asked for _, asked in found)  # all but the very first were begun on an earlier revision
    history = run(page, "return store.history(edited);")
    assert list(range(1, 18)) == [row["revision"] for row in history]
    assert sorted(["", *texts]) == sorted(row["text"] for row in history)
    assert {"F26-015-K7Q4"} == {row["id"] for row in history}


def test_two_tabs_have_one_suffix(page: Any, recording_tab: Any) -> None:
    first, second = both([page, recording_tab(page.context)], "return store.device();")
    assert first == second
    assert re.fullmatch("[A-HJKMNP-TV-Z][0-9][A-HJKMNP-TV-Z][0-9]", first)


def test_a_suffix_that_the_journal_has_already_is_not_taken(page: Any) -> None:
    suffixes = run(
        page,
        """let call = 0;
        crypto.getRandomValues = () => (call += 1) === 1 ? [0, 0, 0, 0] : [1, 1, 1, 1];
        return [await store.device(["F26-015", "F26-016-a0a0"]), await store.device(["B-034-B1B1"])];""",
    )
    assert ["B1B1", "B1B1"] == suffixes  # once taken it stays


def test_other_tabs_are_told_of_a_change(page: Any, recording_tab: Any) -> None:
    other = recording_tab(page.context)
    run(
        other,
        "globalThis.told = new Promise((done) => { store.on(done); });",
    )
    record = run(page, "return store.save(find('F26-015-K7Q4'));")
    assert {"record": record["record"]} == other.evaluate("() => told")


# -- at every step ---------------------------------------------------------------------------------------------

ENDS_AT = """
  const begin = IDBDatabase.prototype.transaction;
  globalThis.steps = 0;
  const ended = () => { throw new DOMException("The page has ended.", "UnknownError"); };
  IDBDatabase.prototype.transaction = function (...rest) {
    if (steps >= given.at + (given.after ? 1 : 0)) ended();
    const transaction = begin.apply(this, rest);
    if (transaction.mode === "readwrite") steps += 1;
    return transaction;
  };
"""
"""From its step of this number on the page does nothing more: before that step is begun, or once it is on disk."""

JOURNEY = """
  const RECORD = "11111111-1111-4111-8111-111111111111";
  const [open] = await store.drafts();
  const records = await store.latest();
  let record = records[0];
  if (!record) {
    let draft = open ?? find("F26-015-K7Q4", { record: RECORD, text: "by the gate" });
    for (let at = draft.photos?.length ?? 0; at < 2; at += 1) {
      draft = (await store.addPhoto(draft, photo(4096, at + 1))).draft;
    }
    record = await store.save(draft);
  }
  if ((await stateOf(record)) === "only on this device") await exported();
  const [{ codes }] = await store.exports();
  if ((await stateOf(record)) !== "in the journal") await store.takeCode(codes[0]);
"""
"""What is done from the camera to the receipt, going on from where an earlier page left it."""

OUTCOME = """
  const [row, ...others] = await store.latest();
  return {
    record: [row.record, row.id, row.revision, row.text], files: row.photos, others: others.length,
    drafts: (await store.drafts()).length,
    state: await stateOf(row), photos: (await store.savedPhotos()).size, ids: await store.usedIds(),
    exports: (await store.exports()).map(({ records }) => records.length),
  };
"""


def test_ended_at_any_step_from_camera_to_receipt_nothing_is_lost_and_nothing_doubled(recording_tab: Any) -> None:
    def until(at: int, after: bool) -> tuple[Any, int]:
        """Goes as far as that step, then on from there in a new tab; what it came to, and how many steps it took."""
        tab = recording_tab()
        tab.evaluate(EXPORT)
        run(tab, ENDS_AT, {"at": at, "after": after})
        with contextlib.suppress(PlaywrightError):
            run(tab, JOURNEY)
        steps = tab.evaluate("steps")
        again = recording_tab(tab.context)
        again.evaluate(EXPORT)
        run(again, JOURNEY)
        outcome = run(again, OUTCOME)
        outcome["files"] = run(again, DIGESTS, outcome["files"])
        tab.context.close()
        return outcome, steps

    whole, steps = until(1000, after=False)
    print(f"{steps} steps from the camera to the receipt")
    assert 5 <= steps
    assert {"photo-01.jpg": True, "photo-02.jpg": True} == whole["files"]
    assert ("in the journal", 2) == (whole["state"], whole["photos"])
    assert (0, 0, [1]) == (whole["others"], whole["drafts"], whole["exports"])
    for at in range(steps):
        for after in (False, True):
            outcome, gone = until(at, after)
            assert at + after == gone
            assert whole == outcome, (at, after)
