"""Passages for the keeper alone."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.reading.private_passages import COUNTS_AS_PRIVATE, private_problems, split_private
from tests.growth import filled, grows_faster_than_a_scan


def test_a_passage_is_between_its_two_lines() -> None:
    text = "seen by all\n::: keeper\nthe third alder\n:::\nagain by all\n"
    assert (("seen by all\n", False), ("the third alder\n", True), ("again by all\n", False)) == split_private(text)
    assert [] == list(private_problems("a.md", text, 5))


@pytest.mark.parametrize("line", ["::: keeper", ":::keeper", "::: Keeper", "  ::: keeper  ", ":::: keeper ::::"])
def test_what_looks_like_the_beginning_of_a_passage_is_one(line: str) -> None:
    assert (("secret\n", True),) == split_private(f"{line}\nsecret\n:::\n")


def test_a_passage_never_closed_goes_to_the_end_and_is_odd() -> None:
    text = "all\n\n::: keeper\nsecret\n\nmore\n"
    assert (("all\n\n", False), ("secret\n\nmore\n", True)) == split_private(text)
    (problem,) = private_problems("a.md", text, 10)
    assert ("a.md", 12, "warning") == (problem.path, problem.line, problem.severity)
    assert "never ends" in problem.message


@pytest.mark.parametrize(
    "line",
    [
        "> ::: keeper", "- ::: keeper", ":: keeper", "::: keeper only", "::: private", ":::private", "::::: keeper",
        "::: Keeper", "\uff1a\uff1a\uff1a keeper", "::: privat", "    ::: private", "1. ::: private", "> - ::: private",
        "::: keepr", "::: prviate", "::: **private**", "::: {.keeper}", ": : : private", ":: privé", "::: x",
        ": private", "private :::", "Private:", "and so on ::: private", "\\:::\u200b private",
    ],
)  # fmt: skip
def test_what_looks_like_the_beginning_of_a_passage_counts_as_one_and_is_reported(line: str) -> None:
    text = f"all\n{line}\nsecret\n"
    assert ("all\n", False) == split_private(text)[0]
    assert [True] == [hidden for _, hidden in split_private(text)[1:]]
    told = list(private_problems("a.md", f"{text}:::\n", 10))
    plain = line.strip().replace("\uff1a", ":") in (
        "::: private", ":::private", "::::: keeper", "::: Keeper", "::: keeper",
    )  # fmt: skip
    assert ([] if plain else [11]) == [problem.line for problem in told]
    assert all(COUNTS_AS_PRIVATE in problem.message and "::: private" in problem.fix for problem in told)


@pytest.mark.parametrize(
    "text",
    ["Note: keep it dry.", "On day 3: pins.", "- keeper: asked", "at 14:05: keeper", "std::string", "a :: b"],
)
def test_other_colons_hide_nothing(text: str) -> None:
    assert ((text, False),) == split_private(text)
    assert [] == list(private_problems("a.md", text, 1))


def test_words_behind_a_mark_belong_to_its_passage() -> None:
    text = "all\n::: keeper the third alder\nmore\n:::\nall\n"
    assert (("all\n", False), ("::: keeper the third alder\nmore\n", True), ("all\n", False)) == split_private(text)


def test_a_passage_in_a_quote_ends_in_it_and_one_outside_does_not() -> None:
    assert (("> secret\n", True), ("all\n", False)) == split_private("> ::: private\n> secret\n> :::\nall\n")
    assert (("secret\n> :::\nmore\n", True),) == split_private("::: private\nsecret\n> :::\nmore\n")


def test_what_is_above_a_line_that_closes_nothing_is_hidden() -> None:
    text = "keeper\nsecret\n:::\nall\n"
    assert (("keeper\nsecret\n", True), ("all\n", False)) == split_private(text)
    (problem,) = private_problems("a.md", text, 10)
    assert 12 == problem.line
    assert COUNTS_AS_PRIVATE in problem.message


@pytest.mark.parametrize("piece", [":", ": ", "> ", "::: ", "1.", "private", "private:", "::a", "\uff1a", "- :::x\n"])
def test_a_long_text_of_marks_is_read_in_one_go(piece: str) -> None:
    assert not grows_faster_than_a_scan(split_private, filled("", piece), 10_000)


def test_two_passages_are_two() -> None:
    text = "::: keeper\na\n:::\nb\n::: keeper\nc\n:::\n"
    assert (("a\n", True), ("b\n", False), ("c\n", True)) == split_private(text)


@given(st.lists(st.sampled_from(["::: keeper\n", ":::\n", "words\n", "\n", "::: x\n", "last"]), max_size=12))
def test_no_line_is_lost_but_those_that_turn(lines: list[str]) -> None:
    text = "".join(lines)
    kept = "".join(passage for passage, _ in split_private(text))
    assert text.count("words") == kept.count("words")
    assert text.count("last") == kept.count("last")
