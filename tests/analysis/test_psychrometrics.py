"""Moist air: what holds of any air, and inputs that no air can have. More published values are in tests/outside."""

from __future__ import annotations

import json
from itertools import combinations
from math import inf, nan
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.analysis.psychrometrics import (
    dew_point_c,
    humidity_ratio_kg_kg,
    saturation_pressure_pa,
    vapour_pressure_deficit_pa,
    vapour_pressure_pa,
)
from tests.builders import some

TABLE = Path(__file__).parents[1] / "outside" / "air.json"
PUBLISHED_PA: dict[int, float] = {
    row["inputs"]["t_C"]: row["expected"]["p_Pa"]
    for row in json.loads(TABLE.read_text(encoding="utf-8"))["rows"]
    if row["id"].startswith("air-ashrae-psat-")
}
"""Saturation pressure at °C: ASHRAE Handbook - Fundamentals 2017, chapter 1, table 3."""

temperatures = st.floats(-20, 60)
humidities = st.floats(1, 100)


@given(temperatures, humidities)
def test_the_dew_point_is_where_the_vapour_saturates(t_c: float, rh_pct: float) -> None:
    dew_c = dew_point_c(t_c, rh_pct)
    assert dew_c is not None
    assert dew_c <= t_c + 1e-9
    # Water and ice differ by a hair at 0 °C, where the library smooths the step between the two.
    assert vapour_pressure_pa(t_c, rh_pct) == pytest.approx(saturation_pressure_pa(dew_c), rel=2e-3)


@given(temperatures, humidities, humidities)
def test_damper_air_of_one_temperature_lacks_less_and_condenses_sooner(t_c: float, one: float, other: float) -> None:
    drier, damper = sorted((one, other))
    dews = dew_point_c(t_c, drier), dew_point_c(t_c, damper)
    deficits = vapour_pressure_deficit_pa(t_c, drier), vapour_pressure_deficit_pa(t_c, damper)
    ratios = humidity_ratio_kg_kg(t_c, drier), humidity_ratio_kg_kg(t_c, damper)
    assert None not in (*dews, *deficits, *ratios)
    assert dews[0] <= dews[1] + 1e-3  # type: ignore[operator]
    assert deficits[0] >= deficits[1]  # type: ignore[operator]
    assert ratios[0] <= ratios[1]  # type: ignore[operator]


@pytest.mark.parametrize(("dew_c", "t_c"), some(combinations(sorted(PUBLISHED_PA), 2), 10))
def test_air_that_holds_what_saturates_at_a_lower_temperature_has_its_dew_point_there(dew_c: int, t_c: int) -> None:
    vapour_pa, most_pa = PUBLISHED_PA[dew_c], PUBLISHED_PA[t_c]
    rh_pct = 100 * vapour_pa / most_pa
    assert dew_c == pytest.approx(dew_point_c(t_c, rh_pct), abs=0.01)
    assert vapour_pa == pytest.approx(vapour_pressure_pa(t_c, rh_pct), rel=3e-4)
    assert most_pa - vapour_pa == pytest.approx(vapour_pressure_deficit_pa(t_c, rh_pct), rel=3e-4)
    # ASHRAE Handbook - Fundamentals 2017, chapter 1, equation 20: W = 0.621945 p_w / (p - p_w).
    assert 0.621945 * vapour_pa / (101325 - vapour_pa) == pytest.approx(humidity_ratio_kg_kg(t_c, rh_pct), rel=5e-4)


@pytest.mark.parametrize(
    ("t_c", "rh_pct"),
    [(16, -1), (16, 100.5), (16, nan), (nan, 90), (-101, 90), (201, 90), (inf, 90), (16, None), (None, 90)],
)
def test_what_no_air_can_be_gives_nothing(t_c: float | None, rh_pct: float | None) -> None:
    found = (dew_point_c(t_c, rh_pct), vapour_pressure_deficit_pa(t_c, rh_pct), humidity_ratio_kg_kg(t_c, rh_pct))
    assert (None, None, None) == found


def test_dry_air_has_no_dew_point_and_lacks_all_that_it_could_hold() -> None:
    assert dew_point_c(16, 0) is None
    assert saturation_pressure_pa(16) == vapour_pressure_deficit_pa(16, 0)
    assert 0 == pytest.approx(humidity_ratio_kg_kg(16, 0), abs=1e-6)


def test_air_so_dry_that_its_dew_point_is_out_of_reach_has_none() -> None:
    assert dew_point_c(-60, 0.01) is None


@pytest.mark.parametrize("pressure_pa", [0.0, -1.0, nan, 1000.0])
def test_vapour_alone_cannot_exceed_the_pressure_of_the_air(pressure_pa: float) -> None:
    assert humidity_ratio_kg_kg(16, 90, pressure_pa) is None
