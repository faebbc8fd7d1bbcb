"""All entries by day, newest first, a page a month."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from journal.model import Entry
from journal.site import addresses, wording
from journal.site.pages.entry_words import facts
from journal.site.pages.lookup import Lookup
from journal.site.plan import Page


def pages(lookup: Lookup) -> Iterator[Page]:
    by_month = groupby(lookup.journal.entries(), key=lambda entry: entry.date.first.replace(day=1))
    months = [(month, list(rows)) for month, rows in by_month]
    names = [month.isoformat()[:7] for month, _ in months]
    listed = [
        {"address": addresses.diary_month(name), "words": wording.month_in_words(month), "count": len(rows)}
        for name, (month, rows) in zip(names, months, strict=True)
    ]
    context = {"title": "Diary", "place": None, "months": listed[::-1]}
    yield Page("diary", (), addresses.DIARY, "diary/list.html", context, "main", growing=True)
    for at, (month, rows) in enumerate(months):
        around = {"before": listed[at - 1] if at else None, "after": listed[at + 1] if at + 1 < len(listed) else None}
        yield _month(lookup, names[at], wording.month_in_words(month), rows, around)


def _month(lookup: Lookup, name: str, words: str, entries: list[Entry], around: dict[str, Any]) -> Page:
    exact_days = groupby(reversed(entries), key=lambda entry: wording.when_in_words(entry.date).partition(",")[0])
    days = [{"words": day, "rows": [_row(lookup, entry) for entry in rows]} for day, rows in exact_days]
    context = {"title": f"Diary, {words}", "place": None, "month": words, "days": days, **around}
    path = addresses.diary_month(name)
    return Page("month", (("month", name),), path, "diary/month.html", context, f"diary-{name[:4]}")


def _row(lookup: Lookup, entry: Entry) -> dict[str, Any]:
    anchors_day = entry.date.first.isoformat()
    return {
        "day": anchors_day,
        "clock": wording.clock(entry.date.moment) if entry.date.moment else None,
        "label": lookup.label_of(entry),
        "address": lookup.address_of(entry),
        "anchor": lookup.diary_anchors.get(entry.path),
        "headline": lookup.what_it_is(entry, beside_facts=True),
        "facts": facts(entry, lookup.units),
        "prose": lookup.prose(entry),
        "pictures": lookup.pictures.beside(entry),
        "asking": lookup.asking(entry),
    }
