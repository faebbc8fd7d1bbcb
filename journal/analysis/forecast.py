"""What is expected of every batch next, from which day to which, and what that is based on.

The nearest evidence is used, and named: the batch's own earlier flushes, else this line's finished batches, else those
of this species in this journal, else a published range, else common practice, else nothing is expected. Ranges of a
related species are never used: a species is found only by its own name. Usual values are guidance, not limits: strains
differ more than species. Whether a day is past is decided where today's date is known.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from statistics import median
from typing import Literal

from journal.amounts import number
from journal.analysis.kept import each_kept, kept
from journal.analysis.lineage import Lineage
from journal.analysis.milestones import Milestones, last_flush, milestones, move_into_tent
from journal.analysis.progress import Progress, calendar_day
from journal.analysis.species_names import OwnNames, species_named
from journal.analysis.statistics import next_within_range
from journal.analysis.usual_times import PRACTICE, PUBLISHED, Days, Usual, What
from journal.model import Batch, Journal, Note
from journal.quantities import counted
from journal.settings import Settings, ValueRange

Gap = Literal[
    "colonised_d", "pinning_d", "pinning_after_move_d", "harvest_d", "harvest_after_pins_d", "between_flushes_d"
]

NOT_AWAITED = frozenset({"stored", "contaminated"})
"""Stages of the whole in which nothing is awaited, although it is not over."""

_COLONISED = frozenset({"colonised", "pinning", "fruiting", "resting"})


@dataclass(frozen=True, slots=True)
class Wait:
    """One way to calculate what comes next: a span from a day. flush: the one whose first day that is, None if it is
    not one's."""

    what: What
    gap: Gap
    since: date
    after: str
    flush: int | None = None


def _days_taken(took: Milestones, gap: Gap, flush: int | None = None) -> int | None:
    if gap == "between_flushes_d":
        return None if flush is None else took.between_flushes_d.get(flush)
    days: int | None = getattr(took, gap)
    return days


def waits(progress: Progress) -> tuple[Wait, ...]:
    """The ways to calculate what is awaited of a batch, the best first and all for the same thing; none if nothing is.
    The last observation decides: after pins since the last harvest, a harvest is awaited; after a harvest, the next
    flush; after colonisation, pins; otherwise colonisation."""
    if progress.is_over or progress.stage in NOT_AWAITED:
        return ()
    stages = {note.stage for note in progress.whole_notes}
    pins, harvested = pins_since_harvest(progress), progress.nonzero_harvests
    if pins or ("fruiting" in stages and not harvested):
        other = _for_flush(progress, "harvest") if harvested else _from_day0(progress, "harvest", "harvest_d")
        return _from_note(pins, "harvest", "harvest_after_pins_d", "pins") + other
    if harvested:
        return _for_flush(progress, "next flush")
    if stages & _COLONISED:
        moved = _from_note(move_into_tent(progress), "pins", "pinning_after_move_d", "the move")
        return moved + _from_day0(progress, "pins", "pinning_d")
    return _from_day0(progress, "colonised", "colonised_d")


def pins_since_harvest(progress: Progress) -> Note | None:
    """The first note of pins, on the whole or a part, since the last harvest; a note of both counts as new pins."""
    after = next((at for at in range(len(progress.notes), 0, -1) if progress.notes[at - 1].harvest_g), 1) - 1
    return next((note for note in progress.notes[after:] if note.stage == "pinning"), None)


def _from_note(note: Note | None, what: What, gap: Gap, after: str) -> tuple[Wait, ...]:
    day = calendar_day(note.date) if note else None
    return (Wait(what, gap, day, after),) if day else ()


def _for_flush(progress: Progress, what: What) -> tuple[Wait, ...]:
    """Counts from the last day of the last flush; where no flush is numbered, none can be counted from."""
    last = last_flush(progress)
    if last is None or last.day is None:
        return ()
    after = f"flush {last.number}" if last.is_numbered else f"the harvest taken as flush {last.number}"
    return (Wait(what, "between_flushes_d", last.day, after, last.number),)


def _from_day0(progress: Progress, what: What, gap: Gap) -> tuple[Wait, ...]:
    """None if a share starts on a later day, because what is awaited may have come before."""
    return (Wait(what, gap, progress.day0, "inoculation"),) if progress.day0 and not progress.shared_from else ()


