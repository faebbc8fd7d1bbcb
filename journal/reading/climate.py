"""Readings of temperature and humidity that a data logger wrote, from its CSV file."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import datetime
from fnmatch import fnmatchcase
from math import isnan, nan
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo

from journal.model import ClimateSource, LoggerFile
from journal.problems import Problem, Unreadable, shortened
from journal.reading.folder import SETTINGS_NAME, nfc
from journal.reading.log_rows import Row as RawRow
from journal.reading.log_rows import Rows, Told, has_no_digits, rows_of
from journal.reading.stamps import in_seconds

# Beyond what any room, tent or steriliser reaches: a sensor's way of saying that it has no reading (common practice).
_COLDEST_C, _HOTTEST_C = -60.0, 150.0

_UNKNOWN = "what cannot be read counts as unknown"
_HOW_TIMES = 'write time_format in the settings, like "%d/%m/%Y %H:%M" where the day comes first'

class Row(NamedTuple):
    """A row of the file in °C; NaN where a value is unknown."""

    line: int
    stamp: datetime
    temperature: float
    humidity: float


class LogRead(NamedTuple):
    """A logger's file, what is wrong with it, and what lets it be read on once it has grown (None: nothing does)."""

    log: LoggerFile
    problems: tuple[Problem, ...]
    before: Rows | None


def read_log(
    path: str, data: bytes, source: ClimateSource, zone_name: str
) -> tuple[LoggerFile, tuple[Problem, ...]]:
    """The readings of one logger CSV, in time order, and what is wrong with the file.

    path: relative to the journal folder. zone_name: the journal's IANA zone, for stamps without an offset where the
    source names none. Encoding, delimiter and decimal mark are found from the file; lines before the header and
    words after the last reading are passed over. A cell that holds no possible reading is NaN. Never raises for
    what the file holds; a file that cannot be read gives a log of no readings and a problem.
    """
    read = read_log_on(path, data, source, zone_name)
    return read.log, read.problems


def read_log_on(
    path: str, data: bytes, source: ClimateSource, zone_name: str, before: Rows | None = None
) -> LogRead:
    """As `read_log`. before: what an earlier reading with the same source left; of a file that has only grown since,
    the new lines alone are read."""
    told = Told(path)
    stamps_s: list[float] = []
    rows: list[Row] = []
    after = None
    try:
        found = rows_of(data, source, told, before)
        if found is not None:
            after = found.before
            rows = _checked(found.whole, source, told)
            stamps_s, rows = _in_order(rows, ZoneInfo(source.time_zone or zone_name), told)
    except Unreadable as unreadable:
        told.add(0, "wrong", unreadable.says, unreadable.mend)
        stamps_s, rows, after = [], [], None
    log = LoggerFile(
        path=path,
        tent=source.tent,
        stamps_s=tuple(stamps_s),
        temperature_c=tuple(row.temperature for row in rows),
        humidity_pct=tuple(row.humidity for row in rows),
        humidity_accuracy_pct=source.humidity_accuracy_pct,
        digest=hashlib.sha256(data).hexdigest(),
    )
    return LogRead(log, tuple(told.problems), after)


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
    """Whether the folders and name of a path fit a pattern's; each two parts are held together once."""
    reached = _past_any_folders({0}, pattern)
    for part in parts:
        on = [at for at in reached if at < len(pattern)]
        stays = {at for at in on if pattern[at] == "**"}
        goes = {at + 1 for at in on if pattern[at] != "**" and fnmatchcase(part, pattern[at])}
        reached = _past_any_folders(stays | goes, pattern)
    return len(pattern) in reached


def _past_any_folders(reached: set[int], pattern: Sequence[str]) -> set[int]:
    """The places of a pattern that are reached, and those behind each `**` of them, which may be no folder at all."""
    for at in sorted(reached):
        while at < len(pattern) and pattern[at] == "**" and at + 1 not in reached:
            at += 1
            reached.add(at)
    return reached


def _checked(read: Rows, source: ClimateSource, told: Told) -> list[Row]:
    """The rows in °C, and what is wrong with them."""
    _refuse_crowded(read)
    _tell_unread(read, source, told)
    told.counted(read.odd_cells, "a cell holds no number", "{n} rows have a cell that holds no number", _UNKNOWN)
    return _possible(read.rows, read.columns.unit, told)


def _refuse_crowded(read: Rows) -> None:
    """Unreadable where commas part the cells and are decimal marks as well, so that most rows have too many cells."""
    if read.table.delimiter == "," and read.crowded * 2 > len(read.rows) + len(read.unread):
        raise Unreadable(
            "most rows have more cells than the header, as if the decimal mark were the comma that parts the cells",
            "export the readings with semicolons, or with decimal points",
        )


def _tell_unread(read: Rows, source: ClimateSource, told: Told) -> None:
    """One problem for the rows whose stamp could not be read, but for a line of units and the words at the end."""
    units_line = read.starts_with[0] if read.starts_with and has_no_digits(read.starts_with[1]) else 0
    last_line = read.rows[-1][0] if read.rows else 0
    lost = [line for line, time in read.unread if line != units_line and (line < last_line or time[:1].isdigit())]
    if not read.rows:
        if lost:
            _tell_no_time(read, min(lost), source, told)
        else:
            told.add(read.table.header_line, "odd", "the file holds no readings", "export it again, or put it away")
        return
    told.counted(lost, "the row has no readable time", "{n} rows have no readable time", "what has none is left out")


def _tell_no_time(read: Rows, line: int, source: ClimateSource, told: Told) -> None:
    written = next(time for at, time in read.unread if at == line)
    mend = f"correct time_format, which is {shortened(source.time_format)}" if source.time_format else _HOW_TIMES
    told.add(line, "wrong", f"no time in the file can be read, the first is {shortened(written)}", mend)


def _possible(rows: list[RawRow], unit: Literal["°C", "°F"], told: Told) -> list[Row]:
    """The rows in °C, with readings that cannot be made NaN."""
    impossible: list[int] = []
    kept = []
    for line, stamp, temperature, humidity in rows:
        celsius = (temperature - 32) * 5 / 9 if unit == "°F" else temperature
        cold_or_hot = not (_COLDEST_C <= celsius <= _HOTTEST_C or isnan(celsius))
        dry_or_wet = not (0 <= humidity <= 100 or isnan(humidity))
        if cold_or_hot or dry_or_wet:
            impossible.append(line)
        kept.append(Row(line, stamp, nan if cold_or_hot else celsius, nan if dry_or_wet else humidity))
    limits = f"humidity outside 0 to 100 % or temperature outside {_COLDEST_C:g} to {_HOTTEST_C:g} °C"
    told.counted(impossible, f"an impossible reading ({limits})", f"{{n}} impossible readings ({limits})", _UNKNOWN)
    return kept


def _in_order(rows: list[Row], zone: ZoneInfo, told: Told) -> tuple[list[float], list[Row]]:
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
    kept: list[tuple[float, Row]] = []
    again = []
    for stamp_s, row in ordered:
        if kept and kept[-1][0] == stamp_s:
            again.append(row.line)
        else:
            kept.append((stamp_s, row))
    told.counted(again, "a time stands twice", "{n} times stand twice or oftener", "the first reading of each was kept")
    return [stamp_s for stamp_s, _ in kept], [row for _, row in kept]


def _tell_clock_changes(rows: Sequence[Row], doubled: list[int], impossible: list[int], told: Told) -> None:
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
