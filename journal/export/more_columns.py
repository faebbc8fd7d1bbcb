"""Calculated columns of the document that few journals have values of."""

from __future__ import annotations

from typing import Any

from journal.analysis.analysis import Analysis
from journal.model import Batch, Culture

Row = dict[str, Any]


def heat_of(row: Batch | Culture, found: Analysis) -> Row:
    """What the core log of its treatment comes to."""
    heating = found.heating.get(row.path)
    if heating is None:
        return {"heat": None}
    low, high = heating.f0_range_min
    return {
        "heat": {
            "core_log": heating.log.log.path,
            "f0_min": heating.f0_min,
            "f0_low_min": low,
            "f0_high_min": high,
            "peak_c": heating.peak_c,
            "pasteurised_min": heating.pasteurised_min,
            "read_min": heating.read_min,
            "unread_min": heating.unread_min,
            "minutes_over_c": {f"{edge_c:g}": minutes for edge_c, minutes in heating.above},
        }
    }


def growth_of(row: Culture, found: Analysis) -> Row:
    """How fast its colonies grow on agar."""
    growth = found.growth.get(row.id)
    if growth is None:
        return {"growth": None}
    low, high = growth.interval or (None, None)
    return {
        "growth": {
            "rate_mm_d": growth.rate_mm_d,
            "rate_low_mm_d": low,
            "rate_high_mm_d": high,
            "interval_over": growth.over,
            "plates": [
                {"number": plate.part, "rate_mm_d": plate.rate_mm_d, "measured": len(plate.measured)}
                for plate in growth.plates
            ],
        }
    }
