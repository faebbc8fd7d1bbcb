"""The cultures: their list, and for each where it comes from, drawn and in words, and what was grown from it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any

from journal.analysis.descent import WHOLE, Node, descent_of
from journal.analysis.lineage import Descent, StepCount, way_of
from journal.analysis.progress import iso_day
from journal.model import Batch, Culture, Find
from journal.quantities import counted
from journal.site import addresses, wording
from journal.site.charts.descent_drawing import NodeContent, Tone, draw_descent
from journal.site.figures import Figure
from journal.site.pages.crop import made_and_lost, unit_word
from journal.site.pages.culture_table import list_pages, renewal_of
from journal.site.pages.entry_words import earlier_ids
from journal.site.pages.grown_from import grown_from
from journal.site.pages.growth_section import growth_section
from journal.site.pages.heat_section import heat_section
from journal.site.pages.lookup import Lookup, species_words
from journal.site.plan import Page, Planned, WhenRendered

LineWords = tuple[Tone, str]


def culture_descent(lookup: Lookup, id: str) -> dict[str, Any]:
    """The descent of one culture."""
    nodes = descent_of(id, lookup.analysis)
    contents = {node.id: _content(lookup, node) for node in nodes}
    finds, cultures, batches = ([node for node in nodes if node.kind == kind] for kind in ("find", "culture", "batch"))
    counts = [
        counted(len(finds), "wild find") if finds else "no wild find",
        counted(len(cultures), "culture"),
        counted(len(batches), "batch", "batches"),
    ]
    near = " Only what is nearest is drawn." if any(node.left_out or node.more for node in nodes) else ""
    holds = f"{wording.joined(counts)}, from the top down, each under what it was taken from."
    return {
        "title": f"Descent of {id}",
        "desc": f"{holds}{near} The list says the same.",
        "drawing": WhenRendered(draw_descent, nodes, contents),
        "steps": _nested(lookup, nodes),
        "has_bars": any(one.be_pct for one in contents.values()),
        "has_unsure": not all(node.is_sure for node in nodes),
    }


def _content(lookup: Lookup, node: Node) -> NodeContent:
    row = lookup.journal.by_id[node.id.lower()]
    crop = lookup.analysis.yields.get(node.id)
    face = lookup.face(row, newest=False) if isinstance(row, Find) else None
    return NodeContent(
        address=lookup.label(node.id).address,
        date=wording.when_in_few_words(node.when),
        lines=tuple(_lines(lookup, node)),
        picture=face.small if face else None,
        be_pct=crop.be.value if crop and crop.be else None,
        final=crop is not None and crop.final,
    )


def _lines(lookup: Lookup, node: Node) -> Iterator[LineWords]:
    row = lookup.journal.by_id[node.id.lower()]
    if node.place == "itself":
        yield "strong", f"this {node.kind}"
    match row:
        case Find():
            species = species_words(lookup.identified(row).species)
            if species:
                yield "latin" if species.latin else "plain", species.text
            yield "plain", ", ".join(filter(None, ("wild find", row.place)))
        case Culture():
            yield from _culture_lines(lookup, row, node)
        case Batch():
            lost = f"{node.lost} lost" if node.lost else None
            parts = (
                wording.how_many(row.units, unit_word(row)),
                lost,
                wording.stage_in_words(node.stage, node.stage_derived),
            )
            yield "plain", ", ".join(filter(None, parts))
            if several := _several_parents(node):
                yield "plain", several
            yield "strong", harvested_words(lookup, row)
            if row.id in lookup.analysis.doubtful_harvests:
                yield "warn", "includes a doubtful harvest"
    if node.left_out:
        yield "soft", f"{counted(node.left_out, 'more step')} between {node.stem} and this"
    if node.more:
        yield "soft", f"{node.more} more taken from this"
    doubts = [] if node.confirmed else ["identity not confirmed"]
    if node.doubt is not None:
        doubts.append("label in doubt" if node.doubt == node.id else f"in doubt, as {node.doubt} is")
    if doubts:
        yield "warn", ", ".join(doubts)


def _culture_lines(lookup: Lookup, culture: Culture, node: Node) -> Iterator[LineWords]:
    yield "plain", lookup.how_made(culture)
    if culture.received_from:
        yield "plain", f"from {culture.received_from}"
    if several := _several_parents(node):
        yield "plain", several
    if numbers := _numbers(node):
        yield "soft", numbers
    if node.stage:
        yield "plain", wording.stage_in_words(node.stage) or ""


def _several_parents(node: Node) -> str | None:
    """What it was taken from, where that is more than one thing and the line above tells only one."""
    names = list(dict.fromkeys(ref.id for ref in (*node.parents, *node.elsewhere)))
    return f"of {wording.joined_first(names)}" if len(names) > 1 else None


def _numbers(node: Node) -> str:
    """`T2 · G1 · 2 steps from the wild`."""
    numbers = node.numbers
    parts = [transfers] if (transfers := wording.transfers_in_words(numbers)) else []
    if numbers.spawn_generation is not None:
        parts.append(f"G{numbers.spawn_generation}")
    if numbers.steps_since_wild is not None:
        parts.append(f"{counted(numbers.steps_since_wild, 'step')} from the wild")
    return " · ".join(parts)


def harvested_words(lookup: Lookup, batch: Batch) -> str:
    """`1.86 kg harvested so far, BE 53 %`; what has given nothing says that, and no BE of nothing."""
    crop = lookup.analysis.yields[batch.id]
    so_far = "" if crop.final else " so far"
    if not crop.harvest_g:
        return "nothing harvested" if lookup.analysis.progress[batch.id].is_over else "nothing harvested yet"
    if batch.totals_are_partial:
        return f"{wording.mass(crop.harvest_g, lookup.units)} harvested as far as it is shared"
    lacking = "dry mass" if batch.units is not None else "readable number of units"
    be = f", BE {wording.number(crop.be.value, 0)} %" if crop.be else f", no {lacking}, so no BE"
    return f"{wording.mass(crop.harvest_g, lookup.units)} harvested{so_far}{be}"


def _nested(lookup: Lookup, nodes: Sequence[Node]) -> tuple[dict[str, Any], ...]:
    """The nodes as lists within lists: those of a way follow each other, branches hang under where they leave it."""
    branch_of = {node.id: node.branch for node in nodes}
    ways: dict[str, Node] = {}
    off: dict[str, list[Node]] = {}
    for node in nodes:
        if node.stem is not None and node.branch == branch_of[node.stem]:
            ways[node.stem] = node
        elif node.stem is not None:
            off.setdefault(node.stem, []).append(node)
    tops = [node for node in nodes if node.stem is None]
    return tuple(step for top in tops for step in _way(lookup, top, ways, off))


def _way(
    lookup: Lookup, first: Node, ways: Mapping[str, Node], off: Mapping[str, Sequence[Node]]
) -> tuple[dict[str, Any], ...]:
    steps = []
    node: Node | None = first
    while node is not None:
        branches = tuple(_way(lookup, branch, ways, off) for branch in off.get(node.id, ()))
        steps.append(
            {
                "label": lookup.label(node.id),
                "iso": node.when.iso,
                "when": wording.when_in_words(node.when),
                "words": tuple(_words_of(lookup, node)),
                "is_own": node.place == "itself",
                "is_sure": node.is_sure,
                "branches": branches,
            }
        )
        node = ways.get(node.id)
    return tuple(steps)


def _words_of(lookup: Lookup, node: Node) -> Iterator[str]:
    yield from (words for _, words in _lines(lookup, node))
    named = [str(ref) for ref in (*node.parents, *node.elsewhere)]
    if named:
        yield f"{'made with' if node.kind == 'batch' else 'taken from'} {wording.joined_first(named)}"
    elif node.has_no_origin and node.method != "received" and not node.received_from:
        yield "where it came from is not shared" if node.unshared_sources else "where it came from is not recorded"
    if causes := wording.causes(node.causes):
        yield f"lost: {causes}"


SOURCE = "common practice, as the format of this journal counts it"
TRANSFERS = (
    "a start is T0, or the number its giver stated; each transfer adds one, by the longest way; what was received with "
    "no number has an unknown one, and so has everything after it"
)
STEPS = (
    "the first culture from a find is 0, and each culture after it adds one; through a batch by way of the culture it "
    "was made with"
)
GENERATIONS = "grain from anything but grain is G1; grain or sawdust taken from grain is one more"


def culture_numbers(lookup: Lookup, culture: Culture) -> Iterator[Figure]:
    """Transfers, steps since the wild, spawn generation and vessels, as far as there are such numbers."""
    descent = lookup.analysis.lineage.descents[culture.id]
    before = f"{culture.transfers_before} of them before it was received" if culture.transfers_before else None
    if descent.transfers is None:
        before = "how many there were before it was received is not written"
    rows: tuple[tuple[StepCount, str, str, str | None, str], ...] = (
        ("transfers_at_least", "T", "transfers since this line began", before, TRANSFERS),
        ("steps_since_wild", "", "steps since the wild", "cultures, through batches too", STEPS),
        ("spawn_generation", "G", "spawn generation", None, GENERATIONS),
    )
    for number, letter, words, note, formula in rows:
        value = getattr(descent, number)
        if value is not None:
            inputs = tuple(_counted(lookup, culture, number, letter))
            shown = _number(descent, number, letter)
            yield Figure(number=shown, words=words, note=note, inputs=inputs, formula=formula, source=SOURCE)
    if culture.vessels is not None:
        run = lookup.analysis.progress[culture.id]
        lost = f"{run.lost} lost, {run.living} left" if run.lost else None
        yield made_and_lost(run, "containers made", lost)


def _counted(lookup: Lookup, culture: Culture, number: StepCount, letter: str) -> Iterator[tuple[str, str]]:
    """Every step by which a number came about, as counted there; of a very long way the last, and where to see more."""
    way = way_of(culture.id, number, lookup.analysis.lineage, lookup.analysis.yields, WHOLE)
    if len(way) == WHOLE:
        yield "before these", f"see the page of {way[0]}"
    for name in way:
        row = lookup.journal.by_id[name.lower()]
        if isinstance(row, Find):
            yield row.id, "the wild find"
        else:
            made = lookup.how_made(row) if isinstance(row, Culture) else "fruited as a batch"
            yield name, f"{_number(lookup.analysis.lineage.descents[name], number, letter)}, {made}"


def _number(descent: Descent, number: StepCount, letter: str) -> str:
    """`T1`, `at least T1` or `not known`; `2`; `G1`."""
    return (
        wording.transfers_in_words(descent) or "not known" if letter == "T" else f"{letter}{getattr(descent, number)}"
    )


def pages(lookup: Lookup) -> Iterator[Planned]:
    yield from lookup.together("cultures", (addresses.CULTURES,), partial(list_pages, lookup))
    for culture in lookup.journal.cultures:
        yield lookup.keep_page("culture", culture, addresses.page_of(culture), partial(_culture, lookup, culture))


def _culture(lookup: Lookup, culture: Culture) -> Page:
    own = lookup.pictures.beside(culture)
    line = lookup.analysis.lineage.descents[culture.id].line
    lines = [
        ("form", culture.form),
        ("medium", culture.medium),
        ("treatment", culture.treatment),
        ("master", "yes, kept as the original" if culture.master else None),
        ("made by", culture.by),
        earlier_ids(culture),
    ]
    context = {
        "title": f"{culture.id} {lookup.name_of(culture)}",
        "place": "Cultures",
        "name": species_words(culture.species),
        "made": lookup.how_made(culture),
        "when": wording.when_in_words(culture.date),
        "age_from": iso_day(culture.date) or "",
        "stage": wording.stage_in_words(lookup.analysis.progress[culture.id].stage),
        "kept": culture.kept,
        "came_from": {
            "labels": [(lookup.label(ref.id), ref.part) for ref in culture.sources],
            "received": culture.received_from,
            "unshared": culture.unshared_sources > 0,
        },
        "numbers": tuple(culture_numbers(lookup, culture)),
        "grown": grown_from(lookup, lookup.analysis.rollups.cultures[culture.id]),
        "descent": culture_descent(lookup, culture.id),
        "facts": [(what, words) for what, words in lines if words],
        "heat": heat_section(lookup, culture),
        "growth": growth_section(lookup, culture),
        "renewal": renewal_of(lookup, culture),
        "hero": own[0] if own else None,
        "pictures": own[1:],
        "doubt": lookup.doubt(culture),
        "line": lookup.label(line) if line and line != culture.id else None,
        "compare": addresses.in_comparison(line) if line and lookup.analysis.rollups.lines[line].finished else None,
    }
    return lookup.page_of(culture, context)


def above(lookup: Lookup, row: Culture | Batch) -> list[dict[str, Any]]:
    """What is above a culture or batch, the wild first: everything, or of a very long line what is nearest."""
    nearest = lookup.analysis.lineage.nearest(row.id, lookup.analysis.lineage.parents, WHOLE)
    tops = lookup.analysis.lineage.tops.get(row.id, ()) if len(nearest) == WHOLE else ()
    names = sorted({*nearest, *tops}, key=lookup.analysis.lineage.rank.__getitem__)
    steps = []
    for entry in (lookup.journal.by_id[name.lower()] for name in names):
        match entry:
            case Find():
                words = "wild find" + (f" at {entry.place}" if entry.place else "")
            case Culture():
                words = lookup.how_made(entry)
            case Batch():
                words = "fruited as a batch"
            case _:
                continue
        steps.append({"label": lookup.label(entry.id), "words": words, "when": wording.when_in_words(entry.date)})
    return steps
