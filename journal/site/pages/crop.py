"""What a batch yielded, as its page shows it: BE, flush by flush, unit by unit, and the figures beside them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from journal.analysis.calculation import Calculation
from journal.analysis.comparison_words import be_in_words, be_words, flushes_words
from journal.analysis.milestones import milestones
from journal.analysis.progress import Progress
from journal.analysis.substrate import DryFrom, dry_substrate, other_ways
from journal.analysis.yields import BatchYield, PartYield, lagging_units
from journal.model import Batch, Note, When
from journal.quantities import counted
from journal.site import wording
from journal.site.figures import Figure, amount, figure
from journal.site.pages.grown_from import WEIGHED_SOURCE
from journal.site.pages.lookup import Lookup
from journal.site.plan import Row

_UNIT = re.compile(r"\b(block|bag|jar|log|bed|bucket|tray|tub|bottle)(s?)\b", re.IGNORECASE)


def unit_word(batch: Batch) -> str:
    """What its author calls one unit: by the title, else by the container; `unit` if neither names exactly one kind. A
    single log in the title of several units is not one of them (the fungus may have been found on it)."""
    in_title = {kind.lower() for kind, plural in _UNIT.findall(batch.title) if plural or batch.units == 1}
    in_container = {kind.lower() for kind, _ in _UNIT.findall(batch.container or "")}
    return next((kinds.pop() for kinds in (in_title, in_container) if len(kinds) == 1), "unit")


def crop_in_words(lookup: Lookup, batch: Batch) -> str:
    """What a batch yielded, as one phrase for a list, with "so far" until it is finished. Mentions doubtful
    harvests."""
    return "; ".join(filter(None, (_given_in_words(lookup, batch), lookup.doubtful_harvests([batch.id]))))


def _given_in_words(lookup: Lookup, batch: Batch) -> str:
    crop, run = lookup.analysis.yields[batch.id], lookup.analysis.progress[batch.id]
    units = f"{unit_word(batch)}s"
    if words := be_in_words(crop, units):
        return words
    if batch.totals_are_partial:
        harvested = f"{wording.mass(crop.harvest_g, lookup.units)} harvested" if crop.harvest_g else "nothing harvested"
        return f"{wording.how_many(crop.inoculated, unit_word(batch))} inoculated, {harvested} as far as shared"
    lost = f", {crop.lost} lost" if crop.lost else ""
    inoculated = f"{wording.how_many(crop.inoculated, unit_word(batch))} inoculated{lost}"
    if crop.harvest_g:
        ending = flushes_words(crop)
        return f"{inoculated}, {wording.mass(crop.harvest_g, lookup.units)} harvested{f', {ending}' if ending else ''}"
    return f"{inoculated}, nothing harvested{'' if run.is_over else ' yet'}"


def flush_table(lookup: Lookup, batch: Batch) -> dict[str, Any] | None:
    """Every flush; harvests without a flush; and the total. None if nothing was harvested."""
    crop = lookup.analysis.yields[batch.id]
    if not crop.harvest_g:
        return None
    gaps = milestones(lookup.analysis.progress[batch.id]).between_flushes_d

    def row(name: str, mass_g: float, be: Calculation | None, days: str = "", gap: str = "") -> Row:
        return Row(name=name, days=days, gap=gap, harvested=amount(mass_g, "g", lookup.units), be=_be_cell(be))

    rows = []
    for flush in crop.flushes:
        gap = f"{gaps[flush.number - 1]} d" if flush.number - 1 in gaps else ""
        rows.append(row(str(flush.number), flush.harvest_g, flush.be, _from_to(flush.first, flush.last), gap))
    if crop.unnumbered_g:
        rows.append(row("none named", crop.unnumbered_g, None))
    return {
        "rows": tuple(rows),
        "total": row("all" if crop.final else "all, so far", crop.harvest_g, crop.be),
        "has_gaps": any(row.gap for row in rows),
        "has_be": crop.be is not None,
        "calculation": _calculated(lookup, [(f"flush {flush.number}", flush.be) for flush in crop.flushes]),
    }


def _from_to(first: When, last: When) -> str:
    """The days of a flush, without times."""
    if first.counts_days and last.counts_days:
        return wording.days_in_words(first.first, last.first)
    one, other = wording.date_in_words(first), wording.date_in_words(last)
    return one if one == other else f"{one} to {other}"


MOST_UNITS = 24
"""Of more units than this, those that no harvest or loss names have no row of their own."""


def part_table(lookup: Lookup, batch: Batch) -> dict[str, Any] | None:
    """Unit by unit: what each gave in each flush, which were lost and which lag behind; None if no harvest names a
    unit by its number. cells: one a flush, in the order of `flushes`."""
    crop = lookup.analysis.yields[batch.id]
    if not any(part.harvest_g for part in crop.parts):
        return None
    of_all = _of_all(crop)
    flushes = tuple(sorted({number for part in (*crop.parts, of_all) for number, _ in part.flushes}))
    lost = _lost_units(lookup, batch)
    behind, units = (0, frozenset[int]()) if batch.totals_are_partial else lagging_units(crop)

    def row(parts: tuple[int, ...], part: PartYield | None) -> Row:
        by_flush = dict(part.flushes) if part else {}
        is_behind = any(unit in units for unit in parts)
        return Row(
            name=_numbers(parts) if parts else f"no {unit_word(batch)} named",
            state=lost.get(parts) or (f"lagging: no flush {behind}{'' if crop.final else ' yet'}" if is_behind else ""),
            is_lost=parts in lost,
            cells=tuple(amount(by_flush[n], "g", lookup.units) if n in by_flush else "" for n in flushes),
            harvested=amount(part.harvest_g, "g", lookup.units) if part and part.harvest_g else "",
            be=_be_cell(part.be if part else None),
        )

    rows = {part.parts: row(part.parts, part) for part in crop.parts}
    if batch.units is not None and batch.units <= MOST_UNITS and not batch.totals_are_partial:
        named = {unit for parts in rows for unit in parts}
        rows |= {(unit,): row((unit,), None) for unit in range(1, batch.units + 1) if unit not in named}
    calculation = _calculated(lookup, [(_numbers(part.parts), part.be) for part in crop.parts])
    listed = [rows[parts] for parts in sorted(rows)] + ([row((), of_all)] if of_all.harvest_g else [])
    lacks = crop.be is not None and any(part.harvest_g and not part.be for part in crop.parts)
    return {
        "heading": f"{unit_word(batch).capitalize()} by {unit_word(batch)}",
        "flushes": flushes,
        "rows": tuple(listed),
        "lacks": _NO_BE.format(unit=unit_word(batch)) if lacks else "",
        "has_be": any(one.be for one in rows.values()),
        "calculation": calculation,
    }


_NO_BE = "There is no BE for a {unit} of which part of the harvest may have been weighed together with others."


def _of_all(crop: BatchYield) -> PartYield:
    """What was harvested with no unit named, as of no part; a flush's grams are what its units leave of it."""
    by_unit_g: dict[int, float] = {}
    for number, mass_g in (pair for part in crop.parts for pair in part.flushes):
        by_unit_g[number] = by_unit_g.get(number, 0.0) + mass_g
    left = ((flush.number, flush.harvest_g - by_unit_g.get(flush.number, 0.0)) for flush in crop.flushes)
    flushes = tuple((number, mass_g) for number, mass_g in left if mass_g > 0.5)
    left_g = crop.harvest_g - sum(part.harvest_g for part in crop.parts)
    return PartYield((), left_g if left_g > 0.5 else 0.0, flushes, 0, None)


