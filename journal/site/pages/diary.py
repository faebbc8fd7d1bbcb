"""All entries by day, newest first, a page a month; a month of very many in several."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from itertools import groupby
from typing import Any

from journal.model import Entry, Find, Note, TentEntry, sort_key
from journal.quantities import counted
from journal.site import addresses, wording
from journal.site.images import Picture
from journal.site.pages.entry_words import facts, headline, title_of_facts
from journal.site.pages.long_lists import FoldedYear, LongList, folded
from journal.site.pages.lookup import Lookup
from journal.site.plan import Page, Planned

MONTHS_UNFOLDED = 12
"""So many months are in the diary's list, of whatever years they are."""

LIST = LongList("diary", "Diary", None, addresses.DIARY, "month", "months")


def pages(lookup: Lookup) -> Iterator[Planned]:
    yield from lookup.together("diary", (addresses.DIARY,), partial(_list_pages, lookup))
    for month in lookup.indexes.months_beside:
        yield lookup.keep_page("month", month, addresses.diary_month(month.isoformat()), partial(_month, lookup, month))
        for first, _ in lookup.indexes.days_of_month.get(month, ()):
            address = addresses.diary_days(first.isoformat())
            yield lookup.keep_page("days", first, address, partial(_days, lookup, first))


def _list_pages(lookup: Lookup) -> Iterator[Page]:
    months = tuple(lookup.indexes.months_beside)
    rows = [(month, lookup.keep("month's row", month, partial(_strip, lookup, month))) for month in reversed(months)]
    newest = rows[0][0].year if rows else None
    current = [row for row in rows if row[0].year == newest or len(rows) <= MONTHS_UNFOLDED]
    years, parts = folded(LIST, rows[len(current) :])
    counts = Counter[int]()
    for month, count in lookup.indexes.counts_by_month.items():
        counts[month.year] += count
    context = {
        "title": "Diary",
        "place": None,
        # of the newest month no count, so that not every new note changes this page
        "rows": [{**row, "count": row["count"] if at else None} for at, (_, row) in enumerate(current)],
        "years": [_with_count(year, counted(counts[year.year], "entry", "entries")) for year in years],
    }
    yield Page("diary", (), addresses.DIARY, "diary/list.html", context, "main", growing=True)
    yield from parts


def _with_count(year: FoldedYear, count: str) -> FoldedYear:
    """A year of the diary is one part, of twelve months; its count is that of their entries."""
    return FoldedYear(year.year, count, tuple(replace(fold, count=count) for fold in year.folds))


def _listed(lookup: Lookup, month: date) -> dict[str, Any]:
    count = lookup.indexes.counts_by_month[month]
    return {"address": addresses.diary_month(month.isoformat()), "words": wording.month_in_words(month), "count": count}


def _strip(lookup: Lookup, month: date) -> dict[str, Any]:
    """A month as a row of the list: a strip with a tick for each day with entries, and the month's best photo."""
    entries = lookup.indexes.by_month[month]
    days = sorted({entry.date.first.day for entry in entries if entry.date.counts_days})
    return {
        **_listed(lookup, month),
        "length": ((month + timedelta(days=31)).replace(day=1) - month).days,
        "ticks": "".join(f"M{day - 0.9:g} 0h.8v1h-.8z" for day in days),
        "on": f"entries on {counted(len(days), 'day')}" if days else "",
        "picture": _best(lookup, entries),
    }


def _best(lookup: Lookup, entries: Sequence[Entry]) -> Picture | None:
    """The picture that a month is known by: the main one of a find, else one of a harvest, else any; of several the
    latest."""
    shown = [entry for entry in entries if any(picture.sources for picture in lookup.pictures.of_entry(entry))]
    if not shown:
        return None
    harvested = {entry.path for entry in shown if isinstance(entry, Note) and entry.harvest_g is not None}
    best = max(shown, key=lambda entry: (isinstance(entry, Find), entry.path in harvested, sort_key(entry)))
    if isinstance(best, Find):
        return lookup.face(best, newest=False)
    return [picture for picture in lookup.pictures.of_entry(best) if picture.sources][-1]


