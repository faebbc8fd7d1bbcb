"""Readings of temperature and humidity that a data logger wrote, from its CSV file."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from fnmatch import fnmatchcase
from math import isnan, nan
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo

from journal.model import ClimateSource, LoggerFile
from journal.problems import Problem, Unreadable, Weight, shortened
from journal.reading.folder import SETTINGS_NAME, nfc
from journal.reading.stamps import in_seconds, stamp_reader
from journal.reading.tables import Table, decoded, find_table

# Beyond what any room, tent or steriliser reaches: a sensor's way of saying that it has no reading (common practice).
_COLDEST_C, _HOTTEST_C = -60.0, 150.0

_FIRST_YEAR, _LAST_YEAR = 1970, 2199

_UNKNOWN = "what cannot be read counts as unknown"
_HOW_TIMES = 'write time_format in the settings, like "%d/%m/%Y %H:%M" where the day comes first'

_NO_READING = {"", "-", "--", "---", "na", "n/a", "nan", "null", "none"}
_NUMBER_WITH_UNIT = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?)\s*(?:°?\s*[CF]|%.*)?", re.IGNORECASE)
_UNIT_WORDS: dict[str, Literal["°C", "°F"]] = {
    **dict.fromkeys(("c", "degc", "celsius", "centigrade"), "°C"),
    **dict.fromkeys(("f", "degf", "fahrenheit"), "°F"),
}


class _Row(NamedTuple):
    line: int
    stamp: datetime
    temperature: float
    humidity: float


class _Columns(NamedTuple):
    """Indices of the columns wanted (None: not there), and the unit of the temperatures."""

    time: int
    temperature: int | None
    humidity: int | None
    unit: Literal["°C", "°F"]


@dataclass(slots=True)
class _Told:
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


def read_log(
    path: str, data: bytes, source: ClimateSource, zone_name: str
) -> tuple[LoggerFile, tuple[Problem, ...]]:
    """The readings of one logger CSV, in time order, and what is wrong with the file.

    path: relative to the journal folder. zone_name: the journal's IANA zone, for stamps without an offset where the
    source names none. Encoding, delimiter and decimal mark are found from the file; lines before the header and
    words after the last reading are passed over. A cell that holds no possible reading is NaN. Never raises for
    what the file holds; a file that cannot be read gives a log of no readings and a problem.
    """
    told = _Told(path)
    try:
        rows = _read_rows(decoded(data), source, told)
        stamps_s, rows = _in_order(rows, ZoneInfo(source.time_zone or zone_name), told)
    except Unreadable as unreadable:
        told.add(0, "wrong", unreadable.says, unreadable.mend)
        stamps_s, rows = [], []
    log = LoggerFile(
        path=path,
        tent=source.tent,
        stamps_s=tuple(stamps_s),
        temperature_c=tuple(row.temperature for row in rows),
        humidity_pct=tuple(row.humidity for row in rows),
        humidity_accuracy_pct=source.humidity_accuracy_pct,
        digest=hashlib.sha256(data).hexdigest(),
    )
    return log, tuple(told.problems)


def files_of(
    sources: Sequence[ClimateSource], csv_paths: Sequence[str]
) -> tuple[tuple[tuple[str, ClimateSource], ...], tuple[Problem, ...]]:
    """Each CSV file with each source that claims it, in the order of sources, then of paths; and sources without any.

    csv_paths: relative to the journal folder. In a pattern `*` stays within one folder and `**` is any folders. One
    file may serve several sources (two probes in one table); a file that none claims is passed over.
    """
    claims: list[tuple[str, ClimateSource]] = []
    problems: list[Problem] = []
    for source in sources:
        pattern = nfc(source.files).removeprefix("./").split("/")
        own = [(path, source) for path in csv_paths if _matches(nfc(path).split("/"), pattern)]
        claims += own
        if not own:
            says = f"no file fits the [[climate]] files of {source.tent}"
            problems.append(Problem(SETTINGS_NAME, 0, "odd", says, "correct files, or put the logger's CSV there"))
    return tuple(claims), tuple(problems)


def _matches(parts: Sequence[str], pattern: Sequence[str]) -> bool:
    if not pattern:
        return not parts
    if pattern[0] == "**":
        return any(_matches(parts[skipped:], pattern[1:]) for skipped in range(len(parts) + 1))
    return bool(parts) and fnmatchcase(parts[0], pattern[0]) and _matches(parts[1:], pattern[1:])


def _read_rows(text: str, source: ClimateSource, told: _Told) -> list[_Row]:
    """Every row with a readable stamp, in the order of the file, temperatures in °C."""
    if source.time is None:
        raise Unreadable("[[climate]] does not name the column of times", 'write time = "Time" in the settings')
    parse = stamp_reader(source.time_format)
    table = find_table(text, [name for name in (source.time, source.temperature, source.humidity) if name])
    columns = _columns(table, source, told)
    if columns is None:
        return []
    rows, unread, odd_cells, crowded = [], [], [], 0
    for line, cells in table.rows():
        crowded += any(cell.strip() for cell in cells[len(table.header) :])
        try:
            stamp = _plausible(parse(cells[columns.time]))
        except (ValueError, IndexError, OverflowError):
            unread.append((line, cells))
            continue
        values = _number(cells, columns.temperature), _number(cells, columns.humidity)
        if None in values:
            odd_cells.append(line)
        rows.append(_Row(line, stamp, *(nan if value is None else value for value in values)))
    _refuse_crowded(table, crowded, len(rows) + len(unread))
    _tell_unread(table, columns, rows, unread, told)
    told.counted(odd_cells, "a cell holds no number", "{n} rows have a cell that holds no number", _UNKNOWN)
    return _possible(rows, columns.unit, told)


def _plausible(stamp: datetime) -> datetime:
    """The stamp; ValueError for a year in which no logger ran, which later sums with days could not bear either."""
    if not _FIRST_YEAR <= stamp.year <= _LAST_YEAR:
        raise ValueError(f"year {stamp.year}")
    return stamp


def _columns(table: Table, source: ClimateSource, told: _Told) -> _Columns | None:
    """Where the wanted columns stand; tells of each that is missing, and None where nothing can be read without it."""
    time, temperature, humidity = (
        _column(table, key, name, told)
        for key, name in (("time", source.time), ("temperature", source.temperature), ("humidity", source.humidity))
    )
    if source.temperature is None and source.humidity is None:
        raise Unreadable("[[climate]] names neither temperature nor humidity", "name the columns in the settings")
    if time is None or (temperature is None and humidity is None):
        return None
    return _Columns(time, temperature, humidity, _unit(table, temperature, source, told))


def _column(table: Table, key: str, name: str | None, told: _Told) -> int | None:
    """Index of a column that the settings name under `key`, or None, told as wrong where it is named and not there."""
    index = None if name is None else table.column(name)
    if name is not None and index is None:
        near = table.nearest(name)
        known = shortened(near) if near else ", ".join(shortened(cell) for cell in table.header[:6])
        mend = f"the {'nearest is' if near else 'columns are'} {known}; correct {key} in the settings"
        told.add(table.header_line, "wrong", f"no column is named {shortened(name)}", mend)
    return index


def _unit(table: Table, column: int | None, source: ClimateSource, told: _Told) -> Literal["°C", "°F"]:
    """The unit of the temperatures: as the settings say, else as the column's name or the line under it does."""
    if column is None:
        return "°C"
    below = next((cells for _, cells in table.rows()), [])
    named = _unit_in(table.header[column])
    if named is None and _has_no_digits(below) and len(below) > column:
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


