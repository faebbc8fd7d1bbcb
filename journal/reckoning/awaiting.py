"""What a batch waits for next, and the days from which that can be reckoned."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from journal.model import Note
from journal.reckoning.milestones import Milestones, first_days_of_flushes, move_into_tent
from journal.reckoning.species_ranges import Days, Usual
from journal.reckoning.timing import Run, calendar_day

What = Literal["colonised", "pins", "harvest", "next flush"]
Gap = Literal[
    "colonised_d", "pinning_d", "pinning_after_move_d", "harvest_d", "harvest_after_pins_d", "between_flushes_d"
]

NOT_AWAITED = frozenset({"stored", "contaminated"})
"""Stages of the whole in which nothing is waited for, though it is not over."""

_COLONISED = frozenset({"colonised", "pinning", "fruiting", "resting"})


@dataclass(frozen=True, slots=True)
class Wait:
    """One way to reckon what comes next: a gap, the day it counts from, and that day in words.

    flush: the number of the flush it counts from; None where it counts from anything else.
    """

    what: What
    gap: Gap
    since: date
    after: str
    flush: int | None = None

    def took_d(self, other: Milestones) -> int | None:
        """The days the same thing took another batch."""
        if self.gap == "between_flushes_d":
            return None if self.flush is None else other.between_flushes_d.get(self.flush)
        days: int | None = getattr(other, self.gap)
        return days

    def usual_d(self, usual: Usual) -> Days | None:
        """The days it usually takes; of a first harvest counted from inoculation nothing is told."""
        days: Days | None = None if self.gap == "harvest_d" else getattr(usual, self.gap)
        return days


def waits(run: Run) -> tuple[Wait, ...]:
    """The ways to reckon what a batch waits for, the best first and all for the same thing; none where nothing is.

    Whatever was seen last counts: pins since the last picking wait for a harvest, a picking for the next flush, a
    batch that is colonised for pins, any other for being colonised.
    """
    if run.is_over or run.stage in NOT_AWAITED:
        return ()
    stages = {note.stage for note in run.whole_notes}
    pins = pins_since_picking(run)
    if pins or ("fruiting" in stages and not run.pickings):
        return _for_harvest(run, pins)
    if run.pickings:
        return _for_flush(run, "next flush")
    if stages & _COLONISED:
        return _for_pins(run)
    return _from_day0(run, "colonised", "colonised_d")


def pins_since_picking(run: Run) -> Note | None:
    """The first note of pins on the whole since it was last picked; one that tells of both tells of new pins."""
    after = next((at for at in range(len(run.notes), 0, -1) if run.notes[at - 1].harvest_g), 1) - 1
    whole = set(map(id, run.whole_notes))
    return next((note for note in run.notes[after:] if note.stage == "pinning" and id(note) in whole), None)


def _for_harvest(run: Run, pins: Note | None) -> tuple[Wait, ...]:
    day = calendar_day(pins.date) if pins else None
    from_pins = (Wait("harvest", "harvest_after_pins_d", day, "pins"),) if day else ()
    rest = _for_flush(run, "harvest") if run.pickings else _from_day0(run, "harvest", "harvest_d")
    return from_pins + rest


def _for_flush(run: Run, what: What) -> tuple[Wait, ...]:
    """Counts from the first day of the highest flush; harvests in no flush give nothing to count from."""
    flushes = first_days_of_flushes(run)
    number = max(flushes, default=None)
    day = flushes[number] if number is not None else None
    return (Wait(what, "between_flushes_d", day, f"flush {number}", number),) if day else ()


def _for_pins(run: Run) -> tuple[Wait, ...]:
    move = move_into_tent(run)
    day = calendar_day(move.date) if move else None
    moved = (Wait("pins", "pinning_after_move_d", day, "the move"),) if day else ()
    return moved + _from_day0(run, "pins", "pinning_d")


def _from_day0(run: Run, what: What, gap: Gap) -> tuple[Wait, ...]:
    """Not where it is told from a later day on alone: what is waited for may have come before."""
    return (Wait(what, gap, run.day0, "inoculation"),) if run.day0 and not run.told_from else ()
