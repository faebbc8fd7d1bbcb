"""Patches: finds within reach of each other as one spot to come back to, with its visits and its weeks of fruiting."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from itertools import product
from math import atan2, ceil, cos, degrees, dist, hypot, radians, sin, sqrt

from journal.analysis.calendar import SEEN_STAGES, is_seen
from journal.analysis.kept import kept
from journal.analysis.progress import calendar_day, notes_by_id
from journal.model import Culture, Find, Journal, Note, Position, When, sort_key

REACH_M = 25.0
"""The greatest distance of two finds of one patch, not counting uncertainties: a fallen trunk and its surroundings.
*Common practice.*"""
UNSTATED_M = 30.0
"""The uncertainty of a position for which none is stated. *Source:* Darwin Core, coordinateUncertaintyInMeters: the
least that is reasonable for a GPS reading whose precision was not recorded."""
MOST_UNCERTAIN_M = 50.0
"""A find with a less certain position joins no other by its place, because it may belong to any patch around."""

VISIT_STAGES = SEEN_STAGES | {"past", "nothing there"}
"""Stages of a find that show that somebody looked."""

Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Visit:
    """One day on which somebody looked at a patch. found: IDs of the finds of that day; seen: (ID, stage) of notes;
    is_fruiting: whether something was found, seen young or in its prime, or harvested."""

    when: When
    found: tuple[str, ...]
    seen: tuple[tuple[str, str], ...]
    is_fruiting: bool


@dataclass(frozen=True, slots=True)
class Joined:
    """A find within reach of several patches. keys, titles: of those that it joined, or, if `apart`, of the named ones
    that stay apart: it counts for the first. by_hand: whether its author says which patch it belongs to."""

    find: Find
    keys: tuple[str, ...]
    titles: tuple[str, ...]
    apart: bool = False
    by_hand: bool = False


@dataclass(frozen=True)
class Patch:
    """A spot with finds. key: the name of its page, which stays when later finds join. name: as given by hand, else
    None. finds: the earliest first. former: keys that it, or what joined it, had before. cultures: IDs of what was
    taken straight from its finds. visits: the earliest first."""

    key: str
    name: str | None
    finds: tuple[Find, ...]
    visits: tuple[Visit, ...]
    cultures: tuple[str, ...] = ()
    former: tuple[str, ...] = ()
    joined: tuple[Joined, ...] = ()

    @property
    def title(self) -> str:
        """Its name, else the ID of its earliest find."""
        return self.name or self.finds[0].id

    @cached_property
    def fruited(self) -> tuple[date, ...]:
        """The days on which something was found, or seen young or in its prime, in order."""
        days = (calendar_day(visit.when) for visit in self.visits if visit.is_fruiting)
        return tuple(sorted({day for day in days if day}))

    @cached_property
    def last_look(self) -> When:
        """The date of the latest visit, preferably one whose day is known."""
        days = [visit.when for visit in self.visits if visit.when.counts_days]
        return max(days or [visit.when for visit in self.visits], key=lambda when: when.first)

    @cached_property
    def place(self) -> Position | None:
        """The middle of its finds, with the radius that certainly contains all of them as uncertainty; None if no place
        is known."""
        places = [find.position for find in self.finds if find.position is not None]
        if not places:
            return None
        points = [_point(place) for place in places]
        x, y, z = (sum(axis) / len(points) for axis in zip(*points, strict=True))
        lat_deg, lon_deg = degrees(atan2(z, hypot(x, y) * (1 - _E2))), degrees(atan2(y, x))
        middle = _point(Position(lat_deg, lon_deg, None, "entry"))
        radius_m = max(dist(middle, at) + _spread_m(place) for at, place in zip(points, places, strict=True))
        return Position(round(lat_deg, 7), round(lon_deg, 7), ceil(radius_m * 10) / 10, "entry")


def patches_of(journal: Journal) -> tuple[Patch, ...]:
    """Every patch, by its earliest find. A patch is two or more finds, or one that was visited again or named by hand.

    Two finds belong to one patch if the distance between their circles of uncertainty is at most `REACH_M`, directly or
    through other finds, or if they have the same `patch`. Patches with different names stay apart. Finds are added in
    order of time, so that later ones change no earlier address. Coarse positions join nothing."""
    visits = [note for note in journal.notes if note.stage in VISIT_STAGES]
    return kept(journal, "patches", _patches, journal.finds, journal.cultures, *visits)


def _patches(every_find: Iterable[Find], every_culture: Iterable[Culture], *visits: Note) -> tuple[Patch, ...]:
    finds = [find for find in every_find if find.patch or (find.position and find.position.grid_deg is None)]
    about = notes_by_id(visits)
    groups = _Groups(frozenset(about))
    group_of = [groups.add(find) for find in finds]
    of_group: dict[_Group, list[Find]] = defaultdict(list)
    for find, first in zip(finds, group_of, strict=True):
        of_group[_whole(first)].append(find)
    taken: dict[str, list[str]] = defaultdict(list)
    for culture in every_culture:
        for id in dict.fromkeys(ref.id for ref in culture.sources):
            taken[id].append(culture.id)
    made = []
    for group, members in of_group.items():
        if groups.is_patch(group):
            cultures = dict.fromkeys(id for find in members for id in taken.get(find.id, ()))
            joined = sorted(group.joined, key=lambda one: sort_key(one.find))
            more = tuple(cultures), tuple(sorted(group.former)), tuple(joined)
            made.append(Patch(group.key, group.name, tuple(members), _visits(members, about), *more))
    return tuple(made)


def patch_by_find(patches: Iterable[Patch]) -> dict[str, Patch]:
    """The patch of each find that is of one, by the find's ID."""
    return {find.id: patch for patch in patches for find in patch.finds}


