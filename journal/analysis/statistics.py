"""Statistics for small samples: medians and shares with intervals, exact tests of a difference, ranges.

Nothing here supposes a shape of the distribution, unless it says so; where numbers are too few, the answer is None.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from statistics import NormalDist, fmean, median, stdev

CONFIDENCE = 0.95

MOST_SUMS = 70_000
"""Partial sums an exact test may take: 15 against 15 do, and 3 against 60; a tenth of a second."""


@dataclass(frozen=True, slots=True)
class MedianInterval:
    """low, high: values of the sample, the `rank`-th from below and from above. confidence: what it truly is, 0-1."""

    low: float
    high: float
    rank: int
    confidence: float


def median_interval(values: Iterable[float], confidence: float = CONFIDENCE) -> MedianInterval | None:
    """The narrowest interval between two equally ranked values that holds the median with at least this confidence.
    None where even the least and the greatest value do not: under 6 values for 95 %.
    *Source:* order statistics; that interval holds the median with probability 1 − 2 P(X < rank), X binomial (n, 1/2)
    (W. J. Conover, Practical Nonparametric Statistics, 3rd edition, as quoted). Exact for continuous distributions."""
    ranked = sorted(values)
    ranks = [(rank, median_confidence(len(ranked), rank)) for rank in range(1, len(ranked) // 2 + 1)]
    reached = [(rank, share) for rank, share in ranks if share >= confidence]
    if not reached:
        return None
    rank, share = reached[-1]
    return MedianInterval(ranked[rank - 1], ranked[-rank], rank, share)


def median_confidence(n: int, rank: int) -> float:
    """How surely the `rank`-th values from below and above of n (1 ≤ rank ≤ n/2) have the median between them, 0-1."""
    return 1 - 2 * sum(math.comb(n, below) for below in range(rank)) / (1 << n)


def next_within_range(n: int) -> float:
    """How surely one more value is between the least and the greatest of n, 0-1; 0 of fewer than two.
    *Source:* (n − 1)/(n + 1) for the range of the sample, The American Statistician 41(1):11–15 (1987), abstract,
    doi:10.1080/00031305.1987.10475433. Exact for continuous distributions."""
    return (n - 1) / (n + 1) if n > 1 else 0.0


def fewest_for_median() -> int:
    """How many values there must be for any interval."""
    return next(n for n in range(2, 1100) if median_confidence(n, 1) >= CONFIDENCE)


@dataclass(frozen=True, slots=True)
class Proportion:
    """part of whole, and the interval its true share is in; all shares 0-1."""

    part: int
    whole: int
    low: float
    high: float

    @property
    def value(self) -> float:
        return self.part / self.whole


def wilson(part: int, whole: int, confidence: float = CONFIDENCE) -> Proportion | None:
    """Wilson's score interval for a share; None unless 0 ≤ part ≤ whole and whole > 0. Supposes that each of the whole
    was lost or not by itself: units that shared one heat treatment were not, and the truth is then less certain than
    the interval says.
    *Source:* R. G. Newcombe, Two-sided confidence intervals for the single proportion, Statistics in Medicine
    17:857-872, 1998, method 3."""
    if not 0 <= part <= whole or whole == 0:
        return None
    z2 = NormalDist().inv_cdf((1 + confidence) / 2) ** 2
    middle = 2 * part + z2
    spread = math.sqrt(z2 * (z2 + 4 * part * (whole - part) / whole))
    below = 2 * (whole + z2)
    low = 0.0 if part == 0 else (middle - spread) / below
    high = 1.0 if part == whole else (middle + spread) / below
    return Proportion(part, whole, low, high)


@dataclass(frozen=True, slots=True)
class Permutation:
    """difference: mean of the first less mean of the second. ways: of dealing the values into two such groups. as_far:
    how many of the ways set the means at least as far apart, whichever is greater, this one among them. at_best: how
    many set them as far apart as these values can be."""

    difference: float
    ways: int
    as_far: int
    at_best: int

    @property
    def p(self) -> float:
        return self.as_far / self.ways

    @property
    def least_p(self) -> float:
        """The smallest p that these values could have given, had they been dealt out as unevenly as can be."""
        return self.at_best / self.ways


def permutation_test(first: Sequence[float], second: Sequence[float]) -> Permutation | None:
    """Exact two-sided test whether two groups differ, by the difference of their means. The mean rather than the
    median: in groups of three to ten the median's difference takes few distinct values and is blind to all but the
    middle of each group, so that it would tell hardly anything apart; the test is exact for either. None where a group
    is empty, or the ways are too many.
    *Source:* E. J. G. Pitman, Significance tests which may be applied to samples from any populations, 1937 (as
    quoted). The ways are counted by halves: E. Horowitz, S. Sahni, Computing partitions with applications to the
    knapsack problem, 1974 (from memory)."""
    few, many = sorted((tuple(first), tuple(second)), key=len)
    n = len(few) + len(many)
    sums = sum(math.comb(half, taken) for half in ((n + 1) // 2, n // 2) for taken in range(len(few) + 1))
    if not few or sums > MOST_SUMS:
        return None
    middle = fmean((*few, *many))
    centred = [value - middle for value in (*few, *many)]
    halves = _sums_by_size(centred[::2], len(few)), _sums_by_size(centred[1::2], len(few))
    observed = abs(math.fsum(centred[: len(few)]))
    ranked = sorted(centred)
    farthest = max(-math.fsum(ranked[: len(few)]), math.fsum(ranked[-len(few) :]))
    tie = 1e-9 * max(1e-300, *map(abs, (*few, *many)))  # sums that differ by less are equal but for rounding
    return Permutation(
        difference=fmean(first) - fmean(second),
        ways=math.comb(len(centred), len(few)),
        as_far=_as_far(*halves, len(few), observed, tie),
        at_best=_as_far(*halves, len(few), farthest, tie),
    )


def _sums_by_size(values: Sequence[float], most: int) -> list[list[float]]:
    """For each size from 0 to `most` the sums of every choice of so many of the values, least first."""
    return [sorted(map(math.fsum, combinations(values, size))) for size in range(most + 1)]


def _as_far(left: list[list[float]], right: list[list[float]], size: int, distance: float, tie: float) -> int:
    """How many choices of `size` values, some from each half, have a sum at least that far from 0, ties counted.
    Everything is one choice where the distance is 0, counted once."""
    if distance <= tie:
        return sum(len(left[taken]) * len(right[size - taken]) for taken in range(size + 1))
    found = 0
    for taken in range(size + 1):
        others = right[size - taken]
        for part in left[taken]:
            found += len(others) - bisect_left(others, distance - tie - part)
            found += bisect_right(others, tie - distance - part)
    return found


def holm(p_values: Sequence[float]) -> tuple[float, ...]:
    """Each p-value allowing for how many were looked at together, in the same order.
    *Source:* S. Holm, A simple sequentially rejective multiple test procedure, Scand. J. Statist. 6:65-70, 1979."""
    adjusted = [1.0] * len(p_values)
    least = 0.0
    for done, at in enumerate(sorted(range(len(p_values)), key=p_values.__getitem__)):
        least = max(least, min(1.0, p_values[at] * (len(p_values) - done)))
        adjusted[at] = least
    return tuple(adjusted)


def t_within(t: float, degrees: int) -> float:
    """How surely Student's t is between −t and t, 0-1. degrees: of freedom, from 1.
    *Source:* M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 1964, 26.7.3 and 26.7.4 (from memory)."""
    angle = math.atan(t / math.sqrt(degrees))
    cosine, term, total = math.cos(angle), 1.0, 0.0
    is_odd = degrees % 2
    if is_odd:
        term = cosine
    for step in range(degrees // 2):
        total += term
        term *= cosine**2 * (2 * step + 1 + is_odd) / (2 * step + 2 + is_odd)
    return 2 / math.pi * (angle + math.sin(angle) * total) if is_odd else math.sin(angle) * total


def t_quantile(degrees: int, confidence: float = CONFIDENCE) -> float:
    """The t between whose negative and itself Student's t lies with this confidence."""
    low, high = 0.0, 1.0
    while t_within(high, degrees) < confidence:
        high *= 2
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if t_within(middle, degrees) < confidence else (low, middle)
    return high


