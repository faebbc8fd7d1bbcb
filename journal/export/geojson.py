"""Finds as GeoJSON. *Source:* RFC 7946 (2016)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from journal.export.occurrences import OccurrenceRecord, decimal
from journal.model import Position

_IN_THE_GEOMETRY = frozenset({"decimalLatitude", "decimalLongitude", "geodeticDatum"})
_NUMBERS = frozenset({
    "coordinateUncertaintyInMeters", "coordinatePrecision", "minimumElevationInMeters", "maximumElevationInMeters",
    "year", "month", "day",
})  # fmt: skip


def feature_collection(records: Sequence[OccurrenceRecord]) -> dict[str, Any]:
    """One feature a find, of plain values that `json.dumps` takes. Properties are the terms of Darwin Core. A find
    whose place is not given has no geometry (clause 3.2). There is no `crs`: the datum is WGS 84 (clause 4)."""
    return {"type": "FeatureCollection", "features": [_feature(record) for record in records]}


def _feature(record: OccurrenceRecord) -> dict[str, Any]:
    properties = {
        name: _number(words) if name in _NUMBERS else words
        for name, words in record.terms.items()
        if name not in _IN_THE_GEOMETRY
    }
    return {
        "type": "Feature",
        "id": record.find.id,
        "geometry": _point(record.position) if record.position else None,
        "properties": properties,
    }


def _number(words: str) -> int | float:
    return float(words) if "." in words else int(words)


def _point(position: Position) -> dict[str, Any]:
    """Longitude first (clause 3.1.1), 7 decimals or fewer (clause 11.2)."""
    return {"type": "Point", "coordinates": [float(decimal(position.lon_deg)), float(decimal(position.lat_deg))]}
