"""Which species a name means, and whether two names can mean the same."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable, Mapping
from functools import cache, lru_cache
from itertools import combinations, permutations, starmap

from journal.data import read_table

COMMON_NAMES: Mapping[str, str] = read_table("species_names")["common_names"]
SYNONYMS: Mapping[str, str] = read_table("species_names")["synonyms"]
_LATIN = {name.casefold(): name for name in (*COMMON_NAMES.values(), *SYNONYMS.values())}
_KNOWN: Mapping[str, str] = {**COMMON_NAMES, **SYNONYMS, **_LATIN}

_DOUBTS = frozenset((
    "sp", "spp", "cf", "aff", "nr", "agg", "group", "complex", "or", "and", "maybe", "perhaps", "possibly",
    "probably", "likely", "another", "unknown", "not",
))  # fmt: skip
_GROWERS_WORDS = frozenset((
    "mushroom", "mushrooms", "oyster", "oysters", "fungus", "fungi", "cap", "caps", "foot", "shank", "mane",
    "ear", "trumpet", "polypore", "bracket", "clone",
))  # fmt: skip
"""Last words of common names, so that `Blue oyster` is not read as a genus with its epithet."""

_NO_EPITHETS = frozenset(("species", "sensu"))

_UNNAMED = frozenset(("sp", "spp", "cf", "aff", "nr", "agg", "group", "complex"))
"""Of those, the ones that leave the species open and the genus certain."""

_BINOMIAL = re.compile(r"([a-z]{3,}) ([a-z]{2,}(?:-[a-z]+)*)(?: .*)?")


OwnNames = tuple[tuple[str, str], ...]
"""The author's own names of species, each with what it means."""


def species_named(text: str | None, own: OwnNames) -> str | None:
    """`Pleurotus pulmonarius` for a name that means one species, by the author's own names before the tables; None for
    one that is vague, doubted or contradictory. The author's name and a variety after the epithet are ignored; an
    abbreviated genus (`P. ostreatus`) and a hybrid name none. After a bracket or comma there may be another name of the
    same species."""
    return _species_in_tables(species_meant(text, own))


def name_of_kind(text: str | None, own: OwnNames) -> str:
    """What all that is of one species is listed and counted under, whichever of its names an entry has: the species, or
    what an own name means (a genus), else the name as it is written; "" where there is none. Case makes no difference:
    compare casefolded ones."""
    return species_meant(text, own) or " ".join((text or "").strip("*_ ").split())


@lru_cache(maxsize=1024)
def _species_in_tables(text: str | None) -> str | None:
    words = _plain(text)
    if (
        not words
        or "?" in words
        or "/" in words
        or _HYBRID.search(words)
        or _DOUBTS & set(re.findall(r"[a-z]+", words))
    ):
        return None
    first, *others = [part.strip() for part in re.split(r"[(),;]", words)]
    meant = set(filter(None, [_known(first), *map(_known, others)]))
    binomial = _BINOMIAL.fullmatch(first)
    if not _known(first) and binomial and binomial[2] not in (_GROWERS_WORDS | _NO_EPITHETS):
        name = f"{binomial[1]} {binomial[2]}"
        meant.add(_KNOWN.get(name, name.capitalize()))
    return meant.pop() if len(meant) == 1 else None


def species_meant(text: str | None, own: OwnNames) -> str | None:
    """As `species_named`; of an own name also what is no species (`Pleurotus`), as the settings have it."""
    return _species_in_tables(meant := _own_meaning(text, own)) or meant or _species_in_tables(text)


@lru_cache(maxsize=4096)
def _own_meaning(text: str | None, own: OwnNames) -> str | None:
    """What the settings say that a name means; None if it is not there."""
    by_name = {name.casefold(): meant for name, meant in own}
    return by_name.get(_plain(text)) or by_name.get((_species_in_tables(text) or "").casefold())


@lru_cache(maxsize=4096)
def is_another_species(one: str | None, other: str | None, own: OwnNames) -> bool:
    """Whether two names cannot mean the same species: each means one or some, and none of the same, or their genera
    differ. No name, a vague one, and an English one that the tables do not have may mean any. Of `Pleurotus cf.
    ostreatus` the epithet counts, and `P. ostreatus` may be of any genus with that letter. A hybrid is of both its
    parents, a name that is likely misspelled (`likely_meant`) of what it likely means, and species that have the same
    English names in the table are called by each other's."""
    return all(_are_apart(first, second, own) for first in _each_in(one, own) for second in _each_in(other, own))


