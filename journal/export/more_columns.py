"""Columns of the document that are calculated, and those that few journals have values of.

A find's `sunrise`, `sunset` and `civil_dusk` are of its day, on a level horizon, to the minute.

`heat` is what the core log of a treatment comes to: F₀ in minutes at 121.1 °C, between `f0_low_min` and
`f0_high_min` where the probe is 0.5 °C off, and the minutes at or over each temperature; `unread_min` of it lie
between readings too far apart, of which nothing is counted. It proves nothing sterile.

A culture's `growth` is how fast its colonies' radius grows, with an interval over plates (or over the measurements
of its only plate) where there are enough.

A tent's `yield` is what was harvested there by square metre (of shelf, else of floor: `area_is`) and day on which a
batch was there; its `energy` and `water` those of meter readings and tank fills, over what was harvested meanwhile.
"""

from __future__ import annotations

from datetime import tzinfo
from typing import Any

from journal.analysis.analysis import Analysis
from journal.analysis.patches import Patch, first_and_last_week
from journal.analysis.place_yield import PlaceYield, Used
from journal.analysis.progress import calendar_day
from journal.analysis.sun import sun_times, to_the_minute
from journal.analysis.weather import RAIN_D, WARM_D
from journal.model import Batch, Culture, Find

Row = dict[str, Any]


def heat_of(row: Batch | Culture, found: Analysis) -> Row:
    """What the core log of its treatment comes to."""
    heating = found.heating.get(row.path)
    if heating is None:
        return {"heat": None}
    low, high = heating.f0_range_min
    return {
        "heat": {
            "core_log": heating.log.log.path,
            "f0_min": heating.f0_min,
            "f0_low_min": low,
            "f0_high_min": high,
            "peak_c": heating.peak_c,
            "pasteurised_min": heating.pasteurised_min,
            "read_min": heating.read_min,
            "unread_min": heating.unread_min,
            "minutes_over_c": {f"{edge_c:g}": minutes for edge_c, minutes in heating.above},
        }
    }


def growth_of(row: Culture, found: Analysis) -> Row:
    """How fast its colonies grow on agar."""
    growth = found.growth.get(row.id)
    if growth is None:
        return {"growth": None}
    low, high = growth.interval or (None, None)
    return {
        "growth": {
            "rate_mm_d": growth.rate_mm_d,
            "rate_low_mm_d": low,
            "rate_high_mm_d": high,
            "interval_over": growth.over,
            "plates": [
                {"number": plate.part, "rate_mm_d": plate.rate_mm_d, "measured": len(plate.measured)}
                for plate in growth.plates
            ],
        }
    }


def place_yield_of(found: PlaceYield | None) -> Row:
    """What was harvested in a tent, by area and day, and the energy that went into it."""
    if found is None:
        return {"harvest_g": None, "yield": None, "yield_months": []}
    per = found.calculation
    return {
        "harvest_g": found.harvest_g,
        "yield": {
            "area_m2": found.area_m2,
            "area_is": found.area_is,
            "days_in_use": found.days,
            "first": found.first.isoformat(),
            "last": found.last.isoformat(),
            "kg_m2_day": per.value if per else None,
            "energy": _used(found.energy, "kwh"),
            "water": _used(found.water, "litres"),
        },
        "yield_months": [
            {
                "month": month.first.isoformat()[:7],
                "harvest_g": month.harvest_g,
                "days_in_use": month.days,
                "kg_m2_day": month.kg_m2_d,
            }
            for month in found.months
        ],
    }


def _used(used: Used | None, unit: str) -> Row | None:
    if used is None:
        return None
    return {
        unit: used.amount,
        f"{unit}_per_kg": used.per_kg,
        "harvest_g": used.harvest_g,
        "first": used.first.isoformat(),
        "last": used.last.isoformat(),
    }


def sun_of(find: Find, zone: tzinfo) -> Row:
    """When the sun rose and set at a find on its day, and civil twilight ended."""
    day = calendar_day(find.date)
    if find.position is None or day is None:
        return dict.fromkeys(("sunrise", "sunset", "civil_dusk"))
    sun = sun_times(find.position.lat_deg, find.position.lon_deg, day)
    moments = {"sunrise": sun.rise, "sunset": sun.set, "civil_dusk": sun.dusk}
    return {
        name: to_the_minute(moment).astimezone(zone).isoformat(timespec="minutes") if moment else None
        for name, moment in moments.items()
    }


def patch_row(patch: Patch, found: Analysis) -> Row:
    weeks = first_and_last_week(patch.fruited) or (None, None)
    named = (found.identifications[find.id][-1].species for find in patch.finds)
    place = patch.place
    return {
        "id": patch.key,
        "name": patch.title,
        "name_is_given": patch.name is not None,
        "finds": [find.id for find in patch.finds],
        "species": list(dict.fromkeys(filter(None, named))),
        "position": {"lat": place.lat_deg, "lon": place.lon_deg, "uncertainty_m": place.uncertainty_m}
        if place
        else None,
        "first_week": weeks[0],
        "last_week": weeks[1],
        "fruited": [day.isoformat() for day in patch.fruited],
        "last_look": patch.last_look.iso.partition("T")[0],
        "visits": [
            {
                "date": visit.when.iso.partition("T")[0],
                "date_is_about": visit.when.exact == "about",
                "found": list(visit.found),
                "seen": [f"{id} {stage}" for id, stage in visit.seen],
                "fruiting": visit.is_fruiting,
            }
            for visit in patch.visits
        ],
        "cultures": list(patch.cultures),
        "joined_by": [one.find.id for one in patch.joined if not one.apart],
        "former_ids": list(patch.former),
    }


def picked_rows(found: Analysis) -> list[Row]:
    """What was picked, by permit and day."""
    return [
        {
            "permit": use.permit.name if use.permit else None,
            "date": day.day.isoformat(),
            "picked_g": day.mass_g,
            "limit_a_day_g": use.permit.a_day_g if use.permit else None,
            "limit_g": use.permit.in_all_g if use.permit else None,
            "permit_held": use.permit is not None and not use.is_outside(day),
            "finds": list(day.finds),
        }
        for use in found.permit_uses
        for day in use.days
    ]


def weather_before(find: Find, found: Analysis) -> Row:
    """Rain and degree-days of the days before a find, by the station."""
    day = calendar_day(find.date)
    before = found.weather.before(day) if day is not None else None
    rain = {f"rain_{count}_days_mm": before.rain_mm[count] if before else None for count in RAIN_D}
    return {**rain, f"degree_days_{WARM_D}_days": before.degree_days if before else None}


def outing_rows(found: Analysis) -> list[Row]:
    """Every day on which somebody looked: what was found, and what was looked at with nothing there."""
    return [
        {
            "date": one.day.isoformat(),
            "found": list(one.found),
            "nothing": list(one.nothing),
            **{f"rain_{count}_days_mm": one.before.rain_mm[count] if one.before else None for count in RAIN_D},
            f"degree_days_{WARM_D}_days": one.before.degree_days if one.before else None,
        }
        for one in found.outings
    ]
