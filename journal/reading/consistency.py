"""The date of an entry, and disagreements between two sources, which are reported and never resolved silently."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from math import hypot

from journal.amounts import Units, mass, number, temperature, temperatures, way
from journal.analysis.due import resets
from journal.analysis.kept import kept
from journal.analysis.limits import limit
from journal.analysis.patches import far_from_others, patches_of
from journal.analysis.permits import breaches
from journal.analysis.plausibility import doubts_of
from journal.analysis.progress import Progress
from journal.analysis.sensors import salt_in
from journal.analysis.unlikely_measures import doubts_of_measures
from journal.geo.flat_map import FlatMap
from journal.geo.parse import distance_m
from journal.model import Batch, Find, Journal, LoggerFile, Photo, Position, When
from journal.problems import Problem, nearest, nearest_name, shortened
from journal.quantities import counted, to_celsius, to_fahrenheit
from journal.reading.csv_tables import unit_in
from journal.reading.dates import when_in_name
from journal.reading.entries import Draft, ProblemList
from journal.reading.logger_files import files_of
from journal.reading.model_entries import LinkedDraft
from journal.reading.toml_tables import toml_string
from journal.settings import ClimateSource, Settings, ValueRange

MAY_DIFFER = timedelta(hours=24)
"""How far in time a photo may be from its entry before that is reported."""


def stated_date(draft: Draft, taken: Sequence[datetime]) -> When | None:
    """The entry's own date, else its earliest photo's time, else a date at the start of its file's or folder's name.

    taken: when its photos were taken.
    """
    own: When | None = draft.values.get("date")
    if own is not None:
        return own
    if taken:
        first = min(taken)
        return When(written=first.isoformat(" ", "minutes"), first=first.date(), exact="minute", moment=first)
    folder, name = posixpath.split(draft.path)
    return when_in_name(name) or when_in_name(posixpath.basename(folder))


def with_time_of_photos(stated: When, taken: Sequence[datetime]) -> When:
    """A date that is exact to the day gets the time of its earliest photo, if that is on the same day."""
    if stated.exact != "day" or not taken or min(taken).date() != stated.first:
        return stated
    return replace(stated, exact="minute", moment=min(taken))


def disagrees(stated: When, taken: datetime) -> bool:
    """Whether a photo lies more than 24 hours from an entry's date.

    A date without a time counts as its whole day (month, year), by the photographer's clock; an approximate date
    disagrees with nothing.
    """
    if stated.exact == "about":
        return False
    if stated.moment is not None:
        return abs(taken - stated.moment) > MAY_DIFFER
    clock = taken.replace(tzinfo=None)
    begins = datetime.combine(stated.first, time.min)
    ends = datetime.combine(_day_after(stated), time.min)
    return clock < begins - MAY_DIFFER or clock > ends + MAY_DIFFER


def _day_after(stated: When) -> date:
    """The day after the last that the date can mean."""
    first = stated.first
    if stated.exact == "month":
        return (first.replace(day=28) + timedelta(days=4)).replace(day=1)
    if stated.exact == "year":
        return date(first.year + 1, 1, 1)
    return first + timedelta(days=1)


APART_ABOVE_M = 250
"""How far a find's photo may be from its `where` before that is reported."""

_HAVE_ONE_DAY = frozenset({"find", "note", "tent"})


def check_times(one: LinkedDraft, photos: Mapping[str, Photo], problems: ProblemList) -> None:
    """An entry of a single day (a find, note or tent entry) whose photos were taken more than 24 hours from it."""
    if one.draft.kind not in _HAVE_ONE_DAY:
        return
    own = (photos[use.path] for use in one.photos)
    away = [photo for photo in own if photo.taken is not None and disagrees(one.stated, photo.taken)]
    if away and (taken := away[0].taken):
        message = f"taken more than 24 hours from {one.stated.written} ({taken.isoformat(' ', 'minutes')})"
        fix = "correct `date`, correct the camera's clock, or move the photo to the entry of its day"
        key = "date" if "date" in one.draft.lines else "photos"
        problems.warning(one.draft, key, f"{_names_were(away)} {message}", fix)


