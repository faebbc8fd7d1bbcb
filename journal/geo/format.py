"""A position in several notations, with as many digits as its uncertainty justifies.

Each text reads back (see `parse.parse_position`) to a place within the uncertainty it was written for, or within
the square metre that is the finest UTM and MGRS can name.
"""

from __future__ import annotations

from math import ceil, floor
from typing import Literal

from journal.geo.grids import (
    NORTHMOST_DEG,
    SOUTHMOST_DEG,
    band_of,
    degrees_uncertainty_m,
    mgrs_uncertainty_m,
    to_mgrs,
    to_utm,
)
from journal.model import Position

# Where no uncertainty is stated: what a receiver's five decimals are worth (Darwin Core, coordinatePrecision 0.00001).
_UNSTATED_M = 2.0
_MOST_DECIMALS = 7

Axis = Literal["lat", "lon"]


def degrees_of(position: Position) -> str:
    """Decimal degrees, latitude first: `58.30412, -8.90177`."""
    decimals = _decimals(position)
    return f"{position.lat_deg:z.{decimals}f}, {position.lon_deg:z.{decimals}f}"


def dms_of(position: Position) -> str:
    """Degrees, minutes and seconds, or only degrees and minutes: `58°18′14.8″N 8°54′6.4″W`."""
    if degrees_uncertainty_m(1 / 60, position.lat_deg) <= _uncertainty_m(position):
        return f"{minutes_text(position.lat_deg, 'lat')} {minutes_text(position.lon_deg, 'lon')}"
    decimals = _decimals(position, 1 / 3600)
    return f"{seconds_text(position.lat_deg, 'lat', decimals)} {seconds_text(position.lon_deg, 'lon', decimals)}"


def iso6709_of(position: Position) -> str:
    """An ISO 6709 string in decimal degrees: `+58.30412-008.90177/`; 180° east is written as west (clause 2.1)."""
    decimals = _decimals(position)
    lon_deg = -180.0 if round(position.lon_deg, decimals) == 180 else position.lon_deg
    fraction = 1 + decimals if decimals else 0
    return f"{position.lat_deg:+z0{3 + fraction}.{decimals}f}{lon_deg:+z0{4 + fraction}.{decimals}f}/"


def geo_uri_of(position: Position) -> str:
    """A geo: URI (RFC 5870), with `u` where the uncertainty is known: `geo:58.30412,-8.90177;u=8`."""
    decimals = _decimals(position)
    place = f"geo:{position.lat_deg:z.{decimals}f},{position.lon_deg:z.{decimals}f}"
    if position.uncertainty_m is None:
        return place
    tenths = ceil(round(position.uncertainty_m * 10, 6))  # rounded up, never to "exactly there"
    return f"{place};u={tenths // 10}" + (f".{tenths % 10}" if tenths % 10 else "")


def utm_of(position: Position) -> str | None:
    """Zone, band, easting and northing in whole metres: `29V 505761 6462180`; None beyond 80° S and 84° N."""
    if not SOUTHMOST_DEG <= position.lat_deg <= NORTHMOST_DEG:
        return None
    place = to_utm(position.lat_deg, position.lon_deg)
    northing_m = min(floor(place.northing_m), 9_999_999)  # a hair south of the equator the false northing swallows it
    return f"{place.zone:02d}{band_of(position.lat_deg)} {floor(place.easting_m):06d} {northing_m:07d}"


def mgrs_of(position: Position) -> str:
    """The MGRS square that the position is in, no smaller than its uncertainty: `29V NE 0576 6218`."""
    finest = _uncertainty_m(position)
    is_polar = not SOUTHMOST_DEG <= position.lat_deg <= NORTHMOST_DEG
    fits = (n for n in range(5) if mgrs_uncertainty_m(10 ** (5 - n), is_polar=is_polar) <= finest)
    digits = next(fits, 5)
    text = to_mgrs(position.lat_deg, position.lon_deg, digits)
    head, tail = text[: len(text) - 2 * digits], text[len(text) - 2 * digits :]
    return " ".join(part for part in (head[:-2], head[-2:], tail[:digits], tail[digits:]) if part)


def seconds_text(angle_deg: float, axis: Axis, decimals: int) -> str:
    """One angle in degrees, minutes and seconds, rounded with its carries: `58°18′14.8″N`; axis "lat" or "lon"."""
    units = round(abs(angle_deg) * 3600 * 10**decimals)
    whole, fraction = divmod(units, 10**decimals)
    degrees, rest = divmod(whole, 3600)
    tail = f".{fraction:0{decimals}d}" if decimals else ""
    return f"{degrees}°{rest // 60:02d}′{rest % 60:02d}{tail}″{_side(angle_deg if units else 0, axis)}"


def minutes_text(angle_deg: float, axis: Axis) -> str:
    """One angle in degrees and whole minutes: `58°18′N`."""
    degrees, minutes = divmod(round(abs(angle_deg) * 60), 60)
    return f"{degrees}°{minutes:02d}′{_side(angle_deg, axis)}"


def _side(angle_deg: float, axis: Axis) -> str:
    positive, negative = ("N", "S") if axis == "lat" else ("E", "W")
    return negative if angle_deg < 0 else positive


def _uncertainty_m(position: Position) -> float:
    return position.uncertainty_m or _UNSTATED_M


def _decimals(position: Position, unit_deg: float = 1.0) -> int:
    """The fewest decimals of a unit whose step adds no more than the uncertainty that is there already."""
    finest = _uncertainty_m(position)
    fits = (n for n in range(_MOST_DECIMALS) if degrees_uncertainty_m(unit_deg * 10.0**-n, position.lat_deg) <= finest)
    return next(fits, _MOST_DECIMALS)
