"""Time stamps of data loggers: read fast, and put on the one scale of seconds, clock changes included."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from functools import cache

from journal.problems import Unreadable

_EPOCH = datetime(1970, 1, 1)
_HOUR = timedelta(hours=1)
_DATE_DIRECTIVES, _TIME_DIRECTIVES = set("dmYybB"), set("HIMSpf")
_HALF_OF_DAY = re.compile(r"\b([ap])\.\s?m\b\.?", re.IGNORECASE)
_SPACED_OFFSET = re.compile(r" (?=(?:[+-][0-9]{2}:?[0-9]{2}|Z)$)")


@dataclass(slots=True)
class Seconds:
    """Stamps as seconds since 1970-01-01T00:00Z, in the order given.

    doubled, impossible: indices of those in an hour that a clock change brings twice, or leaves out.
    """

    stamps_s: list[float] = field(default_factory=list)
    doubled: list[int] = field(default_factory=list)
    impossible: list[int] = field(default_factory=list)


def stamp_reader(time_format: str | None) -> Callable[[str], datetime]:
    """A function from a cell to its date and time, which raises ValueError for what is none.

    time_format: as for strptime, or None for ISO 8601 with a time of day. Unreadable where the format is none.
    """
    if time_format is None:
        return _iso_8601
    _refuse_bad_format(time_format)
    if "p" in _directives(time_format):
        return _with_plain_halves(_formatted(time_format))
    return _formatted(time_format)


def _formatted(time_format: str) -> Callable[[str], datetime]:
    left, _, right = time_format.partition(" ")
    if _directives(left) <= _DATE_DIRECTIVES and right and _directives(right) <= _TIME_DIRECTIVES:
        return _in_two_parts(left, right)
    return lambda text: datetime.strptime(text.strip(), time_format)


def _with_plain_halves(read: Callable[[str], datetime]) -> Callable[[str], datetime]:
    """Reads `1:05 p.m.` and `1:05 p. m.` too, as much of the world writes the halves of a day."""
    return lambda text: read(_HALF_OF_DAY.sub(r"\1m", text) if "." in text else text)


def in_seconds(stamps: Sequence[datetime], zone: tzinfo) -> Seconds:
    """Each stamp as seconds; those without an offset are wall-clock times in `zone`.

    Within an hour that a clock change doubles, the earlier moment is taken until the stamps go back. Years 2 to 9998.
    """
    found = Seconds()
    offsets = cache(lambda day: _steady_offset_s(day, zone))
    for index, stamp in enumerate(stamps):
        if stamp.tzinfo is not None:
            found.stamps_s.append(stamp.timestamp())
            continue
        offset_s = offsets(stamp.date())
        if offset_s is None:
            found.stamps_s.append(_on_a_day_of_change(stamps, index, zone, found))
        else:
            found.stamps_s.append((stamp - _EPOCH).total_seconds() - offset_s)
    return found


def _iso_8601(text: str) -> datetime:
    text = text.strip()
    if len(text) <= 10:
        raise ValueError("a date without a time of day")
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return datetime.fromisoformat(_SPACED_OFFSET.sub("", text))


def _refuse_bad_format(time_format: str) -> None:
    """Unreadable where a format cannot give a day and a time of day."""
    example = datetime(2026, 11, 23, 14, 5, tzinfo=UTC)
    try:
        back = datetime.strptime(example.strftime(time_format), time_format)
    except (ValueError, re.error) as error:
        raise Unreadable("time_format is none that can be used", 'write it like "%d/%m/%Y %H:%M"') from error
    if back.replace(tzinfo=UTC) != example:
        raise Unreadable("time_format lacks a part of the date or the time", 'write it like "%d/%m/%Y %H:%M"')


def _directives(time_format: str) -> set[str]:
    return set(re.findall(r"%(.)", time_format))


def _in_two_parts(date_format: str, time_format: str) -> Callable[[str], datetime]:
    """A reader that parses each day and each time of day once: a month of stamps has few of either."""

    @cache
    def day(text: str) -> date:
        return datetime.strptime(text, date_format).date()

    @cache
    def clock(text: str) -> time:
        return datetime.strptime(text, time_format).time()

    def read(text: str) -> datetime:
        left, _, right = text.strip().partition(" ")
        return datetime.combine(day(left), clock(right.strip()))

    return read


def _steady_offset_s(day: date, zone: tzinfo) -> float | None:
    """The offset from UTC of a whole day in seconds, or None where it changes in the course of it."""
    midnight = datetime.combine(day, time(), zone)
    edges = (midnight, midnight.replace(fold=1), midnight + timedelta(days=1))
    offsets = {edge.utcoffset() for edge in edges}
    return (offsets.pop() or timedelta()).total_seconds() if len(offsets) == 1 else None


def _on_a_day_of_change(stamps: Sequence[datetime], index: int, zone: tzinfo, found: Seconds) -> float:
    """Seconds of one stamp on a day whose offset changes; says in `found` where the change makes it unsure."""
    stamp = stamps[index]
    first_s, second_s = (stamp.replace(tzinfo=zone, fold=fold).timestamp() for fold in (0, 1))
    if first_s == second_s:
        return first_s
    if first_s > second_s:  # the change leaves this hour out
        found.impossible.append(index)
        return first_s
    found.doubled.append(index)
    if not index or found.stamps_s[-1] < first_s:
        return first_s
    if found.stamps_s[-1] > first_s:
        return second_s
    following = stamps[index + 1] if index + 1 < len(stamps) else None
    going_on = following is None or (following.tzinfo is None and timedelta() < following - stamp < _HOUR)
    return first_s if going_on else second_s  # a stamp written twice, or an hourly row of the second hour
