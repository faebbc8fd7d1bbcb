"""Air changes: how often an hour the exhaust moves as much air as the tent holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from journal.analysis.calculation import Amount, Calculation, figure
from journal.settings import Exhaust, Tent

SOURCE = (
    "U.S. Centers for Disease Control and Prevention (Sehulster, Chinn), Guidelines for Environmental Infection "
    "Control in Health-Care Facilities, 2003, appendix B: air changes = flow / volume, times the share of time it runs"
)
FORMULA = "air changes an hour = flow × run time / time from run to run / volume"


@dataclass(frozen=True, slots=True)
class AirChanges:
    """per_hour: mean over runs and pauses. is_: "measured" where the flow was, else "at most". assumption: what it
    is based on, a sentence without its full stop."""

    per_hour: float
    is_: Literal["measured", "at most"]
    calculation: Calculation
    assumption: str


def air_changes(tent: Tent, exhaust: Exhaust | None) -> AirChanges | None:
    """Air changes an hour by the exhaust; None where `why_no_air_changes` says why. exhaust: as it is set now.
    *Source:* CDC, Guidelines for Environmental Infection Control in Health-Care Facilities, 2003, appendix B (air
    changes an hour = flow / volume), times the share of time that the fan runs."""
    volume_m3, flow_m3_h, running = volume_of_m3(tent), tent.exhaust_m3_h, running_share(exhaust)
    if volume_m3 is None or flow_m3_h is None or running is None or exhaust is None:
        return None
    measured = tent.exhaust_flow_is == "measured"
    of_the_fan = "the fan's rated one, in free air: duct, filter and damper let less through, so this is the most that"
    flow_is = "" if tent.exhaust_flow_is else "not said to be measured, so it is taken for "
    flow_words = "the flow was measured where it is" if measured else f"the flow is {flow_is}{of_the_fan} it can be"
    runs = {"on": "all the time", "off": "not at all"}.get(exhaust.mode)
    if runs is None and exhaust.on_min is not None and exhaust.every_min is not None:
        runs = f"{figure(exhaust.on_min, 'min')} every {figure(exhaust.every_min, 'min')}"
    per_hour = flow_m3_h * running / volume_m3
    inputs: tuple[tuple[str, Amount | str], ...] = (
        ("flow, measured" if measured else "flow, rated", Amount(flow_m3_h, "m³/h")),
        ("the exhaust runs", runs or "not at all"),
        ("volume", Amount(volume_m3, "m³")),
    )
    return AirChanges(
        per_hour=per_hour,
        is_="measured" if measured else "at most",
        calculation=Calculation(per_hour, "an hour", inputs, FORMULA, SOURCE),
        assumption=f"{flow_words}; only what the exhaust moves is counted, not what leaks or comes in by the door",
    )


def why_no_air_changes(tent: Tent, exhaust: Exhaust | None) -> str | None:
    """What is missing for `air_changes`, a sentence without its full stop; None where nothing is."""
    if exhaust is None:
        return "no entry about it says how the exhaust runs"
    if running_share(exhaust) is None:
        return "how long the exhaust runs each time is not written: write it like 2 min every 15 min"
    if tent.exhaust_m3_h is None:
        return "the settings give no exhaust_flow"
    if volume_of_m3(tent) is None:
        return "the settings do not give width, depth and height"
    return None


def volume_of_m3(tent: Tent) -> float | None:
    """Volume of the empty tent; None where a side is not known."""
    if tent.width_m is None or tent.depth_m is None or tent.height_m is None:
        return None
    return tent.width_m * tent.depth_m * tent.height_m or None


def running_share(exhaust: Exhaust | None) -> float | None:
    """Share of time that the exhaust runs, 0 to 1; None where the run time is not known."""
    if exhaust is None:
        return None
    if exhaust.mode != "cycle":
        return 1.0 if exhaust.mode == "on" else 0.0
    if exhaust.on_min is None or not exhaust.every_min:
        return None
    return min(1.0, exhaust.on_min / exhaust.every_min)
