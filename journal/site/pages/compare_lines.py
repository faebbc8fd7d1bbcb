"""Compare lines: every finished batch of every line as a dot, and what that is enough to say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Any

from journal.analysis.calculation import figure as figure_words
from journal.analysis.comparison import FEWEST_BATCHES, MOST_IN_PAIRS, Comparison, Difference, Dot, LineFigures
from journal.analysis.comparison_words import (
    MEDIAN_SOURCE,
    NOT_ONLY_THE_LINE,
    SHARE_SOURCE,
    TEST_SOURCE,
    UNITS_SHARE,
    difference_words,
    p_words,
    rarity_words,
    short_words,
)
from journal.analysis.yields import BE_SOURCE
from journal.site import addresses, wording
from journal.site.pages.compare_charts import COLUMNS, charts_of, unbroken
from journal.site.pages.lookup import Label, Lookup, species_words
from journal.site.plan import Page

MOST_SPELT_OUT = 3
"""Pairs of which is said one by one that there are too few batches; of more, it is said once."""

FORMULA = (
    "p = ways of dealing the values out, as many to each line as it has, with means at least as far apart / all ways"
)


def pairs_of(
    lookup: Lookup, lines: Sequence[LineFigures], differences: Iterable[Difference]
) -> tuple[tuple[dict[str, Any], ...], tuple[Label, ...]]:
    """Every pair of the lines of a species; and, where that would be a long list, the lines with too few batches for
    any verdict apart, in no pair."""
    by_pair: dict[tuple[str, str], list[Difference]] = {}
    for row in differences:
        by_pair.setdefault((row.first, row.second), []).append(row)
    silent = {names for names, rows in by_pair.items() if all(row.outcome == "too few" for row in rows)}
    if len(silent) <= MOST_SPELT_OUT and len(lines) <= MOST_IN_PAIRS:
        return tuple(_pair(lookup, rows) for rows in by_pair.values()), ()
    listed = {names: rows for names, rows in by_pair.items() if names not in silent}
    speaking = {name for names in listed for name in names}
    few = lookup.labels(line.line for line in lines if line.line not in speaking)
    return tuple(_pair(lookup, rows) for rows in listed.values()), few


def _pair(lookup: Lookup, rows: Sequence[Difference]) -> dict[str, Any]:
    tested = [row for row in rows if row.test is not None]
    return {
        "first": lookup.label(rows[0].first),
        "second": lookup.label(rows[0].second),
        "said": _said(rows),
        "full": tuple((COLUMNS[row.measure], unbroken(difference_words(row))) for row in tested),
        "tests": tuple(_tested(row) for row in tested),
    }


def _said(rows: Sequence[Difference]) -> tuple[tuple[str | None, str], ...]:
    sentences = [unbroken(short_words(row)) for row in rows]
    if len(set(sentences)) == 1:
        return ((None, sentences[0]),)
    return tuple((COLUMNS[row.measure], said) for row, said in zip(rows, sentences, strict=True))


def _tested(row: Difference) -> dict[str, Any]:
    assert row.test is not None
    return {
        "measure": COLUMNS[row.measure],
        "n": f"{row.first_n}, {row.second_n}",
        "means": f"{figure_words(row.first_mean or 0.0, '%')}, {figure_words(row.second_mean or 0.0, '%')}",
        "ways": f"{row.test.as_far:,} of {row.test.ways:,}",
        "p": p_words(row.test.p),
        "adjusted": p_words(row.p) if row.p is not None and row.tests > 1 else "",
    }


SOURCES = (
    ("BE", f"{BE_SOURCE}. Here on the dry substrate of all units inoculated, lost ones too."),
    ("Median and its interval", f"{MEDIAN_SOURCE[0].upper()}{MEDIAN_SOURCE[1:]}."),
    ("Share lost", f"{SHARE_SOURCE}. {UNITS_SHARE}"),
    ("Difference of two lines", f"{TEST_SOURCE[0].upper()}{TEST_SOURCE[1:]}. {rarity_words()}"),
)


def pages(lookup: Lookup) -> Iterator[Page]:
    """The comparison of all lines that have a batch."""
    found = lookup.analysis.comparison
    kinds = [list(lines) for _, lines in groupby(found.lines, key=lambda line: line.kind)]
    finished = [lines for lines in kinds if any(line.dots for line in lines)]
    waiting = [line for lines in kinds if lines not in finished for line in lines]
    context = {
        "title": "Compare lines",
        "place": "Cultures",
        "kinds": tuple(_kind(lookup, at, lines, found) for at, lines in enumerate(finished, 1)),
        "waiting": _growing(lookup, waiting, name_species=True),
        "caveat": NOT_ONLY_THE_LINE,
        "sources": SOURCES,
        "formula": FORMULA,
        "fewest": FEWEST_BATCHES,
    }
    yield Page("compare", (), addresses.COMPARE, "cultures/compare.html", context, "main", growing=True)


def _kind(lookup: Lookup, at: int, lines: Sequence[LineFigures], found: Comparison) -> dict[str, Any]:
    """The lines of one species. alone: only one has a finished batch. few: those not gone through pair by pair."""
    grown = [line for line in lines if line.dots]
    ours = {line.line for line in grown}
    pairs, few = pairs_of(
        lookup, grown if lines[0].kind else (), [row for row in found.differences if row.first in ours]
    )
    return {
        "anchor": f"species-{at}",
        "name": species_words(lines[0].species),
        "charts": charts_of(lookup, grown, f"s{at}"),
        "pairs": pairs,
        "few": few,
        "alone": len(grown) == 1,
        "left_out": tuple(_left_out(lookup, grown)),
        "growing": _growing(lookup, lines),
    }


def _growing(lookup: Lookup, lines: Iterable[LineFigures], *, name_species: bool = False) -> tuple[dict[str, Any], ...]:
    """The batches of each line that are not finished, and so are in no figure."""
    return tuple(
        {
            "line": lookup.label(line.line),
            "species": species_words(line.species) if name_species else None,
            "batches": lookup.labels(line.growing),
        }
        for line in lines
        if line.growing
    )


def _left_out(lookup: Lookup, lines: Iterable[LineFigures]) -> Iterable[dict[str, Any]]:
    """Each batch once, though it may be a dot in several lines."""
    dots = {dot.batch: dot for line in lines for dot in line.dots}
    for dot in dots.values():
        if why := why_less(lookup, dot):
            yield {"batch": lookup.label(dot.batch), "why": why}


def why_less(lookup: Lookup, dot: Dot) -> str | None:
    """Why a finished batch is not in every figure of its line, as a sentence; None where it is."""
    if dot.left_out:
        return f"In no figure: {dot.left_out}."
    if dot.be_pct is None:
        return f"Counted for its losses alone. {wording.keys_quoted(lookup.analysis.yields[dot.batch].missing[0])}"
    if dot.first_flush_pct is None:
        return "Not in the first flush: some of its harvests name no flush, or none of them the first."
    return None