def first_and_last_week(days: Iterable[date]) -> tuple[int, int] | None:
    """The ISO 8601 weeks of the year in which a season begins and ends, over all years. The season is outside the
    longest gap, so that one across New Year begins in autumn. None if there are no days."""
    weeks = sorted({day.isocalendar().week for day in days})
    if not weeks:
        return None
    gaps = [(weeks[(at + 1) % len(weeks)] - week) % 52 or 52 for at, week in enumerate(weeks)]
    last = max(range(len(weeks)), key=lambda at: (gaps[at], at))  # of two equal gaps the one across New Year
    return weeks[(last + 1) % len(weeks)], weeks[last]


def key_of_name(name: str) -> str:
    """`patch_fallen_stem`, the key of a patch named by hand: no ID has its `_`. Case, accents, signs and spaces make no
    difference; names that ASCII cannot write, and very long ones, are told apart by a digest."""
    folded = unicodedata.normalize("NFKD", name).casefold()
    plain = "".join(letter for letter in folded if unicodedata.category(letter)[0] != "M")
    words = re.findall(r"[^\W_]+", plain)
    if words and plain.isascii() and len(plain) <= 60:
        return "_".join(("patch", *words))
    return f"patch_{hashlib.sha256(' '.join(words or [plain.strip()]).encode()).hexdigest()[:12]}"


def _visits(finds: Sequence[Find], about: Mapping[str, Sequence[Note]]) -> tuple[Visit, ...]:
    """The days of finds, and of notes about their stage, each once; inexact dates each by themselves."""
    days: dict[tuple[date, str], tuple[When, list[str], list[tuple[str, str]]]] = {}
    fruiting = set()
    for find in finds:
        days.setdefault(_day(find.date), (find.date, [], []))[1].append(find.id)
        fruiting.add(_day(find.date))
        for note in about.get(find.id, ()):
            if note.stage:
                days.setdefault(_day(note.date), (note.date, [], []))[2].append((find.id, note.stage))
                fruiting |= {_day(note.date)} if is_seen(note) else set()
    return tuple(
        Visit(when, tuple(found), tuple(dict.fromkeys(seen)), day in fruiting)
        for day, (when, found, seen) in sorted(days.items())
    )


