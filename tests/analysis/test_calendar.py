"""Calendar days on the scale of seconds, the days on which clocks are changed included."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from journal.analysis.calendar import day_of, days_read, midnight_s, zone_of
from journal.settings import Settings

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
def test_a_day_is_as_long_as_the_clocks_make_it(hours: int, day: date) -> None:
    begins_s = midnight_s(day, LONDON)
    found = dict(days_read([begins_s - 1, *(begins_s + 3600 * hour for hour in range(30))], LONDON))
    assert range(1, 1 + hours) == found[day]


def test_a_moment_falls_on_the_day_of_the_journals_zone() -> None:
    assert date(2026, 7, 2) == day_of(seconds("2026-07-01T23:30+00:00"), LONDON)
    assert date(2026, 7, 1) == day_of(seconds("2026-07-01T23:30+00:00"), UTC)


def test_only_days_with_a_reading_are_given_each_once() -> None:
    moments = ["2026-10-24T12:00+01:00", "2026-10-24T23:59+01:00", "2026-10-27T00:00+00:00", "2999-12-31T23:00+00:00"]
    found = list(days_read([seconds(moment) for moment in moments], LONDON))
    assert [
        (date(2026, 10, 24), range(2)), (date(2026, 10, 27), range(2, 3)), (date(2999, 12, 31), range(3, 4)),
    ] == found  # fmt: skip
    assert [] == list(days_read([], LONDON))


def test_a_zone_that_nobody_knows_is_utc() -> None:
    assert UTC == zone_of(Settings(time_zone="Nowhere/Atall"))
    assert LONDON == zone_of(Settings(time_zone="Europe/London"))