def _has_no_digits(cells: Sequence[str]) -> bool:
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


def _refuse_crowded(table: Table, crowded: int, rows: int) -> None:
    """Unreadable where commas part the cells and are decimal marks as well, so that most rows have too many cells."""
    if table.delimiter == "," and crowded * 2 > rows:
        raise Unreadable(
            "most rows have more cells than the header, as if the decimal mark were the comma that parts the cells",
            "export the readings with semicolons, or with decimal points",
        )


def _tell_unread(
    table: Table, columns: _Columns, rows: list[_Row], unread: list[tuple[int, list[str]]], told: _Told
) -> None:
    """One problem for the rows whose stamp could not be read, but for a line of units and the words at the end."""
    first_line = next((line for line, _ in table.rows()), 0)
    last_line = rows[-1].line if rows else 0
    lost = [
        line
        for line, cells in unread
        if not (line == first_line and _has_no_digits(cells))
        and (line < last_line or (len(cells) > columns.time and cells[columns.time].strip()[:1].isdigit()))
    ]
    if not rows:
        if lost:
            told.add(min(lost), "wrong", "no time in the file can be read", _HOW_TIMES)
        else:
            told.add(table.header_line, "odd", "the file holds no readings", "export it again, or put it away")
        return
    told.counted(lost, "the row has no readable time", "{n} rows have no readable time", "they were passed over")


