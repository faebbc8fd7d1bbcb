"""Passphrases: five words by chance, and an honest estimate of others."""

from __future__ import annotations

import math

import pytest

from journal.locking.passphrases import LEAST_BITS, estimated_bits, generated, refuse_weak, word_list
from journal.problems import Refusal


def test_five_words_of_the_list_are_made_and_pass() -> None:
    assert 7776 == len(set(word_list()))
    made = [generated() for _ in range(5)]
    assert 5 == len(set(made))
    assert all(5 == len(words.split()) for words in made)
    assert LEAST_BITS < math.log2(7776**5) < 65


@pytest.mark.parametrize(
    ("typed", "is_strong"),
    [
        ("walnut drizzle kettle marina stubborn", True),
        ("WALNUT Drizzle kettle-marina stubborn amber 93", True),
        ("walnut drizzle kettle marina", False),
        ("walnut walnut walnut walnut walnut walnut", False),
        ("correct horse battery staple", False),
        ("to be or not to be that is the question", False),
        ("my mushrooms grow in the wash house", False),
        ("password123", False),
        ("aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa", False),
        ("v9$Lq2!xT7@kZm4&", False),
        ("v9$Lq2!xT7@kZm4&pW8#", True),
        ("x" * 5000, False),
        ("", False),
    ],
)
def test_weak_ones_are_refused(typed: str, is_strong: bool) -> None:
    assert is_strong == (estimated_bits(typed) >= LEAST_BITS)
    if not is_strong:
        with pytest.raises(Refusal, match="and at least 2\\^64 are needed"):
            refuse_weak(typed)
