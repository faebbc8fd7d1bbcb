"""Records on the device: what is saved is there whole, whatever ends the browser; what fails changes nothing."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.browser

# Each script runs with `store`, `photo(bytes, seed)` (a Blob of these many bytes, always the same for a seed) and
# `fault(promise)` (what it rejects with: kind and words).
SETUP = """
globalThis.store = journalRecords(new URL("./", location.href));
globalThis.photo = (bytes, seed, type = "image/jpeg") => {
  const content = new Uint32Array(bytes / 4);
  for (let at = 0, value = seed; at < content.length; at += 1) {
    content[at] = value = (value * 1664525 + 1013904223) >>> 0;
  }
  return new Blob([content], { type });
};
globalThis.fault = (promise) => promise.then(() => null, ({ kind, message }) => ({ kind, message }));
globalThis.find = (id, more = {}) => ({
  record: crypto.randomUUID(), kind: "find", id, date: "2026-11-25 14:03+00:00", values: {}, ...more,
});
"""


@pytest.fixture(scope="module")
def tab(browser: Any, recording_url: str) -> Iterator[Callable[[], Any]]:
    """Opens tabs of one profile; they share what is stored."""
    contexts = []

    def start(context: Any = None) -> Any:
        if context is None:
            contexts.append(browser.new_context())
            context = contexts[-1]
        page = context.new_page()
        page.goto(recording_url)
        page.evaluate(SETUP)
        return page

    yield start
    for context in contexts:
        context.close()


@pytest.fixture
def page(tab: Any) -> Iterator[Any]:
    """A tab of a new profile."""
    opened = tab()
    yield opened
    opened.context.close()


def run(page: Any, script: str, argument: Any = None) -> Any:
    return page.evaluate(f"async (given) => {{ {script} }}", argument)


def test_a_draft_and_its_photos_become_a_record_in_one_step(page: Any) -> None:
    found = run(
        page,
        """const draft = await store.saveDraft(find("F26-015-K7Q4"));
        const { photo: row } = await store.addPhoto(draft, photo(4096, 1), { source: "camera" });
        const record = await store.save({ ...draft, values: { species: "Pleurotus pulmonarius" } });
        const bytes = new Uint8Array(await store.photoBytes(record.photos[0]));
        return { record, row, drafts: await store.drafts(), latest: await store.latest(), first: [...bytes.slice(0, 4)],
                 state: await store.state(record) };""",
    )
    record = found["record"]
    assert (1, "find", "F26-015-K7Q4", None) == tuple(record[key] for key in ("revision", "kind", "id", "removed"))
    assert {"species": "Pleurotus pulmonarius"} == record["values"]
    assert [found["row"]] == record["photos"]
    assert ("photo-01.jpg", 4096, "image/jpeg") == tuple(found["row"][key] for key in ("name", "bytes", "type"))
    assert [] == found["drafts"]
    assert [record["record"]] == [row["record"] for row in found["latest"]]
    assert "only on this device" == found["state"]


def test_what_is_photographed_is_in_the_draft_before_anything_is_saved(page: Any) -> None:
    drafts, latest = run(
        page,
        """const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        return [await store.drafts(), await store.latest()];""",
    )
    assert [["photo-01.jpg"]] == [[row["name"] for row in draft["photos"]] for draft in drafts]
    assert (True, "find", "F26-015-K7Q4") == tuple(drafts[0][key] for key in ("draft", "kind", "id"))
    assert [] == latest


def test_a_page_that_is_behind_cannot_lose_a_photo(page: Any) -> None:
    record = run(
        page,
        """const draft = await store.saveDraft(find("F26-015-K7Q4"));
        await store.addPhoto(draft.record, photo(4096, 1));
        await store.saveDraft({ ...draft, text: "typed before the photo was there" });
        return store.save({ ...draft, text: "and saved by the same page" });""",
    )
    assert ["photo-01.jpg"] == [row["name"] for row in record["photos"]]
    assert "and saved by the same page" == record["text"]


def test_an_edit_is_a_new_revision_and_the_earlier_ones_stay(page: Any) -> None:
    history = run(
        page,
        """const first = await store.save(find("F26-015-K7Q4", { text: "one" }));
        await store.addPhoto(first, photo(4096, 1));
        await store.save({ ...first, text: "two" });
        await store.remove(first);
        const gone = await store.latest();
        await store.remove(first);
        await store.restore(first.record);
        return [gone, await store.latest(), await store.history(first)];""",
    )
    gone, latest, rows = history
    assert [] == gone
    assert [(1, "one", 0), (2, "two", 1), (3, "two", 1), (4, "two", 1)] == [
        (row["revision"], row["text"], len(row["photos"])) for row in rows
    ]
    assert [False, False, True, False] == [bool(row["removed"]) for row in rows]
    assert [rows[-1]] == latest


def test_the_same_saved_twice_is_one_revision(page: Any) -> None:
    rows = run(
        page,
        """const draft = await store.saveDraft(find("F26-015-K7Q4", { text: "one" }));
        await Promise.all([store.save(draft), store.save(draft)]);
        return store.history(draft.record);""",
    )
    assert [1] == [row["revision"] for row in rows]


def test_a_photo_s_name_is_never_used_again_and_saved_bytes_are_kept(page: Any) -> None:
    names, held, records = run(
        page,
        """const { photo: first, draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        const { photo: second } = await store.addPhoto(draft, photo(4096, 2));
        await store.dropPhoto(draft, second);
        const { photo: third } = await store.addPhoto(draft, photo(4096, 3, "image/png"));
        const saved = await store.save(draft);
        await store.dropPhoto(saved, first);
        const { photo: fourth } = await store.addPhoto(saved, photo(4096, 4));
        await store.save(saved);
        const held = await store.heldPhotos();
        return [[first, second, third, fourth].map((row) => row.name),
                [first, second, third, fourth].map((row) => held.has(row.photo)), await store.history(saved)];""",
    )
    assert ["photo-01.jpg", "photo-02.jpg", "photo-03.png", "photo-04.jpg"] == names
    assert [True, False, True, True] == held  # the first is in revision 1; the second was in none
    assert [["photo-01.jpg", "photo-03.png"], ["photo-03.png", "photo-04.jpg"]] == [
        [row["name"] for row in record["photos"]] for record in records
    ]


def test_a_dropped_draft_takes_its_new_photos_along_and_no_saved_one(page: Any) -> None:
    found = run(
        page,
        """const { draft, photo: kept } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        const saved = await store.save(draft);
        const { photo: gone } = await store.addPhoto(saved, photo(4096, 2));
        await store.dropDraft(saved);
        const held = await store.heldPhotos();
        return [await store.drafts(), held.has(kept.photo), held.has(gone.photo),
                (await fault(store.photoBytes(gone))).kind];""",
    )
    assert [[], True, False, "lost"] == found


def test_a_photo_gives_a_small_picture_where_the_browser_can_draw_it(page: Any) -> None:
    sizes = run(
        page,
        """const canvas = new OffscreenCanvas(4000, 3000);
        const pen = canvas.getContext("2d");
        for (let at = 0; at < 4000; at += 8) {
          pen.fillStyle = `hsl(${(at * 7) % 360} 90% 50%)`;
          pen.fillRect(at, 0, 8, 3000);
        }
        const drawn = await canvas.convertToBlob({ type: "image/jpeg" });
        const { draft } = await store.addPhoto(find("F26-015-K7Q4"), drawn);
        const small = await createImageBitmap(new Blob([draft.thumb]));
        const { draft: other } = await store.addPhoto(find("F26-016-K7Q4"), photo(4096, 1, "image/heic"));
        return [draft.thumb.byteLength, small.width, small.height, other.thumb];""",
    )
    assert [160, 120, None] == sizes[1:]
    assert 0 < sizes[0] <= 20 * 1024


@pytest.mark.parametrize(
    ("blob", "name", "says"),
    [
        ("new Blob(['GIF89a'], { type: 'image/gif' })", "a.gif", "a.gif is not a photo that the journal takes"),
        ("new Blob(['x'])", "", "This file is not a photo that the journal takes"),
        ("new Blob([new Uint8Array(64 << 20), 'x'], { type: 'image/jpeg' })", "b.jpg", "b.jpg is larger than 64 MB."),
    ],
)
def test_what_no_archive_takes_is_refused_in_plain_words(page: Any, blob: str, name: str, says: str) -> None:
    fault, drafts = run(
        page,
        f"""return [await fault(store.addPhoto(find("F26-015-K7Q4"), {blob}, {{ name: given }})),
                    await store.drafts()];""",
        name,
    )
    assert "photo" == fault["kind"]
    assert fault["message"].startswith(says)
    assert [] == drafts


def test_a_type_that_the_browser_does_not_know_is_read_off_the_name(page: Any) -> None:
    script = "return (await store.addPhoto(find('F26-015-K7Q4'), new Blob(['x']), { name: 'IMG_1.HEIC' })).photo.name;"
    assert "photo-01.heic" == run(page, script)


def test_a_record_takes_200_photos(page: Any) -> None:
    fault = run(
        page,
        """const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        const put = IDBObjectStore.prototype.put;
        IDBObjectStore.prototype.put = function (value, ...key) {
          return put.call(this, value.draft ? { ...value, photos: Array(200).fill(value.photos[0]) } : value, ...key);
        };
        await store.saveDraft(draft);
        IDBObjectStore.prototype.put = put;
        return fault(store.addPhoto(draft, photo(4096, 2)));""",
    )
    assert {"kind": "photo", "message": "A record takes 200 photos at most."} == fault


# -- the browser is ended ------------------------------------------------------------------------------------

DIGESTS = """
  const digests = {};
  for (const { name, photo, bytes, sha256 } of given) {
    const stored = await store.photoBytes(photo);
    digests[name] = stored.byteLength === bytes && sha256 === (await journalArchive.sha256(stored));
  }
  return digests;
"""


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
        browser = playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port.read_text().split()[0]}")
        return browser.contexts[0].new_page(), kill

    yield start
    kill()


def opened(page: Any, url: str) -> Any:
    page.goto(url)
    page.evaluate(SETUP)
    return page


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


@pytest.fixture
def limit(page: Any) -> Callable[..., None]:
    """Gives the site this many bytes of storage; with none given, as many as before. A limit lasts with its session."""
    origin = page.evaluate("location.origin")
    session = page.context.new_cdp_session(page)

    def to(**size: int) -> None:
        session.send("Storage.overrideQuotaForOrigin", {"origin": origin, **size})

    return to


def test_a_photo_that_no_longer_fits_changes_nothing(page: Any, limit: Callable[..., None]) -> None:
    limit(quotaSize=5_000_000)  # first: Chromium asks for the limit only where it seems to be reached
    row = run(page, """return (await store.addPhoto(find("F26-015-K7Q4"), photo(4_000_000, 1))).photo;""")
    fault = run(page, "return fault(store.addPhoto((await store.drafts())[0], photo(4_000_000, 2)));")
    assert "full" == fault["kind"]
    assert "no more storage" in fault["message"]
    assert [[row]] == [draft["photos"] for draft in run(page, "return store.drafts();")]
    assert 1 == run(page, "return (await store.heldPhotos()).size;")
    assert {"photo-01.jpg": True} == run(page, DIGESTS, [row])
    limit()
    more = "return (await store.addPhoto((await store.drafts())[0], photo(4_000_000, 2))).photo.name;"
    assert "photo-02.jpg" == run(page, more)


def test_a_save_that_no_longer_fits_keeps_the_draft_and_writes_no_half_record(
    page: Any, limit: Callable[..., None]
) -> None:
    limit(quotaSize=5_000_000)
    before = run(
        page,
        """const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4_000_000, 1));
        return store.saveDraft({ ...draft, text: "by the gate" });""",
    )
    save = """const [draft] = await store.drafts();
    return fault(store.save({ ...draft, text: "x".repeat(2_000_000) }));"""
    assert "full" == run(page, save)["kind"]
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
    assert (False, fault["message"]) == (test["storage"], test["says"])
    assert "refused" == fault["kind"]
    assert fault["message"].startswith("This browser does not let the journal store anything")


def test_storage_that_is_given_later_is_used(page: Any) -> None:
    run(page, "globalThis.open_ = IDBFactory.prototype.open; IDBFactory.prototype.open = () => { throw new Error(); };")
    assert "refused" == run(page, "return fault(store.save(find('F26-015-K7Q4')));")["kind"]
    run(page, "IDBFactory.prototype.open = open_;")
    assert 1 == run(page, "return (await store.save(find('F26-015-K7Q4'))).revision;")


def test_storage_that_works_passes_its_own_test(page: Any) -> None:
    assert {"storage": True, "persisted": False, "says": None} == run(page, "return store.selfTest();")


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


def test_a_connection_that_died_is_opened_again(page: Any) -> None:
    draft = run(page, "return store.saveDraft(find('F26-015-K7Q4'));")
    run(page, DEAD, 1)
    assert 1 == run(page, "return (await store.save(given)).revision;", draft)
    assert [1] == [row["revision"] for row in run(page, "return store.history(given);", draft)]


def test_a_database_that_stays_dead_is_said_plainly_and_the_draft_is_kept(page: Any, tab: Any) -> None:
    draft = run(page, "return store.saveDraft(find('F26-015-K7Q4'));")
    run(page, DEAD, 1000)
    fault = run(page, "return fault(store.save(given));", draft)
    assert "lost" == fault["kind"]
    assert "Try again, or reload the page." in fault["message"]
    assert [draft] == run(tab(page.context), "return store.drafts();")


# -- two tabs ------------------------------------------------------------------------------------------------


def both(tabs: list[Any], script: str) -> list[Any]:
    """What the script gives in each of the tabs, in all of them at once."""
    for tab in tabs:
        tab.evaluate(f"() => {{ globalThis.working = (async () => {{ {script} }})(); }}")
    return [tab.evaluate("() => working") for tab in tabs]


def test_two_tabs_that_save_at_once_lose_no_record_and_share_no_id(page: Any, tab: Any) -> None:
    tabs = [page, tab(page.context)]
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


def test_two_tabs_that_edit_one_record_lose_no_revision(page: Any, tab: Any) -> None:
    tabs = [page, tab(page.context)]
    record = run(page, "return store.save(find('F26-015-K7Q4'));")
    for one in tabs:
        one.evaluate("(record) => { globalThis.edited = record; }", record)
    script = """const who = crypto.randomUUID();
    const texts = Array.from({ length: 8 }, (_, at) => `${who} ${at}`);
    for (const text of texts) await store.save({ ...edited, text });
    return texts;"""
    texts = [text for some in both(tabs, script) for text in some]
    history = run(page, "return store.history(edited);")
    assert list(range(1, 18)) == [row["revision"] for row in history]
    assert sorted(["", *texts]) == sorted(row["text"] for row in history)
    assert {"F26-015-K7Q4"} == {row["id"] for row in history}


def test_two_tabs_have_one_suffix(page: Any, tab: Any) -> None:
    first, second = both([page, tab(page.context)], "return store.device();")
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


def test_other_tabs_are_told_of_a_change(page: Any, tab: Any) -> None:
    other = tab(page.context)
    run(
        other,
        "globalThis.told = new Promise((done) => { store.on(done); });",
    )
    record = run(page, "return store.save(find('F26-015-K7Q4'));")
    assert {"record": record["record"]} == other.evaluate("() => told")


# -- what was sent, and what has come in ---------------------------------------------------------------------

EXPORT = """
globalThis.exported = async (options) => {
  let last;
  for await (const part of journalArchive.build(await store.latest(), store, options)) last = part;
  await store.markSent(last.export);
  return last.export;
};
globalThis.stateNow = async () => (await store.latest()).map((row) => `${row.id} ${row.revision}`)
  .reduce(async (rows, name) => [...(await rows), `${name} ${await store.state(
    (await store.latest()).find((row) => name.startsWith(row.id)))}`], []);
