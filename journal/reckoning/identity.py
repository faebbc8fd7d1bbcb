"""What each thing is taken to be, who says so, and how far that may be trusted down the line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from journal.model import Batch, Certainty, Culture, Find, Journal, Note, sort_key
from journal.reckoning.lineage import Lineage, lineage_of, living_of, sources_of
from journal.reckoning.timing import last_day_meant


@dataclass(frozen=True, slots=True)
class Identification:
    """What a find is taken to be. path: the entry that says so."""

    species: str | None
    certainty: Certainty
    identified_by: str | None
    path: str


def identifications(journal: Journal) -> dict[str, tuple[Identification, ...]]:
    """Each find's identifications by its ID, the find's own first, then each note's; the last one rules."""
    said = {find.id: [_at_the_find(find)] for find in journal.finds}
    for note in sorted(filter(identifies, journal.notes), key=sort_key):
        for id in dict.fromkeys(ref.id for ref in note.about):
            if id in said:
                said[id].append(_revised(said[id][-1], note))
    return {id: tuple(rows) for id, rows in said.items()}


def identifies(note: Note) -> bool:
    """Whether a note about a find says anew what it is."""
    return bool(note.species or note.certainty or note.identified_by)


def identification_of(journal: Journal, find: Find) -> Identification:
    """What the find is taken to be now."""
    return identifications(journal)[find.id][-1]


def certainty_of(journal: Journal, find: Find) -> Certainty:
    """How sure the find's name is now: the latest note that identifies it rules, else the find itself."""
    return identification_of(journal, find).certainty


def _at_the_find(find: Find) -> Identification:
    return Identification(find.species, find.certainty, find.identified_by, find.path)


def _revised(before: Identification, note: Note) -> Identification:
    """A name given anew with no certainty is unsure: what was sure was the old name."""
    renamed = bool(note.species) and note.species != before.species
    return Identification(
        species=note.species or before.species,
        certainty=note.certainty or ("unsure" if renamed else before.certainty),
        identified_by=note.identified_by or (None if renamed else before.identified_by),
        path=note.path,
    )


def identity_confirmed(journal: Journal, lineage: Lineage | None = None) -> dict[str, bool]:
    """For every find, culture and batch, by ID, whether its identity counts as confirmed.

    True only where every way up ends at a find that is confirmed now. What was received, what names an origin that
    cannot be found, and what hangs in a circle is not confirmed.
    """
    lineage = lineage or lineage_of(journal)
    bearers = living_of(journal)
    confirmed = dict.fromkeys(bearers, False)
    confirmed |= {id: rows[-1].certainty == "confirmed" for id, rows in identifications(journal).items()}
    for id in lineage.order:
        if id in bearers:
            confirmed[id] = _origin_is_known(bearers[id], lineage) and all(map(confirmed.get, lineage.parents[id]))
    return confirmed


def _origin_is_known(row: Culture | Batch, lineage: Lineage) -> bool:
    received = isinstance(row, Culture) and (row.received_from is not None or row.method == "received")
    named = {ref.id for ref in sources_of(row)}
    return bool(named) and not received and not row.unknown_sources and len(named) == len(lineage.parents[row.id])


def doubtful(journal: Journal, lineage: Lineage | None = None) -> dict[str, str]:
    """Every culture and batch under a doubt, by ID, with what the doubt began at (`VF-25A`, or `VF-25A.2`).

    A culture called `doubtful` in a note is one; so is what was taken from it on that day or later, or may have been
    by the little that is known of its date (of a doubtful part: from that part, or from the culture where no part is
    named), and everything taken from those. A doubt does not lift: no later stage says whose lid it was.
    """
    lineage = lineage or lineage_of(journal)
    bearers = living_of(journal)
    began = _doubts(journal.notes)
    inherited: dict[str, str] = {}
    for id in (id for id in lineage.order if id in bearers):
        passed = _passed_on(bearers[id], began, inherited)
        if passed is not None:
            inherited[id] = passed
    own = {id: id for id, doubts in began.items() if id in bearers and any(doubt.part is None for doubt in doubts)}
    return own | inherited


@dataclass(frozen=True, slots=True)
class _Doubt:
    part: int | None
    text: str
    note: Note


def _doubts(notes: Iterable[Note]) -> dict[str, list[_Doubt]]:
    """Where doubts began, by ID, earliest first."""
    began: dict[str, list[_Doubt]] = {}
    for note in sorted((note for note in notes if note.stage == "doubtful"), key=sort_key):
        for ref in note.about:
            began.setdefault(ref.id, []).append(_Doubt(ref.part, str(ref), note))
    return began


def _passed_on(row: Culture | Batch, began: Mapping[str, list[_Doubt]], inherited: Mapping[str, str]) -> str | None:
    """The doubt that came with what it was taken from, or None."""
    for ref in sources_of(row):
        for doubt in began.get(ref.id, ()):
            is_meant = doubt.part is None or ref.part is None or doubt.part == ref.part
            if is_meant and last_day_meant(row.date) >= doubt.note.date.first:
                return doubt.text
        if ref.id in inherited:
            return inherited[ref.id]
    return None


def below_unshared(journal: Journal, lineage: Lineage) -> frozenset[str]:
    """IDs of what stands, at any distance, below something that has origins which are not shared."""
    unshared = [row.id for row in living_of(journal).values() if row.unshared_sources]
    return frozenset(lineage.reached(unshared, lineage.children))


def received_above(journal: Journal, lineage: Lineage) -> dict[str, str]:
    """From whom what stands above was received, for each that has any such above it; of several, the first by ID."""
    given = {row.id: row.received_from for row in journal.cultures if row.received_from}
    found: dict[str, str] = {}
    for giver in sorted(given, key=lambda id: (id.lower(), id)):
        found |= dict.fromkeys(lineage.reached([giver], lineage.children, found), given[giver])
    return found