def _lost_units(lookup: Lookup, batch: Batch) -> dict[tuple[int, ...], str]:
    """What was lost by its number: `lost 17 Oct 2026, green mould`."""
    by_parts: dict[tuple[int, ...], str] = {}
    for note in lookup.analysis.progress[batch.id].losses:
        parts = {ref.part for ref in note.about if ref.id == batch.id}
        if parts and None not in parts:
            count = f"{note.lost} " if len(parts) > 1 and note.lost != len(parts) else ""
            words = f"{count}lost {wording.when_in_few_words(note.date)}"
            by_parts[tuple(sorted(part for part in parts if part))] = ", ".join(
                filter(None, (words, note.cause and wording.cause(note.cause)))
            )
    return by_parts


def _numbers(parts: tuple[int, ...]) -> str:
    return f"no. {wording.joined([str(part) for part in parts])}" + (" together" if len(parts) > 1 else "")


def _be_cell(be: Calculation | None) -> str:
    return amount(be.value, be.unit) if be else ""


def _calculated(lookup: Lookup, named: list[tuple[str, Calculation | None]]) -> Figure | None:
    """The formula that these BEs share, and each with its numbers put in."""
    found = [(name, be) for name, be in named if be is not None]
    if not found:
        return None
    formula, source = found[0][1].formula, found[0][1].source
    inputs = []
    for name, be in found:
        fresh, units, dry = (value for _, value in figure(be, "", lookup.units).inputs)
        inputs.append((name, f"{fresh} / ({units} × {dry}) × 100 = {amount(be.value, be.unit)}"))
    return Figure(number="each BE", words="", inputs=tuple(inputs), formula=formula, source=source)