Basis = Literal["batch", "line", "species", "published", "practice"]

FEWEST_FOR_LATE = 5
"""With fewer cases nothing is called late: the range of four contains the next one three times in five."""

_AWAITED: Mapping[What, str] = {
    "colonised": "a batch is colonised",
    "pins": "the first pins show",
    "harvest": "the harvest comes",
    "next flush": "the next flush comes",
}


@dataclass(frozen=True, slots=True)
class Expected:
    """What to look for next, from one day; to_day: the last of the usual days, None if a single case gives no range. n:
    how many cases of this journal it is based on, and median_d their median; None if there are none. words: the days,
    what they count from and what they are based on, as one phrase without a full stop."""

    what: What
    from_day: date
    to_day: date | None
    basis: Basis
    words: str
    n: int | None = None
    median_d: float | None = None

    @property
    def late_after(self) -> date | None:
        """The day after which it is late; None if there are too few cases to say so."""
        return self.to_day if (self.n or 0) >= FEWEST_FOR_LATE else None


@dataclass(frozen=True, slots=True)
class Finished:
    """A finished batch, as evidence. batch: its ID. is_spent: it was kept until it was spent."""

    batch: str
    took: Milestones
    is_spent: bool


@dataclass(frozen=True)
class Evidence:
    """The finished batches of a journal, by the ID of their line and by the name of their species; the temperatures
    wanted in its tents, by their ID in small letters; and its author's own names of species."""

    by_line: Mapping[str, Sequence[Finished]] = field(default_factory=dict)
    by_species: Mapping[str, Sequence[Finished]] = field(default_factory=dict)
    temperatures_c: Mapping[str, ValueRange] = field(default_factory=dict)
    names: OwnNames = ()


def expected(
    journal: Journal, progress: Mapping[str, Progress], evidence: Evidence, lineage: Lineage
) -> dict[str, Expected]:
    """What is expected next of each batch of which something is, by ID."""

    def reads(batch: Batch) -> tuple[object, ...]:
        pools = (pool for _, pool, _ in pools_of(batch, evidence, lineage))
        return batch, progress[batch.id], line_of(batch, lineage), evidence.temperatures_c, evidence.names, *pools

    found = each_kept(
        journal,
        "expected",
        lambda batch, run, *_: _look_ahead(batch, run, evidence, lineage),
        {batch.id: reads(batch) for batch in journal.batches},
    )
    return {id: row for id, row in found.items() if isinstance(row, Expected)}


def why_nothing(batch: Batch, progress: Progress, evidence: Evidence, lineage: Lineage) -> str | None:
    """Why nothing is expected of a batch, as a sentence; None if something is, or if the batch is over."""
    found = _look_ahead(batch, progress, evidence, lineage)
    return None if isinstance(found, Expected) or progress.is_over else found


def evidence_of(
    journal: Journal, progress: Mapping[str, Progress], lineage: Lineage, doubts: Container[str]
) -> Evidence:
    """The finished batches, except those in `doubts`, which may not be what their label says."""
    by_line: dict[str, list[Finished]] = {}
    by_species: dict[str, list[Finished]] = {}
    over, own = [b for b in journal.batches if progress[b.id].finished and b.id not in doubts], journal.settings.names
    finished = each_kept(journal, "finished batches", _finished, {batch.id: (progress[batch.id],) for batch in over})
    for batch in over:
        row = finished[batch.id]
        for name, rows in ((line_of(batch, lineage), by_line), (species_named(batch.species, own), by_species)):
            if name is not None:
                rows.setdefault(name, []).append(row)
    return Evidence(
        _same_pools(journal, "line", by_line),
        _same_pools(journal, "species", by_species),
        kept(journal, "temperatures in tents", _temperatures_c, journal.settings),
        own,
    )


def _temperatures_c(settings: Settings) -> dict[str, ValueRange]:
    return {tent.id.lower(): tent.temperature_c for tent in settings.tents if tent.temperature_c}


def _finished(run: Progress) -> Finished:
    is_spent = run.ended_by is not None and run.ended_by.stage == "spent"
    return Finished(run.of.id, milestones(run), is_spent)


def _same_pools(journal: Journal, of: str, pools: Mapping[str, Sequence[Finished]]) -> Mapping[str, Sequence[Finished]]:
    """The same batches; those of before as the same sequence, so that what is based on it is known to be as it was."""
    return each_kept(
        journal, f"finished batches of each {of}", lambda *pool: pool, {name: (*pool,) for name, pool in pools.items()}
    )


