"""Median and range of readings."""

from __future__ import annotations

from math import nan

import pytest

from journal.analysis.statistics import Summary, summary_of


@pytest.mark.parametrize(
    ("expected", "values"),
    [
        (Summary(2.0, 1.0, 9.0, 3), [9.0, 1.0, 2.0]),
        (Summary(1.5, 1.0, 2.0, 2), [2.0, nan, 1.0]),
        (None, []),
        (None, [nan]),
    ],
)
def test_a_spread_is_of_the_values_that_are_numbers(expected: Summary | None, values: list[float]) -> None:
    assert expected == summary_of(values)
