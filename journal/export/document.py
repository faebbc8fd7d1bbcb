"""The model as one JSON document: what `journal export` prints.

Masses are in g, lengths in m, temperatures in °C, shares 0-1, `…_pct` in %; what is unknown is None (`units` that
cannot be read too). A batch's `wet_g`, `dry_g` and `spawn_g` are the substrate (spawn) of one unit, that is of one
block, bag, jar, log or bed: what was weighed in all is divided by `units`, the units inoculated, lost ones
included. Dates are ISO 8601 as far as they are known (`2026-10`); one that is only about right has `date_is_about`
true. A find's `species` and `certainty` are those of its latest identification.

A patch's `id` names its page and stays when later finds join; `former_ids` are those of patches that it took in,
`joined_by` the finds that made them one. Its `position` is the middle of its finds, with the radius that surely
holds them. `first_week` and `last_week` are those of fruiting over all years, as ISO 8601 counts weeks (the season
begins after the longest time without any; if the last is the lower, it runs over New Year), `fruited` its days; of a
visit `seen` has each find that was looked at, with how it was.

`stage_derived` says from what a stage that no note gives is derived; None where a note gives it.

A batch's `be_percent` is on the units inoculated, `be_percent_lived` on those not lost before the first harvest;
both are so far until `be_final`, and None until there is a harvest. `transfers` is None where a culture received
with no number is above; `transfers_at_least` counts those that are known all the same. A culture's `be_median`
(of `be_percent`), its distribution-free `be_interval` of at least 95 % confidence (None: too few batches) and
`lost_share` (of units inoculated) are over the finished batches grown from it by transfer alone.
`doubtful_harvests` are the paths of the notes whose harvest is hardly possible; the batch's figures rest on them
all the same. `days_to` counts whole days from `day_0`, and `days_between_flushes`, by the number of a flush, those
from its last day to the first day of the next; what is `expected` is between two days, both included, by
its `basis`. What is `due` is late from the day after `to` where it `can_be_late`.

Columns of few journals: see `more_columns`.

A tent's or batch's `in_range_share` is of all time with readings; it, `out_of_range_share` and `cannot_tell_share`
(humidity nearer to an edge than the logger is accurate) make 1. A device's `days_in_use` run from its `date` to
`ended`, the day on which a note calls it dead or put away; both are None while it is in use.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, astuple
from typing import Any

from journal.analysis.analysis import Analysis
from journal.analysis.calendar import zone_of
from journal.analysis.climate import MeasuredClimate, TentClimate
from journal.analysis.due import Due, entries_about
from journal.analysis.forecast import Expected
from journal.analysis.lineage import Lineage
from journal.analysis.milestones import milestones
from journal.analysis.power import Lifetime
from journal.analysis.progress import Progress
from journal.analysis.readings import LeftOut
from journal.analysis.rollups import Rollup
from journal.analysis.tent_settings import current_settings, history_of, light_of
from journal.analysis.ventilation import air_changes, water_used
from journal.analysis.yields import BatchYield
from journal.export.more_columns import (
    growth_of,
    heat_of,
    outing_rows,
    patch_row,
    picked_rows,
    place_yield_of,
    sun_of,
    weather_before,
)
from journal.export.whole_journal import rows_of_the_whole
from journal.model import (
    Batch,
    Colony,
    Culture,
    Entry,
    Find,
    Journal,
    MixPart,
    Next,
    Photo,
    PhotoUse,
    Position,
    Ref,
    TentEntry,
    When,
)
from journal.reading.keys import COMMON_KEYS, KEYS, Key
from journal.settings import Exhaust, Tent, ValueRange

Row = dict[str, Any]


def document(journal: Journal) -> Row:
    """One object of plain values that `json.dumps` takes, the same for the same journal; its columns are said above."""
    found = Analysis(journal)
    settings = journal.settings
    return {
        "journal": _fields(settings, "title", "author", "time_zone", "units", "currency", "elevation_m")
        | {"as_of": settings.as_of.isoformat() if settings.as_of else None},
        "finds": [_find(find, found) for find in journal.finds],
        "patches": [patch_row(patch, found) for patch in found.patches],
        "picked": picked_rows(found),
        "outings": outing_rows(found),
        "cultures": [_culture(row, found) for row in journal.cultures],
        "batches": [_batch(row, found) for row in journal.batches],
        "notes": [_entry(note, "note") for note in journal.notes],
        "tents": [
            _tent(tent, journal)
            | _climate_in(journal, found.climate.tents[tent.id])
            | place_yield_of(found.place_yields.get(tent.id))
            for tent in settings.tents
        ],
        "devices": [
            _entry(device, "device") | _life_of(found.power.lifetimes[device.id]) for device in journal.devices
        ],
        "photos": [_photo(photo) for photo in journal.photos],
        "due": _due_rows(found.due),
        **rows_of_the_whole(found),
        "problems": [asdict(problem) | {"line": problem.line or None} for problem in journal.problems],
    }


def _fields(row: Any, *names: str) -> Row:
    return {name: getattr(row, name) for name in names}


def _entry(entry: Entry, kind: str) -> Row:
    """The columns that every key of this kind declares; what no key holds is added by the caller."""
    return {"path": entry.path, **_columns(entry, KEYS[kind].values())}


def _columns(entry: Entry, keys: Iterable[Key]) -> Row:
    row: Row = {}
    for key in keys:
        if key.column and key.field:
            row |= _cells(key.column, key.notation, getattr(entry, key.field))
    return row


def _cells(column: str, notation: str, value: Any) -> Row:
    if notation == "date":
        return _date(value)
    if notation == "light hours":
        return {f"{column}_on_h": value.on_h if value else None}
    if notation == "exhaust":
        mode, on_min, every_min = astuple(value) if value else (None, None, None)
        return {column: mode, f"{column}_on_min": on_min, f"{column}_every_min": every_min}
    return {column: _cell(value)}


def _cell(value: Any) -> Any:
    """A value of the model as JSON has it; an empty text is None."""
    match value:
        case tuple():
            return [_cell(part) for part in value]
        case Ref():
            return str(value)
        case PhotoUse():
            return value.path
        case Next():
            return {"text": value.text, "date": value.date.isoformat() if value.date else None}
        case MixPart() | ValueRange() | Colony():
            return asdict(value)
        case Position():
            return _position(value)
    return None if value == "" else value


def _date(when: When) -> Row:
    return {"date": when.iso, "date_is_about": when.exact == "about"}


def _find(find: Find, found: Analysis) -> Row:
    return {
        **_entry(find, "find"),
        **_fields(found.identifications[find.id][-1], "species", "certainty", "identified_by"),
        "identity_confirmed": found.confirmed[find.id],
        "species_at_find": find.species,
        "certainty_at_find": find.certainty,
        **sun_of(find, zone_of(found.journal.settings)),
        **weather_before(find, found),
    }


def _culture(culture: Culture, found: Analysis) -> Row:
    descent = found.lineage.descents[culture.id]
    return {
        **_entry(culture, "culture"),
        **_descent(culture.id, found.lineage),
        **_fields(descent, "transfers", "transfers_at_least", "steps_since_wild", "spawn_generation"),
        **_standing(culture.id, found),
        **_grown_from(found.rollups.cultures[culture.id]),
        **heat_of(culture, found),
        **growth_of(culture, found),
    }


def _batch(batch: Batch, found: Analysis) -> Row:
    return {
        **_entry(batch, "batch"),
        **_fields(batch, "species", "dry_from"),
        **_descent(batch.id, found.lineage),
        **_standing(batch.id, found),
        **_yield_of(found.yields[batch.id]),
        "doubtful_harvests": [note.path for note in found.doubtful_harvests.get(batch.id, ())],
        **_timing_of(found.progress[batch.id], found.expected.get(batch.id)),
        **_climate_about(found.climate.batches[batch.id], found.climate.batches[batch.id].left_out),
        **heat_of(batch, found),
    }


def _position(position: Position | None) -> Row | None:
    if position is None:
        return None
    return {"lat": position.lat_deg, "lon": position.lon_deg, **_fields(position, "uncertainty_m", "source")}


def _descent(id: str, lineage: Lineage) -> Row:
    return {"line": lineage.descents[id].line, "ancestors": list(lineage.ancestors_of(id))}


def _standing(id: str, found: Analysis) -> Row:
    run = found.progress[id]
    return {
        "stage": run.stage,
        "stage_derived": run.stage_derived,
        "tent_now": run.tent,
        "day_0": run.day0.isoformat() if run.day0 else None,
        **_fields(run, "lost", "harvest_g", "finished"),
        "over": run.is_over,
        "identity_confirmed": found.confirmed[id],
        "doubt_began_at": found.doubtful.get(id),
    }


def _yield_of(crop: BatchYield) -> Row:
    be, survived = (None, None) if crop.is_unharvested else (crop.be, crop.be_survived)
    return {
        "be_percent": be.value if be else None,
        "be_percent_lived": survived.value if survived else None,
        "be_final": crop.final,
        "flushes": [
            {
                "number": flush.number,
                "harvest_g": flush.harvest_g,
                "first": flush.first.iso.partition("T")[0],
                "last": flush.last.iso.partition("T")[0],
            }
            for flush in crop.flushes
        ],
    }


def _grown_from(grown: Rollup) -> Row:
    """What the finished batches grown from a culture come to; `batches_counted` of them have a BE."""
    interval = grown.be_interval
    return {
        "be_median": grown.be_median,
        "be_interval": interval and _fields(interval, "low", "high", "confidence"),
        "batches_counted": len(grown.counted),
        "lost_share": grown.lost_of_units.value if grown.lost_of_units else None,
    }


def _tent(tent: Tent, journal: Journal) -> Row:
    entries = [entry for entry in journal.tent_entries for about in entry.about if about == tent.id]
    rows = {
        table: [row for entry in entries if (row := _tent_row(entry, table))]
        for table in ("settings", "readings", "services")
    }
    return {
        "path": "journal.toml",
        "title": tent.name,
        "by": journal.settings.author,
        "date": None,
        **_fields(tent, "id", "width_m", "depth_m", "height_m", "shelf_area_m2", "exhaust_m3_h", "exhaust_flow_is"),
        **rows,
        "readings": [row | {"source": "eye"} for row in rows["readings"]],
        "logger_rows": sum(len(log.stamps_s) for log in journal.logs if log.tent == tent.id),
    }


def _tent_row(entry: TentEntry, table: str) -> Row | None:
    """What an entry has for one of its tent's tables; None where it has nothing for it."""
    keys = [key for name, key in KEYS["tent"].items() if name not in COMMON_KEYS and key.table == table]
    values = (getattr(entry, key.field) for key in keys if key.field and not (key.beside or key.linked))
    if all(value in (None, ()) for value in values):
        return None
    return {**_date(entry.date), "path": entry.path, "by": entry.by, **_columns(entry, keys)}


