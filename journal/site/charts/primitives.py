"""Scales, ticks, shapes, paths and the widths of labels, for charts that are drawn once and stretch to any width.

A chart has no viewBox: horizontal positions are percentages of the width, so that text keeps its size on any screen;
vertical lengths are in px. Readings are a path in a nested `svg` of `0 0 1000 1000` with `preserveAspectRatio="none"`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import groupby, pairwise
from math import isnan
from statistics import median
from typing import Literal

SPAN = 1000
"""Units across and down the box in which paths are drawn."""


@dataclass(frozen=True, slots=True)
class Scale:
    """From values to positions: `low` is at 0, `high` at 1. The two must differ."""

    low: float
    high: float

    def share(self, value: float) -> float:
        """The position of a value, 0 to 1; outside of that if the value is outside the scale."""
        return (value - self.low) / (self.high - self.low)

    def percent(self, value: float) -> str:
        """Its position across the chart: `12.5%`."""
        return f"{trimmed(self.share(value) * 100)}%"

    def stretch(self, low: float, high: float) -> str:
        """The share of the chart's width between two values: `12.5%`."""
        return f"{trimmed((self.share(high) - self.share(low)) * 100)}%"

    def across(self, value: float) -> float:
        """Its position in a path's box, from the left."""
        return self.share(value) * SPAN

    def down(self, value: float) -> float:
        """Its position in a path's box, from the top."""
        return (1 - self.share(value)) * SPAN


def scale_over(values: Iterable[float], *, least_span: float, within: tuple[float, float] | None = None) -> Scale:
    """A scale for the values, not narrower than `least_span`, with round ends. within: bounds (0 and 100 for a
    share)."""
    known = [value for value in values if not isnan(value)] or [0.0]
    low, high = min(known), max(known)
    lacking = max(0.0, least_span - (high - low)) / 2
    step = _step((high - low + 2 * lacking) / 4)
    low, high = math.floor((low - lacking) / step) * step, math.ceil((high + lacking) / step) * step
    if within:
        low, high = max(low, within[0]), min(high, within[1])
    return Scale(low, high if high > low else low + least_span)


def ticks(low: float, high: float, about: int = 5) -> tuple[float, ...]:
    """Round numbers from low to high, both included if they are round; `about`: approximately how many."""
    step = _step((high - low) / max(1, about))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return tuple(round(step * at, 10) for at in range(first, last + 1))


def _step(rough: float) -> float:
    """The smallest of 1, 2 or 5 times a power of ten that is at least `rough`."""
    if rough <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(rough))
    return next(power * times for times in (1, 2, 5, 10) if power * times >= rough * (1 - 1e-9))


def baselines(levels_px: Iterable[float], top_px: float) -> dict[float, float]:
    """Where the numbers of level lines are, down from the top: above their lines, none above `top_px`, and none that
    would overlap the one before. levels_px: positions of the lines."""
    found: dict[float, float] = {}
    before_px = -math.inf
    for level_px in sorted(set(levels_px)):
        baseline_px = max(level_px - 3, top_px + 11)
        if baseline_px - before_px >= _NUMBER_PX:
            found[level_px] = before_px = baseline_px
    return found


_NUMBER_PX = 14  # distance between the baselines of two numbers at the font size of charts


def trimmed(value: float, decimals: int = 2) -> str:
    """A number for an attribute: no more decimals than asked for, no trailing zeros."""
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".") if decimals else f"{value:.0f}"
    return "0" if text in ("-0", "") else text


# Shapes: `x` and `width` as in SVG (`12.5%`), all else in px from the top. look: their classes.

Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Text:
    """y: of the baseline. dx: offset from its place, px."""

    x: str
    y: float
    words: str
    anchor: Anchor = "start"
    classes: str = ""
    dx: int = 0


@dataclass(frozen=True, slots=True)
class Line:
    """Vertical at x, or horizontal over the whole width if x is None."""

    x: str | None
    from_y: float
    to_y: float
    classes: str


@dataclass(frozen=True, slots=True)
class Rect:
    x: str
    y: float
    width: str
    height: float
    classes: str = ""


@dataclass(frozen=True, slots=True)
class Dot:
    x: str
    y: float
    classes: str


@dataclass(frozen=True, slots=True)
class Path:
    """d: of a path in a box of `SPAN` by `SPAN`, as wide as the chart."""

    y: float
    height: float
    d: str


@dataclass(slots=True)
class Drawing:
    """Shapes, painted kind by kind as `parts/drawing.html` does. height: px. decimals: of a px, as written."""

    height: float = 0
    decimals: int = 0
    rects: list[Rect] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    paths: list[Path] = field(default_factory=list)
    dots: list[Dot] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)

    def px(self, value: float) -> str:
        return trimmed(value, self.decimals)


# The width of a text, for drawings, in which nothing wraps by itself. Widths are in em of the text's size.

