"""Time and place by EXIF, held against the standard's rules and against ExifTool."""

from __future__ import annotations

import io
import json
import logging
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from journal.problems import Unreadable
from journal.reading.exif import ExifFacts, offset_by_gps, read_exif
from journal.reading.picture_files import open_picture, quiet_readers
from tests.builders import examples

ROWS = json.loads((Path(__file__).parents[1] / "outside" / "exif.json").read_text("utf-8"))["rows"]
"""Each row names its source; rows of kind common-practice are habits, from-memory has none."""

TIME = {"DateTimeOriginal": "2023:10:29 01:30:05"}
PLACE = {
    "GPSLatitudeRef": "N",
    "GPSLatitude": [(58, 1), (18, 1), (1483, 100)],
    "GPSLongitudeRef": "W",
    "GPSLongitude": [(8, 1), (54, 1), (637, 100)],
}


def facts_in(content: bytes) -> ExifFacts:
    file = io.BytesIO(content)
    with quiet_readers():
        return read_exif(file, open_picture(file))


@pytest.fixture
def facts_by(exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]) -> Callable[..., ExifFacts]:
    """The facts of a JPEG with the tags it is called with."""
    return lambda **tags: facts_in(picture_bytes("JPEG", exif_block(**tags)))


def in_utc(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def as_row(facts: ExifFacts) -> dict[str, Any]:
    """What we read, under the names that the rows use."""
    local, gps, offset = facts.local, facts.gps_utc, facts.offset_min
    aware = local.replace(tzinfo=timezone(timedelta(minutes=offset))) if local and offset is not None else None
    utc = aware if local else gps and gps.replace(tzinfo=UTC)
    return {
        "local": local and local.isoformat(),
        "datetime": local and local.isoformat(),
        "offset": offset,
        "offset_minutes": offset,
        "iso8601": aware and aware.isoformat(timespec="milliseconds"),
        "utc": utc and in_utc(utc),
        "seconds": local and local.microsecond / 1e6,
        "lat": facts.lat_deg,
        "lon": facts.lon_deg,
        "m": facts.uncertainty_m,
        "clock_error_s": local and gps and offset is not None
        and (local - gps - timedelta(minutes=offset)).total_seconds(),
    }  # fmt: skip


def with_company(inputs: dict[str, Any]) -> dict[str, Any]:
    """A row's tags, with the time or place that those which mean nothing alone belong to."""
    if "GPSHPositioningError" in inputs:
        return {**PLACE, **inputs}
    if "SubSecTimeOriginal" in inputs or "OffsetTimeOriginal" in inputs:
        return {**TIME, **inputs}
    return inputs


READ_ROWS = [row for row in ROWS if not row["id"].startswith(("exif-orient", "exif-status", "exif-datum"))]


@pytest.mark.parametrize("row", READ_ROWS, ids=lambda row: row["id"])
def test_the_standard_and_its_readers_say_the_same(row: dict[str, Any], facts_by: Callable[..., ExifFacts]) -> None:
    facts = facts_by(**with_company(row["inputs"]))
    expected = {key: value for key, value in row["expected"].items() if key != "warn"}
    close = max(row["tolerance"].values(), default=1e-15)
    assert pytest.approx(expected, abs=close) == {key: as_row(facts)[key] for key in expected}
    assert row["expected"].get("warn", False) == bool(facts.faults)


ASKED_OF_EXIFTOOL = (
    {**TIME, "SubSecTimeOriginal": "045", "OffsetTimeOriginal": "-07:00"},
    {**TIME, "SubSecTimeOriginal": "5", "OffsetTimeOriginal": "+05:45"},
    PLACE,
    {**PLACE, "GPSLatitudeRef": "S", "GPSLongitudeRef": "E", "GPSHPositioningError": (47, 10)},
    {**PLACE, "GPSLatitude": [(40, 1), (1222, 100), (0, 1)]},
    {"GPSDateStamp": "2023:10:29", "GPSTimeStamp": [(0, 1), (59, 1), (595, 10)]},
)


@pytest.mark.parametrize("tags", ASKED_OF_EXIFTOOL, ids=lambda tags: "+".join(tags)[:40])
def test_exiftool_reads_the_same(
    tags: dict[str, Any],
    exif_block: Callable[..., bytes],
    picture_bytes: Callable[..., bytes],
    need_exiftool: Callable[..., dict[str, Any]],
    tmp_path: Path,
) -> None:
    file = tmp_path / "photo.jpg"
    file.write_bytes(picture_bytes("JPEG", exif_block(**tags)))
    theirs = need_exiftool(file, "-n", "-Composite:all", "-GPSHPositioningError")
    facts = facts_in(file.read_bytes())
    assert pytest.approx(theirs.get("GPSLatitude"), abs=1e-11) == facts.lat_deg
    assert pytest.approx(theirs.get("GPSLongitude"), abs=1e-11) == facts.lon_deg
    assert theirs.get("GPSHPositioningError") == facts.uncertainty_m
    if facts.gps_utc:
        assert theirs["GPSDateTime"] == f"{facts.gps_utc:%Y:%m:%d %H:%M:%S}.5Z"
    if facts.local:
        their_time = datetime.strptime(theirs["SubSecDateTimeOriginal"], "%Y:%m:%d %H:%M:%S.%f%z")
        assert their_time.isoformat(timespec="milliseconds") == as_row(facts)["iso8601"]


@pytest.mark.parametrize("kind", ["JPEG", "TIFF", "PNG", "WEBP", "HEIF", "AVIF"])
def test_every_kind_of_file_says_the_same(
    kind: str, exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]
) -> None:
    block = exif_block(
        **TIME, **PLACE, OffsetTimeOriginal="+01:00", GPSDateStamp="2023:10:29",
        GPSTimeStamp=[(0, 1), (30, 1), (5, 1)], GPSHPositioningError=(8, 1),
    )  # fmt: skip
    expected = ExifFacts(
        local=datetime(2023, 10, 29, 1, 30, 5), offset_min=60, gps_utc=datetime(2023, 10, 29, 0, 30, 5),
        lat_deg=pytest.approx(58.304119, abs=1e-6), lon_deg=pytest.approx(-8.901769, abs=1e-6), uncertainty_m=8.0,
    )  # fmt: skip
    assert expected == facts_in(picture_bytes(kind, block))


