"""UTM and MGRS on WGS 84, and how certain a position is by the precision of what was written.

The transverse Mercator projection is Krüger's series to the sixth order of the third flattening, good to a few
nanometres within a zone and its neighbours.
*Source:* L. Krüger, Konforme Abbildung des Erdellipsoids in der Ebene (1912); C. F. F. Karney, Transverse Mercator
with an accuracy of a few nanometers, J. Geodesy 85:475-485 (2011), equations 7-9, 11, 15, 19-21, 35 and 36.
"""

from __future__ import annotations

import re
import warnings
from cmath import sin as complex_sin
from math import asinh, atan, atan2, atanh, cos, degrees, floor, hypot, radians, sin, sinh, sqrt, tan
from typing import NamedTuple

from journal.problems import Unreadable

SEMI_MAJOR_M = 6378137.0
FLATTENING = 1 / 298.257223563
ECCENTRICITY = sqrt(FLATTENING * (2 - FLATTENING))

SOUTHMOST_DEG, NORTHMOST_DEG = -80.0, 84.0
BANDS = "CDEFGHJKLMNPQRSTUVWX"

_SCALE = 0.9996
_FALSE_EASTING_M = 500_000.0
_FALSE_NORTHING_M = 10_000_000.0

_N = FLATTENING / (2 - FLATTENING)
_RECTIFYING_M = SEMI_MAJOR_M / (1 + _N) * (1 + _N**2 / 4 + _N**4 / 64 + _N**6 / 256)


def _series(*rows: tuple[float, ...]) -> tuple[float, ...]:
    """Coefficients at our flattening; row j holds the factors of n^j, n^(j+1) … n^6."""
    return tuple(sum(factor * _N**power for power, factor in enumerate(row, j)) for j, row in enumerate(rows, 1))


_ALPHA = _series(  # Karney 2011, equation 35
    (1 / 2, -2 / 3, 5 / 16, 41 / 180, -127 / 288, 7891 / 37800),
    (13 / 48, -3 / 5, 557 / 1440, 281 / 630, -1983433 / 1935360),
    (61 / 240, -103 / 140, 15061 / 26880, 167603 / 181440),
    (49561 / 161280, -179 / 168, 6601661 / 7257600),
    (34729 / 80640, -3418889 / 1995840),
    (212378941 / 319334400,),
)
_BETA = _series(  # Karney 2011, equation 36
    (1 / 2, -2 / 3, 37 / 96, -1 / 360, -81 / 512, 96199 / 604800),
    (1 / 48, 1 / 15, -437 / 1440, 46 / 105, -1118711 / 3870720),
    (17 / 480, -37 / 840, -209 / 4480, 5569 / 90720),
    (4397 / 161280, -11 / 504, -830251 / 7257600),
    (4583 / 161280, -108847 / 3991680),
    (20648693 / 638668800,),
)


class Utm(NamedTuple):
    """A UTM coordinate; northing_m has 10,000,000 added south of the equator."""

    zone: int
    north: bool
    easting_m: float
    northing_m: float


def zone_of(lat_deg: float, lon_deg: float) -> int:
    """The UTM zone (1-60) of a place, with the exceptions of Norway and Svalbard: 32V, 31X, 33X, 35X and 37X."""
    lon = (lon_deg + 180) % 360 - 180
    if 56 <= lat_deg < 64 and 3 <= lon < 12:
        return 32
    if 72 <= lat_deg <= NORTHMOST_DEG and 0 <= lon < 42:
        return 31 if lon < 9 else 33 if lon < 21 else 35 if lon < 33 else 37
    return floor((lon + 180) / 6) + 1


def band_of(lat_deg: float) -> str:
    """The latitude band letter, C (80° S) to X (to 84° N); lat_deg within those."""
    index = floor(lat_deg / 8) + 10
    return BANDS[min(index, 19) if lat_deg >= 0 else max(0, min(index, 9))]


def band_limits_deg(band: str) -> tuple[float, float]:
    """The southern and northern edge of a latitude band in degrees; X is 12° high."""
    south = SOUTHMOST_DEG + 8 * BANDS.index(band)
    return south, NORTHMOST_DEG if band == "X" else south + 8


