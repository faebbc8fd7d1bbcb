"""The finds: their list and season, and for each its specimen slip."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo
from functools import partial
from typing import Any

from journal.analysis.calendar import Season, zone_of
from journal.analysis.permits import PermitUse, PickedDay
from journal.analysis.progress import calendar_day
from journal.analysis.sun import sun_times, to_the_minute
from journal.geo import format
from journal.model import Batch, Culture, Find, Position, sort_key
from journal.quantities import counted
from journal.site import addresses, wording
from journal.site.charts.primitives import Rect, Scale, trimmed
from journal.site.charts.sketch_map import spread_words
from journal.site.pages.entry_words import earlier_ids, headline
from journal.site.pages.find_map import map_of_finds
from journal.site.pages.grown_from import grown_from
from journal.site.pages.long_lists import LongList, filters_of, folded, newest_year, species_compared
from journal.site.pages.lookup import Lookup, SpeciesWords, species_words
from journal.site.pages.outings_section import before_words, outings_section
from journal.site.plan import Page, Planned, Row, WhenRendered
from journal.site.wording import Units

LIST = LongList("finds", "Finds", "Finds", addresses.FINDS, "find", "finds")

WEEKS = 53
"""The most weeks a year has, as ISO 8601 counts them."""

_YEAR = Scale(0, WEEKS * 7)
_STRIP_PX, _HIGHEST_PX = 24, 20
"""Of a species' strip, and of its highest bar, which is apart from the strip above."""

OPEN_FINDS = 24
"""How many slips the list of finds shows unfolded at most: each is half a phone's screen."""

OPEN_SEASONS = 8
"""How many species have their season unfolded above that list: those found on the most days."""

MOST_PICKED_DAYS = 60
"""How many days of picking under a permit the list shows, the latest."""


def season_chart(lookup: Lookup) -> dict[str, Any] | None:
    """The season of every species found, or None if no find has a name and a day. months: (x in %, name, whether a
    narrow screen has room for the name). most: years in the week with the most. others: the strips that are folded."""
    found = lookup.analysis.seasons
    if not found:
        return None
    most = max(len(years) for season in found for years in season.weeks.values())
    often = sorted(found, key=lambda season: -len(season.days))[:OPEN_SEASONS]
    firsts = [date(2001, month, 1) for month in range(1, 13)]  # of a non-leap year that begins on a Monday
    months = [(day.month, day.timetuple().tm_yday - 1, wording.month_in_words(day)[:3]) for day in firsts]
    return {
        "strips": tuple(_strip(season, most) for season in found if season in often),
        "others": tuple(_strip(season, most) for season in found if season not in often),
        "months": tuple((_YEAR.percent(at), name, month % 2 == 1) for month, at, name in months),
        "most": most,
    }


def _strip(season: Season, most: int) -> dict[str, Any]:
    """One species: a bar a week, higher for more years, of at most `most`."""
    bars, weeks = [], []
    for week, years in season.weeks.items():
        height, first, end = round(_HIGHEST_PX * len(years) / most, 1), (week - 1) * 7, week * 7
        bars.append(Rect(_YEAR.percent(first), round(_STRIP_PX - height, 1), _YEAR.stretch(first, end), height))
        days = [day for day in season.days if day.isocalendar().week == week]
        weeks.append((str(week), ", ".join(map(wording.day_in_words, days))))
    return {
        "name": species_words(season.species) or SpeciesWords(season.species, False),
        "height": _STRIP_PX,
        "bars": tuple(bars),
        "weeks": tuple(weeks),
    }


def pages(lookup: Lookup) -> Iterator[Planned]:
    yield from lookup.together("finds", (addresses.FINDS,), partial(_list_pages, lookup))
    for find in lookup.journal.finds:
        yield lookup.keep_page("find", find, addresses.page_of(find), partial(_find, lookup, find))


def _list_pages(lookup: Lookup) -> Iterator[Page]:
    finds = lookup.journal.finds[::-1]
    drawn = map_of_finds(lookup, finds)
    points = {point.id: point for point in drawn.points} if drawn else {}
    rows = [(find.date.first, find_row(lookup, find)) for find in finds]
    current, others = newest_year(rows, OPEN_FINDS)
    years, parts = folded(LIST, others)
    context: dict[str, Any] = {"title": "Finds", "place": "Finds", "season": season_chart(lookup), "map": drawn}
    context["rows"] = [{**row, "point": points.get(row["id"])} for row in current]
    context["years"], context["is_long"] = years, len(rows) > 3
    context["filters"] = filters_of([row for _, row in rows], ("species", "Species"), ("place", "Place"))
    context["without_position"] = _without_position(len(finds) - len(points))
    context["near"] = shows_places(lookup)
    context["picked"] = picked_section(lookup)
    context["outings"] = outings_section(lookup)
    yield Page("finds", (), addresses.FINDS, "finds/list.html", context, "main", growing=True)
    yield from parts


