"""The layout of a logger's CSV file, found from the file: its columns, the format of its times, and units."""

from __future__ import annotations

import re
import statistics
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from math import isnan
from typing import Literal

from journal.problems import Unreadable
from journal.reading.csv_tables import Table, cell_number, decoded, find_table, has_no_digits, stamp_reader, unit_in
from journal.reading.toml_tables import toml_string

NEARLY_ALL = 0.9
"""The share of a file's times that a time format must fit to count as the format of that file."""

_USUAL_NAMES = ("time", "date", "timestamp", "temp", "temperature", "rh", "humidity")
_MOST_STAMPS = 20_000
_TRIED = 10
_WARMER_IS_F, _COLDER_IS_C = 45.0, 35.0
"""Medians that would be impossible for a growing room or cold room in the other unit of temperature: *common
practice*."""


@dataclass(frozen=True, slots=True)
class Column:
    """name: its cell in the header. example: the first of its cells that is a date with a time of day, else that is not
    blank. is_number: whether it holds numbers."""

    name: str
    example: str
    is_number: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """What was found of a file.

    times: columns that hold a date with a time of day; temperatures, humidities: columns whose names (or the line of
    units under them) say that they hold those of the air, the likeliest first. table: what it was read from.
    """

    table: Table
    columns: tuple[Column, ...]
    times: tuple[str, ...]
    temperatures: tuple[str, ...]
    humidities: tuple[str, ...]

    def cells(self, name: str) -> list[str]:
        """The cells of a column that are not blank."""
        index = self._index(name)
        return [cell for row in _rows(self.table) if index < len(row) and (cell := row[index].strip())]

    def example(self, name: str) -> str:
        """Of that column."""
        return next(column.example for column in self.columns if column.name == name)

    def _index(self, name: str) -> int:
        return [cell.strip() for cell in self.table.header].index(name)

    def formats(self, time: str) -> tuple[str | None, ...]:
        """The time formats that the column's times may have, as `time_formats`."""
        return time_formats(self.cells(time))

    def unit(self, temperature: str) -> tuple[Literal["°C", "°F"] | None, bool]:
        """The unit of a column of temperatures, and whether its name says so; None if neither that nor its values
        decide."""
        below = next((row for _, row in self.table.rows()), [])
        index = self._index(temperature)
        under = below[index] if has_no_digits(below) and index < len(below) else ""
        if named := unit_in(temperature) or unit_in(under):
            return named, True
        return unit_by_values(self.cells(temperature)), False


def unit_by_values(cells: Iterable[str]) -> Literal["°C", "°F"] | None:
    """The unit of temperatures that could not be of a tent in the other; None if their median could be in both."""
    values = [value for cell in cells if not isnan(value := _value(cell))]
    middle = statistics.median(values) if values else (_WARMER_IS_F + _COLDER_IS_C) / 2
    return "°F" if middle > _WARMER_IS_F else "°C" if middle < _COLDER_IS_C else None


def layout_of(data: bytes) -> Layout:
    """The layout of a logger's file. Raises Unreadable if it is not a table of readings that one [[climate]] could
    read."""
    if data[:2] == b"PK":  # a spreadsheet is a zip
        raise Unreadable("this is a spreadsheet, not CSV", "export the readings as CSV")
    table = find_table(decoded(data), _USUAL_NAMES)
    if any(cell_number(cell) is not None for cell in table.header if cell.strip()) or _is_time(table.header[0]):
        raise Unreadable(
            "this file has no line with the names of its columns", "write one above the readings: Time,Temp (°C),RH (%)"
        )
    columns = tuple(_columns(table))
    times = tuple(column.name for column in columns if not column.is_number and _is_time(column.example))
    if not times:
        raise Unreadable(*_why_no_time(columns))
    below = next((row for _, row in table.rows()), [])
    units = below if has_no_digits(below) else []
    name_and_unit = {
        name.strip(): f"{name} {unit}" for name, unit in reversed([*zip_longest(table.header, units, fillvalue="")])
    }
    numbers = [column.name for column in columns if column.is_number]
    temperatures = [name for name in numbers if _is_temperature(name_and_unit[name])]
    humidities = [name for name in numbers if name not in temperatures and _is_humidity(name_and_unit[name])]
    return Layout(table, columns, times, tuple(temperatures), tuple(humidities))


def _rows(table: Table) -> Iterator[list[str]]:
    """The rows of the table without the line of units."""
    for at, (_, cells) in enumerate(table.rows()):
        if at or not has_no_digits(cells):
            yield cells