@dataclass(frozen=True, slots=True)
class StraightLine:
    """y = intercept + slope · x. slope_error: its standard error; None below three points. n: how many points."""

    slope: float
    intercept: float
    slope_error: float | None
    n: int

    @property
    def slope_interval(self) -> tuple[float, float] | None:
        """The interval of 95 % confidence, by Student's t with n − 2 degrees of freedom; None below three points.
        Supposes that points scatter about the line by themselves; those of one thing over time do so less than that."""
        if self.slope_error is None:
            return None
        off = t_quantile(self.n - 2) * self.slope_error
        return self.slope - off, self.slope + off


def straight_line(points: Sequence[tuple[float, float]]) -> StraightLine | None:
    """The line of least squares through points (x, y); None where there are not two places x.
    *Source:* NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1, linear least squares (from memory)."""
    if len({x for x, _ in points}) < 2:
        return None
    n = len(points)
    x_mean, y_mean = fmean(x for x, _ in points), fmean(y for _, y in points)
    spread = math.fsum((x - x_mean) ** 2 for x, _ in points)
    slope = math.fsum((x - x_mean) * (y - y_mean) for x, y in points) / spread
    intercept = y_mean - slope * x_mean
    rest = math.fsum((y - intercept - slope * x) ** 2 for x, y in points)
    error = math.sqrt(rest / (n - 2) / spread) if n > 2 else None
    return StraightLine(slope, intercept, error, n)