def check_places(one: LinkedDraft, photos: Mapping[str, Photo], units: Units, problems: ProblemList) -> None:
    """A find whose photos are more than 250 m from its `where`."""
    where: Position | None = one.draft.values.get("where")
    if where is None:
        return
    apart = [(photo, far_m) for use in one.photos if (far_m := _apart_m(where, photo := photos[use.path])) is not None]
    away = [(photo, far_m) for photo, far_m in apart if far_m > APART_ABOVE_M]
    if away:
        names_were = _names_were([photo for photo, _ in away])
        message = f"{names_were} taken {way(max(far_m for _, far_m in away), units)} from `where`"
        problems.warning(one.draft, "where", message, "correct `where`, or move the photo to the find it shows")


def check_place_names(journal: Journal, problems: ProblemList) -> None:
    """Finds far from every other find whose place has the same name; of two, the later one."""
    for problem in kept(journal, "finds off their place", _off_their_place, journal.finds, journal.settings.units):
        problems.add(problem)


def _off_their_place(finds: Iterable[Find], units: Units) -> tuple[Problem, ...]:
    named: dict[str, list[tuple[Find, Position]]] = {}
    for find in finds:
        if find.place and find.position:
            named.setdefault(" ".join(find.place.casefold().split()), []).append((find, find.position))
    most_m, found = (limit("place_spans_km").high or 0) * 1000, []
    for rows in named.values():
        for at in far_from_others([position for _, position in rows], most_m):
            (find, here), others = rows[at], [position for _, position in (*rows[:at], *rows[at + 1 :])]
            if len(others) > 1 or at:
                far = way(min(_between_m(here, one) for one in others), units)
                message = f"this find is {far} from every other find at {shortened(find.place or '')}"
                fix = _fix_of_place(here, others, most_m)
                if len(rows) == 2:
                    message = f"this find is {far} from the other at {shortened(find.place or '')}, {rows[0][0].path}"
                    fix = fix.replace(", or", " of the one that is wrong, or")
                line = find.lines.get("where" if "where" in find.lines else "place", 0)
                found.append(Problem(find.path, line, "warning", message, fix))
    return tuple(found)


def _fix_of_place(here: Position, others: Sequence[Position], most_m: float) -> str:
    """How to fix a position that is far from the others: by a sign, or by the order, if that brings it near."""
    lat_deg, lon_deg = here.lat_deg, here.lon_deg
    turned = {
        "correct the sign of the longitude": (lat_deg, -lon_deg),
        "correct the sign of the latitude": (-lat_deg, lon_deg),
        "latitude and longitude may be swapped: write the latitude first": (lon_deg, lat_deg),
    }
    for fix, (north_deg, east_deg) in turned.items():
        moved = replace(here, lat_deg=north_deg, lon_deg=east_deg)
        if abs(north_deg) <= 90 and any(_between_m(moved, one) <= most_m for one in others):
            return f"{fix}, or give this place another name"
    return "correct the position, or give this place another name"


def _between_m(one: Position, other: Position) -> float:
    """As the crow flies, within 1 %."""
    return hypot(*FlatMap(one.lat_deg, one.lon_deg).metres(other.lat_deg, other.lon_deg))


def _apart_m(where: Position, photo: Photo) -> float | None:
    at = photo if photo.lat_deg is not None else photo.track
    if at is None or at.lat_deg is None or at.lon_deg is None:
        return None
    return distance_m(where.lat_deg, where.lon_deg, at.lat_deg, at.lon_deg)


def check_losses(progress: Mapping[str, Progress], problems: ProblemList) -> None:
    """Batches and cultures that lost more than they had."""
    for run in progress.values():
        if run.inoculated is not None and run.lost > run.inoculated:
            last = run.losses[-1]
            parts = "units" if isinstance(run.of, Batch) else "vessels"
            message = f"{run.of.id} has lost {run.lost} of {run.inoculated} {parts}"
            fix = f"correct `lost`, or `{parts}` in {run.of.path}"
            problems.at(last.path, last.lines.get("lost", 0), "warning", message, fix)


def check_plausibility(journal: Journal, progress: Mapping[str, Progress], problems: ProblemList) -> None:
    """Implausible dates, masses, settings and measures, logger readings that no tent has, and entries left empty."""
    _check_empty(journal, problems)
    for doubt in (*doubts_of(journal, progress), *doubts_of_measures(journal, progress)):
        problems.at(doubt.entry.path, doubt.entry.lines.get(doubt.key, 0), "warning", doubt.message, doubt.fix)
    for log in journal.logs:
        for message, fix in doubts_of_readings(log, journal.settings):
            problems.at(log.path, 0, "warning", message, fix)


