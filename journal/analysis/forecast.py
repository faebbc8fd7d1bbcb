"""What is expected of every batch next, from which day to which, and what that is based on."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from statistics import median
from types import MappingProxyType
from typing import Literal

from journal.analysis.identity import species_named
from journal.analysis.lineage import Lineage
from journal.analysis.progress import (
    Milestones,
    Progress,
    calendar_day,
    first_days_of_flushes,
    milestones,
    move_into_tent,
)
from journal.analysis.species_times import PRACTICE, PUBLISHED, Days, Usual
from journal.model import Batch, Journal, Note

What = Literal["colonised", "pins", "harvest", "next flush"]
Gap = Literal[
    "colonised_d", "pinning_d", "pinning_after_move_d", "harvest_d", "harvest_after_pins_d", "between_flushes_d"
]

NOT_AWAITED = frozenset({"stored", "contaminated"})
"""Stages of the whole in which nothing is waited for, though it is not over."""

_COLONISED = frozenset({"colonised", "pinning", "fruiting", "resting"})


@dataclass(frozen=True, slots=True)
class Wait:
    """One way to calculate what comes next: a gap, the day it counts from, and that day in words.

    flush: the number of the flush it counts from; None where it counts from anything else.
    """

    what: What
    gap: Gap
    since: date
    after: str
    flush: int | None = None

    def took_d(self, other: Milestones) -> int | None:
        """The days the same thing took another batch."""
        if self.gap == "between_flushes_d":
            return None if self.flush is None else other.between_flushes_d.get(self.flush)
        days: int | None = getattr(other, self.gap)
        return days

    def usual_d(self, usual: Usual) -> Days | None:
        """The days it usually takes; None for a first harvest counted from inoculation."""
        days: Days | None = None if self.gap == "harvest_d" else getattr(usual, self.gap)
        return days


def waits(progress: Progress) -> tuple[Wait, ...]:
    """The ways to calculate what a batch waits for, the best first and all for the same thing; none where nothing is.

    Whatever was seen last counts: pins since the last harvest wait for a harvest, a harvest for the next flush, a
    batch that is colonised for pins, any other for being colonised.
    """
    if progress.is_over or progress.stage in NOT_AWAITED:
        return ()
    stages = {note.stage for note in progress.whole_notes}
    pins = pins_since_harvest(progress)
    if pins or ("fruiting" in stages and not progress.nonzero_harvests):
        return _for_harvest(progress, pins)
    if progress.nonzero_harvests:
        return _for_flush(progress, "next flush")
    if stages & _COLONISED:
        return _for_pins(progress)
    return _from_day0(progress, "colonised", "colonised_d")


def pins_since_harvest(progress: Progress) -> Note | None:
    """The first note of pins on the whole since its last harvest; a note of both is one of new pins."""
    after = next((at for at in range(len(progress.notes), 0, -1) if progress.notes[at - 1].harvest_g), 1) - 1
    whole = set(map(id, progress.whole_notes))
    return next((note for note in progress.notes[after:] if note.stage == "pinning" and id(note) in whole), None)


def _for_harvest(progress: Progress, pins: Note | None) -> tuple[Wait, ...]:
    day = calendar_day(pins.date) if pins else None
    from_pins = (Wait("harvest", "harvest_after_pins_d", day, "pins"),) if day else ()
    if progress.nonzero_harvests:
        return from_pins + _for_flush(progress, "harvest")
    return from_pins + _from_day0(progress, "harvest", "harvest_d")


def _for_flush(progress: Progress, what: What) -> tuple[Wait, ...]:
    """Counts from the first day of the highest flush; harvests in no flush give nothing to count from."""
    flushes = first_days_of_flushes(progress)
    number = max(flushes, default=None)
    day = flushes[number] if number is not None else None
    return (Wait(what, "between_flushes_d", day, f"flush {number}", number),) if day else ()


def _for_pins(progress: Progress) -> tuple[Wait, ...]:
    move = move_into_tent(progress)
    day = calendar_day(move.date) if move else None
    moved = (Wait("pins", "pinning_after_move_d", day, "the move"),) if day else ()
    return moved + _from_day0(progress, "pins", "pinning_d")


def _from_day0(progress: Progress, what: What, gap: Gap) -> tuple[Wait, ...]:
    """None where a share starts at a later day: what is waited for may have come before."""
    return (Wait(what, gap, progress.day0, "inoculation"),) if progress.day0 and not progress.told_from else ()


# What is expected next. The nearest evidence is used, and named: this line's own finished batches, else those of this
# species in this journal, else a published range, else common practice, else nothing is expected. Ranges of a related
# species are never used. Whether a day is past is for whoever knows today.

Basis = Literal["line", "species", "published", "practice"]

_AWAITED: Mapping[What, str] = MappingProxyType(
    {
        "colonised": "a batch is colonised",
        "pins": "the first pins show",
        "harvest": "it is ready to harvest",
        "next flush": "the next flush comes",
    }
)


@dataclass(frozen=True, slots=True)
class Expected:
    """What comes next, between two days, both included; overdue from the day after `to_day`.

    n: how many finished batches it is based on, and median_d their median; None where it is based on none.
    words: the days, what they count from and what they are based on, as one phrase without a full stop.
    """

    what: What
    from_day: date
    to_day: date
    basis: Basis
    words: str
    n: int | None = None
    median_d: float | None = None


@dataclass(frozen=True, slots=True)
class Finished:
    """A finished batch, as evidence. batch: its ID. is_spent: it was kept until it was spent."""

    batch: str
    took: Milestones
    is_spent: bool


@dataclass(frozen=True)
class Evidence:
    """The finished batches of a journal, by the ID of their line and by the name of their species."""

    by_line: Mapping[str, Sequence[Finished]] = field(default_factory=dict)
    by_species: Mapping[str, Sequence[Finished]] = field(default_factory=dict)


def expected(
    journal: Journal, progress: Mapping[str, Progress], evidence: Evidence, lineage: Lineage
) -> dict[str, Expected]:
    """What is expected next of each batch of which something is, by ID."""
    found = {batch.id: _look_ahead(batch, progress[batch.id], evidence, lineage) for batch in journal.batches}
    return {id: row for id, row in found.items() if isinstance(row, Expected)}


def why_nothing(batch: Batch, progress: Progress, evidence: Evidence, lineage: Lineage) -> str | None:
    """Why nothing is expected of a batch, as a sentence; None where something is, and of a batch that is over."""
    found = _look_ahead(batch, progress, evidence, lineage)
    return None if isinstance(found, Expected) or progress.is_over else found


def evidence_of(
    journal: Journal, progress: Mapping[str, Progress], lineage: Lineage, doubts: Container[str]
) -> Evidence:
    """The finished batches, without those in `doubts`, which may not be what their label says."""
    by_line: dict[str, list[Finished]] = {}
    by_species: dict[str, list[Finished]] = {}
    for batch in journal.batches:
        one = progress[batch.id]
        if one.finished and batch.id not in doubts:
            is_spent = one.ended_by is not None and one.ended_by.stage == "spent"
            row = Finished(batch.id, milestones(one), is_spent)
            for name, rows in ((line_of(batch, lineage), by_line), (species_named(batch.species), by_species)):
                if name is not None:
                    rows.setdefault(name, []).append(row)
    return Evidence(by_line, by_species)


def line_of(batch: Batch, lineage: Lineage) -> str | None:
    """The line a batch was made of, by the ID of its start; None where it is of none, or of several."""
    lines = lineage.lines_of(batch.id)
    return lines[0] if len(lines) == 1 else None


def pools_of(batch: Batch, evidence: Evidence, lineage: Lineage) -> tuple[tuple[Basis, Sequence[Finished], str], ...]:
    """The finished batches to go by, the nearest first: what they have in common, which they are, and its name."""
    line, species = line_of(batch, lineage), species_named(batch.species)
    return (
        ("line", evidence.by_line.get(line or "", ()), f"line {line}"),
        ("species", evidence.by_species.get(species or "", ()), f"{species} in this journal"),
    )


def _look_ahead(batch: Batch, progress: Progress, evidence: Evidence, lineage: Lineage) -> Expected | str:
    """What comes next, or why nothing is expected, as a sentence."""
    ways = waits(progress)
    if not ways:
        return _nothing_awaited(progress)
    for basis, pool, of in pools_of(batch, evidence, lineage):
        if found := _from_batches(basis, pool, of, ways):
            return found
        if _was_the_last(pool, ways[0]):
            return f"No flush is expected after flush {ways[0].flush}: no finished batch of {of} gave more."
    return _from_tables(batch, ways) or _nothing_known(ways[0])


def _nothing_awaited(progress: Progress) -> str:
    if progress.stage in NOT_AWAITED:
        return f"Nothing is expected of it while it is {progress.stage}."
    if progress.told_from:
        return "Nothing is expected: what came before is not shared."
    return "Nothing is expected: no day is known from which to count."


def _nothing_known(way: Wait) -> str:
    return (
        "Nothing is expected: no finished batch of this line or species, and no range known for the species, tells how "
        f"long after {way.after} {_AWAITED[way.what]}."
    )


def _from_tables(batch: Batch, ways: Sequence[Wait]) -> Expected | str | None:
    species = species_named(batch.species)
    tables: tuple[tuple[Basis, Usual | None], ...] = (
        ("published", PUBLISHED.get(species or "")),
        ("practice", PRACTICE.get(species or "")),
    )
    return _from_ranges(tables, ways)


def _from_batches(basis: Basis, pool: Sequence[Finished], of: str, ways: Iterable[Wait]) -> Expected | None:
    for way in ways:
        took = sorted(days for one in pool if (days := way.took_d(one.took)) is not None)
        if took:
            middle = median(took)
            words = f"{_batches_words(took, middle, way)} of {of}"
            return _window(way, Days(took[0], took[-1]), basis, words, len(took), middle)
    return None


def _was_the_last(pool: Iterable[Finished], way: Wait) -> bool:
    """Whether spent batches gave as many flushes as this one has, and none of them gave another."""
    spent = [max(one.took.flushes, default=0) for one in pool if one.is_spent]
    return way.what == "next flush" and way.flush is not None and way.flush == max(spent, default=None)


def _from_ranges(tables: Iterable[tuple[Basis, Usual | None]], ways: Sequence[Wait]) -> Expected | str | None:
    for basis, usual in tables:
        if usual is None:
            continue
        told = f"published: {usual.source}" if basis == "published" else usual.source
        most = usual.flushes_most
        if ways[0].what == "next flush" and most and (ways[0].flush or 0) >= most:
            return f"No flush is expected after flush {ways[0].flush}: this species usually gives {most}, {told}."
        for way in ways:
            if days := way.usual_d(usual):
                return _window(way, days, basis, f"{_span_words(days)} after {way.after}, {told}")
    return None


def _window(
    way: Wait, days: Days, basis: Basis, words: str, n: int | None = None, middle: float | None = None
) -> Expected:
    first, last = (way.since + timedelta(days=count) for count in (days.low, days.high))
    return Expected(way.what, first, last, basis, words, n, middle)


def _batches_words(took: Sequence[int], middle: float, way: Wait) -> str:
    span = _span_words(Days(took[0], took[-1]))
    if len(took) == 1:
        return f"{span} after {way.after} in the one finished batch"
    return f"{span} after {way.after} (median {middle:g}) in {len(took)} finished batches"


def _span_words(days: Days) -> str:
    if days.low == days.high:
        return f"{days.low} day{'' if days.low == 1 else 's'}"
    return f"{days.low} to {days.high} days"


# The days a batch took, beside those that other finished batches of its line or species took.

Took = Callable[[Milestones], int | None]


@dataclass(frozen=True, slots=True)
class OtherBatches:
    """What the same took other finished batches: (batch, days), fewest first. of: what they have in common with it."""

    took: tuple[tuple[str, int], ...]
    of: str

    @property
    def n(self) -> int:
        return len(self.took)

    @property
    def median_d(self) -> float:
        return median(days for _, days in self.took)

    @property
    def low_d(self) -> int:
        return self.took[0][1]

    @property
    def high_d(self) -> int:
        return self.took[-1][1]


@dataclass(frozen=True, slots=True)
class DaysTaken:
    """One of a batch's spans. days: None where it is not known, or has not come yet."""

    what: str
    days: int | None
    others: OtherBatches | None


