"""What a batch gave, as its page and the lists tell it: every number with its counts and its calculation."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bs4 import Tag

from journal.model import Journal
from journal.site.pages import plan_site
from journal.site.plan import Published, PublishedSize
from tests.builders import entry, noted, some
from tests.site.batch_site import BATCH, FIND, PICKED, SPENT, WEIGHED, Make, flat, page_of, rows_of, site_with
from tests.site.test_pages import Rendered

SAMPLE = Path(__file__).parents[3] / "sample_entries"


@pytest.fixture(scope="module")
def site(make_journal: Callable[..., Journal]) -> Make:
    return site_with(make_journal)


@pytest.fixture(scope="module")
def sample(make_journal: Callable[..., Journal]) -> Rendered:
    files: dict[str, Any] = {
        path.relative_to(SAMPLE).as_posix(): path.read_bytes()
        for path in (*sorted(SAMPLE.rglob("*.md")), SAMPLE / "journal.toml")
    }
    return Rendered(plan_site(make_journal(files), {}))


def calculated(page: Tag, number: str) -> Tag:
    """The disclosure under a number."""
    (found,) = [one for one in page.select("details.calculated") if number in flat(one.summary)]
    return found


def pairs_of(disclosure: Tag) -> dict[str, str]:
    names, values = disclosure.select("dt"), disclosure.select("dd")
    return {flat(name): flat(value) for name, value in zip(names, values, strict=True)}


# -- yield ---------------------------------------------------------------------------------------------------
# 1860 g of 4 × 874 g is 53.2 %, of 3 × 874 g 70.9 %; 1290 g 36.9 %, 570 g 16.3 %, by plain arithmetic.


def test_be_on_units_begun_leads_and_on_those_that_lived_is_beside_it_smaller(site: Make) -> None:
    lead = page_of(site(WEIGHED, *PICKED)).select_one(".be")
    assert lead is not None
    assert "BE 53 % of the 4 blocks inoculated (71 % of the 3 not lost before harvest), 2 flushes so far" == flat(
        lead.p
    )
    assert ("BE 53 %", "(71 % of the 3 not lost before harvest)") == (flat(lead.b), flat(lead.select_one(".beside")))


def test_the_yield_of_a_single_unit_is_of_it(site: Make) -> None:
    one = WEIGHED.replace("units: 4", "units: 1").replace("Four blocks", "One block")
    page = page_of(site(one, noted("2026-02-01", "harvest: 430 g\nflush: 1")))
    assert "BE on the 1 block inoculated" in pairs_of(calculated(page, "How 49 % is"))


def test_a_finished_batch_is_so_far_nowhere(site: Make) -> None:
    words = flat(page_of(site(WEIGHED, *PICKED, SPENT)).select_one("[aria-labelledby=crop]"))
    assert "so far" not in words
    assert "BE 53 % of the 4 blocks inoculated (71 % of the 3 not lost before harvest), 2 flushes" in words


def test_until_it_is_finished_every_figure_of_the_crop_is_so_far(site: Make) -> None:
    crop = page_of(site(WEIGHED, *PICKED)).select_one("[aria-labelledby=crop]")
    assert crop is not None
    for figure in some(crop.select(".figures > li"), 4):
        made_of = ("inoculated", "dry substrate", "spawn rate")
        assert "so far" in flat(figure) or any(words in flat(figure) for words in made_of)
    assert "all, so far" in flat(crop.tfoot)


@pytest.mark.parametrize(
    ("id", "words"),
    [
        ("b-026", "BE 42 % of the 6 units inoculated, 2 flushes"),
        ("b-027", "BE 17 % of the 3 bags inoculated, 1 flush"),
        ("b-028", "BE 53 % of the 6 bags inoculated (63 % of the 5 not lost before harvest), 3 flushes"),
        ("b-031", "BE 53 % of the 4 blocks inoculated (71 % of the 3 not lost before harvest), 2 flushes so far"),
    ],
)
def test_the_samples_batches_tell_their_yield_in_one_phrase_on_every_list(
    id: str, words: str, sample: Rendered
) -> None:
    assert words == flat(sample[f"batches/{id}/"].select_one(".be p"))
    assert words in sample.words("batches/")


def test_a_total_says_that_it_rests_on_a_doubtful_harvest(site: Make) -> None:
    """`harvest: 90 kg` from four blocks of 2.3 kg: on the batch's page, in every list, and in what came of its line."""
    rendered = site(WEIGHED, noted("2026-02-03", "harvest: 90 kg\nflush: 1"), SPENT)
    words = "includes a doubtful harvest: 90 kg on 3 February 2026"
    page = page_of(rendered)
    assert [words in flat(part) for part in (page.select_one(".yield"), page.select_one(".be"))] == [True, True]
    for address in ("batches/", "finds/f-1/", "cultures/pp-1/", "cultures/compare/"):
        assert words in flat(rendered[address].main), address
    assert "doubtful" not in flat(page_of(site(WEIGHED, *PICKED)).main)


