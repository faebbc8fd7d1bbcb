"""Planning: when to inoculate and how many units for a harvest by a day, and what is still to come of every batch."""

from __future__ import annotations

import math
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import partial
from typing import Literal

from journal.analysis.forecast import NOT_AWAITED, Evidence, Expected, Finished, line_of, pins_since_harvest, pools_of
from journal.analysis.identity import species_named
from journal.analysis.kept import EachKept, each_kept
from journal.analysis.lineage import Lineage
from journal.analysis.milestones import days_of_flushes, milestones, move_into_tent
from journal.analysis.progress import Progress, calendar_day, last_day
from journal.analysis.statistics import FEWEST_FOR_PREDICTION, prediction_interval
from journal.analysis.usual_times import PRACTICE, PUBLISHED, Days, Usual
from journal.analysis.yields import BatchYield
from journal.model import Batch, Journal
from journal.quantities import counted

PLAN_CONFIDENCE = 0.8
"""Of the prediction intervals: four new batches in five are in them, one in ten on each side."""

MOST_FLUSHES = 4
"""No more flushes than these are looked ahead to."""

UNITS_FORMULA = "units = mass wanted / (dry substrate a unit × BE), rounded up; surer with the lower end of the BE"
DAY_FORMULA = "day to inoculate = day wanted − days from inoculation, rounded up; surer with the upper end of the days"
PREDICTION_SOURCE = (
    "D. C. Montgomery, G. C. Runger, Applied Statistics and Probability for Engineers, equation 8-29: mean ± t · s · "
    "√(1 + 1/n); of days by their logarithms. It supposes that the next batch is like those finished"
)
WEEK_RULE = (
    "Low: only what lies wholly in that week, at its least. High: all that may come in it, at its most. Expected: the "
    "middle of each mass, spread evenly over the days in which it may come. What did not come in its days is left out. "
    "Where there is only one earlier case, it gives the first day, and the next range that is known (of the line, the "
    "species, or published) gives the number of days"
)

FEWEST_FOR_RANGE = 2
"""One case gives no range of days."""

_Gap = Literal["pinning_after_move_d", "harvest_after_pins_d", "harvest_d", "between_flushes_d"]
Basis = Literal["own", "published", "practice"]
Part = Literal["first flush", "all flushes"]
PARTS: tuple[Part, ...] = ("first flush", "all flushes")


@dataclass(frozen=True, slots=True)
class Range:
    """From low to high, with its middle. own: the author's values, by batch; of a basis `own` they are what it is
    calculated from, else they are too few for that. words: what it is based on."""

    low: float
    middle: float
    high: float
    basis: Basis
    words: str
    own: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Prospect:
    """What a batch of a species comes to, or of one line of it: days from inoculation to the last harvest of that part,
    and BE in % on units inoculated; None where neither own batches nor tables tell. dry_g: of a unit, of the latest
    batch that says. What the line's batches are too few for is that of the species."""

    species: str
    line: str | None
    days: Mapping[Part, Range | None]
    be_pct: Mapping[Part, Range | None]
    dry_g: float | None


def units_needed(wanted_g: float, dry_g: float, be_pct: float) -> int | None:
    """Units for a mass at this BE; None where nothing is wanted, or nothing would come. *Formula:* `UNITS_FORMULA`."""
    if not (wanted_g > 0 and dry_g > 0 and be_pct > 0):
        return None
    return math.ceil(wanted_g / (dry_g * be_pct / 100) - 1e-9)


