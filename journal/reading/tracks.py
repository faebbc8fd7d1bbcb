"""GPX track logs: where the author was, and so where a photo without a position was taken."""

from __future__ import annotations

import codecs
import re
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import accumulate, pairwise
from math import cos, radians
from typing import NamedTuple

from journal.model import Position
from journal.problems import Problem, Unreadable
from journal.reading.folder import LARGEST_BYTES, too_large

LONGEST_GAP_S = 300.0
OUTLINE_STEP_M = 5.0
_MOST_NAMESPACES = 100

_TEXT_ENCODINGS = ("utf-8", "utf-16", "ascii", "iso8859", "cp125")
_DECLARATION = re.compile(r"\A\s*<\?xml\b[^>]*\?>")
_DECLARED_ENCODING = re.compile(rb"""\A\s*<\?xml\b[^>]*\bencoding\s*=\s*["']([A-Za-z0-9._-]+)["']""")


@dataclass(frozen=True, slots=True)
class Track:
    """One GPX file: points in runs, each run in time order.

    stamps_s (seconds since 1970-01-01T00:00Z), lats_deg, lons_deg: of equal length.
    starts: index of the first point of each run; nothing is interpolated from one run to the next.
    outline: the runs as a map draws them, (latitude, longitude) of points at least `OUTLINE_STEP_M` apart.
    """

    path: str
    stamps_s: tuple[float, ...] = field(default=(), repr=False)
    lats_deg: tuple[float, ...] = field(default=(), repr=False)
    lons_deg: tuple[float, ...] = field(default=(), repr=False)
    starts: tuple[int, ...] = ()
    from_s: float = 0.0
    to_s: float = 0.0
    outline: tuple[tuple[tuple[float, float], ...], ...] = field(default=(), repr=False)

    def runs(self) -> Iterator[tuple[int, int]]:
        """First index and index past the last of each run."""
        return pairwise((*self.starts, len(self.stamps_s)))


class _Point(NamedTuple):
    stamp_s: float
    lat_deg: float
    lon_deg: float


class _Sorted(NamedTuple):
    """Points of a file in runs, and what had to be skipped or cut to get them."""

    runs: list[list[_Point]]
    untimed: int
    impossible: int
    backward: int


def read_track(path: str, data: bytes) -> tuple[Track, tuple[Problem, ...]]:
    """The track points of a GPX 1.0 or 1.1 file that have a time, and what is wrong with the file.

    path: relative to the journal folder. A stamp without offset is UTC, as in GPX 1.1. Never raises for the file's
    content; a file that cannot be read gives a track without points and a problem.
    """
    if len(data) > LARGEST_BYTES["gpx"]:
        return Track(path), (too_large(path, "gpx"),)
    try:
        segments = _segments(_text(data))
    except _BrokenXml as broken:
        return Track(path), (Problem(path, broken.line, "error", broken.message, broken.fix),)
    except Unreadable as unreadable:
        return Track(path), (Problem(path, 0, "error", unreadable.message, unreadable.fix),)
    found = _in_runs(segments)
    problems = tuple(Problem(path, 0, "warning", *words) for words in _problems(found))
    return _track(path, found.runs), problems


def place_on(tracks: Sequence[Track], moment: datetime) -> Position | None:
    """Where the author was at an aware moment according to the tracks, or None if none covers it.

    Interpolated in time between the two points around the moment, but not across more than 5 minutes or between
    segments. Of several tracks the one with the closest pair of points is used. uncertainty_m is None: a track log does
    not state one.
    """
    stamp_s = moment.timestamp()
    pairs = (pair for track in tracks for pair in _pairs_about(track, stamp_s))
    found = min(pairs, key=lambda pair: pair[1].stamp_s - pair[0].stamp_s, default=None)
    return None if found is None else _between(*found, stamp_s)


class _BrokenXml(Unreadable):
    def __init__(self, line: int) -> None:
        super().__init__("this track is not complete XML", "export the track again")
        self.line = line


def _text(data: bytes) -> str:
    """The file's text without its XML declaration; raises Unreadable if it is not text, or not safe to parse."""
    try:
        text = _DECLARATION.sub("", data.decode(_encoding(data)), count=1)
    except (LookupError, UnicodeDecodeError) as error:
        raise Unreadable("this track is not in the encoding that it names", "export it as UTF-8") from error
    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        raise Unreadable("this track declares a document type, which GPX does not use", "export the track again")
    if text.count("xmlns") > _MOST_NAMESPACES:
        raise Unreadable("this track is not GPX", "export the track again as GPX")
    return text


