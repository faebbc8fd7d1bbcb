"""Finds as waypoints, and track logs, for a GPS receiver. *Source:* GPX 1.1, Topografix (2004)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import Any

from journal.amounts import Units, radius
from journal.analysis.progress import last_day_meant
from journal.export.occurrences import OccurrenceRecord, one_line
from journal.geo.parse import distance_m
from journal.model import Find, Journal
from journal.reading.tracks import Track

CREATOR = "field and fruiting journal"
NEAR_M = 250.0
"""A track that comes so near to a private find leads to it: the distance over which `where` and a photo disagree."""
_METRES_IN_A_DEGREE = 110_500.0  # of latitude at the equator, where it is least
_DAY_S = 86_400.0
_FARTHEST_ZONE_S = 14 * 3600.0


def gpx_of(records: Sequence[OccurrenceRecord], tracks: Iterable[Track] = (), units: Units = "metric") -> str:
    """One waypoint for each find whose place is told, named by its ID, then the tracks, a segment for each run. Times
    are UTC. Tracks have no heights, since those of a receiver are not read. units: of the words about a waypoint."""
    from gpxpy.gpx import GPX, GPXTrack, GPXTrackPoint, GPXTrackSegment

    gpx = GPX()
    gpx.creator = CREATOR
    gpx.waypoints = [_waypoint(record, units) for record in records if record.position]
    for track in tracks:
        name = one_line(track.path.rpartition("/")[2].rpartition(".")[0])
        made = GPXTrack(name=name)
        for first, past in track.runs():
            points = [
                GPXTrackPoint(
                    round(track.lats_deg[at], 7),
                    _west(track.lons_deg[at]),
                    time=datetime.fromtimestamp(track.stamps_s[at], UTC),
                )
                for at in range(first, past)
            ]
            made.segments.append(GPXTrackSegment(points))
        gpx.tracks.append(made)
    text: str = gpx.to_xml(version="1.1")
    return text + "\n"


def _waypoint(record: OccurrenceRecord, units: Units) -> Any:
    from gpxpy.gpx import GPXWaypoint

    find, terms, position = record.find, record.terms, record.position
    assert position is not None
    name = " ".join(filter(None, (terms["scientificName"], terms.get("identificationQualifier"))))
    where = f"within {radius(position.uncertainty_m, units)}" if position.uncertainty_m else ""
    if position.grid_deg is not None:
        where = f"not the spot: centre of a cell of {terms['coordinatePrecision']}°, {where}"
    return GPXWaypoint(
        round(position.lat_deg, 7),
        _west(position.lon_deg),
        elevation=find.elevation_m,
        time=find.date.moment.astimezone(UTC) if find.date.moment else None,
        name=one_line(find.id),
        comment=terms.get("fieldNotes"),
        description="; ".join(filter(None, (name, terms["eventDate"], where))),
    )


def _west(lon_deg: float) -> float:
    """The same meridian in GPX's range: from -180 up to, and without, 180 (longitudeType)."""
    rounded = round(lon_deg, 7)
    return -180.0 if rounded == 180.0 else rounded


def open_tracks(tracks: Iterable[Track], journal: Journal, only: Sequence[Find] = ()) -> tuple[Track, ...]:
    """The tracks that lead to no private find: recorded on none's day, near the place of none. only: where any are
    given, the tracks of their days."""
    public = {find.path for find in journal.public.finds}
    private = [find for find in journal.finds if find.path not in public]
    return tuple(
        track
        for track in tracks
        if track.starts
        and not any(_is_of_the_day(track, find) or _is_near(track, find) for find in private)
        and (not only or any(_is_of_the_day(track, find) for find in only))
    )


def _is_of_the_day(track: Track, find: Find) -> bool:
    """Whether a track was recorded on a day that the find's date can mean, by whatever clock on Earth."""
    first, last = find.date.first, last_day_meant(find.date)
    from_s = datetime(first.year, first.month, first.day, tzinfo=UTC).timestamp() - _FARTHEST_ZONE_S
    to_s = datetime(last.year, last.month, last.day, tzinfo=UTC).timestamp() + _DAY_S + _FARTHEST_ZONE_S
    return track.to_s >= from_s and track.from_s <= to_s


def _is_near(track: Track, find: Find) -> bool:
    if find.position is None:
        return False
    lat_deg, lon_deg = find.position.lat_deg, find.position.lon_deg
    return any(
        abs(lat - lat_deg) * _METRES_IN_A_DEGREE <= NEAR_M and distance_m(lat, lon, lat_deg, lon_deg) <= NEAR_M
        for lat, lon in zip(track.lats_deg, track.lons_deg, strict=True)
    )
