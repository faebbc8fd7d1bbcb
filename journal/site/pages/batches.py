"""The batches: by tent and stage, then by age."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from journal.model import Batch
from journal.site import addresses
from journal.site.pages import batch as one
from journal.site.pages.batch_line import batch_line
from journal.site.pages.lookup import Lookup
from journal.site.plan import Page

_BY_NEED = (
    "fruiting", "pinning", "contaminated", "colonised", "resting", "colonising", "inoculated", "stored",
)  # fmt: skip

NOWHERE = "Place not recorded"


def pages(lookup: Lookup) -> Iterator[Page]:
    over = [b for b in reversed(lookup.journal.batches) if lookup.analysis.progress[b.id].is_over]
    context = {
        "title": "Batches",
        "place": "Batches",
        "groups": _by_place(lookup),
        "finished": [batch_line(lookup, batch) for batch in over],
    }
    yield Page("batches", (), addresses.BATCHES, "batches/list.html", context, "main", growing=True)
    for batch in lookup.journal.batches:
        yield one.page(lookup, batch)


def by_need(lookup: Lookup, batches: list[Batch]) -> list[Batch]:
    """Batches that want looking at first come first, then the oldest."""

    def need(batch: Batch) -> tuple[int, Any, str]:
        stage = lookup.analysis.progress[batch.id].stage
        place = _BY_NEED.index(stage) if stage in _BY_NEED else len(_BY_NEED)
        return (place, batch.date.first, batch.path)

    return sorted(batches, key=need)


def growing(lookup: Lookup) -> list[Batch]:
    progress = lookup.analysis.progress
    return by_need(lookup, [batch for batch in lookup.journal.batches if not progress[batch.id].is_over])


def _by_place(lookup: Lookup) -> list[tuple[str, list[dict[str, Any]]]]:
    """What grows, by where it stands: the tents in the settings' order, what stands in none last."""
    groups: dict[str, list[dict[str, Any]]] = {tent.name: [] for tent in lookup.settings.tents}
    for batch in growing(lookup):
        groups.setdefault(place_name(lookup, batch) or NOWHERE, []).append(batch_line(lookup, batch))
    return [(place, rows) for place, rows in groups.items() if rows]


def place_name(lookup: Lookup, batch: Batch) -> str | None:
    """Where a batch stands now, in the settings' words."""
    where = lookup.analysis.progress[batch.id].tent
    row = lookup.journal.by_id.get(where.lower()) if where else None
    return lookup.name_of(row) if row is not None else None
