"""Rain and temperatures of each day from the CSV file of a weather station."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from math import isnan, nan

from journal.logged import WeatherDay, WeatherFile
from journal.problems import Problem, Unreadable, shortened
from journal.quantities import to_celsius
from journal.reading.csv_tables import Table, cell_number, decoded, find_table, has_no_digits, unit_in
from journal.settings import WeatherSource

_MM_PER_IN = 25.4
_INCHES = re.compile(r"\b(?:in|inch|inches)\b", re.IGNORECASE)
_HAS_RAIN_UNIT = re.compile(rf"{_INCHES.pattern}|(?<![a-z])(?:mm|millimet(?:re|er)s?)\b", re.IGNORECASE)
_COLDEST_C, _HOTTEST_C = -90.0, 60.0
_MOST_RAIN_MM = 2000.0
"""More than was ever measured in a day: a station's way of saying that it has no reading (common practice)."""


@dataclass(slots=True)
class _Day:
    rain_mm: list[float] = field(default_factory=list)
    greatest_c: list[float] = field(default_factory=list)
    least_c: list[float] = field(default_factory=list)

    def made(self, day: date) -> WeatherDay:
        """What the day came to. Its mean is half-way between its greatest and its least temperature."""
        mean_c = (max(self.greatest_c) + min(self.least_c)) / 2 if self.greatest_c and self.least_c else nan
        return WeatherDay(day, sum(self.rain_mm) if self.rain_mm else nan, mean_c)


def read_weather(path: str, data: bytes, source: WeatherSource) -> tuple[WeatherFile, tuple[Problem, ...]]:
    """The days of one station file, in order, and what is wrong with it. Rows of one day are put together: rain is
    summed, of temperatures the greatest and the least count. Never raises for what the file holds."""
    try:
        days, problems = _days_of(path, data, source)
    except Unreadable as fault:
        return WeatherFile(path, ()), (Problem(path, 0, "error", fault.message, fault.fix),)
    return WeatherFile(path, tuple(days[day].made(day) for day in sorted(days))), problems


def _days_of(path: str, data: bytes, source: WeatherSource) -> tuple[dict[date, _Day], tuple[Problem, ...]]:
    greatest, least = (source.temperature_max, source.temperature), (source.temperature_min, source.temperature)
    wanted = (source.rain, *greatest, source.temperature_min)
    table = find_table(decoded(data), [name for name in (source.date, *wanted) if name])
    at = _column(table, source.date)
    rain = [(_column(table, source.rain), _rain_reader(source.rain))] if source.rain else []
    high, low = (
        [(_column(table, name), _heat_reader(table, name)) for name in ends if name] for ends in (greatest, least)
    )
    if not (rain or high or low):
        raise Unreadable("[[weather]] names neither rain nor temperature", "name the columns in the settings")
    read_day = _day_reader(source.date_format)
    days: dict[date, _Day] = {}
    unread: list[int] = []
    for line, cells in table.rows():
        try:
            day = days.setdefault(read_day(cells[at].strip()), _Day())
        except (ValueError, IndexError):
            unread += [] if has_no_digits(cells) else [line]
            continue
        day.rain_mm += _numbers(cells, rain, 0.0, _MOST_RAIN_MM)
        day.greatest_c += _numbers(cells, high, _COLDEST_C, _HOTTEST_C)
        day.least_c += _numbers(cells, low, _COLDEST_C, _HOTTEST_C)
    if not days:
        fix = 'write date_format in the settings, like "%d/%m/%Y", if they are not like 2026-11-25'
        raise Unreadable("no day in this file can be read", fix)
    problems = []
    if source.rain and not _HAS_RAIN_UNIT.search(source.rain):
        message = f"the column {shortened(source.rain)} names no unit, so mm is used"
        problems.append(
            Problem(path, 0, "warning", message, "name the column with its unit, like Rain (mm) or Rain (in)")
        )
    if unread:
        message = f"{len(unread)} rows have no readable day, the first in line {unread[0]}"
        fix = "correct them, or leave them: they are not used"
        problems.append(Problem(path, unread[0], "warning", message, fix))
    return days, tuple(problems)


def _column(table: Table, name: str) -> int:
    index = table.column(name)
    if index is None:
        near = table.nearest(name)
        known = shortened(near) if near else ", ".join(shortened(cell) for cell in table.header[:6])
        fix = f"the {'nearest is' if near else 'columns are'} {known}; correct it in the settings"
        raise Unreadable(f"there is no column {shortened(name)}", fix)
    return index


def _rain_reader(name: str) -> Callable[[float], float]:
    is_inches = _INCHES.search(name) is not None
    return lambda value: value * _MM_PER_IN if is_inches else value


def _heat_reader(table: Table, name: str) -> Callable[[float], float]:
    unit = unit_in(table.header[_column(table, name)])
    return to_celsius if unit == "°F" else float


def _numbers(
    cells: Sequence[str], columns: Iterable[tuple[int, Callable[[float], float]]], low: float, high: float
) -> list[float]:
    """The possible values in these columns, in mm or °C."""
    found = []
    for index, read in columns:
        number = cell_number(cells[index]) if index < len(cells) else None
        if number is not None and not isnan(number) and low <= read(number) <= high:
            found.append(read(number))
    return found


def _day_reader(date_format: str | None) -> Callable[[str], date]:
    """A function from a cell to its day, which raises ValueError for what is none; a time of day may follow it."""
    if date_format is None:
        return lambda text: date.fromisoformat(text[:10])
    words = len(date_format.split())
    return lambda text: datetime.strptime(" ".join(text.split()[:words]), date_format).date()
