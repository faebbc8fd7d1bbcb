"""What a batch gave, as its page shows it: BE, flush by flush, unit by unit, and the figures beside them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from journal.model import Batch, Note
from journal.reckoning.be_words import BeWords, be_words
from journal.reckoning.dry_substrate import dry_substrate, other_ways
from journal.reckoning.mixes import DryFrom
from journal.reckoning.reckoned import Reckoning
from journal.reckoning.yields import BatchYield
from journal.site import wording
from journal.site.figures import Figure, amount, figure
from journal.site.pages.common import Lookup
from journal.site.pages.crop_tables import FlushTable, PartTable, flush_table, part_table
from journal.site.pages.crop_words import crop_in_words, unit_word
from journal.site.pages.grown import WEIGHED_SOURCE
from journal.site.pages.made_and_lost import made_and_lost, parts_in_words

_WAYS: dict[DryFrom, str] = {"dry mass": "weighed dry", "moisture": "from wet mass and moisture", "mix": "from the mix"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """be: None where nothing is picked yet, or no dry mass is known; then `instead` says how things stand.

    missing: what figures lack, a sentence each. unfinished: what would make the figures of a batch that is over final.
    """

    be: BeWords | None
    be_figure: Figure | None
    instead: str | None
    figures: tuple[Figure, ...]
    flushes: FlushTable | None
    parts: PartTable | None
    missing: tuple[str, ...]
    unfinished: str | None
    is_picked: bool


def crop_of(lookup: Lookup, batch: Batch) -> Crop:
    """Everything that a batch's page tells of its crop."""
    crop = lookup.crops[batch.id]
    be = be_words(crop, f"{unit_word(batch)}s")
    is_over = lookup.runs[batch.id].is_over
    return Crop(
        be=be,
        be_figure=_be(lookup, batch, crop) if be else None,
        instead=None if be else _sentence(crop_in_words(lookup, batch)),
        figures=tuple(_figures(lookup, batch, crop)),
        flushes=flush_table(lookup, batch),
        parts=part_table(lookup, batch),
        missing=tuple(_missing(lookup, crop)),
        unfinished="Its figures stay so far until a note calls it spent or discarded."
        if is_over and not crop.final
        else None,
        is_picked=crop.harvest_g > 0,
    )


def _missing(lookup: Lookup, crop: BatchYield) -> Iterator[str]:
    """What figures lack. That a flush has no harvest is for its keeper to mend; to a reader of a share it would seem
    that one is kept back."""
    elsewhere = (crop.be_with_spawn_lacks, crop.flushes_lack if lookup.share is not None else None)
    yield from (wording.keys_quoted(says) for says in crop.missing if says not in elsewhere)


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."


def _be(lookup: Lookup, batch: Batch, crop: BatchYield) -> Figure | None:
    """BE on units begun, whole per cent as in its words; the other ways to count it stand in its reckoning."""
    if crop.be is None:
        return None
    units = f"{unit_word(batch)}s"
    shown = figure(crop.be, f"of the {units} begun", lookup.units)
    more = [(f"BE on the {crop.begun} {units} begun", shown.number)]
    if crop.be_lived is not None and crop.lost:
        more.append((f"BE on the {crop.lived} that lived", amount(crop.be_lived.value, "%")))
    more += _with_spawn(lookup, crop)
    return replace(shown, number=f"{crop.be.value:.0f} %", more=tuple(more))


def _with_spawn(lookup: Lookup, crop: BatchYield) -> Iterator[tuple[str, str]]:
    """BE with the spawn's dry substance counted in, and how; or what is missing for it."""
    found = crop.be_with_spawn
    if found is None:
        if crop.be_with_spawn_lacks:
            yield "with spawn counted", wording.keys_quoted(crop.be_with_spawn_lacks)
        return
    yield "BE with spawn counted", amount(found.value, found.unit)
    inputs = figure(found, "", lookup.units).inputs
    yield from (pair for pair in inputs if "spawn" in pair[0])
    yield "reckoned as", found.formula
    yield "by", found.source


