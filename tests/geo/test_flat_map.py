"""The flat map about a centre, against the geodesic library and PROJ's azimuthal equidistant projection."""

from __future__ import annotations

from math import cos, hypot, radians, sin

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from pyproj import Proj

from journal.geo.flat_map import FlatMap, fit_of, flat_map_of

CENTRES = [(0.0, 0.0), (58.3, -8.9), (-37.95, 179.9999), (78.2, 15.6), (90.0, 0.0), (-90.0, 12.0), (-89.9999, -180.0)]
# Distance from the centre, and how far off a point there may lie.
WITHIN = [(10.0, 1e-6), (1_000.0, 1e-5), (10_000.0, 1e-3), (100_000.0, 0.02), (1_000_000.0, 14.0), (15e6, 150e3)]


@pytest.mark.parametrize(("away_m", "within_m"), WITHIN)
@pytest.mark.parametrize("centre", CENTRES, ids=str)
def test_a_place_is_in_its_true_direction_at_its_true_distance(
    centre: tuple[float, float], away_m: float, within_m: float
) -> None:
    flat = FlatMap(*centre)
    for bearing in range(0, 360, 30):
        # reference library: C. F. F. Karney, geographiclib
        place = Geodesic.WGS84.Direct(*centre, bearing, away_m)
        east_m, north_m = flat.metres(place["lat2"], place["lon2"])
        expected = (away_m * sin(radians(bearing)), away_m * cos(radians(bearing)))
        assert hypot(east_m - expected[0], north_m - expected[1]) <= within_m


@pytest.mark.parametrize("centre", [centre for centre in CENTRES if abs(centre[0]) < 89], ids=str)
def test_it_is_the_azimuthal_equidistant_projection_of_proj(centre: tuple[float, float]) -> None:
    # reference library: PROJ by pyproj, +proj=aeqd on WGS 84
    proj = Proj(proj="aeqd", lat_0=centre[0], lon_0=centre[1], ellps="WGS84")
    for lat, lon in ((centre[0] + 0.31, centre[1] - 0.4), (centre[0] - 0.02, centre[1] + 0.7)):
        assert proj(lon, lat) == pytest.approx(FlatMap(*centre).metres(lat, lon), abs=0.03)


@pytest.mark.parametrize("centre", CENTRES, ids=str)
def test_a_point_leads_back_to_its_place(centre: tuple[float, float]) -> None:
    flat = FlatMap(*centre)
    for point in ((250.0, 90.0), (-30_000.0, 4_000.0), (0.0, -500.0)):
        # by the sphere: within 0.5 % of the way
        assert point == pytest.approx(flat.metres(*flat.place(*point)), abs=0.005 * hypot(*point))
    assert centre == flat.place(0, 0)


@pytest.mark.parametrize(
    ("places", "middle"),
    [
        ([(0.0, 179.9), (0.0, -179.7)], (0.0, -179.9)),
        ([(89.0, 0.0), (89.0, 180.0)], (90.0, None)),
        ([(58.3, -8.9)], (58.3, -8.9)),
        ([(0.0, 0.0), (0.0, 180.0)], (0.0, 0.0)),  # no middle: the first of them
    ],
)
def test_the_middle_of_places_is_across_the_antimeridian_and_over_the_pole(
    places: list[tuple[float, float]], middle: tuple[float, float | None]
) -> None:
    flat = flat_map_of(places)
    assert middle[0] == pytest.approx(flat.lat_deg)
    assert middle[1] is None or middle[1] == pytest.approx(flat.lon_deg)


def test_the_opposite_of_the_centre_is_half_the_way_round() -> None:
    assert FlatMap(90, 0).metres(-90, 0) == pytest.approx((0, -20_090_000), rel=0.001)


@pytest.mark.parametrize("noise_px", [0.0, 7.0])
def test_a_picture_is_fitted_as_by_the_least_squares_of_numpy(noise_px: float) -> None:
    flat = FlatMap(58.3, -8.9)
    chance = np.random.default_rng(7)
    pixels = chance.uniform(0, 1000, (9, 2))
    grounds = pixels @ [[0.9, -0.3], [0.25, 1.1]] + [-400, 250] + noise_px * chance.normal(size=(9, 2))
    places = [flat.place(x, -y) for x, y in grounds]
    fit = fit_of(flat, [(*pixel, *place) for pixel, place in zip(pixels, places, strict=True)])
    assert fit is not None
    # reference library: numpy.linalg.lstsq, on the ground as the flat map has it
    there = np.array([flat.metres(*place) for place in places]) * [1, -1]
    system = np.column_stack([pixels, np.ones(9)])
    found, *_ = np.linalg.lstsq(system, there, rcond=None)
    assert found.reshape(-1) == pytest.approx(fit.matrix, rel=1e-6)
    missed = np.sqrt(np.mean(np.sum((system @ found - there) ** 2, axis=1)))
    assert missed == pytest.approx(fit.residual_m, abs=1e-6)
    assert (fit.residual_m > 1) is (noise_px > 0)


@pytest.mark.parametrize(
    "pixels",
    [[(0, 0), (10, 10)], [(0, 0), (10, 10), (20, 20)], [(0, 0), (0, 0), (50, 50)], [(0, 0), (1000, 0), (500, 3)]],
)
def test_points_on_one_line_or_too_few_place_no_picture(pixels: list[tuple[float, float]]) -> None:
    places = [(58.3, -8.9), (58.31, -8.9), (58.3, -8.88)]
    assert fit_of(FlatMap(58.3, -8.9), [(*pixel, *place) for pixel, place in zip(pixels, places, strict=False)]) is None
    square = [(0.0, 0.0, 58.3, -8.9), (9.0, 0.0, 58.31, -8.9), (0.0, 9.0, 58.32, -8.9)]
    assert fit_of(FlatMap(58.3, -8.9), square) is None, "nor on one line on the ground"
