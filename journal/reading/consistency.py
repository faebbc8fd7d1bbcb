"""When an entry was, and where two sources disagree, which is reported and never chosen silently."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta

from journal.analysis.progress import progress_of
from journal.geo.parse import distance_m
from journal.model import Batch, Journal, Photo, Position, When
from journal.reading.dates import when_in_name
from journal.reading.entries import Draft, ProblemList
from journal.reading.model_entries import LinkedDraft

# When an entry was, and whether its photos agree.

MAY_DIFFER = timedelta(hours=24)
"""How far a photo may lie from the entry it belongs to before that is reported."""


def date_as_told(draft: Draft, taken: Sequence[datetime]) -> When | None:
    """The entry's own date, else its earliest photo's time, else a date that begins its file's or folder's name.

    taken: when its photos were taken.
    """
    own: When | None = draft.values.get("date")
    if own is not None:
        return own
    if taken:
        return _of_photo(min(taken))
    folder, name = posixpath.split(draft.path)
    return when_in_name(name) or when_in_name(posixpath.basename(folder))


def with_time_of_photos(told: When, taken: Sequence[datetime]) -> When:
    """A date that is exact to the day gets the time of its earliest photo, where that was on the same day."""
    if told.exact != "day" or not taken or min(taken).date() != told.first:
        return told
    return replace(told, exact="minute", moment=min(taken))


def disagrees(told: When, taken: datetime) -> bool:
    """Whether a photo lies more than 24 hours from an entry's date.

    A date without a time counts as its whole day (month, year), by the clock of whoever took the photo; one that is
    only about right disagrees with nothing.
    """
    if told.exact == "about":
        return False
    if told.moment is not None:
        return abs(taken - told.moment) > MAY_DIFFER
    clock = taken.replace(tzinfo=None)
    begins = datetime.combine(told.first, time.min)
    ends = datetime.combine(_day_after(told), time.min)
    return clock < begins - MAY_DIFFER or clock > ends + MAY_DIFFER


def _day_after(told: When) -> date:
    """The first day that the date can no longer mean."""
    first = told.first
    if told.exact == "month":
        return (first.replace(day=28) + timedelta(days=4)).replace(day=1)
    if told.exact == "year":
        return date(first.year + 1, 1, 1)
    return first + timedelta(days=1)


def _of_photo(taken: datetime) -> When:
    return When(written=taken.isoformat(" ", "minutes"), first=taken.date(), exact="minute", moment=taken)


# Where two sources disagree

APART_ABOVE_M = 250
"""How far a find's photo may lie from its `where` before that is reported."""

_HAVE_ONE_DAY = frozenset({"find", "note", "tent"})


def check_times(kept: Iterable[LinkedDraft], photos: Mapping[str, Photo], faults: ProblemList) -> None:
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
            faults.warning(
                one.draft, "date" if "date" in one.draft.lines else "photos",
                f"{_names(away)} {_was(away)} taken more than 24 hours from {one.told.written}"
                f" ({taken.isoformat(' ', 'minutes')})",
                "correct `date`, correct the camera's clock, or move the photo to the entry of its day",
            )  # fmt: skip


def check_places(one: LinkedDraft, photos: Mapping[str, Photo], faults: ProblemList) -> None:
    """A find whose photos lie over 250 m from its `where`."""
    where: Position | None = one.draft.values.get("where")
    if where is None:
        return
    apart = [(photo, far_m) for use in one.photos if (far_m := _apart_m(where, photo := photos[use.path])) is not None]
    away = [(photo, far_m) for photo, far_m in apart if far_m > APART_ABOVE_M]
    if away:
        faults.warning(
            one.draft, "where", f"{_names([photo for photo, _ in away])} {_was(away)} taken "
            f"{max(far_m for _, far_m in away):.0f} m from `where`",
            "correct `where`, or move the photo to the find it shows",
        )  # fmt: skip


def _apart_m(where: Position, photo: Photo) -> float | None:
    if photo.lat_deg is not None and photo.lon_deg is not None:
        return distance_m(where.lat_deg, where.lon_deg, photo.lat_deg, photo.lon_deg)
    if photo.track is not None:
        return distance_m(where.lat_deg, where.lon_deg, photo.track.lat_deg, photo.track.lon_deg)
    return None


def check_losses(journal: Journal, faults: ProblemList) -> None:
    """Batches and cultures that lost more than they had."""
    for run in progress_of(journal).values():
        if run.inoculated is not None and run.lost > run.inoculated:
            last = run.losses[-1]
            parts = "units" if isinstance(run.of, Batch) else "vessels"
            faults.at(
                last.path, last.lines.get("lost", 0), "warning",
                f"{run.of.id} has lost {run.lost} of {run.inoculated} {parts}",
                f"correct `lost`, or `{parts}` in {run.of.path}",
            )  # fmt: skip


def _names(photos: Sequence[Photo]) -> str:
    names = [posixpath.basename(photo.path) for photo in photos]
    return ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")


def _was(things: Sequence[object]) -> str:
    return "was" if len(things) == 1 else "were"
