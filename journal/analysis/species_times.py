"""How many days a species usually takes to each thing: what is published, and what growers commonly tell.

Guidance, not a limit: strains differ more than species, and a grower's own record stands above it. A species is found
by its own name alone; what is known of a sister species is never borrowed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from journal.data import read_table


@dataclass(frozen=True, slots=True)
class Days:
    """From so many days to so many, both included."""

    low: int
    high: int


@dataclass(frozen=True, slots=True)
class Usual:
    """What is usual for a species; None where nothing is told. Names as in `Milestones`. colonised_d, pinning_d: from
    inoculation. pinning_after_move_d: from the move into fruiting air. harvest_after_pins_d: from pins to harvest.
    between_flushes_d: from flush to flush. flushes_most: how many there are."""

    source: str
    colonised_d: Days | None = None
    pinning_d: Days | None = None
    pinning_after_move_d: Days | None = None
    harvest_after_pins_d: Days | None = None
    between_flushes_d: Days | None = None
    flushes_most: int | None = None


def _table(name: str) -> Mapping[str, Usual]:
    usual = {}
    for species, row in read_table("species_times")[name].items():
        fields: dict[str, Any] = {key: Days(*value) if isinstance(value, list) else value for key, value in row.items()}
        usual[species] = Usual(**fields)
    return usual


PUBLISHED = _table("published")
"""Published ranges by species, each with its source."""

PRACTICE = _table("practice")
"""What growers commonly tell: *common practice, from memory*, no source claimed."""
