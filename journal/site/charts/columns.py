"""Columns side by side: a range each, the value in it, and a level across them all; drawn once for every width."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from journal.site.charts.axis_labels import GUTTER_PX
from journal.site.charts.primitives import Anchor, Dot, Drawing, Line, Rect, Text, baselines, scale_over, ticks, trimmed
from journal.site.plan import Row

PLOT_PX = 150
_HEAD_PX = 26
_FOOT_PX = 26
_FILLED = 0.6  # of a column's width
_MOST_LABELS = 4  # that a phone has room for
_THIN_PX = 2


@dataclass(frozen=True, slots=True)
class ChartColumn:
    """low, high: of its range, None where it has none. value: marked by a dot. is_out: the dot stands out."""

    words: str
    value: float
    low: float | None = None
    high: float | None = None
    is_out: bool = False


def column_chart(
    id: str,
    title: str,
    desc: str,
    heading: str,
    columns: Sequence[ChartColumn],
    *,
    level: float | None = None,
    least_span: float,
    within: tuple[float, float] | None = None,
) -> Row:
    """One plot, from 0 up. id: of the drawing in its page. heading: what is above it, with the unit. within: bounds
    of the scale. There is at least one column."""
    values = [value for one in columns for value in (one.low, one.high, one.value) if value is not None]
    up = scale_over([0.0, *values], least_span=least_span, within=within)
    sheet, step = Drawing(decimals=1), 100 / len(columns)

    def down(value: float) -> float:
        return _HEAD_PX + (1 - min(1.0, max(0.0, up.share(value)))) * PLOT_PX

    numbered = {down(at): at for at in ticks(up.low, up.high, 4)}
    sheet.lines += [Line(None, y, y, "grid") for y in numbered]
    if level is not None:
        sheet.lines.append(Line(None, down(level), down(level), "level"))
    for y, baseline in baselines(numbered, _HEAD_PX).items():
        sheet.texts.append(Text("0", baseline, f"{numbered[y]:g}", "end", "tick", dx=-6))
    every = math.ceil(len(columns) / _MOST_LABELS)
    for at, one in enumerate(columns):
        left, middle = at * step + step * (1 - _FILLED) / 2, (at + 0.5) * step
        if one.low is not None and one.high is not None:
            top, height = down(one.high), max(_THIN_PX, down(one.low) - down(one.high))
            sheet.rects.append(Rect(f"{trimmed(left)}%", top, f"{trimmed(step * _FILLED)}%", height, "range"))
        sheet.dots.append(Dot(f"{trimmed(middle)}%", down(one.value), "out" if one.is_out else "eye"))
        if at % every == 0:
            anchor: Anchor = "start" if at == 0 else "end" if at == len(columns) - 1 else "middle"
            x = 0.0 if anchor == "start" else 100.0 if anchor == "end" else middle
            sheet.texts.append(Text(f"{trimmed(x)}%", _HEAD_PX + PLOT_PX + 18, one.words, anchor, "tick"))
    sheet.texts.append(Text("0", _HEAD_PX - 10, heading, classes="head", dx=-GUTTER_PX))
    return Row(id=id, title=title, desc=desc, height=_HEAD_PX + PLOT_PX + _FOOT_PX, drawings=(sheet,))