@dataclass(frozen=True, slots=True)
class _Past:
    """A finished batch: its days and BE by part, where known."""

    batch: str
    days: Mapping[Part, int | None]
    be_pct: Mapping[Part, float | None]


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
    latest_dry_g: dict[tuple[str, str], float] = {}
    for batch in journal.batches:
        species, line = species_named(batch.species), line_of(batch, lineage)
        for key in dict.fromkeys(((species, ""), (species, line or ""))) if species else ():
            rows = past.setdefault(key, [])
            if batch.dry_g is not None:
                latest_dry_g[key] = batch.dry_g
            if progress[batch.id].finished and batch.id not in doubts and not batch.totals_are_partial:
                rows.append(pasts.of(batch.id, _past, batch, progress[batch.id], crops[batch.id]))
    pasts.all()
    found: list[Prospect] = []
    whole: Prospect | None = None
    for species, line in sorted(past):
        rows, dry_g = past[species, line], latest_dry_g.get((species, line))
        if not line:
            whole = made.of((species, ""), _prospect, species, dry_g, *rows)
            found += [whole] if whole else []
        elif whole is not None and len(rows) < len(past[species, ""]):
            own = made.of((species, line), _of_line, whole, line, dry_g, *rows)
            found += [own] if own else []
    made.all()
    return tuple(found)


def _past(batch: Batch, run: Progress, crop: BatchYield) -> _Past:
    ends = [last for _, last in days_of_flushes(run).values() if last is not None]
    first = days_of_flushes(run).get(1, (None, None))[1]
    day0 = run.day0
    to_first = (first - day0).days if first and day0 and first > day0 else None
    to_last = (max(ends) - day0).days if ends and day0 and max(ends) > day0 else None
    be = crop.be.value if crop.be else None
    return _Past(
        batch.id,
        {"first flush": to_first, "all flushes": to_last},
        {"first flush": crop.first_flush_pct, "all flushes": be},
    )


def _prospect(species: str, dry_g: float | None, *past: _Past) -> Prospect:
    days: dict[Part, Range | None] = {}
    be: dict[Part, Range | None] = {}
    for part in PARTS:
        took = tuple((one.batch, float(count)) for one in past if (count := one.days[part]) is not None)
        gave = tuple((one.batch, value) for one in past if (value := one.be_pct[part]) is not None)
        days[part] = _predicted(took, by_logarithms=True) or _from_species(species, took, partial(_days_of, part))
        be[part] = _predicted(gave) or _from_species(species, gave, partial(_be_of, part))
    return Prospect(species, None, days, be, dry_g)


def _of_line(whole: Prospect, line: str, dry_g: float | None, *past: _Past) -> Prospect | None:
    """What is to be expected of a line of a species; None where its own batches are too few for anything."""
    days, be = dict(whole.days), dict(whole.be_pct)
    for part in PARTS:
        took = tuple((one.batch, float(count)) for one in past if (count := one.days[part]) is not None)
        gave = tuple((one.batch, value) for one in past if (value := one.be_pct[part]) is not None)
        days[part] = _predicted(took, f" of line {line}", by_logarithms=True) or days[part]
        be[part] = _predicted(gave, f" of line {line}") or be[part]
    if (days, be) == (whole.days, whole.be_pct):
        return None
    return Prospect(whole.species, line, days, be, dry_g or whole.dry_g)


def _predicted(own: tuple[tuple[str, float], ...], of_line: str = "", *, by_logarithms: bool = False) -> Range | None:
    found = prediction_interval([value for _, value in own], PLAN_CONFIDENCE, by_logarithms=by_logarithms)
    if found is None:
        return None
    batches = counted(len(own), "finished batch", "finished batches")
    words = f"by your {batches}{of_line}: four in five new ones fall in this range"
    return Range(max(0.0, found.low), found.middle, found.high, "own", words, own)


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


# -- what is to come ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Coming:
    """A flush still to come: in which days, both included, and how much of it, in g."""

    batch: str
    flush: int
    first: date
    last: date
    low_g: float
    middle_g: float
    high_g: float

    def share_in(self, first: date, last: date) -> float:
        """Which share of its days is between two days, both included."""
        days = (min(last, self.last) - max(first, self.first)).days + 1
        return max(0, days) / ((self.last - self.first).days + 1)


