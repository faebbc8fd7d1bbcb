"""A batch as one line of a list: on Now, on the batches, in its tent, under its culture."""

from __future__ import annotations

from typing import Any

from journal.model import Batch
from journal.site import wording
from journal.site.pages.common import Lookup, species_words
from journal.site.pictures import Picture


def batch_line(lookup: Lookup, batch: Batch) -> dict[str, Any]:
    """A batch as one line of a list."""
    run = lookup.runs[batch.id]
    units = wording.count(batch.units, "unit")
    lost = f", {run.lost} lost" if run.lost else ""
    picked = f"{wording.mass(run.harvest_g, lookup.units)} picked" if run.harvest_g else None
    return {
        "label": lookup.label(batch.id),
        "species": species_words(batch.species),
        "stage": run.stage,
        "words": " · ".join(filter(None, (f"{units}{lost}", picked))),
        "when": wording.when_in_words(batch.date),
        "day0": run.day0.isoformat() if run.day0 and not run.is_over else None,
        "picture": lookup.face(batch) or _face_above(lookup, batch),
        "unconfirmed": lookup.identity(batch) is not None,
    }


def _face_above(lookup: Lookup, batch: Batch) -> Picture | None:
    """The wild find's picture, for a batch that has none of its own yet."""
    finds = [lookup.journal.by_id[name.lower()] for name in lookup.lineage.wild_origins_of(batch.id)]
    return next((face for find in finds if (face := lookup.face(find, newest=False))), None)