def _possible(rows: list[_Row], unit: Literal["°C", "°F"], told: _Told) -> list[_Row]:
    """The rows in °C, with readings that cannot be made NaN."""
    impossible: list[int] = []
    kept = []
    for line, stamp, temperature, humidity in rows:
        celsius = (temperature - 32) * 5 / 9 if unit == "°F" else temperature
        cold_or_hot = not (_COLDEST_C <= celsius <= _HOTTEST_C or isnan(celsius))
        dry_or_wet = not (0 <= humidity <= 100 or isnan(humidity))
        if cold_or_hot or dry_or_wet:
            impossible.append(line)
        kept.append(_Row(line, stamp, nan if cold_or_hot else celsius, nan if dry_or_wet else humidity))
    limits = f"humidity outside 0 to 100 % or temperature outside {_COLDEST_C:g} to {_HOTTEST_C:g} °C"
    told.counted(impossible, f"an impossible reading ({limits})", f"{{n}} impossible readings ({limits})", _UNKNOWN)
    return kept


def _in_order(rows: list[_Row], zone: ZoneInfo, told: _Told) -> tuple[list[float], list[_Row]]:
    """Seconds and rows in time order, each moment once."""
    walls = [row.stamp.replace(tzinfo=None) for row in rows]
    falling = [i for i in range(1, len(walls)) if walls[i] < walls[i - 1]]
    newest_first = len(falling) * 2 > len(walls)
    if newest_first:
        rows = rows[::-1]
    found = in_seconds([row.stamp for row in rows], zone)
    _tell_clock_changes(rows, found.doubled, found.impossible, told)
    ordered = sorted(zip(found.stamps_s, rows, strict=True), key=lambda pair: (pair[0], pair[1].line))
    if newest_first or [pair[0] for pair in ordered] != found.stamps_s:
        told.add(0, "odd", "the rows are not in the order of time", "they were sorted")
    kept: list[tuple[float, _Row]] = []
    again = []
    for stamp_s, row in ordered:
        if kept and kept[-1][0] == stamp_s:
            again.append(row.line)
        else:
            kept.append((stamp_s, row))
    told.counted(again, "a time stands twice", "{n} times stand twice or oftener", "the first reading of each was kept")
    return [stamp_s for stamp_s, _ in kept], [row for _, row in kept]


def _tell_clock_changes(rows: Sequence[_Row], doubled: list[int], impossible: list[int], told: _Told) -> None:
    mend = "let the logger keep UTC, or name the zone it keeps under time_zone in the settings"
    told.counted(
        [rows[i].line for i in doubled],
        "a time falls in the hour that comes twice as the clocks are changed, and was read by its place among the rows",
        "{n} times fall in the hour that comes twice as the clocks are changed, and were read by their order",
        mend,
    )
    told.counted(
        [rows[i].line for i in impossible],
        "a time falls in the hour that is left out as the clocks are changed",
        "{n} times fall in the hour that is left out as the clocks are changed",
        mend,
    )
