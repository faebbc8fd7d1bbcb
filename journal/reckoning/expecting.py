"""What is expected of every batch next, from which day to which, and what that rests on.

The nearest knowledge is used, and said: this line's own finished batches, else the finished batches of this species
in this journal, else a published range, else common practice, else nothing is expected. What is known of a sister
species is never borrowed. Whether a day is past is for whoever knows today.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from statistics import median
from types import MappingProxyType
from typing import Literal

from journal.model import Batch, Journal
from journal.reckoning.awaiting import NOT_AWAITED, Wait, What, waits
from journal.reckoning.identity import doubtful
from journal.reckoning.lineage import Lineage, lineage_of
from journal.reckoning.milestones import Milestones, milestones
from journal.reckoning.species_names import species_named
from journal.reckoning.species_ranges import PRACTICE, PUBLISHED, Days, Usual
from journal.reckoning.timing import Run, runs

Basis = Literal["line", "species", "published", "practice"]

_AWAITED: Mapping[What, str] = MappingProxyType(
    {
        "colonised": "a batch is colonised",
        "pins": "the first pins show",
        "harvest": "it is ready to pick",
        "next flush": "the next flush comes",
    }
)


@dataclass(frozen=True, slots=True)
class Expected:
    """What comes next, between two days, both included; overdue from the day after `to_day`.

    n: how many finished batches it rests on, and median_d their median; None where it rests on none.
    words: the days, what they count from and what they rest on, as one phrase without a full stop.
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
    """A finished batch, as evidence. batch: its ID. is_spent: it was let run to its end."""

    batch: str
    took: Milestones
    is_spent: bool


@dataclass(frozen=True)
class Evidence:
    """The finished batches of a journal, by the ID of their line and by the name of their species."""

    by_line: Mapping[str, Sequence[Finished]] = field(default_factory=dict)
    by_species: Mapping[str, Sequence[Finished]] = field(default_factory=dict)


def expected(
    journal: Journal,
    course: Mapping[str, Run] | None = None,
    lineage: Lineage | None = None,
    evidence: Evidence | None = None,
) -> dict[str, Expected]:
    """What is expected next of each batch of which something is, by ID.

    course, lineage, evidence: `runs`, `lineage_of` and `evidence_of` of the same journal, where they are at hand.
    """
    course = course if course is not None else runs(journal)
    lineage = lineage or lineage_of(journal)
    evidence = evidence or evidence_of(journal, course, lineage)
    rows = {batch.id: _look_ahead(batch, course[batch.id], evidence, lineage) for batch in journal.batches}
    return {id: row for id, row in rows.items() if isinstance(row, Expected)}


def why_nothing(batch: Batch, run: Run, evidence: Evidence, lineage: Lineage) -> str | None:
    """Why nothing is expected of a batch, as a sentence; None where something is, and of a batch that is over."""
    found = _look_ahead(batch, run, evidence, lineage)
    return None if isinstance(found, Expected) or run.is_over else found


def evidence_of(journal: Journal, course: Mapping[str, Run], lineage: Lineage) -> Evidence:
    """The finished batches; those under a doubt, which may not be what their label says, are none."""
    doubts = doubtful(journal, lineage)
    by_line: dict[str, list[Finished]] = {}
    by_species: dict[str, list[Finished]] = {}
    for batch in journal.batches:
        run = course[batch.id]
        if run.finished and batch.id not in doubts:
            is_spent = run.ended_by is not None and run.ended_by.stage == "spent"
            row = Finished(batch.id, milestones(run), is_spent)
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


def _look_ahead(batch: Batch, run: Run, evidence: Evidence, lineage: Lineage) -> Expected | str:
    """What comes next, or why nothing is expected, as a sentence."""
    ways = waits(run)
    if not ways:
        return _nothing_awaited(run)
    for basis, pool, of in pools_of(batch, evidence, lineage):
        if found := _from_batches(basis, pool, of, ways):
            return found
        if _was_the_last(pool, ways[0]):
            return f"No flush is expected after flush {ways[0].flush}: no finished batch of {of} gave more."
    return _from_tables(batch, ways) or _nothing_known(ways[0])


def _nothing_awaited(run: Run) -> str:
    if run.stage in NOT_AWAITED:
        return f"Nothing is expected of it while it is {run.stage}."
    if run.told_from:
        return "Nothing is expected: what came before is not shared."
    return "Nothing is expected: no day is known from which to count."


def _nothing_known(way: Wait) -> str:
    return (
        f"Nothing is expected: how long after {way.after} {_AWAITED[way.what]} is told by no finished batch of this "
        "line or species, and by no range known for the species."
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
