"""The first page: what needs the author today. It carries dates; the device turns them into days."""

from __future__ import annotations

from typing import Any

from journal.analysis.due import Due
from journal.analysis.progress import iso_day
from journal.model import Entry
from journal.quantities import counted
from journal.site import addresses, wording
from journal.site.pages.batches import batch_line, growing, place_name
from journal.site.pages.lookup import Lookup
from journal.site.pages.record import ticked_off_by
from journal.site.pages.tent_now import glance, out_of_range, shared_tents
from journal.site.plan import Page

LATEST = 12
"""How many of the latest entries stand on the page."""


def page(lookup: Lookup) -> Page:
    entries = list(lookup.journal.entries())
    latest_day, latest_iso = lookup.last_entry(entries[-1]) if entries else (None, None)
    context = {
        "title": "Now",
        "place": "Now",
        "latest_day": latest_day,
        "latest_iso": latest_iso,
        "tents": [glance(lookup, tent) for tent in shared_tents(lookup)],
        "batches": [
            batch_line(lookup, batch)
            | {
                "stage_iso": iso_day(since) if (since := lookup.analysis.progress[batch.id].stage_since) else None,
                "where": place_name(lookup, batch),
            }
            for batch in growing(lookup)
        ],
        "out_of_range": out_of_range(lookup),
        "due": [_due(lookup, row) for row in lookup.analysis.due],
        "losses": [
            {
                "labels": lookup.labels(ref.id for ref in note.about),
                "words": f"{note.lost} lost" + (f" to {note.cause}" if note.cause else ""),
                "iso": note.date.iso,
                "when": wording.when_in_words(note.date),
                "address": lookup.address_of(note),
            }
            for note in [note for note in reversed(lookup.journal.notes) if note.lost][:20]
        ],
        "latest": [_latest(lookup, entry) for entry in reversed(entries[-LATEST:])],
        "problems": counted(len(lookup.journal.problems), "problem") if lookup.journal.problems else None,
        "is_empty": not entries,
    }
    return Page("now", (), addresses.NOW, "now/now.html", context, "main", growing=True)


def _due(lookup: Lookup, row: Due) -> dict[str, Any]:
    """A window is told from its first day to its last; what has but one day, by that. is_firm: late after the last."""
    day = row.last_day
    window = (row.day, row.to_day) if row.day and row.to_day else None
    looked_for = row.day if row.day and (window or not row.is_firm) else None
    return {
        "what": wording.capitalised(row.what),
        "labels": lookup.labels(row.about),
        "iso": day.isoformat() if day else None,
        "first": looked_for.isoformat() if looked_for else None,
        "is_firm": row.is_firm,
        "last": row.to_day.isoformat() if row.to_day else None,
        "words": wording.days_in_words(*window) if window else wording.day_in_words(day) if day else None,
        "note": "regular service" if row.basis == "service" else row.words,
        "tick": ticked_off_by(row),
    }


def _latest(lookup: Lookup, entry: Entry) -> dict[str, Any]:
    pictures = [picture for picture in lookup.pictures.of_entry(entry) if picture.sources]
    return {
        "label": lookup.label_of(entry),
        "words": lookup.what_it_is(entry),
        "address": lookup.address_of(entry),
        "iso": entry.date.iso,
        "when": wording.when_in_words(entry.date),
        "picture": pictures[0] if pictures else None,
    }
