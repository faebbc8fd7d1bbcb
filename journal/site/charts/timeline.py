"""A batch's timeline drawn once for every width: parts at their height in px and their percentage across.

Words and photographs are laid out for three widths, in lanes so that they do not overlap; what has room at one width
only is hidden at the others.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from journal.site.charts.climate_chart import Trace, plot
from journal.site.charts.primitives import Anchor, Drawing, Line, Rect, Text, width_em
from journal.site.charts.timeline_events import Axis, Happening, Harvest, Span
from journal.site.plan import Row

LETTERED_PX = 14.3
"""The font size of charts: 0.84 of the page's 17 px."""


LABEL_GAP_PX, PHOTO_GAP_PX = 6, 4


@dataclass(frozen=True, slots=True)
class Placed:
    """lane: which, from 0. anchor: which end of the text is at its place."""

    lane: int
    anchor: Anchor


def width_of(text: str) -> float:
    """The greatest width of a chart's text, in px."""
    return width_em(text) * LETTERED_PX


def cut_to(text: str, room_px: float) -> str:
    """The text, cut at the end to fit."""
    if width_of(text) <= room_px:
        return text
    fitting = (text[:end].rstrip(" ,.:(") + "…" for end in range(len(text) - 1, 1, -1))
    return next((shorter for shorter in fitting if width_of(shorter) <= room_px), "…")


def labels_in_lanes(
    labels: Sequence[tuple[float, str]],
    width_px: float,
    lanes: int,
    placed: Sequence[Placed | None] | None = None,
) -> list[Placed | None]:
    """A lane for each label (place in px, text), in the order given; None if all lanes are taken there. A label stays
    inside the drawing, beside its place: after it, else before it, else centred on it; preferably where it covers no
    other label's place, because a line may run there. placed: labels that already have a lane."""
    taken: list[list[tuple[float, float]]] = [[] for _ in range(lanes)]
    places = [place_px for place_px, _ in labels]
    result = list(placed or [None] * len(labels))
    for (place_px, text), place in zip(labels, result, strict=True):
        if place is not None:
            taken[place.lane].append(_span(place_px, width_of(text), place.anchor))
    for at, (place_px, text) in enumerate(labels):
        anchors: tuple[Anchor, ...] = ("start", "end", "middle")
        ways: list[LabelSpace] = [(anchor, *_span(place_px, width_of(text), anchor)) for anchor in anchors]
        inside = [way for way in ways if way[1] >= 0 and way[2] <= width_px]
        stands = sorted(inside or ways[2:], key=lambda way: sum(way[1] < other < way[2] for other in places))
        found = _first_free(stands, taken) if result[at] is None else None
        if found is not None:
            lane, (anchor, left, right) = found
            taken[lane].append((left, right))
            result[at] = Placed(lane, anchor)
    return result


def _span(place_px: float, text_px: float, anchor: Anchor) -> tuple[float, float]:
    left = {"start": place_px, "end": place_px - text_px, "middle": place_px - text_px / 2}[anchor]
    return left, left + text_px


LabelSpace = tuple[Anchor, float, float]


def _first_free(
    stands: Sequence[LabelSpace], taken: Sequence[Sequence[tuple[float, float]]]
) -> tuple[int, LabelSpace] | None:
    for lane, spans in enumerate(taken):
        for stand in stands:
            if all(stand[2] + LABEL_GAP_PX <= start or stand[1] >= end + LABEL_GAP_PX for start, end in spans):
                return lane, stand
    return None


@dataclass(frozen=True, slots=True)
class PlacedPhotos:
    """Photographs at one place: the first is shown, the others are counted. centre_px: of the picture, inside the
    drawing; members: their indices in the input."""

    lane: int
    centre_px: float
    members: tuple[int, ...]


def place_photos(
    places_px: Sequence[float],
    size_px: float,
    width_px: float,
    lanes: int,
    fixed: Mapping[int, int] | None = None,
) -> list[PlacedPhotos]:
    """Photographs at their places (in order, px) in lanes; one without room joins the nearest that is placed. fixed:
    the lanes of those (by index in the input) that must be placed, for which there is room."""
    fixed = fixed or {}
    centres = [min(max(place_px, size_px / 2), width_px - size_px / 2) for place_px in places_px]
    hung = {at: (lane, centres[at]) for at, lane in fixed.items()}
    joined: dict[int, list[int]] = {at: [] for at in fixed}
    reach_px = size_px + PHOTO_GAP_PX
    for at, centre in enumerate(centres):
        if at in fixed:
            continue
        taken = {lane for lane, other in hung.values() if abs(other - centre) < reach_px}
        free = [lane for lane in range(lanes) if lane not in taken]
        if free:
            hung[at], joined[at] = (free[0], centre), []
        else:
            joined[min(hung, key=lambda one: (abs(hung[one][1] - places_px[at]), one))].append(at)
    return [PlacedPhotos(lane, centre, (at, *joined[at])) for at, (lane, centre) in sorted(hung.items())]


