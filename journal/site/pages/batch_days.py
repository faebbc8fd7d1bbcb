"""The days of a batch, each beside those of the others of its line or species."""

from __future__ import annotations

from dataclasses import dataclass

from journal.model import Batch
from journal.reckoning.days_taken import DaysTaken, Others, days_taken
from journal.site import wording
from journal.site.pages.common import Lookup


@dataclass(frozen=True, slots=True)
class DaysRow:
    """One span. others: median and range of the other finished batches, and how many there are."""

    what: str
    days: str
    others: str | None


@dataclass(frozen=True, slots=True)
class DaysTable:
    """has_others: whether any row has something to be held against."""

    rows: tuple[DaysRow, ...]
    has_others: bool


def days_table(lookup: Lookup, batch: Batch) -> DaysTable:
    """What a batch took so far, and what of it others took."""
    run = lookup.runs[batch.id]
    still = "not noted" if run.is_over else "not yet"
    rows = tuple(_row(one, still) for one in days_taken(batch, run, lookup.evidence, lookup.lineage))
    return DaysTable(rows, any(row.others for row in rows))


def _row(one: DaysTaken, still: str) -> DaysRow:
    days = still if one.days is None else wording.count(one.days, "day")
    return DaysRow(one.what, days, _others_words(one.others) if one.others else None)


def _others_words(others: Others) -> str:
    if others.n == 1:
        return f"{others.low_d} in the one other finished batch of {others.of}"
    median = wording.number(others.median_d)
    return f"median {median}, range {others.low_d} to {others.high_d}, {others.n} other finished batches of {others.of}"
