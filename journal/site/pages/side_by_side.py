"""Line against line: every finished batch of every line as a dot, and what that is enough to say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from journal.reckoning.comparing import FEWEST_BATCHES, Comparison, Difference, Dot, LineFigures, comparison_of
from journal.reckoning.comparing_words import (
    MEDIAN_SOURCE,
    NOT_ONLY_THE_LINE,
    SHARE_SOURCE,
    TEST_SOURCE,
    UNITS_SHARE,
    rarity_words,
)
from journal.reckoning.yields import BE_SOURCE
from journal.site import addresses, wording
from journal.site.pages.common import Label, Lookup, Words, species_words
from journal.site.pages.line_charts import Chart, charts_of
from journal.site.pages.line_pairs import FORMULA, Pair, pairs_of
from journal.site.plan import Page

SOURCES = (
    ("BE", f"{BE_SOURCE}. Here on the dry substrate of all units begun, lost ones too."),
    ("Median and its interval", f"{MEDIAN_SOURCE[0].upper()}{MEDIAN_SOURCE[1:]}."),
    ("Share lost", f"{SHARE_SOURCE}. {UNITS_SHARE}"),
    ("Difference of two lines", f"{TEST_SOURCE[0].upper()}{TEST_SOURCE[1:]}. {rarity_words()}"),
)


@dataclass(frozen=True, slots=True)
class Growing:
    """The batches of a line that are not finished, and so are in no figure. species: where no heading tells it."""

    line: Label
    species: Words | None
    batches: tuple[Label, ...]


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A finished batch that counts for less than it might, and why."""

    batch: Label
    why: str


@dataclass(frozen=True, slots=True)
class Kind:
    """The lines of one species. anchor: the section's. alone: only one line of it has a finished batch.

    few: lines with too few finished batches for any verdict where there are too many of them to go through pair by
    pair.
    """

    anchor: str
    name: Words | None
    charts: tuple[Chart, ...]
    pairs: tuple[Pair, ...]
    few: tuple[Label, ...]
    alone: bool
    left_out: tuple[LeftOut, ...]
    growing: tuple[Growing, ...]


def pages(lookup: Lookup) -> Iterator[Page]:
    """Line against line, of all lines that have a batch."""
    found = comparison_of(lookup.journal, lookup.lineage, lookup.runs, lookup.crops, lookup.rollups.lines)
    kinds = [list(lines) for _, lines in groupby(found.lines, key=lambda line: line.kind)]
    finished = [lines for lines in kinds if any(line.dots for line in lines)]
    waiting = [line for lines in kinds if lines not in finished for line in lines]
    context = {
        "title": "Line against line",
        "place": "Cultures",
        "kinds": tuple(_kind(lookup, at, lines, found) for at, lines in enumerate(finished, 1)),
        "waiting": _growing(lookup, waiting, name_species=True),
        "caveat": NOT_ONLY_THE_LINE,
        "sources": SOURCES,
        "formula": FORMULA,
        "fewest": FEWEST_BATCHES,
    }
    yield Page("side_by_side", (), addresses.SIDE_BY_SIDE, "cultures/side_by_side.html", context, "main", growing=True)


def _kind(lookup: Lookup, at: int, lines: Sequence[LineFigures], found: Comparison) -> Kind:
    grown = [line for line in lines if line.dots]
    pairs, few = pairs_of(lookup, grown if lines[0].kind else (), _differences(grown, found.differences))
    return Kind(
        anchor=f"species-{at}",
        name=species_words(lines[0].species),
        charts=charts_of(lookup, grown, f"s{at}"),
        pairs=pairs,
        few=few,
        alone=len(grown) == 1,
        left_out=tuple(_left_out(lookup, grown)),
        growing=_growing(lookup, lines),
    )


def _differences(lines: Iterable[LineFigures], differences: Iterable[Difference]) -> list[Difference]:
    ours = {line.line for line in lines}
    return [row for row in differences if row.first in ours]


def _growing(lookup: Lookup, lines: Iterable[LineFigures], *, name_species: bool = False) -> tuple[Growing, ...]:
    return tuple(
        Growing(
            lookup.label(line.line), species_words(line.species) if name_species else None, lookup.labels(line.growing)
        )
        for line in lines
        if line.growing
    )


def _left_out(lookup: Lookup, lines: Iterable[LineFigures]) -> Iterable[LeftOut]:
    """Each batch once, though it may be a dot in several lines."""
    dots = {dot.batch: dot for line in lines for dot in line.dots}
    for dot in dots.values():
        if why := why_less(lookup, dot):
            yield LeftOut(lookup.label(dot.batch), why)


def why_less(lookup: Lookup, dot: Dot) -> str | None:
    """Why a finished batch is not in every figure of its line, as a sentence; None where it is."""
    if dot.left_out:
        return f"In no figure: {dot.left_out}."
    if dot.be_pct is None:
        return f"Counted for its losses alone. {wording.keys_quoted(lookup.crops[dot.batch].missing[0])}"
    if dot.first_flush_pct is None:
        return "Not in the first flush: some of its harvests name no flush, or none of them the first."
    return None
