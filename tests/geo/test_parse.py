"""Positions in every notation. Expected places are written out by hand from the notation itself."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from journal.geo.parse import distance_m, parse_position
from journal.model import Position
from journal.problems import Unreadable

LAT, LON = 58.30412, -8.90177
LAT_DMS, LON_DMS = 58 + 18 / 60 + 14.8 / 3600, -(8 + 54 / 60 + 6.4 / 3600)
LAT_DM, LON_DM = 58 + 18.247 / 60, -(8 + 54.106 / 60)


@pytest.mark.parametrize(
    "text",
    [
        "58.30412, -8.90177",
        "58.30412,-8.90177",
        "58.30412 -8.90177",
        "58.30412; -8.90177",
        "58.30412 / -8.90177",
        "  58.30412 ,\t-8.90177 ",
        "58.30412\u00a0\u22128.90177",
        "+58.30412, \u20138.90177",
        "58.30412°, -8.90177°",
        "58,30412, -8,90177",
        "58,30412 -8,90177",
        "58,30412; -8,90177",
        "58,30412,-8,90177",
        "58.30412 N, 8.90177 W",
        "58.30412N 8.90177W",
        "58.30412n8.90177w",
        "N58.30412 W8.90177",
        "N 58.30412, W 8.90177",
        "8.90177 W, 58.30412 N",
        "58,30412 N 8,90177 W",
        "58.30412° N, 8.90177° W",
        "+58.30412-008.90177/",
        "+58.30412-008.90177",
        "+58,30412-008,90177/",
        "geo:58.30412,-8.90177",
        "GEO:58.30412,-8.90177,12;crs=WGS84",
    ],
)
def test_decimal_degrees_read_however_they_are_parted(text: str) -> None:
    place = parse_position(text)
    assert (LAT, LON) == pytest.approx((place.lat_deg, place.lon_deg), abs=1e-12)
    assert (text, "entry") == (place.written, place.source)


@pytest.mark.parametrize(
    "text",
    [
        "58°18'14.8\"N 8°54'6.4\"W",
        "58° 18′ 14.8″ N, 8° 54′ 6.4″ W",
        "58º 18’ 14.8” N, 008º 54’ 06.4” W",
        "58°18'14.8''N 8°54'6.4''W",
        "58 ° 18 ' 14.8 \" N ; 8 ° 54 ' 6.4 \" W",
        "58 18 14.8 N, 8 54 06.4 W",
        "N58 18 14.8 W8 54 6.4",
        "N 58° 18′ 14,8″ W 8° 54′ 6,4″",
        "58d18m14.8s N 8d54m6.4s W",
        "58d 18m 14.8sN, 8d 54m 6.4sW",
        "58 deg 18 min 14.8 sec N, 8 deg 54 min 6.4 sec W",
        "58°18'14.8\", -8°54'6.4\"",
        "58d18m14.8s -8d54m6.4s",
        "8°54′6.4″W 58°18′14.8″N",
        "+581814.8-0085406.4/",
    ],
)
def test_degrees_minutes_and_seconds_read_in_the_usual_marks(text: str) -> None:
    place = parse_position(text)
    assert (LAT_DMS, LON_DMS) == pytest.approx((place.lat_deg, place.lon_deg), abs=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        "58° 18.247' N, 8° 54.106' W",
        "58°18.247′N 008°54.106′W",
        "N58 18.247 W008 54.106",
        "58 18,247 N 8 54,106 W",
        "58°18.247', -8°54.106'",
        "58 18.247, -8 54.106",
        "+5818.247-00854.106/",
    ],
)
def test_degrees_and_minutes_read(text: str) -> None:
    place = parse_position(text)
    assert (LAT_DM, LON_DM) == pytest.approx((place.lat_deg, place.lon_deg), abs=1e-12)


@pytest.mark.parametrize(
    "text", ["58°17′60″N 8°53′60.00″W", "58 17 60 N, 8 53 60 W", "57°60′N 7°60′W", "+581760-0085360/", "+5760-00760/"]
)
def test_sixty_seconds_or_minutes_carry_over(text: str) -> None:
    place = parse_position(text)
    whole = (58.0, -8.0) if "60′" in text or len(text) == 12 else (58.3, -8.9)
    assert whole == pytest.approx((place.lat_deg, place.lon_deg), abs=1e-12)


def test_small_s_after_minutes_is_seconds_and_elsewhere_south() -> None:
    assert -37.5 == parse_position("37.5s 144.4e").lat_deg
    assert parse_position("37d30m0s N, 144d0m0s E").lat_deg == pytest.approx(37.5)


def test_minus_before_nought_degrees_is_kept() -> None:
    place = parse_position("-0°30'0\", -0°15'0\"")
    assert (-0.5, -0.25) == (place.lat_deg, place.lon_deg)


UTM_PLACE = (58.3005875, -8.9017028)
"""Zone 29 easting 505761.5, northing 6462180.5, by pyproj 3.7 (EPSG:32629)."""


@pytest.mark.parametrize(
    "text",
    [
        "29V 505761 6462180",
        "29 V 0505761 6462180",
        "29v 505761, 6462180",
        "29N 505761 6462180",
        "29 north 505761 6462180",
        "UTM 29V 505761E 6462180N",
        "29V 505761 mE 6462180 mN",
        "29V E505761 N6462180",
        "29VNE0576162180",
        "29V NE 05761 62180",
        "29 V NE 0576162180",
        "MGRS 29vne 05761 62180",
    ],
)
def test_grid_coordinate_is_the_centre_of_its_square(text: str) -> None:
    place = parse_position(text)
    assert UTM_PLACE == pytest.approx((place.lat_deg, place.lon_deg), abs=1e-7)
    assert place.uncertainty_m == pytest.approx(2**0.5 / 2)


@pytest.mark.parametrize(
    ("lat", "text"),  # latitudes by pyproj 3.7 (EPSG:326xx, 327xx)
    [
        (38.8894674, "18S 323483 4306479"),  # band S holds that northing (the example of FGDC-STD-011-2001)
        (-31.9763825, "29S 505761 6462180"),  # band S does not: the southern hemisphere (common practice)
        (4.5222354, "29N 505761 499853"),  # band N or the northern hemisphere: the same place
        (-51.3654757, "18 south 323483 4306479"),
        (38.8894674, "18 north 323483 4306479"),
        (-51.3654757, "18F 323483 4306479"),
    ],
)
def test_letter_after_the_zone_is_a_band_where_it_fits_and_else_a_hemisphere(lat: float, text: str) -> None:
    assert lat == pytest.approx(parse_position(text).lat_deg, abs=1e-6)


@pytest.mark.parametrize(
    ("side_m", "text"),
    [
        (1, "29V NE 05761 62180"),
        (10, "29V NE 0576 6218"),
        (100, "29V NE 057 621"),
        (1000, "29V NE 05 62"),
        (10_000, "29V NE 0 6"),
        (100_000, "29V NE"),
        (1, "29V 505761 6462180"),
        (0.1, "29V 505761.4 6462180.2"),
    ],
)
def test_uncertainty_of_a_grid_reference_is_half_the_diagonal_of_its_square(side_m: float, text: str) -> None:
    assert side_m * 2**0.5 / 2 == pytest.approx(parse_position(text).uncertainty_m)


def test_polar_mgrs_is_read_too() -> None:
    place = parse_position("ZAH 1234 1234")
    assert distance_m(90, 0, place.lat_deg, place.lon_deg) < 20_000


@pytest.mark.parametrize(
    ("metres", "text"),
    [
        (8, "58.30412, -8.90177 ±8 m"),
        (8, "58.30412, -8.90177 ± 8m"),
        (8, "58.30412, -8.90177 +-8 m"),
        (8, "58.30412, -8.90177 +/- 8 metres"),
        (8.5, "58.30412, -8.90177 ±8,5 m"),
        (7.9248, "58.30412, -8.90177 ± 26 ft"),  # 0.3048 m the foot
        (7.9248, "58.30412, -8.90177 ±26′"),
        (1200, "58.30412, -8.90177 ±1.2 km"),
        (8, "29V NE 0576 6218 ±8 m"),
        (8, "+58.30412-008.90177/ ±8 m"),
        (8, "58°18′14.8″N 8°54′6.4″W ±8 m"),
        (40, "geo:58.30412,-8.90177;u=40"),
        (6.5, "geo:58.30412,-8.90177;crs=wgs84;u=6.500;name=log"),
    ],
)
def test_stated_uncertainty_rules(metres: float, text: str) -> None:
    assert metres == pytest.approx(parse_position(text).uncertainty_m)


@pytest.mark.parametrize(
    ("finer", "coarser"),
    [
        ("58.30412, -8.90177", "58.3041, -8.9018"),
        ("58.30410, -8.90170", "58.3041, -8.9017"),
        ("58.3041, -8.9", "58.304, -8.9"),
        ("58°18'14.8\"N 8°54'6.4\"W", "58°18'14\"N 8°54'6\"W"),
        ("58°18.2'N 8°54.1'W", "58°18'N 8°54'W"),
        ("58°18'14\"N 8°54'6\"W", "58°18'N 8°54'W"),
        ("+581814-0085406/", "+5818-00854/"),
    ],
)
def test_uncertainty_follows_the_digits_written_the_finer_half_ruling(finer: str, coarser: str) -> None:
    assert (parse_position(finer).uncertainty_m or 0) < (parse_position(coarser).uncertainty_m or 0)


def test_exactly_there_in_a_geo_uri_is_left_to_its_digits() -> None:
    expected = parse_position("geo:58.30412,-8.90177").uncertainty_m
    assert expected == parse_position("geo:58.30412,-8.90177;u=0").uncertainty_m


@pytest.mark.parametrize(
    ("says", "text"),
    [
        ("empty", ""),
        ("empty", " ±8 m"),
        ("unknown notation", "Alder Bank"),
        ("unknown notation", "58 18 14 8 54 6"),
        ("unknown notation", "58.30412, -8.90177, 12"),
        ("unknown notation", "٥٨.٣, ٨.٩"),
        ("longer than", "5" * 201),
        ("only one coordinate", "58.30412"),
        ("only one coordinate", "58°18′14″N"),
        ("only one coordinate has a letter", "58.3 N, 8.9"),
        ("same axis", "58.3 N, 8.9 S"),
        ("swapped", "-98.90177, 58.30412"),
        ("over 90", "-98.90177, 190"),
        ("over 180", "58.3, -188.9"),
        ("over 60", "58 60.1 N, 8 54 W"),
        ("over 60", "58°18′61″N 8°54′6″W"),
        ("over 60", "+5861-00854/"),
        ("only the last", "58.5° 20′ N 8° 54′ W"),
        ("sign and a letter", "-58.3 N, 8.9 W"),
        ("decimal comma", "58,30"),
        ("two digits", "+58.3-8.9/"),
        ("not on WGS 84", "+58.30412-008.90177CRSNAD27/"),
        ("not on WGS 84", "geo:58.3,-8.9;crs=nad27"),
        ("RFC 5870", "geo:58.3"),
        ("RFC 5870", "geo:0,0?q=58.3,-8.9"),
        ("u in a geo: address", "geo:58.3,-8.9;u=-8"),
        ("each once", "geo:58.3,-8.9;u=8;u=9"),
        ("given twice", "geo:58.3,-8.9;u=8 ±8 m"),
        ("no number", "58.3, -8.9 ±"),
        ("no unit", "58.3, -8.9 ±8"),
        ("no unit", "58.3, -8.9 ±8 stone"),
        ("not a length", "±8 m 58.3, -8.9"),
        ("0 is not possible", "58.3, -8.9 ±0 m"),
        ("band or hemisphere", "29 505761 6462180"),
        ("1 to 60", "61V 505761 6462180"),
        ("before the easting", "29V 6462180 505761"),
        ("easting", "29V 1234567 6462180"),
        ("northing must", "29V 505761 10000001"),
        ("is not in that latitude band", "29U 505761 6462180"),
        ("is not in that latitude band", "29A 505761 6462180"),
        ("80° S to 84° N", "29N 505761 9900000"),
        ("as many digits", "29V NE 057 62"),
        ("as many digits", "29V NE 05762"),
        ("five digits", "29V NE 057612 621801"),
        ("no such MGRS square", "29V AA 12 12"),
        ("no such MGRS square in that latitude band", "18S UA 2348 0647"),
    ],
)
def test_what_is_not_a_position_is_refused_with_the_reason(says: str, text: str) -> None:
    with pytest.raises(Unreadable) as refused:
        parse_position(text)
    assert says in refused.value.message


@given(st.floats(-90, 90), st.floats(-180, 180))
@example(98.76543, 12.34567)
@example(58.30412, 198.76543)
def test_message_never_shows_the_place(lat: float, lon: float) -> None:
    for text in (f"{lat:.5f} {lon:.5f} here", f"{lat:.5f} N", f"{lat:.5f}, {lon:.5f} ±8", f"geo:{lat:.5f},{lon:.5f};u"):
        with pytest.raises(Unreadable) as refused:
            parse_position(text)
        told = refused.value.message + refused.value.fix.replace("58.30412", "").replace("8.90177", "")
        assert f"{abs(lat):.5f}" not in told
        assert f"{abs(lon):.5f}" not in told


@given(st.text(alphabet="0123456789.,;+-±°'\"′″ NSEWdmsVgeo:/u=", max_size=40))
def test_any_text_is_a_place_on_earth_or_refused(text: str) -> None:
    try:
        place = parse_position(text)
    except Unreadable:
        return
    assert abs(place.lat_deg) <= 90
    assert abs(place.lon_deg) <= 180
    assert (place.uncertainty_m or 0) > 0


def test_position_that_is_read_is_the_one_the_journal_keeps() -> None:
    text = "58.30412, -8.90177 ±8 m"
    assert Position(58.30412, -8.90177, 8.0, "entry", text) == parse_position(text)


def test_distance_between_two_logs_is_along_the_ellipsoid() -> None:
    # One minute of latitude, by pyproj 3.7 (Geod WGS84).
    assert distance_m(58.3, -8.9, 58.3 + 1 / 60, -8.9) == pytest.approx(1856.3845, abs=0.001)