def _month(lookup: Lookup, month: date) -> Page:
    name, words = month.isoformat()[:7], wording.month_in_words(month)
    before, after = lookup.indexes.months_beside[month]
    around = {"before": _listed(lookup, before) if before else None, "after": _listed(lookup, after) if after else None}
    stretches = lookup.indexes.days_of_month.get(month)
    context: dict[str, Any] = {
        "title": f"Diary, {words}",
        "place": None,
        "month": words,
        "days": (),
        "stretches": (),
        **around,
    }
    if stretches is None:
        context["days"] = _by_day(lookup, lookup.indexes.by_month[month])
    else:
        context["stretches"] = [_stretch(first, entries) for first, entries in reversed(stretches)]
    path = addresses.diary_month(name)
    return Page("month", (("month", name),), path, "diary/month.html", context, name[:7])


def _stretch(first: date, entries: Sequence[Entry]) -> dict[str, Any]:
    """Days of a month as a row that leads to their page."""
    words = wording.days_in_words(first, entries[-1].date.first)
    return {"address": addresses.diary_days(first.isoformat()), "words": words, "count": len(entries)}


def _days(lookup: Lookup, first: date) -> Page:
    """Some days of a month that has too many entries for one page. first: the first of these days."""
    stretches = lookup.indexes.days_of_month[first.replace(day=1)]
    at = next(at for at, row in enumerate(stretches) if row[0] == first)
    here, *around = (_stretch(*stretches[i]) if 0 <= i < len(stretches) else None for i in (at, at - 1, at + 1))
    words = here["words"] if here else ""
    month = {"address": addresses.diary_month(first.isoformat()), "words": wording.month_in_words(first)}
    context = {
        "title": f"Diary, {words}",
        "place": None,
        "month": words,
        "days": _by_day(lookup, stretches[at][1]),
        "stretches": (),
        "whole": month,
        "before": around[0],
        "after": around[1],
    }
    name = first.isoformat()
    return Page("month", (("month", name),), addresses.diary_days(name), "diary/month.html", context, name[:7])


def _by_day(lookup: Lookup, entries: Sequence[Entry]) -> list[dict[str, Any]]:
    """Entries in order of time -> their days, the newest first."""
    exact_days = groupby(reversed(entries), key=lambda entry: wording.when_in_words(entry.date).partition(",")[0])
    return [{"rail": rail_of(day), "rows": [_row(lookup, entry) for entry in rows]} for day, rows in exact_days]


def rail_of(day: str) -> tuple[str, str]:
    """What is in the rail: `25` and `Nov` of `25 November 2026`; of what is not known to the day all of it."""
    number, _, rest = day.partition(" ")
    return (number, rest[:3]) if number.isdigit() and rest else ("", day)


def _row(lookup: Lookup, entry: Entry) -> dict[str, Any]:
    anchors_day, prose = entry.date.first.isoformat(), lookup.prose(entry)
    is_titled_by_facts = isinstance(entry, Note | TentEntry) and not headline(entry)
    return {
        "day": anchors_day,
        "clock": wording.clock(entry.date.moment) if entry.date.moment else None,
        "label": lookup.label_of(entry),
        "address": lookup.address_of(entry),
        "anchor": lookup.indexes.diary_anchors.get(entry.path),
        "headline": lookup.what_it_is(entry, beside_facts=True),
        "facts": title_of_facts(entry, lookup.settings)[1] if is_titled_by_facts else facts(entry, lookup.settings),
        "prose": replace(prose, pictures=()) if prose.pictures else prose,  # all of them are beside the text
        "pictures": lookup.pictures.of_entry(entry),
        "question": lookup.question(entry),
    }
