"""Where a batch stood, and from when until when: where it began, and each move of the whole of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta, tzinfo
from math import inf
from typing import Literal

from journal.model import Batch, When
from journal.reckoning.days import midnight_s
from journal.reckoning.timing import Run, calendar_day


@dataclass(frozen=True, slots=True)
class Stay:
    """A batch's time in one tent or room. tent: its ID, as defined.

    from_day, until_day: the first day, and the day on which it left (None: it stands there still). from_s, until_s:
    the moments, in seconds since 1970-01-01T00:00Z, where a time of day was written. left_by: "moved" elsewhere, or
    "over", spent, discarded or lost to the last unit there; None while it stands there.
    """

    tent: str
    from_day: date
    from_s: float | None = None
    until_day: date | None = None
    until_s: float | None = None
    left_by: Literal["moved", "over"] | None = None

    def span_s(self, zone: tzinfo) -> tuple[float, float]:
        """From which moment until before which, in seconds since 1970-01-01T00:00Z; infinite while it stands there.

        zone: the journal's. Where no time of day was written, it came at the day's beginning, left for elsewhere at
        the day's beginning, and was over at its end.
        """
        from_s = midnight_s(self.from_day, zone) if self.from_s is None else self.from_s
        if self.until_s is not None or self.until_day is None:
            return from_s, inf if self.until_s is None else self.until_s
        last_day = self.until_day + timedelta(days=1) if self.left_by == "over" else self.until_day
        return from_s, midnight_s(last_day, zone)


def stays_of(batch: Batch, run: Run) -> tuple[Stay, ...]:
    """The stays of a batch, in order: from day 0 in the tent it began in, then after each move of the whole of it.

    run: of the same batch. None where no tent is named. What was moved on a day that is not known (`2026-10`, `about
    2026-10-03`) has left at the first day it can mean, and where it stood after is not reckoned with until it is moved
    again; nor where it was moved to a place that is not known. A batch that is over stands nowhere.
    """
    inoculated = next((note.date for note in run.whole_notes if note.stage == "inoculated"), None)
    arrivals = [(inoculated or batch.date, batch.tent), *((note.date, note.moved_to) for note in run.departures)]
    stays: list[Stay] = []
    for when, tent in arrivals:
        if stays and stays[-1].until_day is None:
            if tent == stays[-1].tent and calendar_day(when):
                continue
            stays[-1] = _left(stays[-1], when, "moved")
        if tent and calendar_day(when):
            stays.append(Stay(tent, when.first, _moment_s(when)))
    return tuple(_until_over(stays, _over(run)))


def _over(run: Run) -> When | None:
    """When nothing of it was left to stand anywhere."""
    last = run.ended_by or (run.losses[-1] if run.is_all_lost and run.losses else None)
    return last.date if last else None


def _until_over(stays: list[Stay], over: When | None) -> Iterator[Stay]:
    """The stays up to the moment at which it was over; one that begins only later is none."""
    for stay in stays:
        if over is None or (stay.until_day is not None and stay.until_day <= over.first):
            yield stay
        elif stay.from_day <= over.first:
            yield _left(replace(stay, until_day=None, until_s=None), over, "over")


def _left(stay: Stay, when: When, how: Literal["moved", "over"]) -> Stay:
    return replace(stay, until_day=when.first, until_s=_moment_s(when), left_by=how)


def _moment_s(when: When) -> float | None:
    return None if when.moment is None else when.moment.timestamp()
