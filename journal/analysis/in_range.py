"""Whether the climate was in range: the verdict on each reading, shares of time, and periods out of range."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from itertools import accumulate
from math import inf
from typing import Literal

from journal.analysis.calculation import Amount, Calculation, figure
from journal.analysis.readings import READING_LASTS_AT_MOST_S, READING_LASTS_RULE, Series
from journal.analysis.statistics import Summary, summary_of
from journal.model import Batch
from journal.settings import Tent, ValueRange

Verdict = Literal["in", "out", "cannot tell", "not counted"]
_SHARED: tuple[Verdict, ...] = ("in", "out", "cannot tell")
_DECIMALS = 6
_Side = Literal["in", "out", "cannot tell", "unread", "not wanted"]

SHARE_FORMULA = "share in range = time with temperature and humidity both in range / all time with readings"
SHARE_SOURCE = (
    f"common practice; {READING_LASTS_RULE}. Outside every share: readings with the door open, and those of a logger "
    "that was stuck. A humidity nearer to the range's edge than the logger is accurate is neither in nor out"
)


@dataclass(frozen=True, slots=True)
class TargetRanges:
    """The target ranges, in % and °C, both ends included; if one of the two is None, only the other counts."""

    humidity_pct: ValueRange | None
    temperature_c: ValueRange | None

    @property
    def is_known(self) -> bool:
        return self.humidity_pct is not None or self.temperature_c is not None

    @property
    def one_sided(self) -> str | None:
        """A sentence if only one of the two counts, without its full stop."""
        is_one_sided = (self.humidity_pct is None) != (self.temperature_c is None)
        lacks, has = ("humidity", "temperature") if self.humidity_pct is None else ("temperature", "humidity")
        return f"no {lacks} is wanted, so the {has} decides alone" if is_one_sided else None


def wanted_in(tent: Tent) -> TargetRanges:
    """The range that the settings give for a tent."""
    return TargetRanges(tent.humidity_pct, tent.temperature_c)


def wanted_while_colonising(batch: Batch) -> TargetRanges:
    """A batch's range until it is colonised; none unless it states one, because a tent's range is for fruiting."""
    return TargetRanges(batch.wants_humidity_while_colonising_pct, batch.wants_temperature_while_colonising_c)


def wanted_by(batch: Batch, tent: Tent) -> TargetRanges:
    """A batch's own range, and its tent's where the batch states none."""
    humidity_pct, temperature_c = batch.wants_humidity_pct, batch.wants_temperature_c
    return TargetRanges(humidity_pct or tent.humidity_pct, temperature_c or tent.temperature_c)


@dataclass(frozen=True, slots=True)
class Shares:
    """Time with readings, in seconds: in range, out of range, and too close to call given the logger's accuracy; and of
    the last, how long the humidity reading was above its range, and below it."""

    in_s: float = 0.0
    out_s: float = 0.0
    unsure_s: float = 0.0
    above_s: float = 0.0
    below_s: float = 0.0

    @property
    def all_s(self) -> float:
        return self.in_s + self.out_s + self.unsure_s

    @property
    def in_range(self) -> float | None:
        """Share of all time with readings, 0 to 1; None if there is no such time. The same for the other two."""
        return self._share(self.in_s)

    @property
    def in_range_at_most(self) -> float | None:
        """The same including time too close to call; the true share is between the two."""
        return self._share(self.in_s + self.unsure_s)

    @property
    def out(self) -> float | None:
        return self._share(self.out_s)

    @property
    def cannot_tell(self) -> float | None:
        return self._share(self.unsure_s)

    def _share(self, part_s: float) -> float | None:
        return part_s / self.all_s if self.all_s > 0 else None

    def __add__(self, other: Shares) -> Shares:
        return Shares(
            self.in_s + other.in_s,
            self.out_s + other.out_s,
            self.unsure_s + other.unsure_s,
            self.above_s + other.above_s,
            self.below_s + other.below_s,
        )


def share_calculated(shares: Shares, wanted: TargetRanges) -> Calculation | None:
    """The share in range in %, with what it was calculated from; None if there was no time with readings."""
    if shares.in_range is None:
        return None
    bands: list[tuple[str, Amount | str]] = []
    for what, band, unit in (("humidity", wanted.humidity_pct, "%"), ("temperature", wanted.temperature_c, "°C")):
        if band is not None:
            bands += [(f"{what} wanted, from", Amount(band.low, unit)), (f"{what} wanted, to", Amount(band.high, unit))]
    times = (("in range", shares.in_s), ("out of range", shares.out_s), ("too close to call", shares.unsure_s))
    inputs = (*bands, *((name, figure(spent_s / 3600, "h")) for name, spent_s in times))
    return Calculation(shares.in_range * 100, "%", inputs, SHARE_FORMULA, SHARE_SOURCE)


class Judged:
    """The readings of a tent compared with its range, once, so that any part of them is summed up quickly. unwanted_s:
    periods, in seconds since 1970-01-01T00:00Z, in which no range applies."""

    def __init__(self, series: Series, wanted: TargetRanges, unwanted_s: Iterable[tuple[float, float]] = ()) -> None:
        self.series = series
        self.wanted = wanted
        found = list(verdicts(series, wanted))
        for from_s, until_s in unwanted_s:
            for at in series.between(from_s, until_s):
                found[at] = "not counted"
        self.verdicts = tuple(found)

    def shares(self, part: range) -> Shares:
        """The shares of some neighbouring readings."""
        return Shares(*(sums[part.stop] - sums[part.start] for sums in self._sums))

    @cached_property
    def _sums(self) -> tuple[Sequence[float], ...]:
        """For each field of `Shares` the time up to each reading."""
        readings = list(zip(self.series.weights_s, self.verdicts, strict=True))
        times = [[time_s if verdict == asked else 0.0 for time_s, verdict in readings] for asked in _SHARED]
        band = self.wanted.humidity_pct or ValueRange(-inf, inf)
        unsure = list(zip(times[-1], self.series.humidity_pct, strict=True))
        times.append([time_s if humidity_pct > band.high else 0.0 for time_s, humidity_pct in unsure])
        times.append([time_s if humidity_pct < band.low else 0.0 for time_s, humidity_pct in unsure])
        return tuple(list(accumulate(times_s, initial=0.0)) for times_s in times)

    def runs_out(self, part: range) -> list[range]:
        """The periods out of range within `part`, in order; any other verdict, or an hour without readings, ends
        one."""
        first = bisect_left(self._runs_out, part.start, key=lambda run: run.stop - 1)
        clipped = (
            range(max(run.start, part.start), min(run.stop, part.stop))
            for run in self._runs_out[first:]
            if run.start < part.stop
        )
        return [run for run in clipped if run]

    @cached_property
    def _runs_out(self) -> list[range]:
        runs: list[range] = []
        stamps_s = self.series.stamps_s
        for at, verdict in enumerate(self.verdicts):
            if verdict != "out":
                continue
            if runs and runs[-1].stop == at and stamps_s[at] - stamps_s[at - 1] <= 2 * READING_LASTS_AT_MOST_S:
                runs[-1] = range(runs[-1].start, at + 1)
            else:
                runs.append(range(at, at + 1))
        return runs


def verdicts(series: Series, wanted: TargetRanges) -> tuple[Verdict, ...]:
    """The verdict on each reading. It is out of range if a known value is out of its range; in range if both (or the
    only one with a range) are in theirs; otherwise too close to call: a humidity nearer to an edge than its accuracy,
    or a missing value. Not counted: readings with the door open, of a stuck logger, without any value that has a range,
    or while no range applies."""
    humidities = zip(series.humidity_pct, series.accuracy_pct, strict=True)
    sides = zip(
        (_humidity_side(humidity_pct, accuracy_pct, wanted.humidity_pct) for humidity_pct, accuracy_pct in humidities),
        (_temperature_side(celsius, wanted.temperature_c) for celsius in series.temperature_c),
        strict=True,
    )
    not_counted: Verdict = "not counted"
    return tuple(
        not_counted if is_open or is_stuck else _verdict(*both)
        for is_open, is_stuck, both in zip(series.door_open, series.stuck, sides, strict=True)
    )


@cache
def _verdict(*sides: _Side) -> Verdict:
    wanted = set(sides) - {"not wanted"}
    if "out" in wanted:
        return "out"
    if wanted <= {"unread"}:
        return "not counted"
    return "in" if wanted == {"in"} else "cannot tell"


def _humidity_side(humidity_pct: float, accuracy_pct: float, band: ValueRange | None) -> _Side:
    """The true value is between the reading minus its accuracy and the reading plus its accuracy, within 0 to 100 %."""
    if band is None:
        return "not wanted"
    if humidity_pct != humidity_pct:
        return "unread"
    least_pct, most_pct = _possible(humidity_pct, accuracy_pct)
    if band.low <= least_pct and most_pct <= band.high:
        return "in"
    return "out" if most_pct < band.low or least_pct > band.high else "cannot tell"


def _possible(humidity_pct: float, accuracy_pct: float) -> tuple[float, float]:
    """The lowest and highest possible true humidity. Rounded, so that 92.3 minus 2.3 is exactly 90."""
    return (
        max(0.0, round(humidity_pct - accuracy_pct, _DECIMALS)),
        min(100.0, round(humidity_pct + accuracy_pct, _DECIMALS)),
    )


def _temperature_side(celsius: float, band: ValueRange | None) -> _Side:
    if band is None:
        return "not wanted"
    return "unread" if celsius != celsius else "in" if band.low <= celsius <= band.high else "out"


SHORT_SWING_AT_MOST_S = 1800.0
_FEWEST_READINGS = 2
"""One reading does not make a period: nobody knows how long it lasted."""

PERIOD_RULE = (
    "out of range for more than 30 min together, in two readings or more, is a period out of range; else it is a short "
    "swing (common practice); for this, a reading beside a time without any stands for as long on that side as on "
    "its other; a reading that is too close to call, not counted or missing ends either"
)

LONGEST_FORMULA = "the longest period = the time for which its readings stand, from the first out of range to the last"

Side = Literal["too dry", "too damp", "too cold", "too warm"]


@dataclass(frozen=True, slots=True)
class PeriodOut:
    """A period out of range, in seconds since 1970-01-01T00:00Z: the time for which its readings stand. sides: in which
    ways, each once, in order. humidity, temperature: the readings in it."""

    from_s: float
    until_s: float
    sides: tuple[Side, ...]
    humidity_pct: Summary | None
    temperature_c: Summary | None

    @property
    def hours(self) -> float:
        return (self.until_s - self.from_s) / 3600


@dataclass(frozen=True, slots=True)
class PeriodsOut:
    """periods: in order of time. swings, swings_h: how many short swings, and how long all together."""

    periods: tuple[PeriodOut, ...] = ()
    swings: int = 0
    swings_h: float = 0.0

    @property
    def longest(self) -> PeriodOut | None:
        """The longest period, of several the first."""
        return max(self.periods, key=lambda period: period.hours, default=None)

    @property
    def longest_out_h(self) -> float:
        """How long the longest period was; 0 if there was none, regardless of short swings."""
        return self.longest.hours if self.longest else 0.0

    def __add__(self, other: PeriodsOut) -> PeriodsOut:
        return PeriodsOut(self.periods + other.periods, self.swings + other.swings, self.swings_h + other.swings_h)


def longest_calculated(periods: PeriodsOut) -> Calculation:
    """How long the longest period was, in h, with what it was chosen from; 0 if there was none."""
    lengths = sorted((period.hours for period in periods.periods), reverse=True)
    inputs: list[tuple[str, Amount | str]] = [("periods out of range", str(len(lengths)))]
    if len(lengths) > 1:
        inputs.append(("the next longest", Amount(lengths[1], "h")))
    inputs += [("short swings", str(periods.swings)), ("short swings, all together", Amount(periods.swings_h, "h"))]
    return Calculation(periods.longest_out_h, "h", tuple(inputs), LONGEST_FORMULA, PERIOD_RULE)


def periods_out_of(judged: Judged, part: range) -> PeriodsOut:
    """The periods out and short swings among some neighbouring readings; one that reaches beyond them is cut there."""
    series, real, swings_s = judged.series, [], []
    for run in judged.runs_out(part):
        first, span = run[0], slice(run.start, run.stop)
        since_last_s = series.stamps_s[first] - series.stamps_s[first - 1] if first else inf
        from_s = series.stamps_s[first] - min(READING_LASTS_AT_MOST_S, since_last_s / 2)
        until_s = from_s + sum(series.weights_s[span])
        if len(run) < _FEWEST_READINGS or _out_for_s(series.stamps_s, run) <= SHORT_SWING_AT_MOST_S:
            swings_s.append(until_s - from_s)
            continue
        humidity_pct, temperature_c = summary_of(series.humidity_pct[span]), summary_of(series.temperature_c[span])
        real.append(PeriodOut(from_s, until_s, sides_out(judged, run), humidity_pct, temperature_c))
    return PeriodsOut(tuple(real), len(swings_s), sum(swings_s) / 3600)


def _out_for_s(stamps_s: Sequence[float], run: range) -> float:
    """How long it was out of range according to neighbouring readings. The first and last readings of a logger's file
    are mostly taken with the door open, and the half hour for which they stand beyond the file would make each a
    period."""
    first, last = run[0], run[-1]
    sides_s = []
    for beyond, within in ((first - 1, first), (last, last - 1)):
        halves_s = (_half_gap_s(stamps_s, beyond), _half_gap_s(stamps_s, within), READING_LASTS_AT_MOST_S)
        sides_s.append(next(half_s for half_s in halves_s if half_s is not None))
    return stamps_s[last] - stamps_s[first] + sum(sides_s)


def _half_gap_s(stamps_s: Sequence[float], at: int) -> float | None:
    """Half the time from a reading to the next; None if there is none within an hour."""
    if not 0 <= at < len(stamps_s) - 1:
        return None
    half_s = (stamps_s[at + 1] - stamps_s[at]) / 2
    return half_s if half_s <= READING_LASTS_AT_MOST_S else None


def sides_out(judged: Judged, run: Iterable[int]) -> tuple[Side, ...]:
    """In which ways some readings are out of range, each once, as they come."""
    return tuple(dict.fromkeys(_sides(judged, run)))


def _sides(judged: Judged, run: Iterable[int]) -> Iterator[Side]:
    series, humidity, temperature = judged.series, judged.wanted.humidity_pct, judged.wanted.temperature_c
    for at in run:
        least_pct, most_pct = _possible(series.humidity_pct[at], series.accuracy_pct[at])
        if humidity and most_pct < humidity.low:
            yield "too dry"
        if humidity and least_pct > humidity.high:
            yield "too damp"
        if temperature and series.temperature_c[at] < temperature.low:
            yield "too cold"
        if temperature and series.temperature_c[at] > temperature.high:
            yield "too warm"
