"""Passphrases: five words by chance, or the author's own where an estimate finds them strong enough."""

from __future__ import annotations

import math
import secrets
from functools import cache
from importlib.resources import files

from journal.locking.cipher import normal
from journal.problems import Refusal

WORDS = 5
LEAST_BITS = 64
_LIST_WORDS = 7776
_LONGEST_ESTIMATED = 72
"""Characters; the estimator takes no more, and what is longer is no weaker than its beginning."""


@cache
def word_list() -> tuple[str, ...]:
    """7,776 English words of 3 to 9 letters. *Source:* Electronic Frontier Foundation, long word list (2016), by way of
    `xkcdpass`."""
    text = files("xkcdpass").joinpath("static/eff-long").read_text(encoding="utf-8")
    words = tuple(dict.fromkeys(text.split()))
    if len(words) != _LIST_WORDS:
        raise RuntimeError(f"the word list has {len(words)} words where {_LIST_WORDS} are expected")
    return words


def generated() -> str:
    """Five words, each by chance out of 7,776: 64.6 bits."""
    return " ".join(secrets.choice(word_list()) for _ in range(WORDS))


_WORD_BITS = math.log2(_LIST_WORDS)
_LETTER_BITS = 2.4


def estimated_bits(passphrase: str) -> float:
    """How many guesses a passphrase would take, as a power of two, whichever of two estimates is the lower.

    The one is `zxcvbn`'s, of the first 72 characters (*Source:* D. Wheeler, zxcvbn: low-budget password strength
    estimation, USENIX Security 2016). It knows no sentences, so the other counts words, each once: what the word list
    has as one of 7,776, other words with 2.4 bits a letter and no more than that (English text has less; *Source:*
    C. Shannon, Prediction and entropy of printed English, 1951), and what is not a word by `zxcvbn`.
    """
    text = normal(passphrase).decode()[:_LONGEST_ESTIMATED]
    parts = sorted({part.casefold() for part in text.split()})
    return min(_guesses_bits(text), sum(map(_part_bits, parts)))


def _part_bits(part: str) -> float:
    if not part.isalpha():
        return _guesses_bits(part)
    return _WORD_BITS if part in word_list() else min(_LETTER_BITS * len(part), _WORD_BITS)


def _guesses_bits(text: str) -> float:
    from zxcvbn import zxcvbn

    return math.log2(float(zxcvbn(text)["guesses"])) if text else 0.0


def refuse_weak(passphrase: str) -> None:
    """Raises Refusal for one that would be found by trying. Anyone who has the site can try as often as they like."""
    bits = estimated_bits(passphrase)
    if bits < LEAST_BITS:
        raise Refusal(
            f"this passphrase would take about 2^{int(bits)} guesses, and at least 2^{LEAST_BITS} are needed, since "
            "whoever copies the site can try as often as they like; let five words be made, or add unrelated words"
        )
