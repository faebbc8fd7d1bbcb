"""Recording on the built sample, as a thumb does it: what is tapped, what is kept, and what is seen afterwards."""

from __future__ import annotations

import json
import os
import re
import zipfile
from pathlib import Path
from shutil import copytree
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic

from journal.reading.entries import read_entry
from journal.reading.keys import KEYS, STAGES
from journal.settings import Settings
from journal.site.build import offline
from tests.browser.conftest import IS_WHOLE, Host, Visit, digests
from tests.browser.recording import HERE, STORE, form_is_open, is_saved, save
from tests.browser.test_sample import AXE

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("record")]

GEODESIC = Geodesic.WGS84

TEXTS = f"{STORE}.latest().then((rows) => rows.map((row) => new TextDecoder().decode(journalEntry.text(row))))"


def chip(visit: Visit, words: str) -> None:
    visit.page.locator("form:visible .chip", has_text=words).first.click()


def texts(visit: Visit) -> list[str]:
    rows: list[str] = visit.page.evaluate(TEXTS)
    return rows


def values(text: str) -> dict[str, Any]:
    """What the journal's own reader makes of an entry, which it must read with no problem."""
    draft = read_entry("finds/x/find.md", text.encode(), Settings())
    assert draft is not None
    assert draft.problems == ()
    return dict(draft.values)


# -- the wood --------------------------------------------------------------------------------------------------


def test_a_find_takes_five_taps_at_most_with_no_network(host: Host, thumb: Any, picture: Path) -> None:
    visit = thumb("index.html", workers="allow")
    visit.until_saved()
    visit.context.set_offline(True)
    host.stop()
    try:
        visit.page.goto(host.url("record/index.html"))
        visit.page.evaluate("sessionStorage.taps = 0")
        visit.page.get_by_role("button", name="Find").tap()
        form_is_open(visit)
        with visit.page.expect_file_chooser() as chooser:
            visit.page.locator("form:visible label", has_text="Take photo").tap()
        chooser.value.set_files(picture)
        visit.until("() => document.querySelector('form:not([hidden]) [data-taken] img')")
        visit.until("() => document.querySelector('[data-position-words]')?.textContent.includes('±12 m')")
        visit.page.locator("form:visible .chip", has_text="Flammulina velutipes").first.tap()
        visit.page.get_by_role("button", name="Save", exact=True).tap()
        words = is_saved(visit)
        taps = int(visit.page.evaluate("sessionStorage.taps"))
        (text,) = texts(visit)
        assert 4 <= taps <= 5
        assert words.startswith("Write F26-005-")
        read = values(text)
        assert read["species"] == "Flammulina velutipes"
        assert (round(read["where"].lat_deg, 5), round(read["where"].lon_deg, 5)) == (58.30412, -8.90177)
        assert read["where"].uncertainty_m == 12
        assert "certainty" not in read
        visit.page.goto(host.url("index.html"))
        visit.until("() => document.querySelector('[data-recorded]')?.textContent.includes('only on this device')")
        assert "1 record" in visit.page.inner_text("[data-waiting-words]")
    finally:
        host.start()


def test_photo_and_draft_outlive_a_tab_that_ends_after_the_photo(phone: Any, host: Host, picture: Path) -> None:
    visit = phone()
    visit.page.goto(host.url("record/index.html?kind=find"))
    form_is_open(visit)
    chip(visit, "Grifola frondosa")
    visit.page.locator("form:visible [data-add=camera]").set_input_files(picture)
    visit.until("() => document.querySelector('form:not([hidden]) [data-taken] img')")
    visit.page.close()
    visit = phone()
    visit.page.goto(host.url("record/index.html"))
    visit.until("() => document.querySelector('form:not([hidden]) [data-taken] img')")
    assert visit.page.locator("form:visible input[name=species]:checked").input_value() == "Grifola frondosa"
    save(visit)
    (text,) = texts(visit)
    assert "photo-01.jpg" in text
    size = visit.page.evaluate(
        "journalRecords(new URL('../', location.href)).latest().then((rows) => rows[0].photos[0].bytes)"
    )
    assert size == picture.stat().st_size


def test_a_refused_position_is_said_and_does_not_stop_a_find(thumb: Any) -> None:
    visit = thumb("record/index.html?kind=find", asks=False)
    visit.until("() => /may not use the position/.test(document.querySelector('[data-position-words]')?.textContent)")
    chip(visit, "Flammulina velutipes")
    save(visit)
    assert "where" not in values(texts(visit)[0])


def test_a_photo_from_the_gallery_gets_no_position_unless_it_is_said_to_be_of_here(thumb: Any, picture: Path) -> None:
    visit = thumb("record/index.html?kind=find")
    visit.until("() => document.querySelector('[data-position-words]')?.textContent.includes('±12 m')")
    visit.page.locator("form:visible [data-add=gallery]").set_input_files(picture)
    visit.until("() => document.querySelector('form:not([hidden]) [data-taken] img')")
    visit.until("() => !document.querySelector('[data-position-use]').checked")
    save(visit)
    assert "where" not in values(texts(visit)[0])

    visit.page.goto(visit.page.url.split("?")[0] + "?kind=find")
    visit.until("() => document.querySelector('[data-position-words]')?.textContent.includes('±12 m')")
    visit.page.locator("form:visible [data-add=gallery]").set_input_files(picture)
    visit.until("() => !document.querySelector('[data-position-use]').checked")
    chip(visit, "taken here")
    save(visit)
    assert values(texts(visit)[1])["where"].uncertainty_m == 12


def known_place(host: Host) -> tuple[str, str]:
    """Its name, and the position that a find there had last."""
    known = json.loads((host.folder / "record" / "data.json").read_text("utf-8"))["places"]
    return next((place["name"], place["where"]) for place in known if place["where"])


def position_says(visit: Visit, words: str) -> None:
    visit.until("(words) => document.querySelector('[data-position-words]')?.textContent.includes(words)", words)


def with_data(visit: Visit, **other: Any) -> None:
    """What Record knows of the journal is then this where it is named."""

    def changed(route: Any) -> None:
        answer = route.fetch()
        route.fulfill(response=answer, json=answer.json() | other)

    visit.page.route("**/record/data.json", changed)


@pytest.mark.parametrize(("units", "sure", "far"), [("metric", "±12 m", "10 km"), ("us", "±40 ft", "6.2 mi")])
def test_how_far_a_place_is_is_told_in_the_units_of_the_journal(
    thumb: Any, host: Host, units: str, sure: str, far: str
) -> None:
    """The place is 9,960 m further north, on a sphere of 111,195 m a degree: 6.19 mi of 1609.344 m."""
    name, _ = known_place(host)
    visit = thumb("index.html")
    there = {"name": name, "where": f"{HERE['latitude'] + 9960 / 111195:.6f}, {HERE['longitude']} ±8 m"}
    with_data(visit, units=units, places=[there])
    visit.page.goto(host.url("record/index.html?kind=find"))
    position_says(visit, f"This position: {sure}")
    chip(visit, name)
    position_says(visit, f", {far} from that of {name} as recorded before")


def test_how_sure_a_position_is_is_told_and_written_in_the_units_of_the_journal(thumb: Any, host: Host) -> None:
    """12 m are 39.37 ft, rounded up (1 ft = 0.3048 m exactly: NIST SP 811, 2008, appendix B.8)."""
    visit = thumb("index.html")
    with_data(visit, units="us")
    visit.page.goto(host.url("record/index.html?kind=find"))
    position_says(visit, "This position: ±40 ft")
    chip(visit, "Grifola frondosa")
    save(visit)
    assert "where: 58.30412, -8.90177 ±40 ft" in visit.page.inner_text("[data-saved-facts]")
    assert values(texts(visit)[0])["where"].uncertainty_m == pytest.approx(40 * 0.3048)


AS_RECORDED = "The position is that of the place, as recorded before."


def test_a_measured_position_stays_where_a_place_is_named_until_it_is_unticked(thumb: Any, host: Host) -> None:
    name, where = known_place(host)
    visit = thumb("record/index.html?kind=find")
    position_says(visit, "±12 m")
    chip(visit, name)
    north, east = (float(part) for part in where.partition(" ±")[0].split(", "))
    metres = GEODESIC.Inverse(HERE["latitude"], HERE["longitude"], north, east)["s12"]
    words = rf"This position: ±12 m(?:, still improving)?, (\d+) m from that of {name} as recorded before"
    position_says(visit, f"from that of {name}")
    said = re.fullmatch(words, visit.page.inner_text("[data-position-words]"))
    assert said, visit.page.inner_text("[data-position-words]")
    assert float(said[1]) == pytest.approx(metres, abs=1)  # it is told on a sphere
    save(visit)
    assert "the position of the place" not in visit.page.inner_text("[data-saved-facts]")
    (text,) = texts(visit)
    assert f"where: 58.30412, -8.90177 ±12 m\nplace: {name}\n" in text
    assert AS_RECORDED not in text

    visit.page.goto(host.url("record/index.html?kind=find"))
    position_says(visit, "±12 m")
    chip(visit, name)
    chip(visit, "Use this device’s position")
    said_then = f"Position of the place {name}: {where[where.index('±') :]}, as recorded before."
    position_says(visit, f"{said_then} That of this device is not used.")
    visit.page.fill("form:visible textarea", "on the same log")
    visit.page.wait_for_timeout(600)
    visit.page.reload()  # what was chosen is kept with the draft
    position_says(visit, f"Position of the place {name}")
    save(visit)
    text = texts(visit)[1]
    assert f"where: {where}\nplace: {name}\n" in text
    assert text.endswith(f"{AS_RECORDED}\n")