def to_utm(lat_deg: float, lon_deg: float, zone: int | None = None) -> Utm:
    """UTM of a place, in its own zone unless another is asked for; ValueError beyond 80° S and 84° N."""
    if not SOUTHMOST_DEG <= lat_deg <= NORTHMOST_DEG:
        raise ValueError(f"UTM reaches from 80° S to 84° N, not to {lat_deg}")
    zone = zone_of(lat_deg, lon_deg) if zone is None else zone
    tau, lon = _conformal(tan(radians(lat_deg))), radians((lon_deg - (6.0 * zone - 183) + 180) % 360 - 180)
    zeta = complex(atan2(tau, cos(lon)), asinh(sin(lon) / hypot(tau, cos(lon))))
    zeta = sum((alpha * complex_sin(2 * j * zeta) for j, alpha in enumerate(_ALPHA, 1)), zeta)
    x_m, y_m = _SCALE * _RECTIFYING_M * zeta.imag, _SCALE * _RECTIFYING_M * zeta.real
    north = lat_deg >= 0
    return Utm(zone, north, _FALSE_EASTING_M + x_m, y_m + (0 if north else _FALSE_NORTHING_M))


def from_utm(place: Utm) -> tuple[float, float]:
    """Latitude and longitude in degrees of a UTM coordinate."""
    y_m = place.northing_m - (0 if place.north else _FALSE_NORTHING_M)
    zeta = complex(y_m, place.easting_m - _FALSE_EASTING_M) / (_SCALE * _RECTIFYING_M)
    zeta = sum((-beta * complex_sin(2 * j * zeta) for j, beta in enumerate(_BETA, 1)), zeta)
    xi0, eta0 = zeta.real, zeta.imag
    tau = sin(xi0) / hypot(sinh(eta0), cos(xi0))
    lat, lon = atan(_geodetic(tau)), atan2(sinh(eta0), cos(xi0))
    return degrees(lat), (degrees(lon) + (6.0 * place.zone - 183) + 180) % 360 - 180


def _conformal(tau: float) -> float:
    """Tangent of the conformal latitude for the tangent of a geodetic one (Karney 2011, equations 7-9)."""
    sigma = sinh(ECCENTRICITY * atanh(ECCENTRICITY * tau / hypot(1, tau)))
    return tau * hypot(1, sigma) - sigma * hypot(1, tau)


def _geodetic(conformal: float) -> float:
    """The inverse of `_conformal` by Newton's method (Karney 2011, equations 19-21)."""
    squeeze = 1 - ECCENTRICITY**2
    tau = conformal / squeeze
    for _ in range(5):  # converges to the last bit in three
        guess = _conformal(tau)
        step = (conformal - guess) / hypot(1, guess) * (1 + squeeze * tau * tau) / (squeeze * hypot(1, tau))
        tau += step
        if abs(step) < 1e-15 * max(1.0, abs(tau)):
            break
    return tau


EXAMPLE = "58.30412, -8.90177 ±8 m"
WRITE_POSITION = f"write latitude, then longitude, like {EXAMPLE}"


class ReadPosition(NamedTuple):
    """Degrees on WGS 84. uncertainty_m: radius; stated: whether the text itself gave it."""

    lat_deg: float
    lon_deg: float
    uncertainty_m: float
    stated: bool = False


def degrees_uncertainty_m(step_deg: float, lat_deg: float) -> float:
    """The uncertainty radius in metres of degrees written to steps of step_deg, at latitude lat_deg. One step north and
    one step east, combined.
    *Source:* A. D. Chapman, J. R. Wieczorek, Georeferencing Best Practices (2020), Uncertainty due to Coordinate
    Precision, after Wieczorek (2001), with the radii of curvature of WGS 84."""
    lat = radians(lat_deg)
    w = 1 - (ECCENTRICITY * sin(lat)) ** 2
    meridian_m = SEMI_MAJOR_M * (1 - ECCENTRICITY**2) / w**1.5
    parallel_m = SEMI_MAJOR_M / sqrt(w) * cos(lat)
    return radians(step_deg) * hypot(meridian_m, parallel_m)


