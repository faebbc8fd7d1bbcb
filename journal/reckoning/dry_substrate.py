"""The dry substrate of a unit with its reckoning: as weighed, from moisture, or from the mix."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from journal.model import Batch, MixPart
from journal.reckoning.mixes import DryFrom, dry_share_of, is_measured, mixed
from journal.reckoning.reckoned import Amount, Reckoning

MOISTURE_SOURCE = (
    "Cornell Waste Management Institute, composting moisture worksheets: moisture = (wet − dry) / wet × 100"
)
MIX_SOURCE = (
    "the mass-weighted mean of the parts (Cornell Waste Management Institute). Dry shares are the keeper's own from "
    "[ingredients], or common practice: from memory, good to a few hundredths"
)
WEIGHED_SOURCE = "as the keeper wrote it; what was written for all units is divided by them"

Inputs = tuple[tuple[str, Amount | str], ...]


def dry_substrate(batch: Batch, measured: Iterable[tuple[str, float]] = ()) -> Reckoning | None:
    """The dry substrate of a unit, g, by the way that gave it; None where none did.

    measured: the keeper's own dry shares by name.
    """
    if batch.dry_g is None or batch.dry_from is None:
        return None
    if batch.dry_from == "moisture":
        return _from_moisture(batch)
    if batch.dry_from == "mix":
        return _from_mix(batch, tuple(measured))
    inputs = (("dry mass a unit, as written", Amount(batch.dry_g, "g")),)
    return Reckoning(batch.dry_g, "g", inputs, "dry substrate = dry mass", WEIGHED_SOURCE)


def other_ways(batch: Batch, measured: Iterable[tuple[str, float]] = ()) -> tuple[tuple[DryFrom, Reckoning], ...]:
    """What the ways that were not used would give, in order."""
    ways: tuple[tuple[DryFrom, Reckoning | None], ...] = (
        ("moisture", _from_moisture(batch)),
        ("mix", _from_mix(batch, tuple(measured))),
    )
    return tuple((way, found) for way, found in ways if found is not None and way != batch.dry_from)


def _from_moisture(batch: Batch) -> Reckoning | None:
    if batch.wet_g is None or batch.moisture_pct is None:
        return None
    inputs: Inputs = (
        ("wet substrate a unit", Amount(batch.wet_g, "g")),
        ("moisture, wet basis", Amount(batch.moisture_pct, "%")),
    )
    value = batch.wet_g * (1 - batch.moisture_pct / 100)
    return Reckoning(value, "g", inputs, "dry substrate = wet substrate × (100 % − moisture)", MOISTURE_SOURCE)


def _from_mix(batch: Batch, measured: tuple[tuple[str, float], ...]) -> Reckoning | None:
    """With a wet mass given only the mix's moisture is taken from it, else the whole lot is shared out."""
    lot = mixed(batch.mix, measured)
    if lot.dry_g is None or lot.mass_g <= 0:
        return None
    parts = tuple(_parts(batch.mix, measured))
    dry: tuple[str, Amount] = ("dry substance of the whole mix", Amount(lot.dry_g, "g"))
    if batch.wet_g is None:
        inputs: Inputs = (*parts, dry, ("units", str(batch.units)))
        formula = "dry substrate a unit = sum of (ingredient × its dry share) / units"
        return Reckoning(lot.dry_g / batch.units, "g", inputs, formula, MIX_SOURCE)
    whole = ("whole mix", Amount(lot.mass_g, "g"))
    inputs = (*parts, dry, whole, ("wet substrate a unit", Amount(batch.wet_g, "g")))
    formula = "dry substrate a unit = wet substrate a unit × sum of (ingredient × its dry share) / whole mix"
    return Reckoning(batch.wet_g * lot.dry_g / lot.mass_g, "g", inputs, formula, MIX_SOURCE)


def _parts(mix: Iterable[MixPart], measured: tuple[tuple[str, float], ...]) -> Iterator[tuple[str, Amount]]:
    """Each ingredient, and its dry share with who says so."""
    for part in mix:
        yield part.name, Amount(part.mass_g, "g")
        share = dry_share_of(part.name, measured)
        if share is not None:
            whose = "the keeper's own" if is_measured(part.name, measured) else "common practice"
            yield f"dry share of {part.name}, {whose}", Amount(share * 100, "%")