def test_the_last_entry_says_that_its_day_is_in_the_future(site: Make) -> None:
    toml = {"journal.toml": "[journal]\nas_of = 2026-11-25\n"}
    for day, said in (("2027-11-21", "last entry 21 November 2027, a doubtful date"), ("2026-11-21", "2026")):
        rendered = site(WEIGHED, noted(day, "stage: pinning"), files=toml)
        assert flat(page_of(rendered).select_one(".paperline")).endswith(said)
        now = flat(rendered[""].select_one(".nowhead"))
        assert ("a doubtful date" in now) == (day == "2027-11-21")


PINNED = noted("2026-01-25", "stage: pinning")


def test_a_stage_that_a_harvest_moved_is_marked_as_derived_wherever_it_stands(site: Make) -> None:
    rendered = site(WEIGHED, PINNED, noted("2026-02-01", "harvest: 400 g\nflush: 1"))
    page = page_of(rendered)
    assert "Fruiting (from the harvest) since 1 February 2026" in flat(page.select_one(".lede"))
    assert "fruiting (from the harvest) from day 31" in flat(page.select_one("#timeline-desc"))
    for address in ("", "batches/"):
        assert "fruiting (from the harvest)" in flat(rendered[address].main), address
    later = site(WEIGHED, PINNED, noted("2026-02-01", "harvest: 400 g\nflush: 1"), noted("2026-02-08", "done: soaked"))
    assert "between flushes (by the days since the harvest)" in flat(later["batches/"].main)
    again = site(WEIGHED, *(noted(f"2026-02-{day}", "harvest: 400 g") for day in ("01", "14")))
    assert "Fruiting (from the harvest) since 14 February 2026" in flat(page_of(again).select_one(".lede"))


def test_a_note_with_a_stage_and_a_harvest_shows_the_mass_in_every_list(site: Make) -> None:
    rendered = site(WEIGHED, noted("2026-02-01", "stage: fruiting\nharvest: 400 g\nflush: 1"))
    assert "fruiting, 400 g harvested, flush 1" in flat(rendered[""].main)
    for address, at in (("diary/2026-02/", -1), ("batches/b-1/", 0)):
        assert 1 == flat(rendered[address].select(".entry")[at]).count("400 g harvested, flush 1"), address


def test_a_stage_of_a_part_or_of_what_was_lost_is_told_of_that(site: Make) -> None:
    rendered = site(WEIGHED, PINNED, noted("2026-02-01", "stage: contaminated", "B-1.2"))
    for address in ("", "diary/2026-02/", "batches/b-1/"):
        assert "B-1.2 contaminated" in flat(rendered[address].main), address
    assert "Pinning since 25 January 2026. No. 2 contaminated." in flat(page_of(rendered).select_one(".lede"))
    assert "no. 2 contaminated" in flat(rendered["batches/"].main)
    of_two = site(WEIGHED, PINNED, noted("2026-02-01", "stage: contaminated\nlost: 2\ncause: green mould"))
    assert "2 contaminated, 2 lost: green mould" in flat(of_two[""].main)
    assert "Pinning since 25 January 2026" in flat(page_of(of_two).select_one(".lede"))


