"""The rows of a logger's CSV file, line by line, so that a file that has grown is read on from where it ended."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from math import nan
from typing import Literal, NamedTuple

from journal.model import ClimateSource
from journal.problems import Problem, Unreadable, Weight, shortened
from journal.reading.stamps import stamp_reader
from journal.reading.tables import Encoding, Table, cells_of, decoded_as, encoding_of, find_table

_FIRST_YEAR, _LAST_YEAR = 1970, 2199

_SURE_FROM_LINES = 100
"""In a shorter file a later line may still look more like its header, so it is read from its beginning."""

_MOST_LINES = 2_000_000
"""Almost four years of a row a minute. A line takes up to 1 kB of memory while it is read, however short it is."""

_SHOWN = 100

_NO_READING = {"", "-", "--", "---", "na", "n/a", "nan", "null", "none"}
_NUMBER_WITH_UNIT = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?)\s*+(?:°?\s*+[CF]|%.*)?", re.IGNORECASE)
_UNIT_WORDS: dict[str, Literal["°C", "°F"]] = {
    **dict.fromkeys(("c", "degc", "celsius", "centigrade"), "°C"),
    **dict.fromkeys(("f", "degf", "fahrenheit"), "°F"),
}


Row = tuple[int, datetime, float, float]
"""Line, stamp, temperature, humidity; NaN where a value is unknown. A plain tuple, for it is stored by the thousand."""


class Columns(NamedTuple):
    """Indices of the columns wanted (None: not there), and the unit of the temperatures."""

    time: int
    temperature: int | None
    humidity: int | None
    unit: Literal["°C", "°F"]


@dataclass(slots=True)
class Told:
    """The problems of one file, as they come up."""

    path: str
    problems: list[Problem] = field(default_factory=list)

    def add(self, line: int, weight: Weight, says: str, mend: str) -> None:
        self.problems.append(Problem(self.path, line, weight, says, mend))

    def counted(self, lines: Sequence[int], one: str, many: str, mend: str) -> None:
        """One odd for all the lines, naming the first; `{n}` in `many` is their count."""
        if lines:
            first = min(lines)
            says = one if len(lines) == 1 else f"{many.format(n=len(lines))}, the first in line {first}"
            self.add(first, "odd", says, mend)


@dataclass(slots=True)
class Rows:
    """What the lines of one file hold, as far as they were read.

    table: its header, without lines. told: what is wrong with the header. starts_with: line and cells of the first line
    that is not blank. rows: with a readable stamp, in the order of the file and its unit. unread: line and beginning of
    the time of the others. odd_cells: lines with a cell that holds no number. crowded: how many have more cells than
    the header. next_line: the number of the next line. bytes, sha256: of the part of the file up to there.
    """

    encoding: Encoding
    table: Table
    columns: Columns
    told: tuple[Problem, ...]
    starts_with: tuple[int, list[str]] | None = None
    rows: list[Row] = field(default_factory=list)
    unread: list[tuple[int, str]] = field(default_factory=list)
    odd_cells: list[int] = field(default_factory=list)
    crowded: int = 0
    next_line: int = 0
    bytes: int = 0
    sha256: str = ""

    def copied(self) -> Rows:
        """The same, to be read on without changing this."""
        return replace(self, rows=[*self.rows], unread=[*self.unread], odd_cells=[*self.odd_cells])


class WholeAndBefore(NamedTuple):
    """All that a file holds, and what it holds up to the end of its last whole line (None: it cannot be read on)."""

    whole: Rows
    before: Rows | None


def rows_of(data: bytes, source: ClimateSource, told: Told, before: Rows | None = None) -> WholeAndBefore | None:
    """The rows of a file; None where a wanted column is not there, which is told.

    before: what was in it when it was last read with the same `source`. Where the file has only grown since, its new
    lines alone are read. Raises Unreadable where there is no table of readings.
    """
    if max(data.count(b"\n"), data.count(b"\r")) > _MOST_LINES:
        raise Unreadable(f"the file has more than {_MOST_LINES:,} lines", "split it, by months or years")
    rows = _grown(data, before)
    if rows is None:
        begun = _begun(data, source, told)
        if begun is None:
            return None
        rows, lines = begun
    else:
        told.problems += rows.told
        lines = decoded_as(data[rows.bytes :], rows.encoding).replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if not lines:  # the file ends within its header, which may still become another
        return WholeAndBefore(rows, None)
    read = _LineReader(source, rows)
    for line in lines[:-1]:
        read.line(line)
    kept = _kept(rows, data) if rows.next_line > _SURE_FROM_LINES else None
    if lines[-1] != "":
        rows = rows.copied() if kept else rows
        _LineReader(source, rows).line(lines[-1])
    return WholeAndBefore(rows, kept)


def _grown(data: bytes, before: Rows | None) -> Rows | None:
    """What is known of the beginning of a file that still begins so; None where it does not."""
    if before is None or not before.bytes or len(data) < before.bytes:
        return None
    if hashlib.sha256(data[: before.bytes]).hexdigest() != before.sha256:
        return None
    is_still_so = before.encoding != "utf-8" or encoding_of(data[before.bytes :]) == "utf-8"
    return before.copied() if is_still_so else None


def _kept(rows: Rows, data: bytes) -> Rows | None:
    """The rows up to the last line's end, with the part of the file they were read from."""
    end = data.rfind(b"\n") + 1
    if not end or rows.encoding not in ("utf-8", "cp1252"):
        return None
    rows.bytes, rows.sha256 = end, hashlib.sha256(data[:end]).hexdigest()
    return rows


