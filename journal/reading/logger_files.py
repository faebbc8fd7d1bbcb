"""Readings of temperature and humidity from the CSV file of a data logger."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from fnmatch import fnmatchcase
from math import isnan, nan
from typing import Literal, NamedTuple, TypeVar
from zoneinfo import ZoneInfo

from journal.amounts import temperatures
from journal.model import LoggerFile
from journal.problems import Problem, Severity, Unreadable, shortened
from journal.quantities import to_celsius
from journal.reading.csv_tables import (
    Table,
    cell_number,
    decoded,
    find_table,
    has_no_digits,
    in_seconds,
    stamp_reader,
    unit_in,
)
from journal.reading.folder import nfc
from journal.reading.listing import SETTINGS_NAME
from journal.reading.logger_layout import NEARLY_ALL, format_advice, stamp_fits, time_formats, unit_by_values
from journal.reading.toml_tables import toml_string
from journal.settings import ClimateSource, WeatherSource

_FIRST_YEAR, _LAST_YEAR = 1970, 2199
_MOST_LINES = 2_000_000
"""Almost four years of a row a minute. A line takes up to 1 kB of memory while it is read, however short it is."""

_SHOWN = 100

LogRow = tuple[int, datetime, float, float]
"""Line, stamp, temperature, humidity; NaN if a value is unknown. A plain tuple, because thousands are stored."""


class Columns(NamedTuple):
    """Indices of the columns wanted (None: not there), and the unit of the temperatures."""

    time: int
    temperature: int | None
    humidity: int | None
    unit: Literal["°C", "°F"]


@dataclass(slots=True)
class ReadNotes:
    path: str
    problems: list[Problem] = field(default_factory=list)

    def add(self, line: int, severity: Severity, message: str, fix: str) -> None:
        self.problems.append(Problem(self.path, line, severity, message, fix))

    def counted(self, lines: Sequence[int], one: str, many: str, fix: str) -> None:
        """One warning for all the lines, naming the first; `{n}` in `many` is their count."""
        if lines:
            first = min(lines)
            message = one if len(lines) == 1 else f"{many.format(n=len(lines))}, the first in line {first}"
            self.add(first, "warning", message, fix)


@dataclass(slots=True)
class Rows:
    """What the lines of one file hold.

    starts_with: line and cells of the first line that is not blank. rows: with a readable stamp, in the order of the
    file and its unit. unread: line and beginning of the time of the others. odd_cells: lines with a cell that holds no
    number. crowded: how many have more cells than the header.
    """

    table: Table
    columns: Columns
    starts_with: tuple[int, list[str]] | None = None
    rows: list[LogRow] = field(default_factory=list)
    unread: list[tuple[int, str]] = field(default_factory=list)
    odd_cells: list[int] = field(default_factory=list)
    crowded: int = 0


def _rows_of(data: bytes, source: ClimateSource, notes: ReadNotes) -> Rows | None:
    """The file's rows; None if a wanted column is missing, which is reported. Raises Unreadable if there is no
    table."""
    if max(data.count(b"\n"), data.count(b"\r")) > _MOST_LINES:
        raise Unreadable(f"this file has more than {_MOST_LINES:,} lines", "split it by month or year")
    if source.time is None:
        raise Unreadable("[[climate]] does not name the time column", 'write time = "Time" in the settings')
    parse = stamp_reader(source.time_format)
    names = [name for name in (source.time, source.temperature, source.humidity) if name]
    table = find_table(decoded(data), names)
    columns = _columns(table, source, notes)
    if columns is None:
        return None
    rows = Rows(table, columns)
    for number, cells in table.rows():
        _add_row(rows, number, cells, parse)
    return rows


def _add_row(rows: Rows, number: int, cells: list[str], parse: Callable[[str], datetime]) -> None:
    width, column = len(rows.table.header), rows.columns.time
    if rows.starts_with is None:
        rows.starts_with = number, cells[:width]
    rows.crowded += any(cell.strip() for cell in cells[width:])
    try:
        stamp = parse(cells[column])
        if not _FIRST_YEAR <= stamp.year <= _LAST_YEAR:  # later calculations with days could not handle others either
            raise ValueError(f"year {stamp.year}")
    except (ValueError, IndexError, OverflowError):
        rows.unread.append((number, cells[column].strip()[:_SHOWN] if column < len(cells) else ""))
        return
    temperature, humidity = _number(cells, rows.columns.temperature), _number(cells, rows.columns.humidity)
    if temperature is None or humidity is None:
        rows.odd_cells.append(number)
    known = (nan if temperature is None else temperature, nan if humidity is None else humidity)
    rows.rows.append((number, stamp, *known))


def _columns(table: Table, source: ClimateSource, notes: ReadNotes) -> Columns | None:
    time, temperature, humidity = (
        _column(table, key, name, notes)
        for key, name in (("time", source.time), ("temperature", source.temperature), ("humidity", source.humidity))
    )
    if source.temperature is None and source.humidity is None:
        raise Unreadable("[[climate]] names neither temperature nor humidity", "name the columns in the settings")
    if time is None or (temperature is None and humidity is None):
        return None
    return Columns(time, temperature, humidity, _unit(table, temperature, source, notes))


def _column(table: Table, key: str, name: str | None, notes: ReadNotes) -> int | None:
    """Index of a column that the settings name under `key`, or None; an error if it is named but missing."""
    index = None if name is None else table.column(name)
    if name is not None and index is None:
        near = table.nearest(name)
        known = shortened(near) if near else ", ".join(shortened(cell) for cell in table.header[:6])
        fix = f"the {'nearest is' if near else 'columns are'} {known}; correct {key} in the settings"
        notes.add(table.header_line, "error", f"there is no column {shortened(name)}", fix)
    return index


def _unit(table: Table, column: int | None, source: ClimateSource, notes: ReadNotes) -> Literal["°C", "°F"]:
    """The unit of the temperatures: as the settings say, else as the column's name or the line under it does. That the
    two differ is only worth a warning where the readings speak for the column."""
    if column is None:
        return "°C"
    below = next((cells for _, cells in table.rows()), [])
    named = unit_in(table.header[column])
    if named is None and has_no_digits(below) and len(below) > column:
        named = unit_in(below[column])
    cells = (cells[column] for _, cells in table.rows() if column < len(cells))
    if source.temperature_unit and named and source.temperature_unit != named == unit_by_values(cells):
        message = f"the temperature column and its readings say {named}, but the settings {source.temperature_unit}"
        message += ", which is used"
        notes.add(table.header_line, "warning", message, "correct temperature_unit, if it is wrong")
    if not (source.temperature_unit or named):
        message = "neither the temperature column nor the settings name a unit, so °C is used"
        notes.add(table.header_line, "warning", message, 'write temperature_unit = "°C" or "°F" in the settings')
    return source.temperature_unit or named or "°C"


def _number(cells: Sequence[str], column: int | None) -> float | None:
    """The number in a cell; NaN if the cell is blank or says that there is no reading, None if it is not a number."""
    return nan if column is None or column >= len(cells) else cell_number(cells[column])


# Outside what any room, tent or steriliser reaches: sensors write such values when they have no reading (common
# practice).
_COLDEST_C, _HOTTEST_C = -60.0, 150.0

_UNKNOWN = "what cannot be read counts as unknown"


class Row(NamedTuple):
    """A row of the file in °C; NaN if a value is unknown."""

    line: int
    stamp: datetime
    temperature: float
    humidity: float


def read_log(path: str, data: bytes, source: ClimateSource, zone_name: str) -> tuple[LoggerFile, tuple[Problem, ...]]:
    """The readings of one logger CSV, in time order, and what is wrong with the file.

    path: relative to the journal folder. zone_name: the journal's IANA zone, for stamps without an offset where the
    source names none. Encoding, delimiter and decimal mark are found from the file; lines before the header and
    words after the last reading are passed over. A cell that holds no possible reading is NaN. Never raises for
    what the file holds; a file that cannot be read gives a log of no readings and a problem.
    """
    notes = ReadNotes(path)
    stamps_s: list[float] = []
    rows: list[Row] = []
    try:
        found = _rows_of(data, source, notes)
        if found is not None:
            _refuse_crowded(found)
            usable = _report_unread(found, source, notes)
            message = "a cell is not a number", "{n} rows have a cell that is not a number"
            notes.counted(found.odd_cells, *message, _UNKNOWN)
            possible = _possible(found.rows if usable else [], found.columns.unit, notes)
            stamps_s, rows = _in_order(possible, ZoneInfo(source.time_zone or zone_name), notes)
    except Unreadable as unreadable:
        notes.add(0, "error", unreadable.message, unreadable.fix)
    log = LoggerFile(
        path=path,
        tent=source.tent,
        stamps_s=tuple(stamps_s),
        temperature_c=tuple(row.temperature for row in rows),
        humidity_pct=tuple(row.humidity for row in rows),
        humidity_accuracy_pct=source.humidity_accuracy_pct,
        digest=hashlib.sha256(data).hexdigest(),
    )
    return log, tuple(notes.problems)


_Source = TypeVar("_Source", ClimateSource, WeatherSource)


def files_of(
    sources: Sequence[_Source], csv_paths: Sequence[str]
) -> tuple[tuple[tuple[str, _Source], ...], tuple[Problem, ...]]:
    """Each CSV file with each source that claims it, in the order of sources, then of paths; and sources without any.

    csv_paths: relative to the journal folder. In a pattern `*` stays within one folder and `**` is any folders. One
    file may serve several sources (two probes in one table); a file that none claims is passed over.
    """
    claims: list[tuple[str, _Source]] = []
    problems: list[Problem] = []
    for source in sources:
        pattern = nfc(source.files).removeprefix("./").split("/")
        own = [(path, source) for path in csv_paths if path_matches(nfc(path).split("/"), pattern)]
        claims += own
        if not own:
            if isinstance(source, ClimateSource):
                message, whose = f"no file matches `files` in the [[climate]] of {source.tent}", "logger"
            else:
                message, whose = f"no file matches `files` {shortened(source.files)} in a [[weather]]", "station"
            fix = f"correct `files`, or put the {whose}'s CSV file there"
            problems.append(Problem(SETTINGS_NAME, 0, "warning", message, fix))
    return tuple(claims), tuple(problems)


def path_matches(parts: Sequence[str], pattern: Sequence[str]) -> bool:
    """Whether the folders and name of a path fit a pattern's; each two parts are held together once."""
    reached = _past_any_folders({0}, pattern)
    for part in parts:
        on = [at for at in reached if at < len(pattern)]
        stays = {at for at in on if pattern[at] == "**"}
        goes = {at + 1 for at in on if pattern[at] != "**" and fnmatchcase(part, pattern[at])}
        reached = _past_any_folders(stays | goes, pattern)
    return len(pattern) in reached


