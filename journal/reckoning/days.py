"""Calendar days of the journal's time zone on the one scale of seconds that readings stand on."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from zoneinfo import ZoneInfo

from journal.model import Settings


def zone_of(settings: Settings) -> tzinfo:
    """The journal's time zone; UTC where its settings name none that is known."""
    try:
        return ZoneInfo(settings.time_zone)
    except (ValueError, OSError, KeyError):  # ZoneInfoNotFoundError is a KeyError
        return UTC


def midnight_s(day: date, zone: tzinfo) -> float:
    """The beginning of a day in a zone, in seconds since 1970-01-01T00:00Z."""
    return datetime.combine(day, time(), zone).timestamp()


def day_of(stamp_s: float, zone: tzinfo) -> date:
    """The day on which a moment falls in a zone. stamp_s: seconds since 1970-01-01T00:00Z."""
    return datetime.fromtimestamp(stamp_s, zone).date()


def days_read(stamps_s: Sequence[float], zone: tzinfo) -> Iterator[tuple[date, range]]:
    """Each day on which a moment falls, with the indices of those that do, in order. stamps_s: in order of time.

    A day on which the clocks are changed is 23 or 25 h long.
    """
    start = 0
    while start < len(stamps_s):
        day = day_of(stamps_s[start], zone)
        stop = bisect_left(stamps_s, midnight_s(day + timedelta(days=1), zone), start + 1)
        yield day, range(start, stop)
        start = stop