def _photo(photo: Photo) -> Row:
    taken = photo.taken.isoformat() if photo.taken else None
    return {
        "path": photo.path,
        "title": photo.path.rpartition("/")[2],
        "by": None,
        "date": taken,
        "entries": list(photo.entries),
        "taken": taken,
        "lat": photo.lat_deg,
        "lon": photo.lon_deg,
        "uncertainty_m": photo.uncertainty_m,
        "track": _position(photo.track),
        **_fields(photo, "width", "height"),
    }


def _climate_in(journal: Journal, air: TentClimate) -> Row:
    """The air of a tent: over all readings, and by the day; air changes and light by the latest settings."""
    holding = current_settings(history_of(journal, air.tent))
    exhaust = holding["exhaust"].value if "exhaust" in holding else None
    changes = air_changes(air.tent, exhaust if isinstance(exhaust, Exhaust) else None)
    since = holding["exhaust"].when.first if "exhaust" in holding else None
    water = water_used(entries_about(journal, air.tent), since)
    light = light_of(holding)
    return {
        **_climate_about(air, air.series.left_out),
        "longest_out_h": air.longest_out_h,
        "air_changes_per_hour": changes.per_hour if changes else None,
        "air_changes_is": changes.is_ if changes else None,
        "humidifier_water_g_per_h": water.g_per_h if water else None,
        "light_hours": light.hours.on_h if light.hours else None,
        "light_k": light.colour_k,
        "days": [
            {
                "date": day.day.isoformat(),
                "temperature_median_c": day.temperature_c.median if day.temperature_c else None,
                "humidity_median_pct": day.humidity_pct.median if day.humidity_pct else None,
                "in_range_share": day.shares.in_range,
                "cannot_tell_share": day.shares.cannot_tell,
                "dew_point_c": day.dew_point_c,
            }
            for day in air.days
        ],
    }