def square_uncertainty_m(side_m: float) -> float:
    """Radius of a square given by its centre: half its diagonal. *Source:* Darwin Core: UTM to 100 m has 71 m."""
    return side_m * sqrt(2) / 2


def position_in_degrees(lat_deg: float, lon_deg: float, step_deg: float, stated_m: float | None = None) -> ReadPosition:
    """A place in degrees, as sure as stated_m says, else as its step makes it; Unreadable where out of range."""
    if abs(lat_deg) > 90 and abs(lon_deg) <= 90:
        raise Unreadable("the latitude is over 90°; it may be swapped with the longitude", WRITE_POSITION)
    if abs(lat_deg) > 90:
        raise Unreadable("the latitude is over 90°", WRITE_POSITION)
    if abs(lon_deg) > 180:
        raise Unreadable("the longitude is over 180°", "write west of Greenwich with a minus sign or W")
    if stated_m is not None:
        return ReadPosition(lat_deg, lon_deg, stated_m, stated=True)
    return ReadPosition(lat_deg, lon_deg, degrees_uncertainty_m(step_deg, lat_deg))


_FIX_UTM = "write zone, band, easting and northing in metres, like 29V 505761 6462180"
_FIX_MGRS = "write as many digits east as north, like 29V NE 0576 6218"

_UTM = re.compile(
    r"(?:UTM:? ?)?(?P<zone>[0-9]{1,2})(?: ?(?P<letter>NORTH|SOUTH|[A-Z])(?: ?[,;] ?| )| )"
    r"E? ?(?P<easting>[0-9]{5,}(?:[.,][0-9]+)?) ?(?:M ?E|E|M)?(?: ?[,;] ?| )"
    r"N? ?(?P<northing>[0-9]+(?:[.,][0-9]+)?) ?(?:M ?N|N|M)?"
)
_MGRS = re.compile(
    r"(?:MGRS:? ?)?(?P<cell>(?:(?P<zone>[0-9]{1,2}) ?[C-HJ-NP-X])|[ABYZ]) ?(?P<square>[A-HJ-NP-Z]{2})"
    r"(?: ?(?P<digits>[0-9]+(?: [0-9]+)?))?"
)
_DECIMETRE_DEG = 1e-6
_POLAR_CELLS = "ABYZ"
_POLAR_SCALE = 0.994  # of the universal polar stereographic grid

# A square may straddle its band's edge, and a receiver may keep the last band's letter a little way on.
_BAND_SLACK_DEG = 0.01


def read_utm(text: str) -> ReadPosition | None:
    """The place of a UTM coordinate, None where it is none, Unreadable where it names no place. text: single spaces."""

    found = _UTM.fullmatch(text.upper())
    if found is None:
        return None
    if not 1 <= int(found["zone"]) <= 60:
        raise Unreadable("a UTM zone must be from 1 to 60", _FIX_UTM)
    easting, northing = (found[name].replace(",", ".") for name in ("easting", "northing"))
    side_m = 10.0 ** -max(len(metres.partition(".")[2]) for metres in (easting, northing))
    east_m, north_m = float(easting) + side_m / 2, float(northing) + side_m / 2
    if 100_000 <= north_m < 1_000_000 <= east_m <= 10_000_000:
        raise Unreadable("the northing is written before the easting", _FIX_UTM)
    if not 100_000 <= east_m < 1_000_000:
        raise Unreadable("a UTM easting must be between 100,000 and 1,000,000 m", _FIX_UTM)
    if not 0 <= north_m <= 10_000_000:
        raise Unreadable("a UTM northing must be between 0 and 10,000,000 m", _FIX_UTM)
    lat, lon = _settle_side(int(found["zone"]), found["letter"], east_m, north_m)
    return ReadPosition(lat, lon, square_uncertainty_m(side_m))


