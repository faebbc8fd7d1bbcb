"""Compare lines: every finished batch of every line as a dot, and what these are enough to conclude."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Any

from journal.analysis import comparison_words
from journal.analysis.calculation import figure as figure_words
from journal.analysis.comparison import (
    FEWEST_BATCHES,
    MEASURES,
    MOST_IN_PAIRS,
    Comparison,
    Difference,
    Dot,
    LineFigures,
    Measure,
    Middle,
)
from journal.analysis.species_names import species_named
from journal.analysis.yields import BE_SOURCE
from journal.quantities import counted
from journal.site import addresses, wording
from journal.site.charts.dots import Point, axis_of, strip_of
from journal.site.charts.primitives import Scale, scale_over
from journal.site.pages.indexes import Label
from journal.site.pages.lookup import Lookup, species_words
from journal.site.plan import Page, Row

COLUMNS: dict[Measure, str] = {"be": "BE", "first flush": "First flush", "lost": "Lost"}

TITLES: dict[Measure, tuple[str, str]] = {
    "be": ("BE, all flushes", "Fresh mass of all flushes, in % of the dry substrate of the units inoculated."),
    "first flush": ("BE of the first flush alone", "Fresh mass of flush 1, in % of the same dry substrate."),
    "lost": ("Units lost", "Units lost, in % of the units inoculated: a dot for each batch, a mark for all of them."),
}

MEDIAN_FORMULA = (
    "median: the middle value, or half-way between the two middle ones; interval: from the r-th least to the r-th "
    "greatest of n values, which holds with 1 − 2 · P(X < r), X binomial (n, ½)"
)
SHARE_FORMULA = (
    "share = lost / inoculated; "
    "interval = (2 · lost + z² ± z · √(z² + 4 · lost · (inoculated − lost) / inoculated)) / (2 · (inoculated + z²)), "
    "z = 1.96"
)


def charts_of(lookup: Lookup, lines: Sequence[LineFigures], id: str) -> tuple[dict[str, Any], ...]:
    """A chart for each measure; both BEs on one scale. id: begins the IDs of the drawings."""
    known = [value for line in lines for dot in line.dots for value in (dot.be_pct, dot.first_flush_pct) if value]
    be = scale_over([0.0, *known], least_span=50, within=(0, float("inf")))  # from 0 to above the highest BE
    scales: dict[Measure, Scale] = {"be": be, "first flush": be, "lost": Scale(0, 100)}
    return tuple(_chart(lookup, lines, measure, scales[measure], f"{id}-{at}") for at, measure in enumerate(MEASURES))


def _chart(lookup: Lookup, lines: Sequence[LineFigures], measure: Measure, scale: Scale, id: str) -> dict[str, Any]:
    title, what = TITLES[measure]
    rows = tuple(_row(lookup, line, measure, scale, f"{id}-{at}") for at, line in enumerate(lines))
    return {
        "column": COLUMNS[measure],
        "title": title,
        "what": what,
        "rows": rows,
        "axis": axis_of(scale) if any(row["strip"] for row in rows) else (),
        "cells": tuple(_cell(lookup, line, dot, measure) for line in lines for dot in _ranked(line, measure)),
        "formula": SHARE_FORMULA if measure == "lost" else MEDIAN_FORMULA,
    }


def _row(lookup: Lookup, line: LineFigures, measure: Measure, scale: Scale, id: str) -> dict[str, Any]:
    """A line in a chart. anchor: on its species' first chart. unsure: why its identity is not certain: no reliable
    identification of a harvest, or a doubted label. result, more: the result of its batches, and how reliable it is.
    counts, batches: what its figure is calculated from."""
    result = words_of(line, measure)
    dots = ", ".join(f"{dot.batch} {_value_words(dot, measure)}" for dot in _ranked(line, measure))
    return {
        "line": lookup.label(line.line),
        "anchor": f"line-{line.line.lower()}" if measure == "be" else None,
        "unsure": "" if measure == "lost" else _unsure(lookup, line),
        "result": unbroken(result.partition("; ")[0]),
        "more": unbroken(result.partition("; ")[2]),
        "strip": _strip(line, measure, scale),
        "id": id,
        "title": f"{line.line}: {TITLES[measure][0]}",
        "desc": f"{dots}. {wording.capitalised(result)}.",
        "counts": _counts(line, measure),
        "batches": tuple(dot.batch for dot in _ranked(line, measure) if dot.value(measure) is not None),
    }


def _unsure(lookup: Lookup, line: LineFigures) -> str:
    """Of the line, else of those of its batches that count."""
    doubt = "origin in doubt" if line.line in lookup.analysis.doubtful else None
    counts = [dot.batch for dot in line.dots if dot.left_out is None]
    identity = None if lookup.analysis.confirmed.get(line.line) else "identity not confirmed"
    less_sure = [batch for batch in counts if not lookup.analysis.confirmed[batch]]
    if less_sure and not (identity or doubt):
        identity = f"identity not confirmed of {wording.joined(less_sure)}"
    return ", ".join(filter(None, (identity, doubt, lookup.doubtful_harvests(counts))))


def unbroken(text: str) -> str:
    """With numbers and their % kept on one line."""
    return text.replace(" %", "\N{NO-BREAK SPACE}%")


def words_of(line: LineFigures, measure: Measure) -> str:
    """The result of a line's batches in one measure."""
    if line.dots and all(dot.left_out for dot in line.dots):
        return f"{counted(len(line.dots), 'finished batch', 'finished batches')}, none that counts"
    if measure == "lost":
        return comparison_words.lost_words(line)
    lacking = "no finished batch of which the first flush is known" if measure == "first flush" else None
    row = _middle(line, measure)
    return lacking if lacking and row.median is None else comparison_words.median_words(row)


