"""Names of cells, against published ones."""

from __future__ import annotations

import pytest

from journal.geo.coarsen import geohash_of, location_code_of


@pytest.mark.parametrize(
    ("code", "lat_deg", "lon_deg"),
    [
        ("u4pruydq", 57.64911, 10.40744),  # documentation of the Rust crate geohasher
        ("wtw3r9j", 31.16373922, 121.62585927),  # documentation of the Rust crate geohashrust
        ("wx4g09njdr6", 39.90882, 116.39750),  # documentation of the npm package geohash.js
    ],
)
def test_a_geohash_is_the_published_one(code: str, lat_deg: float, lon_deg: float) -> None:
    assert code == geohash_of(lat_deg, lon_deg, len(code))


@pytest.mark.parametrize(
    ("code", "lat_deg", "lon_deg", "grid_letters"),
    [
        # google/open-location-code, test_data/encoding.csv
        ("7FG49QCJ+2V", 20.3700625, 2.7821875, 0),
        ("7FG49QCJ+2VX", 20.3701125, 2.782234375, 1),
        ("7FG49QCJ+2VXGJ", 20.3701135, 2.78223535156, 3),
        ("8FVC2222+22", 47.0000625, 8.0000625, 0),
        ("4VCPPQGP+Q9", -41.2730625, 174.7859375, 0),
        ("22222222+22", -89.9999375, -179.9999375, 0),
        ("6FH32222+222", 1, 1, 1),
    ],
)
def test_a_location_code_is_the_published_one(code: str, lat_deg: float, lon_deg: float, grid_letters: int) -> None:
    assert code == location_code_of(lat_deg, lon_deg, grid_letters)
