"""The climate of each tent, day by day, and of each batch while it was there."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta, tzinfo
from functools import cache
from math import inf, isnan
from typing import Literal

from journal.analysis import in_range, psychrometrics
from journal.analysis.calculation import Calculation
from journal.analysis.calendar import days_read, midnight_s, zone_of
from journal.analysis.in_range import Judged, PeriodsOut, Shares, TargetRanges
from journal.analysis.progress import Progress, calendar_day, colonises_until
from journal.analysis.readings import LeftOut, Series
from journal.analysis.statistics import Summary, summary_of
from journal.model import Batch, Journal, When
from journal.settings import Tent


@dataclass(frozen=True, slots=True)
class Dampest:
    """The reading with the highest humidity; of several, the coldest. dew_point_c: a surface at or below it got wet.
    margin_c: how much colder than the air that is, 0 in saturated air."""

    stamp_s: float
    temperature_c: float
    humidity_pct: float
    dew_point_c: float
    margin_c: float


@dataclass(frozen=True, slots=True)
class DayClimate:
    """One calendar day of the journal's time zone; a reading belongs to the day on which it was made. temperature_c,
    humidity_pct: None if there are no readings. shares: compared with the tent's range; all 0 s without a range.
    dew_point_c, deficit_pa, humidity_ratio_kg_kg: of air at the day's median temperature and humidity."""

    day: date
    temperature_c: Summary | None
    humidity_pct: Summary | None
    shares: Shares
    dew_point_c: float | None
    deficit_pa: float | None
    humidity_ratio_kg_kg: float | None
    dampest: Dampest | None


def days_of(judged: Judged, zone: tzinfo, pressure_pa: float) -> tuple[DayClimate, ...]:
    """Every day with a reading that counts, in order. zone: the journal's. pressure_pa: of the air."""
    days = []
    for day, part in days_read(judged.series.stamps_s, zone):
        counted = counted_in(judged.series, part)
        if not counted:
            continue
        temperature_c, humidity_pct = spreads_of(judged.series, counted)
        median_c, median_pct = (summary.median if summary else None for summary in (temperature_c, humidity_pct))
        days.append(
            DayClimate(
                day=day,
                temperature_c=temperature_c,
                humidity_pct=humidity_pct,
                shares=judged.shares(part),
                dew_point_c=psychrometrics.dew_point_c(median_c, median_pct),
                deficit_pa=psychrometrics.vapour_pressure_deficit_pa(median_c, median_pct),
                humidity_ratio_kg_kg=psychrometrics.humidity_ratio_kg_kg(median_c, median_pct, pressure_pa),
                dampest=None if judged.series.by_day else dampest_of(judged.series, counted),
            )
        )
    return tuple(days)


def counted_in(series: Series, part: range) -> list[int]:
    """Those readings that count: not with the door open, and not from a stuck logger."""
    return [at for at in part if not (series.door_open[at] or series.stuck[at])]


def spreads_of(series: Series, counted: list[int]) -> tuple[Summary | None, Summary | None]:
    """Of temperature and of humidity."""
    temperature_c = summary_of([series.temperature_c[at] for at in counted])
    return temperature_c, summary_of([series.humidity_pct[at] for at in counted])


def dampest_of(series: Series, counted: list[int]) -> Dampest | None:
    """The reading that was nearest to condensation; None if temperature and humidity were never read together."""
    readings = ((-series.humidity_pct[at], series.temperature_c[at], series.stamps_s[at]) for at in counted)
    together = [reading for reading in readings if not any(map(isnan, reading))]
    if not together:
        return None
    negative_pct, temperature_c, stamp_s = min(together)
    dew_c = psychrometrics.dew_point_c(temperature_c, -negative_pct)
    if dew_c is None:
        return None
    return Dampest(stamp_s, temperature_c, -negative_pct, dew_c, max(0.0, temperature_c - dew_c))


