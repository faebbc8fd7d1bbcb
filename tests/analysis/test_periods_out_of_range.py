"""Times out of range: periods and short swings, where either ends, and on which side the air was out of it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import pytest

from journal.analysis.in_range import Judged, PeriodsOut, Side, TargetRanges, periods_out_of
from journal.settings import ValueRange
from tests.analysis.aired import START, logged, manual, series

WANTED = TargetRanges(ValueRange(85, 95), ValueRange(12, 18))
START_S = datetime.fromisoformat(START).timestamp()


def periods(*read: object) -> PeriodsOut:
    found = series(*read)  # type: ignore[arg-type]
    return periods_out_of(Judged(found, WANTED), range(len(found)))


@pytest.mark.parametrize(
    ("periods_h", "swings", "every_min", "humidity_pct"),
    [
        ([], 0, 15, [90, 90, 90]),
        # One reading of four an hour stands for 15 min and two for 30: a door. Three are 45.
        ([], 1, 15, [90, 80, 90]),
        ([], 1, 15, [90, 80, 80, 90]),
        ([0.75], 0, 15, [90, 80, 80, 80, 90]),
        ([], 2, 15, [90, 80, 90, 80, 90]),
        ([0.75, 1.0], 1, 15, [90, 80, 80, 80, 90, 80, 90, 80, 80, 80, 80, 90]),
        # By the minute.
        ([], 1, 1, [90, *[80] * 30, 90]),
        ([31 / 60], 0, 1, [90, *[80] * 31, 90]),
        ([2.0], 0, 60, [90, 80, 80, 90]),
    ],
)
def test_out_of_range_for_more_than_half_an_hour_is_a_period_and_else_a_swing(
    periods_h: list[float], swings: int, every_min: float, humidity_pct: Sequence[float]
) -> None:
    found = periods(logged(humidity_pct, every_min=every_min))
    assert periods_h == pytest.approx([period.hours for period in found.periods])
    assert swings == found.swings
    assert max(periods_h, default=0.0) == pytest.approx(found.longest_out_h)


@pytest.mark.parametrize(
    ("periods_h", "swings", "humidity_pct"),
    [
        # Whoever takes the readings out of a logger opens the door: its last reading stands for 5 + 30 min.
        ([], 1, [90, 90, 80]),
        ([], 1, [80, 90, 90]),
        ([], 1, [90, 80, *[None] * 12, 90, 90]),
        ([65 / 60], 0, [90, 90, 80, 80, 80, 80]),
        # A lone reading is no period: nobody knows how long it was so.
        ([], 1, [80]),
    ],
)
def test_a_dip_beside_a_time_without_readings_is_not_a_period(
    periods_h: list[float], swings: int, humidity_pct: Sequence[float | None]
) -> None:
    found = periods(logged(humidity_pct, [None if value is None else 16 for value in humidity_pct], every_min=10))
    assert periods_h == pytest.approx([period.hours for period in found.periods])
    assert swings == found.swings


def test_short_swings_are_summed_and_the_first_of_the_longest_periods_is_the_longest() -> None:
    found = periods(logged([90, 80, 90, 80, 80, 90, *[80] * 4, 90, *[70] * 4, 90], every_min=15))
    assert (2, 0.75) == (found.swings, found.swings_h)
    assert found.longest is not None
    assert found.longest.humidity_pct is not None
    assert 80 == found.longest.humidity_pct.median


def test_a_period_lasts_for_the_time_that_its_readings_stand_for() -> None:
    (period,) = periods(logged([90, 80, 80, 80, 90])).periods
    assert (0.5, 3.5) == ((period.from_s - START_S) / 3600, (period.until_s - START_S) / 3600)


@pytest.mark.parametrize(
    ("hours", "log", "eye"),
    [
        # Nobody can tell, and the door was open.
        ([2.0, 2.0], logged([90, 79, 79, 84, 79, 79, 90], accuracy_pct=3), None),
        ([1.75, 1.75], logged([90, 80, 80, 80, 80, 90]), manual("2026-11-02T02:30+00:00", 80, 16, door="open")),
        # Nothing was read for two hours.
        ([2.0, 2.0], logged([90, 80, 80, None, 80, 80, 90], [16, 16, 16, None, 16, 16, 16]), None),
    ],
)
def test_what_cannot_be_told_or_is_not_counted_or_is_missing_ends_a_period(
    hours: list[float], log: object, eye: object
) -> None:
    found = periods(*(one for one in (log, eye) if one))
    assert hours == [period.hours for period in found.periods]


@pytest.mark.parametrize(
    ("sides", "humidity_pct", "temperature_c"),
    [
        (["too dry"], [80] * 3, [16] * 3),
        (["too damp"], [99] * 3, [16] * 3),
        (["too cold"], [90] * 3, [8] * 3),
        (["too warm"], [90] * 3, [20] * 3),
        (["too dry", "too warm"], [80, 80, 90], [16, 20, 20]),
    ],
)
def test_a_period_says_in_which_way_the_air_was_wrong(
    sides: list[Side], humidity_pct: list[float], temperature_c: list[float]
) -> None:
    (period,) = periods(logged(humidity_pct, temperature_c)).periods
    assert tuple(sides) == period.sides


def test_a_period_is_cut_where_the_readings_asked_for_begin_and_end() -> None:
    found = series(logged([90, 80, 80, 80, 80, 90]))
    cut = periods_out_of(Judged(found, WANTED), range(2, 4))
    assert [2.0] == [period.hours for period in cut.periods]
    assert [] == list(periods_out_of(Judged(found, WANTED), range(5, 6)).periods)


def test_periods_of_two_stays_are_taken_together() -> None:
    both = PeriodsOut((), 1, 0.25) + periods(logged([90, 80, 80, 90]))
    assert (1, 0.25, 2.0) == (both.swings, both.swings_h, both.longest_out_h)
    assert PeriodsOut().longest is None
