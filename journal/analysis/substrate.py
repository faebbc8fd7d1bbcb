"""What a block is made of: moisture, dry mass, water to add, and spawn rate.

Moisture is on the wet basis throughout: water over everything, 62 % being 380 g dry in 1 kg.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from journal.amounts import Units, mass
from journal.analysis.calculation import Amount, Calculation
from journal.data import read_table
from journal.model import Batch, MixPart

DryFrom = Literal["dry mass", "moisture", "mix"]

DISAGREES_ABOVE = 0.05
"""Share of the dry mass by which two ways to it may differ before they are said to disagree."""

DRY_SHARES: Mapping[str, float] = read_table("dry_shares")["common_practice"]
"""Dry share of ingredients as they are bought, by their singular names."""

_WRITTEN_AS: Mapping[DryFrom, str] = {
    "dry mass": "`dry mass`", "moisture": "`wet mass` with `moisture`", "mix": "`mix`",
}  # fmt: skip
_WET_WORDS = frozenset({"fresh", "wet", "soaked", "green", "cooked", "boiled", "hydrated", "moist", "spent", "steamed"})


@dataclass(frozen=True, slots=True)
class MixRemark:
    """Something to say about a mass: `message` and `fix` as in a Problem; `way`: the key it concerns."""

    way: str
    message: str
    fix: str


@dataclass(frozen=True, slots=True)
class DryMass:
    """Dry substrate a unit. dry_from: the way that gave it; both None where no way does."""

    dry_g: float | None
    dry_from: DryFrom | None
    remarks: tuple[MixRemark, ...] = ()


@dataclass(frozen=True, slots=True)
class Mixed:
    """A whole mix. dry_g, moisture_pct: None where the dry share of an ingredient is not known; missing: which."""

    mass_g: float
    dry_g: float | None
    missing: tuple[str, ...] = ()

    @property
    def moisture_pct(self) -> float | None:
        return None if self.dry_g is None or self.mass_g <= 0 else moisture_pct(self.mass_g, self.dry_g)

    def dry_a_unit_g(self, wet_g: float | None, units: int | None) -> float | None:
        """With a wet mass of a unit only the mix's moisture counts; without one the whole lot is shared out, or is not
        if the number of units is not known."""
        if self.dry_g is None or self.mass_g <= 0:
            return None
        if wet_g is None:
            return self.dry_g / units if units else None
        return wet_g * self.dry_g / self.mass_g


def moisture_pct(wet_g: float, dry_g: float) -> float:
    """Wet-basis moisture in % of `wet_g`, which must be above 0. *Source:* `MOISTURE_SOURCE`."""
    return (wet_g - dry_g) / wet_g * 100


_MOST_WORDS = max(len(name.split()) for name in DRY_SHARES)


def dry_share_of(name: str, measured: Iterable[tuple[str, float]] = ()) -> float | None:
    """Dry share 0-1 of an ingredient, None where it is not known. measured: the author's own (name, share), which come
    first. Case, plural, hyphens and spaces make no difference."""
    words = _words(name)
    own = {" ".join(_words(known)): share for known, share in measured}
    whole = " ".join(words)
    for table in (own, DRY_SHARES):
        if whole in table:
            return table[whole]
    if _WET_WORDS & set(words[:-1]) and words[-1] != "water":
        return None
    endings = (" ".join(words[at:]) for at in range(max(1, len(words) - _MOST_WORDS), len(words)))
    return next((DRY_SHARES[ending] for ending in endings if ending in DRY_SHARES), None)


def _words(name: str) -> list[str]:
    """The words of a name, each in the singular."""
    words = filter(None, re.split(r"[\s_-]+", unicodedata.normalize("NFKC", name).casefold()))
    as_it_is = ("shavings", "molasses")
    return [w if w in as_it_is or w.endswith("ss") or len(w) < 4 else w.removesuffix("s") for w in words]


def mixed(mix: Sequence[MixPart], measured: Iterable[tuple[str, float]] = ()) -> Mixed:
    """What a mix comes to in all: the mass-weighted mean of its parts.
    *Source:* Cornell Waste Management Institute, percent moisture of compost: (a·x + b·y + c·z) / (x + y + z)."""
    measured = tuple(measured)
    shares = [(part, dry_share_of(part.name, measured)) for part in mix]
    missing = tuple(dict.fromkeys(part.name for part, share in shares if share is None))
    dry_g = None if missing else sum(part.mass_g * share for part, share in shares if share is not None)
    return Mixed(mass_g=sum(part.mass_g for part in mix), dry_g=dry_g, missing=missing)


def dry_mass(
    *,
    dry_g: float | None = None,
    wet_g: float | None = None,
    moisture_pct: float | None = None,
    mix: Sequence[MixPart] = (),
    units: int | None = 1,
    measured: Iterable[tuple[str, float]] = (),
    shown_in: Units = "metric",
) -> DryMass:
    """Dry substrate a unit by the first way that gives one: weighed dry, wet mass and moisture, or the mix. dry_g,
    wet_g: a unit. moisture_pct: wet basis. mix: the whole lot, over `units` units; with a wet mass given, only the
    mix's moisture is taken from it. shown_in: the units of the remarks. Remarks: ways that differ by more than 5 % of
    the dry mass, and what the mix lacks."""
    lot = mixed(mix, measured)
    ways: list[tuple[DryFrom, float | None]] = [
        ("dry mass", dry_g),
        ("moisture", None if wet_g is None or moisture_pct is None else wet_g * (1 - moisture_pct / 100)),
        ("mix", lot.dry_a_unit_g(wet_g, units)),
    ]
    known = [(way, found) for way, found in ways if found is not None and found > 0]
    if not known:
        message = f"the dry mass of a unit is not known: no dry share is known for {', '.join(lot.missing)}"
        fix = "give it under [ingredients] in journal.toml, or write `dry mass`, or `wet mass` and `moisture`"
        return DryMass(None, None, (MixRemark("mix", message, fix),) if lot.missing else ())
    (first_way, first), *others = known
    remarks = []
    for way, found in others:
        if abs(found - first) > DISAGREES_ABOVE * first * (1 + 1e-9):
            used = mass(first, shown_in)
            ways_differ = (
                f"{_WRITTEN_AS[first_way]} gives {used} dry a unit, {_WRITTEN_AS[way]} {mass(found, shown_in)}"
            )
            message = f"{ways_differ}; {used} is used"
            remarks.append(MixRemark(way, message, "correct the wrong one"))
    if wet_g is not None and first > wet_g:
        dry, wet = mass(first, shown_in), mass(wet_g, shown_in)
        message = f"the dry mass of a unit is more than its wet mass: {dry} dry in {wet} wet"
        fix = "if one of the two is of all units, write `in all` after it"
        remarks.append(MixRemark(first_way, message, fix))
    return DryMass(first, first_way, tuple(remarks))


MOISTURE_SOURCE = (
    "Cornell Waste Management Institute, composting moisture worksheets: moisture = (wet − dry) / wet × 100"
)
MIX_SOURCE = (
    "the mass-weighted mean of the parts (Cornell Waste Management Institute). Dry shares are the author's own from "
    "[ingredients], or common practice, good to a few hundredths"
)
WEIGHED_SOURCE = "as the author wrote it; what was written for all units is divided by them"


def dry_substrate(batch: Batch, measured: Iterable[tuple[str, float]] = ()) -> Calculation | None:
    """The dry substrate of a unit, g, by the way that gave it; None where none did. measured: as in `dry_share_of`."""
    if batch.dry_g is None or batch.dry_from is None:
        return None
    if batch.dry_from == "moisture":
        return _from_moisture(batch)
    if batch.dry_from == "mix":
        return _from_mix(batch, tuple(measured))
    inputs = (("dry mass a unit, as written", Amount(batch.dry_g, "g")),)
    return Calculation(batch.dry_g, "g", inputs, "dry substrate = dry mass", WEIGHED_SOURCE)


def other_ways(batch: Batch, measured: Iterable[tuple[str, float]] = ()) -> tuple[tuple[DryFrom, Calculation], ...]:
    """What the ways that were not used would give, in order."""
    by_moisture, by_mix = _from_moisture(batch), _from_mix(batch, tuple(measured))
    ways: tuple[tuple[DryFrom, Calculation | None], ...] = (("moisture", by_moisture), ("mix", by_mix))
    return tuple((way, found) for way, found in ways if found is not None and way != batch.dry_from)


def _from_moisture(batch: Batch) -> Calculation | None:
    if batch.wet_g is None or batch.moisture_pct is None:
        return None
    wet, moisture = Amount(batch.wet_g, "g"), Amount(batch.moisture_pct, "%")
    value = batch.wet_g * (1 - batch.moisture_pct / 100)
    formula = "dry substrate = wet substrate × (100 % − moisture)"
    inputs = (("wet substrate a unit", wet), ("moisture, wet basis", moisture))
    return Calculation(value, "g", inputs, formula, MOISTURE_SOURCE)


def _from_mix(batch: Batch, measured: tuple[tuple[str, float], ...]) -> Calculation | None:
    lot = mixed(batch.mix, measured)
    dry_g = lot.dry_a_unit_g(batch.wet_g, batch.units)
    if dry_g is None or lot.dry_g is None:
        return None
    inputs: list[tuple[str, Amount | str]] = []
    for part in batch.mix:
        inputs.append((part.name, Amount(part.mass_g, "g")))
        share = dry_share_of(part.name, measured)
        if share is not None:
            is_own = _words(part.name) in [_words(known) for known, _ in measured]
            whose = "the author's own" if is_own else "common practice"
            inputs.append((f"dry share of {part.name}, {whose}", Amount(share * 100, "%")))
    inputs.append(("dry substance of the whole mix", Amount(lot.dry_g, "g")))
    if batch.wet_g is None:
        inputs.append(("units", str(batch.units)))
        formula = "dry substrate a unit = sum of (ingredient × its dry share) / units"
    else:
        inputs += [("whole mix", Amount(lot.mass_g, "g")), ("wet substrate a unit", Amount(batch.wet_g, "g"))]
        formula = "dry substrate a unit = wet substrate a unit × sum of (ingredient × its dry share) / whole mix"
    return Calculation(dry_g, "g", tuple(inputs), formula, MIX_SOURCE)


WATER_SOURCE = "R. Rynk (ed.), On-Farm Composting Handbook, NRAES-54, 1992 (as quoted)"
WATER_FORMULA = "water to add = wet mass × (moisture wanted − moisture now) / (100 % − moisture wanted)"


SPAWN_WET_SOURCE = (
    "D. J. Royse (2002), Influence of spawn rate and commercial delayed release nutrient levels on Pleurotus "
    "cornucopiae yield, size, and time to production, abstract: 1.25 to 5 % of the wet weight of substrate were tried "
    "(spawn as it is, the block before spawn), and 3.75 to 5 % gave most"
)
SPAWN_DRY_SOURCE = "common practice: spawn as it is over the dry substance of the substrate; always say which basis"


def spawn_rate_wet_pct(spawn_g: float, wet_g: float) -> float | None:
    """Spawn in % of the wet substrate, spawn not counted in; None where there is no substrate, or less than no spawn.
    *Source:* `SPAWN_WET_SOURCE`."""
    return spawn_g / wet_g * 100 if wet_g > 0 and spawn_g >= 0 else None


def spawn_rate_dry_pct(spawn_g: float, dry_g: float) -> float | None:
    """Spawn, as it is, in % of the dry substance of the substrate: *common practice*. None as above."""
    return spawn_rate_wet_pct(spawn_g, dry_g)
