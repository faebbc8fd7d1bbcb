"""Sketch maps: to scale, with everything that was given on them, wherever on the Earth that is."""

from __future__ import annotations

import re
from itertools import combinations, pairwise
from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.geo.flat_map import FlatMap
from journal.geo.parse import distance_m
from journal.model import Position
from journal.site.charts.graticule import ASPECT, PHONE_PX
from journal.site.charts.sketch_map import (
    APART_PX,
    WIDTHS_PX,
    MapPoint,
    SketchMap,
    clustered,
    round_below,
    sketch_map,
    spread_words,
)
from tests.builders import examples


def point(
    id: str, lat: float, lon: float, within_m: float | None = 8.0, place: str | None = None, grid: float | None = None
) -> MapPoint:
    position = Position(lat, lon, within_m, "entry", grid_deg=grid)
    return MapPoint(position, id, f"finds/{id.lower()}/index.html", f"velvet foot {id}", place)


def drawn(*points: MapPoint, **more: object) -> SketchMap:
    made = sketch_map("Finds", points, **more)  # type: ignore[arg-type]
    assert made is not None
    return made


def view_of(made: SketchMap) -> tuple[float, float, float, float]:
    left, top, width, height = map(float, made.view.split())
    return left, top, width, height


FAR = [(58.3, -8.9), (0.0, 0.0), (-17.5, 179.9999), (89.9995, 40.0), (-90.0, 0.0)]


@pytest.mark.parametrize(("lat", "lon"), FAR)
def test_two_points_lie_apart_as_they_do_on_the_earth(lat: float, lon: float) -> None:
    other = FlatMap(lat, lon).place(700, 400)
    made = drawn(point("A", lat, lon), point("B", *other))
    places = [tuple(map(float, one.data.split()[:2])) for one in made.points]
    away_m = distance_m(lat, lon, *other)
    # reference library: geographiclib; places are written to 0.1 m
    assert away_m == pytest.approx(hypot(places[0][0] - places[1][0], places[0][1] - places[1][1]), abs=0.15)
    left, top, width, height = view_of(made)
    assert ASPECT == pytest.approx(width / height, rel=0.001)
    for x, y in places:
        assert left < x < left + width
        assert top < y < top + height


def test_north_is_up_and_east_is_right() -> None:
    made = drawn(point("A", 58.3, -8.9), point("B", 58.31, -8.88))
    a, b = ([float(part.rstrip("%")) for part in (mark.x, mark.y)] for mark in made.marks)
    assert a[0] < b[0]
    assert a[1] > b[1]


def test_a_lone_point_fills_the_map_with_its_circle_and_has_room() -> None:
    made = drawn(point("A", 58.3, -8.9, 500))
    assert [("0", "0", "500")] == list(made.circles)
    assert view_of(made)[3] > 1000
    assert view_of(drawn(point("A", 58.3, -8.9, None)))[2] >= 60


def test_an_uncertain_point_does_not_shrink_the_others_to_a_dot() -> None:
    made = drawn(point("A", 58.3, -8.9), point("B", 58.302, -8.9), point("C", 58.301, -8.9, 40_000))
    assert view_of(made)[2] < 1500
    assert "40000" in [circle[2] for circle in made.circles]


def test_points_that_would_lie_on_each_other_are_one_mark_with_their_number() -> None:
    near = [point(f"N-{at}", 58.3 + at * 1e-6, -8.9) for at in range(12)]
    made = drawn(*near, point("A", 58.32, -8.9))
    assert [12, 1] == [mark.count for mark in made.marks]
    assert "12 close together: N-0, N-1, N-2, N-3, N-4, N-5, N-6, N-7 and 4 more" == made.marks[0].words
    assert 13 == len(made.points)


