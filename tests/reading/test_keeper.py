"""Passages for the keeper alone."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.reading.keeper import keeper_problems, split_keeper


def test_a_passage_stands_between_its_two_lines() -> None:
    text = "seen by all\n::: keeper\nthe third alder\n:::\nagain by all\n"
    assert (("seen by all\n", False), ("the third alder\n", True), ("again by all\n", False)) == split_keeper(text)
    assert [] == list(keeper_problems("a.md", text, 5))


@pytest.mark.parametrize("line", ["::: keeper", ":::keeper", "::: Keeper", "  ::: keeper  ", ":::: keeper ::::"])
def test_what_looks_like_the_beginning_of_a_passage_is_one(line: str) -> None:
    assert (("secret\n", True),) == split_keeper(f"{line}\nsecret\n:::\n")


def test_a_passage_never_closed_goes_to_the_end_and_is_odd() -> None:
    text = "all\n\n::: keeper\nsecret\n\nmore\n"
    assert (("all\n\n", False), ("secret\n\nmore\n", True)) == split_keeper(text)
    (problem,) = keeper_problems("a.md", text, 10)
    assert ("a.md", 12, "odd") == (problem.path, problem.line, problem.weight)
    assert "never closed" in problem.says


def test_a_line_that_only_seems_to_begin_a_passage_is_odd() -> None:
    text = "all\n::: keepr\nnot so secret\n:::\n"
    assert ((text, False),) == split_keeper(text)
    (problem,) = keeper_problems("a.md", text, 10)
    assert (11, "odd") == (problem.line, problem.weight)


def test_two_passages_are_two() -> None:
    text = "::: keeper\na\n:::\nb\n::: keeper\nc\n:::\n"
    assert (("a\n", True), ("b\n", False), ("c\n", True)) == split_keeper(text)


@given(st.lists(st.sampled_from(["::: keeper\n", ":::\n", "words\n", "\n", "::: x\n", "last"]), max_size=12))
def test_no_line_is_lost_but_those_that_turn(lines: list[str]) -> None:
    text = "".join(lines)
    kept = "".join(passage for passage, _ in split_keeper(text))
    assert text.count("words") == kept.count("words")
    assert text.count("last") == kept.count("last")
