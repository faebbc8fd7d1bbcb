"""A number together with its calculation, so that a page can show how it was reached."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Amount:
    """A number put into a formula, in its SI unit (`g`, `%`, `°C`, `m³/h`, `m³`); a page shows it in the author's
    units."""

    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class Calculation:
    """value: in `unit`, unrounded. inputs: (name, its value: an amount, or a count or date in words), in the order of
    the formula. source: the source of the formula, or that it is *common practice*."""

    value: float
    unit: str
    inputs: tuple[tuple[str, Amount | str], ...]
    formula: str
    source: str


def figure(value: float, unit: str = "", decimals: int = 1) -> str:
    """A number and its unit, with no trailing zeros: `1860 g`, `70.9 %`."""
    text = f"{value:z.{decimals}f}".replace("-", "−")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"{text} {unit}" if unit else text
