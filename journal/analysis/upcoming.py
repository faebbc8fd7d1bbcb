"""What is still to come of every growing batch: flush by flush, and week by week."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal, NamedTuple

from journal.analysis.forecast import NOT_AWAITED, Evidence, Expected, Finished, line_of, pins_since_harvest, pools_of
from journal.analysis.kept import each_kept
from journal.analysis.limits import limit
from journal.analysis.lineage import Lineage
from journal.analysis.milestones import LastFlush, last_flush, milestones, move_into_tent
from journal.analysis.planning import MOST_FLUSHES, Prospect, Range
from journal.analysis.progress import Progress, calendar_day, last_day
from journal.analysis.species_names import species_named
from journal.analysis.usual_times import PRACTICE, PUBLISHED, Days, Usual
from journal.analysis.yields import BatchYield
from journal.model import Batch, Journal

WEEK_RULE = (
    "Low: only what lies wholly in that week, at its least. High: all that may come in it, at its most. Expected: what "
    "is expected of each flush, spread evenly over the days in which it may come. A flush that did not "
    "come in its days is overdue, and no later one is expected until it comes. "
    "Where there is only one earlier case, or all took the same number of days, that gives the first day, and the next "
    "range that is known (of the line, the species, or published) gives the number of days; where several agree and no "
    "range is known, five days are added (common practice: a flush is harvested within a few days)"
)

MASS_RULE = (
    "Where your finished batches show the BE of each flush, a flush is estimated from its own BE in them: expected "
    "is the mean, with 0 for a batch that did not give that flush (the high end is then at most what one of them "
    "gave), and no more flushes are expected than they had. Their usual losses are included; where a batch has lost"
    " more of its units than they had, on the mean, when that flush began, as much less is expected as fewer are "
    "left. Where they do not show it (only a table gives a BE, or too few of your harvests name their flush), the "
    "BE of all flushes is divided: as it was, on the mean, in your finished batches of the line or species, once "
    "one of them shows it; before that, less what is harvested, evenly among the flushes left. A harvest without a "
    "flush number, after the last one with a number, counts as the next flush if it came more than five days later "
    "(common practice: a flush is harvested within a few days). Otherwise it is taken off the flushes expected, the"
    " next first, and a flush of which as much is harvested as was expected is not listed again. Where only a few "
    "batches give a BE, the next flush of a batch that is being harvested is estimated as no larger than its last "
    "(common practice: each is usually smaller), and half of that is expected"
)

MassBy = Literal["each flush", "own shares", "divided", "last flush"]
"""What a flush's mass is estimated from: its own BE; of the BE of all flushes, its share in own batches, or an even
part; or the last flush of its batch."""

_NOTHING_G = 0.5
"""What is less is not listed as still to come."""

_ROUNDING_D = 1e-6
"""What calculating leaves of a whole number of days is no day more."""

FEWEST_FOR_RANGE = 2
"""One case gives no range of days."""


def _flush_lasts_d() -> int:
    """The least width of a range of days: the days within which a flush is harvested."""
    return int(limit("flush_lasts_d").high or 0)


_Gap = Literal["pinning_after_move_d", "harvest_after_pins_d", "harvest_d", "between_flushes_d"]


@dataclass(frozen=True, slots=True)
class Coming:
    """A flush still to come: in which days, both included, and how much of it, in g. middle_g: what is expected, which
    is not halfway where a range ends at 0. batches: how many tell its own BE; None where that does not tell the mass.
    *Rule:* `MASS_RULE`."""

    batch: str
    flush: int
    first: date
    last: date
    low_g: float
    middle_g: float
    high_g: float
    mass_by: MassBy
    batches: int | None = None

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


@dataclass(frozen=True, slots=True)
class Ahead:
    """coming: the flushes still to come. overdue: the next flush of each batch of which none came in its days: nothing
    is counted on from it. Both by day."""

    coming: tuple[Coming, ...] = ()
    overdue: tuple[Coming, ...] = ()


def ahead(
    journal: Journal,
    progress: Mapping[str, Progress],
    crops: Mapping[str, BatchYield],
    lineage: Lineage,
    evidence: Evidence,
    expected: Iterable[Prospect],
    awaited: Mapping[str, Expected],
) -> Ahead:
    """The flushes still to come of every batch that is not over: the next as is `awaited` of it, by its ID, and those
    after it counted on. None of a batch of which too little is known (no day of inoculation, no dry mass, no number of
    units, no range for its species). One is overdue whose days were over when the journal was last written in. Of a
    species with no BE but that of a few batches, the next flush of a batch goes by its last one."""
    known = {(one.species, one.line): one for one in expected}
    own, until, inputs = journal.settings.names, last_day(journal), {}
    for batch in journal.batches:
        species, line, run = species_named(batch.species, own) or "", line_of(batch, lineage), progress[batch.id]
        prospect = known.get((species, line)) or known.get((species, None))
        if prospect and not run.is_over and run.stage not in NOT_AWAITED and not batch.totals_are_partial:
            pools = (pool for _, pool, _ in pools_of(batch, evidence, lineage))
            inputs[batch.id] = (batch, run, crops[batch.id], prospect, awaited.get(batch.id), *pools)
    flushes = each_kept(journal, "coming", _coming_of, inputs).values()
    known_until = {batch.id: batch.known_until or until for batch in journal.batches}
    found: list[Coming] = []
    late: list[Coming] = []
    for each in filter(None, flushes):
        if each[0].last < (known_until[each[0].batch] or each[0].last):
            late.append(each[0])
        else:
            found += each
    return Ahead(tuple(sorted(found, key=_by_day)), tuple(sorted(late, key=_by_day)))


def _by_day(one: Coming) -> tuple[date, date, str, int]:
    return one.first, one.last, one.batch, one.flush


@dataclass(frozen=True, slots=True)
class _Gaps:
    """The days from one thing to the next: by the batch's own flushes, else by finished batches of the line, else of
    the species, else by the tables. pools: these batches. between_own_d: the days between the flushes of the batch."""

    species: str
    pools: tuple[Sequence[Finished], ...]
    between_own_d: tuple[int, ...]

    def days(self, gap: _Gap, known: Days | None = None) -> Days | None:
        """Never one day alone. *Rule:* `WEEK_RULE`, of one case alone, or of several with one number of days. known:
        the range behind all batches; that of the tables, if None."""
        same: Sequence[int] = ()
        span: Days | None = known or getattr(self._usual, gap, None)
        for took in self._cases(gap):
            if len({*took}) > 1:
                span = Days(min(took), max(took))
                break
            same = same or took
        if same:
            span = span or (Days(same[0], same[0]) if len(same) >= FEWEST_FOR_RANGE else None)
            span = Days(same[0], same[0] + span.high - span.low) if span else None
        return Days(span.low, span.high + _flush_lasts_d()) if span and span.low == span.high else span

    def _cases(self, gap: _Gap) -> Iterator[Sequence[int]]:
        """The days it took, the nearest cases first."""
        if gap == "between_flushes_d":
            yield self.between_own_d
            yield from ([days for one in pool for days in one.took.between_flushes_d.values()] for pool in self.pools)
        else:
            yield from ([days for one in pool if (days := getattr(one.took, gap)) is not None] for pool in self.pools)

    @property
    def most_flushes(self) -> int:
        """How many flushes there are at most: by the nearest batches of which one was kept until spent, else by the
        tables."""
        pool = next((pool for pool in self.pools if any(one.is_spent for one in pool)), ())
        most = max((max(one.took.flushes, default=0) for one in pool), default=0)
        return min(most or getattr(self._usual, "flushes_most", None) or 1, MOST_FLUSHES)

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
    window, last = _next_window(run, prospect, gaps, awaited), last_flush(run)
    done = last.number if last else 0
    if window is None:
        return ()
    between = gaps.days("between_flushes_d")
    low, high = (timedelta(days=between.low), timedelta(days=between.high)) if between else (timedelta(), timedelta())
    masses = _masses_g(batch, run, crop, prospect, last, gaps.most_flushes)
    # what pins now is the next that is left; without pins the days are counted from the last flush with a number
    first = masses[0].flush if masses and pins_since_harvest(run) else done + 1
    return tuple(
        Coming(batch.id, one.flush, window[0] + at * low, window[1] + at * high, *one.mass_g, one.by, one.batches)
        for at, one in ((one.flush - first, one) for one in masses)
        if between or not at
    )


class _Mass(NamedTuple):
    flush: int
    mass_g: tuple[float, float, float]
    by: MassBy
    batches: int | None = None


def _masses_g(
    batch: Batch, run: Progress, crop: BatchYield, prospect: Prospect, last: LastFlush | None, most: int
) -> Sequence[_Mass]:
    """What each flush after the last may give: least, expected and most, up to flush `most`, at least of one. None
    where too little is known. *Rule:* `MASS_RULE`."""
    be, each = prospect.be_pct["all flushes"], prospect.flush_be_pct
    done = last.number if last else 0
    by_last = [_Mass(done + 1, (0.0, last.harvest_g / 2, last.harvest_g), "last flush")] if last else []
    picked_g = _picked_since_g(run, last)
    if run.nonzero_harvests and (be is None or be.basis == "few"):
        return _left_of(by_last, picked_g)
    if be is None or batch.dry_g is None or batch.units is None:
        return ()
    living: float = run.living or 0
    if be.basis in ("own", "few"):  # which have their losses in them; of a table's, what is lost already does not fruit
        lived = prospect.living[min(done, len(prospect.living) - 1)] if prospect.living else 1.0
        living = min(batch.units, living / lived) if lived else 0
    g_per_pct = batch.dry_g / 100 * living
    if each:
        left = each[done : max(min(most, len(each)), done + 1)]
        by_each = [
            _Mass(flush, _three_g(span, g_per_pct), "each flush", len(span.own))
            for flush, span in enumerate(left, done + 1)
        ]
        return _left_of(by_each or by_last, picked_g)
    if shares := prospect.flush_shares[done : max(most, done + 1)]:
        by_share = [
            _Mass(flush, _three_g(be, g_per_pct * share), "own shares") for flush, share in enumerate(shares, done + 1)
        ]
        return _left_of(by_share, picked_g)
    flushes = range(done + 1, max(most, done + 1) + 1)
    least_g, expected_g, most_g = (max(0.0, g - crop.harvest_g) / len(flushes) for g in _three_g(be, g_per_pct))
    return [_Mass(flush, (least_g, expected_g, most_g), "divided") for flush in flushes]


def _picked_since_g(run: Progress, last: LastFlush | None) -> float:
    """What was picked without a flush number after the day of the last harvest that has one, and is no flush of its own
    by its day."""
    if last and not last.is_numbered:
        return 0.0
    numbered = max((note.date.first for note in run.nonzero_harvests if note.flush is not None), default=date.min)
    return sum(note.harvest_g or 0 for note in run.nonzero_harvests if note.date.first > numbered)


def _left_of(masses: Iterable[_Mass], picked_g: float) -> Sequence[_Mass]:
    """What is left of them, the next first, when so much of them is picked. *Rule:* `MASS_RULE`."""
    left = []
    for one in masses:
        least_g, expected_g, most_g = one.mass_g
        if picked_g and expected_g - picked_g < _NOTHING_G:
            picked_g = max(0.0, picked_g - expected_g)
        else:
            left.append(one._replace(mass_g=(max(0.0, least_g - picked_g), expected_g - picked_g, most_g - picked_g)))
            picked_g = 0.0
    return left


def _three_g(be: Range, g_per_pct: float) -> tuple[float, float, float]:
    return be.low * g_per_pct, be.middle * g_per_pct, be.high * g_per_pct


def _next_window(run: Progress, prospect: Prospect, gaps: _Gaps, awaited: Expected | None) -> tuple[date, date] | None:
    """The days in which the next harvest may come: those in which it is awaited; where pins are, those days and what it
    takes from pins to harvest; where it is to colonise first, no earlier than that lets it. Never one day alone."""
    if awaited is None and run.nonzero_harvests:
        return None
    is_harvest = awaited is not None and awaited.what in ("harvest", "next flush")
    if awaited and is_harvest and awaited.to_day and awaited.to_day > awaited.from_day:
        return awaited.from_day, awaited.to_day
    to_harvest = gaps.days("harvest_after_pins_d") if awaited and awaited.what == "pins" else None
    if awaited and to_harvest and awaited.to_day:
        return _from(awaited.from_day, to_harvest)[0], _from(awaited.to_day, to_harvest)[1]
    found = _by_gaps(run, prospect, gaps)
    if found is None or awaited is None:
        return found
    steps: tuple[_Gap, ...] = ("pinning_after_move_d", "harvest_after_pins_d")  # from colonised, from pins
    left = {"colonised": steps, "pins": steps[1:]}.get(awaited.what, ())
    least_d = sum(days.low for gap in left if (days := gaps.days(gap)))
    start = awaited.from_day + timedelta(days=least_d)
    first = start if is_harvest or to_harvest else max(start, found[0])
    return first, first + (found[1] - found[0])


def _by_gaps(run: Progress, prospect: Prospect, gaps: _Gaps) -> tuple[date, date] | None:
    """The days in which the next harvest may come, from the last thing that was seen."""
    pins, last, moved = pins_since_harvest(run), last_flush(run), move_into_tent(run)
    to_harvest, moved_on = gaps.days("harvest_after_pins_d"), calendar_day(moved.date) if moved else None
    if pins and to_harvest and (day := calendar_day(pins.date)):
        return _from(day, to_harvest)
    if last:
        between = gaps.days("between_flushes_d")
        return _from(last.day, between) if last.day and between else None
    to_pins = gaps.days("pinning_after_move_d")
    if moved_on and to_pins and to_harvest:
        return _from(moved_on, Days(to_pins.low + to_harvest.low, to_pins.high + to_harvest.high))
    known = prospect.days["first flush"]
    days = Days(math.floor(known.low + _ROUNDING_D), math.ceil(known.high - _ROUNDING_D)) if known else None
    days = gaps.days("harvest_d", days)
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