def _past_any_folders(reached: set[int], pattern: Sequence[str]) -> set[int]:
    """The positions reached in a pattern, and those after each `**`, which may stand for no folder."""
    for at in sorted(reached):
        while at < len(pattern) and pattern[at] == "**" and at + 1 not in reached:
            at += 1
            reached.add(at)
    return reached


def _refuse_crowded(read: Rows) -> None:
    """Raises Unreadable if commas are both delimiters and decimal marks, so that most rows have too many cells."""
    if read.table.delimiter == "," and read.crowded * 2 > len(read.rows) + len(read.unread):
        message = "most rows have more cells than the header, as if commas were both decimal marks and separators"
        raise Unreadable(message, "export the readings with semicolons, or with decimal points")


def _report_unread(read: Rows, source: ClimateSource, notes: ReadNotes) -> bool:
    """One problem for the rows whose stamp could not be read, except a line of units and the words at the end. Gives
    whether the others can be used: if `time_format` does not fit a tenth of the rows, it may have swapped the day and
    the month of the others."""
    units_line = read.starts_with[0] if read.starts_with and has_no_digits(read.starts_with[1]) else 0
    last_line = read.rows[-1][0] if read.rows else 0
    lost = {line: at for line, at in read.unread if line != units_line and (line < last_line or at[:1].isdigit())}
    if read.rows and (failed := _misfits(lost, read, source)):
        rows = len(read.rows) + len(lost)
        fits = f"time_format {toml_string(source.time_format or '')} does not fit {len(failed)} of {rows} rows"
        message = f"{fits}, the first in line {failed[0]}, so none of them is used"
        notes.add(failed[0], "error", message, _time_fix(read, source) or "correct time_format, or those rows")
        return False
    if read.rows:
        fix = "correct them, or leave them: they are not used"
        notes.counted(list(lost), "this row has no readable time", "{n} rows have no readable time", fix)
    elif lost:
        fix = 'write time_format in the settings, like "%d/%m/%Y %H:%M" where the day comes first'
        if source.time_format:
            fix = f"correct time_format, which is {shortened(source.time_format)}"
        line, written = next(iter(lost.items()))
        message = f"no time in this file can be read; the first is {shortened(written)}"
        notes.add(line, "error", message, _time_fix(read, source) or fix)
    else:
        fix = "export it again, or move it out of the journal"
        notes.add(read.table.header_line, "warning", "this file has no readings", fix)
    return True