def _columns(table: Table) -> Iterator[Column]:
    """Every column that has a name, each name once, by its first hundred rows."""
    rows = [cells for cells, _ in zip(_rows(table), range(100), strict=False)]
    if not rows:
        raise Unreadable("this file has no readings", "export it again, or move it out of the journal")
    seen: set[str] = set()
    for index, name in enumerate(cell.strip() for cell in table.header):
        cells = [row[index].strip() for row in rows if index < len(row) and row[index].strip()]
        if not name or name in seen:
            continue
        seen.add(name)
        numbers = [cell for cell in cells if cell_number(cell) is not None]
        is_number = len(numbers) * 2 > len(cells) > 0
        times = () if is_number else (cell for cell in cells[:_TRIED] if _is_time(cell))
        yield Column(name, next(iter(times), cells[0] if cells else ""), is_number)


def _value(cell: str) -> float:
    value = cell_number(cell)
    return float("nan") if value is None else value


_NOT_OF_THE_AIR = frozenset(
    {
        "dew", "dewpoint", "wet", "bulb", "heat", "index", "feels", "set", "setpoint", "target", "vpd", "max", "min",
        "high", "low", "alarm", "battery", "batt", "soil", "moisture", "absolute", "abs", "specific", "mixing",
    }
)  # fmt: skip


def _words(name: str) -> set[str]:
    return set(re.split(r"[\W\d_]+", name.casefold())) - {""}


def _is_temperature(name: str) -> bool:
    words = _words(name)
    return not words & _NOT_OF_THE_AIR and bool(words & {"t", "temp", "temperature"} or unit_in(name))


def _is_humidity(name: str) -> bool:
    words = _words(name)
    return not words & _NOT_OF_THE_AIR and bool(words & {"h", "rh", "hum", "humidity"} or "%" in name)


def _why_no_time(columns: Sequence[Column]) -> tuple[str, str]:
    day = next((one.name for one in columns if _DAY_ALONE.fullmatch(one.example)), None)
    clock = next((one.name for one in columns if one.name != day and _CLOCK_ALONE.fullmatch(one.example)), None)
    if day and clock:
        return (
            f"date and time of day are in two columns, {day} and {clock}",
            "export the readings with both in one column",
        )
    fix = "export the readings with date and time of day in one column, like 2026-10-05 14:05"
    for one in columns:  # 12.10.26 may be a day, 12:10:26 and 12.10 are none
        if _CLOCK_ALONE.fullmatch(one.example) and (":" in one.example or one.example.count(".") < 2):
            return f"the times in the column {one.name} have no date ({one.example})", fix
    return "no column of this file has dates with a time of day", fix


_DATE = (
    r"(?P<a>\d{1,4}|[A-Za-z]{3,9})(?P<s1>[-/.]| |)(?P<b>\d{1,2}|[A-Za-z]{3,9})(?P<s2>[-/.]|,? |)(?P<c>\d{4}|\d{1,2})"
)
_CLOCK = (
    r"(?P<hour>\d{1,2})(?P<t1>[:.h])\d{2}(?:(?P<t2>[:.])\d{2}(?P<fraction>[.,]\d{1,6})?)?"
    r"(?P<half>\s*[AaPp]\.?\s?[Mm]\b\.?)?(?P<offset>\s*(?:Z|[+-]\d{2}:?\d{2}))?"
)
_DAY_ALONE, _CLOCK_ALONE = re.compile(_DATE), re.compile(_CLOCK)
_STAMPS = (re.compile(rf"{_DATE}(?P<gap>,? |[T,]){_CLOCK}"), re.compile(rf"{_CLOCK}(?P<gap>,? ){_DATE}"))


def _is_time(text: str) -> bool:
    return bool(time_formats([text]))


def time_formats(stamps: Sequence[str]) -> tuple[str | None, ...]:
    """The time formats that nearly all of these stamps have; None stands for ISO 8601, which needs no format.

    Those that fit most stamps: several if no day exceeds 12, so that day or month may come first. Empty if no format is
    found. The last stamp may be cut short.
    """
    return _formats_of(stamps) or _formats_of(stamps[:-1])


