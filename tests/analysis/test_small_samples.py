"""Medians, shares and exact tests of few numbers: what they promise whatever the numbers are."""

from __future__ import annotations

from itertools import combinations
from statistics import fmean, median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.analysis.statistics import holm, median_interval, permutation_test, wilson

WHOLE = st.integers(0, 30)
GROUP = st.lists(WHOLE, min_size=1, max_size=5)


@given(st.lists(st.floats(0, 200), min_size=1, max_size=40))
def test_an_interval_holds_the_samples_own_median_and_is_as_sure_as_asked(values: list[float]) -> None:
    found = median_interval(values)
    assert (len(values) >= 6) == (found is not None)
    if found:
        assert found.low <= median(values) <= found.high
        assert found.confidence >= 0.95


@given(st.integers(0, 50), st.integers(1, 50))
def test_a_shares_interval_holds_the_share_and_stays_within_0_and_1(part: int, more: int) -> None:
    found = wilson(part, part + more)
    assert found is not None
    assert 0 <= found.low <= found.value <= found.high <= 1


@pytest.mark.parametrize(("part", "whole"), [(0, 0), (2, 1), (-1, 4)])
def test_a_share_that_cannot_be_has_no_interval(part: int, whole: int) -> None:
    assert wilson(part, whole) is None


@given(GROUP, GROUP)
def test_the_ways_are_counted_as_if_each_were_dealt_out(first: list[int], second: list[int]) -> None:
    pooled = [*first, *second]
    total, n = sum(pooled), len(pooled)
    gaps = [abs(n * sum(chosen) - len(first) * total) for chosen in combinations(pooled, len(first))]
    observed = abs(n * sum(first) - len(first) * total)
    found = permutation_test(first, second)
    assert found is not None
    assert fmean(first) - fmean(second) == pytest.approx(found.difference)
    assert (len(gaps), sum(gap >= observed for gap in gaps)) == (found.ways, found.as_far)
    assert gaps.count(max(gaps)) == found.at_best


@given(GROUP, GROUP)
def test_it_is_all_one_which_group_comes_first(first: list[int], second: list[int]) -> None:
    one, other = permutation_test(first, second), permutation_test(second, first)
    assert one is not None
    assert other is not None
    assert (one.ways, one.as_far, one.difference) == (other.ways, other.as_far, pytest.approx(-other.difference))


@pytest.mark.parametrize(
    ("feasible", "first", "second"), [(True, 15, 15), (True, 3, 60), (False, 20, 20), (False, 0, 5)]
)
def test_a_test_is_made_only_where_every_way_can_be_gone_through(feasible: bool, first: int, second: int) -> None:
    found = permutation_test([float(v) for v in range(first)], [v + 0.5 for v in range(second)])
    assert feasible == (found is not None)


def test_three_against_three_cannot_fall_below_a_tenth() -> None:
    found = permutation_test([90.0, 95.0, 99.0], [10.0, 11.0, 13.0])
    assert found is not None
    assert (0.1, 0.1) == pytest.approx((found.p, found.least_p))


def test_values_that_are_all_alike_reveal_nothing() -> None:
    found = permutation_test([50.0] * 4, [50.0] * 5)
    assert found is not None
    assert (1.0, 1.0) == (found.p, found.least_p)


@pytest.mark.parametrize(
    ("expected", "given_"),
    [
        ((), ()),
        ((0.02,), (0.02,)),
        # By hand, by the rule of S. Holm 1979: 0.01 × 3, 0.02 × 2 and 0.04 × 1, none below one that is smaller.
        ((0.04, 0.03, 0.04), (0.02, 0.01, 0.04)),
        ((1.0, 1.0), (0.6, 0.9)),
    ],
)
def test_p_values_looked_at_together_are_each_allowed_for(
    expected: tuple[float, ...], given_: tuple[float, ...]
) -> None:
    assert expected == pytest.approx(holm(given_))
