"""The cultures: their table, and for each where it comes from and what was grown from it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from journal.model import Batch, Culture, Find
from journal.site import addresses, wording
from journal.site.pages.batch_line import batch_line as batch_line
from journal.site.pages.common import Label, Lookup, species_words
from journal.site.pages.telling import how_made
from journal.site.plan import Page


def pages(lookup: Lookup) -> Iterator[Page]:
    yield _list(lookup)
    for culture in lookup.journal.cultures:
        yield _culture(lookup, culture)


def _list(lookup: Lookup) -> Page:
    rows = [_row(lookup, culture) for culture in reversed(lookup.journal.cultures)]
    context = {"title": "Cultures", "place": "Cultures", "rows": rows}
    return Page("cultures", (), addresses.CULTURES, "cultures/list.html", context, "main", growing=True)


def _row(lookup: Lookup, culture: Culture) -> dict[str, Any]:
    descent = lookup.lineage.descents[culture.id]
    grown = _batches_from(lookup, culture)
    return {
        "id": culture.id,
        "label": lookup.label(culture.id),
        "species": species_words(culture.species),
        "form": culture.form,
        "made": how_made(lookup, culture),
        "line": lookup.label(descent.line) if descent.line else None,
        "transfers": descent.transfers,
        "steps": descent.steps_since_wild,
        "batches": len(grown),
        "kept": culture.kept,
        "master": culture.master,
        "stage": lookup.runs[culture.id].stage,
        "iso": culture.date.iso,
        "when": wording.when_in_words(culture.date),
    }


def _batches_from(lookup: Lookup, culture: Culture) -> list[Batch]:
    """Batches made with a culture or with anything taken from it."""
    below = set(lookup.lineage.descendants_of(culture.id))
    return [batch for batch in lookup.journal.batches if batch.id in below]


def _culture(lookup: Lookup, culture: Culture) -> Page:
    descent = lookup.lineage.descents[culture.id]
    pictures = lookup.photos_about(culture)
    own = lookup.pictures.beside(culture)
    context = {
        "title": f"{culture.id} {lookup.name_of(culture)}",
        "place": "Cultures",
        "id": culture.id,
        "label": lookup.label(culture.id),
        "name": species_words(culture.species),
        "made": how_made(lookup, culture),
        "when": wording.when_in_words(culture.date),
        "iso": culture.date.iso,
        "came_from": _came_from(lookup, culture),
        "above": above(lookup, culture),
        "numbers": _numbers(lookup, culture),
        "facts": _facts(culture),
        "hero": own[0] if own else None,
        "pictures": own[1:],
        "prose": lookup.prose(culture),
        "identity": lookup.identity(culture),
        "doubt": lookup.doubt(culture),
        "taken": [_taken(lookup, row) for row in lookup.journal.cultures if _is_from(row, culture.id)],
        "batches": [batch_line(lookup, b) for b in lookup.journal.batches if _is_from(b, culture.id)],
        "entries": [lookup.told(entry, culture) for entry in lookup.entries_on(culture)],
        "nexts": lookup.nexts(culture),
        "leads": lookup.leads_to(culture),
        "line": lookup.label(descent.line) if descent.line and descent.line != culture.id else None,
        "larger": any(len(picture.sources) > 1 for picture in pictures),
    }
    section = f"cultures-{culture.date.first.year}"
    growing = culture.id in lookup.growing_ids
    values = (("name", culture.id.lower()),)
    return Page("culture", values, addresses.page_of(culture), "cultures/culture.html", context, section, growing)


def _is_from(row: Culture | Batch, name: str) -> bool:
    refs = row.sources if isinstance(row, Culture) else row.cultures
    return any(ref.id == name for ref in refs)


def _came_from(lookup: Lookup, culture: Culture) -> dict[str, Any]:
    return {
        "labels": [(lookup.label(ref.id), ref.part) for ref in culture.sources],
        "received": culture.received_from,
    }


def above(lookup: Lookup, row: Culture | Batch) -> list[dict[str, Any]]:
    """Everything above a culture or batch, the wild first."""
    names = sorted(lookup.lineage.ancestors_of(row.id), key=lookup.depth.__getitem__)
    found = [lookup.journal.by_id[name.lower()] for name in names]
    return [_step(lookup, entry) for entry in found if isinstance(entry, Find | Culture | Batch)]


def _step(lookup: Lookup, row: Find | Culture | Batch) -> dict[str, Any]:
    if isinstance(row, Find):
        words = "wild find" + (f" at {row.place}" if row.place else "")
    elif isinstance(row, Culture):
        words = how_made(lookup, row)
    else:
        words = "fruited as a batch"
    return {"label": lookup.label(row.id), "words": words, "when": wording.when_in_words(row.date)}


def _numbers(lookup: Lookup, culture: Culture) -> list[tuple[str, str]]:
    """What stands large: (number, what it counts)."""
    descent = lookup.lineage.descents[culture.id]
    numbers = []
    if descent.transfers is not None:
        numbers.append((f"T{descent.transfers}", "transfers since this line began"))
    if descent.steps_since_wild is not None:
        numbers.append((str(descent.steps_since_wild), "steps since the wild"))
    if descent.spawn_generation is not None:
        numbers.append((f"G{descent.spawn_generation}", "spawn generation"))
    if culture.vessels is not None:
        lost = lookup.runs[culture.id].lost
        numbers.append((str(culture.vessels), f"vessels made{f', {lost} lost' if lost else ''}"))
    return numbers


def _facts(culture: Culture) -> list[tuple[str, str]]:
    lines = [
        ("form", culture.form),
        ("medium", culture.medium),
        ("heat", culture.heat),
        ("kept", culture.kept),
        ("master", "yes, the one gone back to" if culture.master else None),
        ("made by", culture.by),
    ]
    return [(what, words) for what, words in lines if words]


def _taken(lookup: Lookup, culture: Culture) -> dict[str, Any]:
    return {
        "id": culture.id,
        "label": lookup.label(culture.id),
        "words": how_made(lookup, culture),
        "when": wording.when_in_words(culture.date),
        "picture": lookup.face(culture),
    }


def label_or_none(lookup: Lookup, name: str | None) -> Label | None:
    return lookup.label(name) if name and name.lower() in lookup.journal.by_id else None