@dataclass(frozen=True, slots=True)
class Location:
    """A batch's time in one tent or room. tent: its ID, as defined. from_day, until_day: the first day, and the day on
    which it left (None: it is still there). from_s, until_s: the moments, in seconds since 1970-01-01T00:00Z, if a time
    of day was written. left_by: "moved" elsewhere, or "over" (spent, discarded or all lost); None while it is there."""

    tent: str
    from_day: date
    from_s: float | None = None
    until_day: date | None = None
    until_s: float | None = None
    left_by: Literal["moved", "over"] | None = None

    def span_s(self, zone: tzinfo) -> tuple[float, float]:
        """Start (included) and end (excluded), in seconds since 1970-01-01T00:00Z; infinite while it is there. zone:
        the journal's. Without a time of day, it came or left at the start of the day, and was over at its end."""
        from_s = midnight_s(self.from_day, zone) if self.from_s is None else self.from_s
        if self.until_s is not None or self.until_day is None:
            return from_s, inf if self.until_s is None else self.until_s
        last_day = self.until_day + timedelta(days=1) if self.left_by == "over" else self.until_day
        return from_s, midnight_s(last_day, zone)


def locations_of(batch: Batch, progress: Progress) -> tuple[Location, ...]:
    """The locations of a batch, in order: from day 0 in the tent it started in, then after each move of the whole. No
    location if no tent is named. A batch that was moved on an inexact day (`2026-10`, `about 2026-10-03`) left on the
    first day that can mean, and its place is unknown until it is moved again; the same if it was moved to an unknown
    place. A batch that is over has no location. progress: of the same batch."""
    inoculated = next((note.date for note in progress.whole_notes if note.stage == "inoculated"), None)
    arrivals = [(inoculated or batch.date, batch.tent), *((note.date, note.moved_to) for note in progress.departures)]
    locations: list[Location] = []
    for when, tent in arrivals:
        if locations and locations[-1].until_day is None:
            if tent == locations[-1].tent and calendar_day(when):
                continue
            locations[-1] = _left(locations[-1], when, "moved")
        if tent and calendar_day(when):
            locations.append(Location(tent, when.first, when.moment.timestamp() if when.moment else None))
    last_loss = progress.losses[-1] if progress.is_all_lost and progress.losses else None
    last = progress.ended_by or last_loss
    return tuple(_until_over(locations, last.date) if last else locations)


def _until_over(locations: list[Location], over: When) -> Iterator[Location]:
    """The locations up to the moment at which it was over, without those that begin later."""
    for location in locations:
        if location.until_day is not None and location.until_day <= over.first:
            yield location
        elif location.from_day <= over.first:
            yield _left(replace(location, until_day=None, until_s=None), over, "over")


def _left(location: Location, when: When, how: Literal["moved", "over"]) -> Location:
    until_s = when.moment.timestamp() if when.moment else None
    return replace(location, until_day=when.first, until_s=until_s, left_by=how)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredClimate:
    """The climate over a number of readings. shares: of time in range, out of range, and too close to call; all 0 s if
    `no_share` says why there are none. out_of_range: None without a range or readings. days_read, days_spanned: the
    number of days with readings that count, and of all days that the shares stand for."""

    temperature_c: Summary | None
    humidity_pct: Summary | None
    shares: Shares
    no_share: str | None
    out_of_range: PeriodsOut | None
    days_read: int
    days_spanned: int

    @property
    def in_range_share(self) -> float | None:
        """0 to 1; None if `no_share` says why there is none."""
        return self.shares.in_range

    @property
    def longest_out_h(self) -> float | None:
        """0 if there was no period out of range; None without a range or readings."""
        return self.out_of_range.longest_out_h if self.out_of_range else None


@dataclass(frozen=True, slots=True, kw_only=True)
class TentClimate(MeasuredClimate):
    """The climate of one tent over all its readings. share: in range, with its calculation. one_sided: a sentence if
    only one of the two ranges is known. dampest: the reading nearest to condensation."""

    tent: Tent
    series: Series = field(repr=False)
    wanted: TargetRanges
    share: Calculation | None
    one_sided: str | None
    dampest: Dampest | None
    days: tuple[DayClimate, ...] = field(repr=False)


@dataclass(frozen=True, slots=True)
class LocationClimate:
    """A period of a batch at one location: its range there, which readings of that tent's series fall into it, and
    whether it still colonised. A location where it was colonised makes two of these, because its range changes then."""

    location: Location
    from_s: float
    until_s: float
    wanted: TargetRanges
    readings: range
    colonises: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchClimate(MeasuredClimate):
    """The climate of one batch over all its locations, each compared with its range there. left_out: values read there
    that no tent has."""

    batch: str
    locations: tuple[LocationClimate, ...]
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True, slots=True)
class Climate:
    """tents, batches: by ID, as defined. colonising_s: for each tent the periods, in seconds since 1970-01-01T00:00Z,
    in which everything in it was colonising, so that its range did not apply."""

    tents: Mapping[str, TentClimate]
    batches: Mapping[str, BatchClimate]
    colonising_s: Mapping[str, tuple[tuple[float, float], ...]]


