"""How far a batch or culture is: day 0, stage, losses and harvests."""

from __future__ import annotations

from calendar import monthrange
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from itertools import groupby
from typing import Literal
from weakref import WeakValueDictionary

from journal.analysis.kept import kept
from journal.analysis.limits import limit
from journal.model import Batch, Culture, Journal, Note, Ref, When, sort_key

ENDINGS = frozenset({"spent", "discarded"})
"""Stages that finish a batch or culture: its figures are final, as they are once every unit is lost."""

OVER = ENDINGS | {"dead"}
"""Stages after which nothing more is expected."""

GROWING = frozenset({"inoculated", "colonising", "colonised", "pinning", "fruiting", "resting", "clean"})
"""Stages that show that it grows, even after an end: a spent block that pins again is not spent."""


GONE = frozenset({"contaminated", "discarded", "dead"})
"""Stages that a note with a loss may give only to what was lost."""

_BEFORE_PINS = frozenset({"inoculated", "colonising", "colonised", "resting"})
_BEFORE_HARVEST = _BEFORE_PINS | {"pinning"}

_COLONISING = frozenset({"inoculated", "colonising"})
_UP_TO_HARVEST = _COLONISING | {"colonised", "pinning", "fruiting"}
_ONGOING = _UP_TO_HARVEST | {"resting"}

