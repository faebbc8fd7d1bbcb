"""All entries by day, newest first, a page a month."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from functools import partial
from itertools import groupby
from typing import Any

from journal.model import Entry
from journal.site import addresses, wording
from journal.site.pages.entry_words import facts
from journal.site.pages.lookup import Lookup
from journal.site.plan import Page


def pages(lookup: Lookup) -> Iterator[Page]:
    months = tuple(lookup.indexes.months_beside)
    context = {"title": "Diary", "place": None, "months": [_listed(lookup, month) for month in reversed(months)]}
    yield Page("diary", (), addresses.DIARY, "diary/list.html", context, "main", growing=True)
    for month in months:
        yield lookup.keep_page("month", month, partial(_month, lookup, month))


def _listed(lookup: Lookup, month: date) -> dict[str, Any]:
    count = lookup.indexes.counts_by_month[month]
    return {"address": addresses.diary_month(month.isoformat()), "words": wording.month_in_words(month), "count": count}


def _month(lookup: Lookup, month: date) -> Page:
    name, words = month.isoformat()[:7], wording.month_in_words(month)
    before, after = lookup.indexes.months_beside[month]
    around = {"before": _listed(lookup, before) if before else None, "after": _listed(lookup, after) if after else None}
    entries = reversed(lookup.indexes.by_month[month])
    exact_days = groupby(entries, key=lambda entry: wording.when_in_words(entry.date).partition(",")[0])
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
        "anchor": lookup.indexes.diary_anchors.get(entry.path),
        "headline": lookup.what_it_is(entry, beside_facts=True),
        "facts": facts(entry, lookup.settings),
        "prose": lookup.prose(entry),
        "pictures": lookup.pictures.beside(entry),
        "asking": lookup.asking(entry),
    }