def _without_position(count: int) -> str | None:
    return f"{counted(count, 'find')} without a position {'is' if count == 1 else 'are'} not on it." if count else None


def find_row(lookup: Lookup, find: Find) -> dict[str, Any]:
    """A find as a row of a list."""
    return lookup.keep("find's row", find, partial(_row, lookup, find))


def _row(lookup: Lookup, find: Find) -> dict[str, Any]:
    cultures = cultures_from(lookup, find)
    species = species_now(lookup, find)
    return {
        "id": find.id,
        "label": lookup.label(find.id),
        "species": species,
        "own_title": headline(find),
        "certainty": lookup.identified(find).certainty,
        "place": find.place,
        "filter": {
            "species": species_compared([lookup.identified(find).species], lookup.settings.names),
            "place": find.place,
        },
        "at": _at(find.position) if find.position else None,
        "host": find.host or find.growing_on,
        "when": wording.when_in_words(find.date),
        "picture": lookup.face(find, newest=False),
        "cultures": counted(len(cultures), "culture") if cultures else None,
        "spread": spread_words(find.position, lookup.units) if find.position else None,
    }


def _at(position: Position) -> str:
    """For the map's script, as `data-point` is, but with latitude and longitude, which no other find can change."""
    words = [trimmed(position.lat_deg, 7), trimmed(position.lon_deg, 7), trimmed(position.uncertainty_m or 0.0, 1)]
    return " ".join((*words, "area") if position.grid_deg is not None else words)


def is_spot(find: Find) -> bool:
    """Whether a find's place may be shown and can be walked to: it is known, and more than a cell of a grid."""
    return find.position is not None and find.position.grid_deg is None


def shows_places(lookup: Lookup) -> bool:
    """Whether there are pages that lead to places: always on the author's own site, in a share if it grants any."""
    return lookup.share is None or any(map(is_spot, lookup.journal.finds))


def species_now(lookup: Lookup, find: Find) -> SpeciesWords | None:
    """The find's species after its latest identification."""
    return species_words(lookup.identified(find).species)


def cultures_from(lookup: Lookup, find: Find) -> tuple[Culture, ...]:
    """Cultures taken straight from a find."""
    return lookup.indexes.cultures_from.get(find.id, ())


def _find(lookup: Lookup, find: Find) -> Page:
    pictures = lookup.photos_about(find)
    leading = lookup.leading(find)
    hero = lookup.pictures.of(leading.path, find.title, leading.caption) if leading else next(iter(pictures), None)
    own = lookup.pictures.beside(find)
    prose = lookup.prose(find)
    context = {
        "prose": replace(prose, pictures=tuple(shown for shown in prose.pictures if shown[1] != hero)),
        "title": lookup.name_of(find),
        "place": "Finds",
        "name": species_now(lookup, find) or SpeciesWords("Unnamed find", False),
        "slip": WhenRendered(_slip, _lines(lookup, find), find.position),
        "walk": _walk(lookup, find),
        "patch": _patch(lookup, find),
        "hero": hero,
        "pictures": tuple(picture for picture in own if picture != hero),
        "poison_centre": lookup.settings.poison_centre,
        "cultures": [_came_of(lookup, culture) for culture in cultures_from(lookup, find)],
        "grown": grown_from(lookup, lookup.analysis.rollups.finds[find.id]),
    }
    return lookup.page_of(find, context)


def _patch(lookup: Lookup, find: Find) -> dict[str, str] | None:
    patch = lookup.indexes.patch_of.get(find.id)
    return {"title": patch[0], "address": addresses.patch_of(patch[1])} if patch else None


@dataclass(frozen=True, slots=True)
class _DayThere:
    """A day at a place, by the clock of a time zone."""

    place: Position
    day: date
    zone: tzinfo
    zone_name: str


def _slip(lines: Sequence[tuple[str, str | _DayThere]], place: Position | None) -> Row:
    """The specimen slip, as herbaria write it, and where that is in other notations: each (what, words)."""
    told = [(what, sun_words(words) if isinstance(words, _DayThere) else words) for what, words in lines]
    return Row(lines=told, notations=_other_notations(place))