def test_a_place_gives_its_position_where_the_device_has_none(thumb: Any, host: Host) -> None:
    name, where = known_place(host)
    visit = thumb("record/index.html?kind=find", asks=False)
    position_says(visit, "may not use the position")
    chip(visit, name)
    said = visit.page.inner_text("[data-position-words]")
    assert said == f"Position of the place {name}: {where[where.index('±') :]}, as recorded before."
    save(visit)
    assert f"place: {name} · where: {where}, the position of the place" == visit.page.inner_text("[data-saved-facts]")
    (text,) = texts(visit)
    assert f"where: {where}\nplace: {name}\n" in text
    assert text.endswith(f"{AS_RECORDED}\n")

    visit.page.context.grant_permissions(["geolocation"])
    visit.page.get_by_role("link", name="Add to it").click()
    position_says(visit, f"Position of the place {name}")
    visit.until("() => document.querySelector('[data-position-again]').hidden")  # the device has found its own
    assert not visit.page.is_checked("form:visible [data-position-use]")  # but the record keeps what it was saved with
    chip(visit, name)  # a second tap takes the place back, and with it its position
    position_says(visit, "This position: ±12 m")
    visit.page.fill("form:visible [name='place other']", name.upper())
    visit.page.fill("form:visible [name=where]", "58.1, -8.2 ±40 m")
    save(visit)
    (text,) = texts(visit)
    assert "where: 58.1, -8.2 ±40 m\n" in text
    assert AS_RECORDED not in text


def test_a_position_that_comes_after_save_takes_the_place_of_a_places(thumb: Any, host: Host) -> None:
    name, where = known_place(host)
    visit = thumb("record/index.html?kind=find", position=None)
    form_is_open(visit)
    chip(visit, name)
    position_says(visit, "as recorded before. Waiting for that of this device.")
    save(visit)
    assert f"where: {where}, the position of the place until one is measured" in visit.page.inner_text("main")
    visit.context.set_geolocation({**HERE, "accuracy": 8})
    visit.until(f"() => {TEXTS}.then((rows) => rows[0].includes('±8 m'))")
    (text,) = texts(visit)
    assert f"where: 58.30412, -8.90177 ±8 m\nplace: {name}\n" in text
    assert AS_RECORDED not in text


def test_an_approximate_area_takes_the_place_of_a_places_position_only_on_a_tap(thumb: Any, host: Host) -> None:
    name, _ = known_place(host)
    visit = thumb("record/index.html?kind=find", position={**HERE, "accuracy": 900})
    position_says(visit, "This approximate area: ±900 m")
    chip(visit, name)
    position_says(visit, f"Position of the place {name}")
    for _ in range(2):
        chip(visit, "Use this device’s position")
    position_says(visit, "This approximate area: ±900 m")


def left_unsaved(visit: Visit, words: str = "on the same log") -> None:
    """Something is entered, so that there is a draft, and the page is loaded anew."""
    visit.page.fill("form:visible textarea", words)
    visit.until(f"(words) => {STORE}.drafts().then((rows) => rows[0]?.text === words)", words)
    visit.page.reload()
    form_is_open(visit)


def test_a_coarse_position_goes_on_getting_better_where_the_page_was_loaded_anew(thumb: Any) -> None:
    visit = thumb("record/index.html?kind=find", position={**HERE, "accuracy": 40})
    position_says(visit, "This position: ±40 m, still improving")
    left_unsaved(visit)
    position_says(visit, "This position: ±40 m, still improving")
    assert visit.page.input_value("form:visible [name=where]") == ""
    visit.context.set_geolocation({**HERE, "accuracy": 95})
    visit.page.wait_for_timeout(300)
    position_says(visit, "This position: ±40 m, still improving")  # what is worse takes no place
    visit.context.set_geolocation({**HERE, "accuracy": 25})
    position_says(visit, "This position: ±25 m, still improving")
    visit.until(f"() => {STORE}.drafts().then((rows) => rows[0]?.values.where.endsWith('±25 m'))")
    visit.context.set_geolocation(None)  # there is none any more
    visit.page.reload()
    position_says(visit, "This position: ±25 m")
    save(visit)
    (text,) = texts(visit)
    assert "where: 58.30412, -8.90177 ±25 m\n" in text
    assert visit.page.evaluate(f"{STORE}.latest().then((rows) => 'fix' in rows[0])") is False


def test_a_position_that_is_good_enough_is_not_asked_for_again_where_the_page_was_loaded_anew(thumb: Any) -> None:
    visit = thumb("record/index.html?kind=find", position={**HERE, "accuracy": 8})
    position_says(visit, "This position: ±8 m")
    visit.context.set_geolocation({**HERE, "latitude": 58.4, "accuracy": 3})
    left_unsaved(visit)
    visit.page.wait_for_timeout(300)
    assert visit.page.inner_text("[data-position-words]") == "This position: ±8 m"
    assert visit.page.locator("[data-position-again]").is_hidden()


def test_a_position_that_was_refused_stays_so_where_the_page_was_loaded_anew(thumb: Any) -> None:
    visit = thumb("record/index.html?kind=find", position={**HERE, "accuracy": 40})
    position_says(visit, "This position: ±40 m")
    chip(visit, "Use this device’s position")
    left_unsaved(visit)
    position_says(visit, "This position: ±40 m")
    assert not visit.page.is_checked("form:visible [data-position-use]")
    visit.context.set_geolocation({**HERE, "accuracy": 8})
    position_says(visit, "This position: ±8 m")
    save(visit)
    assert "where" not in values(texts(visit)[0])


def test_a_position_said_to_be_that_of_a_photo_stays_so_where_the_page_was_loaded_anew(
    thumb: Any, picture: Path
) -> None:
    visit = thumb("record/index.html?kind=find", position={**HERE, "accuracy": 40})
    position_says(visit, "This position: ±40 m")
    visit.page.locator("form:visible [data-add=gallery]").set_input_files(picture)
    visit.until("() => !document.querySelector('[data-position-use]').checked")
    chip(visit, "taken here")
    left_unsaved(visit)
    visit.context.set_geolocation({**HERE, "accuracy": 8})
    position_says(visit, "This position: ±8 m")
    save(visit)
    assert values(texts(visit)[0])["where"].uncertainty_m == 8


def test_a_position_measured_a_while_ago_is_not_changed_by_one_from_where_the_device_is_now(
    thumb: Any, host: Host
) -> None:
    visit = thumb("record/index.html?kind=find", position={**HERE, "accuracy": 40})
    position_says(visit, "This position: ±40 m")
    left_unsaved(visit)
    visit.page.goto(host.url("record/outbox/index.html"))
    visit.until("() => 'journalRecords' in globalThis")
    visit.page.evaluate("localStorage.clear()")  # what was typed last, which is put into the draft when it is opened
    visit.page.evaluate(
        f"{STORE}.drafts().then(([row]) => {STORE}.saveDraft("
        "{ ...row, fix: { ...row.fix, at: Date.now() - 6 * 60000 } }))"
    )
    visit.context.set_geolocation({**HERE, "latitude": 58.4, "accuracy": 8})
    visit.page.goto(host.url("record/index.html?kind=find"))
    position_says(visit, "The position below is used.")
    save(visit)
    assert "where: 58.30412, -8.90177 ±40 m\n" in texts(visit)[0]


def test_a_typed_position_is_said_to_be_the_one_until_it_is_taken_away(thumb: Any, host: Host) -> None:
    name, _ = known_place(host)
    visit = thumb("record/index.html?kind=find")
    position_says(visit, "±12 m")
    chip(visit, name)
    visit.page.fill("form:visible [name=where]", "58.1, -8.2 ±40 m")
    position_says(visit, "The position below is used.")
    assert visit.page.locator("[data-position-use]").is_hidden()
    save(visit)
    visit.page.get_by_role("link", name="Add to it").click()
    position_says(visit, "The position below is used.")
    visit.page.fill("form:visible [name=where]", "")
    position_says(visit, f"from that of {name} as recorded before")
    save(visit)
    assert values(texts(visit)[0])["where"].uncertainty_m == 12


def test_a_find_of_another_time_gets_the_present_position_only_on_a_tap(thumb: Any) -> None:
    visit = thumb("record/index.html?kind=find")
    position_says(visit, "±12 m")
    chip(visit, "Grifola frondosa")
    visit.page.fill("form:visible [data-when]", "2026-09-12T10:00")
    assert not visit.page.is_checked("form:visible [data-position-use]")
    chip(visit, "The find is here: use this device’s position")
    visit.page.fill("form:visible [data-when]", "2026-09-12T11:00")
    save(visit)
    assert values(texts(visit)[0])["where"].uncertainty_m == 12


def test_a_position_that_comes_after_save_is_added(thumb: Any) -> None:
    visit = thumb("index.html", position=None)
    visit.page.goto(visit.page.url.replace("index.html", "record/index.html?kind=find"))
    form_is_open(visit)
    chip(visit, "Flammulina velutipes")
    save(visit)
    assert "where" not in values(texts(visit)[0])
    visit.context.set_geolocation({**HERE, "accuracy": 8})
    visit.until(f"() => {TEXTS}.then((rows) => rows[0].includes('±8 m'))")


AWAKE = """() => {
  const told = (words) => localStorage.setItem('screen', (localStorage.getItem('screen') ?? '') + words + ' ');
  const request = async (what) => {
    told(`asked:${what}`);
    const lock = { released: false, release: async () => (lock.released ||= Boolean(told('let-go') ?? true)) };
    window.lock = lock;
    return lock;
  };
  Object.defineProperty(navigator, 'wakeLock', { value: { request } });
  window.turn = (seen) => {
    if (!seen) window.lock.released = true; // as a browser does with a page that is hidden
    Object.defineProperty(document, 'visibilityState', { value: seen ? 'visible' : 'hidden', configurable: true });
    document.dispatchEvent(new Event('visibilitychange'));
  };
}"""
"""A screen that tells what was asked of it: by `screen` in the browser's storage, which outlives a page."""


