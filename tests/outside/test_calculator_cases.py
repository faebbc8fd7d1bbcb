"""The trade's sums by the Python against the table of cases that tests/browser/test_sums.py runs by the JavaScript.

Each row of calculator_cases.json names its kind and source, and how near is near enough.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import asdict
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from journal.analysis import heat, planning, psychrometrics, substrate, ventilation, yields
from journal.model import MixPart
from journal.problems import Unreadable
from journal.quantities import percentage
from journal.settings import Exhaust, Tent
from tests.outside.moisture import dry_basis_pct, water_to_add

ROWS = json.loads((Path(__file__).parent / "calculator_cases.json").read_text(encoding="utf-8"))["rows"]
Row = dict[str, Any]


def mixed(mix: list[tuple[str, float]], measured: list[tuple[str, float]]) -> Row:
    lot = substrate.mixed([MixPart(*part) for part in mix], [(name, share) for name, share in measured])
    return {**asdict(lot), "missing": list(lot.missing), "moisture_pct": lot.moisture_pct}


def watered(**given: float) -> Row | None:
    found = water_to_add(**given)
    return found and asdict(found)


def dry_mass(wet_g: float, moisture_pct: float) -> float | None:
    return substrate.dry_mass(wet_g=wet_g, moisture_pct=moisture_pct).dry_g


def air_changes(volume_m3: float, flow_m3_h: float, on_min: float, every_min: float) -> float | None:
    tent = Tent(id="t", name="t", width_m=volume_m3, depth_m=1, height_m=1, exhaust_m3_h=flow_m3_h)
    found = ventilation.air_changes(tent, Exhaust("cycle", on_min, every_min))
    return found and found.per_hour


def spawn_for_rate_g(wet_g: float, rate_pct: float) -> float | None:
    """Spawn for a rate of the wet substrate, which the pages alone calculate: the rate's own formula, turned round."""
    return None if wet_g < 0 or rate_pct < 0 else wet_g * rate_pct / 100


def inoculate_on(by: str, days: float) -> str:
    """The day so many days before another, which the pages alone calculate."""
    return (date.fromisoformat(by) - timedelta(days=math.ceil(days - 1e-9))).isoformat()


def read_number(text: str) -> float | None:
    try:
        return percentage(text).value
    except Unreadable:
        return None


SUMS: Mapping[str, Callable[..., Any]] = {
    "moisture_pct": substrate.moisture_pct,
    "dry_basis_pct": dry_basis_pct,
    "mixed": mixed,
    "dry_share_of": substrate.dry_share_of,
    "water_to_add": watered,
    "dry_mass": dry_mass,
    "biological_efficiency_pct": yields.biological_efficiency_pct,
    "spawn_rate_wet_pct": substrate.spawn_rate_wet_pct,
    "spawn_rate_dry_pct": substrate.spawn_rate_dry_pct,
    "spawn_for_rate_g": spawn_for_rate_g,
    "saturation_pressure_pa": psychrometrics.saturation_pressure_pa,
    "dew_point_c": psychrometrics.dew_point_c,
    "vapour_pressure_deficit_pa": psychrometrics.vapour_pressure_deficit_pa,
    "air_changes": air_changes,
    "f0_min": heat.f0_min,
    "boiling_c": heat.boiling_c,
    "read_number": read_number,
    "units_needed": planning.units_needed,
    "inoculate_on": inoculate_on,
}


def near(expected: Any, within: Mapping[str, float]) -> Any:
    """What equals a value that is as near as the row allows; names and nothing have to be the same."""
    if isinstance(expected, dict):
        return {name: near(value, within) for name, value in expected.items()}
    if expected is None or isinstance(expected, list | str):
        return expected
    return pytest.approx(expected, abs=within.get("abs", 0), rel=within.get("rel", 0))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['sum']}-{'-'.join(map(str, row['given'].values()))}")
def test_the_sum_is_the_tables(row: Row) -> None:
    found = SUMS[row["sum"]](**row["given"])
    if isinstance(row["expected"], dict):
        found = {name: found[name] for name in row["expected"]}
    assert near(row["expected"], row["within"]) == found


def test_every_sum_has_a_row_and_every_row_says_whose_it_is() -> None:
    assert set(SUMS) == {row["sum"] for row in ROWS}
    assert [] == [row for row in ROWS if not row["source"] or not row["kind"]]
