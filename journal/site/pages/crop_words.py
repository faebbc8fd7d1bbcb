"""A batch's crop in one phrase, in its keeper's word for a unit."""

from __future__ import annotations

import re

from journal.model import Batch
from journal.reckoning.be_words import be_in_words, begun_words, flushes_words
from journal.site import wording
from journal.site.pages.common import Lookup

_UNIT = re.compile(r"\b(block|bag|jar|log|bed|bucket|tray|tub|bottle)s?\b", re.IGNORECASE)


def unit_word(batch: Batch) -> str:
    """What its keeper calls one unit: by the title, else by the container; `unit` where neither names just one kind."""
    for text in (batch.title, batch.container or ""):
        kinds: set[str] = {found.lower() for found in _UNIT.findall(text)}
        if len(kinds) == 1:
            return kinds.pop()
    return "unit"


def crop_in_words(lookup: Lookup, batch: Batch) -> str:
    """What a batch gave, as one phrase for a list; so far, until it is finished."""
    crop, run = lookup.crops[batch.id], lookup.runs[batch.id]
    units = f"{unit_word(batch)}s"
    if words := be_in_words(crop, units):
        return words
    lost = f", {crop.lost} lost" if crop.lost else ""
    if crop.harvest_g:
        ending = flushes_words(crop)
        picked = f"{wording.mass(crop.harvest_g, lookup.units)} picked of {begun_words(crop, units)}{lost}"
        return f"{picked}, {ending}" if ending else picked
    return f"nothing picked{'' if run.is_over else ' yet'} of {begun_words(crop, units)}{lost}"