def mean_interval(values: Sequence[float]) -> tuple[float, float] | None:
    """The interval of a mean by Student's t; None below three values. Supposes values that scatter evenly.
    *Source:* NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.2, confidence limits for the mean (from memory)."""
    if len(values) < 3:
        return None
    middle = fmean(values)
    off = t_quantile(len(values) - 1, CONFIDENCE) * stdev(values) / math.sqrt(len(values))
    return middle - off, middle + off


@dataclass(frozen=True, slots=True)
class PredictionInterval:
    """Where one more value lies with this confidence, 0-1. middle: the mean of the n values (of their logarithms, where
    these were taken: then the geometric mean)."""

    low: float
    middle: float
    high: float
    n: int
    confidence: float


FEWEST_FOR_PREDICTION = 3
"""Two values give an interval too, of one degree of freedom: wider than is of any use."""


def prediction_interval(
    values: Sequence[float], confidence: float = CONFIDENCE, *, by_logarithms: bool = False
) -> PredictionInterval | None:
    """Where one new value lies: mean ± t · s · √(1 + 1/n), t with n − 1 degrees of freedom; None below three values.
    Supposes values of a normal distribution; by_logarithms: that their logarithms are, as of spans of time, which are
    above 0 and have no upper end.
    *Source:* D. C. Montgomery, G. C. Runger, Applied Statistics and Probability for Engineers, 3rd edition, equation
    8-29 (a prediction interval on a single future observation)."""
    if len(values) < FEWEST_FOR_PREDICTION or (by_logarithms and min(values) <= 0):
        return None
    taken = [math.log(value) for value in values] if by_logarithms else list(values)
    n, middle = len(taken), fmean(taken)
    off = t_quantile(n - 1, confidence) * stdev(taken) * math.sqrt(1 + 1 / n)
    ends = (middle - off, middle, middle + off)
    low, mean, high = map(math.exp, ends) if by_logarithms else ends
    return PredictionInterval(low, mean, high, n, confidence)


SUMMARY_RULE = (
    "the median and range are of the readings, each counted once; those with the door open, or of a logger "
    "that was stuck, are left out"
)


@dataclass(frozen=True, slots=True)
class Summary:
    """median, low, high: in the unit of the readings. count: how many they were."""

    median: float
    low: float
    high: float
    count: int


def summary_of(values: Iterable[float]) -> Summary | None:
    """The spread of the values that are numbers; None where there are none."""
    known = sorted(value for value in values if value == value)
    return Summary(median(known), known[0], known[-1], len(known)) if known else None
