"""The climate of a tent as one series of readings, and faults of a logger found from its readings."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from functools import reduce
from itertools import groupby, pairwise
from math import inf, isnan, nan
from statistics import median
from typing import Literal, NamedTuple

from journal.analysis.calendar import midnight_s, zone_of
from journal.analysis.due import entries_about
from journal.analysis.limits import limit
from journal.model import Journal, LoggerFile, TentEntry

# The rules for stuck loggers and gaps are *common practice*, the limits our own: a sensor that does not change in the
# last digit for hours has hung, because the air of a tent always changes.

STUCK_AFTER_H = 12.0
"""Both values the same to the last digit for this long, with humidity in tenths: stuck."""

STUCK_COARSE_AFTER_H = 48.0
"""The same if a constant value means less: humidity in whole per cent, humidity of saturated air (which really stays
constant), a logger of only one value, or only humidity while the temperature changes."""

SATURATED_PCT = 99.5
"""From here on a reading counts as saturated air: many loggers do not go above 99.9 %."""

STUCK_LEAST_READINGS = 8
"""Fewer equal readings prove nothing, however far apart they are."""

GAP_AFTER_S = 3600.0
GAP_AFTER_STEPS = 3.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """From one moment to a later one, in seconds since 1970-01-01T00:00Z."""

    from_s: float
    until_s: float

    @property
    def hours(self) -> float:
        return (self.until_s - self.from_s) / 3600


def gap_limit_s(stamps_s: Sequence[float]) -> float:
    """How far apart neighbouring readings must be to have a gap between them; infinite below two readings."""
    if len(stamps_s) < 2:
        return inf
    usual_s = median(later - earlier for earlier, later in pairwise(stamps_s))
    return max(GAP_AFTER_S, GAP_AFTER_STEPS * usual_s)


def gaps_in(stamps_s: Sequence[float]) -> tuple[Stretch, ...]:
    """The gaps between readings, each from the last before to the first after it. stamps_s: in order of time."""
    limit_s = gap_limit_s(stamps_s)
    return tuple(Stretch(earlier, later) for earlier, later in pairwise(stamps_s) if later - earlier > limit_s)


def stuck_in(
    stamps_s: Sequence[float], temperature_c: Sequence[float], humidity_pct: Sequence[float]
) -> tuple[range, ...]:
    """Where one logger was stuck: the indices of the readings of each period, in order; periods do not overlap. Columns
    of equal length, in order of time, NaN if a value is unknown. A gap ends a period."""
    gap_s = gap_limit_s(stamps_s)
    humidities = _none_for_nan(humidity_pct)
    both = list(zip(_none_for_nan(temperature_c), humidities, strict=True))
    is_fine = any(humidity % 1 for humidity in humidities if humidity is not None)
    stuck: set[int] = set()
    for run in _standing(stamps_s, both, gap_s):
        limit_h = STUCK_AFTER_H if is_fine and _should_move(humidities[run[0]]) else STUCK_COARSE_AFTER_H
        if _hours(stamps_s, run) >= limit_h:
            stuck.update(run)
    for run in _standing(stamps_s, humidities, gap_s):
        if _should_move(humidities[run[0]]) and _hours(stamps_s, run) >= STUCK_COARSE_AFTER_H:
            stuck.update(run)
    stretches = (list(run) for _, run in groupby(enumerate(sorted(stuck)), key=lambda pair: pair[1] - pair[0]))
    return tuple(range(run[0][1], run[-1][1] + 1) for run in stretches)


def _should_move(humidity_pct: float | None) -> bool:
    return humidity_pct is not None and humidity_pct < SATURATED_PCT


def _none_for_nan(values: Iterable[float]) -> list[float | None]:
    """Unlike NaN, None equals None: a missing column never changes."""
    return [None if value != value else value for value in values]


def _hours(stamps_s: Sequence[float], run: range) -> float:
    return (stamps_s[run[-1]] - stamps_s[run[0]]) / 3600


def _standing(stamps_s: Sequence[float], values: Sequence[object], gap_s: float) -> list[range]:
    """Runs of neighbouring readings with one value, long enough to be evidence."""
    runs, start = [], 0
    for at in range(1, len(stamps_s) + 1):
        if at < len(stamps_s) and values[at] == values[start] and stamps_s[at] - stamps_s[at - 1] <= gap_s:
            continue
        if at - start >= STUCK_LEAST_READINGS:
            runs.append(range(start, at))
        start = at
    return runs


READING_LASTS_AT_MOST_S = 1800.0
"""A reading stands for the time half-way to its neighbours, at most this long on each side."""

ASSUMED_ACCURACY_PCT = 5.0
"""The accuracy of a humidity if none is stated (*common practice*: cheap sensors are said to be within 5 %)."""

READING_LASTS_RULE = (
    "a reading stands for the time half-way to its neighbours, at most 30 min each side (so too before the first and "
    "after the last)"
)


class LeftOut(NamedTuple):
    """A value that no tent has (`data/limits.toml`), so that it counts for nothing. value: in °C or %."""

    stamp_s: float
    what: Literal["temperature", "humidity"]
    value: float


@dataclass(frozen=True, slots=True)
class Series:
    """Readings of one tent. Columns of equal length in order of time, each moment once, NaN where a value is unknown.
    stamps_s: seconds since 1970-01-01T00:00Z. accuracy_pct: of the humidity. accuracy_assumed: not stated for some of
    them. weights_s: the time that the reading stands for. door_open: read while the door was open. stuck: of a logger
    that was stuck then. is_manual: read by the author. stuck_stretches, gaps: of the loggers. by_day: the loggers'
    readings are medians, one a day, that stand for no span of time; manual readings of such a day are left out.
    left_out: values that no tent has, in order of time; the columns do not have them."""

    stamps_s: tuple[float, ...] = field(default=(), repr=False)
    temperature_c: tuple[float, ...] = field(default=(), repr=False)
    humidity_pct: tuple[float, ...] = field(default=(), repr=False)
    accuracy_pct: tuple[float, ...] = field(default=(), repr=False)
    weights_s: tuple[float, ...] = field(default=(), repr=False)
    door_open: tuple[bool, ...] = field(default=(), repr=False)
    stuck: tuple[bool, ...] = field(default=(), repr=False)
    is_manual: tuple[bool, ...] = field(default=(), repr=False)
    stuck_stretches: tuple[Stretch, ...] = ()
    gaps: tuple[Stretch, ...] = ()
    by_day: bool = False
    accuracy_assumed: bool = False
    left_out: tuple[LeftOut, ...] = field(default=(), repr=False)

    def __len__(self) -> int:
        return len(self.stamps_s)

    def between(self, from_s: float, until_s: float) -> range:
        """Indices of the readings from one moment on and before another."""
        start = bisect_left(self.stamps_s, from_s)
        return range(start, max(start, bisect_left(self.stamps_s, until_s)))

    def left_out_between(self, from_s: float, until_s: float) -> tuple[LeftOut, ...]:
        """Those values that no tent has, from one moment on and before another."""
        return tuple(row for row in self.left_out if from_s <= row.stamp_s < until_s)


class _Row(NamedTuple):
    """One reading. rank: of two at one moment, the values with the lower rank count."""

    stamp_s: float
    rank: int
    temperature_c: float
    humidity_pct: float
    accuracy_pct: float | None
    door_open: bool
    stuck: bool
    is_manual: bool


def series_of(journal: Journal) -> Mapping[str, Series]:
    """The series of every tent of the settings, by its ID; without readings it is empty. If there are several readings
    at one moment (manual and logged, or in two files), one is kept: logged values before manual ones, those of a logger
    that was not stuck first. A value that no tent has, and a row without a number, do not count; a manual reading
    without a time of day is in no series, but what no tent has in it is told as left out."""
    series = {}
    for tent in journal.settings.tents:
        logs = [log for log in journal.logs if log.tent.lower() == tent.id.lower() and log.stamps_s]
        logs.sort(key=lambda log: (log.stamps_s[0], log.path))
        series[tent.id] = _series(logs, tuple(entries_about(journal, tent)), zone_of(journal.settings))
    return series


def _series(logs: Sequence[LoggerFile], entries: Sequence[TentEntry], zone: tzinfo) -> Series:
    """Daily rows of a logger stand for no time, are never stuck, and have no gaps of hours."""
    by_day = any(log.by_day for log in logs)
    if by_day:
        logged = [row for log in logs for row in _log_rows(log, 0)]
        days = {datetime.fromtimestamp(row.stamp_s, UTC).date() for row in logged}
        entries = [entry for entry in entries if entry.date.first not in days]
    else:
        logged = [row for rank, strand in enumerate(_strands(logs)) for row in _strand_rows(strand, rank)]
    read = [*logged, *_eye_rows(entries, len(logged))]
    left_out = tuple(_left_out([*read, *_untimed_rows(entries, zone)]))
    everything = _once([_without(row) for row in read] if left_out else read)
    rows = [row for row in everything if not (isnan(row.temperature_c) and isnan(row.humidity_pct))]
    if not rows:
        return Series(by_day=by_day, left_out=left_out)
    # across manual readings in between
    runs = (list(run) for _, run in groupby((row for row in rows if not row.is_manual), key=lambda row: row.stuck))
    stamps_s, _, temperature_c, humidity_pct, accuracy_pct, door_open, stuck, is_manual = zip(*rows, strict=True)
    return Series(
        stamps_s=stamps_s,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
        accuracy_pct=tuple(ASSUMED_ACCURACY_PCT if pct is None else pct for pct in accuracy_pct),
        weights_s=(0.0,) * len(rows) if by_day else weights_of(stamps_s),
        door_open=door_open,
        stuck=stuck,
        is_manual=is_manual,
        stuck_stretches=tuple(Stretch(run[0].stamp_s, run[-1].stamp_s) for run in runs if run[0].stuck),
        gaps=() if by_day else gaps_in([row.stamp_s for row in everything if not row.is_manual]),
        by_day=by_day,
        accuracy_assumed=any(row.humidity_pct == row.humidity_pct and row.accuracy_pct is None for row in rows),
        left_out=left_out,
    )


def _left_out(rows: Iterable[_Row]) -> list[LeftOut]:
    """The values that no tent has, in order of time; of several of one moment, one."""
    air, humidity = limit("temperature_c"), limit("humidity_pct")
    found = {}
    for row in rows:
        if not air.allows(row.temperature_c):
            found[row.stamp_s, "temperature"] = LeftOut(row.stamp_s, "temperature", row.temperature_c)
        if not humidity.allows(row.humidity_pct):
            found[row.stamp_s, "humidity"] = LeftOut(row.stamp_s, "humidity", row.humidity_pct)
    return sorted(found.values())


def _without(row: _Row) -> _Row:
    """The row without values that no tent has."""
    return row._replace(
        temperature_c=row.temperature_c if limit("temperature_c").allows(row.temperature_c) else nan,
        humidity_pct=row.humidity_pct if limit("humidity_pct").allows(row.humidity_pct) else nan,
    )


def weights_of(stamps_s: Sequence[float]) -> tuple[float, ...]:
    """For each moment the time half-way to its neighbours, at most 30 min each side. stamps_s: in order of time."""
    halves = [min(READING_LASTS_AT_MOST_S, (later - earlier) / 2) for earlier, later in pairwise(stamps_s)]
    edge = [READING_LASTS_AT_MOST_S]
    return tuple(before + after for before, after in zip(edge + halves, halves + edge, strict=True)) if stamps_s else ()


def _strands(logs: Iterable[LoggerFile]) -> list[list[LoggerFile]]:
    """Groups of files that follow one another, as those of one logger do; files that overlap are in two groups."""
    strands: list[list[LoggerFile]] = []
    for log in logs:
        fitting = (strand for strand in strands if strand[-1].stamps_s[-1] < log.stamps_s[0])
        strand = max(fitting, key=lambda one: one[-1].stamps_s[-1], default=None)
        if strand is None:
            strands.append(strand := [])
        strand.append(log)
    return strands


def _strand_rows(logs: Sequence[LoggerFile], rank: int) -> list[_Row]:
    """The readings of one logger's files, in order; without rows that have no number."""
    rows = [row for log in logs for row in _log_rows(log, rank)]
    columns = zip(*((row.stamp_s, row.temperature_c, row.humidity_pct) for row in rows), strict=True)
    for stretch in stuck_in(*columns) if rows else ():
        for at in stretch:
            rows[at] = rows[at]._replace(stuck=True)
    return rows


