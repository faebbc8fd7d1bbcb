"""Positions in the notations of programs: ISO 6709 strings and geo: URIs."""

from __future__ import annotations

import re

from journal.problems import Unreadable
from journal.reckoning.fix import Fix, degrees_fix

_MEND_ISO = "write it like +58.30412-008.90177/"
_MEND_URI = "write it like geo:58.30412,-8.90177;u=8"

_ISO = re.compile(
    r"(?P<lat>[+-][0-9]+(?:[.,][0-9]+)?)(?P<lon>[+-][0-9]+(?:[.,][0-9]+)?)"
    r"(?:[+-][0-9]+(?:[.,][0-9]+)?)?(?:CRS(?P<crs>[^/]*))?/?"
)
_URI_NUMBER = r"-?[0-9]+(?:\.[0-9]+)?"
_URI = re.compile(
    rf"geo:(?P<lat>{_URI_NUMBER}),(?P<lon>{_URI_NUMBER})(?:,{_URI_NUMBER})?(?P<rest>(?:;[^;?#\s]+)*)", re.IGNORECASE
)


def read_iso6709(text: str) -> Fix | None:
    """The place that an ISO 6709 string names (Annex H: ±DD.D, ±DDMM.M or ±DDMMSS.S, then ±DDD… and /), or None.

    A height is passed over. Unreadable where it is such a string but names no place on WGS 84.
    """
    found = _ISO.fullmatch(text)
    if found is None:
        return None
    if found["crs"] and found["crs"].upper().replace("_", "") not in ("WGS84", "EPSG:4326", "EPSG:4979"):
        raise Unreadable("the ISO 6709 position is not on WGS 84", "give it on WGS 84")
    lat, lat_step = _sexagesimal(found["lat"], 2)
    lon, lon_step = _sexagesimal(found["lon"], 3)
    return degrees_fix(lat, lon, min(lat_step, lon_step))


def read_geo_uri(text: str) -> Fix | None:
    """The place that a geo: URI names (RFC 5870), or None where the text is none.

    `u` is the uncertainty; u=0, "exactly there", says less than the digits do and is left to them. A height and
    unknown parameters are passed over. Unreadable where it is a geo: URI that names no place on WGS 84.
    """
    if not text.lower().startswith("geo:"):
        return None
    found = _URI.fullmatch(text)
    if found is None:
        raise Unreadable("the geo: address is not as RFC 5870 has it", _MEND_URI)
    stated_m = _uri_uncertainty_m([p.lower() for p in found["rest"].split(";")[1:]])
    step = min(_decimal_step(found["lat"]), _decimal_step(found["lon"]))
    return degrees_fix(float(found["lat"]), float(found["lon"]), step, stated_m)


def _sexagesimal(text: str, degree_digits: int) -> tuple[float, float]:
    """Degrees and step of one coordinate, whose digits before the mark say whether it has minutes and seconds.

    *Source:* ISO 6709:2008, Annex H; ISO 6709:1983, clause 2.1.
    """
    whole, _, fraction = text[1:].replace(",", ".").partition(".")
    extra = len(whole) - degree_digits
    if extra not in (0, 2, 4):
        raise Unreadable("an ISO 6709 latitude has two digits of degrees and a longitude three", _MEND_ISO)
    parts = [whole[:degree_digits], *(whole[i : i + 2] for i in range(degree_digits, len(whole), 2))]
    parts[-1] += f".{fraction}"
    if any(float(part) >= 60 for part in parts[1:]):
        raise Unreadable("minutes and seconds must be under 60", _MEND_ISO)
    value = sum(float(part) / 60**power for power, part in enumerate(parts))
    return (-value if text[0] == "-" else value), 10.0 ** -len(fraction) / 60.0 ** (extra // 2)


def _decimal_step(text: str) -> float:
    return 10.0 ** -len(text.partition(".")[2])


def _uri_uncertainty_m(parameters: list[str]) -> float | None:
    """The radius that `u` states, or None; crs must be wgs84 and come first, u after it (RFC 5870, section 3.3)."""
    names = [p.partition("=")[0] for p in parameters]
    if parameters and names[0] == "crs":
        if parameters[0] != "crs=wgs84":
            raise Unreadable("the geo: address is not on WGS 84", "give it on WGS 84")
        parameters, names = parameters[1:], names[1:]
    if "crs" in names or "u" in names[1:]:
        raise Unreadable("crs comes first in a geo: address and u after it, each once", _MEND_URI)
    if "u" not in names:
        return None
    if not re.fullmatch(r"u=[0-9]+(?:\.[0-9]+)?", parameters[0]):
        raise Unreadable("u in a geo: address must be a number of metres", _MEND_URI)
    return float(parameters[0][2:]) or None
