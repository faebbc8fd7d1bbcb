"""A long series of readings as one short path that keeps every extreme that can be seen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, pairwise
from math import isnan
from statistics import median

from journal.site.charts import SPAN, Scale

MOST_BYTES = 2304
"""A chart of two traces on a page of under 60 kB leaves each no more; on a wide screen that is every fifth px."""

_MOST_COLUMNS = 300
_LEAST_COLUMNS = 20
_LEAST_BREAK_D = 2 / 24

Row = tuple[float, float]
Point = tuple[int, int]


def trace(days: Sequence[float], values: Sequence[float], across: Scale, down: Scale) -> str:
    """The path of readings in a box of `SPAN` by `SPAN`, at most 2.25 KiB however many there are.

    days, values: of equal length, in order of time; NaN is no reading. Readings outside `across` are left out. The
    readings that fall into one column are drawn as the first, the least, the greatest and the last of them, so no dip
    or peak is lost; the line is broken where readings fail for much longer than they usually lie apart.
    """
    rows = [(d, v) for d, v in zip(days, values, strict=True) if across.low <= d <= across.high and not isnan(v)]
    parts = _joined([[row] for row in rows], _break_d([day for day, _ in rows]))
    columns = _MOST_COLUMNS
    while True:
        step_d = (across.high - across.low) / columns
        # Thinning what is thinned keeps the extremes, and need not go through every reading again.
        parts = [list(_thinned(part, step_d)) for part in _joined(parts, step_d)]
        path = "".join(_encoded([_point(row, across, down) for row in part]) for part in parts)
        if len(path) <= MOST_BYTES or columns <= _LEAST_COLUMNS:
            return path
        columns = columns * 9 // 10


def _joined(parts: Iterable[list[Row]], gap_d: float) -> list[list[Row]]:
    """The parts with those made one that lie no further apart than this."""
    joined: list[list[Row]] = []
    for part in parts:
        if joined and part[0][0] - joined[-1][-1][0] <= gap_d:
            joined[-1] += part
        else:
            joined.append(list(part))
    return joined


def _thinned(part: Iterable[Row], step_d: float) -> Iterator[Row]:
    """Of the rows in each column the first, the least, the greatest and the last."""
    for _, column in groupby(part, key=lambda row: row[0] // step_d):
        yield from _kept(list(column))


def _point(row: Row, across: Scale, down: Scale) -> Point:
    return round(across.across(row[0])), round(min(SPAN, max(0.0, down.down(row[1]))))


def _break_d(days: list[float]) -> float:
    """How long readings must fail for the line to break: several times as long as they usually lie apart."""
    if len(days) < 2:
        return _LEAST_BREAK_D
    return max(_LEAST_BREAK_D, 3 * median(after - before for before, after in pairwise(days)))


def _kept(column: list[Row]) -> list[Row]:
    if len(column) < 3:
        return column
    values = [value for _, value in column]
    at = sorted({0, values.index(min(values)), values.index(max(values)), len(column) - 1})
    return [column[place] for place in at]


def _encoded(points: list[Point]) -> str:
    """Relative steps, straight ones by their short letters; a lone reading is a dot."""
    x, y = points[0]
    parts = [f"M{x} {y}"]
    if len(points) == 1:
        return parts[0] + "h1"
    for to_x, to_y in points[1:]:
        step_x, step_y = to_x - x, to_y - y
        if step_x and step_y:
            parts.append(f"l{step_x} {step_y}" if step_y > 0 else f"l{step_x}{step_y}")
        elif step_x:
            parts.append(f"h{step_x}")
        elif step_y:
            parts.append(f"v{step_y}")
        x, y = to_x, to_y
    return "".join(parts) if len(parts) > 1 else parts[0] + "h1"
