"""When an entry was, and whether its photos agree."""

from __future__ import annotations

import posixpath
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta

from journal.model import When
from journal.reading.dates import when_in_name
from journal.reading.entries import Draft

MAY_DIFFER = timedelta(hours=24)
"""How far a photo may lie from the entry it belongs to before that is said."""


def date_as_told(draft: Draft, taken: Sequence[datetime]) -> When | None:
    """The entry's own date, else its earliest photo's time, else a date that begins its file's or folder's name.

    taken: when its photos were taken.
    """
    own: When | None = draft.values.get("date")
    if own is not None:
        return own
    if taken:
        return _of_photo(min(taken))
    folder, name = posixpath.split(draft.path)
    return when_in_name(name) or when_in_name(posixpath.basename(folder))


def with_time_of_photos(told: When, taken: Sequence[datetime]) -> When:
    """A date that is exact to the day gets the time of its earliest photo, where that was on the same day."""
    if told.exact != "day" or not taken or min(taken).date() != told.first:
        return told
    return replace(told, exact="minute", moment=min(taken))


def disagrees(told: When, taken: datetime) -> bool:
    """Whether a photo lies more than 24 hours from an entry's date.

    A date without a time counts as its whole day (month, year), by the clock of whoever took the photo; one that is
    only about right disagrees with nothing.
    """
    if told.exact == "about":
        return False
    if told.moment is not None:
        return abs(taken - told.moment) > MAY_DIFFER
    clock = taken.replace(tzinfo=None)
    begins = datetime.combine(told.first, time.min)
    ends = datetime.combine(_day_after(told), time.min)
    return clock < begins - MAY_DIFFER or clock > ends + MAY_DIFFER


def _day_after(told: When) -> date:
    """The first day that the date can no longer mean."""
    first = told.first
    if told.exact == "month":
        return (first.replace(day=28) + timedelta(days=4)).replace(day=1)
    if told.exact == "year":
        return date(first.year + 1, 1, 1)
    return first + timedelta(days=1)


def _of_photo(taken: datetime) -> When:
    return When(written=taken.isoformat(" ", "minutes"), first=taken.date(), exact="minute", moment=taken)
