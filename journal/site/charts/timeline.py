"""A batch's timeline drawn once for every width: parts at their height in px and their percentage across.

Words and photographs are laid out for three widths; what stands there at one of them alone is hidden at the others.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from journal.site.charts.climate_chart import Trace, plot
from journal.site.charts.lanes import Placed, cut_to, labels_in_lanes, place_photos, width_of
from journal.site.charts.primitives import Anchor, Drawing, Line, Rect, Text
from journal.site.charts.timeline_events import Axis, Happening, Harvest, Span
from journal.site.plan import Row

WIDTHS_PX: Mapping[str, float] = {"n": 288, "m": 690, "w": 1150}
"""The widths that are laid out for, each from which on it is shown: a phone, a tablet or a sheet of paper, a wide
screen. Between two of them the drawing stretches, and so nothing comes to cover anything."""

Hidden = str
"""Classes of the widths at which a part is not there: `xn xw`."""


def hidden_except_at(widths: Iterable[str]) -> Hidden:
    """The classes of a part that is there at some widths alone."""
    there = set(widths)
    return " ".join(f"x{name}" for name in WIDTHS_PX if name not in there)


@dataclass(frozen=True, slots=True)
class TimelinePhoto:
    """A photograph: its day, its smallest and largest file, where its entry stands on the page, its words."""

    at_d: float
    small: str
    large: str
    anchor: str
    words: str


@dataclass(frozen=True, slots=True)
class TimelineContent:
    """All that a timeline shows."""

    axis: Axis
    spans: tuple[Span, ...]
    happenings: tuple[Happening, ...]
    harvests: tuple[Harvest, ...]
    changes: tuple[Happening, ...]
    pictures: tuple[TimelinePhoto, ...]
    traces: tuple[Trace, ...]


@dataclass(slots=True)
class TimelineDrawing(Drawing):
    """Bars lie above the shapes, photographs above the bars, in the order of their days."""

    bars: list[Row] = field(default_factory=list)
    frames: list[Row] = field(default_factory=list)


PHOTO_PX, LANE_PX = 64, 70

_LINE_PX = 22
_GAP_PX = 12
_STAGES_PX = 30
_HARVEST_PX = 60
_PLOT_PX = 84
_PHOTO_LANES = 2
_LABEL_LANES = 3
_BAR_PX = 12
_LABEL_PX = 195.0
"""A label of this width fits beside or about its place wherever that is, on a phone too."""


def draw_timeline(content: TimelineContent) -> TimelineDrawing:
    """The drawing of a timeline."""
    sheet = TimelineDrawing()
    _draw_photos(sheet, content)
    _draw_stages(sheet, content)
    _draw_labelled(sheet, content, content.happenings, sheet.height - _STAGES_PX, 4)
    _draw_harvests(sheet, content)
    top = sheet.height
    for one in content.traces:
        y = sheet.height + _LINE_PX
        sheet.texts.append(Text("0", y - 6, one.heading, look="head"))
        plot(sheet, content.axis.scale, one, y, _PLOT_PX, about=3, number_x="0")
        sheet.height = y + _PLOT_PX + _GAP_PX
    if content.changes:
        _draw_labelled(sheet, content, content.changes, top + _LINE_PX, 0)
    _draw_axis(sheet, content)
    return sheet


def _draw_photos(sheet: TimelineDrawing, content: TimelineContent) -> None:
    """Photographs in two lanes: those that a phone has room for, and between them more where there is more."""
    scale = content.axis.scale
    shares = [scale.share(picture.at_d) for picture in content.pictures]
    lanes: dict[int, int] = {}
    first_at: dict[int, str] = {}
    behind: dict[int, dict[str, int]] = {}
    for name, width_px in WIDTHS_PX.items():
        for row in place_photos([share * width_px for share in shares], PHOTO_PX, width_px, _PHOTO_LANES, lanes):
            lanes[row.members[0]] = row.lane
            first_at.setdefault(row.members[0], name)
            behind.setdefault(row.members[0], {})[name] = len(row.members) - 1
    deepest = max(lanes.values(), default=-1)
    sheet.height += (deepest + 1) * LANE_PX + (_GAP_PX if lanes else 0)
    for at in sorted(lanes):
        x, hidden = scale.percent(content.pictures[at].at_d), hidden_except_at(behind[at])
        width_px = WIDTHS_PX[first_at[at]]
        place_px = shares[at] * width_px
        shift_px = round(min(max(place_px, PHOTO_PX / 2), width_px - PHOTO_PX / 2) - place_px)
        frame = Row(
            x=x,
            shift_px=shift_px,
            picture=content.pictures[at],
            lane=lanes[at],
            hidden=hidden,
            behind=tuple(_tallies(behind[at])),
        )
        sheet.frames.append(frame)
    # A thread from each photograph to the stages; one behind a lower photograph of the same place serves both.
    threads: dict[tuple[str, Hidden], Line] = {}
    for frame in sorted(sheet.frames, key=lambda frame: frame.lane):
        if (frame.x, "") not in threads:
            line = Line(frame.x, frame.lane * LANE_PX + PHOTO_PX, sheet.height, _looks("thread", frame.hidden))
            threads.setdefault((frame.x, frame.hidden), line)
    sheet.lines += threads.values()


def _tallies(behind: Mapping[str, int]) -> list[tuple[int, Hidden]]:
    """Each count with the widths at which it does not hold; where the photograph is not there none needs hiding."""
    absent = WIDTHS_PX.keys() - behind.keys()
    counts = sorted({count for count in behind.values() if count})
    return [
        (count, hidden_except_at({name for name, there in behind.items() if there == count} | absent))
        for count in counts
    ]


def _draw_stages(sheet: TimelineDrawing, content: TimelineContent) -> None:
    y, scale = sheet.height, content.axis.scale
    for span in content.spans:
        look = "expected" if span.expected else f"stage {span.stage}"
        x, share = scale.percent(span.from_d), scale.share(span.to_d) - scale.share(span.from_d)
        sheet.rects.append(Rect(x, y, scale.stretch(span.from_d, span.to_d), _STAGES_PX, look))
        fitting = {name: _fitting(span, share * width_px - 8) for name, width_px in WIDTHS_PX.items()}
        for words in sorted({words for words in fitting.values() if words}):
            hidden = hidden_except_at(name for name, there in fitting.items() if there == words)
            sheet.texts.append(Text(x, y + 20, words, look=_looks("on-stage", hidden), dx=4))
    sheet.height = y + _STAGES_PX


_SHORT = {
    "pinning": "pins", "resting": "rest", "fruiting": "fruits", "colonising": "grows", "next flush": "flush",
    "harvest": "harv.",
}  # fmt: skip


def _fitting(span: Span, room_px: float) -> str | None:
    """A stage's name, or a shorter word for it, as far as it fits."""
    ask = "?" if span.expected else ""
    ways = (span.words + ask, _SHORT.get(span.stage, span.stage) + ask)
    return next((words for words in ways if width_of(words) <= room_px), None)


