"""Lines, transfers, steps since the wild and spawn generations, by the definitions of the journal's format.

The trade's convention that the clone is T0 and each transfer counts one, and that grain from a plate is G1, is
*common practice*.
"""

from __future__ import annotations

import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.analysis.lineage import STARTS, Descent, Lineage, StepCount, lineage_of, way_of
from journal.model import Batch, Culture, Find
from tests.builders import batch, culture, find, journal_of


def lineage(*rows: Find | Culture | Batch) -> Lineage:
    return lineage_of(journal_of(*rows))


def counted(line: str, transfers: int, steps: int | None, generation: int | None) -> Descent:
    """The descent of one whose transfers are all known."""
    return Descent(line, transfers, steps, generation, transfers)


STORY = lineage(
    find("F1"),
    culture("A", "F1", method="tissue", form="plate"),
    culture("B", "A.2", form="plate"),
    culture("G", "B", form="grain"),
    culture("H", "G", form="grain"),
    culture("S", "H", form="sawdust"),
    batch("B1", "H"),
    culture("C", "B1.2", method="tissue", form="plate"),
    culture("D", "C"),
    culture("Sp", "B", method="spores"),
    culture("SpT", "Sp"),
)


@pytest.mark.parametrize(
    ("id", "expected"),
    [
        ("A", counted("A", 0, 0, None)),
        ("B", counted("A", 1, 1, None)),
        ("G", counted("A", 2, 2, 1)),
        ("H", counted("A", 3, 3, 2)),
        ("S", counted("A", 4, 4, 3)),
        ("B1", counted("A", 3, 3, 2)),
        ("C", counted("C", 0, 4, None)),
        ("D", counted("C", 1, 5, None)),
        ("Sp", counted("Sp", 0, 2, None)),
        ("SpT", counted("Sp", 1, 3, None)),
    ],
)
def test_a_descent_counts_as_the_format_defines(id: str, expected: Descent) -> None:
    assert expected == STORY.descents[id]


@pytest.mark.parametrize(
    ("expected", "row"),
    [
        (counted("R", 2, None, None), culture("R", method="received", transfers_before=2)),
        (Descent("R", None, None, None, 0), culture("R", method="received")),
        (counted("R", 0, None, None), culture("R", method="received", transfers_before=0)),
        (Descent("R", None, None, 1, 0), culture("R", method="received", form="grain")),
        (Descent(), culture("R")),
        (Descent(), culture("R", form="grain")),
        (Descent(), culture("R", "gone")),
    ],
)
def test_a_culture_alone(expected: Descent, row: Culture) -> None:
    assert expected == lineage(row).descents["R"]


def test_unknown_transfers_stay_unknown_down_the_line() -> None:
    unknown = culture("R", method="received")
    below = lineage(unknown, culture("T", "R"), culture("U", "T"), culture("V", "U"), batch("B", "V"))
    assert [Descent("R", None, None, None, 3)] * 2 == [below.descents["V"], below.descents["B"]]
    mixed = lineage(unknown, culture("K", method="spores"), culture("L", "K"), culture("M", "L, R"))
    assert (None, 2) == (mixed.descents["M"].transfers, mixed.descents["M"].transfers_at_least)
    anew = lineage(unknown, culture("S", "R", method="spores"), culture("W", "S"))
    assert counted("S", 1, None, None) == anew.descents["W"]


def test_transfers_begin_at_what_the_giver_told() -> None:
    story = lineage(culture("R", method="received", transfers_before=2), culture("T", "R"))
    assert counted("R", 3, None, None) == story.descents["T"]


def test_the_longest_way_counts_and_the_first_parent_gives_the_line() -> None:
    story = lineage(
        find("F"),
        culture("A", "F", method="tissue"),
        culture("L", "A"),
        culture("LL", "L"),
        culture("R", method="received", transfers_before=7),
        culture("M", "A, LL"),
        culture("N", "LL, R"),
    )
    assert (counted("A", 3, 3, None), counted("A", 8, 3, None)) == (story.descents["M"], story.descents["N"])