def _lines(lookup: Lookup, find: Find) -> list[tuple[str, str | _DayThere]]:
    now = lookup.identified(find)
    elevation = wording.length(find.elevation_m, lookup.units) if find.elevation_m is not None else None
    lines: list[tuple[str, str | _DayThere | None]] = [
        ("certainty", ", ".join(filter(None, (now.certainty, now.identified_by)))),
        ("place", find.place),
        ("position", position_words(lookup, find)),
        ("date", wording.when_in_words(find.date)),
        ("sun", _day_there(lookup, find)),
        ("host", find.host),
        ("growing on", find.growing_on),
        ("habitat", find.habitat),
        ("growth", find.growth),
        ("elevation", elevation),
        ("smell", find.smell),
        ("weather", find.weather),
        ("by the station", before_words(lookup, find)),
        ("spore print", find.spore_print),
        ("kept", find.specimen),
        ("permission", find.permission),
        ("picked", picked_words(lookup, find)),
        ("found by", find.by),
        earlier_ids(find),
    ]
    return [(what, words) for what, words in lines if words]


_FAR_H = 2.0
"""A clock further from the sun's own time than this is not the one that people at the place go by: summer time in the
west of a zone comes to about two hours (*common practice*)."""


def _day_there(lookup: Lookup, find: Find) -> _DayThere | None:
    """None in a share, where the hours of the sun would tell the place, and where the place or the day is not known."""
    day = calendar_day(find.date)
    if lookup.share is not None or find.position is None or day is None:
        return None
    return _DayThere(find.position, day, zone_of(lookup.settings), lookup.settings.time_zone)


def sun_words(there: _DayThere) -> str:
    """`up 06:51 to 19:38, twilight to 20:13`, in the journal's time zone, which is named, as each day is, where it is
    far from the sun's time at the place."""
    place = there.place
    sun = sun_times(place.lat_deg, place.lon_deg, there.day)
    if sun.rise is None or sun.set is None:
        return "it did not set that day" if sun.always == "up" else "it did not rise that day"

    offset = sun.rise.astimezone(there.zone).utcoffset() or timedelta()
    is_far = abs(offset / timedelta(hours=1) - place.lon_deg / 15) > _FAR_H

    def clock(moment: datetime) -> str:
        at = to_the_minute(moment).astimezone(there.zone)
        return wording.clock(at) + (f" on {wording.day_in_words(at.date())}" if is_far else "")

    dusk = f"twilight to {clock(sun.dusk)}" if sun.dusk else "it did not get dark"
    zone = f" (all in the time of {there.zone_name})" if is_far else ""
    return f"up {clock(sun.rise)} to {clock(sun.set)}, {dusk}{zone}"


_SOURCE = {"entry": "", "photo": ", from the photo", "track": ", from the track"}


def position_words(lookup: Lookup, find: Find) -> str | None:
    """`58.30412, −8.90177 ± 8 m`, and from where it is known if not from the author's own line. A coarse one: `within
    13 km of 58.3, −8.9, on a decimal geographic grid of 0.1°`."""
    place = find.position
    if place is None:
        return None
    text = format.degrees_of(place).replace("-", "−")
    if place.grid_deg is not None and place.uncertainty_m is not None:
        near = wording.radius(place.uncertainty_m, lookup.units)
        return f"within {near} of {text}, on a decimal geographic grid of {place.grid_deg:g}°"
    if place.uncertainty_m is not None:
        text += f" ± {wording.radius(place.uncertainty_m, lookup.units)}"
    return text + _SOURCE[place.source]


def _other_notations(place: Position | None) -> list[tuple[str, str]]:
    """A position in the other notations that maps and receivers take: (notation, text)."""
    if place is None or place.grid_deg is not None:
        return []
    lines = [
        ("degrees, minutes, seconds", format.dms_of(place)),
        ("UTM", format.utm_of(place)),
        ("MGRS", format.mgrs_of(place)),
        ("ISO 6709", format.iso6709_of(place)),
        ("geo URI", format.geo_uri_of(place)),
    ]
    return [(what, text) for what, text in lines if text]


def _walk(lookup: Lookup, find: Find) -> dict[str, str] | None:
    """What the way back needs; None if only an area is known, because its centre is not where the find was. place: for
    the script. geo, apple: for the device's own maps, empty in a share, which opens nothing outside itself."""
    place = find.position
    if place is None or place.grid_deg is not None:
        return None
    text = format.degrees_of(place)
    plain = text.replace(" ", "")
    within = f" {place.uncertainty_m:g}" if place.uncertainty_m is not None else ""
    is_own = lookup.share is None
    exact = f"{place.lat_deg:.7f} {place.lon_deg:.7f}" if is_own else text.replace(",", "")
    return {
        "place": exact + within,
        "sun": exact if is_own else "",
        "zone": str(zone_of(lookup.settings)) if is_own else "",
        "text": text,
        "units": lookup.units,
        "geo": f"geo:{plain}?q={plain}" if is_own else "",
        "apple": f"https://maps.apple.com/?ll={plain}&q={plain}" if is_own else "",
    }


