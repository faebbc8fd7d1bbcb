"""UTM by Krüger's series."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Transformer

from journal.geo.grids import band_limits_deg, band_of, from_utm, to_utm, zone_of

lats = st.floats(-80, 84)
lons = st.floats(-180, 180)


@cache
def reference(epsg: int) -> Transformer:
    return Transformer.from_crs(4326, epsg, always_xy=True)


@given(lat=lats, lon=lons)
def test_utm_agrees_with_proj_to_a_micrometre(lat: float, lon: float) -> None:
    place = to_utm(lat, lon)
    expected = reference((32600 if place.north else 32700) + place.zone).transform(lon, lat)
    assert expected == pytest.approx((place.easting_m, place.northing_m), abs=1e-6)


@given(lat=lats, lon=lons, neighbour=st.sampled_from([-1, 0, 1]))
def test_utm_and_back_is_the_same_place_in_its_own_zone_and_the_next(lat: float, lon: float, neighbour: int) -> None:
    zone = (zone_of(lat, lon) - 1 + neighbour) % 60 + 1
    back_lat, back_lon = from_utm(to_utm(lat, lon, zone))
    assert lat == pytest.approx(back_lat, abs=1e-11)
    assert (back_lon - lon + 180) % 360 - 180 == pytest.approx(0, abs=1e-10)


@pytest.mark.parametrize("lat", [-80.001, 84.001, 90])
def test_utm_is_not_defined_at_the_poles(lat: float) -> None:
    with pytest.raises(ValueError, match="80° S to 84° N"):
        to_utm(lat, 0)


@pytest.mark.parametrize(
    ("zone", "lat", "lon"),
    [
        (31, 55.999, 5),  # the wide zone begins at 56° N
        (32, 56, 3),
        (32, 63.999, 11.999),
        (31, 64, 3),  # and ends at 64° N
        (32, 71.999, 10),  # Svalbard's begin at 72° N
        (31, 72, 8.999),
        (33, 72, 9),
        (35, 83, 21),
        (37, 84, 33),
        (38, 83, 42),
        (1, 0, 180),
        (60, 0, 179.999),
    ],
)
def test_zones_turn_at_the_edges_of_the_exceptions(zone: int, lat: float, lon: float) -> None:
    assert zone == zone_of(lat, lon)


@pytest.mark.parametrize(("band", "lat"), [("C", -80), ("M", -5e-324), ("N", 0), ("V", 58.3), ("X", 72), ("X", 84)])
def test_band_letter_is_that_of_the_latitude(band: str, lat: float) -> None:
    assert band == band_of(lat)
    south, north = band_limits_deg(band)
    assert south <= lat <= north