SOURCE = "as the author wrote it; only units written as lost count as lost"


def made_and_lost(run: Progress, words: str, alongside: str | None) -> Figure:
    """How many there were; no calculation if that cannot be read. words: what they are and what was done (`blocks
    inoculated`)."""
    if run.inoculated is None:
        return Figure(number="unknown", words=f"number of {words}", note=alongside)
    made = str(run.inoculated)
    more = []
    for note in run.losses:
        name = ", ".join(filter(None, (f"lost {wording.date_in_words(note.date)}", parts_in_words(note, run.of.id))))
        more.append((name, f"{note.lost}, {wording.cause(note.cause)}" if note.cause else str(note.lost)))
    if more:
        more.append((f"remaining = {words} − lost", str(run.living)))
    return Figure(
        number=made,
        words=words,
        note=alongside,
        inputs=((words, made),),
        formula=f"{words} = as written, or 1 if nothing is written",
        source=SOURCE,
        more=tuple(more),
    )


def parts_in_words(note: Note, id: str) -> str | None:
    """`no. 1 and 2`; None if a note is about the whole."""
    parts = [ref.part for ref in note.about if ref.id == id]
    if not parts or None in parts:
        return None
    return f"no. {wording.joined([str(part) for part in dict.fromkeys(parts)])}"


_WAYS: dict[DryFrom, str] = {
    "dry mass": "the dry mass as written",
    "moisture": "from wet mass and moisture",
    "mix": "from the mix",
}


def crop_of(lookup: Lookup, batch: Batch) -> dict[str, Any]:
    """What a page shows of a crop. instead: words if there is no BE."""
    crop = lookup.analysis.yields[batch.id]
    be = be_words(crop, f"{unit_word(batch)}s")
    in_words = crop_in_words(lookup, batch)
    # Only the author can correct a flush without a harvest; a reader of a share would think that one was kept back.
    elsewhere = (crop.be_with_spawn_lacks, crop.flushes_lack if lookup.share is not None else None)
    return {
        "be": be,
        "be_figure": _be(lookup, batch, crop) if be else None,
        "doubtful": lookup.doubtful_harvests([batch.id]) if be else None,
        "instead": None if be else f"{wording.capitalised(in_words)}.",
        "figures": tuple(_figures(lookup, batch, crop)),
        "flushes": flush_table(lookup, batch),
        "parts": part_table(lookup, batch),
        "missing": tuple(
            wording.for_reader(sentence, lookup.share is not None)
            for sentence in crop.missing
            if sentence not in elsewhere
        ),
        "is_harvested": crop.harvest_g > 0,
    }


FOUR = 4
"""How many figures are beside the timeline."""


def four_and_more(crop: Mapping[str, Any], climate: Sequence[Figure]) -> tuple[tuple[Figure, ...], tuple[Figure, ...]]:
    """The figures that are beside a batch's timeline, its BE not among them, and the rest: what was harvested, how
    many units there were, the share of time in range, and then what else is known. climate: of the timeline, that
    share first."""
    first, *others = crop["figures"]
    harvested = [others.pop(0)] if crop["is_harvested"] else []
    all_of_them = (*harvested, first, *climate[:1], *others, *climate[1:])
    at = FOUR - 1 if crop["be"] else FOUR
    return all_of_them[:at], all_of_them[at:]


