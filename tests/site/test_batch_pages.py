"""A batch as its page, its line in lists and Now tell it: yield with counts, days, and what comes next."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest
from bs4 import BeautifulSoup, Tag

from journal.model import Journal
from journal.site.pages import plan_site
from tests.site.test_pages import Rendered

SAMPLE = Path(__file__).parents[2] / "sample_entries"
Make = Callable[..., Rendered]


def entry(kind: str, keys: str) -> str:
    return f"---\nkind: {kind}\n{keys}\n---\n"


def note(day: str, keys: str, about: str = "B-1") -> str:
    return entry("note", f"about: {about}\ndate: {day}\n{keys}")


FIND = "id: F-1\ndate: 2025-09-12\nspecies: Pleurotus pulmonarius\ncertainty: likely"
LINE = {"f.md": entry("find", FIND), "c.md": entry("culture", "id: PP-1\ndate: 2025-09-13\nfrom: F-1")}
BATCH = "id: B-1\ndate: 2026-01-01\ntitle: Four blocks\nculture: PP-1\nunits: 4"
WEIGHED = f"{BATCH}\nwet mass: 2.3 kg\nmoisture: 62 %\nspawn mass: 200 g"


@pytest.fixture(scope="module")
def site(make_journal: Callable[..., Journal]) -> Make:
    """Gives the rendered pages of a line and its batch B-1, of these keys and notes, with other files on top."""

    def made(batch: str = WEIGHED, *notes: str, files: Mapping[str, str] | None = None) -> Rendered:
        told = {f"n{at}.md": text for at, text in enumerate(notes)}
        journal = make_journal({**LINE, "b.md": entry("batch", batch), **told, **(files or {})})
        return Rendered(plan_site(journal, {}))

    return made


@pytest.fixture(scope="module")
def sample(make_journal: Callable[..., Journal]) -> Rendered:
    files: dict[str, Any] = {
        path.relative_to(SAMPLE).as_posix(): path.read_bytes()
        for path in (*sorted(SAMPLE.rglob("*.md")), SAMPLE / "journal.toml")
    }
    return Rendered(plan_site(make_journal(files), {}))


def flat(part: Tag | None) -> str:
    assert part is not None
    return " ".join(part.get_text().split())


def page_of(rendered: Rendered) -> BeautifulSoup:
    return rendered["batches/b-1/"]


def rows_of(table: Tag | None) -> list[list[str]]:
    assert table is not None
    return [[flat(cell) for cell in row.select("th, td")] for row in table.select("tbody tr, tfoot tr")]


def reckoned(page: Tag, number: str) -> Tag:
    """The disclosure under a number."""
    (found,) = [one for one in page.select("details.reckoned") if number in flat(one.summary)]
    return found


def pairs_of(disclosure: Tag) -> dict[str, str]:
    names, values = disclosure.select("dt"), disclosure.select("dd")
    return {flat(name): flat(value) for name, value in zip(names, values, strict=True)}


PICKED = (
    note("2026-01-20", "lost: 1\ncause: green mould", "B-1.3"),
    note("2026-02-01", "harvest: 1290 g\nflush: 1"),
    note("2026-02-13", "harvest: 570 g\nflush: 2"),
)
SPENT = note("2026-03-01", "stage: spent")


# -- yield ---------------------------------------------------------------------------------------------------
# 1860 g of 4 × 874 g is 53.2 %, of 3 × 874 g 70.9 %; 1290 g 36.9 %, 570 g 16.3 %, by plain arithmetic.


def test_be_on_units_begun_leads_and_on_those_that_lived_stands_beside_it_smaller(site: Make) -> None:
    lead = page_of(site(WEIGHED, *PICKED)).select_one(".be")
    assert lead is not None
    assert "BE 53 % of the 4 blocks begun (71 % of the 3 that lived), 2 flushes so far" == flat(lead.p)
    assert ("BE 53 %", "(71 % of the 3 that lived)") == (flat(lead.b), flat(lead.select_one(".beside")))


def test_a_finished_batch_is_so_far_nowhere(site: Make) -> None:
    words = flat(page_of(site(WEIGHED, *PICKED, SPENT)).select_one("[aria-labelledby=crop]"))
    assert "so far" not in words
    assert "BE 53 % of the 4 blocks begun (71 % of the 3 that lived), 2 flushes" in words


def test_until_it_is_finished_every_figure_of_the_crop_is_so_far(site: Make) -> None:
    crop = page_of(site(WEIGHED, *PICKED)).select_one("[aria-labelledby=crop]")
    assert crop is not None
    for figure in crop.select(".sums > li"):
        made_of = ("begun", "dry substrate", "spawn rate")
        assert "so far" in flat(figure) or any(words in flat(figure) for words in made_of)
    assert "all, so far" in flat(crop.tfoot)


@pytest.mark.parametrize(
    ("id", "words"),
    [
        ("b-026", "BE 42 % of the 6 units begun, 2 flushes"),
        ("b-027", "BE 17 % of the 3 bags begun, 1 flush"),
        ("b-028", "BE 53 % of the 6 bags begun (63 % of the 5 that lived), 3 flushes"),
        ("b-031", "BE 53 % of the 4 blocks begun (71 % of the 3 that lived), 2 flushes so far"),
    ],
)
def test_the_samples_batches_tell_their_yield_in_one_phrase_on_every_list(
    id: str, words: str, sample: Rendered
) -> None:
    assert words == flat(sample[f"batches/{id}/"].select_one(".be p"))
    assert words in sample.words("batches/")


def test_each_figure_has_its_inputs_formula_and_source_one_tap_away(site: Make) -> None:
    page = page_of(site(WEIGHED, *PICKED))
    be = reckoned(page, "How 53 % is")
    assert {
        "fresh mass picked": "1.86 kg",
        "units begun": "4",
        "dry substrate a unit": "874 g",
        "BE on the 4 blocks begun": "53.2 %",
        "BE on the 3 that lived": "70.9 %",
    }.items() <= pairs_of(be).items()
    assert "Pettipher" in flat(be)
    for number in ("465 g", "43 g a day", "874 g", "8.7 %"):
        disclosure = reckoned(page, f"How {number} is")
        assert flat(disclosure.select_one(".formula"))
        assert flat(disclosure.select_one(".soft"))
        assert pairs_of(disclosure)


def test_be_with_spawn_counted_stands_in_the_reckoning_where_its_dry_share_is_known(site: Make) -> None:
    """1860 g of 4 × (874 g + 200 g × 0.55) is 47.3 %."""
    toml = {"journal.toml": '[ingredients]\n"spawn" = "55 %"\n'}
    pairs = pairs_of(reckoned(page_of(site(WEIGHED, *PICKED, files=toml)), "How 53 % is"))
    assert ("47.3 %", "200 g", "55 %") == (
        pairs["BE with spawn counted"], pairs["spawn a unit"], pairs["dry share of the spawn"],
    )  # fmt: skip


def test_else_the_reckoning_says_what_is_missing_for_it(site: Make) -> None:
    pairs = pairs_of(reckoned(page_of(site(WEIGHED, *PICKED)), "How 53 % is"))
    assert "the dry share of the spawn is not known" in pairs["with spawn counted"]
    bare = f"{BATCH}\ndry mass: 874 g"
    assert "with spawn counted" not in pairs_of(reckoned(page_of(site(bare, *PICKED)), "How 53 % is"))


@pytest.mark.parametrize(
    ("instead", "notes"),
    [
        ("4 blocks begun, nothing picked yet.", ()),
        ("4 blocks begun, 1 lost, nothing picked yet.", PICKED[:1]),
        ("4 blocks begun, 4 lost, nothing picked.", (note("2026-01-20", "lost: 4"),)),
    ],
)
def test_what_has_borne_nothing_yet_says_so_and_bears_no_be(instead: str, notes: tuple[str, ...], site: Make) -> None:
    rendered = site(WEIGHED, *notes)
    assert instead == flat(page_of(rendered).select_one(".be"))
    large = [flat(number) for number in page_of(rendered).select(".be b, .sums b")]
    assert ["4", "874 g", "8.7 %"] == large
    assert instead.removesuffix(".") in rendered.words("batches/")


def test_a_batch_that_ended_with_nothing_gave_nothing(site: Make) -> None:
    assert "BE 0 % of the 4 blocks begun" == flat(page_of(site(WEIGHED, SPENT)).select_one(".be p"))


def test_a_batch_that_is_over_and_called_neither_is_told_what_makes_it_final(site: Make) -> None:
    words = "stay so far until a note calls it spent or discarded"
    assert words in site(WEIGHED, note("2026-01-20", "lost: 4")).words("batches/b-1/")
    assert words not in site(WEIGHED, SPENT).words("batches/b-1/")


def test_a_harvest_with_no_dry_mass_says_what_is_missing_and_guesses_nothing(site: Make) -> None:
    page = page_of(site(BATCH, *PICKED))
    crop = page.select_one("[aria-labelledby=crop]")
    assert "4 blocks begun, 1 lost, 1.86 kg picked, 2 flushes so far." == flat(page.select_one(".be"))
    lacks = flat(page.select_one(".lacks"))
    assert "No BE: the dry mass of a unit is not known. Write “dry mass”, or “wet mass” and “moisture”" in lacks
    assert [["1", "1 February 2026", "", "1.29 kg"], ["2", "13 February 2026", "12 d", "570 g"]] == rows_of(
        page.select_one("table:has(tfoot)")
    )[:2]
    assert "%" not in flat(crop)


def test_the_flush_table_has_days_gap_mass_and_be(site: Make) -> None:
    second = note("2026-02-15", "harvest: 30 g\nflush: 2")
    table = page_of(site(WEIGHED, *PICKED, second, note("2026-02-20", "harvest: 10 g"))).select_one("table:has(tfoot)")
    assert [
        ["1", "1 February 2026", "", "1.29 kg", "36.9 %"],
        ["2", "13 to 15 February 2026", "12 d", "600 g", "17.2 %"],
        ["none named", "", "", "10 g", ""],
        ["all, so far", "1.9 kg", "54.3 %"],
    ] == rows_of(table)


def test_each_flush_shows_its_numbers_put_in(site: Make) -> None:
    pairs = pairs_of(reckoned(page_of(site(WEIGHED, *PICKED)), "each BE"))
    assert {
        "flush 1": "1.29 kg / (4 × 874 g) × 100 = 36.9 %",
        "flush 2": "570 g / (4 × 874 g) × 100 = 16.3 %",
    } == pairs


def test_units_that_notes_name_have_rows_of_their_own(site: Make) -> None:
    """380 g of one unit of 874 g is 43.5 %, 500 g of two 28.6 %."""
    notes = (
        note("2026-02-01", "harvest: 380 g\nflush: 1", "B-1.1"),
        note("2026-02-01", "harvest: 500 g\nflush: 1", "B-1.2, B-1.4"),
        PICKED[0],
    )
    (table,) = [one for one in page_of(site(WEIGHED, *notes)).select("table") if "by number" in flat(one)]
    assert [
        ["no. 1", "flush 1: 380 g", "380 g", "", "43.5 %"],
        ["no. 2 and 4 together", "flush 1: 500 g", "500 g", "", "28.6 %"],
        ["no. 3", "", "", "1", ""],
    ] == rows_of(table)


@pytest.mark.parametrize(
    ("words", "keys"),
    [
        ("874 g dry substrate a block, weighed dry", "dry mass: 874 g"),
        ("874 g dry substrate a block, from wet mass and moisture", "wet mass: 2.3 kg\nmoisture: 62 %"),
        # 930 + 132 g in 4 units: 1000 × 0.93 + 150 × 0.88
        ("266 g dry substrate a block, from the mix", "mix: oak pellets 1 kg, wheat bran 150 g, water 1.5 kg"),
    ],
)
def test_the_dry_mass_of_a_unit_says_where_it_came_from(words: str, keys: str, site: Make) -> None:
    page = page_of(site(f"{BATCH}\n{keys}"))
    assert any(flat(one).startswith(words.replace(" g ", " g", 1)) for one in page.select(".sums > li"))


def test_each_ingredients_dry_share_says_whether_it_is_common_practice(site: Make) -> None:
    toml = {"journal.toml": '[ingredients]\n"oak pellets" = "91 %"\n'}
    rendered = site(f"{BATCH}\nmix: oak pellets 1 kg, wheat bran 150 g, water 1.5 kg", files=toml)
    pairs = pairs_of(reckoned(page_of(rendered), "How 260 g is"))
    assert ("91 %", "88 %") == (
        pairs["dry share of oak pellets, the keeper's own"], pairs["dry share of wheat bran, common practice"],
    )  # fmt: skip


def test_the_spawn_rate_is_on_the_wet_basis_with_the_dry_beneath(site: Make) -> None:
    """200 g of 2300 g is 8.7 %, of 874 g 22.9 %."""
    (rate,) = [one for one in page_of(site()).select(".sums > li") if "spawn rate" in flat(one)]
    assert "8.7 %" == flat(rate.b)
    assert "22.9 % on the dry basis" == flat(rate.select_one(".beside"))


def test_what_is_left_in_drying_names_the_harvests_it_is_of(site: Make) -> None:
    dried = note("2026-02-01", "harvest: 1000 g\ndried: 95 g\nflush: 1")
    pairs = pairs_of(reckoned(page_of(site(WEIGHED, dried)), "How 9.5 % is"))
    assert {"dried": "95 g", "fresh, of the same harvests": "1 kg", "harvests weighed both ways": "1"} == pairs


def test_masses_are_in_the_keepers_units(site: Make) -> None:
    toml = {"journal.toml": '[journal]\nunits = "us"\n'}
    words = site(WEIGHED, *PICKED, files=toml).words("batches/b-1/")
    assert "4 lb 1.6 oz picked, trimmed and unwashed, so far" in words
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
def test_a_unit_is_called_what_its_keeper_calls_it(unit: str, keys: str, site: Make) -> None:
    batch = BATCH.replace("title: Four blocks", keys)
    assert f"{unit} begun, nothing picked yet." == flat(page_of(site(batch)).select_one(".be"))


# -- identity ------------------------------------------------------------------------------------------------


def test_identity_not_confirmed_and_a_doubt_stand_beside_the_harvests_too(site: Make) -> None:
    doubt = {"d.md": note("2025-12-01", "stage: doubtful", "PP-1")}
    rendered = site(WEIGHED, *PICKED, files=doubt)
    beside = flat(page_of(rendered).select_one("[aria-labelledby=crop] .unsure"))
    assert "Identity not confirmed. It carries the name given to F-1" in beside
    assert "Origin in doubt. It was taken from PP-1" in beside
    for path in ("batches/", ""):
        assert "identity not confirmed · origin in doubt" in rendered.words(path)


def test_a_confirmed_batch_bears_neither(site: Make) -> None:
    sure = {"f.md": entry("find", FIND.replace("likely", "confirmed\nidentified by: the ferry baker, spores"))}
    rendered = site(WEIGHED, *PICKED, files=sure)
    assert page_of(rendered).select_one(".unsure") is None
    assert "not confirmed" not in rendered.words("batches/")


# -- what comes next -----------------------------------------------------------------------------------------


def past(id: str, colonised: str, culture: str = "PP-1") -> dict[str, str]:
    """A finished batch of 1 January 2025."""
    return {
        f"{id}.md": entry("batch", f"id: {id}\ndate: 2025-01-01\nculture: {culture}"),
        f"{id}c.md": note(colonised, "stage: colonised", id),
        f"{id}e.md": note("2025-04-01", "stage: spent", id),
    }


SISTER = {"s.md": entry("culture", "id: PP-2\ndate: 2025-01-01\nfrom: F-1")}
PUBLISHED = "8 to 14 days after inoculation, published: P. Stamets"


def test_what_is_expected_stands_with_its_dates_and_what_they_rest_on(site: Make) -> None:
    ahead = page_of(site()).select_one(".ahead")
    assert ahead is not None
    assert "Next: colonised, 9 to 15 January 2026" in flat(ahead)
    assert PUBLISHED in flat(ahead)
    hook = ahead.select_one("[data-expect-from]")
    assert hook is not None
    assert ("2026-01-09", "2026-01-15") == (hook["data-expect-from"], hook["data-expect-to"])


@pytest.mark.parametrize("path", ["", "batches/", "tents/hut/", "tents/"])
def test_every_list_says_what_comes_next_with_the_dates_where_no_script_runs(path: str, site: Make) -> None:
    hut = {"journal.toml": '[tents.hut]\nname = "Hut"\n'}
    hook = site(f"{WEIGHED}\ntent: hut", files=hut)[path].select_one(".row [data-expect-from]")
    assert hook is not None
    assert ("2026-01-09", "2026-01-15") == (hook["data-expect-from"], hook["data-expect-to"])
    assert "Next: colonised, 9 to 15 January 2026 (by a published range)" == flat(hook.parent)


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
    stored = page_of(site(WEIGHED, note("2026-01-10", "stage: stored"))).select_one(".ahead")
    assert "Nothing is expected of it while it is stored." == flat(stored)


def test_a_batch_that_is_over_awaits_nothing_and_says_no_word_of_it(site: Make) -> None:
    rendered = site(WEIGHED, *PICKED, SPENT)
    assert page_of(rendered).select_one(".ahead") is None
    assert rendered["batches/"].select_one(".ahead") is None


def test_what_is_due_of_a_batch_waits_for_the_first_day_of_its_window(site: Make) -> None:
    (row,) = site()[""].select("[data-row-due]")
    assert ("2026-01-09", "2026-01-15") == (row["data-row-from"], row["data-row-due"])
    assert "9 to 15 January 2026" == flat(row.select_one("[data-expect-from]"))
    assert PUBLISHED in flat(row)


# -- its days ------------------------------------------------------------------------------------------------

RUN = (note("2026-01-15", "stage: colonised"), note("2026-01-24", "stage: pinning"), *PICKED)


def days_of(rendered: Rendered) -> list[list[str]]:
    return rows_of(page_of(rendered).select_one("[aria-labelledby=days] table"))


def test_its_days_are_told_in_whole_days_and_the_day_it_is_in_by_the_phone(site: Make) -> None:
    rendered = site(WEIGHED, *RUN)
    assert [
        ["the day it is in", "from 1 January 2026"],
        ["inoculated to colonised", "14 days"],
        ["inoculated to first pins", "23 days"],
        ["first pins to first harvest", "8 days"],
        ["inoculated to first harvest", "31 days"],
        ["flush 1 to flush 2", "12 days"],
    ] == days_of(rendered)
    assert "No other batch of its line or species is finished" in rendered.words("batches/b-1/")


def test_a_batch_that_is_over_tells_the_day_it_ended_with_no_script(site: Make) -> None:
    rendered = site(WEIGHED, *RUN, SPENT)
    assert ["inoculated to its end", "59 days"] == days_of(rendered)[0]
    assert "Ended on day 59, inoculated 1 January 2026." in flat(page_of(rendered).select_one(".lede"))
    assert page_of(rendered).select_one("[data-day0]") is None


def test_others_of_its_line_stand_beside_with_median_range_and_how_many(site: Make) -> None:
    files = past("B-7", "2025-01-11") | past("B-8", "2025-01-13") | past("B-9", "2025-01-21")
    rendered = site(WEIGHED, *RUN, files=files)
    assert ["inoculated to colonised", "14 days", "median 12, range 10 to 20 (n = 3)"] in days_of(rendered)
    assert "Others: the other finished batches of line PP-1." in rendered.words("batches/b-1/")


def test_others_of_its_line_and_of_its_species_are_each_called_so(site: Make) -> None:
    pinned = note("2025-02-01", "stage: pinning", "B-8")
    others = past("B-7", "2025-01-11") | past("B-8", "2025-01-13", "PP-2")
    rows = days_of(site(files={**SISTER, "p.md": pinned, **others}))
    assert ["inoculated to colonised", "not yet", "10 (n = 1, line PP-1)"] in rows
    assert ["inoculated to first pins", "not yet", "31 (n = 1, Pleurotus pulmonarius in this journal)"] in rows


def test_what_has_not_come_yet_is_told_by_what_it_took_the_other(site: Make) -> None:
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
        "n3.md": note("2026-02-01", "stage: pinning", "B-3"),
        "n5.md": note("2025-05-01", "stage: spent", "B-5"),
        "b6.md": batch("B-6", "2026-01-06", "loft"),
    }
    page = site(files=files)["batches/"]
    groups = {flat(part.h2): [flat(tag) for tag in part.select(".id")] for part in page.select("main section")}
    assert {"Loft": ["B-6"], "Hut": ["B-3", "B-2", "B-4"], "Nowhere noted": ["B-1"], "Finished": ["B-5"]} == groups
    assert ["Loft", "Hut", "Nowhere noted", "Finished"] == list(groups)
