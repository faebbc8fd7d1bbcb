"""Moisture by the handbooks' formulas, which the calculators work in the browser, for checks of their results."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Watered:
    """water_g: to add, 0 where nothing is. excess_g: water to lose first, 0 where nothing is. wet_g: what it then
    weighs. dry_g: the dry substance in it, the same before and after."""

    water_g: float
    excess_g: float
    wet_g: float
    dry_g: float


def water_to_add(wet_g: float, moisture_pct: float, wanted_pct: float) -> Watered | None:
    """Water for a moisture of `wanted_pct`, both moistures wet basis. None where there is no mass, or a moisture is
    below 0, that now over 100, or that wanted 100 or over: dry substance cannot be all water.
    *Source:* R. Rynk (ed.), On-Farm Composting Handbook, NRAES-54, 1992: M (wanted − now) / (1 − wanted)."""
    if wet_g <= 0 or not 0 <= moisture_pct <= 100 or not 0 <= wanted_pct < 100:
        return None
    water_g = wet_g * (wanted_pct - moisture_pct) / (100 - wanted_pct)
    return Watered(max(0.0, water_g), max(0.0, -water_g), wet_g + water_g, wet_g * (1 - moisture_pct / 100))


def dry_basis_pct(wet_basis_pct: float) -> float | None:
    """Moisture on the dry basis, %, of what is `wet_basis_pct` on the wet; None below 0 and from 100 on."""
    return wet_basis_pct / (100 - wet_basis_pct) * 100 if 0 <= wet_basis_pct < 100 else None


def wet_basis_pct(dry_basis_pct: float) -> float:
    """Wet-basis moisture of what is `dry_basis_pct` on the dry basis (water over dry substance), both in %."""
    return dry_basis_pct / (100 + dry_basis_pct) * 100
