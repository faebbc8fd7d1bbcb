"""Numbers and letters that stand for a place: numbers of compartments, pegs or roads, spoken numbers, heights."""

from __future__ import annotations

import re

from journal.sharing.place_words import Sentence

_CODE = re.compile(r"[0-9]{1,6}[a-z]{0,2}|[a-z]{1,3}[0-9]{1,5}[a-z]?", re.IGNORECASE)
_ROAD = re.compile(r"[ABDLNK][0-9]{1,4}[a-z]?|[ME][0-9]{1,2}|DK[0-9]{1,3}|DW[0-9]{2,3}|R[0-9]{2,4}")


def code(sentence: Sentence, at: int) -> int:
    """`compartment 214f`, `peg 9`, `ref NK 452`."""
    words = sentence.words
    end = sentence.after(at, "code_noun")
    if not end or words[end - 1].ends_clause:
        return 0
    if at and sentence.after(at - 1, "labels") >= at and not words[at - 1].ends_clause:
        return 0
    if end < len(words) and words[end].low in ("no", "nr", "number", "numer", "is", "ref", "reference"):
        end += 1
    first = end
    while end < len(words) and end < first + 4 and _is_code(words[end].written):
        end += 1
        if words[end - 1].ends_clause:
            break
    has_digit = any(sign.isdigit() for word in words[first:end] for sign in word.low)
    return end if has_digit or (end == first + 1 and words[first].written not in ("I", "A")) else 0


def _is_code(written: str) -> bool:
    if written.isdigit() or any(sign.isdigit() for sign in written):
        return _CODE.fullmatch(written) is not None
    return written.isupper() and len(written) < 4


def odd_code(sentence: Sentence, at: int) -> int:
    """`HQ5`, out in the woods."""
    if not sentence.outdoors or sentence.indoors >= 1 or sentence.after(at - 1, "labels"):
        return 0
    return at + 1 if sentence.words[at].written[0].isupper() and _CODE.fullmatch(sentence.words[at].written) else 0


def two_groups(sentence: Sentence, at: int) -> int:
    """`4418 2093`: two groups of digits of one length."""
    words = sentence.words
    if at + 1 >= len(words) or words[at].ends_clause:
        return 0
    one, two = words[at].low, words[at + 1].low
    if not (one.isdigit() and two.isdigit() and 3 <= len(one) == len(two) <= 5):
        return 0
    is_label = any(sentence.after(before, "labels", "half_indoor") for before in range(max(0, at - 3), at))
    return 0 if is_label or (at + 2 < len(words) and words[at + 2].low.isdigit()) else at + 2


def spoken_numbers(sentence: Sentence, at: int) -> int:
    """`fifty-seven fifty-four`: two numbers in words, one after the other."""
    end, tens = at, 0
    while end < len(sentence.words) and sentence.words[end].low in _SPOKEN:
        tens += sentence.words[end].low in _TENS
        end += 1
    return end if tens > 1 or end - at > 2 else 0


_TENS = frozenset(("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"))
_SPOKEN = _TENS | frozenset(("decimal", "point", "zero", "oh", "one", "two", "three", "four", "five", "six", "seven"))
_SPOKEN |= frozenset(("eight", "nine", "ten", "eleven", "twelve"))


def road_number(sentence: Sentence, at: int) -> int:
    word = sentence.words[at]
    if not _ROAD.fullmatch(word.written) or sentence.after(at - 1, "labels"):
        return 0
    before = sentence.words[at - 1].low if at else ""
    is_led_to = before in ("the", "on", "off", "along", "via", "near", "past")
    return at + 1 if is_led_to or len(word.written) > 3 else 0


def code_alone(sentence: Sentence, at: int) -> int:
    return sentence.after(at, "code_alone")


_HIGH = re.compile(r"([0-9]{2,4}|[0-9],[0-9]{3})(m|ft)?")


def height(sentence: Sentence, at: int) -> int:
    """`at 410 m`, `900 m that day`."""
    number = _HIGH.fullmatch(sentence.words[at].low)
    if not number:
        return 0
    metres = int(number[1].replace(",", ""))
    before = sentence.words[at - 1].low if at else ""
    if metres < 60 or (metres < 100 and before not in _ABOUT):
        return 0
    return at + 1 if number[2] else sentence.after(at + 1, "near_unit")


_ABOUT = frozenset(
    ("at", "about", "around", "above", "below", "to", "near", "nearly", "roughly", "over", "under", "just")
)
