"""Sketch maps: points with their uncertainty, tracks, a graticule and a scale bar, drawn to scale on no background.

A map keeps one shape at any width, so positions are percentages across and down; what is to scale is in a nested `svg`
whose viewBox is in metres east and south of the centre. Points that would overlap on a phone are one cluster;
`static/js/sketch-map.js` redraws them for its screen and for every scale.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise
from math import cos, floor, hypot, log10, radians
from operator import itemgetter

from journal.geo.flat_map import FlatMap, Metres, flat_map_of, normal_lon
from journal.model import Position
from journal.quantities import counted
from journal.site.charts.graticule import ASPECT, NARROWEST_PX, PlaceName, View, graticule_of, level, path_of
from journal.site.charts.primitives import trimmed, width_em
from journal.site.wording import Units, radius, way

APART_PX = 40
"""Points nearer to each other than this are one cluster."""

_NAME_PX = 14
_LEAST_WIDTH_M = 60.0
_MOST_TRACK_POINTS = 2500
_DEG_M = 111_320.0
_M_PER_UNIT = {"metric": (1.0, 1000.0), "us": (0.3048, 1609.344)}


@dataclass(frozen=True, slots=True)
class MapPoint:
    """What is at a place. id: its tag. address: its page. words: what it is, in one line. place: the author's name for
    the spot."""

    position: Position
    id: str
    address: str
    words: str
    place: str | None = None


@dataclass(frozen=True, slots=True)
class PlacedPoint:
    """A point in a list. data: for the script, metres east and south of the centre and the radius of the uncertainty, 0
    if it is not known; then `area` if only an area is shown. words: with the uncertainty."""

    id: str
    address: str
    words: str
    data: str


@dataclass(frozen=True, slots=True)
class Mark:
    """One point, or several that lie close together. x, y: in %. words: of the point, or how many there are."""

    x: str
    y: str
    count: int
    words: str
    address: str
    is_area: bool


@dataclass(frozen=True, slots=True)
class Beneath:
    """The author's own map. matrix: from its px to metres east and south of the centre, as SVG has it. words: what it
    is, and its error."""

    picture: str
    width: int
    height: int
    matrix: str
    words: str


@dataclass(frozen=True, slots=True)
class SketchMap:
    """view: left, top, width and height in metres. centre: latitude and longitude. circles: (east, south, radius) in
    metres. scale: where its bar ends, from 3 %, and its length in words."""

    title: str
    desc: str
    view: str
    centre: str
    units: Units
    points: tuple[PlacedPoint, ...]
    marks: tuple[Mark, ...]
    circles: tuple[tuple[str, str, str], ...]
    tracks: str
    graticule: str
    degrees: tuple[PlaceName, ...]
    names: tuple[PlaceName, ...]
    scale: tuple[str, str]
    beneath: Beneath | None = None


Line = Sequence[tuple[float, float]]
"""A track: (latitude, longitude) of its points."""


def sketch_map(
    title: str,
    points: Sequence[MapPoint],
    tracks: Iterable[Line] = (),
    units: Units = "metric",
    beneath: Callable[[FlatMap], Beneath | None] = lambda flat: None,
) -> SketchMap | None:
    """The map of these points; None if there are none. tracks: those that pass through it are drawn. beneath: the
    author's own map, for the flat map that is drawn."""
    if not points:
        return None
    flat = flat_map_of((point.position.lat_deg, point.position.lon_deg) for point in points)
    places = [level(flat, point.position.lat_deg, point.position.lon_deg) for point in points]
    radii = [point.position.uncertainty_m or 0.0 for point in points]
    view = _view_of(places, radii)
    clusters = clustered(places, APART_PX / view.px_per_m)
    lone = [cluster[0] for cluster in clusters if len(cluster) == 1]
    marks = tuple(_mark(view, cluster, points, places, units) for cluster in clusters)
    graticule, degrees = graticule_of(flat, view)
    lines = _tracks(flat, view, tracks)
    return SketchMap(
        title=title,
        desc=f"{counted(len(points), 'place')}, to scale, each with the circle that it is in. Up is north.",
        view=" ".join(trimmed(value) for value in (view.left, view.top, view.width, view.height)),
        centre=f"{flat.lat_deg:.7f} {flat.lon_deg:.7f}",
        units=units,
        points=tuple(_in_list(*row, units) for row in zip(points, places, strict=True)),
        marks=marks,
        circles=tuple(
            (view.metres(places[at][0]), view.metres(places[at][1]), view.metres(radii[at]))
            for at in lone
            if radii[at] * view.px_per_m >= 9
        ),
        tracks=lines,
        graticule=graticule,
        degrees=degrees,
        names=tuple(_names(view, points, places, marks, lines)),
        scale=_scale(view, units),
        beneath=beneath(flat),
    )


def spread_words(position: Position, units: Units) -> str:
    """How sure a place is: `± 8 m`, `within 13 km`, `uncertainty not known`."""
    if position.uncertainty_m is None:
        return "uncertainty not known"
    if position.grid_deg is not None:
        return f"within {radius(position.uncertainty_m, units)}"
    return f"± {radius(position.uncertainty_m, units)}"


