"""The run drawn for one width of screen: every part at its height in px and its percentage across."""

from __future__ import annotations

from dataclasses import dataclass, field

from journal.site.charts import Scale, ticks, trimmed
from journal.site.run.axis import Axis
from journal.site.run.happenings import Happening, Picked, Span
from journal.site.run.lanes import Anchor, Hung, hang, labels_in_lanes, width_of

NARROW_PX, WIDE_PX = 328, 1150
"""The widths labels and photographs are laid out for; between them the drawing stretches."""

_LINE_PX = 22
_GAP_PX = 12
_STAGES_PX = 30
_PICKED_PX = 78
_AIR_PX = 84


@dataclass(frozen=True, slots=True)
class HungPicture:
    """A photograph to hang: its day, its smallest and largest file, where its entry stands on the page, its words."""

    at_d: float
    small: str
    large: str
    anchor: str
    words: str


@dataclass(frozen=True, slots=True)
class Trace:
    """One measure over the whole run. bands: (from, to, low, high) in days and the measure's unit. dots: (day, value,
    whether the door was open). path: in a box over `scale` and the whole axis."""

    title: str
    wants: str | None
    scale: Scale
    path: str
    bands: tuple[tuple[float, float, float, float], ...] = ()
    dots: tuple[tuple[float, float, bool], ...] = ()


@dataclass(frozen=True, slots=True)
class Told:
    """All that a run's drawing shows."""

    axis: Axis
    spans: tuple[Span, ...]
    happenings: tuple[Happening, ...]
    picked: tuple[Picked, ...]
    changes: tuple[Happening, ...]
    pictures: tuple[HungPicture, ...]
    traces: tuple[Trace, ...]


@dataclass(frozen=True, slots=True)
class Text:
    """dx: px that it stands off its place."""

    x: str
    y: float
    words: str
    anchor: str = "start"
    look: str = ""
    dx: int = 0


@dataclass(frozen=True, slots=True)
class Line:
    """Upright at x, or level over the whole width where x is None."""

    x: str | None
    from_y: float
    to_y: float
    look: str = ""


@dataclass(frozen=True, slots=True)
class Box:
    x: str
    y: float
    width: str
    height: float
    look: str = ""


@dataclass(frozen=True, slots=True)
class Frame:
    """A hung photograph. x: its centre. count: how many more hang behind it.

    large: the file that a tap leads to; with more behind it a tap leads to `anchor` on the same page.
    """

    x: str
    y: float
    size: float
    small: str
    large: str
    anchor: str
    words: str
    count: int


@dataclass(frozen=True, slots=True)
class Bar:
    """A harvest: a bar of fixed width about its day. target: where a tap leads, on the same page."""

    x: str
    y: float
    height: float
    target: str


@dataclass(frozen=True, slots=True)
class Dot:
    x: str
    y: float
    look: str


@dataclass(frozen=True, slots=True)
class Panel:
    """The box of one trace: y and height of the plot, and which trace lies in it."""

    y: float
    height: float
    trace: int


@dataclass(slots=True)
class Drawing:
    """height: px. Lists are in the order they are painted."""

    wide: bool
    width_px: float
    height: float = 0
    boxes: list[Box] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    frames: list[Frame] = field(default_factory=list)
    bars: list[Bar] = field(default_factory=list)
    dots: list[Dot] = field(default_factory=list)
    panels: list[Panel] = field(default_factory=list)


def drawn(told: Told, wide: bool) -> Drawing:
    """The drawing for a phone, or for a wide screen and paper."""
    sheet = Drawing(wide, WIDE_PX if wide else NARROW_PX)
    hung_y = _hang_pictures(sheet, told)
    _draw_stages(sheet, told, hung_y)
    _draw_happenings(sheet, told)
    _draw_picked(sheet, told)
    top = sheet.height
    for number, one in enumerate(told.traces):
        _draw_trace(sheet, told, one, number)
    _draw_changes(sheet, told, top)
    _draw_axis(sheet, told)
    return sheet


