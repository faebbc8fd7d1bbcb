"""Labels and photographs in lanes."""

from __future__ import annotations

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from journal.site.charts.timeline import Placed, PlacedPhotos, labels_in_lanes, place_photos, width_of

WIDTH = 328


def span_of(place: float, text: str, placed: Placed) -> tuple[float, float]:
    left = {"start": place, "end": place - width_of(text), "middle": place - width_of(text) / 2}[placed.anchor]
    return left, left + width_of(text)


def test_labels_far_apart_share_the_first_lane() -> None:
    assert [Placed(0, "start"), Placed(0, "start")] == labels_in_lanes([(0, "1 lost"), (200, "to Tent")], WIDTH, 2)


def test_a_label_at_the_right_edge_ends_at_its_place() -> None:
    assert [Placed(0, "end")] == labels_in_lanes([(320, "to Net loft")], WIDTH, 2)


def test_a_label_rather_ends_at_its_place_than_cover_the_next() -> None:
    assert [Placed(0, "end"), Placed(0, "start")] == labels_in_lanes([(80, "1 lost"), (110, "to Tent")], WIDTH, 2)


def test_a_label_with_no_room_is_left_to_the_table() -> None:
    words = "temperature 15 °C and more of it"
    assert None in labels_in_lanes([(100 + at, words) for at in range(4)], WIDTH, 2)


@given(st.lists(st.tuples(st.floats(0, WIDTH), st.text("abcdef ", min_size=1, max_size=20)), max_size=12))
def test_no_label_covers_another_and_none_leaves_the_drawing(rows: list[tuple[float, str]]) -> None:
    rows.sort()
    placed = labels_in_lanes(rows, WIDTH, 3)
    spans = [(p.lane, *span_of(x, text, p)) for (x, text), p in zip(rows, placed, strict=True) if p]
    for (lane, left, right), (other, start, end) in combinations(spans, 2):
        assert lane != other or right <= start or left >= end
    assert all(left >= -0.01 and right <= WIDTH + 0.01 for _, left, right in spans)


def test_photographs_of_one_day_hang_in_lanes_and_then_behind_the_nearest() -> None:
    assert [PlacedPhotos(0, 100, (0, 2)), PlacedPhotos(1, 100, (1,))] == place_photos([100, 100, 100], 56, WIDTH, 2)


def test_a_photograph_at_the_edge_hangs_inside() -> None:
    assert [28.0, 300.0] == [one.centre_px for one in place_photos([0, WIDTH], 56, WIDTH, 2)]


@given(st.lists(st.floats(0, WIDTH), max_size=60))
def test_every_photograph_hangs_once_and_none_covers_another(places: list[float]) -> None:
    hung = place_photos(sorted(places), 56, WIDTH, 2)
    assert list(range(len(places))) == sorted(member for one in hung for member in one.members)
    for one, other in combinations(hung, 2):
        assert one.lane != other.lane or abs(one.centre_px - other.centre_px) >= 56
