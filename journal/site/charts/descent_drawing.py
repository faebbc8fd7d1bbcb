"""A tree of descent drawn: a row for each node, the wild at the top, branches further in.

A drawing stretches from the narrowest phone to any width: lengths downwards and from the left are in em of its own
text, bars in per cent of the width. Rows are laid out for `ROOM_EM`, the width of a screen of 320 px.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from journal.analysis.descent import Node
from journal.site.charts.primitives import mono_width_em, width_em, wrapped
from journal.site.plan import Row

ROOM_EM = 19.0
LINE_EM = 1.4
MOST_LANES = 9
"""Beyond it a second parent is named in words only."""

_FIRST_LANE_EM = 0.65
_LANE_EM = 0.95
_GUTTER_EM = 0.95
_TAG_AT_EM = 1.5
_LEAST_ROW_EM = 3.25
_GAP_EM = 0.7
_LEAST_TEXT_EM = 6.0
_PICTURE_EM = 6.4
_BAR_EM = 0.55
_WIDEST_BAR_PCT = 52.0
_LEAST_FULL_BAR_PCT = 100.0

TAG_EM = 1.72
_TAG_POINT_EM = 1.0
_TAG_END_EM = 0.55

Tone = Literal["plain", "latin", "strong", "soft", "warn"]
Shape = Literal["find", "start", "transfer", "batch"]


@dataclass(frozen=True, slots=True)
class NodeContent:
    """What a row says beside its ID. lines: (tone, text). picture: a small file. be_pct: of its bar; a broken bar means
    so far."""

    address: str
    date: str
    lines: tuple[tuple[Tone, str], ...] = ()
    picture: str | None = None
    be_pct: float | None = None
    final: bool = False


@dataclass(frozen=True, slots=True)
class TextLine:
    """One line of text. x, y: where its baseline begins; width: at most; all in em."""

    text: str
    tone: Tone
    x: float
    y: float
    width: float

    @property
    def box(self) -> Box:
        return (self.x, self.y - 1.0, self.x + self.width, self.y + 0.3)


Box = tuple[float, float, float, float]
"""Left, top, right, bottom, in em."""


@dataclass(frozen=True, slots=True)
class Tag:
    """An ID's tag. x, y: its upper left corner; written_at: where its text's baseline begins."""

    id: str
    x: float
    y: float
    width: float

    @property
    def written_at(self) -> tuple[float, float]:
        return round(self.x + _TAG_POINT_EM, 2), round(self.y + 1.19, 2)

    @property
    def box(self) -> Box:
        return (self.x, self.y, self.x + self.width, self.y + TAG_EM)


@dataclass(frozen=True, slots=True)
class NodeRow:
    """One node, drawn. top, height: of the whole row, which is one target. picture_at: its upper left corner."""

    top: float
    height: float
    address: str
    is_own: bool
    shape: Shape
    is_sure: bool
    mark_at: tuple[float, float]
    tag: Tag
    texts: tuple[TextLine, ...]
    picture: str | None
    picture_at: tuple[float, float]
    bar: Row | None

    @property
    def boxes(self) -> tuple[Box, ...]:
        """Everything in it that must not overlap anything else."""
        picture: tuple[Box, ...] = ()
        if self.picture:
            left, top = self.picture_at
            picture = ((left, top, left + _PICTURE_EM, top + _PICTURE_EM),)
        return (self.tag.box, *(text.box for text in self.texts), *picture)


@dataclass(frozen=True, slots=True)
class Stroke:
    """A straight line, in em. is_sure: whether what it leads to is confirmed and not doubted; otherwise the line is
    broken."""

    x1: float
    y1: float
    x2: float
    y2: float
    is_sure: bool


@dataclass(frozen=True, slots=True)
class DescentDrawing:
    """height, picture: in em. is_wide: whether it needs more than `ROOM_EM`, so that it has to scroll on a phone."""

    height: float
    is_wide: bool
    rows: tuple[NodeRow, ...]
    strokes: tuple[Stroke, ...]
    picture: float = _PICTURE_EM


def draw_descent(nodes: Sequence[Node], contents: Mapping[str, NodeContent]) -> DescentDrawing:
    """The drawing of a tree. nodes: in order. contents: what each shows, by ID."""
    joins = _joins(nodes)
    longest = max([_LEAST_FULL_BAR_PCT, *(one.be_pct for one in contents.values() if one.be_pct is not None)])
    rows: list[NodeRow] = []
    top = 0.0
    for at, node in enumerate(nodes):
        reach = max([node.branch, *(join.lane for join in joins if join.first <= at <= join.last)])
        rows.append(_row(node, contents[node.id], top, reach, longest))
        top = round(top + rows[-1].height, 2)
    widest = max((box[2] for row in rows for box in row.boxes), default=0.0)
    return DescentDrawing(
        height=top,
        is_wide=widest > ROOM_EM,
        rows=tuple(rows),
        strokes=(*_stems(nodes, rows), *_other_strokes(joins, nodes, rows)),
    )


def _x_of(lane: int) -> float:
    return round(_FIRST_LANE_EM + lane * _LANE_EM, 2)


def _row(node: Node, content: NodeContent, top: float, reach: int, longest_pct: float) -> NodeRow:
    left = round(_x_of(reach) + _GUTTER_EM, 2)
    words_left = round(left + (_PICTURE_EM + _GAP_EM if content.picture else 0.0), 2)
    tag_width = round(mono_width_em(node.id) + _TAG_POINT_EM + _TAG_END_EM, 2)
    tag = Tag(node.id, words_left, round(top + _TAG_AT_EM - TAG_EM / 2, 2), tag_width)
    texts = tuple(_texts(content, tag))
    foot = round((texts[-1].y if texts else tag.box[3]) + 0.55, 2)
    if content.picture:
        foot = max(foot, round(tag.y + _PICTURE_EM + 0.3, 2))
    bar = None
    if content.be_pct:
        length_pct = round(content.be_pct / longest_pct * _WIDEST_BAR_PCT, 2)
        bar = Row(x=left, y=foot, length_pct=length_pct, final=content.final)
        foot += _BAR_EM
    return NodeRow(
        top=top,
        height=round(max(_LEAST_ROW_EM, foot + 0.6 - top), 2),
        address=content.address,
        is_own=node.place == "itself",
        shape=node.kind if node.kind != "culture" else "start" if node.begins_line else "transfer",
        is_sure=node.is_sure,
        mark_at=(_x_of(node.branch), round(top + _TAG_AT_EM, 2)),
        tag=tag,
        texts=texts,
        picture=content.picture,
        picture_at=(left, tag.y),
        bar=bar,
    )


def _texts(content: NodeContent, tag: Tag) -> Iterator[TextLine]:
    """The date beside the tag if there is room, everything else beneath."""
    beside = round(tag.x + tag.width + _GAP_EM, 2)
    fits = beside + width_em(content.date) <= ROOM_EM
    if fits:
        yield _text(content.date, "soft", beside, round(tag.written_at[1], 2))
    first: tuple[tuple[Tone, str], ...] = () if fits else (("soft", content.date),)
    y = tag.box[3]
    for tone, words in (*first, *content.lines):
        for line in wrapped(words, max(_LEAST_TEXT_EM, ROOM_EM - tag.x) / _heaviness(tone)):
            y = round(y + LINE_EM, 2)
            yield _text(line, tone, tag.x, y)


def _text(words: str, tone: Tone, x: float, y: float) -> TextLine:
    return TextLine(words, tone, x, y, round(width_em(words) * _heaviness(tone), 2))


def _heaviness(tone: Tone) -> float:
    """How much wider than in the plain face the text is: bold letters are wider."""
    return 1.12 if tone in ("strong", "warn") else 1.0


def _stems(nodes: Sequence[Node], rows: Sequence[NodeRow]) -> Iterator[Stroke]:
    """Lines from each node down to its children. A segment that leads to anything sure is solid."""
    row_of = {node.id: row for node, row in zip(nodes, rows, strict=True)}
    under: dict[str, list[Node]] = {}
    for node in nodes:
        if node.stem is not None:
            under.setdefault(node.stem, []).append(node)
    for stem, children in under.items():
        x, y = row_of[stem].mark_at
        for at, child in enumerate(children):
            child_x, child_y = row_of[child.id].mark_at
            yield Stroke(x, y, x, child_y, any(later.is_sure for later in children[at:]))
            if child_x != x:
                yield Stroke(x, child_y, child_x, child_y, child.is_sure)
            y = child_y


@dataclass(frozen=True, slots=True)
class _Join:
    """A second parent's line: from the row `first` down to the row `last`, in its own lane."""

    first: int
    last: int
    lane: int


