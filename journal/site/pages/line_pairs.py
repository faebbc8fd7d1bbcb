"""Two lines held against each other: what their batches tell, measure by measure, and how that is reckoned."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from journal.reckoning.comparing import MOST_IN_PAIRS, Difference, LineFigures
from journal.reckoning.comparing_words import difference_words, p_words, short_words
from journal.reckoning.reckoned import figure as figure_words
from journal.site.pages.common import Label, Lookup
from journal.site.pages.line_charts import COLUMNS, unbroken

MOST_SPELT_OUT = 3
"""Pairs of which is said one by one that there are too few batches; of more, it is said once."""

FORMULA = (
    "p = ways of dealing the values out, as many to each line as it has, with means at least as far apart / all ways"
)


@dataclass(frozen=True, slots=True)
class Tested:
    """The numbers behind one sentence. n, means: of the first line and of the second."""

    measure: str
    n: str
    means: str
    ways: str
    p: str
    adjusted: str


@dataclass(frozen=True, slots=True)
class Pair:
    """Two lines. said: (measure, sentence); one with no measure where one sentence does for all.

    full: the same at length, for those of which a test was made.
    """

    first: Label
    second: Label
    said: tuple[tuple[str | None, str], ...]
    full: tuple[tuple[str, str], ...]
    tests: tuple[Tested, ...]


def pairs_of(
    lookup: Lookup, lines: Sequence[LineFigures], differences: Iterable[Difference]
) -> tuple[tuple[Pair, ...], tuple[Label, ...]]:
    """Every pair of the lines of a species; and, where that would be a long list, the lines with too few batches for
    any verdict apart, in no pair."""
    by_pair: dict[tuple[str, str], list[Difference]] = {}
    for row in differences:
        by_pair.setdefault((row.first, row.second), []).append(row)
    silent = {names for names, rows in by_pair.items() if all(row.outcome == "too few" for row in rows)}
    if len(silent) <= MOST_SPELT_OUT and len(lines) <= MOST_IN_PAIRS:
        return tuple(_pair(lookup, rows) for rows in by_pair.values()), ()
    told = {names: rows for names, rows in by_pair.items() if names not in silent}
    speaking = {name for names in told for name in names}
    few = lookup.labels(line.line for line in lines if line.line not in speaking)
    return tuple(_pair(lookup, rows) for rows in told.values()), few


def _pair(lookup: Lookup, rows: Sequence[Difference]) -> Pair:
    tested = [row for row in rows if row.test is not None]
    return Pair(
        first=lookup.label(rows[0].first),
        second=lookup.label(rows[0].second),
        said=_said(rows),
        full=tuple((COLUMNS[row.measure], unbroken(difference_words(row))) for row in tested),
        tests=tuple(_tested(row) for row in tested),
    )


def _said(rows: Sequence[Difference]) -> tuple[tuple[str | None, str], ...]:
    sentences = [unbroken(short_words(row)) for row in rows]
    if len(set(sentences)) == 1:
        return ((None, sentences[0]),)
    return tuple((COLUMNS[row.measure], said) for row, said in zip(rows, sentences, strict=True))


def _tested(row: Difference) -> Tested:
    assert row.test is not None
    return Tested(
        measure=COLUMNS[row.measure],
        n=f"{row.first_n}, {row.second_n}",
        means=f"{figure_words(row.first_mean or 0.0, '%')}, {figure_words(row.second_mean or 0.0, '%')}",
        ways=f"{row.test.as_far:,} of {row.test.ways:,}",
        p=p_words(row.test.p),
        adjusted=p_words(row.p) if row.p is not None and row.tests > 1 else "",
    )
