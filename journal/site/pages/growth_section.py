"""Growth on agar, as a culture's page shows it, and all measured cultures side by side."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from journal.analysis.calculation import Calculation
from journal.analysis.growth import FORMULA, LARGEST_MM, SOURCE, Growth, Plate, Vigour
from journal.model import Culture
from journal.quantities import counted
from journal.site import wording
from journal.site.charts.dots import Point, axis_of, strip_of
from journal.site.charts.primitives import Scale, scale_over, ticks
from journal.site.charts.xy_chart import Series, xy_chart
from journal.site.figures import Figure, figure
from journal.site.pages.lookup import Lookup, species_words
from journal.site.plan import Row

UNIT = "mm a day"


def growth_section(lookup: Lookup, culture: Culture) -> dict[str, Any] | None:
    """Of one culture; None where no colony was measured."""
    growth = lookup.analysis.growth.get(culture.id)
    if growth is None:
        return None
    return {
        "figures": tuple(_figures(growth)),
        "why": _why_no_rate(growth),
        "too_wide": _too_wide(growth),
        "left_out": [
            f"{wording.capitalised(_name(plate))} is left out: {plate.left_out}."
            for plate in growth.plates
            if plate.left_out
        ],
        "chart": _chart(growth),
        "rows": tuple(_measured(growth)),
    }


def _why_no_rate(growth: Growth) -> str | None:
    counting = any(not plate.left_out for plate in growth.plates)
    return "Measured on one day only: no rate yet." if growth.rate_mm_d is None and counting else None


def _rate(rate_mm_d: float | None) -> str:
    return f"{wording.number(rate_mm_d)} {UNIT}" if rate_mm_d is not None else "measured on one day"


def _rate_of(plate: Plate) -> str:
    return f"left out: {plate.left_out}" if plate.left_out else _rate(plate.rate_mm_d)


def _name(plate: Plate) -> str:
    return f"plate {plate.part}" if plate.part else "plate not numbered"


def _interval_words(growth: Growth) -> str:
    left_out = [_name(plate) for plate in growth.plates if plate.left_out]
    return "; ".join((_interval_alone(growth), *([f"{wording.joined(left_out)} left out"] if left_out else ())))


def _interval_alone(growth: Growth) -> str:
    if growth.interval is None:
        return wording.capitalised(growth.why_no_interval or "")
    low, high = map(wording.number, growth.interval)
    n = len(growth.rates)
    of = f"over {counted(n, 'plate')}" if growth.over == "plates" else "of this one plate alone"
    return f"{low} to {high} {UNIT}, 95 % interval {of}"


def _figures(growth: Growth) -> Iterator[Figure]:
    if growth.rate_mm_d is None:
        return
    inputs = tuple((_name(plate), _rate_of(plate)) for plate in growth.plates)
    calculated = Calculation(growth.rate_mm_d, "mm", inputs, FORMULA, SOURCE)
    words = f"a day: growth of the radius on {growth.culture.medium or 'agar'}"
    number = f"{wording.number(growth.rate_mm_d)} mm"
    yield replace(figure(calculated, words, note=_interval_words(growth)), number=number)


def _too_wide(growth: Growth) -> str | None:
    count = sum(plate.too_wide for plate in growth.plates)
    if not count:
        return None
    of = counted(count, "measurement")
    return f"{of} of {LARGEST_MM:g} mm and more not counted: there the edge of the dish stops a colony."


def _chart(growth: Growth) -> Row:
    points = [(one.days, one.radius_mm) for plate in growth.plates for one in plate.measured]
    last = max(days for days, _ in points)
    across = Scale(0, max(last * 1.08, 1.0))
    up = scale_over([0.0, *(radius for _, radius in points)], least_span=10)
    lines = []
    for plate in growth.plates:
        if plate.line is not None:
            ends = (plate.measured[0].days, plate.measured[-1].days)
            lines.append(Series([(day, plate.line.intercept + plate.line.slope * day) for day in ends]))
    return xy_chart(
        "growth-chart",
        f"Growth of {growth.culture.id} on agar",
        "Radius of each colony over the days since the culture was made, with a line for each plate. The table below "
        "gives the numbers.",
        "radius, mm",
        (across, up),
        [*lines, Series(points, joined=False)],
        [(at, f"day {at:g}") for at in ticks(0, across.high, 4)],
    )


def _measured(growth: Growth) -> Iterator[dict[str, Any]]:
    for plate in growth.plates:
        for one in plate.measured:
            across = " × ".join(map(wording.number, one.across_mm))
            yield {
                "plate": str(plate.part or "not numbered"),
                "left_out": bool(plate.left_out),
                "when": wording.when_in_few_words(one.when),
                "day": wording.number(one.days),
                "across": f"{across} mm",
                "radius": f"{wording.number(one.radius_mm)} mm",
            }


MOST_COMPARED = 24


def growth_of_all(lookup: Lookup) -> dict[str, Any] | None:
    """Every measured culture: a dot for each plate on one scale, and what is to be said of transfers."""
    every = [growth for growth in lookup.analysis.growth.values() if growth.rates]
    found = every[-MOST_COMPARED:]
    if not found:
        return None
    descents = lookup.analysis.lineage.descents
    of = {growth.culture.id: descents[growth.culture.id] for growth in found}
    found.sort(key=lambda one: (of[one.culture.id].line or "", of[one.culture.id].transfers_at_least or 0))
    ends = [end for growth in found for end in (*growth.rates, *(growth.interval or ()))]
    scale = scale_over([0.0, *ends], least_span=2)
    return {
        "rows": tuple(_row(lookup, growth, scale) for growth in found),
        "more": len(every) - len(found),
        "axis": axis_of(scale),
        "vigours": tuple(_vigour_words(vigour) for vigour in lookup.analysis.vigours[-MOST_COMPARED:]),
        "formula": FORMULA,
        "source": SOURCE,
    }


def _row(lookup: Lookup, growth: Growth, scale: Scale) -> dict[str, Any]:
    descent = lookup.analysis.lineage.descents[growth.culture.id]
    points = [
        Point(plate.rate_mm_d, f"{_name(plate)}: {_rate(plate.rate_mm_d)}")
        for plate in growth.plates
        if plate.rate_mm_d is not None
    ]
    mark = growth.rate_mm_d if len(points) > 1 else None
    return {
        "id": f"growth-{growth.culture.id.lower()}",
        "label": lookup.label(growth.culture.id),
        "species": species_words(growth.culture.species),
        "transfers": wording.transfers_in_words(descent) or "T not known",
        "medium": growth.culture.medium or "not written",
        "plates": len(points),
        "rate": _rate(growth.rate_mm_d),
        "interval": _interval_words(growth),
        "title": f"Growth of {growth.culture.id}",
        "desc": f"{'; '.join(point.words for point in points)}. {_interval_words(growth)}.",
        "strip": strip_of(points, scale, mark, growth.interval),
    }


def _vigour_words(vigour: Vigour) -> str:
    first, last = vigour.transfers
    early, late = _rate(vigour.early.rate_mm_d), _rate(vigour.late.rate_mm_d)
    rates = (
        f"Line {vigour.line}: T{first} {early} ({vigour.early.culture.id}), T{last} {late} ({vigour.late.culture.id})"
    )
    if vigour.test is None or vigour.verdict == "too few":
        return f"{rates}. Too few plates to show a difference, whatever their rates: measure four of each."
    p = f"p = {wording.number(vigour.test.p, 3)}, exact permutation test of {vigour.test.ways} ways"
    if vigour.verdict == "no difference":
        return f"{rates}. No difference that these plates could show ({p}); that does not mean that there is none."
    return f"{rates}. The later one is {vigour.verdict} ({p}). Plates, medium and warmth may differ too: measure again."