def _climate_about(air: MeasuredClimate, left_out: Sequence[LeftOut]) -> Row:
    """The air of a tent, or of a batch by its own range where it wants one, over its days in each tent. left_out:
    values that no tent has."""
    return {
        "in_range_share": air.in_range_share,
        "out_of_range_share": air.shares.out,
        "cannot_tell_share": air.shares.cannot_tell,
        "read_h": air.shares.all_s / 3600,
        "values_left_out": len(left_out),
    }


def _timing_of(run: Progress, awaited: Expected | None) -> Row:
    """The days a batch took so far, counted from day 0, and what is expected of it next."""
    took = milestones(run)
    return {
        "days_to": {"colonised": took.colonised_d, "pinning": took.pinning_d, "harvest": took.harvest_d},
        "days_from_move_to_pinning": took.pinning_after_move_d,
        "days_between_flushes": {str(number): days for number, days in took.between_flushes_d.items()},
        "expected": awaited
        and {
            "what": awaited.what,
            "from": awaited.from_day.isoformat(),
            "to": awaited.to_day and awaited.to_day.isoformat(),
            "late_after": awaited.late_after and awaited.late_after.isoformat(),
            **_fields(awaited, "basis", "n", "median_d", "words"),
        },
    }


def _due_rows(rows: Iterable[Due]) -> list[Row]:
    """What is due, in order: `from` the day, late only after `to`, and only where it can be."""
    return [
        {
            "about": list(row.about),
            "what": row.what,
            "from": row.day.isoformat() if row.day else None,
            "to": row.last_day.isoformat() if row.last_day else None,
            "can_be_late": row.is_firm and row.day is not None,
            **_fields(row, "basis", "words"),
        }
        for row in rows
    ]


def _life_of(life: Lifetime) -> Row:
    """How long a device was in use: both None while it is, since how long that has been so far depends on today."""
    return {"days_in_use": life.days, "ended": life.ended.iso.partition("T")[0] if life.ended else None}
