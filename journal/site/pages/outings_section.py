"""Rain and warmth beside the season: week by week with every outing, and before each find; in no share, since the
weather of a day tells a place.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from journal.analysis.progress import calendar_day
from journal.analysis.weather import FORMULA, RAIN_D, SOURCE, WARM_D, DaysBefore, Outing, Week, weeks_of
from journal.model import Find
from journal.quantities import counted
from journal.site import wording
from journal.site.charts.primitives import Scale, scale_over
from journal.site.charts.xy_chart import Series, xy_chart
from journal.site.pages.lookup import Lookup
from journal.site.plan import Row

_MM_PER_IN = 25.4
MOST_YEARS, MOST_OUTINGS = 3, 60


def rain_words(lookup: Lookup, rain_mm: float | None) -> str:
    """`12 mm`, in US units `0.47 in`; a dash where it is not known."""
    if rain_mm is None:
        return "–"
    return (
        f"{wording.number(rain_mm / _MM_PER_IN, 2)} in" if lookup.units == "us" else f"{wording.number(rain_mm, 0)} mm"
    )


def degree_words(lookup: Lookup, value: float | None) -> str:
    """Degree-days, as the units count them."""
    if value is None:
        return "–"
    return wording.number(value * 9 / 5 if lookup.units == "us" else value, 0)


def _base_words(lookup: Lookup) -> str:
    return wording.temperature(lookup.analysis.weather.base_c, lookup.units)


def before_words(lookup: Lookup, find: Find) -> str | None:
    """`12 mm of rain in the 7 days before, 48 mm in 21; 210 degree-days over 5 °C in 30`."""
    day = calendar_day(find.date)
    if lookup.share is not None or day is None:
        return None
    before = lookup.analysis.weather.before(day)
    return _before(lookup, before) if before is not None else None


def _before(lookup: Lookup, before: DaysBefore) -> str:
    few, many = (before.rain_mm[count] for count in RAIN_D)
    parts = []
    if few is not None:
        parts.append(f"{rain_words(lookup, few)} of rain in the {RAIN_D[0]} days before")
    if many is not None:
        parts.append(f"{rain_words(lookup, many)} in {RAIN_D[1]}")
    if before.degree_days is not None:
        days = degree_words(lookup, before.degree_days)
        parts.append(f"{days} degree-days over {_base_words(lookup)} in {WARM_D}")
    return ", ".join(parts)


def outings_section(lookup: Lookup) -> dict[str, Any] | None:
    """Each year of which the station tells, the latest first; None in a share, and where nobody looked."""
    looked = lookup.analysis.outings
    if lookup.share is not None or not looked:
        return None
    weather = lookup.analysis.weather
    years = [_year(lookup, year, looked) for year in weather.years[: -MOST_YEARS - 1 : -1]]
    empty = sum(not one.found for one in looked)
    return {
        "effort": f"Looked on {counted(len(looked), 'day')}: something was fruiting on {len(looked) - empty}, "
        f"nothing, or only what was past, on {empty}.",
        "rows": [_outing(lookup, one) for one in looked[: -MOST_OUTINGS - 1 : -1]],
        "more": max(0, len(looked) - MOST_OUTINGS),
        "has_weather": bool(years),
        "heads": [f"Rain, {count} days before" for count in RAIN_D]
        + [f"Degree-days over {_base_words(lookup)}, {WARM_D} days before"],
        "years": [year for year in years if year],
        "formula": FORMULA,
        "source": SOURCE,
    }


def _outing(lookup: Lookup, one: Outing) -> dict[str, Any]:
    before = one.before
    rain = [before.rain_mm[count] if before else None for count in RAIN_D]
    warm = before.degree_days if before else None
    return {
        "day": wording.day_in_words(one.day),
        "found": lookup.labels(one.found),
        "nothing": lookup.labels(one.nothing),
        "cells": [*(rain_words(lookup, value) for value in rain), degree_words(lookup, warm)],
    }


def _year(lookup: Lookup, year: int, looked: tuple[Outing, ...]) -> dict[str, Any] | None:
    weeks = weeks_of(year, lookup.analysis.weather, looked)
    if not weeks:
        return None
    return {"year": year, "charts": _charts(lookup, year, weeks), "weeks": [_week(lookup, week) for week in weeks]}


def _week(lookup: Lookup, week: Week) -> dict[str, Any]:
    last = week.first + timedelta(days=6)
    return {
        "number": week.first.isocalendar().week,
        "days": f"{wording.day_in_few_words(week.first)} to {wording.day_in_few_words(last)}",
        "rain": rain_words(lookup, week.rain_mm),
        "degree_days": degree_words(lookup, week.degree_days),
        "found": sum(bool(one.found) for one in week.outings) or "",
        "nothing": sum(not one.found for one in week.outings) or "",
    }


def _charts(lookup: Lookup, year: int, weeks: tuple[Week, ...]) -> tuple[Row, ...]:
    """Rain as bars with the outings above them, and degree-days as a line, over the same weeks."""
    first = weeks[0].first
    across = Scale(0.0, float(len(weeks)))
    months = _months(first, weeks)
    to_rain = 1 / _MM_PER_IN if lookup.units == "us" else 1.0
    rain = [(float(at), week.rain_mm * to_rain) for at, week in enumerate(weeks) if week.rain_mm is not None]
    up = scale_over([0.0, *(value * 1.25 for _, value in rain)], least_span=0.4 if lookup.units == "us" else 10)
    found = [_place(first, one) for week in weeks for one in week.outings if one.found]
    empty = [_place(first, one) for week in weeks for one in week.outings if not one.found]
    top = up.high - (up.high - up.low) * 0.06
    series = [
        Series(rain, bars=True),
        Series([(at, top) for at in found], joined=False),
        Series([(at, top) for at in empty], joined=False, classes="open"),
    ]
    unit = "in" if lookup.units == "us" else "mm"
    charts = [
        xy_chart(
            f"rain-{year}",
            f"Rain and outings, {year}",
            "A bar for the rain of each week; a full dot for each outing that found something, a hollow one for each "
            "that found nothing. The table below gives the numbers.",
            f"rain a week, {unit}, {year}",
            (across, up),
            series,
            months,
        )
    ]
    warm = [(at + 0.5, week.degree_days) for at, week in enumerate(weeks) if week.degree_days is not None]
    if len(warm) > 1:
        factor = 9 / 5 if lookup.units == "us" else 1.0
        points = [(at, value * factor) for at, value in warm]
        charts.append(
            xy_chart(
                f"warmth-{year}",
                f"Degree-days of each week, {year}",
                "A line over the weeks. The table below gives the numbers.",
                f"degree-days a week, over {_base_words(lookup)}",
                (across, scale_over([0.0, *(value for _, value in points)], least_span=10)),
                [Series(points)],
                months,
            )
        )
    return tuple(charts)


def _place(first: date, one: Outing) -> float:
    return ((one.day - first).days + 0.5) / 7


def _months(first: date, weeks: tuple[Week, ...]) -> list[tuple[float, str]]:
    """Where each month begins, few enough for a phone."""
    days = [first + timedelta(days=at) for at in range(7 * len(weeks))]
    firsts = [day for day in days if day.day == 1]
    step = max(1, -(-len(firsts) // 6))
    return [((day - first).days / 7, wording.month_in_words(day)[:3]) for day in firsts[::step]]
