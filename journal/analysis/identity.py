"""What each thing is identified as, by whom, and how far that holds for what was grown from it."""

from __future__ import annotations

from collections.abc import Container, Mapping
from dataclasses import dataclass, replace

from journal.analysis.lineage import Lineage, living_of, sources_of
from journal.analysis.progress import last_day_meant
from journal.analysis.species_names import OwnNames, are_of_one_species, is_another_species, says_more
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
        found[id][-1] = replace(now, certainty=less_sure(now.certainty, journal.surest[id]))
    return {id: tuple(rows) for id, rows in found.items()}


_CERTAINTIES = ("confirmed", "likely", "unsure")


def less_sure(one: Certainty, other: Certainty) -> Certainty:
    return max(one, other, key=_CERTAINTIES.index)


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
    find: the ID of the find, which is identified as another species, or less closely, as by its genus alone."""

    id: str
    species: str
    find: str


def other_names(
    journal: Journal, lineage: Lineage, named: Mapping[str, tuple[Identification, ...]]
) -> dict[str, OtherName]:
    """Every culture and batch whose name, or that of something above it, is of another species than a find it goes back
    to is currently identified as, or says more than that find's name, by ID. named: the finds' `identifications`. In a
    share none of what the journal that is shared confirms: that one has all the names that its author gave."""
    living, found = living_of(journal), dict[str, OtherName]()
    for id in (id for id in lineage.order if id in living):
        species = None if journal.surest.get(id) == "confirmed" else living[id].species
        for find in lineage.wild_origins_of(id) if species else ():
            if is_beyond(species, named[find][-1].species, journal.settings.names):
                found[id] = OtherName(id, species or "", find)
                break
        else:
            above = next((found[parent] for parent in lineage.parents[id] if parent in found), None)
            if above:
                found[id] = above
    return found


def is_beyond(name: str | None, known: str | None, own: OwnNames) -> bool:
    """Whether a name is not confirmed by what confirms a known one: it is of another species, or says more."""
    return is_another_species(name, known, own) or says_more(name, known, own)


def several_species(
    journal: Journal, lineage: Lineage, named: Mapping[str, tuple[Identification, ...]]
) -> frozenset[str]:
    """IDs of the cultures and batches that go back to several finds which may be of more than one species by what they
    are currently identified as: no name of theirs tells what any one fruiting body is. In a share none of what the
    journal that is shared confirms."""
    own, found = journal.settings.names, set[str]()
    for id in (id for id in living_of(journal) if journal.surest.get(id) != "confirmed"):
        finds = lineage.wild_origins_of(id)
        if len(finds) > 1 and not are_of_one_species((named[find][-1].species for find in finds), own):
            found.add(id)
    return frozenset(found)


def identity_confirmed(
    journal: Journal,
    lineage: Lineage,
    named: Mapping[str, tuple[Identification, ...]],
    misnamed: Mapping[str, OtherName],
    mixed: Container[str],
) -> dict[str, bool]:
    """For every find, culture and batch, by ID, whether its identity counts as confirmed. True only if every path up
    ends at a find that is currently confirmed, nothing on it has the name of another species or a closer one, and all
    those finds are of one species. What was received, has an unknown origin, or is in a circle is not confirmed. named:
    the finds' `identifications`; misnamed: `other_names`; mixed: `several_species`."""
    living = living_of(journal)
    confirmed = dict.fromkeys(living, False)
    confirmed |= {id: rows[-1].certainty == "confirmed" for id, rows in named.items()}
    for id in lineage.order:
        if id in living:
            row, parents = living[id], lineage.parents[id]
            received = isinstance(row, Culture) and (row.received_from is not None or row.method == "received")
            sources = {ref.id for ref in sources_of(row)}
            is_known = sources and not received and not row.unknown_sources and len(sources) == len(parents)
            is_known = is_known and id not in misnamed and id not in mixed
            confirmed[id] = bool(is_known) and all(map(confirmed.get, parents))
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
