"""Compare lines: every finished batch a dot, what counts and what does not, no verdict without three batches."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pytest
from bs4 import BeautifulSoup, Tag

from journal.analysis.comparison_words import (
    ADJUSTED_SOURCE,
    MEDIAN_SOURCE,
    NOT_ONLY_THE_LINE,
    SHARE_SOURCE,
    TEST_SOURCE,
)
from journal.model import Journal
from journal.reading.values import TAKEN
from journal.site import addresses
from journal.site.pages import plan_site
from journal.site.plan import Page
from tests.builders import batch_files, entry, some
from tests.site.test_pages import WOOD, Rendered

PATH = "cultures/compare/"
PHOENIX = "Pleurotus pulmonarius"

Grow = Callable[..., Rendered]


def line(id: str, species: str = PHOENIX) -> Mapping[str, str]:
    return {f"{id}.md": entry("culture", id=id, date="2025-11-01", received_from="x", species=species)}


def batch(
    id: str, cultures: str, be: float | None, first: float | None = None, *, lost: int = 0, more: str = "",
    dry: str = "dry mass: 250 g", stage: str = "spent",
) -> Mapping[str, str]:  # fmt: skip
    """A batch of four units, 250 g dry each, so that 10 g are 1 % BE. first: what of it the first flush gave."""
    keys = [f"stage: {stage}", more]
    if be is not None:
        whole = be if first is None else first
        keys += [f"harvest: {whole * 10} g", "flush: 1"]
    if lost:
        keys.append(f"lost: {lost}")
    notes = [("2026-03-01", "\n".join(filter(None, keys)))]
    if be is not None and first is not None:
        notes.append(("2026-04-01", f"harvest: {(be - first) * 10} g\nflush: 2"))
    return batch_files(id, cultures, "2026-01-01", *notes, keys=f"units: 4\n{dry}")


def batches(cultures: str, values: list[float]) -> Mapping[str, str]:
    found: dict[str, str] = {}
    for at, value in enumerate(values):
        found |= batch(f"{cultures}-b{at}", cultures, value)
    return found


@pytest.fixture
def grown(make_journal: Callable[..., Journal]) -> Grow:
    """Gives the rendered site of these files."""

    def grow(*files: Mapping[str, str]) -> Rendered:
        together: dict[str, str] = {}
        for each in files:
            together |= each
        return Rendered(plan_site(make_journal(together), {}))

    return grow


LOW, HIGH = [10.0, 11, 12, 13, 14, 15, 16], [60.0, 61, 62, 63, 64, 65, 66]


@pytest.fixture
def two(grown: Grow) -> BeautifulSoup:
    """Two lines of one species with seven finished batches each."""
    return grown(line("A"), batches("A", HIGH), line("B", "phoenix oyster"), batches("B", LOW))[PATH]


def words(tag: Tag | None) -> str:
    assert tag is not None
    return " ".join(tag.get_text(" ").split())


def charts(soup: BeautifulSoup) -> list[Tag]:
    return soup.select(".measure")


def test_every_finished_batch_is_a_dot_in_every_measure(two: BeautifulSoup) -> None:
    assert 3 == len(charts(two))
    for chart in charts(two):
        assert [7, 7] == [len(strip.select(".on-a-phone circle")) for strip in chart.select(".line svg[role=img]")]
        assert 14 == len(chart.select("tbody tr"))


def test_both_species_names_are_in_one_section_with_one_scale_and_its_unit(two: BeautifulSoup) -> None:
    assert [PHOENIX] == [words(head) for head in two.select(".kind > h2")]
    for chart in some(charts(two), 3):
        (axis,) = chart.select(".line svg[aria-hidden]")
        assert axis.select("text")[-1].get_text().endswith("%")
        ticks = [tick["x1"] for tick in axis.select("line")]
        strips = chart.select("svg[role=img]")
        assert [ticks] * 2 == [[grid["x1"] for grid in strip.select(".grid")] for strip in strips]


def test_a_section_of_lines_under_own_names_is_headed_by_the_species(grown: Grow) -> None:
    own = {"journal.toml": f'[names]\n"shelf oyster" = "{PHOENIX}"\n'}
    page = grown(own, line("A", "Shelf oyster"), batches("A", HIGH), line("B"), batches("B", LOW))[PATH]
    assert [PHOENIX] == [words(head) for head in page.select(".kind > h2")]


def test_dots_mark_and_interval_stand_where_their_values_do(two: BeautifulSoup) -> None:
    """Seven values: the interval runs from the least to the greatest, 1 - 2/2^7 = 98.4 % (sign test tables)."""
    strip = charts(two)[0].select_one("svg[role=img]")
    assert strip is not None
    # The axis ends at 80 %, the next round number.
    assert [f"{value / 80 * 100:g}%" for value in HIGH] == [dot["cx"] for dot in strip.select(".on-a-phone circle")]
    assert f"{63 / 80 * 100:g}%" == strip.select_one("svg")["x"]
    interval = strip.select_one(".interval")
    assert (f"{60 / 80 * 100:g}%", f"{6 / 80 * 100:g}%") == (interval["x"], interval["width"])
    said = words(two.select_one("#line-a .message"))
    assert said.startswith("A median 63 % of 7 batches 60 to 66 % with 98.4 % confidence")


def test_every_drawing_has_its_name_and_says_its_values_in_words(two: BeautifulSoup) -> None:
    drawings = two.select("main svg[role=img]")
    ids = [found["id"] for found in two.select("[id]")]
    assert len(ids) == len(set(ids))
    for drawing in some(drawings, 6):
        title, desc = str(drawing["aria-labelledby"]).split()
        assert title in ids
        assert "%" in words(two.find(id=desc))


def test_two_lines_are_told_apart_in_plain_words_where_their_batches_bear_it(two: BeautifulSoup) -> None:
    """All seven above all seven: 2 of the C(14, 7) = 3432 ways to deal them out, p = 0.00058."""
    pair = words(two.select_one(".pair"))
    assert "A gave more than B, in these batches." in pair
    assert "2 of the 3432 ways" in pair
    assert "2 of 3,432" in pair
    assert "A gave more than B in the first flush, in these batches." in pair


def test_no_verdict_under_three_batches(grown: Grow) -> None:
    soup = grown(line("A"), batches("A", HIGH), line("B"), batches("B", LOW[:2]))[PATH]
    assert "A and B Too few to say: A has 7 finished batches to go by, B 2; each needs 3." == words(
        soup.select_one(".pair")
    )
    assert [] == soup.select(".pair details")
    strips = charts(soup)[2].select("svg[role=img]")
    # Seven batches have a share of their losses with its interval, two have none.
    assert [1, 0] == [len(strip.select(".interval")) for strip in strips]
    assert [1, 0] == [len(strip.select(".mark")) for strip in strips]


def test_one_batch_alone_has_no_mark_for_a_middle(grown: Grow) -> None:
    soup = grown(line("A"), batches("A", HIGH[:1]))[PATH]
    assert [] == soup.select(".lone-line .mark")
    assert 1 == len(soup.select(".lone-line .on-a-phone circle"))


def test_where_no_value_is_known_the_words_say_so_and_nothing_is_drawn(grown: Grow) -> None:
    files = batch("M", "A", 50, dry=""), line("B"), batch("N", "B", 50, dry="")
    whole, first, lost = charts(grown(line("A"), *files)[PATH])
    assert [0, 0, 3] == [len(chart.select("svg.dots")) for chart in (whole, first, lost)]
    assert words(whole.select_one(".message")).startswith("A no finished batch with a dry mass yet")
    assert words(first.select_one(".message")).startswith("A no finished batch of which the first flush is known")
    assert "A M not known" == words(whole.select_one("tbody tr"))


def test_a_line_none_of_whose_batches_counts_says_that_and_not_that_they_lack_a_mass(grown: Grow) -> None:
    doubt = {"d.md": entry("note", "about: A\ndate: 2025-11-02\nstage: doubtful")}
    soup = grown(line("A"), doubt, batches("A", HIGH[:2]))[PATH]
    (alone,) = soup.select(".lone-line")
    assert words(alone.select_one(".message")).startswith("A 2 finished batches, none that counts No other line")
    assert 2 == len(alone.select(".on-a-phone .uncounted"))
    assert "identity not confirmed, origin in doubt" == words(soup.select_one(".message .need"))


def test_lost_units_are_a_share_of_all_with_the_number_of_batches(grown: Grow) -> None:
    files = [batch(f"A-b{at}", "A", 50, lost=lost) for at, lost in enumerate((0, 1, 2))]
    soup = grown(line("A"), *files)[PATH]
    row = words(soup.select_one(".lone-line .message"))
    # Wilson 3 of 12, by scipy 1.17: 8.9 to 53.2 %.
    assert "; 3 of 12 units lost in 3 batches, 25 % (8.9 to 53.2 % if units were lost one by one" in row
    cells = [[words(cell) for cell in line.select("td")] for line in soup.select(".kind table")[2].select("tbody tr")]
    assert ["A", "A-b2", "50 %", "2 of 4 units"] == cells[-1]


def test_the_first_flush_is_alone_on_the_scale_of_all_flushes(grown: Grow) -> None:
    soup = grown(line("A"), batch("A-b0", "A", 90, 60), line("B"), batch("B-b0", "B", 10))[PATH]
    whole, first, _ = charts(soup)
    assert ["90%", "60%"] == [chart.select_one(".on-a-phone circle")["cx"] for chart in (whole, first)]
    assert words(first.select_one(".message")).startswith("A 60 % in 1 batch too few to say")


def test_every_number_has_its_batches_formula_and_source_one_tap_away(two: BeautifulSoup) -> None:
    for chart in some(charts(two), 3):
        calculated = words(chart.select_one("details"))
        for at in range(7):
            assert f"A-b{at}" in calculated
        assert chart.select_one("details .formula")
        assert chart.select_one("details a[href='#sources']")
    assert "n = 7, r = 1: A-b0" in words(charts(two)[0])
    foot = words(two.main)
    for source in (MEDIAN_SOURCE[1:], SHARE_SOURCE, ADJUSTED_SOURCE, NOT_ONLY_THE_LINE):
        assert 1 == foot.count(source)


@pytest.mark.parametrize(
    ("author", "source"), [("Conover", MEDIAN_SOURCE), ("Pitman", TEST_SOURCE), ("Holm", ADJUSTED_SOURCE)]
)
def test_a_source_on_the_page_is_one_that_can_be_looked_up(author: str, source: str) -> None:
    assert author in source
    assert "from memory" not in source


def test_batches_and_lines_are_links_to_their_pages(two: BeautifulSoup) -> None:
    table = charts(two)[0].select_one("table")
    assert table is not None
    assert table.select_one("a[href='../../batches/a-b0/index.html']")
    assert table.select_one("a[href='../../cultures/a/index.html']")


@pytest.mark.parametrize(
    ("why", "files"),
    [
        ("In no figure: it is made of several lines: A, B.", batch("M", "A, B", 50)),
        (
            "Counted for its losses alone. No BE: the dry mass of a unit is not known. Write “dry mass”",
            batch("M", "A", 50, dry=""),
        ),
        (
            "In no figure. No BE: how many units were inoculated cannot be read. Write the number alone",
            {name: text.replace("units: 4", "units: four") for name, text in batch("M", "A", 50).items()},
        ),
        (
            "Not in the first flush: some of its harvests name no flush, or none of them the first.",
            {
                **batch("M", "A", 50),
                "m2.md": entry("note", "about: M\ndate: 2026-04-01\nharvest: 20 g"),
            },
        ),
    ],
)
def test_a_batch_that_counts_for_less_is_named_with_the_reason(why: str, files: Mapping[str, str], grown: Grow) -> None:
    soup = grown(line("A"), line("B"), batches("A", HIGH[:2]), files)[PATH]
    (out,) = soup.select(".out")
    assert ["M"] == [words(tag) for tag in out.select("dt")]
    assert words(out.dd).startswith(why)


def test_a_batch_that_counts_for_no_line_is_an_open_dot(grown: Grow) -> None:
    soup = grown(line("A"), line("B"), batches("A", HIGH[:1]), batch("M", "A, B", 50))[PATH]
    first = charts(soup)[0]
    assert ["M: 50 %", "M: 50 %"] == [dot.title.string for dot in first.select(".on-a-phone .uncounted")]
    assert "M 50 % not counted" in words(first.table)


def test_growing_batches_are_named_and_are_not_dots(grown: Grow) -> None:
    soup = grown(
        line("A"), batches("A", HIGH[:1]), batch("G", "A", 20, stage="fruiting"),
        line("V", "velvet foot"), batch("W", "V", 20, stage="fruiting"),
    )[PATH]  # fmt: skip
    assert "G" not in words(soup.select_one(".kind table"))
    assert "Not finished, so not counted A G" == words(soup.select_one(".growing"))
    assert "Species with no finished batch V W velvet foot" == words(soup.select_one("[aria-labelledby='waiting']"))


def test_a_line_alone_in_its_species_is_compared_with_nothing(grown: Grow) -> None:
    soup = grown(line("A"), batches("A", HIGH), line("V", "velvet foot"), batches("V", LOW))[PATH]
    assert [] == soup.select(".pair")
    assert 2 == words(soup.main).count("nothing to compare it with")
    # A sentence and one axis; panels are for a comparison.
    assert [] == charts(soup)
    assert [2, 2] == [len(row.select("svg.dots")) for row in soup.select(".lone-line")]
    assert ["BE, all flushes"] * 2 == [words(row.select_one(".plot > small")) for row in soup.select(".lone-line")]
    assert words(soup.select_one("#line-a .message")).startswith("A BE median 63 % of 7 batches")


def test_lines_of_no_named_species_are_shown_and_not_compared_with_each_other(grown: Grow) -> None:
    soup = grown(line("A", ""), batches("A", HIGH), line("B", ""), batches("B", LOW))[PATH]
    assert ["Species not written"] == [words(head) for head in soup.select(".kind > h2")]
    assert [] == soup.select(".pair, .differences")


@pytest.mark.parametrize("names", ["CDE", "CDEFGHIJKLMN"])
def test_many_lines_with_few_batches_are_named_once(names: str, grown: Grow) -> None:
    few = [file for name in names for file in (line(name), batches(name, [50.0]))]
    soup = grown(line("A"), batches("A", HIGH), line("B"), batches("B", LOW), *few)[PATH]
    assert ["A and B"] == [words(head) for head in soup.select(".pair h4")]
    assert (
        f"There are too few batches to compare {' '.join(names)} : each of two lines needs 3 finished batches."
        in words(soup.main)
    )


def test_a_line_from_a_find_that_nobody_confirmed_says_so_beside_its_harvests(grown: Grow) -> None:
    find = "id: F{0}\ndate: 2025-09-01\nspecies: Pleurotus pulmonarius\ncertainty: {1}\nidentified by: {2}"
    culture = "id: {0}\ndate: 2025-11-01\nfrom: F{0}"
    files = {
        "fa.md": entry("find", find.format("A", "confirmed", "the ferry baker, spores")),
        "fb.md": entry("find", find.format("B", "likely", "the ferry baker")),
        "a.md": entry("culture", culture.format("A")),
        "b.md": entry("culture", culture.format("B")),
    }
    soup = grown(files, batches("A", HIGH[:1]), batches("B", LOW[:1]))[PATH]
    assert [False, True] == ["identity not confirmed" in words(soup.select_one(f"#line-{id} .message")) for id in "ab"]


def test_a_batch_less_sure_than_its_line_is_named_beside_the_harvests(grown: Grow) -> None:
    sure = "id: F\ndate: 2025-10-01\nspecies: Pleurotus pulmonarius\ncertainty: confirmed\nidentified by: the baker"
    files = {
        "f.md": entry("find", sure),
        "g.md": entry("find", "id: G\ndate: 2025-10-01\nspecies: Pleurotus pulmonarius"),
        "A.md": entry("culture", "id: A\ndate: 2025-11-01\nfrom: F"),
        "X.md": entry("culture", "id: X\ndate: 2025-11-02\nfrom: A, G\nmethod: transfer"),
    }
    soup = grown(files, batch("M", "A", 50), batch("N", "X", 50))[PATH]
    assert ["identity not confirmed of N"] == [words(need) for need in soup.select(".message .need")]


def test_with_no_finished_batch_it_says_what_it_waits_for(grown: Grow) -> None:
    soup = grown(WOOD)[PATH]
    assert "No batch is finished yet" in words(soup.select_one(".empty"))
    assert "PP-26A B-031 Pleurotus pulmonarius" in words(soup.select_one("[aria-labelledby='waiting']"))
    assert [] == soup.select(".measure, #sources")
    assert "No batch is finished yet" in words(grown({})[PATH].main)


def test_a_phone_holds_it_from_the_first_and_two_builds_are_alike(grown: Grow) -> None:
    def planned() -> Page:
        site = grown(line("A"), batches("A", HIGH)).site
        return next(page for page in site.pages if page.endpoint == "compare")

    page = planned()
    assert (addresses.COMPARE, "main", True) == (page.path, page.section, page.growing)
    assert planned().digest("1") == page.digest("1")


def test_its_address_is_free_of_ids(grown: Grow) -> None:
    assert addresses.COMPARE.split("/")[1] in TAKEN
    site = grown(line("Compare"), batches("A", [50]), line("A"))
    assert "Compare lines" == words(site[PATH].h1)
    assert "is the address of a page of the site" in site.words("device/problems/")


def test_the_cultures_and_the_page_of_a_line_lead_to_it(grown: Grow) -> None:
    site = grown(line("A"), batches("A", [50]), line("B"))
    assert site["cultures/"].select_one("main a[href='../cultures/compare/index.html']")
    assert site["cultures/a/"].select_one("a[href='../../cultures/compare/index.html#line-a']")
    # Nothing was grown of it yet, so that it has no row to lead to.
    assert site["cultures/b/"].select_one("a[href*='compare']") is None