def read_mgrs(text: str) -> ReadPosition | None:
    """The place of an MGRS reference, None where it is none, Unreadable where there is no such square."""
    found = _MGRS.fullmatch(text.upper())
    if found is None:
        return None
    digits = found["digits"] or ""
    middle = (len(digits) + 1) // 2
    east, north = digits.split(" ") if " " in digits else (digits[:middle], digits[middle:])
    if len(east) != len(north):
        raise Unreadable("an MGRS reference must have as many digits east as north", _FIX_MGRS)
    if len(east) > 5:
        raise Unreadable("an MGRS reference has at most five digits east and five north", _FIX_MGRS)
    cell = found["cell"].replace(" ", "")
    side_m = 100_000 // 10 ** len(east)
    lat, lon = _square_centre(cell, found["square"], east, north, side_m)
    return ReadPosition(lat, lon, mgrs_uncertainty_m(side_m, is_polar=cell in _POLAR_CELLS))


def to_mgrs(lat_deg: float, lon_deg: float, digits: int) -> str:
    """The MGRS reference, without spaces, of the square that a place is in; digits: 0 (100 km) to 5 (1 m) each way.
    The library rounds metres, and so names a square that is not there for what lies less than a centimetre south of the
    equator, or west of zone 32V at 3° E. A decimetre further that way the square is the same and is named right."""
    from mgrs import MGRS

    if -_DECIMETRE_DEG < lat_deg < 0:
        lat_deg = -_DECIMETRE_DEG
    if 3 - _DECIMETRE_DEG < lon_deg < 3:
        lon_deg = 3 - _DECIMETRE_DEG
    return str(MGRS().toMGRS(lat_deg, lon_deg, MGRSPrecision=digits))


def mgrs_uncertainty_m(side_m: float, *, is_polar: bool) -> float:
    """Radius of an MGRS square. At the poles the grid is 0.6 % out of scale, and a metre beside the centre is read."""
    radius_m = square_uncertainty_m(side_m)
    return (radius_m + square_uncertainty_m(1)) / _POLAR_SCALE if is_polar else radius_m


def _settle_side(zone: int, letter: str | None, east_m: float, north_m: float) -> tuple[float, float]:
    """Latitude, longitude. N and S are a band (0-8° N, 32-40° N) where the northing is in it, else a hemisphere."""
    if letter is None:
        raise Unreadable("a UTM position needs its latitude band or hemisphere", _FIX_UTM)
    if len(letter) == 1:
        north = letter >= "N"
        place = _place(zone, north, east_m, north_m)
        if letter in BANDS and _in_band(place[0], letter, _BAND_SLACK_DEG):
            return place
        if letter not in "NS":
            raise Unreadable("the northing is not in that latitude band", _FIX_UTM)
    return _place(zone, letter[0] == "N", east_m, north_m)


def _place(zone: int, north: bool, east_m: float, north_m: float) -> tuple[float, float]:
    lat, lon = from_utm(Utm(zone, north, east_m, north_m))
    if not SOUTHMOST_DEG - _BAND_SLACK_DEG <= lat <= NORTHMOST_DEG + _BAND_SLACK_DEG:
        raise Unreadable("UTM covers only 80° S to 84° N", _FIX_UTM)
    return lat, lon


def _in_band(lat_deg: float, band: str, slack_deg: float) -> bool:
    south, north = band_limits_deg(band)
    return south - slack_deg <= lat_deg <= north + slack_deg


def _square_centre(cell: str, square: str, east: str, north: str, side_m: int) -> tuple[float, float]:
    from mgrs import MGRS
    from mgrs.core import MGRSError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # the band is held below
            if cell in _POLAR_CELLS:
                # digits made five, pointing at the square's centre
                east, north = (half if len(half) == 5 else f"{half}5".ljust(5, "0") for half in (east, north))
                lat, lon = MGRS().toLatLon(cell + square + east + north)
                return float(lat), float(lon)
            zone, hemisphere, east_m, north_m = MGRS().MGRSToUTM(cell + square + east + north)
    except MGRSError as error:
        raise Unreadable("there is no such MGRS square", _FIX_MGRS) from error
    # Some versions give the square's corner, some its centre.
    corner = Utm(zone, hemisphere == "N", *(floor(m / side_m) * side_m + side_m / 2 for m in (east_m, north_m)))
    lat, lon = from_utm(corner)
    if not _in_band(lat, cell[-1], _BAND_SLACK_DEG + side_m / 111_000):
        raise Unreadable("there is no such MGRS square in that latitude band", _FIX_MGRS)
    return lat, lon