def test_the_first_pins_on_two_blocks_are_those_of_the_batch_until_the_next_stage(site: Make) -> None:
    pins = [noted("2026-01-25", "stage: pinning", f"B-1.{part}") for part in (1, 2)]
    rendered = site(WEIGHED, *pins)
    page = page_of(rendered)
    said = "Pinning (from the first pins) since 25 January 2026. Pins on no. 1 and 2 of 4."
    assert said in flat(page.select_one(".lede"))
    assert "pinning (from the first pins) from day 24" in flat(page.select_one("#timeline-desc"))
    assert "24 days (on 2 of 4)" in flat(page.main)
    for address in ("", "batches/"):
        assert "pins on no. 1 and 2 of 4" in flat(rendered[address].main), address
    later = site(WEIGHED, *pins, noted("2026-02-01", "harvest: 400 g\nflush: 1"))
    for address in ("", "batches/"):
        assert "no. 1 and 2" not in flat(later[address].main), address
    assert "Fruiting (from the harvest) since 1 February 2026." in flat(page_of(later).select_one(".lede"))
    assert "o. 1 and 2" not in flat(page_of(later).select_one(".lede"))


def test_what_its_author_means_to_do_stands_before_any_forecast(site: Make) -> None:
    told = noted("2026-01-25", "stage: pinning\nnext:\n- 2026-02-03 raise the duct\n- look at no. 2")
    rendered = site(WEIGHED, told)
    for address in ("", "batches/", "batches/b-1/"):
        ahead = [flat(part) for part in rendered[address].select(".ahead")]
        expected = ["Next, as noted: raise the duct, 3 February 2026", "Next, as noted: look at no. 2"]
        assert expected == ahead[:2], address
        assert ahead[2].startswith("Expected: harvest from"), address
    done = site(WEIGHED, told, noted("2026-01-26", "done: yes"))
    assert "as noted" not in flat(done["batches/"].main)


def test_liquid_spawn_is_told_by_its_volume(site: Make) -> None:
    page = flat(page_of(site(f"{BATCH}\nspawn volume: 10 ml\nmix: oak pellets 4 kg, water 7.5 l")).main)
    assert "liquid spawn, a unit10 ml" in page
    assert "water 7.5 kg" in page
    assert "the spawn was liquid, and measured by volume" in page


def test_a_syringe_is_shown_as_a_syringe(site: Make) -> None:
    taken = entry("culture", "id: PP-1-2\ndate: 2026-01-02\nfrom: PP-1\nform: syringe\nvessels: 2")
    lost = noted("2026-01-03", "lost: 1", "PP-1-2")
    page = flat(site(WEIGHED, files={"s.md": taken, "sn.md": lost})["cultures/pp-1/"].main)
    assert "2 syringes, 1 lost" in page
    assert "jar" not in page


def test_each_figure_has_its_inputs_formula_and_source_one_tap_away(site: Make) -> None:
    page = page_of(site(WEIGHED, *PICKED))
    be = calculated(page, "How 53 % is")
    assert {
        "fresh mass harvested": "1.86 kg",
        "units inoculated": "4",
        "dry substrate a unit": "874 g",
        "BE on the 4 blocks inoculated": "53.2 %",
        "BE on the 3 not lost before harvest": "70.9 %",
    }.items() <= pairs_of(be).items()
    assert "Pettipher" in flat(be)
    for number in ("465 g", "43 g a day", "874 g", "8.7 %"):
        disclosure = calculated(page, f"How {number} is")
        assert flat(disclosure.select_one(".formula"))
        assert flat(disclosure.select_one(".soft"))
        assert pairs_of(disclosure)


