"""What each culture, line and find has yielded so far, and what was lost, at which step and by which cause.

Grown from a culture is what was made with it or with cultures reached from it by transfer; a spore start or a tissue
clone begins a line of its own and does not count for its parent's. For a find, everything below it counts. A batch made
with several cultures counts completely for each of them, because nobody knows which mushroom came from which.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from statistics import median
from typing import Literal

from journal.analysis.calculation import Amount, Calculation
from journal.analysis.kept import EachKept, kept
from journal.analysis.lineage import STARTS, Lineage, living_of
from journal.analysis.progress import Progress
from journal.analysis.statistics import MedianInterval, Proportion, median_interval, wilson
from journal.analysis.yields import BE_SOURCE, BatchYield, biological_efficiency_pct
from journal.model import Batch, Culture, Journal

STEPS = ("plate", "slant", "liquid", "syringe", "grain", "sawdust", "plugs", "spore print", "vessel", "batch")
UNCOUNTED_NAMED = 12


@dataclass(frozen=True, slots=True)
class StepLoss:
    """Losses at one step: a form of culture (`plate`, `grain`; `vessel` where no form is known), or `batch`.
    inoculated, lost: vessels or units, if their number is known; lost is never more than inoculated. uncounted: IDs of
    the cultures whose vessels nobody counted, the first `UNCOUNTED_NAMED` of them; they are in no number.
    uncounted_more: how many others there are. causes: (cause, how many), most first; "" if no cause is known."""

    step: str
    inoculated: int
    lost: int
    causes: tuple[tuple[str, int], ...]
    uncounted: tuple[str, ...] = ()
    uncounted_more: int = 0

    @property
    def share(self) -> float | None:
        """Lost over inoculated, 0-1."""
        return self.lost / self.inoculated if self.inoculated else None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rollup:
    """What was grown from a culture or find. Tuples hold IDs. shared: batches that were also made with another culture,
    which count completely in both places. finished: batches whose figures are final. without_dry: batches that count
    for the mass but for no BE: their dry mass, or their number of units, is not known. unharvested: batches with no
    harvest so far, which count for no BE either. be: over all other batches together, so far; be_survived: the same on
    units not lost before the first harvest. be_finished: over the finished ones together. counted: finished batches
    that have a BE, each once in be_median (%) and be_interval (%; None: too few). lost_of_units: units lost of the
    finished batches, as a share with its interval; None without any. partly_shared: batches of which a share keeps
    figures back, in no BE and not in lost_of_units."""

    of: str
    batches: tuple[str, ...]
    shared: tuple[str, ...]
    finished: tuple[str, ...]
    without_dry: tuple[str, ...]
    unharvested: tuple[str, ...]
    harvest_g: float
    be: Calculation | None
    be_survived: Calculation | None
    be_finished: Calculation | None
    counted: tuple[str, ...]
    be_median: float | None
    be_interval: MedianInterval | None
    lost_of_units: Proportion | None
    losses: tuple[StepLoss, ...]
    partly_shared: tuple[str, ...] = ()

    @property
    def final(self) -> bool:
        """Whether nothing more is expected of what has been made so far: every batch is finished."""
        return len(self.finished) == len(self.batches)


@dataclass(frozen=True)
class Rollups:
    """Roll-ups by ID. A line's is that of the culture it starts with, which has the same ID."""

    finds: Mapping[str, Rollup]
    cultures: Mapping[str, Rollup]
    lines: Mapping[str, Rollup]


def rollups_of(
    journal: Journal, lineage: Lineage, progress: Mapping[str, Progress], crops: Mapping[str, BatchYield]
) -> Rollups:
    """Every find's, culture's and line's roll-up."""
    living, below = living_of(journal), _everything_below(journal, lineage)
    finds: EachKept[str, Rollup] = EachKept(journal, "roll-ups of finds")
    for find in journal.finds:
        _rolled(finds, find.id, [living[each] for each in below[find.id]], progress, crops)
    cultures = _from_below(journal, lineage, living, progress, crops)
    lines = {row.id: cultures[row.id] for row in journal.cultures if row.method in STARTS}
    return Rollups(finds.all(), cultures, lines)


def _everything_below(journal: Journal, lineage: Lineage) -> Mapping[str, tuple[str, ...]]:
    """The cultures and batches grown from each find."""
    return kept(
        journal,
        "everything below finds",
        lambda finds, lineage: {find.id: lineage.descendants_of(find.id) for find in finds},
        journal.finds,
        lineage,
    )


