"""Positions on a flat map around a centre, to scale, including across the antimeridian and the poles.

An azimuthal projection: direction and distance from the centre are those on the ellipsoid.
*Source:* J. P. Snyder, Map Projections: A Working Manual (USGS Professional Paper 1395, 1987), chapter 25, azimuthal
equidistant projection; here by the chord between two points of WGS 84, whose arc is taken on the sphere that fits the
ellipsoid best at the centre: within 2 cm at 100 km from there, 14 m at 1,000 km, 1 % at any distance.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import asin, atan2, cos, degrees, hypot, radians, sin, sqrt

_A_M = 6_378_137.0
_E2 = (2 - 1 / 298.257223563) / 298.257223563
"""Semi-major axis and squared eccentricity of WGS 84."""

Metres = tuple[float, float]
"""East and north of the centre, in metres."""


@dataclass(frozen=True, slots=True)
class FlatMap:
    """A map about this place."""

    lat_deg: float
    lon_deg: float

    @property
    def radius_m(self) -> float:
        """Of the sphere that fits the ellipsoid best at the centre."""
        return _A_M * sqrt(1 - _E2) / (1 - _E2 * sin(radians(self.lat_deg)) ** 2)

    def metres(self, lat_deg: float, lon_deg: float) -> Metres:
        """Where a place is. That opposite to the centre is in no direction, and is put south of it."""
        lat, turn = radians(self.lat_deg), radians(lon_deg - self.lon_deg)
        x, y, z = _from_axis(lat_deg, turn)
        x0, _, z0 = _from_axis(self.lat_deg, 0.0)
        out, up = x - x0, z - z0
        north, radial = up * cos(lat) - out * sin(lat), up * sin(lat) + out * cos(lat)
        level_m = hypot(y, north)
        if level_m < 1e-9:
            return (0.0, 0.0) if abs(radial) < 1 else (0.0, -asin(1) * 2 * self.radius_m)
        chord_m = hypot(level_m, radial)
        arc_m = 2 * self.radius_m * asin(min(1.0, chord_m / (2 * self.radius_m)))
        return y / level_m * arc_m, north / level_m * arc_m

    def place(self, east_m: float, north_m: float) -> tuple[float, float]:
        """Latitude and longitude of a point, by the sphere: within 2 % of the distance from the centre."""
        away = hypot(east_m, north_m) / self.radius_m
        if not away:
            return self.lat_deg, self.lon_deg
        lat, to_north, to_east = (
            radians(self.lat_deg),
            north_m / hypot(east_m, north_m),
            east_m / hypot(east_m, north_m),
        )
        sine = min(1.0, max(-1.0, sin(lat) * cos(away) + cos(lat) * sin(away) * to_north))
        turn = atan2(to_east * sin(away), cos(lat) * cos(away) - to_north * sin(lat) * sin(away))
        return degrees(asin(sine)), normal_lon(self.lon_deg + degrees(turn))


def _from_axis(lat_deg: float, turn: float) -> tuple[float, float, float]:
    """A place on the ellipsoid in metres: outwards in the centre's meridian, east of it, and along the axis."""
    lat = radians(lat_deg)
    normal_m = _A_M / sqrt(1 - _E2 * sin(lat) ** 2)
    return normal_m * cos(lat) * cos(turn), normal_m * cos(lat) * sin(turn), normal_m * (1 - _E2) * sin(lat)


def normal_lon(lon_deg: float) -> float:
    """The longitude between −180 and 180."""
    return lon_deg - 360 * round(lon_deg / 360)


def flat_map_of(places: Iterable[tuple[float, float]]) -> FlatMap:
    """The map about the middle of these places (latitude, longitude), at least one."""
    known = [(radians(lat_deg), radians(lon_deg)) for lat_deg, lon_deg in places]
    x = sum(cos(lat) * cos(lon) for lat, lon in known)
    y = sum(cos(lat) * sin(lon) for lat, lon in known)
    z = sum(sin(lat) for lat, _ in known)
    if hypot(x, y, z) < 1e-6 * len(known):  # all round the Earth: any of them is the middle
        return FlatMap(degrees(known[0][0]), degrees(known[0][1]))
    return FlatMap(degrees(atan2(z, hypot(x, y))), degrees(atan2(y, x)))


@dataclass(frozen=True, slots=True)
class Fit:
    """How a picture is on a flat map. matrix: a, b, c, d, e, f, so that east = a x + c y + e and south = b x + d y +
    f (the order of SVG), x and y in px. residual_m: by how much its points are missed, root mean square."""

    matrix: tuple[float, float, float, float, float, float]
    residual_m: float


_LEAST_SPREAD = 1e-4
"""Of the lesser spread of points by the greater, squared: below, they are as good as on one line."""


def fit_of(flat: FlatMap, points: Sequence[tuple[float, float, float, float]]) -> Fit | None:
    """The affine map of a picture that misses its points least: (x, y, latitude, longitude) each. None where there are
    fewer than three, or where they are on one line in the picture or on the ground.
    *Source:* the normal equations of linear least squares, about the points' mean."""
    if len(points) < 3:
        return None
    grounds = [flat.metres(lat_deg, lon_deg) for _, _, lat_deg, lon_deg in points]
    count = len(points)
    mean_x, mean_y = sum(point[0] for point in points) / count, sum(point[1] for point in points) / count
    mean_e, mean_s = sum(e for e, _ in grounds) / count, sum(-n for _, n in grounds) / count
    rows = [(p[0] - mean_x, p[1] - mean_y, e - mean_e, -n - mean_s) for p, (e, n) in zip(points, grounds, strict=True)]
    if _on_one_line([row[:2] for row in rows]) or _on_one_line([row[2:] for row in rows]):
        return None
    xx, xy, yy = sum(x * x for x, *_ in rows), sum(x * y for x, y, *_ in rows), sum(y * y for _, y, *_ in rows)
    whole = xx * yy - xy * xy

    def slopes(axis: int) -> Metres:
        by_x, by_y = sum(row[0] * row[axis] for row in rows), sum(row[1] * row[axis] for row in rows)
        return (by_x * yy - by_y * xy) / whole, (by_y * xx - by_x * xy) / whole

    (a, c), (b, d) = slopes(2), slopes(3)
    missed = sum((a * x + c * y - e) ** 2 + (b * x + d * y - s) ** 2 for x, y, e, s in rows)
    matrix = (a, b, c, d, mean_e - a * mean_x - c * mean_y, mean_s - b * mean_x - d * mean_y)
    return Fit(matrix, sqrt(missed / count))


def _on_one_line(rows: Sequence[tuple[float, ...]]) -> bool:
    xx, yy = sum(x * x for x, _ in rows), sum(y * y for _, y in rows)
    xy = sum(x * y for x, y in rows)
    return xx * yy - xy * xy <= _LEAST_SPREAD * ((xx + yy) / 2) ** 2
