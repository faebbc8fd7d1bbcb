"""Labels along an axis, in a gutter of their own: none is on another, or on the line that leads to another."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate

from journal.site.charts.primitives import width_em, wrapped

LETTERED_PX = 14.3
"""The font size of charts."""

GUTTER_PX = 32
"""What is left of an axis for the numbers of its levels; static/css/timeline.css leaves as much."""

LABEL_GAP_PX, LEADER_GAP_PX = 6, 6
_ROOM_PX: Mapping[str, float] = {"n": 150, "m": 195, "w": 240}
_FEW_LANES = 2
_INDENT_PX = 3  # from the line to the words

WIDTHS_PX: Mapping[str, float] = {"n": 256, "m": 658, "w": 1118}
"""The layout widths of an axis, each shown from that width on: a phone, a tablet or a sheet of paper, a wide screen.
Between two of them the drawing only stretches, so nothing comes to overlap."""

Hidden = str
"""Classes of the widths at which a part is hidden: `xn xw`."""


@dataclass(frozen=True, slots=True)
class AxisLabel:
    """share: its place on the axis, 0 to 1. short: the words where there is little room. must: whether it is shown
    wherever its place is; other labels are left out where there are too many."""

    share: float
    words: str
    classes: str = ""
    short: str | None = None
    must: bool = False


@dataclass(frozen=True, slots=True)
class PlacedLabel:
    """at: which label. lane: of its first line, 0 beside the axis. shift_px: from its place to the line that leads to
    it. straight: whether that line goes straight on from its place. lines: its words."""

    at: int
    lane: int
    shift_px: int
    straight: bool
    lines: tuple[str, ...]

    @property
    def depth(self) -> int:
        """How many lanes there are up to its end."""
        return self.lane + len(self.lines)


def width_of(text: str) -> float:
    """The greatest width of a chart's text, in px."""
    return width_em(text) * LETTERED_PX


def hidden_except_at(widths: Iterable[str]) -> Hidden:
    """The classes of a part that is shown at some widths only."""
    there = set(widths)
    return " ".join(f"x{name}" for name in WIDTHS_PX if name not in there)


def labels_at_widths(labels: Sequence[AxisLabel], most_lanes: int) -> list[tuple[PlacedLabel, Hidden]]:
    """Every label as it is placed at each width, and the widths at which it is not so. labels: in the order of their
    places. most_lanes: how deep labels may lie that need not be shown."""
    shown: dict[PlacedLabel, set[str]] = {}
    found: Sequence[PlacedLabel] = ()
    for name, width_px in WIDTHS_PX.items():
        # What is told in full and near the axis on a narrower screen stays so on a wider one.
        if not _is_good(found, labels):
            found = _in_words_that_fit(labels, width_px, _ROOM_PX[name], most_lanes)
        for placed in found:
            shown.setdefault(placed, set()).add(name)
    return [(placed, hidden_except_at(names)) for placed, names in shown.items()]


def _is_good(placed: Sequence[PlacedLabel], labels: Sequence[AxisLabel]) -> bool:
    in_full = all(" ".join(one.lines) == labels[one.at].words for one in placed)
    return len(placed) == len(labels) and in_full and max((one.depth for one in placed), default=0) <= _FEW_LANES


def _in_words_that_fit(
    labels: Sequence[AxisLabel], width_px: float, room_px: float, most_lanes: int
) -> Sequence[PlacedLabel]:
    """In full where that takes hardly more lanes than in short words."""

    def laid_out(words: Callable[[AxisLabel], str]) -> Sequence[PlacedLabel]:
        lines = [wrapped(words(label), room_px / LETTERED_PX) for label in labels]
        return place_labels(labels, lines, width_px, most_lanes)

    full = laid_out(lambda label: label.words)
    if _is_good(full, labels):
        return full
    short = laid_out(lambda label: label.short or label.words)
    deep, less_deep = (max((one.depth for one in way), default=0) for way in (full, short))
    return full if deep <= max(_FEW_LANES, less_deep) and len(full) >= len(short) else short


def place_labels(
    labels: Sequence[AxisLabel], lines: Sequence[tuple[str, ...]], width_px: float, most_lanes: int
) -> list[PlacedLabel]:
    """Labels at their places in order, in as few lanes as they fit in; where `most_lanes` are too few, some are left
    out that need not be shown. No words are wider than the drawing."""
    places_px = [label.share * width_px for label in labels]
    widths_px = [max(map(width_of, words), default=0) + _INDENT_PX for words in lines]
    kept = list(range(len(labels)))
    while True:
        spare = [at for at in kept if not labels[at].must]
        for lanes in range(_FEW_LANES, most_lanes + 1 if spare else sum(map(len, lines)) + _FEW_LANES + 1):
            rows = [(places_px[at], widths_px[at], len(lines[at])) for at in kept]
            found = _in_lanes(rows, width_px, lanes)
            if found is not None:
                return _placed(kept, lines, rows, found)
        if not spare:
            raise ValueError("a label is wider than the drawing")
        left_out = set(spare[:: max(1, min(8, len(spare)))])
        kept = [at for at in kept if at not in left_out]


Row3 = tuple[float, float, int]
"""Place and width of a label in px, and its number of lines."""


def _in_lanes(rows: Sequence[Row3], width_px: float, lanes: int) -> list[tuple[float, int]] | None:
    """For each label the px at which it and the line to it begin, and its lane; None if they do not fit.

    From right to left, each takes the first lane in which it is on nothing: it is then deeper than all that it
    reaches under, and every line to a deeper label passes left of what is placed already. Where that would be too deep,
    it moves to the left of them all, into the first lane; lines may go aside, but stay in the order of their places."""
    gap_px = min(LEADER_GAP_PX, max(0.0, width_px - max((row[1] for row in rows), default=0)) / max(1, len(rows)))
    apart_px = accumulate((row[0] for row in rows), lambda before_px, place_px: max(place_px, before_px + gap_px))
    found: list[tuple[float, int]] = []
    depths: list[tuple[float, int]] = []
    for place_px, (_, label_px, count) in reversed(list(zip(apart_px, rows, strict=True))):
        next_px = found[-1][0] if found else width_px + gap_px
        left_px = min(place_px, next_px - gap_px, width_px - label_px)
        lane = max((deep for other_px, deep in depths if other_px < left_px + label_px + LABEL_GAP_PX), default=0)
        if lane + count > max(lanes, count):
            left_px, lane = min(left_px, next_px - label_px - LABEL_GAP_PX), 0
        if left_px < -0.01:
            return None
        found.append((left_px, lane))
        depths.append((left_px, lane + count))
    return found[::-1]


def _placed(
    kept: Sequence[int], lines: Sequence[tuple[str, ...]], rows: Sequence[Row3], found: Sequence[tuple[float, int]]
) -> list[PlacedLabel]:
    placed, after_px = [], float("inf")
    for at, (place_px, label_px, _), (left_px, lane) in zip(
        reversed(kept), reversed(rows), reversed(found), strict=True
    ):
        straight = lane == 0 and left_px <= place_px <= min(left_px + label_px + 0.5, after_px - LEADER_GAP_PX)
        placed.append(PlacedLabel(at, lane, round(left_px - place_px), straight, lines[at]))
        after_px = left_px
    return placed[::-1]
