"""Dates as an author writes them, which may be incomplete."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import replace
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
_MONTH_NAMES = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
_MONTHS = {"sept": 9} | {word: at for at, name in enumerate(_MONTH_NAMES, 1) for word in (name, name[:3])}
_DAY, _NAME, _YEAR = "(?P<day>[0-9]{1,2})(?:st|nd|rd|th)?", r"(?P<name>[A-Za-z]{3,9})\.?", "(?P<year>[0-9]{4})(?![0-9])"
_WEEKDAY = r"(?:(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)[a-z]{0,6}\.?,? )?"
_EVERYDAY = tuple(
    re.compile(_WEEKDAY + form, re.IGNORECASE)
    for form in (
        r"(?P<year>[0-9]{4})(?P<sep>[/. -])(?P<month>[0-9]{1,2})(?P=sep)(?P<day>[0-9]{1,2})(?![0-9])",
        r"(?P<year>[0-9]{4})(?P<month>[0-9]{2})(?P<day>[0-9]{2})(?![0-9])",
        rf"{_DAY}\.?[ -]?(?:of )?{_NAME},?[ -]?{_YEAR}",
        rf"{_NAME} ?{_DAY},? {_YEAR}",
        rf"(?P<year>[0-9]{{4}})[ -]{_NAME}[ -]{_DAY}(?![0-9])",
        rf"{_NAME},? {_YEAR}",
        rf"(?P<day>[0-9]{{1,2}})\. ?(?P<month>[0-9]{{1,2}})\. ?{_YEAR}",
    )
)
"""Unambiguous dates in other notations than ISO 8601."""
_TWO_NUMBERS = re.compile(rf"(?P<one>[0-9]{{1,2}})(?P<sep>[/ -])(?P<other>[0-9]{{1,2}})(?P=sep){_YEAR}")
_DAY_IN_FRONT = re.compile(r"(?P<day>[0-9]{4}-[0-9]{2}-[0-9]{2})(?![0-9])[\s:,]*(?P<text>.*)", re.DOTALL)
_FIRST_YEAR, _LAST_YEAR = 1700, 2999


def read_when(text: str, zone: tzinfo) -> Parsed[When]:
    """A date as format 1 has it; a time without offset is in `zone`. Raises Unreadable.

    An unambiguous date in another notation (`3 October 2026`, `03.09.2026`) is read too, with a remark that has its ISO
    form. If a clock change skips or repeats a time, the earlier of the two possible moments is taken, with a remark.
    Seconds are kept, fractions of seconds are not.
    """
    written = " ".join(text.split())
    bare = _ABOUT.sub("", written, count=1) if _ABOUT.match(written) else written
    found = _DATE.fullmatch(bare)
    if not found:
        return _read_everyday(written, bare, zone)
    first = _calendar_day(written, int(found["year"]), int(found["month"] or 1), int(found["day"] or 1))
    moment = _moment(written, first, found["time"], zone) if found["time"] else Parsed(None)
    if bare != written:
        return Parsed(When(written, first, "about"))
    if moment.value:
        return moment.then(lambda aware: When(written, first, "minute", aware))
    return Parsed(When(written, first, "day" if found["day"] else "month" if found["month"] else "year"))


def _read_everyday(written: str, bare: str, zone: tzinfo) -> Parsed[When]:
    """A date in another notation than ISO 8601, with the ISO form in a remark. bare: without `about`."""
    day, rest = _in_iso(bare)
    rest = re.sub(r"^,? ?(?:at )?", "", rest)
    iso = f"{day} {rest}".strip()
    if not day or not _DATE.fullmatch(iso):
        raise Unreadable(f"{shortened(written)} is not a date", _HOW)
    iso = iso if bare == written else f"about {iso}"
    read = read_when(iso, zone).then(lambda when: replace(when, written=written))
    return read.noting(f"{shortened(written)} was read as {iso}", f"write {iso}")


def _in_iso(text: str) -> tuple[str, str]:
    """The date at the start of a text in ISO 8601 notation, and the rest of the text; "" if there is none.

    Raises Unreadable, with both readings, if it is not clear which number is the day and which the month.
    """
    if found := _TWO_NUMBERS.match(text):
        one, other = int(found["one"]), int(found["other"])
        both = [_iso(found["year"], month, day) for day, month in ((one, other), (other, one))]
        known = list(dict.fromkeys(filter(None, both)))
        if len(known) > 1:
            message = f"{shortened(found[0])} can be {known[0]} (day first) or {known[1]} (month first)"
            raise Unreadable(message, f"write {known[0]} or {known[1]}")
        return (known[0], text[found.end() :]) if known else ("", text)
    for form in _EVERYDAY:
        if found := form.match(text):
            parts = found.groupdict()
            month = int(parts["month"]) if parts.get("month") else _MONTHS.get(parts["name"].casefold(), 0)
            iso = _iso(parts["year"], month, int(parts["day"])) if parts.get("day") else f"{parts['year']}-{month:02}"
            return (iso, text[found.end() :]) if month and iso else ("", text)
    return "", text


def _iso(year: str, month: int, day: int) -> str | None:
    """The day in ISO 8601 notation; None if the calendar has no such day."""
    with suppress(ValueError):
        return date(int(year), month, day).isoformat()
    return None


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
    """The time on a wall clock, as an aware time with a fixed offset; see `read_when` for clock changes.

    The offset is of whole minutes, as in ISO 8601: local mean time, which some zones kept until 1972, had seconds too.
    """
    two = [wall.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)]
    earlier = min(two).astimezone(zone)
    offset = earlier.utcoffset() or timedelta(0)
    whole = timedelta(minutes=round(offset / timedelta(minutes=1)))
    moment = Parsed(earlier.replace(tzinfo=timezone(whole), fold=0))
    if two[0] == two[1]:
        return moment
    what = "occurs twice" if earlier.replace(tzinfo=None) == wall else "does not exist"
    taken = moment.value.isoformat(timespec="minutes")
    message = f"{wall.isoformat(' ', 'minutes')} {what} because the clocks changed; {taken} is used"
    known = " or ".join(one.astimezone(zone).isoformat(timespec="minutes")[16:22] for one in sorted(two))
    return moment.noting(message, f"write the offset after the time: {known}")


def journal_zone(name: str) -> tzinfo:
    """The zone with that IANA name; UTC if there is none."""
    try:
        return ZoneInfo(name)
    except (ValueError, OSError, KeyError):  # ZoneInfoNotFoundError is a KeyError
        return UTC


def when_in_name(name: str) -> When | None:
    """The day (or month) at the start of a file's or folder's name, as in `2026-10-27-pins.md`; None if there is none.

    A day may also be written as in `27 October 2026.md` or `20261027_pins.md`, if it is unambiguous.
    """
    with suppress(Unreadable):
        found = _DAY_IN_NAME.match(name)
        day = found[1] if found else _in_iso(name.replace("_", " "))[0]
        return read_when(day, UTC).value if day else None
    return None


def read_next(text: str) -> Parsed[Next]:
    """What is to be done, and on which day: `2026-11-28 raise the duct's far end`. Raises Unreadable.

    Without a day in front, the words have no date. A date that is less exact than a day, or ambiguous, stays among the
    words, with a remark.
    """
    words = " ".join(text.split())
    found = _DAY_IN_FRONT.fullmatch(words)
    if found:
        if not found["text"]:
            raise Unreadable(f"{shortened(words)} does not say what to do", "write it after the day")
        return Parsed(Next(found["text"], read_when(found["day"], UTC).value.first))
    try:
        day, rest = _in_iso(words)
    except Unreadable as unclear:
        return Parsed(Next(words, None)).noting(f"{unclear.message}, so this never falls due", unclear.fix)
    if text := rest.strip(" ,:") if len(day) == len("2026-11-28") else "":
        what = Next(text, read_when(day, UTC).value.first)
        return Parsed(what).noting(f"{shortened(words[: -len(rest)])} was read as {day}", f"write {day} {text}")
    if vague := re.match(r"(?:about )?[0-9]{4}-[0-9]{2}\b", words):
        message = f"{shortened(vague[0])} is not a day, so this never falls due"
        return Parsed(Next(words, None)).noting(message, "start with a whole date, like 2026-11-28")
    return Parsed(Next(words, None))
