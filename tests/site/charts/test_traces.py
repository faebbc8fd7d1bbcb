"""Long series of readings as short paths."""

from __future__ import annotations

import re
from math import inf, nan, pi, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.site.charts.primitives import PATH_MOST_BYTES, Scale, trace

ACROSS = Scale(0, 35)
DOWN = Scale(0, 100)
MINUTE = 1 / 1440


def points_of(path: str) -> list[list[tuple[int, int]]]:
    """The absolute points of each unbroken part, read back as SVG 1.1, chapter 8.3, has it."""
    parts: list[list[tuple[int, int]]] = []
    for letter, numbers in re.findall(r"([MlhvV])([-0-9 ]+)", path):
        values = [int(number) for number in re.findall(r"-?\d+", numbers)]
        if letter == "M":
            parts.append([(values[0], values[1])])
            continue
        x, y = parts[-1][-1]
        step_x, step_y = {"l": values, "h": [values[0], 0], "v": [0, values[0]]}[letter]
        parts[-1].append((x + step_x, y + step_y))
    return parts


def test_fifty_thousand_readings_become_at_most_six_kilobytes_and_keep_both_extremes() -> None:
    days = [at * MINUTE for at in range(50_000)]
    values = [88 + 5 * sin(at / 300) + (at * 7919 % 13) / 4 for at in range(50_000)]
    values[31_417], values[12_345] = 41.0, 99.5
    path = trace(days, values, ACROSS, DOWN)
    downs = [y for part in points_of(path) for _, y in part]
    assert len(path) <= 6 * 1024
    assert (5, 590) == (min(downs), max(downs))
    assert len(path) > 1024


def test_a_short_swing_of_one_minute_is_drawn_at_its_day() -> None:
    days = [at * MINUTE for at in range(40_000)]
    values = [90.0] * 40_000
    values[20_000] = 50.0
    (part,) = points_of(trace(days, values, ACROSS, DOWN))
    assert [round(20_000 * MINUTE / 35 * 1000)] == sorted({x for x, y in part if y == 500})


def test_a_short_series_is_drawn_point_by_point() -> None:
    assert [[(0, 100), (286, 200), (571, 0)]] == points_of(trace([0, 10, 20], [90, 80, 100], ACROSS, DOWN))


def test_the_line_breaks_where_readings_fail_for_days() -> None:
    days = [*(at / 24 for at in range(48)), *(10 + at / 24 for at in range(48))]
    parts = points_of(trace(days, [90 + at % 3 for at in range(96)], ACROSS, DOWN))
    assert 2 == len(parts)
    assert (0, 286) == (parts[0][0][0], parts[1][0][0])


def test_a_lone_reading_is_a_dot() -> None:
    assert "M286 100h1" == trace([10], [90], ACROSS, DOWN)


@pytest.mark.parametrize("value", [nan, inf])
def test_what_holds_no_number_is_not_drawn(value: float) -> None:
    drawn = trace([1, 2], [value if value != value else 90, nan], ACROSS, DOWN)
    assert ("" if value != value else "M29 100h1") == drawn


def test_readings_beyond_the_axis_are_left_out() -> None:
    assert [[(0, 100), (1000, 200)]] == points_of(trace([-1, 0, 35, 36], [10, 90, 80, 10], ACROSS, DOWN))


@given(
    st.lists(st.tuples(st.floats(0, 35), st.floats(0, 100)), min_size=1, max_size=400),
    st.integers(1, 6),
)
def test_no_series_is_too_long_and_none_loses_its_least_or_greatest(
    rows: list[tuple[float, float]], times: int
) -> None:
    rows = sorted(rows * times)
    path = trace([day for day, _ in rows], [value for _, value in rows], ACROSS, DOWN)
    downs = [y for part in points_of(path) for _, y in part]
    values = [value for _, value in rows]
    assert len(path) <= PATH_MOST_BYTES
    assert (round(DOWN.down(max(values))), round(DOWN.down(min(values)))) == (min(downs), max(downs))


def test_a_noisy_year_at_ten_minutes_still_fits() -> None:
    days = [at / 144 for at in range(365 * 144)]
    values = [50 + 49 * sin(at * pi * 0.37) for at in range(365 * 144)]
    assert PATH_MOST_BYTES >= len(trace(days, values, Scale(0, 365), DOWN))
