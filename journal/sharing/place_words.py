"""Sentences of a text, each word with what it may mean where somebody says where something is."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from journal.data import read_table
from journal.sharing.normalise import normalise
from journal.sharing.program_words import is_ordinary, own_words

_WORD = re.compile(r"[^\W_]+(?:'[^\W_]+)*")
_SENTENCE_ENDS = re.compile(r"[.!?\u2026][\"')\]]*\s|\n\s*\n|\n\s*(?:[-*+#|>]|[0-9]+[.)])|\||;")
_CLAUSE_ENDS = re.compile(r"[,:()\[\]\"\u201c\u201d\u201e\u00ab\u00bb]|\s-\s|\n\s*\n")
_OPENS = re.compile(r"[:(\[\"\u201c\u201e\u00ab>#*|-]\s*$|(?<!\w)'$")
Meanings = dict[str, int]
"""What begins at a word: the class, and the word that the longest phrase of it ends before."""
Lexicon = Mapping[str, tuple[tuple[tuple[str, ...], str], ...]]
"""By their first word: phrases, and the class of each."""

LANGUAGES = ("german", "french", "norwegian", "polish")
PLACES = frozenset(("landmark", "road", "water", "transport", "terrain"))
"""Classes of nouns of which one tells a place, and the kinds of the flags for them."""


@dataclass(frozen=True, slots=True)
class Word:
    """start, end: where it stands in the text as it reads. low: in small letters."""

    start: int
    end: int
    written: str
    low: str
    opens: bool
    """Whether a capital letter means nothing here: at the start of a sentence, of a quotation, of a list."""
    ends_clause: bool
    """Whether a comma, a bracket or the like stands behind it."""


@dataclass(frozen=True)
class Sentence:
    """language: one of `LANGUAGES`, or english. meanings: by word. indoors: how much it speaks of rooms, tents and
    growing; outdoors: of woods and ways."""

    words: tuple[Word, ...]
    language: str
    meanings: tuple[Meanings, ...]
    indoors: float
    outdoors: int

    @property
    def is_indoors(self) -> bool:
        return self.indoors >= 1 and self.indoors > self.outdoors

    def after(self, at: int, *classes: str) -> int:
        """The word behind the longest phrase of one of the classes that begins at a word; 0 where none does."""
        if not 0 <= at < len(self.words):
            return 0
        means, end = self.meanings[at], 0
        for each in classes:
            if each in means and means[each] > end:
                end = means[each]
        return end

    def is_one_clause(self, start: int, end: int) -> bool:
        return not any(word.ends_clause for word in self.words[start : end - 1])


def sentences_of(plain: str, known: Collection[str]) -> Iterator[Sentence]:
    """The sentences of a text as it reads (see `normalise.py`); known: words and phrases that tell nothing."""
    own = lexicon_of((known, "known"))
    for words in _sentence_words(plain):
        yield _understood(words, own)


def _sentence_words(plain: str) -> Iterator[tuple[Word, ...]]:
    words: list[Word] = []
    found = list(_WORD.finditer(plain))
    for at, one in enumerate(found):
        after = plain[one.end() : found[at + 1].start()] if at + 1 < len(found) else "\n\n"
        before = plain[max(0, one.start() - 4) : one.start()]
        low = one.group().lower()
        ends = bool(_SENTENCE_ENDS.search(after)) and not (
            low in abbreviations() and after[:1] == "." and ";" not in after
        )
        opens = not words or bool(_OPENS.search(before))
        words.append(Word(one.start(), one.end(), one.group(), low, opens, ends or bool(_CLAUSE_ENDS.search(after))))
        if ends or len(words) >= _MOST_WORDS:
            yield tuple(words)
            words = []
    if words:
        yield tuple(words)


_MOST_WORDS = 200
"""A sentence is cut here: so long a one is a list, and what is in doubt is decided for each piece of it."""


# -- meanings ------------------------------------------------------------------------------------------------------


def lexicon_of(*tables: tuple[Iterable[str], str]) -> Lexicon:
    """Phrases by their first word; of each table the class."""
    found: dict[str, dict[tuple[tuple[str, ...], str], None]] = defaultdict(dict)
    for phrases, name in tables:
        for line in normalise("\n".join(phrases)).lower().split("\n"):
            words = tuple(_WORD.findall(line))
            if words:
                found[words[0]][words, name] = None
    return {first: tuple(rows) for first, rows in found.items()}


def _listed(value: str) -> list[str]:
    return [one.strip() for one in value.replace("\n", " ").split(",") if one.strip()]


def plural(noun: str) -> str:
    if noun.endswith(("s", "x", "ch", "sh")):
        return f"{noun}es"
    return f"{noun[:-1]}ies" if noun.endswith("y") and noun[-2:-1] not in "aeiou" else f"{noun}s"


@cache
def _english() -> Lexicon:
    table = read_table("places")
    rows: list[tuple[Iterable[str], str]] = []
    for kind, value in table["english"]["landmark"].items():
        nouns = _listed(value)
        rows += [(nouns, kind), (map(plural, nouns), "one of them")]
    some = _listed(table["english"]["one_of_them"]["terrain"])
    rows += [(some, "one of them"), (map(plural, some), "one of them")]
    for name, value in table["english"]["words"].items():
        rows.append((_listed(value), name))
        if name in ("code_noun", "indoor", "owner", "house_part", "possessed_land"):
            rows.append((map(plural, _listed(value)), name))
    for name, value in table["harmless"].items():
        rows.append((_listed(value), name))
    for language in LANGUAGES:  # nouns of other languages, where they are no English words
        nouns = [one for one in _listed(table[language]["landmark"]) if len(one) > 4 and not _is_english(one)]
        rows += [(nouns, "landmark")]
        rows += [([one for one in _listed(table[language]["code_noun"]) if not _is_english(one)], "code_noun")]
    return lexicon_of(*rows)


def _is_english(phrase: str) -> bool:
    return all(is_ordinary(word) for word in _WORD.findall(normalise(phrase).lower()))


@cache
def _foreign(language: str) -> Lexicon:
    table = read_table("places")[language]
    rows: list[tuple[Iterable[str], str]] = [
        (_listed(value), name) for name, value in table.items() if name not in ("function", "suffix", "harmless")
    ]
    rows.append((_listed(table["harmless"]), "trade"))
    shared = read_table("places")["harmless"]
    rows += [(_listed(shared[name]), name) for name in ("capitals", "given_names", "labels", "trade")]
    return lexicon_of(*rows)


@cache
def function_words(language: str) -> frozenset[str]:
    return frozenset(normalise(read_table("places")[language]["function"].lower()).replace(",", " ").split())


@cache
def suffixes(language: str) -> tuple[str, ...]:
    return tuple(normalise(read_table("places")[language]["suffix"].lower()).replace(",", " ").split())


@cache
def abbreviations() -> frozenset[str]:
    """Words after which a full stop ends no sentence."""
    return frozenset(_listed(read_table("places")["harmless"]["abbreviations"]))


@cache
def genera() -> frozenset[str]:
    return frozenset(_listed(read_table("places")["harmless"]["genera"]))


def language_of(words: tuple[Word, ...]) -> str:
    lows = [word.low for word in words]
    english = sum(low in function_words("english") for low in lows)
    scores = {each: sum(low in function_words(each) for low in lows) for each in LANGUAGES}
    unknown = sum(not is_ordinary(low) for low in lows)
    best = max(LANGUAGES, key=lambda each: scores[each])
    is_foreign = scores[best] > english and (scores[best] > 1 or 2 * unknown >= len(lows))
    return best if is_foreign and 3 * unknown >= len(lows) else "english"


def _understood(words: tuple[Word, ...], own: Lexicon) -> Sentence:
    language = language_of(words)
    lexicon = _english() if language == "english" else _foreign(language)
    meanings = [_meanings_at(words, at, own, lexicon) for at in range(len(words))]
    indoors = sum(1.0 if "indoor" in means else 0.5 if "half_indoor" in means else 0.0 for means in meanings)
    outdoors = sum("outdoor" in means for means in meanings)
    sentence = Sentence(words, language, tuple(meanings), indoors, outdoors)
    blocking = ("known", "idioms") if outdoors > indoors else ("known", "idioms", "half_idioms")
    for at in range(len(words)):
        for harmless in range(at, sentence.after(at, *blocking)):
            meanings[harmless] = {"harmless": harmless + 1}
    return Sentence(words, language, tuple(meanings), indoors, outdoors)


def _meanings_at(words: tuple[Word, ...], at: int, *lexicons: Lexicon) -> Meanings:
    low = words[at].low
    found: Meanings = {"genitive": at + 1} if low.endswith(("'s", "s'")) else {}
    if low[0].isdigit():
        found["digits"] = at + 1
    elif any(sign.isdigit() for sign in low):
        found["letters and digits"] = at + 1
    forms = (low, low.removesuffix("'s").removesuffix("'")) if "'" in low else (low,)
    for lexicon in lexicons:
        for form in forms:
            for phrase, name in lexicon.get(form, ()):
                end = at + len(phrase)
                is_it = all(word.low == part for word, part in zip(words[at + 1 : end], phrase[1:], strict=False))
                if is_it and end <= len(words) and not any(word.ends_clause for word in words[at : end - 1]):
                    found[name] = max(found.get(name, 0), end)
    return found


def is_word(low: str) -> bool:
    """Whether a word is of the language, the trade or the program, and so no name when written small."""
    parts = low.replace("'", " ").split()
    return all(is_ordinary(part) or part in own_words() or _is_trade(part) for part in parts)


def _is_trade(low: str) -> bool:
    rows = _english().get(low, ())
    return low in genera() or any(len(phrase) == 1 for phrase, _ in rows)
