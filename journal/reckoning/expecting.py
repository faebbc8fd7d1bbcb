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
from typing import Literal

from journal.model import Batch, Journal
from journal.reckoning.awaiting import Wait, What, waits
from journal.reckoning.identity import doubtful
from journal.reckoning.lineage import Lineage, lineage_of
from journal.reckoning.milestones import Milestones, milestones
from journal.reckoning.species_names import species_named
from journal.reckoning.species_ranges import PRACTICE, PUBLISHED, Days, Usual
from journal.reckoning.timing import Run, runs

Basis = Literal["line", "species", "published", "practice"]


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
    """A finished batch, as evidence. is_spent: it was let run to its end."""

    took: Milestones
    is_spent: bool


@dataclass(frozen=True)
class Evidence:
    """The finished batches of a journal, by the ID of their line and by the name of their species."""

    by_line: Mapping[str, Sequence[Finished]] = field(default_factory=dict)
    by_species: Mapping[str, Sequence[Finished]] = field(default_factory=dict)


def expected(
    journal: Journal, course: Mapping[str, Run] | None = None, lineage: Lineage | None = None
) -> dict[str, Expected]:
    """What is expected next of each batch of which something is, by ID.

    course, lineage: `runs` and `lineage_of` of the same journal, where they are at hand.
    """
    course = course if course is not None else runs(journal)
    lineage = lineage or lineage_of(journal)
    evidence = evidence_of(journal, course, lineage)
    rows = {batch.id: _expected_of(batch, waits(course[batch.id]), evidence, lineage) for batch in journal.batches}
    return {id: row for id, row in rows.items() if row is not None}


def evidence_of(journal: Journal, course: Mapping[str, Run], lineage: Lineage) -> Evidence:
    """The finished batches; those under a doubt, which may not be what their label says, are none."""
    doubts = doubtful(journal, lineage)
    by_line: dict[str, list[Finished]] = {}
    by_species: dict[str, list[Finished]] = {}
    for batch in journal.batches:
        run = course[batch.id]
        if run.finished and batch.id not in doubts:
            row = Finished(milestones(run), is_spent=run.ended_by is not None and run.ended_by.stage == "spent")
            for name, rows in ((_line(batch, lineage), by_line), (species_named(batch.species), by_species)):
                if name is not None:
                    rows.setdefault(name, []).append(row)
    return Evidence(by_line, by_species)


def _line(batch: Batch, lineage: Lineage) -> str | None:
    return lineage.descents[batch.id].line


def _expected_of(batch: Batch, ways: Sequence[Wait], evidence: Evidence, lineage: Lineage) -> Expected | None:
    if not ways:
        return None
    line, species = _line(batch, lineage), species_named(batch.species)
    pools: tuple[tuple[Basis, Sequence[Finished], str], ...] = (
        ("line", evidence.by_line.get(line or "", ()), f"line {line}"),
        ("species", evidence.by_species.get(species or "", ()), f"{species} in this journal"),
    )
    for basis, pool, of in pools:
        if found := _from_batches(basis, pool, of, ways):
            return found
        if _was_the_last(pool, ways[0]):
            return None
    tables: tuple[tuple[Basis, Usual | None], ...] = (
        ("published", PUBLISHED.get(species or "")),
        ("practice", PRACTICE.get(species or "")),
    )
    return _from_tables(tables, ways)


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


def _from_tables(tables: Iterable[tuple[Basis, Usual | None]], ways: Sequence[Wait]) -> Expected | None:
    for basis, usual in tables:
        if usual is None:
            continue
        if ways[0].what == "next flush" and usual.flushes_most and (ways[0].flush or 0) >= usual.flushes_most:
            return None
        for way in ways:
            if days := way.usual_d(usual):
                told = f"published: {usual.source}" if basis == "published" else usual.source
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