def _rolled(
    found: EachKept[str, Rollup],
    id: str,
    scope: list[Culture | Batch],
    progress: Mapping[str, Progress],
    crops: Mapping[str, BatchYield],
) -> Rollup:
    """The roll-up of these cultures and batches, each with its progress and yield; `of` them, and nothing else."""
    runs = [progress[row.id] for row in scope]
    of_batches = [crops[row.id] for row in scope if isinstance(row, Batch)]
    return found.of(id, lambda *_: _rollup(id, scope, progress, crops), *scope, *runs, *of_batches)


def _from_below(
    journal: Journal,
    lineage: Lineage,
    living: Mapping[str, Culture | Batch],
    progress: Mapping[str, Progress],
    crops: Mapping[str, BatchYield],
) -> Mapping[str, Rollup]:
    """Every culture's roll-up. It is made from those of the cultures taken from it, if they have nothing in common and
    it adds no batch, so that a long line takes time in proportion to its length; else from everything below it."""
    rollups: EachKept[str, Rollup] = EachKept(journal, "roll-ups of cultures")
    found: dict[str, Rollup] = {}
    trees: set[str] = set()  # cultures below which nothing was taken from more than one
    nothing = kept(journal, "roll-up of nothing", lambda: _rollup("", [], {}, {}))
    for id in (*reversed(lineage.order), *living):  # what is in a circle is not in the order
        row = living.get(id)
        if not isinstance(row, Culture) or id in found:
            continue
        below = [living[child] for child in lineage.children.get(id, ())]
        taken = [each.id for each in below if isinstance(each, Culture) and each.method not in STARTS]
        if all(each in trees and len(lineage.parents[each]) == 1 for each in taken):
            trees.add(id)
        known = [found[each] for each in taken if each in found]
        bearing = [each for each in known if each.batches]
        is_apart = id in lineage.rank and len(known) == len(taken) and (len(taken) < 2 or id in trees)
        if not is_apart or len(bearing) > 1 or any(isinstance(each, Batch) for each in below):
            scope = [living[each] for each in reached_by_transfer(id, lineage, living)]
            found[id] = _rolled(rollups, id, scope, progress, crops)
        else:
            found[id] = rollups.of(id, _as_below, nothing, row, progress[id], *known)
    return rollups.all()


def _as_below(nothing: Rollup, row: Culture, run: Progress, *known: Rollup) -> Rollup:
    """A culture's roll-up, from those of the cultures taken from it, of which at most one has batches."""
    losses = [*losses_by_step([row], {row.id: run}), *(loss for each in known for loss in each.losses)]
    return replace(next((one for one in known if one.batches), nothing), of=row.id, losses=_together(losses))


def reached_by_transfer(start: str, lineage: Lineage, living: Mapping[str, Culture | Batch]) -> tuple[str, ...]:
    """IDs of a culture, and of the cultures and batches reached from it without passing a start of a new line."""
    seen = {start: None}
    waiting = [start]
    while waiting:
        for child in lineage.children.get(waiting.pop(), ()):
            row = living[child]
            restarts = isinstance(row, Culture) and row.method in STARTS
            if child not in seen and not restarts:
                seen[child] = None
                waiting.append(child)
    return tuple(seen)


def _rollup(
    id: str, scope: list[Culture | Batch], progress: Mapping[str, Progress], crops: Mapping[str, BatchYield]
) -> Rollup:
    known = {row.id for row in scope if isinstance(row, Culture)}
    batches = [row for row in scope if isinstance(row, Batch)]
    finished = [batch for batch in batches if crops[batch.id].final]
    measured = {batch.id: be.value for batch in finished if (be := crops[batch.id].be)}
    return Rollup(
        of=id,
        batches=_ids(batches),
        shared=_ids(batch for batch in batches if any(ref.id not in known for ref in batch.cultures)),
        finished=_ids(finished),
        without_dry=_ids(batch for batch in batches if crops[batch.id].be is None and not batch.totals_are_partial),
        unharvested=_ids(batch for batch in batches if crops[batch.id].is_unharvested),
        harvest_g=sum(crops[batch.id].harvest_g for batch in batches),
        be=be_together(batches, crops),
        be_survived=be_together(batches, crops, "not lost before the first harvest"),
        be_finished=be_together(finished, crops),
        counted=tuple(sorted(measured)),
        be_median=median(measured.values()) if measured else None,
        be_interval=median_interval(measured.values()),
        lost_of_units=units_lost(crops[batch.id] for batch in finished if not batch.totals_are_partial),
        losses=losses_by_step(scope, progress),
        partly_shared=_ids(batch for batch in batches if batch.totals_are_partial),
    )


