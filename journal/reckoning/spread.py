"""What a number of readings come to: their median and their range."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from statistics import median

SPREAD_RULE = (
    "the median and range are of the readings, each counted once; those with the door open, or of a logger "
    "that was stuck, are left out"
)


@dataclass(frozen=True, slots=True)
class Spread:
    """median, low, high: in the unit of the readings. count: how many they were."""

    median: float
    low: float
    high: float
    count: int


def spread_of(values: Iterable[float]) -> Spread | None:
    """The spread of the values that are numbers; None where there are none."""
    known = sorted(value for value in values if value == value)
    return Spread(median(known), known[0], known[-1], len(known)) if known else None
