"""The tree of one culture: its order, its branches, and what each node tells."""

from __future__ import annotations

from collections.abc import Callable
from time import thread_time
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.analysis.analysis import Analysis
from journal.analysis.descent import WHOLE, Node, descent_of
from journal.model import Batch, Culture, Find, Note, Ref
from tests.builders import batch, culture, find, journal_of, note

Make = Callable[..., Any]
F1 = find("F1", certainty="confirmed", identified_by="by print")


def known(*rows: Find | Culture | Batch | Note) -> Analysis:
    return Analysis(journal_of(*rows))


def sketch(nodes: tuple[Node, ...]) -> list[str]:
    """Each node as `..ID<STEM`, a dot a branch."""
    return [f"{'.' * node.branch}{node.id}" + (f"<{node.stem}" if node.stem else "") for node in nodes]


STORY = known(
    F1,
    culture("A", "F1", 1, method="tissue", form="plate", vessels=6),
    culture("S", "F1", 1, method="spores", form="plate", vessels=4),
    culture("A-2", "A.1", 6, form="plate", vessels=4),
    culture("A-3", "A-2.1, A-2.2", 12, form="grain", vessels=3),
    culture("A-4", "A-2.3", 19, form="liquid", vessels=1),
    culture("A-6", "A-3.3", 24, form="grain", vessels=2),
    batch("B1", "A-3", 24, units=4),
    culture("C", "B1.2", 60, method="tissue", form="plate", vessels=4),
    note("B1.3", 30, lost=1, cause="green mould"),
    note("A", 9, lost=2, cause="bacteria"),
    note("B1", 40, stage="fruiting"),
)


def test_the_way_most_was_grown_along_runs_straight_and_the_rest_branches_off_before_it() -> None:
    expected = ["F1", "A<F1", "A-2<A", ".A-4<A-2", "A-3<A-2", ".A-6<A-3", "B1<A-3", "C<B1"]
    assert expected == sketch(descent_of("A", STORY))


def test_a_culture_has_everything_above_and_below_it_and_nothing_beside_it() -> None:
    assert ["F1", "A<F1", "A-2<A", "A-3<A-2", ".A-6<A-3", "B1<A-3", "C<B1"] == sketch(descent_of("A-3", STORY))
    assert ["F1", "S<F1"] == sketch(descent_of("S", STORY))


def test_nodes_are_above_it_itself_or_below_it() -> None:
    places = {node.id: node.place for node in descent_of("A-3", STORY)}
    above, below = dict.fromkeys(("F1", "A", "A-2"), "above"), dict.fromkeys(("A-6", "B1", "C"), "below")
    assert {**above, "A-3": "itself", **below} == places


def test_each_step_shows_how_far_it_is_and_what_was_made_and_lost() -> None:
    nodes = {node.id: node for node in descent_of("A-3", STORY)}
    grain = nodes["A-3"]
    told = (grain.numbers.transfers, grain.numbers.steps_since_wild, grain.numbers.spawn_generation, grain.method)
    assert (2, 2, 1, "transfer") == told
    assert (Ref("A-2", 1), Ref("A-2", 2)) == grain.parents
    assert (6, 2, (("bacteria", 2),)) == (nodes["A"].made, nodes["A"].lost, nodes["A"].causes)
    assert (4, 1, (("green mould", 1),), "fruiting") == (
        nodes["B1"].made, nodes["B1"].lost, nodes["B1"].causes, nodes["B1"].stage,
    )  # fmt: skip
    assert {"A": True, "C": True, "A-2": False, "A-3": False} == {
        id: nodes[id].begins_line for id in ("A", "C", "A-2", "A-3")
    }


def test_an_unconfirmed_find_leaves_everything_below_it_unconfirmed() -> None:
    unsure = known(find("F1", certainty="likely"), culture("A", "F1", method="tissue"), batch("B", "A"))
    assert [False, False, False] == [node.confirmed for node in descent_of("A", unsure)]
    assert [True] * 8 == [node.is_sure for node in descent_of("A", STORY)]


def test_a_doubt_goes_all_the_way_down_from_where_it_began() -> None:
    rows = known(
        F1,
        culture("A", "F1", 1, method="tissue"),
        culture("A-2", "A", 2),
        culture("A-3", "A-2", 5),
        batch("B", "A-3", 9),
        note("A-2", 4, stage="doubtful"),
    )
    doubts = {node.id: node.doubt for node in descent_of("A", rows)}
    assert {"F1": None, "A": None, "A-2": "A-2", "A-3": "A-2", "B": "A-2"} == doubts
    assert not next(node for node in descent_of("A", rows) if node.id == "B").is_sure


def test_what_was_received_is_at_the_top_and_says_from_whom() -> None:
    rows = known(culture("R", received_from="the ferry baker", method="received", transfers_before=2), batch("B", "R"))
    first, second = descent_of("R", rows)
    assert ("R", None, "the ferry baker", True) == (first.id, first.stem, first.received_from, first.has_no_origin)
    assert (2, None, False) == (
        second.numbers.transfers, second.numbers.steps_since_wild, second.has_no_origin,
    )  # fmt: skip


def test_a_culture_of_two_parents_comes_after_both_and_hangs_under_the_later_row() -> None:
    rows = known(
        F1, find("F2", 1), culture("A", "F1", 2, method="tissue"), culture("B", "F2", 3, method="tissue"),
        culture("M", "A, B", 4), culture("N", "M", 5),
    )  # fmt: skip
    nodes = descent_of("M", rows)
    assert ["F1", "A<F1", "F2", "B<F2", "M<B", "N<M"] == sketch(nodes)
    assert (Ref("A"), Ref("B")) == nodes[4].parents


