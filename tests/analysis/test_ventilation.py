"""Air changes: what they rest on, and why there are none. Their formula is held to its source in tests/outside."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from journal.analysis.ventilation import air_changes, running_share, why_no_air_changes
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
        ("at most", "the flow is not said to be measured", None),
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
