"""Recording on the phone: the page for it, its outbox, and the small files that they read: what the journal holds
(`record/data.json`, and its IDs by the time of their entries in `record/ids-2026-11.json`), and what came in from
phones, and what of that is no longer there (`record/receipts.json`).
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any

from journal.analysis.due import Due
from journal.analysis.limits import limit
from journal.analysis.plausibility import gone_since, wet_mass_g
from journal.analysis.progress import GROWING, Progress
from journal.geo import format
from journal.model import Batch, Culture, Device, Find, Journal, Position
from journal.reading.keys import STAGES
from journal.reading.receipts import Received
from journal.settings import Tent
from journal.site import addresses, wording
from journal.site.addresses import Named
from journal.site.pages.crop import unit_word
from journal.site.pages.lookup import Lookup
from journal.site.parts import in_parts
from journal.site.plan import Page

DATA = "record/data.json"
RECEIPTS = "record/receipts.json"

CAUSES = ("green mould", "cobweb", "black mould", "bacteria", "mites", "gnats", "dried out", "dropped", "unknown")
"""Usual causes of a loss: *common practice*."""

MOST_NAMES = 60
"""How many species, places and media are offered."""

SENT_LIMITS = ("humidity_pct", "temperature_c", "flush_over_wet_mass", "mass_without_unit_g")
"""The limits by which a phone asks again before it saves: those whose values it knows."""

DEVICE_SUFFIX = re.compile(r"-[A-Z][0-9][A-Z][0-9]$")
"""What a phone puts behind the number of an ID that it gives."""

_NUMBERED = re.compile(r"(.*?)(?<![0-9])([0-9]++)")
_NUMBERS = re.compile(r"[0-9]+")


def pages(lookup: Lookup) -> Iterator[Page]:
    if lookup.share is None:
        for endpoint, address, title in (
            ("record", addresses.RECORD, "Record"),
            ("outbox", addresses.OUTBOX, "Outbox"),
        ):
            context: dict[str, Any] = {"title": title, "place": None}
            yield Page(endpoint, (), address, f"record/{endpoint}.html", context, "main", growing=True)


def texts(lookup: Lookup, received: Iterable[Received]) -> tuple[tuple[str, str], ...]:
    """(path in the site, text) of these files."""
    receipts: dict[str, list[tuple[int, str, str | None]]] = {}
    gone: dict[str, list[str]] = {}
    for row in sorted(received, key=lambda row: (row.record, row.revision, row.digest)):
        if row.is_here:
            receipts.setdefault(row.record, []).append((row.revision, row.digest, row.id))
        else:
            gone.setdefault(row.record, []).append(row.digest)
    told = {"version": 1, "records": receipts, "gone": gone}
    known, parts = data(lookup)
    ids = ((ids_part(key), _as_json(part)) for key, part in parts.items())
    return (DATA, _as_json(known)), (RECEIPTS, _as_json(told)), *ids


def _as_json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")) + "\n"


def ids_part(key: str) -> str:
    """The file with the IDs of finds, cultures and batches of a time. key: as `in_parts` has it."""
    return f"record/ids-{key}.json"


def data(lookup: Lookup) -> tuple[dict[str, Any], dict[str, dict[str, Any]]]:
    """What a phone has to know of the journal to record: series, names to pick from, and IDs: those of tents and
    devices beside these, those of finds, cultures and batches by part, so that one new note changes few of them."""
    journal = lookup.journal
    always: tuple[Named, ...] = (*journal.devices, *journal.settings.tents)
    with_species: tuple[Find | Culture | Batch, ...] = (*journal.finds, *journal.cultures, *journal.batches)
    by_date = [(row.date.first, (row.id, _facts_kept(lookup, row))) for row in with_species]
    parts = {key: dict(rows) for key, rows in sorted(in_parts(by_date).items())}
    known = {
        "version": 1,
        "units": lookup.units,
        "ids": {row.id: _without_none(_facts(lookup, row)) for row in always},
        "parts": [*parts],
        "series": {kind: _series(kind, journal) for kind in ("find", "culture", "batch")},
        "species": _most_used(row.species for row in with_species),
        "places": _places(journal, lookup.units),
        "media": _most_used(culture.medium for culture in journal.cultures),
        "causes": [
            cause for cause in _most_used([*(note.cause for note in journal.notes), *CAUSES]) if cause in CAUSES
        ],
        "limits": {name: [limit(name).low, limit(name).high] for name in SENT_LIMITS},
        "growing": sorted(GROWING),
        "stages": {kind: list(STAGES[kind]) for kind in ("find", "culture", "batch")},
        "reserved": {id: kind for kind, id in journal.settings.labels.reserved if id.lower() not in journal.by_id},
    }
    return known, parts


def _without_none(facts: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in facts.items() if value is not None}


def _facts_kept(lookup: Lookup, row: Find | Culture | Batch) -> dict[str, Any]:
    return lookup.keep("facts for recording", row, lambda: _without_none(_facts(lookup, row)))


def _facts(lookup: Lookup, row: Named) -> dict[str, Any]:
    common: dict[str, Any] = {"address": addresses.page_of(row)}
    if isinstance(row, Tent):
        return common | {"kind": "tent", "title": row.name, "services": [service for service, _ in row.every]}
    if isinstance(row, Device):
        return common | {"kind": "device", "title": row.does, "tent": row.tent or None}
    common |= {"kind": row.kind, "species": row.species}
    if isinstance(row, Find):
        return common | {"place": row.place}
    run = lookup.analysis.progress[row.id]
    common |= {"stage": run.stage, "over": run.is_over or None, "gone": _gone(run)}
    if isinstance(row, Culture):
        origin = {"from": [ref.id for ref in row.sources] or None, "year": row.date.first.year}
        return common | {"form": row.form, "medium": row.medium, "vessels": row.vessels} | origin
    last = lookup.analysis.yields[row.id].flushes[-1:]
    return common | {
        "title": wording.joined([str(ref) for ref in row.cultures]) or None,
        "units": row.units,
        "unit": unit_word(row),
        "wet_g": round(wet_mass_g(row) or 0) or None,
        "tent": run.tent,
        "flush": last[0].number if last else None,
        "flush_date": last[0].last.first.isoformat() if last else None,
    }


def _gone(run: Progress) -> dict[str, str] | None:
    """`{"3": "2026-10-28"}`: the number of each part, or "" for the whole, and the day it was lost or discarded."""
    return {str(part or ""): day.isoformat() for part, day in gone_since(run).items()} or None


def _series(kind: str, journal: Journal) -> dict[str, Any] | None:
    """How the IDs of a kind go on after the latest: `{"stem": "F", "year": 2, "rest": "-", "width": 3, "last": 14}`.

    year: with how many digits the year of the entry is between stem and rest; 0 where it does not. last: the
    highest number in use with these. None where the latest ID ends in no number.
    """
    by_kind: dict[str, tuple[Find | Culture | Batch, ...]] = {
        "find": journal.finds, "culture": journal.cultures, "batch": journal.batches,
    }  # fmt: skip
    rows = by_kind[kind]
    found = _NUMBERED.fullmatch(DEVICE_SUFFIX.sub("", rows[-1].id)) if rows else None
    if found is None:
        return None
    stem, rest, year = found[1], "", 0
    of_entry = rows[-1].date.first.year
    for number in _NUMBERS.finditer(stem):
        if number[0] in (f"{of_entry}", f"{of_entry % 100:02}"):
            stem, rest, year = stem[: number.start()], stem[number.end() :], len(number[0])
            break
    numbers = [_NUMBERED.fullmatch(DEVICE_SUFFIX.sub("", row.id)) for row in rows]
    used = [int(one[2]) for one in numbers if one and one[1].lower() == found[1].lower()]
    return {"stem": stem, "year": year, "rest": rest, "width": len(found[2]), "last": max(used)}


def _most_used(names: Iterable[str | None]) -> list[str]:
    """Those names, the most used first; of equally used ones the one named first."""
    return [name for name, _ in Counter(name.strip("*_ ") for name in names if name).most_common(MOST_NAMES)]


def _places(journal: Journal, units: wording.Units) -> list[dict[str, Any]]:
    """Names of places, the latest first, each with the position last known there and how far it may be off. Names that
    differ in case or spaces alone are of one place, spelled as it was last."""
    names, where = dict[str, str](), dict[str, str]()
    for find in reversed(journal.finds):
        if place := " ".join((find.place or "").casefold().split()):
            names.setdefault(place, find.place or "")
            if find.position:
                where.setdefault(place, _where(find.position, units))
    return [{"name": name, "where": where.get(place)} for place, name in [*names.items()][:MOST_NAMES]]


def _where(position: Position, units: wording.Units) -> str:
    """As `where` of a find takes it: `58.30412, -8.90177 ±8 m`."""
    around = f" ±{wording.radius(position.uncertainty_m, units)}" if position.uncertainty_m else ""
    return f"{format.degrees_of(position)}{around}"


def ticked_off_by(row: Due, journal: Journal) -> dict[str, Any] | None:
    """`{"kind": "note", "about": IDs, "key": "done", "value": text}`: an entry that closes this; None where none can.
    kind: "tent" for what is due in tents alone, as notes are not about them."""
    key, value = {"next": ("done", row.what), "service": ("serviced", row.what), "renewal": ("done", "renewed")}.get(
        row.basis, (None, "")
    )
    kind = "tent" if {*row.about} <= {tent.id for tent in journal.settings.tents} else "note"
    return {"kind": kind, "about": list(row.about), "key": key, "value": value} if key else None