def test_the_screen_stays_on_while_a_position_is_awaited(thumb: Any, host: Host) -> None:
    visit = thumb("static/icons/mark.svg", position=None)
    visit.before_pages(f"({AWAKE})()")
    asked = "() => localStorage.getItem('screen')?.trim().split(' ')"
    visit.page.goto(host.url("record/index.html?kind=find"))
    visit.until("() => localStorage.getItem('screen') === 'asked:screen '")
    visit.page.evaluate("turn(false)")
    visit.page.evaluate("turn(true)")
    visit.page.evaluate("turn(true)")  # what is held is not asked for twice
    assert visit.page.evaluate(asked) == ["asked:screen"] * 2
    visit.context.set_geolocation({**HERE, "accuracy": 8})  # good enough: no better one is awaited
    visit.until("() => document.querySelector('[data-position-words]')?.textContent === 'This position: ±8 m'")
    assert visit.page.evaluate(asked) == ["asked:screen"] * 2 + ["let-go"]
    visit.page.evaluate("turn(true)")
    assert len(visit.page.evaluate(asked)) == 3

    visit.context.set_geolocation(None)
    visit.page.evaluate("localStorage.removeItem('screen')")
    visit.page.goto(host.url("record/index.html?kind=find"))
    visit.until("() => localStorage.getItem('screen') === 'asked:screen '")
    visit.page.goto(host.url("static/icons/mark.svg"))
    assert visit.page.evaluate(asked) == ["asked:screen", "let-go"]


def test_what_was_left_out_of_a_find_is_added_later_on_the_same_record(thumb: Any) -> None:
    visit = thumb("record/index.html?kind=find")
    form_is_open(visit)
    chip(visit, "Flammulina velutipes")
    chip(visit, "likely")
    first = save(visit)
    visit.page.get_by_role("link", name="Add to it").click()
    form_is_open(visit)
    visit.page.locator("form:visible summary", has_text="More about the find").click()
    visit.page.fill("form:visible [name=host]", "dead willow: #3, standing")
    assert save(visit) == first
    (text,) = texts(visit)
    read = values(text)
    assert (read["host"], read["certainty"], read["species"]) == (
        "dead willow: #3, standing",
        "likely",
        "Flammulina velutipes",
    )


# -- the tent --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("page", "choice", "read_as"),
    [
        ("batches/b-031", "pinning", ("note", "B-031", "stage", "pinning")),
        ("cultures/pp-26a", "clean", ("note", "PP-26A", "stage", "clean")),
        ("tents/wash-house", "tank", ("tent", "wash-house", "serviced", ("tank",))),
        ("finds/f26-001", "prime", ("note", "F26-001", "stage", "prime")),
    ],
)
def test_a_photo_and_what_it_shows_take_three_taps_from_the_page_of_an_id(
    thumb: Any, picture: Path, page: str, choice: str, read_as: tuple[Any, ...]
) -> None:
    visit = thumb(f"{page}/index.html")
    visit.page.wait_for_selector("[data-camera]")
    top = "document.querySelector('[data-camera] label').getBoundingClientRect().top"
    before = visit.page.evaluate(top)
    assert before - 300 == pytest.approx(visit.page.evaluate(f"(scrollTo(0, 300), {top})"), abs=1)  # covers nothing
    visit.page.evaluate("sessionStorage.taps = 0")
    with visit.page.expect_file_chooser() as chooser:
        visit.page.locator("[data-camera] label").tap()
    chooser.value.set_files(picture)
    form_is_open(visit)
    visit.until("() => document.querySelector('form:not([hidden]) [data-taken] img')")
    visit.page.locator("form:visible .chip", has_text=choice).first.tap()
    visit.page.get_by_role("button", name="Save", exact=True).tap()
    is_saved(visit)
    assert int(visit.page.evaluate("sessionStorage.taps")) == 3
    (text,) = texts(visit)
    kind, about, key, value = read_as
    assert text.startswith(f"---\nkind: {kind}\nabout: {about}\n")
    assert values(text)[key] == value
    assert "photo-01.jpg" in text


def test_a_photo_from_the_page_of_an_id_is_stored_before_the_page_changes(thumb: Any, picture: Path) -> None:
    visit = thumb("batches/b-031/index.html")
    visit.page.wait_for_selector("[data-camera]")
    visit.context.route("**/record/index.html*", lambda route: route.fulfill(status=204))  # it never comes
    visit.page.set_input_files("[data-camera] input", picture)
    drafts = "globalThis.journalRecords && journalRecords(new URL('../../', location.href)).drafts()"
    visit.until(f"async () => (await ({drafts}))?.[0]?.photos[0].bytes")
    visit.context.unroute_all()
    visit.page.goto(visit.page.url.split("batches/")[0] + "record/index.html?about=B-031")
    form_is_open(visit)
    visit.until("() => document.querySelector('form:not([hidden]) [data-taken] img')")


def test_a_photo_that_finds_no_room_is_said_on_the_page_of_the_id(thumb: Any, picture: Path) -> None:
    visit = thumb("batches/b-031/index.html")
    visit.page.wait_for_selector("[data-camera]")
    visit.page.evaluate(
        "() => { IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); }; }"
    )
    visit.page.set_input_files("[data-camera] input", picture)
    visit.until("() => document.querySelector('[data-camera] p').textContent.startsWith('The photo was not stored: ')")
    assert visit.page.url.endswith("batches/b-031/index.html")


def test_a_harvest_is_recorded_from_the_batchs_page(thumb: Any) -> None:
    visit = thumb("batches/b-031/index.html")
    visit.page.get_by_role("link", name="Record").click()
    form_is_open(visit)
    visit.page.fill("form:visible [name=harvest]", "0,412 kg")
    chip(visit, "block 2")
    save(visit)
    read = values(texts(visit)[0])
    assert (read["harvest"], read["flush"], str(read["about"][0])) == (412, 3, "B-031.2")
    visit.page.goto(visit.page.url.split("record/")[0] + "batches/b-031/index.html")
    visit.until("() => document.querySelector('[data-recorded]')?.textContent.includes('0.412 kg harvested, flush 3')")


@pytest.mark.parametrize(
    ("address", "name", "said"),
    [
        ("?about=wash-house", "humidity reading", "Humidity: “abc” is not a number; write it as 92 %."),
        ("?about=wash-house", "temperature reading", "Temperature: “abc” is not a number; write it as 18 °C."),
        ("?about=wash-house", "tank fill", "up to its mark: “abc” is not a number; write it as 5 l."),
        ("?kind=new batch", "moisture", "Moisture of that substrate: “abc” is not a number; write it as 62 %."),
        ("?about=B-031", "harvest", "Fresh mass: “abc” is not a number; write it as 412 g."),
    ],
)
def test_what_is_no_number_is_named_with_an_example_of_its_field(
    thumb: Any, address: str, name: str, said: str
) -> None:
    visit = thumb(f"record/index.html{address}")
    form_is_open(visit)
    visit.page.fill(f"form:visible [name='{name}']", "abc")
    visit.page.get_by_role("button", name="Save", exact=True).click()
    visit.until("() => !document.querySelector('[data-record-status]').hidden")
    assert visit.page.inner_text("[data-record-status]").endswith(said)


@pytest.mark.parametrize("typed", ["much", "1,200", "12 g 3"])
def test_a_mass_that_is_no_number_is_refused_in_words_and_stays_typed(thumb: Any, typed: str) -> None:
    visit = thumb("record/index.html?about=B-031")
    form_is_open(visit)
    visit.page.fill("form:visible [name=harvest]", typed)
    visit.page.get_by_role("button", name="Save", exact=True).click()
    visit.until("() => document.querySelector('[data-record-status]').textContent.includes('is not a number')")
    assert visit.page.input_value("form:visible [name=harvest]") == typed
    assert texts(visit) == []


def tap_save(visit: Visit) -> None:
    """Once what asks is there; no tap waits for it."""
    visit.until("() => globalThis.journalDoubts")
    visit.page.get_by_role("button", name="Save", exact=True).click()


def doubts(visit: Visit) -> list[str]:
    visit.until("() => document.querySelector('form:not([hidden]) [data-doubt]')")
    return [line.inner_text() for line in visit.page.locator("form:visible [data-doubt]").all()]


def set_clock(visit: Visit, since_s: float) -> None:
    """Stops the page's clock at so long after the last thing that was asked."""
    visit.page.evaluate(
        """(ms) => {
          globalThis.begun ??= performance.now();
          performance.now = () => begun + ms;
        }""",
        since_s * 1000,
    )


def save_after_reading(visit: Visit) -> str:
    set_clock(visit, 60)
    return save(visit)


def test_what_can_hardly_be_so_is_asked_once_under_its_field_and_then_saved_as_it_is(thumb: Any) -> None:
    visit = thumb("record/index.html?about=B-031")
    form_is_open(visit)
    visit.page.fill("form:visible [name=harvest]", "90000")
    tap_save(visit)
    (asked,) = doubts(visit)
    assert re.fullmatch(
        r"90000 g is more than the \d blocks weighed wet \([\d.]+ kg\)\. Save again to keep it\.", asked
    )
    line = visit.page.locator("form:visible [data-doubt]")
    assert visit.page.input_value("form:visible label:has([data-doubt]) input") == "90000"
    bar = visit.page.locator("[data-savebar]").bounding_box()
    box = line.bounding_box()
    assert box["y"] >= 0
    assert box["y"] + box["height"] <= bar["y"]
    assert texts(visit) == []

    visit.page.fill("form:visible [name=harvest]", "0,62")  # another value is asked about anew
    assert line.count() == 0
    set_clock(visit, 60)
    tap_save(visit)
    assert doubts(visit) == ["Read as 0.62 g, since no unit was typed. Or is it 0.62 kg? Save again to keep it."]
    assert texts(visit) == []
    set_clock(visit, 120)
    save(visit)
    assert values(texts(visit)[0])["harvest"] == 0.62


HUMIDITY = "890 % is outside 10 to 100 %. Save again to keep it."
TO_COME = "2099-01-05 12:00 is in the future by this device’s clock. Save again to keep it."


def open_tent(thumb: Any) -> Visit:
    """With a humidity and a day that can hardly be so."""
    visit: Visit = thumb("record/index.html?about=wash-house")
    form_is_open(visit)
    visit.page.fill("form:visible [name='humidity reading']", "890")
    visit.page.fill("form:visible [data-when]", "2099-01-05T12:00")
    return visit


def be_asked_of_tent(thumb: Any) -> Visit:
    visit = open_tent(thumb)
    tap_save(visit)
    assert len(doubts(visit)) == 2
    return visit


