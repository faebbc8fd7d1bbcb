"""Calendar days of the journal's time zone on the one scale of seconds that readings stand on."""

from __future__ import annotations

from collections.abc import Iterator
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


def days_between(first_s: float, last_s: float, zone: tzinfo) -> Iterator[tuple[date, float, float]]:
    """Each day from that of one moment to that of another, with the moments at which it begins and ends.

    A day on which the clocks are changed is 23 or 25 h long.
    """
    day, last_day = day_of(first_s, zone), day_of(last_s, zone)
    while day <= last_day:
        after = day + timedelta(days=1)
        yield day, midnight_s(day, zone), midnight_s(after, zone)
        day = after