def test_every_number_set_large_has_its_calculation_one_tap_away(site: Make) -> None:
    shown = page_of(site(WEIGHED, *PICKED)).select("[aria-labelledby=crop] ul.figures > li")
    assert {"4", "1.86 kg"} <= {flat(row.b) for row in shown}
    for row in shown:
        assert all(row.select_one(f"details {part}") for part in (".formula", "dd", ".soft")), flat(row)


def test_what_was_begun_tells_every_loss_and_what_was_harvested_every_harvest(site: Make) -> None:
    both = noted("2026-02-20", "harvest: 100 g", "B-1.1, B-1.2")
    page = page_of(site(WEIGHED, *PICKED, both))
    begun = pairs_of(calculated(page, "How 4 is"))
    assert {
        "blocks inoculated": "4",
        "lost 20 January 2026, no. 3": "1, green mould",
        "remaining = blocks inoculated − lost": "3",
    } == begun
    assert "blocks inoculated = as written, or 1 if nothing is written" == flat(
        calculated(page, "How 4 is").select_one(".formula")
    )
    assert {
        "1 February 2026, flush 1": "1.29 kg",
        "13 February 2026, flush 2": "570 g",
        "20 February 2026, no flush named, no. 1 and 2": "100 g",
    } == pairs_of(calculated(page, "How 1.96 kg is"))


def test_be_with_spawn_counted_is_in_the_calculation_where_its_dry_share_is_known(site: Make) -> None:
    """1860 g of 4 × (874 g + 200 g × 0.55) is 47.3 %."""
    toml = {"journal.toml": '[ingredients]\n"spawn" = "55 %"\n'}
    pairs = pairs_of(calculated(page_of(site(WEIGHED, *PICKED, files=toml)), "How 53 % is"))
    assert ("47.3 %", "200 g", "55 %") == (
        pairs["BE with spawn counted"], pairs["spawn a unit"], pairs["dry share of the spawn"],
    )  # fmt: skip


def test_else_the_calculation_says_what_is_missing_for_it(site: Make) -> None:
    pairs = pairs_of(calculated(page_of(site(WEIGHED, *PICKED)), "How 53 % is"))
    assert "the dry share of the spawn is not known" in pairs["with spawn counted"]
    bare = f"{BATCH}\ndry mass: 874 g"
    assert "with spawn counted" not in pairs_of(calculated(page_of(site(bare, *PICKED)), "How 53 % is"))


@pytest.mark.parametrize(
    ("instead", "notes"),
    [
        ("4 blocks inoculated, nothing harvested yet.", ()),
        ("4 blocks inoculated, 1 lost, nothing harvested yet.", PICKED[:1]),
    ],
)
def test_what_has_borne_nothing_yet_says_so_and_has_no_be(instead: str, notes: tuple[str, ...], site: Make) -> None:
    rendered = site(WEIGHED, *notes)
    assert instead == flat(page_of(rendered).select_one(".be"))
    large = [flat(number) for number in page_of(rendered).select(".be b, .figures b")]
    assert ["4", "874 g", "8.7 %"] == large
    assert instead.removesuffix(".") in rendered.words("batches/")


def test_a_loss_is_worded_so_that_any_cause_reads_well(site: Make) -> None:
    dropped = noted("2026-01-20", "lost: 1\ncause: dropped", "B-1.2")
    unknown = noted("2026-01-22", "lost: 1\ncause: unknown", "B-1.3")
    rendered = site(WEIGHED, dropped, unknown, noted("2026-02-01", "harvest: 400 g\nflush: 1", "B-1.1"))
    for address in ("", "diary/2026-01/", "batches/b-1/"):
        assert "1 lost: dropped" in flat(rendered[address].main), address
        assert "1 lost: cause unknown" in flat(rendered[address].main), address
    page = page_of(rendered)
    assert "2 lost: dropped 1, cause unknown 1" in flat(page.select_one(".figures"))
    told = pairs_of(calculated(page, "How 4 is"))
    assert ["1, dropped", "1, cause unknown"] == [
        told[f"lost {day} January 2026, no. {part}"] for day, part in ((20, 2), (22, 3))
    ]
    assert {"no. 2 lost 20 Jan 2026, dropped", "no. 3 lost 22 Jan 2026, cause unknown"} <= {
        flat(row) for row in page.select(".by-part tbody th")
    }
    assert "Causes: dropped 1; unknown 1." in rendered.words("losses/")


