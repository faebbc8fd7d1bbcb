"""Moist air: what holds of any air, and inputs that no air can have. Published values are in tests/outside."""

from __future__ import annotations

from math import inf, nan

import psychrolib
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


@given(temperatures, humidities)
def test_the_library_itself_gives_the_same(t_c: float, rh_pct: float) -> None:
    """PsychroLib 2.5, asked straight out; its unit system stays SI."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    assert psychrolib.GetTDewPointFromRelHum(t_c, rh_pct / 100) == pytest.approx(dew_point_c(t_c, rh_pct))
    ratio = psychrolib.GetHumRatioFromRelHum(t_c, rh_pct / 100, 101325)
    assert ratio == pytest.approx(humidity_ratio_kg_kg(t_c, rh_pct))
    deficit_pa = psychrolib.GetVaporPressureDeficit(t_c, ratio, 101325)
    # The library's way round by the humidity ratio loses some digits near saturation.
    assert deficit_pa == pytest.approx(vapour_pressure_deficit_pa(t_c, rh_pct), abs=1e-3, rel=1e-6)


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
