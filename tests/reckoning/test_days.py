"""Calendar days on the scale of seconds, the days on which clocks are changed included."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from journal.model import Settings
from journal.reckoning.days import day_of, days_between, midnight_s, zone_of

LONDON = ZoneInfo("Europe/London")


def seconds(moment: str) -> float:
    return datetime.fromisoformat(moment).timestamp()


@pytest.mark.parametrize(
    ("hours", "day"),
    [
        # Summer Time Order 2002 (United Kingdom): the last Sundays of March and October, at 01:00 GMT.
        (24, date(2026, 10, 24)),
        (25, date(2026, 10, 25)),
        (23, date(2026, 3, 29)),
    ],
)
def test_a_day_is_as_long_as_the_clocks_make_it(hours: float, day: date) -> None:
    begins_s = midnight_s(day, LONDON)
    (found,) = days_between(begins_s, begins_s + 3600, LONDON)
    assert (day, begins_s) == found[:2]
    assert hours == (found[2] - found[1]) / 3600


def test_a_moment_falls_on_the_day_of_the_journals_zone() -> None:
    assert date(2026, 7, 2) == day_of(seconds("2026-07-01T23:30+00:00"), LONDON)
    assert date(2026, 7, 1) == day_of(seconds("2026-07-01T23:30+00:00"), UTC)


def test_every_day_from_the_first_moment_to_the_last_is_given_once() -> None:
    found = list(days_between(seconds("2026-10-24T12:00+01:00"), seconds("2026-10-27T00:00+00:00"), LONDON))
    assert [date(2026, 10, day) for day in (24, 25, 26, 27)] == [day for day, _, _ in found]
    assert [end for _, _, end in found][:-1] == [start for _, start, _ in found][1:]


def test_a_zone_that_nobody_knows_is_utc() -> None:
    assert UTC == zone_of(Settings(time_zone="Nowhere/Atall"))
    assert LONDON == zone_of(Settings(time_zone="Europe/London"))
