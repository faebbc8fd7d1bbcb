"""Masses, lengths and temperatures in words, in the units that the settings name, for pages and for messages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Context, Decimal
from functools import cache
from math import ceil, isfinite
from typing import Literal

from journal.quantities import LENGTH_M, MASS_G, to_fahrenheit

Units = Literal["metric", "us"]

_G_PER_OZ = float(MASS_G.factors["oz"])
_M_PER_FT = float(LENGTH_M.factors["ft"])
_M_PER_MI = float(LENGTH_M.factors["mi"])


@dataclass(frozen=True, slots=True)
class MassUnit:
    """What prices, yields and plans are counted by. g: its mass."""

    symbol: str
    name: str
    g: float


MASS_UNITS: Mapping[Units, MassUnit] = {
    "metric": MassUnit("kg", "kilogram", 1000.0),
    "us": MassUnit("lb", "pound", float(MASS_G.factors["lb"])),
}


_SURE_DIGITS = 14
"""What calculating with floats leaves of a half, as 14.499999999999998 of 0.145 × 100, is not in these."""

_LEFT_ALONE = 3
"""So many decimals beyond those asked for are never taken for what calculating left, however large the number."""

_EXACT = Context(prec=400, rounding=ROUND_HALF_UP)
"""Room for every digit of the largest float, and decimals."""


@cache
def _place(exponent: int) -> Decimal:
    return Decimal((0, (1,), exponent))


def _rounded(value: float, decimals: int) -> Decimal:
    """A finite number as people round (common practice): a half away from 0, of the decimal that is written for it (the
    shortest that reads back as the same float), less what calculating left."""
    written = Decimal(repr(float(value)))
    sure = min(written.adjusted() + 1 - _SURE_DIGITS, -decimals - _LEFT_ALONE)
    for place in (sure, -decimals):
        written = written.quantize(_place(place), context=_EXACT)
    return written


def half_up(value: float, decimals: int = 0) -> float:
    """A number rounded as people round (common practice): a half away from 0, as it is written in decimals."""
    return float(_rounded(value, decimals)) if isfinite(value) else value


def number(value: float, decimals: int = 1) -> str:
    """A number without trailing zeros, with a true minus sign; a half is rounded up."""
    text = f"{_rounded(value, decimals):f}" if isfinite(value) else str(value)
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text.replace("-", "−")


def mass(grams: float, units: Units = "metric") -> str:
    """`570 g`, `1.29 kg`; in US units `14.5 oz`, `2 lb 13.5 oz`."""
    if units == "us":
        ounces = half_up(grams / _G_PER_OZ, 1)
        pounds, rest = divmod(ounces, 16)
        if not pounds:
            return f"{number(ounces)} oz"
        return f"{int(pounds)} lb {number(rest)} oz" if rest else f"{int(pounds)} lb"
    if grams >= 1000:
        return f"{number(grams / 1000, 2)} kg"
    return f"{number(grams, 0 if grams >= 10 else 1)} g"


def exact_mass(grams: float, units: Units = "metric") -> str:
    """The same with every digit that an author may have written in these units: `1.84 g`, `13.814 kg`, `0.065 oz`."""
    unit_g = _G_PER_OZ if units == "us" else 1.0
    written = round(grams / unit_g, 3)
    if abs(written * unit_g - grams) > 1e-6:  # written in other units
        return mass(grams, units)
    if units == "us":
        pounds, rest = divmod(written, 16)
        return " ".join([f"{int(pounds)} lb"] * bool(pounds) + [f"{number(rest, 3)} oz"] * bool(rest or not pounds))
    return f"{number(written / 1000, 6)} kg" if written >= 1000 else f"{number(written, 3)} g"


def length(metres: float, units: Units = "metric") -> str:
    """`1.22 m`, `8 m`; in US units `4 ft`, `26.2 ft`."""
    if units == "us":
        return f"{number(metres / _M_PER_FT, 1)} ft"
    return f"{number(metres, 2 if metres < 10 else 0)} m"


def way(metres: float, units: Units = "metric") -> str:
    """A distance outdoors: `1,288 km`, `13 km`, `150 m`; in US units `8.1 mi`, `492 ft`."""
    near_m, near, far_m, far = (_M_PER_FT, "ft", _M_PER_MI, "mi") if units == "us" else (1.0, "m", 1000.0, "km")
    if metres < far_m:
        return f"{number(metres / near_m, 0)} {near}"
    return f"{half_up(metres / far_m):,.0f} {far}" if metres >= 100 * far_m else f"{number(metres / far_m)} {far}"


_NO_MORE = 0.05  # of a metre, foot or tenth: what a radius kept in metres may be off where it was written in feet


def radius(metres: float, units: Units = "metric") -> str:
    """How sure a place is: `8 m`, `1.3 km`; in US units `27 ft`, `8.1 mi`. Rounded up: it is never told smaller than it
    is."""
    unit_m, unit, far_m, far = (_M_PER_FT, "ft", _M_PER_MI, "mi") if units == "us" else (1.0, "m", 1000.0, "km")
    if metres < far_m:
        return f"{ceil(metres / unit_m - _NO_MORE)} {unit}"
    return f"{number(ceil(metres / far_m * 10 - _NO_MORE) / 10)} {far}"


def temperature(celsius: float, units: Units = "metric") -> str:
    """`15.8 °C`; in US units `60.4 °F`."""
    return f"{number(to_fahrenheit(celsius))} °F" if units == "us" else f"{number(celsius)} °C"


def temperatures(low_c: float, high_c: float, units: Units = "metric") -> str:
    """From one to the other: `-10 to 45 °C`; in US units `14 to 113 °F`."""
    if units == "us":
        return f"{to_fahrenheit(low_c):g} to {to_fahrenheit(high_c):g} °F"
    return f"{low_c:g} to {high_c:g} °C"


def lengths(low_m: float, high_m: float, units: Units = "metric") -> str:
    """From one to the other: `-50 to 6000 m`; in US units `-164 to 19685 ft`."""
    if units == "us":
        return f"{half_up(low_m / _M_PER_FT):.0f} to {half_up(high_m / _M_PER_FT):.0f} ft"
    return f"{low_m:g} to {high_m:g} m"
