"""Waypoints and tracks for a handheld GPS, read back by gpxpy and by exiftool, which places a picture on the track."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import gpxpy
import pytest

from journal.export.gpx import gpx_of, open_tracks
from journal.export.occurrences import OccurrenceRecord, RecordOptions, records_of
from journal.model import Find, Journal, Position, When
from journal.reading.tracks import Track, read_track
from tests.builders import find, journal_of

SPACE = "{http://www.topografix.com/GPX/1/1}"


def records(*finds: Find) -> tuple[OccurrenceRecord, ...]:
    journal = journal_of(*finds)
    return records_of(journal, journal, [row.id for row in journal.finds], RecordOptions(exact=True))


def at(lat: float, lon: float, **more: Any) -> Position:
    return Position(lat, lon, more.pop("uncertainty_m", 8.0), "entry", **more)


def track_of(points: Sequence[tuple[str, float, float]], path: str = "tracks/walk.gpx") -> Track:
    rows = "".join(f'<trkpt lat="{lat}" lon="{lon}"><time>{time}</time></trkpt>' for time, lat, lon in points)
    text = f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{rows}</trkseg></trk></gpx>'
    track, problems = read_track(path, text.encode())
    assert () == problems
    return track


def test_a_find_is_a_waypoint_with_its_id_its_time_in_utc_and_how_sure_it_is() -> None:
    moment = datetime.fromisoformat("2026-09-12T00:30+01:00")
    one = find("F-1", date=When("", date(2026, 9, 12), "minute", moment), position=at(58.30412, -8.90177),
               species="Pleurotus pulmonarius", certainty="likely", elevation_m=17.0)  # fmt: skip
    text = gpx_of(records(one, find("F-2")))
    assert "<time>2026-09-11T23:30:00Z</time>" in text
    (point,) = gpxpy.parse(text).waypoints
    assert ("F-1", 58.30412, -8.90177, 17.0) == (point.name, point.latitude, point.longitude, point.elevation)
    assert datetime(2026, 9, 11, 23, 30, tzinfo=UTC) == point.time
    assert "Pleurotus cf. pulmonarius; 2026-09-12T00:30+01:00; within 8 m" == point.description


def test_the_centre_of_a_cell_says_that_it_is_not_the_spot() -> None:
    journal = journal_of(find("F-1", position=at(58.3, -8.9, grid_deg=0.1, uncertainty_m=13000.0)))
    (record,) = records_of(journal, journal, ["F-1"], RecordOptions())
    (point,) = gpxpy.parse(gpx_of([record])).waypoints
    assert point.description.endswith("not the spot: centre of a cell of 0.1°, within 13 km")


@pytest.mark.parametrize(
    ("lat", "lon", "expected"),
    [
        (0.0, 0.0, (0.0, 0.0)),
        (90.0, 0.0, (90.0, 0.0)),
        (-90.0, -180.0, (-90.0, -180.0)),
        (-16.5, 180.0, (-16.5, -180.0)),
        (-16.5, 179.99999999, (-16.5, -180.0)),
        (1e-7, -1e-7, (1e-7, -1e-7)),
    ],
)
def test_a_place_at_the_edge_of_the_world_is_in_the_range_of_the_schema(lat: float, lon: float, expected: Any) -> None:
    """GPX 1.1: latitudeType -90 to 90, longitudeType -180 up to, and without, 180; xsd:decimal has no exponent."""
    text = gpx_of(records(find("F-1", position=at(lat, lon))))
    (point,) = ElementTree.fromstring(text).iter(f"{SPACE}wpt")
    assert expected == (float(point.attrib["lat"]), float(point.attrib["lon"]))
    assert [] == [value for value in point.attrib.values() if "e" in value.lower()]


def test_words_of_an_author_make_no_broken_xml() -> None:
    one = find("F-1", position=at(1, 1), species="<b>&\x0b]]> \ud800 oyster")
    assert 1 == len(gpxpy.parse(gpx_of(records(one))).waypoints)


# A second apart across midnight UTC, a point doubled, none with a height
NIGHT = datetime(2026, 9, 11, 23, 59, 58, tzinfo=UTC)
WALK = [
    (f"{NIGHT + timedelta(seconds=second):%Y-%m-%dT%H:%M:%SZ}", 58.3 + step / 1e5, -8.9)
    for step, second in enumerate([0, 1, 1, 2, 3, 4])
]


def test_a_track_comes_back_as_it_was_read() -> None:
    track = track_of(WALK)
    (made,) = gpxpy.parse(gpx_of((), [track])).tracks
    (segment,) = made.segments
    assert "walk" == made.name
    stamps = [point.time.timestamp() for point in segment.points]
    assert list(track.stamps_s) == stamps == sorted(set(stamps))
    assert pytest.approx(track.lats_deg, abs=1e-7) == tuple(point.latitude for point in segment.points)
    again, problems = read_track("again.gpx", gpx_of((), [track]).encode())
    assert () == problems
    assert (track.stamps_s, track.starts) == (again.stamps_s, again.starts)
    assert pytest.approx(track.lons_deg, abs=1e-7) == again.lons_deg


def test_gaps_stay_gaps_between_segments() -> None:
    text = "".join(
        f'<trkseg><trkpt lat="58.3" lon="-8.9"><time>2026-09-12T{hour}:00:00Z</time></trkpt></trkseg>'
        for hour in ("10", "11")
    )
    track, _ = read_track("walk.gpx", f"<gpx><trk>{text}</trk></gpx>".encode())
    (made,) = gpxpy.parse(gpx_of((), [track])).tracks
    assert [1, 1] == [len(segment.points) for segment in made.segments]


@pytest.mark.parametrize("hertz", [1, 1 / 60])
def test_exiftool_places_a_picture_on_the_exported_track(
    tmp_path: Path, need_program: Any, need_exiftool: Any, picture_bytes: Any, hertz: float
) -> None:
    """-geotag interpolates by its own code; the picture is taken half-way between the first and the third point."""
    points = [
        (f"{NIGHT + timedelta(seconds=number / hertz):%Y-%m-%dT%H:%M:%SZ}", 58.3 + number / 1e4, 179.99)
        for number in range(3)
    ]
    (tmp_path / "walk.gpx").write_text(gpx_of((), [track_of(points)]), encoding="utf-8")
    (tmp_path / "a.jpg").write_bytes(picture_bytes("JPEG"))
    taken = NIGHT + timedelta(seconds=1 / hertz)
    subprocess.run(
        [need_program("exiftool"), "-q", "-overwrite_original", f"-geotag={tmp_path / 'walk.gpx'}",
         f"-geotime={taken:%Y:%m:%d %H:%M:%S}+00:00", tmp_path / "a.jpg"],
        check=True, timeout=60,
    )  # fmt: skip
    tags = need_exiftool(tmp_path / "a.jpg", "-n", "-GPSLatitude", "-GPSLongitude")
    assert (58.3001, 179.99) == (
        pytest.approx(tags["GPSLatitude"], abs=1e-6), pytest.approx(tags["GPSLongitude"], abs=1e-6),
    )  # fmt: skip


def private(**more: Any) -> Journal:
    """A journal of one open find and a private one, which its public journal does not have."""
    seen = find("F-1", "2026-09-12", position=at(58.3, -8.9))
    journal = journal_of(seen, find("F-2", private=True, **more))
    return journal.with_public(lambda: journal_of(seen))


@pytest.mark.parametrize(
    ("expected", "more"),
    [
        (1, {"on": "2026-03-01", "position": at(58.4, -8.9)}),
        (0, {"on": "2026-03-01", "position": at(58.3005, -8.9)}),
        (0, {"on": "2026-09-12"}),
        (0, {"date": When("2026-09", date(2026, 9, 1), "month")}),
        (1, {"on": "2026-09-15"}),
    ],
)
def test_a_track_that_leads_to_a_private_find_is_left_out(expected: int, more: dict[str, Any]) -> None:
    track = track_of(WALK)
    assert expected == len(open_tracks([track], private(**more)))


def test_of_chosen_finds_only_the_tracks_of_their_days_go_along() -> None:
    journal = journal_of(find("F-1", "2026-09-12"), find("F-2", "2026-10-20"))
    track = track_of(WALK)
    assert [1, 0] == [len(open_tracks([track], journal, [row])) for row in journal.finds]
    assert () == open_tracks([Track("empty.gpx")], journal)
