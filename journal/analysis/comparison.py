"""Compares lines: what finished batches say about two lines, and whether it is enough to tell them apart.

Only finished batches count, each as one value, because units of one batch share one substrate, one heat treatment and
one pair of hands. Only lines of one species are compared, even if they use different names for it. The p-values of all
pairs of a species are adjusted together, because with enough pairs one differs by chance.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from statistics import fmean, median
from typing import Literal, get_args

from journal.analysis.lineage import living_of
from journal.analysis.rollups import Rollup, units_lost
from journal.analysis.species_names import OwnNames, name_of_kind
from journal.analysis.statistics import MedianInterval, Permutation, Proportion, holm, median_interval, permutation_test
from journal.analysis.yields import BatchYield
from journal.model import Journal

FEWEST_BATCHES = 3
"""Finished batches a line needs before anything is said about it (*common practice*)."""

RARE = 0.05
"""A p-value up to which two lines are said to differ (*common practice*)."""

MOST_IN_PAIRS = 12
"""If more lines of a species have finished batches, only those with enough for a verdict are paired: the number of
pairs grows with the square of the lines, and nothing can be said about the others."""

Measure = Literal["be", "first flush", "lost"]
MEASURES: tuple[Measure, ...] = get_args(Measure)
# `journal show` builds repeatedly, and most batches do not change
_test = lru_cache(maxsize=1024)(permutation_test)

Outcome = Literal["too few", "too many", "out of reach", "no difference", "first more", "second more"]
"""too few: under three batches in a line. too many: more permutations than can be tried. out of reach: so few or so
similar values that even the widest possible gap would not be significant. no difference: chance often gives such a
gap."""


@dataclass(frozen=True, slots=True)
class Dot:
    """A finished batch, its BE on units inoculated, None if their number is not known. left_out: why it counts for no
    figure of the line, if any."""

    batch: str
    be_pct: float | None
    first_flush_pct: float | None
    inoculated: int | None
    lost: int
    left_out: str | None = None

    def own_value(self, measure: Measure) -> float | None:
        """Its value in %, whether or not it counts; None where unknown."""
        made = self.inoculated
        lost_pct = None if made is None else min(self.lost, made) / made * 100
        return {"be": self.be_pct, "first flush": self.first_flush_pct, "lost": lost_pct}[measure]

    def value(self, measure: Measure) -> float | None:
        """Its value in %, None where unknown or left out."""
        return self.own_value(measure) if self.left_out is None else None


@dataclass(frozen=True, slots=True)
class Middle:
    """Values in %, lowest first, their median (None without any), and its interval (None: too few)."""

    values: tuple[float, ...]
    median: float | None
    interval: MedianInterval | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFigures:
    """The results of a line's finished batches. line: the ID it starts with. kind: what lines of one species share, by
    `name_of_kind` and casefolded; "" if there is no name. growing: IDs of batches not finished. lost: units lost of all
    units inoculated, over `lost_batches` batches; None without any."""

    line: str
    species: str | None
    kind: str
    dots: tuple[Dot, ...]
    growing: tuple[str, ...]
    be: Middle
    first_flush: Middle
    lost: Proportion | None
    lost_batches: int

    def values(self, measure: Measure) -> tuple[float, ...]:
        """The values of a measure that count, %, in the order of the dots."""
        return tuple(value for dot in self.dots if (value := dot.value(measure)) is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """Two lines in one measure. n: batches that count. mean: %, None without any. test: None if there was none. p:
    adjusted for the number of pairs of the species tested in this measure (`tests`); None without a test."""

    first: str
    second: str
    measure: Measure
    outcome: Outcome
    first_n: int
    second_n: int
    first_mean: float | None
    second_mean: float | None
    test: Permutation | None
    p: float | None
    tests: int


@dataclass(frozen=True, slots=True)
class Comparison:
    """Lines with a batch, by species and ID, and every pair of one species with finished batches in every measure."""

    lines: tuple[LineFigures, ...]
    differences: tuple[Difference, ...]


def comparison_of(
    journal: Journal, crops: Mapping[str, BatchYield], rolled: Mapping[str, Rollup], doubts: Mapping[str, str]
) -> Comparison:
    """Every line compared with every other of its species. doubts: where the doubt about a batch began."""
    left_out = _left_out(journal, rolled, doubts)
    species = {culture.id: culture.species for culture in journal.cultures}
    own = journal.settings.names
    rows = [line_figures(row, species[id], own, crops, left_out) for id, row in rolled.items() if row.batches]
    rows.sort(key=lambda line: (line.kind, line.line))
    return Comparison(tuple(rows), tuple(differences_between(rows)))


def _left_out(journal: Journal, rolled: Mapping[str, Rollup], doubts: Mapping[str, str]) -> dict[str, str]:
    """Why a batch counts for no line, by its ID, for those that do not."""
    of_lines: dict[str, list[str]] = {}
    for line, row in rolled.items():
        for batch in row.batches:
            of_lines.setdefault(batch, []).append(line)
    living = living_of(journal)
    of_a_part = {row.id for row in journal.batches if row.totals_are_partial}
    why = {}
    for batch, lines in of_lines.items():
        if batch in doubts:
            why[batch] = f"which culture it is is in doubt since {doubts[batch]}"
        elif living[batch].unknown_sources:
            is_unshared = living[batch].unshared_sources == living[batch].unknown_sources
            why[batch] = f"one of its cultures is not {'shared' if is_unshared else 'in the journal'}"
        elif batch in of_a_part:
            why[batch] = "part of what was harvested or lost of it is not shared"
        elif len(lines) > 1:
            why[batch] = f"it is made of several lines: {', '.join(sorted(lines))}"
    return why


def line_figures(
    row: Rollup, species: str | None, own: OwnNames, crops: Mapping[str, BatchYield], left_out: Mapping[str, str]
) -> LineFigures:
    """One line's dots and their summary. own: the author's own names of species."""
    dots = []
    for id in row.finished:
        crop = crops[id]
        be_pct = crop.be.value if crop.be else None
        dots.append(Dot(id, be_pct, crop.first_flush_pct, crop.inoculated, crop.lost, left_out.get(id)))
    counted = [dot.batch for dot in dots if dot.value("lost") is not None]
    return LineFigures(
        line=row.of,
        species=species,
        kind=name_of_kind(species, own).casefold(),
        dots=tuple(dots),
        growing=tuple(id for id in row.batches if id not in row.finished),
        be=middle(dot.value("be") for dot in dots),
        first_flush=middle(dot.value("first flush") for dot in dots),
        lost=units_lost(crops[id] for id in counted),
        lost_batches=len(counted),
    )


def middle(values: Iterable[float | None]) -> Middle:
    """The median of the known values, and its interval."""
    known = tuple(sorted(value for value in values if value is not None))
    return Middle(known, median(known) if known else None, median_interval(known))


def differences_between(lines: Iterable[LineFigures]) -> Iterable[Difference]:
    """Every pair of one known species, measure by measure; p-values adjusted within each species and measure."""
    kinds: dict[str, list[LineFigures]] = {}
    for line in lines:
        if line.kind and line.dots:
            kinds.setdefault(line.kind, []).append(line)
    for kin in kinds.values():
        paired = kin if len(kin) <= MOST_IN_PAIRS else [line for line in kin if len(line.dots) >= FEWEST_BATCHES]
        for measure in MEASURES:
            yield from _differences(list(combinations(paired, 2)), measure)


def _differences(pairs: list[tuple[LineFigures, LineFigures]], measure: Measure) -> Iterable[Difference]:
    values = [(first.values(measure), second.values(measure)) for first, second in pairs]
    fewest = [min(map(len, both)) for both in values]
    tests = [_test(*both) if few >= FEWEST_BATCHES else None for both, few in zip(values, fewest, strict=True)]
    made = [at for at, test in enumerate(tests) if test is not None]
    adjusted = dict(zip(made, holm([test.p for test in tests if test is not None]), strict=True))
    for at, (first, second) in enumerate(pairs):
        ours, theirs = values[at]
        yield Difference(
            first=first.line,
            second=second.line,
            measure=measure,
            outcome=outcome_of(fewest[at], tests[at], adjusted.get(at)),
            first_n=len(ours),
            second_n=len(theirs),
            first_mean=fmean(ours) if ours else None,
            second_mean=fmean(theirs) if theirs else None,
            test=tests[at],
            p=adjusted.get(at),
            tests=len(made),
        )


def outcome_of(fewest: int, test: Permutation | None, p: float | None) -> Outcome:
    """The verdict. fewest: batches of the line that has fewer. p: adjusted."""
    if fewest < FEWEST_BATCHES:
        return "too few"
    if test is None or p is None:
        return "too many"
    if p <= RARE:
        return "first more" if test.difference > 0 else "second more"
    return "out of reach" if test.least_p > RARE else "no difference"
