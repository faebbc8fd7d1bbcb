"""UTM on WGS 84: from degrees to zone, easting and northing, and back.

The transverse Mercator projection is Krüger's series to the sixth order of the third flattening, good to a few
nanometres within a zone and its neighbours.
*Source:* L. Krüger, Konforme Abbildung des Erdellipsoids in der Ebene (1912); C. F. F. Karney, Transverse Mercator
with an accuracy of a few nanometers, J. Geodesy 85:475-485 (2011), equations 7-9, 11, 15, 19-21, 35 and 36.
"""

from __future__ import annotations

from math import asinh, atan, atan2, atanh, cos, cosh, degrees, floor, hypot, radians, sin, sinh, sqrt, tan
from typing import NamedTuple

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
    return tuple(
        sum(factor * _N ** (first + k) for k, factor in enumerate(row)) for first, row in enumerate(rows, start=1)
    )


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
    """The UTM zone (1-60) of a place, with the wide zones of Norway and Svalbard.

    *Source:* the exceptions 32V, 31X, 33X, 35X and 37X of the UTM and MGRS grid zones.
    """
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
    """UTM of a place, in its own zone unless another is asked for.

    lat_deg within 80° S … 84° N (ValueError outside, where UTM is not defined); zone 1-60.
    """
    if not SOUTHMOST_DEG <= lat_deg <= NORTHMOST_DEG:
        raise ValueError(f"UTM reaches from 80° S to 84° N, not to {lat_deg}")
    zone = zone_of(lat_deg, lon_deg) if zone is None else zone
    x_m, y_m = _project(radians(lat_deg), radians((lon_deg - _central_deg(zone) + 180) % 360 - 180))
    north = lat_deg >= 0
    return Utm(zone, north, _FALSE_EASTING_M + x_m, y_m + (0 if north else _FALSE_NORTHING_M))


def from_utm(place: Utm) -> tuple[float, float]:
    """Latitude and longitude in degrees of a UTM coordinate."""
    y_m = place.northing_m - (0 if place.north else _FALSE_NORTHING_M)
    lat, lon = _unproject(place.easting_m - _FALSE_EASTING_M, y_m)
    return degrees(lat), (degrees(lon) + _central_deg(place.zone) + 180) % 360 - 180


def _central_deg(zone: int) -> float:
    return 6.0 * zone - 183


def _project(lat: float, lon: float) -> tuple[float, float]:
    """Metres east of the central meridian and north of the equator, scaled; angles in radians."""
    tau = _conformal(tan(lat))
    xi0, eta0 = atan2(tau, cos(lon)), asinh(sin(lon) / hypot(tau, cos(lon)))
    xi, eta = xi0, eta0
    for j, alpha in enumerate(_ALPHA, start=1):
        xi += alpha * sin(2 * j * xi0) * cosh(2 * j * eta0)
        eta += alpha * cos(2 * j * xi0) * sinh(2 * j * eta0)
    return _SCALE * _RECTIFYING_M * eta, _SCALE * _RECTIFYING_M * xi


def _unproject(x_m: float, y_m: float) -> tuple[float, float]:
    """Latitude and longitude from the central meridian, in radians."""
    xi, eta = y_m / (_SCALE * _RECTIFYING_M), x_m / (_SCALE * _RECTIFYING_M)
    xi0, eta0 = xi, eta
    for j, beta in enumerate(_BETA, start=1):
        xi0 -= beta * sin(2 * j * xi) * cosh(2 * j * eta)
        eta0 -= beta * cos(2 * j * xi) * sinh(2 * j * eta)
    tau = sin(xi0) / hypot(sinh(eta0), cos(xi0))
    return atan(_geodetic(tau)), atan2(sinh(eta0), cos(xi0))


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