def line_of(batch: Batch, lineage: Lineage) -> str | None:
    """The line a batch was made with, by the ID of its start; None if there is none, or several."""
    lines = lineage.lines_of(batch.id)
    return lines[0] if len(lines) == 1 else None


def pools_of(batch: Batch, evidence: Evidence, lineage: Lineage) -> tuple[tuple[Basis, Sequence[Finished], str], ...]:
    """The finished batches used as evidence, the nearest first: what they have in common, the batches, and its name."""
    line, species = line_of(batch, lineage), species_named(batch.species, evidence.names)
    return (
        ("line", evidence.by_line.get(line or "", ()), f"line {line}"),
        ("species", evidence.by_species.get(species or "", ()), f"{species} in this journal"),
    )


def _look_ahead(batch: Batch, progress: Progress, evidence: Evidence, lineage: Lineage) -> Expected | str:
    """What comes next, or why nothing is expected, as a sentence."""
    ways = waits(progress)
    if not ways:
        if progress.stage in NOT_AWAITED:
            return f"Nothing is expected of it while it is {progress.stage}."
        if progress.shared_from:
            return "Nothing is expected: what came before is not shared."
        return "Nothing is expected: no day is known from which to count."
    first = ways[0]
    found = _from_others(batch, ways, evidence, lineage, _wanted_c(batch, progress, evidence, first.what))
    if not isinstance(found, str) and (own := _from_own_flushes(progress, ways)):
        return own
    if not found and first.what in ("colonised", "pins"):  # nobody noted these, but what comes of them
        found = _from_others(batch, _from_day0(progress, "harvest", "harvest_d"), evidence, lineage, None)
    return found or (
        "Nothing is expected: no finished batch of this line or species, and no range known for the species, tells how "
        f"long after {first.after} {_AWAITED[first.what]}."
    )


def _wanted_c(batch: Batch, progress: Progress, evidence: Evidence, awaited: What) -> ValueRange | None:
    """The temperatures wanted where a batch is; until it is colonised its own for that, since a tent's range, as the
    batch's other one, is for fruiting. None if none are known."""
    if awaited == "colonised":
        return batch.wants_temperature_while_colonising_c
    return batch.wants_temperature_c or evidence.temperatures_c.get((progress.tent or "").lower())


def _from_own_flushes(progress: Progress, ways: Sequence[Wait]) -> Expected | None:
    """From the days between the earlier flushes of this batch."""
    took = sorted(milestones(progress).between_flushes_d.values())
    way = next((way for way in ways if way.gap == "between_flushes_d"), None)
    return _from_days(way, "batch", took, "between this batch's flushes so far") if way and took else None


def _from_others(
    batch: Batch, ways: Sequence[Wait], evidence: Evidence, lineage: Lineage, wanted_c: ValueRange | None
) -> Expected | str | None:
    """From other batches, or from the tables; a sentence if they say that nothing more comes."""
    flush = next((way.flush for way in ways[:1] if way.what == "next flush"), None)
    for basis, pool, of in pools_of(batch, evidence, lineage):
        if found := _from_batches(basis, pool, of, ways):
            return found
        most = max((max(one.took.flushes, default=0) for one in pool if one.is_spent), default=None)
        if flush is not None and flush == most:
            return f"No flush is expected after flush {flush}: no finished batch of {of} gave more."
    return _from_tables(species_named(batch.species, evidence.names) or "", ways, flush, wanted_c)


def _from_tables(
    species: str, ways: Sequence[Wait], flush: int | None, wanted_c: ValueRange | None
) -> Expected | str | None:
    """flush: the last one, if another flush is awaited. wanted_c: the temperature range wanted now."""
    tables: tuple[tuple[Basis, Mapping[str, Usual]], ...] = (("published", PUBLISHED), ("practice", PRACTICE))
    for basis, usual in ((basis, table[species]) for basis, table in tables if species in table):
        source = f"published: {usual.source}" if basis == "published" else usual.source
        if flush and usual.flushes_most and flush >= usual.flushes_most:
            most = usual.flushes_most
            return f"No flush is expected after flush {flush}: this species usually gives {most}, {source}."
        for way in (way for way in ways if way.gap != "harvest_d"):  # no table counts a harvest from inoculation
            if days := getattr(usual, way.gap):
                first, last = (way.since + timedelta(days=count) for count in (days.low, days.high))
                at = _at(way.what, usual.conditions(way.what), wanted_c)
                words = f"{_span_words(days)} after {way.after}, {source}{at}"
                return Expected(way.what, first, last, basis, words)
    return None


