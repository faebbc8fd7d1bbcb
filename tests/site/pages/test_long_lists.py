"""Long lists: what is current is open, the rest folded by year; every row stands once, and no page grows long."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest

from journal.model import Entry, Journal
from journal.site.app import create_app
from journal.site.pages import plan_site
from journal.site.pages.long_lists import FILTERED_FROM, OPEN_ROWS
from journal.site.pages.now import MOST_DUE, MOST_GROWING
from journal.site.parts import PART_ROWS, in_parts, part_in_words
from tests.builders import batch, culture, find, journal_of, note, some
from tests.site.test_pages import TEMPLATES, Rendered

DAY = date(2024, 1, 1)


def days(count: int, first: str, step: int = 1) -> list[tuple[date, int]]:
    return [(date.fromisoformat(first) + timedelta(days=at * step), at) for at in range(count)]


# By hand: 2024 has 366 days, its first quarter 91, January 31.
PARTS = [
    (days(PART_ROWS, "2024-01-01"), ["2024"]),
    (days(PART_ROWS + 1, "2024-01-01", 3), ["2024-q1", "2024-q2"]),
    (days(91, "2024-01-01"), ["2024-01", "2024-02", "2024-03"]),
    ([(DAY, at) for at in range(2 * PART_ROWS + 1)], ["2024-01-1", "2024-01-2", "2024-01-3"]),
    (days(2, "2024-12-31"), ["2024", "2025"]),
    ([], []),
]


@pytest.mark.parametrize(("rows", "keys"), PARTS)
def test_a_part_is_a_year_and_less_where_that_is_long(rows: list[tuple[date, int]], keys: list[str]) -> None:
    parts = in_parts(rows)
    assert keys == sorted(parts)
    assert sorted(at for _, at in rows) == sorted(at for part in parts.values() for at in part)
    assert all(part == sorted(part) and len(part) <= PART_ROWS for part in parts.values())


def test_what_is_added_later_leaves_the_full_parts_of_a_month_as_they_are() -> None:
    newest_first = [(DAY, at) for at in range(150, 0, -1)]
    before, after = in_parts(newest_first[1:]), in_parts(newest_first)
    assert before["2024-01-1"] == after["2024-01-1"] == list(range(60, 0, -1))
    assert [150, 149] == after["2024-01-3"][:2]


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("2025", "2025"),
        ("2025-q3", "July to September 2025"),
        ("2025-07", "July 2025"),
        ("2025-07-2", "July 2025, part 2"),
    ],
)
def test_a_part_is_shown_in_words(key: str, words: str) -> None:
    assert words == part_in_words(key)


def long_journal(count: int = 150) -> Journal:
    """So many finds, cultures and batches of 2024 to 2026, every other batch over, with a note a batch and what is due
    of those that grow."""
    rows: list[Entry] = []
    for at in range(count):
        day = DAY + timedelta(days=at * 1000 // count)
        rows.append(find(f"F-{at}", day, species=f"Pleurotus {'abc'[at % 3]}us", place=f"Wood {at}"))
        rows.append(culture(f"C-{at}", f"F-{at}", day, species="Pleurotus ostreatus", form="slant", method="tissue"))
        rows.append(batch(f"B-{at}", f"C-{at}", day, species="Pleurotus ostreatus"))
        stage = "spent" if at % 2 else "colonised"
        rows.append(note(f"B-{at}", day + timedelta(days=3), stage=stage))
    return journal_of(*rows)


@pytest.fixture(scope="module")
def long() -> Rendered:
    return Rendered(plan_site(long_journal(), {}))


@pytest.mark.parametrize(
    ("kind", "folders", "ids"),
    [
        ("finds", ("finds",), {f"F-{at}" for at in range(150)}),
        ("cultures", ("cultures",), {f"C-{at}" for at in range(150)}),
        ("batches", ("batches", "growing"), {f"B-{at}" for at in range(150)}),
    ],
)
def test_every_row_stands_open_or_in_one_part_whose_script_brings_the_same(
    long: Rendered, kind: str, folders: tuple[str, ...], ids: set[str]
) -> None:
    rows = ":is(li.row, tbody th) .id"
    page = long[f"{kind}/"]
    told = [tag.text for tag in some(page.select(f"[data-list] {rows}"))]
    assert len(told) <= OPEN_ROWS
    for link in some(page.select("p.fold a"), 2):
        fold = link.find_parent(class_="fold")
        part = long[link["href"].removeprefix("../").removesuffix("index.html")]
        here = [tag.text for tag in part.select(rows)]
        assert link.small.text.startswith(f"{len(here)} ")
        assert fold["data-rows"].split("/")[1] in folders
        script = long.client.get("/" + fold["data-rows"])
        assert "text/javascript" == script.mimetype
        assert script.text.startswith(f'journalRows("{fold["data-rows"]}",')
        assert here == [one for one in ids_in(script.text) if one in here]
        assert {"../../../"} == {re.match(r"[./]*", tag["href"])[0] for tag in part.select(rows)}
        assert {"../"} == set(re.findall(r'class=\\"id\\" href=\\"([./]*)', script.text))  # of the list's own page
        told += here
    assert sorted(ids) == sorted(told)


def ids_in(script: str) -> list[str]:
    """The tags in a part's script, in order."""
    return [
        piece.partition("</a>")[0]
        for piece in script.split('class=\\"id\\"')[1:]
        for piece in [piece.partition(">")[2]]
    ]


