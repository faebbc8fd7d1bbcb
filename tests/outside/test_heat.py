"""Heat against published rows; each row of heat.json names its kind and source."""

from __future__ import annotations

import json
from math import log
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.heat import REFERENCE_C, heating_of, saturation_c, steam_of
from journal.analysis.psychrometrics import standard_pressure_pa
from tests.analysis.test_heat import core

ROWS = json.loads((Path(__file__).parent / "heat.json").read_text(encoding="utf-8"))["rows"]
Row = dict[str, Any]


def rows(group: str, least: int) -> Any:
    found = [row for row in ROWS if row["id"].startswith(f"heat-{group}-")]
    assert len(found) >= least
    return pytest.mark.parametrize("row", found, ids=[row["id"] for row in found])


@rows("f0", 3)
def test_f0_of_a_steady_temperature(row: Row) -> None:
    steady = [REFERENCE_C + row["inputs"]["over_reference_k"]] * (row["inputs"]["minutes"] + 1)
    heating = heating_of(core(steady))
    assert heating is not None
    assert row["expected"]["f0_min"] == pytest.approx(heating.f0_min, **row["tolerance"])


@pytest.mark.parametrize("every_s", [6, 60, 300, 600])
def test_f0_of_a_steady_rise_is_that_of_the_integral_however_sparse_the_readings(every_s: int) -> None:
    """1 K a minute from 100 to 120 °C and down again: the integral of 10^((T − 121.1) / 10) is twice 10 / ln 10 ·
    (10^−0.11 − 10^−2.11)."""
    rise_c = [100 + at * every_s / 60 for at in range(1200 // every_s + 1)]
    heating = heating_of(core([*rise_c, *rise_c[-2::-1]], every_s=every_s))
    assert heating is not None
    assert 20 / log(10) * (10**-0.11 - 10**-2.11) == pytest.approx(heating.f0_min, rel=1e-9)


@rows("steam", 5)
def test_saturated_steam(row: Row) -> None:
    assert row["expected"]["t_k"] == pytest.approx(
        saturation_c(row["inputs"]["p_mpa"] * 1e6) + 273.15, **row["tolerance"]
    )


@rows("air", 5)
def test_air_pressure(row: Row) -> None:
    assert row["expected"]["p_pa"] == pytest.approx(
        standard_pressure_pa(row["inputs"]["elevation_m"]), **row["tolerance"]
    )


@pytest.mark.parametrize(
    ("treatment", "elevation_m", "boils_c", "steam_c"),
    [
        # By IAPWS-IF97 at 101 325 Pa, and at 101 325 + 15 · 6894.757 = 204 746 Pa.
        ("15 psi 2.5 h", None, 99.974, 120.955),
        ("1,0 bar 90 min", 0.0, 99.974, 120.43),
        # 84 556 Pa by ASHRAE's table 1; with 15 psi above it, 187 977 Pa.
        ("15 psi 2.5 h", 1500.0, 94.98, 118.26),
        ("121 °C 45 min", 1500.0, 94.98, None),
    ],
)
def test_what_boils_at_what(treatment: str, elevation_m: float | None, boils_c: float, steam_c: float | None) -> None:
    steam = steam_of(treatment, elevation_m)
    assert steam is not None
    assert boils_c == pytest.approx(steam.boils_c, abs=0.01)
    assert steam_c == (None if steam_c is None else pytest.approx(steam.steam_c, abs=0.01))


@pytest.mark.parametrize(("treatment", "elevation_m"), [("121 °C 45 min", None), (None, None), ("lime 18 h", 90_000.0)])
def test_nothing_is_said_where_neither_pressure_nor_elevation_is_known(
    treatment: str | None, elevation_m: float | None
) -> None:
    assert steam_of(treatment, elevation_m) is None
