"""Positions on the UTM grid: coordinates in metres, MGRS references. Each names a square; the place is its centre."""

from __future__ import annotations

import re
import warnings
from math import floor

from journal.problems import Unreadable
from journal.reckoning.fix import Fix, square_uncertainty_m
from journal.reckoning.utm import NORTHMOST_DEG, SOUTHMOST_DEG, Utm, band_limits_deg, from_utm

_MEND_UTM = "write zone, band, easting and northing in metres, like 29V 505761 6462180"
_MEND_MGRS = "write as many digits east as north, like 29V NE 0576 6218"

_UTM = re.compile(
    r"(?:UTM:? ?)?(?P<zone>[0-9]{1,2})(?: ?(?P<letter>NORTH|SOUTH|[A-Z])(?: ?[,;] ?| )| )"
    r"E? ?(?P<easting>[0-9]{5,}(?:[.,][0-9]+)?) ?(?:M ?E|E|M)?(?: ?[,;] ?| )"
    r"N? ?(?P<northing>[0-9]+(?:[.,][0-9]+)?) ?(?:M ?N|N|M)?"
)
_MGRS = re.compile(
    r"(?:MGRS:? ?)?(?P<cell>(?:(?P<zone>[0-9]{1,2}) ?[C-HJ-NP-X])|[ABYZ]) ?(?P<square>[A-HJ-NP-Z]{2})"
    r"(?: ?(?P<digits>[0-9]+(?: [0-9]+)?))?"
)
_HUNDRED_KM_M = 100_000

# A square may straddle its band's edge, and a receiver may keep the last band's letter a little way on.
_BAND_SLACK_DEG = 0.01


def read_utm(text: str) -> Fix | None:
    """The place that a UTM coordinate names, or None where the text is not in that notation.

    text: one space at most between words. Unreadable where it is UTM but names no place.
    """
    found = _UTM.fullmatch(text.upper())
    if found is None:
        return None
    if not 1 <= int(found["zone"]) <= 60:
        raise Unreadable("a UTM zone must be from 1 to 60", _MEND_UTM)
    easting, northing = found["easting"], found["northing"]
    side_m = 10.0 ** -max(_decimals(easting), _decimals(northing))
    east_m, north_m = _metres(easting) + side_m / 2, _metres(northing) + side_m / 2
    _refuse_far(east_m, north_m)
    lat, lon = _settle_side(int(found["zone"]), found["letter"], east_m, north_m)
    return Fix(lat, lon, square_uncertainty_m(side_m))


def read_mgrs(text: str) -> Fix | None:
    """The place that an MGRS reference names, or None where the text is not in that notation.

    text: one space at most between words. Unreadable where it is MGRS but names no square.
    """
    found = _MGRS.fullmatch(text.upper())
    if found is None:
        return None
    east, north = _halves(found["digits"] or "")
    cell = found["cell"].replace(" ", "")
    side_m = _HUNDRED_KM_M // 10 ** len(east)
    lat, lon = _square_centre(cell, found["square"], east, north, side_m)
    return Fix(lat, lon, square_uncertainty_m(side_m))


def _metres(text: str) -> float:
    return float(text.replace(",", "."))


def _decimals(text: str) -> int:
    return len(text.replace(",", ".").partition(".")[2])


def _refuse_far(east_m: float, north_m: float) -> None:
    """Unreadable where a coordinate is not in any zone of UTM or its neighbours."""
    if 100_000 <= east_m < 1_000_000 and 0 <= north_m <= 10_000_000:
        return
    if 100_000 <= north_m < 1_000_000 <= east_m <= 10_000_000:
        raise Unreadable("the northing stands before the easting", _MEND_UTM)
    if not 100_000 <= east_m < 1_000_000:
        raise Unreadable("a UTM easting must lie between 100,000 and 1,000,000 m", _MEND_UTM)
    raise Unreadable("a UTM northing must lie between 0 and 10,000,000 m", _MEND_UTM)


def _settle_side(zone: int, letter: str | None, east_m: float, north_m: float) -> tuple[float, float]:
    """Latitude and longitude, with the letter read as a latitude band where it fits, else as a hemisphere.

    N and S are both: band S is 32-40° N, band N 0-8° N. A letter beside a zone number is a band first, and a
    hemisphere only where the northing does not lie in that band.
    """
    if letter is None:
        raise Unreadable("a UTM position must say its band or hemisphere", _MEND_UTM)
    if len(letter) == 1:
        north = letter >= "N"
        place = _place(zone, north, east_m, north_m)
        if letter in "CDEFGHJKLMNPQRSTUVWX" and _in_band(place[0], letter, _BAND_SLACK_DEG):
            return place
        if letter not in "NS":
            raise Unreadable("the northing does not lie in the latitude band named", _MEND_UTM)
    return _place(zone, letter[0] == "N", east_m, north_m)


def _place(zone: int, north: bool, east_m: float, north_m: float) -> tuple[float, float]:
    lat, lon = from_utm(Utm(zone, north, east_m, north_m))
    if not SOUTHMOST_DEG - _BAND_SLACK_DEG <= lat <= NORTHMOST_DEG + _BAND_SLACK_DEG:
        raise Unreadable("UTM reaches from 80° S to 84° N only", _MEND_UTM)
    return lat, lon


def _in_band(lat_deg: float, band: str, slack_deg: float) -> bool:
    south, north = band_limits_deg(band)
    return south - slack_deg <= lat_deg <= north + slack_deg


def _halves(digits: str) -> tuple[str, str]:
    """The digits east and the digits north; Unreadable where they are not as many, or more than five."""
    if " " in digits:
        east, north = digits.split(" ")
    else:
        east, north = digits[: (len(digits) + 1) // 2], digits[(len(digits) + 1) // 2 :]
    if len(east) != len(north):
        raise Unreadable("an MGRS reference must have as many digits east as north", _MEND_MGRS)
    if len(east) > 5:
        raise Unreadable("an MGRS reference has five digits east and five north at the most", _MEND_MGRS)
    return east, north


def _square_centre(cell: str, square: str, east: str, north: str, side_m: int) -> tuple[float, float]:
    """The centre of a square, by the grid's own letters; Unreadable where there is no such square."""
    from mgrs import MGRS
    from mgrs.core import MGRSError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # the band is held below
            if cell in "ABYZ":
                lat, lon = MGRS().toLatLon(cell + square + _to_metre(east) + _to_metre(north))
                return float(lat), float(lon)
            zone, hemisphere, east_m, north_m = MGRS().MGRSToUTM(cell + square + east + north)
    except MGRSError as error:
        raise Unreadable("there is no such MGRS square", _MEND_MGRS) from error
    # Some versions give the square's corner, some its centre.
    corner = Utm(zone, hemisphere == "N", *(floor(m / side_m) * side_m + side_m / 2 for m in (east_m, north_m)))
    lat, lon = from_utm(corner)
    if not _in_band(lat, cell[-1], _BAND_SLACK_DEG + side_m / 111_000):
        raise Unreadable("there is no such MGRS square in that latitude band", _MEND_MGRS)
    return lat, lon


def _to_metre(digits: str) -> str:
    """Digits of a square's side made five, pointing at its centre."""
    return digits if len(digits) == 5 else (digits + "5").ljust(5, "0")
