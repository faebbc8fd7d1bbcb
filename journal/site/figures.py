"""A calculated number as a page shows it: set large, what it counts beneath, its calculation one tap away."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from journal.analysis.calculation import Amount, Calculation
from journal.site import wording
from journal.site.wording import Units


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """number: with its unit (`53 %`, `1.86 kg`). words: what it counts, and of how many. note: a second form of the
    same number, set smaller (`71 % of the 3 not lost`). inputs: (name, value), in the order of the formula. formula and
    source are None where the number was counted or written, not calculated."""

    number: str
    words: str
    note: str | None = None
    inputs: tuple[tuple[str, str], ...] = ()
    formula: str | None = None
    source: str | None = None
    more: tuple[tuple[str, str], ...] = ()
    """Further figures that are shown in the calculation only: (name, value)."""


_SHOWN: Mapping[str, Callable[[float, Units], str]] = {
    "g": wording.mass,
    "g a day": lambda value, units: f"{wording.mass(value, units)} a day",
    "°C": wording.temperature,
    "m": wording.length,
    "m³/h": wording.flow,
    "m³": wording.volume,
    "m²": wording.area,
}


def amount(value: float, unit: str, units: Units = "metric") -> str:
    """A number with its unit, in the author's units: `1.86 kg`, `53.2 %`."""
    show = _SHOWN.get(unit)
    return show(value, units) if show else f"{wording.number(value)} {unit}".rstrip()


def figure(
    calculated: Calculation,
    words: str,
    units: Units = "metric",
    *,
    note: str | None = None,
    more: tuple[tuple[str, str], ...] = (),
) -> Figure:
    """A calculation as a page shows it."""
    return Figure(
        number=amount(calculated.value, calculated.unit, units),
        words=words,
        note=note,
        inputs=tuple(
            (name, amount(value.value, value.unit, units) if isinstance(value, Amount) else value)
            for name, value in calculated.inputs
        ),
        formula=calculated.formula,
        source=calculated.source,
        more=more,
    )
