"""Positions read in every notation in use, and the distance between two. All on WGS 84.

Messages never repeat what was written, since they reach pages that must not tell a place.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from journal.geo.grids import EXAMPLE, WRITE_POSITION, ReadPosition, position_in_degrees, read_mgrs, read_utm
from journal.model import Position
from journal.problems import Unreadable
from journal.quantities import LENGTH_M

_LOOKALIKES = str.maketrans(
    {
        **dict.fromkeys("\u2212\u2013\u2012\u2010\u2011", "-"),  # minus, en dash, figure dash, hyphens
        **dict.fromkeys("º˚ᵒ", "°"),  # masculine ordinal, ring above, modifier o: what phones offer for a degree
        **dict.fromkeys("′’‘ʹʼ´`", "'"),
        **dict.fromkeys("″”“ʺ˝", '"'),
    }
)

_NUMBER = r"[0-9]+(?:\.[0-9]*)?"
_PLAIN = rf"(?:[+-] ?)?{_NUMBER}(?:°)?"
_MARKED = rf"(?:[+-] ?)?{_NUMBER}°(?: ?{_NUMBER}'(?: ?{_NUMBER}\")?)?"
_LOOSE = rf"(?:[+-] ?)?{_NUMBER}(?:(?:° ?| ){_NUMBER}(?:(?:' ?| ){_NUMBER}\"?|')?|°)?"
_BETWEEN = r"(?: ?[,;/] ?| ?)"
_SIDE = r"[NSEWnsew]"

_WITH_SIDES = (
    re.compile(rf"(?P<a>{_LOOSE}) ?(?P<a_side>{_SIDE}){_BETWEEN}(?P<b>{_LOOSE}) ?(?P<b_side>{_SIDE})"),
    re.compile(rf"(?P<a_side>{_SIDE}) ?(?P<a>{_LOOSE}){_BETWEEN}(?P<b_side>{_SIDE}) ?(?P<b>{_LOOSE})"),
)
_WITHOUT_SIDES = (
    re.compile(rf"(?P<a>{_PLAIN})(?: ?[,;/] ?| )(?P<b>{_PLAIN})"),
    re.compile(rf"(?P<a>{_MARKED}){_BETWEEN}(?P<b>{_MARKED})"),
    re.compile(rf"(?P<a>{_LOOSE}) ?[,;/] ?(?P<b>{_LOOSE})"),
)
_ONE_SIDED = re.compile(
    rf"{_SIDE} ?{_LOOSE}{_BETWEEN}{_LOOSE}|{_LOOSE} ?{_SIDE}{_BETWEEN}{_LOOSE}|{_LOOSE}{_BETWEEN}{_LOOSE} ?{_SIDE}"
)
_ONE_HALF = re.compile(rf"{_SIDE}? ?{_LOOSE} ?{_SIDE}?")
_COMPONENT = re.compile(_NUMBER)


class _Angle(NamedTuple):
    deg: float
    step_deg: float


def read_degrees(text: str) -> ReadPosition:
    """The place of a pair of angles, latitude first where no letters say which is which; Unreadable if it is none."""
    text = _tidy(text)
    for form in _WITH_SIDES:
        if found := form.fullmatch(text):
            return _with_sides(found)
    for form in _WITHOUT_SIDES:
        if found := form.fullmatch(text):
            return _from_angles(_angle(found["a"]), _angle(found["b"]))
    if _ONE_HALF.fullmatch(text):
        raise Unreadable("the position has only one coordinate", WRITE_POSITION)
    if _ONE_SIDED.fullmatch(text):
        raise Unreadable("only one coordinate has a letter", "write N or S after one, E or W after the other")
    raise Unreadable("the position is in an unknown notation", WRITE_POSITION)


def _from_angles(lat: _Angle, lon: _Angle) -> ReadPosition:
    """Two angles as a place. The finer step of the two is its precision (Georeferencing Best Practices, 2020)."""
    return position_in_degrees(lat.deg, lon.deg, min(lat.step_deg, lon.step_deg))


def plain_marks(text: str) -> str:
    """The text with the many look-alikes of minus, degree, minute and second signs made one of each."""
    return text.translate(_LOOKALIKES).replace("''", '"')


def _tidy(text: str) -> str:
    """One sign for each mark, letters d, m, s made signs, decimal commas made points."""
    text = plain_marks(text)
    text = re.sub(r"(?<=[0-9.]) ?(?:deg\.?|d)(?=[ 0-9NSEWnew,;/]|$)", "°", text)
    text = re.sub(r"(?<=[0-9.]) ?(?:min\.?|m)(?=[ 0-9NSEWnsew,;/]|$)", "'", text)
    text = re.sub(r"(?<=[0-9.]) ?sec\.?(?=[ NSEWnsew,;/]|$)", '"', text)
    text = re.sub(r"(' ?[0-9.,]+) ?s(?![a-z])", r'\1"', text)  # after minutes a small s is seconds, elsewhere south
    text = re.sub(r" +(?=[°'\"])", "", text)
    if "." in text:  # else commas are decimal marks, where they cannot as well part two numbers
        return text
    if re.fullmatch(r"[+-]?[0-9]+,[0-9]+", text):
        raise Unreadable("this may be one number with a decimal comma, or two whole degrees", WRITE_POSITION)
    if four := re.fullmatch(r"([+-]?[0-9]+),([0-9]+),([0-9]+),([0-9]+)", text):
        return "{}.{}, {}.{}".format(*four.groups())
    return re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)


def _angle(text: str) -> _Angle:
    """Degrees and the size of one step of its last digit; Unreadable where minutes or seconds cannot be."""
    parts = _COMPONENT.findall(text)
    if any("." in part for part in parts[:-1]):
        raise Unreadable("only the last of degrees, minutes and seconds may have a decimal point", WRITE_POSITION)
    value = _degrees(parts, WRITE_POSITION)
    decimals = len(parts[-1].partition(".")[2])
    step = 10.0**-decimals / 60.0 ** (len(parts) - 1)
    return _Angle(-value if text.startswith("-") else value, step)


def _degrees(parts: list[str], fix: str) -> float:
    """Degrees, minutes and seconds as one number. 60 carries over: what rounds its seconds writes 59.99996″ as 60″."""
    if any(float(part) > 60 for part in parts[1:]):
        raise Unreadable("minutes and seconds must not be over 60", fix)
    return sum(float(part) / 60.0**power for power, part in enumerate(parts))


def _with_sides(found: re.Match[str]) -> ReadPosition:
    sided = {}
    for half in ("a", "b"):
        side, text = found[f"{half}_side"].upper(), found[half]
        if text[0] in "+-":
            raise Unreadable("an angle has both a sign and a letter for its side", "remove the sign")
        angle = _angle(text)
        sided["lat" if side in "NS" else "lon"] = angle._replace(deg=-angle.deg) if side in "SW" else angle
    if len(sided) < 2:
        raise Unreadable(
            "both parts of the position have letters of the same axis", "write N or S after one, E or W after the other"
        )
    return _from_angles(sided["lat"], sided["lon"])


_FIX_ISO = "write it like +58.30412-008.90177/"
_FIX_URI = "write it like geo:58.30412,-8.90177;u=8"

_ISO = re.compile(
    r"(?P<lat>[+-][0-9]+(?:[.,][0-9]+)?)(?P<lon>[+-][0-9]+(?:[.,][0-9]+)?)"
    r"(?:[+-][0-9]+(?:[.,][0-9]+)?)?(?:CRS(?P<crs>[^/]*))?/?"
)
_URI_NUMBER = r"-?[0-9]+(?:\.[0-9]+)?"
_URI = re.compile(
    rf"geo:(?P<lat>{_URI_NUMBER}),(?P<lon>{_URI_NUMBER})(?:,{_URI_NUMBER})?(?P<rest>(?:;[^;?#\s]+)*)", re.IGNORECASE
)


def read_iso6709(text: str) -> ReadPosition | None:
    """The place that an ISO 6709 string names (Annex H: ±DD.D, ±DDMM.M or ±DDMMSS.S, then ±DDD… and /), or None. A
    height is passed over. Unreadable where it is such a string but names no place on WGS 84."""
    found = _ISO.fullmatch(text)
    if found is None:
        return None
    if found["crs"] and found["crs"].upper().replace("_", "") not in ("WGS84", "EPSG:4326", "EPSG:4979"):
        raise Unreadable("the ISO 6709 position is not on WGS 84", "write it in WGS 84")
    return _from_angles(_sexagesimal(found["lat"], 2), _sexagesimal(found["lon"], 3))


def read_geo_uri(text: str) -> ReadPosition | None:
    """The place that a geo: URI names (RFC 5870), or None where the text is none. `u` is the uncertainty; u=0, "exactly
    there", says less than the digits do and is left to them. A height and unknown parameters are passed over.
    Unreadable where it is a geo: URI that names no place on WGS 84."""
    if not text.lower().startswith("geo:"):
        return None
    found = _URI.fullmatch(text)
    if found is None:
        raise Unreadable("the geo: address does not follow RFC 5870", _FIX_URI)
    stated_m = _uri_uncertainty_m([p.lower() for p in found["rest"].split(";")[1:]])
    step = 10.0 ** -max(len(angle.partition(".")[2]) for angle in (found["lat"], found["lon"]))
    return position_in_degrees(float(found["lat"]), float(found["lon"]), step, stated_m)


def _sexagesimal(text: str, degree_digits: int) -> _Angle:
    """Degrees and step of one coordinate, whose digits before the mark say whether it has minutes and seconds.
    *Source:* ISO 6709:2008, Annex H; ISO 6709:1983, clause 2.1."""
    whole, _, fraction = text[1:].replace(",", ".").partition(".")
    extra = len(whole) - degree_digits
    if extra not in (0, 2, 4):
        raise Unreadable("an ISO 6709 latitude has two digits of degrees and a longitude three", _FIX_ISO)
    parts = [whole[:degree_digits], *(whole[i : i + 2] for i in range(degree_digits, len(whole), 2))]
    parts[-1] += f".{fraction}"
    value = _degrees(parts, _FIX_ISO)
    return _Angle(-value if text[0] == "-" else value, 10.0 ** -len(fraction) / 60.0 ** (extra // 2))


def _uri_uncertainty_m(parameters: list[str]) -> float | None:
    """The radius that `u` states, or None; crs must be wgs84 and come first, u after it (RFC 5870, section 3.3)."""
    names = [p.partition("=")[0] for p in parameters]
    if parameters and names[0] == "crs":
        if parameters[0] != "crs=wgs84":
            raise Unreadable("the geo: address is not on WGS 84", "give it on WGS 84")
        parameters, names = parameters[1:], names[1:]
    if "crs" in names or "u" in names[1:]:
        raise Unreadable("crs comes first in a geo: address and u after it, each once", _FIX_URI)
    if "u" not in names:
        return None
    if not re.fullmatch(r"u=[0-9]+(?:\.[0-9]+)?", parameters[0]):
        raise Unreadable("u in a geo: address must be a number of metres", _FIX_URI)
    return float(parameters[0][2:]) or None


_LONGEST = 200
_FARTHEST_M = 20_040_000  # no place is farther from another: half of the Earth's girth
_SPREAD = re.compile(r"\s*(?:±|\+ ?/ ?-|\+-)\s*(?P<number>[0-9]+(?:[.,][0-9]+)?)?\s*(?P<unit>[^\W\d]+|')?\.?\s*$")


def parse_position(text: str) -> Position:
    """The position a text names: source "entry", `written` the text, uncertainty_m always a radius above 0.

    Decimal degrees (latitude first), degrees with minutes and seconds, ISO 6709, geo: URI, UTM or MGRS, each with
    or without `±8 m` after it. Without ± (or a geo: URI's u) the radius is calculated from the precision of what was
    written: one step in each axis combined for degrees, half the diagonal of the square for UTM and MGRS.
    Raises Unreadable, whose message does not repeat the place.
    *Source:* A. D. Chapman, J. R. Wieczorek, Georeferencing Best Practices (2020), Uncertainty due to Coordinate
    Precision.
    """
    if len(text) > _LONGEST:
        raise Unreadable(f"the position is longer than {_LONGEST} signs", WRITE_POSITION)
    place, stated_m = _split_spread(" ".join(plain_marks(text).split()))
    if not place:
        raise Unreadable("the position is empty", WRITE_POSITION)
    notations = (read_geo_uri, read_iso6709, read_utm, read_mgrs, read_degrees)
    read = next(position for read in notations if (position := read(place)))
    if stated_m is not None and read.stated:
        raise Unreadable("the uncertainty is given twice, by u and by ±", "keep one of them")
    return Position(read.lat_deg, read.lon_deg, stated_m or read.uncertainty_m, "entry", text)


def distance_m(lat1_deg: float, lon1_deg: float, lat2_deg: float, lon2_deg: float) -> float:
    """Metres along the ellipsoid. *Source:* C. F. F. Karney, J. Geodesy 87:43-55 (2013), by geographiclib."""
    from geographiclib.geodesic import Geodesic

    found = Geodesic.WGS84.Inverse(lat1_deg, lon1_deg, lat2_deg, lon2_deg, Geodesic.DISTANCE)
    return float(found["s12"])


def _split_spread(text: str) -> tuple[str, float | None]:
    found = _SPREAD.search(text)
    if found is None:
        if "±" in text:
            raise Unreadable("what follows ± is not a length", f"write it after the place, like {EXAMPLE}")
        return text, None
    if found["number"] is None:
        raise Unreadable("no number follows ±", f"write it like {EXAMPLE}")
    factor = LENGTH_M.factors.get((found["unit"] or "").lower())
    if factor is None:
        raise Unreadable("the number after ± has no unit of length", "write it like ±8 m or ±26 ft")
    radius_m = float(found["number"].replace(",", ".")) * float(factor)
    if radius_m > _FARTHEST_M:
        raise Unreadable("the uncertainty is more than the way round half the Earth", f"write it like {EXAMPLE}")
    if not radius_m:
        raise Unreadable("an uncertainty of 0 is not possible", "give the radius within which the place certainly is")
    return text[: found.start()], radius_m