def test_all_that_can_hardly_be_so_is_asked_at_once_and_the_second_tap_saves(thumb: Any) -> None:
    visit = open_tent(thumb)
    visit.page.fill("form:visible [name='temperature reading']", "-61")
    tap_save(visit)
    cold = "−61 °C is outside −10 to 45 °C. Save again to keep it."
    asked = doubts(visit)
    assert sorted(words[8:] for words in asked) == sorted([HUMIDITY, cold, TO_COME])
    assert [words[:8] for words in asked] == ["1 of 3: ", "2 of 3: ", "3 of 3: "]
    bar = visit.page.locator("[data-savebar]").bounding_box()
    first = visit.page.locator("form:visible [data-doubt]").first.bounding_box()
    assert 0 <= first["y"] < first["y"] + first["height"] <= bar["y"]
    visit.page.set_viewport_size({"width": 1280, "height": 800})  # two columns: each stays under its field
    for name in ("[name='humidity reading']", "[name='temperature reading']", "[data-when]"):
        field = visit.page.locator(f"form:visible {name}")
        line = field.locator("xpath=ancestor::*[.//*[@data-doubt]][1]").locator("[data-doubt]")
        at, under = field.bounding_box(), line.bounding_box()
        assert (at["x"], under["y"]) == (under["x"], pytest.approx(at["y"] + at["height"], abs=48))
    assert texts(visit) == []
    save_after_reading(visit)
    assert "humidity reading: 890 %" in texts(visit)[0]
    visit.page.goto(visit.page.url.split("record/")[0] + "record/outbox/index.html")
    visit.until("() => document.querySelector('[data-records] li')?.innerText.includes('5 Jan 2099')")


def test_after_the_question_only_a_value_that_was_changed_is_asked_about_anew(thumb: Any) -> None:
    visit = be_asked_of_tent(thumb)
    visit.page.fill("form:visible [name='humidity reading']", "891")
    visit.page.fill("form:visible textarea", "seen twice")
    set_clock(visit, 60)
    tap_save(visit)
    visit.until("() => document.querySelector('form:not([hidden]) [data-doubt]')?.textContent.includes('891')")
    assert doubts(visit) == [HUMIDITY.replace("890", "891")]
    set_clock(visit, 120)
    save(visit)
    assert "humidity reading: 891 %" in texts(visit)[0]


def test_another_field_asks_nothing_anew_of_a_value_that_stayed(thumb: Any) -> None:
    visit = thumb("record/index.html?about=B-031")
    form_is_open(visit)
    visit.page.fill("form:visible [name=harvest]", "90000")
    tap_save(visit)
    assert len(doubts(visit)) == 1
    chip(visit, "block 2")  # the harvest is measured against one block now
    save_after_reading(visit)
    assert "harvest: 90000 g" in texts(visit)[0]


def test_a_second_tap_within_0_7_s_of_the_question_does_not_pass_it(thumb: Any) -> None:
    visit = open_tent(thumb)
    visit.until("() => globalThis.journalDoubts")
    set_clock(visit, 0)
    visit.page.evaluate("for (const tap of [1, 2]) document.querySelector('[data-save]').click()")
    assert len(doubts(visit)) == 2
    set_clock(visit, 0.69)
    tap_save(visit)
    visit.page.wait_for_timeout(300)
    assert len(doubts(visit)) == 2
    assert texts(visit) == []
    assert visit.page.input_value("form:visible [name='humidity reading']") == "890"
    set_clock(visit, 0.71)
    save(visit)
    assert len(texts(visit)) == 1


def test_a_slow_device_counts_the_0_7_s_by_when_it_was_tapped(thumb: Any) -> None:
    visit = be_asked_of_tent(thumb)
    visit.page.evaluate(
        """() => {
          document.querySelector('[data-save]').click();
          const now = performance.now();
          performance.now = () => now + 5000;
        }"""
    )
    visit.page.wait_for_timeout(300)
    assert texts(visit) == []
    save(visit)
    assert len(texts(visit)) == 1


def test_what_was_kept_in_a_record_is_not_asked_about_again_when_it_is_edited(thumb: Any) -> None:
    visit = be_asked_of_tent(thumb)
    save_after_reading(visit)
    visit.page.get_by_role("link", name="Add to it").click()
    form_is_open(visit)
    visit.page.fill("form:visible textarea", "seen twice")
    visit.until("() => globalThis.journalDoubts")
    save(visit)
    assert "seen twice" in texts(visit)[0]
    visit.page.get_by_role("link", name="Add to it").click()
    form_is_open(visit)
    visit.page.fill("form:visible [name='humidity reading']", "891")
    tap_save(visit)
    assert doubts(visit) == [HUMIDITY.replace("890", "891")]
    save_after_reading(visit)
    assert "humidity reading: 891 %" in texts(visit)[0]


def test_a_unit_that_is_lost_is_marked_where_it_is_chosen_as_is_one_lost_on_this_device(thumb: Any) -> None:
    visit = thumb("record/index.html?about=B-031")
    form_is_open(visit)
    chips = visit.page.locator("form:visible [data-choices=parts] .chip")
    assert [words for words in chips.all_inner_texts() if "lost" in words] == ["block 3, lost 17 Oct 2026"]
    chip(visit, "block 2")
    visit.page.get_by_role("button", name="How many: one more").click()
    save(visit)
    visit.page.goto(visit.page.url.split("?")[0] + "?about=B-031")
    form_is_open(visit)
    assert [words[:13] for words in chips.all_inner_texts() if "lost" in words] == ["block 2, lost", "block 3, lost"]
    chip(visit, "block 3")
    visit.page.fill("form:visible [name=harvest]", "412")
    tap_save(visit)
    (asked,) = doubts(visit)
    assert re.fullmatch(r"B-031\.3 was lost on 17 Oct( \d+)?, before this\. Save again to keep it\.", asked)


def test_us_units_stand_beside_the_numbers_and_behind_them(thumb: Any) -> None:
    visit = thumb("index.html")
    with_data(visit, units="us")
    visit.page.goto(visit.page.url.replace("index.html", "record/index.html?about=B-031"))
    form_is_open(visit)
    assert visit.page.inner_text("form:visible label:has([name=harvest]) small span") == "oz"
    visit.page.fill("form:visible [name=harvest]", "14.5")
    save(visit)
    assert "harvest: 14.5 oz" in texts(visit)[0]


def test_lost_units_and_their_cause(thumb: Any) -> None:
    visit = thumb("record/index.html?about=B-031")
    form_is_open(visit)
    visit.page.get_by_role("button", name="How many: one more").first.click()
    visit.page.get_by_role("button", name="How many: one more").first.click()
    chip(visit, "cobweb")
    save(visit)
    read = values(texts(visit)[0])
    assert (read["lost"], read["cause"]) == (2, "cobweb")
    visit.page.goto(visit.page.url.split("record/")[0] + "batches/b-031/index.html")
    visit.until("() => document.querySelector('[data-recorded]')?.textContent.includes('2 lost: cobweb')")


def test_a_transfer_is_named_after_its_parent(thumb: Any) -> None:
    visit = thumb("cultures/pp-26a/index.html")
    visit.page.get_by_role("link", name="Record").click()
    form_is_open(visit)
    visit.page.get_by_role("button", name="A new culture from it").click()
    visit.until("() => document.querySelector('[data-form=\"new culture\"]').hidden === false")
    chip(visit, "plate")
    visit.page.get_by_role("button", name="Vessels: one more").click()
    words = save(visit)
    read = values(texts(visit)[0])
    assert words.startswith("Write PP-26A-7-")
    assert (str(read["from"][0]), read["method"], read["form"], read["vessels"]) == ("PP-26A", "transfer", "plate", 1)


def test_a_lost_vessel_of_a_culture_is_named(thumb: Any) -> None:
    visit = thumb("record/index.html?about=PP-26A")
    form_is_open(visit)
    assert visit.page.inner_text("form:visible [data-choices=parts] legend") == "Which plate, if not all?"
    chip(visit, "plate 3")
    visit.page.get_by_role("button", name="How many vessels: one more").click()
    chip(visit, "cobweb")
    save(visit)
    (text,) = texts(visit)
    assert "about: PP-26A.3\n" in text
    assert (values(text)["lost"], values(text)["cause"]) == (1, "cobweb")


def test_a_reading_and_a_service_of_the_tent(thumb: Any) -> None:
    visit = thumb("record/index.html?about=wash-house")
    form_is_open(visit)
    visit.page.fill("form:visible [name='humidity reading']", "86")
    chip(visit, "floor")
    visit.page.fill("form:visible [name='temperature reading']", "16,5")
    chip(visit, "open")
    chip(visit, "tank")
    save(visit)
    read = values(texts(visit)[0])
    assert (read["humidity reading"], read["temperature reading"], read["door"]) == (86, 16.5, "open")
    assert sorted(read["serviced"]) == ["floor", "tank"]


def test_a_note_about_nothing_in_particular(thumb: Any) -> None:
    visit = thumb("record/index.html")
    visit.page.get_by_role("button", name="Note").click()
    form_is_open(visit)
    visit.page.fill("form:visible textarea", "Bought rye: 5 kg\n---\nNo weevils")
    save(visit)
    assert "about" not in texts(visit)[0]
    visit.page.goto(visit.page.url.split("record/")[0] + "diary/index.html")
    visit.until("() => document.querySelector('[data-recorded]')?.textContent.includes('Bought rye')")


# -- what a hand does by mistake -------------------------------------------------------------------------------


def test_a_choice_is_taken_back_by_a_second_tap_and_a_stepper_goes_back_to_nothing(thumb: Any) -> None:
    visit = thumb("record/index.html?about=B-031")
    form_is_open(visit)
    chip(visit, "pinning")
    chip(visit, "cobweb")
    chip(visit, "cobweb")
    visit.page.get_by_role("button", name="How many: one more").first.click()
    visit.page.get_by_role("button", name="How many: one fewer").first.click()
    visit.page.get_by_role("button", name="Flush: one more").click()
    assert visit.page.input_value("form:visible [name=flush]") == "4"
    visit.page.get_by_role("button", name="Flush: one fewer").click()
    visit.page.fill("form:visible [name=flush]", "")
    save(visit)
    read = values(texts(visit)[0])
    assert {key: read[key] for key in ("stage", "lost", "cause", "flush") if key in read} == {"stage": "pinning"}


