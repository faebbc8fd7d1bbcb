"""A culture's descent as its page tells it: a drawing, and the same in words as a nested list."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from journal.analysis.descent import Node, descent_of
from journal.model import Batch, Culture, Find
from journal.quantities import counted
from journal.site import wording
from journal.site.charts.descent_drawing import NodeContent, Tone, draw_descent
from journal.site.pages.crop import unit_word
from journal.site.pages.lookup import Lookup, species_words

Line = tuple[Tone, str]


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
        "desc": f"{holds}{near} The list tells the same.",
        "drawing": draw_descent(nodes, contents),
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


def _lines(lookup: Lookup, node: Node) -> Iterator[Line]:
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
            yield from _batch_lines(lookup, row, node)
    if node.left_out:
        yield "soft", f"{counted(node.left_out, 'more step')} between {node.stem} and this"
    if node.more:
        yield "soft", f"{node.more} more taken from this"
    doubts = [] if node.confirmed else ["identity not confirmed"]
    if node.doubt is not None:
        doubts.append("label in doubt" if node.doubt == node.id else f"in doubt, as {node.doubt} is")
    if doubts:
        yield "warn", ", ".join(doubts)


def _culture_lines(lookup: Lookup, culture: Culture, node: Node) -> Iterator[Line]:
    yield "plain", lookup.how_made(culture)
    if culture.received_from:
        yield "plain", f"from {culture.received_from}"
    if several := _several_parents(node):
        yield "plain", several
    if numbers := _numbers(node):
        yield "soft", numbers
    if node.stage:
        yield "plain", wording.stage_in_words(node.stage) or ""


def _batch_lines(lookup: Lookup, batch: Batch, node: Node) -> Iterator[Line]:
    lost = f"{node.lost} lost" if node.lost else None
    stage = wording.stage_in_words(node.stage)
    yield "plain", ", ".join(filter(None, (counted(batch.units, unit_word(batch)), lost, stage)))
    if several := _several_parents(node):
        yield "plain", several
    yield "strong", harvested_words(lookup, batch)


def _several_parents(node: Node) -> str | None:
    """What it was taken from, where that is more than one thing and the line above tells only one."""
    names = list(dict.fromkeys(ref.id for ref in (*node.parents, *node.elsewhere)))
    return f"of {wording.joined_first(names)}" if len(names) > 1 else None


def _numbers(node: Node) -> str:
    """`T2 · G1 · 2 steps from the wild`."""
    numbers = node.numbers
    parts = [f"T{numbers.transfers}"] if numbers.transfers is not None else []
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
    if batch.sums_kept_back:
        return f"{wording.mass(crop.harvest_g, lookup.units)} harvested as far as it is shared"
    be = f", BE {wording.number(crop.be.value, 0)} %" if crop.be else ", no dry mass, so no BE"
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
        yield "where it came from is not shared" if node.unshared_sources else "where it came from is not told"
    if node.causes:
        yield f"lost to {wording.joined(list(node.causes))}"
