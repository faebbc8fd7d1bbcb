"""Delimited text files as data loggers write them: encoding, delimiter, header and time stamps, found from the file
itself.
"""

from __future__ import annotations

import codecs
import csv
import re
import unicodedata
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from functools import cache
from itertools import islice
from math import nan
from typing import Literal

from journal.problems import Unreadable, nearest

_DELIMITERS = "\t;|,"
_LONGEST_PREAMBLE = 100
_LONGEST_HEADER = 10_000


@dataclass(frozen=True, slots=True)
class Table:
    """A header and the lines after it. header_line: its 1-based line in the file."""

    header: tuple[str, ...]
    header_line: int
    delimiter: str
    lines: tuple[str, ...]

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Line number and cells of every line after the header that is not blank."""
        for number, line in enumerate(self.lines, start=self.header_line + 1):
            if line and not line.isspace():
                yield number, cells_of(line, self.delimiter)

    def column(self, name: str) -> int | None:
        """Index of the column of that name, without regard to case, spacing or a unit after it; None if there is
        none."""
        plain = [_plain(cell) for cell in self.header]
        if _plain(name) in plain:
            return plain.index(_plain(name))
        bare = [_without_unit(cell) for cell in plain]
        return bare.index(_plain(name)) if bare.count(_plain(name)) == 1 else None

    def nearest(self, name: str) -> str | None:
        """The header cell most like a name, or None."""
        return nearest(name, [cell.strip() for cell in self.header if cell.strip()])


def decoded(data: bytes) -> str:
    """A file's text without its byte order mark: decoded as that says, else as UTF-8 if valid, else as Windows-1252."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16", "replace")
    if data[:200].count(0) > len(data[:200]) // 4:  # UTF-16 without a mark: every other byte of Latin text is 0
        return data.decode("utf-16-le" if data[1:2] == b"\0" else "utf-16-be", "replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace")


def find_table(text: str, names: Sequence[str]) -> Table:
    """The table whose header holds most of the names, among the first 100 lines and the delimiters , ; | and tab.

    If no line has any, the line that looks most like a header. Raises Unreadable if nothing looks like a table.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    best: tuple[tuple[int, int], Table] | None = None
    for number, line in islice(enumerate(lines, start=1), _LONGEST_PREAMBLE):
        for delimiter in _DELIMITERS if len(line) <= _LONGEST_HEADER else "":
            table = Table(tuple(cells_of(line, delimiter)), number, delimiter, ())
            if len(table.header) < 2:
                continue
            words = sum(bool(re.match(r"\s*[^\W\d]", cell)) for cell in table.header)
            score = sum(table.column(name) is not None for name in names), words
            if best is None or score > best[0]:
                best = score, replace(table, lines=tuple(lines[number:]))
    if best is None:
        raise Unreadable("this file has no table of readings", "export the readings as CSV with a header line")
    return best[1]


def cells_of(line: str, delimiter: str) -> list[str]:
    """The cells of one line; an unclosed quote ends with its line, not with the file."""
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:  # a cell of over 128 KiB
        return line.split(delimiter)


_NO_READING = frozenset({"", "-", "--", "---", "nan", "n/a", "na", "null", "none"})
_NUMBER_WITH_UNIT = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?)\s*+(?:°?\s*+[CF]|%.*)?", re.IGNORECASE)
_UNIT_WORDS: dict[str, Literal["°C", "°F"]] = {
    **dict.fromkeys(("c", "degc", "celsius", "centigrade"), "°C"),
    **dict.fromkeys(("f", "degf", "fahrenheit"), "°F"),
}


def cell_number(cell: str) -> float | None:
    """The number in a cell; NaN if the cell is blank or says that there is no reading, None if it is not a number."""
    try:
        return None if "_" in cell else float(cell)  # Python itself reads 1_6 as 16
    except ValueError:
        text = cell.strip().replace(",", ".").replace("\u2212", "-")
    if text.casefold() in _NO_READING:
        return nan
    found = _NUMBER_WITH_UNIT.fullmatch(text)
    return float(found[1]) if found else None


def unit_in(name: str) -> Literal["°C", "°F"] | None:
    """The unit of temperature in a column's name; None if it has none, or both."""
    words = re.split(r"[\W\d_]+", name.replace("º", "°").replace("℃", "°C").replace("℉", "°F").casefold())
    units = {_UNIT_WORDS[word] for word in words if word in _UNIT_WORDS}
    return units.pop() if len(units) == 1 else None


def has_no_digits(cells: Sequence[str]) -> bool:
    """Whether a row has only words, such as a line of units under the header."""
    return not any(char.isdigit() for cell in cells for char in cell)


def _plain(name: str) -> str:
    """A column's name for comparing: look-alike characters unified, single spaces, no case."""
    return " ".join(unicodedata.normalize("NFKC", name.replace("º", "°")).casefold().split())


