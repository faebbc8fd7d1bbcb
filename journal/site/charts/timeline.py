"""A batch's timeline drawn once for every width: parts at their height in px and their percentage across.

Words and photographs are laid out for three widths, in lanes so that they do not overlap; what has room at one width
only is hidden at the others.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from journal.site.charts.axis_labels import (
    GUTTER_PX,
    LETTERED_PX,
    WIDTHS_PX,
    AxisLabel,
    Hidden,
    PlacedLabel,
    hidden_except_at,
    labels_at_widths,
)
from journal.site.charts.climate_chart import Trace, plot
from journal.site.charts.primitives import Anchor, Drawing, Line, Rect, Text, trimmed, wrapped
from journal.site.charts.timeline_events import DayAxis, Happening, Harvest, StageSpan
from journal.site.plan import Row

PHOTO_GAP_PX = 4


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

    axis: DayAxis
    spans: tuple[StageSpan, ...]
    happenings: tuple[Happening, ...]
    harvests: tuple[Harvest, ...]
    changes: tuple[Happening, ...]
    pictures: tuple[TimelinePhoto, ...]
    traces: tuple[Trace, ...]


@dataclass(slots=True)
class TimelineDrawing(Drawing):
    """Bars are above the shapes, photographs above the bars, in the order of their days. leaders: lines from places on
    the axis to their labels. hatched: what is drawn over the tones of stages. steps: below
    which y a gutter for labels needs fewer lanes than on a phone, and how many fewer, by width."""

    leaders: list[Row] = field(default_factory=list)
    hatched: list[Row] = field(default_factory=list)
    steps: list[tuple[float, dict[str, int]]] = field(default_factory=list)
    bars: list[Row] = field(default_factory=list)
    frames: list[Row] = field(default_factory=list)

    @property
    def fewer(self) -> str:
        """The classes by which all of the drawing is lower where it is wide: `up-m3 up-w4`."""
        return _up({name: sum(step[name] for _, step in self.steps) for name in _WIDER})

    def parts(self) -> list[tuple[str, TimelineDrawing]]:
        """The drawing cut at its steps, each part with the classes by which it, and all below it, moves up."""
        edges = [float("-inf"), *(y for y, _ in self.steps), float("inf")]
        classes = ["", *(_up(step) for _, step in self.steps)]
        return [(up, self._between(*ends)) for up, ends in zip(classes, pairwise(edges), strict=True)]

    def _between(self, top: float, foot: float) -> TimelineDrawing:
        part = TimelineDrawing()
        for name in ("rects", "lines", "paths", "dots", "texts", "leaders", "hatched", "bars"):
            rows = getattr(self, name)
            getattr(part, name).extend(r for r in rows if top <= (r.from_y if isinstance(r, Line) else r.y) < foot)
        return part


_WIDER = ("m", "w")
_MOST_UP = 24  # static/css/timeline.css has as many classes


def _up(fewer: Mapping[str, int]) -> str:
    return " ".join(f"up-{name}{min(number, _MOST_UP)}" for name, number in fewer.items() if number)


def _fewer_lanes(placed: Sequence[tuple[PlacedLabel, Hidden]]) -> dict[str, int]:
    """How many fewer lanes labels need than on a phone, by width."""
    deep = {
        name: max((one.depth for one, hidden in placed if f"x{name}" not in hidden), default=0) for name in WIDTHS_PX
    }
    return {name: max(deep.values()) - deep[name] for name in _WIDER}


PHOTO_PX, LANE_PX = 64, 70

_LINE_PX = 22
_GAP_PX = 12
_STAGES_PX = 30
_HARVEST_PX = 60
_PLOT_PX = 84
_PHOTO_LANES = 2
_LABEL_LANES = 6  # how deep labels may lie that are also in the table
_FAN_PX = 12  # in which lines to labels go sideways
_BAR_PX = 12
_RANGE_OF_HEADS_PX = 284.0


def draw_timeline(content: TimelineContent) -> TimelineDrawing:
    """The drawing of a timeline."""
    sheet = TimelineDrawing()
    _draw_photos(sheet, content)
    _draw_stages(sheet, content)
    _draw_harvests(sheet, content)
    for one in content.traces:
        _head(sheet, one.heading)
        for change in content.changes:
            x = content.axis.scale.percent(change.at_d)
            sheet.lines.append(Line(x, sheet.height, sheet.height + _PLOT_PX, change.kind))
        plot(sheet, content.axis.scale, one, sheet.height, _PLOT_PX, about=3)
        sheet.height += _PLOT_PX + (0 if one is content.traces[-1] else _GAP_PX)
    share = content.axis.scale.share
    labels = [AxisLabel(share(one.at_d), one.words, "set") for one in content.changes]
    if labels and not content.traces:
        _head(sheet, "settings changed")
    _draw_labels(sheet, labels)
    sheet.height += _GAP_PX
    _draw_axis(sheet, content)
    return sheet


def _head(sheet: TimelineDrawing, words: str) -> None:
    """A heading above a part of the drawing, at its left edge."""
    for line in wrapped(words, _RANGE_OF_HEADS_PX / LETTERED_PX):
        sheet.texts.append(Text("0", sheet.height + _LINE_PX - 6, line, classes="head", dx=-GUTTER_PX))
        sheet.height += _LINE_PX


def _draw_labels(sheet: TimelineDrawing, labels: Sequence[AxisLabel]) -> None:
    """Labels below what is drawn, each with a line to its place on the edge above."""
    placed = labels_at_widths(labels, _LABEL_LANES)
    top = sheet.height
    for one, hidden in placed:
        label, first_y = labels[one.at], top + _FAN_PX + one.lane * _LINE_PX
        x, shift = f"{trimmed(label.share * 100)}%", 0 if one.straight else one.shift_px
        aside = f"L{shift} {_FAN_PX}" if shift else ""
        foot = _FAN_PX - 2 if one.straight else _FAN_PX + (one.lane + 1) * _LINE_PX - 5
        classes = _classes("leader loss" if label.classes == "loss" else "leader", hidden)
        sheet.leaders.append(Row(x=x, y=top, d=f"M0 0{aside}V{foot}", classes=classes))
        for number, words in enumerate(one.lines):
            classes = _classes(label.classes, hidden).strip()
            sheet.texts.append(Text(x, first_y + 15 + number * _LINE_PX, words, classes=classes, dx=one.shift_px + 3))
    sheet.height += max((_FAN_PX + one.depth * _LINE_PX for one, _ in placed), default=0)
    sheet.steps.append((sheet.height, _fewer_lanes(placed)))


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
            line = Line(frame.x, frame.lane * LANE_PX + PHOTO_PX, sheet.height, _classes("thread", frame.hidden))
            threads.setdefault((frame.x, frame.hidden), line)
    sheet.lines += threads.values()


def _tallies(behind: Mapping[str, int]) -> Iterator[tuple[int, Hidden]]:
    """Each count with the widths at which it is wrong; where the photograph is hidden, nothing else has to be."""
    absent = WIDTHS_PX.keys() - behind.keys()
    for count in sorted({*behind.values()} - {0}):
        yield count, hidden_except_at({name for name, there in behind.items() if there == count} | absent)


def _draw_stages(sheet: TimelineDrawing, content: TimelineContent) -> None:
    """A band of the stages, with what happened to the batch; beneath it the words of both."""
    y, scale = sheet.height, content.axis.scale
    known = [span.stage for span in content.spans if not span.expected]
    chosen = iter(tones(known, before_expected=len(known) < len(content.spans)))
    for span in content.spans:
        tone = 0 if span.expected else next(chosen)
        x, width = scale.percent(span.from_d), scale.stretch(span.from_d, span.to_d)
        classes = "expected" if span.expected else f"stage tone-{tone} {span.stage}"
        sheet.rects.append(Rect(x, y, width, _STAGES_PX, classes))
        if tone:
            sheet.hatched.append(Row(x=x, y=y, width=width, height=_STAGES_PX, fill=f"hatch-{tone}"))
    labels = [_stage_label(span, scale.share(max(0.0, span.from_d))) for span in content.spans]
    for one in content.happenings:
        sheet.lines.append(Line(scale.percent(one.at_d), y - 4, y + _STAGES_PX + 4, one.kind))
        labels.append(AxisLabel(scale.share(one.at_d), one.words, one.kind))
    sheet.height = y + _STAGES_PX
    _draw_labels(sheet, sorted(labels, key=lambda label: label.share))
    sheet.height += _GAP_PX


_TONES: Mapping[str, int] = {
    "colonising": 1, "colonised": 2, "fruiting": 1, "resting": 2, "contaminated": 2, "discarded": 1, "stored": 1,
}  # fmt: skip
"""The tone of a stage, from 0, unless its neighbour has it."""


def tones(stages: Sequence[str], *, before_expected: bool = False) -> list[int]:
    """A tone for each stage, none as that before; before_expected: the last is none as pale as what is only expected,
    which is drawn in outline."""
    found: list[int] = []
    for number, stage in enumerate(stages):
        avoided = set(found[-1:]) | ({0} if before_expected and number == len(stages) - 1 else set())
        wanted = _TONES.get(stage, 0)
        found.append(next(tone % 3 for tone in range(wanted, wanted + 3) if tone % 3 not in avoided))
    return found


_SHORT = {
    "inoculated": "inoc.", "pinning": "pins", "resting": "rest", "fruiting": "fruits", "colonising": "grows",
    "colonised": "grown", "contaminated": "mould", "next flush": "flush",
}  # fmt: skip


def _stage_label(span: StageSpan, share: float) -> AxisLabel:
    """A stage's name, and a shorter word for it."""
    ask = "?" if span.expected else ""
    short = _SHORT.get(span.stage, span.stage)
    return AxisLabel(share, span.words + ask, "on-stage", f"({short})" if span.derived else short + ask, must=True)