def test_no_list_and_no_part_is_a_long_page(long: Rendered) -> None:
    pages = [page for page in long.site.pages if page.path.endswith(".html") and page.section != "x"]
    lists = [page for page in pages if page.endpoint in ("now", "finds", "cultures", "batches", "due", "diary", "part")]
    for page in some(lists, 12):
        soup = long[page.path.removesuffix("index.html")]
        assert 100_000 > len(str(soup)), page.path
        assert 2500 > len(soup.find_all(True)), page.path


def test_what_grows_is_open_where_something_was_noted_of_it_last(long: Rendered) -> None:
    page = long["batches/"]
    open_ids = {tag.text for tag in page.select("[data-list] .id")}
    growing = [f"B-{at}" for at in range(0, 150, 2)]
    assert set(growing[-16:]) == open_ids
    assert "Growing, with nothing new lately" in page.select_one("#older").text
    again = replace(long_journal(), notes=(*long_journal().notes, note("B-0", "2027-01-01")))
    woken = Rendered(plan_site(again, {}))["batches/"]
    assert {"B-0"} == {tag.text for tag in woken.select("[data-list] .id")} - open_ids


def test_now_shows_what_comes_first_and_leads_to_all_of_it(long: Rendered) -> None:
    page = long[""]
    assert (MOST_GROWING, MOST_DUE) == (len(page.select("#growing ~ ul > li")), len(page.select("[data-row-due]")))
    links = {link["href"]: link.text for link in page.select("a.button")}
    assert "All 75 growing batches" == links["./batches/index.html"]
    due = long["due/"]
    folded = sum(int(small.text.split()[0]) for small in some(due.select(".fold small")))
    assert f"All {folded} due or expected" == links["./due/index.html"]


def test_what_fell_due_lately_comes_before_what_fell_due_long_ago(long: Rendered) -> None:
    told = [row["data-row-due"] for row in some(long["due/"].select("#current [data-row-due]"), 3)]
    assert told[0] >= "2026-07-03"  # 60 days before the month of the last entry, September 2026
    assert told == sorted(told)


def test_a_list_says_what_it_can_be_filtered_by(long: Rendered) -> None:
    fields = {label.find(True)["name"]: label.find(True) for label in long["finds/"].select("[data-filters] label")}
    assert ["place", "species"] == sorted(fields)
    assert ["Pleurotus aus", "Pleurotus bus", "Pleurotus cus"] == [
        one["value"] for one in long["finds/"].select("#choices-species option")
    ]
    row = long["finds/"].select_one("li.row")
    assert ("Pleurotus cus", "Wood 149") == (row["data-species"], row["data-place"])
    stages = [option.text for option in long["batches/"].select("select[name=stage] option")]
    assert {"all", "colonised", "spent"} <= set(stages)


