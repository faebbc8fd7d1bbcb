"""Planning: when to inoculate and how many units, for a harvest by a day."""

from __future__ import annotations

import math
from collections.abc import Callable, Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from statistics import fmean
from typing import Literal

from journal.analysis.forecast import line_of
from journal.analysis.kept import EachKept
from journal.analysis.lineage import Lineage
from journal.analysis.milestones import days_of_flushes
from journal.analysis.progress import Progress
from journal.analysis.species_names import species_named
from journal.analysis.statistics import FEWEST_FOR_PREDICTION, prediction_interval
from journal.analysis.usual_times import PRACTICE, PUBLISHED, Days, Usual
from journal.analysis.yields import BatchYield
from journal.model import Batch, Journal
from journal.quantities import counted

PLAN_CONFIDENCE = 0.8
"""Of the prediction intervals: four new batches in five are in them, one in ten on each side."""

UNITS_FORMULA = "units = mass wanted / (dry substrate a unit × BE), rounded up; surer with the lower end of the BE"
DAY_FORMULA = "day to inoculate = day wanted − days from inoculation, rounded up; surer with the upper end of the days"
PREDICTION_SOURCE = (
    "D. C. Montgomery, G. C. Runger, Applied Statistics and Probability for Engineers, equation 8-29: mean ± t · s · "
    "√(1 + 1/n); of days by their logarithms. It supposes that the next batch is like those finished"
)
MOST_FLUSHES = 4
"""No more flushes than these are looked ahead to."""

Basis = Literal["own", "published", "practice", "few"]
Part = Literal["first flush", "all flushes"]
PARTS: tuple[Part, ...] = ("first flush", "all flushes")


@dataclass(frozen=True, slots=True)
class Range:
    """From low to high, with its middle. own: the author's values, by batch; of a basis `own` they are what it is
    calculated from, of `few` the least and the most of them, else they stand beside it. words: what it is based on."""

    low: float
    middle: float
    high: float
    basis: Basis
    words: str
    own: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Prospect:
    """What a batch of a species comes to, or of one line of it: days from inoculation to the last harvest of that part
    (by a table, to the first day of that flush: none tells how long one lasts), and BE in % on units inoculated; None
    where neither own batches nor tables tell. dry_g: of a unit, of the latest batch that says. flush_be_pct: BE of
    flush 1, 2 and so on, up to the last that the batches had of which `be_pct["all flushes"]` is told; none where a
    table tells it, or the flushes of too few are known. living: in the batches that tell the BE, the mean share of
    their units that lived when flush 1, 2 and so on began, and at the end. flush_shares: of all that a finished batch
    gives, what is of flush 1, 2 and so on, on the mean, by those whose flushes are known. What the line's batches are
    too few for is that of the species."""

    species: str
    line: str | None
    days: Mapping[Part, Range | None]
    be_pct: Mapping[Part, Range | None]
    dry_g: float | None
    flush_be_pct: tuple[Range, ...] = ()
    living: tuple[float, ...] = ()
    flush_shares: tuple[float, ...] = ()


def units_needed(wanted_g: float, dry_g: float, be_pct: float) -> int | None:
    """Units for a mass at this BE; None where nothing is wanted, or nothing would come. *Formula:* `UNITS_FORMULA`."""
    if not (wanted_g > 0 and dry_g > 0 and be_pct > 0):
        return None
    return math.ceil(wanted_g / (dry_g * be_pct / 100) - 1e-9)


@dataclass(frozen=True, slots=True)
class _Past:
    """A batch: its days and BE by part, where known. is_finished: they are final. flushes_pct: the BE of flush 1, 2 and
    so on of those that are over; None where they are not known. living: the share of its units that lived when flush 1,
    2 and so on began, and at the end."""

    batch: str
    is_finished: bool
    days: Mapping[Part, int | None]
    be_pct: Mapping[Part, float | None]
    flushes_pct: tuple[float, ...] | None
    living: tuple[float, ...]

    def flush_pct(self, number: int) -> float | None:
        """Its BE of that flush: 0 if a finished batch did not give it, None if it is not known."""
        if self.flushes_pct is None:
            return None
        past = 0.0 if self.is_finished else None
        return self.flushes_pct[number - 1] if number <= len(self.flushes_pct) else past