def doubts_of_readings(log: LoggerFile, settings: Settings) -> Iterator[tuple[str, str]]:
    """The readings of a logger that no tent has, or that its tent has in the other unit of temperature, as a message
    and how to fix it, for each measure."""
    units, air, humidity = settings.units, limit("temperature_c"), limit("humidity_pct")
    odd_c = [value for value in log.temperature_c if not air.allows(value)]
    if odd_c:
        readings = counted(len(odd_c), "reading of temperature", "readings of temperature")
        least, most = (temperature(value, units) for value in (min(odd_c), max(odd_c)))
        message = f"{readings} outside {temperatures(air.low or 0, air.high or 0, units)}, which no tent has"
        where = _where_read(log, settings)
        fix = f"check `temperature` and `temperature_unit` in {where}; readings that are wrong need nothing"
        yield f"{message}, left out ({_from_to(least, most)})", _other_unit(log, settings) or fix
    elif asked := _other_unit(log, settings):
        message = f"nearly all readings of temperature are far from what is wanted in {log.tent}"
        yield f"{message}, and near it in the other unit", asked
    odd_pct = [value for value in log.humidity_pct if not humidity.allows(value)]
    if odd_pct:
        readings = counted(len(odd_pct), "reading of humidity", "readings of humidity")
        message = f"{readings} outside {humidity} %, which no tent has"
        read = _from_to(f"{number(min(odd_pct))} %", f"{number(max(odd_pct))} %")
        fix = f"check `humidity` in the [[climate]] of {log.tent}; readings that are wrong need nothing"
        yield f"{message}, left out ({read})", fix


def _from_to(least: str, most: str) -> str:
    return least if least == most else f"{least} to {most}"


_FAR_C, _NEAR_C, _NEARLY_ALL = 10.0, 2.0, 0.9
"""How far outside the range wanted a tent is not for want of heating or cooling alone, how far it usually strays, and
the share of a file's readings that decides: *common practice*."""


def _other_unit(log: LoggerFile, settings: Settings) -> str | None:
    """What to write in the settings if the file's temperatures are of its tent in the other unit only: most of them as
    they stand are of no tent, or nearly all are far from the range wanted there."""
    source, known = _source_of(log, settings), [value for value in log.temperature_c if value == value]
    wanted, allows = _wanted_c(log, settings), limit("temperature_c").allows
    is_of_none = sum(not allows(value) for value in known) * 2 > len(known)
    is_far = wanted is not None and _share_within(known, wanted, _FAR_C) <= 1 - _NEARLY_ALL
    if not known or not (is_of_none or is_far):
        return None
    read_as = (source and (source.temperature_unit or unit_in(source.temperature or ""))) or "°C"
    in_f = [to_fahrenheit(value) for value in known]
    for unit, other, written, in_other in (
        ("°F", "°C", known, [to_celsius(value) for value in known]),
        ("°C", "°F", in_f, in_f),
    ):
        is_near = wanted is not None and _share_within(in_other, wanted, _NEAR_C) >= _NEARLY_ALL
        fits = (is_of_none and all(map(allows, in_other))) or (is_far and is_near and read_as == other)
        if fits and not (source and source.temperature_unit == unit):
            has = f"the file has {_from_to(number(min(written)), number(max(written)))}, read as {other}"
            return f'{has}; if that is {unit}, write temperature_unit = "{unit}" in {_where_read(log, settings)}'
    return None


def _share_within(values_c: Sequence[float], wanted: ValueRange, around_c: float) -> float:
    within = sum(wanted.low - around_c <= value <= wanted.high + around_c for value in values_c)
    return within / len(values_c) if values_c else 0.0


def _wanted_c(log: LoggerFile, settings: Settings) -> ValueRange | None:
    return next((tent.temperature_c for tent in settings.tents if tent.id.lower() == log.tent.lower()), None)


def _source_of(log: LoggerFile, settings: Settings) -> ClimateSource | None:
    claims, _ = files_of(settings.climate, [log.path])
    return next((source for _, source in claims if source.tent.lower() == log.tent.lower()), None)


