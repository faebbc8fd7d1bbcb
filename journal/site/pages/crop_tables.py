"""A batch's crop in rows: flush by flush, and unit by unit where parts were named."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from journal.model import Batch, When
from journal.reckoning.milestones import milestones
from journal.reckoning.reckoned import Reckoning
from journal.reckoning.yields import Flush, PartYield
from journal.site import wording
from journal.site.figures import Figure, amount, figure
from journal.site.pages.common import Lookup
from journal.site.pages.crop_words import unit_word


@dataclass(frozen=True, slots=True)
class FlushRow:
    """gap: days since the flush before began, "" where they are not known. be: "" without a dry mass."""

    name: str
    days: str
    gap: str
    picked: str
    be: str


@dataclass(frozen=True, slots=True)
class FlushTable:
    """reckoning: how a flush's BE comes about, every flush by name; None where no flush has one."""

    rows: tuple[FlushRow, ...]
    total: FlushRow
    has_gaps: bool
    has_be: bool
    reckoning: Figure | None


@dataclass(frozen=True, slots=True)
class PartRow:
    name: str
    flushes: str
    picked: str
    lost: str
    be: str


@dataclass(frozen=True, slots=True)
class PartTable:
    heading: str
    rows: tuple[PartRow, ...]
    reckoning: Figure | None


def flush_table(lookup: Lookup, batch: Batch) -> FlushTable | None:
    """Every flush; what was picked in none; and all together. None where nothing was picked."""
    crop = lookup.crops[batch.id]
    if not crop.harvest_g:
        return None
    gaps = milestones(lookup.runs[batch.id]).between_flushes_d
    rows = [_flush(lookup, flush, gaps) for flush in crop.flushes]
    if crop.unnumbered_g:
        rows.append(FlushRow("none named", "", "", amount(crop.unnumbered_g, "g", lookup.units), ""))
    so_far = "" if crop.final else ", so far"
    return FlushTable(
        rows=tuple(rows),
        total=FlushRow(f"all{so_far}", "", "", amount(crop.harvest_g, "g", lookup.units), _be(crop.be)),
        has_gaps=any(row.gap for row in rows),
        has_be=crop.be is not None,
        reckoning=_reckoned(lookup, [(f"flush {flush.number}", flush.be) for flush in crop.flushes]),
    )


def _flush(lookup: Lookup, flush: Flush, gaps: Mapping[int, int]) -> FlushRow:
    gap = gaps.get(flush.number - 1)
    return FlushRow(
        name=str(flush.number),
        days=_from_to(flush.first, flush.last),
        gap="" if gap is None else f"{gap} d",
        picked=amount(flush.harvest_g, "g", lookup.units),
        be=_be(flush.be),
    )


def _from_to(first: When, last: When) -> str:
    """The days of a flush, without the hour."""
    if first.counts_days and last.counts_days:
        return wording.days_in_words(first.first, last.first)
    one, other = wording.date_in_words(first), wording.date_in_words(last)
    return one if one == other else f"{one} to {other}"


def part_table(lookup: Lookup, batch: Batch) -> PartTable | None:
    """What notes told of units by their numbers; None where nothing was picked of any by its number."""
    crop = lookup.crops[batch.id]
    if not any(part.harvest_g for part in crop.parts):
        return None
    rows = tuple(_part(lookup, part) for part in crop.parts)
    reckoning = _reckoned(lookup, [(_numbers(part.parts), part.be) for part in crop.parts])
    return PartTable(f"{unit_word(batch).capitalize()}s by number", rows, reckoning)


def _part(lookup: Lookup, part: PartYield) -> PartRow:
    return PartRow(
        name=_numbers(part.parts),
        flushes=", ".join(f"flush {number}: {amount(mass, 'g', lookup.units)}" for number, mass in part.flushes),
        picked=amount(part.harvest_g, "g", lookup.units) if part.harvest_g else "",
        lost=str(part.lost) if part.lost else "",
        be=_be(part.be),
    )


def _numbers(parts: tuple[int, ...]) -> str:
    return f"no. {wording.joined([str(part) for part in parts])}" + (" together" if len(parts) > 1 else "")


def _be(be: Reckoning | None) -> str:
    return amount(be.value, be.unit) if be else ""


def _reckoned(lookup: Lookup, named: list[tuple[str, Reckoning | None]]) -> Figure | None:
    """The one formula of all these BEs, and each with its numbers put in."""
    found = [(name, be) for name, be in named if be is not None]
    if not found:
        return None
    formula, source = found[0][1].formula, found[0][1].source
    inputs = tuple((name, _put_in(lookup, be)) for name, be in found)
    return Figure(number="each BE", words="", inputs=inputs, formula=formula, source=source)


def _put_in(lookup: Lookup, be: Reckoning) -> str:
    """`1.29 kg / (4 × 874 g) × 100 = 36.9 %`."""
    fresh, units, dry = (value for _, value in figure(be, "", lookup.units).inputs)
    return f"{fresh} / ({units} × {dry}) × 100 = {amount(be.value, be.unit)}"
