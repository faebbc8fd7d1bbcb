"""Scales, ticks and paths of charts."""

from __future__ import annotations

from math import nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.site.charts.primitives import Scale, baselines, scale_over, ticks, trimmed


def test_a_scale_puts_its_ends_at_the_ends() -> None:
    scale = Scale(20, 60)
    assert ("0%", "100%", "25%") == (scale.percent(20), scale.percent(60), scale.percent(30))
    assert "25%" == scale.stretch(40, 50)
    assert (0, 1000) == (scale.across(20), scale.down(20))


@pytest.mark.parametrize(
    ("low", "high", "about", "expected"),
    [
        (0, 50, 5, (0, 10, 20, 30, 40, 50)),
        (0, 117, 5, (0, 50, 100)),
        (83, 97, 5, (85, 90, 95)),
        (11.8, 18.2, 4, (12, 14, 16, 18)),
        (0, 1, 5, (0, 0.2, 0.4, 0.6, 0.8, 1)),
    ],
)
def test_ticks_are_round_numbers(low: float, high: float, about: int, expected: tuple[float, ...]) -> None:
    assert expected == ticks(low, high, about)


def test_numbers_stand_above_their_lines_below_the_top_and_apart() -> None:
    assert {40: 37, 64: 61, 88: 85} == baselines([88, 64, 40], 20)
    # The first has no room above its line; the second would be on it.
    assert {20: 31, 60: 57} == baselines([20, 40, 60], 20)


@given(st.lists(st.floats(-50, 100), min_size=1), st.floats(0.1, 20))
def test_a_scale_over_values_holds_them_all_and_is_wide_enough(values: list[float], least: float) -> None:
    scale = scale_over(values, least_span=least)
    assert scale.low <= min(values)
    assert scale.high >= max(values)
    assert scale.high - scale.low >= least * (1 - 1e-9)


def test_a_scale_over_shares_stays_between_its_bounds() -> None:
    assert Scale(90, 100) == scale_over([95, 99.5], least_span=10, within=(0, 100))


def test_a_scale_over_nothing_still_has_two_ends() -> None:
    scale = scale_over([nan], least_span=10)
    assert scale.high > scale.low


@pytest.mark.parametrize(("value", "text"), [(12.5, "12.5"), (3.0, "3"), (-0.001, "0"), (1 / 3, "0.33"), (100, "100")])
def test_an_attribute_has_no_trailing_zeros(value: float, text: str) -> None:
    assert text == trimmed(value)