def test_a_typed_species_and_a_chosen_one_never_stand_together(thumb: Any) -> None:
    visit = thumb("record/index.html?kind=find")
    form_is_open(visit)
    chip(visit, "Grifola frondosa")
    visit.page.fill("form:visible [name='species other']", "Fistulina hepatica")
    assert visit.page.locator("form:visible [name=species]:checked").count() == 0
    chip(visit, "Grifola frondosa")
    assert visit.page.input_value("form:visible [name='species other']") == ""
    save(visit)
    assert values(texts(visit)[0])["species"] == "Grifola frondosa"


def test_cancel_asks_before_it_deletes_what_was_entered(thumb: Any, picture: Path) -> None:
    visit = thumb("record/index.html?about=B-031")
    form_is_open(visit)
    visit.page.set_input_files("form:visible input[data-add=camera]", picture)
    visit.page.wait_for_selector("form:visible [data-taken] img")
    visit.page.get_by_role("button", name="Cancel").click()
    assert visit.page.inner_text("[data-cancel-words]") == "Delete what you entered, and its photo?"
    visit.page.get_by_role("button", name="Keep").click()
    visit.page.get_by_role("button", name="Cancel").click()
    visit.page.get_by_role("button", name="Delete", exact=True).click()
    visit.page.wait_for_url("**/batches/b-031/index.html")
    visit.page.goto(visit.page.url.split("batches/")[0] + "record/index.html?about=B-031")
    form_is_open(visit)
    assert visit.page.locator("form:visible [data-taken] img").count() == 0


def test_an_empty_form_leaves_no_draft_even_where_a_position_came(thumb: Any) -> None:
    visit = thumb("record/index.html?kind=find")
    visit.until("() => document.querySelector('[data-position-words]')?.textContent.includes('±12 m')")
    visit.page.wait_for_timeout(500)  # a draft would be stored after a quarter of a second
    visit.page.goto(visit.page.url.split("?")[0])
    visit.page.wait_for_selector("[data-choose]")
    assert visit.page.locator("[data-drafts] li").count() == 0


def test_what_was_not_saved_is_open_again_from_the_page_it_is_about(thumb: Any) -> None:
    visit = thumb("record/index.html?about=B-031")
    form_is_open(visit)
    visit.page.fill("form:visible textarea", "edges lift")
    visit.page.wait_for_timeout(600)
    visit.page.goto(visit.page.url.replace("B-031", "B-032"))
    form_is_open(visit)
    assert visit.page.input_value("form:visible textarea") == ""
    visit.page.goto(visit.page.url.replace("B-032", "B-031"))
    form_is_open(visit)
    assert visit.page.input_value("form:visible textarea") == "edges lift"


@pytest.mark.parametrize("address", ["?kind=find", "?kind=note", "?kind=new culture"])
def test_a_form_about_nothing_yet_is_open_again_where_its_page_was_loaded_anew(thumb: Any, address: str) -> None:
    visit = thumb(f"record/index.html{address}")
    form_is_open(visit)
    visit.page.fill("form:visible textarea", "under the alders")
    visit.page.wait_for_timeout(600)
    visit.page.reload()
    form_is_open(visit)
    assert visit.page.input_value("form:visible textarea") == "under the alders"
    assert visit.page.inner_text("[data-record-status]") == "This was not saved yet, and is open again."


def test_an_old_find_gets_no_position_of_the_place_where_it_is_edited(thumb: Any) -> None:
    visit = thumb("record/index.html?kind=find", asks=False)
    form_is_open(visit)
    chip(visit, "Grifola frondosa")
    visit.page.fill("form:visible [data-when]", "2026-09-12T10:00")
    save(visit)
    visit.page.context.grant_permissions(["geolocation"])
    visit.page.get_by_role("link", name="Add to it").click()
    form_is_open(visit)
    visit.until("() => document.querySelector('[data-position-words]')?.textContent.includes('±12 m')")
    assert not visit.page.is_checked("form:visible [data-position-use]")
    save(visit)
    assert "where" not in values(texts(visit)[0])


@pytest.mark.parametrize(
    ("address", "entered", "said"),
    [
        ("?kind=find", {"where": "by the river"}, "“by the river” is not a position"),
        ("?kind=batch", {"harvest": "400"}, "Choose the batch first."),
        ("?kind=new batch", {"units": "4"}, "Choose the culture it was inoculated with."),
        ("?about=B-031", {}, "There is nothing to save yet"),
    ],
)
def test_what_is_missing_is_said_where_it_is_seen(thumb: Any, address: str, entered: dict[str, str], said: str) -> None:
    visit = thumb(f"record/index.html{address}")
    form_is_open(visit)
    for name, typed in entered.items():
        visit.page.fill(f"form:visible [name='{name}']", typed)
    visit.page.evaluate("scrollTo(0, document.body.scrollHeight)")
    visit.page.get_by_role("button", name="Save", exact=True).click()
    visit.until("() => !document.querySelector('[data-record-status]').hidden")
    assert said in visit.page.inner_text("[data-record-status]")
    top = visit.page.evaluate("document.querySelector('[data-record-status]').getBoundingClientRect().top")
    assert 0 <= top < 500
    assert texts(visit) == []


def test_confirmed_asks_who_identified_it(thumb: Any) -> None:
    visit = thumb("record/index.html?kind=find")
    form_is_open(visit)
    assert visit.page.locator("form:visible [name=certainty]:checked").count() == 0
    chip(visit, "confirmed")
    visit.page.get_by_role("button", name="Save", exact=True).click()
    visit.until("() => document.querySelector('[data-record-status]').textContent.includes('Say who identified it')")
    visit.page.fill("form:visible [name='identified by']", "club evening, spores measured")
    save(visit)
    assert values(texts(visit)[0])["certainty"] == "confirmed"


# -- cultures from what is in front of you -----------------------------------------------------------------------


def test_a_clone_of_a_fruit_takes_its_block_and_the_photo_along(thumb: Any, picture: Path) -> None:
    visit = thumb("record/index.html?about=B-031")
    form_is_open(visit)
    visit.page.set_input_files("form:visible input[data-add=camera]", picture)
    visit.page.wait_for_selector("form:visible [data-taken] img")
    chip(visit, "block 2")
    visit.page.locator("form:visible summary").first.click()
    visit.page.get_by_role("button", name="A clone of its fruit").click()
    visit.until("() => document.querySelector('[data-form=\"new culture\"]').hidden === false")
    assert visit.page.locator("form:visible [data-taken] img").count() == 1
    chip(visit, "plate")
    save(visit)
    (text,) = texts(visit)
    read = values(text)
    assert ([str(ref) for ref in read["from"]], read["method"]) == (["B-031.2"], "tissue")
    assert "photo-01.jpg" in text


def test_a_find_recorded_on_this_device_can_be_cloned(thumb: Any) -> None:
    visit = thumb("record/index.html?kind=find")
    form_is_open(visit)
    chip(visit, "Grifola frondosa")
    found = save(visit).split()[1]
    visit.page.goto(visit.page.url.split("?")[0] + f"?about={found}")
    form_is_open(visit)
    visit.page.get_by_role("button", name="A clone of it").click()
    visit.until("() => document.querySelector('[data-form=\"new culture\"]').hidden === false")
    chip(visit, "plate")
    save(visit)
    clone = next(values(text) for text in texts(visit) if "kind: culture" in text)
    assert [str(ref) for ref in clone["from"]] == [found]


def test_a_received_culture_asks_from_whom_and_not_from_what(thumb: Any) -> None:
    visit = thumb("record/index.html?kind=culture")
    form_is_open(visit)
    visit.page.get_by_role("button", name="A culture received").click()
    visit.until("() => document.querySelector('[data-form=\"new culture\"]').hidden === false")
    assert not visit.page.locator("form:visible [data-key=from]").is_visible()
    visit.page.fill("form:visible [name='received from']", "the mycology club")
    save(visit)
    read = values(texts(visit)[0])
    assert (read["method"], read["received from"]) == ("received", "the mycology club")


def test_the_flush_follows_harvests_that_are_on_this_device_only(thumb: Any) -> None:
    visit = thumb("record/index.html?about=B-031")
    form_is_open(visit)
    visit.page.fill("form:visible [name=harvest]", "300")
    visit.page.get_by_role("button", name="Flush: one more").click()
    save(visit)
    visit.page.goto(visit.page.url.split("?")[0] + "?about=B-031")
    form_is_open(visit)
    assert visit.page.get_attribute("form:visible [name=flush]", "placeholder") == "4"
    assert "the last harvest was of flush 4" in visit.page.inner_text("[data-flush-words]")


def test_every_choice_is_one_that_the_journal_reads(thumb: Any) -> None:
    visit = thumb("record/index.html")
    offered = visit.page.evaluate("""() => [...document.querySelectorAll('form.record input[type=radio]')].map(
        (one) => [one.form.dataset.form, one.name, one.value])""")
    kinds = {"batch": "note", "culture": "note", "new batch": "batch", "new culture": "culture"}
    checked = 0
    for form, name, value in offered:
        words = STAGES["culture"] if name == "stage" else KEYS[kinds.get(form, form)][name].words
        assert not words or value in words, f"{form}: {name}: {value}"
        checked += bool(words)
    assert checked > 10


def test_why_nothing_was_saved_is_said_until_something_is_entered(thumb: Any) -> None:
    visit = thumb("record/index.html?kind=batch")
    form_is_open(visit)
    said = visit.page.locator("[data-record-status]")
    visit.page.get_by_role("button", name="Save", exact=True).click()
    visit.until("() => !document.querySelector('[data-record-status]').hidden")
    assert said.inner_text() == "Choose the batch first."
    chip(visit, "B-0")
    assert said.is_hidden()
    visit.page.fill("form:visible [name=harvest]", "some")
    visit.page.get_by_role("button", name="Save", exact=True).click()
    visit.until("() => !document.querySelector('[data-record-status]').hidden")
    visit.page.locator("form:visible [data-step='1']").first.click()
    assert said.is_hidden()


