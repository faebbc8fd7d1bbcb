"""Heat: what the core temperature of a load comes to while it was sterilised or pasteurised; boiling points."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import isnan, log, sinh, sqrt

from journal.analysis.calculation import Amount, Calculation
from journal.analysis.psychrometrics import standard_pressure_pa
from journal.model import CoreLog, Journal

REFERENCE_C = 121.1
Z_K = 10.0
"""Reference temperature (250 °F) and z of F₀. *Source:* FDA, proposed rules of 1 June 1976, section 212.3 (z of 10 °C,
minutes at 250 °F), as quoted in D. Pistolesi, V. Mascherpa, F0: a technical note, 1988, revised 2014, section 1.4. The
European Pharmacopoeia, 5.1.5, takes 121 °C, by which F₀ is 2.3 % greater (from memory)."""

EDGES_C = (60.0, 70.0, 80.0, 100.0, 121.0)
"""Temperatures at which the time is summed: 60 to 80 °C pasteurises, 121 °C is that of steam at 1 bar (*common
practice*)."""

LONGEST_STEP_S = 600.0
"""Between readings further apart, nothing is known of the core, and nothing counts (*common practice*)."""

PROBE_ERROR_K = 0.5
"""How far a probe may be off, where nothing is said of it (*common practice*)."""

FORMULA = (
    "F₀ = ∫ 10^((T − 121.1 °C) / 10 K) dt, with T on a straight line between two readings: of each two, with "
    "r = 10^((T − 121.1 °C) / 10 K), Δt · 10 K · (r₂ − r₁) / (ln 10 · (T₂ − T₁)), or Δt · r where T stays the same"
)
SOURCE = (
    "F₀ of moist heat, as pharmacopoeias define it: minutes at 121.1 °C (250 °F) with z = 10 °C; FDA, proposed rules "
    "of 1 June 1976, section 212.3, as quoted in D. Pistolesi, V. Mascherpa, F0: a technical note, 1988, revised 2014"
)

_Row = tuple[float, float]


def lethal_rate(core_c: float) -> float:
    """Minutes at 121.1 °C that one minute at this temperature stands for."""
    return float(10 ** ((core_c - REFERENCE_C) / Z_K))


@dataclass(frozen=True, slots=True)
class Heating:
    """What one core log comes to. from_s, until_s: its first and last reading, seconds since 1970-01-01T00:00Z.

    f0_min: F₀ in minutes at 121.1 °C. peak_c: the hottest reading. above: (edge in °C, minutes at or above it), where
    there are any. read_min: the minutes that count; unread_min: those between readings too far apart."""

    log: CoreLog
    readings: int
    from_s: float
    until_s: float
    f0_min: float
    peak_c: float
    peak_s: float
    above: tuple[tuple[float, float], ...]
    read_min: float
    unread_min: float

    @property
    def f0_range_min(self) -> tuple[float, float]:
        """F₀ where the probe reads `PROBE_ERROR_K` too high, and too low."""
        factor = 10 ** (PROBE_ERROR_K / Z_K)
        return self.f0_min / factor, self.f0_min * factor

    @property
    def pasteurised_min(self) -> float:
        """Minutes from 60 to 80 °C."""
        at = dict(self.above)
        return at.get(60.0, 0.0) - at.get(80.0, 0.0)

    @property
    def calculation(self) -> Calculation:
        inputs = (
            ("readings", f"{self.readings}"),
            ("time between them", Amount(self.read_min, "min")),
            ("hottest", Amount(self.peak_c, "°C")),
        )
        return Calculation(self.f0_min, "min", inputs, FORMULA, SOURCE)


def heating_of(core: CoreLog) -> Heating | None:
    """What a core log comes to; None where fewer than two readings follow each other closely enough."""
    rows = _read(core)
    steps = [(one, other) for one, other in pairwise(rows) if other[0] - one[0] <= LONGEST_STEP_S]
    if not steps:
        return None
    read_min = sum(later - earlier for (earlier, _), (later, _) in steps) / 60
    peak_s, peak_c = max(rows, key=lambda row: row[1])
    return Heating(
        log=core,
        readings=len(rows),
        from_s=rows[0][0],
        until_s=rows[-1][0],
        f0_min=f0_by_reading(core)[-1][2],
        peak_c=peak_c,
        peak_s=peak_s,
        above=tuple(_above(steps)),
        read_min=read_min,
        unread_min=(rows[-1][0] - rows[0][0]) / 60 - read_min,
    )


def why_uncalculated(core: CoreLog) -> str | None:
    """Why a core log comes to nothing, in words that follow its name; None where it comes to something."""
    if heating_of(core) is not None:
        return None
    count = len(_read(core))
    if count < 2:
        return f"has {'only one usable reading' if count else 'no usable reading'}, and two are needed"
    return f"has no two readings within {LONGEST_STEP_S / 60:g} minutes of each other"


def f0_by_reading(core: CoreLog) -> tuple[tuple[float, float, float], ...]:
    """Every reading: its stamp, °C, and F₀ in minutes from the first reading up to it."""
    rows = _read(core)
    summed = [(*row, 0.0) for row in rows[:1]]
    for (a_s, a_c), (b_s, b_c) in pairwise(rows):
        summed.append((b_s, b_c, summed[-1][2] + _f0_between(a_s, a_c, b_s, b_c)))
    return tuple(summed)


def _f0_between(a_s: float, a_c: float, b_s: float, b_c: float) -> float:
    """Minutes at 121.1 °C between two readings; none where they lie too far apart."""
    return 0.0 if b_s - a_s > LONGEST_STEP_S else f0_min(a_c, b_c, (b_s - a_s) / 60)


def f0_min(one_c: float, other_c: float, minutes: float) -> float:
    """Minutes at 121.1 °C that so many minutes on a straight line from one temperature to another stand for.

    The mean of `lethal_rate` over that line: with x = ln 10 / z times half of the difference, sinh(x) / x times the
    rate half-way. It is the integral of 10^(T / z), which is 10^(T / z) · z / ln 10, over the difference. The mean of
    the rates at both ends would be too high, by 41 % where these are 10 K apart, since the rate bends upwards."""
    half = log(10) / Z_K * abs(other_c - one_c) / 2
    return minutes * lethal_rate((one_c + other_c) / 2) * (sinh(half) / half if half > 1e-6 else 1.0)


def _read(core: CoreLog) -> list[_Row]:
    rows = zip(core.log.stamps_s, core.log.temperature_c, strict=True)
    return [(at_s, core_c) for at_s, core_c in rows if not isnan(core_c)]


def _above(steps: list[tuple[_Row, _Row]]) -> Iterator[tuple[float, float]]:
    for edge_c in EDGES_C:
        minutes = sum((b_s - a_s) / 60 * _share_above(a_c, b_c, edge_c) for (a_s, a_c), (b_s, b_c) in steps)
        if minutes > 0:
            yield edge_c, minutes


def _share_above(one_c: float, other_c: float, edge_c: float) -> float:
    """The share of a straight line between two temperatures that is at or above an edge."""
    low, high = sorted((one_c, other_c))
    if low >= edge_c:
        return 1.0
    return (high - edge_c) / (high - low) if high > edge_c else 0.0


def heating_by_entry(journal: Journal) -> Mapping[str, Heating]:
    """What each entry's core log comes to, by the entry's path."""
    found = {core.entry: heating_of(core) for core in journal.core_logs}
    return {path: heating for path, heating in found.items() if heating is not None}


def uncalculated_by_entry(journal: Journal) -> Mapping[str, str]:
    """The core logs that come to nothing, each with why, by the path of the entry that names them."""
    found = {core.entry: (core, why_uncalculated(core)) for core in journal.core_logs}
    return {path: f"{posixpath.basename(core.log.path)} {why}" for path, (core, why) in found.items() if why}


# Steam

_LEAST_PA, _MOST_PA = 611.213, 22.064e6

BOILING_SOURCE = (
    "pressure: ASHRAE Handbook, Fundamentals, 2017, chapter 1, equation 3, standard atmosphere; saturated steam: IAPWS "
    "R7-97 (2012), equation 31. On the day, the weather moves the boiling point by about ±1 °C, ±2 °F (common practice)"
)
BOILING_FORMULA = "p = 101 325 Pa · (1 − 2.25577·10⁻⁵ · h)^5.2559, T by IAPWS-IF97, region 4"


_N = (
    0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2, 0.12020824702470e5, -0.32325550322333e7,
    0.14915108613530e2, -0.48232657361591e4, 0.40511340542057e6, -0.23855557567849, 0.65017534844798e3,
)  # fmt: skip


def saturation_c(steam_pa: float) -> float:
    """Temperature of saturated steam at an absolute pressure of 611.213 Pa to 22.064 MPa; ValueError outside.
    *Source:* IAPWS R7-97 (2012), Industrial Formulation 1997, region 4, equation 31, coefficients of table 34."""
    if not _LEAST_PA <= steam_pa <= _MOST_PA:
        raise ValueError(f"{steam_pa} Pa is outside the formula's range")
    beta = (steam_pa / 1e6) ** 0.25
    e = beta**2 + _N[2] * beta + _N[5]
    f = _N[0] * beta**2 + _N[3] * beta + _N[6]
    g = _N[1] * beta**2 + _N[4] * beta + _N[7]
    d = 2 * g / (-f - sqrt(f**2 - 4 * e * g))
    kelvin = (_N[9] + d - sqrt((_N[9] + d) ** 2 - 4 * (_N[8] + _N[9] * d))) / 2
    return float(kelvin - 273.15)


@dataclass(frozen=True, slots=True)
class Steam:
    """What heats a load. boils_c: water at this elevation. gauge_pa: the pressure that a treatment names, above that of
    the air; steam_c: saturated steam at it; both None where it names none. assumed: the elevation is not known, and
    sea level stands for it."""

    elevation_m: float
    assumed: bool
    boils_c: float
    gauge_pa: float | None = None
    steam_c: float | None = None


def boiling_c(elevation_m: float, gauge_pa: float = 0.0) -> float | None:
    """Where water boils in the standard atmosphere, under a pressure above that of the air, as a gauge shows it; None
    where the air's is not known."""
    air_pa = standard_pressure_pa(elevation_m)
    return None if air_pa is None else saturation_c(air_pa + gauge_pa)


