"""Calendar days of the journal's time zone, and the weeks of the year in which each species was found."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from zoneinfo import ZoneInfo

from journal.analysis.identity import Identification
from journal.analysis.progress import calendar_day
from journal.analysis.species_names import name_of_kind
from journal.model import Journal, Note
from journal.settings import Settings


def zone_of(settings: Settings) -> tzinfo:
    """The journal's time zone; UTC if its settings name no known one."""
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
    """Each day on which a moment falls, with the indices of those that do, in order. stamps_s: in order of time."""
    start = 0
    while start < len(stamps_s):
        day = day_of(stamps_s[start], zone)
        stop = bisect_left(stamps_s, midnight_s(day + timedelta(days=1), zone), start + 1)
        yield day, range(start, stop)
        start = stop


SEEN_STAGES = frozenset({"young", "prime"})
"""Stages of a visit at which a find could have been made."""


@dataclass(frozen=True, slots=True)
class Season:
    """A species, by `name_of_kind`, and the days on which it was found or seen young or prime."""

    species: str
    days: tuple[date, ...]

    @property
    def weeks(self) -> Mapping[int, tuple[int, ...]]:
        """For each week of the year in which it was seen, the years in which it was, both as in ISO 8601 (weeks
        1-53)."""
        found: dict[int, dict[int, None]] = {}
        for day in self.days:
            year, week, _ = day.isocalendar()
            found.setdefault(week, {})[year] = None
        return {week: tuple(years) for week, years in sorted(found.items())}


def is_seen(note: Note) -> bool:
    """Whether a note about a find shows it fruiting: by its stage, or since something was harvested, however old."""
    return note.stage in SEEN_STAGES or bool(note.harvest_g)


def seasons_of(journal: Journal, named: Mapping[str, Sequence[Identification]]) -> tuple[Season, ...]:
    """The season of every species that finds are currently identified as, by name; inexact days do not count. named:
    the finds' `identifications`."""
    species = {id: identified[-1].species for id, identified in named.items()}
    seen = [(find.id, find.date) for find in journal.finds]
    seen += [(ref.id, note.date) for note in journal.notes if is_seen(note) for ref in note.about]
    days: dict[str, set[date]] = {}
    names: dict[str, str] = {}
    for id, when in seen:
        identified, day = species.get(id), calendar_day(when)
        if identified and day:
            name = name_of_kind(identified, journal.settings.names)
            names.setdefault(name.casefold(), name)
            days.setdefault(name.casefold(), set()).add(day)
    return tuple(Season(names[key], tuple(sorted(days[key]))) for key in sorted(days))
