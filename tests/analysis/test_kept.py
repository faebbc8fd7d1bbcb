from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from functools import cached_property
from typing import Any

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.kept import EachKept, each_kept, kept, kept_equal
from journal.model import Journal, Position, Ref
from journal.settings import Settings, Tent, ValueRange
from tests.builders import batch, culture, find, journal_of, note, when


class TestKept:
    """What is made again, and what is not."""

    @pytest.fixture
    def journal(self) -> Journal:
        return journal_of()

    @pytest.fixture
    def made(self) -> list[tuple[object, ...]]:
        return []

    @pytest.fixture
    def make(self, made: list[tuple[object, ...]]) -> Callable[..., object]:
        def run(*inputs: object) -> object:
            made.append(inputs)
            return [*inputs]

        return run

    def test_of_the_very_same_inputs_it_is_made_once(self, journal: Journal, make, made) -> None:
        one = [1]
        first = kept(journal, "toy", make, one, "x")
        assert kept(replace(journal, problems=()), "toy", make, one, "x") is first
        assert made == [(one, "x")]

    def test_an_equal_value_is_the_one_before(self, journal: Journal) -> None:
        first = kept_equal(journal, "toy", {"a": "x"})
        assert kept_equal(replace(journal, problems=()), "toy", {"a": "x"}) is first
        assert kept_equal(journal, "another", {"a": "x"}) is not first
        second = kept_equal(journal, "toy", {"a": "y"})
        assert second == {"a": "y"}
        assert kept_equal(journal, "toy", {"a": "x"}) is not first, "only the last is kept"

    @pytest.mark.parametrize("others", [([1],), ([2],), (), ("more",)])
    def test_of_other_inputs_it_is_made_again(self, journal: Journal, make, made, others: tuple[object, ...]) -> None:
        """Also of an equal one, which may not be the same in everything: 1 == 1.0."""
        one = [1]
        kept(journal, "toy", make, one)
        inputs = others if others != ("more",) else (one, "more")
        assert kept(journal, "toy", make, *inputs) == [*inputs]
        assert len(made) == 2

    def test_by_key_only_what_has_another_input_is_made_again(self, journal: Journal, make, made) -> None:
        one, two, three = [1], [2], [3]
        first = each_kept(journal, "toys", make, {"a": (one,), "b": (two,), "gone": (one,)})
        second = each_kept(journal, "toys", make, {"a": (one,), "b": (three,)})
        assert made == [(one,), (two,), (one,), (three,)]
        assert (second["a"] is first["a"], second["b"], [*second]) == (True, [three], ["a", "b"])
        assert each_kept(journal, "toys", make, {"a": (one,), "b": (three,)}) is second
        each_kept(journal, "toys", make, {"gone": (one,)})
        assert len(made) == 5

    def test_in_another_order_the_mapping_is_another(self, journal: Journal, make) -> None:
        one, two = [1], [2]
        each_kept(journal, "toys", make, {"a": (one,), "b": (two,)})
        assert [*each_kept(journal, "toys", make, {"b": (two,), "a": (one,)})] == ["b", "a"]

    def test_a_key_that_is_asked_for_twice_is_made_once(self, journal: Journal, make, made) -> None:
        found: EachKept[str, object] = EachKept(journal, "toys")
        one = [1]
        assert found.of("a", make, one) is found.of("a", make, one)
        assert len(made) == 1