def _be(lookup: Lookup, batch: Batch, crop: BatchYield) -> Figure | None:
    """BE on units inoculated, in whole per cent as in the text; the other ways to count it are in its calculation."""
    if crop.be is None or crop.inoculated is None:
        return None
    units = counted(crop.inoculated, unit_word(batch))
    shown = figure(crop.be, f"of the {units.partition(' ')[2]} inoculated", lookup.units)
    more = [(f"BE on the {units} inoculated", shown.number)]
    if crop.be_survived is not None and crop.survived is not None and crop.survived < crop.inoculated:
        more.append((f"BE on the {crop.survived} not lost before harvest", amount(crop.be_survived.value, "%")))
    more += _with_spawn(lookup, crop)
    return replace(shown, number=wording.percent(crop.be.value, 0), more=tuple(more))


def _with_spawn(lookup: Lookup, crop: BatchYield) -> Iterator[tuple[str, str]]:
    """BE with the dry mass of the spawn included, and its calculation; or what is missing for it."""
    found = crop.be_with_spawn
    if found is None and crop.be_with_spawn_lacks:
        yield "with spawn counted", wording.for_reader(crop.be_with_spawn_lacks, lookup.share is not None)
    if found is None:
        return
    number, *calculated = _also("BE with spawn counted", found)
    yield number
    yield from (pair for pair in figure(found, "", lookup.units).inputs if "spawn" in pair[0])
    yield from calculated


def _also(name: str, found: Calculation) -> tuple[tuple[str, str], ...]:
    """A further number shown in the calculation of another, with its own calculation."""
    return ((name, amount(found.value, found.unit)), ("calculated as", found.formula), ("by", found.source))


def _figures(lookup: Lookup, batch: Batch, crop: BatchYield) -> Iterator[Figure]:
    """In order: what was inoculated and harvested, by unit and by day, then what it was made of."""
    lost = wording.lost(crop.lost, lookup.analysis.progress[batch.id].causes) if crop.lost else None
    made = unit_word(batch) if crop.inoculated == 1 else f"{unit_word(batch)}s"
    yield made_and_lost(lookup.analysis.progress[batch.id], f"{made} inoculated", lost)
    if crop.harvest_g or crop.final:
        yield from _harvested(lookup, batch, crop)
    measured = lookup.settings.ingredients
    found = dry_substrate(batch, measured)
    if found is not None and batch.dry_from is not None:
        others = other_ways(batch, measured)
        more = tuple((f"{_WAYS[way]}, not used", amount(one.value, one.unit, lookup.units)) for way, one in others)
        words = f"dry substrate a {unit_word(batch)}, {_WAYS[batch.dry_from]}"
        yield figure(found, words, lookup.units, more=more)
    wet, dry = crop.spawn_rate_wet, crop.spawn_rate_dry
    if wet is not None:
        note = f"{amount(dry.value, '%')} on the dry basis" if dry else None
        substrate = [pair for pair in figure(dry, "", lookup.units).inputs if "dry substrate" in pair[0]] if dry else []
        more = (*substrate, *_also("on the dry basis", dry)) if dry else ()
        yield figure(wet, "spawn rate, wet basis", lookup.units, note=note, more=more)
    elif dry is not None:
        yield figure(dry, "spawn rate, dry basis", lookup.units)


def _harvested(lookup: Lookup, batch: Batch, crop: BatchYield) -> Iterator[Figure]:
    units, so_far = lookup.units, "" if crop.final else ", so far"
    run, inputs = lookup.analysis.progress[batch.id], []
    for note in run.harvests:
        flush = f"flush {note.flush}" if note.flush is not None else "no flush named"
        name = ", ".join(filter(None, (wording.date_in_words(note.date), flush, parts_in_words(note, batch.id))))
        inputs.append((name, amount(note.harvest_g or 0.0, "g", units)))
    yield Figure(
        number=amount(run.harvest_g, "g", units),
        words=f"harvested, trimmed and unwashed{so_far}",
        inputs=tuple(inputs),
        formula="sum of all harvests; a harvest of several units counts once",
        source=WEIGHED_SOURCE,
    )
    if crop.per_unit and crop.inoculated != 1:
        yield figure(crop.per_unit, f"fresh for each {unit_word(batch)} inoculated{so_far}", units)
    if crop.per_day:
        more = _also("production rate", crop.be_per_day) if crop.be_per_day else ()
        yield figure(crop.per_day, f"fresh since inoculation{so_far}", units, more=more)
    if crop.dried:
        yield figure(crop.dried, f"of the fresh mass is left after drying{so_far}", units)