def _misfits(lost: Mapping[int, str], read: Rows, source: ClimateSource) -> list[int]:
    """The lines whose times `time_format` does not fit, if they are a tenth of the rows or more."""
    if source.time_format is None:
        return []
    fits = stamp_fits(source.time_format)
    failed = [line for line, at in lost.items() if any(char.isdigit() for char in at) and not fits(at)]
    ends = max((line for line, _ in read.table.rows()), default=0)  # the last line may be cut short
    within = len(failed) - (ends in failed)
    return failed if within >= (1 - NEARLY_ALL) * (len(read.rows) + len(failed)) else []


def _time_fix(read: Rows, source: ClimateSource) -> str | None:
    """What to write as `time_format` for this file; None if no format is found."""
    column = read.columns.time
    stamps = [cells[column].strip() for _, cells in read.table.rows() if column < len(cells)]
    stamps = [stamp for stamp in stamps if any(char.isdigit() for char in stamp)]
    return format_advice(time_formats(stamps), source.time_format)


def _possible(rows: list[LogRow], unit: Literal["°C", "°F"], notes: ReadNotes) -> list[Row]:
    """The rows in °C, with readings that cannot be made NaN."""
    impossible: list[int] = []
    kept = []
    for line, stamp, temperature, humidity in rows:
        air_c = to_celsius(temperature) if unit == "°F" else temperature
        cold_or_hot = not (_COLDEST_C <= air_c <= _HOTTEST_C or isnan(air_c))
        dry_or_wet = not (0 <= humidity <= 100 or isnan(humidity))
        if cold_or_hot or dry_or_wet:
            impossible.append(line)
        kept.append(Row(line, stamp, nan if cold_or_hot else air_c, nan if dry_or_wet else humidity))
    possible = temperatures(_COLDEST_C, _HOTTEST_C, "us" if unit == "°F" else "metric")
    limits = f"humidity outside 0 to 100 % or temperature outside {possible}"
    notes.counted(impossible, f"an impossible reading ({limits})", f"{{n}} impossible readings ({limits})", _UNKNOWN)
    return kept


