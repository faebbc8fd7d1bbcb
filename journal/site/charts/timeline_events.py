"""What happened to a batch, each event at its day on the axis, independent of the width."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from typing import Literal

from journal.analysis.forecast import Expected
from journal.analysis.progress import Progress, calendar_day
from journal.model import When
from journal.site import wording
from journal.site.charts.primitives import Scale, ticks

LEAST_D = 7
"""A timeline is at least this many days long, so that the first days are not spread too far apart."""


@dataclass(frozen=True, slots=True)
class DayAxis:
    """Days from inoculation, day 0 at the left. day0: the day of inoculation. end_d: where the axis ends, in days from
    the start of that day. zone: the time zone whose midnights separate the days."""

    day0: date
    end_d: float
    zone: tzinfo

    @property
    def scale(self) -> Scale:
        return Scale(0, max(self.end_d, LEAST_D))

    def midnight_s(self) -> float:
        """When day 0 began, in seconds since 1970-01-01T00:00Z."""
        return datetime.combine(self.day0, datetime.min.time(), self.zone).timestamp()

    def day_of(self, day: date) -> int:
        """Whole days from day 0 to a calendar day."""
        return (day - self.day0).days

    def at(self, when: When) -> float | None:
        """The position of a date, in days: at its time, or in the middle of its day; None if no day is known."""
        if not when.counts_days:
            return None
        return self.day_of(when.first) + 0.5 if when.moment is None else self.at_moment(when.moment)

    def at_moment(self, moment: datetime) -> float:
        """The position of a moment by the clock of the zone."""
        local = moment.astimezone(self.zone)
        return self.day_of(local.date()) + (local.hour * 60 + local.minute) / 1440

    def at_s(self, stamp_s: float) -> float:
        """The position of a moment, in days of 24 hours: after a clock change it is an hour off, too little to see in a
        chart."""
        return (stamp_s - self.midnight_s()) / 86400

    def ticks(self, about: int) -> tuple[int, ...]:
        """Round numbers of days that fit on the axis."""
        return tuple(sorted({int(tick) for tick in ticks(0, self.scale.high, about)}))


Kind = Literal["move", "loss", "set", "light"]


@dataclass(frozen=True, slots=True)
class StageSpan:
    """A period: a stage, or what is expected. Its ends are days on the axis. derived: what a stage that no note states
    is derived from."""

    stage: str
    from_d: float
    to_d: float
    expected: bool = False
    derived: str | None = None

    @property
    def words(self) -> str:
        """The stage's name on a screen."""
        return wording.stage_in_words(self.stage, self.derived) or ""


@dataclass(frozen=True, slots=True)
class Happening:
    """at_d: in days. words: short enough for the drawing."""

    kind: Kind
    at_d: float
    words: str


@dataclass(frozen=True, slots=True)
class Harvest:
    """A harvest. words: its mass. flush: None if none was written. of_flush: the mass of all of that flush."""

    at_d: float
    mass_g: float
    words: str
    flush: int | None = None
    of_flush: str = ""


def last_day_of(run: Progress, awaited: Expected | None, readings_to_d: float | None, axis: DayAxis) -> float:
    """Where the axis ends: at the last known or expected day; for a batch that is over, at its end or the last event
    after it."""
    if run.over_on is not None:
        later = (*run.nonzero_harvests, *run.losses, *run.departures, *(note for note in run.notes if note.stage))
        days: list[float] = [axis.day_of(day) + 1 for note in later if (day := calendar_day(note.date))]
        return max([*days, axis.day_of(run.over_on) + 1])
    days = [axis.day_of(day) + 1 for note in run.notes if (day := calendar_day(note.date))]
    if awaited is not None:
        days.append(axis.day_of(awaited.to_day or awaited.from_day) + 1)
    if readings_to_d is not None:
        days.append(readings_to_d)
    return max(days, default=1)


def stages(run: Progress, axis: DayAxis, until_d: float) -> tuple[StageSpan, ...]:
    """The stages of the whole batch, each until the next; before the first stated stage it is `inoculated`."""
    begun: list[tuple[float, str, str | None]] = []
    for one in run.stages:
        day = calendar_day(one.note.date)
        if day is not None and (not begun or begun[-1][1] != one.name):
            # If derived from the same harvest as the fruiting that it ends, it begins on the next day.
            at_d = axis.day_of(day) + (one.name == "resting" and one.derived is not None)
            begun.append((max(0, at_d), one.name, one.derived))
    if not begun or begun[0][0] > 0:
        begun.insert(0, (0, "inoculated", None))
    ends = [day for day, _, _ in begun[1:]] + [until_d]
    rows = zip(begun, ends, strict=True)
    return tuple(
        StageSpan(stage, day, min(end, until_d), derived=derived) for (day, stage, derived), end in rows if end > day
    )


def expected_span(awaited: Expected | None, axis: DayAxis) -> StageSpan | None:
    """What is expected next, as a period."""
    if awaited is None:
        return None
    to_day = awaited.to_day or awaited.from_day
    return StageSpan(awaited.what, axis.day_of(awaited.from_day), axis.day_of(to_day) + 1, expected=True)


def moves_and_losses(run: Progress, axis: DayAxis, names: Mapping[str, str]) -> tuple[Happening, ...]:
    """Moves of the whole batch, and units lost by day, in order. names: of tents, by ID in lower case. A move without a
    time of day is placed at the start of its day, when the climate of the new tent begins to count."""
    rows = []
    for note in run.departures:
        at_d = axis.day_of(note.date.first) if note.date.moment is None else axis.at(note.date)
        if calendar_day(note.date) and at_d is not None:
            to = names.get(note.moved_to.lower(), note.moved_to) if note.moved_to else None
            rows.append(Happening("move", at_d, f"to {to}" if to else "moved elsewhere"))
    # Everything lost on one day is one event, at the time of the first loss.
    days: dict[date, list[tuple[float, int]]] = {}
    for note in run.losses:
        day, at_d = calendar_day(note.date), axis.at(note.date)
        if day is not None and at_d is not None:
            days.setdefault(day, []).append((at_d, note.lost or 0))
    rows += [Happening("loss", lost[0][0], f"{sum(number for _, number in lost)} lost") for lost in days.values()]
    return tuple(sorted((row for row in rows if row.at_d >= 0), key=lambda row: row.at_d))


def harvests(run: Progress, axis: DayAxis, units: wording.Units) -> Iterator[Harvest]:
    """Every harvest of more than nothing, each with the mass of all of its flush."""
    flushes: dict[int, float] = {}
    for note in run.nonzero_harvests:
        if note.flush is not None:
            flushes[note.flush] = flushes.get(note.flush, 0.0) + (note.harvest_g or 0.0)
    for note in run.nonzero_harvests:
        at_d = axis.at(note.date)
        if at_d is not None and at_d >= 0 and note.harvest_g:
            of_flush_g = note.harvest_g if note.flush is None else flushes[note.flush]
            mass, of_flush = (wording.mass(grams, units) for grams in (note.harvest_g, of_flush_g))
            yield Harvest(at_d, note.harvest_g, mass, note.flush, of_flush)