def _day(when: When) -> tuple[date, str]:
    return when.first, "day" if when.counts_days else when.exact


# -- which finds are of one patch ----------------------------------------------------------------------------------


@dataclass(eq=False, slots=True)
class _Group:
    """Finds of one patch so far. number: in the order of creation; finds: how many, including that of `key`; merged:
    the group that it was merged into."""

    number: int
    key: str
    title: str
    name: str | None
    finds: int = 0
    was_visited: bool = False
    former: list[str] = field(default_factory=list)
    joined: list[Joined] = field(default_factory=list)
    merged: _Group | None = None


@dataclass(slots=True)
class _Members:
    """Finds of one group in one small cell. low, high: the box that holds them; most_m: the largest uncertainty."""

    low: Point
    high: Point
    most_m: float
    points: dict[Point, float] = field(default_factory=dict)

    def add(self, point: Point, spread_m: float) -> None:
        self.low = min(self.low[0], point[0]), min(self.low[1], point[1]), min(self.low[2], point[2])
        self.high = max(self.high[0], point[0]), max(self.high[1], point[1]), max(self.high[2], point[2])
        self.most_m = max(self.most_m, spread_m)
        self.points[point] = max(self.points.get(point, 0.0), spread_m)

    def reach(self, point: Point, spread_m: float) -> bool:
        away = [max(low - at, 0.0, at - high) for low, at, high in zip(self.low, point, self.high, strict=True)]
        if hypot(*away) > REACH_M + spread_m + self.most_m:
            return False
        return any(dist(point, at) <= REACH_M + spread_m + other_m for at, other_m in self.points.items())


_Cell = tuple[int, int, int]
_SMALL_M = REACH_M / sqrt(3)
"""The side of a cell in which any two places are within reach."""
_LARGE_M = REACH_M + 2 * MOST_UNCERTAIN_M
"""The side of a cell such that everything within reach of a place in it is in that cell or an adjacent one."""


class _Groups:
    """The patches so far, on a grid of cubes that covers the Earth uniformly, including poles and antimeridian.

    Each find is compared with the small cells around it, and in each only with members of groups not yet known to be in
    reach, so that a thousand finds on one spot take no longer than elsewhere."""

    def __init__(self, visited: frozenset[str]) -> None:
        self._visited = visited
        self._begun = 0
        self._named: dict[str, _Group] = {}
        self._cells: dict[_Cell, dict[_Cell, dict[_Group, _Members]]] = defaultdict(lambda: defaultdict(dict))

    def is_patch(self, group: _Group) -> bool:
        """Whether a group is named, or more than one find that nobody came back to."""
        return group.finds > 1 or group.was_visited or (group.name is not None and group.finds > 0)

    def add(self, find: Find) -> _Group:
        """The group that a find is of so far. Finds are to be added in order of time."""
        own = self._group_named(find.patch) if find.patch else None
        place = find.position if find.position and find.position.grid_deg is None else None
        spread_m = _spread_m(place) if place else 0.0
        point = _point(place) if place and spread_m <= MOST_UNCERTAIN_M else None
        near = self._near(point, spread_m, own) if point else []
        group = self._joined(find, own, near)
        group.finds += 1
        group.was_visited |= find.id in self._visited
        if point:
            self._put(point, spread_m, group)
        return group

    def _group_named(self, name: str) -> _Group:
        key = key_of_name(name)
        if key not in self._named:
            written = " ".join(name.split())
            self._named[key] = self._begin(key, written, written)
        return self._named[key]

    def _begin(self, key: str, title: str, name: str | None) -> _Group:
        self._begun += 1
        return _Group(self._begun, key, title, name)

    def _joined(self, find: Find, own: _Group | None, near: Sequence[_Group]) -> _Group:
        """The group of a find, after merging the groups that it joins; near: the oldest first."""
        named = [group for group in near if group.name]
        group = own or next(iter(named or near), None) or self._begin(find.id.lower(), find.id, None)
        if own is None and len(named) > 1:
            group.joined.append(_as_joined(find, named, apart=True))
        parts = [one for one in near if one is not group and not one.name]
        patches = [one for one in (group, *parts) if self.is_patch(one)]
        if len(patches) > 1:
            group.joined.append(_as_joined(find, patches, by_hand=own is not None))
        for part in parts:
            group.former += [*([part.key] if self.is_patch(part) else []), *part.former]
            group.joined += part.joined
            group.finds += part.finds
            group.was_visited |= part.was_visited
            part.merged = group
        return group

    def _near(self, point: Point, spread_m: float, own: _Group | None) -> list[_Group]:
        """The groups within reach of a place, the oldest first; for a find named by hand only those that are not."""
        found: dict[_Group, None] = {}
        for room in _around(_cell(point, _LARGE_M)):
            for members in self._cells.get(room, {}).values():
                for first, ones in members.items():
                    group = _whole(first)
                    if group in found or group is own or (own and group.name):
                        continue
                    if ones.reach(point, spread_m):
                        found[group] = None
        return sorted(found, key=lambda group: group.number)

    def _put(self, point: Point, spread_m: float, group: _Group) -> None:
        members = self._cells[_cell(point, _LARGE_M)][_cell(point, _SMALL_M)]
        members.setdefault(group, _Members(point, point, spread_m)).add(point, spread_m)


