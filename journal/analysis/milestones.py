"""The days that a batch took to each milestone: colonised, first pins, harvests, and from flush to flush."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from journal.analysis.limits import limit
from journal.analysis.progress import Progress, calendar_day
from journal.model import Note


@dataclass(frozen=True, slots=True)
class Milestones:
    """Whole calendar days, None if not known; counted from day 0 unless stated. A stage counts if a note gives it to
    the whole batch; the first pins and the harvest of a part are those of the whole. An inexact day, or one before the
    day it is counted from, gives no number. pinning_after_move_d: to the first pins from the move into the tent (see
    `move_into_tent`). harvest_after_pins_d: from the first pins to the first harvest. between_flushes_d: by flush
    number, from that flush's last day to the first day of the flush numbered one more. flushes: the numbers of the
    flushes harvested, in order."""

    colonised_d: int | None = None
    pinning_d: int | None = None
    harvest_d: int | None = None
    pinning_after_move_d: int | None = None
    harvest_after_pins_d: int | None = None
    between_flushes_d: Mapping[int, int] = field(default_factory=dict)
    flushes: tuple[int, ...] = ()


def milestones(progress: Progress) -> Milestones:
    """The milestones reached so far, in days; none for a batch whose beginning a share keeps back."""
    if progress.shared_from:
        return Milestones()
    pins = _day_of(first_pins(progress))
    harvested = _day_of(progress.nonzero_harvests[0] if progress.nonzero_harvests else None)
    flushes = days_of_flushes(progress)
    firsts = {number: first for number, (first, _) in flushes.items()}
    between = {number: _days(last, firsts.get(number + 1)) for number, (_, last) in flushes.items()}
    return Milestones(
        colonised_d=_days(progress.day0, _day_of(first_staged(progress, "colonised"))),
        pinning_d=_days(progress.day0, pins),
        harvest_d=_days(progress.day0, harvested),
        pinning_after_move_d=_days(_day_of(move_into_tent(progress)), pins),
        harvest_after_pins_d=_days(pins, harvested),
        between_flushes_d={number: days for number, days in between.items() if days is not None},
        flushes=tuple(flushes),
    )


def first_staged(progress: Progress, stage: str) -> Note | None:
    """The first note that gives the whole this stage."""
    return next((note for note in progress.whole_notes if note.stage == stage), None)


def first_pins(progress: Progress) -> Note | None:
    """The first note of pins, on the whole or on a part; None if a harvest came before it, whose pins nobody noted."""
    first = progress.pins[0] if progress.pins else None
    picked = progress.nonzero_harvests[:1]
    return None if first is None or any(one.date.first < first.date.first for one in picked) else first


def move_into_tent(progress: Progress) -> Note | None:
    """The last move of the whole before its first pins; None if there is none, or its day is not known. A move before
    colonisation was to an incubation place, and one on the day of the pins followed them (*common practice*)."""
    colonised, pins = _day_of(first_staged(progress, "colonised")), _day_of(first_pins(progress))
    fitting = [
        move
        for move in progress.moves
        if (day := _day_of(move)) and (colonised is None or day >= colonised) and (pins is None or day < pins)
    ]
    return fitting[-1] if fitting else None


def days_of_flushes(progress: Progress) -> dict[int, tuple[date | None, date | None]]:
    """The days of the first and the last harvest of each numbered flush, by number, lowest first."""
    days: dict[int, tuple[date | None, date | None]] = {}
    for note in progress.nonzero_harvests:
        if note.flush is not None:
            day = calendar_day(note.date)
            days[note.flush] = (days.get(note.flush, (day, day))[0], day)
    return dict(sorted(days.items()))


@dataclass(frozen=True, slots=True)
class LastFlush:
    """The flush a batch gave last. day: of its last harvest, None if not known. harvest_g: of it so far. is_numbered:
    its harvests name it; else it is one of its own by its days."""

    number: int
    day: date | None
    harvest_g: float
    is_numbered: bool = True


def last_flush(progress: Progress) -> LastFlush | None:
    """The flush with the highest number; or, of harvests without a number after it, the last that came more days after
    the harvest before it than a flush lasts (`flush_lasts_d`), and so is the next flush. None where no flush is
    numbered."""
    flushes = days_of_flushes(progress)
    if not flushes:
        return None
    number = max(flushes)
    found = LastFlush(
        number, flushes[number][1], sum(note.harvest_g or 0 for note in progress.harvests if note.flush == number)
    )
    before = found.day
    for note in progress.nonzero_harvests:
        day = calendar_day(note.date)
        if note.flush is None and day and before and day > before:
            if (day - before).days > (limit("flush_lasts_d").high or 0):
                found = LastFlush(found.number + 1, day, note.harvest_g or 0, is_numbered=False)
            elif not found.is_numbered:
                found = replace(found, day=day, harvest_g=found.harvest_g + (note.harvest_g or 0))
            before = day
        elif note.flush is None and day and day == before and not found.is_numbered:
            found = replace(found, harvest_g=found.harvest_g + (note.harvest_g or 0))
    return found


def _day_of(note: Note | None) -> date | None:
    return calendar_day(note.date) if note else None


def _days(start: date | None, end: date | None) -> int | None:
    """Whole days from start to end; None if either is unknown, or the end is before the start."""
    return None if start is None or end is None or end < start else (end - start).days