def test_a_batch_that_ended_with_nothing_gave_nothing(site: Make) -> None:
    assert "BE 0 % of the 4 blocks inoculated" == flat(page_of(site(WEIGHED, SPENT)).select_one(".be p"))


def test_units_that_cannot_be_read_are_not_told_as_one_on_any_page(site: Make) -> None:
    unread = f"{WEIGHED}\ncost: 20".replace("units: 4", "units: four")
    rendered = site(unread, *PICKED, noted("2026-02-20", "harvest: 200 g\nflush: 3", "B-1.2"))
    unknown = "an unknown number of blocks"
    page = page_of(rendered)
    assert f"Pleurotus pulmonarius, {unknown}" == flat(page.h1)
    assert "An unknown number of blocks inoculated, 1 lost, 2.06 kg harvested, 3 flushes so far." == flat(
        page.select_one(".be")
    )
    assert "unknownnumber of blocks inoculated1 lost: green mould" in flat(page.select_one(".figures"))
    lacks = flat(page.select_one(".missing"))
    assert (
        "No BE: how many units were inoculated cannot be read. Write the number alone under “units”, like 4." in lacks
    )
    assert "fresh for each" not in flat(page.main)
    (calculators,) = [link["href"] for link in page.select("a[href*='batch=B-1']")]
    assert "units=" not in calculators
    assert [
        ["no. 2", "", "", "200 g", "200 g"],
        ["no. 3 lost 20 Jan 2026, green mould", "", "", "", ""],
        ["no block named", "1.29 kg", "570 g", "", "1.86 kg"],
    ] == rows_of(page.select_one(".by-part"))
    assert f"{unknown} inoculated, 1 lost" in rendered.words("batches/")
    assert "batch inoculated: Pleurotus pulmonarius, an unknown number of units" in rendered.words("diary/2026-01/")
    culture = rendered.words("cultures/pp-1/")
    assert f"{unknown}, 1 lost" in culture
    assert "B-1 has no readable number of units, so no BE." in culture
    assert "no dry mass" not in culture
    assert "Nothing to count yet" in rendered.words("losses/")
    assert "B-1 so far" == flat(rendered["costs/"].select("tbody tr")[-1].td)


def test_a_share_lost_counts_only_the_batches_whose_units_are_known(site: Make) -> None:
    other = {"o.md": entry("batch", WEIGHED.replace("B-1", "B-2")), "os.md": SPENT.replace("B-1", "B-2")}
    unread = WEIGHED.replace("units: 4", "units: four")
    culture = site(unread, noted("2026-01-20", "lost: 1"), SPENT, files=other).words("cultures/pp-1/")
    assert "lost: 0 of the 4 units inoculated in the one finished batch" in culture


def test_a_batch_of_which_all_was_lost_is_finished_on_every_page(site: Make) -> None:
    rendered = site(f"{WEIGHED}\ncost: 20", *PICKED[1:], noted("2026-02-20", "lost: 4"))
    words = "BE 53 % of the 4 blocks inoculated (all lost), 2 flushes"
    finished = next(part for part in rendered["batches/"].select("section") if flat(part.h2) == "Finished")
    assert words in flat(finished)
    assert "so far" not in rendered.words("batches/b-1/")
    assert "B-1 finished" == flat(rendered["costs/"].select("tbody tr")[-1].td)
    assert "Not finished" not in rendered.words("cultures/compare/")


