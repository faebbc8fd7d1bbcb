"""Which words of a sentence are names of places or persons, and which capital letters mean nothing."""

from __future__ import annotations

import re

from journal.sharing.place_words import LANGUAGES, PLACES, Sentence, function_words, genera, is_word, suffixes
from journal.sharing.program_words import is_ordinary

_LATIN = re.compile(r"[a-z-]{2,}(?:us|um|a|is|ens|ans|i|ae|e|or|ax|ix|ops|es)")
_AUTHORS = frozenset(
    ("ex", "et", "f", "var", "subsp", "and", "sensu", "ss", "auct", "emend", "nom", "de", "von", "van")
)
_STARTS = ("definite", "indefinite", "number", "preposition", "beside", "route", "person_before", "speaking", "outdoor")
"""Classes of words that may precede a name and are not part of it."""
_NEAR = ("beside", "preposition")


def with_names(sentence: Sentence) -> Sentence:
    """The sentence with the further classes `name`, `person` and `nothing` (a capital letter that indicates no
    place)."""
    words = sentence.words
    meanings = [dict(means) for means in sentence.meanings]
    at = 0
    while at < len(words):
        if end := _latin(sentence, at):
            for inner in range(at, end):
                meanings[inner] = {"nothing": inner + 1}
            at = end
            continue
        end = at
        while end < len(words) and _is_name(sentence, end) and (end == at or not words[end - 1].ends_clause):
            end += 1
        if (end > at + 1 and sentence.after(end - 1, "kinds") == end) or (
            sentence.after(end, "kinds") and not words[end - 1].ends_clause
        ):
            at = max(end, at + 1)  # Douglas fir, King Oyster
        elif end > at:
            kind = "person" if _is_person(sentence, at, end) else "name"
            meanings[at][kind] = end
            for inner in range(at + 1, end):
                meanings[inner].setdefault(f"{kind} goes on", end)
            at = end
        else:
            at += 1
    return Sentence(words, sentence.language, tuple(meanings), sentence.indoors, sentence.outdoors)


def _latin(sentence: Sentence, at: int) -> int:
    """The end of a scientific name with its authors that begins at a word."""
    words = sentence.words
    word, behind = words[at], words[at + 1] if at + 1 < len(words) else None
    if not word.written[:1].isupper():
        return 0
    is_genus = word.low in genera()
    is_short = len(word.low) == 1
    has_epithet = (
        behind is not None
        and behind.written.islower()
        and len(behind.low) > 3
        and _LATIN.fullmatch(behind.low) is not None
        and not is_ordinary(behind.low)
        and sentence.language == "english"
    )
    if not (is_genus or (has_epithet and (is_short or _is_like_latin(word.low, behind.low)))):  # type: ignore[union-attr]
        return 0
    if not has_epithet or (is_short and word.ends_clause):
        return at + 1 if is_genus else 0
    end = at + 2
    while end < len(words) and (words[end].low in _AUTHORS or words[end].written[0].isupper()) and end < at + 9:
        end += 1
    return end


def _is_like_latin(genus: str, epithet: str) -> bool:
    return _GENUS.fullmatch(genus) is not None and _EPITHET.fullmatch(epithet) is not None


_GENUS = re.compile(r"[a-z]+(?:us|a|um|is|es|ys|e|gaster|pogon|inx)")
_EPITHET = re.compile(
    r"[a-z-]+(?:us|um|is|ens|ans|ii|ae|ata|osa|ica|aria|ea|ella|ina|oides|folia|cola|iceps|color|ipes)"
)


def _is_name(sentence: Sentence, at: int) -> bool:
    """Whether a word is written like an unknown name."""
    word, means = sentence.words[at], sentence.meanings[at]
    low = word.low.removesuffix("'s")
    if not word.written[0].isupper() or len(low) < 2 or any(sign.isdigit() for sign in low):
        return False
    if "harmless" in means or "known" in means or "capitals" in means or "trade" in means or low in genera():
        return False
    if word.written.isupper() and (len(low) < 6 or is_word(low)):
        return False
    if sentence.language == "german":
        return _is_german_name(sentence, at)
    if not word.opens:
        return True
    if "given_names" in means:
        return True
    if is_word(low) or (sentence.language in LANGUAGES and not low.endswith(suffixes(sentence.language))):
        return at + 1 < len(sentence.words) and not word.ends_clause and _starts_name(sentence, at)
    return True


def _starts_name(sentence: Sentence, at: int) -> bool:
    """Whether the first word of a sentence belongs to a name that continues after it."""
    behind, means = sentence.words[at + 1], sentence.meanings[at]
    is_other = any(each in means for each in _STARTS) or sentence.words[at].low in function_words("english")
    return behind.written[0].isupper() and not is_other and _is_name(sentence, at + 1)


def _is_german_name(sentence: Sentence, at: int) -> bool:
    """In such a language nouns have capital letters: a name has the ending of one, or follows a word for where
    something is."""
    low = sentence.words[at].low
    if any(low.endswith(one) and len(low) > len(one) + 2 for one in suffixes("german")):
        return True
    before = at - 1
    while (
        before >= 0
        and sentence.after(before, "definite", "adjective") == before + 1
        and not sentence.after(before, "beside")
    ):
        before -= 1
    return before >= 0 and bool(sentence.after(before, *_NEAR)) and not is_ordinary(low)


def _is_person(sentence: Sentence, start: int, end: int) -> bool:
    """Whether a name is a person's: after a title, before a verb of speech, or a given name alone."""
    words, means = sentence.words, sentence.meanings
    titled = bool(sentence.after(start - 1, "person_before", "titles")) or "titles" in means[start]
    if start and not titled and any(each in means[start - 1] for each in ("beside", "definite")):
        return False
    if start and words[start - 1].low in ("at", "in", "near", "of", "saint", "st"):
        return False
    if any(sentence.after(at, *PLACES, "one of them", "possessed_land", "saints") for at in range(start, end)):
        return False
    if words[end - 1].low.endswith("'s") and sentence.after(end, "possessed_land", "one of them", *PLACES):
        return False
    speaks = bool(sentence.after(end, "speaking")) and not words[end - 1].ends_clause and end - start < 3
    if "owner" in means[start]:
        return False
    is_given = "given_names" in means[start] and (end - start == 1 or "given_names" in means[start + 1])
    return is_given or speaks or titled


# -- which names reveal a place --------------------------------------------------------------------------------------


def nicknamed(sentence: Sentence, at: int) -> int:
    end = sentence.after(at, "nicknamed")
    return min(end + 3, len(sentence.words)) if end else 0


def name(sentence: Sentence, at: int) -> int:
    return sentence.after(at, "name")


def unknown(sentence: Sentence, at: int) -> int:
    """`grenock is finished`: a word that is in no dictionary, in a sentence that is not about a room."""
    word = sentence.words[at]
    if sentence.language != "english" or sentence.indoors or not word.written.islower() or not word.low.isalpha():
        return 0
    return at + 1 if len(word.low) > 4 and not is_word(word.low) else 0
