"""Dot plots: every value where it belongs, none on another, on one scale."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.site.charts.dots import NARROW_PX, RADIUS_PX, STEP_PX, WIDE_PX, Point, axis_of, levels, strip_of
from journal.site.charts.primitives import Scale

HUNDRED = Scale(0, 100)


def test_dots_stand_at_their_values_least_first() -> None:
    strip = strip_of([Point(80, "b"), Point(20, "a", counted=False)], HUNDRED)
    assert [("20%", "a", False), ("80%", "b", True)] == [(spot.x, spot.words, spot.counted) for spot in strip.spots]


@given(st.lists(st.floats(0, 100), max_size=30))
def test_no_dot_is_on_another_on_a_phone_or_on_a_wide_screen(values: list[float]) -> None:
    strip = strip_of([Point(value, "") for value in values], HUNDRED)
    for width, height in ((NARROW_PX, "narrow_y"), (WIDE_PX, "wide_y")):
        places = [(float(spot.x[:-1]) / 100 * width, getattr(spot, height)) for spot in strip.spots]
        for at, (x, y) in enumerate(places):
            assert RADIUS_PX <= y <= strip.base_y - RADIUS_PX
            # Places are written to a hundredth of a per cent of the width.
            assert all(abs(x - other_x) + 0.1 >= 2 * RADIUS_PX for other_x, other_y in places[:at] if y == other_y)


@pytest.mark.parametrize(
    ("expected", "places"),
    [((), []), ((0, 0), [0.1, 0.2]), ((0, 1, 2), [0.5, 0.5, 0.5]), ((0, 1, 0, 1), [0.5, 0.55, 0.6, 0.65])],
)
def test_a_dot_lies_as_low_as_it_can(expected: tuple[int, ...], places: list[float]) -> None:
    assert expected == levels(places, 0.1)


def test_a_row_is_as_high_as_its_highest_stack() -> None:
    one, three = (strip_of([Point(50, "")] * count, HUNDRED) for count in (1, 3))
    assert 2 * STEP_PX == three.height - one.height


def test_mark_and_interval_are_on_the_scale_of_the_dots() -> None:
    strip = strip_of([Point(50, "")], Scale(0, 200), mark=50, interval=(40, 70))
    assert ("25%", ("20%", "15%")) == (strip.mark, strip.bar)
    assert (None, None) == (strip_of([], HUNDRED).mark, strip_of([], HUNDRED).bar)


def test_the_grid_of_every_row_is_at_the_ticks_of_the_axis() -> None:
    ticks = axis_of(HUNDRED)
    assert ["0", "20", "40", "60", "80", "100"] == [tick.words for tick in ticks]
    assert tuple(tick.x for tick in ticks) == strip_of([], HUNDRED).grid
