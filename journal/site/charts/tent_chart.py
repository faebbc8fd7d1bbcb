"""The last two weeks of a tent's air as a drawing that stretches: humidity and temperature against what is wanted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from journal.analysis.calendar import day_of, midnight_s, zone_of
from journal.analysis.climate import TentClimate
from journal.model import ValueRange
from journal.quantities import to_fahrenheit
from journal.site import wording
from journal.site.charts.primitives import Scale, baselines, scale_over, ticks, trace, trimmed
from journal.site.pages.lookup import Lookup

DAYS = 14
"""How many days are drawn, the last with a reading included."""

PLOT_PX = 96
HEAD_PX = 22
DAYS_PX = 26


@dataclass(frozen=True, slots=True)
class Mark:
    """Something at a place: x in per cent of the width, y in px, and its words or look."""

    x: str
    y: float
    words: str = ""
    look: str = ""


@dataclass(frozen=True, slots=True)
class Strip:
    """One measure. y: where its plot begins, in px. band: (y, height) in px, None where none is wanted. levels: lines
    across with their numbers. path: in a box of 1000 by 1000. dots: read by eye."""

    title: str
    y: float
    band: tuple[float, float] | None
    levels: tuple[Mark, ...]
    numbers: tuple[Mark, ...]
    path: str
    dots: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class ClimateChart:
    """height: px. days: where each day begins, with its date where there is room for it."""

    title: str
    desc: str
    foot: str
    height: float
    plot_px: int
    strips: tuple[Strip, ...]
    days: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class _Window:
    """The days drawn. rows: (days from the first midnight, %, °C, door open, by eye), a stuck logger's left out."""

    first: date
    across: Scale
    rows: Sequence[tuple[float, float, float, bool, bool]]


def climate_chart(lookup: Lookup, air: TentClimate) -> ClimateChart | None:
    """The last days with readings; None where there are fewer than two readings in them."""
    window = _window(lookup, air)
    if window is None or len(window.rows) < 2:
        return None
    strips = tuple(_strips(lookup, air, window))
    height = (strips[-1].y + PLOT_PX if strips else 0) + DAYS_PX
    last = window.first + timedelta(days=DAYS - 1)
    return ClimateChart(
        title=f"The air of {air.tent.name}, {wording.day_in_words(window.first)} to {wording.day_in_words(last)}",
        desc=f"{_described(strips)} The numbers of each day stand in the table beneath.",
        foot=_foot(window, strips, air.series.by_day),
        height=height,
        plot_px=PLOT_PX,
        strips=strips,
        days=tuple(_days(window, height)),
    )


def _window(lookup: Lookup, air: TentClimate) -> _Window | None:
    series, zone = air.series, zone_of(lookup.settings)
    fine = [at for at in range(len(series)) if not series.stuck[at]]
    if not fine:
        return None
    first = day_of(series.stamps_s[fine[-1]], zone) - timedelta(days=DAYS - 1)
    from_s = midnight_s(first, zone)
    rows = [
        (
            (series.stamps_s[at] - from_s) / 86400,
            series.humidity_pct[at],
            series.temperature_c[at],
            series.door_open[at],
            series.by_eye[at],
        )
        for at in fine
        if series.stamps_s[at] >= from_s
    ]
    return _Window(first, Scale(0, DAYS), rows)


def _strips(lookup: Lookup, air: TentClimate, window: _Window) -> Iterator[Strip]:
    """Humidity, then temperature, each where it was read."""
    is_us = lookup.units == "us"
    band_c, unit = air.wanted.temperature_c, "°F" if is_us else "°C"
    shown_band = ValueRange(_degrees(band_c.low, is_us), _degrees(band_c.high, is_us)) if band_c else None
    humidity = [(day, rh_pct, is_open, eye) for day, rh_pct, _, is_open, eye in window.rows]
    temperature = [(day, _degrees(air_c, is_us), is_open, eye) for day, _, air_c, is_open, eye in window.rows]
    y = 0.0
    for title, rows, band, least_span, within in (
        ("humidity, %", humidity, air.wanted.humidity_pct, 20.0, (0.0, 100.0)),
        (f"temperature, {unit}", temperature, shown_band, 8.0, None),
    ):
        known = [row for row in rows if row[1] == row[1]]
        if known:
            ends = [band.low, band.high] if band else []
            scale = scale_over([*(row[1] for row in known), *ends], least_span=least_span, within=within)
            yield _strip(title, y + HEAD_PX, known, band, scale, window.across)
            y += HEAD_PX + PLOT_PX + 10


def _degrees(celsius: float, is_us: bool) -> float:
    return to_fahrenheit(celsius) if is_us else celsius


def _strip(
    title: str,
    y: float,
    rows: Sequence[tuple[float, float, bool, bool]],
    band: ValueRange | None,
    scale: Scale,
    across: Scale,
) -> Strip:
    def down(value: float) -> float:
        return round(y + (1 - scale.share(value)) * PLOT_PX, 1)

    logged = [row for row in rows if not row[3]]
    levels = tuple(Mark("0%", down(level), f"{level:g}") for level in ticks(scale.low, scale.high, 4))
    stands = baselines((level.y for level in levels), y)
    wanted = f" (wanted {wording.number(band.low)}–{wording.number(band.high)})" if band else ""
    return Strip(
        title=title + wanted,
        y=y,
        band=(down(band.high), round(down(band.low) - down(band.high), 1)) if band else None,
        levels=levels,
        numbers=tuple(Mark("2", stands[level.y], level.words) for level in levels if level.y in stands),
        path=trace([row[0] for row in logged], [row[1] for row in logged], across, scale),
        dots=tuple(
            Mark(across.percent(day), down(value), look="open" if is_open else "eye")
            for day, value, is_open, eye in rows
            if eye
        ),
    )


def _days(window: _Window, height: float) -> Iterator[Mark]:
    """Each midnight; every other day has its date, with the month where it is the first so named. On the narrowest
    phone a month takes the room of the next date as well."""
    month, is_taken = 0, False
    for number in range(DAYS):
        day = window.first + timedelta(days=number)
        words = ""
        if number % 2 == 0:
            is_dated, with_month = not is_taken, not is_taken and day.month != month
            words = f"{day.day} {wording.month_in_words(day)[:3]}" if with_month else str(day.day) if is_dated else ""
            month, is_taken = day.month if is_dated else month, with_month
        yield Mark(f"{trimmed(number / DAYS * 100)}%", height - 6, words)


def _described(strips: Sequence[Strip]) -> str:
    return " ".join(f"{strip.title[:1].upper()}{strip.title[1:]}." for strip in strips)


def _foot(window: _Window, strips: Sequence[Strip], by_day: bool) -> str:
    words = ["The shaded band is what is wanted."] if any(strip.band for strip in strips) else []
    if any(is_open for *_, is_open, _ in window.rows):
        words.append("Dots were read by eye, hollow ones with the door open.")
    elif any(eye for *_, eye in window.rows):
        words.append("Dots were read by eye.")
    words.append(
        "The line joins the medians of days." if by_day else "Where the line breaks, the logger was silent or stuck."
    )
    return " ".join(words)
