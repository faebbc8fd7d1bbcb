"""Making places coarse, against published rows; each row of occurrence.json names its kind and source."""

from __future__ import annotations

import io
import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.geo.coarsen import cell_of, shown
from journal.model import Journal, Photo, PhotoUse, Position
from journal.reading.settings_file import read_settings
from journal.settings import Share
from journal.sharing.redact import redaction_of
from journal.site.images import render
from tests.builders import find, journal_of, some


def redacted(journal: Journal, share: Share) -> Journal:
    return redaction_of(journal, share).journal


ROWS = json.loads((Path(__file__).parent / "occurrence.json").read_text(encoding="utf-8"))["rows"]
Row = dict[str, Any]

GROUPS = {
    "category": r"gen-cat-\d",
    "rounded": r"gen-round-\d",
    "uncertainty": r"unc-gen-\d",
    "no noise": r"gen-random",
    "not blank": r"gen-blank",
    "documented": r"gen-document",
    "not derived": r"gen-derive",
    "bare photo": r"gen-photo",
}


def rows(group: str) -> Any:
    """The rows of a group, as a table for one test."""
    found = [row for row in ROWS if re.fullmatch(GROUPS[group], row["id"])]
    return pytest.mark.parametrize("row", found, ids=[row["id"] for row in found])


def test_every_row_is_put_to_exactly_one_test() -> None:
    counts = {row["id"]: sum(bool(re.fullmatch(p, row["id"])) for p in GROUPS.values()) for row in ROWS}
    assert dict.fromkeys(counts, 1) == counts


GRID_DEG = {row["inputs"]["category"]: row["expected"]["grid_deg"] for row in ROWS if row["id"].startswith("gen-cat")}


@rows("category")
def test_every_published_grid_may_be_chosen_in_the_settings_and_the_first_category_is_to_tell_nothing(row: Row) -> None:
    grid_deg = row["expected"]["grid_deg"]
    written = f'area = "{grid_deg}°"' if grid_deg else 'positions = "hidden"'
    settings, _ = read_settings(f'[shares.mentor]\nabout = ["F-1"]\n{written}\n'.encode())
    share = settings.shares[0]
    place = Position(45.123456, -122.654321, 10, "entry")
    assert row["expected"]["release_coordinates"] == (shown(place, "area", replace(share, positions="area")) is not None
                                                      and grid_deg is not None)  # fmt: skip
    assert grid_deg is None or grid_deg == share.area_deg


@rows("rounded")
def test_a_position_is_rounded_to_the_published_grid(row: Row) -> None:
    given, grid_deg = row["inputs"], GRID_DEG[row["inputs"]["category"]]
    found = cell_of(Position(given["lat"], given["lon"], None, "entry"), grid_deg)
    tolerance = row["tolerance"]["deg"]
    assert row["expected"]["lat"] == pytest.approx(found.lat_deg, abs=tolerance)
    assert row["expected"]["lon"] == pytest.approx(found.lon_deg, abs=tolerance)
    assert row["expected"]["coordinatePrecision"] == found.grid_deg


@rows("uncertainty")
def test_the_uncertainty_of_a_cell_is_at_least_the_published_one_and_less_than_a_fifth_more(row: Row) -> None:
    given = row["inputs"]
    found = cell_of(Position(given["lat"], 0.0, given["original_m"], "entry"), given["grid_deg"]).uncertainty_m
    assert found is not None
    assert row["expected"]["m"] <= found < 1.2 * row["expected"]["m"]
    assert row["expected"]["max_rounding_move_m"] < found


@rows("no noise")
@given(lat=st.floats(-89, 89), lon=st.floats(-179, 179), grid_deg=st.sampled_from([1, 0.1, 0.01, 0.001]))
def test_a_cell_is_the_same_every_time_and_for_every_place_in_it(
    row: Row, lat: float, lon: float, grid_deg: float
) -> None:
    assert row["expected"]["allowed"] is False
    cell = cell_of(Position(lat, lon, 8, "entry"), grid_deg)
    assert cell == cell_of(Position(lat, lon, 8, "entry"), grid_deg)
    inside = Position(cell.lat_deg + 0.49 * grid_deg, cell.lon_deg - 0.49 * grid_deg, 8, "entry")
    assert cell == cell_of(inside, grid_deg)
    assert abs(cell.lat_deg - lat) <= grid_deg / 2 + 1e-9
    assert abs(cell.lon_deg - lon) <= grid_deg / 2 + 1e-9


def find_with(**more: Any) -> Journal:
    return journal_of(find("F-1", locality="area", **more))


SHARE = Share(name="mentor", about=("F-1",), positions="area", area_deg=0.01, texts="all")


@rows("not blank")
def test_a_place_in_a_text_is_replaced_with_words_that_say_so(row: Row) -> None:
    assert row["expected"]["blank_allowed"] is False
    told = redacted(find_with(place="Alder Bank", habitat="carr at Alder Bank"), SHARE).finds[0]
    assert "carr at (not shared)" == told.habitat


@rows("documented")
def test_a_coarse_position_says_what_grid_it_is_on(row: Row) -> None:
    """How exactly it is known to the author is not said."""
    from journal.site.pages import plan_site

    shared = redacted(find_with(position=Position(58.30412, -8.90177, 8, "entry")), SHARE)
    context = next(page.context for page in plan_site(shared, {}).pages if page.endpoint == "find")
    words = dict(context["slip"].lines)["position"]
    said = [must for must in row["expected"]["must_mention"] if must in words]
    assert [str(row["inputs"]["provided_deg"]), "decimal geographic grid"] == said


@rows("not derived")
def test_nothing_is_left_from_which_the_place_could_be_derived(row: Row) -> None:
    assert row["expected"]["leak"] is True
    photo = Photo(path="a.jpg", digest="d", lat_deg=58.30412, lon_deg=-8.90177, track=Position(1, 2, None, "track"))
    whole = find_with(position=Position(58.30412, -8.90177, 8, "photo"), photos=(PhotoUse("a.jpg"),), elevation_m=12.0)
    shared = redacted(replace(whole, photos=(photo,)), SHARE)
    assert (None, None, None) == (shared.photos[0].lat_deg, shared.photos[0].lon_deg, shared.photos[0].track)
    assert None is shared.finds[0].elevation_m


@rows("bare photo")
def test_a_published_photo_has_no_position_and_the_original_keeps_its_own(row: Row, picture_bytes: Any) -> None:
    from PIL import Image

    exif = Image.Exif()
    exif.get_ifd(0x8825)[1] = "N"
    original = picture_bytes("JPEG", exif.tobytes()[6:])
    before = bytes(original)
    with Image.open(io.BytesIO(original)) as image:
        files = render(image).files
    assert row["expected"]["original_changed"] is (before != original)
    for _, _, content in some(files):
        with Image.open(io.BytesIO(content)) as made:
            assert row["expected"]["copy_has_gps"] is bool(made.getexif())
