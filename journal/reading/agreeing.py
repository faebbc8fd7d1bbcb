"""What two sources tell differently: said, never silently chosen."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Mapping, Sequence

from journal.model import Batch, Journal, Photo, Position
from journal.reading.dating import disagrees
from journal.reading.faults import Faults
from journal.reading.rows import Kept
from journal.reckoning.places import distance_m
from journal.reckoning.timing import runs

APART_ABOVE_M = 250
"""How far a find's photo may lie from its `where` before that is said."""

_HAVE_ONE_DAY = frozenset({"find", "note", "tent"})


def check_times(kept: Iterable[Kept], photos: Mapping[str, Photo], faults: Faults) -> None:
    """Finds, notes and tent entries whose photos were taken over 24 hours from them.

    A culture's or batch's photos may span its life.
    """
    for one in kept:
        if one.draft.kind not in _HAVE_ONE_DAY:
            continue
        away = [
            photo
            for photo in (photos[use.path] for use in one.photos)
            if photo.taken is not None and disagrees(one.told, photo.taken)
        ]
        if away and (taken := away[0].taken):
            faults.odd(
                one.draft, "date" if "date" in one.draft.lines else "photos",
                f"{_names(away)} {_was(away)} taken over 24 hours from {one.told.written}"
                f" ({taken.isoformat(' ', 'minutes')})",
                "correct `date`, set the camera's clock, or move the picture to the entry of its day",
            )  # fmt: skip


def check_places(one: Kept, photos: Mapping[str, Photo], faults: Faults) -> None:
    """A find whose photos lie over 250 m from its `where`."""
    where: Position | None = one.draft.values.get("where")
    if where is None:
        return
    apart = [(photo, far_m) for use in one.photos if (far_m := _apart_m(where, photo := photos[use.path])) is not None]
    away = [(photo, far_m) for photo, far_m in apart if far_m > APART_ABOVE_M]
    if away:
        faults.odd(
            one.draft, "where", f"{_names([photo for photo, _ in away])} {_was(away)} taken "
            f"{max(far_m for _, far_m in away):.0f} m from `where`",
            "correct `where`, or move the picture to the find it shows",
        )  # fmt: skip


def _apart_m(where: Position, photo: Photo) -> float | None:
    if photo.lat_deg is not None and photo.lon_deg is not None:
        return distance_m(where.lat_deg, where.lon_deg, photo.lat_deg, photo.lon_deg)
    if photo.track is not None:
        return distance_m(where.lat_deg, where.lon_deg, photo.track.lat_deg, photo.track.lon_deg)
    return None


def check_losses(journal: Journal, faults: Faults) -> None:
    """Batches and cultures that lost more than they had."""
    for run in runs(journal).values():
        if run.begun is not None and run.lost > run.begun:
            last = run.losses[-1]
            parts = "units" if isinstance(run.of, Batch) else "vessels"
            faults.at(
                last.path, last.lines.get("lost", 0), "odd",
                f"{run.of.id} has lost {run.lost} of {run.begun} {parts} by now",
                f"correct `lost`, or `{parts}` in {run.of.path}",
            )  # fmt: skip


def _names(photos: Sequence[Photo]) -> str:
    names = [posixpath.basename(photo.path) for photo in photos]
    return ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")


def _was(things: Sequence[object]) -> str:
    return "was" if len(things) == 1 else "were"
