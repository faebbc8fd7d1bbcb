"""Moist air, air changes, light and salts against published rows; each row of air.json names its kind and source."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.psychrometrics import (
    dew_point_c,
    humidity_ratio_kg_kg,
    saturation_pressure_pa,
    vapour_pressure_deficit_pa,
    vapour_pressure_pa,
)
from journal.analysis.sensors import salt_in
from journal.analysis.tent_settings import USUAL_H, USUAL_K
from journal.analysis.ventilation import air_changes, air_moistened_m3_h, running_share, volume_of_m3
from journal.quantities import flow_m3_h, length_m
from journal.reading.values import light_hours
from journal.settings import Exhaust, Tent

ROWS = json.loads((Path(__file__).parent / "air.json").read_text(encoding="utf-8"))["rows"]
Row = dict[str, Any]

OTHER_FORMULA = 0.003
"""ASHRAE's saturation pressure, FAO's and WMO's differ by up to about 0.3 % between 0 and 30 °C; ours is ASHRAE's."""

GROUPS = {
    "saturation": r"air-ashrae-psat-.*",
    "saturated ratio": r"air-ashrae-wsat-\d+",
    "worked example": r"air-ashrae-ex1",
    "saturation by FAO": r"air-fao-(e|tab)-[\d.]+",
    "mean saturation": r"air-fao-es-mean",
    "vapour by extremes": r"air-fao-ea-rh",
    "vapour by mean": r"air-fao-ea-rhmean",
    "vapour by dew point": r"air-fao-ea-tdew",
    "deficit": r"air-fao-vpd",
    "saturation by WMO": r"air-wmo-ew-\d+",
    "dew point": r"air-dew-doc",
    "state": r"air-state-\d+",
    "wet surface": r"air-wet-\d+",
    "refused": r"air-bad-\d",
    "fan in feet": r"air-fan-\d",
    "fan in metres": r"air-fan-si",
    "water": r"air-makeup",
    "clock": r"air-light-\d",
    "light practice": r"air-cp-light-12",
    "colour practice": r"air-cp-light-k",
    "door": r"air-door",
    "salt": r"air-salt-.*",
}


def rows(group: str) -> Any:
    """The rows of a group, as parameters named for their IDs."""
    found = [row for row in ROWS if re.fullmatch(GROUPS[group], row["id"])]
    return pytest.mark.parametrize("row", found, ids=[row["id"] for row in found])


def test_every_row_is_used_by_one_group_of_tests() -> None:
    uses = {row["id"]: [name for name, ids in GROUPS.items() if re.fullmatch(ids, row["id"])] for row in ROWS}
    assert {} == {id: names for id, names in uses.items() if len(names) != 1}


@rows("saturation")
def test_saturation_pressure_is_that_of_ashraes_table(row: Row) -> None:
    found = saturation_pressure_pa(row["inputs"]["t_C"])
    assert row["expected"]["p_Pa"] == pytest.approx(found, rel=row["tolerance"]["rel"])


@rows("saturated ratio")
def test_the_humidity_ratio_of_saturated_air_is_that_of_ashraes_table(row: Row) -> None:
    found = humidity_ratio_kg_kg(row["inputs"]["t_C"], 100, row["inputs"]["p_Pa"])
    assert row["expected"]["W_kg_kg"] == pytest.approx(found, rel=row["tolerance"]["rel"])


@rows("worked example")
def test_the_worked_example_of_ashrae_comes_out(row: Row) -> None:
    """From the relative humidity that it prints, which it rounds to one per cent."""
    t_c, expected, tolerance = row["inputs"]["t_C"], row["expected"], row["tolerance"]
    rh_pct = expected["rh"] * 100
    assert expected["W_kg_kg"] == pytest.approx(humidity_ratio_kg_kg(t_c, rh_pct), abs=tolerance["W_kg_kg"])
    assert expected["dew_C"] == pytest.approx(dew_point_c(t_c, rh_pct), abs=tolerance["dew_C"])


@rows("saturation by FAO")
def test_saturation_pressure_is_near_that_of_fao_56(row: Row) -> None:
    found = saturation_pressure_pa(row["inputs"]["t_C"])
    assert row["expected"]["e_kPa"] * 1000 == pytest.approx(found, rel=OTHER_FORMULA)


@rows("saturation by WMO")
def test_saturation_pressure_is_near_that_of_the_wmo_guide(row: Row) -> None:
    found = saturation_pressure_pa(row["inputs"]["t_C"])
    assert row["expected"]["ew_hPa"] * 100 == pytest.approx(found, rel=OTHER_FORMULA)


def mean(*values: float | None) -> float:
    known = [value for value in values if value is not None]
    assert len(known) == len(values)
    return sum(known) / len(known)


@rows("mean saturation")
def test_the_mean_saturation_pressure_of_fao_56_comes_out(row: Row) -> None:
    given = row["inputs"]
    found = mean(saturation_pressure_pa(given["tmin_C"]), saturation_pressure_pa(given["tmax_C"]))
    assert row["expected"]["es_kPa"] * 1000 == pytest.approx(found, rel=OTHER_FORMULA)


@rows("vapour by extremes")
def test_the_vapour_pressure_of_fao_56_from_extremes_comes_out(row: Row) -> None:
    given = row["inputs"]
    found = mean(
        vapour_pressure_pa(given["tmin_C"], given["rhmax"]), vapour_pressure_pa(given["tmax_C"], given["rhmin"])
    )
    assert row["expected"]["ea_kPa"] * 1000 == pytest.approx(found, abs=row["tolerance"]["kPa"] * 1000)


@rows("vapour by mean")
def test_the_vapour_pressure_of_fao_56_from_the_mean_comes_out(row: Row) -> None:
    given = row["inputs"]
    found = mean(*(vapour_pressure_pa(t_c, given["rhmean"]) for t_c in (given["tmin_C"], given["tmax_C"])))
    assert row["expected"]["ea_kPa"] * 1000 == pytest.approx(found, abs=row["tolerance"]["kPa"] * 1000)


@rows("vapour by dew point")
def test_the_vapour_pressure_of_fao_56_from_the_dew_point_comes_out(row: Row) -> None:
    found = saturation_pressure_pa(row["inputs"]["tdew_C"])
    assert row["expected"]["ea_kPa"] * 1000 == pytest.approx(found, abs=row["tolerance"]["kPa"] * 1000)


@rows("deficit")
def test_the_vapour_pressure_deficit_of_fao_56_comes_out(row: Row) -> None:
    """The mean deficit of the two extremes is mean saturation less mean vapour pressure."""
    given = row["inputs"]
    found = mean(
        vapour_pressure_deficit_pa(given["tmin_C"], given["rhmax"]),
        vapour_pressure_deficit_pa(given["tmax_C"], given["rhmin"]),
    )
    assert row["expected"]["vpd_kPa"] * 1000 == pytest.approx(found, abs=row["tolerance"]["kPa"] * 1000)


@rows("dew point")
def test_the_dew_point_is_that_of_the_librarys_example(row: Row) -> None:
    found = dew_point_c(row["inputs"]["t_C"], row["inputs"]["rh_pct"])
    assert row["expected"]["dew_C"] == pytest.approx(found, abs=row["tolerance"]["C"])


@rows("state")
def test_a_state_of_the_air_is_as_two_other_formulae_have_it(row: Row) -> None:
    t_c, rh_pct, expected, tolerance = row["inputs"]["t_C"], row["inputs"]["rh_pct"], row["expected"], row["tolerance"]
    dew_c = dew_point_c(t_c, rh_pct)
    others = [value for name, value in row["cross"].items() if name.endswith("dew_C")]
    assert [*others, expected["dew_C"]] == pytest.approx([dew_c] * (len(others) + 1), abs=tolerance["dew_C"])
    assert expected["e_Pa"] == pytest.approx(vapour_pressure_pa(t_c, rh_pct), abs=tolerance["Pa"])
    assert expected["es_Pa"] == pytest.approx(saturation_pressure_pa(t_c), abs=tolerance["Pa"])
    assert expected["vpd_Pa"] == pytest.approx(vapour_pressure_deficit_pa(t_c, rh_pct), abs=tolerance["vpd_Pa"])
    ratio = humidity_ratio_kg_kg(t_c, rh_pct, row["inputs"]["p_Pa"])
    assert ratio is not None
    assert expected["W_g_kg"] == pytest.approx(ratio * 1000, abs=tolerance["W_g_kg"])


@rows("wet surface")
def test_a_surface_at_or_below_the_dew_point_gets_wet(row: Row) -> None:
    dew_c = dew_point_c(row["inputs"]["t_C"], row["inputs"]["rh_pct"])
    assert dew_c is not None
    margin_c = row["inputs"]["surface_C"] - dew_c
    assert row["expected"]["condenses"] == (margin_c <= 0)
    assert row["expected"]["margin_C"] == pytest.approx(margin_c, abs=row["tolerance"]["C"])


@rows("refused")
def test_what_no_air_can_be_has_no_dew_point(row: Row) -> None:
    assert row["expected"]["error"]
    assert dew_point_c(row["inputs"]["t_C"], row["inputs"]["rh_pct"]) is None


@rows("fan in feet")
def test_air_changes_follow_from_flow_duty_and_volume(row: Row) -> None:
    given = row["inputs"]
    width_m, depth_m, height_m = (length_m(f"{side:.15f} ft").value for side in given["tent_ft"])
    flow = flow_m3_h(f"{given['fan_ft3_min']} cfm").value
    tent = Tent(id="t", name="t", width_m=width_m, depth_m=depth_m, height_m=height_m, exhaust_m3_h=flow)
    _holds(row, tent)


@rows("fan in metres")
def test_air_changes_are_the_same_in_metres(row: Row) -> None:
    width_m, depth_m, height_m = row["inputs"]["tent_m"]
    flow = row["inputs"]["fan_m3_h"]
    _holds(row, Tent(id="t", name="t", width_m=width_m, depth_m=depth_m, height_m=height_m, exhaust_m3_h=flow))


def _holds(row: Row, tent: Tent) -> None:
    expected, rel = row["expected"], row["tolerance"]["rel"]
    cycle = Exhaust("cycle", row["inputs"]["on_min"], row["inputs"]["every_min"])
    found = air_changes(tent, cycle)
    assert found is not None
    assert expected["ach"] == pytest.approx(found.per_hour, rel=rel)
    assert expected["volume_m3"] == pytest.approx(volume_of_m3(tent), rel=rel)
    assert expected.get("duty", running_share(cycle)) == pytest.approx(running_share(cycle), rel=rel)


@rows("water")
def test_the_air_that_water_moistens_is_as_the_water_that_the_air_needs(row: Row) -> None:
    given = row["inputs"]
    for water_g_h in (row["expected"]["g_per_h"] + off for off in (-row["tolerance"]["g"], row["tolerance"]["g"])):
        found = air_moistened_m3_h(water_g_h, given["t_C"], given["rh_room"], given["rh_set"])
        assert given["ach"] * given["volume_m3"] == pytest.approx(found, rel=0.01)


@rows("clock")
def test_hours_of_light_follow_from_clock_times(row: Row) -> None:
    """Equal times are refused where they are read, so that neither all day nor none is guessed."""
    on, off, hours = row["inputs"]["on"], row["inputs"]["off"], row["expected"]["hours"]
    if on == off:
        with pytest.raises(ValueError, match="is not two different times"):
            light_hours(f"{on}–{off}")
    else:
        assert hours == light_hours(f"{on}–{off}").value.on_h


@rows("light practice")
def test_the_usual_hours_of_light_are_common_practice(row: Row) -> None:
    assert row["expected"]["hours"] == USUAL_H


@rows("colour practice")
def test_the_usual_colour_of_light_is_common_practice(row: Row) -> None:
    assert row["expected"]["K"] == list(USUAL_K)


@rows("salt")
def test_humidity_over_a_salt_is_as_published(row: Row) -> None:
    salt = salt_in(row["inputs"]["salt"])
    assert salt is not None
    found = salt.humidity_pct(row["inputs"]["t_C"])
    assert row["expected"]["rh_pct"] == pytest.approx(found, abs=row["tolerance"]["pct"])
