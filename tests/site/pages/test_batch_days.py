"""When things come, as a batch's page and the lists tell it: what is expected, the days taken, and the order."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.model import Journal
from tests.builders import entry, noted
from tests.site.batch_site import FIND, PICKED, SPENT, WEIGHED, Make, flat, page_of, rows_of, site_with
from tests.site.test_pages import Rendered


@pytest.fixture(scope="module")
def site(make_journal: Callable[..., Journal]) -> Make:
    return site_with(make_journal)


# -- what comes next -----------------------------------------------------------------------------------------


def past(id: str, colonised: str, culture: str = "PP-1") -> dict[str, str]:
    """A finished batch of 1 January 2025."""
    return {
        f"{id}.md": entry("batch", f"id: {id}\ndate: 2025-01-01\nculture: {culture}"),
        f"{id}c.md": noted(colonised, "stage: colonised", id),
        f"{id}e.md": noted("2025-04-01", "stage: spent", id),
    }


SISTER = {"s.md": entry("culture", "id: PP-2\ndate: 2025-01-01\nfrom: F-1")}
PUBLISHED = "8 to 14 days after inoculation, published: P. Stamets"


def test_what_is_expected_is_shown_with_its_dates_and_what_they_rest_on(site: Make) -> None:
    ahead = page_of(site()).select_one(".ahead")
    assert ahead is not None
    assert "Expected: colonised from 9 January 2026, usually by 15 January 2026" in flat(ahead)
    assert PUBLISHED in flat(ahead)
    hook = ahead.select_one("[data-expect-from]")
    assert hook is not None
    assert ("2026-01-09", "2026-01-15") == (hook["data-expect-from"], hook["data-expect-to"])


def test_what_was_to_be_done_before_a_batch_ended_is_due_nowhere_and_still_stands_with_its_entry(site: Make) -> None:
    running, ended = (site(f"{WEIGHED}\nnext: 2026-01-20 turn it", *notes) for notes in ((), (SPENT,)))
    assert "Turn it" in flat(running[""].main)
    assert "Next: turn it" in flat(page_of(running).main)
    for path in ("", "due/", "batches/", "plan/"):
        assert "turn it" not in flat(ended[path].main).lower(), path
    assert "No longer due: turn it" in flat(page_of(ended).main)
    assert "Done: turn it" not in flat(page_of(ended).main)


def test_a_published_temperature_is_told_in_the_units_of_the_journal(site: Make) -> None:
    """24 to 29 °C. Source: NIST SP 811 (2008), B.8: t/°C = (t/°F − 32)/1.8."""
    pages = site(files={"journal.toml": '[journal]\nunits = "us"\n'})
    for page in (pages["due/"], page_of(pages)):
        assert ", at 75 to 84 °F" in flat(page.main).replace("\xa0", " ")
        assert "29 °C" not in flat(page.main).replace("\xa0", " ")


@pytest.mark.parametrize("path", ["", "batches/", "tents/hut/", "tents/"])
def test_every_list_says_what_comes_next_with_the_dates_where_no_script_runs(path: str, site: Make) -> None:
    hut = {"journal.toml": '[tents.hut]\nname = "Hut"\n'}
    hook = site(f"{WEIGHED}\ntent: hut", files=hut)[path].select_one(".row [data-expect-from]")
    assert hook is not None
    assert ("2026-01-09", "2026-01-15") == (hook["data-expect-from"], hook["data-expect-to"])
    words = "Expected: colonised from 9 Jan; usually by 15 January 2026 (by a published range)"
    assert words == flat(hook.parent)


@pytest.mark.parametrize(
    ("basis", "files"),
    [
        ("by 1 finished batch of its line", past("B-7", "2025-01-11")),
        ("by 1 finished batch of its species", SISTER | past("B-7", "2025-01-11", "PP-2")),
        ("by a published range", {}),
        ("by common practice", {"f.md": entry("find", FIND.replace("Pleurotus pulmonarius", "Pholiota adiposa"))}),
    ],
)
def test_every_list_says_in_few_words_what_that_rests_on(basis: str, files: dict[str, str], site: Make) -> None:
    rendered = site(files=files)
    for path in ("", "batches/"):
        assert f"({basis})" == flat(rendered[path].select_one(".row .ahead small"))


def test_where_nothing_is_expected_the_page_says_why(site: Make) -> None:
    stored = page_of(site(WEIGHED, noted("2026-01-10", "stage: stored"))).select_one(".ahead")
    assert "Nothing is expected of it while it is stored." == flat(stored)


def test_a_batch_that_is_over_awaits_nothing_and_says_no_word_of_it(site: Make) -> None:
    rendered = site(WEIGHED, *PICKED, SPENT)
    assert page_of(rendered).select_one(".ahead") is None
    assert rendered["batches/"].select_one(".ahead") is None


def test_what_is_due_of_a_batch_waits_for_the_first_day_of_its_window(site: Make) -> None:
    (row,) = site()["due/"].select("[data-row-due]")
    assert ("2026-01-09", "2026-01-15") == (row["data-row-from"], row["data-row-due"])
    assert "9 to 15 January 2026" == flat(row.select_one("[data-expect-from]"))
    assert "published" in flat(row)
    assert row.has_attr("data-row-soft")  # a published range makes nothing late


def test_what_falls_due_on_no_known_day_is_behind_what_does(site: Make) -> None:
    rows = site(files={"n.md": noted("2026-01-02", "next: shake it")})[""].select("[data-due-list] tr")
    assert ["2026-01-15", ""] == [row["data-row-due"] for row in rows]
    assert "no date" in flat(rows[1])


# -- its days ------------------------------------------------------------------------------------------------

RUN = (noted("2026-01-15", "stage: colonised"), noted("2026-01-24", "stage: pinning"), *PICKED)


def days_of(rendered: Rendered) -> list[list[str]]:
    return rows_of(page_of(rendered).select_one("[aria-labelledby=days] table"))


def test_its_days_are_shown_in_whole_days_and_the_day_it_is_in_by_the_phone(site: Make) -> None:
    rendered = site(WEIGHED, *RUN)
    assert [
        ["today", "from 1 January 2026"],
        ["inoculated to colonised", "14 days"],
        ["inoculated to first pins", "23 days"],
        ["first pins to first harvest", "8 days"],
        ["inoculated to first harvest", "31 days"],
        ["end of flush 1 to flush 2", "12 days"],
    ] == days_of(rendered)
    assert "No other batch of its line or species is finished" in rendered.words("batches/b-1/")


def test_a_batch_that_is_over_shows_the_day_it_ended_with_no_script(site: Make) -> None:
    rendered = site(WEIGHED, *RUN, SPENT)
    assert ["inoculation to end", "59 days"] == days_of(rendered)[0]
    assert "Ended on day 59, inoculated 1 January 2026." in flat(page_of(rendered).select_one(".lede"))
    assert page_of(rendered).select_one("[data-day0]") is None


@pytest.mark.parametrize(
    ("words", "iso", "day"),
    [
        ("15 January 2026", "2026-01-15", "2026-01-15 14:05"),
        ("January 2026", None, "2026-01"),
        ("about 15 January 2026", None, "about 2026-01-15"),
    ],
)
def test_a_stage_begins_as_far_as_its_day_is_known_and_only_a_known_day_is_counted_from(
    words: str, iso: str | None, day: str, site: Make
) -> None:
    rendered = site(WEIGHED, noted(day, "stage: colonised"))
    assert f"Colonised since {words}. From" in flat(page_of(rendered).select_one(".lede"))
    ago = [found["data-ago"] for found in rendered[""].select(".row small[data-ago]")]
    assert ([iso] if iso else []) == [found[:10] for found in ago]


def test_the_last_entry_is_shown_as_far_as_its_day_is_known(site: Make) -> None:
    known, about = (site(WEIGHED, noted(day, "done: turned"))[""] for day in ("2026-03-01", "about 2026-03-01"))
    assert "Last entry 1 March 2026," in flat(known.select_one(".nowhead"))
    assert "2026-03-01" == known.select_one(".nowhead [data-ago]")["data-ago"]  # type: ignore[index]
    assert "Last entry about 1 March 2026" == flat(about.select_one(".nowhead p"))
    assert about.select_one(".nowhead [data-ago]") is None


def test_others_of_its_line_are_beside_with_median_range_and_how_many(site: Make) -> None:
    files = past("B-7", "2025-01-11") | past("B-8", "2025-01-13") | past("B-9", "2025-01-21")
    rendered = site(WEIGHED, *RUN, files=files)
    assert ["inoculated to colonised", "14 days", "median 12, range 10 to 20 (n = 3)"] in days_of(rendered)
    assert "Others: the other finished batches of line PP-1." in rendered.words("batches/b-1/")


def test_the_days_tell_from_which_day_they_count_and_what_each_other_batch_took(site: Make) -> None:
    files = past("B-7", "2025-01-21") | past("B-8", "2025-01-13")
    disclosure = page_of(site(WEIGHED, *RUN, files=files)).select_one("[aria-labelledby=days] .calculated")
    assert disclosure is not None
    assert "How each span is calculated" == flat(disclosure.summary)
    assert "day 0 1 January 2026, the day of the batch" in " ".join(map(flat, disclosure.select("dt, dd")))
    assert "inoculated to colonised, others B-8 12 d, B-7 20 d" in " ".join(map(flat, disclosure.select("dt, dd")))
    assert "common practice" in flat(disclosure.select_one(".soft"))
    said = page_of(site(WEIGHED, noted("2026-01-03", "stage: inoculated")))
    assert "3 January 2026, the first note with the stage inoculated" in flat(said.select_one("[aria-labelledby=days]"))


def test_with_no_known_day_nothing_is_said_of_how_days_are_counted(site: Make) -> None:
    page = page_of(site("id: B-1\ndate: 2026-01\nculture: PP-1"))
    assert page.select_one("[aria-labelledby=days] .calculated") is None


def test_others_of_its_line_and_of_its_species_are_each_called_so(site: Make) -> None:
    pinned = noted("2025-02-01", "stage: pinning", "B-8")
    others = past("B-7", "2025-01-11") | past("B-8", "2025-01-13", "PP-2")
    rows = days_of(site(files={**SISTER, "p.md": pinned, **others}))
    assert ["inoculated to colonised", "not yet", "10 (n = 1, line PP-1)"] in rows
    assert ["inoculated to first pins", "not yet", "31 (n = 1, Pleurotus pulmonarius in this journal)"] in rows


def test_what_has_not_come_yet_is_shown_by_what_it_took_the_other(site: Make) -> None:
    row = days_of(site(files=past("B-7", "2025-01-11")))[1]
    assert ["inoculated to colonised", "not yet", "10 (n = 1)"] == row


# -- the list ------------------------------------------------------------------------------------------------


def test_batches_stand_by_tent_then_stage_then_age_and_finished_ones_last(site: Make) -> None:
    def batch(id: str, day: str, tent: str) -> str:
        return entry("batch", f"id: {id}\ndate: {day}\nculture: PP-1\ntent: {tent}")

    files = {
        "journal.toml": '[tents.loft]\nname = "Loft"\n[tents.hut]\nname = "Hut"\n',
        "b2.md": batch("B-2", "2026-01-02", "hut"),
        "b3.md": batch("B-3", "2026-01-03", "hut"),
        "b4.md": batch("B-4", "2026-01-04", "hut"),
        "b5.md": batch("B-5", "2025-01-05", "loft"),
        "n3.md": noted("2026-02-01", "stage: pinning", "B-3"),
        "n5.md": noted("2025-05-01", "stage: spent", "B-5"),
        "b6.md": batch("B-6", "2026-01-06", "loft"),
    }
    page = site(files=files)["batches/"]
    groups = {flat(part.h2): [flat(tag) for tag in part.select(".id")] for part in page.select("main section")}
    assert {"Loft": ["B-6"], "Hut": ["B-3", "B-2", "B-4"], "Place not recorded": ["B-1"], "Finished": ["B-5"]} == groups
    assert ["Loft", "Hut", "Place not recorded", "Finished"] == list(groups)