@pytest.mark.parametrize(
    ("typed", "across_mm"),
    [
        ("34 x 36", (34, 36)), ("34X36", (34, 36)), ("34 36", (34, 36)), ("34,5 × 36 mm", (34.5, 36)),
        ("3.4 x 3.6 cm", (34, 36)),
    ],
)  # fmt: skip
def test_a_colony_is_measured_in_millimetres_where_no_unit_was_typed(
    thumb: Any, typed: str, across_mm: tuple[float, float]
) -> None:
    visit = thumb("record/index.html?about=PP-26A")
    form_is_open(visit)
    visit.page.fill("form:visible [name=colony]", typed)
    save(visit)
    (colony,) = values(texts(visit)[0])["colony"]
    assert colony.across_mm == pytest.approx(across_mm)


@pytest.mark.parametrize(
    "address",
    [
        "?kind=find", "?about=B-031", "?kind=new batch", "?about=PP-26A", "?kind=new culture", "?about=wash-house",
        "?kind=note",
    ],
)  # fmt: skip
def test_every_form_takes_what_is_to_be_done_next(thumb: Any, address: str) -> None:
    visit = thumb(f"record/index.html{address}")
    form_is_open(visit)
    for source in visit.page.locator("form:visible :is([data-key=culture], [data-key=from])").all():
        source.locator(".chip").first.click()
    visit.page.fill("form:visible [name=next]", "2026-12-05 look again after frost")
    save(visit)
    (step,) = values(texts(visit)[0])["next"]
    assert (str(step.date), step.text) == ("2026-12-05", "look again after frost")


def test_a_culture_whose_label_may_be_wrong_is_recorded_as_doubtful(thumb: Any) -> None:
    visit = thumb("record/index.html?about=PP-26A")
    form_is_open(visit)
    chip(visit, "doubtful")
    visit.page.fill("form:visible textarea", "The lids were swapped, I think.")
    save(visit)
    assert values(texts(visit)[0])["stage"] == "doubtful"


KEEPING = """async () => [
  (await indexedDB.databases?.() ?? []).filter(({ name }) => name.startsWith("journal records")).length,
  performance.getEntriesByType("resource").some(({ name }) => name.endsWith("record-store.js")),
]"""
"""How many databases of records there are, and whether the page fetched the scripts that keep records."""


@pytest.mark.parametrize("lists", [True, False])
def test_what_is_due_is_ticked_off_in_two_taps_and_undone_by_one(thumb: Any, lists: bool) -> None:
    """lists: whether the browser can list its databases. What keeps records is fetched with the first of them."""
    visit = thumb("static/icons/mark.svg")
    if not lists:
        visit.before_pages("delete IDBFactory.prototype.databases")
    visit.page.goto(visit.page.url.replace("static/icons/mark.svg", "index.html"))
    visit.until("() => document.querySelector('tr[data-tick-key] [data-tick] button')?.checkVisibility()")
    assert [0, False] == visit.page.evaluate(KEEPING)
    assert [] == [url for url in visit.requests if url.endswith("record/data.json")]
    row = visit.page.locator("tr[data-tick-kind=tent]").first
    key, value = row.get_attribute("data-tick-key"), row.get_attribute("data-tick-value")
    row.get_by_role("button", name="Done …").tap()
    row.get_by_role("button", name="Save as done").tap()
    visit.until("() => document.querySelector('tr.ticked')")
    assert f"{key}: {value}" in texts(visit)[0]
    assert "kind: tent\n" in texts(visit)[0]
    visit.page.reload()
    visit.until("() => document.querySelector('tr.ticked')")
    visit.page.locator("tr.ticked").get_by_role("button", name="Undo").tap()
    visit.until("() => !document.querySelector('tr.ticked')")
    assert texts(visit) == []


# -- where something is refused ----------------------------------------------------------------------------------


def test_where_nothing_is_stored_that_is_said_and_no_form_opens(browser: Any, host: Host) -> None:
    context = browser.new_context(service_workers="block")
    context.add_init_script("IDBFactory.prototype.open = () => { throw new DOMException('no', 'SecurityError'); }")
    visit = Visit.of(context)
    visit.page.goto(host.url("record/index.html?kind=find"))
    visit.until("() => document.querySelector('[data-record-why]').textContent.includes('does not let')")
    assert visit.page.locator("form:visible").count() == 0
    context.close()


def test_in_a_tab_whose_data_ios_deletes_nothing_is_recorded_and_that_is_said(thumb: Any, host: Host) -> None:
    visit = thumb("static/icons/mark.svg")
    visit.before_pages("Object.defineProperty(navigator, 'standalone', { value: false })")
    visit.page.goto(host.url("record/index.html?kind=find"))
    visit.until("() => document.querySelector('[data-record-why]')?.textContent.includes('Add to Home Screen')")
    assert visit.page.locator("form:visible").count() == 0
    visit.page.goto(host.url("batches/b-031/index.html"))
    visit.until("() => Boolean(globalThis.journalDatabase)")
    visit.page.wait_for_timeout(100)
    assert visit.page.locator("[data-camera]").count() == 0


def test_where_the_browser_promises_nothing_a_private_window_is_warned_of(thumb: Any, host: Host) -> None:
    """The tab is of a private window (Chromium's *incognito*), as all are that have no folder for what they store."""
    visit = thumb("static/icons/mark.svg")
    visit.before_pages("navigator.storage.persisted = () => Promise.resolve(true)")
    visit.page.goto(host.url("record/index.html?about=B-031"))
    form_is_open(visit)
    assert not visit.page.is_visible("[data-record-private]")
    visit = thumb("record/index.html?about=B-031")
    form_is_open(visit)
    assert not visit.page.evaluate("navigator.storage.persisted()")
    assert "deleted when the window is closed" in visit.page.inner_text("[data-record-private]:visible")
    visit.page.fill("form:visible [name=harvest]", "412")
    save(visit)
    visit.page.wait_for_selector("[data-saved-risk]:visible")
    assert "a private window deletes it when it is closed" in visit.page.inner_text("[data-saved-risk]")
    visit.page.goto(host.url("record/index.html?about=B-031"))
    form_is_open(visit)
    assert not visit.page.is_visible("[data-record-private]")  # it was told once, and is told again with each record


def test_full_storage_keeps_the_form_and_says_so(thumb: Any) -> None:
    visit = thumb("record/index.html?about=B-031")
    form_is_open(visit)
    visit.page.fill("form:visible [name=harvest]", "412")
    visit.page.evaluate(
        "() => { const put = IDBObjectStore.prototype.put, add = IDBObjectStore.prototype.add;"
        " IDBObjectStore.prototype.add = function () { throw new DOMException('full', 'QuotaExceededError'); };"
        " window.heal = () => { IDBObjectStore.prototype.add = add; }; }"
    )
    visit.page.get_by_role("button", name="Save", exact=True).click()
    visit.until("() => document.querySelector('[data-record-status]').textContent.startsWith('Not saved: ')")
    assert visit.page.input_value("form:visible [name=harvest]") == "412"
    visit.page.evaluate("window.heal()")
    save(visit)
    assert len(texts(visit)) == 1


def test_a_save_with_nothing_entered_is_refused_and_the_form_stays(thumb: Any) -> None:
    visit = thumb("record/index.html?about=B-031")
    form_is_open(visit)
    visit.page.get_by_role("button", name="Save", exact=True).click()
    visit.until("() => document.querySelector('[data-record-status]').textContent.includes('nothing to save')")
    assert visit.page.locator("[data-unsaved]").count() == 1
    chip(visit, "pinning")
    save(visit)
    assert visit.page.locator("[data-unsaved]").count() == 0


def test_an_update_waits_for_the_form_that_is_open_and_is_offered_once_it_is_saved(
    thumb: Any, host: Host, sample_site: Path, tmp_path: Path
) -> None:
    second = copytree(sample_site, tmp_path / "second", copy_function=os.link)
    diary = second / "diary" / "index.html"
    text = diary.read_text("utf-8").replace("</h1>", " of the second build</h1>", 1)
    diary.unlink()  # it is a link to that of the first build
    diary.write_text(text, "utf-8")
    offline.write_offline_copy(second, [], digests(second), earlier=sample_site)
    visit = thumb("index.html", workers="allow")
    visit.until_saved()
    visit.page.goto(host.url("record/index.html?about=B-031"))
    form_is_open(visit)
    visit.page.fill("form:visible textarea", "across an update")
    visit.page.evaluate("window.same = true")
    host.folder = second
    try:
        visit.page.evaluate("navigator.serviceWorker.getRegistration().then((worker) => worker.update())")
        visit.until(f"{IS_WHOLE.replace('Boolean(builds?.current)', 'Boolean(builds?.next)')}", seconds=60)
        visit.page.wait_for_timeout(300)  # an offer would be shown by now
        assert visit.page.locator("[data-update]").is_hidden()
        assert visit.page.evaluate("window.same") is True
        assert visit.page.input_value("form:visible textarea") == "across an update"
        save(visit)
        assert ["across an update" in text for text in texts(visit)] == [True]
        visit.until("() => !document.querySelector('[data-update]').hidden")
        visit.page.click("[data-update-now]")
        visit.until("() => window.same !== true && document.readyState === 'complete'")
        visit.page.goto(host.url("diary/index.html"))
        assert "of the second build" in visit.page.inner_text("h1")
    finally:
        host.folder = sample_site


# -- the outbox --------------------------------------------------------------------------------------------------


def recorded(visit: Visit, count: int = 1) -> None:
    base = visit.page.url.split("record/")[0]
    for _ in range(count):
        visit.page.goto(f"{base}record/index.html?about=B-031")
        form_is_open(visit)
        chip(visit, "pinning")
        save(visit)
    visit.page.goto(f"{base}record/outbox/index.html")
    visit.until("() => document.querySelectorAll('[data-records] li').length")


