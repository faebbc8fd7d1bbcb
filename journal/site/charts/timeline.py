"""The run drawn once for every width: parts at their height in px and their percentage across.

Words and photographs are laid out for three widths; what stands there at one of them alone is hidden at the others.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from journal.site.charts.primitives import baselines, ticks, trimmed
from journal.site.charts.timeline_events import Picked, Span
from journal.site.charts.timeline_layout import (
    WIDTHS_PX,
    Anchor,
    Bar,
    Box,
    Dot,
    Drawing,
    Frame,
    Hidden,
    Line,
    Panel,
    Placed,
    Text,
    TimelineContent,
    Trace,
    cut_to,
    hidden_except_at,
    labels_in_lanes,
    place_photos,
    width_of,
)

PHOTO_PX, LANE_PX = 64, 70

_LINE_PX = 22
_GAP_PX = 12
_STAGES_PX = 30
_PICKED_PX = 60
_AIR_PX = 84
_PHOTO_LANES = 2
_LABEL_LANES = 3
_BAR_PX = 12
_LABEL_PX = 195.0
"""A label of this width fits beside or about its place wherever that is, on a phone too."""


def drawn(told: TimelineContent) -> Drawing:
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


def _hang_pictures(sheet: Drawing, told: TimelineContent) -> None:
    """Photographs in two lanes: those that a phone has room for, and between them more where there is more."""
    scale = told.axis.scale
    shares = [scale.share(picture.at_d) for picture in told.pictures]
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
        x, hidden = scale.percent(told.pictures[at].at_d), hidden_except_at(behind[at])
        shift_px = _shift_px(shares[at], WIDTHS_PX[first_at[at]])
        frame = Frame(x, shift_px, told.pictures[at], lanes[at], hidden, tuple(_tallies(behind[at])))
        sheet.frames.append(frame)
    sheet.lines += _threads(sheet)


def _threads(sheet: Drawing) -> list[Line]:
    """Each from its photograph to the stages; one behind a lower photograph of the same place serves both."""
    threads: dict[tuple[str, Hidden], Line] = {}
    for frame in sorted(sheet.frames, key=lambda frame: frame.lane):
        if (frame.x, "") not in threads:
            from_y = frame.lane * LANE_PX + PHOTO_PX
            threads.setdefault(
                (frame.x, frame.hidden), Line(frame.x, from_y, sheet.height, _looks("thread", frame.hidden))
            )
    return [*threads.values()]


def _tallies(behind: Mapping[str, int]) -> list[tuple[int, Hidden]]:
    """Each count with the widths at which it does not hold; where the photograph is not there none needs hiding."""
    absent = WIDTHS_PX.keys() - behind.keys()
    counts = sorted({count for count in behind.values() if count})
    return [
        (count, hidden_except_at({name for name, there in behind.items() if there == count} | absent))
        for count in counts
    ]


def _shift_px(share: float, width_px: float) -> int:
    """How far a photograph is moved from its day, to lie inside a drawing of that width."""
    place_px = share * width_px
    return round(min(max(place_px, PHOTO_PX / 2), width_px - PHOTO_PX / 2) - place_px)


# -- stages, and what happened -------------------------------------------------------------------------------------


def _draw_stages(sheet: Drawing, told: TimelineContent) -> None:
    y, scale = sheet.height, told.axis.scale
    for span in told.spans:
        look = "expected" if span.expected else f"stage {span.stage}"
        share = scale.share(span.to_d) - scale.share(span.from_d)
        sheet.boxes.append(Box(scale.percent(span.from_d), y, f"{trimmed(share * 100)}%", _STAGES_PX, look))
        fitting = {name: _fitting(span, share * width_px - 8) for name, width_px in WIDTHS_PX.items()}
        for words in sorted({words for words in fitting.values() if words}):
            hidden = hidden_except_at(name for name, there in fitting.items() if there == words)
            x = scale.percent(span.from_d)
            sheet.texts.append(Text(x, y + 20, words, look=_looks("on-stage", hidden), dx=4))
    sheet.height = y + _STAGES_PX


_SHORT = {
    "pinning": "pins", "resting": "rest", "fruiting": "fruits", "colonising": "grows", "next flush": "flush",
    "harvest": "pick",
}  # fmt: skip


def _fitting(span: Span, room_px: float) -> str | None:
    """A stage's name, or a shorter word for it, as far as it fits."""
    ask = "?" if span.expected else ""
    ways = (span.stage + ask, _SHORT.get(span.stage, span.stage) + ask)
    return next((words for words in ways if width_of(words) <= room_px), None)