def _draw_harvests(sheet: TimelineDrawing, content: TimelineContent) -> None:
    """Harvests as bars, those of every other flush hollow; each flush with its words above its first bar."""
    if not content.harvests:
        return
    scale = content.axis.scale
    by_flush: dict[object, list[Harvest]] = {}
    for at, harvest in enumerate(content.harvests):  # one without a flush is on its own
        by_flush.setdefault(("alone", at) if harvest.flush is None else harvest.flush, []).append(harvest)
    flushes = list(by_flush.values())
    _head(sheet, "harvested, by flush")
    labels = [AxisLabel(scale.share(bars[0].at_d), _flush_words(bars, len(flushes)), "mass") for bars in flushes]
    placed = labels_at_widths(labels, _LABEL_LANES)
    sheet.steps.append((sheet.height, _fewer_lanes(placed)))
    foot = sheet.height + max((one.depth for one, _ in placed), default=0) * _LINE_PX
    base = foot + _FAN_PX + _HARVEST_PX
    width_px, most = _bar_width_px(content), max(one.mass_g for one in content.harvests)
    tops = []
    for number, bars in enumerate(flushes):
        heights = [max(2.0, one.mass_g / most * _HARVEST_PX) for one in bars]
        tops.append(base - heights[0])
        for one, height in zip(bars, heights, strict=True):
            classes = "bar next" if number % 2 else "bar"
            sheet.bars.append(
                Row(x=scale.percent(one.at_d), y=base - height, width=width_px, height=height, classes=classes)
            )
    for label, hidden in placed:
        x, y = scale.percent(flushes[label.at][0].at_d), foot - label.lane * _LINE_PX
        top, shift = tops[label.at] - foot, label.shift_px
        path = (
            f"M0 {top:.0f}V2"
            if label.straight
            else f"M0 {top:.0f}V{_FAN_PX}L{shift} 0V{5 - (label.lane + 1) * _LINE_PX}"
        )
        sheet.leaders.append(Row(x=x, y=foot, d=path, classes=_classes("leader", hidden)))
        sheet.texts.append(Text(x, y - 6, labels[label.at].words, classes=_classes("mass", hidden), dx=shift + 3))
    sheet.lines.append(Line(None, base, base, "base"))
    sheet.height = base + _GAP_PX