def climate_of(journal: Journal, progress: Mapping[str, Progress], series: Mapping[str, Series]) -> Climate:
    """The climate of every tent and batch. series: the readings of each tent."""
    zone = zone_of(journal.settings)
    tents = {tent.id: tent for tent in journal.settings.tents}

    @cache
    def judge(tent: str, wanted: TargetRanges) -> Judged:  # each tent's readings with each range once
        return Judged(series.get(tent, Series()), wanted)

    batches = {batch.id: _batch_air(batch, progress[batch.id], tents, judge, zone) for batch in journal.batches}
    colonising_s = _colonising_in(tents, journal.batches, progress, zone)
    airs = {}
    for id, tent in tents.items():
        wanted = in_range.wanted_in(tent)
        none_s = colonising_s[id]
        judged = Judged(series.get(id, Series()), wanted, none_s) if none_s else judge(id, wanted)
        days = days_of(judged, zone, psychrometrics.air_pressure_pa(journal.settings.elevation_m))
        airs[id] = _tent_air(tent, judged, bool(none_s), days)
    return Climate(airs, batches, colonising_s)


def _times(progress: Progress, location: Location, zone: tzinfo) -> Iterator[tuple[float, float, bool]]:
    """A location's time, split when the batch was colonised: from, until, and whether it was colonising."""
    from_s, until_s = location.span_s(zone)
    until = colonises_until(progress)
    cut_s = from_s if until is None else inf if until == date.max else midnight_s(until, zone)
    if from_s < min(cut_s, until_s):
        yield from_s, min(cut_s, until_s), True
    if cut_s < until_s:
        yield max(cut_s, from_s), until_s, False


def _colonising_in(
    tents: Iterable[str], batches: Iterable[Batch], progress: Mapping[str, Progress], zone: tzinfo
) -> dict[str, tuple[tuple[float, float], ...]]:
    """For each tent, when something was in it and all of it was colonising."""
    changes: dict[str, list[tuple[float, int, bool]]] = {id: [] for id in tents}
    for batch in batches:
        for location in locations_of(batch, progress[batch.id]):
            for from_s, until_s, colonises in _times(progress[batch.id], location, zone):
                if location.tent in changes:
                    changes[location.tent] += [(from_s, 1, colonises), (until_s, -1, colonises)]
    return {id: tuple(_alone(sorted(rows))) for id, rows in changes.items()}


def _alone(changes: Iterable[tuple[float, int, bool]]) -> Iterator[tuple[float, float]]:
    """changes: something comes (1) or leaves (-1) at a moment, and whether it is colonising, in order of time."""
    there = {True: 0, False: 0}
    began_s = None
    for at_s, more, colonises in changes:
        if began_s is not None and at_s > began_s:
            yield began_s, at_s
        there[colonises] += more
        began_s = at_s if there[True] and not there[False] else None


def _tent_air(tent: Tent, judged: Judged, has_colonised: bool, days: tuple[DayClimate, ...]) -> TentClimate:
    everything = range(len(judged.series))
    counted = counted_in(judged.series, everything)
    temperature_c, humidity_pct = spreads_of(judged.series, counted)
    spanned = (days[-1].day - days[0].day).days + 1 if days else 0
    shares = judged.shares(everything) if _covers(len(days), spanned) else Shares()
    wanted, by_day = judged.wanted, judged.series.by_day
    no_share = _no_share(shares, bool(everything), (len(days), spanned), wanted.is_known, "in it", by_day)
    if no_share and wanted.is_known and has_colonised and days and "not counted" in judged.verdicts:
        no_share = "everything in it while it was read was colonising, and its range is for fruiting"
    return TentClimate(
        tent=tent,
        series=judged.series,
        wanted=wanted,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
        shares=shares,
        share=in_range.share_calculated(shares, wanted),
        no_share=no_share,
        one_sided=wanted.one_sided,
        out_of_range=in_range.periods_out_of(judged, everything) if shares.all_s else None,
        dampest=None if by_day else dampest_of(judged.series, counted),
        days=days,
        days_read=len(days),
        days_spanned=spanned,
    )