def test_the_outbox_exports_what_its_receipt_code_then_takes_home(thumb: Any, tmp_path: Path) -> None:
    visit = thumb("record/index.html")
    recorded(visit, 2)
    assert "2 records" in visit.page.inner_text("[data-export-words]")
    with visit.page.expect_download() as download:
        visit.page.get_by_role("button", name="Export", exact=True).click()
    download.value.save_as(tmp_path / "archive.zip")
    with zipfile.ZipFile(tmp_path / "archive.zip") as archive:
        assert archive.testzip() is None
        manifest = json.loads(archive.read("manifest.json"))
    assert len(manifest["records"]) == 2
    visit.until("() => document.querySelector('[data-records]').textContent.includes('exported')")
    visit.until(
        "() => document.querySelector('[data-waiting-words]').textContent.startsWith('Not in the journal yet: 2')"
    )
    code = visit.page.evaluate(
        "journalRecords(new URL('../../', location.href)).exports().then((rows) => rows[0].codes[0])"
    )
    wrong = ("1" if code[0] != "1" else "2") + code[1:]
    visit.page.fill("[data-code]", wrong)
    visit.page.get_by_role("button", name="Check the code").click()
    visit.until("() => document.querySelector('[data-outbox-status]').textContent.includes('mistyped')")
    visit.page.fill("[data-code]", code.lower().replace("-", " "))
    visit.page.get_by_role("button", name="Check the code").click()
    visit.until("() => document.querySelector('[data-records]').textContent.includes('in the journal')")
    assert visit.page.locator("[data-waiting]").is_hidden()


CODES = "journalRecords(new URL('../../', location.href)).exports().then((rows) => rows.flatMap((row) => row.codes))"
SCANNER = """globalThis.BarcodeDetector = class {
  static getSupportedFormats = async () => ['ean_13', 'qr_code'];
  constructor({ formats }) { this.formats = formats; }
  async detect(picture) {
    const isQr = this.formats.join() === 'qr_code' && picture instanceof ImageBitmap && picture.width > 0;
    return isQr && globalThis.seen ? [{ rawValue: globalThis.seen }] : [];
  }
};"""
"""A scanner that sees `seen` in any picture that the browser could decode."""


def test_a_code_that_is_scanned_takes_records_home(thumb: Any, picture: Path) -> None:
    visit = thumb("record/index.html")
    visit.before_pages(SCANNER)
    recorded(visit, 2)
    with visit.page.expect_download():
        visit.page.get_by_role("button", name="Export", exact=True).click()
    visit.until(f"() => {CODES}.then((codes) => codes.length)")
    assert "Take a picture of the code" in visit.page.inner_text("[data-scan-words]")

    with visit.page.expect_file_chooser() as chooser:
        visit.page.locator("[data-scan]").tap()
    chooser.value.set_files(picture)
    visit.until("() => document.querySelector('[data-outbox-status]').textContent.startsWith('No code was found in')")
    assert "in the journal" not in visit.page.inner_text("[data-records]")

    visit.page.evaluate(f"() => {CODES}.then(([code]) => {{ globalThis.seen = code; }})")
    with visit.page.expect_file_chooser() as chooser:
        visit.page.locator("[data-scan]").tap()
    chooser.value.set_files(picture)  # the same picture once more
    visit.until("() => document.querySelector('[data-outbox-status]').textContent === '2 records are in the journal.'")
    visit.until("() => document.querySelector('[data-records]').textContent.split('in the journal').length === 3")


@pytest.mark.parametrize("scanner", ["", SCANNER.replace("'qr_code']", "'upc_e']")])
def test_a_browser_that_cannot_scan_says_so_and_takes_what_is_pasted(thumb: Any, scanner: str) -> None:
    visit = thumb("record/index.html")
    visit.before_pages(f"delete globalThis.BarcodeDetector; {scanner}")
    recorded(visit)
    with visit.page.expect_download():
        visit.page.get_by_role("button", name="Export", exact=True).click()
    visit.until(f"() => {CODES}.then((codes) => codes.length)")
    said = "This browser cannot scan codes: paste the code, or type it."
    assert visit.page.inner_text("[data-scan-words]") == said
    assert not visit.page.locator("[data-scan]").is_visible()
    link = f"{visit.page.url}#receipt={visit.page.evaluate(CODES)[0]}"
    visit.page.evaluate(
        """(text) => {
          const field = document.querySelector('[data-code]');
          field.focus();
          document.execCommand('insertText', false, text); // as pasting does
        }""",
        link,
    )
    visit.page.get_by_role("button", name="Check the code").click()
    visit.until("() => document.querySelector('[data-records]').textContent.includes('in the journal')")


def test_a_code_that_is_wrong_is_said_in_sight_of_where_it_was_typed(thumb: Any) -> None:
    visit = thumb("record/index.html?about=B-031")
    for stage in ("pinning", "fruiting", "colonised", "colonising"):
        form_is_open(visit)
        chip(visit, stage)
        save(visit)
        visit.page.goto(visit.page.url)
    visit.page.goto(visit.page.url.split("index.html")[0] + "outbox/index.html")
    visit.until("() => document.querySelectorAll('[data-records] > li').length === 4")
    visit.page.fill("[data-code]", "AAAA-AAAA-AAAA-A")
    visit.page.get_by_role("button", name="Check the code").click()
    visit.until("() => !document.querySelector('[data-outbox-status]').hidden")
    assert visit.page.evaluate("scrollY") > 300
    top = visit.page.evaluate("document.querySelector('[data-outbox-status]').getBoundingClientRect().top")
    assert 0 <= top < 500


def test_a_passphrase_can_be_seen_as_it_is_typed(thumb: Any) -> None:
    visit = thumb("record/outbox/index.html")
    visit.page.locator("summary", has_text="With a passphrase").click()
    visit.page.fill("[data-passphrase]", "wet moss")
    visit.page.locator(".chip", has_text="Show it as typed").click()
    assert visit.page.get_attribute("[data-passphrase]", "type") == "text"


def test_a_deleted_record_comes_back_by_undo(thumb: Any) -> None:
    visit = thumb("record/index.html")
    recorded(visit)
    visit.page.get_by_role("button", name="Delete B-031").click()
    visit.until("() => document.querySelector('[data-records]').textContent.includes('was deleted')")
    assert texts(visit) == []
    visit.page.get_by_role("button", name="Undo").click()
    visit.until("() => document.querySelector('[data-records]').textContent.includes('only on this device')")
    assert len(texts(visit)) == 1


def test_many_records_ask_to_be_exported_on_every_page(thumb: Any) -> None:
    visit = thumb("record/index.html")
    recorded(visit)
    visit.page.evaluate("""async () => {
      const records = journalRecords(new URL('../../', location.href));
      const [one] = await records.latest();
      for (let at = 0; at < 19; at += 1) await records.save({ ...one, record: crypto.randomUUID(), revision: 0 });
    }""")
    visit.page.goto(visit.page.url.split("record/")[0] + "calculators/index.html")
    visit.until("() => document.querySelector('[data-waiting-export]')?.hidden === false")
    assert "20 records" in visit.page.inner_text("[data-waiting-words]")


KEEP = """async ([records, drafts]) => {
  const store = journalRecords(new URL(document.documentElement.dataset.root, location.href));
  const note = () => ({ record: crypto.randomUUID(), form: 'note', kind: 'note', id: null, about: [], values: {},
    date: '2026-11-25 14:03+00:00', text: 'rye' });
  for (let at = 0; at < records; at += 1) await store.save(note());
  for (let at = 0; at < drafts; at += 1) await store.saveDraft(note());
}"""


@pytest.mark.parametrize(
    ("kept", "lines", "leads_to"),
    [
        ([0, 1], ["1 draft not saved"], "record/index.html"),
        ([3, 0], ["On this device only: 3 records", "oldest under 1 hour"], "record/outbox/index.html"),
        ([20, 2], ["On this device only: 20 records", "oldest under 1 hour · 2 drafts"], "record/outbox/"),
    ],
)
def test_what_waits_stands_in_whole_lines_on_a_narrow_screen_with_the_drafts(
    thumb: Any, kept: list[int], lines: list[str], leads_to: str
) -> None:
    visit = thumb("index.html")
    visit.page.evaluate("import('./static/js/recorded.js').then(({ loadRecords }) => loadRecords()).then(() => null)")
    visit.page.evaluate(KEEP, kept)
    told = "[...document.querySelectorAll('[data-waiting-words] span')]"
    visit.until(f"(lines) => {told}.map((span) => span.textContent).join() === lines.join()", lines)
    heights = visit.page.evaluate(f"{told}.map((span) => span.getBoundingClientRect().height)")
    assert max(heights) < 25, "a line of it is broken"
    assert leads_to in visit.page.get_attribute("[data-waiting-words]", "href")
    assert visit.page.evaluate("document.documentElement.scrollWidth") == 360
    visit.page.goto(visit.page.url.replace("index.html", "record/outbox/index.html"))
    visit.until("() => !document.querySelector('[data-records-panel]').hidden")
    assert visit.page.locator("[data-unsaved-words]").is_visible() == (kept[1] > 0)


def test_receipts_that_come_with_an_update_take_records_home(thumb: Any) -> None:
    visit = thumb("record/index.html")
    recorded(visit)
    told = visit.page.evaluate("""async () => {
      const [one] = await journalRecords(new URL('../../', location.href)).latest();
      return { [one.record]: [[one.revision, await journalArchive.sha256(journalEntry.text(one)), null]] };
    }""")
    body = json.dumps({"version": 1, "records": told})
    visit.context.route(
        "**/record/receipts.json", lambda route: route.fulfill(body=body, content_type="application/json")
    )
    visit.page.goto(visit.page.url.split("record/")[0] + "batches/b-031/index.html")
    states = "journalRecords(new URL('../../', location.href)).states().then((found) => [...found.values()].join())"
    visit.until(f"() => globalThis.journalRecords && {states}.then((found) => found === 'in the journal')")
    visit.until("() => document.querySelector('[data-waiting]')?.hidden !== false")
    assert visit.page.locator("[data-recorded] li").count() == 0


DIGESTS_HERE = """async () => Object.fromEntries(await Promise.all(
  (await journalRecords(new URL('../../', location.href)).latest())
    .map(async (row) => [row.record, await journalArchive.sha256(journalEntry.text(row))])))"""


