"""A position written in several notations reads back to itself."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from journal.geo.format import degrees_of, dms_of, geo_uri_of, iso6709_of, mgrs_of, utm_of
from journal.geo.parse import distance_m, parse_position
from journal.model import Position

LOG = Position(58.30412, -8.90177, 8.0, "entry")


@pytest.mark.parametrize(
    ("text", "write"),
    [
        ("58.30412, -8.90177", degrees_of),
        ("58°18′14.8″N 8°54′06.4″W", dms_of),
        ("+58.30412-008.90177/", iso6709_of),
        ("geo:58.30412,-8.90177;u=8", geo_uri_of),
        # easting 505756.99, northing 6462573.79 by pyproj 3.7 (EPSG:32629); grids name the square, so never round
        ("29V 505756 6462573", utm_of),
        ("29V NE 0575 6257", mgrs_of),
    ],
)
def test_position_is_written_with_the_digits_its_uncertainty_is_worth(
    text: str, write: Callable[[Position], str]
) -> None:
    assert text == write(LOG)


@pytest.mark.parametrize(
    ("uncertainty_m", "degrees", "dms", "mgrs"),
    [
        (None, "58.30412, -8.90177", "58°18′14.83″N 8°54′06.37″W", "29V NE 05756 62573"),
        (0.2, "58.304120, -8.901770", "58°18′14.832″N 8°54′06.372″W", "29V NE 05756 62573"),
        (150, "58.304, -8.902", "58°18′15″N 8°54′06″W", "29V NE 057 625"),
        (5000, "58.30, -8.90", "58°18′N 8°54′W", "29V NE 05 62"),
        (200_000, "58, -9", "58°18′N 8°54′W", "29V NE"),
    ],
)
def test_coarser_positions_are_written_with_fewer_digits(
    uncertainty_m: float | None, degrees: str, dms: str, mgrs: str
) -> None:
    place = Position(58.30412, -8.90177, uncertainty_m, "entry")
    assert (degrees, dms, mgrs) == (degrees_of(place), dms_of(place), mgrs_of(place))


@pytest.mark.parametrize(
    ("u", "uncertainty_m"), [(";u=8.1", 8.01), (";u=0.1", 0.01), (";u=1000000", 1e6), ("", None), (";u=12.3", 12.3)]
)
def test_uncertainty_in_a_geo_uri_is_rounded_up_and_left_out_where_unknown(u: str, uncertainty_m: float | None) -> None:
    assert geo_uri_of(Position(58.0, -8.0, uncertainty_m, "photo")).endswith(u or "-8.00000")


def test_utm_a_hair_south_of_the_equator_stays_under_ten_million() -> None:
    assert utm_of(Position(-5e-324, 0, 8.0, "entry")) == "31M 166021 9999999"


def test_utm_is_not_written_at_the_poles() -> None:
    assert utm_of(Position(84.5, 10, 8.0, "entry")) is None
    assert mgrs_of(Position(90, 0, 8.0, "entry")).startswith("Z")


def test_nothing_is_written_as_minus_nought() -> None:
    place = Position(-0.0000001, -0.0000001, 100.0, "entry")
    assert degrees_of(place) == "0.0000, 0.0000"
    assert iso6709_of(place) == "+00.0000+000.0000/"
    assert dms_of(place) == "0°00′00″N 0°00′00″E"


@pytest.mark.parametrize("lat", [-1e-6, -1e-7, -1.6e-9, -1e-12, -5e-324])
def test_mgrs_names_the_square_south_of_the_equator_as_long_as_the_place_lies_there(lat: float) -> None:
    # the square that mgrs 1.6.0 names a metre further south, and one metre north of it
    assert mgrs_of(Position(lat, 0, 0.8, "entry")) == "31M AV 66021 99999"


EDGES = [-90, -80, -72, -8, 0, 8, 56, 64, 72, 84, 90]
MERIDIANS = [-180, -6, 0, 3, 6, 9, 12, 21, 33, 42, 180]
HAIRS = [0, 1e-12, -1e-12, 1.6e-9, -1.6e-9, 1e-6, -1e-6]


@pytest.mark.parametrize("uncertainty_m", [None, 0.8, 7.2, 72, 800, 8000])
def test_mgrs_reads_back_at_the_edges_of_zones_and_bands_and_at_the_poles(uncertainty_m: float | None) -> None:
    """A hair beside them in one direction, or as far in both; the property below tries any two."""
    beside = [(north, east) for north, east in product(HAIRS, HAIRS) if not (north and east) or abs(north) == abs(east)]
    for edge, meridian, (north, east) in product(EDGES, MERIDIANS, beside):
        lat, lon = max(-90, min(90, edge + north)), max(-180, min(180, meridian + east))
        place = parse_position(mgrs_of(Position(lat, lon, uncertainty_m, "entry")))
        assert place.uncertainty_m is not None
        assert distance_m(lat, lon, place.lat_deg, place.lon_deg) <= 1.002 * place.uncertainty_m


WRITERS = [degrees_of, dms_of, iso6709_of, geo_uri_of, utm_of, mgrs_of]
"""All notations that a position is shown in."""


def near(edges: list[int], most: int) -> st.SearchStrategy[float]:
    """Any angle, and as often one at an edge of a zone or band, at a pole or at the antimeridian, or a hair beside."""
    beside = st.builds(
        lambda edge, hair: max(-most, min(most, edge + hair)), st.sampled_from(edges), st.sampled_from(HAIRS)
    )
    return st.floats(-most, most) | beside


@pytest.mark.parametrize("write", WRITERS)
@example(lat=-1.6e-9, lon=0.0, uncertainty_m=0.8)
@example(lat=-5e-324, lon=0.0, uncertainty_m=0.8)
@example(lat=90.0, lon=180.0, uncertainty_m=8.0)
@example(lat=-90.0, lon=-180.0, uncertainty_m=5000.0)
@given(lat=near(EDGES, 90), lon=near(MERIDIANS, 180), uncertainty_m=st.floats(0.8, 5000))
def test_what_is_written_reads_back_to_within_its_uncertainty(
    write: Callable[[Position], str | None], lat: float, lon: float, uncertainty_m: float
) -> None:
    written = write(Position(lat, lon, uncertainty_m, "entry"))
    assert (written is None) is (write is utm_of and not -80 <= lat <= 84)
    if written is not None:
        place = parse_position(written)
        assert distance_m(lat, lon, place.lat_deg, place.lon_deg) <= 1.002 * uncertainty_m
