"""The model as one JSON document: what `journal export` prints."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from journal.analysis.analysis import Analysis
from journal.analysis.identity import Identification
from journal.analysis.lineage import Lineage
from journal.analysis.progress import Progress
from journal.analysis.rollups import Rollup
from journal.analysis.statistics import MedianInterval
from journal.analysis.yields import BatchYield
from journal.export.derived import climate_about, climate_in, due_rows, life_of, timing_of
from journal.model import (
    Batch,
    Culture,
    Device,
    Entry,
    Exhaust,
    Find,
    Journal,
    Note,
    Photo,
    Position,
    Settings,
    Tent,
    TentEntry,
    When,
)
from journal.problems import Problem

Row = dict[str, Any]


def document(journal: Journal) -> Row:
    """One object of plain values that `json.dumps` takes, the same for the same journal.

    Masses are in g, lengths in m, temperatures in °C, shares 0-1, `…_pct` in %; what is unknown is None. A batch's
    `wet_g`, `dry_g` and `spawn_g` are the substrate (spawn) of one unit, that is of one block, bag, jar, log or bed:
    what was weighed in all is divided by `units`, the units inoculated, lost ones included. Dates are ISO 8601 as far
    as they are known (`2026-10`); one that is only about right has `date_is_about` true. A find's `species` and
    `certainty` are those of its latest identification.

    A batch's `be_percent` is on the units inoculated, `be_percent_lived` on those not lost; both are so far until
    `be_final`, and None until there is a harvest: no harvest yet does not mean that there will be none. A
    culture's `be_median` (of `be_percent`), its distribution-free `be_interval` of at least 95 % confidence (None: too
    few batches) and `lost_share` (of units inoculated) are over the finished batches grown from it by transfer alone.
    `days_to` counts whole days from `day_0`; what is `expected` lies between two days, both included; `basis` says
    what it is based on. What is `due` is late from the day after `to`.

    A tent's or batch's `in_range_share` is of all time with readings; it, `out_of_range_share` and `cannot_tell_share`
    (humidity nearer to an edge than the logger is accurate) make 1. A device's `days_in_use` are whole days from its
    `date` to `ended`, the day on which a note calls it dead or put away; both are None while it is in use.
    """
    found = Analysis(journal)
    lineage, progress, confirmed, doubts = found.lineage, found.progress, found.confirmed, found.doubtful
    by_tent = _by_tent(journal.tent_entries)
    return {
        "journal": _journal(journal.settings),
        "finds": [_find(find, found.identifications[find.id][-1], confirmed[find.id]) for find in journal.finds],
        "cultures": [
            _culture(row, lineage)
            | _standing(progress[row.id], confirmed[row.id], doubts.get(row.id))
            | _grown(found.rollups.cultures[row.id])
            for row in journal.cultures
        ],
        "batches": [
            _batch(row, lineage)
            | _standing(progress[row.id], confirmed[row.id], doubts.get(row.id))
            | _yield(found.yields[row.id])
            | timing_of(progress[row.id], found.expected.get(row.id))
            | climate_about(found.climate.batches[row.id])
            for row in journal.batches
        ],
        "notes": [_note(note) for note in journal.notes],
        "tents": [
            _tent(tent, by_tent.get(tent.id, []), journal) | climate_in(journal, found.climate.tents[tent.id])
            for tent in journal.settings.tents
        ],
        "devices": [_device(device) | life_of(found.power.lives[device.id]) for device in journal.devices],
        "photos": [_photo(photo) for photo in journal.photos],
        "due": due_rows(found.due),
        "problems": [_problem(problem) for problem in journal.problems],
    }


def _journal(settings: Settings) -> Row:
    return {
        "title": settings.title,
        "author": settings.author,
        "time_zone": settings.time_zone,
        "units": settings.units,
        "as_of": settings.as_of.isoformat() if settings.as_of else None,
    }


def _entry(entry: Entry) -> Row:
    return {
        "path": entry.path,
        "title": entry.title,
        "by": entry.by,
        **_date(entry.date),
        "private": entry.private,
        "next": [{"text": one.text, "date": one.date.isoformat() if one.date else None} for one in entry.next],
        "done": list(entry.done),
        "photos": [use.path for use in entry.photos],
    }


def _date(when: When) -> Row:
    return {"date": when.iso, "date_is_about": when.exact == "about"}


def _find(find: Find, now: Identification, confirmed: bool) -> Row:
    return {
        **_entry(find),
        "id": find.id,
        "species": now.species,
        "certainty": now.certainty,
        "identified_by": now.identified_by,
        "identity_confirmed": confirmed,
        "species_at_find": find.species,
        "certainty_at_find": find.certainty,
        "position": _position(find.position),
        "place": find.place,
        "habitat": find.habitat,
        "growing_on": find.growing_on,
        "host": find.host,
        "growth": find.growth,
        "smell": find.smell,
        "weather": find.weather,
        "elevation_m": find.elevation_m,
        "spore_print": find.spore_print,
        "specimen": find.specimen,
        "permission": find.permission,
        "locality": find.locality,
    }


def _position(position: Position | None) -> Row | None:
    if position is None:
        return None
    return {
        "lat": position.lat_deg,
        "lon": position.lon_deg,
        "uncertainty_m": position.uncertainty_m,
        "source": position.source,
    }


def _culture(culture: Culture, lineage: Lineage) -> Row:
    descent = lineage.descents[culture.id]
    return {
        **_entry(culture),
        "id": culture.id,
        "species": culture.species,
        "parents": [str(ref) for ref in culture.sources],
        "received_from": culture.received_from,
        "method": culture.method,
        "form": culture.form,
        "line": descent.line,
        "ancestors": list(lineage.ancestors_of(culture.id)),
        "transfers": descent.transfers,
        "steps_since_wild": descent.steps_since_wild,
        "spawn_generation": descent.spawn_generation,
        "vessels": culture.vessels,
        "medium": culture.medium,
        "treatment": culture.treatment,
        "master": culture.master,
        "kept": culture.kept,
    }


def _batch(batch: Batch, lineage: Lineage) -> Row:
    descent = lineage.descents[batch.id]
    return {
        **_entry(batch),
        "id": batch.id,
        "species": batch.species,
        "cultures": [str(ref) for ref in batch.cultures],
        "tent": batch.tent,
        "units": batch.units,
        "wet_g": batch.wet_g,
        "moisture_pct": batch.moisture_pct,
        "dry_g": batch.dry_g,
        "dry_from": batch.dry_from,
        "spawn_g": batch.spawn_g,
        "mix": [{"name": part.name, "mass_g": part.mass_g} for part in batch.mix],
        "substrate": batch.substrate,
        "container": batch.container,
        "treatment": batch.treatment,
        "line": descent.line,
        "ancestors": list(lineage.ancestors_of(batch.id)),
    }


def _standing(run: Progress, confirmed: bool, doubt: str | None) -> Row:
    """How things stand with a batch or culture by the notes about it."""
    return {
        "stage": run.stage,
        "tent_now": run.tent,
        "day_0": run.day0.isoformat() if run.day0 else None,
        "lost": run.lost,
        "harvest_g": run.harvest_g,
        "finished": run.finished,
        "over": run.is_over,
        "identity_confirmed": confirmed,
        "doubt_began_at": doubt,
    }


def _yield(crop: BatchYield) -> Row:
    """The yield of a batch: biological efficiency on units inoculated and on those not lost, and each flush."""
    be, be_lived = (None, None) if crop.is_unpicked else (crop.be, crop.be_lived)
    return {
        "be_percent": be.value if be else None,
        "be_percent_lived": be_lived.value if be_lived else None,
        "be_final": crop.final,
        "flushes": [
            {
                "number": flush.number,
                "harvest_g": flush.harvest_g,
                "first": _day(flush.first),
                "last": _day(flush.last),
            }
            for flush in crop.flushes
        ],
    }


def _day(when: When) -> str:
    """The day alone, or as much of it as is known."""
    return when.iso.partition("T")[0]


def _grown(grown: Rollup) -> Row:
    """What the finished batches grown from a culture come to; `batches_counted` of them have a BE."""
    return {
        "be_median": grown.be_median,
        "be_interval": _interval(grown.be_interval),
        "batches_counted": len(grown.counted),
        "lost_share": grown.lost_of_units.value if grown.lost_of_units else None,
    }


def _interval(interval: MedianInterval | None) -> Row | None:
    if interval is None:
        return None
    return {"low": interval.low, "high": interval.high, "confidence": interval.confidence}


def _note(note: Note) -> Row:
    return {
        **_entry(note),
        "about": [str(ref) for ref in note.about],
        "stage": note.stage,
        "harvest_g": note.harvest_g,
        "dried_g": note.dried_g,
        "flush": note.flush,
        "lost": note.lost,
        "cause": note.cause,
        "moved_to": note.moved_to,
        "species": note.species,
        "certainty": note.certainty,
        "identified_by": note.identified_by,
    }


def _by_tent(entries: Iterable[TentEntry]) -> Mapping[str, list[TentEntry]]:
    about: dict[str, list[TentEntry]] = defaultdict(list)
    for entry in entries:
        for id in entry.about:
            about[id].append(entry)
    return about


def _tent(tent: Tent, entries: list[TentEntry], journal: Journal) -> Row:
    return {
        "path": "journal.toml",
        "title": tent.name,
        "by": journal.settings.author,
        "date": None,
        "id": tent.id,
        "width_m": tent.width_m,
        "depth_m": tent.depth_m,
        "height_m": tent.height_m,
        "exhaust_m3_h": tent.exhaust_m3_h,
        "exhaust_flow_is": tent.exhaust_flow_is,
        "settings": [row for entry in entries if (row := _setting(entry))],
        "readings": [row for entry in entries if (row := _reading(entry))],
        "services": [_dated(entry) | {"serviced": list(entry.serviced)} for entry in entries if entry.serviced],
        "logger_rows": sum(len(log.stamps_s) for log in journal.logs if log.tent == tent.id),
    }


def _dated(entry: TentEntry) -> Row:
    return {**_date(entry.date), "path": entry.path, "by": entry.by}


def _setting(entry: TentEntry) -> Row | None:
    """What was set, or None where the entry sets nothing."""
    values = {
        "humidity_pct": entry.humidity_set_pct,
        "humidity_differential_pct": entry.humidity_differential_pct,
        "temperature_c": entry.temperature_set_c,
        "light_on_h": entry.light.on_h if entry.light else None,
        "light_k": entry.light_k,
        **_exhaust(entry.exhaust),
        "air_movement": entry.air_movement,
    }
    return _dated(entry) | values | {"why": entry.why} if any(value is not None for value in values.values()) else None


def _exhaust(exhaust: Exhaust | None) -> Row:
    return {
        "exhaust": exhaust.mode if exhaust else None,
        "exhaust_on_min": exhaust.on_min if exhaust else None,
        "exhaust_every_min": exhaust.every_min if exhaust else None,
    }


def _reading(entry: TentEntry) -> Row | None:
    """A manual reading, or None where nothing was read."""
    values = {
        "humidity_pct": entry.humidity_reading_pct,
        "temperature_c": entry.temperature_reading_c,
        "co2_ppm": entry.co2_ppm,
    }
    if all(value is None for value in values.values()):
        return None
    return _dated(entry) | values | {"door": entry.door, "source": "eye"}


def _device(device: Device) -> Row:
    return {
        **_entry(device),
        "id": device.id,
        "tent": device.tent or None,
        "does": device.does,
        "powered_by": device.powered_by,
        "controlled_by": device.controlled_by,
        "rated_for": device.rated_for,
        "price": device.price,
        "spare": device.spare,
    }


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
        "width": photo.width,
        "height": photo.height,
    }


def _problem(problem: Problem) -> Row:
    return {
        "path": problem.path,
        "line": problem.line or None,
        "severity": problem.severity,
        "message": problem.sentence,
        "fix": problem.fix,
    }
