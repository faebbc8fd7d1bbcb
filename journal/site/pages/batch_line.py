"""A batch as one line of a list: on Now, on the batches, in its tent, under its culture."""

from __future__ import annotations

from typing import Any

from journal.model import Batch
from journal.site import wording
from journal.site.pages.ahead import ahead_of
from journal.site.pages.common import Lookup, species_words
from journal.site.pages.crop_words import crop_in_words
from journal.site.pictures import Picture


def batch_line(lookup: Lookup, batch: Batch) -> dict[str, Any]:
    """What the line says: its stage, what it gave so far, what is expected of it next."""
    run = lookup.runs[batch.id]
    return {
        "label": lookup.label(batch.id),
        "species": species_words(batch.species),
        "stage": run.stage,
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
    finds = [lookup.journal.by_id[name.lower()] for name in lookup.lineage.wild_origins_of(batch.id)]
    return next((face for find in finds if (face := lookup.face(find, newest=False))), None)
