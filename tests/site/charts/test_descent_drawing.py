"""A descent drawn: nothing is over anything else, on a screen of 320 px too, and each line leads where it should."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from itertools import combinations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.analysis.analysis import Analysis
from journal.analysis.descent import Node, descent_of
from journal.model import Ref, When
from journal.site.charts.descent_drawing import ROOM_EM, Box, DescentDrawing, NodeContent, draw_descent
from tests.builders import culture, examples, find, journal_of
from tests.sixty import sixty

DAY = When("2026-09-12", date(2026, 9, 12), "day")
MARK_EM = 0.5
REACH_EM = 3.2
"""48 px at the drawing's smallest text, 0.88 of 17 px."""


def node(id: str, stem: str | None = None, branch: int = 0, **more: Any) -> Node:
    parents = more.pop("parents", (Ref(stem),) if stem else ())
    facts = {"kind": "culture", "place": "below", "when": DAY, "confirmed": True, "method": "transfer", **more}
    return Node(id=id, stem=stem, branch=branch, parents=parents, **facts)


def said(*lines: str, **more: Any) -> NodeContent:
    return NodeContent(address="a", date="12 Sep 2026", lines=tuple(("plain", line) for line in lines), **more)


def draw(*nodes: Node, **words: NodeContent) -> DescentDrawing:
    return draw_descent(nodes, {each.id: words.get(each.id, said("transfer, 4 plates")) for each in nodes})


def overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def line_boxes(drawing: DescentDrawing) -> Iterator[Box]:
    """Where lines and marks lie."""
    for line in drawing.strokes:
        (left, right), (top, foot) = sorted((line.x1, line.x2)), sorted((line.y1, line.y2))
        yield (left - 0.06, top - 0.06, right + 0.06, foot + 0.06)
    for row in drawing.rows:
        x, y = row.mark_at
        yield (x - MARK_EM, y - MARK_EM, x + MARK_EM, y + MARK_EM)


def hold_apart(drawing: DescentDrawing) -> None:
    """Fails where a label is over another, over a line or a mark, or out of its own row."""
    lines = list(line_boxes(drawing))
    for row in drawing.rows:
        assert not [pair for pair in combinations(row.boxes, 2) if overlap(*pair)]
        for box in row.boxes:
            assert not [line for line in lines if overlap(box, line)]
            assert row.top <= box[1]
            assert box[3] <= row.top + row.height
        if row.bar:
            assert max(box[3] for box in row.boxes) <= row.bar.y
            assert row.bar.y + 0.55 <= row.top + row.height
    ends = [(row.top, round(row.top + row.height, 2)) for row in drawing.rows]
    assert [end for _, end in ends[:-1]] == [top for top, _ in ends[1:]]
    assert drawing.height == ends[-1][1]


@pytest.fixture(scope="module")
def sixty_nodes(make_journal: Callable[..., Any]) -> tuple[Node, ...]:
    return descent_of("PO-25A", Analysis(make_journal(sixty())))


def words_of(nodes: Sequence[Node]) -> dict[str, NodeContent]:
    """Long words on every node, a picture on each find, a bar on each batch."""
    return {
        each.id: NodeContent(
            address=f"cultures/{each.id}/index.html",
            date="about 30 Sep 2026",
            lines=(
                ("strong", "1.86 kg harvested so far, BE 53 %"),
                ("latin", "Pleurotus pulmonarius"),
                ("warn", "identity not confirmed, in doubt, as PO-25A-T6 is"),
            ),
            picture="photos/p-320.webp" if each.kind == "find" else None,
            be_pct=53.0 if each.kind == "batch" else None,
        )
        for each in nodes
    }


def test_sixty_nodes_stand_apart(sixty_nodes: tuple[Node, ...]) -> None:
    assert 60 == len(sixty_nodes)
    hold_apart(draw_descent(sixty_nodes, words_of(sixty_nodes)))


def test_every_row_is_a_target_for_a_thumb(sixty_nodes: tuple[Node, ...]) -> None:
    bare = {each.id: NodeContent("a", "2026") for each in sixty_nodes}
    assert all(row.height >= REACH_EM for row in draw_descent(sixty_nodes, bare).rows)


def test_words_stay_within_a_screen_of_320_px_but_for_an_id_that_does_not_fit(sixty_nodes: tuple[Node, ...]) -> None:
    drawing = draw_descent(sixty_nodes, words_of(sixty_nodes))
    wide = [row.tag.id for row in drawing.rows if max(box[2] for box in row.boxes) > ROOM_EM]
    assert ["PO-25A-LIQUID-FOR-THE-FERRY-BAKE"] == wide
    assert drawing.is_wide
    assert not draw(node("A")).is_wide


def test_bars_are_as_long_as_the_be_and_end_within_the_drawing() -> None:
    drawing = draw(
        node("A"), node("B", "A", kind="batch"), node("C", "A", kind="batch"),
        B=said("x", be_pct=150.0, final=True), C=said("x", be_pct=75.0),
    )  # fmt: skip
    first, second = (row.bar for row in drawing.rows[1:])
    assert first is not None
    assert second is not None
    assert (True, False) == (first.final, second.final)
    assert first.length_pct == pytest.approx(2 * second.length_pct)
    assert first.x / ROOM_EM * 100 + first.length_pct < 100


