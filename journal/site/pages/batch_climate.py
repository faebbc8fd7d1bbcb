"""The climate of one batch: its readings as lines for the timeline, its figures, and its days."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from journal.analysis.calendar import midnight_s
from journal.analysis.climate import BatchClimate, DayClimate, LocationClimate, counted_in, spreads_of
from journal.analysis.in_range import Wanted, longest_calculated, share_calculated
from journal.analysis.readings import Series
from journal.analysis.statistics import Summary
from journal.quantities import counted
from journal.site import wording
from journal.site.charts.climate_chart import TimeAxis, Trace, climate_traces
from journal.site.charts.timeline_events import Axis
from journal.site.figures import Figure, figure
from journal.site.pages.lookup import Lookup
from journal.site.plan import Row
from journal.site.wording import medians_words


def traces(lookup: Lookup, air: BatchClimate, axis: Axis) -> Iterator[Trace]:
    """Humidity and temperature, each where anything was read."""
    parts = [(lookup.analysis.readings[part.location.tent], part.readings) for part in air.locations]
    wanted = [
        (max(0.0, axis.at_s(part.from_s)), min(axis.end_d, axis.at_s(part.until_s)), part.wanted)
        for part in air.locations
    ]
    return climate_traces(parts, wanted, TimeAxis(axis.scale, axis.midnight_s()), lookup.units)


def figures(air: BatchClimate, lookup: Lookup) -> Iterator[Figure]:
    """The share of time in range, the longest period out of range, and the short swings."""
    if air.shares.in_range is None or air.out_of_range is None:
        return
    share = share_calculated(air.shares, Wanted(None, None))
    if share is not None:
        words = f"of its time in range, of {_hours(air.shares.all_s / 3600)} with readings where it stood"
        unsure_pct = (air.shares.cannot_tell or 0) * 100
        close = f"{wording.percent(unsure_pct)} too close to call, within the sensor's accuracy" if unsure_pct else None
        yield figure(share, words, lookup.units, beside=close, more=tuple(_wanted_words(air, lookup)))
    longest = air.out_of_range.longest
    words = "longest period out of range" + (f": {', '.join(longest.sides)}" if longest else "")
    swings = counted(air.out_of_range.swings, "short swing") + " besides, as an open door makes them"
    shown = figure(longest_calculated(air.out_of_range), words, beside=swings if air.out_of_range.swings else None)
    yield replace(shown, number=_hours(air.out_of_range.longest_out_h))


def medians(air: BatchClimate, lookup: Lookup) -> str | None:
    """What was read where it stood, over all its stays, in a sentence; None where nothing was."""
    by_day = any(lookup.analysis.readings[part.location.tent].by_day for part in air.locations)
    words = medians_words(air.humidity_pct, air.temperature_c, lookup.units, by_day)
    return f"Where it stood: {words}." if words else None


def days(lookup: Lookup, air: BatchClimate, axis: Axis) -> Iterator[Row]:
    """The climate of each day, as far as the batch stood there; with the tent where it stood in several."""
    several = len({part.location.tent for part in air.locations}) > 1
    for part in air.locations:
        tent = lookup.analysis.climate.tents[part.location.tent]
        for day in tent.days:
            temperature, humidity = _read_on(day, part, tent.series, axis)
            if temperature or humidity:
                yield Row(
                    day=axis.day_of(day.day),
                    date=wording.day_in_words(day.day).rpartition(" ")[0],
                    humidity=wording.number(humidity.median) if humidity else "",
                    temperature=wording.temperature(temperature.median, lookup.units).partition(" ")[0]
                    if temperature
                    else "",
                    where=tent.tent.name if several else None,
                )


def _read_on(
    day: DayClimate, part: LocationClimate, series: Series, axis: Axis
) -> tuple[Summary | None, Summary | None]:
    """Temperature and humidity of a day during a stay; of a day on which it came or left, of its own hours alone."""
    from_s, until_s = (midnight_s(day.day + timedelta(days=more), axis.zone) for more in (0, 1))
    if part.from_s <= from_s and until_s <= part.until_s:
        return day.temperature_c, day.humidity_pct
    hours = series.between(max(from_s, part.from_s), min(until_s, part.until_s))
    return spreads_of(series, counted_in(series, hours))


def _wanted_words(air: BatchClimate, lookup: Lookup) -> Iterator[tuple[str, str]]:
    """What was wanted in each tent that it stood in and that was read: (wanted where, the ranges)."""
    for part in {part.location.tent: part for part in air.locations if part.readings}.values():
        ranges = [wording.humidity_range(part.wanted.humidity_pct)] if part.wanted.humidity_pct else []
        if part.wanted.temperature_c:
            ranges.append(wording.temperature_range(part.wanted.temperature_c, lookup.units))
        yield f"wanted in {part.location.tent}", ", ".join(ranges) or "nothing"


def _hours(hours: float) -> str:
    """`8.2 h`; from two days on in days."""
    return f"{wording.number(hours / 24)} days" if hours >= 48 else f"{wording.number(hours)} h"
