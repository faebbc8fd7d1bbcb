"""What each thing is identified as, by whom, and how far that holds for what was grown from it; and which species a
name means.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import cache, lru_cache

from journal.analysis.lineage import Lineage, living_of, sources_of
from journal.analysis.progress import last_day_meant
from journal.data import read_table
from journal.model import Batch, Certainty, Culture, Journal, Note, Ref, sort_key


@dataclass(frozen=True, slots=True)
class Identification:
    """What a find is identified as. path: the entry that says so."""

    species: str | None
    certainty: Certainty
    identified_by: str | None
    path: str


def identifications(journal: Journal) -> dict[str, tuple[Identification, ...]]:
    """Each find's identifications by its ID, the find's own first, then each note's; the last one counts, and
    is in a share no surer than in the journal that is shared."""
    found = {one.id: [Identification(one.species, one.certainty, one.identified_by, one.path)] for one in journal.finds}
    for note in sorted(filter(identifies, journal.notes), key=sort_key):
        for id in dict.fromkeys(ref.id for ref in note.about):
            if id in found:
                found[id].append(_revised(found[id][-1], note))
    for id in journal.surest.keys() & found.keys():
        now = found[id][-1]
        found[id][-1] = replace(now, certainty=max(now.certainty, journal.surest[id], key=_CERTAINTIES.index))
    return {id: tuple(rows) for id, rows in found.items()}


_CERTAINTIES = ("confirmed", "likely", "unsure")


def identifies(note: Note) -> bool:
    """Whether a note about a find identifies it again."""
    return bool(note.species or note.certainty or note.identified_by)


def _revised(before: Identification, note: Note) -> Identification:
    """A new name without a certainty is unsure, because the stated certainty was for the old name."""
    renamed = bool(note.species) and note.species != before.species
    return Identification(
        species=note.species or before.species,
        certainty=note.certainty or ("unsure" if renamed else before.certainty),
        identified_by=note.identified_by or (None if renamed else before.identified_by),
        path=note.path,
    )


@dataclass(frozen=True, slots=True)
class OtherName:
    """A name that is not that of the find it goes back to. id: of the culture or batch that has it; species: the name;
    find: the ID of the find, which is identified as another species."""

    id: str
    species: str
    find: str


def other_names(
    journal: Journal, lineage: Lineage, named: Mapping[str, tuple[Identification, ...]]
) -> dict[str, OtherName]:
    """Every culture and batch whose name, or that of something above it, is of another species than a find it goes back
    to is currently identified as, by ID. named: the finds' `identifications`. In a share none of what the
    journal that is shared confirms: that one has all the names that its author gave."""
    living, found = living_of(journal), dict[str, OtherName]()
    for id in (id for id in lineage.order if id in living):
        species = None if journal.surest.get(id) == "confirmed" else living[id].species
        for find in lineage.wild_origins_of(id) if species else ():
            if is_another_species(species, named[find][-1].species, journal.settings.names):
                found[id] = OtherName(id, species or "", find)
                break
        else:
            above = next((found[parent] for parent in lineage.parents[id] if parent in found), None)
            if above:
                found[id] = above
    return found


def identity_confirmed(
    journal: Journal,
    lineage: Lineage,
    named: Mapping[str, tuple[Identification, ...]],
    misnamed: Mapping[str, OtherName],
) -> dict[str, bool]:
    """For every find, culture and batch, by ID, whether its identity counts as confirmed. True only if every path up
    ends at a find that is currently confirmed, and nothing on it has the name of another species. What was received,
    has an unknown origin, or is in a circle is not confirmed. named: the finds' `identifications`; misnamed:
    `other_names`."""
    living = living_of(journal)
    confirmed = dict.fromkeys(living, False)
    confirmed |= {id: rows[-1].certainty == "confirmed" for id, rows in named.items()}
    for id in lineage.order:
        if id in living:
            row, parents = living[id], lineage.parents[id]
            received = isinstance(row, Culture) and (row.received_from is not None or row.method == "received")
            sources = {ref.id for ref in sources_of(row)}
            is_known = sources and not received and not row.unknown_sources and len(sources) == len(parents)
            confirmed[id] = bool(is_known) and id not in misnamed and all(map(confirmed.get, parents))
    return confirmed


def doubtful(journal: Journal, lineage: Lineage) -> dict[str, str]:
    """Every doubtful culture and batch, by ID, with where the doubt began (`VF-25A`, or `VF-25A.2`). A culture called
    `doubtful` in a note is doubtful. So is what was taken from it on that day or later, or possibly later if its date
    is inexact (for a doubtful part: taken from that part, or from the culture if no part is named), and everything
    taken from those. A doubt stays: no later stage can show which label was right."""
    living = living_of(journal)
    began: dict[str, list[tuple[Ref, Note]]] = {}
    for note in sorted((note for note in journal.notes if note.stage == "doubtful"), key=sort_key):
        for ref in note.about:
            began.setdefault(ref.id, []).append((ref, note))
    inherited: dict[str, str] = {}
    for id in (id for id in lineage.order if id in living):
        passed = _passed_on(living[id], began, inherited)
        if passed is not None:
            inherited[id] = passed
    own = {id: id for id, doubts in began.items() if id in living and any(ref.part is None for ref, _ in doubts)}
    return own | inherited


def _passed_on(
    row: Culture | Batch, began: Mapping[str, list[tuple[Ref, Note]]], inherited: Mapping[str, str]
) -> str | None:
    """The doubt that came with what it was taken from, or None. began: by ID, earliest first."""
    for source in sources_of(row):
        for doubted, note in began.get(source.id, ()):
            is_meant = doubted.part is None or source.part is None or doubted.part == source.part
            if is_meant and last_day_meant(row.date) >= note.date.first:
                return str(doubted)
        if source.id in inherited:
            return inherited[source.id]
    return None


def below_unshared(journal: Journal, lineage: Lineage) -> frozenset[str]:
    """IDs of everything that descends, at any distance, from something with origins that are not shared."""
    unshared = [row.id for row in living_of(journal).values() if row.unshared_sources]
    return frozenset(lineage.reached(unshared, lineage.children))


def received_above(journal: Journal, lineage: Lineage) -> dict[str, str]:
    """From whom an ancestor was received, for everything with such an ancestor; of several, the first by ID."""
    given = {row.id: row.received_from for row in journal.cultures if row.received_from}
    found: dict[str, str] = {}
    for giver in sorted(given, key=lambda id: (id.lower(), id)):
        found |= dict.fromkeys(lineage.reached([giver], lineage.children, found), given[giver])
    return found


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

_UNNAMED = frozenset(("sp", "spp", "cf", "aff", "nr", "agg", "group", "complex"))
"""Of those, the ones that leave the species open and the genus certain."""

_BINOMIAL = re.compile(r"([a-z]{3,}) ([a-z]{2,}(?:-[a-z]+)*)(?: .*)?")


@lru_cache(maxsize=1024)
def species_named(text: str | None) -> str | None:
    """`Pleurotus pulmonarius` for a name that means one species, None for one that is vague, doubted or contradictory.
    The author's name and a variety after the epithet are ignored; an abbreviated genus (`P. ostreatus`) names none.
    After a bracket or comma there may be another name of the same species."""
    words = _plain(text)
    if not words or "?" in words or "/" in words or _DOUBTS & set(re.findall(r"[a-z]+", words)):
        return None
    first, *others = [part.strip() for part in re.split(r"[(),;]", words)]
    meant = set(filter(None, [_known(first), *map(_known, others)]))
    binomial = _BINOMIAL.fullmatch(first)
    if not _known(first) and binomial and binomial[2] not in _GROWERS_WORDS:
        name = f"{binomial[1]} {binomial[2]}"
        meant.add(_KNOWN.get(name, name.capitalize()))
    return meant.pop() if len(meant) == 1 else None


OwnNames = tuple[tuple[str, str], ...]
"""The author's own names of species, each with what it means."""