def _px(sheet: Drawing, told: Told, at_d: float) -> float:
    return told.axis.scale.share(at_d) * sheet.width_px


def _hang_pictures(sheet: Drawing, told: Told) -> list[tuple[Hung, float]]:
    """Photographs, in two lanes; gives each with the y of its foot, whence its thread hangs."""
    size, lanes = (76, 2) if sheet.wide else (56, 2)
    places = [_px(sheet, told, picture.at_d) for picture in told.pictures]
    rows = hang(places, size, sheet.width_px, lanes)
    feet: list[tuple[Hung, float]] = []
    for row in rows:
        first = told.pictures[row.members[0]]
        y = row.lane * (size + 6.0)
        count = len(row.members) - 1
        words = first.words + (f", and {count} more" if count else "")
        x = f"{trimmed(row.centre_px / sheet.width_px * 100)}%"
        sheet.frames.append(Frame(x, y, size, first.small, first.large, first.anchor, words, count))
        feet.append((row, y + size))
    deepest = max((row.lane for row in rows), default=-1)
    sheet.height += (deepest + 1) * (size + 6) + (_GAP_PX if rows else 0)
    return feet


def _draw_stages(sheet: Drawing, told: Told, feet: list[tuple[Hung, float]]) -> None:
    y, scale = sheet.height, told.axis.scale
    for row, foot in feet:
        sheet.lines.append(Line(scale.percent(told.pictures[row.members[0]].at_d), foot, y, "thread"))
    for span in told.spans:
        look = "expected" if span.expected else f"stage {span.stage}"
        share = scale.share(span.to_d) - scale.share(span.from_d)
        sheet.boxes.append(Box(scale.percent(span.from_d), y, f"{trimmed(share * 100)}%", _STAGES_PX, look))
        words = _fitting(span, share * sheet.width_px - 4)
        if words:
            sheet.texts.append(Text(scale.percent(span.from_d), y + 20, words, look="on-stage", dx=4))
    sheet.height = y + _STAGES_PX


_SHORT = {"pinning": "pins", "resting": "rest", "fruiting": "fruits", "colonising": "grows", "next flush": "flush"}


def _fitting(span: Span, room_px: float) -> str | None:
    """A stage's name, or a shorter word for it, as far as it fits."""
    ask = "?" if span.expected else ""
    ways = (span.stage + ask, _SHORT.get(span.stage, span.stage) + ask)
    return next((words for words in ways if width_of(words) <= room_px), None)


def _draw_happenings(sheet: Drawing, told: Told) -> None:
    """Moves and losses: a line through the stages, its words beneath in lanes."""
    y, scale = sheet.height, told.axis.scale
    rows = [(_px(sheet, told, one.at_d), one.words) for one in told.happenings]
    deepest = 0
    for one, place in zip(told.happenings, labels_in_lanes(rows, sheet.width_px, 3), strict=True):
        foot = y + 4 if place is None else y + 6 + place.lane * _LINE_PX
        sheet.lines.append(Line(scale.percent(one.at_d), y - _STAGES_PX, foot, one.kind))
        if place is not None:
            sheet.texts.append(_beside(scale.percent(one.at_d), foot + 15, one.words, place.anchor, one.kind))
            deepest = max(deepest, place.lane + 1)
    sheet.height = y + deepest * _LINE_PX + _GAP_PX