def prospects(
    journal: Journal,
    progress: Mapping[str, Progress],
    crops: Mapping[str, BatchYield],
    lineage: Lineage,
    doubts: Container[str],
) -> tuple[Prospect, ...]:
    """What is to be expected of each species that a batch of this journal is of, by name; behind it, of each of its
    lines with finished batches enough for a range of their own, unless all of the species are of that line. doubts:
    IDs left out."""
    pasts: EachKept[str, _Past] = EachKept(journal, "finished batches as planned by")
    made: EachKept[tuple[str, str], Prospect | None] = EachKept(journal, "prospects")
    past: dict[tuple[str, str], list[_Past]] = {}
    begun: dict[str, list[_Past]] = {}
    latest_dry_g: dict[tuple[str, str], float] = {}
    for batch in journal.batches:
        species, line = species_named(batch.species, journal.settings.names), line_of(batch, lineage)
        for key in dict.fromkeys(((species, ""), (species, line or ""))) if species else ():
            rows = past.setdefault(key, [])
            if batch.dry_g is not None:
                latest_dry_g[key] = batch.dry_g
            if batch.id in doubts or batch.totals_are_partial:
                continue
            if progress[batch.id].finished:
                rows.append(pasts.of(batch.id, _past, batch, progress[batch.id], crops[batch.id]))
            elif progress[batch.id].nonzero_harvests and not key[1]:
                row = pasts.of(batch.id, _past, batch, progress[batch.id], crops[batch.id])
                begun.setdefault(key[0], []).append(row)
    pasts.all()
    found: list[Prospect] = []
    whole: Prospect | None = None
    for species, line in sorted(past):
        rows, dry_g = past[species, line], latest_dry_g.get((species, line))
        if not line:
            whole = made.of((species, ""), _prospect, species, dry_g, *rows, *begun.get(species, ()))
            found += [whole] if whole else []
        elif whole is not None and len(rows) < len(past[species, ""]):
            own = made.of((species, line), _of_line, whole, line, dry_g, *rows)
            found += [own] if own else []
    made.all()
    return tuple(found)


def _past(batch: Batch, run: Progress, crop: BatchYield) -> _Past:
    flushes = days_of_flushes(run)
    ends = [last for _, last in flushes.values() if last is not None]
    first = flushes.get(1, (None, None))[1]
    day0 = run.day0
    to_first = (first - day0).days if first and day0 and first > day0 else None
    to_last = (max(ends) - day0).days if ends and day0 and max(ends) > day0 else None
    be = crop.be.value if crop.be else None
    is_first_over = run.finished or max(flushes, default=0) > 1
    return _Past(
        batch.id,
        run.finished,
        {"first flush": to_first if is_first_over else None, "all flushes": to_last if run.finished else None},
        {"first flush": crop.first_flush_pct if is_first_over else None, "all flushes": be},
        _flushes_pct(crop, run.finished),
        _living(run),
    )


def _living(run: Progress) -> tuple[float, ...]:
    """The share of the units that lived when each flush began, and at the end; none where nobody counted them."""
    if not run.inoculated:
        return ()
    began: dict[int, date] = {}
    for note in run.nonzero_harvests:
        began.setdefault(note.flush or 1, note.date.first)
    last = min(max(began, default=0), MOST_FLUSHES)
    days = (min(day for at, day in began.items() if at >= number) for number in range(1, last + 1))
    lost = (sum(note.lost or 0 for note in run.losses if note.date.first < day) for day in (*days, date.max))
    return tuple(max(0, run.inoculated - count) / run.inoculated for count in lost)