def _draw_happenings(sheet: Drawing, told: TimelineContent) -> None:
    """Moves and losses: a line through the stages, its words beneath in lanes."""
    y, scale = sheet.height, told.axis.scale
    rows = [(one.at_d, cut_to(one.words, _LABEL_PX)) for one in told.happenings]
    deepest = 0
    for one, (words, place, hidden) in zip(told.happenings, _laned(told, rows), strict=True):
        foot = y + 4 if place is None else y + 6 + place.lane * _LINE_PX
        sheet.lines.append(Line(scale.percent(one.at_d), y - _STAGES_PX, foot, one.kind))
        if place is not None:
            sheet.texts.append(_beside(scale.percent(one.at_d), foot + 15, words, place, one.kind, hidden))
            deepest = max(deepest, place.lane + 1)
    sheet.height = y + deepest * _LINE_PX + _GAP_PX


def _laned(told: TimelineContent, rows: Sequence[tuple[float, str]]) -> list[tuple[str, Placed | None, Hidden]]:
    """Words (day, text), each with where it stands, and the widths that have no room for it; None where none has."""
    shares = [(told.axis.scale.share(at_d), words) for at_d, words in rows]
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


# -- harvests ------------------------------------------------------------------------------------------------------


def _draw_picked(sheet: Drawing, told: TimelineContent) -> None:
    """Harvests as bars, those of every other flush hollow; each flush with its words above its first bar."""
    if not told.picked:
        return
    scale, flushes = told.axis.scale, _by_flush(told.picked)
    head_y = sheet.height + _LINE_PX - 6
    sheet.texts.append(Text("0", head_y, "picked, by flush", look="head"))
    laned = _laned(told, [(bars[0].at_d, _flush_words(bars, len(flushes))) for bars in flushes])
    lanes = max((place.lane + 1 for _, place, _ in laned if place), default=0)
    base = head_y + 10 + lanes * _LINE_PX + _PICKED_PX
    most, width_px = max(one.mass_g for one in told.picked), _bar_px(told)
    for number, (bars, (words, place, hidden)) in enumerate(zip(flushes, laned, strict=True)):
        heights = [max(2.0, one.mass_g / most * _PICKED_PX) for one in bars]
        for one, height in zip(bars, heights, strict=True):
            look = "bar next" if number % 2 else "bar"
            sheet.bars.append(Bar(scale.percent(one.at_d), base - height, width_px, height, look))
        if place is not None:
            x, y = scale.percent(bars[0].at_d), head_y + 20 + place.lane * _LINE_PX
            sheet.lines.append(Line(x, y - 11, base - heights[0], _looks("thread", hidden)))
            sheet.texts.append(_beside(x, y, words, place, "mass", hidden))
    sheet.lines.append(Line(None, base, base, "base"))
    sheet.height = base + _GAP_PX


def _by_flush(picked: Sequence[Picked]) -> list[list[Picked]]:
    """The harvests of each flush together, in the order of the first of each; one with no flush stands alone."""
    flushes: dict[object, list[Picked]] = {}
    for at, one in enumerate(picked):
        flushes.setdefault(("alone", at) if one.flush is None else one.flush, []).append(one)
    return list(flushes.values())