def _middle(line: LineFigures, measure: Measure) -> Middle:
    return line.be if measure == "be" else line.first_flush


def _strip(line: LineFigures, measure: Measure, scale: Scale) -> Row | None:
    """The dots of a line, None if no value is known; with a mark at the median if there are several."""
    points = [
        Point(value, f"{dot.batch}: {figure_words(value, '%')}", counted=dot.left_out is None)
        for dot in line.dots
        if (value := dot.own_value(measure)) is not None
    ]
    mark, interval, row = None, None, _middle(line, measure)
    if measure != "lost":
        mark = row.median if len(row.values) > 1 else None
        interval = (row.interval.low, row.interval.high) if row.interval else None
    elif line.lost is not None and line.lost_batches >= FEWEST_BATCHES:
        mark, interval = line.lost.value * 100, (line.lost.low * 100, line.lost.high * 100)
    return strip_of(points, scale, mark, interval) if points else None


def _ranked(line: LineFigures, measure: Measure) -> list[Dot]:
    """Lowest first; those without a value last."""

    unknown = float("inf")
    values = {dot.batch: unknown if (own := dot.own_value(measure)) is None else own for dot in line.dots}
    return sorted(line.dots, key=lambda dot: (values[dot.batch], dot.batch))


def _value_words(dot: Dot, measure: Measure) -> str:
    value = dot.own_value(measure)
    return "not known" if value is None else unbroken(figure_words(value, "%"))


def _cell(lookup: Lookup, line: LineFigures, dot: Dot, measure: Measure) -> dict[str, Any]:
    made = dot.inoculated if measure == "lost" else None
    part = f"{min(dot.lost, made)} of {counted(made, 'unit')}" if made is not None else None
    return {
        "line": lookup.label(line.line),
        "batch": lookup.label(dot.batch),
        "result": _value_words(dot, measure),
        "note": ", ".join(filter(None, (part, "not counted" if dot.left_out else None))),
    }


