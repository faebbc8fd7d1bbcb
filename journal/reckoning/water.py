"""Water to add to a mix for the moisture wanted. Moisture is on the wet basis: water over everything."""

from __future__ import annotations

from dataclasses import dataclass

from journal.reckoning.mixes import Mixed
from journal.reckoning.reckoned import Amount, Reckoning

SOURCE = "R. Rynk (ed.), On-Farm Composting Handbook, NRAES-54, 1992 (as quoted)"
FORMULA = "water to add = wet mass × (moisture wanted − moisture now) / (100 % − moisture wanted)"


@dataclass(frozen=True, slots=True)
class Watered:
    """water_g: to add, 0 where nothing is. excess_g: water to lose first, 0 where nothing is. wet_g: what it then
    weighs. dry_g: the dry substance in it, the same before and after."""

    water_g: float
    excess_g: float
    wet_g: float
    dry_g: float


def water_to_add(wet_g: float, moisture_pct: float, wanted_pct: float) -> Watered | None:
    """Water for a moisture of `wanted_pct`, both moistures wet basis.

    None where there is no mass, or a moisture is below 0, that now over 100, or that wanted 100 or over: dry substance
    cannot be all water.

    *Source:* R. Rynk (ed.), On-Farm Composting Handbook, NRAES-54, 1992: M (wanted − now) / (1 − wanted).
    """
    if wet_g <= 0 or not 0 <= moisture_pct <= 100 or not 0 <= wanted_pct < 100:
        return None
    water_g = wet_g * (wanted_pct - moisture_pct) / (100 - wanted_pct)
    return Watered(
        water_g=max(0.0, water_g),
        excess_g=max(0.0, -water_g),
        wet_g=wet_g + water_g,
        dry_g=wet_g * (1 - moisture_pct / 100),
    )


def water_for_mix(lot: Mixed, wanted_pct: float) -> Reckoning | None:
    """Water for a whole mix, below 0 where it holds too much; None where the mix's moisture is not known."""
    watered = None if lot.moisture_pct is None else water_to_add(lot.mass_g, lot.moisture_pct, wanted_pct)
    if watered is None or lot.moisture_pct is None:
        return None
    return Reckoning(
        value=watered.water_g - watered.excess_g,
        unit="g",
        inputs=(
            ("wet mass of the mix", Amount(lot.mass_g, "g")),
            ("moisture now", Amount(lot.moisture_pct, "%")),
            ("moisture wanted", Amount(wanted_pct, "%")),
        ),
        formula=FORMULA,
        source=SOURCE,
    )


def dry_basis_pct(wet_basis_pct: float) -> float | None:
    """Moisture on the dry basis (water over dry substance, %) of what is `wet_basis_pct` on the wet; None from 100 on,
    where no dry substance is left, and below 0."""
    return wet_basis_pct / (100 - wet_basis_pct) * 100 if 0 <= wet_basis_pct < 100 else None