"""


def test_a_record_is_sent_once_exported_and_in_the_journal_by_its_code(page: Any) -> None:
    page.evaluate(EXPORT)
    states = run(
        page,
        """const first = await store.save(find("F26-015-K7Q4"));
        const states = [await stateNow()];
        const { codes } = await exported();
        await store.save(find("F26-016-K7Q4"));
        states.push(await stateNow());
        const taken = [await store.takeCode(codes[0].toLowerCase()), await store.takeCode(codes[0])];
        states.push(await stateNow());
        await store.save({ ...first, text: "more" });
        states.push(await stateNow());
        return [states, taken, (await store.exports()).length];""",
    )
    assert [
        [
            ["F26-015-K7Q4 1 only on this device"],
            ["F26-015-K7Q4 1 sent", "F26-016-K7Q4 1 only on this device"],
            ["F26-015-K7Q4 1 in the journal", "F26-016-K7Q4 1 only on this device"],
            ["F26-015-K7Q4 2 only on this device", "F26-016-K7Q4 1 only on this device"],
        ],
        [1, 0],
        1,
    ] == states


def test_a_record_in_two_parts_is_in_the_journal_once_both_codes_came(page: Any) -> None:
    page.evaluate(EXPORT)
    found = run(
        page,
        """const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(40_000, 1));
        await store.addPhoto(draft, photo(40_000, 2));
        await store.save(draft);
        const { codes } = await exported({ limit: 60_000 });
        const found = [codes.length, await store.takeCode(codes[1]), await stateNow()];
        return [...found, await store.takeCode(codes[0]), await stateNow()];""",
    )
    assert [2, 0, ["F26-015-K7Q4 1 sent"], 1, ["F26-015-K7Q4 1 in the journal"]] == found


@pytest.mark.parametrize(
    ("code", "says"),
    [
        ("6GKN-NSQ2-SDGZ-S", "A receipt code has 13 letters and digits; this is none, or is mistyped."),
        ("6GKN-NSQ2-SDGZ-T", "This code is not that of an export from this device."),
    ],
)
def test_a_code_that_is_none_of_this_device_is_refused(page: Any, code: str, says: str) -> None:
    assert {"kind": "code", "message": says} == run(page, "return fault(store.takeCode(given));", code)


def test_receipts_count_for_the_text_that_this_device_wrote(page: Any) -> None:
    page.evaluate(EXPORT)
    found = run(
        page,
        """const one = await store.save(find("F26-015-K7Q4"));
        const two = await store.save(find("F26-016-K7Q4"));
        const digest = await journalArchive.sha256(journalEntry.text(one));
        const other = crypto.randomUUID();
        const wrong = [[1, digest, null]];
        const receipts = { [one.record]: [[1, digest, "F26-020-K7Q4"]], [two.record]: wrong, [other]: wrong };
        return [await store.takeReceipts(receipts), await store.takeReceipts(receipts), await stateNow()];""",
    )
    assert [1, 0, ["F26-015-K7Q4 1 in the journal", "F26-016-K7Q4 1 only on this device"]] == found


def test_the_summary_counts_what_is_not_in_the_journal(page: Any) -> None:
    page.evaluate(EXPORT)
    empty, two, sent, none = run(
        page,
        """const empty = await store.summary();
        const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        const { saved } = await store.save(draft);
        const gone = await store.save(find("F26-016-K7Q4"));
        await store.remove(gone);
        await store.save(find("F26-017-K7Q4"));
        const two = { ...(await store.summary()), first: saved };
        const { codes } = await exported();
        const sent = await store.summary();
        await store.takeCode(codes[0]);
        return [empty, two, sent, await store.summary()];""",
    )
    assert {"count": 0, "oldest": None, "bytes": 0, "asks": False} == empty == none
    assert {"count": 2, "oldest": two["first"], "bytes": 4096, "asks": False, "first": two["first"]} == two
    assert (2, False) == (sent["count"], sent["asks"])


def test_it_asks_to_be_exported_after_a_day_or_twenty_records(page: Any) -> None:
    page.evaluate(EXPORT)
    asks = run(
        page,
        """const asks = [];
        const now = Date.now;
        await store.save(find("F26-015-K7Q4"));
        for (const hours of [23, 25]) {
          Date.now = () => now() + hours * 3600_000;
          asks.push((await store.summary()).asks);
        }
        await exported();
        asks.push((await store.summary()).asks); // sent, and only not heard of yet
        Date.now = now;
        for (let at = 0; at < 19; at += 1) await store.save(find("F26-016-K7Q4"));
        asks.push((await store.summary()).asks);
        await store.save(find("F26-016-K7Q4"));
        asks.push((await store.summary()).asks);
        return asks;""",
    )
    assert [False, True, False, False, True] == asks