@examples(40)
@given(
    st.lists(st.tuples(st.floats(-1000, 1000), st.floats(-1000, 1000)), min_size=1, max_size=60), st.floats(1.0, 500.0)
)
def test_every_point_is_in_one_cluster_around_a_point_of_its_own(
    places: list[tuple[float, float]], apart_m: float
) -> None:
    groups = clustered(places, apart_m)
    assert list(range(len(places))) == sorted(at for group in groups for at in group)
    firsts = []
    for group in groups:
        first = next(
            at
            for at in group
            if all(hypot(places[at][0] - places[i][0], places[at][1] - places[i][1]) < apart_m for i in group)
        )
        firsts.append(places[first])
    for at, a in enumerate(groups):
        for b in groups[at + 1 :]:  # the first of the earlier group took all that lay near it
            assert any(hypot(places[i][0] - places[j][0], places[i][1] - places[j][1]) >= apart_m for i in a for j in b)


@pytest.mark.parametrize(
    ("length_m", "units", "expected"),
    [(730, "metric", 500), (1999, "metric", 1000), (2000, "metric", 2000), (0.9, "metric", 0.5), (61, "us", 60.96),
     (5000, "us", 2 * 1609.344), (1609.344, "us", 1609.344), (1600, "us", 5000 * 0.3048)],
)  # fmt: skip
def test_the_scale_bar_is_the_longest_round_length_that_fits(length_m: float, units: str, expected: float) -> None:
    # the international foot is 0.3048 m and the mile 5280 of them (NIST SP 811, 2008, appendix B)
    assert expected == pytest.approx(round_below(length_m, units))  # type: ignore[arg-type]


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    made = drawn(point("A", 58.3, -8.9), point("B", 58.31, -8.88))
    length_pct = float(made.scale[0].rstrip("%")) - 3
    assert "500 m" == made.scale[1]
    assert 500 == pytest.approx(length_pct / 100 * view_of(made)[2], rel=0.001)


@pytest.mark.parametrize("us", [True, False])
def test_lengths_are_in_the_units_of_the_journal(us: bool) -> None:
    made = drawn(point("A", 58.3, -8.9), units="us" if us else "metric")
    assert ("± 27 ft" if us else "± 8 m") in made.points[0].words
    assert ("ft" in made.scale[1]) is us


def test_what_is_not_known_is_said() -> None:
    assert "uncertainty not known" == spread_words(Position(1, 2, None, "track"), "metric")
    assert "within 13 km" == spread_words(Position(58.3, -8.9, 13_000, "entry", grid_deg=0.1), "metric")
    assert "within 12.4 km" == spread_words(Position(58.3, -8.9, 12_310, "entry", grid_deg=0.1), "metric")
    made = drawn(point("A", 58.3, -8.9, 13_000, grid=0.1))
    assert made.marks[0].is_area
    assert made.points[0].data.endswith(" area")


def numbers(made: SketchMap) -> list[str]:
    return [one.words for one in made.degrees]


def test_the_graticule_runs_through_round_degrees() -> None:
    made = drawn(point("A", 58.296, -8.94), point("B", 58.312, -8.88))
    assert ["58.29°", "58.30°", "58.31°", "58.32°"] == numbers(made)[:4]
    assert ["−8.94°", "−8.92°", "−8.90°", "−8.88°"] == numbers(made)[4:]
    level = next(one for one in made.degrees if one.words == "58.30°")
    _, top, _, height = view_of(made)
    centre = FlatMap(*map(float, made.centre.split()))
    expected = (-centre.metres(58.30, centre.lon_deg)[1] - top) / height * 100
    assert expected == pytest.approx(float(level.y.rstrip("%")), abs=0.5)


def test_the_graticule_counts_on_across_the_antimeridian() -> None:
    found = numbers(drawn(point("A", 0, 179.999), point("B", 0, -179.995)))
    assert {"180.000°", "−179.998°", "−179.996°", "0.000°"} <= set(found)


def test_the_graticule_goes_round_a_pole() -> None:
    made = drawn(point("A", 90, 0), point("B", 89.9, 179))
    meridians = [one for one in numbers(made) if abs(float(one.rstrip("°").replace("−", "-"))) > 91]
    assert len(meridians) == len(set(meridians)) >= 3
    ends = [tuple(map(float, line.split("L")[-1].split())) for line in made.graticule.split("M")[1:]]
    pole = tuple(map(float, made.points[0].data.split()[:2]))
    assert 10 < sum(hypot(x - pole[0], y - pole[1]) < 15 for x, y in ends), "meridians meet at the pole"


