"""The sun at a place: when it rises and sets on a day, and the twilight on either side of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from math import acos, asin, cos, degrees, radians, sin, tan
from typing import Literal

SOURCE = (
    "J. Meeus, Astronomical Algorithms, in the form of the NOAA solar calculator; upper edge of the sun on a level "
    "horizon with usual refraction (50 arc minutes), civil twilight to 6° below it: U.S. Naval Observatory, Rise, Set, "
    "and Twilight Definitions. Hills and trees make it darker sooner"
)

RISEN_DEG = -50 / 60
"""Height of the sun's centre at sunrise and sunset: 34 minutes of refraction, 16 of the disk (from memory). *Source:*
U.S. Naval Observatory, Rise, Set, and Twilight Definitions."""
CIVIL_DEG = -6.0
"""At the end of civil twilight. *Source:* the same."""

Always = Literal["up", "down"]
"""A sun that neither rises nor sets on a day: above the horizon all the time, or below it."""


@dataclass(frozen=True, slots=True)
class SunTimes:
    """Moments in UTC, None where the sun does not cross that height on that day. always: what it does where it neither
    rises nor sets. dawn, dusk: where civil twilight begins and ends."""

    rise: datetime | None
    set: datetime | None
    dawn: datetime | None
    dusk: datetime | None
    always: Always | None = None


def sun_times(lat_deg: float, lon_deg: float, day: date) -> SunTimes:
    """For the calendar day around local noon at that longitude; from 1901 to 2099, within a minute between the polar
    circles. *Source:* as `SOURCE`."""
    rise, set_ = (_crossing(lat_deg, lon_deg, day, RISEN_DEG, side) for side in (-1, 1))
    dawn, dusk = (_crossing(lat_deg, lon_deg, day, CIVIL_DEG, side) for side in (-1, 1))
    always: Always | None = None
    if rise is None or set_ is None:
        declination, _ = _sun_at(_noon(lon_deg, day))
        always = "up" if abs(lat_deg + declination) - 90 > RISEN_DEG else "down"  # by its height at midnight
    return SunTimes(rise, set_, dawn, dusk, always)


def _noon(lon_deg: float, day: date) -> datetime:
    """Mean noon at that longitude."""
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC) - timedelta(hours=lon_deg / 15)


def _crossing(lat_deg: float, lon_deg: float, day: date, height_deg: float, side: int) -> datetime | None:
    """When the sun's centre crosses a height: before noon (side −1), or after it (1)."""
    noon = moment = _noon(lon_deg, day)
    for _ in range(3):
        declination, equation_min = _sun_at(moment)
        lat, dec = radians(lat_deg), radians(declination)
        ratio = (sin(radians(height_deg)) - sin(lat) * sin(dec)) / (cos(lat) * cos(dec))
        if not -1 <= ratio <= 1:
            return None
        moment = noon + timedelta(minutes=side * degrees(acos(ratio)) * 4 - equation_min)
    return moment


def to_the_minute(moment: datetime) -> datetime:
    """The nearest whole minute."""
    return (moment + timedelta(seconds=30)).replace(second=0, microsecond=0)


_J2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)


def _sun_at(moment: datetime) -> tuple[float, float]:
    """Declination in degrees, and the equation of time in minutes. *Source:* Meeus, chapters 25, 28 (from memory)."""
    t = (moment - _J2000).total_seconds() / 86400 / 36525
    mean_longitude = radians((280.46646 + t * (36000.76983 + t * 0.0003032)) % 360)
    anomaly = radians(357.52911 + t * (35999.05029 - 0.0001537 * t))
    eccentricity = 0.016708634 - t * (0.000042037 + 0.0000001267 * t)
    centre = (
        sin(anomaly) * (1.914602 - t * (0.004817 + 0.000014 * t))
        + sin(2 * anomaly) * (0.019993 - 0.000101 * t)
        + sin(3 * anomaly) * 0.000289
    )
    node = radians(125.04 - 1934.136 * t)
    longitude = mean_longitude + radians(centre - 0.00569 - 0.00478 * sin(node))
    tilt = 23 + (26 + (21.448 - t * (46.815 + t * (0.00059 - t * 0.001813))) / 60) / 60
    obliquity = radians(tilt + 0.00256 * cos(node))
    declination = asin(sin(obliquity) * sin(longitude))
    y = tan(obliquity / 2) ** 2
    equation = (
        y * sin(2 * mean_longitude)
        - 2 * eccentricity * sin(anomaly)
        + 4 * eccentricity * y * sin(anomaly) * cos(2 * mean_longitude)
        - 0.5 * y * y * sin(4 * mean_longitude)
        - 1.25 * eccentricity**2 * sin(2 * anomaly)
    )
    return degrees(declination), 4 * degrees(equation)
