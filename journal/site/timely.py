"""What `journal data` tells of time: days taken, what is expected, and what is due. Dates only, and no today."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from journal.reckoning.due import Due
from journal.reckoning.expecting import Expected
from journal.reckoning.milestones import milestones
from journal.reckoning.timing import Run

Row = dict[str, Any]


def timing_of(run: Run, awaited: Expected | None) -> Row:
    """The days a batch took so far, counted from day 0, and what is expected of it next."""
    took = milestones(run)
    return {
        "days_to": {"colonised": took.colonised_d, "pinning": took.pinning_d, "harvest": took.harvest_d},
        "days_from_move_to_pinning": took.pinning_after_move_d,
        "days_between_flushes": {str(number): days for number, days in took.between_flushes_d.items()},
        "expected": _expected(awaited) if awaited else None,
    }


def _expected(one: Expected) -> Row:
    return {
        "what": one.what,
        "from": one.from_day.isoformat(),
        "to": one.to_day.isoformat(),
        "basis": one.basis,
        "n": one.n,
        "median_d": one.median_d,
        "words": one.words,
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
