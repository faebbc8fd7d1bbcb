"""Dot plots: one strip a row, every value a dot, with a mark and an interval under them; all rows on one scale.

A strip stretches to the width it gets. The distance between dots depends on that width, so dots are stacked twice: for
a phone and for a wide screen.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from journal.site.charts.primitives import Scale, Text, ticks, trimmed
from journal.site.plan import Row

RADIUS_PX = 6
STEP_PX = 14
"""Distance from one dot to the next in a stack."""

NARROW_PX, WIDE_PX = 280, 480
"""The least width of a strip on a phone, and on a wide screen."""

_BELOW_PX = 18  # height of the mark and the interval under the base line


@dataclass(frozen=True, slots=True)
class Point:
    """A value to be drawn. words: what it is, as a tooltip. counted: whether the mark is calculated from it."""

    value: float
    words: str
    counted: bool = True


def strip_of(
    points: Iterable[Point], scale: Scale, mark: float | None = None, interval: tuple[float, float] | None = None
) -> Row:
    """A row of dots, lowest first, stacked where they would overlap; mark, interval: as values."""
    ranked = sorted(points, key=lambda point: (point.value, point.words))
    shares = [scale.share(point.value) for point in ranked]
    narrow, wide = (levels(shares, (2 * RADIUS_PX + 1) / width) for width in (NARROW_PX, WIDE_PX))
    base_y = STEP_PX * (max((*narrow, *wide), default=0) + 1) + 4
    return Row(
        height=base_y + _BELOW_PX,
        base_y=base_y,
        spots=tuple(
            Row(
                x=scale.percent(point.value),
                narrow_y=_height(base_y, low),
                wide_y=_height(base_y, high),
                words=point.words,
                counted=point.counted,
            )
            for point, low, high in zip(ranked, narrow, wide, strict=True)
        ),
        mark=None if mark is None else scale.percent(mark),
        bar=(scale.percent(interval[0]), scale.stretch(*interval)) if interval else None,
        grid=tuple(tick.x for tick in axis_of(scale)),
    )


def _height(base_y: int, level: int) -> int:
    return base_y - STEP_PX // 2 - level * STEP_PX


def levels(places: Sequence[float], gap: float) -> tuple[int, ...]:
    """For each position, lowest first, the lowest level on which it is at least `gap` away from the one before it."""
    last: list[float] = []
    found = []
    for place in places:
        level = next((at for at, other in enumerate(last) if place - other >= gap - 1e-9), len(last))
        last[level : level + 1] = [place]
        found.append(level)
    return tuple(found)


def axis_of(scale: Scale) -> tuple[Text, ...]:
    """The numbers at the ticks of a scale, few enough for a phone."""
    return tuple(Text(scale.percent(at), 20, trimmed(at), "middle") for at in ticks(scale.low, scale.high, 5))