def _bar_width_px(content: TimelineContent) -> int:
    """As wide as bars can be without covering each other on a phone, within reason."""
    places_px = sorted(content.axis.scale.share(one.at_d) * WIDTHS_PX["n"] for one in content.harvests)
    apart_px = [later - earlier for earlier, later in pairwise(places_px)]
    return max(4, min(_BAR_PX, int(min(apart_px, default=_BAR_PX))))


_WORDY = 4  # with more flushes, the word `flush` would take the room of its neighbours


def _flush_words(bars: Sequence[Harvest], flushes: int) -> str:
    """`flush 2: 640 g`; only a number if there are many flushes."""
    mass, flush = bars[0].of_flush, bars[0].flush
    if flush is None:
        return mass
    return f"flush {flush}: {mass}" if flushes <= _WORDY else f"{flush}: {mass}"


def _draw_axis(sheet: TimelineDrawing, content: TimelineContent) -> None:
    y, scale = sheet.height, content.axis.scale
    sheet.lines.append(Line(None, y, y, "base"))
    days = {name: content.axis.ticks(about) for name, about in _TICKS.items()}
    for day in sorted({day for named in days.values() for day in named}):
        hidden = hidden_except_at(name for name, named in days.items() if day in named)
        anchor: Anchor = "start" if day == 0 else "end" if scale.share(day) > 0.97 else "middle"
        sheet.lines.append(Line(scale.percent(day), y, y + 6, _classes("base", hidden)))
        sheet.texts.append(Text(scale.percent(day), y + 21, str(day), anchor, _classes("tick", hidden)))
    sheet.height = y + 28


_TICKS = {"n": 5, "m": 8, "w": 12}  # approximately how many days are labelled


def _classes(classes: str, hidden: Hidden) -> str:
    return f"{classes} {hidden}" if hidden else classes
