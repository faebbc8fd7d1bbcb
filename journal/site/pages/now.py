"""The first page: what needs the author today. It carries dates; the device turns them into days."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from journal.analysis.due import Due
from journal.analysis.progress import iso_day
from journal.model import Entry
from journal.quantities import counted
from journal.site import addresses, wording
from journal.site.pages.batches import batch_line, growing, place_name
from journal.site.pages.long_lists import OPEN_ROWS, LongList, folded
from journal.site.pages.lookup import Lookup
from journal.site.pages.record import ticked_off_by
from journal.site.pages.tent_now import glance, out_of_range, shared_tents
from journal.site.plan import Page
from journal.site.wording import ranges_in_units

LATEST = 6
"""How many of the latest entries are on the page."""

MOST_GROWING = 5
MOST_DUE = 8
MOST_LOSSES = 3
MOST_OUT_OF_RANGE = 3
"""How many rows of each kind are on the page; the lists have all. A phone shows the first few, so that the page
stays under four of its screens (`.few` in static/css/pages.css)."""

MOST_NOTED = 2
"""How many of its author's own notes on what to do next stand with a batch."""

ON_A_PHONE = 3
"""Where there are more rows than this, a link leads to all of them."""

LATELY_DAYS = 60
"""What fell due longer before the month of the latest entry is after all that is due later."""

_BASIS: Mapping[str, str] = {
    "service": "regular service", "renewal": "renewal", "batch": "by its own flushes", "line": "by its line",
    "species": "by its species", "published": "published", "practice": "common practice",
}  # fmt: skip
"""What a row rests on, in a word or two; the list has it in full."""

LIST = LongList("due", "Due", "Now", addresses.DUE, "row", "rows")


def pages(lookup: Lookup) -> Iterator[Page]:
    due = lately_first(lookup)
    rows = [_due(lookup, row) for row in due]
    yield _now(lookup, rows)
    few = len(due) <= OPEN_ROWS
    current = rows if few else rows[: MOST_DUE * 3]
    # those that are open stand folded too, so that a part does not change whenever another row comes to the front
    by_date = [] if few else [(row.last_day or date.max, row_shown) for row, row_shown in zip(due, rows, strict=True)]
    years, parts = folded(LIST, by_date)
    context = {"title": "Due", "place": "Now", "rows": current, "years": years}
    yield Page("due", (), addresses.DUE, "due/due.html", context, "main", growing=True)
    yield from parts


def lately_first(lookup: Lookup) -> list[Due]:
    """All that is due: from some weeks before the latest entry on, the earliest first; then what has no day, and what
    fell due longer ago. By dates of the journal alone, so that it is the same on every day it is built."""
    entries = list(lookup.journal.entries())
    from_day = entries[-1].date.first.replace(day=1) - timedelta(days=LATELY_DAYS) if entries else date.min

    def place(row: Due) -> tuple[int, date]:
        day = row.last_day
        return (
            (1, date.max)
            if day is None
            else (0, day)
            if day >= from_day
            else (2, date.fromordinal(date.max.toordinal() - day.toordinal()))
        )

    return sorted(lookup.analysis.due, key=place)


def _now(lookup: Lookup, due: Sequence[dict[str, Any]]) -> Page:
    entries = list(lookup.journal.entries())
    current, older = growing(lookup)
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
                "nexts": lookup.nexts_about(batch.id)[:MOST_NOTED],
            }
            for batch in current[:MOST_GROWING]
        ],
        "more_growing": more if (more := len(current) + len(older)) > ON_A_PHONE else None,
        "out_of_range": out_of_range(lookup)[:MOST_OUT_OF_RANGE],
        "due": due[:MOST_DUE],
        "more_due": len(due) if len(due) > ON_A_PHONE else None,
        "losses": [
            {
                "labels": lookup.labels(ref.id for ref in note.about),
                "words": wording.lost_by(note),
                "iso": note.date.iso,
                "when": wording.when_in_words(note.date),
                "address": lookup.address_of(note),
            }
            for note in [note for note in reversed(lookup.journal.notes) if note.lost][:MOST_LOSSES]
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
    first_day = row.day if row.day and (window or not row.is_firm) else None
    return {
        "what": wording.capitalised(row.what),
        "labels": lookup.labels(row.about),
        "iso": day.isoformat() if day else None,
        "first": first_day.isoformat() if first_day else None,
        "is_firm": row.is_firm,
        "last": row.to_day.isoformat() if row.to_day else None,
        "words": wording.days_in_words(*window) if window else wording.day_in_words(day) if day else None,
        "note": "regular service" if row.basis == "service" else row.words and ranges_in_units(row.words, lookup.units),
        "brief": _BASIS.get(row.basis),
        "tick": ticked_off_by(row, lookup.journal) if lookup.share is None else None,
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
