"""The limits of what is possible or usual, as `data/limits.toml` has them, each with its source."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from journal.data import read_table


@dataclass(frozen=True, slots=True)
class Limit:
    """The lowest and highest usual value; None if there is no such limit. source: of the limits."""

    source: str
    low: float | None = None
    high: float | None = None

    def allows(self, value: float) -> bool:
        """Whether a value is within the limits; NaN is."""
        return not ((self.low is not None and value < self.low) or (self.high is not None and value > self.high))

    def __str__(self) -> str:
        """`-10 to 45`"""
        return f"{self.low:g} to {self.high:g}" if self.low is not None else f"at most {self.high:g}"


@cache
def limit(name: str) -> Limit:
    """The limit of that name, whose end is the unit."""
    return Limit(**read_table("limits")[name])