def told_by_the_site(visit: Visit, here: Any, gone: Any) -> None:
    """What the site says from now on of the journal: digests of texts by record."""
    told = {"records": {record: [[1, digest, None]] for record, digest in here.items()}}
    told |= {"version": 1, "gone": {record: [digest] for record, digest in gone.items()}}
    visit.context.route(
        "**/record/receipts.json",
        lambda route: route.fulfill(body=json.dumps(told), content_type="application/json"),
    )


def test_what_was_removed_from_the_journal_stays_here_and_asks_for_nothing(thumb: Any) -> None:
    visit = thumb("record/index.html")
    recorded(visit, 3)
    first, second, third = visit.page.evaluate(DIGESTS_HERE).items()
    told_by_the_site(visit, dict([first]), dict([second, third]))
    visit.page.reload()
    visit.until("() => document.querySelector('[data-records]').textContent.split('no longer in').length === 3")
    assert visit.page.locator("[data-waiting]").is_hidden()
    assert "journal gather --again" in visit.page.inner_text("[data-gone]")
    assert visit.page.inner_text("[data-export-words]") == "There is nothing to export."
    visit.page.locator("[data-again]").click()
    assert visit.page.inner_text("[data-export-words]").startswith("2 records")

    visit.page.get_by_role("button", name="Delete from this device what is in the journal").click()
    assert visit.page.inner_text("[data-clearing-words]") == (
        "Delete 1 record from this device? The journal on the computer keeps it. This cannot be undone."
    )
    visit.page.get_by_role("button", name="Delete", exact=True).last.click()
    visit.until("() => document.querySelectorAll('[data-records] > li').length === 2")
    assert "in the journal" in visit.page.inner_text("[data-records]")
    assert visit.page.locator("[data-clear]").is_hidden()
    assert visit.page.locator("[data-clearing]").is_hidden()
    visit.page.evaluate(
        """async ([record, digest]) => { // a code for one of them, from before it was removed
      const store = journalRecords(new URL('../../', location.href));
      const code = await journalArchive.code(digest, 1);
      const records = [{ record, revision: 1, parts: [1] }];
      await store.markSent({ archive: 'a', codes: [code], records });
      document.querySelector('[data-code]').value = code;
    }""",
        list(second),
    )
    visit.page.get_by_role("button", name="Check the code").click()
    said = "1 record is no longer in the journal, by its copy on this device."
    visit.until("(said) => document.querySelector('[data-outbox-status]').textContent.startsWith(said)", said)
    visit.page.evaluate("""async () => {
      const store = journalRecords(new URL('../../', location.href));
      const [one] = await store.latest();
      await store.save({ ...one, record: crypto.randomUUID(), text: 'more' });
    }""")
    visit.page.goto(visit.page.url.split("record/")[0] + "batches/b-031/index.html")
    visit.until("() => document.querySelector('[data-recorded] li')")
    assert visit.page.locator("[data-recorded] li").count() == 1
    assert "only on this device" in visit.page.inner_text("[data-recorded]")


def test_nothing_is_deleted_before_a_yes(thumb: Any) -> None:
    visit = thumb("record/index.html")
    recorded(visit, 2)
    told_by_the_site(visit, visit.page.evaluate(DIGESTS_HERE), {})
    visit.page.reload()
    ask = visit.page.get_by_role("button", name="Delete from this device what is in the journal")
    ask.click()
    assert "Delete 2 records from this device?" in visit.page.inner_text("[data-clearing-words]")
    assert visit.page.evaluate("document.activeElement.textContent") == "Keep"
    assert ask.is_hidden()
    visit.page.get_by_role("button", name="Keep", exact=True).click()
    visit.until("() => !document.querySelector('[data-clear]').hidden")
    assert visit.page.locator("[data-clearing]").is_hidden()
    assert visit.page.locator("[data-records] > li").count() == 2


def test_what_is_being_changed_stays_and_that_is_said(thumb: Any) -> None:
    visit = thumb("record/index.html")
    recorded(visit, 2)
    told_by_the_site(visit, visit.page.evaluate(DIGESTS_HERE), {})
    change = f"{STORE}.latest().then(([row]) => {STORE}.saveDraft({{ ...row, text: 'more' }}))"
    visit.page.evaluate(change)
    visit.page.reload()
    visit.page.get_by_role("button", name="Delete from this device what is in the journal").click()
    assert visit.page.inner_text("[data-clearing-words]") == (
        "Delete 1 record from this device? The journal on the computer keeps it. This cannot be undone. "
        "1 record with unsaved changes will stay."
    )
    visit.page.get_by_role("button", name="Delete", exact=True).last.click()
    visit.until("() => document.querySelectorAll('[data-records] > li').length === 1")
    visit.until("() => document.querySelector('[data-clearing]').hidden")
    assert visit.page.locator("[data-clear]").is_hidden()  # nothing is left that would be deleted


def test_a_code_typed_after_its_record_was_changed_is_not_said_to_lack_another_file(thumb: Any) -> None:
    visit = thumb("record/index.html")
    recorded(visit)
    with visit.page.expect_download():
        visit.page.get_by_role("button", name="Export", exact=True).click()
    visit.until(f"() => {CODES}.then((codes) => codes.length)")
    code = visit.page.evaluate(CODES)[0]
    visit.page.evaluate("""async () => {
      const store = journalRecords(new URL('../../', location.href));
      const [one] = await store.latest();
      await store.save({ ...one, text: 'more' });
    }""")
    visit.page.fill("[data-code]", code)
    visit.page.get_by_role("button", name="Check the code").click()
    visit.until(
        "() => document.querySelector('[data-outbox-status]').textContent.startsWith('1 record was changed on')"
    )


@pytest.mark.parametrize(
    ("about", "harvest", "says"),
    [
        (["B-031.3"], "90000 g", "90 kg harvested"),
        (["B-031", "B-031.3"], "412 g", "412 g harvested, from B-031.3"),
        (["B-031"], "1234.5 g", "1.23 kg harvested"),
        (["B-031"], "1005 g", "1.01 kg harvested"),
        (["B-031"], "2.2 lb", "2.2 lb harvested"),
    ],
)
def test_a_harvest_is_told_in_short(thumb: Any, about: list[str], harvest: str, says: str) -> None:
    visit = thumb("record/index.html")
    recorded(visit)
    visit.page.evaluate(
        """async ([about, harvest]) => {
          const store = journalRecords(new URL('../../', location.href));
          const [one] = await store.latest();
          await store.save({ ...one, about, values: { harvest } });
        }""",
        [about, harvest],
    )
    visit.until(
        "(says) => document.querySelector('[data-records] .words p').textContent === says", f"{about[0]} {says}"
    )


# -- the gallery -------------------------------------------------------------------------------------------------


def test_photos_shared_to_the_installed_app_become_a_draft_with_no_network(thumb: Any, picture: Path) -> None:
    visit = thumb("index.html", workers="allow")
    visit.until_saved()
    visit.page.reload()
    visit.until("() => Boolean(navigator.serviceWorker.controller)")
    visit.context.set_offline(True)
    visit.page.evaluate("""() => {
      const form = document.createElement('form');
      Object.assign(form, { action: 'record/shared', method: 'POST', enctype: 'multipart/form-data' });
      const input = document.createElement('input');
      Object.assign(input, { type: 'file', name: 'photos', multiple: true, id: 'shared' });
      form.append(input);
      document.body.append(form);
    }""")
    visit.page.set_input_files("#shared", [picture, picture])
    visit.page.evaluate("document.querySelector('#shared').form.submit()")
    said = "2 photos are stored here, shared from another app."
    visit.until("(said) => document.querySelector('[data-record-status]')?.textContent.includes(said)", said)
    visit.page.get_by_role("button", name="Find").click()
    form_is_open(visit)
    visit.until("() => document.querySelectorAll('form:not([hidden]) [data-taken] img').length === 2")
    assert not visit.page.locator("[data-position-use]").is_checked()
    save(visit)
    assert "photo-02.jpg" in texts(visit)[0]


# -- how it looks ------------------------------------------------------------------------------------------------


OBJECTIONS = """(options) => axe.run('main', { ...options, resultTypes: ['violations'] })
  .then(({ violations }) => violations)"""
ALL_RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa", "best-practice"],
    "rules": AXE["rules"],
}
RULES_OF_COLOUR = {"runOnly": {"type": "rule", "values": ["color-contrast-enhanced"]}}


@pytest.mark.parametrize(
    "address",
    [
        "",
        "?kind=find",
        "?about=B-031",
        "?about=PP-26A",
        "?about=wash-house",
        "?kind=note",
        "?kind=new culture",
        "?kind=new batch",
        "outbox",
    ],
)
def test_every_form_can_be_read_and_hit(thumb: Any, axe_script: str, address: str) -> None:
    path = "record/outbox/index.html" if address == "outbox" else f"record/index.html{address}"
    visit = thumb(path)
    visit.until("() => document.querySelector('[data-record-why], [data-outbox-why]').hidden")
    for width in (320, 360, 390):
        visit.page.set_viewport_size({"width": width, "height": 740})
        assert visit.page.evaluate("document.documentElement.scrollWidth") <= width
    small = visit.page.evaluate("""() => [...document.querySelectorAll(
        'main button, main a.button, main input, main textarea, main summary, .places a')]
      .filter((one) => one.checkVisibility() && !one.disabled)
      .map((one) => [one.textContent || one.name, one.getBoundingClientRect()])
      .filter(([, box]) => box.width && (box.height < 47.5 || box.width < 44))
      .map(([words, box]) => `${words.trim()}: ${box.width} x ${box.height}`)""")
    assert small == []
    visit.page.evaluate(axe_script)
    for theme, rules in (("light", ALL_RULES), ("dark", RULES_OF_COLOUR)):
        visit.page.emulate_media(color_scheme=theme)
        visit.until(f"() => document.documentElement.dataset.theme === '{theme}'")
        found = visit.page.evaluate(OBJECTIONS, rules)
        assert [f"{row['id']}: {row['nodes'][0]['html'][:90]}" for row in found] == [], theme
