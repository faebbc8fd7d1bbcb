"""Moisture, dry shares and the dry mass of a unit, against printed worksheets and hand arithmetic."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.amounts import Units
from journal.analysis.substrate import DRY_SHARES, dry_mass, dry_share_of, mixed, moisture_pct
from journal.model import MixPart
from tests.outside.moisture import wet_basis_pct

ROWS: dict[str, dict[str, Any]] = {
    row["id"]: row
    for row in json.loads((Path(__file__).parents[1] / "outside" / "yield.json").read_text(encoding="utf-8"))["rows"]
}
OAK = (MixPart("oak pellets", 5000), MixPart("wheat bran", 1200), MixPart("gypsum", 50), MixPart("water", 8600))


def test_the_moisture_of_a_mix_is_the_weighted_mean_of_its_parts() -> None:
    """Cornell Waste Management Institute, Calculate percent moisture of compost."""
    row = ROWS["yield-moist-mix"]
    names = ["a", "b", "c"]
    shares = [(name, 1 - pct / 100) for name, pct in zip(names, row["inputs"]["moist_pct"], strict=True)]
    lot = mixed([MixPart(name, mass) for name, mass in zip(names, row["inputs"]["wet_g"], strict=True)], shares)
    assert row["expected"]["moist_pct"] == pytest.approx(lot.moisture_pct, abs=row["tolerance"]["pct"])
    assert row["expected"]["dry_g"] == pytest.approx(lot.dry_g, abs=0.001)


def test_moisture_is_on_the_wet_basis() -> None:
    """Cornell composting moisture worksheets: (wet - dry) / wet x 100."""
    row = ROWS["yield-moist-wb"]
    assert row["expected"]["moist_wet_basis_pct"] == pytest.approx(
        moisture_pct(row["inputs"]["wet_g"], row["inputs"]["dry_g"]), abs=row["tolerance"]["pct"]
    )
    assert row["expected"]["moist_wet_basis_pct"] == pytest.approx(
        wet_basis_pct(row["expected"]["moist_dry_basis_pct"]), abs=row["tolerance"]["pct"]
    )


def test_a_recipe_of_air_dry_parts_has_the_dry_mass_of_the_handbook() -> None:
    """The formula of R. Rynk (ed.), On-Farm Composting Handbook, NRAES-54, 1992, with numbers of our own."""
    row = ROWS["yield-water-supp"]
    parts = row["inputs"]["ingredients"]
    lot = mixed(
        [MixPart(part["name"], part["g"]) for part in parts], [(part["name"], 1 - part["moist"]) for part in parts]
    )
    assert row["expected"]["dry_g"] == pytest.approx(lot.dry_g, abs=row["tolerance"]["g"])
    watered = mixed(
        [*(MixPart(part["name"], part["g"]) for part in parts), MixPart("water", row["expected"]["water_g"])],
        [(part["name"], 1 - part["moist"]) for part in parts],
    )
    assert row["inputs"]["moist_target"] * 100 == pytest.approx(watered.moisture_pct, abs=0.001)


@pytest.mark.parametrize("id", [f"yield-water-{n}" for n in range(1, 6)])
def test_wet_mass_and_moisture_give_the_dry_mass_of_the_handbook(id: str) -> None:
    """R. Rynk (ed.), On-Farm Composting Handbook, NRAES-54, 1992: adding water leaves the dry substance as it was."""
    row = ROWS[id]
    before = dry_mass(wet_g=row["inputs"]["wet_g"], moisture_pct=row["inputs"]["moist_now"] * 100)
    after = dry_mass(wet_g=row["expected"]["final_wet_g"], moisture_pct=row["inputs"]["moist_target"] * 100)
    assert row["expected"]["dry_g"] == pytest.approx(before.dry_g, abs=row["tolerance"]["g"])
    assert row["expected"]["dry_g"] == pytest.approx(after.dry_g, abs=row["tolerance"]["g"])


@pytest.mark.parametrize(
    ("expected", "name"),
    [
        (DRY_SHARES["pellet"], "oak pellets"),
        (DRY_SHARES["pellet"], "Oak  Pellet"),
        (DRY_SHARES["bran"], "wheat-bran"),
        (DRY_SHARES["straw"], "chopped barley straw"),
        (DRY_SHARES["hydrated lime"], "hydrated lime"),
        (0.0, "Water"),
        (0.0, "boiled water"),
        (None, "fresh sawdust"),
        (None, "soaked straw"),
        (None, "coffee grounds"),
        (None, "pellet mill dregs"),
        (None, ""),
    ],
)
def test_an_ingredient_is_known_by_the_words_it_ends_in(expected: float | None, name: str) -> None:
    assert expected == dry_share_of(name)


@pytest.mark.parametrize("name", ["Oak pellets", "oak pellet", "oak  pellets", "OAK-PELLETS"])
def test_the_authors_own_measure_comes_first_however_it_is_spelled(name: str) -> None:
    assert 0.951 == dry_share_of(name, [("oak pellets", 0.951)])


def test_a_share_is_a_share() -> None:
    assert [] == [name for name, share in DRY_SHARES.items() if not 0 <= share <= 1]


def test_the_programs_names_are_found_as_they_stand() -> None:
    assert [] == [name for name, share in DRY_SHARES.items() if dry_share_of(name) != share]


@pytest.mark.parametrize(
    ("expected", "given"),
    [
        ((874.0, "moisture"), {"wet_g": 2300, "moisture_pct": 62}),
        ((880.0, "dry mass"), {"dry_g": 880, "wet_g": 2300, "moisture_pct": 62}),
        ((None, None), {"wet_g": 2300}),
        ((None, None), {"moisture_pct": 62}),
        ((None, None), {}),
        ((None, None), {"dry_g": 0.0}),
        # (5000 x 0.93 + 1200 x 0.88 + 50) / 6 = 5756 / 6
        ((959.333, "mix"), {"mix": OAK, "units": 6}),
        # 2300 x 5756 / 14850
        ((891.501, "mix"), {"mix": OAK, "units": 6, "wet_g": 2300}),
        ((874.0, "moisture"), {"mix": OAK, "units": 6, "wet_g": 2300, "moisture_pct": 62}),
    ],
)
def test_the_dry_mass_comes_by_the_first_way_that_gives_one(expected: tuple[Any, Any], given: dict[str, Any]) -> None:
    found = dry_mass(**given)
    assert expected == (pytest.approx(found.dry_g, abs=0.001), found.dry_from)
    assert () == found.remarks


@pytest.mark.parametrize(
    ("ways", "given"),
    [
        ([], {"dry_g": 1000, "wet_g": 2500, "moisture_pct": 62}),
        (["moisture"], {"dry_g": 1000, "wet_g": 2500, "moisture_pct": 63}),
        (["mix"], {"wet_g": 2300, "moisture_pct": 66, "mix": OAK, "units": 6}),
        (["moisture", "mix"], {"dry_g": 700, "wet_g": 2300, "moisture_pct": 62, "mix": OAK, "units": 6}),
        (["dry mass"], {"dry_g": 3000, "wet_g": 2300}),
    ],
)
def test_ways_that_differ_by_more_than_five_per_cent_are_given(ways: list[str], given: dict[str, Any]) -> None:
    assert ways == [remark.way for remark in dry_mass(**given).remarks]


@pytest.mark.parametrize(
    ("said", "shown_in"), [("3 kg dry in 2.3 kg wet", "metric"), ("6 lb 9.8 oz dry in 5 lb 1.1 oz wet", "us")]
)
def test_more_dry_than_wet_is_told_in_the_units_asked_for_and_the_fix_in_none(said: str, shown_in: Units) -> None:
    """1 oz = 28.349 523 g, 1 lb = 16 oz: NIST SP 811 (2008), appendix B.8."""
    (remark,) = dry_mass(dry_g=3000, wet_g=2300, shown_in=shown_in).remarks
    assert remark.message.endswith(said)
    assert "if one of the two is of all units, write `in all` after it" == remark.fix


def test_exactly_five_per_cent_is_agreement() -> None:
    assert () == dry_mass(dry_g=1000, wet_g=2000, moisture_pct=47.5).remarks


def test_an_unknown_ingredient_is_named_where_it_is_missed() -> None:
    mix = (*OAK, MixPart("coffee grounds", 300), MixPart("seaweed", 20))
    found = dry_mass(mix=mix, units=6)
    assert (None, None) == (found.dry_g, found.dry_from)
    assert "coffee grounds, seaweed" in found.remarks[0].message
    assert "[ingredients]" in found.remarks[0].fix


def test_an_unknown_ingredient_is_nothing_to_say_where_the_mass_is_known_otherwise() -> None:
    assert () == dry_mass(dry_g=874, mix=(MixPart("seaweed", 20),)).remarks


masses = st.one_of(st.none(), st.floats(0, 1e6))


@given(
    masses, masses, st.one_of(st.none(), st.floats(0, 99.9)), st.lists(st.builds(MixPart, st.text(), st.floats(0, 1e6)))
)
def test_any_masses_are_borne(dry: float | None, wet: float | None, moisture: float | None, mix: list[MixPart]) -> None:
    found = dry_mass(dry_g=dry, wet_g=wet, moisture_pct=moisture, mix=mix, units=3)
    assert (found.dry_g is None) == (found.dry_from is None)
