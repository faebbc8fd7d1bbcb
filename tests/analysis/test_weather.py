"""Rain and warmth before outings, worked by hand, and degree-days by published examples."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from math import nan

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.weather import degree_days, weeks_of
from journal.model import Journal, WeatherDay, WeatherFile
from journal.quantities import to_celsius
from tests.builders import entry, noted

FIRST = date(2026, 9, 1)
FILES = {
    "f.md": entry("find", "id: F-1\ndate: 2026-10-06"),
    "g.md": entry("find", "id: F-2\ndate: 2026-10-06"),
    "n1.md": noted("2026-10-12", "stage: nothing there", "F-1"),
    "n2.md": noted("2026-10-20", "stage: prime", "F-1"),
    "n3.md": noted("2026-10-20", "stage: past", "F-2"),
    "n4.md": noted("2026-10-21", "", "F-2"),
    "n5.md": noted("2026-10-22", "stage: past\nharvest: 300 g", "F-2"),
    "n6.md": noted("2026-10-23", "harvest: 200 g", "F-2"),
}


@pytest.fixture(scope="module")
def found(make_journal: Callable[..., Journal]) -> Analysis:
    """The station tells of 1 September on: 1 mm and 8 °C a day, 20 mm on 1 October; nothing of 10 October."""
    days = [FIRST + timedelta(days=at) for at in range(50)]
    rows = tuple(
        WeatherDay(day, nan if day == date(2026, 10, 10) else 20 if day == date(2026, 10, 1) else 1, 8) for day in days
    )
    return Analysis(replace(make_journal(FILES), weather=(WeatherFile("w.csv", rows),)))


@pytest.mark.parametrize(
    ("greatest_f", "least_f", "base_f", "degree_days_f"),
    [
        # Midwestern Regional Climate Center, Growing Degree Days: a mean of 75 °F over a base of 65 °F.
        (80, 70, 65, 10),
        # Iowa State University, Agronomy 541, lesson 2b: 70 and 50 °F over 50 °F.
        (70, 50, 50, 10),
        # Journey North, Growing Degree Days: a mean of 39 °F over 40 °F gives none. McMaster and Wilhelm's method 1.
        (48, 30, 40, 0),
    ],
)
def test_degree_days_are_those_of_published_examples(
    greatest_f: float, least_f: float, base_f: float, degree_days_f: float
) -> None:
    mean_c = to_celsius((greatest_f + least_f) / 2)
    assert degree_days_f == pytest.approx(degree_days(mean_c, to_celsius(base_f)) * 9 / 5)


def test_an_outing_is_a_day_with_what_was_found_and_what_was_not(found: Analysis) -> None:
    assert [
        (date(2026, 10, 6), ("F-1", "F-2"), ()),
        (date(2026, 10, 12), (), ("F-1",)),
        (date(2026, 10, 20), ("F-1",), ("F-2",)),
        (date(2026, 10, 22), ("F-2",), ()),
        (date(2026, 10, 23), ("F-2",), ()),
    ] == [(one.day, one.found, one.nothing) for one in found.outings]


def test_the_weather_before_is_summed_and_unknown_where_a_day_is_missing(found: Analysis) -> None:
    """Before 6 October: 6 days of 1 mm and one of 20; 30 days of 3 degree-days over 5 °C."""
    first, second, *_ = (one.before for one in found.outings)
    assert first is not None
    assert second is not None
    assert {7: 26, 21: 40} == first.rain_mm
    assert 90 == pytest.approx(first.degree_days)
    assert {7: None, 21: None} == second.rain_mm
    assert 90 == pytest.approx(second.degree_days)


def test_weeks_run_from_the_first_to_the_last_that_is_reported(found: Analysis) -> None:
    weeks = weeks_of(2026, found.weather, found.outings)
    assert (date(2026, 9, 7), date(2026, 10, 19)) == (weeks[0].first, weeks[-1].first)
    told = {week.first: (week.rain_mm, week.degree_days, len(week.outings)) for week in weeks}
    assert (26, 21, 0) == told[date(2026, 9, 28)]
    assert (None, 21, 1) == told[date(2026, 10, 5)]


def test_with_no_station_outings_stand_alone(make_journal: Callable[..., Journal]) -> None:
    found = Analysis(make_journal(FILES))
    assert [None] * 5 == [one.before for one in found.outings]
    assert () == found.weather.years
