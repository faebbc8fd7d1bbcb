"""Air changes: how often an hour the exhaust moves as much air as the tent holds, and the humidifier's water by it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from journal.analysis.calculation import Amount, Calculation, figure
from journal.analysis.psychrometrics import absolute_humidity_g_m3, air_pressure_pa, dry_air_kg_m3
from journal.model import TentEntry
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
    flow_is = "" if tent.exhaust_flow_is else "not stated as measured, so it is taken as "
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


WATER_FORMULA = (
    "water an hour = all tank fills but the first / time from the first to the last: each fills up what was used since "
    "the one before"
)
WATER_SOURCE = (
    "common practice: plain arithmetic on what was filled in. The air by its volume and water by absolute humidity: "
    "ASHRAE Handbook, Fundamentals, 2017, chapter 1"
)
DRY_ROOM_PCT = 50.0
"""A room's humidity taken as an example where nobody knows it (*common practice*)."""


@dataclass(frozen=True, slots=True)
class WaterUsed:
    """Water that a humidifier used. g_per_h: its mean between two days. calculation: the same in kg an hour."""

    g_per_h: float
    first: date
    last: date
    calculation: Calculation


def water_used(entries: Iterable[TentEntry], since: date | None) -> WaterUsed | None:
    """The water that a tent's humidifier used; None where the tank was not filled on two days that are known. entries:
    the tent's own, oldest first. since: the day from which fills count; None: from the first on."""
    fills = [
        (entry, entry.tank_fill_ml)
        for entry in entries
        if entry.tank_fill_ml is not None and entry.date.counts_days and (since is None or entry.date.first >= since)
    ]
    if not fills or fills[-1][0].date.first == fills[0][0].date.first:
        return None
    first, last = fills[0][0].date, fills[-1][0].date
    hours = (last.first - first.first).days * 24.0
    if first.moment and last.moment:
        hours = (last.moment - first.moment).total_seconds() / 3600
    filled_g = sum(ml for _, ml in fills[1:])
    inputs: tuple[tuple[str, Amount | str], ...] = (
        ("filled in after the first time", Amount(filled_g, "g")),
        ("times", str(len(fills) - 1)),
        ("days", f"{first.first} to {last.first}"),
        ("hours", figure(hours, "h", 0)),
    )
    calculated = Calculation(filled_g / hours / 1000, "kg an hour", inputs, WATER_FORMULA, WATER_SOURCE)
    return WaterUsed(filled_g / hours, first.first, last.first, calculated)


@dataclass(frozen=True, slots=True)
class WaterInAir:
    """The water used set beside the air at most moved. air_kg_h: dry air. from_pct: the driest that air could come in
    and be at inside_pct with this water alone; below 0: it could be dry. dry_room_m3_h: the air that this water takes
    from `DRY_ROOM_PCT` to inside_pct; None where it is no wetter inside."""

    air_kg_h: float
    inside_c: float
    inside_pct: float
    from_pct: float
    dry_room_m3_h: float | None


def water_in_air(
    water: WaterUsed,
    tent: Tent,
    exhaust: Exhaust | None,
    inside_c: float | None,
    inside_pct: float | None,
    elevation_m: float | None = None,
) -> WaterInAir | None:
    """What the water says of the flow; None where the flow, or the climate inside, is not known. Room and tent are
    taken to be equally warm; water that the blocks give off is not counted. elevation_m: None stands for sea level."""
    running = running_share(exhaust)
    air_kg_m3 = dry_air_kg_m3(inside_c, inside_pct, air_pressure_pa(elevation_m))
    saturated_g = absolute_humidity_g_m3(inside_c, 100)
    if (
        inside_c is None
        or inside_pct is None
        or not air_kg_m3
        or not saturated_g
        or not running
        or not tent.exhaust_m3_h
    ):
        return None
    flow_m3_h = tent.exhaust_m3_h * running
    gained_pct = water.g_per_h / flow_m3_h / saturated_g * 100
    from_room = air_moistened_m3_h(water.g_per_h, inside_c, DRY_ROOM_PCT, inside_pct)
    return WaterInAir(flow_m3_h * air_kg_m3, inside_c, inside_pct, inside_pct - gained_pct, from_room)


def air_moistened_m3_h(water_g_h: float, t_c: float, from_pct: float, to_pct: float) -> float | None:
    """The air that so much water moistens from one humidity to another, at one temperature; None unless it gets wetter.
    *Source:* the balance of water: flow = water / (absolute humidity inside − outside)."""
    outside_g, inside_g = absolute_humidity_g_m3(t_c, from_pct), absolute_humidity_g_m3(t_c, to_pct)
    if outside_g is None or inside_g is None or inside_g <= outside_g:
        return None
    return water_g_h / (inside_g - outside_g)