def test_png_exif_is_found_behind_the_pixels(
    exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]
) -> None:
    content = picture_bytes("PNG", exif_block(**TIME))
    start = content.index(b"eXIf") - 4
    chunk = content[start : start + 12 + int.from_bytes(content[start : start + 4], "big")]
    end = content.index(b"IEND") - 4
    moved = content[:start] + content[start + len(chunk) : end] + chunk + content[end:]
    assert datetime(2023, 10, 29, 1, 30, 5) == facts_in(moved).local


def test_png_exif_is_found_as_text(exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]) -> None:
    from PIL import PngImagePlugin

    block = b"Exif\0\0" + exif_block(**TIME)
    text = PngImagePlugin.PngInfo()
    text.add_text("Raw profile type exif", f"\nexif\n{len(block):8}\n{block.hex()}\n")
    assert datetime(2023, 10, 29, 1, 30, 5) == facts_in(picture_bytes("PNG", pnginfo=text)).local


def test_jpeg_exif_is_found_behind_long_other_segments(
    exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]
) -> None:
    content = picture_bytes("JPEG", exif_block(**TIME))
    other = b"\xff\xe1" + (60_002).to_bytes(2, "big") + b"http://ns.adobe.com/xap/1.0/\0".ljust(60_000, b" ")
    assert datetime(2023, 10, 29, 1, 30, 5) == facts_in(content[:2] + other * 2 + content[2:]).local


@pytest.mark.parametrize(
    ("written", "minutes", "says"),
    [
        ("+14:00", 840, None),
        ("-12:00", -720, None),
        ("+05:45", 345, None),
        ("Z", 0, "not written as"),
        ("+0100", 60, "not written as"),
        ("-3:30", -210, "not written as"),
        ("+14:15", None, "which is impossible"),
        ("-12:15", None, "which is impossible"),
        ("+01:60", None, "which is impossible"),
        ("BST", None, "which is impossible"),
        ("", None, None),
        ("      ", None, None),
        ("   :  ", None, None),
    ],
)
def test_an_offset_is_read_or_its_fault_is_said(
    written: str, minutes: int | None, says: str | None, facts_by: Callable[..., ExifFacts]
) -> None:
    facts = facts_by(**TIME, OffsetTimeOriginal=written)
    assert minutes == facts.offset_min
    assert [says] * bool(says) == [says for _, what, _ in facts.faults if says and says in what]
    assert len(facts.faults) == bool(says)


@pytest.mark.parametrize(
    ("ahead", "minutes"),
    [
        (timedelta(0), 0),
        (timedelta(hours=-7, seconds=120), -420),
        (timedelta(hours=5, minutes=45), 345),
        (timedelta(hours=1, minutes=5), 60),
        (timedelta(hours=1, minutes=10), 75),
        (timedelta(hours=14, minutes=5), 840),
        (timedelta(hours=-12, minutes=-5), -720),
    ],
)
def test_gps_settles_an_offset_to_the_quarter_hour(ahead: timedelta, minutes: int) -> None:
    utc = datetime(2026, 9, 12, 0, 3)
    assert minutes == offset_by_gps(utc + ahead, utc)