@pytest.mark.parametrize(
    ("expected", "form", "parents"),
    [
        (1, "grain", ("plate",)),
        (1, "grain", ("sawdust",)),
        (2, "grain", ("grain",)),
        (2, "sawdust", ("grain",)),
        (None, "sawdust", ("plate",)),
        (None, "plate", ("grain",)),
        (2, "grain", ("plate", "grain")),
    ],
)
def test_the_spawn_generation(expected: int | None, form: str, parents: tuple[str, ...]) -> None:
    rows = [culture(f"P{n}", method="received", form=one) for n, one in enumerate(parents)]
    taken = culture("X", ", ".join(row.id for row in rows), form=form)
    assert expected == lineage(*rows, taken).descents["X"].spawn_generation


def test_a_transfer_from_a_batch_goes_on_with_the_batchs_culture() -> None:
    told = culture("R", method="received", transfers_before=0)
    story = lineage(told, culture("T", "R"), batch("B", "T"), culture("X", "B"))
    assert counted("R", 2, None, None) == story.descents["X"]


def test_what_has_parents_of_two_lines_is_of_both_and_a_start_is_of_its_own_alone() -> None:
    two = lineage(
        find("F1"),
        culture("A", "F1", method="tissue"),
        culture("R", method="received"),
        culture("M", "R, A"),
        culture("N", "M"),
        batch("B", "N"),
        culture("C", "B", method="tissue"),
        batch("D", "C, A"),
    )
    told = {id: two.lines_of(id) for id in ("A", "M", "B", "C", "D")}
    assert {"A": ("A",), "M": ("A", "R"), "B": ("A", "R"), "C": ("C",), "D": ("A", "C")} == told


WAYS = (
    find("F1"),
    culture("A", "F1", method="tissue", form="plate"),
    culture("B", "A", form="plate"),
    culture("G", "A, B", form="grain"),
    culture("S", "G", form="sawdust"),
    batch("X", "S"),
    culture("C", "X", method="tissue", form="plate"),
    culture("D", "C", form="plate"),
    culture("R", method="received", transfers_before=3),
    culture("Q", "R"),
    culture("L"),
)


@pytest.mark.parametrize(
    ("way", "id", "number"),
    [
        (("A", "B", "G", "S"), "S", "transfers_at_least"),
        (("F1", "A", "B", "G", "S"), "S", "steps_since_wild"),
        (("G", "S"), "S", "spawn_generation"),
        (("C", "D"), "D", "transfers_at_least"),
        (("F1", "A", "B", "G", "S", "X", "C", "D"), "D", "steps_since_wild"),
        (("A",), "A", "transfers_at_least"),
        (("R", "Q"), "Q", "transfers_at_least"),
        (("L",), "L", "transfers_at_least"),
        (("Q",), "Q", "steps_since_wild"),
    ],
)
def test_a_number_is_counted_along_the_longest_way(way: tuple[str, ...], id: str, number: StepCount) -> None:
    assert way == way_of(id, number, lineage(*WAYS), {"X"})


def test_what_has_no_start_above_it_is_of_no_line() -> None:
    assert () == lineage(culture("A")).lines_of("A")


def test_ancestors_are_every_find_culture_and_batch_above() -> None:
    assert ("A", "B", "B1", "F1", "G", "H") == STORY.ancestors_of("C")


def test_descendants_are_every_culture_and_batch_below() -> None:
    assert ("B1", "C", "D", "S") == STORY.descendants_of("H")


@pytest.mark.parametrize(("expected", "id"), [(("F1",), "D"), (("F1",), "B1"), (("F1",), "F1")])
def test_wild_origins_are_the_finds_above(expected: tuple[str, ...], id: str) -> None:
    assert expected == STORY.wild_origins_of(id)


def test_a_part_named_twice_is_one_parent() -> None:
    assert ("A",) == lineage(culture("A", method="received"), culture("B", "A.1, A.2")).parents["B"]


def test_a_circle_leaves_those_in_it_without_numbers_and_ends() -> None:
    story = lineage(culture("A", "B"), culture("B", "A"), culture("C", method="received"))
    assert (Descent(), Descent("C", None, None, None, 0)) == (story.descents["A"], story.descents["C"])
    assert ("B",) == story.ancestors_of("A")


