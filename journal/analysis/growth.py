"""Growth on agar: how fast each colony's edge moves, by plate and culture, and whether transfers have slowed a line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Literal

from journal.analysis.limits import limit
from journal.analysis.lineage import Lineage
from journal.analysis.plausibility import Doubt
from journal.analysis.progress import Progress
from journal.analysis.statistics import (
    CONFIDENCE,
    Permutation,
    StraightLine,
    mean_interval,
    permutation_test,
    straight_line,
)
from journal.model import Colony, Culture, Journal, Note, When
from journal.quantities import counted

LARGEST_MM = 80.0
"""A colony so wide has reached the edge of a 90 mm dish, where it stops: it does not count (*common practice*)."""

_NOT_AGAR = frozenset({"liquid", "syringe", "grain", "sawdust", "plugs", "spore print"})
"""Forms of a culture on which no colony is measured."""

FORMULA = (
    "radius = mean of two diameters at right angles ÷ 2; of a plate the slope of radius over days by least squares; of "
    "a culture the mean of its plates, with Student’s t interval over plates (of one plate: over its measurements)"
)
SOURCE = (
    "once it grows, a colony’s radius grows by the same length every day: A. P. J. Trinci, Journal of General "
    "Microbiology 67 (1971), as quoted in D. Moore, G. D. Robson, A. P. J. Trinci, 21st Century Guidebook to Fungi, "
    "section 4.9; least squares and Student’s t: NIST/SEMATECH e-Handbook of Statistical Methods"
)


@dataclass(frozen=True, slots=True)
class Measured:
    """A colony on a day. days: from the day of its culture, with the part of the day where the time is known."""

    when: When
    days: float
    across_mm: tuple[float, float]

    @property
    def radius_mm(self) -> float:
        return fmean(self.across_mm) / 2


@dataclass(frozen=True, slots=True)
class Plate:
    """part: its number, None where notes name none. line: radius in mm over days; None below two days, and where the
    plate is left out. too_wide: how many measurements do not count, since the colony had reached the edge. left_out:
    why it counts in nothing, as its warning says; None where it counts."""

    part: int | None
    measured: tuple[Measured, ...]
    line: StraightLine | None
    too_wide: int
    left_out: str | None = None

    @property
    def rate_mm_d(self) -> float | None:
        return self.line.slope if self.line else None


@dataclass(frozen=True, slots=True)
class Growth:
    """Of one culture. rate_mm_d: the mean of its plates, None where none was measured on two days. interval: of 95 %
    confidence, over plates where there are three or more, else over the measurements of the only plate; None where
    these are too few."""

    culture: Culture
    plates: tuple[Plate, ...]
    rate_mm_d: float | None
    interval: tuple[float, float] | None
    over: Literal["plates", "measurements"] | None

    @property
    def rates(self) -> tuple[float, ...]:
        return tuple(plate.rate_mm_d for plate in self.plates if plate.rate_mm_d is not None)

    @property
    def why_no_interval(self) -> str | None:
        """In words; None where there is one, or no rate either."""
        if self.rate_mm_d is None or self.interval is not None:
            return None
        if len(self.rates) == 1:
            return "one plate, measured on two days: too few for an interval"
        return "two plates: too few for an interval"


def growth_of(journal: Journal, progress: Mapping[str, Progress]) -> Mapping[str, Growth]:
    """The growth of every culture of which a colony was measured, by ID."""
    return {
        culture.id: growth for culture in journal.cultures if (growth := _of_culture(culture, progress[culture.id]))
    }


def _of_culture(culture: Culture, run: Progress) -> Growth | None:
    by_plate: dict[int | None, list[Measured]] = {}
    for note in run.notes:
        for colony in note.colony:
            days = _days_between(culture.date, note.date)
            if days is not None:
                by_plate.setdefault(part_of(colony, note), []).append(Measured(note.date, days, colony.across_mm))
    if not by_plate:
        return None
    doubts = {part: doubt.message for parts, doubt in doubtful_colonies(culture, run) for part in parts}
    in_order = sorted(by_plate, key=lambda part: part or 0)
    plates = tuple(_plate(part, by_plate[part], doubts.get(part)) for part in in_order)
    rates = [plate.rate_mm_d for plate in plates if plate.rate_mm_d is not None]
    lines = [plate.line for plate in plates if plate.line is not None]
    interval = mean_interval(rates) if len(rates) > 1 else lines[0].slope_interval if lines else None
    over: Literal["plates", "measurements"] = "plates" if len(rates) > 1 else "measurements"
    return Growth(culture, plates, fmean(rates) if rates else None, interval, over if interval else None)


def _plate(part: int | None, measured: Sequence[Measured], left_out: str | None) -> Plate:
    used = [one for one in measured if fmean(one.across_mm) < LARGEST_MM]
    line = straight_line([(one.days, one.radius_mm) for one in used]) if left_out is None else None
    return Plate(part, tuple(measured), line, len(measured) - len(used), left_out)


def doubtful_colonies(culture: Culture, run: Progress) -> Iterator[tuple[frozenset[int | None], Doubt]]:
    """Colonies of plates that the culture does not have, on no agar, and that have become smaller: the plates of each,
    by `part_of`, and the doubt."""
    before: dict[int | None, tuple[Note, float]] = {}
    shrinks = limit("colony_shrinks_mm")
    for note in run.notes:
        if note.colony and culture.form in _NOT_AGAR:
            message = f"a colony is measured on agar, but {culture.id} is of the form {culture.form}"
            fix = f"correct `about` here, or `form` in {culture.path}"
            yield frozenset(part_of(colony, note) for colony in note.colony), Doubt(note, "colony", message, fix)
        for colony in note.colony:
            part, across_mm = part_of(colony, note), fmean(colony.across_mm)
            if too_many := _beyond(colony, culture):
                fix = f"correct the number here, or `vessels` in {culture.path}"
                yield frozenset({part}), Doubt(note, "colony", too_many, fix)
            earlier, was_mm = before.get(part, (note, across_mm))
            if earlier.date.first < note.date.first and not shrinks.allows(was_mm - across_mm):
                plate = f"plate {part}" if part else "it"
                message = (
                    f"the colony was {was_mm:g} mm across on {earlier.date.first}, and now {plate} has {across_mm:g} mm"
                )
                fix = f"correct the size or the plate here, or in {earlier.path}"
                yield frozenset({part}), Doubt(note, "colony", message, fix)
            before[part] = note, across_mm


def _beyond(colony: Colony, culture: Culture) -> str | None:
    if colony.part is None or culture.vessels is None or colony.part <= culture.vessels:
        return None
    return f"this is a colony on plate {colony.part}, but {culture.id} has {counted(culture.vessels, 'vessel')}"


def part_of(colony: Colony, note: Note) -> int | None:
    """The number of its plate: as written with it, else that of the only part that its note is about."""
    if colony.part is not None:
        return colony.part
    parts = {ref.part for ref in note.about}
    return parts.pop() if len(parts) == 1 else None


def _days_between(start: When, then: When) -> float | None:
    """Days from one date to another, by the moments where both are known, else by the day."""
    if not (start.counts_days and then.counts_days):
        return None
    if start.moment is not None and then.moment is not None:
        return (then.moment - start.moment).total_seconds() / 86400
    return float((then.first - start.first).days)


GrowthVerdict = Literal["too few", "no difference", "slower", "faster"]


@dataclass(frozen=True, slots=True)
class Vigour:
    """Two cultures of one line on the same medium: the one with the fewest transfers, and the one with the most that
    were measured. test: of their plates' rates; None where they are too many for it. transfers: of each. The verdict is
    "too few" where no rates of so many plates could tell the two apart."""

    line: str
    early: Growth
    late: Growth
    transfers: tuple[int, int]
    test: Permutation | None
    verdict: GrowthVerdict


def vigours(found: Mapping[str, Growth], lineage: Lineage) -> Iterator[Vigour]:
    """Whether a line has slowed with its transfers, for each line and medium of which two were measured."""
    groups: dict[tuple[str, str], list[tuple[int, Growth]]] = {}
    for id, growth in found.items():
        descent = lineage.descents[id]
        if descent.line is not None and descent.transfers is not None and growth.rates:
            medium = " ".join((growth.culture.medium or "").casefold().split())
            groups.setdefault((descent.line, medium), []).append((descent.transfers, growth))
    for (line, _), rows in groups.items():
        ranked = sorted(rows, key=lambda row: row[0])
        (first, early), (last, late) = ranked[0], ranked[-1]
        if first < last:
            yield _vigour(line, early, late, (first, last))


def _vigour(line: str, early: Growth, late: Growth, transfers: tuple[int, int]) -> Vigour:
    test = permutation_test(early.rates, late.rates)
    verdict: GrowthVerdict = "too few"
    if test is not None and test.least_p <= 1 - CONFIDENCE:
        verdict = "no difference"
        if test.p <= 1 - CONFIDENCE:
            verdict = "slower" if test.difference > 0 else "faster"
    return Vigour(line, early, late, transfers, test, verdict)
