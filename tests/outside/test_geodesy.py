"""Positions and distances against published rows; each row of geodesy.json names its kind and source."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic

from journal.geo.format import iso6709_of, mgrs_of, seconds_text
from journal.geo.grids import Utm, degrees_uncertainty_m, from_utm, square_uncertainty_m, to_utm, zone_of
from journal.geo.parse import distance_m, parse_position
from journal.model import Position
from journal.problems import Unreadable

ROWS = json.loads((Path(__file__).parent / "geodesy.json").read_text(encoding="utf-8"))["rows"]
Row = dict[str, Any]

GROUPS = {
    "distance": r"geo-(inv|karney|geodsolve|short|coincident).*",
    "angle": r"geo-dms-\d",
    "rounded angle": r"geo-dms-round-.*",
    "refused angle": r"geo-dms-bad-.*",
    "utm": r"geo-utm-.*",
    "zone": r"geo-zone-.*",
    "mgrs": r"geo-mgrs-(fgdc|lib)-.*",
    "square": r"geo-mgrs-utm-71",
    "iso read": r"geo-iso6709-\d",
    "iso rule": r"geo-iso6709-rule-.*",
    "uri read": r"geo-uri-\d",
    "uri equal": r"geo-uri-(eq-\d|180)",
    "uri refused": r"geo-uri-order",
    "precision": r"unc-(degree|minute|second)-.*",
    "precision example": r"unc-ex\d",
}


def rows(group: str) -> Any:
    """The rows of a group, as a table for one test."""
    found = [row for row in ROWS if re.fullmatch(GROUPS[group], row["id"])]
    return pytest.mark.parametrize("row", found, ids=[row["id"] for row in found])


def test_every_row_is_put_to_exactly_one_test() -> None:
    counts = {row["id"]: sum(bool(re.fullmatch(p, row["id"])) for p in GROUPS.values()) for row in ROWS}
    assert dict.fromkeys(counts, 1) == counts


@rows("distance")
def test_distance_is_the_published_one(row: Row) -> None:
    found = distance_m(*row["inputs"]["point1_deg"], *row["inputs"]["point2_deg"])
    assert row["expected"]["distance_m"] == pytest.approx(found, abs=row["tolerance"]["distance_m"])
    if "azimuth_deg" in row["expected"]:  # which pages alone calculate; here that the rows are the library's
        turned = Geodesic.WGS84.Inverse(*row["inputs"]["point1_deg"], *row["inputs"]["point2_deg"])["azi1"] % 360
        assert row["expected"]["azimuth_deg"] == pytest.approx(turned, abs=row["tolerance"]["azimuth_deg"])


@rows("angle")
def test_degrees_minutes_and_seconds_come_to_the_published_degrees(row: Row) -> None:
    lat = row["inputs"]["dms"][-1] in "NS"
    place = parse_position(f"{row['inputs']['dms']}, 0 0 0 {'E' if lat else 'N'}")
    found = place.lat_deg if lat else place.lon_deg
    assert row["expected"]["deg"] == pytest.approx(found, abs=row["tolerance"]["deg"])


@rows("rounded angle")
def test_rounding_seconds_keeps_sign_and_carries(row: Row) -> None:
    text = seconds_text(row["inputs"]["deg"], row["inputs"]["axis"], 2)
    assert row["expected"]["dms"] == " ".join(re.split("[°′″]", text))


@rows("refused angle")
def test_angle_that_cannot_be_is_refused(row: Row) -> None:
    lat = row["inputs"]["dms"].split(" (")[0]
    with pytest.raises(Unreadable):
        parse_position(f"0 0 0 N, {lat}" if lat.endswith("E") else f"{lat}, 0 0 0 E")


@rows("utm")
def test_utm_is_the_published_one_both_ways(row: Row) -> None:
    lat, lon = row["inputs"]["point_deg"]
    expected, within = row["expected"], row["tolerance"]["m"]
    found = to_utm(lat, lon, row["inputs"]["zone"])
    assert (expected["easting_m"], expected["northing_m"]) == pytest.approx(found[2:], abs=within)
    back = from_utm(Utm(row["inputs"]["zone"], False, expected["easting_m"], expected["northing_m"]))
    assert (lat, lon) == pytest.approx(back, abs=within / 80_000)


@rows("zone")
def test_zone_is_the_one_of_the_reference(row: Row) -> None:
    assert row["expected"]["zone"] == zone_of(**{f"{axis}_deg": row["inputs"][axis] for axis in ("lat", "lon")})


@rows("mgrs")
def test_mgrs_square_is_the_published_one(row: Row) -> None:
    side_m = 10 ** (5 - row["inputs"]["digits_per_axis"])
    place = Position(row["inputs"]["lat"], row["inputs"]["lon"], square_uncertainty_m(side_m), "entry")
    assert row["expected"]["mgrs"] == mgrs_of(place).replace(" ", "")


@rows("mgrs")
def test_mgrs_reference_reads_back_to_the_square_around_the_place(row: Row) -> None:
    place = parse_position(row["expected"]["mgrs"])
    away_m = distance_m(place.lat_deg, place.lon_deg, row["inputs"]["lat"], row["inputs"]["lon"])
    assert away_m <= 1.001 * (place.uncertainty_m or 0)  # the grid is up to 0.1 % out of scale at a zone's edge


@rows("square")
def test_uncertainty_of_a_square_is_half_its_diagonal(row: Row) -> None:
    found = square_uncertainty_m(row["inputs"]["precision_m"])
    assert row["expected"]["uncertainty_m"] == pytest.approx(found, abs=row["tolerance"]["m"])


@rows("iso read")
def test_iso6709_string_names_the_published_place(row: Row) -> None:
    place = parse_position(row["inputs"]["string"])
    expected = (row["expected"]["lat"], row["expected"]["lon"])
    assert expected == pytest.approx((place.lat_deg, place.lon_deg), abs=row["tolerance"]["deg"])


ISO_RULES = {
    "geo-iso6709-rule-equator": lambda text, row: text.startswith(row["expected"]["string_starts_with"]),
    "geo-iso6709-rule-digits": lambda text, row: re.fullmatch(r"\+05\.5\d*\+007\.25\d*/", text) is not None,
    "geo-iso6709-rule-180": lambda text, row: row["expected"]["string_lon"] in text,
}


@rows("iso rule")
def test_iso6709_string_keeps_the_rules_of_writing(row: Row) -> None:
    text = iso6709_of(Position(row["inputs"].get("lat", 0.0), row["inputs"]["lon"], None, "entry"))
    assert ISO_RULES[row["id"]](text, row)


@rows("uri read")
def test_geo_uri_names_the_published_place(row: Row) -> None:
    place = parse_position(row["inputs"]["uri"])
    assert (row["expected"]["lat"], row["expected"]["lon"]) == (place.lat_deg, place.lon_deg)
    assert row["expected"].get("u_m", place.uncertainty_m) == place.uncertainty_m


@rows("uri equal")
def test_geo_uris_that_are_equal_name_one_place(row: Row) -> None:
    a, b = (parse_position(row["inputs"][key]) for key in "ab")
    assert row["expected"]["equal"] is True
    assert distance_m(a.lat_deg, a.lon_deg, b.lat_deg, b.lon_deg) == pytest.approx(0, abs=1e-6)


@rows("uri refused")
def test_geo_uri_with_parameters_out_of_order_is_refused(row: Row) -> None:
    assert row["expected"]["valid"] is False
    with pytest.raises(Unreadable, match="crs comes first"):
        parse_position(row["inputs"]["uri"])


@rows("precision")
def test_precision_of_degrees_is_worth_the_published_metres(row: Row) -> None:
    unit = {"degree": 1, "minute": 60, "second": 3600}[row["inputs"]["unit"]]
    found = degrees_uncertainty_m(row["inputs"]["precision"] / unit, row["inputs"]["lat"])
    assert row["expected"]["m"] == pytest.approx(found, abs=row["tolerance"]["m"])


@rows("precision example")
def test_precision_examples_combine_to_the_published_radius(row: Row) -> None:
    inputs, expected = row["inputs"], row["expected"]
    if isinstance(inputs["lat"], str):
        found_m = parse_position(f"{inputs['lat']}, {inputs['lon']}").uncertainty_m
    else:
        found_m = degrees_uncertainty_m(inputs["precision_deg"], inputs["lat"])
    assert found_m is not None
    assert expected["combined_km"] == pytest.approx(found_m / 1000, abs=row["tolerance"]["km"])