def _draw_picked(sheet: Drawing, told: Told) -> None:
    if not told.picked:
        return
    y, scale = sheet.height + _LINE_PX, told.axis.scale
    base = y + _PICKED_PX
    most = max(one.mass_g for one in told.picked)
    sheet.texts.append(Text("0", y - 6, "picked", look="head"))
    rows = [(_px(sheet, told, one.at_d) + 10, one.words) for one in told.picked]
    for one, place in zip(told.picked, labels_in_lanes(rows, sheet.width_px, 2), strict=True):
        height = max(2.0, one.mass_g / most * (_PICKED_PX - 18))
        sheet.bars.append(Bar(scale.percent(one.at_d), base - height, height, one.anchor))
        if place is not None:
            label_y = base - height + 12 + place.lane * 18
            at_y = min(label_y, base - 4)
            sheet.texts.append(_beside(scale.percent(one.at_d), at_y, one.words, place.anchor, "mass", 9))
    sheet.lines.append(Line(None, base, base, "base"))
    sheet.height = base + _GAP_PX


def _draw_trace(sheet: Drawing, told: Told, one: Trace, number: int) -> None:
    y, scale = sheet.height + _LINE_PX, told.axis.scale
    sheet.texts.append(Text("0", y - 6, one.title + (f", wants {one.wants}" if one.wants else ""), look="head"))
    for from_d, to_d, low, high in one.bands:
        top, bottom = (1 - one.scale.share(min(high, one.scale.high))), (1 - one.scale.share(max(low, one.scale.low)))
        width = scale.share(min(to_d, scale.high)) - scale.share(from_d)
        x, across = scale.percent(from_d), f"{trimmed(width * 100)}%"
        sheet.boxes.append(Box(x, y + top * _AIR_PX, across, (bottom - top) * _AIR_PX, "band"))
    for tick in ticks(one.scale.low, one.scale.high, 3):
        tick_y = y + (1 - one.scale.share(tick)) * _AIR_PX
        sheet.lines.append(Line(None, tick_y, tick_y, "grid"))
        sheet.texts.append(Text("0", max(tick_y - 3, y + 10), f"{tick:g}", look="tick"))
    for at_d, value, open_door in one.dots:
        dot_y = y + (1 - min(1.0, max(0.0, one.scale.share(value)))) * _AIR_PX
        sheet.dots.append(Dot(scale.percent(at_d), dot_y, "open" if open_door else "eye"))
    sheet.panels.append(Panel(y, _AIR_PX, number))
    sheet.height = y + _AIR_PX + _GAP_PX


def _draw_changes(sheet: Drawing, told: Told, top: float) -> None:
    """Changes of settings and light: a tick through the air above, its words beneath in lanes."""
    if not told.changes:
        return
    y, scale = sheet.height, told.axis.scale
    rows = [(_px(sheet, told, one.at_d), one.words) for one in told.changes]
    deepest = 0
    for one, place in zip(told.changes, labels_in_lanes(rows, sheet.width_px, 3), strict=True):
        foot = y if place is None else y + 4 + place.lane * _LINE_PX
        sheet.lines.append(Line(scale.percent(one.at_d), top + _LINE_PX, foot, "set"))
        if place is not None:
            sheet.texts.append(_beside(scale.percent(one.at_d), foot + 15, one.words, place.anchor, "set"))
            deepest = max(deepest, place.lane + 1)
    sheet.height = y + deepest * _LINE_PX + _GAP_PX


def _draw_axis(sheet: Drawing, told: Told) -> None:
    y, scale = sheet.height, told.axis.scale
    sheet.lines.append(Line(None, y, y, "base"))
    for day in told.axis.ticks(12 if sheet.wide else 5):
        sheet.lines.append(Line(scale.percent(day), y, y + 6, "base"))
        anchor = "start" if day == 0 else "end" if scale.share(day) > 0.97 else "middle"
        sheet.texts.append(Text(scale.percent(day), y + 21, str(day), anchor, "tick"))
    sheet.height = y + 28


def _beside(x: str, y: float, words: str, anchor: Anchor, look: str, off_px: int = 4) -> Text:
    """A label that stands a little off the line it belongs to."""
    return Text(x, y, words, anchor, look, {"start": off_px, "end": -off_px, "middle": 0}[anchor])
