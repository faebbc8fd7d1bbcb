"""Which shared batches do not tell all that was picked or lost of them: every sum of theirs would be too low."""

from __future__ import annotations

from collections.abc import Iterator

from journal.model import Journal, Note
from journal.sharing.granting import Grant


def kept_back_openly(journal: Journal, grant: Grant) -> frozenset[str]:
    """IDs of shared batches of which a sum is kept back for what the share tells of itself: that it begins later, or
    that a note is about several IDs of which not all are shared.

    Not those of which only a private note has one: that there is such a note is not told either.
    """
    return frozenset(
        id
        for note, ids in _of_batches(journal, grant)
        for id in ids
        if not note.private and (grant.kept_back(note) == "before since" or not is_whole(note, grant))
    )


def kept_back_for_privacy(journal: Journal, grant: Grant) -> frozenset[str]:
    """IDs of shared batches of which private notes have sums."""
    return frozenset(id for note, ids in _of_batches(journal, grant) if note.private for id in ids)


def is_whole(note: Note, grant: Grant) -> bool:
    """Whether all that a note is about is shared; else nobody could say what of its sums is whose."""
    return all(grant.has(ref.id) for ref in note.about)


def has_sums(note: Note) -> bool:
    return note.dried_g is not None or _counts(note)


def _counts(note: Note) -> bool:
    """Whether it tells something that goes into what a batch gave; what was dried goes into none of it."""
    return note.harvest_g is not None or note.lost is not None


def _of_batches(journal: Journal, grant: Grant) -> Iterator[tuple[Note, tuple[str, ...]]]:
    """Notes of what was picked or lost, and the shared batches that they are about."""
    batches = {batch.id for batch in journal.batches if grant.has(batch.id)}
    for note in journal.notes:
        if _counts(note):
            yield note, tuple(dict.fromkeys(ref.id for ref in note.about if ref.id in batches))
