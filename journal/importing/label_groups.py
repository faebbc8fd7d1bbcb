"""Photos in the order in which they were taken, each given to the label before it, or left to be asked about"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise

from journal.importing.code_scan import Scan
from journal.importing.destinations import Subject, folded
from journal.importing.photo_files import Content, Inspected
from journal.model import Ref
from journal.problems import Refusal, shortened
from journal.quantities import counted
from journal.reading.label_codes import read_label

NO_PIXELS = "pixels that cannot be decoded, so that it may be a label"
UNREADABLE = "a code that cannot be read"

_MOST_SHOWN = 40
"""How many characters of a code that is not a label are shown."""


@dataclass(frozen=True, slots=True)
class Shot:
    """A photo and what its codes say. labels: what they name, spelled as the journal has it. doubts: what else it shows
    that keeps it from naming one thing, as the end of `it shows …`. is_label: whether one of its codes may be one of a
    label."""

    photo: Inspected
    labels: tuple[Ref, ...] = ()
    doubts: tuple[str, ...] = ()
    is_label: bool = False

    @property
    def content(self) -> Content:
        return self.photo.content

    @property
    def name(self) -> str:
        return self.content.source.name

    @property
    def taken(self) -> datetime | None:
        return self.photo.taken

    @property
    def label(self) -> Ref | None:
        """What it begins a group of; None where it shows no label, several, or one that cannot be told."""
        return self.labels[0] if len(self.labels) == 1 and not self.doubts else None

    @property
    def shows(self) -> str:
        """Its codes in words; empty where it has none."""
        labels = [str(label) for label in self.labels]
        named = f"{len(labels)} labels, {', '.join(labels)}" if len(labels) > 1 else "".join(labels)
        return "; ".join(filter(None, (named, *self.doubts)))


def shot_of(photo: Inspected, scan: Scan, site_url: str | None, named: Callable[[str], Subject]) -> Shot:
    """A photo with the meaning of its codes. named: what has an ID; raises Refusal where nothing does.

    A code that is not a label of this journal names nothing, whatever it says.
    """
    labels: dict[Ref, None] = {}
    doubts: dict[str, None] = {} if scan.is_decoded else {NO_PIXELS: None}
    is_label = scan.has_unreadable
    for text in scan.texts:
        read = read_label(text, site_url)
        is_label = is_label or read is not None
        if read is None:
            doubts[f"a QR code that is not a label of this journal ({shortened(text, _MOST_SHOWN)})"] = None
            continue
        try:
            labels[named(str(read)).ref] = None
        except Refusal as unknown:
            doubts[f"a label, but {str(unknown).partition('; did you mean')[0]}"] = None  # it was printed, not mistyped
    if scan.has_unreadable:
        doubts[UNREADABLE] = None
    return Shot(photo, tuple(labels), tuple(doubts), is_label)


@dataclass(frozen=True, slots=True)
class Placed:
    """A photo and what it belongs to. ref: None where that has to be asked. why: for a reader of the table."""

    shot: Shot
    ref: Ref | None
    why: str


def in_order(shots: Iterable[Shot]) -> list[Shot]:
    """By the moment they were taken, of one moment by file name; behind them those with no time, by file name."""

    def when(shot: Shot) -> tuple[bool, float, str, str]:
        taken = shot.taken.timestamp() if shot.taken else 0.0
        return (shot.taken is None, taken, folded(shot.name), shot.content.source.shown)

    return sorted(shots, key=when)


def place(shots: Iterable[Shot], pause: timedelta) -> list[Placed]:
    """Every photo, in order, with the label it belongs to.

    A photo belongs to the label before it while each follows the one before it within `pause`. What has no label before
    it, follows too late, or follows a picture whose codes do not name one thing, belongs to none.
    """
    ordered = in_order(shots)
    breaks = _breaks(ordered)
    placed: list[Placed] = []
    group: Ref | None = None
    reason, last = "no label before it", None
    for shot in ordered:
        if shot.shows:
            group, why = shot.label, "the label itself" if shot.label else f"it shows {shot.shows}"
            reason = f"after {shot.name}, whose label is not clear"
        elif shot.taken is None:
            why = f"no time in it; by its name it follows the label {group}" if group else "no time in it"
        elif shot.content.digest in breaks:
            group = None
            reason = why = f"by its name it follows {breaks[shot.content.digest]}, a label with no time in it"
        elif group is None:
            why = reason
        else:
            gap = _gap(last, shot)
            before = "the label" if last and last.label else "the photo before it"
            why = f"{in_words(gap)} after {before}"
            if gap > pause:
                group, reason = None, f"after a pause of {in_words(gap)}"
                why = reason
        placed.append(Placed(shot, None if shot.taken is None and not shot.label else group, why))
        last = shot
    return placed


def _gap(last: Shot | None, shot: Shot) -> timedelta:
    taken, before = shot.taken, last.taken if last else None
    assert taken is not None, "those without a time are last"
    assert before is not None, "those without a time are last"
    return taken - before


def _breaks(ordered: Sequence[Shot]) -> Mapping[str, str]:
    """Where a label with no time in it may belong: digest of the photo that follows it by name -> its own name."""
    found = {}
    by_name = sorted(ordered, key=lambda shot: (folded(shot.name), shot.content.source.shown))
    for label in (shot for shot in by_name if shot.taken is None and shot.shows):
        behind = (shot for shot in by_name[by_name.index(label) + 1 :] if shot.taken is not None)
        if (first := next(behind, None)) is not None:
            found[first.content.digest] = label.name
    return found


def in_words(span: timedelta) -> str:
    """`12 s`, `4 min`, `2 h 3 min`, `3 d 1 h`."""
    seconds = int(span.total_seconds())
    if seconds < 120:
        return f"{seconds} s"
    minutes = seconds // 60
    if minutes < 120:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 48:
        return f"{hours} h {minutes} min"
    return f"{hours // 24} d {hours % 24} h"


def runs_to_ask(placed: Sequence[Placed], is_known: Callable[[Shot], bool]) -> list[list[Placed]]:
    """The photos that belong to none and are not in the journal already, those together that follow each other for one
    reason. is_known: whether an entry has a photo already."""
    runs: list[list[Placed]] = []
    before: Placed | None = None
    for one in placed:
        if one.ref is None:
            if before is None or not _goes_on(before, one):
                runs.append([])
            runs[-1].append(one)
        before = one if one.ref is None else None
    new = [[one for one in run if not is_known(one.shot)] for run in runs]
    return [run for run in new if run]


def _goes_on(before: Placed, one: Placed) -> bool:
    """Whether a photo is to be asked about together with the one before it."""
    if one.shot.shows:
        return not one.shot.is_label and one.shot.shows == before.shot.shows
    return one.why == before.why or one.why == f"after {before.shot.name}, whose label is not clear"


def answered(placed: Sequence[Placed], run: Sequence[Placed], ref: Ref) -> list[Placed]:
    """The same, where the author said what the photos of a run belong to."""
    meant = {id(one) for one in run}
    return [replace(one, ref=ref, why="you said so") if id(one) in meant else one for one in placed]


def order_notices(placed: Sequence[Placed]) -> Iterator[str]:
    """Sentences on times that leave the order open."""
    ties = [
        f"{one.shot.name} and {other.shot.name}"
        for one, other in pairwise(placed)
        if one.shot.taken == other.shot.taken is not None and (one.shot.shows or other.shot.shows)
    ]
    if ties:
        more = f" (and {counted(len(ties) - 1, 'more pair')})" if len(ties) > 1 else ""
        yield f"{ties[0]}{more} were taken in the same second: they are in the order of their file names"
    timeless = [one for one in placed if one.shot.taken is None]
    if timeless:
        have = counted(len(timeless), "photo has", "photos have")
        them, they = ("it", "it comes") if len(timeless) == 1 else ("them", "they come")
        yield f"{have} no time in {them}; {they} last, by file name, and no label is taken for certain"
