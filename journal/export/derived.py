"""The climate and time columns of `journal export`: tents by the day, batches, days taken, what is expected and due.

Dates only, and no today.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from journal.analysis.climate import MeasuredClimate, TentClimate
from journal.analysis.due import Due
from journal.analysis.forecast import Expected
from journal.analysis.power import Lifetime
from journal.analysis.progress import Progress, milestones
from journal.analysis.tent_settings import history_of, holding_now, light_of
from journal.analysis.ventilation import air_changes
from journal.model import Exhaust, Journal

Row = dict[str, Any]


def climate_in(journal: Journal, air: TentClimate) -> Row:
    """The air of a tent: over all readings, and by the day; air changes and light by the latest settings."""
    holding = holding_now(history_of(journal, air.tent))
    exhaust = holding["exhaust"].value if "exhaust" in holding else None
    changes = air_changes(air.tent, exhaust if isinstance(exhaust, Exhaust) else None)
    light = light_of(holding)
    return {
        **climate_about(air),
        "longest_out_h": air.longest_out_h,
        "air_changes_per_hour": changes.per_hour if changes else None,
        "air_changes_is": changes.is_ if changes else None,
        "light_hours": light.hours.on_h if light.hours else None,
        "light_k": light.colour_k,
        "days": [
            {
                "date": day.day.isoformat(),
                "temperature_median_c": day.temperature_c.median if day.temperature_c else None,
                "humidity_median_pct": day.humidity_pct.median if day.humidity_pct else None,
                "in_range_share": day.shares.in_range,
                "cannot_tell_share": day.shares.cannot_tell,
                "dew_point_c": day.dew_point_c,
            }
            for day in air.days
        ],
    }


def climate_about(air: MeasuredClimate) -> Row:
    """The air of a tent, or of a batch by its own range where it wants one, over its days in each tent."""
    return {
        "in_range_share": air.in_range_share,
        "out_of_range_share": air.shares.out,
        "cannot_tell_share": air.shares.cannot_tell,
        "read_h": air.shares.all_s / 3600,
    }


def life_of(life: Lifetime) -> Row:
    """How long a device was in use: both None while it is, since how long that has been so far depends on today."""
    return {"days_in_use": life.days, "ended": life.ended.iso.partition("T")[0] if life.ended else None}


def timing_of(run: Progress, awaited: Expected | None) -> Row:
    """The days a batch took so far, counted from day 0, and what is expected of it next."""
    took = milestones(run)
    return {
        "days_to": {"colonised": took.colonised_d, "pinning": took.pinning_d, "harvest": took.harvest_d},
        "days_from_move_to_pinning": took.pinning_after_move_d,
        "days_between_flushes": {str(number): days for number, days in took.between_flushes_d.items()},
        "expected": awaited
        and {
            "what": awaited.what,
            "from": awaited.from_day.isoformat(),
            "to": awaited.to_day.isoformat(),
            "basis": awaited.basis,
            "n": awaited.n,
            "median_d": awaited.median_d,
            "words": awaited.words,
        },
    }


def due_rows(rows: Iterable[Due]) -> list[Row]:
    """What is due, in order: `from` the day, late only after `to` where a window is given."""
    return [
        {
            "about": list(row.about),
            "what": row.what,
            "from": row.day.isoformat() if row.day else None,
            "to": row.last_day.isoformat() if row.last_day else None,
            "basis": row.basis,
            "words": row.words,
        }
        for row in rows
    ]
