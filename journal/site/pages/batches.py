"""The batches: by tent and stage, and each with its numbers and what happened to it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from journal.model import Batch, Note
from journal.site import addresses, wording
from journal.site.pages.common import Lookup, species_words
from journal.site.pages.cultures import above, batch_line
from journal.site.pages.run import run_chart
from journal.site.plan import Page

_BY_NEED = (
    "fruiting", "pinning", "contaminated", "colonised", "resting", "colonising", "inoculated", "stored",
)  # fmt: skip


def pages(lookup: Lookup) -> Iterator[Page]:
    yield _list(lookup)
    for batch in lookup.journal.batches:
        yield _batch(lookup, batch)


def by_need(lookup: Lookup, batches: list[Batch]) -> list[Batch]:
    """Batches that want looking at first come first, then the oldest."""

    def need(batch: Batch) -> tuple[int, Any, str]:
        stage = lookup.runs[batch.id].stage
        place = _BY_NEED.index(stage) if stage in _BY_NEED else len(_BY_NEED)
        return (place, batch.date.first, batch.path)

    return sorted(batches, key=need)


def growing(lookup: Lookup) -> list[Batch]:
    return by_need(lookup, [batch for batch in lookup.journal.batches if not lookup.runs[batch.id].is_over])


def _list(lookup: Lookup) -> Page:
    groups: dict[str, list[dict[str, Any]]] = {}
    for batch in growing(lookup):
        groups.setdefault(place_name(lookup, batch) or "Nowhere noted", []).append(batch_line(lookup, batch))
    over = [b for b in reversed(lookup.journal.batches) if lookup.runs[b.id].is_over]
    context = {
        "title": "Batches",
        "place": "Batches",
        "groups": list(groups.items()),
        "finished": [batch_line(lookup, batch) for batch in over],
    }
    return Page("batches", (), addresses.BATCHES, "batches/list.html", context, "main", growing=True)


def place_name(lookup: Lookup, batch: Batch) -> str | None:
    """Where a batch stands now, in the settings' words."""
    where = lookup.runs[batch.id].tent
    row = lookup.journal.by_id.get(where.lower()) if where else None
    return lookup.name_of(row) if row is not None else None


def _batch(lookup: Lookup, batch: Batch) -> Page:
    run = lookup.runs[batch.id]
    pictures = lookup.photos_about(batch)
    own = lookup.pictures.beside(batch)
    tent = lookup.labels([run.tent]) if run.tent else ()
    context = {
        "title": f"{batch.id} {lookup.name_of(batch)}",
        "place": "Batches",
        "id": batch.id,
        "label": lookup.label(batch.id),
        "name": species_words(batch.species),
        "units": wording.count(batch.units, _unit(batch)),
        "stage": run.stage,
        "stage_since": wording.day_in_words(run.stage_since.first) if run.stage_since else None,
        "day0": run.day0.isoformat() if run.day0 else None,
        "day0_words": wording.day_in_words(run.day0) if run.day0 else None,
        "last_day": run.over_on.isoformat() if run.over_on else None,
        "finished": run.is_over,
        "tent": tent[0] if tent else None,
        "cultures": [(lookup.label(ref.id), ref.part) for ref in batch.cultures],
        "above": above(lookup, batch),
        "wild": lookup.labels(lookup.lineage.wild_origins_of(batch.id)),
        "run_chart": run_chart(lookup, batch),
        "numbers": _numbers(lookup, batch),
        "flushes": _flushes(lookup, batch),
        "facts": _facts(lookup, batch),
        "hero": lookup.face(batch),
        "pictures": own,
        "prose": lookup.prose(batch),
        "identity": lookup.identity(batch),
        "doubt": lookup.doubt(batch),
        "entries": [lookup.told(entry, batch, run.day0) for entry in lookup.entries_on(batch)],
        "nexts": lookup.nexts(batch),
        "taken": lookup.labels(c.id for c in lookup.journal.cultures if any(r.id == batch.id for r in c.sources)),
        "leads": lookup.leads_to(batch),
        "larger": any(len(picture.sources) > 1 for picture in pictures),
    }
    section = f"batches-{batch.date.first.year}"
    is_growing = batch.id in lookup.growing_ids
    values = (("name", batch.id.lower()),)
    return Page("batch", values, addresses.page_of(batch), "batches/batch.html", context, section, is_growing)


def _unit(batch: Batch) -> str:
    """What one unit is called: the last word of its container where that is a plain noun, else a unit."""
    words = (batch.container or "").lower()
    return next((word for word in ("block", "bag", "jar", "log", "bed", "bucket") if word in words), "unit")


def _numbers(lookup: Lookup, batch: Batch) -> list[tuple[str, str]]:
    run = lookup.runs[batch.id]
    unit = _unit(batch)
    numbers = [(str(batch.units), f"{wording.count(batch.units, unit).partition(' ')[2]} begun")]
    if run.lost:
        causes = f" to {wording.joined(list(run.causes))}" if run.causes else ""
        numbers.append((str(run.lost), f"lost{causes}"))
    if run.harvest_g:
        so_far = "" if run.finished else " so far"
        numbers.append((wording.mass(run.harvest_g, lookup.units), f"picked{so_far}, trimmed and unwashed"))
    if batch.dry_g is not None:
        numbers.append((wording.mass(batch.dry_g, lookup.units), f"dry substrate a {unit}, from {batch.dry_from}"))
    return numbers


def _flushes(lookup: Lookup, batch: Batch) -> list[dict[str, Any]]:
    """Harvests by flush: number, mass, first and last day."""
    rows: dict[int, list[Note]] = {}
    for entry in lookup.entries_on(batch):
        if isinstance(entry, Note) and entry.harvest_g is not None and entry.flush is not None:
            rows.setdefault(entry.flush, []).append(entry)
    return [_flush(lookup, number, notes) for number, notes in sorted(rows.items())]


def _flush(lookup: Lookup, number: int, notes: list[Note]) -> dict[str, Any]:
    first, last = wording.when_in_words(notes[0].date), wording.when_in_words(notes[-1].date)
    total_g = sum(note.harvest_g or 0 for note in notes)
    return {
        "number": number,
        "mass": wording.mass(total_g, lookup.units),
        "days": first if first == last else f"{first} to {last}",
    }


def _facts(lookup: Lookup, batch: Batch) -> list[tuple[str, str]]:
    units = lookup.units
    mix = ", ".join(f"{part.name} {wording.mass(part.mass_g, units)}" for part in batch.mix)
    wants = [wording.humidity_band(batch.wants_humidity_pct)] if batch.wants_humidity_pct else []
    if batch.wants_temperature_c:
        wants.append(wording.temperature_band(batch.wants_temperature_c, units))
    lines = [
        ("substrate", batch.substrate),
        ("container", batch.container),
        ("mix, whole lot", mix),
        ("wet, a unit", wording.mass(batch.wet_g, units) if batch.wet_g is not None else None),
        ("moisture", wording.percent(batch.moisture_pct) if batch.moisture_pct is not None else None),
        ("heat", batch.heat),
        ("spawn, a unit", wording.mass(batch.spawn_g, units) if batch.spawn_g is not None else None),
        ("wants", ", ".join(wants)),
        ("made by", batch.by),
    ]
    return [(what, words) for what, words in lines if words]
