"""Yield, moisture and small samples against published rows; each row of yield.json names its kind and source."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.progress import Progress
from journal.analysis.statistics import fewest_for_median, median_confidence, median_interval, permutation_test, wilson
from journal.analysis.substrate import mixed, moisture_pct, spawn_rate_dry_pct, spawn_rate_wet_pct
from journal.analysis.yields import BatchYield, biological_efficiency_pct, yield_of
from journal.model import MixPart
from tests.builders import batch, note
from tests.outside.moisture import dry_basis_pct, water_to_add, wet_basis_pct

ROWS = json.loads((Path(__file__).parent / "yield.json").read_text(encoding="utf-8"))["rows"]
Row = dict[str, Any]

GROUPS = {
    "efficiency": r"yield-be-(jatwa|hericium)-\d",
    "wet against dry": r"yield-be-wet-vs-dry",
    "fresh mass": r"yield-be-pettipher",
    "mix": r"yield-moist-mix",
    "basis": r"yield-moist-wb",
    "water": r"yield-water-\d",
    "too wet": r"yield-water-neg",
    "recipe": r"yield-water-supp",
    "spawn wet": r"yield-spawn-wet",
    "spawn dry": r"yield-spawn-dry",
    "spawn mass": r"yield-spawn-g",
    "flushes": r"yield-flush-sum",
    "dried": r"yield-dry-mush",
    "refused": r"yield-bad-\d",
    "one value": r"yield-ci-n1",
    "wilson": r"yield-wilson-(small-)?\d",
    "median": r"yield-median-ci-\d+",
    "median table": r"yield-median-table",
    "permutation": r"yield-perm-.*",
}


def rows(group: str) -> Any:
    """The rows of a group, as a table for one test."""
    found = [row for row in ROWS if re.fullmatch(GROUPS[group], row["id"])]
    return pytest.mark.parametrize("row", found, ids=[row["id"] for row in found])


def crop(dry_g: float, *notes: dict[str, Any], **more: Any) -> BatchYield:
    """The yield of a batch of one with these notes, in October."""
    row = batch("B", on=1, dry_g=dry_g, **more)
    return yield_of(row, Progress(row, tuple(note("B", at, **keys) for at, keys in enumerate(notes, 2))))


def test_every_row_is_put_to_exactly_one_test() -> None:
    counts = {row["id"]: sum(bool(re.fullmatch(p, row["id"])) for p in GROUPS.values()) for row in ROWS}
    assert dict.fromkeys(counts, 1) == counts


@rows("efficiency")
def test_biological_efficiency_is_the_published_one(row: Row) -> None:
    # The third row of Jatwa et al. prints 84.99 where its own masses give 85.05; its tolerance allows for that.
    found = biological_efficiency_pct(row["inputs"]["fresh_g"], row["inputs"]["dry_substrate_g"])
    assert row["expected"]["be_pct"] == pytest.approx(found, abs=row["tolerance"]["be_pct"])


def test_a_published_efficiency_that_its_masses_do_not_give_is_not_copied() -> None:
    """Jatwa et al. 2016 print 84.99 for Pleurotus sajor-caju: 1275.7 g on 1500 g of dry straw."""
    row = next(row for row in ROWS if row["id"] == "yield-be-jatwa-3")
    found = biological_efficiency_pct(row["inputs"]["fresh_g"], row["inputs"]["dry_substrate_g"])
    assert row["expected"]["be_pct_recomputed"] == pytest.approx(found, abs=0.001)
    assert row["expected"]["be_pct"] != pytest.approx(found, abs=0.05)


@rows("wet against dry")
def test_the_same_crop_is_a_smaller_share_of_the_wet_mass(row: Row) -> None:
    dry_g = row["inputs"]["yield_on_wet_pct"] / row["inputs"]["be_pct"] * 100
    assert row["expected"]["dry_fraction"] == pytest.approx(dry_g / 100, abs=row["tolerance"]["dry_fraction"])
    assert row["expected"]["moisture_wet_basis_pct"] == pytest.approx(
        moisture_pct(100, dry_g), abs=row["tolerance"]["pct"]
    )
    found = biological_efficiency_pct(row["inputs"]["yield_on_wet_pct"], dry_g)
    assert row["inputs"]["be_pct"] == pytest.approx(found)


@rows("fresh mass")
def test_efficiency_over_100_is_more_fresh_than_dry(row: Row) -> None:
    found = biological_efficiency_pct(row["expected"]["fresh_g"], row["inputs"]["dry_substrate_g"])
    assert row["inputs"]["be_pct"] == pytest.approx(found)


@rows("mix")
def test_the_moisture_of_a_mix_is_the_published_mean(row: Row) -> None:
    names = ["a", "b", "c"]
    shares = [(name, 1 - pct / 100) for name, pct in zip(names, row["inputs"]["moist_pct"], strict=True)]
    lot = mixed([MixPart(name, g) for name, g in zip(names, row["inputs"]["wet_g"], strict=True)], shares)
    assert row["expected"]["moist_pct"] == pytest.approx(lot.moisture_pct, abs=row["tolerance"]["pct"])
    assert row["expected"]["dry_g"] == pytest.approx(lot.dry_g)


@rows("basis")
def test_wet_and_dry_basis_are_two_numbers_for_one_block(row: Row) -> None:
    wet, dry = row["expected"]["moist_wet_basis_pct"], row["expected"]["moist_dry_basis_pct"]
    near = row["tolerance"]["pct"]
    assert wet == pytest.approx(moisture_pct(row["inputs"]["wet_g"], row["inputs"]["dry_g"]), abs=near)
    assert dry == pytest.approx(dry_basis_pct(wet), abs=near)
    assert wet == pytest.approx(wet_basis_pct(dry), abs=near)


@rows("water")
def test_water_to_add_is_the_handbooks(row: Row) -> None:
    given, near = row["inputs"], row["tolerance"]["g"]
    found = water_to_add(given["wet_g"], given["moist_now"] * 100, given["moist_target"] * 100)
    assert found is not None
    assert row["expected"]["water_g"] == pytest.approx(found.water_g, abs=near)
    assert row["expected"]["final_wet_g"] == pytest.approx(found.wet_g, abs=near)
    assert row["expected"]["dry_g"] == pytest.approx(found.dry_g, abs=near)
    assert 0 == found.excess_g


@rows("too wet")
def test_what_is_too_wet_gets_no_water_and_says_how_much_is_too_much(row: Row) -> None:
    given, near = row["inputs"], row["tolerance"]["g"]
    found = water_to_add(given["wet_g"], given["moist_now"] * 100, given["moist_target"] * 100)
    assert found is not None
    assert row["expected"]["water_g"] == found.water_g
    assert row["expected"]["excess_g"] == pytest.approx(found.excess_g, abs=near)


@rows("recipe")
def test_a_dry_recipe_gets_the_handbooks_water(row: Row) -> None:
    parts = row["inputs"]["ingredients"]
    lot = mixed([MixPart(p["name"], p["g"]) for p in parts], [(p["name"], 1 - p["moist"]) for p in parts])
    assert lot.moisture_pct is not None
    found = water_to_add(lot.mass_g, lot.moisture_pct, row["inputs"]["moist_target"] * 100)
    assert found is not None
    assert row["expected"]["dry_g"] == pytest.approx(lot.dry_g, abs=row["tolerance"]["g"])
    assert row["expected"]["water_g"] == pytest.approx(found.water_g - found.excess_g, abs=row["tolerance"]["g"])


@rows("spawn wet")
def test_spawn_rate_on_the_wet_basis_is_of_the_substrate_as_bagged(row: Row) -> None:
    given = row["inputs"]
    found = spawn_rate_wet_pct(given["spawn_g"], given["substrate_wet_g"])
    assert row["expected"]["rate_wet_pct"] == pytest.approx(found, abs=row["tolerance"]["pct"])


@rows("spawn dry")
def test_spawn_rate_on_the_dry_basis_is_of_the_dry_substance(row: Row) -> None:
    given = row["inputs"]
    found = spawn_rate_dry_pct(given["spawn_g"], given["substrate_wet_g"] * (1 - given["moist"]))
    assert row["expected"]["rate_dry_pct"] == pytest.approx(found, abs=row["tolerance"]["pct"])


@rows("spawn mass")
def test_spawn_for_a_rate_and_for_a_share_of_the_whole_differ(row: Row) -> None:
    """Spawn of the published mass has the published rate: of the substrate, or of substrate and spawn together."""
    wet_g, rate_pct, near = row["inputs"]["substrate_wet_g"], row["inputs"]["rate_pct"], row["tolerance"]["g"]
    of_substrate_g, of_all_g = row["expected"]["spawn_g_of_substrate"], row["expected"]["spawn_g_of_total"]
    assert rate_pct == pytest.approx(spawn_rate_wet_pct(of_substrate_g, wet_g), abs=near / wet_g * 100)
    assert rate_pct == pytest.approx(spawn_rate_wet_pct(of_all_g, wet_g + of_all_g), abs=near / wet_g * 100)


@rows("flushes")
def test_each_flush_has_its_own_efficiency_and_together_they_are_the_whole(row: Row) -> None:
    notes = [{"harvest_g": g, "flush": at} for at, g in enumerate(row["inputs"]["flush_g"], 1)]
    found = crop(row["inputs"]["dry_substrate_g"], *notes)
    near = row["tolerance"]["pct"]
    assert row["expected"]["be_by_flush"] == pytest.approx([f.be.value for f in found.flushes if f.be], abs=near)
    assert found.be is not None
    assert row["expected"]["be_total"] == pytest.approx(found.be.value, abs=near)
    assert row["expected"]["be_by_flush"][0] == pytest.approx(found.first_flush_pct, abs=near)
    running = [crop(row["inputs"]["dry_substrate_g"], *notes[:n]).be for n in range(1, len(notes) + 1)]
    assert row["expected"]["be_cumulative"] == pytest.approx([be.value for be in running if be], abs=near)


@rows("dried")
def test_what_drying_leaves_is_told_from_both_weighings(row: Row) -> None:
    found = crop(500, {"harvest_g": row["inputs"]["fresh_g"], "flush": 1, "dried_g": row["expected"]["dry_g"]}).dried
    assert found is not None
    assert (1 - row["inputs"]["moist"]) * 100 == pytest.approx(found.value)


@rows("refused")
def test_no_efficiency_comes_of_masses_that_cannot_be(row: Row) -> None:
    assert row["expected"]["error"]
    assert biological_efficiency_pct(row["inputs"]["fresh_g"], row["inputs"]["dry_substrate_g"]) is None


@rows("one value")
def test_one_value_has_no_interval(row: Row) -> None:
    assert row["expected"]["interval"] == median_interval(row["inputs"]["data"])


@rows("wilson")
def test_wilsons_interval_is_the_published_one(row: Row) -> None:
    found = wilson(row["inputs"]["k"], row["inputs"]["n"])
    assert found is not None
    near = row["tolerance"]["abs"]
    assert (row["expected"]["low"], row["expected"]["high"]) == pytest.approx((found.low, found.high), abs=near)


@rows("median")
def test_the_medians_interval_has_the_rank_and_confidence_of_the_binomial(row: Row) -> None:
    n, near = row["inputs"]["n"], row["tolerance"]["abs"]
    found = median_interval(range(1, n + 1), row["inputs"]["confidence"])
    assert row["expected"]["r"] == (found and found.rank)
    assert row["expected"]["coverage"] == (found and pytest.approx(found.confidence, abs=near))
    assert row["expected"]["min_max_coverage"] == pytest.approx(median_confidence(n, 1), abs=near)
    if found:
        assert (found.rank, n + 1 - found.rank) == (found.low, found.high)


@rows("median table")
def test_confidences_of_the_medians_interval_are_those_of_the_printed_table(row: Row) -> None:
    found = [median_confidence(n, rank) * 100 for n, rank in row["inputs"]["n_and_rank"]]
    assert row["expected"]["confidence_pct"] == pytest.approx(found, abs=row["tolerance"]["pct"])


def test_six_values_are_the_fewest_for_an_interval() -> None:
    # The printed table: [x(1), x(5)] of 5 holds the median with 93.8 %, [x(1), x(6)] of 6 with 96.9 %.
    assert 6 == fewest_for_median()


@rows("permutation")
def test_an_exact_test_gives_the_printed_p(row: Row) -> None:
    found = permutation_test(row["inputs"]["first"], row["inputs"]["second"])
    assert found is not None
    assert row["expected"]["difference"] == pytest.approx(found.difference)
    assert (row["expected"]["ways"], row["expected"]["as_far"]) == (found.ways, found.as_far)
    assert row["expected"]["p"] == pytest.approx(found.p, abs=row["tolerance"]["p"])


# B. Efron, R. J. Tibshirani, An Introduction to the Bootstrap, 1993: days that 16 mice lived (as quoted in the SciPy
# Cookbook, Resampling and Monte Carlo methods); the other groups are numbers of our own, ties and zeros among them.
TREATED, CONTROL = [94, 197, 16, 38, 99, 141, 23], [52, 104, 146, 10, 51, 30, 40, 27, 46]


@pytest.fixture(scope="module")
def stats() -> Any:
    """scipy's statistics, the reference; loaded where these tests run, not by every process that reads this file."""
    from scipy import stats

    return stats


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (TREATED, CONTROL),
        (CONTROL, TREATED),
        ([41.7, 55.0, 38.2], [63.1, 70.4, 81.0, 59.9]),
        ([1.0, 1.0, 2.0], [1.0, 2.0, 2.0]),
        ([0.0, 0.0, 0.0], [0.0, 25.0, 50.0, 0.0]),
        ([0.1, 0.2, 0.3], [0.3, 0.3, 0.0, 0.6, 0.1]),
    ],
)
def test_p_values_are_scipys(first: list[float], second: list[float], stats: Any) -> None:
    def apart(x: Any, y: Any, axis: int) -> Any:
        return abs(x.mean(axis=axis) - y.mean(axis=axis))

    reference = stats.permutation_test(
        (first, second), apart, vectorized=True, n_resamples=20_000, alternative="greater"
    )
    found = permutation_test(first, second)
    assert found is not None
    assert found.ways == len(reference.null_distribution)
    assert reference.pvalue == pytest.approx(found.p, abs=1e-12)


@pytest.mark.parametrize(("part", "whole"), [(0, 1), (1, 4), (3, 15), (7, 7), (81, 263)])
@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.99])
def test_wilsons_interval_is_scipys(part: int, whole: int, confidence: float, stats: Any) -> None:
    reference = stats.binomtest(part, whole).proportion_ci(confidence, method="wilson")
    found = wilson(part, whole, confidence)
    assert found is not None
    assert (reference.low, reference.high) == pytest.approx((found.low, found.high), abs=1e-12)


@pytest.mark.parametrize("n", [6, 7, 10, 19, 40])
def test_the_medians_interval_is_scipys_for_the_quantile(n: int, stats: Any) -> None:
    values = [value**1.5 for value in range(n)]
    reference = stats.quantile_test(values, p=0.5).confidence_interval(0.95)
    found = median_interval(values)
    assert found is not None
    assert (reference.low, reference.high) == (found.low, found.high)