def test_a_harvest_with_no_dry_mass_says_what_is_missing_and_guesses_nothing(site: Make) -> None:
    page = page_of(site(BATCH, *PICKED))
    crop = page.select_one("[aria-labelledby=crop]")
    assert "4 blocks inoculated, 1 lost, 1.86 kg harvested, 2 flushes so far." == flat(page.select_one(".be"))
    lacks = flat(page.select_one(".missing"))
    assert "No BE: the dry mass of a unit is not known. Write “dry mass”, or “wet mass” and “moisture”" in lacks
    assert [["1", "1 February 2026", "", "1.29 kg"], ["2", "13 February 2026", "12 d", "570 g"]] == rows_of(
        page.select_one("table:has(tfoot)")
    )[:2]
    assert "%" not in flat(crop)


def test_the_flush_table_has_days_gap_mass_and_be(site: Make) -> None:
    second = noted("2026-02-15", "harvest: 30 g\nflush: 2")
    table = page_of(site(WEIGHED, *PICKED, second, noted("2026-02-20", "harvest: 10 g"))).select_one("table:has(tfoot)")
    assert [
        ["1", "1 February 2026", "", "1.29 kg", "36.9 %"],
        ["2", "13 to 15 February 2026", "12 d", "600 g", "17.2 %"],
        ["none named", "", "", "10 g", ""],
        ["all, so far", "1.9 kg", "54.3 %"],
    ] == rows_of(table)
    assert flat(table.caption).endswith("gap: from the last day of one flush to the first day of the next")


def test_each_flush_shows_its_numbers_put_in(site: Make) -> None:
    pairs = pairs_of(calculated(page_of(site(WEIGHED, *PICKED)), "each BE"))
    assert {
        "flush 1": "1.29 kg / (4 × 874 g) × 100 = 36.9 %",
        "flush 2": "570 g / (4 × 874 g) × 100 = 16.3 %",
    } == pairs


def test_units_that_notes_name_have_rows_of_their_own(site: Make) -> None:
    """380 g of one unit of 874 g is 43.5 %, 500 g of two 28.6 %."""
    notes = (
        noted("2026-02-01", "harvest: 380 g\nflush: 1", "B-1.1"),
        noted("2026-02-01", "harvest: 500 g\nflush: 1", "B-1.2, B-1.4"),
        PICKED[0],
    )
    table = page_of(site(WEIGHED, *notes)).select_one(".by-part")
    assert ["Which", "Flush 1", "All", "BE"] == [flat(head) for head in table.select("thead th")]
    assert [
        ["no. 1", "380 g", "380 g", "43.5 %"],
        ["no. 2 and 4 together", "500 g", "500 g", "28.6 %"],
        ["no. 3 lost 20 Jan 2026, green mould", "", "", ""],
    ] == rows_of(table)


def test_what_names_no_unit_has_a_row_and_leaves_no_be_of_single_units(site: Make) -> None:
    """380 g of no. 1 and 590 g of all in flush 1, then 230 g of all in flush 2, of which no. 1 may have given some."""
    one = noted("2026-02-01", "harvest: 380 g\nflush: 1", "B-1.1")
    all_of_them = noted("2026-02-01", "harvest: 590 g\nflush: 1"), noted("2026-02-13", "harvest: 230 g\nflush: 2")
    page = page_of(site(WEIGHED.replace("units: 4", "units: 2"), one, *all_of_them))
    table = page.select_one(".by-part")
    assert [
        ["no. 1", "380 g", "", "380 g"],
        ["no. 2", "", "", ""],
        ["no block named", "590 g", "230 g", "820 g"],
    ] == rows_of(table)
    said = "There is no BE for a block of which part of the harvest may have been weighed together with others."
    assert said in flat(page.select_one("#main") or page.body)


def test_a_unit_that_was_also_harvested_with_another_has_no_be_of_its_own(site: Make) -> None:
    """500 g of no. 1, and 100 g of no. 1 and 2; no. 4 alone: 437 g of 874 g are 50 %."""
    notes = (
        noted("2026-02-01", "harvest: 500 g\nflush: 1", "B-1.1"),
        noted("2026-02-01", "harvest: 437 g\nflush: 1", "B-1.4"),
        noted("2026-02-02", "harvest: 100 g\nflush: 1", "B-1.1, B-1.2"),
    )
    rows = rows_of(page_of(site(WEIGHED, *notes)).select_one(".by-part"))
    assert [["no. 1", ""], ["no. 1 and 2 together", ""], ["no. 3 lagging: no flush 1 yet", ""], ["no. 4", "50 %"]] == [
        [row[0], row[-1]] for row in rows
    ]