def _ids(batches: Iterable[Batch]) -> tuple[str, ...]:
    return tuple(sorted(batch.id for batch in batches))


Counted = Literal["inoculated", "not lost before the first harvest"]
"""On which units a BE is."""


def be_together(
    batches: Iterable[Batch], crops: Mapping[str, BatchYield], which: Counted = "inoculated"
) -> Calculation | None:
    """BE on these units over all these batches as if they were one; None without a dry mass, or with all units lost. A
    batch without a harvest so far is left out: it may still fruit, and is not averaged in as 0."""
    counted = []
    for batch in batches:
        crop = crops[batch.id]
        units = crop.inoculated if which == "inoculated" else crop.survived
        if batch.dry_g is not None and units is not None and not (batch.totals_are_partial or crop.is_unharvested):
            counted.append((batch.dry_g * units, batch.id))
    fresh_g = sum(crops[id].harvest_g for _, id in counted)
    dry_g = sum(mass_g for mass_g, _ in counted)
    value = biological_efficiency_pct(fresh_g, dry_g)
    if value is None:
        return None
    inputs = (
        ("fresh mass harvested", Amount(fresh_g, "g")),
        (f"dry substrate of all units {which}", Amount(dry_g, "g")),
        ("batches", ", ".join(sorted(id for _, id in counted))),
    )
    formula = f"BE = fresh mass harvested / dry substrate of all units {which} × 100"
    return Calculation(value, "%", inputs, formula, BE_SOURCE)


def units_lost(crops: Iterable[BatchYield]) -> Proportion | None:
    """Units lost over units inoculated, over those of these batches together whose units are known, with Wilson's
    interval; None without any unit."""
    rows = [(crop.lost, crop.inoculated) for crop in crops if crop.inoculated is not None]
    return wilson(sum(min(lost, inoculated) for lost, inoculated in rows), sum(inoculated for _, inoculated in rows))


def losses_by_step(scope: Iterable[Culture | Batch], progress: Mapping[str, Progress]) -> tuple[StepLoss, ...]:
    """Losses of each step, in the order of `STEPS`; including steps without a loss."""
    steps: dict[str, list[Progress]] = {}
    for row in scope:
        step = "batch" if isinstance(row, Batch) else row.form or "vessel"
        steps.setdefault(step, []).append(progress[row.id])
    losses = []
    for step, rows in steps.items():
        counted = [(one, one.inoculated) for one in rows if one.inoculated is not None]
        causes: Counter[str] = Counter()
        for note in (note for one, _ in counted for note in one.losses):
            causes[(note.cause or "").strip().casefold()] += note.lost or 0
        uncounted = [one.of.id for one in rows if one.inoculated is None]
        losses.append(
            StepLoss(
                step=step,
                inoculated=sum(inoculated for _, inoculated in counted),
                lost=sum(min(one.lost, inoculated) for one, inoculated in counted),
                causes=_most_first(causes),
                uncounted=tuple(uncounted[:UNCOUNTED_NAMED]),
                uncounted_more=len(uncounted[UNCOUNTED_NAMED:]),
            )
        )
    return _in_order(losses)


def _together(losses: Iterable[StepLoss]) -> tuple[StepLoss, ...]:
    """Losses of several cultures that have no vessel or unit in common, as one for each step."""
    steps: dict[str, StepLoss] = {}
    for more in losses:
        one = steps.get(more.step)
        if one is None:
            steps[more.step] = more
            continue
        named = one.uncounted + more.uncounted
        causes = Counter(dict(one.causes))
        causes.update(dict(more.causes))
        steps[more.step] = StepLoss(
            step=one.step,
            inoculated=one.inoculated + more.inoculated,
            lost=one.lost + more.lost,
            causes=_most_first(causes),
            uncounted=named[:UNCOUNTED_NAMED],
            uncounted_more=one.uncounted_more + more.uncounted_more + len(named[UNCOUNTED_NAMED:]),
        )
    return _in_order(steps.values())


def _most_first(causes: Counter[str]) -> tuple[tuple[str, int], ...]:
    return tuple(sorted(causes.items(), key=lambda row: (-row[1], row[0])))


def _in_order(losses: Iterable[StepLoss]) -> tuple[StepLoss, ...]:
    return tuple(sorted(losses, key=lambda loss: STEPS.index(loss.step)))
