"""What a logger's own readings betray of the logger: stretches in which it was stuck, and gaps.

All three rules are *common practice*, the limits our own: a sensor that stands still to the last digit for hours has
hung, since the air of a tent never does.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from statistics import median

STUCK_AFTER_H = 12.0
"""Both values the same to the last digit for so long, where humidity is given in tenths: stuck."""

STUCK_COARSE_AFTER_H = 48.0
"""The same where a value that stands still says less: humidity in whole per cents, humidity of saturated air (which
holds it truly), a logger of one value alone, or humidity alone while the temperature moves."""

SATURATED_PCT = 99.5
"""From here on a reading is one of saturated air: many loggers go no higher than 99.9 %."""

STUCK_LEAST_READINGS = 8
"""Fewer readings alike are no evidence, however far apart they lie."""

STUCK_RULE = (
    f"a logger whose values are the same to the last digit for {STUCK_AFTER_H:g} h ({STUCK_COARSE_AFTER_H:g} h where "
    f"humidity comes in whole per cents, stands at {SATURATED_PCT:g} % or more, or is the only value that does not "
    f"move), in at least {STUCK_LEAST_READINGS} readings, is taken to be stuck (common practice); that time counts in "
    "no share"
)

GAP_AFTER_S = 3600.0
GAP_AFTER_STEPS = 3.0

GAP_RULE = "a gap is longer than an hour and than three times the logger's usual step (common practice)"


@dataclass(frozen=True, slots=True)
class Stretch:
    """From one moment to a later one, in seconds since 1970-01-01T00:00Z."""

    from_s: float
    until_s: float

    @property
    def hours(self) -> float:
        return (self.until_s - self.from_s) / 3600


def gap_limit_s(stamps_s: Sequence[float]) -> float:
    """How far apart neighbouring readings of these lie before there is a gap between them; infinite below two."""
    if len(stamps_s) < 2:
        return inf
    usual_s = median(later - earlier for earlier, later in pairwise(stamps_s))
    return max(GAP_AFTER_S, GAP_AFTER_STEPS * usual_s)


def gaps_in(stamps_s: Sequence[float]) -> tuple[Stretch, ...]:
    """The gaps between readings, each from the last before to the first after it. stamps_s: in order of time."""
    limit_s = gap_limit_s(stamps_s)
    return tuple(Stretch(earlier, later) for earlier, later in pairwise(stamps_s) if later - earlier > limit_s)


def stuck_in(
    stamps_s: Sequence[float], temperature_c: Sequence[float], humidity_pct: Sequence[float]
) -> tuple[range, ...]:
    """Where one logger was stuck: the indices of the readings of each stretch, in order; stretches do not overlap.

    Columns of equal length, in order of time, NaN where a value is unknown. A gap ends a stretch.
    """
    gap_s = gap_limit_s(stamps_s)
    humidities = _none_for_nan(humidity_pct)
    both = list(zip(_none_for_nan(temperature_c), humidities, strict=True))
    is_fine = any(humidity % 1 for humidity in humidities if humidity is not None)
    stuck: set[int] = set()
    for run in _standing(stamps_s, both, gap_s):
        if _hours(stamps_s, run) >= _limit_h(humidities[run[0]], is_fine):
            stuck.update(run)
    for run in _standing(stamps_s, humidities, gap_s):
        humidity = humidities[run[0]]
        if humidity is not None and humidity < SATURATED_PCT and _hours(stamps_s, run) >= STUCK_COARSE_AFTER_H:
            stuck.update(run)
    return _ranges(sorted(stuck))


def _none_for_nan(values: Iterable[float]) -> list[float | None]:
    """Unlike NaN, None is the same as None: a column that is not there never moves."""
    return [None if value != value else value for value in values]


def _limit_h(humidity_pct: float | None, is_fine: bool) -> float:
    tells = is_fine and humidity_pct is not None and humidity_pct < SATURATED_PCT
    return STUCK_AFTER_H if tells else STUCK_COARSE_AFTER_H


def _hours(stamps_s: Sequence[float], run: range) -> float:
    return (stamps_s[run[-1]] - stamps_s[run[0]]) / 3600


def _standing(stamps_s: Sequence[float], values: Sequence[object], gap_s: float) -> list[range]:
    """Runs of neighbouring readings with one value, as many as are evidence."""
    runs, start = [], 0
    for at in range(1, len(stamps_s) + 1):
        if at < len(stamps_s) and values[at] == values[start] and stamps_s[at] - stamps_s[at - 1] <= gap_s:
            continue
        if at - start >= STUCK_LEAST_READINGS:
            runs.append(range(start, at))
        start = at
    return runs


def _ranges(indices: Iterable[int]) -> tuple[range, ...]:
    """Ascending indices as the stretches that they make."""
    ranges: list[range] = []
    for at in indices:
        if ranges and at == ranges[-1].stop:
            ranges[-1] = range(ranges[-1].start, at + 1)
        else:
            ranges.append(range(at, at + 1))
    return tuple(ranges)