@pytest.mark.parametrize(
    "ahead",
    [
        timedelta(hours=1, minutes=5, seconds=1),
        timedelta(hours=1, minutes=9, seconds=59),
        timedelta(minutes=-7),
        timedelta(hours=14, minutes=15),
        timedelta(hours=-12, minutes=-15),
        timedelta(days=400),
    ],
)
def test_gps_settles_nothing_where_no_zone_fits(ahead: timedelta) -> None:
    utc = datetime(2026, 9, 12, 0, 3)
    with pytest.raises(Unreadable, match="no time zone explains"):
        offset_by_gps(utc + ahead, utc)


GPS_NOON = {"GPSDateStamp": "2023:10:29", "GPSTimeStamp": [(12, 1), (0, 1), (0, 1)]}


def test_a_clock_that_gps_contradicts_is_odd_and_keeps_no_offset(facts_by: Callable[..., ExifFacts]) -> None:
    facts = facts_by(DateTimeOriginal="2023:10:29 13:37:00", **GPS_NOON)
    assert (datetime(2023, 10, 29, 13, 37), None) == (facts.local, facts.offset_min)
    assert ["warning"] == [weight for weight, _, _ in facts.faults]


def test_the_clocks_own_offset_goes_before_gps(facts_by: Callable[..., ExifFacts]) -> None:
    facts = facts_by(DateTimeOriginal="2023:10:29 13:37:00", OffsetTimeOriginal="+02:00", **GPS_NOON)
    assert (120, ()) == (facts.offset_min, facts.faults)


@pytest.mark.parametrize(
    ("tags", "says"),
    [
        ({"GPSTimeStamp": [(12, 0), (0, 1), (0, 1)]}, "GPSTimeStamp with a zero denominator"),
        ({"GPSTimeStamp": [(24, 1), (0, 1), (0, 1)]}, "impossible GPS date or time"),
        ({"GPSTimeStamp": [(12, 1), (0, 1)]}, "impossible GPS date or time"),
        ({"GPSDateStamp": "2023:02:30"}, "impossible GPS date or time"),
        ({"GPSDateStamp": "yesterday"}, "impossible GPS date or time"),
    ],
)
def test_a_gps_time_that_is_none_is_odd(tags: dict[str, Any], says: str, facts_by: Callable[..., ExifFacts]) -> None:
    facts = facts_by(**{**TIME, **GPS_NOON, **tags})
    assert (None, None) == (facts.gps_utc, facts.offset_min)
    assert [True] == [says in what for _, what, _ in facts.faults]


@pytest.mark.parametrize("day", ["", "    :  :  ", "0000:00:00"])
def test_a_blank_gps_date_is_not_a_moment_and_no_fault(day: str, facts_by: Callable[..., ExifFacts]) -> None:
    facts = facts_by(**{**TIME, **GPS_NOON, "GPSDateStamp": day})
    assert (None, ()) == (facts.gps_utc, facts.faults)


@pytest.mark.parametrize(
    ("tags", "says"),
    [
        ({"GPSLatitude": [(58, 1), (61, 1), (0, 1)]}, "GPSLatitude that is out of range"),
        ({"GPSLongitude": [(8, 1), (0, 1), (6001, 100)]}, "GPSLongitude that is out of range"),
        ({"GPSLatitude": [(90, 1), (0, 1), (60, 1)]}, "GPSLatitude that is out of range"),
        ({"GPSLongitude": [(180, 1), (0, 1), (1, 100)]}, "GPSLongitude that is out of range"),
        ({"GPSLatitude": [(58, 1), (18, 1)]}, "an incomplete GPSLatitude"),
        ({"GPSLatitude": [(58, 1), (18, 1), (0, 0)]}, "GPSLatitude with a zero denominator"),
        ({"GPSLatitudeRef": "E"}, "does not say N or S"),
        ({"GPSLongitudeRef": ""}, "does not say E or W"),
        ({"GPSMapDatum": "TOKYO"}, 'on the datum "TOKYO"'),
    ],
)
def test_a_position_that_is_none_is_odd(tags: dict[str, Any], says: str, facts_by: Callable[..., ExifFacts]) -> None:
    facts = facts_by(**{**PLACE, **tags})
    assert (None, None, None) == (facts.lat_deg, facts.lon_deg, facts.uncertainty_m)
    assert [True] == [says in what for _, what, _ in facts.faults]


