"""Sentences of a text, and what each word may mean in a description of a place."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache

from journal.data import read_table
from journal.sharing.normalise import normalise
from journal.sharing.program_words import is_ordinary, own_words

_WORD = re.compile(r"[0-9]+(?:[.,][0-9]+)+(?![^\W_])|(?i:[dljnsc]|qu)(?='\w{2})|[^\W_]+(?:'[^\W_]+)*(?:(?<=s)')?")
"""A word; an elided French article counts as a word of its own."""
_SENTENCE_ENDS = re.compile(r"[.!?\u2026][\"')\]]*\s|\n\s*\n|\n\s*(?:[-*+#|>]|[0-9]+[.)])|\||;")
_CLAUSE_ENDS = re.compile(r"[,:()\[\]\"\u201c\u201d\u201e\u00ab\u00bb]|\s-\s|\n\s*\n")
_OPENS = re.compile(r"[:(\[\"\u201c\u201e\u00ab>#*|-]\s*$|(?<!\w)'$")
Meanings = dict[str, int]
"""What begins at a word: the class, and the word after the longest phrase of that class."""
Lexicon = Mapping[str, tuple[tuple[tuple[str, ...], str], ...]]
"""Phrases by their first word, and the class of each."""

LANGUAGES = ("german", "french", "norwegian", "polish")
PLACES = frozenset(("landmark", "road", "water", "transport", "terrain"))
"""Classes of nouns that reveal a place on their own, and the kinds of the flags for them."""


@dataclass(frozen=True, slots=True)
class Word:
    """start, end: its position in the normalised text. low: in lower case."""

    start: int
    end: int
    written: str
    low: str
    opens: bool
    """Whether a capital letter means nothing here: at the start of a sentence, a quotation or a list."""
    ends_clause: bool
    """Whether a comma, a bracket or the like follows it."""


@dataclass(frozen=True)
class Sentence:
    """language: one of `LANGUAGES`, or english. meanings: by word. indoors: how much it is about rooms, tents and
    growing; outdoors: about woods and paths."""

    words: tuple[Word, ...]
    language: str
    meanings: tuple[Meanings, ...]
    indoors: float
    outdoors: int

    @property
    def is_indoors(self) -> bool:
        return self.indoors >= 1 and self.indoors > self.outdoors

    def after(self, at: int, *classes: str) -> int:
        """The word after the longest phrase of one of the classes that begins at a word; 0 if there is none."""
        if not 0 <= at < len(self.words):
            return 0
        means, end = self.meanings[at], 0
        for each in classes:
            if each in means and means[each] > end:
                end = means[each]
        return end


def sentences_of(plain: str, known: Collection[str]) -> Iterator[Sentence]:
    """The sentences of a normalised text (see `normalise.py`); known: words and phrases that reveal nothing."""
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
        is_short = (
            after[:1] == "."
            and ";" not in after
            and (low in abbreviations() or (len(low) == 1 and one.group().isupper()) or after[1:2] == ")")
        )
        ends = bool(_SENTENCE_ENDS.search(after)) and not is_short
        opens = not words or bool(_OPENS.search(before))
        words.append(Word(one.start(), one.end(), one.group(), low, opens, ends or bool(_CLAUSE_ENDS.search(after))))
        if ends or len(words) >= _MOST_WORDS:
            yield tuple(words)
            words = []
    if words:
        yield tuple(words)


_MOST_WORDS = 200
"""A sentence is cut at this length: a longer one is a list, and doubtful words are decided for each piece of it."""


# -- meanings ------------------------------------------------------------------------------------------------------


def lexicon_of(*tables: tuple[Iterable[str], str]) -> Lexicon:
    """Phrases by their first word, with the class of their table."""
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
        if name in ("code_noun", "counted", "fixture", "indoor", "owner", "house_part", "possessed_land"):
            rows.append((map(plural, _listed(value)), name))
    for name, value in table["harmless"].items():
        rows.append((_listed(value), name))
    species = read_table("species_names")
    rows.append(((*species["common_names"], *species["synonyms"], *species["common_names"].values()), "common_names"))
    for language in LANGUAGES:  # nouns of other languages, unless they are English words
        nouns = [one for one in _listed(table[language]["landmark"]) if len(one) > 4 and not _is_english(one)]
        rows += [(nouns, "landmark"), (_listed(table[language]["harmless"]), "trade")]
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
    """Words after which a full stop does not end a sentence."""
    return frozenset(_listed(read_table("places")["harmless"]["abbreviations"]))


@cache
def genera() -> frozenset[str]:
    return frozenset(_listed(read_table("places")["harmless"]["genera"]))


def language_of(words: tuple[Word, ...]) -> str:
    """One of `LANGUAGES`, english, or unknown: a language without a table."""
    lows = [word.low for word in words if word.low.isalpha()]
    english = sum(low in function_words("english") for low in lows)
    scores = {each: sum(low in function_words(each) for low in lows) for each in LANGUAGES}
    odd = sum(not is_ordinary(low) for low in lows)
    best = max(LANGUAGES, key=lambda each: scores[each])
    if 3 * odd < len(lows) or english > scores[best]:
        return "english"
    if scores[best] > max(1, english) or (scores[best] > english and _speaks(best, lows)):
        return best
    foreign = next((each for each in LANGUAGES if _speaks(each, lows)), None)
    if foreign:
        return foreign
    strange = sum(not is_word(low) for low in lows)
    return "unknown" if english < 2 and len(lows) > 3 and 5 * strange >= 3 * len(lows) else "english"


def _speaks(language: str, lows: list[str]) -> bool:
    """Whether at least a third of the words are in a language's tables."""
    lexicon = _foreign(language)
    return 3 * sum(low in lexicon or low in function_words(language) for low in lows) >= max(2, len(lows)) and any(
        low in lexicon and not is_ordinary(low) for low in lows
    )


