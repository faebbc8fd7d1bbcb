"""Finds as GeoJSON, by the clauses of RFC 7946."""

from __future__ import annotations

import json
from typing import Any

import pytest

from journal.export.geojson import feature_collection
from journal.export.occurrences import RecordOptions, records_of
from journal.model import Find, Position
from tests.builders import find, journal_of


def collection(*finds: Find) -> dict[str, Any]:
    journal = journal_of(*finds)
    records = records_of(journal, journal, [row.id for row in journal.finds], RecordOptions(exact=True))
    made: dict[str, Any] = json.loads(json.dumps(feature_collection(records), allow_nan=False))
    return made


@pytest.mark.parametrize(
    "published",
    ['{"type": "Point", "coordinates": [102.0, 0.5]}', '{"type": "Point", "coordinates": [100.0, 0.0]}'],
    ids=["the example of clause 1.5", "appendix A.1"],
)
def test_a_place_is_written_as_the_examples_of_the_rfc_are(published: str) -> None:
    """Clauses 3.1.1 and 3.1.2: longitude, then latitude."""
    lon, lat = json.loads(published)["coordinates"]
    (feature,) = collection(find("F-1", position=Position(lat, lon, 8, "entry")))["features"]
    assert json.loads(published) == feature["geometry"]


def test_the_document_has_the_members_of_a_feature_collection_and_no_crs() -> None:
    """Clauses 3.2 and 3.3 (members, `id` of a feature), 4 (no `crs`), 7.1 (no members of other types)."""
    made = collection(find("F-1", position=Position(58.3, -8.9, 8, "entry")), find("F-2"))
    assert {"type", "features"} == made.keys()
    assert "FeatureCollection" == made["type"]
    assert [{"type", "id", "geometry", "properties"}] * 2 == [feature.keys() for feature in made["features"]]
    assert ["F-1", "F-2"] == [feature["id"] for feature in made["features"]]


def test_a_find_without_a_place_is_a_feature_without_a_geometry() -> None:
    """Clause 3.2: the geometry of what is not located is null."""
    (feature,) = collection(find("F-1"))["features"]
    assert feature["geometry"] is None
    assert "F-1" == feature["properties"]["recordNumber"]


def test_an_empty_journal_is_a_collection_of_no_features() -> None:
    assert {"type": "FeatureCollection", "features": []} == collection()


@pytest.mark.parametrize(
    ("lat", "lon"), [(0.0, 0.0), (90.0, 0.0), (-90.0, 0.0), (-16.5, 180.0), (-16.5, -180.0), (58.304120049, -8.9)]
)
def test_a_point_stays_where_it_is_to_a_centimetre(lat: float, lon: float) -> None:
    """Clause 4 (WGS 84), 11.2 (seven decimals are more than enough)."""
    (feature,) = collection(find("F-1", position=Position(lat, lon, 8, "entry")))["features"]
    assert [pytest.approx(lon, abs=1e-7), pytest.approx(lat, abs=1e-7)] == feature["geometry"]["coordinates"]
    assert [] == [text for number in feature["geometry"]["coordinates"] if len(text := f"{number!r}".split(".")[1]) > 7]


def test_numbers_are_numbers_and_numbers_in_words_stay_words() -> None:
    (feature,) = collection(find("7", position=Position(1, 1, 7.5, "entry"), elevation_m=3.5, smell="12"))["features"]
    properties = feature["properties"]
    assert (8, 3.5, 2026) == tuple(
        properties[name] for name in ("coordinateUncertaintyInMeters", "minimumElevationInMeters", "year")
    )
    assert ("7", "smell: 12") == (properties["recordNumber"], properties["occurrenceRemarks"])
