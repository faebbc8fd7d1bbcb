"""Humidity and temperature against the target range: over time, a tent's last two weeks, and a reading on a gauge."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from journal.analysis.calendar import day_of, midnight_s, zone_of
from journal.analysis.climate import TentClimate
from journal.analysis.in_range import TargetRanges
from journal.analysis.readings import Series
from journal.quantities import to_fahrenheit
from journal.settings import Settings, ValueRange
from journal.site import wording
from journal.site.charts.axis_labels import GUTTER_PX
from journal.site.charts.primitives import (
    Dot,
    Drawing,
    Line,
    Path,
    Rect,
    Scale,
    Text,
    baselines,
    scale_over,
    ticks,
    trace,
)
from journal.site.plan import Row

GAUGE_PX = 18
_GAUGE_MARGIN = 0.5  # of the range's width, on either side of it


def gauge(
    wanted: ValueRange,
    value: float,
    read: tuple[float, float] | None = None,
    *,
    within: tuple[float, float] | None = None,
) -> Drawing:
    """A reading beside the range that is wanted, on one line as wide as its place: the range edged by two lines, the
    latest reading as a dot. read: the least and the greatest reading of that day, drawn as a bar. within: bounds of the
    scale. The scale reaches half the range's width beyond it, and further where a reading lies further."""
    margin = _GAUGE_MARGIN * (wanted.high - wanted.low) or 1.0
    known = [value, *(read or ())]
    low, high = min(wanted.low - margin, *known), max(wanted.high + margin, *known)
    across = Scale(max(low, within[0]), min(high, within[1])) if within else Scale(low, high)
    sheet, middle = Drawing(GAUGE_PX), GAUGE_PX / 2
    sheet.rects.append(Rect("0", middle - 1, "100%", 2, "whole"))
    sheet.rects.append(
        Rect(across.percent(wanted.low), 2, across.stretch(wanted.low, wanted.high), GAUGE_PX - 4, "range")
    )
    if read and read[0] < read[1]:
        sheet.rects.append(Rect(across.percent(read[0]), middle - 2, across.stretch(*read), 4, "read"))
    sheet.lines += [Line(across.percent(edge), 0, GAUGE_PX, "range-edge") for edge in (wanted.low, wanted.high)]
    out = not wanted.low <= value <= wanted.high
    sheet.dots.append(Dot(across.percent(value), middle, "out" if out else "eye"))
    return sheet


class Reading(NamedTuple):
    """A reading, at its time in days from the start of the axis."""

    at_d: float
    value: float
    door_open: bool
    is_manual: bool


TimeAxis = tuple[Scale, float]
"""A scale of days, and when day 0 began, in seconds since 1970-01-01T00:00Z."""

WantedSpan = tuple[float, float, TargetRanges]
"""From day, to day, target range at that time."""


@dataclass(frozen=True, slots=True)
class Trace:
    """One measure over the whole axis. title: with its unit. wanted: the target range, `85–95`, None if there is none.
    ranges: what was wanted, (from, to, low, high) in days and the measure's unit. dots: manual readings, (day, value,
    whether the door was open). path: in a box over `scale` and the whole axis."""

    title: str
    wanted: str | None
    scale: Scale
    path: str
    ranges: tuple[tuple[float, float, float, float], ...] = ()
    dots: tuple[tuple[float, float, bool], ...] = ()

    @property
    def heading(self) -> str:
        return f"{self.title} (wanted {self.wanted})" if self.wanted else self.title


def climate_traces(
    parts: Sequence[tuple[Series, Sequence[int]]], wanted: Sequence[WantedSpan], axis: TimeAxis, units: wording.Units
) -> Iterator[Trace]:
    """Humidity, then temperature, each where it was read. parts: series, and which of their readings are drawn."""
    is_us = units == "us"
    spans = [(from_d, to_d, want) for from_d, to_d, want in wanted if to_d > from_d]
    humidity = [row for part in parts for row in _readings(*part, "humidity_pct", axis)]
    ranges = [(from_d, to_d, want.humidity_pct) for from_d, to_d, want in spans]
    yield from _trace("humidity, %", humidity, ranges, axis, least_span=20, within=(0, 100))
    temperature = [row for part in parts for row in _readings(*part, "temperature_c", axis)]
    ranges = [(from_d, to_d, want.temperature_c) for from_d, to_d, want in spans]
    if is_us:
        temperature = [row._replace(value=to_fahrenheit(row.value)) for row in temperature]
        ranges = [
            (from_d, to_d, want and ValueRange(to_fahrenheit(want.low), to_fahrenheit(want.high)))
            for from_d, to_d, want in ranges
        ]
    yield from _trace(f"temperature, {'°F' if is_us else '°C'}", temperature, ranges, axis, least_span=8)


def _readings(series: Series, places: Sequence[int], measure: str, axis: TimeAxis) -> Iterator[Reading]:
    """The readings of a measure; what a stuck logger wrote does not count."""
    values = getattr(series, measure)
    for at in places:
        if not series.stuck[at] and values[at] == values[at]:
            at_d = (series.stamps_s[at] - axis[1]) / 86400
            yield Reading(at_d, values[at], series.door_open[at], series.is_manual[at])