def _understood(words: tuple[Word, ...], own: Lexicon) -> Sentence:
    language = language_of(words)
    lexicon = _foreign(language) if language in LANGUAGES else _english()
    meanings = _meanings(words, own, lexicon)
    indoors = sum(_indoors(meanings, at) for at in range(len(words)))
    outdoors = sum("outdoor" in means for means in meanings)
    sentence = Sentence(words, language, tuple(meanings), indoors, outdoors)
    for at in range(len(words)):
        for inner in range(at + 1, sentence.after(at, "capitals")):
            meanings[inner]["capitals"] = inner + 1
    blocking = (
        ("known", "idioms", "common_names")
        if outdoors > indoors
        else ("known", "idioms", "common_names", "half_idioms")
    )
    for at in range(len(words)):
        for harmless in range(at, sentence.after(at, *blocking)):
            meanings[harmless] = {"harmless": harmless + 1}
    return Sentence(words, language, tuple(meanings), indoors, outdoors)


def _indoors(meanings: list[Meanings], at: int) -> float:
    """How much a word is about rooms; 0 if it belongs to a longer phrase: `root plate`, `satellite dish`."""
    means = meanings[at]
    weight = 1.0 if "indoor" in means else 0.5 if "half_indoor" in means else 0.0
    if weight:
        end = max(means.get("indoor", 0), means.get("half_indoor", 0))
        for before in range(max(0, at - 3), at + 1):
            longest = max((meanings[before].get(each, 0) for each in _OUT_OF_DOORS), default=0)
            if longest > end or (longest == end and before < at):
                return 0.0
    return weight


_OUT_OF_DOORS = ("outdoor", "house_part", *sorted(PLACES))


def _meanings(words: tuple[Word, ...], *lexicons: Lexicon) -> list[Meanings]:
    """What each word and each phrase that begins with it may mean; a phrase does not go beyond its clause."""
    lows = tuple(word.low for word in words)
    reach = len(words)
    found: list[Meanings] = []
    for at in range(len(words) - 1, -1, -1):
        if words[at].ends_clause:
            reach = at + 1
        found.append(_meanings_at(lows, at, reach, lexicons))
    return found[::-1]


def _meanings_at(lows: tuple[str, ...], at: int, reach: int, lexicons: tuple[Lexicon, ...]) -> Meanings:
    low = lows[at]
    found: Meanings = {}
    forms: tuple[str, ...] = (low,)
    if "'" in low:
        forms = (low, low.removesuffix("'s").removesuffix("'"))
        if low.endswith(("'s", "s'")):
            found["genitive"] = at + 1
    if not low.isalpha() and any(map(str.isdigit, low)):
        found["digits" if low[0].isdigit() else "letters and digits"] = at + 1
    if _ends_like_a_place(forms[-1]):
        found["landmark"] = at + 1
    for lexicon in lexicons:
        for form in forms:
            for phrase, name in lexicon.get(form, ()):
                end = at + len(phrase)
                if end == at + 1 or (end <= reach and lows[at + 1 : end] == phrase[1:]):
                    found[name] = max(found.get(name, 0), end)
    return found


@cache
def _place_endings() -> tuple[tuple[str, ...], frozenset[str]]:
    table = read_table("places")["english"]
    return tuple(_listed(table["suffix"])), frozenset(_listed(table["not_suffix"]))


def _ends_like_a_place(low: str) -> bool:
    """`cowshed`, `riverside`: a compound noun that is a place by its last part."""
    endings, others = _place_endings()
    if not low.endswith(endings) or low in others:
        return False
    return any(low.endswith(one) and len(low) - len(one) > 2 for one in endings)


def is_word(low: str) -> bool:
    """Whether a word is one of the language, the trade or the program, and so not a name in lower case."""
    parts = low.replace("'", " ").split()
    return all(part in own_words() or _is_trade(part) or _is_formed(part) for part in parts)


_ENDINGS = (
    "er",
    "est",
    "ier",
    "iest",
    "ly",
    "ily",
    "ness",
    "less",
    "ish",
    "able",
    "ful",
    "like",
    "wise",
    "ier",
    "y",
    "ise",
    "ed",
    "ing",
)
_BEGINNINGS = ("un", "re", "non", "over", "under", "pre", "sub", "out", "mis", "semi", "multi", "de", "half", "self")


def _is_formed(low: str) -> bool:
    """Whether a word is ordinary, or formed from an ordinary one: `slower`, `unmixed`, `colours`, `ploughed`."""
    american = low.replace("our", "or").replace("ough", "ow").replace("grey", "gray")
    for form in dict.fromkeys(
        (low, american, low.replace("is", "iz", 1) if low.endswith(("ise", "ised", "ises", "ising")) else low)
    ):
        if is_ordinary(form):
            return True
        for ending in _ENDINGS:
            stem = form.removesuffix(ending)
            if stem != form and any(map(is_ordinary, (stem, f"{stem}e", f"{stem}y", stem[:-1]))):
                return True
        if any(form.startswith(one) and is_ordinary(form.removeprefix(one)) for one in _BEGINNINGS):
            return True
    return False


def _is_trade(low: str) -> bool:
    rows = _english().get(low, ())
    return low in genera() or any(len(phrase) == 1 for phrase, _ in rows)