def test_block_by_block_the_lost_and_those_that_lag_are_named(site: Make) -> None:
    first = [noted("2026-02-01", f"harvest: {at}00 g\nflush: 1", f"B-1.{at}") for at in (1, 2)]
    second = [noted("2026-02-13", "harvest: 90 g\nflush: 2", f"B-1.{at}") for at in (1, 2)]
    table = page_of(site(WEIGHED, *first, *second, PICKED[0])).select_one(".by-part")
    assert [
        ["no. 1", "100 g", "90 g", "190 g", "21.7 %"],
        ["no. 2", "200 g", "90 g", "290 g", "33.2 %"],
        ["no. 3 lost 20 Jan 2026, green mould", "", "", "", ""],
        ["no. 4 lagging: no flush 2 yet", "", "", "", ""],
    ] == rows_of(table)
    assert "Block by block, harvested in each flush" == flat(table.caption)


def test_four_numbers_stand_by_the_timeline_and_the_rest_is_folded(site: Make) -> None:
    page = page_of(site(WEIGHED, *PICKED))
    assert ["BE 53 %", "1.86 kg", "4", "465 g"] == [flat(one) for one in page.select(".figures.four > li b")]
    assert ["43 g a day", "874 g", "8.7 %"] == [flat(one) for one in page.select("#crop ~ .folded .figures b")]
    parts = page.select_one(".summary").find_all(True, recursive=False)
    assert ["begin", "batch-timeline", "counts", "timeline-notes"] == [part["class"][0] for part in parts]
    for folded in ("days", "made"):
        assert page.select_one(f"details.folded:not([open]) > summary > #{folded}"), folded


def test_the_newest_entry_stands_first_and_the_inoculation_last(site: Make) -> None:
    told = page_of(site(WEIGHED, *PICKED)).select(".entries .entry time")
    assert ["2026-02-13", "2026-02-01", "2026-01-20", "2026-01-01"] == [one["datetime"] for one in told]


@pytest.mark.parametrize(("count", "strips", "figures"), [(6, 0, 6), (7, 1, 0), (30, 1, 0)])
def test_many_photos_of_a_day_are_a_strip(
    make_journal: Callable[..., Journal], count: int, strips: int, figures: int
) -> None:
    names = [f"p-{at:02}.jpg" for at in range(count)]
    files = {
        "b.md": entry("batch", WEIGHED),
        "n.md": noted("2026-02-01", f"stage: pinning\nphotos: [{', '.join(names)}]"),
    }
    journal = make_journal(files, {name: {"width": 960, "height": 720} for name in names})
    published = {
        name: Published(f"p{at}", (PublishedSize(320, 240, 9, "0a"), PublishedSize(960, 720, 9, "0a")), "data:,")
        for at, name in enumerate(names)
    }
    course = page_of(Rendered(plan_site(journal, published))).select_one(".entries")
    assert (strips, figures) == (len(course.select(".strip")), len(course.select(".sheet figure")))
    assert count == len(course.select("a[href$='-960.webp']"))


@pytest.mark.parametrize(
    ("words", "keys"),
    [
        ("874 g dry substrate a block, the dry mass as written", "dry mass: 874 g"),
        ("874 g dry substrate a block, from wet mass and moisture", "wet mass: 2.3 kg\nmoisture: 62 %"),
        # 930 + 132 g in 4 units: 1000 × 0.93 + 150 × 0.88
        ("266 g dry substrate a block, from the mix", "mix: oak pellets 1 kg, wheat bran 150 g, water 1.5 kg"),
    ],
)
def test_the_dry_mass_of_a_unit_says_where_it_came_from(words: str, keys: str, site: Make) -> None:
    page = page_of(site(f"{BATCH}\n{keys}"))
    assert any(flat(one).startswith(words.replace(" g ", " g", 1)) for one in page.select(".figures > li"))


