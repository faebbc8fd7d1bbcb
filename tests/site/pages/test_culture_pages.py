"""Cultures as their pages and their table tell them: descent, what they gave, what wants renewing."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, timedelta
from typing import Any

import pytest
from bs4 import BeautifulSoup, Tag

from journal.model import Journal
from journal.site.pages import plan_site
from tests.builders import entry
from tests.site.test_pages import Rendered, published
from tests.sixty import sixty

Make = Callable[..., Rendered]


START = date(2025, 9, 13)
FIND = "id: F-1\ndate: 2025-09-12\nspecies: Pleurotus pulmonarius\nplace: Alder Bank"
SURE = FIND + "\ncertainty: confirmed\nidentified by: the ferry baker, by microscope"
LINE = {
    "f/find.md": entry("find", SURE),
    "a.md": entry("culture", "id: A\nfrom: F-1\ndate: 2025-09-13\nform: plate\nvessels: 6"),
    "l1.md": entry("note", "about: A\ndate: 2025-09-20\nlost: 2\ncause: green mould"),
    "a2.md": entry("culture", "id: A-2\nfrom: A.1, A.3\ndate: 2025-09-20\nform: slant\nvessels: 2\nkept: fridge 2"),
    "a3.md": entry("culture", "id: A-3\nfrom: A.1\ndate: 2025-09-24\nform: grain\nvessels: 3"),
    "b1.md": entry("batch", "id: B-1\nculture: A-3\ndate: 2025-10-06\nunits: 4\ndry mass: 1 kg"),
    "l2.md": entry("note", "about: B-1.2\ndate: 2025-10-20\nlost: 1\ncause: cobweb"),
    "p1.md": entry("note", "about: B-1\ndate: 2025-10-27\nstage: pinning"),
    "h1.md": entry("note", "about: B-1\ndate: 2025-11-01\nharvest: 2 kg\nflush: 1"),
}
SPENT = {"s1.md": entry("note", "about: B-1\ndate: 2025-12-01\nstage: spent")}


@pytest.fixture(scope="module")
def site(make_journal: Callable[..., Journal]) -> Make:
    """Gives the rendered pages of one line and its batch B-1, with other files on top."""

    def made(files: Mapping[str, str] | None = None, photos: Mapping[str, Any] | None = None) -> Rendered:
        journal = make_journal({**LINE, **(files or {})}, photos or {})
        return Rendered(plan_site(journal, published(*(photos or {}))))

    return made


@pytest.fixture(scope="module")
def line(site: Make) -> Rendered:
    return site()


def flat(part: Tag | None) -> str:
    assert part is not None
    return " ".join(part.get_text(" ").split())


def drawing(page: BeautifulSoup) -> Tag:
    found = page.select("svg.descent")
    assert 1 == len(found)
    return found[0]


def ids_drawn(page: BeautifulSoup) -> list[str]:
    return [flat(link) for link in drawing(page).select("a.step")]


def test_the_descent_is_one_drawing_from_the_find_to_the_harvest(line: Rendered) -> None:
    page = line["cultures/a/"]
    assert ["F-1", "A", "A-2", "A-3", "B-1"] == ids_drawn(page)
    links = {flat(link): link["href"] for link in drawing(page).select("a.step")}
    assert "../../finds/f-1/index.html" == links["F-1"]
    assert "../../batches/b-1/index.html" == links["B-1"]
    words = flat(drawing(page))
    for part in (
        "clone of tissue, 6 plates, 2 lost",
        "T1 · G1 · 1 step from the wild",
        "2 kg harvested so far, BE 50 %",
    ):
        assert part in words


def test_the_drawing_has_a_name_and_says_what_it_holds(line: Rendered) -> None:
    svg = drawing(line["cultures/a/"])
    named = [svg.find(id=part).get_text() for part in svg["aria-labelledby"].split()]
    assert "Descent of A" == named[0]
    assert named[1].startswith("1 wild find, 3 cultures and 1 batch,")


def test_the_pages_own_culture_is_marked_and_no_other(line: Rendered) -> None:
    page = line["cultures/a-3/"]
    assert ["A-3"] == [flat(link) for link in drawing(page).select("[aria-current]")]
    assert ["F-1", "A", "A-3", "B-1"] == ids_drawn(page)
    assert 1 == flat(drawing(page)).count("this culture")


def test_the_find_is_shown_by_its_published_picture(site: Make) -> None:
    page = site(photos={"f/a.jpg": {"taken": "2025-09-12T14:05+01:00"}})["cultures/a/"]
    assert ["../../photos/2025-09/p0-320.webp"] == [image["href"] for image in drawing(page).select("image")]
    assert [] == drawing(site()["cultures/a/"]).select("image")


def test_the_same_is_shown_as_a_nested_list(line: Rendered) -> None:
    page = line["cultures/a/"]
    listed = page.select_one("details > .descent-list")
    assert listed is not None
    way = [flat(item.select_one("a.id")) for item in listed.find_all("li", recursive=False)]
    branch = [flat(item.select_one("a.id")) for item in page.select(".descent-list .descent-list li")]
    assert (["F-1", "A", "A-3", "B-1"], ["A-2"]) == (way, branch)
    words = flat(listed)
    for part in ("taken from A.1 and A.3", "lost: green mould", "made with A-3", "12 September 2025"):
        assert part in words


def test_what_is_not_confirmed_shows_all_the_way_down_in_words_and_by_broken_lines(site: Make) -> None:
    page = site({"f/find.md": entry("find", FIND)})["cultures/a-3/"]
    assert 4 == flat(drawing(page)).count("identity not confirmed")
    assert not drawing(page).select("line:not(.broken)")
    assert 4 == flat(page.select_one("details > .descent-list")).count("identity not confirmed")
    sure = drawing(site()["cultures/a-3/"])
    assert "not confirmed" not in flat(sure)
    assert not sure.select("line.broken, .mark.broken")


@pytest.mark.parametrize(
    ("says", "find"), [("origin in doubt", SURE), ("identity not confirmed, origin in doubt", FIND)]
)
def test_a_doubt_is_beside_what_a_culture_gave(says: str, find: str, site: Make) -> None:
    files = {"f/find.md": entry("find", find), "d.md": entry("note", "about: A\ndate: 2025-09-20\nstage: doubtful")}
    assert says == flat(site(files)["cultures/a-3/"].select_one("[aria-labelledby=gave] .need"))


def test_of_two_finds_only_that_which_is_not_confirmed_is_named_and_no_name_laid_to_it(site: Make) -> None:
    files = {
        "g.md": entry("find", "id: F-2\ndate: 2025-09-12\nspecies: Pleurotus pulmonarius"),
        "k.md": entry("culture", "id: K\nfrom: F-2\ndate: 2025-09-13"),
        "m.md": entry("culture", "id: M\nfrom: A, K\ndate: 2025-09-20"),
    }
    pages = site(files)
    assert "It goes back to F-2 too, which is not confirmed." in flat(pages["cultures/m/"].select_one(".caution"))
    assert "It carries the name given to F-2, right or wrong." in flat(pages["cultures/k/"].select_one(".caution"))


def test_a_name_that_says_more_than_the_finds_and_finds_of_perhaps_several_species_are_told(site: Make) -> None:
    sure = "date: 2025-09-12\ncertainty: confirmed\nidentified by: spores"
    files = {
        "g.md": entry("find", f"id: F-2\nspecies: Pleurotus\n{sure}"),
        "h.md": entry("find", f"id: F-3\nspecies: '*Pleurotus*'\n{sure}"),
        "i.md": entry("find", "id: F-4\ndate: 2025-09-12"),
        "k.md": entry("culture", "id: K\nfrom: F-2\ndate: 2025-09-13"),
        "l.md": entry("culture", "id: L\nfrom: F-3\ndate: 2025-09-13"),
        "m.md": entry("batch", "id: M\nculture: K, L\ndate: 2025-09-20"),
        "n.md": entry("culture", "id: N\nfrom: K\ndate: 2025-09-20\nspecies: Pleurotus pulmonarius"),
        "o.md": entry("culture", "id: O\nfrom: F-4\ndate: 2025-09-20\nspecies: Pleurotus pulmonarius"),
    }
    pages = site(files)
    assert not pages["cultures/k/"].select(".caution")
    told = {path: flat(pages[path].select_one(".caution")) for path in ("batches/m/", "cultures/n/", "cultures/o/")}
    for path, words in (
        ("batches/m/", "It goes back to F-2 (Pleurotus) and F-3 (Pleurotus), which may be of different species."),
        ("cultures/n/", "It carries the name Pleurotus pulmonarius, but F-2 was confirmed as Pleurotus."),
        ("cultures/o/", "the name Pleurotus pulmonarius, but F-4 is noted without a name, which is not confirmed."),
    ):
        assert words in told[path]


def test_another_name_than_that_of_the_find_is_told_on_every_page_below_it(site: Make) -> None:
    files = {
        "a3.md": entry("culture", "id: A-3\nfrom: A.1\ndate: 2025-09-24\nform: grain\nspecies: *Flammulina velutipes*"),
        "a4.md": entry("culture", "id: A-4\nfrom: A-3\ndate: 2025-10-24\nspecies: Pleurotus pulmonarius"),
    }
    pages = site(files)
    but = "but F-1 was confirmed as Pleurotus pulmonarius."
    for path, which in (("cultures/a-3/", "It"), ("batches/b-1/", "It"), ("cultures/a-4/", "It comes from A-3, which")):
        assert f"{which} carries the name Flammulina velutipes, {but}" in flat(pages[path].select_one(".caution"))
    assert "Identity not confirmed" in flat(pages["batches/b-1/"].select_one(".unsure"))  # beside the harvest
    assert not pages["cultures/a-2/"].select(".caution")
    unsure = site({**files, "f/find.md": entry("find", FIND)})["batches/b-1/"].select_one(".caution")
    assert "but F-1 is noted as Pleurotus pulmonarius, which is not confirmed." in flat(unsure)


def test_a_doubt_shows_on_everything_taken_later_and_names_where_it_began(site: Make) -> None:
    doubt = {"d.md": entry("note", "about: A\ndate: 2025-09-22\nstage: doubtful")}
    words = {row: flat(drawing(site(doubt)[f"cultures/{row}/"])) for row in ("a-2", "a-3")}
    assert "in doubt, as A is" not in words["a-2"]
    assert 2 == words["a-3"].count("in doubt, as A is")  # A-3 and its batch
    assert 1 == words["a-3"].count("label in doubt")


def test_a_culture_of_two_parents_names_both_and_both_ways_lead_to_it(site: Make) -> None:
    files = {
        "g.md": entry("find", "id: F-2\ndate: 2025-09-14"),
        "x.md": entry("culture", "id: X\nfrom: F-2\ndate: 2025-09-15"),
        "m.md": entry("culture", "id: M\nfrom: A, X\nmethod: transfer\ndate: 2025-10-01"),
    }
    page = site(files)["cultures/m/"]
    assert {"F-1", "F-2", "A", "X", "M"} == set(ids_drawn(page))
    assert "of A and X" in flat(drawing(page))


def test_what_was_received_says_from_whom_at_the_top(site: Make) -> None:
    files = {"r.md": entry("culture", "id: R\nreceived from: the ferry baker\nmethod: received\ndate: 2025-10-01")}
    page = site(files)["cultures/r/"]
    assert "from the ferry baker" in flat(drawing(page))
    assert "no wild find" in flat(page.select_one("#descent-desc"))


def test_entries_in_a_circle_still_have_their_pages(site: Make) -> None:
    files = {
        "x.md": entry("culture", "id: X\nfrom: Y\nmethod: transfer\ndate: 2025-09-15"),
        "y.md": entry("culture", "id: Y\nfrom: X\nmethod: transfer\ndate: 2025-09-16"),
    }
    assert {"X", "Y"} == set(ids_drawn(site(files)["cultures/x/"]))


def test_sixty_nodes_are_one_drawing_and_one_list(make_journal: Callable[..., Journal]) -> None:
    page = Rendered(plan_site(make_journal(sixty()), {}))["cultures/po-25a/"]
    assert 60 == len(ids_drawn(page)) == len(set(ids_drawn(page)))
    assert 60 == len(page.select(".descent-list li"))
    assert set(ids_drawn(page)) == {flat(item.select_one("a.id")) for item in page.select(".descent-list li")}


def long_line(length: int) -> dict[str, str]:
    """A find, a start, and transfers in one line, as entry files."""
    files = {"f/find.md": entry("find", SURE), "c000.md": entry("culture", "id: C-0\nfrom: F-1\ndate: 2025-09-13")}
    for number in range(1, length):
        keys = f"id: C-{number}\nfrom: C-{number - 1}\ndate: {START + timedelta(days=number)}"
        files[f"c{number:03}.md"] = entry("culture", keys)
    return files


def test_of_a_very_long_line_a_page_shows_what_is_near_and_how_much_lies_between(
    make_journal: Callable[..., Journal],
) -> None:
    pages = Rendered(plan_site(make_journal(long_line(150)), {}))
    page = pages["cultures/c-100/"]
    assert ["F-1", *(f"C-{number}" for number in range(80, 121))] == ids_drawn(page)
    listed = flat(page.select_one("details > .descent-list"))
    assert "80 more steps between F-1 and this" in listed
    assert "1 more taken from this" in listed
    assert "Only what is nearest is drawn." in flat(page.select_one("#descent-desc"))
    assert "see the page of C-21" in flat(page.select_one("main"))
    assert "more steps" not in flat(pages["cultures/c-10/"].select_one("details > .descent-list"))


def test_a_page_of_a_line_six_times_as_long_is_no_larger(make_journal: Callable[..., Journal]) -> None:
    short, long = (Rendered(plan_site(make_journal(long_line(length)), {})) for length in (60, 360))
    sizes = [len(str(pages["cultures/c-50/"])) for pages in (short, long)]
    assert sizes[1] < 1.2 * sizes[0]


def test_a_culture_shows_what_was_grown_from_it_so_far(line: Rendered) -> None:
    gave = line["cultures/a/"].select_one("[aria-labelledby=gave]")
    words = flat(gave)
    assert "2 kg harvested so far, from 1 batch" in words
    assert "50 % BE so far of the 4 units inoculated in 1 batch" in words
    assert "median" not in words
    assert "4 kg" in flat(gave.select("details.calculated")[1])  # 4 units of 1 kg dry


def test_a_finished_batch_counts_in_median_and_share_lost_and_is_too_few_to_tell(site: Make) -> None:
    words = flat(site(SPENT)["cultures/a/"].select_one("[aria-labelledby=gave]"))
    assert "so far, of" not in words
    assert "50 % BE of the 4 units inoculated in 1 batch, finished" in words
    assert "median" not in words
    assert "too few for an interval: that takes 6 batches" in words
    assert "25 % lost: 1 of the 4 units inoculated in the one finished batch too few batches for an interval" in words
    assert "95 %" not in words.partition("25 % lost")[2].partition("How 25 %")[0]


def test_a_share_lost_has_an_interval_from_three_finished_batches_on(site: Make) -> None:
    files = {
        f"x{n}.md": entry("batch", f"id: X-{n}\nculture: A-3\ndate: 2025-10-06\nunits: 4\ndry mass: 1 kg")
        for n in (2, 3)
    }
    ends = {f"y{n}.md": entry("note", f"about: X-{n}\ndate: 2025-12-01\nstage: discarded") for n in (2, 3)}
    words = flat(site({**SPENT, **files, **ends})["cultures/a/"].select_one("[aria-labelledby=gave]"))
    # Wilson's interval for 1 of 12 at 95 %: 1.5 % to 35.4 % (closed form, Newcombe 1998, method 3).
    assert (
        "8 % lost: 1 of the 12 units inoculated in 3 finished batches 1 % to 35 % if units were lost one by one"
        in words
    )


def test_units_that_lived_are_beside_those_begun(site: Make) -> None:
    words = flat(site()["cultures/a/"].select_one("[aria-labelledby=gave]"))
    assert (
        "50 % BE so far of the 4 units inoculated in 1 batch 67 % of the 3 not lost before harvest" in words
    )  # 2 kg of 3 kg dry


@pytest.mark.parametrize("path", ["cultures/a/", "cultures/a-3/", "finds/f-1/"])
def test_every_number_set_large_has_its_calculation_one_tap_away(path: str, line: Rendered) -> None:
    shown = line[path].select("ul.figures > li")
    assert shown
    for row in shown:
        assert all(row.select_one(f"details {part}") for part in (".formula", "dd", ".soft")), flat(row)


def test_transfers_steps_and_generations_tell_the_way_they_were_counted(line: Rendered) -> None:
    calculated = {flat(row.b): flat(row.dl) for row in line["cultures/a-3/"].select(".culture-head > ul.figures > li")}
    assert {
        "T1": "A T0, clone of tissue, 6 plates, 2 lost A-3 T1, transfer, 3 jars of grain",
        "1": "F-1 the wild find A 0, clone of tissue, 6 plates, 2 lost A-3 1, transfer, 3 jars of grain",
        "G1": "A-3 G1, transfer, 3 jars of grain",
        "3": "containers made 3",
    } == calculated
    vessels = line["cultures/a/"].select(".culture-head > ul.figures > li")[-1]
    assert "containers made 6 lost 20 September 2025 2, green mould" in flat(vessels)


def test_what_was_harvested_is_shown_batch_by_batch(line: Rendered) -> None:
    (row,) = (row for row in line["cultures/a/"].select("[aria-labelledby=gave] li") if "harvested so far" in flat(row))
    assert "B-1 2 kg" in flat(row.details)


def test_a_batch_below_that_is_in_doubt_or_not_confirmed_is_named_beside_the_harvests(site: Make) -> None:
    files = {
        "g.md": entry("find", "id: F-2\ndate: 2025-09-12\nspecies: Pleurotus pulmonarius"),
        "k.md": entry("culture", "id: K\nfrom: F-2\ndate: 2025-09-13"),
        "b2.md": entry("batch", "id: B-2\nculture: A-3, K\ndate: 2025-10-06\ndry mass: 1 kg"),
        "d.md": entry("note", "about: A-2\ndate: 2025-09-21\nstage: doubtful"),
        "b3.md": entry("batch", "id: B-3\nculture: A-2\ndate: 2025-10-06\ndry mass: 1 kg"),
    }
    pages = site(files)
    for path in ("cultures/a/", "finds/f-1/"):
        words = flat(pages[path].select_one("[aria-labelledby=gave]"))
        assert "Identity not confirmed of B-2, which is still counted." in words
        assert "Origin in doubt of B-3, which is still counted." in words
    assert "still counted" not in flat(pages["cultures/a-2/"].main)  # it is in doubt itself, and says so
    assert "still counted" not in flat(pages["cultures/k/"].main)


def test_six_finished_batches_have_an_interval(site: Make) -> None:
    files = {}
    for n in range(2, 8):
        files[f"x{n}.md"] = entry("batch", f"id: X-{n}\nculture: A-3\ndate: 2025-10-06\nunits: 1\ndry mass: 1 kg")
        files[f"y{n}.md"] = entry("note", f"about: X-{n}\ndate: 2025-12-01\nharvest: {n}00 g\nflush: 1\nstage: spent")
    words = flat(site(files)["cultures/a/"].select_one("[aria-labelledby=gave]"))
    # 20, 30 … 70 %: the median is 45; n = 6 gives least to greatest at 1 − 2/64 = 96.9 %.
    assert "45 % median BE of 6 finished batches, 20 to 70 %" in words
    assert "it is between 20 % and 70 %, at least 96.9 % sure" in words


def test_losses_stand_by_step_with_counts_and_causes(line: Rendered) -> None:
    rows = line["cultures/a/"].select(".step-losses tbody tr")
    told = {flat(row.th): [flat(cell) for cell in row.select("td")] for row in rows}
    expected = {
        "plates": ["2 of 6 (33 %)", "green mould 2"],
        "slants": ["0 of 2", ""],
        "jars of grain": ["0 of 3", ""],
        "units of batches": ["1 of 4 (25 %)", "cobweb 1"],
    }
    assert expected == told


def test_vessels_that_nobody_counted_are_named(site: Make) -> None:
    plain = {"a3.md": entry("culture", "id: A-3\nfrom: A.1\ndate: 2025-09-24\nform: grain")}
    rows = site(plain)["cultures/a/"].select(".step-losses tbody tr")
    assert "jars of grain not counted" in [flat(row) for row in rows]


def test_of_many_vessels_that_nobody_counted_the_first_are_named_and_the_others_counted(site: Make) -> None:
    many = {f"g{n}.md": entry("culture", f"id: G-{n}\nfrom: A.1\ndate: 2025-09-24\nform: grain") for n in range(14)}
    (row,) = (row for row in site(many)["cultures/a/"].select(".step-losses tr") if "jars of grain" in flat(row))
    assert 12 == len(row.select("a.id"))
    assert flat(row).endswith("and 2 more not counted")


def test_nothing_harvested_yet_is_no_be_of_nothing(site: Make) -> None:
    words = flat(site({"h1.md": entry("note", "about: B-1\ndate: 2025-11-01")})["cultures/a/"].main)
    assert "4 units inoculated in 1 batch: nothing harvested yet." in words
    assert "BE 0 %" not in words
    assert "0 % BE" not in words


def test_of_a_batch_lost_to_the_last_unit_nothing_more_is_awaited(site: Make) -> None:
    lost = {"h1.md": entry("note", "about: B-1\ndate: 2025-11-01\nlost: 3\ncause: green mould")}
    page = site(lost)["cultures/a/"]
    assert "0 g harvested, from 1 batch" in flat(page.main)
    assert "nothing harvested yet" not in flat(page.main)


def test_a_batch_is_counted_in_its_authors_word_for_a_unit(site: Make) -> None:
    jars = {"b1.md": entry("batch", "id: B-1\nculture: A-3\ndate: 2025-10-06\nunits: 4\ncontainer: wide jars")}
    assert "4 jars, 1 lost, fruiting (from the harvest)" in flat(drawing(site(jars)["cultures/a/"]))


def test_a_batch_still_to_bear_is_named_and_counted_in_no_be(site: Make) -> None:
    young = {"b2.md": entry("batch", "id: B-2\nculture: A-3\ndate: 2025-10-20\nunits: 9\ndry mass: 1 kg")}
    words = flat(site(young)["cultures/a/"].select_one("[aria-labelledby=gave]"))
    assert "2 kg harvested so far, from 2 batches" in words
    assert "50 % BE so far of the 4 units inoculated in 1 batch" in words
    assert " B-2: nothing harvested yet, so not in any BE." in words


def test_the_finished_batches_are_beside_the_be_so_far_where_others_bear(site: Make) -> None:
    more = {
        "b2.md": entry("batch", "id: B-2\nculture: A-3\ndate: 2025-10-20\nunits: 4\ndry mass: 1 kg"),
        "h2.md": entry("note", "about: B-2\ndate: 2025-11-20\nharvest: 1 kg\nflush: 1"),
    }
    page = site({**SPENT, **more})
    words = flat(page["cultures/a/"].select_one("[aria-labelledby=gave]"))
    # 3 kg of 8 kg dry, and 2 kg of 4 kg of the batch that is spent.
    so_far = "37.5 % BE so far of the 8 units inoculated in 2 batches 43 % of the 7 not lost before harvest"
    assert f"{so_far}; 50 % of the finished ones" in words
    assert "50 % BE of the one finished batch" in words
    assert "50 % 1 batch so far 38 %, 2 batches" == row_of(page["cultures/"], "A")[1]


def test_a_harvest_of_no_dry_mass_says_so(site: Make) -> None:
    page = site({"b1.md": entry("batch", "id: B-1\nculture: A-3\ndate: 2025-10-06\nunits: 4")})["cultures/a/"]
    assert "2 kg harvested so far, no dry mass, so no BE" in flat(drawing(page))
    assert "B-1 has no dry mass, so no BE." in flat(page.main)


def test_a_culture_says_where_it_lies_its_age_and_when_it_wants_renewing(line: Rendered) -> None:
    page = line["cultures/a-2/"]
    assert "kept: fridge 2" in flat(page.select_one(".culture-standing"))
    assert "2025-09-20" == page.select_one("[data-age]")["data-age"]
    # A slant: 12 months, common practice.
    assert "2026-09-20" == page.select_one(".renewal [data-due]")["data-due"]
    assert "common practice" in flat(page.select_one(".culture-standing"))
    assert line["cultures/a-3/"].select_one(".renewal") is None


def row_of(page: BeautifulSoup, id: str) -> list[str]:
    row = next(row for row in page.select("table.cultures tbody tr") if row.th["data-sort"] == id)
    return [flat(cell) for cell in row.find_all(["th", "td"])]


def test_no_age_is_counted_from_a_day_that_is_only_about_right(site: Make) -> None:
    pages = site({"a3.md": entry("culture", "id: A-3\nfrom: A.1\ndate: about 2025-09-24\nform: grain")})
    age = pages["cultures/a-3/"].select_one("[data-age]")
    assert age is not None
    assert ("", "since about 24 September 2025") == (age["data-age"], flat(age))
    ages = [found["data-age"] for found in pages["cultures/"].select("tbody [data-age]")]
    assert ["", "2025-09-13", "2025-09-20"] == sorted(ages)


def test_the_table_begins_with_what_decides_which_line_to_use(site: Make) -> None:
    page = site(SPENT)["cultures/"]
    headings = [flat(th) for th in page.select("table.cultures thead th")]
    assert ["Culture", "BE", "Lost", "To pins", "Origin", "T", "Batches", "Age", "Kept", "Renew by"] == headings
    assert ["50 % 1 batch", "25 % 1 of 4", "21 d 1 batch"] == row_of(page, "A")[1:4]
    assert ["F-1 transfer, 2 slants, line A", "1", "0"] == row_of(page, "A-2")[4:7]
    assert ["fridge 2", "20 September 2026"] == row_of(page, "A-2")[8:]


def test_the_table_keeps_what_is_still_running_out_of_the_median(line: Rendered) -> None:
    row = next(row for row in line["cultures/"].select("tbody tr") if row.th["data-sort"] == "A")
    be = row.select("td")[0]
    assert ("", "so far 50 %, 1 batch") == (be["data-sort"], flat(be))


def test_the_table_sorts_numbers_by_numbers_and_ages_from_the_youngest(site: Make) -> None:
    rows = {row.th["data-sort"]: row.select("td") for row in site(SPENT)["cultures/"].select("tbody tr")}
    assert ("", "25", "21") == tuple(cell["data-sort"] for cell in rows["A"][:3])
    assert float(rows["A-3"][6]["data-sort"]) < float(rows["A"][6]["data-sort"])


def test_the_table_stands_by_species_and_one_batch_ranks_no_line(site: Make) -> None:
    other = {
        "z.md": entry("culture", "id: Z\nreceived from: unknown\nspecies: Flammulina velutipes\ndate: 2025-01-01"),
    }
    rows = [row.th["data-sort"] for row in site({**SPENT, **other})["cultures/"].select("tbody tr")]
    assert ["Z", "A-3", "A-2", "A"] == rows
    second = {
        "b2.md": entry("batch", "id: B-2\nculture: A-3\ndate: 2025-10-07\nunits: 1\ndry mass: 1 kg"),
        "h2.md": entry("note", "about: B-2\ndate: 2025-11-02\nharvest: 400 g\nstage: spent"),
    }
    page = site({**SPENT, **other, **second})["cultures/"]
    assert ["Z", "A-3", "A", "A-2"] == [row.th["data-sort"] for row in page.select("tbody tr")]


def test_the_table_says_what_is_not_confirmed_and_what_is_in_doubt(site: Make) -> None:
    files = {
        "f/find.md": entry("find", FIND),
        "d.md": entry("note", "about: A-2\ndate: 2025-09-22\nstage: doubtful"),
    }
    page = site(files)["cultures/"]
    assert "identity not confirmed, in doubt" in row_of(page, "A-2")[0]
    assert "in doubt" not in row_of(page, "A-3")[0]
    assert "not confirmed" not in flat(site()["cultures/"].table)
