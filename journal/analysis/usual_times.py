"""How many days a species usually takes to each thing, and at which temperatures: published, and common practice."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from journal.data import read_table
from journal.settings import ValueRange

What = Literal["colonised", "pins", "harvest", "next flush"]


@dataclass(frozen=True, slots=True)
class Days:
    """From so many days to so many, both included."""

    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Usual:
    """What is usual for a species; None where nothing is told. Names as in `Milestones`. colonised_d, pinning_d: from
    inoculation. pinning_after_move_d: from the move into fruiting air. harvest_after_pins_d: from pins to harvest.
    between_flushes_d: from a flush's last day to the next one's first. flushes_most: how many there are.
    be_pct: biological efficiency of all flushes, on units inoculated. colonising_c,
    pinning_c, fruiting_c: the temperatures at which that is so, °C; pinning_lux, fruiting_lux: the light, in lux."""

    source: str
    colonised_d: Days | None = None
    pinning_d: Days | None = None
    pinning_after_move_d: Days | None = None
    harvest_after_pins_d: Days | None = None
    between_flushes_d: Days | None = None
    flushes_most: int | None = None
    be_pct: ValueRange | None = None
    colonising_c: ValueRange | None = None
    pinning_c: ValueRange | None = None
    fruiting_c: ValueRange | None = None
    pinning_lux: ValueRange | None = None
    fruiting_lux: ValueRange | None = None

    def conditions(self, what: What) -> ValueRange | None:
        """The temperatures at which it is so, while that is waited for."""
        return {"colonised": self.colonising_c, "pins": self.pinning_c, "next flush": self.pinning_c}.get(
            what, self.fruiting_c
        )


def _table(name: str) -> Mapping[str, Usual]:
    usual = {}
    for species, row in read_table("species_times")[name].items():
        fields: dict[str, Any] = {key: _range(key, value) for key, value in row.items()}
        usual[species] = Usual(**fields)
    return usual


def _range(key: str, value: Any) -> Any:
    if not isinstance(value, list):
        return value
    return ValueRange(*value) if key.endswith(("_c", "_lux", "_pct")) else Days(*value)


PUBLISHED = _table("published")
"""Published ranges by species, each with its source."""

PRACTICE = _table("practice")
"""What growers commonly tell: *common practice, from memory*, no source claimed."""


def light_in_words(species: str | None) -> str | None:
    """How much light is published for a species, `Pleurotus pulmonarius: 1000 to 1500 lux (P. Stamets, …)`; None where
    nothing is."""
    usual = PUBLISHED.get(species or "")
    if usual is None or usual.pinning_lux is None or usual.fruiting_lux is None:
        return None
    pinning, fruiting = (f"{one.low:g} to {one.high:g} lux" for one in (usual.pinning_lux, usual.fruiting_lux))
    light = pinning if pinning == fruiting else f"{pinning} while pinning, {fruiting} while fruiting"
    return f"{species}: {light} ({usual.source})"
