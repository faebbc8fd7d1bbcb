"""Cameras whose clock is wrong: found if a day's photos of known places would be on a track at another time.

An offset is proposed and never applied: a revisit without a track can look the same.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import cos, hypot, radians
from statistics import median

from journal.amounts import Units, way
from journal.model import Journal, Photo
from journal.problems import Problem
from journal.quantities import counted
from journal.reading.tracks import Track, place_on

_LEAST_PHOTOS = 3
_FARTHEST = timedelta(hours=6)
_FITS_M, _FITS_ALREADY_M = 50.0, 100.0
_APART_M = 100.0
"""Places closer together do not show in which order they were visited."""
_SAME_MIN = 10
"""If offsets that fit about equally well are further apart, the track decides nothing."""
_MOST_PHOTOS = 12
_METRES_IN_A_DEGREE = 111_195.0


@dataclass(frozen=True, slots=True)
class _Shot:
    """A photo whose place is known independently of its time: by its own GPS, or by the `where` of its find."""

    photo: Photo
    taken: datetime
    lat_deg: float
    lon_deg: float

    def from_m(self, lat_deg: float, lon_deg: float) -> float:
        """Metres on a sphere, accurate enough for the few kilometres that matter here."""
        east_deg = lon_deg - self.lon_deg
        east_deg -= 360 * round(east_deg / 360)
        return _METRES_IN_A_DEGREE * hypot(lat_deg - self.lat_deg, east_deg * cos(radians(self.lat_deg)))


@dataclass(frozen=True, slots=True)
class _Found:
    """minutes: to add on the days from `first` to `last`. away_m: the median distance after that; was_m: before, None
    if the track does not cover the photos."""

    minutes: int
    first: date
    last: date
    shots: tuple[_Shot, ...]
    away_m: float
    was_m: float | None


def clock_problems(journal: Journal, tracks: Sequence[Track]) -> Iterator[Problem]:
    """One warning for each camera and run of days on which its clock was off by the same minutes."""
    by_day: dict[tuple[str, date], list[_Shot]] = defaultdict(list)
    for shot in _shots(journal) if tracks else ():
        if shot.photo.camera:
            by_day[shot.photo.camera, shot.taken.date()].append(shot)
    runs: dict[str, list[_Found]] = defaultdict(list)
    for (camera, day), shots in sorted(by_day.items(), key=lambda row: row[0]):
        found = _offset(shots, day, tracks)
        if found is None:
            continue
        before = runs[camera][-1] if runs[camera] else None
        if before and abs(before.minutes - found.minutes) <= 2:
            runs[camera][-1] = _Found(
                before.minutes, before.first, day, (*before.shots, *found.shots), before.away_m, before.was_m
            )
        else:
            runs[camera].append(found)
    has_table = bool(journal.settings.camera_clocks)
    for camera, rows in runs.items():
        yield from (_problem(camera, found, has_table, journal.settings.units) for found in rows)


def _shots(journal: Journal) -> Iterator[_Shot]:
    where = {
        use.path: find.position
        for find in journal.finds
        if find.position is not None and find.position.source == "entry"
        for use in find.photos
    }
    for photo in journal.photos:
        if photo.taken is None:
            continue
        if photo.lat_deg is not None and photo.lon_deg is not None:
            yield _Shot(photo, photo.taken, photo.lat_deg, photo.lon_deg)
        elif (place := where.get(photo.path)) is not None:
            yield _Shot(photo, photo.taken, place.lat_deg, place.lon_deg)


def _offset(shots: Sequence[_Shot], day: date, tracks: Sequence[Track]) -> _Found | None:
    """The only offset in whole minutes that puts the photos on the track; None if they are on it without one."""
    first, last = min(shot.taken for shot in shots), max(shot.taken for shot in shots)
    near = [
        track
        for track in tracks
        if track.starts
        and track.to_s >= (first - _FARTHEST).timestamp()
        and track.from_s <= (last + _FARTHEST).timestamp()
    ]
    is_spread = any(shots[0].from_m(shot.lat_deg, shot.lon_deg) >= _APART_M for shot in shots)
    if len(shots) < _LEAST_PHOTOS or not near or not is_spread:
        return None
    chosen = tuple(shots[:: -(-len(shots) // _MOST_PHOTOS)])
    was_m = _away_m(chosen, near, 0)
    if was_m is not None and was_m <= _FITS_ALREADY_M:
        return None
    most = int(_FARTHEST.total_seconds() // 60)
    away = {at: away_m for at in range(-most, most + 1) if (away_m := _away_m(chosen, near, at)) is not None}
    best = min(away, key=lambda at: (away[at], abs(at)), default=None)
    if best is None or away[best] > _FITS_M:
        return None
    alike = [at for at, away_m in away.items() if away_m <= away[best] + _FITS_M]
    if max(alike) - min(alike) > _SAME_MIN:
        return None
    return _Found(best, day, day, tuple(shots), away[best], was_m)


def _away_m(shots: Sequence[_Shot], tracks: Sequence[Track], minutes: int) -> float | None:
    """The median distance of the photos from the track, shifted by some minutes; None if it covers too few."""
    places = ((shot, place_on(tracks, shot.taken + timedelta(minutes=minutes))) for shot in shots)
    away = [shot.from_m(place.lat_deg, place.lon_deg) for shot, place in places if place is not None]
    return median(away) if len(away) >= max(_LEAST_PHOTOS, 0.8 * len(shots)) else None


def _problem(camera: str, found: _Found, has_table: bool, units: Units) -> Problem:
    days = f"on {found.first}" if found.first == found.last else f"from {found.first} to {found.last}"
    off = f"{abs(found.minutes)} min {'slow' if found.minutes > 0 else 'fast'}"
    was = "the track does not cover them" if found.was_m is None else f"they lie {way(found.was_m, units)} from it"
    away = way(found.away_m, units)
    message = (
        f"the clock of the camera {camera} seems to have been {off} {days}: set right, "
        f"{counted(len(found.shots), 'photo')} would lie about {away} from the track; as it is, {was}"
    )
    name = camera.replace("\\", "\\\\").replace('"', '\\"')
    line = f'"{name}" = "{off} from {found.first} until {found.last}"'
    fix = f"if that is so, write in journal.toml, under [camera_clocks]: {line} (the days may be left out)"
    paste = "" if has_table else f"[camera_clocks]\n{line}\n"
    return Problem(found.shots[0].photo.path, 0, "warning", message, fix, paste)
