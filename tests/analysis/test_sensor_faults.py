"""A stuck sensor and a gap: by rules that are common practice, each seen from both sides of its limit."""

from __future__ import annotations

from math import inf, nan

import pytest

from journal.analysis.readings import Stretch, gap_limit_s, gaps_in, stuck_in

H = 3600.0


def moving(count: int) -> list[float]:
    return [16.0 + at % 7 / 10 for at in range(count)]


@pytest.mark.parametrize(
    ("stuck", "humidity_pct", "temperature_c"),
    [
        # Thirteen hourly readings span 12 h, twelve of them 11 h.
        ([range(1, 14)], [88.2, *[90.1] * 13, 91.3], 16.0),
        ([], [88.2, *[90.1] * 12, 91.3], 16.0),
        # The temperature moves: it takes 48 h of humidity that does not.
        ([], [90.1] * 48, None),
        ([range(49)], [90.1] * 49, None),
        # Whole per cents say less.
        ([], [90.0] * 48, 16.0),
        ([range(49)], [90.0] * 49, 16.0),
        # Saturated air truly reads 100 %, for as long as it is saturated.
        ([], [90.1, *[100.0] * 48], 16.0),
        # Displays of three digits stop at 99.9.
        ([], [90.1, *[99.9] * 48], 16.0),
        ([], [90.1, *[99.9] * 60], None),
        ([range(1, 50)], [90.1, *[100.0] * 49], 16.0),
        ([], [90.1, *[100.0] * 60], None),
        # A thermometer alone.
        ([], [nan] * 48, 16.0),
        ([range(49)], [nan] * 49, 16.0),
        # Twice, and not in between.
        ([range(13), range(14, 27)], [*[90.1] * 13, 95.5, *[90.1] * 13], 16.0),
        ([], [], 16.0),
    ],
)
def test_a_logger_is_stuck_whose_values_stand_still_to_the_last_digit(
    stuck: list[range], humidity_pct: list[float], temperature_c: float | None
) -> None:
    count = len(humidity_pct)
    temperatures = moving(count) if temperature_c is None else [temperature_c] * count
    assert tuple(stuck) == stuck_in([H * at for at in range(count)], temperatures, humidity_pct)


def test_a_gap_ends_a_stuck_stretch() -> None:
    hours = [*range(8), *range(14, 22)]
    assert () == stuck_in([H * hour for hour in hours], [16.0] * 16, [90.1] * 16)


@pytest.mark.parametrize(("stuck", "count"), [([], 7), ([range(8)], 8)])
def test_a_few_readings_alike_are_no_evidence(stuck: list[range], count: int) -> None:
    """Every two hours: seven readings span 12 h, and are too few."""
    assert tuple(stuck) == stuck_in([2 * H * at for at in range(count)], [16.0] * count, [90.1] * count)


@pytest.mark.parametrize(
    ("gaps_h", "hours"),
    [
        ([], [0, 1, 2, 3]),
        ([(1, 5)], [0, 1, 5, 6]),
        # A logger that reads every two hours has no gap between any two readings.
        ([], [0, 2, 4, 10]),
        ([(4, 10.5)], [0, 2, 4, 10.5]),
        # One that reads every ten minutes: an hour is not yet a gap.
        ([], [0, 1 / 6, 2 / 6, 1 + 2 / 6]),
        ([(0.5, 2)], [0, 1 / 6, 2 / 6, 0.5, 2]),
        ([], [5]),
        ([], []),
    ],
)
def test_a_gap_is_longer_than_an_hour_and_than_three_usual_steps(
    gaps_h: list[tuple[float, float]], hours: list[float]
) -> None:
    assert tuple(Stretch(H * one, H * other) for one, other in gaps_h) == gaps_in([H * hour for hour in hours])


def test_a_stretch_knows_its_hours_and_a_lone_reading_no_gap() -> None:
    assert 2.5 == Stretch(H, 3.5 * H).hours
    assert inf == gap_limit_s([H])