_WORDY = 4
"""With more flushes than these the word itself takes the room of its neighbours."""


def _flush_words(bars: Sequence[Picked], flushes: int) -> str:
    """`flush 2: 640 g`; a number alone where flushes are many."""
    mass, flush = bars[0].of_flush, bars[0].flush
    if flush is None:
        return mass
    return f"flush {flush}: {mass}" if flushes <= _WORDY else f"{flush}: {mass}"


def _bar_px(told: TimelineContent) -> float:
    """As wide as bars can be without covering each other on a phone, within reason."""
    places_px = sorted(told.axis.scale.share(one.at_d) * WIDTHS_PX["n"] for one in told.picked)
    apart_px = [later - earlier for earlier, later in pairwise(places_px)]
    return max(4, min(_BAR_PX, int(min(apart_px, default=_BAR_PX))))


# -- the air -------------------------------------------------------------------------------------------------------


def _draw_trace(sheet: Drawing, told: TimelineContent, one: Trace) -> None:
    y, scale = sheet.height + _LINE_PX, told.axis.scale
    sheet.texts.append(Text("0", y - 6, one.title + (f", wants {one.wants}" if one.wants else ""), look="head"))
    for from_d, to_d, low, high in one.bands:
        top, bottom = (1 - one.scale.share(min(high, one.scale.high))), (1 - one.scale.share(max(low, one.scale.low)))
        width = scale.share(min(to_d, scale.high)) - scale.share(from_d)
        x, across = scale.percent(from_d), f"{trimmed(width * 100)}%"
        sheet.boxes.append(Box(x, y + top * _AIR_PX, across, (bottom - top) * _AIR_PX, "band"))
    levels = {y + (1 - one.scale.share(tick)) * _AIR_PX: tick for tick in ticks(one.scale.low, one.scale.high, 3)}
    sheet.lines += [Line(None, level_y, level_y, "grid") for level_y in levels]
    for level_y, number_y in baselines(levels, y).items():
        sheet.texts.append(Text("0", number_y, f"{levels[level_y]:g}", look="tick"))
    for at_d, value, open_door in one.dots:
        dot_y = y + (1 - min(1.0, max(0.0, one.scale.share(value)))) * _AIR_PX
        sheet.dots.append(Dot(scale.percent(at_d), dot_y, "open" if open_door else "eye"))
    sheet.panels.append(Panel(y, _AIR_PX, one.path))
    sheet.height = y + _AIR_PX + _GAP_PX


def _draw_changes(sheet: Drawing, told: TimelineContent, top: float) -> None:
    """Changes of settings and light: a tick through the air above, its words beneath in lanes."""
    if not told.changes:
        return
    y, scale = sheet.height, told.axis.scale
    deepest = 0
    rows = [(one.at_d, cut_to(one.words, _LABEL_PX)) for one in told.changes]
    for one, (words, place, hidden) in zip(told.changes, _laned(told, rows), strict=True):
        foot = y if place is None else y + 4 + place.lane * _LINE_PX
        sheet.lines.append(Line(scale.percent(one.at_d), top + _LINE_PX, foot, one.kind))
        if place is not None:
            sheet.texts.append(_beside(scale.percent(one.at_d), foot + 15, words, place, "set", hidden))
            deepest = max(deepest, place.lane + 1)
    sheet.height = y + deepest * _LINE_PX + _GAP_PX


def _draw_axis(sheet: Drawing, told: TimelineContent) -> None:
    y, scale = sheet.height, told.axis.scale
    sheet.lines.append(Line(None, y, y, "base"))
    days = {name: told.axis.ticks(about) for name, about in _TICKS.items()}
    for day in sorted({day for named in days.values() for day in named}):
        hidden = hidden_except_at(name for name, named in days.items() if day in named)
        anchor = "start" if day == 0 else "end" if scale.share(day) > 0.97 else "middle"
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
