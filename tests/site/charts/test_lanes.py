"""Labels and photographs in lanes."""

from __future__ import annotations

import re
from itertools import combinations, pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.reading.keys import STAGES
from journal.site.charts.axis_labels import AxisLabel, PlacedLabel, place_labels, width_of
from journal.site.charts.timeline import PlacedPhotos, place_photos, tones

WIDTH = 328


def lay(rows: list[tuple[float, str]], most_lanes: int = 99, must: bool = False) -> list[PlacedLabel]:
    labels = [AxisLabel(place / WIDTH, text, must=must) for place, text in rows]
    return place_labels(labels, [tuple(text.split("|")) for _, text in rows], WIDTH, most_lanes)


def test_labels_far_apart_share_the_first_lane() -> None:
    assert [(0, 0), (0, 0)] == [(one.lane, one.shift_px) for one in lay([(0, "1 lost"), (200, "to Tent")])]


def test_a_label_at_the_right_edge_begins_further_left_and_its_line_goes_straight_into_it() -> None:
    (one,) = lay([(320, "to Net loft")])
    assert (0, True) == (one.lane, one.straight)
    assert WIDTH == pytest.approx(320 + one.shift_px + 3 + width_of("to Net loft"), abs=1)


def test_of_two_labels_too_near_each_other_the_left_one_lies_deeper() -> None:
    assert [1, 0] == [one.lane for one in lay([(80, "1 lost"), (110, "to Tent")])]


def test_what_lies_too_deep_is_left_to_the_table_unless_it_must_be_shown() -> None:
    rows = [(100.0 + at, "temperature 15 °C") for at in range(4)]
    assert [2, 3] == [one.at for one in lay(rows, most_lanes=2)]
    assert [0, 1, 2, 3] == [one.at for one in lay(rows, most_lanes=2, must=True)]


@given(st.lists(st.tuples(st.floats(0, WIDTH), st.text("abcdef |", min_size=1, max_size=24)), max_size=14))
def test_no_label_is_on_another_or_on_a_line_to_one_and_none_leaves_the_drawing(
    rows: list[tuple[float, str]],
) -> None:
    rows.sort()
    placed = lay(rows, must=True)
    assert list(range(len(rows))) == [one.at for one in placed]
    boxes = []
    for one in placed:
        line_px = rows[one.at][0] + one.shift_px
        right_px = line_px + max(width_of(text) for text in one.lines)
        assert -1 <= line_px <= right_px <= WIDTH + 1
        boxes.append((one.lane, one.depth, line_px, right_px))
    for (lane, depth, left, right), (lane2, depth2, left2, right2) in combinations(boxes, 2):
        assert depth <= lane2 or depth2 <= lane or right <= left2 or right2 <= left
        assert depth > lane2 or not left + 1 < left2 < right  # the line to a deeper label passes beside
        assert depth2 > lane or not left2 + 1 < left < right2


@given(st.lists(st.sampled_from(STAGES["batch"]), max_size=12), st.booleans())
def test_neighbouring_stages_never_have_the_same_tone(stages: list[str], goes_on: bool) -> None:
    found = tones(stages, before_expected=goes_on)
    assert all(tone != after for tone, after in pairwise(found))
    assert not (goes_on and found and found[-1] == 0)


def luminance(colour: str) -> float:
    """*Source:* WCAG 2.2, relative luminance."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted(map(luminance, (one, other)))
    return (high + 0.05) / (low + 0.05)


CSS = Path(__file__).parents[3] / "static" / "css"
THEMES = [
    dict(re.findall(r"--([\w-]+): (#\w{6});", block))
    for block in re.findall(r"\{([^{}]*--paper: #[^{}]*)\}", (CSS / "tokens.css").read_text(encoding="utf-8"))
]


@pytest.mark.parametrize("theme", THEMES, ids=["light", "dark", "dark without scripts"])
def test_colours_that_carry_meaning_can_be_told_apart(theme: dict[str, str]) -> None:
    assert all(contrast(theme[f"tone-{a}"], theme[f"tone-{b}"]) >= 1.6 for a, b in ((0, 1), (1, 2), (0, 2)))
    assert all(contrast(theme["rust"], theme[ground]) >= 7 for ground in ("paper", "card", "warm", "cream", "band"))
    assert all(contrast(theme["soft"], theme[ground]) >= 7 for ground in ("paper", "card", "warm", "band"))
    assert contrast(theme["edge"], theme["band"]) >= 2.5  # the lines along the wanted range


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
