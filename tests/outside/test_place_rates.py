"""Yield by area and day against published totals; each row of place_yield.json names its kind and source."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.place_yield import kg_per_m2_day
from journal.quantities import area_m2, mass_g

ROWS = json.loads((Path(__file__).parent / "place_yield.json").read_text(encoding="utf-8"))["rows"]


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_mass_by_area_and_day(row: dict[str, Any]) -> None:
    inputs = row["inputs"]
    harvest_g, area = mass_g(f"{inputs['lb']:.0f} lb").value, area_m2(f"{inputs['ft2']:.0f} ft²").value
    assert row["expected"]["kg_m2_day"] == pytest.approx(
        kg_per_m2_day(harvest_g, area, inputs["days"]), **row["tolerance"]
    )