def test_a_map_of_the_whole_earth_has_no_graticule() -> None:
    assert "" == drawn(point("A", 10, 0), point("B", -40, 170)).graticule


def test_tracks_are_drawn_where_they_are_near_and_thinned_where_they_are_many() -> None:
    points = point("A", 58.300, -8.9), point("B", 58.305, -8.9)
    near = [(58.300 + at * 1e-6, -8.9) for at in range(5000)]
    far = [(40.0, 3.0), (40.001, 3.0)]
    assert "" == drawn(*points, tracks=[far]).tracks
    path = drawn(*points, tracks=[near, far, near[:1]]).tracks
    assert 1 == path.count("M")
    assert 500 < path.count("L") < 2500
    steps = [tuple(map(float, part.split())) for part in re.split("[ML]", path)[1:]]
    assert 555 == pytest.approx(sum(hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(steps)), abs=5)


def boxes_of(made: SketchMap, width: float) -> list[tuple[float, float, float, float]]:
    """Of the names that are shown, and of the marks, in px of a map of this width."""
    height = width / ASPECT

    def at(x: str, y: str) -> tuple[float, float]:
        return float(x.rstrip("%")) / 100 * width, float(y.rstrip("%")) / 100 * height

    found = []
    for one in made.names:
        x, y = at(one.x, one.y)
        if one.shown:
            found.append((x + one.dx - one.half, y + one.dy - 12, x + one.dx + one.half, y + one.dy + 4))
    for mark in made.marks:
        x, y = at(mark.x, mark.y)
        found.append((x - 14, y - 14, x + 14, y + 14))
    return found


@pytest.mark.parametrize("width", WIDTHS_PX)
def test_names_stand_where_there_is_room_and_none_over_a_mark_or_another(width: float) -> None:
    made = drawn(
        point("A", 58.300, -8.9, place="Alder Bank"),
        point("B", 58.3001, -8.9, place="Alder Bank"),
        point("C", 58.3001, -8.9001, place="Heron Slip"),
        point("D", 58.33, -8.9, place="Far Stell"),
    )
    assert {"Alder Bank", "Heron Slip", "Far Stell"} == {one.words for one in made.names if one.shown}
    boxes = boxes_of(made, width)
    assert all(left >= 0 and top >= 0 and right <= width and foot <= width / ASPECT for left, top, right, foot in boxes)
    for (left, top, right, foot), (left2, top2, right2, foot2) in combinations(boxes, 2):
        assert right <= left2 or right2 <= left or foot <= top2 or foot2 <= top


def test_a_name_for_which_there_is_no_room_is_not_shown() -> None:
    long = "a spot with a name that is much longer than a map on a phone is wide"
    made = drawn(point("A", 58.3, -8.9, place=long), point("B", 58.33, -8.9, place="Far Stell"))
    assert {long: False, "Far Stell": True} == {one.words: one.shown for one in made.names}


def test_no_name_is_on_a_track() -> None:
    track = [(58.28 + at * 0.001, -8.95 + at * 0.002) for at in range(60)]
    made = drawn(
        point("A", 58.3, -8.91, place="Alder Bank"), point("B", 58.33, -8.85, place="Far Stell"), tracks=[track]
    )
    left, top, width, height = map(float, made.view.split())
    lines = [[tuple(map(float, one.split())) for one in part.split("L")] for part in made.tracks.split("M")[1:]]
    for wide in WIDTHS_PX:
        names = boxes_of(made, wide)[: sum(one.shown for one in made.names)]
        assert names
        for before, after in (pair for line in lines for pair in pairwise(line)):
            for step in range(51):
                x = (before[0] + (after[0] - before[0]) * step / 50 - left) / width * wide
                y = (before[1] + (after[1] - before[1]) * step / 50 - top) / height * wide / ASPECT
                assert not any(box[0] <= x <= box[2] and box[1] <= y <= box[3] for box in names)


def test_no_points_no_map() -> None:
    assert sketch_map("Finds", ()) is None
    assert APART_PX < PHONE_PX