def _at(what: What, conditions: ValueRange | None, wanted_c: ValueRange | None) -> str:
    """The temperatures for which a source gives its days, and whether the range that is wanted now is outside."""
    if conditions is None:
        return ""
    words = f", at {conditions.low:g} to {conditions.high:g} °C"
    if wanted_c is None or (wanted_c.low <= conditions.high and conditions.low <= wanted_c.high):
        return words
    where = "while it colonises" if what == "colonised" else "where it is"
    return f"{words}; {wanted_c.low:g} to {wanted_c.high:g} °C are wanted {where}, which is outside"


def _from_batches(basis: Basis, pool: Sequence[Finished], of: str, ways: Iterable[Wait]) -> Expected | None:
    for way in ways:
        took = sorted(days for one in pool if (days := _days_taken(one.took, way.gap, way.flush)) is not None)
        if took:
            batches = counted(len(took), "finished batch", "finished batches")
            return _from_days(way, basis, took, f"in {batches} of {of}")
    return None


def _from_days(way: Wait, basis: Basis, took: Sequence[int], where: str) -> Expected:
    """took: the days that it took each time, fewest first, at least one. where: in words, `in 3 finished batches`."""
    n, middle, first = len(took), median(took), way.since + timedelta(days=took[0])
    if n == 1:
        words = f"once: {counted(took[0], 'day')} after {way.after}, {where}"
        return Expected(way.what, first, None, basis, words, n, middle)
    chance = f"one more is in such a range with a probability of {number(next_within_range(n) * 100, 0)} %"
    words = f"{_span_words(Days(took[0], took[-1]))} after {way.after} (median {middle:g}) {where}; {chance}"
    return Expected(way.what, first, way.since + timedelta(days=took[-1]), basis, words, n, middle)


def _span_words(days: Days) -> str:
    return counted(days.low, "day") if days.low == days.high else f"{days.low} to {days.high} days"


@dataclass(frozen=True, slots=True)
class OtherBatches:
    """How long the same took in other finished batches: (batch, days), fewest first. of: what they have in common with
    it."""

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
    """One of a batch's spans. days: None if it is not known, or has not come yet."""

    what: str
    days: int | None
    others: OtherBatches | None
    to_first_pins: bool = False


_TO_FIRST_PINS = frozenset({"pinning_d", "pinning_after_move_d"})


def days_taken(batch: Batch, progress: Progress, evidence: Evidence, lineage: Lineage) -> tuple[DaysTaken, ...]:
    """Every span that is known of this batch, or of other finished batches of its line or species, in order."""
    own = milestones(progress)
    pools = [([one for one in pool if one.batch != batch.id], of) for _, pool, of in pools_of(batch, evidence, lineage)]
    known = {number for pool, _ in pools for one in pool for number in one.took.between_flushes_d}
    spans: list[tuple[str, Gap, int | None]] = [
        ("inoculated to colonised", "colonised_d", None),
        ("inoculated to first pins", "pinning_d", None),
        ("moved into the tent to first pins", "pinning_after_move_d", None),
        ("first pins to first harvest", "harvest_after_pins_d", None),
        ("inoculated to first harvest", "harvest_d", None),
    ]
    for flush in sorted(known | set(own.between_flushes_d)):
        spans.append((f"end of flush {flush} to flush {flush + 1}", "between_flushes_d", flush))
    rows = (
        DaysTaken(name, _days_taken(own, gap, at), _others(pools, gap, at), gap in _TO_FIRST_PINS)
        for name, gap, at in spans
    )
    return tuple(row for row in rows if row.days is not None or row.others is not None)


def _others(pools: Iterable[tuple[list[Finished], str]], gap: Gap, flush: int | None) -> OtherBatches | None:
    """From the first group that has any: the line's own before the species'."""
    for pool, of in pools:
        found = [(days, one.batch) for one in pool if (days := _days_taken(one.took, gap, flush)) is not None]
        if found:
            return OtherBatches(tuple((batch, days) for days, batch in sorted(found)), of)
    return None
