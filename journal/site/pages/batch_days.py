"""The days of a batch, each beside those of the others of its line or species."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from journal.model import Batch
from journal.reckoning.days_taken import DaysTaken, Others, days_taken
from journal.reckoning.timing import Run
from journal.site import wording
from journal.site.figures import Figure
from journal.site.pages.common import Lookup

FORMULA = (
    "whole calendar days from the one day to the other; of the others the middle value, or half-way between the two "
    "middle ones, the least and the greatest"
)
SOURCE = "common practice: plain counting of days. A day that is not known exactly gives no number"


@dataclass(frozen=True, slots=True)
class DaysRow:
    """One span. others: median and range of the other finished batches, and how many there are."""

    what: str
    days: str
    others: str | None


@dataclass(frozen=True, slots=True)
class DaysTable:
    """has_others: whether any row has something to be held against. of: what all these others have in common with it;
    None where it differs by row, and each says it. reckoning: from which day is counted, and what each other took."""

    rows: tuple[DaysRow, ...]
    has_others: bool
    of: str | None
    reckoning: Figure | None


def days_table(lookup: Lookup, batch: Batch) -> DaysTable:
    """What a batch took so far, and what of it others took."""
    run = lookup.runs[batch.id]
    taken = days_taken(batch, run, lookup.evidence, lookup.lineage)
    in_common = {one.others.of for one in taken if one.others}
    of = in_common.pop() if len(in_common) == 1 else None
    still = "not noted" if run.is_over else "not yet"
    rows = tuple(_row(one, still, names_its_others=of is None) for one in taken)
    return DaysTable(rows, any(row.others for row in rows), of, _reckoning(run, taken))


def _reckoning(run: Run, taken: Sequence[DaysTaken]) -> Figure | None:
    """None where no day is known from which anything could be counted, and nothing of the others."""
    others = [(f"{one.what}, others", _each(one.others)) for one in taken if one.others]
    day0 = [("day 0", f"{wording.day_in_words(run.day0)}, {_whose_day0(run)}")] if run.day0 else []
    if not day0 and not others:
        return None
    return Figure(number="each span", words="", inputs=(*day0, *others), formula=FORMULA, source=SOURCE)


def _whose_day0(run: Run) -> str:
    said = any(note.stage == "inoculated" for note in run.whole_notes)
    return "the first note that says inoculated" if said else "the day of the batch"


def _each(others: Others) -> str:
    return ", ".join(f"{batch} {days} d" for batch, days in others.took)


def _row(one: DaysTaken, still: str, names_its_others: bool) -> DaysRow:
    days = still if one.days is None else wording.count(one.days, "day")
    return DaysRow(one.what, days, _others_words(one.others, names_its_others) if one.others else None)


def _others_words(others: Others, names_them: bool) -> str:
    """`28 (n = 1)`, `median 12, range 10 to 20 (n = 3)`."""
    of = f", {others.of}" if names_them else ""
    if others.n == 1:
        return f"{others.low_d} (n = 1{of})"
    return f"median {wording.number(others.median_d)}, range {others.low_d} to {others.high_d} (n = {others.n}{of})"
