"""The air of one batch's run: its readings as lines for the chart, its figures, and its days."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta

from journal.analysis.calendar import midnight_s
from journal.analysis.climate import BatchClimate, DayClimate, LocationClimate, counted_in, spreads_of
from journal.analysis.in_range import Wanted, longest_calculated, share_calculated
from journal.analysis.readings import Series
from journal.analysis.statistics import Summary
from journal.model import ValueRange
from journal.quantities import to_fahrenheit
from journal.site import wording
from journal.site.charts.primitives import scale_over, trace
from journal.site.charts.timeline_events import Axis
from journal.site.charts.timeline_layout import Trace
from journal.site.figures import Figure, figure
from journal.site.pages.lookup import Lookup
from journal.site.wording import medians_words


@dataclass(frozen=True, slots=True)
class DayLine:
    """A day of the air where the batch stood: medians of what was read there, in % and the author's degrees.

    where: the tent, None where it stood in one alone.
    """

    day: int
    date: str
    humidity: str
    temperature: str
    where: str | None = None


def traces(lookup: Lookup, air: BatchClimate, axis: Axis) -> Iterator[Trace]:
    """Humidity and temperature, each where anything was read."""
    humidity = [row for part in air.stays for row in _rows(lookup, part, axis, "humidity_pct")]
    bands = [(_ends(part, axis), part.wanted.humidity_pct) for part in air.stays]
    yield from _trace("humidity", "%", humidity, _wanted(bands), axis, 20, (0, 100))
    temperature = [row for part in air.stays for row in _rows(lookup, part, axis, "temperature_c")]
    bands = [(_ends(part, axis), part.wanted.temperature_c) for part in air.stays]
    if lookup.units == "us":
        temperature = [(day, to_fahrenheit(value), shut, eye) for day, value, shut, eye in temperature]
        bands = [(ends, ValueRange(to_fahrenheit(b.low), to_fahrenheit(b.high)) if b else None) for ends, b in bands]
    yield from _trace("temperature", "°F" if lookup.units == "us" else "°C", temperature, _wanted(bands), axis, 8, None)


ReadingsShown = tuple[float, float, bool, bool]
"""Day, value, whether the door was shut, whether it was read by eye."""

WantedRange = tuple[float, float, float, float]
"""From day, to day, low, high."""


def _rows(lookup: Lookup, part: LocationClimate, axis: Axis, measure: str) -> list[ReadingsShown]:
    """What was read of a measure during one stay; what a stuck logger wrote is no reading."""
    series = lookup.series[part.stay.tent]
    values = getattr(series, measure)
    start_s = axis.midnight_s()
    return [
        ((series.stamps_s[at] - start_s) / 86400, values[at], not series.door_open[at], series.by_eye[at])
        for at in part.readings
        if not series.stuck[at] and values[at] == values[at]
    ]


def _ends(part: LocationClimate, axis: Axis) -> tuple[float, float]:
    return max(0.0, axis.at_s(part.from_s)), min(axis.end_d, axis.at_s(part.until_s))


def _wanted(bands: Iterable[tuple[tuple[float, float], ValueRange | None]]) -> list[WantedRange]:
    return [(*ends, band.low, band.high) for ends, band in bands if band and ends[1] > ends[0]]


def _trace(
    title: str,
    unit: str,
    known: list[ReadingsShown],
    bands: list[WantedRange],
    axis: Axis,
    least_span: float,
    within: tuple[float, float] | None,
) -> Iterator[Trace]:
    """One measure; nothing where nothing was read."""
    if not known:
        return
    ends = [end for *_, low, high in bands for end in (low, high)]
    scale = scale_over([*(row[1] for row in known), *ends], least_span=least_span, within=within)
    logged = [row for row in known if not row[3]]
    wanted = list(dict.fromkeys(f"{wording.number(low)}–{wording.number(high)}" for *_, low, high in bands))
    yield Trace(
        title=f"{title}, {unit}",
        wants=", then ".join(wanted) or None,
        scale=scale,
        path=trace([row[0] for row in logged], [row[1] for row in logged], axis.scale, scale),
        bands=tuple(bands),
        dots=tuple((round(row[0], 3), row[1], not row[2]) for row in known if row[3]),
    )


def figures(air: BatchClimate, lookup: Lookup) -> Iterator[Figure]:
    """What its air came to: the share in band, the longest spell out, the dips."""
    if air.shares.in_range is None or air.spells is None:
        return
    share = share_calculated(air.shares, Wanted(None, None))
    if share is not None:
        shown = figure(share, _counted_words(air), lookup.units, more=tuple(_wanted_words(air, lookup)))
        yield replace(shown, beside=_unsure_words(air))
    longest = air.spells.longest
    words = "longest spell out of band" + (f": {', '.join(longest.sides)}" if longest else "")
    dips = wording.count(air.spells.dips, "dip") + " of minutes beside, as a door makes them"
    shown = figure(longest_calculated(air.spells), words, beside=dips if air.spells.dips else None)
    yield replace(shown, number=_hours(air.spells.longest_out_h))


def medians(air: BatchClimate, lookup: Lookup) -> str | None:
    """What was read where it stood, over all its stays, in a sentence; None where nothing was."""
    by_day = any(lookup.series[part.stay.tent].by_day for part in air.stays)
    words = medians_words(air.humidity_pct, air.temperature_c, lookup.units, by_day)
    return f"Where it stood: {words}." if words else None


def days(lookup: Lookup, air: BatchClimate, axis: Axis) -> Iterator[DayLine]:
    """The air on each day, as far as the batch stood there; with the tent where it stood in several."""
    several = len({part.stay.tent for part in air.stays}) > 1
    for part in air.stays:
        tent = lookup.air.tents[part.stay.tent]
        for day in tent.days:
            temperature, humidity = _read_on(day, part, tent.series, axis)
            if temperature or humidity:
                yield DayLine(
                    axis.day_of(day.day),
                    wording.day_in_words(day.day).rpartition(" ")[0],
                    wording.number(humidity.median) if humidity else "",
                    wording.temperature(temperature.median, lookup.units).partition(" ")[0] if temperature else "",
                    tent.tent.name if several else None,
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
    """What was wanted in each tent that it stood in and that was read: (wanted where, the bands)."""
    for part in {part.stay.tent: part for part in air.stays if part.readings}.values():
        bands = [wording.humidity_range(part.wanted.humidity_pct)] if part.wanted.humidity_pct else []
        if part.wanted.temperature_c:
            bands.append(wording.temperature_range(part.wanted.temperature_c, lookup.units))
        yield f"wanted in {part.stay.tent}", ", ".join(bands) or "nothing"


def _counted_words(air: BatchClimate) -> str:
    return f"of its time in band, of {_hours(air.shares.all_s / 3600)} with readings where it stood"


def _hours(hours: float) -> str:
    """`8.2 h`; from two days on in days."""
    return f"{wording.number(hours / 24)} days" if hours >= 48 else f"{wording.number(hours)} h"


def _unsure_words(air: BatchClimate) -> str | None:
    unsure = air.shares.cannot_tell
    return f"of {wording.percent(unsure * 100)} nobody can tell, within the logger's accuracy" if unsure else None
