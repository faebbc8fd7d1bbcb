"""What a share says that things are identified as: never more surely than the journal that is shared."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from journal.analysis.analysis import Analysis
from journal.analysis.identity import less_sure
from journal.analysis.species_names import is_another_species, says_more
from journal.model import Certainty, Entry, Find, Journal, Note
from journal.sharing.grant import Grant


@dataclass(frozen=True, slots=True)
class SharedIdentities:
    """Of the shared part of a journal. certain: how sure each shared find, culture and batch may be called at most, by
    ID. unsaid: the paths of the notes that say how sure a name is which the share leaves out, or which a private note
    makes less sure. early: the species and certainty of each find that a note identified which is left out, by ID.
    """

    certain: dict[str, Certainty]
    unsaid: frozenset[str]
    early: dict[str, tuple[str | None, Certainty]]

    def of_find(self, find: Find, words: Callable[[str], str]) -> dict[str, Any]:
        """The fields that are not as the find's own entry has them. words: cleans a text."""
        if find.id not in self.early:
            return {"certainty": self.certain[find.id]} if find.path in self.unsaid else {}
        species, certainty = self.early[find.id]
        return {"species": species and words(species), "certainty": certainty}

    def of_note(self, note: Note) -> dict[str, Any]:
        """The fields that are not as the note has them."""
        return {"certainty": None} if note.path in self.unsaid else {}


@dataclass(frozen=True, slots=True)
class PrivateDoubt:
    """A shared find that a private note identifies otherwise, or less surely, than what may be shared does. note: the
    note's path. species: by it; is_another: whether that cannot be the one that may be shared. certainty: how sure the
    find may be called at most."""

    find: Find
    note: str
    species: str | None
    is_another: bool
    certainty: Certainty


def private_doubts(journal: Journal, grant: Grant) -> Iterator[PrivateDoubt]:
    """The shared finds of which a private note of the journal makes less sure, or something else."""
    everything, open_ones = Analysis(journal).identifications, Analysis(journal.public).identifications
    for find in journal.public.finds:
        rows, shown = everything.get(find.id, ()), open_ones[find.id]
        paths = {row.path for row in shown}
        private = [row for row in rows if row.path not in paths]
        if not private or not grant.has(find.id):
            continue
        names = (shown[-1].species, rows[-1].species, journal.settings.names)
        is_another = is_another_species(*names)
        certainty: Certainty = "unsure" if is_another or says_more(*names) else rows[-1].certainty
        if is_another or less_sure(certainty, shown[-1].certainty) != shown[-1].certainty:
            last = next((row for row in reversed(private) if row.species == rows[-1].species), private[-1])
            yield PrivateDoubt(find, last.path, last.species, is_another, certainty)


def shared_identities(journal: Journal, grant: Grant, entries: Iterable[Entry]) -> SharedIdentities:
    """journal: the whole one; entries: those of it that are shared.

    A find is shared as what it was identified as by the day that the share begins: the name that it was found under may
    be confirmed no more. A name that nothing shared has is left out, and the find is unsure until a note names it: no
    reader could know what was confirmed. What a private note makes less sure is shared as no surer, without a word of
    that note: somebody may rely on the name.
    """
    entries = tuple(entries)
    told, paths = {getattr(entry, "species", None) for entry in entries} | {None}, {entry.path for entry in entries}
    found = Analysis(journal.public)
    certain: dict[str, Certainty] = {id: "confirmed" if sure else "unsure" for id, sure in found.confirmed.items()}
    unsaid, early = set[str](), dict[str, tuple[str | None, Certainty]]()
    for id, rows in found.identifications.items():
        certain[id] = rows[-1].certainty
        unsaid |= {row.path for row in rows if row.species not in told}
        if before := [row for row in rows if row.path not in paths]:
            is_told = before[-1].species in told
            early[id] = (before[-1].species, before[-1].certainty) if is_told else (None, "unsure")
    for doubt in private_doubts(journal, grant):
        id = doubt.find.id
        certain[id] = less_sure(certain[id], doubt.certainty)
        if id in early:
            early[id] = (early[id][0], less_sure(early[id][1], certain[id]))
        rows = found.identifications[id]
        unsaid |= {row.path for row in rows if less_sure(row.certainty, certain[id]) != row.certainty}
    return SharedIdentities(
        {id: certainty for id, certainty in certain.items() if grant.has(id)}, frozenset(unsaid), early
    )
