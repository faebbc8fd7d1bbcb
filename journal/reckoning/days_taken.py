"""The days a batch took, each beside what the same took the other finished batches of its line or species."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from statistics import median

from journal.model import Batch
from journal.reckoning.expecting import Evidence, Finished, pools_of
from journal.reckoning.lineage import Lineage
from journal.reckoning.milestones import Milestones, milestones
from journal.reckoning.timing import Run

Took = Callable[[Milestones], int | None]


@dataclass(frozen=True, slots=True)
class Others:
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
    others: Others | None


def days_taken(batch: Batch, run: Run, evidence: Evidence, lineage: Lineage) -> tuple[DaysTaken, ...]:
    """Every span that this batch or another of its line or species tells of, in order.

    A batch is never held against itself; one that is not finished is held against the finished ones.
    """
    own = milestones(run)
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


def _others(pools: Iterable[tuple[list[Finished], str]], took: Took) -> Others | None:
    """Of the first pool that tells: the line's own before the species'."""
    for pool, of in pools:
        found = [(days, one.batch) for one in pool if (days := took(one.took)) is not None]
        if found:
            return Others(tuple((batch, days) for days, batch in sorted(found)), of)
    return None
