"""A text as it reads, with the way back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.sharing.normalise import Normalised, normalise


@pytest.mark.parametrize(
    ("reads", "text"),
    [
        ("Alder Bank", "Alder Bank"),
        ("Alder Bank", "Al**der** Ba`nk`"),
        ("B-031", "B\\-031"),
        ("B-031", "B‑031"),  # a hyphen that does not break
        ("B-031", "B−031"),
        ("Brae", "Braé"),
        ("Brae", "Brae\u0301"),
        ("Alder Bank", "Alder&nbsp;Bank"),
        ("Alder Bank", "Al&#100;er &#x42;ank"),
        ("Alder", "Al\u00adder"),  # a soft hyphen
        ("Alder", "Al\u200bder"),  # a space of no width
        ("58°18'14.8\"N", "58º18′14.8″N"),
        ("14:05", "１４:０５"),
        ("58.30412", "58\N{MIDDLE DOT}30412"),
        ("B-031", "\N{CYRILLIC CAPITAL LETTER VE}-031"),
        ("B-031", "B-\N{SUPERSCRIPT ZERO}\N{SUPERSCRIPT THREE}\N{SUPERSCRIPT ONE}"),
        ("Alder Bank", "Al<b>der</b> <span>Bank</span>"),
        ("Alder Bank", "Alder<br>Bank"),
        ("a < b, <porter@alder.example>", "a < b, <porter@alder.example>"),
        ("Alder", "Al\ue001der"),  # a sign that stands for a link
    ],
)
def test_what_hides_in_a_word_is_undone(reads: str, text: str) -> None:
    assert reads == Normalised(text).plain
    assert reads == normalise(text)


@given(text=st.text(max_size=40))
def test_every_letter_knows_where_it_stands(text: str) -> None:
    folded = Normalised(text)
    assert len(folded.low) == len(folded.plain)
    for at in range(len(folded.plain)):
        start, end = folded.original(at, at + 1)
        assert 0 <= start < end <= len(text)
        assert folded.plain[at] in Normalised(text[start:end]).plain


def test_a_stretch_of_what_reads_is_found_in_the_text() -> None:
    text = "at **Al&#100;er** Bank"
    folded = Normalised(text)
    start = folded.plain.index("Alder Bank")
    assert "Al&#100;er** Bank" == text[slice(*folded.original(start, start + 10))]