def test_a_low_be_is_not_drawn_as_long_as_the_paper() -> None:
    low, full = (draw(node("A", kind="batch"), A=said("x", be_pct=be)).rows[0].bar for be in (10.0, 100.0))
    assert low is not None
    assert full is not None
    assert low.length_pct == pytest.approx(full.length_pct / 10)


def test_what_gave_nothing_has_no_bar() -> None:
    assert draw(node("A", kind="batch"), A=said("nothing harvested yet", be_pct=0.0)).rows[0].bar is None


def broken(drawing: DescentDrawing) -> list[tuple[float, float, float, float]]:
    return [(line.x1, line.y1, line.x2, line.y2) for line in drawing.strokes if not line.is_sure]


def test_what_is_not_sure_hangs_by_a_broken_line_and_so_does_all_below_it() -> None:
    drawing = draw(
        node("F", kind="find"), node("A", "F"), node("B", "A", confirmed=False), node("C", "B", confirmed=False)
    )
    ys = [row.mark_at[1] for row in drawing.rows]
    assert [(ys[1], ys[2]), (ys[2], ys[3])] == [(y1, y2) for _, y1, _, y2 in broken(drawing)]
    assert [True, True, False, False] == [row.is_sure for row in drawing.rows]


def test_a_doubted_branch_is_broken_and_the_way_past_it_whole() -> None:
    drawing = draw(node("A", kind="find"), node("B", "A", 1, doubt="B"), node("C", "A"))
    a, b, c = (row.mark_at for row in drawing.rows)
    lines = {(line.x1, line.y1, line.x2, line.y2): line.is_sure for line in drawing.strokes}
    assert {(*a, a[0], b[1]): True, (a[0], b[1], *b): False, (a[0], b[1], *c): True} == lines


def test_a_second_parent_is_joined_in_a_lane_of_its_own_beside_all_between() -> None:
    nodes = [
        node("F", kind="find"), node("A", "F", 1), node("B", "F", 1), node("C", "F"),
        node("M", "C", parents=(Ref("C"), Ref("A"))),
    ]  # fmt: skip
    drawing = draw(*nodes)
    a, b, m = (drawing.rows[at].mark_at for at in (1, 2, 4))
    down = next(line for line in drawing.strokes if line.y1 == a[1] and line.y2 == m[1])
    assert down.x1 == down.x2 > b[0]
    hold_apart(drawing)


def test_a_parent_too_many_to_be_drawn_beside_the_rest_is_left_to_words() -> None:
    parents = [node(f"P{number}", kind="find") for number in range(14)]
    below = node("M", "P13", parents=tuple(Ref(parent.id) for parent in parents))
    drawing = draw(*parents, below)
    hold_apart(drawing)
    assert len([line for line in drawing.strokes if line.x1 == line.x2]) < 14


def test_what_came_from_elsewhere_hangs_from_a_short_broken_line() -> None:
    drawing = draw(node("R", method="received", parents=()), node("A", "R"))
    x, y = drawing.rows[0].mark_at
    assert [(x, 0.1, x, y)] == broken(drawing)
    assert [] == broken(draw(node("F", kind="find"), node("A", "F")))


def test_marks_tell_a_find_a_start_a_transfer_and_a_batch_apart() -> None:
    drawing = draw(
        node("F", kind="find"), node("A", "F", begins_line=True), node("B", "A"), node("C", "B", kind="batch")
    )
    assert ["find", "start", "transfer", "batch"] == [row.shape for row in drawing.rows]


def test_the_pages_own_culture_is_marked() -> None:
    assert [False, True] == [row.is_own for row in draw(node("A", place="above"), node("B", "A", place="itself")).rows]


@st.composite
def trees(draw: st.DrawFn) -> tuple[Node, ...]:
    """Trees of any shape, as a journal gives them, some cultures with two parents and some under long IDs."""
    rows = [culture("C0", "F")]
    for number in range(1, draw(st.integers(1, 25))):
        parents = draw(st.lists(st.integers(0, number - 1), min_size=1, max_size=2, unique=True))
        name = f"C{number}" + "-LONG" * draw(st.integers(0, 3))
        rows.append(culture(name, ", ".join(rows[parent].id for parent in parents)))
    return descent_of("C0", Analysis(journal_of(find("F"), *rows)))


@given(trees(), st.lists(st.sampled_from(["", "6 units", "identity not confirmed, label in doubt"]), max_size=4))
@examples(30)
def test_labels_stand_apart_in_every_tree(nodes: Any, lines: Any) -> None:
    words = {
        each.id: said(*lines, be_pct=40.0 if each.id[-1] in "05" else None, picture="p" if at % 7 == 0 else None)
        for at, each in enumerate(nodes)
    }
    hold_apart(draw_descent(nodes, words))