def _joins(nodes: Sequence[Node]) -> tuple[_Join, ...]:
    """Second parents that are above what was also taken from them, each in the first free lane."""
    at = {node.id: place for place, node in enumerate(nodes)}
    joins: list[_Join] = []
    for last, node in enumerate(nodes):
        for parent in dict.fromkeys(ref.id for ref in node.parents):
            first = at[parent]
            if parent == node.stem or first >= last:
                continue
            taken = {join.lane for join in joins if join.first <= last and first <= join.last}
            lane = max(between.branch for between in nodes[first : last + 1]) + 1
            while lane in taken:
                lane += 1
            if lane < MOST_LANES:
                joins.append(_Join(first, last, lane))
    return tuple(joins)


def _other_strokes(joins: Sequence[_Join], nodes: Sequence[Node], rows: Sequence[NodeRow]) -> Iterator[Stroke]:
    """Lines to second parents; and a short broken line above what came from elsewhere or from an unknown source."""
    for join in joins:
        (from_x, from_y), (to_x, to_y) = rows[join.first].mark_at, rows[join.last].mark_at
        x, is_sure = _x_of(join.lane), nodes[join.last].is_sure
        yield Stroke(from_x, from_y, x, from_y, is_sure)
        yield Stroke(x, from_y, x, to_y, is_sure)
        yield Stroke(x, to_y, to_x, to_y, is_sure)
    for node, row in zip(nodes, rows, strict=True):
        if node.stem is None and node.kind != "find":
            yield Stroke(row.mark_at[0], round(row.top + 0.1, 2), *row.mark_at, False)
