"""Scales, ticks and paths for charts that are drawn once and stretch to the width they get.

A chart has no viewBox: across, everything stands at a percentage of the width, so that text keeps its size on a phone
and on a wall; down, lengths are in px. Lines and areas lie in a nested `svg` of `0 0 1000 1000` with
`preserveAspectRatio="none"`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

SPAN = 1000
"""Units across and down the box in which paths are drawn."""


@dataclass(frozen=True, slots=True)
class Scale:
    """From values to places: `low` stands at 0, `high` at 1. Both differ."""

    low: float
    high: float

    def share(self, value: float) -> float:
        """Where a value stands, 0 to 1; beyond that where it lies outside."""
        return (value - self.low) / (self.high - self.low)

    def percent(self, value: float) -> str:
        """Where it stands across the chart: `12.5%`."""
        return f"{trimmed(self.share(value) * 100)}%"

    def across(self, value: float) -> float:
        """Where it stands in a path's box, from the left."""
        return self.share(value) * SPAN

    def down(self, value: float) -> float:
        """Where it stands in a path's box, from the top."""
        return (1 - self.share(value)) * SPAN


def scale_over(values: Iterable[float], *, least_span: float, within: tuple[float, float] | None = None) -> Scale:
    """A scale that holds all the values, no narrower than `least_span`, with its ends on round numbers.

    within: bounds it never passes (0 and 100 for a share).
    """
    known = [value for value in values if not math.isnan(value)] or [0.0]
    low, high = min(known), max(known)
    lacking = max(0.0, least_span - (high - low)) / 2
    step = _step((high - low + 2 * lacking) / 4)
    low, high = math.floor((low - lacking) / step) * step, math.ceil((high + lacking) / step) * step
    if within:
        low, high = max(low, within[0]), min(high, within[1])
    return Scale(low, high if high > low else low + least_span)


def ticks(low: float, high: float, about: int = 5) -> tuple[float, ...]:
    """Round numbers from low to high, both included where they are round, about so many."""
    step = _step((high - low) / max(1, about))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return tuple(round(step * at, 10) for at in range(first, last + 1))


def _step(rough: float) -> float:
    """The next of 1, 2, 5 times a power of ten that is not below `rough`."""
    if rough <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(rough))
    return next(power * times for times in (1, 2, 5, 10) if power * times >= rough * (1 - 1e-9))


def baselines(levels_px: Iterable[float], top_px: float) -> dict[float, float]:
    """Where the numbers of level lines stand, down from the top: above their lines, none above `top_px`, and none where
    it would come to lie on the one before. levels_px: where the lines lie."""
    found: dict[float, float] = {}
    before_px = -math.inf
    for level_px in sorted(set(levels_px)):
        baseline_px = max(level_px - 3, top_px + 11)
        if baseline_px - before_px >= _NUMBER_PX:
            found[level_px] = before_px = baseline_px
    return found


_NUMBER_PX = 14
"""How far the baselines of two numbers lie apart at the size that charts are lettered in."""


def line(points: Iterable[tuple[float, float]]) -> str:
    """An SVG path through points in the box's units, rounded to whole ones; a point that is NaN breaks the line."""
    parts: list[str] = []
    pen_down = False
    for across, down in points:
        if math.isnan(across) or math.isnan(down):
            pen_down = False
            continue
        parts.append(f"{'L' if pen_down else 'M'}{round(across)} {round(down)}")
        pen_down = True
    return "".join(parts)


def trimmed(value: float, decimals: int = 2) -> str:
    """A number for an attribute: no more decimals than asked for, no trailing zeros."""
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".") if decimals else f"{value:.0f}"
    return "0" if text in ("-0", "") else text