def _log_rows(log: LoggerFile, rank: int) -> list[_Row]:
    """A column without cells means that the file does not have it."""
    unknown = (nan,) * len(log.stamps_s)
    columns = zip(log.stamps_s, log.temperature_c or unknown, log.humidity_pct or unknown, strict=True)
    return [
        _Row(stamp_s, rank, temperature_c, humidity_pct, log.humidity_accuracy_pct, False, False, False)
        for stamp_s, temperature_c, humidity_pct in columns
        if temperature_c == temperature_c or humidity_pct == humidity_pct
    ]


def _eye_rows(entries: Iterable[TentEntry], rank: int) -> Iterator[_Row]:
    for entry in entries:
        values = (entry.temperature_reading_c, entry.humidity_reading_pct)
        if entry.date.moment is not None and values != (None, None):
            yield _eye_row(entry, entry.date.moment.timestamp(), rank)


def _untimed_rows(entries: Iterable[TentEntry], zone: tzinfo) -> Iterator[_Row]:
    """Manual readings without a time of day, as if read when their day began."""
    return (_eye_row(entry, midnight_s(entry.date.first, zone), 0) for entry in entries if entry.date.moment is None)


def _eye_row(entry: TentEntry, stamp_s: float, rank: int) -> _Row:
    read = (entry.temperature_reading_c, entry.humidity_reading_pct)
    temperature_c, humidity_pct = (nan if value is None else value for value in read)
    return _Row(stamp_s, rank, temperature_c, humidity_pct, None, entry.door == "open", False, True)


def _once(rows: list[_Row]) -> list[_Row]:
    """The rows in order of time, those of one moment merged."""
    rows.sort(key=lambda row: (row.stamp_s, row.stuck, row.rank))
    return [reduce(_both, same) for _, same in groupby(rows, key=lambda row: row.stamp_s)]


def _both(first: _Row, other: _Row) -> _Row:
    """Two readings of one moment: the values of the first, and missing ones from the other unless that was stuck."""
    merged = first._replace(door_open=first.door_open or other.door_open, is_manual=first.is_manual and other.is_manual)
    if isnan(merged.temperature_c) and not other.stuck:
        merged = merged._replace(temperature_c=other.temperature_c)
    if isnan(merged.humidity_pct) and not other.stuck:
        merged = merged._replace(humidity_pct=other.humidity_pct, accuracy_pct=other.accuracy_pct)
    return merged
