"""A batch as one line of a list, and what is expected of it next."""

from __future__ import annotations

from typing import Any

from journal.analysis.forecast import What
from journal.model import Batch
from journal.quantities import counted
from journal.site import wording
from journal.site.images import Picture
from journal.site.pages.crop import crop_in_words
from journal.site.pages.lookup import Lookup, species_words

_NAMED: dict[What, str] = {"harvest": "ready to harvest"}


def ahead_of(lookup: Lookup, id: str) -> dict[str, Any] | None:
    """What is expected of a batch next; None where nothing is. first, last: ISO dates, both included. basis: what they
    rest on, in a few words; rests_on: in full, with the days counted."""
    found = lookup.analysis.expected.get(id)
    if not found:
        return None
    by_batches = f"by {counted(found.n or 0, 'finished batch', 'finished batches')} of its {found.basis}"
    return {
        "what": _NAMED.get(found.what, found.what),
        "first": found.from_day.isoformat(),
        "last": found.to_day.isoformat(),
        "dates": wording.days_in_words(found.from_day, found.to_day),
        "basis": {"published": "by a published range", "practice": "by common practice"}.get(found.basis, by_batches),
        "rests_on": found.words,
    }


def batch_line(lookup: Lookup, batch: Batch) -> dict[str, Any]:
    """What the line says: its stage, what it gave so far, what is expected of it next."""
    run = lookup.analysis.progress[batch.id]
    return {
        "label": lookup.label(batch.id),
        "species": species_words(batch.species),
        "stage": wording.stage_in_words(run.stage),
        "words": crop_in_words(lookup, batch),
        "when": wording.when_in_words(batch.date),
        "day0": run.day0.isoformat() if run.day0 and not run.is_over else None,
        "ahead": ahead_of(lookup, batch.id),
        "picture": lookup.face(batch) or _face_above(lookup, batch),
        "unconfirmed": lookup.identity(batch) is not None,
        "in_doubt": lookup.doubt(batch) is not None,
    }


def _face_above(lookup: Lookup, batch: Batch) -> Picture | None:
    """The wild find's picture, for a batch that has none of its own yet."""
    finds = [lookup.journal.by_id[name.lower()] for name in lookup.analysis.lineage.wild_origins_of(batch.id)]
    return next((face for find in finds if (face := lookup.face(find, newest=False))), None)
