"""The dry substrate of a unit, with the way that gave it and what it was calculated from."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.calculation import Amount
from journal.analysis.substrate import dry_substrate, other_ways
from journal.model import Batch

ROWS: dict[str, dict[str, Any]] = {
    row["id"]: row
    for row in json.loads((Path(__file__).parents[1] / "outside" / "yield.json").read_text(encoding="utf-8"))["rows"]
}
MIX = "oak pellets 3.2 kg, wheat bran 560 g, gypsum 35 g, water 5.4 kg"
OWN = (("oak pellets", 0.91),)


@pytest.fixture
def made(make_journal: Callable[..., Any]) -> Callable[[str], Batch]:
    """Gives the batch of four units that these keys make, with the author's own dry share of oak pellets."""

    def make(keys: str) -> Batch:
        files = {
            "b.md": f"---\nkind: batch\nid: B\ndate: 2026-01-01\nunits: 4\n{keys}\n---\n",
            "journal.toml": '[ingredients]\n"oak pellets" = "91 %"\n',
        }
        batch: Batch = make_journal(files).batches[0]
        return batch

    return make


# Dry substance of MIX by hand: 3200 × 0.91 + 560 × 0.88 + 35 = 3439.8 g of 9195 g.
@pytest.mark.parametrize(
    ("grams", "named", "keys"),
    [
        (504, "as written", "dry mass: 504 g\nwet mass: 1.4 kg\nmoisture: 64 %"),
        (500, "as written", "dry mass: 2 kg in all"),
        (874, "moisture, wet basis", f"wet mass: 2.3 kg\nmoisture: 62 %\nmix: {MIX}"),
        (3439.8 / 4, "units", f"mix: {MIX}"),
        (2300 * 3439.8 / 9195, "whole mix", f"mix: {MIX}\nwet mass: 2.3 kg"),
    ],
)
def test_it_is_what_the_batch_says_and_names_what_it_came_from(
    grams: float, named: str, keys: str, made: Callable[[str], Batch]
) -> None:
    batch = made(keys)
    found = dry_substrate(batch, OWN)
    assert found is not None
    assert (grams, "g") == (pytest.approx(found.value), found.unit)
    assert batch.dry_g == pytest.approx(found.value)
    assert any(named in name for name, _ in found.inputs)


def test_each_dry_share_of_a_mix_says_who_it_is_from(made: Callable[[str], Batch]) -> None:
    found = dry_substrate(made(f"mix: {MIX}"), OWN)
    assert found is not None
    inputs = dict(found.inputs)
    assert Amount(91, "%") == inputs["dry share of oak pellets, the author's own"]
    assert Amount(88, "%") == inputs["dry share of wheat bran, common practice"]
    assert Amount(3200, "g") == inputs["oak pellets"]
    assert "common practice" in found.source


def test_the_ways_not_used_are_given_beside(made: Callable[[str], Batch]) -> None:
    ways = other_ways(made(f"dry mass: 860 g\nwet mass: 2.3 kg\nmoisture: 62 %\nmix: {MIX}"), OWN)
    assert [("moisture", 874), ("mix", pytest.approx(2300 * 3439.8 / 9195))] == [(way, row.value) for way, row in ways]


@pytest.mark.parametrize("keys", ["", "wet mass: 2 kg", "mix: leaf mould 2 kg, wheat bran 1 kg"])
def test_there_is_none_where_nothing_tells(keys: str, made: Callable[[str], Batch]) -> None:
    assert (None, ()) == (dry_substrate(made(keys)), other_ways(made(keys)))


def test_wet_and_moisture_give_the_dry_mass_of_the_worksheet(made: Callable[[str], Batch]) -> None:
    """The formula of the Cornell composting moisture worksheets, with numbers of our own."""
    row = ROWS["yield-moist-wb"]
    wet_g, pct = row["inputs"]["wet_g"], row["expected"]["moist_wet_basis_pct"]
    found = dry_substrate(made(f"wet mass: {wet_g} g\nmoisture: {pct} %"))
    assert found is not None
    assert row["inputs"]["dry_g"] == pytest.approx(found.value, abs=row["tolerance"]["pct"] / 100 * wet_g)
