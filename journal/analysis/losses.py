"""Losses over time: the share of each lot that was lost, on a p-chart with limits; by treatment, spawn and month."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from journal.analysis.progress import Progress
from journal.analysis.statistics import Proportion, wilson
from journal.model import Batch, Culture, Journal

P_CHART_SOURCE = (
    "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2, proportions control charts: p ± 3 · √(p · (1 − p) / n), "
    "a limit below 0 is 0"
)
P_CHART_FORMULA = "p = all lost / all inoculated; limits of a lot of n = p ± 3 · √(p · (1 − p) / n)"

FEWEST_LOTS = 20
"""Limits are drawn from so many lots on (*common practice*: 20 to 25 samples)."""

EXPECTED_LOST = 5
"""Where fewer are to be expected in a lot, the limits are rough (*common practice* for the normal approximation)."""


@dataclass(frozen=True, slots=True)
class Lot:
    """What was made together: a culture with its vessels, or a batch with its units. step: `plate`, `grain` and so on,
    or `batch`. spawn: what a batch was made with. lost: no more than inoculated. causes: (cause, how many), "" for
    none. may_lose_more: it is a batch that is not over."""

    id: str
    step: str
    day: date
    inoculated: int
    lost: int
    causes: tuple[tuple[str, int], ...]
    treatment: str | None
    spawn: tuple[str, ...]
    may_lose_more: bool

    def lost_to(self, cause: str | None) -> int:
        """How many were lost to a cause; None: to any."""
        return self.lost if cause is None else min(self.lost, dict(self.causes).get(cause, 0))


def lots_of(journal: Journal, progress: Mapping[str, Progress]) -> tuple[Lot, ...]:
    """All lots whose vessels or units were counted, by day."""
    rows: list[Culture | Batch] = [*journal.cultures, *journal.batches]
    found = []
    for row in sorted(rows, key=lambda row: (row.date.first, row.path)):
        run = progress[row.id]
        is_partial = isinstance(row, Batch) and row.totals_are_partial
        if run.inoculated is None or is_partial:
            continue
        causes: Counter[str] = Counter()
        for note in run.losses:
            causes[(note.cause or "").strip().casefold()] += note.lost or 0
        found.append(
            Lot(
                id=row.id,
                step="batch" if isinstance(row, Batch) else row.form or "vessel",
                day=row.date.first,
                inoculated=run.inoculated,
                lost=min(run.lost, run.inoculated),
                causes=tuple(sorted(causes.items(), key=lambda one: (-one[1], one[0]))),
                treatment=row.treatment,
                spawn=tuple(ref.id for ref in row.cultures) if isinstance(row, Batch) else (),
                may_lose_more=isinstance(row, Batch) and not run.is_over,
            )
        )
    return tuple(found)


def steps_of(lots: Iterable[Lot]) -> dict[str, tuple[Lot, ...]]:
    """The lots by step, cultures in the order in which they come in, batches last."""
    steps: dict[str, list[Lot]] = {}
    for lot in lots:
        steps.setdefault(lot.step, []).append(lot)
    return {step: tuple(steps[step]) for step in sorted(steps, key=lambda step: step == "batch")}


@dataclass(frozen=True, slots=True)
class ControlLimits:
    """A sample of a p-chart: lost of n, and its limits, as shares 0-1."""

    lost: int
    n: int
    low: float
    high: float

    @property
    def share(self) -> float:
        return self.lost / self.n

    @property
    def is_out(self) -> bool:
        return not self.low - 1e-12 <= self.share <= self.high + 1e-12


@dataclass(frozen=True, slots=True)
class PChart:
    """centre: the share of all that was lost. samples: in order. are_few: too few for limits to tell anything."""

    centre: float
    samples: tuple[ControlLimits, ...]

    @property
    def are_few(self) -> bool:
        return len(self.samples) < FEWEST_LOTS

    @property
    def are_rough(self) -> bool:
        """Whether in half of the samples or more fewer than `EXPECTED_LOST` are to be expected."""
        return 2 * sum(one.n * self.centre < EXPECTED_LOST for one in self.samples) >= len(self.samples)


def p_chart(samples: Sequence[tuple[int, int]]) -> PChart | None:
    """The p-chart of samples (lost, n); None where there is none. *Source:* `P_CHART_SOURCE`."""
    counted = [(lost, n) for lost, n in samples if n > 0]
    if not counted:
        return None
    centre = sum(lost for lost, _ in counted) / sum(n for _, n in counted)
    rows = []
    for lost, n in counted:
        off = 3 * math.sqrt(centre * (1 - centre) / n)
        rows.append(ControlLimits(lost, n, max(0.0, centre - off), min(1.0, centre + off)))
    return PChart(centre, tuple(rows))


@dataclass(frozen=True, slots=True)
class LossGroup:
    """Lots that have something in common. share: lost of all, with Wilson's interval; supposes that each was lost or
    not by itself, which what shared one treatment was not."""

    name: str
    lots: tuple[Lot, ...]
    share: Proportion


def grouped(lots: Iterable[Lot], names_of: Callable[[Lot], Iterable[str]]) -> tuple[LossGroup, ...]:
    """The lots by what they have in common, by name; a lot with several names is in each, one with none in none."""
    groups: dict[str, list[Lot]] = {}
    for lot in lots:
        for name in names_of(lot):
            groups.setdefault(name, []).append(lot)
    found = []
    for name in sorted(groups):
        share = wilson(sum(lot.lost for lot in groups[name]), sum(lot.inoculated for lot in groups[name]))
        if share is not None:
            found.append(LossGroup(name, tuple(groups[name]), share))
    return tuple(found)


def by_treatment(lots: Iterable[Lot]) -> tuple[LossGroup, ...]:
    return grouped(lots, lambda lot: (f"{lot.step}: {lot.treatment}",) if lot.treatment else ())


def by_spawn(lots: Iterable[Lot]) -> tuple[LossGroup, ...]:
    """Batches by the culture that they were made with."""
    return grouped(lots, lambda lot: lot.spawn)


def by_month(lots: Iterable[Lot]) -> tuple[LossGroup, ...]:
    """By step and the month in which lots were made, `grain: 2026-10`: plates and batches of a month say nothing of
    each other."""
    return grouped(lots, lambda lot: (f"{lot.step}: {lot.day.isoformat()[:7]}",))


def causes_of(lots: Iterable[Lot]) -> tuple[tuple[str, int], ...]:
    """(cause, how many were lost to it), most first; "" where no cause is known."""
    found: Counter[str] = Counter()
    for lot in lots:
        for cause, count in lot.causes:
            found[cause] += count
    return tuple(sorted(found.items(), key=lambda row: (-row[1], row[0])))