def species_meant(text: str | None, own: OwnNames) -> str | None:
    """As `species_named`, also for the author's own names, which count first."""
    species = species_named(text)
    by_name = {name.casefold(): meant for name, meant in own}
    meant = by_name.get(_plain(text)) or by_name.get((species or "").casefold())
    return species_named(meant) or meant or species


@lru_cache(maxsize=4096)
def is_another_species(one: str | None, other: str | None, own: OwnNames) -> bool:
    """Whether two names cannot mean the same species: each means one or some, and none of the same, or their genera
    differ. No name, a vague one, and an English one that the tables do not have may mean any. Of `Pleurotus cf.
    ostreatus` the epithet counts, and `P. ostreatus` may be of any genus with that letter."""
    first, second = _possible(one, own), _possible(other, own)
    return bool(first and second) and all(_are_apart(a, b) for a in first for b in second)


def _are_apart(first: str, second: str) -> bool:
    """Whether two species or genera in Latin, in small letters, are not the same by any of their names."""
    spellings: list[Collection[str]] = [_SPELLINGS.get(name, (name,)) for name in (first, second)]
    if " " not in first or " " not in second:
        spellings = [{name.split()[0] for name in names} for names in spellings]
    if "." in first + second:
        spellings = [{re.sub(r"^(.)[a-z]+", r"\1.", name) for name in names} for names in spellings]
    return set(spellings[0]).isdisjoint(spellings[1])


def _possible(text: str | None, own: OwnNames) -> frozenset[str]:
    """The species (`pleurotus ostreatus`, `p. ostreatus`) and genera that a name may mean, in small letters; none if it
    is too vague, or not surely Latin or an English name that the tables have."""
    plain = _plain(text)
    words = re.sub(r"\bcf\b\.? ?|\?", "", plain).strip()
    meant = species_meant(text, own) or species_meant(words, own)
    is_own = bool(meant) and meant not in (species_named(text), species_named(words))
    name = _plain(meant) if is_own else words
    english = _meant_in_english(name)
    if english is None:
        latin = _latin_of(meant, name, plain)
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
    return english | frozenset(filter(None, (_latin_of(species_named(part), part, part) for part in others)))


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


def _spellings() -> dict[str, frozenset[str]]:
    """Each species and genus that has older names, in small letters, with these."""
    found: dict[str, set[str]] = {}
    for old, new in ((old, new.casefold()) for old, new in SYNONYMS.items()):
        found.setdefault(new, {new}).add(old)
        found.setdefault(new.split()[0], {new.split()[0]}).add(old.split()[0])
    return {name: frozenset(names) for name, names in found.items()}


_SPELLINGS: Mapping[str, frozenset[str]] = _spellings()
_GENERA = frozenset(name.casefold().split()[0] for name in (*_LATIN, *SYNONYMS, *_english_names()))