def _are_apart(one: str, other: str, own: OwnNames) -> bool:
    first, second = _possible(one, own), _possible(other, own)
    return bool(first and second) and not any(_can_be_one(a, b) for a in first for b in second)


@lru_cache(maxsize=4096)
def says_more(one: str | None, other: str | None, own: OwnNames) -> bool:
    """Whether a name says more than another, as that of a species does than that of its genus: the other may mean
    something as well that the first cannot. A name that may mean any species says no more than any other."""
    first, second = _all_possible(one, own), _all_meant(other, own)
    is_covered = bool(second) and all(any(_is_within(meant, a) for a in first) for meant in second)
    return bool(first) and not is_covered and _plain(one) != _plain(other)


def are_of_one_species(names: Iterable[str | None], own: OwnNames) -> bool:
    """Whether all of these names surely mean one and the same species; a genus alone may be several."""
    meant = [_all_meant(name, own) for name in names]
    pairs = combinations(frozenset[str]().union(*meant), 2)
    return all(meant) and all(" " in one for found in meant for one in found) and all(starmap(_can_be_one, pairs))


def _all_possible(text: str | None, own: OwnNames) -> frozenset[str]:
    """All that a name may mean, as `_possible`; with the genus of what is doubted (`Pleurotus cf. ostreatus`)."""
    found = frozenset[str]().union(*(_possible(name, own) for name in _each_in(text, own)))
    return found | {name.split()[0] for name in found} if _DOUBTED.search(_plain(text)) else found


def _all_meant(text: str | None, own: OwnNames) -> frozenset[str]:
    """The same, but of a name that means one species by the tables that one alone."""
    meant = likely_meant(text, own) or species_named(text, own)
    return frozenset((meant.casefold(),)) if meant else _all_possible(text, own)


_DOUBTED = re.compile(r"\?|\bcf\b")


def _is_within(one: str, other: str) -> bool:
    """Whether a species or genus is that species, or of that genus."""
    return _can_be_one(one, other) and (" " in one or " " not in other)


_HYBRID = re.compile(r" (?:x |× ?)(?=[a-z]{3}|[a-z]\.)")
_SEVERAL = re.compile(rf"[?/]|{_HYBRID.pattern}")


def _each_in(text: str | None, own: OwnNames) -> tuple[str, ...]:
    """The names of a hybrid's parents, or the one name, in small letters, with the usual signs for a species left
    open."""
    words = _plain(text)
    if any(words == name.casefold() for name, _ in own):
        return (words,)
    words = re.sub(r"^([a-z]+) species\b", r"\1 sp.", re.sub(r"\bs\. ?l(?:at)?\b\.?|\bsensu lat[ou]\b", "agg.", words))
    first, *others = _HYBRID.split(words)
    return (first, *(name if " " in name else f"{first.split()[0]} {name}" for name in others))


def _can_be_one(one: str, other: str) -> bool:
    """one, other: a species, or a genus alone, in small letters. A genus alone may be any species that is or was of
    it."""
    if " " not in one and " " not in other:
        return other in _SPELLINGS.get(one, (one,))
    names: list[Collection[str]] = [_SPELLINGS.get(name, (name,)) if " " in name else (name,) for name in (one, other)]
    if " " not in one or " " not in other:
        names = [{name.split()[0] for name in spelled} for spelled in names]
    if "." in one + other:
        names = [{re.sub(r"^(.)[a-z]+", r"\1.", name) for name in spelled} for spelled in names]
    return not set(names[0]).isdisjoint(names[1])


@lru_cache(maxsize=1024)
def likely_meant(text: str | None, own: OwnNames) -> str | None:
    """`Flammulina velutipes` for `Flamulina velutipes`: what a Latin name that no table has likely means, where one
    species of the tables alone has a name that differs in one letter, or in the order of two. None where the genus is
    another known one."""
    species = (species_meant(text, own) or "").casefold()
    if not species or species in _SPECIES or any(species == name.casefold() for names in own for name in names):
        return None
    genus, near = species.split()[0], (name for name in _SPECIES if _is_one_letter_apart(species, name))
    meant = {_SPECIES[name] for name in near if genus == name.split()[0] or genus not in _GENERA}
    return meant.pop() if len(meant) == 1 else None