TENT = Tent(id="grow", name="Grow", temperature_c=ValueRange(29, 31))
AT = Position(56.0, -3.0, 5.0, "entry")
ROWS = (
    find("F-1", 1, position=AT, species="Pleurotus ostreatus", certainty="confirmed", identified_by="spores"),
    find("F-2", 2, position=replace(AT, lat_deg=56.0001)),
    culture("C-1", "F-1", 3, method="tissue", form="plate", vessels=5, species="Pleurotus ostreatus"),
    culture("C-2", "C-1", 8, form="grain", vessels=4, species="Pleurotus ostreatus"),
    culture("C-3", "F-2", 4, method="tissue", form="plate"),
    *(
        batch(f"B-{at}", "C-2", 10 + at, units=4, dry_g=500.0, spawn_g=200.0, species="Pleurotus ostreatus")
        for at in range(1, 7)
    ),
    *(note(f"B-{at}", 20 + at, stage="colonised") for at in range(1, 7)),
    *(note(f"B-{at}", 25 + at, stage="pinning") for at in range(1, 5)),
    *(note(f"B-{at}", 30 + at, harvest_g=700.0 + at, flush=1) for at in range(1, 5)),
    *(note(f"B-{at}", 40 + at, stage="spent") for at in range(1, 4)),
    batch("B-7", "C-3", 11, units=2, species="Pleurotus citrinopileatus", tent="grow"),
    note("B-7", 31, stage="colonised"),
    note("B-7", 32, moved_to="grow"),
    note("F-1", 12, stage="prime"),
)


def more(*notes: Any) -> Callable[[Journal], Journal]:
    return lambda journal: replace(journal, notes=(*journal.notes, *notes))


def other(kind: str, id: str, **values: Any) -> Callable[[Journal], Journal]:
    """With other values of one find, culture or batch."""

    def edit(journal: Journal) -> Journal:
        rows = getattr(journal, kind)
        return replace(journal, **{kind: tuple(replace(row, **values) if row.id == id else row for row in rows)})

    return edit


EDITS: dict[str, Callable[[Journal], Journal]] = {
    "a stage": more(note("B-5", 33, stage="pinning")),
    "a batch more that is finished": more(note("B-4", 50, stage="spent")),
    "a batch less that is finished": lambda j: replace(j, notes=tuple(n for n in j.notes if n.date.first != SPENT)),
    "a culture in doubt": more(note("C-1", 7, stage="doubtful")),
    "losses of a culture": more(note("C-2", 9, lost=2, cause="mould")),
    "losses of a batch": more(note("B-6", 22, lost=1)),
    "more than can be": more(note("B-5", 34, harvest_g=90_000.0, flush=1)),
    "a day that is too early": more(note("B-5", 1, stage="pinning")),
    "a later day": more(note("C-3", 300)),
    "another name of a find": more(note("F-1", 13, species="Pleurotus pulmonarius")),
    "a visit": more(note("F-2", 14, stage="nothing there")),
    "a find that joins": lambda j: replace(j, finds=(*j.finds, find("F-3", 15, position=AT))),
    "another origin": other("cultures", "C-1", sources=(Ref("F-2"),)),
    "another culture": other("batches", "B-2", cultures=(Ref("C-3"),)),
    "another mass": other("batches", "B-2", dry_g=400.0),
    "another species": other("batches", "B-3", species="Hericium erinaceus"),
    "a batch less": lambda j: replace(j, batches=j.batches[1:]),
    "another order": lambda j: replace(j, batches=j.batches[::-1]),
    "another tent": lambda j: replace(j, settings=replace(j.settings, tents=())),
    "own dry shares": lambda j: replace(j, settings=replace(j.settings, ingredients=(("grain spawn", 0.6),))),
    "an older newest file": lambda j: replace(j, newest=SPENT - timedelta(days=3)),
}
SPENT = when(43).first
FIGURES = sorted(name for name, one in vars(Analysis).items() if isinstance(one, cached_property))


@pytest.mark.parametrize("edit", EDITS)
def test_every_figure_of_a_journal_that_was_changed_is_as_from_nothing(edit: str) -> None:
    """Also after it was changed back, and once more."""
    before = replace(journal_of(*ROWS), settings=Settings(tents=(TENT,)))
    after = EDITS[edit](before)
    for journal in (before, after, before, after):
        found, expected = Analysis(journal), Analysis(replace(journal, figures={}))
        for name in FIGURES:
            assert getattr(found, name) == getattr(expected, name), name
            assert repr(getattr(found, name)) == repr(getattr(expected, name)), name
    changed = [name for name in FIGURES if getattr(Analysis(before), name) != getattr(Analysis(after), name)]
    assert changed
