"""Why the identity of a find, or of what was grown from it, is not confirmed, in words."""

from __future__ import annotations

from collections.abc import Iterable

from journal.analysis.analysis import Analysis
from journal.analysis.identity import Identification, OtherName
from journal.model import Batch, Culture, Find
from journal.site.wording import joined, joined_first


def why_not_confirmed(known: Analysis, row: Find | Culture | Batch) -> str | None:
    """As a sentence; None if it is confirmed."""
    if known.confirmed.get(row.id):
        return None
    named = known.identifications
    if isinstance(row, Find):
        return f"This find is noted as {named[row.id][-1].certainty}."
    if misnamed := known.misnamed.get(row.id):
        return _other_name(row.id, misnamed, named[misnamed.find][-1])
    origins = known.lineage.wild_origins_of(row.id)
    if unsure := [name for name in origins if not known.confirmed.get(name)]:
        return _unsure_origins(unsure, are_all=len(unsure) == len(origins))
    if row.id in known.mixed:
        return _several_species((find, named[find][-1].species) for find in origins)
    if known.seems_confirmed.get(row.id):
        return "The journal that is shared here does not confirm it."
    is_kept_back = row.unshared_sources or row.id in known.below_unshared
    return f"Where it came from is not {'shared' if is_kept_back else 'known well enough to say'}."


def _unsure_origins(finds: list[str], are_all: bool) -> str:
    """are_all: whether it goes back to no other find."""
    if are_all:
        return f"It carries the name given to {joined(finds)}, right or wrong."
    return f"It goes back to {joined(finds)} too, which {'is' if len(finds) == 1 else 'are'} not confirmed."


def _several_species(finds: Iterable[tuple[str, str | None]]) -> str:
    """finds: each with what it is identified as."""
    named = joined_first([f"{find} ({(species or 'unnamed').strip('*_ ')})" for find, species in finds])
    return f"It goes back to {named}, which may be of different species."


def _other_name(id: str, misnamed: OtherName, found: Identification) -> str:
    """found: what the find is currently identified as."""
    which = "It carries" if misnamed.id == id else f"It comes from {misnamed.id}, which carries"
    was, also = ("was confirmed", "") if found.certainty == "confirmed" else ("is noted", ", which is not confirmed")
    named, known = (name.strip("*_ ") for name in (misnamed.species, found.species or ""))
    as_known = f"as {known}" if known else "without a name"
    return f"{which} the name {named}, but {misnamed.find} {was} {as_known}{also}."
