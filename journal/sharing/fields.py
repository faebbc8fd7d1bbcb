"""Which fields of the model pass into a share: an allow-list. What is not on it is gone."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from journal import model

Way = Literal["kept", "number", "words", "person", "made", "gone"]
"""How a field passes into a share.

kept: as it is: an ID that is shared, or one of a few fixed words. number: as it is, a number that tells no place and no
clock. words: what the keeper wrote, cleaned of all that is not shared. person: the same, where the share shows persons,
else not at all. made: made anew by `redaction`. gone: never.
"""

SAID = frozenset({"title", "text", "next", "done", "photos"})
"""What an entry says and shows beside its facts; a wordless one has nothing of it."""

_ENTRY: dict[str, Way] = {
    "path": "made", "date": "made", "title": "made", "by": "made", "private": "gone", "next": "made", "done": "made",
    "text": "made", "photos": "made", "lines": "made",
}  # fmt: skip

FIELDS: Mapping[type, Mapping[str, Way]] = MappingProxyType({
    model.Find: _ENTRY | {
        "id": "kept", "species": "words", "certainty": "kept", "identified_by": "made", "position": "made",
        "place": "gone", "habitat": "words", "growing_on": "words", "host": "words", "growth": "words",
        "smell": "words", "weather": "words", "elevation_m": "made", "spore_print": "words", "specimen": "words",
        "permission": "gone", "locality": "made",
    },
    model.Culture: _ENTRY | {
        "id": "kept", "sources": "made", "unknown_sources": "made", "unshared_sources": "made",
        "received_from": "person", "species": "words", "method": "kept", "form": "words", "medium": "words",
        "heat": "words", "vessels": "number", "transfers_before": "number", "master": "kept", "kept": "words",
    },
    model.Batch: _ENTRY | {
        "id": "kept", "cultures": "made", "unknown_sources": "made", "unshared_sources": "made", "species": "words",
        "substrate": "words", "container": "words", "units": "number", "mix": "made", "wet_g": "number",
        "moisture_pct": "number", "dry_g": "number", "dry_from": "kept", "heat": "words", "spawn_g": "number",
        "tent": "made", "sums_kept_back": "made", "told_from": "made",
        "wants_humidity_pct": "number", "wants_temperature_c": "number",
    },
    model.Note: _ENTRY | {
        "about": "made", "stage": "kept", "harvest_g": "made", "dried_g": "made", "flush": "number", "lost": "made",
        "cause": "words", "moved_to": "made", "species": "words", "certainty": "kept", "identified_by": "made",
    },
    model.TentEntry: _ENTRY | {
        "about": "made", "humidity_set_pct": "number", "humidity_differential_pct": "number",
        "temperature_set_c": "number", "light": "number", "light_k": "number", "exhaust": "number",
        "air_movement": "words", "humidity_reading_pct": "number", "temperature_reading_c": "number",
        "co2_ppm": "number", "door": "kept", "why": "words", "serviced": "made",
    },
    model.Device: _ENTRY | {
        "id": "kept", "tent": "made", "does": "words", "fed_by": "made", "switched_by": "made", "rated_for": "words",
        "price": "gone", "spare": "words",
    },
    model.Tent: {
        "id": "kept", "name": "words", "width_m": "number", "depth_m": "number", "height_m": "number",
        "floor": "words", "exhaust_m3_h": "number", "exhaust_flow_is": "kept", "humidity_pct": "number",
        "temperature_c": "number", "every": "made", "unshared": "made",
    },
    model.Photo: {
        "path": "made", "digest": "made", "taken": "made", "by_day": "made", "lat_deg": "gone", "lon_deg": "gone",
        "uncertainty_m": "gone", "track": "gone", "width": "number", "height": "number", "entries": "made",
    },
    model.LoggerFile: {
        "path": "made", "tent": "made", "stamps_s": "made", "temperature_c": "made", "humidity_pct": "made",
        "humidity_accuracy_pct": "number", "digest": "gone", "by_day": "made",
    },
    model.Settings: {
        "title": "made", "keeper": "made", "time_zone": "made", "units": "kept", "site_url": "gone",
        "poison_centre": "kept", "as_of": "kept", "ingredients": "made", "tents": "made", "climate": "gone",
        "shares": "gone",
    },
    model.Journal: {
        "settings": "made", "finds": "made", "cultures": "made", "batches": "made", "notes": "made",
        "tent_entries": "made", "devices": "made", "photos": "made", "logs": "made", "problems": "gone",
        "_link_openly": "gone",
    },
    model.When: {"written": "made", "first": "kept", "exact": "made", "moment": "made"},
    model.Position: {
        "lat_deg": "made", "lon_deg": "made", "uncertainty_m": "made", "source": "kept", "written": "gone",
        "grid_deg": "made",
    },
    model.Ref: {"id": "kept", "part": "number"},
    model.Band: {"low": "number", "high": "number"},
    model.MixPart: {"name": "words", "mass_g": "number"},
    model.LightHours: {"on_h": "number", "lit_from": "kept", "lit_to": "kept"},
    model.Exhaust: {"mode": "kept", "on_min": "number", "every_min": "number"},
    model.Next: {"text": "words", "date": "kept"},
    model.PhotoUse: {"path": "made", "caption": "words", "in_text": "kept"},
    model.Share: dict.fromkeys(("name", "about", "since", "positions", "area_deg", "times", "by", "locked"), "gone"),
    model.ClimateSource: dict.fromkeys(
        (
            "files", "tent", "time", "temperature", "humidity", "time_zone", "time_format", "temperature_unit",
            "humidity_accuracy_pct",
        ),
        "gone",
    ),
})  # fmt: skip
"""Every field of every kind of row in the model, with the way it passes. A test holds it against the model."""