def _without_unit(name: str) -> str:
    """A column's name without brackets at its end, or without what follows its last comma."""
    begins = [name.rfind(",")]
    if name.endswith(("]", ")")):
        closed = max(name.rfind("]", 0, -1), name.rfind(")", 0, -1))
        begins += [name.find("[", closed + 1), name.find("(", closed + 1)]
    begins = [at for at in begins if at >= 0]
    return name[: min(begins)].rstrip() if begins else name


_EPOCH = datetime(1970, 1, 1)
_HOUR = timedelta(hours=1)
_DATE_DIRECTIVES, _TIME_DIRECTIVES = set("dmYybB"), set("HIMSpf")
_HALF_OF_DAY = re.compile(r"\b([ap])\.\s?m\b\.?", re.IGNORECASE)
_SPACED_OFFSET = re.compile(r" (?=(?:[+-][0-9]{2}:?[0-9]{2}|Z)$)")


@dataclass(slots=True)
class Seconds:
    """Seconds since 1970-01-01T00:00Z, in the order given, and indices of those in an hour that a clock change skips,
    or repeats where their order does not surely tell which of the two it is."""

    stamps_s: list[float] = field(default_factory=list)
    doubled: list[int] = field(default_factory=list)
    impossible: list[int] = field(default_factory=list)


def stamp_reader(time_format: str | None) -> Callable[[str], datetime]:
    """A function from a cell to its date and time, which raises ValueError if the cell has none.

    time_format: as for strptime, or None for ISO 8601 with a time of day. Raises Unreadable if it is not a valid
    format.
    """
    if time_format is None:
        return _iso_8601
    _refuse_bad_format(time_format)
    left, _, right = time_format.partition(" ")
    if _directives(left) <= _DATE_DIRECTIVES and right and _directives(right) <= _TIME_DIRECTIVES:
        read = _in_two_parts(left, right)
    else:

        def read(text: str) -> datetime:
            return datetime.strptime(text.strip(), time_format)

    if "p" in _directives(time_format):  # also `1:05 p.m.` and `1:05 p. m.`, as many countries write them
        return lambda text: read(_HALF_OF_DAY.sub(r"\1m", text) if "." in text else text)
    return read


def in_seconds(stamps: Sequence[datetime], zone: tzinfo) -> Seconds:
    """Each stamp as seconds; those without an offset are wall-clock times in `zone`.

    Within an hour that a clock change repeats, the earlier moment is taken until the stamps go back. Years 2 to 9998.
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
    settled = {stamps[at].date() for at in found.doubled if _is_second_hour(stamps, found.stamps_s, at, zone)}
    found.doubled[:] = [at for at in found.doubled if stamps[at].date() not in settled]
    return found


def _is_second_hour(stamps: Sequence[datetime], stamps_s: Sequence[float], at: int, zone: tzinfo) -> bool:
    """Whether at this row the stamps surely go back to the second of two hours: it follows the row before about as soon
    as rows around it do, and not as one would that is out of order by minutes."""
    step_s = stamps_s[at] - stamps_s[at - 1] if at else 0.0
    around = [stamps_s[one] - stamps_s[one - 1] for one in (at - 1, at + 1) if 0 < one < len(stamps_s)]
    went_back = at > 0 and stamps[at].replace(tzinfo=None) <= stamps[at - 1].replace(tzinfo=None)
    is_second = stamps_s[at] != stamps[at].replace(tzinfo=zone, fold=0).timestamp()
    return went_back and is_second and 0 < step_s <= 1.5 * max(around, default=0.0)


def _iso_8601(text: str) -> datetime:
    text = text.strip()
    if len(text) <= 10:
        raise ValueError("a date without a time of day")
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return datetime.fromisoformat(_SPACED_OFFSET.sub("", text))


def _refuse_bad_format(time_format: str) -> None:
    example = datetime(2026, 11, 23, 14, 5, tzinfo=UTC)
    try:
        back = datetime.strptime(example.strftime(time_format), time_format)
    except (ValueError, re.error) as error:
        raise Unreadable("time_format cannot be used", 'write it like "%d/%m/%Y %H:%M"') from error
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
    """The offset from UTC of a whole day in seconds, or None if it changes during the day."""
    midnight = datetime.combine(day, time(), zone)
    edges = (midnight, midnight.replace(fold=1), midnight + timedelta(days=1))
    offsets = {edge.utcoffset() for edge in edges}
    return (offsets.pop() or timedelta()).total_seconds() if len(offsets) == 1 else None


def _on_a_day_of_change(stamps: Sequence[datetime], index: int, zone: tzinfo, found: Seconds) -> float:
    """Seconds of one stamp on a day whose offset changes; adds to `found` stamps that the change makes ambiguous."""
    stamp = stamps[index]
    first_s, second_s = (stamp.replace(tzinfo=zone, fold=fold).timestamp() for fold in (0, 1))
    if first_s == second_s:
        return first_s
    if first_s > second_s:  # the change skips this hour
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
