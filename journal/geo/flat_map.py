"""Positions on a flat map about a centre, true to scale, across the antimeridian and the poles too.

An azimuthal projection: direction and distance from the centre are those on the ellipsoid.
*Source:* J. P. Snyder, Map Projections: A Working Manual (USGS Professional Paper 1395, 1987), chapter 25, azimuthal
equidistant projection; here by the chord between two points of WGS 84, whose arc is taken on the sphere that fits the
ellipsoid best at the centre: within 2 cm at 100 km from there, 14 m at 1,000 km, 1 % at any distance.
"""

from __future__ import annotations

from collections.abc import Iterable
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
        """Where a place is. That opposite to the centre lies in no direction, and is put south of it."""
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