def _figures(lookup: Lookup, batch: Batch, crop: BatchYield) -> Iterator[Figure]:
    """In order: what was begun and picked, by unit and by day, then what it was made of."""
    yield _begun(lookup, batch, crop)
    if crop.harvest_g or crop.final:
        yield from _picked(lookup, batch, crop)
    yield from _dry_substrate(lookup, batch)
    yield from _spawn_rate(lookup, crop)


def _begun(lookup: Lookup, batch: Batch, crop: BatchYield) -> Figure:
    causes = wording.joined(list(lookup.runs[batch.id].causes))
    lost = f"{crop.lost} lost{f' to {causes}' if causes else ''}" if crop.lost else None
    return made_and_lost(lookup.runs[batch.id], f"{_plural(crop.begun, unit_word(batch))} begun", lost)


def _plural(number: int, unit: str) -> str:
    return unit if number == 1 else f"{unit}s"


def _picked(lookup: Lookup, batch: Batch, crop: BatchYield) -> Iterator[Figure]:
    units, so_far = lookup.units, "" if crop.final else ", so far"
    yield _sum_picked(lookup, batch, f"picked, trimmed and unwashed{so_far}")
    if crop.per_unit and crop.begun > 1:
        yield figure(crop.per_unit, f"fresh for each {unit_word(batch)} begun{so_far}", units)
    if crop.per_day:
        more = _production_rate(crop.be_per_day) if crop.be_per_day else ()
        yield figure(crop.per_day, f"fresh since inoculation{so_far}", units, more=more)
    if crop.dried:
        yield figure(crop.dried, f"of the fresh mass is left in drying{so_far}", units)


def _sum_picked(lookup: Lookup, batch: Batch, words: str) -> Figure:
    run, units = lookup.runs[batch.id], lookup.units
    return Figure(
        number=amount(run.harvest_g, "g", units),
        words=words,
        inputs=tuple((_harvest(note, batch), amount(note.harvest_g or 0.0, "g", units)) for note in run.harvests),
        formula="the sum of every harvest, one of several units counted once",
        source=WEIGHED_SOURCE,
    )


def _harvest(note: Note, batch: Batch) -> str:
    """`1 February 2026, flush 1, no. 1 and 2`."""
    flush = f"flush {note.flush}" if note.flush is not None else "no flush named"
    return ", ".join(filter(None, (wording.date_in_words(note.date), flush, parts_in_words(note, batch.id))))


def _production_rate(rate: Reckoning) -> tuple[tuple[str, str], ...]:
    return (("production rate", amount(rate.value, rate.unit)), ("reckoned as", rate.formula), ("by", rate.source))


def _dry_substrate(lookup: Lookup, batch: Batch) -> Iterator[Figure]:
    measured = lookup.settings.ingredients
    found = dry_substrate(batch, measured)
    if found is not None and batch.dry_from is not None:
        others = other_ways(batch, measured)
        more = tuple((f"{_WAYS[way]}, not used", amount(one.value, one.unit, lookup.units)) for way, one in others)
        words = f"dry substrate a {unit_word(batch)}, {_WAYS[batch.dry_from]}"
        yield figure(found, words, lookup.units, more=more)


def _spawn_rate(lookup: Lookup, crop: BatchYield) -> Iterator[Figure]:
    """The wet basis leads, the dry stands beneath it; alone where the wet mass is not known."""
    wet, dry = crop.spawn_rate_wet, crop.spawn_rate_dry
    if wet is not None:
        beside = f"{amount(dry.value, '%')} on the dry basis" if dry else None
        yield figure(wet, "spawn rate, wet basis", lookup.units, beside=beside, more=_dry_basis(lookup, dry))
    elif dry is not None:
        yield figure(dry, "spawn rate, dry basis", lookup.units)


def _dry_basis(lookup: Lookup, dry: Reckoning | None) -> tuple[tuple[str, str], ...]:
    if dry is None:
        return ()
    shown = figure(dry, "", lookup.units)
    substrate = (pair for pair in shown.inputs if "dry substrate" in pair[0])
    return (*substrate, ("on the dry basis", shown.number), ("reckoned as", dry.formula), ("by", dry.source))
