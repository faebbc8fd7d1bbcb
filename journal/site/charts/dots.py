"""Dot plots: one strip a row, every value a dot, with a mark and an interval under them; all rows on one scale.

A strip stretches to the width it gets. How far a dot lies from the next depends on that width, so that dots are stacked
twice: for a phone's width, and for a wide screen's.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from journal.site.charts.primitives import Scale, Text, ticks, trimmed
from journal.site.plan import Row

RADIUS_PX = 6
STEP_PX = 14
"""From one dot to the next in a stack."""

NARROW_PX, WIDE_PX = 280, 480
"""The least a strip may have across on a phone, and on a wide screen."""

_BELOW_PX = 18  # what the mark and the interval take under the base line


@dataclass(frozen=True, slots=True)
class Point:
    """A value to be drawn. words: what it is, for who points at it. counted: it is among those the mark is of."""

    value: float
    words: str
    counted: bool = True


def strip_of(
    points: Iterable[Point], scale: Scale, mark: float | None = None, interval: tuple[float, float] | None = None
) -> Row:
    """A row of dots, least first, stacked where they would lie on each other; mark, interval: as values."""
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
    """For each place, least first, the lowest level on which it lies no nearer than `gap` to the one before it."""
    last: list[float] = []
    found = []
    for place in places:
        level = next((at for at, other in enumerate(last) if place - other >= gap - 1e-9), len(last))
        last[level : level + 1] = [place]
        found.append(level)
    return tuple(found)


def axis_of(scale: Scale) -> tuple[Text, ...]:
    """The numbers of a scale at its ticks, few enough for a phone."""
    return tuple(Text(scale.percent(at), 20, trimmed(at), "middle") for at in ticks(scale.low, scale.high, 5))