def _begun(data: bytes, source: ClimateSource, told: Told) -> tuple[Rows, Sequence[str]] | None:
    """The header of a file, with the lines after it; None where a wanted column is not there."""
    if source.time is None:
        raise Unreadable("[[climate]] does not name the column of times", 'write time = "Time" in the settings')
    stamp_reader(source.time_format)
    encoding = encoding_of(data)
    names = [name for name in (source.time, source.temperature, source.humidity) if name]
    table = find_table(decoded_as(data, encoding), names)
    already = len(told.problems)
    columns = _columns(table, source, told)
    if columns is None:
        return None
    rows = Rows(encoding, replace(table, lines=()), columns, tuple(told.problems[already:]))
    rows.next_line = table.header_line + 1
    return rows, table.lines


class _LineReader:
    """Puts one line after another into rows."""

    def __init__(self, source: ClimateSource, rows: Rows) -> None:
        self._into = rows
        self._parse = stamp_reader(source.time_format)
        self._header_cells = len(rows.table.header)

    def line(self, text: str) -> None:
        rows, number = self._into, self._into.next_line
        rows.next_line += 1
        if not text or text.isspace():
            return
        cells = cells_of(text, rows.table.delimiter)
        if rows.starts_with is None:
            rows.starts_with = number, cells[: self._header_cells]
        rows.crowded += any(cell.strip() for cell in cells[self._header_cells :])
        try:
            stamp = _plausible(self._parse(cells[rows.columns.time]))
        except (ValueError, IndexError, OverflowError):
            rows.unread.append((number, _beginning_of_time(cells, rows.columns.time)))
            return
        temperature, humidity = _number(cells, rows.columns.temperature), _number(cells, rows.columns.humidity)
        if temperature is None or humidity is None:
            rows.odd_cells.append(number)
        known = (nan if temperature is None else temperature, nan if humidity is None else humidity)
        rows.rows.append((number, stamp, *known))


def _beginning_of_time(cells: Sequence[str], column: int) -> str:
    """As much of a time that cannot be read as it takes to show it; nothing where the row ends before it."""
    return cells[column].strip()[:_SHOWN] if column < len(cells) else ""


def _plausible(stamp: datetime) -> datetime:
    """The stamp; ValueError for a year in which no logger ran, which later sums with days could not bear either."""
    if not _FIRST_YEAR <= stamp.year <= _LAST_YEAR:
        raise ValueError(f"year {stamp.year}")
    return stamp


def _columns(table: Table, source: ClimateSource, told: Told) -> Columns | None:
    """Where the wanted columns stand; tells of each that is missing, and None where nothing can be read without it."""
    time, temperature, humidity = (
        _column(table, key, name, told)
        for key, name in (("time", source.time), ("temperature", source.temperature), ("humidity", source.humidity))
    )
    if source.temperature is None and source.humidity is None:
        raise Unreadable("[[climate]] names neither temperature nor humidity", "name the columns in the settings")
    if time is None or (temperature is None and humidity is None):
        return None
    return Columns(time, temperature, humidity, _unit(table, temperature, source, told))


def _column(table: Table, key: str, name: str | None, told: Told) -> int | None:
    """Index of a column that the settings name under `key`, or None, told as wrong where it is named and not there."""
    index = None if name is None else table.column(name)
    if name is not None and index is None:
        near = table.nearest(name)
        known = shortened(near) if near else ", ".join(shortened(cell) for cell in table.header[:6])
        mend = f"the {'nearest is' if near else 'columns are'} {known}; correct {key} in the settings"
        told.add(table.header_line, "wrong", f"no column is named {shortened(name)}", mend)
    return index


def _unit(table: Table, column: int | None, source: ClimateSource, told: Told) -> Literal["°C", "°F"]:
    """The unit of the temperatures: as the settings say, else as the column's name or the line under it does."""
    if column is None:
        return "°C"
    below = next((cells for _, cells in table.rows()), [])
    named = _unit_in(table.header[column])
    if named is None and has_no_digits(below) and len(below) > column:
        named = _unit_in(below[column])
    if source.temperature_unit and named and source.temperature_unit != named:
        says = f"the temperature column says {named} and the settings {source.temperature_unit}"
        told.add(table.header_line, "odd", says, "the settings were followed; correct temperature_unit if they err")
    if not (source.temperature_unit or named):
        says = "neither the temperature column nor the settings name a unit, so °C was taken"
        told.add(table.header_line, "odd", says, 'write temperature_unit = "°C" or "°F" in the settings')
    return source.temperature_unit or named or "°C"


def _unit_in(name: str) -> Literal["°C", "°F"] | None:
    words = re.split(r"[\W\d_]+", name.replace("º", "°").replace("℃", "°C").replace("℉", "°F").casefold())
    units = {_UNIT_WORDS[word] for word in words if word in _UNIT_WORDS}
    return units.pop() if len(units) == 1 else None


def has_no_digits(cells: Sequence[str]) -> bool:
    return not any(char.isdigit() for cell in cells for char in cell)


def _number(cells: Sequence[str], column: int | None) -> float | None:
    """The number in a cell; NaN where the cell is blank or says that there is no reading, None where it is none."""
    if column is None or column >= len(cells):
        return nan
    try:
        return float(cells[column])
    except ValueError:
        text = cells[column].strip().replace(",", ".").replace("\u2212", "-")
    if text.casefold() in _NO_READING:
        return nan
    found = _NUMBER_WITH_UNIT.fullmatch(text)
    return float(found[1]) if found else None