def _in_order(rows: list[Row], zone: ZoneInfo, notes: ReadNotes) -> tuple[list[float], list[Row]]:
    """Seconds and rows in time order, each moment once."""
    walls = [row.stamp.replace(tzinfo=None) for row in rows]
    falling = [i for i in range(1, len(walls)) if walls[i] < walls[i - 1]]
    newest_first = len(falling) * 2 > len(walls)
    if newest_first:
        rows = rows[::-1]
    found = in_seconds([row.stamp for row in rows], zone)
    _report_clock_changes([rows[i].line for i in found.doubled], [rows[i].line for i in found.impossible], notes)
    ordered = sorted(zip(found.stamps_s, rows, strict=True), key=lambda pair: (pair[0], pair[1].line))
    if newest_first or [pair[0] for pair in ordered] != found.stamps_s:
        notes.add(0, "warning", "the rows are not in time order", "none is needed: they were sorted")
    kept: list[tuple[float, Row]] = []
    again = []
    for stamp_s, row in ordered:
        if kept and kept[-1][0] == stamp_s:
            again.append(row.line)
        else:
            kept.append((stamp_s, row))
    fix = "none is needed: the first reading of each is used"
    notes.counted(again, "a time occurs twice", "{n} times occur more than once", fix)
    return [stamp_s for stamp_s, _ in kept], [row for _, row in kept]


def _report_clock_changes(doubled: list[int], impossible: list[int], notes: ReadNotes) -> None:
    fix = (
        "if its clock is not changed, name the zone that it keeps (UTC is one) under time_zone in the settings; or "
        "write the offset after such a time, like 01:30+00:00"
    )
    one, many = "a time falls in the hour that", "{n} times fall in the hour that"
    twice = "comes twice as the clocks are changed, and"
    notes.counted(
        doubled, f"{one} {twice} was read by its place among the rows", f"{many} {twice} were read by their order", fix
    )
    left_out = "is left out as the clocks are changed"
    notes.counted(impossible, f"{one} {left_out}", f"{many} {left_out}", fix)