def days_taken(batch: Batch, progress: Progress, evidence: Evidence, lineage: Lineage) -> tuple[DaysTaken, ...]:
    """Every span that is known of this batch or another of its line or species, in order.

    A batch is never compared with itself; one that is not finished is compared with the finished ones.
    """
    own = milestones(progress)
    pools = [([one for one in pool if one.batch != batch.id], of) for _, pool, of in pools_of(batch, evidence, lineage)]
    rows = (DaysTaken(what, took(own), _others(pools, took)) for what, took in _spans(own, pools))
    return tuple(row for row in rows if row.days is not None or row.others is not None)


def _spans(own: Milestones, pools: Iterable[tuple[list[Finished], str]]) -> Iterator[tuple[str, Took]]:
    yield "inoculated to colonised", lambda one: one.colonised_d
    yield "inoculated to first pins", lambda one: one.pinning_d
    yield "moved into the tent to first pins", lambda one: one.pinning_after_move_d
    yield "first pins to first harvest", lambda one: one.harvest_after_pins_d
    yield "inoculated to first harvest", lambda one: one.harvest_d
    known = {number for pool, _ in pools for one in pool for number in one.took.between_flushes_d}
    for number in sorted(known | set(own.between_flushes_d)):
        yield f"flush {number} to flush {number + 1}", _after_flush(number)


def _after_flush(number: int) -> Took:
    return lambda one: one.between_flushes_d.get(number)


def _others(pools: Iterable[tuple[list[Finished], str]], took: Took) -> OtherBatches | None:
    """From the first pool that has any: the line's own before the species'."""
    for pool, of in pools:
        found = [(days, one.batch) for one in pool if (days := took(one.took)) is not None]
        if found:
            return OtherBatches(tuple((batch, days) for days, batch in sorted(found)), of)
    return None
