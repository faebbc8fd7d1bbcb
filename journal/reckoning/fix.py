"""A place as one notation gave it, and how sure its digits make it."""

from __future__ import annotations

from math import cos, hypot, radians, sin, sqrt
from typing import NamedTuple

from journal.problems import Unreadable
from journal.reckoning.utm import ECCENTRICITY, SEMI_MAJOR_M

EXAMPLE = "58.30412, -8.90177 ±8 m"
MEND = f"write latitude, then longitude, like {EXAMPLE}"


class Fix(NamedTuple):
    """Degrees on WGS 84. uncertainty_m: radius; stated: whether the text itself gave it."""

    lat_deg: float
    lon_deg: float
    uncertainty_m: float
    stated: bool = False


def degrees_uncertainty_m(step_deg: float, lat_deg: float) -> float:
    """The uncertainty radius in metres of degrees written to steps of step_deg, at latitude lat_deg.

    One step north and one step east, combined.
    *Source:* A. D. Chapman, J. R. Wieczorek, Georeferencing Best Practices (2020), Uncertainty due to Coordinate
    Precision, after Wieczorek (2001), with the radii of curvature of WGS 84.
    """
    lat = radians(lat_deg)
    w = 1 - (ECCENTRICITY * sin(lat)) ** 2
    meridian_m = SEMI_MAJOR_M * (1 - ECCENTRICITY**2) / w**1.5
    parallel_m = SEMI_MAJOR_M / sqrt(w) * cos(lat)
    return radians(step_deg) * hypot(meridian_m, parallel_m)


def square_uncertainty_m(side_m: float) -> float:
    """The uncertainty radius in metres of a grid square given by its centre: half its diagonal.

    *Source:* Darwin Core, coordinateUncertaintyInMeters: UTM to 100 m has 71 m.
    """
    return side_m * sqrt(2) / 2


def degrees_fix(lat_deg: float, lon_deg: float, step_deg: float, stated_m: float | None = None) -> Fix:
    """A place in degrees, as sure as stated_m says, else as its step makes it; Unreadable where out of range."""
    if abs(lat_deg) > 90 and abs(lon_deg) <= 90:
        raise Unreadable("the latitude is beyond 90°, as if the two were swapped", MEND)
    if abs(lat_deg) > 90:
        raise Unreadable("the latitude is beyond 90°", MEND)
    if abs(lon_deg) > 180:
        raise Unreadable("the longitude is beyond 180°", "write west of Greenwich as minus, or with W")
    if stated_m is not None:
        return Fix(lat_deg, lon_deg, stated_m, stated=True)
    return Fix(lat_deg, lon_deg, degrees_uncertainty_m(step_deg, lat_deg))
