"""What is told of the keys."""

from __future__ import annotations

import pytest

from journal.reading.entries import read_entry
from journal.reading.key_help import KIND_MEANS, TAKES, KeyHelp, help_of
from journal.reading.keys import COMMON_KEYS, KEYS, KINDS
from journal.reading.values import NOTATIONS
from journal.settings import Settings

ROWS = [pytest.param(kind, row, id=f"{kind}-{row.name}") for kind in KINDS for row in help_of(kind)]


@pytest.mark.parametrize(("kind", "row"), [*ROWS, *(pytest.param("note", row, id=row.name) for row in help_of(None))])
def test_every_key_says_what_it_means_and_takes_and_its_example_is_read(kind: str, row: KeyHelp) -> None:
    lines = dict.fromkeys([f"kind: {kind}", row.example]) if row.name != "kind" else [row.example]
    read = read_entry("e.md", "\n".join(["---", *lines, "---", ""]).encode(), Settings())
    assert read is not None
    assert row.name in read.values
    assert not [problem for problem in read.problems if problem.line == len(list(lines)) + 1]
    assert row.means
    assert row.takes


def test_every_key_of_a_kind_is_shown_once() -> None:
    for kind in KINDS:
        assert list(KEYS[kind]) == [row.name for row in (*help_of(None), *help_of(kind))]
    assert list(COMMON_KEYS) == [row.name for row in help_of(None)]
    assert set(KIND_MEANS) == set(KINDS)


def test_every_way_of_writing_a_value_is_shown_in_words() -> None:
    assert set(NOTATIONS) - {"word", "stage"} == set(TAKES)


def test_the_words_of_a_key_are_told_with_what_is_read_as_them() -> None:
    rows = {row.name: row for row in (*help_of("culture"), *help_of("note"))}
    assert rows["form"].takes.startswith("`plate`, `slant`, `liquid`, `syringe`, ")
    assert "`agar`" in rows["form"].also
    assert "of a find `nothing there`, `young`, `prime`, `past`" in rows["stage"].takes
    assert "of a batch or culture: `pins`, " in rows["stage"].also
    assert "of a find: `pins`, `primordia`, `buttons` = `young`" in rows["stage"].also
    assert rows["cause"].takes.endswith("`unknown`, or your own words")
    assert "heat" == rows["treatment"].older
