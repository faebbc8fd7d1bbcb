"""Costs and labour: what a kilogram cost, how many kilograms an hour of work gave, and what was sold; by line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from journal.analysis.forecast import line_of
from journal.analysis.lineage import Lineage
from journal.analysis.progress import Progress
from journal.model import Batch, Journal, Note

COST_FORMULA = "cost by mass = what was paid / fresh mass harvested"
LABOUR_FORMULA = "mass an hour = fresh mass harvested / minutes of work × 60"
COST_SOURCE = "common practice: plain arithmetic on what was written"


@dataclass(frozen=True, slots=True)
class BatchCost:
    """One batch. paid: for the batch and by notes about it alone; None where its own `cost` is not written. minutes:
    of notes about it alone; None where none tells any. sold: likewise."""

    batch: str
    line: str | None
    is_final: bool
    harvest_g: float
    paid: float | None
    minutes: float | None
    sold: float | None


@dataclass(frozen=True, slots=True)
class Costs:
    """Of several batches. costed, worked: those that are finished and tell their cost, or their minutes, with what
    these gave; they alone are in per_kg and kg_per_h, so that neither is too low. sold: of all of them."""

    name: str
    batches: tuple[BatchCost, ...]

    @property
    def costed(self) -> tuple[BatchCost, ...]:
        return tuple(one for one in self.batches if one.is_final and one.paid is not None)

    @property
    def worked(self) -> tuple[BatchCost, ...]:
        return tuple(one for one in self.batches if one.is_final and one.minutes)

    @property
    def harvest_g(self) -> float:
        return sum(one.harvest_g for one in self.batches)

    @property
    def paid(self) -> float | None:
        """For all batches that tell it, finished or not."""
        known = [one.paid for one in self.batches if one.paid is not None]
        return sum(known) if known else None

    @property
    def minutes(self) -> float | None:
        known = [one.minutes for one in self.batches if one.minutes is not None]
        return sum(known) if known else None

    @property
    def sold(self) -> float | None:
        known = [one.sold for one in self.batches if one.sold is not None]
        return sum(known) if known else None

    @property
    def per_kg(self) -> float | None:
        """Cost a kilogram. *Formula:* `COST_FORMULA`."""
        return a_kilogram(sum(one.paid or 0.0 for one in self.costed), sum(one.harvest_g for one in self.costed))

    @property
    def kg_per_h(self) -> float | None:
        """Kilograms an hour of work. *Formula:* `LABOUR_FORMULA`."""
        minutes = sum(one.minutes or 0.0 for one in self.worked)
        return sum(one.harvest_g for one in self.worked) / 1000 / (minutes / 60) if minutes else None


@dataclass(frozen=True, slots=True)
class JournalCosts:
    """lines: by the ID of the line, then those of several lines or of none (name ""). of_all: all batches. devices,
    services, other: what was paid for these; other, other_minutes, other_sold: of notes about no batch, or about
    several things."""

    lines: tuple[Costs, ...]
    of_all: Costs
    devices: float
    services: float
    other: float
    other_minutes: float
    other_sold: float

    @property
    def paid(self) -> float:
        """All that was paid, by what is written: devices whole, not spread over the years of their use."""
        return (self.of_all.paid or 0.0) + self.devices + self.services + self.other

    @property
    def per_kg(self) -> float | None:
        """What a kilogram cost with devices, services and other notes in it, over the batches of `Costs.per_kg`: so
        it is never the less of the two."""
        costed = self.of_all.costed
        return a_kilogram(self.paid_in_per_kg, sum(one.harvest_g for one in costed)) if costed else None

    @property
    def paid_in_per_kg(self) -> float:
        """For the batches that are finished and tell their cost, with devices, services and other notes."""
        batches = sum(one.paid or 0.0 for one in self.of_all.costed)
        return batches + self.devices + self.services + self.other

    @property
    def sold(self) -> float:
        return (self.of_all.sold or 0.0) + self.other_sold

    @property
    def minutes(self) -> float:
        return (self.of_all.minutes or 0.0) + self.other_minutes

    @property
    def has_any(self) -> bool:
        """Whether anything of costs, work or sales is written."""
        return bool(self.paid or self.minutes or self.sold) or any(one.paid is not None for one in self.of_all.batches)


def a_kilogram(paid: float, harvest_g: float) -> float | None:
    """What a kilogram cost; None where nothing was harvested."""
    return paid / (harvest_g / 1000) if harvest_g > 0 else None


def costs_of(journal: Journal, progress: Mapping[str, Progress], lineage: Lineage) -> JournalCosts:
    """All that was paid, worked and sold."""
    own: dict[str, list[Note]] = {}
    elsewhere: list[Note] = []
    batches = {batch.id for batch in journal.batches}
    for note in journal.notes:
        ids = {ref.id for ref in note.about}
        (own.setdefault(next(iter(ids)), []) if len(ids) == 1 and ids <= batches else elsewhere).append(note)
    rows = [_of_batch(batch, progress[batch.id], own.get(batch.id, ()), lineage) for batch in journal.batches]
    by_line: dict[str, list[BatchCost]] = {}
    for row in rows:
        by_line.setdefault(row.line or "", []).append(row)
    return JournalCosts(
        lines=tuple(Costs(line, tuple(by_line[line])) for line in sorted(by_line, key=lambda line: (not line, line))),
        of_all=Costs("", tuple(rows)),
        devices=sum(device.cost or 0.0 for device in journal.devices),
        services=sum(entry.cost or 0.0 for entry in journal.tent_entries),
        other=sum(note.cost or 0.0 for note in elsewhere),
        other_minutes=sum(note.minutes or 0.0 for note in elsewhere),
        other_sold=sum(note.sold or 0.0 for note in elsewhere),
    )


def _of_batch(batch: Batch, run: Progress, notes: Iterable[Note], lineage: Lineage) -> BatchCost:
    notes = tuple(notes)
    paid = None if batch.cost is None else batch.cost + sum(note.cost or 0.0 for note in notes)
    minutes = [note.minutes for note in notes if note.minutes is not None]
    sold = [note.sold for note in notes if note.sold is not None]
    return BatchCost(
        batch=batch.id,
        line=line_of(batch, lineage),
        is_final=run.finished,
        harvest_g=run.harvest_g,
        paid=paid,
        minutes=sum(minutes) if minutes else None,
        sold=sum(sold) if sold else None,
    )
