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
    """has_others: whether any row has something to be held against. of: what all these others have in common with it;
    None where it differs by row, and each says it."""

    rows: tuple[DaysRow, ...]
    has_others: bool
    of: str | None


def days_table(lookup: Lookup, batch: Batch) -> DaysTable:
    """What a batch took so far, and what of it others took."""
    run = lookup.runs[batch.id]
    taken = days_taken(batch, run, lookup.evidence, lookup.lineage)
    in_common = {one.others.of for one in taken if one.others}
    of = in_common.pop() if len(in_common) == 1 else None
    still = "not noted" if run.is_over else "not yet"
    rows = tuple(_row(one, still, names_its_others=of is None) for one in taken)
    return DaysTable(rows, any(row.others for row in rows), of)


def _row(one: DaysTaken, still: str, names_its_others: bool) -> DaysRow:
    days = still if one.days is None else wording.count(one.days, "day")
    return DaysRow(one.what, days, _others_words(one.others, names_its_others) if one.others else None)


def _others_words(others: Others, names_them: bool) -> str:
    """`28 (n = 1)`, `median 12, range 10 to 20 (n = 3)`."""
    of = f", {others.of}" if names_them else ""
    if others.n == 1:
        return f"{others.low_d} (n = 1{of})"
    return f"median {wording.number(others.median_d)}, range {others.low_d} to {others.high_d} (n = {others.n}{of})"