def _laned(content: TimelineContent, rows: Sequence[tuple[float, str]]) -> list[tuple[str, Placed | None, Hidden]]:
    """Words (day, text), each with where it stands, and the widths that have no room for it; None where none has."""
    shares = [(content.axis.scale.share(at_d), words) for at_d, words in rows]
    placed: list[Placed | None] = [None] * len(rows)
    seen: list[list[str]] = [[] for _ in rows]
    for name, width_px in WIDTHS_PX.items():
        labels = [(share * width_px, words) for share, words in shares]
        placed = labels_in_lanes(labels, width_px, _LABEL_LANES, placed)
        for place, names in zip(placed, seen, strict=True):
            names += [name] if place else []
    return [
        (words, place, hidden_except_at(names)) for (_, words), place, names in zip(rows, placed, seen, strict=True)
    ]


def _draw_harvests(sheet: TimelineDrawing, content: TimelineContent) -> None:
    """Harvests as bars, those of every other flush hollow; each flush with its words above its first bar."""
    if not content.harvests:
        return
    scale = content.axis.scale
    by_flush: dict[object, list[Harvest]] = {}
    for at, harvest in enumerate(content.harvests):  # one with no flush stands alone
        by_flush.setdefault(("alone", at) if harvest.flush is None else harvest.flush, []).append(harvest)
    flushes = list(by_flush.values())
    head_y = sheet.height + _LINE_PX - 6
    sheet.texts.append(Text("0", head_y, "harvested, by flush", look="head"))
    laned = _laned(content, [(bars[0].at_d, _flush_words(bars, len(flushes))) for bars in flushes])
    lanes = max((place.lane + 1 for _, place, _ in laned if place), default=0)
    base = head_y + 10 + lanes * _LINE_PX + _HARVEST_PX
    places_px = sorted(content.axis.scale.share(one.at_d) * WIDTHS_PX["n"] for one in content.harvests)
    apart_px = [later - earlier for earlier, later in pairwise(places_px)]
    # As wide as bars can be without covering each other on a phone, within reason.
    width_px = max(4, min(_BAR_PX, int(min(apart_px, default=_BAR_PX))))
    most = max(one.mass_g for one in content.harvests)
    for number, (bars, (words, place, hidden)) in enumerate(zip(flushes, laned, strict=True)):
        heights = [max(2.0, one.mass_g / most * _HARVEST_PX) for one in bars]
        for one, height in zip(bars, heights, strict=True):
            look = "bar next" if number % 2 else "bar"
            sheet.bars.append(Row(x=scale.percent(one.at_d), y=base - height, width=width_px, height=height, look=look))
        if place is not None:
            x, y = scale.percent(bars[0].at_d), head_y + 20 + place.lane * _LINE_PX
            sheet.lines.append(Line(x, y - 11, base - heights[0], _looks("thread", hidden)))
            sheet.texts.append(_beside(x, y, words, place, "mass", hidden))
    sheet.lines.append(Line(None, base, base, "base"))
    sheet.height = base + _GAP_PX