def _encoding(data: bytes) -> str:
    """The encoding that a byte order mark or the XML declaration names, or UTF-8."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    declared = _DECLARED_ENCODING.match(data)
    if data.startswith(codecs.BOM_UTF8) or declared is None:
        return "utf-8-sig"
    name = codecs.lookup(declared[1].decode("ascii")).name
    if not name.startswith(_TEXT_ENCODINGS):
        raise LookupError(name)  # Python also has codecs that are not character sets, some of them slow
    return name


def _segments(text: str) -> list[list[tuple[datetime | None, float, float]]]:
    """Time, latitude and longitude of each point of each track segment."""
    import gpxpy
    from gpxpy.gpx import GPXXMLSyntaxException

    try:
        gpx = gpxpy.parse(text)
    except GPXXMLSyntaxException as error:
        raise _BrokenXml(getattr(error.__context__, "position", (0, 0))[0]) from error
    except Exception as error:  # gpxpy passes on whatever the conversion of a field raises
        raise Unreadable("a value in this track cannot be read", "export the track again as GPX") from error
    return [
        [(point.time, point.latitude, point.longitude) for point in segment.points]
        for track in gpx.tracks
        for segment in track.segments
    ]


def _in_runs(segments: Iterable[Iterable[tuple[datetime | None, float, float]]]) -> _Sorted:
    """Points that have a time, with a new run wherever a segment begins or time goes back."""
    runs: list[list[_Point]] = []
    untimed = impossible = backward = 0
    for segment in segments:
        run: list[_Point] = []
        runs.append(run)
        for time, lat_deg, lon_deg in segment:
            if time is None:
                untimed += 1
                continue
            if not (abs(lat_deg) <= 90 and abs(lon_deg) <= 180):  # written so that NaN fails too
                impossible += 1
                continue
            stamp_s = (time if time.tzinfo else time.replace(tzinfo=UTC)).timestamp()
            if run and stamp_s < run[-1].stamp_s:
                backward += 1
                run = []
                runs.append(run)
            if not run or stamp_s > run[-1].stamp_s:
                run.append(_Point(stamp_s, lat_deg, lon_deg))
    return _Sorted([run for run in runs if run], untimed, impossible, backward)


def _track(path: str, runs: list[list[_Point]]) -> Track:
    points = [point for run in runs for point in run]
    if not points:
        return Track(path)
    *starts, _ = accumulate(map(len, runs), initial=0)
    stamps_s, lats_deg, lons_deg = zip(*points, strict=True)
    outline = tuple(line for run in runs for line in _outline(run) if len(line) > 1)
    return Track(path, stamps_s, lats_deg, lons_deg, tuple(starts), min(stamps_s), max(stamps_s), outline)


def _outline(run: Sequence[_Point]) -> list[tuple[tuple[float, float], ...]]:
    """A thinned run, split where `place_on` would not interpolate."""
    step_deg = OUTLINE_STEP_M / 111_320
    lines = [[run[0]]]
    for before, point in pairwise(run):
        last = lines[-1][-1]
        away_deg = abs(point.lat_deg - last.lat_deg) + abs(point.lon_deg - last.lon_deg) * cos(radians(point.lat_deg))
        if point.stamp_s - before.stamp_s > LONGEST_GAP_S:
            lines.append([point])
        elif away_deg >= step_deg:
            lines[-1].append(point)
    return [tuple((point.lat_deg, point.lon_deg) for point in line) for line in lines]


def _problems(found: _Sorted) -> Iterator[tuple[str, str]]:
    """Message and fix for each part of the file that cannot place a photo, once each."""
    if not found.runs and not found.impossible:
        missing = "no track point has a time" if found.untimed else "this track has no track points"
        yield missing, "export the recorded track with its times, so that photos can be placed on it"
        return
    if found.untimed:
        yield f"{_points(found.untimed)} without a time skipped", "export the track with its times"
    if found.impossible:
        yield f"{_points(found.impossible)} with impossible coordinates skipped", "export the track again"
    if found.backward:
        times = "once" if found.backward == 1 else f"{found.backward} times"
        yield f"time goes back {times} within a segment", "none is needed: no photo is placed across such a gap"


def _points(count: int) -> str:
    return "1 point" if count == 1 else f"{count} points"


def _pairs_about(track: Track, stamp_s: float) -> Iterator[tuple[_Point, _Point]]:
    """The points of each run around a moment, close enough to interpolate; a point exactly at the moment twice."""
    if not track.starts or not track.from_s <= stamp_s <= track.to_s:
        return
    for first, past in track.runs():
        at = bisect_left(track.stamps_s, stamp_s, first, past)
        if at == past:
            continue
        before = at if track.stamps_s[at] == stamp_s else at - 1
        if before >= first and track.stamps_s[at] - track.stamps_s[before] <= LONGEST_GAP_S:
            yield _point(track, before), _point(track, at)


def _point(track: Track, index: int) -> _Point:
    return _Point(track.stamps_s[index], track.lats_deg[index], track.lons_deg[index])


def _between(before: _Point, after: _Point, stamp_s: float) -> Position:
    """The interpolated place, taking the short way round if the two points are on either side of 180°."""
    if before.stamp_s == after.stamp_s:
        return Position(before.lat_deg, before.lon_deg, None, "track")
    share = (stamp_s - before.stamp_s) / (after.stamp_s - before.stamp_s)
    east_deg = after.lon_deg - before.lon_deg
    east_deg -= 360 * round(east_deg / 360)
    lon_deg = before.lon_deg + share * east_deg
    if abs(lon_deg) > 180:
        lon_deg -= 360 if lon_deg > 0 else -360
    return Position(before.lat_deg + share * (after.lat_deg - before.lat_deg), lon_deg, None, "track")