@pytest.mark.parametrize(
    ("lat_deg", "parts"),
    [
        (73.6, [(73, 1), (35, 1), (600000, 10000)]),
        (74.0, [(73, 1), (60, 1), (0, 1)]),
        (74.0, [(73, 1), (59, 1), (60, 1)]),
    ],
)
def test_sixty_seconds_or_minutes_carry_over(
    lat_deg: float, parts: list[tuple[int, int]], facts_by: Callable[..., ExifFacts]
) -> None:
    """*Common practice:* cameras that round their seconds write 59.99996″ as 60″."""
    facts = facts_by(**{**PLACE, "GPSLatitude": parts})
    assert (lat_deg, ()) == (facts.lat_deg, facts.faults)


@pytest.mark.parametrize("datum", ["WGS-84", "WGS84", "WGS 84  ", ""])
def test_a_position_on_wgs_84_is_taken_as_it_is(datum: str, facts_by: Callable[..., ExifFacts]) -> None:
    facts = facts_by(**PLACE, GPSMapDatum=datum)
    assert (pytest.approx(58.304119, abs=1e-6), ()) == (facts.lat_deg, facts.faults)


def test_a_position_not_measured_then_is_read_and_odd(facts_by: Callable[..., ExifFacts]) -> None:
    """Source of V: CIPA DC-008 (Exif), GPSStatus (9.H), measurement interrupted."""
    facts = facts_by(**PLACE, GPSStatus="V")
    assert pytest.approx(58.304119, abs=1e-6) == facts.lat_deg
    assert ["warning"] == [weight for weight, _, _ in facts.faults]
    assert () == facts_by(**PLACE, GPSStatus="A").faults


def test_an_error_radius_of_zero_states_nothing(facts_by: Callable[..., ExifFacts]) -> None:
    """Source: Darwin Core, coordinateUncertaintyInMeters: zero is not a valid value."""
    assert None is facts_by(**PLACE, GPSHPositioningError=(0, 1)).uncertainty_m


@pytest.mark.parametrize("year", ["0001", "9999"])
def test_a_year_that_no_camera_saw_is_not_a_time(year: str, facts_by: Callable[..., ExifFacts]) -> None:
    facts = facts_by(DateTimeOriginal=f"{year}:10:29 01:30:05")
    assert (None, 1) == (facts.local, len(facts.faults))


def test_control_characters_reach_no_message(facts_by: Callable[..., ExifFacts]) -> None:
    facts = facts_by(DateTimeOriginal="\x1b[31m 2023")
    assert [True] == [what.isprintable() for _, what, _ in facts.faults]


def test_a_picture_without_exif_has_no_facts_and_no_faults(picture_bytes: Callable[..., bytes]) -> None:
    assert ExifFacts() == facts_in(picture_bytes("JPEG"))


@examples(100)
@given(
    changes=st.lists(st.tuples(st.integers(8, 400), st.integers(0, 255)), min_size=1, max_size=6),
    cut=st.integers(0, 60),
)
def test_no_damaged_block_raises(
    changes: list[tuple[int, int]],
    cut: int,
    exif_block: Callable[..., bytes],
) -> None:
    block = bytearray(exif_block(**TIME, **PLACE, **GPS_NOON, OffsetTimeOriginal="+01:00", GPSHPositioningError=(8, 1)))
    for place, byte in changes:
        block[place % len(block)] = byte
    with quiet_readers():
        facts = read_exif(io.BytesIO(bytes(block[: len(block) - cut])), None)
    assert isinstance(facts, ExifFacts)


def test_what_exifread_grumbles_is_heard_nowhere_and_by_others_again(
    exif_block: Callable[..., bytes], caplog: pytest.LogCaptureFixture
) -> None:
    block = bytearray(exif_block(**TIME))
    block[4:8] = b"\xff\xff\0\0"  # the first directory beyond the end
    looped = b"II*\0\x08\0\0\0\0\0\x08\0\0\0"  # a directory whose next is itself, by way of another
    with caplog.at_level(logging.DEBUG, "exifread"), quiet_readers():
        read_exif(io.BytesIO(bytes(block)), None)
        read_exif(io.BytesIO(looped), None)
    assert [] == caplog.records
    with caplog.at_level(logging.DEBUG, "exifread"):
        logging.getLogger("exifread").warning("heard")
    assert ["heard"] == [record.message for record in caplog.records]


def test_pillows_limit_on_pixels_is_its_own_again_afterwards() -> None:
    before = Image.MAX_IMAGE_PIXELS
    with quiet_readers():
        assert None is Image.MAX_IMAGE_PIXELS
    assert before == Image.MAX_IMAGE_PIXELS