Derived = Literal["from the first pins", "from the harvest", "by the days since the harvest"]
"""What a stage that no note gives is derived from."""


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage of the whole. note: that gives it, or that it is derived from. derived: None if the note gives it."""

    name: str
    note: Note
    derived: Derived | None = None


def _between_flushes(rows: Sequence[Stage], picked: Note | None, until: date | None) -> tuple[Stage, ...]:
    """The stage derived from the last harvest, if it fruits after these stages and was not harvested again in time."""
    if picked is None or until is None or not picked.date.counts_days or not rows or rows[-1].name != "fruiting":
        return ()
    is_long = (until - picked.date.first).days > (limit("flush_lasts_d").high or 0)
    return (Stage("resting", picked, "by the days since the harvest"),) if is_long else ()


def _harvests_after_stages(notes: Sequence[Note], given: Collection[int]) -> list[Note]:
    """The notes in order, but each harvest without a time after the last note of its day that gives the whole a stage
    up to fruiting: what was picked that day had fruited. given: the `id` of each note that gives the whole a stage."""
    ordered: list[Note] = []
    for _, of_day in groupby(notes, key=lambda note: (note.date.first, note.date.counts_days)):
        day = list(of_day)
        stages = [at for at, note in enumerate(day) if id(note) in given and note.stage in _UP_TO_HARVEST]
        until = stages[-1] + 1 if stages and day[0].date.counts_days else 0
        late = [note for note in day[:until] if note.harvest_g and not note.stage and note.date.moment is None]
        is_late = {id(note) for note in late}
        ordered += [*(note for note in day[:until] if id(note) not in is_late), *late, *day[until:]]
    return ordered


@dataclass(frozen=True)
class Progress:
    """A batch or culture and all notes about it or a part of it, in order. known_until: a day until which only these
    notes are known about it: the last in the journal, or one after which nothing is derived; None if none is known, or
    nothing is derived from it."""

    of: Batch | Culture
    notes: tuple[Note, ...]
    known_until: date | None = None

    @cached_property
    def whole_notes(self) -> tuple[Note, ...]:
        """The notes about the whole of it: only these give it a stage or move it."""
        return tuple(note for note in self.notes if Ref(self.of.id) in note.about)

    @cached_property
    def day0(self) -> date | None:
        """The day it was inoculated: from the first note that says so, else its own; None if no day is known."""
        stated = next((note.date for note in self.whole_notes if note.stage == "inoculated"), None)
        return calendar_day(stated or self.of.date)

    @cached_property
    def stage_notes(self) -> tuple[Note, ...]:
        """The notes that give the whole a stage. A note about parts does not; nor does one that gives `contaminated`,
        `discarded` or `dead` to what it counts as lost, if others are left."""
        notes, lost, losses = [], 0, {id(note) for note in self.losses}
        for note in self.notes:
            lost += (note.lost or 0) if id(note) in losses else 0
            leaves_others = bool(note.lost) and self.inoculated is not None and lost < self.inoculated
            if note.stage and Ref(self.of.id) in note.about and not (note.stage in GONE and leaves_others):
                notes.append(note)
        return tuple(notes)

    @cached_property
    def parts_staged(self) -> dict[int, Note]:
        """The note that gives a part the stage that it is in, by the part's number; lowest first. It ends with a later
        stage of the part or of the whole; one of growth with a harvest of either too."""
        found: dict[int, Note] = {}
        given = {id(note) for note in self.stage_notes}
        for note in self.notes:
            parts = {ref.part for ref in note.about if ref.id == self.of.id}
            if note.harvest_g:
                picked = {part for part in found if {None, part} & parts and found[part].stage in _ONGOING}
                found = {part: one for part, one in found.items() if part not in picked}
            if id(note) in given:
                found = {}
            elif note.stage:
                found |= {part: note for part in parts if part is not None}
        return dict(sorted(found.items()))

    @cached_property
    def pins(self) -> tuple[Note, ...]:
        """The notes of pins, on the whole or on a part: the first pins of any are the first of the batch."""
        return tuple(note for note in self.notes if note.stage == "pinning")

    @cached_property
    def first_pinned(self) -> tuple[int, ...]:
        """The parts on which the first pins were seen, all of that day; empty where they were on the whole."""
        firsts = [note for note in self.pins if note.date.first == self.pins[0].date.first]
        parts = {ref.part for note in firsts for ref in note.about if ref.id == self.of.id}
        return () if None in parts else tuple(sorted(part for part in parts if part is not None))

    @cached_property
    def stages(self) -> tuple[Stage, ...]:
        """The stages of the whole, in order. Derived unless a note says otherwise: pins on a part mean pinning, and a
        harvest fruiting, if that stage was not reached; some days without another harvest of that flush mean between
        flushes from then on. A harvest without a time counts after a stage up to fruiting of its day."""
        given = {id(note) for note in self.stage_notes}
        rows: list[Stage] = []
        picked: Note | None = None  # the last harvest since the stage began
        for note in _harvests_after_stages(self.notes, given):
            is_given, is_harvest = id(note) in given, bool(note.harvest_g) and isinstance(self.of, Batch)
            is_pins = note.stage == "pinning" and isinstance(self.of, Batch)
            is_same = is_harvest and picked is not None and picked.flush == note.flush and note.flush is not None
            if (is_given or is_pins or is_harvest) and not is_same and note.date.counts_days:
                rows += _between_flushes(rows, picked, note.date.first)
            if is_given:
                if rows and rows[-1].derived and rows[-1].note.date.first == note.date.first:
                    rows.pop()
                rows.append(Stage(note.stage or "", note))
            elif is_harvest and (not rows or rows[-1].name in _BEFORE_HARVEST):
                rows.append(Stage("fruiting", note, "from the harvest"))
            elif is_pins and (not rows or rows[-1].name in _BEFORE_PINS):
                rows.append(Stage("pinning", note, "from the first pins"))
            picked = note if is_harvest else None if is_given else picked
        if not self.is_over:
            rows += _between_flushes(rows, picked, self.known_until)
        return tuple(rows)

    @property
    def shared_from(self) -> date | None:
        """The day before which a share keeps everything back; the first of anything may then have been earlier."""
        return self.of.shared_from if isinstance(self.of, Batch) else None

    @property
    def stage(self) -> str | None:
        return self.stages[-1].name if self.stages else None

    @property
    def stage_derived(self) -> Derived | None:
        """What the stage is derived from; None if a note gives it."""
        return self.stages[-1].derived if self.stages else None

    @property
    def stage_since(self) -> When | None:
        """The date of the note that gave the stage, or that it is derived from."""
        return self.stages[-1].note.date if self.stages else None

    @cached_property
    def ended_by(self) -> Note | None:
        """The latest note that calls the whole spent, discarded or dead, unless a later one says that it grows."""
        stages = OVER | GROWING
        last = next((note for note in reversed(self.stage_notes) if note.stage in stages), None)
        return last if last and last.stage in OVER else None

    @property
    def finished(self) -> bool:
        """Whether its figures are final: a note about the whole says spent or discarded, or every unit is lost."""
        return self.is_all_lost or (self.ended_by is not None and self.ended_by.stage in ENDINGS)

    @property
    def is_over(self) -> bool:
        """Whether nothing more is expected: spent, discarded, dead, or every unit lost."""
        return self.ended_by is not None or self.is_all_lost

    @property
    def end(self) -> Note | None:
        """The note from which on nothing more was expected; None if it is not over."""
        return self.ended_by or (self.losses[-1] if self.is_all_lost else None)

    @property
    def over_on(self) -> date | None:
        """The day from which nothing more was expected; None if it is not over, or no day is known."""
        return calendar_day(end.date) if (end := self.end) else None

    @property
    def inoculated(self) -> int | None:
        """Units inoculated, or vessels; None if nobody counted the vessels."""
        return self.of.units if isinstance(self.of, Batch) else self.of.vessels

    @cached_property
    def losses(self) -> tuple[Note, ...]:
        """The notes that count a loss. A note about several IDs does not say whose it was, and counts for none."""
        return tuple(note for note in self.notes if note.lost and len({ref.id for ref in note.about}) == 1)

    @cached_property
    def lost(self) -> int:
        """Units or vessels lost so far."""
        return sum(note.lost or 0 for note in self.losses)

    @cached_property
    def lost_before_harvest(self) -> int:
        """Units lost before the day of the first harvest; all lost units if nothing was harvested. A unit lost on that
        day or later had its chance to fruit."""
        first = self.nonzero_harvests[0].date.first if self.nonzero_harvests else date.max
        return sum(note.lost or 0 for note in self.losses if note.date.first < first)

    @cached_property
    def causes(self) -> tuple[tuple[str, int], ...]:
        """(cause, how many were lost to it), each as it was first written, in order; last "", if no note says why."""
        words, counts = dict[str, str](), Counter[str]()
        for note in self.losses:
            cause = (note.cause or "").strip()
            words.setdefault(cause.casefold(), cause)
            counts[cause.casefold()] += note.lost or 0
        return tuple((words[key], count) for key, count in sorted(counts.items(), key=lambda row: not row[0]))

    @property
    def is_all_lost(self) -> bool:
        return self.inoculated is not None and self.lost >= self.inoculated

    @property
    def living(self) -> int | None:
        """Units or vessels not lost; never below 0; None if nobody counted the vessels."""
        return None if self.inoculated is None else max(0, self.inoculated - self.lost)

    @cached_property
    def harvests(self) -> tuple[Note, ...]:
        """The notes with a harvest; a note about several parts once."""
        return tuple(note for note in self.notes if note.harvest_g is not None)

    @cached_property
    def nonzero_harvests(self) -> tuple[Note, ...]:
        """The harvests of more than nothing."""
        return tuple(note for note in self.harvests if note.harvest_g)

    @cached_property
    def harvest_g(self) -> float:
        """Fresh mass so far, of all harvests; 0 if there is none."""
        return sum((note.harvest_g or 0.0 for note in self.harvests), 0.0)

    @cached_property
    def moves(self) -> tuple[Note, ...]:
        """The notes that moved the whole of it into a tent or room."""
        return tuple(note for note in self.whole_notes if note.moved_to)

    @cached_property
    def departures(self) -> tuple[Note, ...]:
        """The moves, including those to a place that could not be read or is unknown: it left its old place in any
        case."""
        return tuple(note for note in self.whole_notes if note.moved_to or "moved to" in note.lines)

    @property
    def tent(self) -> str | None:
        """Where it is: the tent it was last moved to, else where it began; None if that is not known."""
        began = self.of.tent if isinstance(self.of, Batch) else None
        return self.departures[-1].moved_to if self.departures else began


def progress_of(journal: Journal) -> dict[str, Progress]:
    """The progress of every batch and culture, by its ID."""
    until = last_day(journal)
    return kept(journal, "progress", _progress_of_all, journal.batches, journal.cultures, journal.notes, until)


def _progress_of_all(
    batches: Iterable[Batch], cultures: Iterable[Culture], notes: Iterable[Note], until: date | None
) -> dict[str, Progress]:
    about = notes_by_id(notes)
    rows: tuple[Batch | Culture, ...] = (*batches, *cultures)
    return {row.id: _progress(row, about.get(row.id, ()), until) for row in rows}


def last_day(journal: Journal) -> date | None:
    """The last day on which anything stands in the journal, but for what is in the future."""
    latest_first = reversed((*journal.entries(),))
    return next((entry.date.first for entry in latest_first if not journal.is_future(entry)), None)


_IN_USE: WeakValueDictionary[tuple[int | date | None, ...], Progress] = WeakValueDictionary()
"""By the identities of a row and its notes, which stay theirs as long as its progress is in use."""


def _progress(row: Batch | Culture, notes: tuple[Note, ...], until: date | None) -> Progress:
    """The progress of these very objects: the one in use if there is one, so that nothing is calculated twice. A later
    `until` than any stage depends on makes no other progress."""
    if isinstance(row, Batch) and (row.known_until or row.totals_are_partial):
        until = row.known_until
    if not any(note.harvest_g for note in notes):
        until = None
    elif until:
        until = min(until, notes[-1].date.first + timedelta(days=(limit("flush_lasts_d").high or 0) + 1))
    key = (until, id(row), *map(id, notes))
    found = _IN_USE.get(key)
    if found is None:
        found = _IN_USE[key] = Progress(row, notes, until)
    return found


def notes_by_id(notes: Iterable[Note]) -> dict[str, tuple[Note, ...]]:
    """For each ID the notes about it or a part of it, in order, each once."""
    about: dict[str, list[Note]] = {}
    for note in sorted(notes, key=sort_key):
        for id in dict.fromkeys(ref.id for ref in note.about):
            about.setdefault(id, []).append(note)
    return {id: tuple(rows) for id, rows in about.items()}


def calendar_day(when: When) -> date | None:
    """The day, as written by whoever was there; None if the date is less exact than a day."""
    return when.first if when.counts_days else None


def iso_day(when: When) -> str | None:
    """The same as YYYY-MM-DD."""
    return when.first.isoformat() if when.counts_days else None


def last_day_meant(when: When) -> date:
    """The last day that a date can mean; for an approximate date, the last of its month."""
    year, month = when.first.year, 12 if when.exact == "year" else when.first.month
    return when.first if when.counts_days else date(year, month, monthrange(year, month)[1])


def days_between(earlier: When, later: When) -> int | None:
    """Whole calendar days from one to the other, negative if `later` is earlier; None if either is inexact."""
    first, last = calendar_day(earlier), calendar_day(later)
    return None if first is None or last is None else (last - first).days


def colonises_until(progress: Progress) -> date | None:
    """The day on which it was first seen colonised, or further; `date.max` if no note has seen that, because it
    colonises from its inoculation on (*common practice*). None if the day is unknown: no note in a share gives it a
    stage, and the share leaves out its beginning or some of its harvests."""
    staged = [note for note in (*progress.whole_notes, *progress.pins) if note.stage in _ONGOING]
    is_partial = isinstance(progress.of, Batch) and progress.of.totals_are_partial
    if not staged and (progress.shared_from or is_partial):
        return None
    further = (note for note in (*staged, *progress.nonzero_harvests) if note.stage not in _COLONISING)
    return min((note.date.first for note in further), default=date.max)
