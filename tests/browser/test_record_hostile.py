"""Recording where all goes wrong at once: tabs that end, taps that come twice, names that are scripts, disks that fill.

What was taken is kept, once; what was thrown away stays away; nothing that was typed or named is ever markup.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from tests.browser.conftest import Host, Visit
from tests.browser.recording import STORE, form_is_open, is_saved, save

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("record")]

EVIL = '<img src=x onerror="window.hacked=1"><script>window.hacked=1</script>\'"&'
PICTURE = {"name": f"{EVIL}.jpg", "mimeType": "image/jpeg", "buffer": b"\xff\xd8 no picture at all"}
GATE = """() => {
  const real = journalArchive.sha256;
  journalArchive.sha256 = async (bytes) => {
    await new Promise((done) => { window.letPass = done; });
    return real(bytes);
  };
}"""
"""A photo then takes until `letPass` is called to be stored."""


@pytest.fixture
def tabs(thumb: Callable[..., Visit]) -> Callable[[str], Visit]:
    """Opens tabs of one phone, whose pages may not use its position."""
    return partial(thumb, asks=False, position=None)


def latest(visit: Visit) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = visit.page.evaluate(f"{STORE}.latest()")
    return rows


def drafts(visit: Visit) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = visit.page.evaluate(f"{STORE}.drafts()")
    return rows


def keep(visit: Visit, **given: Any) -> dict[str, Any]:
    """Saves a record as a form would, in an open page."""
    visit.until("() => Boolean(globalThis.journalRecords)")
    row = {"kind": "note", "id": None, "about": [], "date": "2026-11-25 14:03+00:00", "values": {}, "text": "", **given}
    done: dict[str, Any] = visit.page.evaluate(f"(row) => {STORE}.save({{ record: crypto.randomUUID(), ...row }})", row)
    return done


def take(visit: Visit, *files: Any) -> None:
    visit.page.locator("form:visible [data-add=gallery]").set_input_files(list(files) or [PICTURE])


# -- ended at any moment -----------------------------------------------------------------------------------------


def test_what_was_typed_is_there_after_a_link_was_followed_at_once(tabs: Any, host: Host) -> None:
    visit = tabs("record/index.html?kind=note")
    form_is_open(visit)
    visit.page.evaluate("""() => {
      const field = document.querySelector('form:not([hidden]) textarea');
      field.value = 'the last words';
      field.dispatchEvent(new Event('input', { bubbles: true }));
      location.assign('../index.html');
    }""")
    visit.page.wait_for_url("**/index.html")
    visit.page.goto(host.url("record/index.html"))
    visit.until("() => document.querySelector('form:not([hidden]) textarea')?.value === 'the last words'")


def test_what_was_typed_is_there_after_the_tab_was_closed_at_once(tabs: Any) -> None:
    visit = tabs("record/index.html?kind=note")
    form_is_open(visit)
    visit.page.locator("form:visible textarea").type("typed and gone")
    visit.page.close(run_before_unload=True)
    again = tabs("record/index.html")
    again.until("() => document.querySelector('form:not([hidden]) textarea')?.value === 'typed and gone'")
    save(again)
    again.page.reload()
    again.until("() => document.querySelector('[data-choose]')?.hidden === false")
    assert (len(latest(again)), drafts(again)) == (1, [])


def test_an_edit_that_was_not_saved_is_opened_again_by_edit(tabs: Any, host: Host) -> None:
    visit = tabs("record/index.html?kind=note")
    record = keep(visit, text="first")["record"]
    visit.page.goto(host.url(f"record/index.html?edit={record}"))
    form_is_open(visit)
    visit.page.fill("form:visible textarea", "second, not saved")
    visit.until(f"() => {STORE}.drafts().then((rows) => rows[0]?.text === 'second, not saved')")
    again = tabs(f"record/index.html?edit={record}")
    form_is_open(again)
    assert again.page.input_value("form:visible textarea") == "second, not saved"
    save(again)
    assert [(row["text"], row["revision"]) for row in latest(again)] == [("second, not saved", 2)]


def test_a_cancelled_draft_stays_away_though_a_photo_was_still_being_stored(tabs: Any) -> None:
    visit = tabs("record/index.html?kind=find")
    form_is_open(visit)
    visit.page.evaluate(GATE)
    take(visit, PICTURE, PICTURE)
    visit.until("() => Boolean(window.letPass)")
    visit.page.get_by_role("button", name="Cancel").click()
    visit.page.locator("[data-cancelbar] [data-drop]").click()
    visit.page.evaluate("setTimeout(() => window.letPass(), 100)")
    visit.until("() => document.querySelector('[data-choose]')?.hidden === false")
    visit.page.wait_for_timeout(100)
    assert drafts(visit) == []
    assert visit.page.evaluate(f"{STORE}.savedPhotos().then((held) => held.size)") == 0


def test_save_waits_for_the_photo_that_is_being_stored(tabs: Any) -> None:
    visit = tabs("record/index.html?kind=note")
    form_is_open(visit)
    visit.page.evaluate(GATE)
    take(visit)
    visit.until("() => Boolean(window.letPass)")
    visit.page.get_by_role("button", name="Save", exact=True).click()
    visit.page.evaluate("setTimeout(() => window.letPass(), 100)")
    is_saved(visit)
    assert [len(row["photos"]) for row in latest(visit)] == [1]
    assert drafts(visit) == []


def test_save_tapped_thrice_while_the_form_goes_on_changing_is_one_record_and_no_draft(tabs: Any) -> None:
    visit = tabs("record/index.html?kind=find")
    form_is_open(visit)
    visit.page.evaluate("""() => {
      const field = document.querySelector('form:not([hidden]) textarea');
      const later = window.setTimeout;
      window.setTimeout = (work) => later(work, 0);
      field.value = 'once';
      const ticking = setInterval(() => field.dispatchEvent(new Event('input', { bubbles: true })), 1);
      later(() => clearInterval(ticking), 1500);
      for (let at = 0; at < 3; at += 1) document.querySelector('[data-save]').click();
    }""")
    is_saved(visit)
    visit.page.wait_for_timeout(300)
    assert visit.page.locator("[data-record-status]").is_hidden()
    assert [(row["text"], row["revision"]) for row in latest(visit)] == [("once", 1)]
    assert drafts(visit) == []
    assert visit.complaints == []


def save_late(visit: Visit, answer: str) -> None:
    """Saves what another tab has saved meanwhile, and answers the question that this leads to."""
    visit.page.get_by_role("button", name="Save", exact=True).click()
    visit.until("() => !document.querySelector('[data-changedbar]').hidden")
    assert "was changed in another tab at " in visit.page.inner_text("[data-changed-words]")
    visit.page.get_by_role("button", name=answer).click()


def test_two_tabs_with_one_draft_make_one_record(tabs: Any) -> None:
    first = tabs("record/index.html?kind=note")
    form_is_open(first)
    first.page.fill("form:visible textarea", "begun")
    first.until(f"() => {STORE}.drafts().then((rows) => rows[0]?.text === 'begun')")
    second = tabs("record/index.html")
    form_is_open(second)
    save(first)
    second.page.fill("form:visible textarea", "begun, and gone on with")
    save_late(second, "Use mine")
    is_saved(second)
    assert [(row["text"], row["revision"]) for row in latest(second)] == [("begun, and gone on with", 2)]
    assert drafts(second) == []


@pytest.mark.parametrize("answer", ["Keep both", "Discard mine", "Use mine"])
def test_of_two_tabs_that_edit_one_record_the_later_never_wins_in_silence(tabs: Any, host: Host, answer: str) -> None:
    first = tabs("record/index.html?kind=note")
    values = {"species": "Grifola frondosa", "host": "oak"}
    found = keep(first, kind="find", id="F26-015-K7Q4", values=values, text="seen")
    first.page.goto(host.url(f"record/index.html?edit={found['record']}"))
    form_is_open(first)
    second = tabs(f"record/index.html?edit={found['record']}")
    form_is_open(second)
    first.page.fill("form:visible textarea", "seen, and smelt")
    save(first)
    second.page.fill("form:visible [name='species other']", "Meripilus giganteus")
    second.page.evaluate("document.querySelector('form:not([hidden]) [name=host]').value = 'beech'")
    second.page.fill("form:visible [name=where]", "58.1, -8.2 ±40 m")
    take(second)
    second.until("() => document.querySelectorAll('form:not([hidden]) [data-taken] li').length === 1")
    save_late(second, answer)
    if answer == "Discard mine":
        second.page.wait_for_url("**/outbox/index.html")
        second.until("() => Boolean(globalThis.journalRecords)")
    else:
        is_saved(second)
    theirs = {**values}
    mine = {"species": "Meripilus giganteus", "host": "beech", "where": "58.1, -8.2 ±40 m"}
    rows = {row["kind"]: row for row in latest(second)}
    assert drafts(second) == []
    told = {kind: (row["revision"], row["values"], row["text"], len(row["photos"])) for kind, row in rows.items()}
    note = "seen\n\n::: private\nwhere: 58.1, -8.2 ±40 m\nhost: beech\n:::"
    assert (
        told
        == {
            "Keep both": {
                "find": (2, theirs, "seen, and smelt", 0),
                "note": (1, {"species": "Meripilus giganteus"}, note, 1),
            },
            "Discard mine": {"find": (2, theirs, "seen, and smelt", 0)},
            "Use mine": {"find": (3, mine, "seen", 1)},
        }[answer]
    )
    if answer == "Keep both":
        assert rows["note"]["about"] == ["F26-015-K7Q4"]


def test_what_was_typed_last_in_a_tab_is_kept_though_another_tab_saved_its_record(tabs: Any, host: Host) -> None:
    first = tabs("record/index.html?kind=note")
    record = keep(first, text="one")["record"]
    first.page.goto(host.url(f"record/index.html?edit={record}"))
    form_is_open(first)
    keep(first, record=record, revision=1, text="two")
    first.page.locator("form:visible textarea").type(" and a half")
    first.page.close(run_before_unload=True)
    again = tabs(f"record/index.html?edit={record}")
    form_is_open(again)
    assert again.page.input_value("form:visible textarea") == "one and a half"
    save_late(again, "Keep both")
    is_saved(again)
    assert sorted(row["text"] for row in latest(again)) == ["one and a half", "two"]


def test_photos_go_along_into_a_new_batch(tabs: Any) -> None:
    visit = tabs("record/index.html?about=B-031")
    form_is_open(visit)
    take(visit)
    visit.until("() => document.querySelectorAll('form:not([hidden]) [data-taken] li').length === 1")
    visit.page.locator("form:visible [data-about-choice] > summary").click()
    visit.page.get_by_role("button", name="A new batch", exact=True).click()
    visit.until("() => !document.querySelector('[data-form=\"new batch\"]').hidden")
    visit.until("() => document.querySelectorAll('form:not([hidden]) [data-taken] li').length === 1")
    visit.page.locator("form:visible [data-choices=cultures] .chip").first.click()
    save(visit)
    assert [(row["kind"], len(row["photos"])) for row in latest(visit)] == [("batch", 1)]
    assert drafts(visit) == []


def test_an_update_leaves_an_open_form_alone_and_its_record_is_saved(tabs: Any) -> None:
    visit = tabs("record/index.html?kind=note")
    form_is_open(visit)
    visit.page.fill("form:visible textarea", "across an update")
    visit.page.evaluate("window.same = true")
    other = tabs("index.html")
    other.until("() => typeof journalPool === 'function'")
    other.page.evaluate("""async () => {
      const { journalPool } = globalThis;
      const channel = new BroadcastChannel(journalPool(new URL('./', location.href)).STATE);
      channel.postMessage({ kind: 'taken', build: 'f'.repeat(64) });
    }""")
    visit.page.wait_for_timeout(300)
    assert visit.page.evaluate("window.same") is True
    save(visit)
    assert [row["text"] for row in latest(visit)] == ["across an update"]


# -- records as they come out again --------------------------------------------------------------------------------


def test_a_value_that_is_no_longer_offered_stays_in_an_edited_record(tabs: Any, host: Host) -> None:
    visit = tabs("record/index.html?kind=note")
    given = {"culture": "GONE-01", "container": "coffin", "tent": "old-shed", "substrate": "oak", "mix": "a, b"}
    record = keep(visit, kind="batch", id="B-040-K7Q4", values=given)["record"]
    visit.page.goto(host.url(f"record/index.html?edit={record}"))
    form_is_open(visit)
    visit.page.fill("form:visible textarea", "a word more")
    save(visit)
    assert [(row["values"], row["text"]) for row in latest(visit)] == [(given, "a word more")]


@pytest.mark.parametrize("about", [["B-031", "B-030"], ["B-031.2", "B-030"], ["B-031.99"]])
def test_what_a_record_is_about_and_its_time_stay_when_words_are_added(tabs: Any, host: Host, about: list[str]) -> None:
    visit = tabs("record/index.html?kind=note")
    date = "2026-11-25 14:03+09:30"
    record = keep(visit, about=about, date=date, values={"stage": "pinning"})["record"]
    visit.page.goto(host.url(f"record/index.html?edit={record}"))
    form_is_open(visit)
    visit.page.fill("form:visible textarea", "a word more")
    save(visit)
    (row,) = latest(visit)
    assert (row["about"], row["date"], row["values"]) == (about, date, {"stage": "pinning"})


@pytest.mark.parametrize("date", [None, "long ago"])
def test_a_record_without_a_date_is_shown_edited_and_exported(tabs: Any, host: Host, date: str | None) -> None:
    visit = tabs("record/index.html?kind=note")
    record = keep(visit, text="undated", date=date)["record"]
    keep(visit, text="dated")
    visit.page.goto(host.url("record/outbox/index.html"))
    visit.until("() => document.querySelectorAll('[data-records] li').length === 2")
    visit.page.goto(host.url("diary/index.html"))
    visit.until("() => document.querySelector('[data-recorded]')?.textContent.includes('undated')")
    visit.page.goto(host.url(f"record/index.html?edit={record}"))
    form_is_open(visit)
    visit.page.fill("form:visible textarea", "undated still")
    visit.until(f"() => {STORE}.drafts().then((rows) => rows[0]?.text === 'undated still')")
    visit.page.goto(host.url("record/index.html"))
    form_is_open(visit)
    save(visit)
    assert visit.complaints == []


def test_a_year_that_no_calendar_has_harms_no_draft(tabs: Any) -> None:
    visit = tabs("record/index.html?kind=note")
    form_is_open(visit)
    visit.page.evaluate("document.querySelector('form:not([hidden]) [data-when]').value = '12026-11-25T14:03'")
    visit.page.fill("form:visible textarea", "from the far future")
    save(visit)
    (row,) = latest(visit)
    assert row["date"][:2] == "20"
    assert visit.complaints == []


WRONG_CLOCK = """Date = class extends Date {
  constructor(...given) { super(...(given.length ? given : ["%s"])); }
  static now() { return Number(new Date()); }
};"""


@pytest.mark.parametrize(("day", "is_told"), [("2001-03-03", True), ("2099-03-03", False)])
def test_a_clock_that_is_wrong_harms_no_record_and_one_that_is_behind_is_reported(
    tabs: Any, day: str, is_told: bool
) -> None:
    """A clock that is ahead cannot be told from a journal that was not updated; `check` tells of such a date later."""
    visit = tabs("record/index.html?kind=note")
    visit.before_pages(WRONG_CLOCK % f"{day}T10:00")
    visit.page.reload()
    form_is_open(visit)
    visit.until("() => globalThis.journalDoubts")
    words = visit.page.inner_text("[data-record-clock]") if is_told else ""
    assert is_told == visit.page.is_visible("[data-record-clock]") == ("says that today is 3 March 2001" in words)
    visit.page.fill("form:visible textarea", "by the wrong clock")
    save(visit)
    (row,) = latest(visit)
    assert (row["date"][:10], row["text"].strip()) == (day, "by the wrong clock")
    assert visit.complaints == []


def test_a_late_position_brings_no_deleted_record_back_and_undoes_no_edit(thumb: Any) -> None:
    for change in ("remove(row)", "save({ ...row, text: 'edited' })"):
        visit = thumb("record/index.html?kind=find", position=None)
        form_is_open(visit)
        visit.page.fill("form:visible textarea", "found")
        save(visit)
        other = thumb("record/index.html?kind=note", position=None)
        form_is_open(other)
        other.page.evaluate(f"async () => {{ const [row] = await {STORE}.latest(); await {STORE}.{change}; }}")
        visit.page.evaluate("window.scrollTo(0, 0)")
        visit.context.set_geolocation({"latitude": 58.3, "longitude": -8.9, "accuracy": 8})
        visit.page.bring_to_front()
        visit.until("() => document.querySelector('[data-position-words]').textContent.includes('±8 m')")
        visit.page.wait_for_timeout(200)
        rows = latest(other)
        if "remove" in change:
            assert rows == []
        else:
            assert [(row["text"], "where" in row["values"]) for row in rows] == [("edited", True)]
        visit.page.close()
        other.page.close()
        visit.context.set_geolocation(None)


# -- names and addresses that are scripts --------------------------------------------------------------------------


@pytest.mark.parametrize(
    "query",
    [
        f"?draft={EVIL}", f"?edit={EVIL}", f"?kind={EVIL}", "?kind=__proto__", "?kind=constructor",
        f"?kind=note&about={EVIL}", f"?kind=find&about={EVIL}", "?draft=%00&edit=%ff",
    ],
)  # fmt: skip
def test_a_hostile_address_opens_the_page_and_nothing_else(tabs: Any, query: str) -> None:
    visit = tabs(f"record/index.html{quote(query, safe='?&=#%')}")
    visit.until(
        "() => document.querySelector('[data-choose]').hidden !== document.querySelector('[data-savebar]').hidden"
    )
    assert visit.page.locator("main script, main [onerror]").count() == 0
    assert visit.page.evaluate("window.hacked") is None
    assert visit.complaints == []


@pytest.mark.parametrize("code", ["%3Cimg%20src=x%3E", "0000-0000-0000-0", "-" * 500, "__proto__"])
def test_a_receipt_in_the_address_that_is_none_is_said_to_be_none(tabs: Any, code: str) -> None:
    visit = tabs(f"record/outbox/index.html#receipt={code}")
    visit.until("() => !document.querySelector('[data-records-panel]').hidden")
    if code.startswith("%"):
        assert visit.page.locator("[data-outbox-status]").is_hidden()
    else:
        visit.until("() => document.querySelector('[data-outbox-status]').textContent.includes('code')")
    assert visit.complaints == []


def test_nothing_that_was_typed_or_named_is_markup_on_any_page(tabs: Any, host: Host) -> None:
    visit = tabs("record/index.html?kind=note")
    values = {"species": EVIL, "place": EVIL, "stage": EVIL, "harvest": EVIL, "lost": EVIL, "cause": EVIL, "done": EVIL}
    keep(visit, kind="find", id=EVIL, about=[EVIL, "B-031"], date=EVIL, values=values, text=EVIL)
    keep(visit, about=["B-031"], text=EVIL)
    record = keep(visit, kind="note", about=[EVIL], text=f"{EVIL}\n{EVIL}")["record"]
    visit.page.evaluate(
        f"""(evil) => {STORE}.addPhoto({{ record: crypto.randomUUID(), kind: 'find', form: evil, date: evil }},
            new Blob(['x'], {{ type: 'image/jpeg' }}), {{ name: evil, source: evil }})""",
        EVIL,
    )
    for path, place in (
        ("index.html", "[data-recorded]"), ("diary/index.html", "[data-recorded]"),
        ("batches/b-031/index.html", "[data-recorded]"), ("finds/index.html", "[data-recorded]"),
        ("record/outbox/index.html", "[data-records]"), ("record/index.html?kind=nonsense", "[data-drafts]"),
        (f"record/index.html?edit={record}", "[data-record-title]"),
    ):  # fmt: skip
        visit.page.goto(host.url(path))
        visit.until(f"() => document.querySelector('{place}')?.textContent.includes('<img src=x')")
        assert visit.page.locator("main script, main [onerror]").count() == 0, path
        assert visit.page.evaluate("window.hacked") is None
    assert visit.complaints == []


def answered(body: str, route: Any) -> None:
    route.fulfill(body=body)


def test_lists_of_the_site_that_are_not_lists_hide_nothing_of_what_was_recorded(tabs: Any, host: Host) -> None:
    visit = tabs("record/index.html?kind=note")
    keep(visit, text="still here")
    for body in ("<!doctype html>", "null", '{"records": null}', '{"ids": null}', "[]"):
        visit.context.route("**/record/*.json", partial(answered, body))
        visit.page.goto(host.url("index.html"))
        visit.until("() => document.querySelector('[data-recorded]')?.textContent.includes('still here')")
        visit.until("() => document.querySelector('[data-waiting]')?.hidden === false")
        if body == "null":
            visit.page.goto(host.url("record/outbox/index.html"))
            visit.until("() => document.querySelector('[data-records]').textContent.includes('still here')")
        visit.context.unroute("**/record/*.json")


# -- photos --------------------------------------------------------------------------------------------------------


def test_two_hundred_photos_are_read_once_each_and_the_next_is_refused_in_words(tabs: Any, host: Host) -> None:
    visit = tabs("record/index.html?kind=note")
    visit.until("() => Boolean(globalThis.journalRecords)")
    record = visit.page.evaluate(
        f"""async () => {{
          const store = {STORE};
          const draft = {{ record: crypto.randomUUID(), kind: 'note', form: 'note', about: [], date: '2026-11-25' }};
          globalThis.createImageBitmap = () => Promise.reject(new Error('not drawn'));
          for (let at = 0; at < 199; at += 1)
            await store.addPhoto(draft, new Blob([String(at)], {{ type: 'image/heic' }}), {{ name: 'a.heic' }});
          return draft.record;
        }}"""
    )
    visit.page.goto(host.url(f"record/index.html?draft={record}"))
    visit.until("() => document.querySelectorAll('form:not([hidden]) [data-taken] li').length === 199", seconds=10)
    visit.page.evaluate("""() => {
      const get = IDBObjectStore.prototype.get;
      window.reads = 0;
      IDBObjectStore.prototype.get = function (key) {
        if (this.name === 'photos') window.reads += 1;
        return get.call(this, key);
      };
    }""")
    take(visit, PICTURE, PICTURE)
    visit.until("() => document.querySelectorAll('form:not([hidden]) [data-taken] li').length === 200", seconds=10)
    visit.until("() => document.querySelector('[data-record-status]').textContent.includes('200 photos at most')")
    assert visit.page.evaluate("window.reads") == 1
    save(visit)
    (row,) = latest(visit)
    assert (len(row["photos"]), row["photos"][-1]["name"]) == (200, "photo-200.jpg")


def test_a_photo_whose_bytes_are_gone_does_not_keep_its_record_from_being_edited(tabs: Any, host: Host) -> None:
    visit = tabs("record/index.html?kind=note")
    form_is_open(visit)
    take(visit, PICTURE, {**PICTURE, "name": "second.jpg"})
    visit.until("() => document.querySelectorAll('form:not([hidden]) [data-taken] li').length === 2")
    save(visit)
    (row,) = latest(visit)
    visit.page.evaluate(
        """([name, photo]) => new Promise((done) => {
          indexedDB.open(name).onsuccess = ({ target }) => {
            const change = target.result.transaction('photos', 'readwrite');
            change.objectStore('photos').delete(photo);
            change.oncomplete = () => { target.result.close(); done(); };
          };
        })""",
        ["journal records /", row["photos"][0]["photo"]],
    )
    visit.page.goto(host.url(f"record/index.html?edit={row['record']}"))
    visit.until("() => document.querySelectorAll('form:not([hidden]) [data-taken] li').length === 2")
    visit.page.get_by_role("button", name="Remove photo 2").click()
    visit.until("() => document.querySelector('[data-record-status]').textContent !== '' "
                "|| document.querySelectorAll('form:not([hidden]) [data-taken] li').length === 1")  # fmt: skip
    visit.page.fill("form:visible textarea", "without them")
    save(visit)
    assert [row["text"] for row in latest(visit)] == ["without them"]
    assert visit.complaints == []


def test_storage_that_fills_in_the_middle_of_photos_keeps_the_first_and_names_the_others(tabs: Any) -> None:
    visit = tabs("record/index.html?kind=note")
    form_is_open(visit)
    visit.page.evaluate("""() => {
      const put = IDBObjectStore.prototype.put;
      let photos = 0;
      IDBObjectStore.prototype.put = function (...given) {
        if (this.name === 'photos' && (photos += 1) > 1) throw new DOMException('full', 'QuotaExceededError');
        return put.apply(this, given);
      };
    }""")
    take(visit, *({**PICTURE, "name": f"{name}.jpg"} for name in ("one", "two", "three")))
    visit.until("() => document.querySelector('[data-record-status]').textContent.includes('three.jpg was not stored')")
    save(visit)
    assert [[photo["name"] for photo in row["photos"]] for row in latest(visit)] == [["photo-01.jpg"]]


# -- shared from another app ---------------------------------------------------------------------------------------

SHARE = """async (files) => {
  const form = new FormData();
  for (const [name, type, text] of files) form.append('photos', name ? new File([text], name, { type }) : text);
  const root = new URL(document.documentElement.dataset.root, location.href);
  const answer = await fetch(new URL('record/shared', root), { method: 'POST', body: form });
  return [answer.status, answer.redirected, new URL(answer.url).search.split('=')[0], await answer.text()];
}"""


def test_what_is_shared_with_no_network_is_kept_whole_or_refused_in_words(sample_offline: tuple[Visit, Host]) -> None:
    visit, host = sample_offline
    visit.until("() => Boolean(navigator.serviceWorker.controller)")
    visit.page.goto(host.url("record/index.html"))
    visit.until("() => Boolean(globalThis.journalRecords)")
    host.stop()
    count = f"{STORE}.drafts().then((rows) => rows.map((row) => row.photos.length))"
    picture = ["a.jpg", "image/jpeg", "x"]

    assert visit.page.evaluate(SHARE, [])[:3] == [200, True, ""]
    assert visit.page.evaluate(SHARE, [["", "", "words, no file"]])[:3] == [200, True, ""]
    assert visit.page.evaluate(count) == []

    status, _, _, text = visit.page.evaluate(SHARE, [picture, [f"{EVIL}.pdf", "application/pdf", "%PDF"]])
    assert status == 507
    assert "is not a photo that the journal takes" in text
    assert "<img" not in text
    assert "<script>" not in text
    assert visit.page.evaluate(count) == []
    assert visit.page.evaluate(f"{STORE}.savedPhotos().then((held) => held.size)") == 0

    thirty = [[f"{at}.heic", "", f"photo {at}"] for at in range(30)]
    assert visit.page.evaluate(SHARE, thirty)[:3] == [200, True, "?draft"]
    assert visit.page.evaluate(count) == [30]

    visit.context.service_workers[-1].evaluate("""() => {
      const put = IDBObjectStore.prototype.put;
      let photos = 0;
      IDBObjectStore.prototype.put = function (...given) {
        if (this.name === 'photos' && (photos += 1) > 1) throw new DOMException('full', 'QuotaExceededError');
        return put.apply(this, given);
      };
      self.heal = () => { IDBObjectStore.prototype.put = put; };
    }""")
    status, _, _, text = visit.page.evaluate(SHARE, [picture, picture, picture])
    visit.context.service_workers[-1].evaluate("self.heal()")
    assert (status, "no more storage" in text) == (507, True)
    assert visit.page.evaluate(count) == [30]
    visit.page.evaluate(f"{STORE}.drafts().then(([row]) => {STORE}.dropDraft(row))")
    assert json.loads(visit.page.evaluate(f"{STORE}.savedPhotos().then((held) => JSON.stringify(held.size))")) == 0


ANOTHER_SITE = """<!doctype html><meta charset="utf-8"><meta name="referrer" content="{policy}">
<form action="{target}" method="post" enctype="multipart/form-data"><input type="file" name="photos"></form>
<script>
  const files = new DataTransfer();
  files.items.add(new File(["x"], "a.jpg", {{ type: "image/jpeg" }}));
  document.querySelector("input").files = files.files;
