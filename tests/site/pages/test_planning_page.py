"""Plan: what a batch comes to by species, and what is coming, in numbers; and none of it in a share."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from journal.site.pages import plan_site
from tests.site.test_pages import Rendered

PATH = "plan/"
FILES = {
    "c.md": "---\nkind: culture\nid: C\ndate: 2026-10-01\nreceived from: x\nspecies: Pleurotus pulmonarius\n---\n",
    "b.md": "---\nkind: batch\nid: B-1\ndate: 2026-11-02\nculture: C\nunits: 2\ndry mass: 1 kg\n---\n",
    "d.md": "---\nkind: batch\nid: B-2\ndate: 2026-11-02\nculture: C\nunits: 2\n---\n",
}

Make = Callable[..., Any]


def test_it_tells_days_be_and_units_by_species_with_what_they_are_based_on(make_journal: Make) -> None:
    page = Rendered(plan_site(make_journal(FILES), {}))[PATH]
    (row,) = page.select("section[aria-labelledby=species] tbody tr")
    assert ["Pleurotus pulmonarius", "14 to 24", "28 to 44", "50 to 100 %", "1 to 2 of 1 kg dry"] == [
        " ".join(cell.get_text().split()) for cell in row.select("td")
    ]
    assert "published: P. Stamets" in page.get_text()
    assert (
        "days up to the first flush (its first day: no table tells how long a flush lasts): published"
        in page.get_text()
    )


def test_own_finished_batches_tell_what_each_flush_is_told_by(make_journal: Make) -> None:
    """1 kg dry each; flush 1 gave 310, 320, 330 g, flush 2 110, 120, 130 g (80 %: ± 1.886 · 10 · √(4/3) = 22)."""
    files = {"c.md": FILES["c.md"], "b.md": FILES["b.md"].replace("units: 2", "units: 1")}
    for at in (1, 2, 3):
        files |= {
            f"{at}.md": f"---\nkind: batch\nid: P-{at}\ndate: 2026-04-0{at}\nculture: C\ndry mass: 1 kg\n---\n",
            f"{at}1.md": f"---\nkind: note\nabout: P-{at}\ndate: 2026-05-0{at}\nharvest: 3{at}0 g\nflush: 1\n---\n",
            f"{at}2.md": f"---\nkind: note\nabout: P-{at}\ndate: 2026-05-1{at}\nharvest: 1{at}0 g\nflush: 2\n---\n",
            f"{at}3.md": f"---\nkind: note\nabout: P-{at}\ndate: 2026-06-01\nstage: spent\n---\n",
        }
    page = Rendered(plan_site(make_journal(files), {}))[PATH]
    told = " ".join(page.get_text().split())
    assert "BE of each flush in turn, by the same batches: 30 to 34 %, 10 to 14 %." in told
    assert "yours, BE of flush 2: 11 % in P-1, 12 % in P-2, 13 % in P-3" in told
    flushes = page.select("section[aria-labelledby=coming] .scroll table")[1].select("tbody tr")
    assert [["0.3 kg", "0.3 kg", "0.3 kg"], ["0.1 kg", "0.1 kg", "0.1 kg"]] == [
        [cell.get_text() for cell in row.select("td.n")[1:]] for row in flushes
    ]
    assert {"its own BE in 3 batches"} == {row.select("td")[-1].get_text() for row in flushes}


def test_where_flushes_are_known_of_fewer_batches_than_the_be_it_says_of_how_many(make_journal: Make) -> None:
    """Of four finished ones one names no flush; and where one alone tells a flush, it says so."""
    files = {"c.md": FILES["c.md"], "b.md": FILES["b.md"]}
    for at in (1, 2, 3, 4):
        flush = "\nflush: 1" if at > 1 else ""
        files |= {
            f"{at}.md": f"---\nkind: batch\nid: P-{at}\ndate: 2026-04-0{at}\nculture: C\ndry mass: 1 kg\n---\n",
            f"{at}1.md": f"---\nkind: note\nabout: P-{at}\ndate: 2026-05-0{at}\nharvest: 3{at}0 g{flush}\n---\n",
            f"{at}3.md": f"---\nkind: note\nabout: P-{at}\ndate: 2026-06-01\nstage: spent\n---\n",
        }
    told = " ".join(Rendered(plan_site(make_journal(files), {}))[PATH].get_text().split())
    assert "BE of each flush in turn, by the 3 of them whose flushes are known: 31 to 35 %." in told
    alone = {path: text.replace("pulmonarius", "ostreatus") for path, text in files.items() if path[0] in "cb4"}
    told = " ".join(Rendered(plan_site(make_journal(alone), {}))[PATH].get_text().split())
    assert "its own BE in 1 batch" in told
    assert "BE of each flush in turn, by the same batches: 34 %." in told


def test_own_days_are_told_to_the_end_of_a_flush(make_journal: Make) -> None:
    """Picked on 20 and 22 November, and spent: 20 days to the end of flush 1."""
    files = {path: text for path, text in FILES.items() if path != "d.md"}
    for day in (20, 22):
        files[f"{day}.md"] = f"---\nkind: note\nabout: B-1\ndate: 2026-11-{day}\nharvest: 700 g\nflush: 1\n---\n"
    files["s.md"] = "---\nkind: note\nabout: B-1\ndate: 2026-11-30\nstage: spent\n---\n"
    told = " ".join(Rendered(plan_site(make_journal(files), {}))[PATH].get_text().split())
    assert "yours, days up to the first flush, to its end: 20 in B-1" in told
    files = {path: text.replace("pulmonarius", "rarus") for path, text in files.items()}
    told = " ".join(Rendered(plan_site(make_journal(files), {}))[PATH].get_text().split())
    assert "yours, days up to the end of the first flush: 20 in B-1" in told
    assert "Days to the end of the first flush" in told


def test_a_be_that_one_batch_alone_tells_is_one_number(make_journal: Make) -> None:
    """1.4 kg of 2 kg dry are 70 %: 1 kg takes two units of 1 kg dry."""
    files = {path: text.replace("pulmonarius", "ostreatus") for path, text in FILES.items() if path != "d.md"}
    picked = "---\nkind: note\nabout: B-1\ndate: 2026-11-20\nharvest: 1400 g\nflush: 1\n---\n"
    page = Rendered(plan_site(make_journal({**files, "p.md": picked}), {}))[PATH]
    (row,) = page.select("section[aria-labelledby=species] tbody tr")
    assert ["70 %", "2 of 1 kg dry"] == [" ".join(cell.get_text().split()) for cell in row.select("td")[-2:]]
    assert "by 1 batch of yours, as far as it is harvested" in page.get_text()


def test_it_tells_week_by_week_what_may_come_and_of_which_batch_nothing_is_known(make_journal: Make) -> None:
    """Flush 1 may come from 16 to 26 November: 5 of its 11 days are in the second week."""
    page = Rendered(plan_site(make_journal(FILES), {}))[PATH]
    rows = page.select("section[aria-labelledby=coming] details:first-of-type tbody tr")
    first, second = (" ".join(row.get_text(" ").split()) for row in rows[:2])
    assert "16 Nov 0 kg 0.3 kg 0.7 kg B-1" == first
    assert second.startswith("23 Nov 0 kg")
    needs = "A batch needs its day of inoculation, units, dry mass (or wet mass and moisture), and a BE: from the table"
    assert needs in " ".join(page.get_text().split())
    assert ["B-2"] == [tag.get_text() for tag in page.select("section[aria-labelledby=coming] > p:last-of-type .id")]


def test_a_flush_that_did_not_come_is_said_to_be_overdue_and_no_other_is_counted_from_it(make_journal: Make) -> None:
    looked = "---\nkind: note\nabout: C\ndate: 2026-11-30\ndone: looked\n---\n"
    page = Rendered(plan_site(make_journal({**FILES, "n.md": looked}), {}))[PATH]
    section = page.select_one("section[aria-labelledby=coming]")
    words = " ".join(section.get_text(" ").split())
    assert "Overdue: B-1 flush 1, 16 Nov to 26 Nov . None came in those days" in words
    assert "Nothing to show yet" not in words
    assert ["B-1", "B-2"] == [tag.get_text() for tag in section.select(".id")]


@pytest.mark.parametrize(("units", "under"), [("metric", "under 0.1 kg"), ("us", "under 1 oz")])
def test_what_is_less_than_the_last_digit_is_not_told_as_nothing(units: str, under: str, make_journal: Make) -> None:
    """10 g dry at 50 to 100 % are 5 to 10 g in all: less than half an ounce (28.35 g, NIST SP 811) and than 50 g."""
    batch = FILES["b.md"].replace("units: 2\ndry mass: 1 kg", "units: 1\ndry mass: 10 g")
    files = {**FILES, "b.md": batch, "journal.toml": f'[journal]\nunits = "{units}"\n'}
    coming = Rendered(plan_site(make_journal(files), {}))[PATH].select_one("[aria-labelledby=coming]")
    assert coming is not None
    by_week, by_flush = (table.select("tbody tr") for table in coming.select(".scroll table"))
    assert under in [cell.get_text() for row in by_week for cell in row.select("td.n")]
    assert {under} == {row.select("td.n")[-1].get_text() for row in by_flush}
    assert {"all flushes, divided evenly"} == {row.select("td")[-1].get_text() for row in by_flush}
    assert "the BE of each flush" in coming.get_text()
    nothing = {"metric": "0 kg", "us": "0 oz"}[units]  # the least of a week in which nothing has to come
    assert {nothing, under} == {cell.get_text() for row in by_week for cell in row.select("td.n")}


def test_in_us_units_it_counts_by_the_pound(make_journal: Make) -> None:
    """Of 1 kg dry at 50 to 100 %, a unit gives 1.1 to 2.2 lb: one is enough for a pound, and for a kilogram two may be
    needed. Source: NIST SP 811 (2008), B.8: 1 lb (avoirdupois) = 0.453 592 37 kg."""
    page = Rendered(plan_site(make_journal({**FILES, "journal.toml": '[journal]\nunits = "us"\n'}), {}))[PATH]
    (row,) = page.select("section[aria-labelledby=species] tbody tr")
    assert "1 of 2 lb 3.3 oz dry" == " ".join(row.select("td")[-1].get_text().split())
    words = " ".join(page.main.get_text(" ").split())
    for said in ("Units for 1 lb", "lb in the week from", "the same numbers for one pound"):
        assert said in words
    chart = page.select_one("#coming svg, section[aria-labelledby=coming] svg")
    assert "2" in [text.get_text() for text in chart.select("text.tick")]  # 2 units of 1 kg dry give at most 4.4 lb


def test_of_many_batches_and_flushes_the_first_are_listed_and_the_others_counted(make_journal: Make) -> None:
    more = {f"{number}.md": FILES["b.md"].replace("B-1", f"B-1{number}") for number in range(70)}
    page = Rendered(plan_site(make_journal(FILES | more), {}))[PATH]
    weeks, flushes = page.select("section[aria-labelledby=coming] details")
    assert "and 65 more" in weeks.select_one("tbody tr").get_text()
    assert 60 == len(flushes.select("tbody tr"))
    assert flushes.get_text().strip().endswith("later ones are counted above and in journal export.")


def test_of_many_batches_left_out_each_stands_once_and_another_changes_no_part(make_journal: Make) -> None:
    days = [date(2025, 1, 1) + timedelta(days=at * 4) for at in range(100)]
    files = {f"{at}.md": _left_out(f"B-1{at}", day) for at, day in enumerate(days)}
    before, after = (
        Rendered(plan_site(make_journal(FILES | made), {}))
        for made in (files, files | {"new.md": _left_out("B-9", days[-1])})
    )
    page = after[PATH]
    shown = page.select("section[aria-labelledby=coming] > p .id")
    links = page.select("section[aria-labelledby=coming] .fold a")
    folded = [
        tag
        for link in links
        for tag in after[link["href"].removeprefix("../").removesuffix("index.html")].select("main > p .id")
    ]
    assert links
    assert "static/js/folds.js" in str(page)
    assert sorted(["B-2", "B-9", *(f"B-1{at}" for at in range(100))]) == sorted(
        tag.get_text() for tag in [*shown, *folded]
    )
    parts = [{row.path: row.context for row in one.site.pages if "left-out" in row.path} for one in (before, after)]
    assert parts[0] == parts[1]


def test_one_more_batch_that_is_overdue_changes_no_earlier_part(make_journal: Make) -> None:
    """The latest twelve are named as overdue; who drops out of these was in the list before."""
    days = [date(2025, 1, 1) + timedelta(days=at * 4) for at in range(100)]
    files = {f"{at}.md": _overdue(f"B-1{at}", day) for at, day in enumerate(days)}
    sites = [
        Rendered(plan_site(make_journal(FILES | made), {}))
        for made in (files, files | {"new.md": _overdue("B-9", days[-1] + timedelta(days=1))})
    ]
    named = [
        " ".join(site[PATH].select_one("#coming, [aria-labelledby=coming]").get_text(" ").split()) for site in sites
    ]
    assert [12, 12] == [words.partition("Overdue:")[2].partition("None came")[0].count("flush 1") for words in named]
    assert "B-9 flush 1" in named[1]
    before, after = ({row.path: row.context for row in one.site.pages if "left-out" in row.path} for one in sites)
    assert before
    assert before == after


def _overdue(id: str, day: date) -> str:
    return FILES["b.md"].replace("B-1", id).replace("2026-11-02", day.isoformat())


def _left_out(id: str, day: date) -> str:
    return FILES["d.md"].replace("B-2", id).replace("2026-11-02", day.isoformat())


def test_a_share_has_no_plan(make_journal: Make) -> None:
    journal = make_journal(FILES)
    assert "plan/index.html" in {page.path for page in plan_site(journal, {}).pages}
    assert "plan/index.html" not in {page.path for page in plan_site(journal, {}, share="m").pages}