def _is_one_letter_apart(one: str, other: str) -> bool:
    if abs(len(one) - len(other)) > 1:
        return False
    pairs = enumerate(zip(one, other, strict=False))
    start = next((place for place, (first, second) in pairs if first != second), min(len(one), len(other)))
    one, other = one[start:], other[start:]
    is_swapped = one[:2] == other[1::-1] and one[2:] == other[2:]
    return one != other and (one[1:] == other[1:] or one[1:] == other or one == other[1:] or is_swapped)


def _possible(text: str | None, own: OwnNames) -> frozenset[str]:
    """The species (`pleurotus ostreatus`, `p. ostreatus`) and genera that a name may mean, in small letters; none if it
    is too vague, or not surely Latin or an English name that the tables have."""
    plain = _plain(text)
    words = re.sub(r"\bcf\b\.? ?|\?", "", plain).strip()
    meant = species_meant(text, own) or species_meant(words, own)
    is_own = bool(meant) and meant not in (_species_in_tables(text), _species_in_tables(words))
    name = _plain(meant) if is_own else words
    english = _meant_in_english(name)
    if english is None:
        latin = _latin_of(likely_meant(meant, own) or meant, name, plain)
        return frozenset((latin,) if latin else ())
    return english | {meant.casefold()} if meant and english and meant.casefold() != name else english


def _latin_of(species: str | None, words: str, written: str) -> str | None:
    """species: that the words mean, if any; written: the words with their marks of doubt."""
    latin = (species or "").casefold()
    if " " in latin:
        return latin if latin.split()[0] in _GENERA or _LOOKS_LATIN.fullmatch(latin) else None
    if "/" in words or (_DOUBTS - _UNNAMED) & set(_WORDS.findall(words)):
        return None
    if (short := _SHORTENED.fullmatch(words)) and short[2] not in _DOUBTS:
        return f"{short[1]}. {short[2]}"
    genus = _WORDS.match(words)
    return genus[0] if genus and (genus[0] in _GENERA or _is_genus(genus[0], written)) else None


def _is_genus(word: str, written: str) -> bool:
    """Whether it is that of a genus which no table has: by `sp.` and the like after it, or alone by its ending."""
    if word in _english_words() or not word.isascii():
        return False
    is_alone = re.split(r"[(),;]", written)[0].strip(" ?") == word
    return bool(_OPEN.match(written) or (is_alone and _LIKE_A_GENUS.fullmatch(word)))


def _meant_in_english(words: str) -> frozenset[str] | None:
    """The Latin names, in small letters, of all that an English name may mean by the table: of `oyster` also what is
    called an `elm oyster`, but of `morel` no `false morel`. None if the table does not have it; none if the name says
    no more than what a fungus looks like."""
    by_name = _latin_by_english()
    first, *others = [part.strip() for part in re.split(r"[(),;]", words)]
    first = _MARKS_OF_A_GENUS.sub("", first).replace("gray ", "grey ")
    spelled = {first, first.replace("-", " ")}
    spelled |= {one.removesuffix("s") for one in spelled}
    spelled |= {one.removesuffix(" mushroom") for one in spelled}
    is_doubted = "/" in words or (_DOUBTS - _UNNAMED) & set(_WORDS.findall(words))
    if is_doubted or not (found := spelled & by_name.keys()):
        return None
    if found & _SHAPES:
        return frozenset()
    ends = tuple(f" {name}" for name in found)
    longer = {name for name in by_name if name.endswith(ends) and not name.startswith("false ")}
    english = frozenset[str]().union(*(by_name[name] for name in found | longer))
    return english | frozenset(filter(None, (_latin_of(_species_in_tables(part), part, part) for part in others)))


@cache
def _latin_by_english() -> dict[str, frozenset[str]]:
    found: dict[str, set[str]] = {}
    for latin, names in _english_names().items():
        for name in names:
            found.setdefault(name, set()).add(latin.casefold())
    return {name: frozenset(latin) for name, latin in found.items()}


@cache
def _english_words() -> frozenset[str]:
    """Words that name no genus: those of English names, and of doubt."""
    words = {word for name in _latin_by_english() for word in _WORDS.findall(name)}
    return frozenset(words | _GROWERS_WORDS | _DOUBTS) - _GENERA