def _as_joined(find: Find, groups: Iterable[_Group], **how: bool) -> Joined:
    rows = tuple(groups)
    return Joined(find, tuple(one.key for one in rows), tuple(one.title for one in rows), **how)


def _whole(group: _Group) -> _Group:
    """The group that this one is now a part of (with path compression)."""
    while group.merged is not None:
        if group.merged.merged is not None:
            group.merged = group.merged.merged
        group = group.merged
    return group


def _cell(point: Point, side_m: float) -> _Cell:
    return int(point[0] // side_m), int(point[1] // side_m), int(point[2] // side_m)


def _around(cell: _Cell, far: int = 1) -> Iterator[_Cell]:
    x, y, z = cell
    return ((x + i, y + j, z + k) for i, j, k in product(range(-far, far + 1), repeat=3))


def far_from_others(places: Sequence[Position], reach_m: float) -> tuple[int, ...]:
    """The numbers of those places that have no other within this straight line, in order; a thousand places on one spot
    take no longer than elsewhere."""
    points, cells = [*map(_point, places)], defaultdict[_Cell, list[int]](list)
    for at, point in enumerate(points):
        cells[_cell(point, reach_m / sqrt(3))].append(at)  # so that two in one cell are within reach
    found = []
    for cell, (at, *others) in cells.items():
        near = (other for room in _around(cell, 2) for other in cells.get(room, ()) if other != at)
        if not others and all(dist(points[at], points[other]) > reach_m for other in near):
            found.append(at)
    return tuple(sorted(found))


_A_M = 6_378_137.0
_E2 = 0.00669437999014
"""Semi-major axis and squared eccentricity of WGS 84. *Source:* NIMA TR8350.2 (2000), tables 3.1 and 3.3."""


def _point(place: Position) -> Point:
    """A place on the ellipsoid in metres from the Earth's centre; for two places within a patch, the straight line is
    shorter than the way along the ground by less than a millimetre. *Source:* NIMA TR8350.2 (2000), 4.15."""
    lat, lon = radians(place.lat_deg), radians(place.lon_deg)
    normal_m = _A_M / sqrt(1 - _E2 * sin(lat) ** 2)
    return normal_m * cos(lat) * cos(lon), normal_m * cos(lat) * sin(lon), normal_m * (1 - _E2) * sin(lat)


def _spread_m(place: Position) -> float:
    return UNSTATED_M if place.uncertainty_m is None else place.uncertainty_m
