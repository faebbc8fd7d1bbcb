"""The run drawn once for every width: parts at their height in px and their percentage across.

What has room on a wide screen alone is marked `w`, what stands there otherwise and on a phone so `n`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from journal.site.charts import Scale, ticks, trimmed
from journal.site.run.axis import Axis
from journal.site.run.happenings import Happening, Picked, Span
from journal.site.run.lanes import Anchor, Placed, hang, labels_in_lanes, width_of

NARROW_PX, WIDE_PX = 328, 1150
"""The widths labels and photographs are laid out for; between them the drawing stretches."""

PHOTO_PX, LANE_PX = 64, 70

_LINE_PX = 22
_GAP_PX = 12
_STAGES_PX = 30
_PICKED_PX = 78
_AIR_PX = 84
_PHOTO_LANES = 2
_LABEL_LANES = 3

Only = Literal["", "n", "w"]


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
    """A hung photograph. x: its day. shift_px: how far its middle is moved from there, to lie inside the drawing.

    only: "w" where a phone has no room for it. behind_narrow, behind_wide: how many more hang behind it there.
    """

    x: str
    shift_px: float
    picture: HungPicture
    lane: int
    only: Only = ""
    behind_narrow: int = 0
    behind_wide: int = 0


@dataclass(frozen=True, slots=True)
class Bar:
    """A harvest: a bar of fixed width about its day."""

    x: str
    y: float
    height: float


@dataclass(frozen=True, slots=True)
class Dot:
    x: str
    y: float
    look: str


@dataclass(frozen=True, slots=True)
class Panel:
    """The box of one trace: y and height of the plot, and its path."""

    y: float
    height: float
    path: str


@dataclass(slots=True)
class Drawing:
    """height: px. threads_to: where the photographs' threads end. Lists are in the order they are painted."""

    height: float = 0
    threads_to: float = 0
    boxes: list[Box] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    texts: list[Text] = field(default_factory=list)
    frames: list[Frame] = field(default_factory=list)
    bars: list[Bar] = field(default_factory=list)
    dots: list[Dot] = field(default_factory=list)
    panels: list[Panel] = field(default_factory=list)


def drawn(told: Told) -> Drawing:
    """The drawing of a run."""
    sheet = Drawing()
    _hang_pictures(sheet, told)
    _draw_stages(sheet, told)
    _draw_happenings(sheet, told)
    _draw_picked(sheet, told)
    top = sheet.height
    for one in told.traces:
        _draw_trace(sheet, told, one)
    _draw_changes(sheet, told, top)
    _draw_axis(sheet, told)
    return sheet


# -- photographs ---------------------------------------------------------------------------------------------------


def _hang_pictures(sheet: Drawing, told: Told) -> None:
    """Photographs in two lanes: those that a phone has room for, and between them more on a wide screen."""
    scale = told.axis.scale
    shares = [scale.share(picture.at_d) for picture in told.pictures]
    narrow = hang([share * NARROW_PX for share in shares], PHOTO_PX, NARROW_PX, _PHOTO_LANES)
    lanes = {row.members[0]: row.lane for row in narrow}
    behind = {row.members[0]: len(row.members) - 1 for row in narrow}
    wide = hang([share * WIDE_PX for share in shares], PHOTO_PX, WIDE_PX, _PHOTO_LANES, lanes)
    for row in wide:
        first = row.members[0]
        is_narrow = first in lanes
        sheet.frames.append(
            Frame(
                x=scale.percent(told.pictures[first].at_d),
                shift_px=_shift_px(shares[first], NARROW_PX if is_narrow else WIDE_PX),
                picture=told.pictures[first],
                lane=row.lane,
                only="" if is_narrow else "w",
                behind_narrow=behind.get(first, 0),
                behind_wide=len(row.members) - 1,
            )
        )
    # The threads of the upper lane run behind the photographs of the lower.
    sheet.frames.sort(key=lambda frame: frame.lane)
    deepest = max((frame.lane for frame in sheet.frames), default=-1)
    sheet.height += (deepest + 1) * LANE_PX + (_GAP_PX if sheet.frames else 0)


def _shift_px(share: float, width_px: float) -> int:
    """How far a photograph is moved from its day, to lie inside a drawing of that width."""
    place_px = share * width_px
    return round(min(max(place_px, PHOTO_PX / 2), width_px - PHOTO_PX / 2) - place_px)


# -- stages, and what happened -------------------------------------------------------------------------------------