def english_names(text: str | None) -> dict[str, tuple[str, ...]]:
    """Latin name -> English names, for each species or genus of the table that a text names in Latin."""
    return {latin: names for latin, names in _english_names().items() if is_of_species(text, latin)}


def is_of_species(text: str | None, latin: str) -> bool:
    """Whether the text contains every word of a Latin name."""
    return bool(text) and set(_WORDS.findall(latin.casefold())) <= set(_WORDS.findall((text or "").casefold()))


_WORDS = re.compile(r"[^\W_]+")
_MARKS_OF_A_GENUS = re.compile(r" (?:spp?|agg|group|complex)\b\.?$")
_OPEN = re.compile(r"[a-z]{4,} (?:spp?|cf|aff|nr|agg)\b")
_LIKE_A_GENUS = re.compile(
    r"[a-z]{2,}(?:cybe|loma|lepiota|ella|otus|pilus|olus|arius|aria|agaricus|boletus|phyllum|myces|porus|poria|derma"
    r"|chaete|mycena|rella|collybia|gymnopus|paxillus|marasmius|stereum)|lepiota|mycena|gymnopus|paxillus|marasmius"
)
"""How genera of fungi end and English words hardly do: from memory."""
_SHAPES = frozenset(("bracket", "tooth fungus", "black fungus", "white mushroom", "black bolete"))
"""English names that the table has and that describe many others as well."""


@cache
def _english_names() -> dict[str, tuple[str, ...]]:
    table = read_table("english_names")
    latin = dict.fromkeys((*table["compared"], *table["common_practice"]))
    return {one: (*table["compared"].get(one, ()), *table["common_practice"].get(one, ())) for one in latin}


def _known(words: str) -> str | None:
    return _KNOWN.get(words) or _KNOWN.get(words.replace("-", " "))


def _plain(text: str | None) -> str:
    """A name in small letters, without the marks of italics."""
    words = unicodedata.normalize("NFC", text or "").casefold().replace("’", "'")
    return re.sub(r"\s+", " ", re.sub(r"[*_]", "", words)).strip()


_SHORTENED = re.compile(r"([a-z])\. ?([a-z]{3,}(?:-[a-z]+)*)(?: .*)?")
_LOOKS_LATIN = re.compile(
    r"[a-z]+(?:us|a|um|is|es|on|ps|cybe|chaete) [a-z-]+(?:us|a|um|is|es|ens|ans|i|ae|or|x|ps|oides|odes)"
)
"""Genus and epithet by their endings, which English names do not have together (`willow button`): from memory."""


_SPECIES: Mapping[str, str] = {
    **_LATIN,
    **{name.casefold(): SYNONYMS.get(name.casefold(), name) for name in _english_names() if " " in name},
    **SYNONYMS,
}
"""Every Latin name of a species that the tables have, in small letters, and the present one."""


def _spellings() -> dict[str, frozenset[str]]:
    """Each species with its older names and those of species that it is not told from by name, and each genus with
    those that a species of it was in before or is in now; in small letters."""
    older: dict[str, set[str]] = {}
    genera: dict[str, set[str]] = {}
    for old, new in ((old, new.casefold()) for old, new in SYNONYMS.items()):
        older.setdefault(new, {new}).add(old)
        for one, other in ((old, new), (new, old)):
            genera.setdefault(one.split()[0], {one.split()[0]}).add(other.split()[0])
    found = {name: set(names) for name, names in older.items()}
    for one, other in _alike():
        for name, alike in ((one, other), (other, one)):
            found.setdefault(name, {name}).update(older.get(alike, {alike}))
    return {name: frozenset(names) for name, names in (found | genera).items()}


def _alike() -> list[tuple[str, str]]:
    """Pairs of species, in small letters, of which the second has every English name of the first."""
    english: dict[str, set[str]] = {}
    for latin, names in _english_names().items():
        if " " in latin:
            english.setdefault(_SPECIES[latin.casefold()].casefold(), set()).update(names)
    return [(one, other) for one, other in permutations(english, 2) if english[one] <= english[other]]


_SPELLINGS: Mapping[str, frozenset[str]] = _spellings()
_GENERA = frozenset(name.casefold().split()[0] for name in (*_LATIN, *SYNONYMS, *_english_names()))
