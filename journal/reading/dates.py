"""Dates as an author writes them, as far as they are known."""

from __future__ import annotations

import re
from contextlib import suppress
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

from journal.model import Next, When
from journal.problems import Unreadable, shortened
from journal.quantities import Parsed

_HOW = "write it like 2026-10-03, 2026-10-03 14:05, 2026-10 or about 2026-10-03"
_ABOUT = re.compile(r"about\s+", re.IGNORECASE)
# ISO 8601 calendar dates, extended format, with a space allowed for the T.
_DATE = re.compile(
    r"(?P<year>[0-9]{4})(?:-(?P<month>[0-9]{2})(?:-(?P<day>[0-9]{2})(?:(?:\s+|[Tt])(?P<time>[0-9]{1,2}:.*))?)?)?"
)
_TIME = re.compile(
    r"(?P<hour>[0-9]{1,2}):(?P<minute>[0-9]{2})(?::(?P<second>[0-9]{2})(?:[.,][0-9]+)?)?"
    r"\s*(?P<offset>[Zz]|[+\u2212-][0-9]{2}(?::?[0-9]{2})?)?"
)
_DAY_IN_NAME = re.compile(r"([0-9]{4}-[0-9]{2}(?:-[0-9]{2})?)(?![0-9]|-[0-9])")
_DAY_IN_FRONT = re.compile(r"(?P<day>[0-9]{4}-[0-9]{2}-[0-9]{2})(?![0-9])[\s:,]*(?P<text>.*)", re.DOTALL)
_FIRST_YEAR, _LAST_YEAR = 1700, 2999


def read_when(text: str, zone: tzinfo) -> Parsed[When]:
    """A date as format 1 has it; a time without offset is in `zone`. Raises Unreadable.

    Of a time that the clock change makes impossible or doubled the earlier of the two moments it can mean is taken,
    with a remark. Seconds are kept, fractions of them are not.
    """
    written = " ".join(text.split())
    bare = _ABOUT.sub("", written, count=1) if _ABOUT.match(written) else written
    found = _DATE.fullmatch(bare)
    if not found:
        raise Unreadable(f"{shortened(written)} is not a date", _HOW)
    first = _calendar_day(written, int(found["year"]), int(found["month"] or 1), int(found["day"] or 1))
    moment = _moment(written, first, found["time"], zone) if found["time"] else Parsed(None)
    if bare != written:
        return Parsed(When(written, first, "about"))
    if moment.value:
        return moment.then(lambda aware: When(written, first, "minute", aware))
    return Parsed(When(written, first, "day" if found["day"] else "month" if found["month"] else "year"))


def _calendar_day(written: str, year: int, month: int, day: int) -> date:
    if not _FIRST_YEAR <= year <= _LAST_YEAR:
        raise Unreadable(f"{shortened(written)} is in the year {year:04}", "write the year in full, like 2026")
    try:
        return date(year, month, day)
    except ValueError:
        raise Unreadable(f"{shortened(written)} is a day that does not exist", _HOW) from None


def _moment(written: str, day: date, time: str, zone: tzinfo) -> Parsed[datetime | None]:
    found = _TIME.fullmatch(time)
    if not found or int(found["hour"]) > 23 or int(found["minute"]) > 59 or int(found["second"] or 0) > 59:
        raise Unreadable(f"{shortened(written)} has an impossible time of day", "write it like 14:05")
    wall = datetime(day.year, day.month, day.day, int(found["hour"]), int(found["minute"]), int(found["second"] or 0))
    offset = found["offset"]
    if not offset:
        return in_zone(wall, zone).then(lambda aware: aware)
    digits = offset[1:].replace(":", "").ljust(4, "0")  # of Z, zeroes
    hours, minutes = int(digits[:2]), int(digits[2:])
    if hours > 14 or minutes > 59:
        raise Unreadable(f"{shortened(written)} has an impossible offset", "write it like +01:00")
    size = timedelta(hours=hours, minutes=minutes)
    return Parsed(wall.replace(tzinfo=timezone(size if offset[0] == "+" else -size)))


def in_zone(wall: datetime, zone: tzinfo) -> Parsed[datetime]:
    """What a wall clock showed, as an aware time with a fixed offset; see `read_when` for the clock change."""
    two = [wall.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)]
    earlier = min(two).astimezone(zone)
    offset = earlier.utcoffset() or timedelta(0)
    moment = Parsed(earlier.replace(tzinfo=timezone(offset), fold=0))
    if two[0] == two[1]:
        return moment
    what = "occurs twice" if earlier.replace(tzinfo=None) == wall else "does not exist"
    taken = moment.value.isoformat(timespec="minutes")
    message = f"{wall.isoformat(' ', 'minutes')} {what} because the clocks changed; {taken} is used"
    return moment.noting(message, "write the offset after the time, like +01:00")


def journal_zone(name: str) -> tzinfo:
    """The zone of that IANA name; UTC where there is none of that name."""
    try:
        return ZoneInfo(name)
    except (ValueError, OSError, KeyError):  # ZoneInfoNotFoundError is a KeyError
        return UTC


def when_in_name(name: str) -> When | None:
    """The day (or month) that begins a file's or folder's name, as in `2026-10-27-pins.md`; None where none does."""
    if found := _DAY_IN_NAME.match(name):
        with suppress(Unreadable):
            return read_when(found[1], UTC).value
    return None


def read_next(text: str) -> Parsed[Next]:
    """What is to be done, and on which day: `2026-11-28 raise the duct's far end`. Raises Unreadable.

    Without a day in front the words stand alone; one less exact than a day stays among the words, with a remark.
    """
    words = " ".join(text.split())
    found = _DAY_IN_FRONT.fullmatch(words)
    if found:
        if not found["text"]:
            raise Unreadable(f"{shortened(words)} does not say what to do", "write it after the day")
        return Parsed(Next(found["text"], read_when(found["day"], UTC).value.first))
    if vague := re.match(r"(?:about )?[0-9]{4}-[0-9]{2}\b", words):
        message = f"{shortened(vague[0])} is not a day, so this never falls due"
        return Parsed(Next(words, None)).noting(message, "begin with a whole date, like 2026-11-28")
    return Parsed(Next(words, None))
