"""Which shared batches do not tell all that was picked or lost of them: every sum of theirs would be too low."""

from __future__ import annotations

from collections.abc import Iterator

from journal.model import Batch, Journal, Note
from journal.reckoning.timing import runs
from journal.sharing.granting import Grant


def kept_back_openly(journal: Journal, grant: Grant) -> frozenset[str]:
    """IDs of shared batches of which a sum is kept back for what the share tells of itself: that it begins later, or
    that a note is about several IDs of which not all are shared.

    Not those of which only a private note has one: that there is such a note is not told either.
    """
    as_written = {note.path: note for note in journal.notes}
    return frozenset(
        id
        for id, note in _counting(journal.public, grant)
        if grant.kept_back(note) == "before since" or not is_whole(as_written.get(note.path, note), grant)
    )


def kept_back_for_privacy(journal: Journal, grant: Grant) -> frozenset[str]:
    """IDs of shared batches of which private notes have sums."""
    return frozenset(id for id, note in _counting(journal, grant) if note.private)


def is_whole(note: Note, grant: Grant) -> bool:
    """Whether all that a note is about is shared; else nobody could say what of its sums is whose.

    note: as it stands in the whole journal; in the public one it no longer names what is private.
    """
    return all(grant.has(ref.id) for ref in note.about)


def has_sums(note: Note) -> bool:
    return any(sum is not None for sum in (note.harvest_g, note.dried_g, note.lost))


def _counting(journal: Journal, grant: Grant) -> Iterator[tuple[str, Note]]:
    """The IDs of shared batches, each with every note that counts in what it gave."""
    for id, run in runs(journal).items():
        if isinstance(run.of, Batch) and grant.has(id):
            yield from ((id, note) for note in (*run.harvests, *run.losses))
