"""The author's own maps: their points from the settings, and whether these fit the pictures."""

from __future__ import annotations

from collections.abc import Sequence
from math import dist
from typing import Any

from journal.amounts import way
from journal.geo.flat_map import fit_of, flat_map_of
from journal.geo.parse import parse_position
from journal.model import Photo
from journal.problems import Unreadable, nearest_file
from journal.quantities import Parsed
from journal.reading.entries import ProblemList
from journal.reading.listing import SETTINGS_NAME
from journal.settings import Settings

MAP_POINT = '{x = 120, y = 340, position = "58.3, -8.9"}'


def map_points(written: Any) -> Parsed[tuple[tuple[float, float, float, float], ...]]:
    """The points of a map for `OwnMap`; raises Unreadable if they cannot place a picture."""
    rows = written if isinstance(written, list) else [written]
    points = tuple(map(_map_point, rows))
    if len(points) < 3:
        raise Unreadable(
            f"a map needs three points or more whose position is known, and has {len(points)}", f"add {MAP_POINT}"
        )
    if fit_of(flat_map_of((lat, lon) for _, _, lat, lon in points), points) is None:
        raise Unreadable("the points of a map are on one line", "add one that is well away from that line")
    return Parsed(points)


def _map_point(row: Any) -> tuple[float, float, float, float]:
    x, y, place = (row.get(name) for name in ("x", "y", "position")) if isinstance(row, dict) else (None, None, None)
    if isinstance(x, bool) or isinstance(y, bool) or not isinstance(x, int | float) or not isinstance(y, int | float):
        raise Unreadable("a point of a map lacks x and y in px of the picture", f"write it like {MAP_POINT}")
    if not isinstance(place, str):
        raise Unreadable("a point of a map lacks its position as text", f"write it like {MAP_POINT}")
    found = parse_position(place)
    return float(x), float(y), found.lat_deg, found.lon_deg


_MOST_MISSED = 0.03
"""The error that a map's points may have, as a fraction of their extent; more means a mistake in one of them, or a map
that is not to scale."""


def check_maps(settings: Settings, photos: Sequence[Photo], found: ProblemList) -> None:
    """Checks that the pictures exist and fit the points in the settings. No message repeats a position."""
    known = {photo.path: photo for photo in photos}
    for own in settings.maps:
        photo = known.get(own.file)
        if photo is None:
            near = nearest_file(own.file, known)
            fix = f"write {near}, if you mean that" if near else "put it there, or name it as it is called"
            found.at(SETTINGS_NAME, 0, "error", f"the map {own.file} is not in the journal folder", fix)
            continue
        if photo.width is None or photo.height is None:
            fix = "save it again as JPEG or PNG"
            found.at(SETTINGS_NAME, 0, "error", f"the map {own.file} cannot be read as a picture", fix)
            continue
        for at, (x, y, *_) in enumerate(own.points, 1):
            if not (0 <= x <= photo.width and 0 <= y <= photo.height):
                message = f"point {at} of the map {own.file} is outside its {photo.width} × {photo.height} px"
                found.at(SETTINGS_NAME, 0, "error", message, "count x from its left and y from its upper edge")
        flat = flat_map_of((lat, lon) for _, _, lat, lon in own.points)
        fit = fit_of(flat, own.points)
        places = [flat.metres(lat, lon) for _, _, lat, lon in own.points]
        across_m = max(dist(a, b) for a in places for b in places)
        if fit and fit.residual_m > _MOST_MISSED * across_m:
            missed, across = way(fit.residual_m, settings.units), way(across_m, settings.units)
            message = f"the map {own.file} misses its own points by {missed} (root mean square), over a way of {across}"
            found.at(SETTINGS_NAME, 0, "warning", message, "look for a mistake in one of its points")
