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
    to is currently identified as, by ID. named: the finds' `identifications`."""
    living, found = living_of(journal), dict[str, OtherName]()
    for id in (id for id in lineage.order if id in living):
        species = living[id].species
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
    """Whether two names cannot mean the same species: each means one, and not the same, or their genera differ. No
    name, a vague one, and an English one that the tables do not have may mean any. Of `Pleurotus cf. ostreatus` the
    epithet counts, and `P. ostreatus` may be of any genus with that letter."""
    first, second = _latin_of(one, own), _latin_of(other, own)
    if first is None or second is None or _is_english_for(one, second) or _is_english_for(other, first):
        return False
    spellings: list[Collection[str]] = [_SPELLINGS.get(name, (name,)) for name in (first, second)]
    if " " not in first or " " not in second:
        spellings = [{name.split()[0] for name in names} for names in spellings]
    if "." in first + second:
        spellings = [{re.sub(r"^(.)[a-z]+", r"\1.", name) for name in names} for names in spellings]
    return set(spellings[0]).isdisjoint(spellings[1])


def _latin_of(text: str | None, own: OwnNames) -> str | None:
    """The species that a name means (`pleurotus ostreatus`, `p. ostreatus`), or its genus alone, in small letters; None
    if it is too vague, or not surely Latin."""
    words = re.sub(r"\bcf\b\.? ?|\?", "", _plain(text)).strip()
    if species := species_meant(text, own) or species_meant(words, own):
        latin = species.casefold()
        is_latin = latin.split()[0] in _GENERA or _LOOKS_LATIN.fullmatch(latin)
        return latin if is_latin else None
    if "/" in words or (_DOUBTS - _UNNAMED) & set(_WORDS.findall(words)):
        return None
    if (short := _SHORTENED.fullmatch(words)) and short[2] not in _DOUBTS:
        return f"{short[1]}. {short[2]}"
    genus = _WORDS.match(words)
    return genus[0] if genus and genus[0] in _GENERA else None


def _is_english_for(text: str | None, latin: str) -> bool:
    return any(_plain(text) in names for names in english_names(latin).values())


def english_names(text: str | None) -> dict[str, tuple[str, ...]]:
    """Latin name -> English names, for each species or genus of the table that a text names in Latin."""
    return {latin: names for latin, names in _english_names().items() if is_of_species(text, latin)}


def is_of_species(text: str | None, latin: str) -> bool:
    """Whether the text contains every word of a Latin name."""
    return bool(text) and set(_WORDS.findall(latin.casefold())) <= set(_WORDS.findall((text or "").casefold()))


_WORDS = re.compile(r"[^\W_]+")


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