def _counts(line: LineFigures, measure: Measure) -> str:
    """How many batches a line's figure is calculated from, and which rank bounds its interval."""
    if measure == "lost":
        return f"lost {line.lost.part}, inoculated {line.lost.whole}" if line.lost else "n = 0"
    row = _middle(line, measure)
    return f"n = {len(row.values)}" + (f", r = {row.interval.rank}" if row.interval else "")


MOST_SPELT_OUT = 3
"""Up to this many pairs with too few batches are listed one by one; more are covered by one sentence."""

FORMULA = (
    "p = ways of dealing the values out, as many to each line as it has, with means at least as far apart / all ways"
)


def pairs_of(
    lookup: Lookup, lines: Sequence[LineFigures], differences: Iterable[Difference]
) -> tuple[tuple[dict[str, Any], ...], tuple[Label, ...]]:
    """Every pair of a species' lines; if that is a long list, the lines with too few batches are listed apart, in no
    pair."""
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
        "results": _results(rows),
        "full": tuple((COLUMNS[row.measure], unbroken(comparison_words.difference_words(row))) for row in tested),
        "tests": tuple(_tested(row) for row in tested),
    }


def _results(rows: Sequence[Difference]) -> tuple[tuple[str | None, str], ...]:
    sentences = [unbroken(comparison_words.short_words(row)) for row in rows]
    if len(set(sentences)) == 1:
        return ((None, sentences[0]),)
    return tuple((COLUMNS[row.measure], result) for row, result in zip(rows, sentences, strict=True))


def _tested(row: Difference) -> dict[str, Any]:
    assert row.test is not None
    return {
        "measure": COLUMNS[row.measure],
        "n": f"{row.first_n}, {row.second_n}",
        "means": f"{figure_words(row.first_mean or 0.0, '%')}, {figure_words(row.second_mean or 0.0, '%')}",
        "ways": f"{row.test.as_far:,} of {row.test.ways:,}",
        "p": comparison_words.p_words(row.test.p),
        "adjusted": comparison_words.p_words(row.p) if row.p is not None and row.tests > 1 else "",
    }


_SOURCES = (
    ("BE", f"{BE_SOURCE}. Here on the dry substrate of all units inoculated, lost ones too."),
    ("Median and its interval", f"{wording.capitalised(comparison_words.MEDIAN_SOURCE)}."),
    ("Share lost", f"{comparison_words.SHARE_SOURCE}. {comparison_words.UNITS_SHARE}"),
)


def pages(lookup: Lookup) -> Iterator[Page]:
    """The comparison of all lines that have a batch."""
    found = lookup.analysis.comparison
    kinds = [list(lines) for _, lines in groupby(found.lines, key=lambda line: line.kind)]
    finished = [lines for lines in kinds if any(line.dots for line in lines)]
    seldom = comparison_words.rarity_words(len(MEASURES), len({dot.batch for line in found.lines for dot in line.dots}))
    waiting = [line for lines in kinds if lines not in finished for line in lines]
    context = {
        "title": "Compare lines",
        "place": "Cultures",
        "kinds": tuple(_kind(lookup, at, lines, found) for at, lines in enumerate(finished, 1)),
        "waiting": _growing(lookup, waiting, name_species=True),
        "more_waiting": _more(waiting),
        "caveat": comparison_words.NOT_ONLY_THE_LINE,
        "sources": (
            *_SOURCES,
            ("Difference of two lines", f"{wording.capitalised(comparison_words.TEST_SOURCE)}. {seldom}"),
        ),
        "formula": FORMULA,
        "fewest": FEWEST_BATCHES,
    }
    yield Page("compare", (), addresses.COMPARE, "cultures/compare.html", context, "main", growing=True)


