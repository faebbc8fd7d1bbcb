"""A camera's clock that is off: proposed where the day's track shows it, set right only where the settings say so."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime, timedelta
from math import cos, radians
from pathlib import Path
from typing import Any

import pytest

from journal.model import Journal
from journal.problems import Problem
from journal.reading.photos import PhotoFacts, photo_of, read_facts
from journal.settings import CameraClock
from tests.builders import entry

Make = Callable[..., Journal]

START = datetime(2026, 9, 12, 10, tzinfo=UTC)
MINUTES = 90


def place_at(minute: float) -> tuple[float, float]:
    """A walk of 30 m a minute to the north, which bends eastward: no place is passed twice."""
    return 58.3 + minute * 30 / 111_195, -8.9 + (minute / MINUTES) ** 2 / 100


WALK = tuple(map(place_at, range(MINUTES + 1)))


def track(points: Iterable[tuple[float, float]] = WALK, begins: datetime = START) -> str:
    """A point a minute."""
    rows = "".join(
        f'<trkpt lat="{lat}" lon="{lon}"><time>{begins + timedelta(minutes=at):%FT%TZ}</time></trkpt>'
        for at, (lat, lon) in enumerate(points)
    )
    return f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{rows}</trkseg></trk></gpx>'


def shot(minute: float, off_min: float = 0, camera: str | None = "Wren 4", gps: bool = True) -> dict[str, Any]:
    """A photo taken so many minutes into the walk, by a clock that is so many minutes fast."""
    lat, lon = place_at(minute)
    where = {"lat_deg": lat, "lon_deg": lon} if gps else {}
    return {"taken": (START + timedelta(minutes=minute + off_min)).isoformat(), "camera": camera, **where}


def told(make: Make, photos: Mapping[str, Any], files: Mapping[str, str] | None = None) -> list[Problem]:
    journal = make({"tracks/walk.gpx": track(), **(files or {})}, photos)
    return [problem for problem in journal.problems if "clock" in problem.message]


def album(off_min: float, minutes: tuple[float, ...] = (20, 41, 63, 70), **more: Any) -> dict[str, Any]:
    return {f"{minute}.jpg": shot(minute, off_min, **more) for minute in minutes}


@pytest.mark.parametrize(
    ("off_min", "words"),
    [(-47, "47 min slow"), (60, "60 min fast"), (-300, "300 min slow"), (8, "8 min fast")],
)
def test_the_minutes_that_put_the_photos_on_the_track_are_proposed(
    off_min: float, words: str, make_journal: Make
) -> None:
    (problem,) = told(make_journal, album(off_min))
    assert "warning" == problem.severity
    assert f"the clock of the camera Wren 4 seems to have been {words} on 2026-09-12" in problem.message
    assert f'"Wren 4" = "{words} from 2026-09-12 until 2026-09-12"' in problem.fix
    assert f'[camera_clocks]\n"Wren 4" = "{words} from 2026-09-12 until 2026-09-12"\n' == problem.paste


def test_nothing_is_applied_unasked(make_journal: Make) -> None:
    journal = make_journal({"tracks/walk.gpx": track()}, album(-47))
    assert album(-47)["20.jpg"]["taken"] == journal.photo_by_path["20.jpg"].taken.isoformat()


@pytest.mark.parametrize(
    ("why", "photos"),
    [
        ("the clock is right", album(0)),
        ("two minutes are within what a track tells", album(2)),
        ("two photos tell too little", album(-47, (20, 41))),
        ("photos of one place tell no order", album(-47, (20, 20.5, 21))),
        ("no camera is named", album(-47, camera=None)),
        ("their places are not known", album(-47, gps=False)),
        ("farther off than is looked for", album(-400)),
        ("no single offset fits", {f"{at}.jpg": shot(at, off) for at, off in ((20, 0), (41, 70), (63, -60), (70, 33))}),
    ],
)
def test_where_the_track_does_not_tell_nothing_is_proposed(
    why: str, photos: dict[str, Any], make_journal: Make
) -> None:
    assert [] == told(make_journal, photos), why


def test_a_walk_there_and_back_past_the_same_places_tells_by_their_order(make_journal: Make) -> None:
    """Past each place twice: only one offset puts all photos on the track."""
    points = [place_at(at) for at in (*range(46), *range(45, -1, -1))]
    (problem,) = told(make_journal, album(-20, (10, 21, 40)), {"tracks/walk.gpx": track(points)})
    assert "20 min slow" in problem.message


def test_a_stay_longer_than_ten_minutes_shows_no_minutes(make_journal: Make) -> None:
    """At each of three places for half an hour: half an hour of offsets fit alike."""
    stays = [place_at(20 * (at // 30)) for at in range(90)]
    photos = {}
    for at in (15, 45, 75):
        lat, lon = stays[at]
        taken = START + timedelta(minutes=at - 100)
        photos[f"{at}.jpg"] = {"taken": taken.isoformat(), "camera": "Auk", "lat_deg": lat, "lon_deg": lon}
    assert [] == told(make_journal, photos, {"tracks/walk.gpx": track(stays)})


def test_a_photo_in_a_tunnel_of_no_fixes_does_not_hide_the_others(make_journal: Make) -> None:
    rows = [
        f'<trkpt lat="{lat}" lon="{lon}"><time>{START + timedelta(minutes=at):%FT%TZ}</time></trkpt>'
        for at, (lat, lon) in enumerate(WALK)
        if not 59 < at < 67
    ]
    gpx = f"<gpx><trk><trkseg>{''.join(rows)}</trkseg></trk></gpx>"
    (problem,) = told(make_journal, album(-47, (20, 41, 63, 70, 80)), {"tracks/walk.gpx": gpx})
    assert "47 min slow" in problem.message
    assert [] == told(make_journal, album(-47, (20, 41, 63)), {"tracks/walk.gpx": gpx})


def test_a_table_that_is_there_already_is_not_pasted_again(make_journal: Make) -> None:
    settings = '[journal]\ntitle = "Shore"\n[camera_clocks]\n"Auk" = "3 min fast"\n'
    (problem,) = told(make_journal, album(-47), {"journal.toml": settings})
    assert "" == problem.paste
    assert '"Wren 4" = "47 min slow' in problem.fix


def test_where_a_find_is_shows_where_its_photos_were_taken(make_journal: Make) -> None:
    minutes = (20, 41, 63)
    files = {
        f"finds/{at}/find.md": entry(
            "find", f"id: F-{at}\ndate: 2026-09-12\nwhere: {place_at(at)[0]:.6f}, {place_at(at)[1]:.6f} ±8 m"
        )
        for at in minutes
    }
    photos = {f"finds/{at}/a.jpg": shot(at, -47, gps=False) for at in minutes}
    (problem,) = told(make_journal, photos, files)
    assert "47 min slow" in problem.message
    assert "finds/20/a.jpg" == problem.path


def test_days_of_one_fault_are_shown_in_one_line_and_cameras_apart(make_journal: Make) -> None:
    day = timedelta(days=1)
    second = {
        f"b{path}": {**row, "taken": (datetime.fromisoformat(row["taken"]) + day).isoformat()}
        for path, row in album(-47).items()
    }
    other = {f"c{path}": row for path, row in album(30, camera="Auk").items()}
    files = {"tracks/next.gpx": track(begins=START + day)}
    problems = told(make_journal, {**album(-47), **second, **other}, files)
    messages = sorted(problem.message for problem in problems)
    assert 2 == len(messages)
    assert "camera Auk seems to have been 30 min fast on 2026-09-12" in messages[0]
    assert "47 min slow from 2026-09-12 to 2026-09-13: set right, 8 photos" in messages[1]


def test_a_name_with_quotation_marks_can_be_pasted(make_journal: Make) -> None:
    (problem,) = told(make_journal, album(-47, camera='Auk "II" \\'))
    assert ['Auk "II" \\'] == list(tomllib.loads(problem.paste)["camera_clocks"])


# What the settings say


def test_a_camera_is_known_by_the_model_in_its_photos(
    tmp_path: Path, exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]
) -> None:
    (tmp_path / "a.jpg").write_bytes(picture_bytes("JPEG", exif_block(Model="Wren 4 ")))
    (tmp_path / "b.jpg").write_bytes(picture_bytes("JPEG"))
    assert ("Wren 4", None) == tuple(read_facts(tmp_path / name).camera for name in ("a.jpg", "b.jpg"))


@pytest.mark.parametrize(
    ("expected", "camera", "clock"),
    [
        ("10:47", "Wren 4", CameraClock(camera="wren 4", add_min=47)),
        ("10:00", "Auk", CameraClock(camera="Wren 4", add_min=47)),
        ("10:00", None, CameraClock(camera="Wren 4", add_min=47)),
        ("09:00", "Auk", CameraClock(camera="Auk", add_min=-60, first=START.date(), last=START.date())),
        ("10:00", "Auk", CameraClock(camera="Auk", add_min=-60, first=START.date() + timedelta(days=1))),
        ("10:00", "Auk", CameraClock(camera="Auk", add_min=-60, last=START.date() - timedelta(days=1))),
    ],
)
def test_the_photos_of_a_camera_that_is_said_to_be_off_are_dated_right(
    expected: str, camera: str | None, clock: CameraClock
) -> None:
    facts = PhotoFacts("d", "JPEG", local=START.replace(tzinfo=None), camera=camera)
    photo, problems = photo_of(facts, "a.jpg", UTC, (clock,))
    assert ((), camera) == (problems, photo.camera)
    assert photo.taken is not None
    assert expected == f"{photo.taken:%H:%M}"


# Walks as receivers really write them


def walked(
    seconds: int, home: tuple[float, float] = (58.3, -8.9), begins: datetime = START
) -> list[tuple[str, float, float]]:
    """The walk from another place and moment, a point every so many seconds."""
    rows = []
    for at in range(0, MINUTES * 60 + 1, seconds):
        lat, lon = place_at(at / 60)
        east = home[1] + (lon + 8.9) * 0.5255 / max(cos(radians(home[0])), 0.01)  # as far in metres as at 58.3 N
        rows.append((f"{begins + timedelta(seconds=at):%FT%TZ}", home[0] + lat - 58.3, (east + 180) % 360 - 180))
    return rows


@pytest.mark.parametrize(
    ("seconds", "home", "begins", "times"),
    [
        (1, (58.3, -8.9), START, 1),  # a point a second
        (60, (58.3, -8.9), START, 2),  # every point twice
        (60, (58.3, -8.9), datetime(2026, 9, 11, 23, 15, tzinfo=UTC), 1),  # across midnight UTC
        (60, (-16.8, 179.9995), START, 1),  # across the antimeridian
        (60, (-0.01, -0.002), START, 1),  # across 0, 0
        (60, (89.0, 20.0), START, 1),
    ],
)
def test_walks_as_receivers_write_them_tell_the_minutes(
    seconds: int, home: tuple[float, float], begins: datetime, times: int, make_journal: Make
) -> None:
    points = walked(seconds, home, begins)
    rows = "".join(f'<trkpt lat="{lat}" lon="{lon}"><time>{time}</time></trkpt>' * times for time, lat, lon in points)
    photos = {}
    for minute in (20, 41, 63, 70):
        time, lat, lon = points[minute * 60 // seconds]
        taken = datetime.fromisoformat(time) - timedelta(minutes=47)
        photos[f"{minute}.jpg"] = {"taken": taken.isoformat(), "camera": "Auk", "lat_deg": lat, "lon_deg": lon}
    gpx = f"<gpx><trk><trkseg>{rows}</trkseg></trk></gpx>"
    (problem,) = told(make_journal, photos, {"tracks/walk.gpx": gpx})
    assert "47 min slow" in problem.message


def test_in_us_units_it_says_in_feet_how_far_off_the_photos_are(make_journal: Make) -> None:
    """1 ft = 0.3048 m exactly (NIST SP 811, 2008, appendix B.8); the message in metres is rounded to whole ones."""
    (metric,), (us,) = (
        told(make_journal, album(-12), {"journal.toml": f'[journal]\nunits = "{units}"\ntime_zone = "UTC"\n'})
        for units in ("metric", "us")
    )
    metres, feet = (
        re.search(rf"about 0 {unit} from the track; as it is, they lie (\d+) {unit} from it$", found.message)
        for unit, found in (("m", metric), ("ft", us))
    )
    assert metres
    assert feet
    assert int(feet[1]) * 0.3048 == pytest.approx(int(metres[1]), abs=0.7)