@dataclass(frozen=True, slots=True)
class HarvestWeek:
    """What may come in a week that begins on a Monday. *Rule:* `WEEK_RULE`."""

    monday: date
    low_g: float
    expected_g: float
    high_g: float
    coming: tuple[Coming, ...]


def coming(
    journal: Journal,
    progress: Mapping[str, Progress],
    crops: Mapping[str, BatchYield],
    lineage: Lineage,
    evidence: Evidence,
    expected: Iterable[Prospect],
    awaited: Mapping[str, Expected],
) -> tuple[Coming, ...]:
    """The flushes still to come of every batch that is not over, by day: the next as is `awaited` of it, by its ID, and
    those after it counted on. None of a batch of which too little is known (no day of inoculation, no dry mass, no
    number of units, no range for its species), and none whose days were over when the journal was last written in."""
    known = {(one.species, one.line): one for one in expected}
    until, inputs = last_day(journal), {}
    for batch in journal.batches:
        species, line, run = species_named(batch.species) or "", line_of(batch, lineage), progress[batch.id]
        prospect = known.get((species, line)) or known.get((species, None))
        if prospect and not run.is_over and run.stage not in NOT_AWAITED and not batch.totals_are_partial:
            pools = (pool for _, pool, _ in pools_of(batch, evidence, lineage))
            inputs[batch.id] = (batch, run, crops[batch.id], prospect, awaited.get(batch.id), *pools)
    flushes = each_kept(journal, "coming", _coming_of, inputs).values()
    found = (one for each in flushes for one in each if until is None or one.last >= until)
    return tuple(sorted(found, key=lambda one: (one.first, one.last, one.batch, one.flush)))


@dataclass(frozen=True, slots=True)
class _Gaps:
    """The days from one thing to the next: by the batch's own flushes, else by finished batches of the line, else of
    the species, else by the tables. pools: these batches. between_own_d: the days between the flushes of the batch."""

    species: str
    pools: tuple[Sequence[Finished], ...]
    between_own_d: tuple[int, ...]

    def days(self, gap: _Gap, known: Days | None = None) -> Days | None:
        """*Rule:* `WEEK_RULE`, of one case alone. known: the range behind all batches; that of the tables, if None."""
        once: int | None = None
        span: Days | None = known or getattr(self._usual, gap, None)
        for took in self._cases(gap):
            if len(took) >= FEWEST_FOR_RANGE:
                span = Days(min(took), max(took))
                break
            once = took[0] if once is None and took else once
        return span if span is None or once is None else Days(once, once + span.high - span.low)

    def _cases(self, gap: _Gap) -> Iterator[Sequence[int]]:
        """The days it took, the nearest cases first."""
        if gap == "between_flushes_d":
            yield self.between_own_d
            yield from ([days for one in pool for days in one.took.between_flushes_d.values()] for pool in self.pools)
        else:
            yield from ([days for one in pool if (days := getattr(one.took, gap)) is not None] for pool in self.pools)

    @property
    def most_flushes(self) -> int:
        """How many flushes there are at most: by the batches that were kept until spent, else by the tables."""
        spent = [max(one.took.flushes, default=0) for pool in self.pools for one in pool if one.is_spent]
        return min(max((*spent, getattr(self._usual, "flushes_most", None) or 1)), MOST_FLUSHES)

    @property
    def _usual(self) -> Usual | None:
        return PUBLISHED.get(self.species) or PRACTICE.get(self.species)


