"""The axis of a run: days from inoculation, day 0 at the left."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

from journal.model import When
from journal.site.charts import Scale, ticks

LEAST_D = 7
"""A run is drawn over so many days at least, so that its first days do not lie a hand apart."""


@dataclass(frozen=True, slots=True)
class Axis:
    """day0: the day of inoculation. end_d: where the axis ends, in days from the start of that day. zone: whose
    midnights part the days."""

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
        """Where a date stands, in days: at its time, or in the middle of its day; None where no day is known."""
        if not when.counts_days:
            return None
        return self.day_of(when.first) + 0.5 if when.moment is None else self.at_moment(when.moment)

    def at_moment(self, moment: datetime) -> float:
        """Where a moment stands by the clock of the zone."""
        local = moment.astimezone(self.zone)
        return self.day_of(local.date()) + (local.hour * 60 + local.minute) / 1440

    def at_s(self, stamp_s: float) -> float:
        """Where a moment stands, in days of 24 hours: over a clock change it is an hour off, which no chart shows."""
        return (stamp_s - self.midnight_s()) / 86400

    def date_at(self, day: int) -> date:
        return self.day0 + timedelta(days=day)

    def ticks(self, about: int) -> tuple[int, ...]:
        """Round numbers of days that fit on the axis."""
        return tuple(sorted({int(tick) for tick in ticks(0, self.scale.high, about)}))