def _mean_living(past: Iterable[_Past]) -> tuple[float, ...]:
    """Of the batches with a BE; one that is over counts beyond its last flush as it was at the end."""
    rows = [one for one in past if one.living and one.be_pct["all flushes"] is not None]
    found: list[float] = []
    for at in range(max((len(one.living) for one in rows), default=0)):
        known = [one.living[min(at, len(one.living) - 1)] for one in rows if one.is_finished or at < len(one.living)]
        found.append(fmean(known))
    return tuple(found)


def _flushes_pct(crop: BatchYield, is_finished: bool) -> tuple[float, ...] | None:
    """None where a harvest names no flush, or a number is missing, so that one may be another's."""
    if crop.be is None or crop.unnumbered_g or crop.flushes_lack:
        return None
    gave = tuple(flush.be.value for flush in crop.flushes if flush.be)
    return gave if is_finished else gave[:-1]


def _mean_shares(past: Iterable[_Past]) -> tuple[float, ...]:
    rows = [one for one in past if one.is_finished and one.flushes_pct and sum(one.flushes_pct)]
    flushes = range(1, min(_most_flushes(rows), MOST_FLUSHES) + 1)
    return tuple(fmean((one.flush_pct(at) or 0.0) / sum(one.flushes_pct or ()) for one in rows) for at in flushes)


def _prospect(species: str, dry_g: float | None, *past: _Past) -> Prospect:
    days: dict[Part, Range | None] = {}
    be: dict[Part, Range | None] = {}
    finished = [one for one in past if one.is_finished]
    for part in PARTS:
        took, gave = (tuple(_known(finished, what, part)) for what in _WHATS)
        days[part] = _predicted(took, by_logarithms=True) or _from_species(species, took, partial(_days_of, part))
        be[part] = _predicted(gave) or _from_species(species, gave, partial(_be_of, part))
        days[part], be[part] = days[part] or _of_few(past, "days", part), be[part] or _of_few(past, "be_pct", part)
    all_be, flushes = be["all flushes"], range(1, _most_flushes(past) + 1)
    if all_be and all_be.basis == "own":
        by_flush = (_flush_predicted(finished, number) for number in flushes)
    else:
        few = past if all_be and all_be.basis == "few" else ()
        by_flush = (_of_few(few, "be_pct", number) for number in flushes)
    lived = _mean_living(finished if all_be and all_be.basis == "own" else past)
    return Prospect(species, None, days, be, dry_g, tuple(span for span in by_flush if span), lived, _mean_shares(past))


_What = Literal["days", "be_pct"]
_WHATS: tuple[_What, ...] = ("days", "be_pct")


def _most_flushes(past: Iterable[_Past]) -> int:
    return max((len(one.flushes_pct or ()) for one in past), default=0)


def _known(past: Iterable[_Past], what: _What, of: Part | int) -> Iterator[tuple[str, float]]:
    """The days, or the BE, by batch. of: a part, or (BE alone) the number of one flush."""
    for one in past:
        by_part = one.days if what == "days" else one.be_pct
        value = one.flush_pct(of) if isinstance(of, int) else by_part[of]
        if value is not None:
            yield one.batch, float(value)


def _of_few(past: Iterable[_Past], what: _What, of: Part | int) -> Range | None:
    """The least and the most of the author's own batches, where nothing else is told; those that still grow as far as
    they are harvested."""
    known = [one for one in past if next(_known([one], what, of), None)]
    own = tuple(_known(known, what, of))
    if not own:
        return None
    so_far, values = sum(not one.is_finished for one in known), [value for _, value in own]
    words = f"by {counted(len(own), 'batch of yours', 'batches of yours')}"
    if so_far:
        words += (
            f", {f'{so_far} ' if so_far < len(own) else ''}as far as {'it is' if so_far == 1 else 'they are'} harvested"
        )
    words += f"; a range takes {FEWEST_FOR_PREDICTION} finished ones"
    return Range(min(values), sum(values) / len(values), max(values), "few", words, own)


