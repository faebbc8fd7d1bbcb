"""A batch's crop in one phrase, in its keeper's word for a unit."""

from __future__ import annotations

import re

from journal.model import Batch
from journal.reckoning.be_words import be_in_words, flushes_words
from journal.site import wording
from journal.site.pages.common import Lookup

_UNIT = re.compile(r"\b(block|bag|jar|log|bed|bucket|tray|tub|bottle)(s?)\b", re.IGNORECASE)


def unit_word(batch: Batch) -> str:
    """What its keeper calls one unit: by the title, else by the container; `unit` where neither names just one kind.

    One log in the title of several units is what it was found on, or the like.
    """
    in_title = {kind.lower() for kind, plural in _UNIT.findall(batch.title) if plural or batch.units == 1}
    in_container = {kind.lower() for kind, _ in _UNIT.findall(batch.container or "")}
    return next((kinds.pop() for kinds in (in_title, in_container) if len(kinds) == 1), "unit")


def crop_in_words(lookup: Lookup, batch: Batch) -> str:
    """What a batch gave, as one phrase for a list; so far, until it is finished."""
    crop, run = lookup.crops[batch.id], lookup.runs[batch.id]
    units = f"{unit_word(batch)}s"
    if words := be_in_words(crop, units):
        return words
    if batch.sums_kept_back:
        picked = f"{wording.mass(crop.harvest_g, lookup.units)} picked" if crop.harvest_g else "nothing picked"
        return f"{wording.count(crop.begun, unit_word(batch))} begun, {picked} as far as it is shared"
    begun = f"{wording.count(crop.begun, unit_word(batch))} begun{f', {crop.lost} lost' if crop.lost else ''}"
    if crop.harvest_g:
        ending = flushes_words(crop)
        return f"{begun}, {wording.mass(crop.harvest_g, lookup.units)} picked{f', {ending}' if ending else ''}"
    return f"{begun}, nothing picked{'' if run.is_over else ' yet'}"
