"""How many days a batch took to each thing that happened to it.

Whole calendar days. A stage counts where a note gives it to the whole batch; a harvest of a part is one of the whole.
A day that is not known exactly, or that lies before the one it is counted from, gives no number.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from journal.model import Note
from journal.reckoning.timing import Run, calendar_day


@dataclass(frozen=True, slots=True)
class Milestones:
    """Days, None where not known; those with no other start are counted from day 0.

    pinning_after_move_d: to the first pins from the move into the tent (see `move_into_tent`).
    harvest_after_pins_d: from the first pins to the first harvest.
    between_flushes_d: by flush number, from that flush's first day to the first day of the flush numbered one more.
    flushes: the numbers of the flushes picked, in order.
    """

    colonised_d: int | None = None
    pinning_d: int | None = None
    harvest_d: int | None = None
    pinning_after_move_d: int | None = None
    harvest_after_pins_d: int | None = None
    between_flushes_d: Mapping[int, int] = field(default_factory=dict)
    flushes: tuple[int, ...] = ()


def milestones(run: Run) -> Milestones:
    """What a run has come to so far, in days; nothing of one that is told from a later day on alone."""
    if run.told_from:
        return Milestones()
    pins = _day_of(first_staged(run, "pinning"))
    picked = _day_of(run.pickings[0] if run.pickings else None)
    flushes = first_days_of_flushes(run)
    return Milestones(
        colonised_d=_days(run.day0, _day_of(first_staged(run, "colonised"))),
        pinning_d=_days(run.day0, pins),
        harvest_d=_days(run.day0, picked),
        pinning_after_move_d=_days(_day_of(move_into_tent(run)), pins),
        harvest_after_pins_d=_days(pins, picked),
        between_flushes_d=_between(flushes),
        flushes=tuple(flushes),
    )


def first_staged(run: Run, stage: str) -> Note | None:
    """The first note that gives the whole this stage."""
    return next((note for note in run.whole_notes if note.stage == stage), None)


def move_into_tent(run: Run) -> Note | None:
    """The last move of the whole before its first pins; None where there is none, or its day is not known.

    A move before it was colonised is one to where it incubates, and one on the day of the pins followed them: neither
    is what the pins came after (*common practice*).
    """
    colonised, pins = _day_of(first_staged(run, "colonised")), _day_of(first_staged(run, "pinning"))
    fitting = [
        move
        for move in run.moves
        if (day := _day_of(move)) and (colonised is None or day >= colonised) and (pins is None or day < pins)
    ]
    return fitting[-1] if fitting else None


def first_days_of_flushes(run: Run) -> dict[int, date | None]:
    """The day each numbered flush was first picked, by number, lowest first."""
    firsts: dict[int, date | None] = {}
    for note in run.pickings:
        if note.flush is not None:
            firsts.setdefault(note.flush, calendar_day(note.date))
    return dict(sorted(firsts.items()))


def _between(firsts: Mapping[int, date | None]) -> dict[int, int]:
    gaps = {number: _days(day, firsts.get(number + 1)) for number, day in firsts.items()}
    return {number: days for number, days in gaps.items() if days is not None}


def _day_of(note: Note | None) -> date | None:
    return calendar_day(note.date) if note else None


def _days(start: date | None, end: date | None) -> int | None:
    """Whole days from start to end; None where either is unknown, or the end lies before the start."""
    return None if start is None or end is None or end < start else (end - start).days
