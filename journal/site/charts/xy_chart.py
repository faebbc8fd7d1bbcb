"""Small charts of one measure over another: lines, points and a level, with their scales."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from journal.site.charts.axis_labels import GUTTER_PX
from journal.site.charts.primitives import Anchor, Dot, Drawing, Line, Path, Rect, Scale, Text, baselines, ticks, trace
from journal.site.plan import Row

PLOT_PX = 150
_HEAD_PX = 24
_FOOT_PX = 24
_BAR = 0.8  # of the way to the next
_LAST = 0.88  # further right, words are before their tick


@dataclass(frozen=True, slots=True)
class Series:
    """Values over x, in order of x. joined: by a line. classes: of points. bars: each point is a bar from 0, nearly as
    wide as to the next whole x."""

    points: Sequence[tuple[float, float]]
    joined: bool = True
    bars: bool = False
    classes: str = "eye"


def xy_chart(
    id: str,
    title: str,
    desc: str,
    heading: str,
    scales: tuple[Scale, Scale],
    series: Iterable[Series],
    x_ticks: Iterable[tuple[float, str]],
    levels: Iterable[float] = (),
) -> Row:
    """One plot. id: of the drawing in its page. heading: what is above it, with the unit. scales: across and up.
    x_ticks: (value, words) below it. levels: values marked by a line of their own."""
    across, up = scales
    sheet = Drawing(decimals=1)

    def down(value: float) -> float:
        return _HEAD_PX + (1 - min(1.0, max(0.0, up.share(value)))) * PLOT_PX

    numbered = {down(level): level for level in ticks(up.low, up.high, 4)}
    sheet.lines += [Line(None, y, y, "grid") for y in numbered]
    sheet.lines += [Line(None, down(level), down(level), "level") for level in levels if up.low <= level <= up.high]
    series = tuple(series)
    for y, baseline in baselines(numbered, _HEAD_PX).items():
        sheet.texts.append(Text("0", baseline, f"{numbered[y]:g}", "end", "tick", dx=-6))
    for one in series:
        if one.bars:
            widths = across.stretch(0, _BAR)
            sheet.rects += [Rect(across.percent(x), down(y), widths, down(0) - down(y), "bar") for x, y in one.points]
        elif one.joined:
            xs, ys = [x for x, _ in one.points], [y for _, y in one.points]
            sheet.paths.append(Path(_HEAD_PX, PLOT_PX, trace(xs, ys, across, up)))
        else:
            sheet.dots += [Dot(across.percent(x), down(y), one.classes) for x, y in one.points]
    sheet.texts.append(Text("0", _HEAD_PX - 10, heading, classes="head", dx=-GUTTER_PX))
    height = _HEAD_PX + PLOT_PX + _FOOT_PX
    for x, words in x_ticks:
        sheet.lines.append(Line(across.percent(x), _HEAD_PX, _HEAD_PX + PLOT_PX, "day"))
        is_last = across.share(x) > _LAST
        anchor: Anchor = "end" if is_last else "start"
        sheet.texts.append(Text(across.percent(x), height - 6, words, anchor, "tick", -2 if is_last else 2))
    return Row(id=id, title=title, desc=desc, height=height, drawings=(sheet,))