def _trace(
    title: str,
    known: Sequence[Reading],
    wanted: Iterable[tuple[float, float, ValueRange | None]],
    axis: TimeAxis,
    *,
    least_span: float,
    within: tuple[float, float] | None = None,
) -> Iterator[Trace]:
    """One measure; nothing if there are no readings."""
    if not known:
        return
    ranges = [(from_d, to_d, want.low, want.high) for from_d, to_d, want in wanted if want]
    ends = [end for *_, low, high in ranges for end in (low, high)]
    scale = scale_over([*(row.value for row in known), *ends], least_span=least_span, within=within)
    logged = [row for row in known if not row.is_manual]
    words = dict.fromkeys(f"{wording.number(low)}–{wording.number(high)}" for *_, low, high in ranges)
    yield Trace(
        title=title,
        wanted=", then ".join(words) or None,
        scale=scale,
        path=trace([row.at_d for row in logged], [row.value for row in logged], axis[0], scale),
        ranges=tuple(ranges),
        dots=tuple((row.at_d, row.value, row.door_open) for row in known if row.is_manual),
    )


def plot(sheet: Drawing, across: Scale, one: Trace, y: float, height: float, *, about: int) -> None:
    """Draws a trace: y, height of its plot, in px. about: approximate number of levels; their numbers are in the
    gutter left of the axis."""

    def down(value: float) -> float:
        return y + (1 - min(1.0, max(0.0, one.scale.share(value)))) * height

    for from_d, to_d, low, high in one.ranges:
        width = across.stretch(from_d, min(to_d, across.high))
        sheet.rects.append(Rect(across.percent(from_d), down(high), width, down(low) - down(high), "range"))
        edges = (Rect(across.percent(from_d), down(end) - 1, width, 2, "range-edge") for end in (high, low))
        sheet.rects += edges
    levels = {down(level): level for level in ticks(one.scale.low, one.scale.high, about)}
    sheet.lines += [Line(None, level_y, level_y, "grid") for level_y in levels]
    for level_y, number_y in baselines(levels, y).items():
        sheet.texts.append(Text("0", number_y, f"{levels[level_y]:g}", "end", "tick", dx=-6))
    for at_d, value, door_open in one.dots:
        sheet.dots.append(Dot(across.percent(at_d), down(value), "open" if door_open else "eye"))
    sheet.paths.append(Path(y, height, one.path))


DAYS = 14
"""How many days are drawn, the last with a reading included."""

PLOT_PX = 96
_HEAD_PX = 22
_GAP_PX = 10
_DAYS_PX = 26


def climate_chart(air: TentClimate, settings: Settings) -> Row | None:
    """The last days with readings; None if they have fewer than two readings."""
    series, zone = air.series, zone_of(settings)
    fine = [at for at in range(len(series)) if not series.stuck[at]]
    if not fine:
        return None
    last = day_of(series.stamps_s[fine[-1]], zone)
    first = last - timedelta(days=DAYS - 1)
    axis = scale, start_s = Scale(0, DAYS), midnight_s(first, zone)
    shown = [at for at in fine if series.stamps_s[at] >= start_s]
    if len(shown) < 2:
        return None
    traces = tuple(climate_traces([(series, shown)], [(0, DAYS, air.wanted)], axis, settings.units))
    drawings = []
    for at, one in enumerate(traces):
        y = _HEAD_PX + at * (PLOT_PX + _HEAD_PX + _GAP_PX)
        sheet = Drawing(decimals=1)
        sheet.lines += [Line(scale.percent(day), y, y + PLOT_PX, "day") for day in range(DAYS)]
        plot(sheet, scale, one, y, PLOT_PX, about=4)
        sheet.texts.append(Text("0", y - 8, one.heading, classes="head", dx=-GUTTER_PX))
        drawings.append(sheet)
    height = (PLOT_PX + _HEAD_PX + _GAP_PX) * len(drawings) - (_GAP_PX if drawings else 0) + _DAYS_PX
    dates = Drawing(texts=list(_dates(first, scale, height - 6)))
    manual = [at for at in shown if series.is_manual[at]]
    headings = (f"{wording.capitalised(one.heading)}." for one in traces)
    words = ["The area between two lines is the wanted range."] if any(one.ranges for one in traces) else []
    if any(series.door_open[at] for at in manual):
        words.append("Dots are manual readings, hollow ones with the door open.")
    elif manual:
        words.append("Dots are manual readings.")
    silent = "Where the line breaks, the logger was silent or stuck."
    words.append("The line joins the daily medians." if series.by_day else silent)
    return Row(
        title=f"Climate of {air.tent.name}, {wording.day_in_words(first)} to {wording.day_in_words(last)}",
        desc=" ".join([*headings, "The table below gives the numbers of each day."]),
        foot=" ".join(words),
        height=height,
        drawings=(*drawings, dates),
    )


def _dates(first: date, across: Scale, y: float) -> Iterator[Text]:
    """The date of every other day, and the first of a month with its name, which on a phone also takes the space of the
    next date."""
    month, is_taken = 0, False
    for number in range(0, DAYS, 2):
        day = first + timedelta(days=number)
        if is_taken:
            is_taken = False
            continue
        month, is_taken = day.month, day.month != month
        words = f"{day.day} {wording.month_in_words(day)[:3]}" if is_taken else str(day.day)
        yield Text(across.percent(number), y, words, classes="tick", dx=2)