def _draw_stages(sheet: Drawing, told: Told) -> None:
    y, scale = sheet.height, told.axis.scale
    sheet.threads_to = y
    for span in told.spans:
        look = "expected" if span.expected else f"stage {span.stage}"
        share = scale.share(span.to_d) - scale.share(span.from_d)
        sheet.boxes.append(Box(scale.percent(span.from_d), y, f"{trimmed(share * 100)}%", _STAGES_PX, look))
        narrow, wide = _fitting(span, share * NARROW_PX - 4), _fitting(span, share * WIDE_PX - 4)
        both: list[tuple[str | None, Only]] = [(wide, "")] if narrow == wide else [(narrow, "n"), (wide, "w")]
        for words, only in both:
            if words:
                text = Text(scale.percent(span.from_d), y + 20, words, look=_looks("on-stage", only), dx=4)
                sheet.texts.append(text)
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
    deepest = 0
    for one, (place, only) in zip(told.happenings, _laned(told, told.happenings), strict=True):
        foot = y + 4 if place is None else y + 6 + place.lane * _LINE_PX
        sheet.lines.append(Line(scale.percent(one.at_d), y - _STAGES_PX, foot, one.kind))
        if place is not None:
            sheet.texts.append(_beside(scale.percent(one.at_d), foot + 15, one.words, place, one.kind, only))
            deepest = max(deepest, place.lane + 1)
    sheet.height = y + deepest * _LINE_PX + _GAP_PX


def _laned(
    told: Told, rows: Sequence[Happening | Picked], lanes: int = _LABEL_LANES
) -> list[tuple[Placed | None, Only]]:
    """Where each one's words stand: on a phone, else on a wide screen alone, else nowhere."""
    shares = [(told.axis.scale.share(row.at_d), row.words) for row in rows]
    narrow = labels_in_lanes([(share * NARROW_PX, words) for share, words in shares], NARROW_PX, lanes)
    wide = labels_in_lanes([(share * WIDE_PX, words) for share, words in shares], WIDE_PX, lanes, narrow)
    return [(place, "" if there else "w") for place, there in zip(wide, narrow, strict=True)]


def _draw_picked(sheet: Drawing, told: Told) -> None:
    if not told.picked:
        return
    y, scale = sheet.height + _LINE_PX, told.axis.scale
    base = y + _PICKED_PX
    most = max(one.mass_g for one in told.picked)
    sheet.texts.append(Text("0", y - 6, "picked", look="head"))
    for one, (place, only) in zip(told.picked, _laned(told, told.picked, 2), strict=True):
        height = max(2.0, one.mass_g / most * (_PICKED_PX - 18))
        sheet.bars.append(Bar(scale.percent(one.at_d), base - height, height))
        if place is not None:
            at_y = min(base - height + 12 + place.lane * 18, base - 4)
            sheet.texts.append(_beside(scale.percent(one.at_d), at_y, one.words, place, "mass", only, 9))
    sheet.lines.append(Line(None, base, base, "base"))
    sheet.height = base + _GAP_PX


# -- the air -------------------------------------------------------------------------------------------------------


def _draw_trace(sheet: Drawing, told: Told, one: Trace) -> None:
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
    sheet.panels.append(Panel(y, _AIR_PX, one.path))
    sheet.height = y + _AIR_PX + _GAP_PX


def _draw_changes(sheet: Drawing, told: Told, top: float) -> None:
    """Changes of settings and light: a tick through the air above, its words beneath in lanes."""
    if not told.changes:
        return
    y, scale = sheet.height, told.axis.scale
    deepest = 0
    for one, (place, only) in zip(told.changes, _laned(told, told.changes), strict=True):
        foot = y if place is None else y + 4 + place.lane * _LINE_PX
        sheet.lines.append(Line(scale.percent(one.at_d), top + _LINE_PX, foot, one.kind))
        if place is not None:
            sheet.texts.append(_beside(scale.percent(one.at_d), foot + 15, one.words, place, "set", only))
            deepest = max(deepest, place.lane + 1)
    sheet.height = y + deepest * _LINE_PX + _GAP_PX


def _draw_axis(sheet: Drawing, told: Told) -> None:
    y, scale = sheet.height, told.axis.scale
    sheet.lines.append(Line(None, y, y, "base"))
    narrow, wide = told.axis.ticks(5), told.axis.ticks(12)
    for day in sorted({*narrow, *wide}):
        only: Only = "" if day in narrow and day in wide else "n" if day in narrow else "w"
        anchor = "start" if day == 0 else "end" if scale.share(day) > 0.97 else "middle"
        sheet.lines.append(Line(scale.percent(day), y, y + 6, _looks("base", only)))
        sheet.texts.append(Text(scale.percent(day), y + 21, str(day), anchor, _looks("tick", only)))
    sheet.height = y + 28


def _looks(look: str, only: Only) -> str:
    return f"{look} {only}" if only else look


def _beside(x: str, y: float, words: str, place: Placed, look: str, only: Only, off_px: int = 4) -> Text:
    """A label that stands a little off the line it belongs to."""
    off: dict[Anchor, int] = {"start": off_px, "end": -off_px, "middle": 0}
    return Text(x, y, words, place.anchor, _looks(look, only), off[place.anchor])