_GAUGE = re.compile(r"(?<![0-9.,])([0-9]+(?:[.,][0-9]+)?) ?(psi|psig|kpa|bar)\b", re.IGNORECASE)
GAUGE_PA: Mapping[str, float] = {"psi": 6894.757293168, "psig": 6894.757293168, "kpa": 1e3, "bar": 1e5}
_MOST_GAUGE_PA = 1e6


def steam_of(treatment: str | None, elevation_m: float | None) -> Steam | None:
    """How hot water boils where a load was treated, and how hot the steam is at the pressure that its treatment names,
    as a gauge shows it. None where neither elevation nor pressure is known, or nobody lives at that elevation."""
    found = _GAUGE.search(treatment or "")
    boils_c = boiling_c(elevation_m or 0.0)
    if boils_c is None or (elevation_m is None and found is None):
        return None
    gauge_pa = float(found[1].replace(",", ".")) * GAUGE_PA[found[2].casefold()] if found else None
    if gauge_pa is not None and gauge_pa > _MOST_GAUGE_PA:
        gauge_pa = None
    return Steam(
        elevation_m=elevation_m or 0.0,
        assumed=elevation_m is None,
        boils_c=boils_c,
        gauge_pa=gauge_pa,
        steam_c=None if gauge_pa is None else boiling_c(elevation_m or 0.0, gauge_pa),
    )
