"""Places that are known and must not be told, found in a text by their own numbers, however they are rounded."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from math import floor

from journal.geo.coarsen import geohash_of, location_code_of
from journal.geo.grids import NORTHMOST_DEG, SOUTHMOST_DEG, to_mgrs, to_utm, zone_of

Place = tuple[float, float]
"""Latitude and longitude in degrees."""

_AXES = ("lat", "lon")
_DECIMALS = range(1, 8)
_ALONE_FROM = 5
"""A number with so many decimals is half a position by itself; with fewer, the other half must stand near it."""
_ALONE_FROM_WHERE_KEEN = 3
_NEAR = 40
_COARSE = 2
_BETWEEN = re.compile(
    r"[\s,;/|°NSEW+\"':=&{}()\[\]-]*(?:(?:lat|lon|long|lng|latitude|longitude)[\s\"':=+-]*)?", re.IGNORECASE
)
_SHORTEST_HASH = 5
_LONGEST_CODE = 8

_NUMBER = re.compile(r"(?<![0-9.,])[0-9]{1,3}[.,][0-9]+")
_ANGLE = re.compile(
    r"(?<![0-9.,])([0-9]{1,3})(?: ?(?:°|deg(?:rees?)?\b|d\b)|[ :]) ?((?:60|[0-5]?[0-9])(?:[.,][0-9]+)?)"
    r"(?:(?: ?(?:'|min(?:utes?)?\b|m\b)|[ :]) ?((?:60|[0-5]?[0-9])(?:[.,][0-9]+)?)(?! ?[°0-9.,]))?"
)
_TOGETHER = re.compile(r"(?<![0-9.,])([0-9]{2,3})([0-5][0-9]|60)((?:[0-5][0-9]|60)(?:[.,][0-9]+)?|[.,][0-9]+)(?![0-9])")
_WHOLE = re.compile(r"(?<![0-9.,])[0-9]{6,10}(?![0-9])")
_CODE = re.compile(r"(?<![A-Za-z0-9])[0-9A-Za-z]{5,12}(?![A-Za-z0-9])")
_MGRS = re.compile(
    r"(?<![0-9A-Za-z])([0-9]{1,2}) ?([C-HJ-NP-X]) ?([A-HJ-NP-Z]{2}) ?([0-9]{1,5} [0-9]{1,5}|[0-9]{2,10})(?![0-9])", re.I
)
_OLC = re.compile(r"[23456789CFGHJMPQRVWX]{8}(?=\+)")


@dataclass(frozen=True, slots=True)
class Half:
    """A number in a text that is one half of a known position. axis: "lat", "lon", or of UTM "east", "north".

    alone: whether it is too fine to be a chance. decimals: of degrees.
    """

    start: int
    end: int
    axis: str
    places: frozenset[int]
    alone: bool = False
    decimals: int = 9


@dataclass(frozen=True)
class KnownPlaces:
    """places: to be found. allowed: what may be told; a number that one of them rounds to as well is none of those.

    keen: whether two numbers of one or two decimals are taken for a position with whatever stands between them, and one
    of three for half of one; else only with what stands between the halves of one, and one of five.
    """

    places: tuple[Place, ...]
    allowed: tuple[Place, ...] = ()
    keen: bool = False

    def told_in(self, plain: str) -> Iterator[tuple[int, int]]:
        """Where in a text, as it reads (see `sharing/normalise.py`), one of the places is told."""
        if not self.places:
            return
        halves = sorted(self._halves(plain), key=lambda half: (half.start, half.end))
        for at, half in enumerate(halves):
            if half.alone:
                yield half.start, half.end
            for other_at in range(at + 1, len(halves)):
                other = halves[other_at]
                if other.start - half.end > _NEAR:
                    break
                if self._are_one(half, other, plain):
                    yield half.start, other.end
        yield from self._codes(plain)

    def _are_one(self, half: Half, other: Half, plain: str) -> bool:
        if other.start < half.end or _PAIRS.get(half.axis) != other.axis or not half.places & other.places:
            return False
        decimals = min(half.decimals, other.decimals)
        if self.keen or decimals > _COARSE:
            return True
        between = plain[half.end : other.start]
        return _BETWEEN.fullmatch(between) is not None and (decimals == _COARSE or not between.isspace())

    def _halves(self, plain: str) -> Iterator[Half]:
        for found in _NUMBER.finditer(plain):
            yield from self._decimal(found.start(), found.end(), found.group().replace(",", "."))
        for found in _ANGLE.finditer(plain):
            yield from self._angle(found)
        for found in _TOGETHER.finditer(plain):
            yield from self._angle(found)
        for found in _WHOLE.finditer(plain):
            yield from self._whole(found.start(), found.end(), found.group())

    def _decimal(self, start: int, end: int, number: str) -> Iterator[Half]:
        decimals = len(number.partition(".")[2])
        alone_from = _ALONE_FROM_WHERE_KEEN if self.keen else _ALONE_FROM
        for shorter in dict.fromkeys(min(decimals, most) for most in (_DECIMALS[-1], _ALONE_FROM)):
            text = _plain_number(number[: len(number) - (decimals - shorter)])
            for axis in _AXES:
                if places := self._roundings[axis].get(text):
                    yield Half(start, end, axis, places, decimals >= alone_from, decimals)

    def _angle(self, found: re.Match[str]) -> Iterator[Half]:
        """Degrees with minutes, or minutes and seconds: within one step of the last digit of a known angle."""
        degrees, minutes, seconds = (part.replace(",", ".") if part else "" for part in found.groups())
        if seconds.startswith("."):
            minutes, seconds = minutes + seconds, ""
        last = seconds or minutes
        step_deg = 10.0 ** -len(last.partition(".")[2]) / (3600 if seconds else 60)
        value_deg = int(degrees) + float(minutes) / 60 + (float(seconds) / 3600 if seconds else 0.0)
        for axis, angles in self._angles.items():
            first = bisect_left(angles, (value_deg - step_deg, -1))
            near = angles[first : bisect_left(angles, (value_deg + step_deg, len(self.places)))]
            if near and not self._is_allowed(axis, value_deg, step_deg):
                yield Half(found.start(), found.end(), axis, frozenset(number for _, number in near))

    def _is_allowed(self, axis: str, value_deg: float, step_deg: float) -> bool:
        at = 0 if axis == "lat" else 1
        return any(abs(abs(place[at]) - value_deg) <= step_deg / 2 for place in self.allowed)

    def _whole(self, start: int, end: int, digits: str) -> Iterator[Half]:
        """Metres on the UTM grid, and degrees whose decimal point was left out."""
        for axis in ("east", "north"):
            for tenths in (1, 10, 100):
                places = self._metres.get((axis, tenths, int(digits) // tenths))
                if places:
                    yield Half(start, end, axis, places)
                    break
        for axis in _AXES:
            places = self._pointless[axis].get(digits[:7]) or self._pointless[axis].get(digits[:6])
            if places and len(digits) >= 6:
                yield Half(start, end, axis, places)

    def _codes(self, plain: str) -> Iterator[tuple[int, int]]:
        for found in _CODE.finditer(plain):
            word = found.group().lower()
            if word in self._hashes:
                yield found.span()
        for found in _OLC.finditer(plain):
            if found.group() in self._location_codes:
                yield found.span()

        for found in _MGRS.finditer(plain):
            east, north = _halves_of(found[4])
            if (f"{int(found[1])}{found[2]}{found[3]}".upper(), east, north) in self._squares:
                yield found.span()

    @cached_property
    def _angles(self) -> dict[str, list[tuple[float, int]]]:
        """axis -> (angle in degrees without its sign, place), in order."""
        numbered = list(enumerate(self.places))
        return {axis: sorted((abs(place[at]), number) for number, place in numbered) for at, axis in enumerate(_AXES)}

    @cached_property
    def _roundings(self) -> dict[str, dict[str, frozenset[int]]]:
        """axis -> a number as it is written with one to seven decimals, rounded or cut off -> places."""
        found: dict[str, dict[str, set[int]]] = {"lat": defaultdict(set), "lon": defaultdict(set)}
        for number, place in enumerate(self.places):
            for axis, angle_deg in zip(_AXES, place, strict=True):
                for text in _written(abs(angle_deg)):
                    found[axis][text].add(number)
        for place in self.allowed:
            for axis, angle_deg in zip(_AXES, place, strict=True):
                for text in _written(abs(angle_deg)):
                    found[axis].pop(text, None)
        return {axis: {text: frozenset(rows) for text, rows in by.items()} for axis, by in found.items()}

    @cached_property
    def _metres(self) -> dict[tuple[str, int, int], frozenset[int]]:
        """(axis, size of a step in metres, steps) -> places."""
        found: dict[tuple[str, int, int], set[int]] = defaultdict(set)
        for number, place in enumerate(self.places):
            for key in _utm_steps(place):
                found[key].add(number)
        for place in self.allowed:
            for key in _utm_steps(place):
                found.pop(key, None)
        return {key: frozenset(rows) for key, rows in found.items()}

    @cached_property
    def _pointless(self) -> dict[str, dict[str, frozenset[int]]]:
        """axis -> the first digits of an angle, its decimal point left out -> places."""
        return {
            axis: {
                text.replace(".", ""): rows
                for text, rows in by.items()
                if 6 <= len(text.replace(".", "")) <= 7 and len(text.partition(".")[2]) >= 4
            }
            for axis, by in self._roundings.items()
        }

    @cached_property
    def _hashes(self) -> frozenset[str]:
        """Geohashes of five letters or more; of five, those that have a digit, since others may be words."""

        def all_of(place: Place) -> Iterator[str]:
            whole = geohash_of(*place)
            yield from (whole[:letters] for letters in range(_SHORTEST_HASH, len(whole) + 1))

        known = {code for place in self.places for code in all_of(place)}
        return frozenset(
            code for code in known - {code for place in self.allowed for code in all_of(place)} if not code.isalpha()
        )

    @cached_property
    def _squares(self) -> frozenset[tuple[str, str, str]]:
        """MGRS squares from 10 km to 1 m: zone, band and square, digits east, digits north."""
        known = {square for place in self.places for square in _squares_of(place)}
        return frozenset(known - {square for place in self.allowed for square in _squares_of(place)})

    @cached_property
    def _location_codes(self) -> frozenset[str]:
        known = {location_code_of(*place)[:_LONGEST_CODE] for place in self.places}
        return frozenset(known - {location_code_of(*place)[:_LONGEST_CODE] for place in self.allowed})


_PAIRS = {"lat": "lon", "lon": "lat", "east": "north", "north": "east"}


def _plain_number(text: str) -> str:
    """`58.30` of `058.30`: no zeros before it."""
    whole, _, decimals = text.partition(".")
    return f"{int(whole)}.{decimals}"


def _written(angle_deg: float) -> Iterator[str]:
    """An angle with one to seven decimals, rounded and cut off."""
    for decimals in _DECIMALS:
        yield f"{angle_deg:.{decimals}f}"
        yield f"{floor(angle_deg * 10**decimals + 1e-9) / 10**decimals:.{decimals}f}"


def _utm_steps(place: Place) -> Iterator[tuple[str, int, int]]:
    """A place's metres on the UTM grid of its own zone, by steps of 1, 10 and 100 m, each with its neighbours."""
    lat_deg, lon_deg = place
    if not SOUTHMOST_DEG <= lat_deg <= NORTHMOST_DEG:
        return
    utm = to_utm(lat_deg, lon_deg, zone_of(lat_deg, lon_deg))
    for axis, metres in (("east", utm.easting_m), ("north", utm.northing_m)):
        for step_m in (1, 10, 100):
            for near in (-1, 0, 1):
                yield axis, step_m, floor(metres) // step_m + near


def _halves_of(digits: str) -> tuple[str, str]:
    east, _, north = digits.partition(" ")
    return (east, north) if north else (east[: len(east) // 2], east[len(east) // 2 :])


def _squares_of(place: Place) -> Iterator[tuple[str, str, str]]:
    if not SOUTHMOST_DEG <= place[0] <= NORTHMOST_DEG:
        return
    whole = to_mgrs(*place, 5).lstrip("0")
    head, east, north = whole[:-10], whole[-10:-5], whole[-5:]
    for digits in range(1, 6):
        yield head, east[:digits], north[:digits]


def places_of(rows: Iterable[tuple[float | None, float | None]]) -> tuple[Place, ...]:
    """Those that are known, each once."""
    return tuple(dict.fromkeys((lat, lon) for lat, lon in rows if lat is not None and lon is not None))