def _where_read(log: LoggerFile, settings: Settings) -> str:
    source = _source_of(log, settings)
    return f"the [[climate]] of {log.tent}" + (f" with files = {toml_string(source.files)}" if source else "")


_SAYS_NOTHING = frozenset({"kind", "about", "date", "by", "private"})
"""Keys of a note or a tent entry that say what it is about, and nothing of it."""


def _check_empty(journal: Journal, problems: ProblemList) -> None:
    for entry in (*journal.notes, *journal.tent_entries):
        if not (entry.lines.keys() - _SAYS_NOTHING or entry.photos or entry.text.strip()):
            message = f"this {'note' if entry.kind == 'note' else 'tent entry'} says nothing yet"
            problems.at(entry.path, 0, "warning", message, "write what you saw or did, or remove the file")


def check_services(journal: Journal, problems: ProblemList) -> None:
    """Services that match no regular service of their tent, so that none is reset; checking a probe over a salt is not
    a service."""
    tents = {tent.id.lower(): tent for tent in journal.settings.tents}
    for entry in journal.tent_entries:
        names = list(dict.fromkeys(name for id in entry.about for name, _ in tents[id.lower()].every))
        for words in entry.serviced if names else ():
            if any(resets(words, name) for name in names) or salt_in(words):
                continue
            near = next(filter(None, (nearest(word, names) for word in words.split())), None)
            add = f"add it under [tents.{entry.about[0]}.every]"
            fix = f"write {near}, if you mean that, or {add}" if near else f"start with one of those names, or {add}"
            services = f"{entry.about[0]} ({', '.join(names)})"
            message = f"no service of {services} starts with {shortened(words)}, so none is reset"
            problems.at(entry.path, entry.lines.get("serviced", 0), "warning", message, fix)


def check_patches(journal: Journal, problems: ProblemList) -> None:
    """Finds that join several patches, or are between patches with names, if their author does not say which one they
    belong to."""
    for patch in patches_of(journal):
        for joined in patch.joined:
            if joined.by_hand:
                continue
            *others, last = joined.titles
            message = f"this find is within reach of the patches {', '.join(others)} and {last}"
            if joined.apart:
                message += f", which have names of their own; it counts to {joined.titles[0]}, the older"
                fix = f"write `patch: {joined.titles[0]}` in it, or another of those names"
            else:
                message += ", and makes them one"
                fix = "write `patch` and one name for all in it, or another name in the finds of each patch"
            line = joined.find.lines.get("where", 0)
            problems.at(joined.find.path, line, "warning", message, fix)


def check_permits(journal: Journal, problems: ProblemList) -> None:
    """Permits that the settings do not name, and what was picked beyond one."""
    names = [permit.name for permit in journal.settings.permits]
    for find in journal.finds:
        if find.permit and find.permit.casefold() not in map(str.casefold, names):
            near = nearest_name(find.permit, names)
            add = f"add [permits.{find.permit}] to journal.toml"
            fix = f"write {near}, if you mean that, or {add}" if near else add
            message = f"{shortened(find.permit)} is not a permit in the settings"
            problems.at(find.path, find.lines.get("permit", 0), "error", message, fix)
    for breach in breaches(journal):
        permit, units = breach.permit, journal.settings.units
        picked, in_all = f"{mass(breach.mass_g, units)} picked", f"the permit {permit.name}, which allows"
        message = {
            "not then": f"{picked} on a day on which the permit {permit.name} is not valid: this is in no sum",
            "a day": f"{picked} that day under {in_all} {mass(permit.a_day_g or 0, units)} a day",
            "in all": f"{picked} in all under {in_all} {mass(permit.in_all_g or 0, units)}",
        }[breach.what]
        key = "picked mass" if "picked mass" in breach.entry.lines else "harvest"
        fix = "correct the mass, the date or `permit`, if one of them is wrong"
        problems.at(breach.entry.path, breach.entry.lines.get(key, 0), "warning", message, fix)


def _names_were(photos: Sequence[Photo]) -> str:
    names = [posixpath.basename(photo.path) for photo in photos]
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    return f"{', '.join(names[:3])}{more} {'was' if len(names) == 1 else 'were'}"