def test_each_ingredients_dry_share_says_whether_it_is_common_practice(site: Make) -> None:
    toml = {"journal.toml": '[ingredients]\n"oak pellets" = "91 %"\n'}
    rendered = site(f"{BATCH}\nmix: oak pellets 1 kg, wheat bran 150 g, water 1.5 kg", files=toml)
    pairs = pairs_of(calculated(page_of(rendered), "How 261 g is"))
    assert ("91 %", "88 %") == (
        pairs["dry share of oak pellets, the author's own"], pairs["dry share of wheat bran, common practice"],
    )  # fmt: skip


def test_the_spawn_rate_is_on_the_wet_basis_with_the_dry_beneath(site: Make) -> None:
    """200 g of 2300 g is 8.7 %, of 874 g 22.9 %."""
    (rate,) = [one for one in page_of(site()).select(".figures > li") if "spawn rate" in flat(one)]
    assert "8.7 %" == flat(rate.b)
    assert "22.9 % on the dry basis" == flat(rate.select_one(".beside"))


def test_what_is_left_in_drying_names_the_harvests_it_is_of(site: Make) -> None:
    dried = noted("2026-02-01", "harvest: 1000 g\ndried: 95 g\nflush: 1")
    pairs = pairs_of(calculated(page_of(site(WEIGHED, dried)), "How 9.5 % is"))
    assert {
        "dried": "95 g",
        "fresh, of the same": "1 kg",
        "times weighed both ways": "1",
        "of these without `dried from`: the whole harvest counts as dried": "1",
    } == pairs


def test_masses_are_in_the_authors_units(site: Make) -> None:
    toml = {"journal.toml": '[journal]\nunits = "us"\n'}
    words = site(WEIGHED, *PICKED, files=toml).words("batches/b-1/")
    assert "4 lb 1.6 oz harvested, trimmed and unwashed, so far" in words
    assert "2 lb 13.5 oz / (4 × 1 lb 14.8 oz) × 100 = 36.9 %" in words


@pytest.mark.parametrize(
    ("unit", "keys"),
    [
        ("4 blocks", "title: Phoenix oyster, four blocks\ncontainer: filter-patch bags"),
        ("4 bags", "title: Phoenix oyster\ncontainer: filter-patch bags"),
        ("4 units", "title: Phoenix oyster\ncontainer: three bags, one jar"),
        ("4 bags", "title: From the alder log\ncontainer: bags"),
        ("4 units", "title: Phoenix oyster, the whole catalogue"),
    ],
)
def test_a_unit_is_called_what_its_author_calls_it(unit: str, keys: str, site: Make) -> None:
    batch = BATCH.replace("title: Four blocks", keys)
    assert f"{unit} inoculated, nothing harvested yet." == flat(page_of(site(batch)).select_one(".be"))


# -- identity ------------------------------------------------------------------------------------------------


def test_identity_not_confirmed_and_a_doubt_are_beside_the_harvests_too(site: Make) -> None:
    doubt = {"d.md": noted("2025-12-01", "stage: doubtful", "PP-1")}
    rendered = site(WEIGHED, *PICKED, files=doubt)
    note = flat(page_of(rendered).select_one("[aria-labelledby=crop] .unsure"))
    assert "Identity not confirmed. It carries the name given to F-1" in note
    assert "Origin in doubt. It was taken from PP-1" in note
    for path in ("batches/", ""):
        assert "identity not confirmed · origin in doubt" in rendered.words(path)


def test_a_confirmed_batch_has_neither(site: Make) -> None:
    sure = {"f.md": entry("find", FIND.replace("likely", "confirmed\nidentified by: the ferry baker, spores"))}
    rendered = site(WEIGHED, *PICKED, files=sure)
    assert page_of(rendered).select_one(".unsure") is None
    assert "not confirmed" not in rendered.words("batches/")
