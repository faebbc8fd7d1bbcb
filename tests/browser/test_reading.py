"""What scripts add to a page that is read, from a folder as from a host: days, sorting, search, the light."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from journal.site.search import SearchRow, search_parts

pytestmark = pytest.mark.browser

TABLE = """<table data-sortable><thead><tr><th>Name</th><th>Dry</th><th data-unsortable>Note</th></tr></thead><tbody>
<tr><td>b-10</td><td data-sort="874">874 g</td><td>x</td></tr>
<tr><td>b-9</td><td data-sort=""></td><td>y</td></tr>
<tr><td>B-031</td><td data-sort="1050">1.05 kg</td><td>z</td></tr></tbody></table>"""


@pytest.fixture
def folder(tab: Any, toy: Any) -> Callable[[str], Any]:
    """Opens a page of the toy site by double click, with this in its body."""

    def opened(body: str, root: str = "") -> Any:
        toy.bodies["diary/2026-11/index.html"] = body
        tree: Path = toy.build("one")
        visit = tab.afresh((tree / "diary/2026-11/index.html").as_uri())
        if root:
            visit.page.evaluate("(day) => (document.documentElement.dataset.asOf = day)", root)
            visit.page.evaluate("dispatchEvent(new PageTransitionEvent('pageshow', { persisted: true }))")
        return visit

    return opened


def on(folder: Callable[..., Any], day: str, body: str) -> Any:
    return folder(body, day)


def first_cells(visit: Any) -> list[str]:
    return list(
        visit.page.evaluate("[...document.querySelectorAll('tbody tr')].map((row) => row.cells[0].textContent)")
    )


# -- days ----------------------------------------------------------------------------------------------------
# Day counts: the difference of calendar dates, worked out by hand (October has 31 days, November 30; 2028 is a leap
# year). How far a span is told in days before it is told in months is this journal's own choice.


WORDS = {
    'data-day0="2026-10-06"': "day 50",
    'data-day0="2026-11-25"': "day 0",
    'data-day0="2026-11-28"': "starts in 3 days",
    'data-day0="2026-10-06" data-day-last="2026-11-13"': "day 38",
    'data-due="2026-11-28"': "in 3 days",
    'data-due="2026-11-26"': "tomorrow",
    'data-due="2026-11-25"': "today",
    'data-due="2026-11-24"': "1 day late",
    'data-due="2026-10-26"': "30 days late",
    'data-ago="2026-11-25"': "today",
    'data-ago="2026-11-24"': "yesterday",
    'data-ago="2026-11-22T14:05:00+00:00"': "3 days ago",
    'data-ago="2025-11-22"': "12 months ago",
    'data-age="2026-09-12"': "2 months",
    'data-age="2026-11-01"': "24 days",
    'data-age="2023-11-25"': "3 years",
    'data-expect-from="2026-11-28" data-expect-to="2026-12-04"': "in 3 to 9 days",
    'data-expect-from="2026-11-20" data-expect-to="2026-11-29"': "look now, usually within the next 4 days",
    'data-expect-from="2026-11-20" data-expect-to="2026-11-26"': "look now, usually by tomorrow",
    'data-expect-from="2026-11-10" data-expect-to="2026-11-20" data-expect-firm': "5 days later than usual",
    'data-expect-from="2026-11-10" data-expect-to="2026-11-20"': "look now, past the usual time",
    'data-expect-from="2026-11-10"': "look now",
    'data-expect-from="2026-11-27"': "in 2 days",
    'data-due="2026-11"': "as written",
}


def test_a_date_is_shown_in_words(folder: Callable[..., Any]) -> None:
    visit = on(folder, "2026-11-25", "".join(f"<p><span class=words {hook}>as written</span></p>" for hook in WORDS))
    assert WORDS == dict(zip(WORDS, visit.page.locator(".words").all_inner_texts(), strict=True))


def test_what_is_late_is_marked(folder: Callable[..., Any]) -> None:
    visit = on(folder, "2026-11-25", '<i data-due="2026-11-24">x</i><i data-due="2026-11-25">x</i>')
    assert ["late", "due-today"] == visit.page.evaluate("[...document.querySelectorAll('i')].map((i) => i.className)")


def test_a_leap_day_counts(folder: Callable[..., Any]) -> None:
    visit = on(folder, "2028-03-01", '<span id=words data-day0="2028-02-28"></span>')
    assert "day 2" == visit.page.inner_text("#words")


def test_due_rows_come_earliest_first_and_far_ones_are_hidden(folder: Callable[..., Any]) -> None:
    rows = "".join(f'<li data-row-due="{day}">{day}</li>' for day in ("2026-12-30", "", "2026-11-27", "2026-11-20"))
    visit = on(
        folder,
        "2026-11-25",
        f"<section data-due-list data-due-within=14><b data-row-count></b><ul>{rows}</ul>"
        "<p data-when-none>none</p></section>",
    )
    assert ["2026-11-20", "2026-11-27", ""] == visit.page.evaluate(
        "[...document.querySelectorAll('li:not([hidden])')].map((row) => row.textContent)"
    )
    assert "3" == visit.page.inner_text("[data-row-count]")
    assert not visit.page.is_visible("[data-when-none]")


def test_a_row_with_a_window_is_hidden_until_the_window_opens(folder: Callable[..., Any]) -> None:
    spans = (("2026-11-26", "2026-11-30"), ("2026-11-25", "2026-11-29"), ("2026-11-10", "2026-11-20"))
    rows = "".join(f'<li data-row-from="{first}" data-row-due="{last}">{first}</li>' for first, last in spans)
    visit = on(folder, "2026-11-25", f"<section data-due-list><ul>{rows}</ul></section>")
    assert [("2026-11-10", "late"), ("2026-11-25", "")] == [
        tuple(row)
        for row in visit.page.evaluate(
            "[...document.querySelectorAll('li:not([hidden])')].map((row) => [row.textContent, row.className])"
        )
    ]


def test_recent_rows_are_those_of_the_last_days(folder: Callable[..., Any]) -> None:
    days = ("2026-11-19", "2026-11-18", "2026-11-25", "2026-11-26")
    rows = "".join(f'<li data-row-date="{day}">{day}</li>' for day in days)
    visit = on(folder, "2026-11-25", f"<section data-recent=7><ul>{rows}</ul><p data-when-none>none</p></section>")
    shown = "[...document.querySelectorAll('li:not([hidden])')].map((row) => row.textContent)"
    assert ["2026-11-19", "2026-11-25"] == visit.page.evaluate(shown)
    visit.page.evaluate("document.documentElement.dataset.asOf = '2026-12-25'")
    visit.page.evaluate("dispatchEvent(new PageTransitionEvent('pageshow', { persisted: true }))")
    assert [] == visit.page.evaluate(shown)
    assert visit.page.is_visible("[data-when-none]")


def test_today_is_the_calendar_day_of_the_place_it_is_read_in(browser: Any, toy: Any) -> None:
    toy.bodies["diary/2026-11/index.html"] = '<span id=words data-day0="2026-11-20"></span>'
    address = (toy.build("one") / "diary/2026-11/index.html").as_uri()
    found = {}
    for zone in ("Pacific/Kiritimati", "Pacific/Pago_Pago"):  # UTC+14 and UTC-11
        context = browser.new_context(timezone_id=zone)
        page = context.new_page()
        page.clock.set_fixed_time("2026-11-25T10:30:00Z")
        page.goto(address)
        found[zone] = page.inner_text("#words")
        context.close()
    assert {"Pacific/Kiritimati": "day 6", "Pacific/Pago_Pago": "day 4"} == found


def test_the_light_is_told_by_the_clock_past_midnight_too(folder: Callable[..., Any]) -> None:
    visit = folder("")
    asked = [("06:30", "18:30", "12:00"), ("06:30", "18:30", "18:30"), ("18:30", "06:30", "02:00")]
    script = "(rows) => rows.map(([from, to, clock]) => journalDays.isLit(from, to, clock))"
    assert [True, False, True] == visit.page.evaluate(script, asked)


# -- sorting -------------------------------------------------------------------------------------------------


def test_a_table_is_sorted_by_the_heading_pressed(folder: Callable[..., Any]) -> None:
    visit = folder(TABLE)
    visit.page.click("th:nth-child(2) button")
    assert ["b-10", "B-031", "b-9"] == first_cells(visit)  # 874 before 1050; the unknown stays last
    assert visit.page.get_attribute("th:nth-child(2)", "aria-sort") == "ascending"
    visit.page.click("th:nth-child(2) button")
    assert ["B-031", "b-10", "b-9"] == first_cells(visit)
    assert visit.page.get_attribute("th:nth-child(2)", "aria-sort") == "descending"


def test_words_are_sorted_with_their_numbers_and_by_keyboard(folder: Callable[..., Any]) -> None:
    visit = folder(TABLE)
    visit.page.focus("th:nth-child(1) button")
    visit.page.keyboard.press("Enter")
    assert ["b-9", "b-10", "B-031"] == first_cells(visit)
    assert 0 == visit.page.evaluate("document.querySelectorAll('th:nth-child(3) button').length")


# -- search --------------------------------------------------------------------------------------------------


def found(visit: Any, text: str) -> list[str]:
    """Titles found for what is typed."""
    visit.page.fill("[data-search]", "")
    visit.page.focus("[data-search]")
    visit.until("() => globalThis.journalSearch?.find('third').length > 0")
    return list(visit.page.evaluate("(text) => journalSearch.find(text).map((row) => row.title)", text))


FINDS = {
    "B-031": ["Third pins"],
    "b031": ["Third pins"],
    "b 31": ["Third pins"],
    "b-031 alder": ["Third pins"],
    "B-031.2": ["Third pins"],
    "f26": ["Velvet foot"],
    "pleur ald": ["Third pins"],
    "ald heron": [],
    "SUSSGRÄSER": ["Velvet foot"],
    "süss": ["Velvet foot"],
    "velvet": ["Velvet foot"],
    "  ": [],
    "-": [],
    "alder <q>": [],
    "oyster": ["Third pins"],
    "oyst pins": ["Third pins"],
    "oysters": ["Third pins"],
    "lion's mane": [],
    "kings oysters": ["Third pins"],
    "judas": ["Third pins"],
    "batch": ["Third pins"],
    "enoki": ["Velvet foot"],
    "new entry": ["Record"],
    "add": ["Record"],
}


def test_what_is_typed_finds(folder: Callable[..., Any], toy: Any) -> None:
    toy.rows += [SearchRow("Record", "record/index.html", "page", words="new entry add velvet")]
    toy.names = {
        "Pleurotus": ("oyster", "king's judas'"), "Pleurotus eryngii": ("lion's mane",), "velvet foot": ("enoki",),
    }  # fmt: skip
    visit = folder("")
    assert {**FINDS, "velvet": ["Velvet foot", "Record"]} == {typed: found(visit, typed) for typed in FINDS}


@pytest.mark.parametrize("is_share", [False, True])
def test_where_nothing_is_found_it_says_what_to_try_and_leads_to_a_new_entry(
    folder: Callable[..., Any], is_share: bool
) -> None:
    visit = folder("" if is_share else '<a class="to-record" href="../../batches/b-031/index.html">Record</a>')
    visit.page.focus("[data-search]")
    visit.until("() => globalThis.journalSearch?.find('third').length > 0")
    visit.page.fill("[data-search]", "xyzzy")
    said = visit.page.inner_text(".search-says")
    assert said.startswith("Nothing found. Try fewer letters, a common or a Latin name")
    assert ("Record a new entry" in said) is not is_share
    if not is_share:
        visit.page.click(".search-says a")
        visit.until("() => location.pathname.endsWith('/batches/b-031/index.html')")


def test_an_id_comes_before_words_and_the_newest_first(folder: Callable[..., Any], toy: Any) -> None:
    toy.rows += [
        SearchRow("B-031 seen again", "x", "note", "", "2026-11-24"),
        SearchRow("A later note", "batches/b-031/index.html#2026-11-25", "note", "B-031", "2026-11-25"),
        SearchRow("Older", "x", "note", "", "2026-01-01", "pins"),
        SearchRow("Newer", "x", "note", "", "2026-11-24", "pins"),
    ]
    visit = folder("")
    assert ["Third pins", "A later note", "B-031 seen again"] == found(visit, "b-031")
    assert ["Third pins", "Newer", "Older"] == found(visit, "pins")


DATES = """(text) => {
  const field = document.querySelector("[data-search]");
  field.value = text;
  field.dispatchEvent(new Event("input"));
  return [...document.querySelectorAll(".search-date")].map((date) => [date.textContent, date.dateTime]);
}"""


def test_a_hit_has_its_date_in_words_which_find_it_again(folder: Callable[..., Any], toy: Any) -> None:
    words = {
        "2026-11-20T00:30:00+05:00": "20 November 2026", "2026-03-01": "1 March 2026", "2026-09": "September 2026",
        "2025": "2025",
    }  # fmt: skip
    toy.rows = [SearchRow(f"Third {said}", "x", "note", "", iso, said) for iso, said in words.items()]
    visit = folder("")
    assert 4 == len(found(visit, "third"))
    assert {(said, iso[:10]) for iso, said in words.items()} == {
        tuple(row) for row in visit.page.evaluate(DATES, "third")
    }
    for iso, said in words.items():
        assert [f"Third {said}"] == [title for title in found(visit, said) if title.endswith(f" {said}")], iso
        assert f"Third {said}" in found(visit, iso[:10])


def test_an_iso_date_finds_that_day_alone(folder: Callable[..., Any], toy: Any) -> None:
    toy.rows = [
        SearchRow("Third", "x", "note", "", "2026-01-01"),
        SearchRow("That day", "x", "note", "", "2026-11-20T08:00:00+00:00", "pins"),
        SearchRow("Another", "x", "note", "", "2026-12-20", "11 kg of 20 november 2026"),
        SearchRow("A year before", "x", "note", "", "2025-11-20", "in 2026"),
    ]
    visit = folder("")
    assert ["That day"] == found(visit, "2026-11-20")
    assert ["That day"] == found(visit, "2026-11-20 pins")
    assert ["Another"] == found(visit, "2026-12")


# Each is a word of the rows with one letter more, less, another, or two turned round.
TYPOS = {
    "plerotus": ["Third"], "pleurotsu": ["Third"], "pleurotuss": ["Third"], "pleuritus": ["Third"],
    "pleurptu": ["Third"], "aldr": ["Third"], "oka": ["Fourth"], "oac": ["Fourth"], "aldexx": [],
    "ok": [], "pleurotus oac": [],
}  # fmt: skip


def test_one_wrong_letter_still_finds(folder: Callable[..., Any], toy: Any) -> None:
    toy.rows = [
        SearchRow("Third", "x", "note", "", "2026-11-20", "Pleurotus alder"),
        SearchRow("Fourth", "x", "note", "", "2026-11-21", "oak"),
    ]
    visit = folder("")
    assert TYPOS == {typed: found(visit, typed) for typed in TYPOS}


def test_nothing_is_said_to_be_missing_before_all_of_the_index_is_read(folder: Callable[..., Any], toy: Any) -> None:
    visit = folder("")
    typed = """async (field) => {
        await journalScript("static/js/search.js");
        field.focus();
        field.value = "xyzzy";
        field.dispatchEvent(new Event("input"));
        return document.querySelector(".search-says").textContent;
    }"""
    assert "Reading the index …" == visit.page.eval_on_selector("[data-search]", typed)
    visit.until("() => document.querySelector('.search-says').textContent.startsWith('Nothing found. Try')")
    next(toy.folder.rglob("search/2025.js")).unlink()
    visit.page.reload()
    visit.page.focus("[data-search]")
    visit.page.fill("[data-search]", "xyzzy")
    visit.until("() => document.querySelector('.search-says')?.textContent.includes('saved on this device')")


def test_the_search_is_fetched_at_the_first_touch_of_its_field_and_again_if_it_was_not_there(
    folder: Callable[..., Any], toy: Any
) -> None:
    visit = folder("")
    says = "() => document.querySelector('.lacking')?.textContent ?? ''"
    assert visit.page.evaluate("!('journalSearch' in globalThis)")
    script = next(toy.folder.rglob("static/js/search.js"))
    text = script.read_bytes()
    script.unlink()
    visit.page.focus("[data-search]")
    visit.until(f"() => ({says})().startsWith('What this needs is not on this device yet.')")
    script.write_bytes(text)
    visit.page.evaluate("document.activeElement.blur()")
    assert ["Third pins"] == found(visit, "b-031 alder")
    assert "" == visit.page.evaluate(says)


def test_the_hits_are_reached_by_keyboard(folder: Callable[..., Any]) -> None:
    visit = folder("")
    field = "[data-search]"
    visit.page.fill(field, "t")
    visit.until("() => document.querySelectorAll('.search-hit').length === 1")
    assert visit.page.get_attribute(field, "aria-expanded") == "true"
    visit.page.keyboard.press("ArrowDown")
    assert visit.page.get_attribute(field, "aria-activedescendant") == "search-hit-0"
    assert visit.page.get_attribute("#search-hit-0", "aria-selected") == "true"
    visit.page.keyboard.press("Escape")
    assert visit.page.get_attribute(field, "aria-expanded") == "false"
    visit.page.fill(field, "b-031")
    visit.page.keyboard.press("Enter")
    visit.until("() => location.pathname.endsWith('/batches/b-031/index.html')")


def test_no_index_is_read_before_the_field_is_touched(folder: Callable[..., Any]) -> None:
    visit = folder("")
    assert [] == [url for url in visit.requests if "/search/" in url]
    visit.page.focus("[data-search]")
    visit.until("() => globalThis.journalSearch?.find('third').length > 0")
    assert {"parts.js", "2025.js", "2026.js"} == {url.split("/")[-1] for url in visit.requests if "/search/" in url}


def test_page_and_build_fold_letters_alike(folder: Callable[..., Any], toy: Any) -> None:
    words = ["Süßgräser", "Smørbukk", "Šípek", "œuf", "Łąka", "ÅNGSTRÖM", "ﬁr", "２６", "Νίκη", "Đorđe", "ıslak"]
    toy.rows = [SearchRow("Third", "x", "note", words=word) for word in words]
    visit = folder("")
    visit.page.focus("[data-search]")
    visit.until("() => globalThis.journalSearch?.find('third').length > 0")
    script = "(words) => words.filter((word) => journalSearch.find(word).length === 0)"
    assert [] == visit.page.evaluate(script, words)
    assert search_parts(toy.rows)["search/parts.js"] == 'journalSearch.parts(["undated"]);\n'


# -- the light -----------------------------------------------------------------------------------------------

BUTTONS = "".join(f'<button type="button" data-theme-to="{t}">{t}</button>' for t in ("light", "dark", "automatic"))
THEME = "document.documentElement.dataset.theme"


@pytest.fixture
def themed(visit: Any, toy: Any) -> Any:
    """A page with the buttons, in a browser of its own, since the theme chosen is kept in its storage."""
    toy.bodies["diary/2026-11/index.html"] = BUTTONS
    visit.page.goto((toy.build("one") / "diary/2026-11/index.html").as_uri())
    return visit


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_theme_follows_the_device_until_one_is_chosen(themed: Any, theme: str) -> None:
    visit = themed
    visit.page.emulate_media(color_scheme=theme)
    visit.until(f"() => {THEME} === '{theme}'")
    visit.page.click('[data-theme-to="dark"]')
    visit.page.reload()
    assert visit.page.evaluate(THEME) == "dark"
    assert visit.page.get_attribute('[data-theme-to="dark"]', "aria-pressed") == "true"
    visit.page.click('[data-theme-to="automatic"]')
    assert visit.page.evaluate(THEME) == theme


@pytest.mark.parametrize(("stored", "theme"), [("lamp", "dark"), ("daylight", "light"), ("device", "light")])
def test_a_theme_chosen_in_an_earlier_version_stays(themed: Any, stored: str, theme: str) -> None:
    visit = themed
    visit.page.emulate_media(color_scheme="light" if theme == "dark" else theme)
    visit.page.evaluate("(stored) => localStorage.setItem('journal theme', stored)", stored)
    visit.page.reload()
    assert visit.page.evaluate(THEME) == theme


# -- from a folder -------------------------------------------------------------------------------------------


def test_a_folder_is_read_without_a_complaint(folder: Callable[..., Any]) -> None:
    visit = folder('<a href="../../batches/b-031/index.html">B-031</a>')
    visit.page.click("a")
    visit.until("() => location.pathname.endsWith('/batches/b-031/index.html')")
    visit.until("() => [...document.images].every((image) => image.naturalWidth > 0)")
    assert visit.page.evaluate("getComputedStyle(document.querySelector('h1')).color") == "rgb(1, 1, 1)"
    assert found(visit, "alder") == ["Third pins"]
    assert [] == visit.complaints
    assert 0 == visit.page.evaluate("document.querySelectorAll('link[rel=manifest]').length")
