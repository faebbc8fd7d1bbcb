"""Air changes: what they rest on, and why there are none. Their formula is held to its source in tests/outside."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest

from journal.analysis.ventilation import (
    air_changes,
    running_share,
    water_in_air,
    water_used,
    why_no_air_changes,
)
from journal.model import TentEntry, When
from journal.settings import Exhaust, Tent

TENT = Tent(
    id="hut", name="Hut", width_m=1.2, depth_m=1.0, height_m=2.0, exhaust_m3_h=120.0, exhaust_flow_is="measured"
)
CYCLE = Exhaust("cycle", 2, 15)


@pytest.mark.parametrize(
    ("per_hour", "exhaust"),
    [
        # 120 m³/h through 2.4 m³ is 50 changes an hour while it runs.
        (50.0, Exhaust("on")),
        (50 * 2 / 15, CYCLE),
        (50.0, Exhaust("cycle", 15, 15)),
        (0.0, Exhaust("off")),
        (0.0, Exhaust("cycle", 0, 15)),
    ],
)
def test_air_changes_are_flow_times_running_time_over_volume(per_hour: float, exhaust: Exhaust) -> None:
    found = air_changes(TENT, exhaust)
    assert found is not None
    assert per_hour == pytest.approx(found.per_hour)
    assert per_hour == pytest.approx(found.calculation.value)
    assert why_no_air_changes(TENT, exhaust) is None


@pytest.mark.parametrize(
    ("is_", "words", "flow_is"),
    [
        ("measured", "the flow was measured", "measured"),
        ("at most", "rated one, in free air", "rated"),
        ("at most", "the flow is not stated as measured", None),
    ],
)
def test_a_flow_that_was_not_measured_gives_at_most_so_many(is_: str, words: str, flow_is: Any) -> None:
    found = air_changes(replace(TENT, exhaust_flow_is=flow_is), CYCLE)
    assert found is not None
    assert is_ == found.is_
    assert words in found.assumption
    assert "not what leaks" in found.assumption


@pytest.mark.parametrize(
    ("words", "tent", "exhaust"),
    [
        ("no entry", TENT, None),
        ("how long the exhaust runs", TENT, Exhaust("cycle", None, 15)),
        ("no exhaust_flow", replace(TENT, exhaust_m3_h=None), CYCLE),
        ("width, depth and height", replace(TENT, height_m=None), CYCLE),
    ],
)
def test_where_there_are_none_it_is_said_why(words: str, tent: Tent, exhaust: Exhaust | None) -> None:
    assert air_changes(tent, exhaust) is None
    assert words in (why_no_air_changes(tent, exhaust) or "")


def test_the_calculation_names_flow_running_time_and_volume() -> None:
    found = air_changes(TENT, CYCLE)
    assert found is not None
    assert ["flow, measured", "the exhaust runs", "volume"] == [name for name, _ in found.calculation.inputs]
    assert "2 min every 15 min" == found.calculation.inputs[1][1]
    assert "Centers for Disease Control" in found.calculation.source


@pytest.mark.parametrize(
    ("share", "exhaust"), [(None, None), (1.0, Exhaust("on")), (0.0, Exhaust("off")), (None, Exhaust("cycle", 2, None))]
)
def test_the_share_of_time_that_it_runs(share: float | None, exhaust: Exhaust | None) -> None:
    assert share == running_share(exhaust)


def fill(day: int, ml: float | None, hour: int | None = None) -> TentEntry:
    moment = None if hour is None else datetime.fromisoformat(f"2026-10-{day:02d}T{hour:02d}:00+00:00")
    when = When("", date(2026, 10, day), "day" if hour is None else "minute", moment)
    return TentEntry(path=f"{day}", date=when, title="", by="", about=("hut",), tank_fill_ml=ml)


@pytest.mark.parametrize(
    ("g_per_h", "fills", "since"),
    [
        (4000 / 120, [fill(1, 9000), fill(6, 4000)], None),  # what was filled in first tells nothing
        (6000 / 120, [fill(1, 4000), fill(3, 2000), fill(4, None), fill(6, 4000)], None),
        (4000 / 132, [fill(1, 4000, 8), fill(6, 4000, 20)], None),
        (4000 / 120, [fill(1, 4000, 8), fill(6, 4000)], None),
        (4000 / 72, [fill(1, 4000), fill(3, 2000), fill(6, 4000)], date(2026, 10, 2)),
        (None, [fill(1, 4000), fill(6, 4000)], date(2026, 10, 2)),
        (None, [fill(1, 4000, 8), fill(1, 4000, 20)], None),
        (None, [], None),
    ],
)
def test_the_water_used_is_what_was_filled_up_after_the_first_time(
    g_per_h: float | None, fills: list[TentEntry], since: date | None
) -> None:
    found = water_used(fills, since)
    assert g_per_h == (found and pytest.approx(found.g_per_h))
    assert found is None or pytest.approx(found.g_per_h / 1000) == found.calculation.value


def test_little_water_beside_much_air_says_that_the_real_flow_is_lower() -> None:
    """40 m3/h of rated flow are 48 kg an hour, and 33 g of water make 0.8 g/m3 of it, 5 % of what air of 18 C holds
    (15.4 g/m3): the air came in at 87 %, or there was less of it."""
    water = water_used([fill(1, 4000), fill(6, 4000)], None)
    assert water is not None
    rated = replace(TENT, exhaust_m3_h=40.2, exhaust_flow_is="rated")
    found = water_in_air(water, rated, Exhaust("on"), 18.0, 92.0)
    assert found is not None
    assert (48, 86.6) == (pytest.approx(found.air_kg_h, abs=0.5), pytest.approx(found.from_pct, abs=0.3))
    # 33.3 g an hour over 14.1 - 7.7 g/m3: a room of 50 % lets 5.2 m3/h through, an eighth of the rated flow.
    assert pytest.approx(5.2, abs=0.1) == found.dry_room_m3_h
    high = water_in_air(water, rated, Exhaust("on"), 18.0, 92.0, 1500)  # 84 556 Pa, less 1900 Pa of vapour at either
    assert high is not None
    assert found.air_kg_h * (84_556 - 1_900) / (101_325 - 1_900) == pytest.approx(high.air_kg_h, rel=1e-3)
    assert water_in_air(water, rated, None, 18.0, 92.0) is None
    assert water_in_air(water, rated, Exhaust("on"), None, 92.0) is None