</script>"""


@pytest.mark.parametrize(
    "policy", ["strict-origin-when-cross-origin", "unsafe-url", "no-referrer"], ids=["usual", "open", "hidden"]
)
def test_a_page_of_another_site_leaves_no_photo_that_is_not_seen_and_deleted_in_one_tap(
    sample_offline: tuple[Visit, Host], serve: Callable[..., Host], tmp_path: Path, policy: str
) -> None:
    visit, host = sample_offline
    visit.until("() => Boolean(navigator.serviceWorker.controller)")
    page = ANOTHER_SITE.format(policy=policy, target=host.url("record/shared"))
    (tmp_path / "page.html").write_text(page, encoding="utf-8")
    elsewhere = serve(tmp_path).url("page.html").replace("127.0.0.1", "localhost")  # which is another site
    visit.page.goto(elsewhere)
    with visit.page.expect_navigation():
        visit.page.evaluate("document.forms[0].submit()")
    if policy == "no-referrer":  # a browser tells this one from an app by nothing
        visit.until(
            "() => document.querySelector('[data-record-status]')?.textContent.includes('If you did not share')"
        )
        assert [row["photos"][0]["source"] for row in drafts(visit)] == ["shared"]
        assert "Shared from another app" in visit.page.inner_text("[data-drafts]")
        delete = visit.page.locator("[data-drafts]").get_by_role("button", name="Delete")
        assert delete.bounding_box()["y"] < 500  # in sight
        delete.click()
        visit.until("() => document.querySelector('[data-unfinished]').hidden")
    else:
        assert "A page of another site cannot put photos" in visit.page.inner_text("main, body")
        visit.page.goto(host.url("record/index.html"))
        visit.until("() => Boolean(globalThis.journalRecords)")
    assert drafts(visit) == []
    assert visit.page.evaluate(f"{STORE}.savedPhotos().then((held) => held.size)") == 0
