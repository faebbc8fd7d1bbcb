"""Heat, as the page of a batch or culture shows it: its core log in figures, drawn and as a table; boiling points."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from journal.analysis.calculation import Amount, Calculation
from journal.analysis.heat import (
    BOILING_FORMULA,
    BOILING_SOURCE,
    PROBE_ERROR_K,
    REFERENCE_C,
    Heating,
    Steam,
    f0_by_reading,
    steam_of,
)
from journal.model import Batch, Culture
from journal.quantities import to_fahrenheit
from journal.site import wording
from journal.site.charts.primitives import Scale, scale_over, ticks
from journal.site.charts.xy_chart import Series, xy_chart
from journal.site.figures import Figure, figure
from journal.site.pages.lookup import Lookup
from journal.site.plan import Row

MOST_ROWS = 16


def heat_section(lookup: Lookup, row: Batch | Culture) -> dict[str, Any] | None:
    """What is shown of how a batch or culture was heated; None where nothing is known of it, and in a share, which
    shows no core log and no elevation."""
    if lookup.share is not None:
        return None
    heating = lookup.analysis.heating.get(row.path)
    steam = steam_of(row.treatment, lookup.settings.elevation_m)
    uncalculated = lookup.analysis.uncalculated_heating.get(row.path)
    if heating is None and uncalculated is None and (steam is None or row.treatment is None):
        return None
    figures = [*(_figures(lookup, heating) if heating else ()), *(_steam(lookup, steam) if steam else ())]
    return {
        "figures": tuple(figures),
        "measured": heating is not None,
        "uncalculated": uncalculated,
        "pressure": steam is not None and steam.gauge_pa is not None,
        "chart": _chart(lookup, heating) if heating else None,
        "unit": "°F" if lookup.units == "us" else "°C",
        "rows": _rows(lookup, heating) if heating else (),
        "unread": f"{wording.number(heating.unread_min, 0)} min" if heating and heating.unread_min > 0 else None,
    }


def _minutes(value: float) -> str:
    """`42 min`; under ten, and so close to nothing, with one decimal."""
    return f"{wording.number(value, 0 if value >= 10 else 1)} min"


def _figures(lookup: Lookup, heating: Heating) -> Iterator[Figure]:
    low, high = heating.f0_range_min
    reference = wording.temperature(REFERENCE_C, lookup.units)
    probe = f"{PROBE_ERROR_K:g} °C" if lookup.units == "metric" else f"{PROBE_ERROR_K * 9 / 5:g} °F"
    off = f"{_minutes(low)} to {_minutes(high)} if the probe is {probe} off" if heating.f0_min >= 0.1 else None
    shown = figure(heating.calculation, f"F₀: minutes at {reference} that would kill as much", lookup.units, note=off)
    yield replace(shown, number=_minutes(heating.f0_min))
    moment = lookup.moment(heating.peak_s)
    at = f"{wording.day_in_words(moment.date())}, {wording.clock(moment)}"
    yield Figure(number=wording.temperature(heating.peak_c, lookup.units), words=f"hottest in the middle, {at}")
    times = [f"{_minutes(spent)} over {_edge(lookup, edge_c)}" for edge_c, spent in heating.above]
    if times:
        ends = f"{wording.number(60)} to {wording.temperature(80)}"
        if lookup.units == "us":
            ends = f"140 to {wording.temperature(80, 'us')}"
        yield Figure(
            number=_minutes(heating.pasteurised_min),
            words=f"from {ends}, as for pasteurising",
            note="; ".join(times),
        )


def _edge(lookup: Lookup, edge_c: float) -> str:
    return wording.temperature(edge_c, lookup.units)


def _steam(lookup: Lookup, steam: Steam) -> Iterator[Figure]:
    units = lookup.units
    where = "at sea level" if steam.assumed else f"at {wording.length(steam.elevation_m, units)}"
    inputs: tuple[tuple[str, Amount | str], ...] = (("elevation", Amount(steam.elevation_m, "m")),)
    if not steam.assumed:
        calculated = Calculation(steam.boils_c, "°C", inputs, BOILING_FORMULA, BOILING_SOURCE)
        yield figure(calculated, f"water boils {where}: no open pot or drum gets hotter", units)
    if steam.steam_c is not None and steam.gauge_pa is not None:
        gauge = f"{wording.number(steam.gauge_pa / 1000, 0)} kPa"
        calculated = Calculation(
            steam.steam_c, "°C", (*inputs, ("pressure above the air’s", gauge)), BOILING_FORMULA, BOILING_SOURCE
        )
        note = "write elevation in journal.toml, if you live higher up" if steam.assumed else None
        yield figure(calculated, f"steam free of air at the pressure written, {where}", units, note=note)


def _chart(lookup: Lookup, heating: Heating) -> Row:
    to_unit = to_fahrenheit if lookup.units == "us" else float
    rows = f0_by_reading(heating.log)
    points = [((at_s - heating.from_s) / 3600, to_unit(core_c)) for at_s, core_c, _ in rows]
    across = Scale(0, max(points[-1][0], 0.1))
    up = scale_over([y for _, y in points], least_span=20)
    unit = "°F" if lookup.units == "us" else "°C"
    first, last = (lookup.moment(at_s) for at_s in (heating.from_s, heating.until_s))
    edges = [to_unit(edge_c) for edge_c in (60.0, 80.0, REFERENCE_C)]
    return xy_chart(
        "core-log",
        f"Core temperature, {wording.day_in_words(first.date())}, {' to '.join(wording.clocks(first, last))}",
        f"From {wording.temperature(heating.log.log.temperature_c[0], lookup.units)} up to "
        f"{wording.temperature(heating.peak_c, lookup.units)}. The table below gives the numbers.",
        f"core temperature, {unit}",
        (across, up),
        [Series(points)],
        [(at, f"{at:g} h") for at in ticks(0, across.high, 4)],
        edges,
    )


def _rows(lookup: Lookup, heating: Heating) -> tuple[dict[str, str], ...]:
    """Readings evenly over the log, the last among them."""
    rows = f0_by_reading(heating.log)
    step = max(1, -(-(len(rows) - 1) // (MOST_ROWS - 1)))
    shown = [*rows[: len(rows) - 1 : step], rows[-1]]
    return tuple(
        {
            "at": wording.clock(lookup.moment(at_s)),
            "core": wording.temperature(core_c, lookup.units),
            "f0": wording.number(f0_min, 1),
        }
        for at_s, core_c, f0_min in shown
    )