_WORDY = 4
"""With more flushes than these the word itself takes the room of its neighbours."""


def _flush_words(bars: Sequence[Harvest], flushes: int) -> str:
    """`flush 2: 640 g`; a number alone where flushes are many."""
    mass, flush = bars[0].of_flush, bars[0].flush
    if flush is None:
        return mass
    return f"flush {flush}: {mass}" if flushes <= _WORDY else f"{flush}: {mass}"


def _draw_labelled(
    sheet: TimelineDrawing, content: TimelineContent, rows: Sequence[Happening], from_y: float, below_px: int
) -> None:
    """Each an upright line, with its words beneath in lanes. below_px: how far one with no room for words reaches."""
    y, scale, deepest = sheet.height, content.axis.scale, 0
    labels = [(one.at_d, cut_to(one.words, _LABEL_PX)) for one in rows]
    for one, (words, place, hidden) in zip(rows, _laned(content, labels), strict=True):
        foot = y + below_px if place is None else y + max(4, below_px + 2) + place.lane * _LINE_PX
        sheet.lines.append(Line(scale.percent(one.at_d), from_y, foot, one.kind))
        if place is not None:
            look = "set" if one.kind == "light" else one.kind
            sheet.texts.append(_beside(scale.percent(one.at_d), foot + 15, words, place, look, hidden))
            deepest = max(deepest, place.lane + 1)
    sheet.height = y + deepest * _LINE_PX + _GAP_PX


def _draw_axis(sheet: TimelineDrawing, content: TimelineContent) -> None:
    y, scale = sheet.height, content.axis.scale
    sheet.lines.append(Line(None, y, y, "base"))
    days = {name: content.axis.ticks(about) for name, about in _TICKS.items()}
    for day in sorted({day for named in days.values() for day in named}):
        hidden = hidden_except_at(name for name, named in days.items() if day in named)
        anchor: Anchor = "start" if day == 0 else "end" if scale.share(day) > 0.97 else "middle"
        sheet.lines.append(Line(scale.percent(day), y, y + 6, _looks("base", hidden)))
        sheet.texts.append(Text(scale.percent(day), y + 21, str(day), anchor, _looks("tick", hidden)))
    sheet.height = y + 28


_TICKS = {"n": 5, "m": 8, "w": 12}
"""About how many days are named."""


def _looks(look: str, hidden: Hidden) -> str:
    return f"{look} {hidden}" if hidden else look


def _beside(x: str, y: float, words: str, place: Placed, look: str, hidden: Hidden) -> Text:
    """A label that stands a little off the line it belongs to."""
    off: dict[Anchor, int] = {"start": 4, "end": -4, "middle": 0}
    return Text(x, y, words, place.anchor, _looks(look, hidden), off[place.anchor])