def _formats_of(stamps: Sequence[str]) -> tuple[str | None, ...]:
    if len(stamps) > _MOST_STAMPS:
        stamps = stamps[:: len(stamps) // _MOST_STAMPS + 1]
    fits = {wanted: _how_many_fit(wanted, stamps) for wanted in dict.fromkeys([None, *_candidates(stamps)])}
    most = max(fits.values(), default=0)
    if not stamps or most < NEARLY_ALL * len(stamps):
        return ()
    return (None,) if fits[None] == most else tuple(wanted for wanted, fit in fits.items() if fit == most)


def _how_many_fit(wanted: str | None, stamps: Sequence[str]) -> int:
    try:
        return sum(map(stamp_fits(wanted), stamps))
    except Unreadable:
        return 0


def stamp_fits(time_format: str | None) -> Callable[[str], bool]:
    """A function that says whether a time can be read in that format. Raises Unreadable if the format is not valid."""
    read = stamp_reader(time_format)

    def fits(stamp: str) -> bool:
        try:
            return bool(read(stamp))
        except (ValueError, OverflowError):
            return False

    return fits


def _candidates(stamps: Sequence[str]) -> Iterator[str]:
    """Formats that the first and the last stamp seem to have."""
    for stamp in (*stamps[:1], *stamps[-1:]):
        plain = " ".join(stamp.split())
        for found in filter(None, (shape.fullmatch(plain) for shape in _STAMPS)):
            gap = found["gap"]
            for day in _date_formats(found):
                clock = _clock_format(found)
                yield f"{day}{gap}{clock}" if found.start("a") < found.start("hour") else f"{clock}{gap}{day}"


def _date_formats(found: re.Match[str]) -> Iterator[str]:
    a, b, c = found["a"], found["b"], found["c"]
    years = "%Y" if len(c) == 4 else "%y"
    if len(a) == 4 and a.isdigit():
        orders = [("%Y", "%m", "%d")]
    elif not a.isdigit():
        orders = [(month, "%d", years) for month in ("%b", "%B")]
    elif not b.isdigit():
        orders = [("%d", month, years) for month in ("%b", "%B")]
    else:
        orders = [("%d", "%m", years), ("%m", "%d", years)]
        if years == "%y" and found["s1"] == "-":
            orders.append(("%y", "%m", "%d"))
    named = [order for order in orders if not ("%B" in order and len(max(a, b, key=str.isalpha)) == 3)]
    return (f"{x}{found['s1']}{y}{found['s2']}{z}" for x, y, z in named)


def _clock_format(found: re.Match[str]) -> str:
    clock = f"{'%I' if found['half'] else '%H'}{found['t1']}%M"
    if found["t2"]:
        clock += f"{found['t2']}%S"
    if found["fraction"]:
        clock += f"{found['fraction'][0]}%f"
    if found["half"]:
        clock += (" " if found["half"][0].isspace() else "") + "%p"
    if found["offset"]:
        clock += (" " if found["offset"][0].isspace() else "") + "%z"
    return clock


_MISSING = (
    ({"S"}, "seconds (%S)"),
    ({"p"}, "AM or PM (%I for the hour, %p for AM or PM)"),
    ({"f"}, "fractions of a second (%f)"),
    ({"z"}, "an offset from UTC (%z)"),
    ({"b"}, "the month in letters (%b)"),
    ({"B"}, "the month in letters (%B)"),
    ({"y"}, "a year of two digits (%y)"),
    ({"Y"}, "a year of four digits (%Y)"),
)


def what_differs(given: str, found: str) -> str:
    """What the times of a file have and a time format lacks, in words: `the times have seconds (%S)`."""
    in_given, in_found = (set(re.findall(r"%(.)", text)) for text in (given, found))
    has = [words for parts, words in _MISSING if parts <= in_found - in_given]
    lacks = [words for parts, words in _MISSING[:4] if parts <= in_given - in_found]
    order = [re.findall(r"%([dmbB])", text)[:1] for text in (given, found)]
    if has or lacks:
        name_and_unit = [f"have {' and '.join(has)}"] if has else []
        return "the times " + " but ".join([*name_and_unit, *([f"have no {' or '.join(lacks)}"] if lacks else [])])
    if order[0] != order[1]:
        return f"in the times the {'day' if order[1] == ['d'] else 'month'} comes first"
    return "the times have other signs between their parts"


def format_advice(formats: Sequence[str | None], given: str | None) -> str | None:
    """What to write as `time_format` for times that have one of these formats; None if none is known.

    given: the format that did not fit, None if there was none.
    """
    known = [wanted for wanted in formats if wanted is not None]
    if None in formats:
        return "remove time_format: the times are ISO 8601, which needs none"
    if not known:
        return None
    if len(known) > 1:
        return "write " + " or ".join(f"time_format = {toml_string(one)} where {order_of(one)}" for one in known)
    why = f"{what_differs(given, known[0])}: " if given else ""
    return f"{why}write time_format = {toml_string(known[0])}"


def order_of(time_format: str) -> str:
    """`the day comes first`, or the month, or the year."""
    first = re.findall(r"%([dmyY])", time_format)[0]
    return f"the {({'d': 'day', 'm': 'month'}).get(first, 'year')} comes first"
