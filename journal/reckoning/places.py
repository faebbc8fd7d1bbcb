"""Positions: read in every notation that is in use, and how far one is from another. All on WGS 84."""

from __future__ import annotations

import re

from journal.model import Position
from journal.problems import Unreadable
from journal.reckoning.angles import plain_marks, read_degrees
from journal.reckoning.fix import EXAMPLE, MEND, Fix
from journal.reckoning.geostrings import read_geo_uri, read_iso6709
from journal.reckoning.grids import read_mgrs, read_utm

_LONGEST = 200
_FARTHEST_M = 20_040_000  # no place is farther from another: half of the Earth's girth
_METRES = {"m": 1.0, "km": 1000.0, "ft": 0.3048, "yd": 0.9144, "mi": 1609.344}  # the international foot, 1959
_UNITS = {
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("ft", "foot", "feet", "'"), "ft"),
    **dict.fromkeys(("yd", "yard", "yards"), "yd"),
    **dict.fromkeys(("mi", "mile", "miles"), "mi"),
    **dict.fromkeys(("km", "kilometre", "kilometres"), "km"),
}
_SPREAD = re.compile(r"\s*(?:±|\+ ?/ ?-|\+-)\s*(?P<number>[0-9]+(?:[.,][0-9]+)?)?\s*(?P<unit>[^\W\d]+|')?\.?\s*$")


def parse_position(text: str) -> Position:
    """The position a text names: source "entry", `written` the text, uncertainty_m always a radius above 0.

    Decimal degrees (latitude first), degrees with minutes and seconds, ISO 6709, geo: URI, UTM or MGRS, each with
    or without `±8 m` after it. Without ± (or a geo: URI's u) the radius is reckoned from the precision of what was
    written: one step in each axis combined for degrees, half the diagonal of the square for UTM and MGRS.
    Raises Unreadable, whose message does not repeat the place.
    *Source:* A. D. Chapman, J. R. Wieczorek, Georeferencing Best Practices (2020), Uncertainty due to Coordinate
    Precision.
    """
    if len(text) > _LONGEST:
        raise Unreadable(f"the position is longer than {_LONGEST} signs", MEND)
    place, stated_m = _split_spread(" ".join(plain_marks(text).split()))
    if not place:
        raise Unreadable("the position is empty", MEND)
    fix = _read_any(place)
    if stated_m is not None and fix.stated:
        raise Unreadable("the uncertainty is given twice, by u and by ±", "keep one of them")
    return Position(fix.lat_deg, fix.lon_deg, stated_m or fix.uncertainty_m, "entry", text)


def distance_m(lat1_deg: float, lon1_deg: float, lat2_deg: float, lon2_deg: float) -> float:
    """Metres along the ellipsoid between two places.

    *Source:* C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87:43-55 (2013), by geographiclib.
    """
    from geographiclib.geodesic import Geodesic

    found = Geodesic.WGS84.Inverse(lat1_deg, lon1_deg, lat2_deg, lon2_deg, Geodesic.DISTANCE)
    return float(found["s12"])


def _read_any(place: str) -> Fix:
    """The place, by the first notation that the text is in."""
    for read in (read_geo_uri, read_iso6709, read_utm, read_mgrs):
        if fix := read(place):
            return fix
    return read_degrees(place)


def _split_spread(text: str) -> tuple[str, float | None]:
    """The place, and the radius in metres that follows ± (None where there is no ±)."""
    found = _SPREAD.search(text)
    if found is None:
        if "±" in text:
            raise Unreadable("what follows ± is no length", f"write it after the place, like {EXAMPLE}")
        return text, None
    if found["number"] is None:
        raise Unreadable("no number follows ±", f"write it like {EXAMPLE}")
    unit = _UNITS.get((found["unit"] or "").lower())
    if unit is None:
        raise Unreadable("the number after ± has no unit of length", "write it like ±8 m or ±26 ft")
    radius_m = float(found["number"].replace(",", ".")) * _METRES[unit]
    if radius_m > _FARTHEST_M:
        raise Unreadable("the uncertainty is more than the way round half the Earth", f"write it like {EXAMPLE}")
    if not radius_m:
        raise Unreadable("an uncertainty of 0 is not possible", "give the radius the place is sure to lie in")
    return text[: found.start()], radius_m
