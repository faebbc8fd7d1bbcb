"""Finds known places that must not be shown in a text, by their numbers, however they are rounded."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate
from math import floor

from journal.geo.coarsen import geohash_of, location_code_of
from journal.geo.grids import NORTHMOST_DEG, SOUTHMOST_DEG, to_mgrs, to_utm

Place = tuple[float, float]
"""Latitude and longitude in degrees."""

_Key = tuple[str | int, ...]
_AXES = ("lat", "lon")
_DECIMALS = range(1, 8)
_ALONE_FROM = 5
"""A number with so many decimals is half a position by itself; with fewer, the other half must be near it."""
_ALONE_FROM_WHERE_KEEN = 3
_NEAR = 40
_COARSE = 2
_BETWEEN = re.compile(
    r"[\s,;/|°NSEW+\"':=&{}()\[\]-]*(?:(?:lat|lon|long|lng|latitude|longitude)[\s\"':=+-]*)?", re.IGNORECASE
)

_NUMBER = re.compile(r"(?=[0-9])(?<![0-9.,])[0-9]{1,3}[.,][0-9]+")
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
    """A number in a text that is one half of a known position. axis: "lat", "lon", or of UTM "east", "north". alone:
    whether it is too fine to be a chance. decimals: of degrees."""

    start: int
    end: int
    axis: str
    places: frozenset[int]
    alone: bool = False
    decimals: int = 9


@dataclass(frozen=True)
class KnownPlaces:
    """places: to be found. allowed: what may be told; a number that one of them rounds to as well is none of those.
    keen: whether two numbers of one or two decimals are taken for a position with whatever is between them, and one
    of three for half of one; else only with what is between the halves of one, and one of five."""

    places: tuple[Place, ...]
    allowed: tuple[Place, ...] = ()
    keen: bool = False

    def mentions_in(self, plain: str) -> Iterator[tuple[int, int]]:
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
        alone_from = _ALONE_FROM_WHERE_KEEN if self.keen else _ALONE_FROM
        for found in _NUMBER.finditer(plain):
            whole, _, fraction = found[0].replace(",", ".").partition(".")
            for shorter in dict.fromkeys(min(len(fraction), most) for most in (_DECIMALS[-1], _ALONE_FROM)):
                for axis in _AXES:
                    if places := self._by_key.get((axis, f"{int(whole)}.{fraction[:shorter]}")):
                        yield Half(*found.span(), axis, places, len(fraction) >= alone_from, len(fraction))
        for pattern in (_ANGLE, _TOGETHER):
            for found in pattern.finditer(plain):
                yield from self._angle(found)
        for found in _WHOLE.finditer(plain):
            yield from self._whole(*found.span(), found.group())

    def _angle(self, found: re.Match[str]) -> Iterator[Half]:
        """Degrees with minutes, or minutes and seconds: within one step of the last digit of a known angle."""
        degrees, minutes, seconds = (part.replace(",", ".") if part else "" for part in found.groups())
        if seconds.startswith("."):
            minutes, seconds = minutes + seconds, ""
        last = seconds or minutes
        step_deg = 10.0 ** -len(last.partition(".")[2]) / (3600 if seconds else 60)
        value_deg = int(degrees) + float(minutes) / 60 + (float(seconds) / 3600 if seconds else 0.0)
        for at, (axis, angles) in enumerate(self._angles.items()):
            first = bisect_left(angles, (value_deg - step_deg, -1))
            near = angles[first : bisect_left(angles, (value_deg + step_deg, len(self.places)))]
            if near and not any(abs(abs(place[at]) - value_deg) <= step_deg / 2 for place in self.allowed):
                yield Half(*found.span(), axis, frozenset(number for _, number in near))

    def _whole(self, start: int, end: int, digits: str) -> Iterator[Half]:
        """Metres on the UTM grid, and degrees whose decimal point was left out."""
        for axis in ("east", "north"):
            for tenths in (1, 10, 100):
                if places := self._by_key.get((axis, tenths, int(digits) // tenths)):
                    yield Half(start, end, axis, places)
                    break
        for axis in _AXES:
            if places := self._pointless.get((axis, digits[:7])) or self._pointless.get((axis, digits[:6])):
                yield Half(start, end, axis, places)

    def _codes(self, plain: str) -> Iterator[tuple[int, int]]:
        for found in _CODE.finditer(plain):
            if ("geohash", found[0].lower()) in self._by_key and not found[0].isalpha():  # letters alone may be a word
                yield found.span()
        yield from (found.span() for found in _OLC.finditer(plain) if ("location code", found[0]) in self._by_key)
        for found in _MGRS.finditer(plain):
            east, _, north = found[4].partition(" ")
            if not north:
                east, north = east[: len(east) // 2], east[len(east) // 2 :]
            if ("square", f"{int(found[1])}{found[2]}{found[3]}".upper(), east, north) in self._by_key:
                yield found.span()

    @cached_property
    def _angles(self) -> dict[str, list[tuple[float, int]]]:
        """axis -> (angle in degrees without its sign, place), in order."""
        numbered = list(enumerate(self.places))
        return {axis: sorted((abs(place[at]), number) for number, place in numbered) for at, axis in enumerate(_AXES)}

    @cached_property
    def _by_key(self) -> Mapping[_Key, frozenset[int]]:
        """The places by each of their keys (see `_keys_of`), without the keys of what may be told."""
        found: dict[_Key, set[int]] = defaultdict(set)
        for number, place in enumerate(self.places):
            for key in _keys_of(place):
                found[key].add(number)
        for key in (key for place in self.allowed for key in _keys_of(place)):
            found.pop(key, None)
        return {key: frozenset(rows) for key, rows in found.items()}

    @cached_property
    def _pointless(self) -> dict[tuple[str, str], frozenset[int]]:
        """(axis, the first digits of an angle, its decimal point left out) -> places."""
        written = ((str(key[0]), str(key[1]), rows) for key, rows in self._by_key.items() if key[0] in _AXES)
        return {
            (axis, text.replace(".", "")): rows
            for axis, text, rows in written
            if 6 <= len(text.replace(".", "")) <= 7 and len(text.partition(".")[2]) >= 4
        }


_PAIRS = {"lat": "lon", "lon": "lat", "east": "north", "north": "east"}


def _written(angle_deg: float) -> Iterator[str]:
    for decimals in _DECIMALS:
        yield f"{angle_deg:.{decimals}f}"
        yield f"{floor(angle_deg * 10**decimals + 1e-9) / 10**decimals:.{decimals}f}"


def _keys_of(place: Place) -> Iterator[_Key]:
    """What tells a place: (axis, an angle as it is written); (axis, size of a step in metres, steps) on the UTM grid of
    its own zone, with the neighbours; its geohash, by any of its beginnings; its location code; and the MGRS squares
    from 10 km to 1 m: zone, band and square, digits east, digits north."""
    yield from ((axis, text) for axis, deg in zip(_AXES, place, strict=True) for text in _written(abs(deg)))
    yield from (("geohash", code) for code in accumulate(geohash_of(*place)))
    yield "location code", location_code_of(*place)[:8]
    if not SOUTHMOST_DEG <= place[0] <= NORTHMOST_DEG:
        return
    utm = to_utm(*place)
    for axis, metres in (("east", utm.easting_m), ("north", utm.northing_m)):
        for step_m in (1, 10, 100):
            yield from ((axis, step_m, floor(metres) // step_m + near) for near in (-1, 0, 1))
    whole = to_mgrs(*place, 5).lstrip("0")
    head, east, north = whole[:-10], whole[-10:-5], whole[-5:]
    yield from (("square", head, east[:digits], north[:digits]) for digits in range(1, 6))


def places_of(rows: Iterable[tuple[float | None, float | None]]) -> tuple[Place, ...]:
    """Those that are known, each once."""
    return tuple(dict.fromkeys((lat, lon) for lat, lon in rows if lat is not None and lon is not None))
