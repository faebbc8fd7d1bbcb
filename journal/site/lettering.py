"""How wide a text comes out, for drawings, in which nothing wraps by itself. Widths are in em of the text's size."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache

_CLASSES = {
    0.34: "'ijlIJ ,.·’/:;\\|",
    0.42: "f-()[]t!r",
    0.54: '"*_`–°sz“”?c',
    0.62: "LFkvxyPTYaoeéäö",
    0.66: "ESbdghnpquüßK$0123456789{}",
    0.71: "AVBRXZC",
    0.80: "UHNDG&OQ",
    0.86: "w#+<=>^~−×M",
    1.00: "%mW@—",
}
_WIDTHS = {letter: width for width, letters in _CLASSES.items() for letter in letters}
_UNKNOWN = 1.0
_NARROWEST = min(_CLASSES)

MONO_EM = 0.625
"""A letter of the monospaced face, with the tracking that tags have."""


@lru_cache(maxsize=8192)
def width_em(text: str) -> float:
    """At most this wide in any face that pages are set in, upright or italic.

    *Source:* advance widths of DejaVu Sans, the widest face that pages name, rounded up by class.
    """
    return sum(_WIDTHS.get(letter, _UNKNOWN) for letter in text)


def mono_width_em(text: str) -> float:
    return len(text) * MONO_EM


@lru_cache(maxsize=8192)
def wrapped(text: str, room_em: float) -> tuple[str, ...]:
    """The text in lines that fit the room; a word that is wider than all of it is broken."""
    lines: list[str] = []
    for word in _pieces(text, room_em):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_em(longer) <= room_em:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(lines)


def _pieces(text: str, room_em: float) -> Iterator[str]:
    """The words of a text, cut where they are too wide; a number keeps its per cent."""
    longest = int(room_em / _NARROWEST) + 1
    for word in re.split(r" +(?!%)", text.strip(" ")):
        at = 0
        while at < len(word):
            rest = word[at : at + longest + 1]
            ends = range(len(rest) - 1, 1, -1) if at + len(rest) == len(word) else range(longest, 1, -1)
            if at + len(rest) == len(word) and width_em(rest) <= room_em:
                fitting = len(rest)
            else:
                fitting = next((end for end in ends if width_em(rest[:end]) <= room_em), 1)
            yield rest[:fitting]
            at += fitting
