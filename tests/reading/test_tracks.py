"""Track logs. The walk is invented; times are UTC, as GPX 1.1 has them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.reading.tracks import Track, place_on, read_track

NAMESPACE = {"1.0": "http://www.topografix.com/GPX/1/0", "1.1": "http://www.topografix.com/GPX/1/1"}
PATH = "tracks/2026-09-12.gpx"


def point(time: str | None, lat: float = 58.304, lon: float = -8.901) -> str:
    stamp = "" if time is None else f"<time>{time}</time>"
    return f'<trkpt lat="{lat}" lon="{lon}"><ele>12.0</ele>{stamp}</trkpt>'


def gpx(*segments: str, version: str = "1.1", head: str = '<?xml version="1.0" encoding="UTF-8"?>\n') -> str:
    inside = "".join(f"<trkseg>{segment}</trkseg>" for segment in segments)
    return (
        f'{head}<gpx version="{version}" creator="x" xmlns="{NAMESPACE[version]}"><trk><name>Älder</name>{inside}</trk>'
        "</gpx>"
    )


def read(text: str) -> Track:
    track, problems = read_track(PATH, text.encode())
    assert problems == ()
    return track


def at(clock: str) -> datetime:
    return datetime.fromisoformat(f"2026-09-12T{clock}").replace(tzinfo=UTC)


WALK = gpx(
    point("2026-09-12T10:00:00Z", 58.300, -8.900) + point("2026-09-12T10:04:00Z", 58.304, -8.908),
    point("2026-09-12T10:06:00Z", 58.310, -8.910) + point("2026-09-12T10:12:00Z", 58.320, -8.920),
)


@pytest.mark.parametrize("version", ["1.0", "1.1"])
def test_both_versions_of_gpx_are_read(version: str) -> None:
    track = read(gpx(point("2026-09-12T10:00:00Z"), version=version))
    assert Track(PATH, (1789207200.0,), (58.304,), (-8.901,), (0,), 1789207200.0, 1789207200.0) == track


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        (gpx(point("2026-09-12T10:00:00Z")), "utf-8"),
        (gpx(point("2026-09-12T10:00:00Z")), "utf-8-sig"),
        (gpx(point("2026-09-12T10:00:00Z"), head='<?xml version="1.0" encoding="UTF-16"?>'), "utf-16"),
        (gpx(point("2026-09-12T10:00:00Z"), head="<?xml version='1.0' encoding='ISO-8859-1'?>"), "latin-1"),
        (gpx(point("2026-09-12T10:00:00Z"), head='<?xml version="1.0" encoding="windows-1252"?>'), "cp1252"),
        (gpx(point("2026-09-12T10:00:00Z"), head=""), "utf-8"),
    ],
)
def test_encoding_is_found_from_the_file(data: str, encoding: str) -> None:
    track, problems = read_track(PATH, data.encode(encoding))
    assert ((), (58.304,)) == (problems, track.lats_deg)


def test_place_is_interpolated_between_the_two_points_about_the_moment() -> None:
    place = place_on([read(WALK)], at("10:01:00"))
    assert place is not None
    assert (58.301, -8.902) == pytest.approx((place.lat_deg, place.lon_deg))
    assert ("track", None) == (place.source, place.uncertainty_m)


def test_moment_in_another_offset_is_the_same_moment() -> None:
    summer = datetime(2026, 9, 12, 11, 1, tzinfo=timezone(timedelta(hours=1)))
    assert place_on([read(WALK)], at("10:01:00")) == place_on([read(WALK)], summer)


@pytest.mark.parametrize("clock", ["09:59:59", "10:05:00", "10:07:00", "10:12:01"])
def test_nothing_is_placed_outside_between_segments_or_across_a_gap(clock: str) -> None:
    assert place_on([read(WALK)], at(clock)) is None


@pytest.mark.parametrize(
    ("lat", "clock"), [(58.300, "10:00:00"), (58.304, "10:04:00"), (58.310, "10:06:00"), (58.320, "10:12:00")]
)
def test_moment_of_a_point_is_placed_on_it_whatever_the_gaps_beside_it(lat: float, clock: str) -> None:
    place = place_on([read(WALK)], at(clock))
    assert place is not None
    assert lat == place.lat_deg


@pytest.mark.parametrize(("placed", "end"), [(True, "10:05:00"), (False, "10:05:01")])
def test_gap_of_five_minutes_is_bridged_and_a_longer_one_is_not(placed: bool, end: str) -> None:
    track = read(gpx(point("2026-09-12T10:00:00Z") + point(f"2026-09-12T{end}Z")))
    assert placed == (place_on([track], at("10:02:00")) is not None)


def test_closest_pair_of_points_rules_where_tracks_overlap() -> None:
    coarse = read(gpx(point("2026-09-12T10:00:00Z", 50) + point("2026-09-12T10:04:00Z", 50)))
    fine = read(gpx(point("2026-09-12T10:00:50Z", 58) + point("2026-09-12T10:01:10Z", 58)))
    place = place_on([coarse, fine], at("10:01:00"))
    assert place is not None
    assert place.lat_deg == 58


def test_walk_over_the_antimeridian_takes_the_short_way() -> None:
    track = read(gpx(point("2026-09-12T10:00:00Z", 0, 179.999) + point("2026-09-12T10:04:00Z", 0, -179.997)))
    place = place_on([track], at("10:03:00"))
    assert place is not None
    assert place.lon_deg == pytest.approx(-179.998)


def test_stamp_without_offset_is_utc() -> None:
    assert read(gpx(point("2026-09-12T10:00:00"))).stamps_s == read(gpx(point("2026-09-12T10:00:00Z"))).stamps_s


def test_time_that_goes_back_starts_a_new_run_and_is_odd() -> None:
    text = gpx("".join(point(f"2026-09-12T10:{m}:00Z", 58 + m / 100) for m in (10, 12, 11, 13)))
    track, problems = read_track(PATH, text.encode())
    assert (0, 2) == track.starts
    assert [("warning", "time goes back once within a segment")] == [(p.severity, p.message) for p in problems]
    assert place_on([track], at("10:11:30")) is not None


def test_doubled_stamp_keeps_the_first_point() -> None:
    track = read(gpx(point("2026-09-12T10:00:00Z", 58.1) + point("2026-09-12T10:00:00Z", 58.2)))
    assert (58.1,) == track.lats_deg


@pytest.mark.parametrize(
    ("says", "segment"),
    [
        ("no track points", ""),
        ("no track point has a time", point(None)),
        ("no track point has a time", point("half past ten")),
        ("no track point has a time", point("2026-13-41T10:00:00Z")),
        ("1 point without a time", point(None) + point("2026-09-12T10:00:00Z")),
        ("2 points with impossible coordinates", 2 * point("2026-09-12T10:00:00Z", 91) + point("2026-09-12T10:00:00Z")),
        ("1 point with impossible coordinates", point("2026-09-12T10:00:00Z", float("nan"))),
    ],
)
def test_points_that_place_nothing_are_odd(says: str, segment: str) -> None:
    _, problems = read_track(PATH, gpx(segment).encode())
    assert [(PATH, "warning")] == [(p.path, p.severity) for p in problems]
    assert says in problems[0].message


BOMB = (
    '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa">'
    + "".join(f'<!ENTITY a{n} "{10 * f"&a{n - 1 if n else str()};"}">' for n in range(10))
    + ']><gpx version="1.1"><trk><name>&a9;</name></trk></gpx>'
)


@pytest.mark.parametrize(
    ("says", "data"),
    [
        ("not complete XML", b""),
        ("not complete XML", b"58.304, -8.901"),
        ("not complete XML", gpx(point("2026-09-12T10:00:00Z")).encode()[:-20]),
        ("document type", BOMB.encode()),
        ("document type", BOMB.encode("utf-16")),
        ("document type", b'<!DOCTYPE gpx SYSTEM "file:///etc/hostname"><gpx/>'),
        ("cannot be read", gpx('<trkpt lat="north" lon="1"/>').encode()),
        ("cannot be read", gpx('<trkpt lat="58"/>').encode()),
        ("encoding", b"\xff\xff<gpx/>"),
        ("encoding", b'<?xml version="1.0" encoding="rot13"?><gpx/>'),
        ("encoding", b'<?xml version="1.0" encoding="punycode"?><gpx/>'),
        ("encoding", b'<?xml version="1.0" encoding="no-such"?><gpx/>'),
        ("larger than 32 MB", b" " * (32 * 1024 * 1024 + 1)),
        ("not GPX", b"<gpx" + 101 * b" xmlns:a" + b"/>"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_file_that_is_not_a_track_log_is_one_problem_and_no_points(says: str, data: bytes) -> None:
    track, problems = read_track(PATH, data)
    assert Track(PATH) == track
    assert ["error"] == [problem.severity for problem in problems]
    assert says in problems[0].message


def test_broken_xml_is_reported_with_its_line() -> None:
    _, problems = read_track(PATH, b"<gpx version='1.1'>\n<trk>\n</track></gpx>")
    assert [3] == [problem.line for problem in problems]


def test_problem_never_reveals_a_place() -> None:
    _, problems = read_track(PATH, gpx('<trkpt lat="58.30412N" lon="8.9"/>').encode())
    assert "58.3" not in problems[0].sentence


def test_deep_nesting_ends_as_a_track_or_a_problem() -> None:
    deep = gpx(point("2026-09-12T10:00:00Z")).replace(
        "</gpx>", f"<extensions>{'<a>' * 20000}{'</a>' * 20000}</extensions></gpx>"
    )
    track, problems = read_track(PATH, deep.encode())
    assert track.stamps_s or problems


@given(st.binary(max_size=300))
def test_any_bytes_end_as_a_track_and_problems(data: bytes) -> None:
    track, problems = read_track(PATH, data)
    assert track.stamps_s or problems


@given(
    st.lists(st.integers(0, 3600), min_size=2, max_size=60, unique=True).map(sorted),
    st.integers(0, 3600),
)
def test_place_found_lies_between_the_neighbours_in_time(seconds: list[int], asked: int) -> None:
    stamps = tuple(float(s) for s in seconds)
    lats = tuple(s / 100 for s in stamps)
    track = Track(PATH, stamps, lats, (0.0,) * len(stamps), (0,), stamps[0], stamps[-1])
    place = place_on([track], datetime.fromtimestamp(asked, UTC))
    before, after = [s for s in seconds if s <= asked], [s for s in seconds if s >= asked]
    covered = bool(before and after) and after[0] - before[-1] <= 300
    assert covered == (place is not None)
    if place is not None:
        assert asked / 100 == pytest.approx(place.lat_deg)


def test_the_outline_has_points_some_metres_apart_and_is_broken_where_fixes_failed() -> None:
    # 1 Hz and 1.1 m a second for two minutes, a tunnel of ten minutes, and as much again
    start = datetime(2026, 9, 12, 9, tzinfo=UTC)
    seconds = [*range(120), *range(720, 840)]
    stamps = [(start + timedelta(seconds=s)).isoformat() for s in seconds]
    points = [point(stamp, round(58.3 + s * 1e-5, 6), -8.9) for s, stamp in zip(seconds, stamps, strict=True)]
    track, problems = read_track(PATH, gpx("".join(points)).encode())
    assert () == problems
    assert [24, 24] == [len(line) for line in track.outline]  # every fifth point: 5.6 m
    assert (58.3072, -8.9) == track.outline[1][0]