def clustered(places: Sequence[Metres], apart_m: float) -> list[list[int]]:
    """The places in groups: the first place that is in no group yet, with all others in no group within this distance
    of it, and so on. Indices, each once; the order of the places decides which come first."""
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)
    for at, (x, y) in enumerate(places):
        cells[floor(x / apart_m), floor(y / apart_m)].append(at)
    free = [True] * len(places)
    found = []
    for at, (x, y) in enumerate(places):
        if not free[at]:
            continue
        column, row = floor(x / apart_m), floor(y / apart_m)
        group = []
        for key in ((column + dx, row + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)):
            if key not in cells:
                continue
            near = [i for i in cells[key] if hypot(places[i][0] - x, places[i][1] - y) < apart_m]
            group += near
            taken = set(near)
            cells[key] = [i for i in cells[key] if i not in taken]
        for i in group:
            free[i] = False
        found.append(sorted(group))
    return found


def _view_of(places: Sequence[Metres], radii: Sequence[float]) -> View:
    """All points, and their circles if these are no larger than the width of the whole."""
    xs, ys = [x for x, _ in places], [y for _, y in places]
    spread = max(max(xs) - min(xs), max(ys) - min(ys), _LEAST_WIDTH_M, *(3 * r for r in radii[:1] if len(places) == 1))
    most = spread / 2
    left = min(x - min(r, most) for x, r in zip(xs, radii, strict=True))
    right = max(x + min(r, most) for x, r in zip(xs, radii, strict=True))
    top = min(y - min(r, most) for y, r in zip(ys, radii, strict=True))
    foot = max(y + min(r, most) for y, r in zip(ys, radii, strict=True))
    width = max(right - left, (foot - top) * ASPECT, _LEAST_WIDTH_M) * 1.35
    return View((left + right - width) / 2, (top + foot - width / ASPECT) / 2, width)


def _in_list(point: MapPoint, place: Metres, units: Units) -> PlacedPoint:
    x, y = place
    radius = point.position.uncertainty_m or 0.0
    data = f"{trimmed(x, 1)} {trimmed(y, 1)} {trimmed(radius, 1)}"
    data += " area" if point.position.grid_deg is not None else ""
    return PlacedPoint(point.id, point.address, _words(point, units), data)


def _words(point: MapPoint, units: Units) -> str:
    return f"{point.words}, {spread_words(point.position, units)}"


def _mark(
    view: View, cluster: Sequence[int], points: Sequence[MapPoint], places: Sequence[Metres], units: Units
) -> Mark:
    first = points[cluster[0]]
    x = sum(places[at][0] for at in cluster) / len(cluster)
    y = sum(places[at][1] for at in cluster) / len(cluster)
    if len(cluster) == 1:
        is_area = first.position.grid_deg is not None
        return Mark(*view.percent(x, y), 1, f"{first.id} {_words(first, units)}", first.address, is_area)
    ids = [points[at].id for at in cluster]
    named = ", ".join(ids[:8]) + (f" and {len(ids) - 8} more" if len(ids) > 8 else "")
    return Mark(*view.percent(x, y), len(cluster), f"{len(cluster)} close together: {named}", "", False)


def _scale(view: View, units: Units) -> tuple[str, str]:
    """The longest round length that fits a third of the width."""
    length_m = round_below(view.width / 3, units)
    return f"{trimmed(3 + length_m / view.width * 100)}%", way(length_m, units)


def round_below(length_m: float, units: Units) -> float:
    """The largest of 1, 2 or 5 times a power of ten of the units that is not longer; in metres."""
    small_m, large_m = _M_PER_UNIT[units]
    unit_m = large_m if length_m >= large_m else small_m
    power = 10.0 ** floor(log10(length_m / unit_m))
    return unit_m * power * max(times for times in (1, 2, 5) if power * times <= length_m / unit_m * (1 + 1e-9))


WIDTHS_PX = (NARROWEST_PX, 290, 714)
"""The widths that a map has on screens of 320, 390 and 1280 px, for each of which the names have to find room."""

_MOST_NAMES = 40
_CELL_PX = 4
_CLEAR_PX = 18
"""Half of the room that a mark takes."""

Box = tuple[float, float, float, float]
"""Left, top, right, bottom, in px."""