WIDTHS_PX: Mapping[str, float] = {"n": 288, "m": 690, "w": 1150}
"""The layout widths, each shown from that width on: a phone, a tablet or a sheet of paper, a wide screen. Between two
of them the drawing only stretches, so nothing comes to overlap."""

Hidden = str
"""Classes of the widths at which a part is hidden: `xn xw`."""


def hidden_except_at(widths: Iterable[str]) -> Hidden:
    """The classes of a part that is shown at some widths only."""
    there = set(widths)
    return " ".join(f"x{name}" for name in WIDTHS_PX if name not in there)


@dataclass(frozen=True, slots=True)
class TimelinePhoto:
    """A photograph: its day, its smallest and largest file, the anchor of its entry on the page, its caption."""

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
_LABEL_PX = 195.0  # a label of this width fits beside or around any place, on a phone too


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
    """Photographs in two lanes: those that fit on a phone, and more between them on wider screens."""
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
        width_px = WIDTHS_PX[first_at[at]]
        place_px = shares[at] * width_px
        shift_px = round(min(max(place_px, PHOTO_PX / 2), width_px - PHOTO_PX / 2) - place_px)
        frame = Row(
            x=scale.percent(content.pictures[at].at_d),
            shift_px=shift_px,
            picture=content.pictures[at],
            lane=lanes[at],
            hidden=hidden_except_at(behind[at]),
            behind=tuple(_tallies(behind[at])),
        )
        sheet.frames.append(frame)
    # A line from each photograph to the stages; one behind a lower photograph at the same place serves both.
    threads: dict[tuple[str, Hidden], Line] = {}
    for frame in sorted(sheet.frames, key=lambda frame: frame.lane):
        if (frame.x, "") not in threads:
            line = Line(frame.x, frame.lane * LANE_PX + PHOTO_PX, sheet.height, _looks("thread", frame.hidden))
            threads.setdefault((frame.x, frame.hidden), line)
    sheet.lines += threads.values()


def _tallies(behind: Mapping[str, int]) -> Iterator[tuple[int, Hidden]]:
    """Each count with the widths at which it is wrong; where the photograph is hidden, nothing else has to be."""
    absent = WIDTHS_PX.keys() - behind.keys()
    for count in sorted({*behind.values()} - {0}):
        yield count, hidden_except_at({name for name, there in behind.items() if there == count} | absent)


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
    short = _SHORT.get(span.stage, span.stage)
    ways = (span.words + ask, f"({short})" if span.derived else short + ask)
    return next((words for words in ways if width_of(words) <= room_px), None)


def _laned(content: TimelineContent, rows: Sequence[tuple[float, str]]) -> list[tuple[str, Placed | None, Hidden]]:
    """Words (day, text), each with its position, and the widths that have no room for it; None if none has."""
    shares = [(content.axis.scale.share(at_d), words) for at_d, words in rows]
    placed: list[Placed | None] = [None] * len(rows)
    seen: list[list[str]] = [[] for _ in rows]
    for name, width_px in WIDTHS_PX.items():
        labels = [(share * width_px, words) for share, words in shares]
        placed = labels_in_lanes(labels, width_px, _LABEL_LANES, placed)
        for place, names in zip(placed, seen, strict=True):
            names += [name] if place else []
    laned = zip(rows, placed, seen, strict=True)
    return [(words, place, hidden_except_at(names)) for (_, words), place, names in laned]


def _draw_harvests(sheet: TimelineDrawing, content: TimelineContent) -> None:
    """Harvests as bars, those of every other flush hollow; each flush with its words above its first bar."""
    if not content.harvests:
        return
    scale = content.axis.scale
    by_flush: dict[object, list[Harvest]] = {}
    for at, harvest in enumerate(content.harvests):  # one without a flush is on its own
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


_WORDY = 4  # with more flushes, the word `flush` would take the room of its neighbours


def _flush_words(bars: Sequence[Harvest], flushes: int) -> str:
    """`flush 2: 640 g`; only a number if there are many flushes."""
    mass, flush = bars[0].of_flush, bars[0].flush
    if flush is None:
        return mass
    return f"flush {flush}: {mass}" if flushes <= _WORDY else f"{flush}: {mass}"


def _draw_labelled(
    sheet: TimelineDrawing, content: TimelineContent, rows: Sequence[Happening], from_y: float, below_px: int
) -> None:
    """Vertical lines, with their words beneath in lanes. below_px: how far a line without room for its words
    reaches."""
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


_TICKS = {"n": 5, "m": 8, "w": 12}  # approximately how many days are labelled


def _looks(look: str, hidden: Hidden) -> str:
    return f"{look} {hidden}" if hidden else look


def _beside(x: str, y: float, words: str, place: Placed, look: str, hidden: Hidden) -> Text:
    """A label, a little beside the line it belongs to."""
    off: dict[Anchor, int] = {"start": 4, "end": -4, "middle": 0}
    return Text(x, y, words, place.anchor, _looks(look, hidden), off[place.anchor])
