"""Yield by place, as a tent's page shows it, and all tents side by side; in no share, which shows other sums."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import floor, log10
from typing import Any, NamedTuple

from journal.analysis.calculation import Amount, Calculation
from journal.analysis.place_yield import ENERGY_FORMULA, PLAIN_SOURCE, WATER_FORMULA, PlaceYield, Used
from journal.quantities import MASS_G, counted
from journal.settings import Tent
from journal.site import wording
from journal.site.charts.primitives import Scale, scale_over
from journal.site.charts.xy_chart import Series, xy_chart
from journal.site.figures import Figure, figure
from journal.site.pages.lookup import Lookup
from journal.site.plan import Row
from journal.site.wording import MASS_UNITS, Units


class _ByArea(NamedTuple):
    """A mass by area: its unit, and how many of them a kilogram a square metre is. words: `oz a square foot`."""

    mass: str
    area: str
    per_kg_m2: float

    @property
    def words(self) -> str:
        return f"{self.mass} a square {self.area}"


_BY_AREA: Mapping[Units, _ByArea] = {
    "metric": _ByArea("kg", "metre", 1.0),
    "us": _ByArea("oz", "foot", 1000 / float(MASS_G.factors["oz"]) * 0.09290304),
}
"""Ounces: a day's yield of a square foot is hundredths of a pound."""


MOST_MONTHS = 36
"""In which a batch was there; of earlier ones `journal export` has the rest."""


def place_section(lookup: Lookup, tent: Tent) -> dict[str, Any] | None:
    """Of one tent; None where no batch was there."""
    if lookup.share is not None:
        return None
    found = lookup.analysis.place_yields.get(tent.id)
    if found is None:
        return None
    return {
        "figures": tuple(_figures(lookup, found)),
        "why_none": None
        if found.area_m2
        else "No yield by area: write shelf_area, or width and depth, under this tent in journal.toml.",
        "chart": _chart(lookup, found) if found.harvest_g else None,
        "by_area": _BY_AREA[lookup.units].words + " and day",
        "rows": tuple(_months(lookup, found)),
    }


def _per_area(lookup: Lookup, kg_m2_d: float | None) -> str:
    """`0.018`: in kg a square metre, or in oz a square foot; a small one with two digits."""
    if not kg_m2_d:
        return "" if kg_m2_d is None else "0"
    shown = kg_m2_d * _BY_AREA[lookup.units].per_kg_m2
    return wording.number(shown, max(3 if lookup.units == "metric" else 2, 1 - floor(log10(shown))))


def _figures(lookup: Lookup, found: PlaceYield) -> Iterator[Figure]:
    calculated = found.calculation
    span = f"{wording.mass(found.harvest_g, lookup.units)} on {counted(found.days, 'day')} in use"
    if calculated is not None:
        by = _BY_AREA[lookup.units]
        words = f"a square {by.area} of {found.area_is} and day: {span}"
        empty = found.days_spanned - found.days
        note = f"it was empty on {counted(empty, 'other day')} in between" if empty else None
        shown = figure(calculated, words, lookup.units, note=note)
        yield replace(shown, number=f"{_per_area(lookup, calculated.value)} {by.mass}")
    if found.energy is not None:
        yield _used(lookup, found.energy, "kWh", "electricity", ENERGY_FORMULA)
    if found.water is not None:
        yield _used(lookup, found.water, "l", "water for the humidifier", WATER_FORMULA)


def _used(lookup: Lookup, used: Used, unit: str, what: str, formula: str) -> Figure:
    days = wording.days_in_words(used.first, used.last)
    amount = f"{wording.number(used.amount)} {unit}"
    anew = f"; the meter started again {counted(used.resets, 'time')}, and that step is not counted"
    resets = anew if used.resets else ""
    if used.per_kg is None:
        return Figure(number=amount, words=f"of {what} from {days}, with nothing harvested{resets}")
    unit_of_mass = MASS_UNITS[lookup.units]
    inputs = (("used", amount), ("harvested", Amount(used.harvest_g, "g")))
    calculated = Calculation(used.per_kg, unit, inputs, formula, PLAIN_SOURCE)
    words = f"of {what} a {unit_of_mass.name}: {amount} from {days}{resets}"
    shown = figure(calculated, words, lookup.units)
    return replace(shown, number=f"{wording.number(used.per_kg * unit_of_mass.g / 1000)} {unit}")


def _chart(lookup: Lookup, found: PlaceYield) -> Row:
    """A bar for each month, with room for those between them in which it stood empty."""
    months = found.months[-MOST_MONTHS:]
    first = months[0].first
    at = [(month, (month.first.year - first.year) * 12 + month.first.month - first.month) for month in months]
    unit = MASS_UNITS[lookup.units]
    points = [(float(x), month.harvest_g / unit.g) for month, x in at]
    end = at[-1][1] + 1
    step = max(1, -(-end // 5))
    names = [f"{(first.month - 1 + x) % 12 + 1}" for x in range(end)]
    ticks = [(float(x), wording.month_in_words(first.replace(month=int(names[x])))[:3]) for x in range(0, end, step)]
    return xy_chart(
        "place-chart",
        f"Harvested in {found.tent.name}, by month",
        "A bar for each month. The table below gives the numbers.",
        f"harvested a month, {unit.symbol}",
        (Scale(0, float(end)), scale_over([0.0, *(y for _, y in points)], least_span=0.1)),
        [Series(points, bars=True)],
        ticks,
    )


def _months(lookup: Lookup, found: PlaceYield) -> Iterator[dict[str, str]]:
    for month in found.months[: -MOST_MONTHS - 1 : -1]:
        yield {
            "month": wording.month_in_words(month.first),
            "harvested": wording.mass(month.harvest_g, lookup.units) if month.harvest_g else "",
            "days": str(month.days),
            "per_area": _per_area(lookup, month.kg_m2_d) if month.harvest_g else "",
        }


def all_places(lookup: Lookup) -> dict[str, Any] | None:
    """The tents beside one another; None where not two of them gave anything."""
    if lookup.share is not None:
        return None
    found = [one for one in lookup.analysis.place_yields.values() if one.harvest_g]
    if not found:
        return None
    return {
        "by_area": _BY_AREA[lookup.units].words + " and day",
        "rows": [
            {
                "label": lookup.label(one.tent.id),
                "harvested": wording.mass(one.harvest_g, lookup.units),
                "days": str(one.days),
                "area": f"{wording.area(one.area_m2, lookup.units)} {one.area_is}" if one.area_m2 else "not known",
                "per_area": _per_area(lookup, one.calculation.value) if one.calculation else "",
            }
            for one in found
        ],
    }