def test_a_chain_longer_than_the_stack_is_counted() -> None:
    last = 2 * sys.getrecursionlimit()
    rows = [culture("C0", method="received"), *(culture(f"C{n}", f"C{n - 1}") for n in range(1, last + 1))]
    assert Descent("C0", None, None, None, last) == lineage(*reversed(rows)).descents[f"C{last}"]


def naive(rows: dict[str, Find | Culture | Batch], id: str) -> Descent:
    """The format's sentences, word by word, with no thought for speed."""
    row = rows[id]
    if isinstance(row, Batch):
        above = [naive(rows, one.id) for one in row.cultures]
        return Descent(
            next((d.line for d in above if d.line), None),
            None if any(map(is_unknown, above)) else biggest([d.transfers for d in above]),
            biggest([d.steps_since_wild for d in above]),
            biggest([d.spawn_generation for d in above]),
            biggest([d.transfers_at_least for d in above]),
        )
    assert isinstance(row, Culture)
    parents = [rows[one.id] for one in row.sources]
    if row.method == "transfer" and not parents:
        return Descent()
    alive = [(parent, naive(rows, parent.id)) for parent in parents if not isinstance(parent, Find)]
    start = row.method in STARTS
    steps = biggest([None if d.steps_since_wild is None else d.steps_since_wild + 1 for _, d in alive])
    if steps is None and any(isinstance(parent, Find) for parent in parents):
        steps = 0
    grain = [d.spawn_generation for p, d in alive if isinstance(p, Culture) and p.form == "grain"]
    generation = None
    if row.form in ("grain", "sawdust") and grain:
        generation = biggest([None if g is None else g + 1 for g in grain])
    elif row.form == "grain":
        generation = 1
    more = biggest([None if d.transfers_at_least is None else d.transfers_at_least + 1 for _, d in alive])
    at_least = (row.transfers_before or 0) if start else more
    is_without_text = start and row.method == "received" and row.transfers_before is None
    unknown = is_without_text or (not start and any(is_unknown(d) for _, d in alive))
    return Descent(
        row.id if start else next((d.line for _, d in alive if d.line), None),
        None if unknown else at_least,
        steps,
        generation,
        at_least,
    )


def is_unknown(descent: Descent) -> bool:
    return descent.transfers is None and descent.transfers_at_least is not None


def biggest(values: list[int | None]) -> int | None:
    numbers = [value for value in values if value is not None]
    return max(numbers) if numbers else None


@st.composite
def stories(draw: st.DrawFn) -> list[Find | Culture | Batch]:
    """Up to a dozen rows, each taken only from rows before it."""
    rows: list[Find | Culture | Batch] = []
    for n in range(draw(st.integers(1, 12))):
        sort = draw(st.sampled_from(["find", "culture", "culture", "culture", "batch"]))
        if sort == "find":
            rows.append(find(f"X{n}"))
        elif sort == "batch":
            cultures = [row.id for row in rows if isinstance(row, Culture)]
            rows.append(batch(f"X{n}", ", ".join(draw(some_of(cultures)))))
        else:
            rows.append(
                culture(
                    f"X{n}",
                    ", ".join(draw(some_of([row.id for row in rows]))),
                    method=draw(st.sampled_from(["tissue", "spores", "received", "transfer", "transfer", "transfer"])),
                    form=draw(st.sampled_from([None, "plate", "grain", "sawdust"])),
                    transfers_before=draw(st.sampled_from([None, None, 0, 3])),
                )
            )
    return rows


def some_of(ids: list[str]) -> st.SearchStrategy[list[str]]:
    return st.lists(st.sampled_from(ids), max_size=3, unique=True) if ids else st.just([])


@given(stories(), st.randoms(use_true_random=False))
def test_any_story_agrees_with_the_definitions_taken_word_by_word(
    rows: list[Find | Culture | Batch], random: object
) -> None:
    shuffled = list(rows)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    by_id = {row.id: row for row in rows}
    assert {id: naive(by_id, id) for id, row in by_id.items() if not isinstance(row, Find)} == dict(
        lineage(*shuffled).descents
    )