def test_a_parent_outside_the_tree_is_named_as_one() -> None:
    both = [culture(id, "F1", 1, method="tissue") for id in ("A", "X")]
    rows = known(F1, *both, batch("B", "A, X", 5))
    bred = next(node for node in descent_of("A", rows) if node.id == "B")
    assert ((Ref("A"),), (Ref("X"),)) == (bred.parents, bred.elsewhere)


def test_a_find_is_the_top_of_its_own_tree() -> None:
    assert ["F1", ".S<F1", "A<F1"] == sketch(descent_of("F1", STORY))[:3]


def test_what_goes_round_in_a_circle_stands_once_and_in_the_same_order_each_time() -> None:
    rows = known(
        F1, culture("A", "F1, C", 1), culture("B", "A", 2), culture("C", "B", 3), culture("D", "C", 4),
        culture("E", "E", 5),
    )  # fmt: skip
    assert ["F1", "A", "B<A", "C<B", "D<C"] == sketch(descent_of("B", rows))
    assert ["E"] == sketch(descent_of("E", rows))


def test_a_tent_has_no_descent() -> None:
    with pytest.raises(KeyError):
        descent_of("nothing", STORY)


@st.composite
def trees(draw: st.DrawFn) -> list[Culture]:
    """Cultures that each name one or two earlier ones, in any order of dates."""
    rows = [culture("C0", "F1", 0, method="tissue")]
    for number in range(1, draw(st.integers(1, 40))):
        parents = draw(st.lists(st.integers(0, number - 1), min_size=1, max_size=2, unique=True))
        named = ", ".join(f"C{parent}" for parent in parents)
        rows.append(culture(f"C{number}", named, draw(st.integers(0, 300))))
    return rows


@given(trees(), st.randoms())
def test_every_node_comes_once_after_all_its_parents_however_the_files_were_listed(rows: Any, chance: Any) -> None:
    nodes = descent_of("C0", known(F1, *rows))
    at = {node.id: place for place, node in enumerate(nodes)}
    assert len(rows) + 1 == len(nodes) == len(at)
    for node in nodes:
        assert all(at[parent.id] < at[node.id] for parent in node.parents)
        assert node.stem is None or node.stem in {parent.id for parent in node.parents}
    shuffled = list(rows)
    chance.shuffle(shuffled)
    assert sketch(nodes) == sketch(descent_of("C0", known(F1, *shuffled)))


@given(trees())
def test_branches_of_a_tree_of_single_parents_stay_as_few_as_it_can_be_halved(rows: Any) -> None:
    single = [culture(row.id, row.sources[0].id, row.date.first.day) for row in rows]
    nodes = descent_of("C0", known(F1, *single))
    assert max(node.branch for node in nodes) <= len(nodes).bit_length() - 1


def chain(length: int, **first: Any) -> Analysis:
    rows = [culture(f"C{number}", f"C{number - 1}", number) for number in range(1, length)]
    return known(F1, culture("C0", **first), *rows)


def test_a_tree_as_large_as_a_page_holds_is_given_whole() -> None:
    nodes = descent_of("C40", chain(WHOLE, received_from="unknown", method="received"))
    assert [f"C{number}" for number in range(WHOLE)] == [node.id for node in nodes]
    assert {(0, 0)} == {(node.left_out, node.more) for node in nodes}


def test_of_a_line_of_thousands_the_nearest_is_given_and_the_top_it_goes_back_to() -> None:
    of = chain(3000, received_from="unknown", method="received")
    nodes = descent_of("C1500", of)
    assert ["C0", *(f"C{number}" for number in range(1480, 1521))] == [node.id for node in nodes]
    assert {0} == {node.branch for node in nodes}
    assert ("C0", 1479) == (nodes[1].stem, nodes[1].left_out)
    assert 1 == nodes[-1].more
    assert {(0, 0)} == {(node.left_out, node.more) for node in nodes if node not in (nodes[1], nodes[-1])}
    assert [f"C{number}" for number in range(41)] == [node.id for node in descent_of("C0", of)]


def test_a_long_line_from_the_wild_shows_its_find() -> None:
    nodes = descent_of("C2999", chain(3000, sources="F1", method="tissue"))
    assert ("F1", "find", 0) == (nodes[0].id, nodes[0].kind, nodes[0].branch)
    assert ("C2959", "F1", 2959) == (nodes[1].id, nodes[1].stem, nodes[1].left_out)
    assert 42 == len(nodes)


def test_of_very_many_taken_from_one_some_are_given_and_the_rest_counted() -> None:
    many = [culture(f"C{number}", "C0", number) for number in range(1, 500)]
    nodes = descent_of("C0", known(F1, culture("C0", "F1", method="tissue"), *many))
    assert 42 > len(nodes)
    assert 499 == next(node for node in nodes if node.id == "C0").more + len(nodes) - 2


def test_the_time_of_a_tree_does_not_grow_with_the_line() -> None:
    short, long = (chain(length, received_from="unknown", method="received") for length in (200, 3200))
    least = min(_time(lambda: descent_of("C100", long)) / _time(lambda: descent_of("C100", short)) for _ in range(5))
    assert least < 4


def _time(work: Callable[[], object]) -> float:
    begun = thread_time()
    work()
    return thread_time() - begun
