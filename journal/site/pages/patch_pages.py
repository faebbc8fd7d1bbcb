"""The patches: their list, one by one with visits and weeks of fruiting, and what is near the device, by distance."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date
from functools import partial
from html import escape
from itertools import accumulate
from math import ceil
from typing import Any

from journal.analysis.patches import Patch, Visit, first_and_last_week
from journal.analysis.progress import calendar_day, iso_day
from journal.analysis.species_names import name_of_kind
from journal.geo import format
from journal.model import Culture, Find
from journal.quantities import counted
from journal.site import addresses, wording
from journal.site.charts.sketch_map import spread_words
from journal.site.pages.find_map import map_of_finds
from journal.site.pages.finds import find_row, is_spot, shows_places, species_now
from journal.site.pages.long_lists import OPEN_ROWS, LongList, filters_of, folded, newest_year, species_compared
from journal.site.pages.lookup import Lookup, SpeciesWords
from journal.site.plan import Page, Planned

LIST = LongList("patches", "Patches", "Finds", addresses.PATCHES, "patch", "patches")


def pages(lookup: Lookup) -> Iterator[Planned]:
    """A share has these pages only if it shows a place: a patch and a distance reveal where finds are."""
    if not shows_places(lookup):
        return
    yield from lookup.together("patches", (addresses.PATCHES, addresses.NEAR), partial(_list_pages, lookup))
    for key in lookup.indexes.patches:
        yield from lookup.together("patch", (addresses.patch_of(key),), partial(_patch, lookup, key))


def _list_pages(lookup: Lookup) -> Iterator[Page]:
    in_order = sorted(lookup.analysis.patches, key=_latest_first, reverse=True)
    rows = [(patch.last_look.first, _row(lookup, patch)) for patch in in_order]
    current, others = newest_year(rows)
    years, parts = folded(LIST, others)
    context: dict[str, Any] = {"title": "Patches", "place": "Finds", "rows": current, "years": years}
    context["filters"] = filters_of([row for _, row in rows], ("species", "Species"), ("place", "Place"))
    yield Page("patches", (), addresses.PATCHES, "finds/patches.html", context, "main", growing=True)
    yield from parts
    context = {"title": "Near me", "place": "Finds", "count": len(_spots(lookup))}
    yield Page("near", (), addresses.NEAR, "finds/near.html", context, "main", growing=True)


def texts(lookup: Lookup) -> Iterator[tuple[str, str]]:
    """The places for Near me: (file from the site's root, its text). None in a share that shows no place."""
    if shows_places(lookup):
        lines = ",\n".join(json.dumps(spot, ensure_ascii=True, separators=(",", ":")) for spot in _spots(lookup))
        yield addresses.NEAR_SPOTS, f"globalThis.journalSpots = [[\n{lines}\n], {json.dumps(lookup.units)}];\n"


def _latest_first(patch: Patch) -> tuple[date, str]:
    return patch.last_look.first, patch.key


def _page(key: str, template: str, context: dict[str, Any], patch: Patch) -> Page:
    section = f"{patch.finds[0].date.first:%Y-%m}"
    return Page("patch", (("name", key),), addresses.patch_of(key), template, context, section)


_LEADS_ON = """<!doctype html>
<html lang="en" data-root="../../">
<head>
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src 'self' blob: data:; style-src 'self'; \
script-src 'self'; {connections} base-uri 'none'; form-action 'self'; object-src 'none'">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1, viewport-fit=cover">
<meta name="color-scheme" content="light dark">
<title>{title} · {site}</title>
<meta http-equiv="refresh" content="0; url={address}">
<meta name="referrer" content="no-referrer">
<meta name="robots" content="noindex, nofollow">
<link rel="icon" href="../../static/icons/mark.svg" type="image/svg+xml">
<link rel="stylesheet" href="../../static/css/journal.css">
<script src="../../static/js/first.js"></script>
</head>
<body><main>
<h1>{title}</h1>
<p>This address now belongs to the patch <a href="{address}">{title}</a>.</p>
</main></body>
</html>
"""
"""A page at an old address of a patch: there is one for each of its finds but the first, so they are made without a
template. They lead on without a script; the first script is only for the theme, and for what a locked site adds."""


def _leads_on(lookup: Lookup, patch: Patch) -> str:
    return _LEADS_ON.format(
        connections="connect-src 'none';"
        if lookup.share
        else "connect-src 'self'; manifest-src 'self'; worker-src 'self';",
        title=escape(patch.title),
        site=escape(lookup.settings.title),
        address=escape(f"../../{addresses.patch_of(patch.key)}"),
    )


def _row(lookup: Lookup, patch: Patch) -> dict[str, Any]:
    species, written = _species(lookup, patch), [lookup.identified(find).species for find in patch.finds]
    return {
        "filter": {"species": species_compared(written, lookup.settings.names), "place": _place_name(patch)},
        "title": patch.title,
        "address": addresses.patch_of(patch.key),
        "species": species,
        "place": _place_name(patch),
        "counts": _counts(patch),
        "weeks": _weeks_words(patch),
        "last_iso": iso_day(patch.last_look),
        "last": wording.date_in_words(patch.last_look),
        "picture": next(filter(None, (lookup.face(find, newest=False) for find in reversed(patch.finds))), None),
    }


def _counts(patch: Patch) -> str:
    """`2 finds, 3 visits in 2 years`."""
    years = {visit.when.first.year for visit in patch.visits}
    over = f" in {counted(len(years), 'year')}" if len(years) > 1 else ""
    return f"{counted(len(patch.finds), 'find')}, {counted(len(patch.visits), 'visit')}{over}"


def _species(lookup: Lookup, patch: Patch) -> tuple[SpeciesWords, ...]:
    """One name of each species, as it is written first."""
    names: dict[str, SpeciesWords] = {}
    for name in filter(None, (species_now(lookup, find) for find in patch.finds)):
        names.setdefault(name_of_kind(name.text, lookup.settings.names).casefold(), name)
    return tuple(names.values())


def _place_name(patch: Patch) -> str | None:
    return ", ".join(dict.fromkeys(find.place for find in patch.finds if find.place)) or None


def _weeks_words(patch: Patch) -> str | None:
    """`weeks 36 to 41`, `weeks 47 to 5, over New Year`, of all years."""
    weeks = first_and_last_week(patch.fruited)
    if weeks is None:
        return None
    first, last = weeks
    over = ", over New Year" if last < first else ""
    return f"week {first}" if first == last else f"weeks {first} to {last}{over}"


MOST_VISITS = 60
"""The days of so many visits are on the page of a patch, of whole years; of earlier years their number."""


def _patch(lookup: Lookup, key: str) -> Iterator[Page]:
    """The page of a patch with the folded parts of its list, and those at its old keys."""
    patch, old = lookup.indexes.patches[key]
    drawn = map_of_finds(lookup, patch.finds, f"Sketch map of {patch.title}")
    points = {point.id: point for point in drawn.points} if drawn else {}
    here, earlier = patch.finds[-OPEN_ROWS:], patch.finds[:-OPEN_ROWS]
    address = addresses.patch_of(patch.key)
    all_finds = LongList(f"of-{patch.key}", f"Finds of {patch.title}", "Finds", address, "find", "finds")
    folds, parts = folded(all_finds, [(find.date.first, find_row(lookup, find)) for find in earlier])
    dated = [0, *accumulate(len(visits) for _, visits in _by_year(patch.visits))]
    clones = patch.cultures[-OPEN_ROWS:]
    more_clones = len(patch.cultures) - len(clones)
    context = {
        "folds": folds,
        "more_cultures": f"and {counted(more_clones, 'earlier culture')}" if more_clones else None,
        "map": drawn,
        "title": patch.title,
        "place": "Finds",
        "is_named": patch.name is not None,
        "spot": _place_name(patch),
        "where": _where(lookup, patch),
        "species": _species(lookup, patch),
        "last_iso": iso_day(patch.last_look),
        "last": wording.date_in_words(patch.last_look),
        "visits": len(patch.visits),
        "season": _season(patch),
        "years": [
            _year(lookup, *row, in_full=before < MOST_VISITS)
            for row, before in zip(_by_year(patch.visits), dated, strict=False)
        ],
        "finds": [{**_find_row(lookup, find), "point": points.get(find.id)} for find in here],
        "cultures": [_clone(lookup, id) for id in clones],
        "joined": [_joined(lookup, patch, at) for at in range(len(patch.joined))],
    }
    yield _page(patch.key, "finds/patch.html", context, patch)
    yield from parts
    text = _leads_on(lookup, patch)
    yield from (replace(_page(former, "", {}, patch), text=text) for former in old)


_WRITTEN_M = 2.0
"""Rounding of the middle of a patch as written, added to the radius of the circle around it."""


def _where(lookup: Lookup, patch: Patch) -> str | None:
    """`All within 21 m of 58.30409, −8.90181`: the circle that certainly contains its finds."""
    place, known = patch.place, sum(find.position is not None for find in patch.finds)
    if place is None or place.uncertainty_m is None:
        return None
    what = "All" if known == len(patch.finds) > 1 else "The find is" if known == len(patch.finds) else f"{known}"
    near = wording.radius(ceil(place.uncertainty_m + _WRITTEN_M), lookup.units)
    middle = format.degrees_of(replace(place, uncertainty_m=_WRITTEN_M)).replace("-", "−")
    return f"{what} within {near} of {middle}"


def _season(patch: Patch) -> dict[str, str | bool] | None:
    """The first and the last week of fruiting over all years, each with its days. over: whether it goes on in the next
    year."""
    weeks = first_and_last_week(patch.fruited)
    if weeks is None:
        return None
    first, last = (_days_of_week(patch, week) for week in weeks)
    over = weeks[1] < weeks[0]
    words = {"first": f"week {weeks[0]}", "first_days": first, "last": f"week {weeks[1]}", "last_days": last}
    return {**words, "over": over}


def _days_of_week(patch: Patch, week: int) -> str:
    days = [day for day in patch.fruited if day.isocalendar().week == week]
    return wording.joined_first([wording.day_in_words(day) for day in days])


def _by_year(visits: Iterable[Visit]) -> Iterator[tuple[int, list[Visit]]]:
    """Each year with its visits, the newest first."""
    years: dict[int, list[Visit]] = defaultdict(list)
    for visit in visits:
        years[visit.when.first.year].append(visit)
    for year in sorted(years, reverse=True):
        yield year, years[year][::-1]


def _year(lookup: Lookup, year: int, visits: list[Visit], *, in_full: bool) -> dict[str, Any]:
    days = sorted(day for visit in visits if visit.is_fruiting and (day := calendar_day(visit.when)))
    fruited = f"fruiting {wording.days_in_words(days[0], days[-1])}" if days else "not found fruiting"
    return {
        "year": year,
        "words": f"{counted(len(visits), 'visit')}, {fruited}",
        "visits": [_visit(lookup, visit) for visit in visits[:MOST_VISITS]] if in_full else (),
    }


def _visit(lookup: Lookup, visit: Visit) -> dict[str, Any]:
    by_stage: dict[str, list[str]] = defaultdict(list)
    for id, stage in visit.seen:
        by_stage[stage].append(id)
    return {
        "iso": visit.when.iso,
        "when": wording.date_in_words(visit.when),
        "found": lookup.labels(visit.found),
        "seen": [(stage, lookup.labels(ids)) for stage, ids in by_stage.items()],
    }


def _find_row(lookup: Lookup, find: Find) -> dict[str, Any]:
    return {
        "label": lookup.label(find.id),
        "species": species_now(lookup, find),
        "certainty": lookup.identified(find).certainty,
        "when": wording.when_in_words(find.date),
        "host": find.host or find.growing_on,
        "picture": lookup.face(find, newest=False),
        "spread": spread_words(find.position, lookup.units) if find.position else None,
    }


def _clone(lookup: Lookup, id: str) -> dict[str, Any]:
    culture = lookup.journal.by_id[id.lower()]
    assert isinstance(culture, Culture)
    words = (lookup.how_made(culture), wording.when_in_words(culture.date))
    return {"label": lookup.label(id), "words": " · ".join(filter(None, words))}


def _joined(lookup: Lookup, patch: Patch, at: int) -> dict[str, Any]:
    joined = patch.joined[at]
    *others, last = joined.titles
    names = f"{', '.join(others)} and {last}"
    words = "made one of the patches" if not joined.apart else "is within reach of the patches"
    end = f"; it counts to {joined.titles[0]}, the older" if joined.apart else ""
    return {"label": lookup.label(joined.find.id), "words": f"{words} {names}{end}."}


# -- near me -------------------------------------------------------------------------------------------------------


def _spots(lookup: Lookup) -> list[list[Any]]:
    """The patches, and the finds in no patch, whose places may be shown. Each is a title, its address, words, what it
    is, its places (latitude, longitude, uncertainty in m or null), the days on which it fruited, the day of the last
    look, and, of a patch, its finds' IDs with their addresses."""
    return [*map(list, _patch_spots(lookup)), *map(list, _lone_spots(lookup))]


def _patch_spots(lookup: Lookup) -> Iterator[tuple[Any, ...]]:
    for patch in lookup.analysis.patches:
        places = [_spot(find) for find in patch.finds if is_spot(find)]
        if places:
            words = " · ".join(name.text for name in _species(lookup, patch)) or "unnamed"
            finds = [[find.id, addresses.page_of(find)] for find in patch.finds]
            days = [day.isoformat() for day in patch.fruited]
            address = addresses.patch_of(patch.key)
            last = iso_day(patch.last_look)
            yield patch.title, address, words, "patch", places, days, last, _weeks_words(patch), finds


def _lone_spots(lookup: Lookup) -> Iterator[tuple[Any, ...]]:
    for find in lookup.journal.finds:
        if find.id not in lookup.analysis.patch_of and is_spot(find):
            day = iso_day(find.date)
            weeks = f"week {find.date.first.isocalendar().week}" if day else None
            places, days = [_spot(find)], [day] if day else []
            yield find.id, addresses.page_of(find), lookup.name_of(find), "find", places, days, day, weeks, []


def _spot(find: Find) -> list[float | None]:
    place = find.position
    if place is None:
        return []
    spread_m = None if place.uncertainty_m is None else round(place.uncertainty_m, 1)
    return [round(place.lat_deg, 7), round(place.lon_deg, 7), spread_m]
