"""What the program says of itself."""

from __future__ import annotations

import pytest

from journal.sharing.program_words import own_words, page_texts


@pytest.mark.parametrize("word", ["fan", "light", "tent", "wood", "pinning", "harvest", "november", "maitake"])
def test_words_of_pages_and_of_the_trade_are_its_own(word: str) -> None:
    assert word in own_words()


@pytest.mark.parametrize("word", ["biological", "handful", "pauses"])
def test_words_in_the_rows_of_its_tables_of_data_are_its_own(word: str) -> None:
    assert word in own_words()


@pytest.mark.parametrize("word", ["baker", "zanzibar", "crofter", "heron"])
def test_words_of_a_author_are_not(word: str) -> None:
    assert word not in own_words()


def test_what_only_explains_the_sources_is_not_said() -> None:
    assert not [text for text in page_texts() if "Words that the program says of itself on every site" in text]


@pytest.mark.parametrize("word", ["photoperiod", "primordia", "ferry", "baker"])
def test_words_that_no_page_of_a_share_shows_are_none_of_the_sites(word: str) -> None:
    assert word not in own_words()