_CLASSES = {
    0.34: "'ijlIJ ,.·’/:;\\|",
    0.42: "f-()[]t!r",
    0.54: '"*_`–°sz“”?c',
    0.62: "LFkvxyPTYaoeéäö",
    0.66: "ESbdghnpquüßK$0123456789{}",
    0.71: "AVBRXZC",
    0.80: "UHNDG&OQ",
    0.86: "w#+<=>^~−×M",
    1.00: "%mW@—",
}
_WIDTHS = {letter: width for width, letters in _CLASSES.items() for letter in letters}
_UNKNOWN = 1.0
_NARROWEST = min(_CLASSES)

MONO_EM = 0.625
"""A letter of the monospaced face, with the letter spacing of tags."""


@lru_cache(maxsize=8192)
def width_em(text: str) -> float:
    """The greatest width in any face that pages use, upright or italic. *Source:* advance widths of DejaVu Sans, the
    widest face that pages name, rounded up by class."""
    return sum(_WIDTHS.get(letter, _UNKNOWN) for letter in text)


def mono_width_em(text: str) -> float:
    return len(text) * MONO_EM


@lru_cache(maxsize=8192)
def wrapped(text: str, room_em: float) -> tuple[str, ...]:
    """The text in lines that fit the room; a word that is wider than the room is broken."""
    lines: list[str] = []
    for word in _pieces(text, room_em):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_em(longer) <= room_em:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(lines)


def _pieces(text: str, room_em: float) -> Iterator[str]:
    """The words of a text, broken where they are too wide; a number stays with its per cent sign."""
    longest = int(room_em / _NARROWEST) + 1
    for word in re.split(r" +(?!%)", text.strip(" ")):
        at = 0
        while at < len(word):
            rest = word[at : at + longest + 1]
            ends = range(len(rest) - 1, 1, -1) if at + len(rest) == len(word) else range(longest, 1, -1)
            if at + len(rest) == len(word) and width_em(rest) <= room_em:
                fitting = len(rest)
            else:
                fitting = next((end for end in ends if width_em(rest[:end]) <= room_em), 1)
            yield rest[:fitting]
            at += fitting


# A long series of readings as one short path that keeps every extreme that can be seen.

PATH_MOST_BYTES = 2304
"""The limit that keeps a chart of two traces within a page of 60 kB; on a wide screen that is every fifth px."""

_MOST_COLUMNS = 300
_LEAST_COLUMNS = 20
_LEAST_BREAK_D = 2 / 24

TraceRow = tuple[float, float]
TracePoint = tuple[int, int]


def trace(days: Sequence[float], values: Sequence[float], across: Scale, down: Scale) -> str:
    """The path of readings in a box of `SPAN` by `SPAN`, at most 2.25 KiB however many there are. days, values: of
    equal length, in order of time; NaN is no reading. Readings outside `across` are left out. The readings that fall
    into one column are drawn as the first, the least, the greatest and the last of them, so no dip or peak is lost. The
    line is broken where readings are missing for much longer than the usual interval."""
    rows = [(d, v) for d, v in zip(days, values, strict=True) if across.low <= d <= across.high and not isnan(v)]
    apart_d = [after[0] - before[0] for before, after in pairwise(rows)]
    parts = _joined([[row] for row in rows], max(_LEAST_BREAK_D, 3 * median(apart_d) if apart_d else 0.0))
    columns = _MOST_COLUMNS
    while True:
        step_d = (across.high - across.low) / columns
        # Thinning an already thinned series keeps the extremes and need not read every value again.
        parts = [_thinned(part, step_d) for part in _joined(parts, step_d)]
        points = [[(round(across.across(at)), round(min(SPAN, max(0.0, down.down(v))))) for at, v in p] for p in parts]
        path = "".join(map(_encoded, points))
        if len(path) <= PATH_MOST_BYTES or columns <= _LEAST_COLUMNS:
            return path
        columns = columns * 9 // 10


def _joined(parts: Iterable[list[TraceRow]], gap_d: float) -> list[list[TraceRow]]:
    """The parts, with those merged that are no further apart than this."""
    joined: list[list[TraceRow]] = []
    for part in parts:
        if joined and part[0][0] - joined[-1][-1][0] <= gap_d:
            joined[-1] += part
        else:
            joined.append(list(part))
    return joined


def _thinned(part: Iterable[TraceRow], step_d: float) -> list[TraceRow]:
    """Of the rows in each column the first, the least, the greatest and the last."""
    kept: list[TraceRow] = []
    for _, rows in groupby(part, key=lambda row: row[0] // step_d):
        column = list(rows)
        values = [value for _, value in column]
        at = {0, values.index(min(values)), values.index(max(values)), len(column) - 1}
        kept += [column[place] for place in sorted(at)]
    return kept


def _encoded(points: list[TracePoint]) -> str:
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
