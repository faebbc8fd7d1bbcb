"""How far a culture is from the wild, and what is left of it: figures, each with the steps that make it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from journal.model import Culture, Find
from journal.reckoning.descent import WHOLE
from journal.reckoning.lineage import Counted, Descent, way_of
from journal.site.figures import Figure
from journal.site.pages.common import Lookup
from journal.site.pages.made_and_lost import made_and_lost
from journal.site.pages.telling import how_made

SOURCE = "common practice, as the format of this journal counts it"
TRANSFERS = (
    "a start is T0, or as many as its giver told; what is taken from it by transfer is one more, by the longest way"
)
STEPS = (
    "the first culture from a find is 0, every culture after it one more; through a batch by way of the culture it was "
    "made with"
)
GENERATIONS = "grain from anything but grain is G1; grain or sawdust taken from grain is one more"


def culture_numbers(lookup: Lookup, culture: Culture) -> Iterator[Figure]:
    """Transfers, steps since the wild, spawn generation and vessels, as far as there are such numbers."""
    descent = lookup.lineage.descents[culture.id]
    if descent.transfers is not None:
        before = f"{culture.transfers_before} of them before it came here" if culture.transfers_before else None
        says = _counted(lookup, culture, "transfers", lambda one: f"T{one.transfers}")
        yield _figure(f"T{descent.transfers}", "transfers since this line began", before, says, TRANSFERS)
    if descent.steps_since_wild is not None:
        says = _counted(lookup, culture, "steps_since_wild", lambda one: str(one.steps_since_wild))
        beside = "cultures, through batches too"
        yield _figure(str(descent.steps_since_wild), "steps since the wild", beside, says, STEPS)
    if descent.spawn_generation is not None:
        says = _counted(lookup, culture, "spawn_generation", lambda one: f"G{one.spawn_generation}")
        yield _figure(f"G{descent.spawn_generation}", "spawn generation", None, says, GENERATIONS)
    if culture.vessels is not None:
        run = lookup.runs[culture.id]
        lost = f"{run.lost} lost, {run.living} left" if run.lost else None
        yield made_and_lost(run, "vessels made", lost)


def _figure(number: str, words: str, beside: str | None, inputs: Iterator[tuple[str, str]], formula: str) -> Figure:
    return Figure(
        number=number, words=words, beside=beside, inputs=tuple(inputs), formula=formula, source=SOURCE
    )  # fmt: skip


def _counted(
    lookup: Lookup, culture: Culture, number: Counted, said: Callable[[Descent], str]
) -> Iterator[tuple[str, str]]:
    """Every step of the way by which a number came about, with what it is counted as there; of a very long way the last
    steps, and where those before them are told."""
    way = way_of(culture.id, number, lookup.lineage, lookup.crops, WHOLE)
    if len(way) == WHOLE:
        yield "before these", f"as the page of {way[0]} tells"
    for name in way:
        row = lookup.journal.by_id[name.lower()]
        if isinstance(row, Find):
            yield row.id, "the wild find"
        else:
            made = how_made(lookup, row) if isinstance(row, Culture) else "fruited as a batch"
            yield name, f"{said(lookup.lineage.descents[name])}, {made}"