def _coming_of(
    batch: Batch,
    run: Progress,
    crop: BatchYield,
    prospect: Prospect,
    awaited: Expected | None,
    *pools: Sequence[Finished],
) -> tuple[Coming, ...]:
    gaps = _Gaps(prospect.species, pools, tuple(milestones(run).between_flushes_d.values()))
    window = _next_window(run, prospect, gaps, awaited)
    be, done = prospect.be_pct["all flushes"], max(days_of_flushes(run), default=0)
    if be is None or batch.dry_g is None or batch.units is None or window is None:
        return ()
    # own BEs have their losses in them; of a table's, what is lost already does not fruit
    dry_g = batch.dry_g * (batch.units if be.basis == "own" else run.living or 0)
    left = range(done + 1, max(gaps.most_flushes, done + 1) + 1)
    masses_g = [max(0.0, end / 100 * dry_g - crop.harvest_g) / len(left) for end in (be.low, be.middle, be.high)]
    between = gaps.days("between_flushes_d")
    low, high = (timedelta(days=between.low), timedelta(days=between.high)) if between else (timedelta(), timedelta())
    return tuple(
        Coming(batch.id, number, window[0] + at * low, window[1] + at * high, *masses_g)
        for at, number in enumerate(left if between else left[:1])
    )


def _next_window(run: Progress, prospect: Prospect, gaps: _Gaps, awaited: Expected | None) -> tuple[date, date] | None:
    """The days in which the next harvest may come: those in which it is awaited; where something before it is awaited,
    no earlier than that lets it."""
    if awaited is None and run.nonzero_harvests:
        return None
    is_harvest = awaited is not None and awaited.what in ("harvest", "next flush")
    if awaited and is_harvest and awaited.to_day:
        return awaited.from_day, awaited.to_day
    found = _by_gaps(run, prospect, gaps)
    if found is None or awaited is None:
        return found
    steps: tuple[_Gap, ...] = ("pinning_after_move_d", "harvest_after_pins_d")  # from colonised, from pins
    left = {"colonised": steps, "pins": steps[1:]}.get(awaited.what, ())
    least_d = sum(days.low for gap in left if (days := gaps.days(gap)))
    start = awaited.from_day + timedelta(days=least_d)
    first = start if is_harvest else max(start, found[0])
    return first, first + (found[1] - found[0])


def _by_gaps(run: Progress, prospect: Prospect, gaps: _Gaps) -> tuple[date, date] | None:
    """The days in which the next harvest may come, from the last thing that was seen."""
    pins, flushes, moved = pins_since_harvest(run), days_of_flushes(run), move_into_tent(run)
    to_harvest, moved_on = gaps.days("harvest_after_pins_d"), calendar_day(moved.date) if moved else None
    if pins and to_harvest and (day := calendar_day(pins.date)):
        return _from(day, to_harvest)
    if flushes:
        last, between = flushes[max(flushes)][1], gaps.days("between_flushes_d")
        return _from(last, between) if last and between else None
    to_pins = gaps.days("pinning_after_move_d")
    if moved_on and to_pins and to_harvest:
        return _from(moved_on, Days(to_pins.low + to_harvest.low, to_pins.high + to_harvest.high))
    known = prospect.days["first flush"]
    days = Days(math.floor(known.low), math.ceil(known.high)) if known else None
    days = days if known and known.basis == "own" else gaps.days("harvest_d", days)
    return _from(run.day0, days) if run.day0 and days else None


def _from(day: date, days: Days) -> tuple[date, date]:
    return day + timedelta(days=days.low), day + timedelta(days=days.high)


def weeks(flushes: Sequence[Coming]) -> tuple[HarvestWeek, ...]:
    """What may come, week by week from the first day on to the last; weeks in which nothing may come among them."""
    if not flushes:
        return ()
    monday = min(one.first for one in flushes)
    monday -= timedelta(days=monday.weekday())
    found = []
    while monday <= max(one.last for one in flushes):
        sunday = monday + timedelta(days=6)
        here = tuple(one for one in flushes if one.first <= sunday and one.last >= monday)
        found.append(
            HarvestWeek(
                monday,
                sum(one.low_g for one in here if one.share_in(monday, sunday) == 1),
                sum(one.middle_g * one.share_in(monday, sunday) for one in here),
                sum(one.high_g for one in here),
                here,
            )
        )
        monday += timedelta(days=7)
    return tuple(found)
