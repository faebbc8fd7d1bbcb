"""Which species a culture or batch is of, where its own entry does not say."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping

from journal.reading.faults import Faults
from journal.reading.rows import Kept


def species_of(kept: Iterable[Kept], of_finds: Mapping[str, str | None], faults: Faults) -> dict[str, str | None]:
    """The species of each find, culture and batch, by ID: its own, else that of the first parent that has one.

    kept: cultures and batches, with no circle among them. of_finds: what each find is taken to be now.
    Parents of a culture that disagree are *odd*.
    """
    rows = {one.draft.values["id"]: one for one in kept}
    known = dict(of_finds)
    for start in rows:
        trail = [start]
        while trail:
            parents = [ref.id for ref in rows[trail[-1]].links.sources]
            waiting = [parent for parent in parents if parent not in known and parent in rows]
            trail.extend(waiting)
            if not waiting and (id := trail.pop()) not in known:
                known[id] = _species(rows[id], parents, known, faults)
    return known


def _species(one: Kept, parents: list[str], known: Mapping[str, str | None], faults: Faults) -> str | None:
    own: str | None = one.draft.values.get("species")
    if own is not None:
        return own
    above = {parent: species for parent in dict.fromkeys(parents) if (species := known.get(parent))}
    if one.draft.kind == "culture" and len({_plain(species) for species in above.values()}) > 1:
        told = ", ".join(f"{parent} is {species}" for parent, species in above.items())
        faults.odd(
            one.draft, "from", f"its parents are not of one species: {told}; the first is taken",
            "correct `from`, or write `species`",
        )  # fmt: skip
    return next(iter(above.values()), None)


def _plain(species: str) -> str:
    return " ".join(unicodedata.normalize("NFC", species).casefold().strip("*_ ").split())
