"""What `journal data` tells of the air: of each tent, day by day, of each batch where it stood, and how long devices
lasted. Dates only, and no today."""

from __future__ import annotations

from typing import Any

from journal.model import Exhaust, Journal
from journal.reckoning.air import BatchAir, TentAir
from journal.reckoning.air_days import DayAir
from journal.reckoning.device_lives import Life
from journal.reckoning.light import light_of
from journal.reckoning.tent_settings import history_of, holding_now
from journal.reckoning.ventilation import air_changes

Row = dict[str, Any]


def air_in(journal: Journal, air: TentAir) -> Row:
    """The air of a tent: over all readings, and by the day; air changes and light by the settings last written."""
    holding = holding_now(history_of(journal, air.tent))
    exhaust = holding["exhaust"].value if "exhaust" in holding else None
    changes = air_changes(air.tent, exhaust if isinstance(exhaust, Exhaust) else None)
    light = light_of(holding)
    return {
        "in_band_share": air.in_band_share,
        "out_of_band_share": air.shares.out,
        "cannot_tell_share": air.shares.cannot_tell,
        "read_h": air.shares.all_s / 3600,
        "longest_out_h": air.longest_out_h,
        "air_changes_per_hour": changes.per_hour if changes else None,
        "air_changes_is": changes.is_ if changes else None,
        "light_hours": light.hours.on_h if light.hours else None,
        "light_k": light.colour_k,
        "days": [_day(day) for day in air.days],
    }


def _day(day: DayAir) -> Row:
    return {
        "date": day.day.isoformat(),
        "temperature_median_c": day.temperature_c.median if day.temperature_c else None,
        "humidity_median_pct": day.humidity_pct.median if day.humidity_pct else None,
        "in_band_share": day.shares.in_band,
        "cannot_tell_share": day.shares.cannot_tell,
        "dew_point_c": day.dew_point_c,
    }


def air_about(air: BatchAir) -> Row:
    """The air about a batch, in its own band where it wants one, over its own days in each tent."""
    return {
        "in_band_share": air.in_band_share,
        "out_of_band_share": air.shares.out,
        "cannot_tell_share": air.shares.cannot_tell,
        "read_h": air.shares.all_s / 3600,
    }


def life_of(life: Life) -> Row:
    """How long a device was in use: both None while it is, since how long that has been so far depends on today."""
    return {"days_in_use": life.days, "ended": life.ended.iso.partition("T")[0] if life.ended else None}