def _of_line(whole: Prospect, line: str, dry_g: float | None, *past: _Past) -> Prospect | None:
    """What is to be expected of a line of a species; None where its own batches are too few for anything."""
    days, be = dict(whole.days), dict(whole.be_pct)
    for part in PARTS:
        took, gave = (tuple(_known(past, what, part)) for what in _WHATS)
        days[part] = _predicted(took, f" of line {line}", by_logarithms=True) or days[part]
        be[part] = _predicted(gave, f" of line {line}") or be[part]
    if (days, be) == (whole.days, whole.be_pct):
        return None
    flushes = range(1, _most_flushes(past) + 1)
    by_flush = (_flush_predicted(past, number, f" of line {line}") for number in flushes)
    own = tuple(span for span in by_flush if span), _mean_living(past)
    is_own = be["all flushes"] != whole.be_pct["all flushes"]
    by_flush_and_living = own if is_own else (whole.flush_be_pct, whole.living)
    return Prospect(
        whole.species,
        line,
        days,
        be,
        dry_g or whole.dry_g,
        *by_flush_and_living,
        _mean_shares(past) or whole.flush_shares,
    )


def _predicted(own: tuple[tuple[str, float], ...], of_line: str = "", *, by_logarithms: bool = False) -> Range | None:
    found = prediction_interval([value for _, value in own], PLAN_CONFIDENCE, by_logarithms=by_logarithms)
    if found is None:
        return None
    batches = counted(len(own), "finished batch", "finished batches")
    words = f"by your {batches}{of_line}: four in five new ones fall in this range"
    return Range(max(0.0, found.low), found.middle, found.high, "own", words, own)


def _flush_predicted(past: Iterable[_Past], number: int, of_line: str = "") -> Range | None:
    """Where one of them did not give it, no more than the most that one gave: the interval supposes one heap of values,
    not some and a 0."""
    found = _predicted(tuple(_known(past, "be_pct", number)), of_line)
    gave = [value for _, value in found.own] if found else []
    return replace(found, high=min(found.high, max(gave))) if found and not all(gave) else found


def _from_species(
    species: str, own: tuple[tuple[str, float], ...], days_of: Callable[[Usual], tuple[float, float] | None]
) -> Range | None:
    """What a table says of a species; the author's own values, too few for a range, are beside it."""
    tables: tuple[tuple[Basis, Mapping[str, Usual]], ...] = (("published", PUBLISHED), ("practice", PRACTICE))
    for basis, table in tables:
        usual = table.get(species)
        span = days_of(usual) if usual else None
        if usual is not None and span is not None:
            source = f"published: {usual.source}" if basis == "published" else usual.source
            few = f"; your own are too few for a range (it takes {FEWEST_FOR_PREDICTION})" if own else ""
            return Range(span[0], (span[0] + span[1]) / 2, span[1], basis, f"{source}{few}", own)
    return None


def _sum(*spans: Days | None) -> tuple[float, float] | None:
    known = [span for span in spans if span is not None]
    return (sum(span.low for span in known), sum(span.high for span in known)) if len(known) == len(spans) else None


def _to_harvest(usual: Usual) -> tuple[float, float] | None:
    """Days from inoculation to the first harvest, moved into fruiting air on the day it is colonised."""
    if usual.pinning_d is not None:
        return _sum(usual.pinning_d, usual.harvest_after_pins_d)
    return _sum(usual.colonised_d, usual.pinning_after_move_d, usual.harvest_after_pins_d)


def _days_of(part: Part, usual: Usual) -> tuple[float, float] | None:
    first, between = _to_harvest(usual), usual.between_flushes_d
    if part == "first flush" or first is None or usual.flushes_most == 1:
        return first
    if between is None or usual.flushes_most is None:
        return None
    more = usual.flushes_most - 1
    return first[0] + more * between.low, first[1] + more * between.high


def _be_of(part: Part, usual: Usual) -> tuple[float, float] | None:
    known = usual.be_pct if part == "all flushes" or usual.flushes_most == 1 else None
    return (known.low, known.high) if known else None