class _Room:
    """What of a map is taken at one width: its lines, its marks and the names that are there already."""

    def __init__(self, view: View, width_px: float, lines: Iterable[Line], marks: Iterable[Mark]) -> None:
        self.width, self.height, self.boxes = width_px, width_px / ASPECT, list[Box]()
        self._px_per_m = width_px / view.width
        self._left, self._top = view.left, view.top
        self._cells = {cell for line in lines for cell in self._cells_of(line)}
        for mark in marks:
            x, y = (float(part.rstrip("%")) / 100 for part in (mark.x, mark.y))
            across, down = x * self.width, y * self.height
            self.boxes.append((across - _CLEAR_PX, down - _CLEAR_PX, across + _CLEAR_PX, down + _CLEAR_PX))

    def at(self, x: float, y: float) -> tuple[float, float]:
        return (x - self._left) * self._px_per_m, (y - self._top) * self._px_per_m

    def _cells_of(self, line: Line) -> Iterator[tuple[int, int]]:
        for before, after in pairwise(self.at(*place) for place in line):
            steps = min(400, int(hypot(after[0] - before[0], after[1] - before[1]) / 2) + 1)
            for step in range(steps + 1):
                x, y = (one + (other - one) * step / steps for one, other in zip(before, after, strict=True))
                if -_CELL_PX <= x <= self.width + _CELL_PX and -_CELL_PX <= y <= self.height + _CELL_PX:
                    yield int(x // _CELL_PX), int(y // _CELL_PX)

    def has(self, box: Box) -> bool:
        left, top, right, foot = box
        if left < 2 or top < 2 or right > self.width - 2 or foot > self.height - 2:
            return False
        if any(left < r and x < right and top < b and y < foot for x, y, r, b in self.boxes):
            return False
        across = range(int((left - 2) // _CELL_PX), int((right + 2) // _CELL_PX) + 1)
        down = range(int((top - 2) // _CELL_PX), int((foot + 2) // _CELL_PX) + 1)
        return not any((x, y) in self._cells for x in across for y in down)


def _names(
    view: View, points: Sequence[MapPoint], places: Sequence[Metres], marks: Sequence[Mark], paths: str
) -> Iterator[PlaceName]:
    """The names of spots beside the middle of their points, those with the most points first: none is on a track,
    a mark or another name at any width. paths: of the tracks. The graticule is interrupted for them."""
    found: dict[str, list[int]] = defaultdict(list)
    for at, point in enumerate(points):
        if point.place:
            found[point.place].append(at)
    lines = [[tuple(map(float, one.split())) for one in part.split("L")] for part in paths.split("M")[1:]]
    rooms = [_Room(view, width, lines, marks) for width in WIDTHS_PX]  # type: ignore[arg-type]
    for rank, (name, rows) in enumerate(sorted(found.items(), key=lambda row: (-len(row[1]), row[0]))):
        x = sum(places[at][0] for at in rows) / len(rows)
        y = sum(places[at][1] for at in rows) / len(rows)
        half = round(width_em(name) * _NAME_PX / 2) + 2
        for dx, dy in _beside(half) if rank < _MOST_NAMES else ():
            boxes = [_box_at(room.at(x, y), dx, dy, half) for room in rooms]
            if all(room.has(box) for room, box in zip(rooms, boxes, strict=True)):
                for room, box in zip(rooms, boxes, strict=True):
                    room.boxes.append(box)
                yield PlaceName(*view.percent(x, y), name, f"{trimmed(x, 1)} {trimmed(y, 1)}", True, dx, dy, half)
                break
        else:
            yield PlaceName(*view.percent(x, y), name, f"{trimmed(x, 1)} {trimmed(y, 1)}", False)


def _beside(half: int) -> Iterator[tuple[int, int]]:
    """Where a name may stand, by the px from its point to its middle and its baseline; the nearest first."""
    for away in (22, 36, 52):
        yield from ((0, -away), (0, away + 12), (half + away, 5), (-half - away, 5))
        yield from ((half + 4, -away), (-half - 4, -away), (half + 4, away + 12), (-half - 4, away + 12))


def _box_at(place: tuple[float, float], dx: int, dy: int, half: int) -> Box:
    x, baseline = place[0] + dx, place[1] + dy
    return x - half, baseline - 12, x + half, baseline + 4


def _tracks(flat: FlatMap, view: View, tracks: Iterable[Line]) -> str:
    """The parts of tracks in or near the view, as one path; thinned if there are too many points to draw."""
    near = [part for track in tracks for part in _near(flat, view, track)]
    lines = [[level(flat, *place) for place in part] for part in near]
    step_m = view.width / 2000
    while sum(map(len, lines)) > _MOST_TRACK_POINTS:
        lines = [thinned(line, step_m) for line in lines]
        step_m *= 1.6
    return "".join(path_of(view, line) for line in lines if len(line) > 1)


def _near(flat: FlatMap, view: View, track: Line) -> Iterator[Line]:
    """The parts of a track within one width of the view, found by degrees, which is faster than by metres."""
    reach_deg = 2 * view.width / _DEG_M
    across_deg = reach_deg / max(0.001, cos(radians(min(90.0, abs(flat.lat_deg) + reach_deg))))
    is_near = [
        abs(lat - flat.lat_deg) <= reach_deg and abs(normal_lon(lon - flat.lon_deg)) <= across_deg for lat, lon in track
    ]
    for inside, rows in groupby(zip(is_near, track, strict=True), key=itemgetter(0)):
        if inside:
            yield [place for _, place in rows]


def thinned(line: Sequence[Metres], step_m: float) -> list[Metres]:
    """The points that are at least this far from the last one kept, and the last point."""
    kept = [line[0]]
    for x, y in line[1:-1]:
        if hypot(x - kept[-1][0], y - kept[-1][1]) >= step_m:
            kept.append((x, y))
    return [*kept, line[-1]] if len(line) > 1 else kept
