"""What moist air holds: saturation pressure, dew point, vapour pressure deficit, humidity ratio.

Temperatures in °C, relative humidity in %, pressures in Pa. The equations are those of the ASHRAE Handbook, as the
library PsychroLib has them; below 0 °C saturation is over ice, as there. An input that no air can have, or None, or
NaN, gives None.

*Source:* ASHRAE Handbook, Fundamentals, 2017 (SI), chapter 1, Psychrometrics, by way of PsychroLib 2.5.
"""

from __future__ import annotations

from functools import cache
from math import isfinite
from types import ModuleType

SOURCE = "ASHRAE Handbook, Fundamentals, 2017, chapter 1, by way of PsychroLib 2.5"
DEW_POINT_FORMULA = "the temperature at which saturation pressure = relative humidity × saturation pressure of the air"
DEFICIT_FORMULA = "vapour pressure deficit = saturation pressure × (1 − relative humidity)"
STANDARD_PRESSURE_PA = 101325.0
"""Air pressure at sea level in the standard atmosphere. *Source:* ASHRAE Fundamentals 2017, chapter 1, table 1."""

COLDEST_C, HOTTEST_C = -100.0, 200.0
"""Between these the saturation equations hold. *Source:* ASHRAE Fundamentals 2017, chapter 1, eq. 5 and 6."""


def saturation_pressure_pa(t_c: float | None) -> float | None:
    """Saturation pressure over water (ice below 0 °C). *Source:* ASHRAE Fundamentals 2017, chapter 1, eq. 5 and 6."""
    return None if t_c is None or not COLDEST_C <= t_c <= HOTTEST_C else float(_psychrolib().GetSatVapPres(t_c))


def dew_point_c(t_c: float | None, rh_pct: float | None) -> float | None:
    """The temperature to which air has to cool before its vapour condenses; a surface at or below it gets wet. None at
    0 % (dry air has none), and where the dew point would be below −100 °C. It is solved for step by step, some 5 µs a
    value: once for a day's medians rather than for each row.
    *Source:* ASHRAE Fundamentals 2017, chapter 1, eq. 5, 6, 12 and 22, solved for the temperature."""
    if t_c is None or rh_pct is None or not (COLDEST_C <= t_c <= HOTTEST_C and 0 < rh_pct <= 100):
        return None
    try:
        return float(_psychrolib().GetTDewPointFromRelHum(t_c, rh_pct / 100))
    except ValueError:  # air so dry that the equations do not reach its dew point
        return None


def vapour_pressure_pa(t_c: float | None, rh_pct: float | None) -> float | None:
    """Pressure of the vapour that the air holds. *Source:* ASHRAE Fundamentals 2017, chapter 1, eq. 12 and 22."""
    saturated_pa = saturation_pressure_pa(t_c)
    if saturated_pa is None or rh_pct is None or not 0 <= rh_pct <= 100:
        return None
    return saturated_pa * rh_pct / 100


def vapour_pressure_deficit_pa(t_c: float | None, rh_pct: float | None) -> float | None:
    """How much vapour pressure the air lacks to be saturated: what dries a surface of its temperature.
    *Source:* R. G. Allen et al., Crop evapotranspiration, FAO Irrigation and Drainage Paper 56, 1998, chapter 3
    (saturation less actual vapour pressure), with ASHRAE's saturation pressure."""
    saturated_pa, vapour_pa = saturation_pressure_pa(t_c), vapour_pressure_pa(t_c, rh_pct)
    return None if saturated_pa is None or vapour_pa is None else saturated_pa - vapour_pa


def humidity_ratio_kg_kg(
    t_c: float | None, rh_pct: float | None, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float | None:
    """Mass of water vapour to a mass of dry air. None too where the vapour alone would exceed pressure_pa.
    *Source:* ASHRAE Fundamentals 2017, chapter 1, eq. 20."""
    vapour_pa = vapour_pressure_pa(t_c, rh_pct)
    if vapour_pa is None or not (isfinite(pressure_pa) and vapour_pa < pressure_pa):
        return None
    return float(_psychrolib().GetHumRatioFromVapPres(vapour_pa, pressure_pa))


_LOWEST_M, _HIGHEST_M = -500.0, 9000.0


def standard_pressure_pa(elevation_m: float) -> float | None:
    """Air pressure at a height above sea level in the standard atmosphere; None outside −500 to 9000 m.
    *Source:* ASHRAE Fundamentals 2017, chapter 1, eq. 3."""
    if not _LOWEST_M <= elevation_m <= _HIGHEST_M:
        return None
    return float(_psychrolib().GetStandardAtmPressure(elevation_m))


def air_pressure_pa(elevation_m: float | None) -> float:
    """Air pressure where a journal's tents are, as `standard_pressure_pa`; at sea level if the elevation is not
    known."""
    return standard_pressure_pa(elevation_m or 0.0) or STANDARD_PRESSURE_PA


def absolute_humidity_g_m3(t_c: float | None, rh_pct: float | None) -> float | None:
    """Mass of water vapour in a volume of air, by the law of ideal gases: e / (R T), R = 461.52 J/(kg K)."""
    vapour_pa = vapour_pressure_pa(t_c, rh_pct)
    return None if vapour_pa is None or t_c is None else vapour_pa / (461.52 * (t_c + 273.15)) * 1000


def dry_air_kg_m3(t_c: float | None, rh_pct: float | None, pressure_pa: float = STANDARD_PRESSURE_PA) -> float | None:
    """Mass of the dry air in a volume of moist air. *Source:* ASHRAE Fundamentals 2017, chapter 1, eq. 26 (its
    inverse, the specific volume)."""
    ratio = humidity_ratio_kg_kg(t_c, rh_pct, pressure_pa)
    return None if ratio is None else 1 / float(_psychrolib().GetMoistAirVolume(t_c, ratio, pressure_pa))


@cache
def _psychrolib() -> ModuleType:
    """The library, set to SI units (its switch holds for the whole process, and nothing else here uses it)."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    library: ModuleType = psychrolib
    return library
