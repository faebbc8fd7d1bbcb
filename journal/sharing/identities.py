"""What a share says that things are identified as: never more surely than the journal that is shared."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from journal.analysis.analysis import Analysis
from journal.model import Certainty, Entry, Find, Journal, Note
from journal.sharing.grant import Grant


@dataclass(frozen=True, slots=True)
class SharedIdentities:
    """Of the shared part of a journal. certain: how sure each shared find, culture and batch may be called at most, by
    ID. unnamed: the paths of the notes that say how sure a name is which the share leaves out. early: the species
    and certainty of each find that a note identified which is left out, by ID."""

    certain: dict[str, Certainty]
    unnamed: frozenset[str]
    early: dict[str, tuple[str | None, Certainty]]

    def of_find(self, find: Find, words: Callable[[str], str]) -> dict[str, Any]:
        """The fields that are not as the find's own entry has them. words: cleans a text."""
        if find.id not in self.early:
            return {}
        species, certainty = self.early[find.id]
        return {"species": species and words(species), "certainty": certainty}

    def of_note(self, note: Note) -> dict[str, Any]:
        """The fields that are not as the note has them."""
        return {"certainty": None} if note.path in self.unnamed else {}


def shared_identities(public: Journal, grant: Grant, entries: Iterable[Entry]) -> SharedIdentities:
    """public: what of a journal may be shared; entries: those of it that are.

    A find is shared as what it was identified as by the day that the share begins: the name that it was found under may
    be confirmed no more. A name that nothing shared has is left out, and the find is unsure until a note names it: no
    reader could know what was confirmed.
    """
    entries = tuple(entries)
    told, paths = {getattr(entry, "species", None) for entry in entries} | {None}, {entry.path for entry in entries}
    found = Analysis(public)
    certain: dict[str, Certainty] = {id: "confirmed" if sure else "unsure" for id, sure in found.confirmed.items()}
    unnamed, early = set[str](), dict[str, tuple[str | None, Certainty]]()
    for id, rows in found.identifications.items():
        certain[id] = rows[-1].certainty if rows[-1].species in told else "unsure"
        unnamed |= {row.path for row in rows if row.species not in told}
        if before := [row for row in rows if row.path not in paths]:
            is_told = before[-1].species in told
            early[id] = (before[-1].species, before[-1].certainty) if is_told else (None, "unsure")
    return SharedIdentities(
        {id: certainty for id, certainty in certain.items() if grant.has(id)}, frozenset(unnamed), early
    )