def test_a_row_is_found_by_its_own_name_and_by_the_species_that_this_means() -> None:
    rows: list[Entry] = []
    for at in range(FILTERED_FROM):
        name = "Shelf oyster" if at == 1 else "Pleurotus pulmonarius" if at % 2 else "Grifola frondosa"
        rows += [find(f"F-{at}", DAY, species=name), culture(f"C-{at}", f"F-{at}", DAY, species=name)]
        rows += [batch(f"B-{at}", f"C-{at}", DAY, species=name)]
    journal = journal_of(*rows)
    names = (("shelf oyster", "Pleurotus pulmonarius"),)
    site = Rendered(plan_site(replace(journal, settings=replace(journal.settings, names=names)), {}))
    for path in ("finds/", "cultures/", "batches/"):
        page = site[path]
        choices = [one["value"] for one in page.select("#choices-species option")]
        assert ["Grifola frondosa", "Pleurotus pulmonarius", "Shelf oyster"] == choices
        own = [row["data-species"] for row in page.select("[data-species]") if "Shelf oyster" in row.text]
        assert ["Pleurotus pulmonarius, Shelf oyster"] == own
    sorted_by = [row["data-species"].partition(",")[0] for row in site["cultures/"].select("tbody [data-species]")]
    assert sorted_by == sorted(sorted_by)
    letters = [tag["id"] for tag in site["cultures/"].select("[id^=letter-]")]
    assert ["letter-G", "letter-P"] == letters


def test_a_short_list_is_whole_and_has_no_filter() -> None:
    short = Rendered(plan_site(long_journal(FILTERED_FROM - 2), {}))
    for kind in ("finds", "cultures", "batches"):
        page = short[f"{kind}/"]
        assert [] == page.select(".fold, [data-filters], .jumps")
        assert FILTERED_FROM - 2 == len({tag.text for tag in page.select(":is(li.row, tbody th) .id")})
    assert not any(page.endpoint in ("part", "rows") for page in short.site.pages)


def test_a_month_of_many_entries_is_in_stretches_of_days() -> None:
    notes = [note("", date(2026, 8, 1 + at // 5), path=f"n-{at:03}.md", text=f"word{at}") for at in range(100)]
    site = Rendered(plan_site(journal_of(*notes), {}))
    rows = site["diary/2026-08/"].select("li.row")
    assert [20, 40, 40] == [int(row.select_one(".soft").text.split()[0]) for row in rows]
    hrefs = [row.a["href"].split("/")[-2] for row in rows]
    assert ["2026-08-17", "2026-08-09", "2026-08-01"] == hrefs
    assert 40 == len(site["diary/2026-08-09/"].select("article.entry"))
    found = " ".join(text for path, text in site.site.texts if path.startswith("search/"))
    assert "diary/2026-08-17/index.html#2026-08-20-5" in found
    assert site["diary/2026-08-17/"].find(id="2026-08-20-5")


def test_a_folded_year_of_the_diary_counts_its_entries_and_its_page_its_months() -> None:
    days_of = [*(f"2025-{month:02}-{day:02}" for month in range(1, 13) for day in (3, 9)), "2026-01-05"]
    site = Rendered(plan_site(journal_of(*(note("", day, path=f"n-{day}.md") for day in days_of)), {}))
    assert "24 entries" == site["diary/"].select_one("#year-2025 small").text
    page = site["lists/diary/2025/"]
    assert ("12 months.", 12) == (page.select_one("h1 ~ p.soft").text, len(page.select("li.row")))


def test_an_app_of_a_short_journal_answers_for_no_part() -> None:
    app = create_app(plan_site(journal_of(find("F-1")), {}).pages, TEMPLATES)
    assert 404 == app.test_client().get("/lists/finds/2026.js").status_code


def test_lists_of_a_share_are_folded_likewise_and_lead_to_nothing_of_the_author() -> None:
    share = Rendered(plan_site(long_journal(), {}, share="mentor"))
    own = {page.path for page in plan_site(long_journal(), {}).pages if page.endpoint in ("part", "rows")}
    of_plan = {path for path in own if path.startswith("lists/left-out/")}  # of a page that no share has
    assert of_plan
    assert own - of_plan == {page.path for page in share.site.pages if page.endpoint in ("part", "rows")}
    for path in some(sorted(own), 10):
        text = share.client.get("/" + path.removesuffix("index.html")).text
        assert "record/" not in text
        assert "data-tick" not in text