def _batch_air(
    batch: Batch,
    progress: Progress,
    tents: Mapping[str, Tent],
    judge: Callable[[str, TargetRanges], Judged],
    zone: tzinfo,
) -> BatchClimate:
    parts: list[tuple[Judged, LocationClimate]] = []
    for location in locations_of(batch, progress):
        if location.tent in tents:
            for from_s, until_s, colonises in _times(progress, location, zone):
                fruiting = in_range.wanted_by(batch, tents[location.tent])
                wanted = in_range.wanted_while_colonising(batch) if colonises else fruiting
                judged = judge(location.tent, wanted)
                readings = judged.series.between(from_s, until_s)
                parts.append((judged, LocationClimate(location, from_s, until_s, wanted, readings, colonises)))
    counted = [(judged.series, at) for judged, part in parts for at in counted_in(judged.series, part.readings)]
    read = {day for judged, part in parts for day in _days_counted(judged.series, part.readings, zone)}
    known = max([*read, *(note.date.first for note in progress.notes)], default=date.min)
    covered = len(read), len({day for _, part in parts for day in _days_there(part.location, known, read)})
    shares = sum((judged.shares(part.readings) for judged, part in parts), Shares()) if _covers(*covered) else Shares()
    is_wanted = any(part.wanted.is_known for _, part in parts)
    is_read, by_day = any(part.readings for _, part in parts), any(judged.series.by_day for judged, _ in parts)
    no_share = _no_share(shares, is_read, covered, is_wanted, "where it was", by_day)
    is_unjudged = all(part.colonises and not part.wanted.is_known for _, part in parts if part.readings)
    if no_share and is_read and not by_day and is_unjudged:
        no_share = "it was colonising while the air was read, and no range is given for that"
    periods = (in_range.periods_out_of(judged, part.readings) for judged, part in parts)
    return BatchClimate(
        batch=batch.id,
        locations=tuple(part for _, part in parts),
        left_out=tuple(row for one, at in parts for row in one.series.left_out_between(at.from_s, at.until_s)),
        temperature_c=summary_of(series.temperature_c[at] for series, at in counted),
        humidity_pct=summary_of(series.humidity_pct[at] for series, at in counted),
        shares=shares,
        no_share=no_share if parts else "no entry says in which tent or room it was, and from which day",
        out_of_range=sum(periods, PeriodsOut()) if shares.all_s else None,
        days_read=covered[0],
        days_spanned=covered[1],
    )


def _days_counted(series: Series, part: range, zone: tzinfo) -> Iterator[date]:
    """The days with readings of `part` that count."""
    stamps_s = series.stamps_s[part.start : part.stop]
    for day, within in days_read(stamps_s, zone):
        if counted_in(series, range(part.start + within.start, part.start + within.stop)):
            yield day


def _days_there(location: Location, known: date, read: Container[date]) -> Iterator[date]:
    """The days on which it was there, up to the last with a reading or a note about it; the day of leaving only if
    there are readings."""
    last = location.until_day or max(known, location.from_day)
    for at in range((last - location.from_day).days + 1):
        day = location.from_day + timedelta(days=at)
        if day != location.until_day or day in read or day == location.from_day:
            yield day


LEAST_COVERED = 0.2
"""If there are readings on fewer of the days, no share of time is given."""


def _covers(days_read: int, days_spanned: int) -> bool:
    return days_read >= LEAST_COVERED * days_spanned


def _no_share(
    shares: Shares, is_read: bool, covered: tuple[int, int], is_wanted: bool, where: str, by_day: bool
) -> str | None:
    """Why there is no share in range, a sentence without its full stop; None if there is one. covered: days with
    readings, and all days."""
    if shares.all_s:
        return None
    if by_day and is_read:
        return "the air is known by the day here, and a day's medians give no share of its time"
    if not is_read:
        return f"the air was not read {where}, or without a time of day, or with values that no tent has"
    if not is_wanted:
        return f"neither a humidity nor a temperature is wanted {where}"
    if covered[0] and not _covers(*covered):
        return f"the air was read on {covered[0]} of {covered[1]} days {where}, too few to give a share"
    if not covered[0]:
        return f"all that was read {where} was read with the door open, or by a logger that was stuck"
    return f"what is wanted {where} was not read: a humidity alone, or a temperature alone"