def _came_of(lookup: Lookup, culture: Culture) -> dict[str, Any]:
    below = map(lookup.journal.by_id.get, map(str.lower, lookup.analysis.lineage.descendants_of(culture.id)))
    batches = sorted((row for row in below if isinstance(row, Batch)), key=sort_key)
    harvest_g = sum(lookup.analysis.progress[batch.id].harvest_g for batch in batches)
    grown = [counted(len(batches), "batch", "batches")] if batches else []
    if harvest_g:
        so_far = "" if all(lookup.analysis.yields[batch.id].final for batch in batches) else " so far"
        grown.append(f"{wording.mass(harvest_g, lookup.units)} harvested{so_far}")
        grown += filter(None, [lookup.doubtful_harvests(batch.id for batch in batches)])
    confirmed = lookup.analysis.confirmed
    unsure = [batch.id for batch in batches if confirmed[culture.id] and not confirmed[batch.id]]
    return {
        "label": lookup.label(culture.id),
        "words": " · ".join(filter(None, (lookup.how_made(culture), wording.when_in_words(culture.date)))),
        "grown": " · ".join(grown),
        "batches": lookup.labels(batch.id for batch in batches),
        "unconfirmed": f"of {wording.joined(unsure)}" if unsure else None if confirmed[culture.id] else "",
        "picture": lookup.face(culture),
    }


def picked_section(lookup: Lookup) -> list[dict[str, Any]]:
    """A part for each permit that was used or holds, and one for what was picked under none."""
    if lookup.share is not None:
        return []
    return [_permit_part(lookup, use) for use in lookup.analysis.permit_uses]


def _permit_part(lookup: Lookup, use: PermitUse) -> dict[str, Any]:
    units = lookup.units
    permit = use.permit
    bounds = []
    if permit is not None:
        bounds = [f"{wording.mass(permit.a_day_g, units)} a day"] if permit.a_day_g is not None else []
        bounds += [f"{wording.mass(permit.in_all_g, units)} in all"] if permit.in_all_g is not None else []
        if permit.first and permit.last:
            bounds.append(wording.days_in_words(permit.first, permit.last))
        elif permit.first or permit.last:
            day = wording.day_in_words(permit.first or permit.last or use.days[0].day)
            bounds.append(f"{'from' if permit.first else 'to'} {day}")
    left_g = use.left_g
    return {
        "name": permit.name if permit else "Under no permit written here",
        "allows": ", ".join(bounds),
        "total": wording.mass(use.mass_g, units),
        "left": wording.mass(left_g, units) if left_g is not None and left_g >= 0 else None,
        "over": wording.mass(-left_g, units) if left_g is not None and left_g < 0 else None,
        "outside": wording.mass(use.outside_g, units) if use.outside_g else None,
        "days": [
            {
                "day": wording.day_in_words(day.day),
                "finds": lookup.labels(day.finds),
                "mass": wording.mass(day.mass_g, units),
                "warn": _permit_warning(use, day, units),
            }
            for day in use.days[: -MOST_PICKED_DAYS - 1 : -1]
        ],
        "more": max(0, len(use.days) - MOST_PICKED_DAYS),
    }


def _permit_warning(use: PermitUse, day: PickedDay, units: Units) -> str:
    if use.is_outside(day):
        return "the permit is not valid then: not in the sum"
    return f"{wording.mass(use.over_g(day), units)} over the limit of a day" if use.over_g(day) else ""


def picked_words(lookup: Lookup, find: Find) -> str | None:
    """`640 g, under common-wood`, with a warning where that permit did not hold on its day; None where nothing is
    written, and in a share."""
    if find.picked_mass_g is None or lookup.share is not None:
        return None
    under = f", under {find.permit}" if find.permit else ""
    named = (one for one in lookup.settings.permits if one.name.casefold() == (find.permit or "").casefold())
    day, permit = calendar_day(find.date), next(named, None)
    outside = ", which was not valid on that day" if permit and day and not permit.holds_on(day) else ""
    return wording.mass(find.picked_mass_g, lookup.units) + under + outside