def _kind(lookup: Lookup, at: int, lines: Sequence[LineFigures], found: Comparison) -> dict[str, Any]:
    """The lines of one species. alone: the only one with a finished batch. few: those in no pair."""
    grown = [line for line in lines if line.dots]
    ours = {line.line for line in grown}
    differences = [row for row in found.differences if row.first in ours]
    charts = charts_of(lookup, grown, f"s{at}")
    pairs, few = pairs_of(lookup, grown if lines[0].kind else (), differences)
    return {
        "anchor": f"species-{at}",
        "name": species_words(species_named(lines[0].species, lookup.settings.names) or lines[0].species),
        "charts": charts,
        "pairs": pairs,
        "few": few,
        "alone": _alone(charts) if len(grown) == 1 else None,
        "left_out": tuple(_left_out(lookup, grown)),
        "growing": _growing(lookup, lines),
        "more_growing": _more(lines),
    }


def _with_interval(row: dict[str, Any]) -> str:
    """What a line's batches came to, with how far that holds where there are enough of them to say."""
    return f"{row['result']} ({row['more']})" if "%" in row["more"] else str(row["result"])


def _alone(charts: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """A line that there is nothing to compare with, as a sentence and one axis: that of its BE, or else the first that
    has a value."""
    be, first, lost = (chart["rows"][0] for chart in charts)
    drawn = next((chart for chart in charts if chart["axis"]), None)
    more = [be["more"]]
    if "%" in first["result"]:
        more.append(f"first flush {_with_interval(first)}")
    if lost["result"] != be["result"]:
        more.append(_with_interval(lost))
    details = "; ".join(filter(None, more))
    nothing = "No other line of this species has a finished batch, so there is nothing to compare it with."
    return {
        "row": be,
        "result": f"BE {be['result']}" if "%" in be["result"] else be["result"],
        "more": f"{wording.capitalised(details)}. {nothing}" if details else nothing,
        "unsure": be["unsure"],
        "title": drawn["title"] if drawn else "",
        "drawn": drawn["rows"][0] if drawn else None,
        "axis": drawn["axis"] if drawn else (),
    }


MOST_UNFINISHED = 40
"""How many lines with nothing but unfinished batches are listed; the newest."""


def _unfinished(lines: Iterable[LineFigures]) -> list[LineFigures]:
    return [line for line in lines if line.growing]


def _more(lines: Iterable[LineFigures]) -> str | None:
    count = len(_unfinished(lines)) - MOST_UNFINISHED
    return f"and {counted(count, 'earlier line')}, whose batches are in the list of batches" if count > 0 else None


def _growing(lookup: Lookup, lines: Iterable[LineFigures], *, name_species: bool = False) -> tuple[dict[str, Any], ...]:
    """The batches of each line that are not finished, and so are in no figure."""
    return tuple(
        {
            "line": lookup.label(line.line),
            "species": species_words(line.species) if name_species else None,
            "batches": lookup.labels(line.growing),
        }
        for line in _unfinished(lines)[-MOST_UNFINISHED:]
    )


def _left_out(lookup: Lookup, lines: Iterable[LineFigures]) -> Iterable[dict[str, Any]]:
    """Each batch once, even if it is a dot in several lines."""
    dots = {dot.batch: dot for line in lines for dot in line.dots}
    for dot in dots.values():
        if why := why_less(lookup, dot):
            yield {"batch": lookup.label(dot.batch), "why": why}


def why_less(lookup: Lookup, dot: Dot) -> str | None:
    """Why a finished batch is not in every figure of its line, as a sentence; None if it is."""
    if dot.left_out:
        return f"In no figure: {dot.left_out}."
    if dot.be_pct is None:
        counted_for = "In no figure." if dot.inoculated is None else "Counted for its losses alone."
        lack = lookup.analysis.yields[dot.batch].missing[0]
        return f"{counted_for} {wording.for_reader(lack, lookup.share is not None)}"
    if dot.first_flush_pct is None:
        return "Not in the first flush: some of its harvests name no flush, or none of them the first."
    return None
