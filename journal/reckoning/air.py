"""Is the air right: of each tent, day by day, and of each batch while it stood there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import tzinfo

from journal.model import Batch, Journal, Tent
from journal.reckoning.air_days import Dampest, DayAir, counted_in, dampest_of, days_of, spreads_of
from journal.reckoning.air_series import Series, series_of
from journal.reckoning.days import zone_of
from journal.reckoning.in_band import Judged, Shares, Wanted, share_reckoned, wanted_by, wanted_in
from journal.reckoning.reckoned import Reckoning
from journal.reckoning.spells import Spells, spells_in
from journal.reckoning.spread import Spread, spread_of
from journal.reckoning.stays import Stay, stays_of
from journal.reckoning.timing import Run, runs


@dataclass(frozen=True, slots=True, kw_only=True)
class TentAir:
    """The air of one tent over all its readings.

    shares: of time in band, out of it, and where nobody can tell; all 0 s where `no_share` says why there are none.
    share: that in band, with its reckoning. one_sided: a sentence where only one of the two bands is known.
    spells: None where nothing is wanted or read. dampest: the nearest that it came to condensing.
    """

    tent: Tent
    series: Series = field(repr=False)
    wanted: Wanted
    temperature_c: Spread | None
    humidity_pct: Spread | None
    shares: Shares
    share: Reckoning | None
    no_share: str | None
    one_sided: str | None
    spells: Spells | None
    dampest: Dampest | None
    days: tuple[DayAir, ...] = field(repr=False)

    @property
    def in_band_share(self) -> float | None:
        """0 to 1; None where `no_share` says why."""
        return self.shares.in_band

    @property
    def longest_out_h(self) -> float | None:
        """0 where there was no spell; None where nothing is wanted or read."""
        return self.spells.longest_out_h if self.spells else None


@dataclass(frozen=True, slots=True)
class StayAir:
    """One stay of a batch: what it wanted there, and which readings of that tent's series fall into it."""

    stay: Stay
    from_s: float
    until_s: float
    wanted: Wanted
    readings: range


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchAir:
    """The air of one batch over all its stays, as in `TentAir`; each stay held against what the batch wanted there."""

    batch: str
    stays: tuple[StayAir, ...]
    temperature_c: Spread | None
    humidity_pct: Spread | None
    shares: Shares
    no_share: str | None
    spells: Spells | None

    @property
    def in_band_share(self) -> float | None:
        return self.shares.in_band

    @property
    def longest_out_h(self) -> float | None:
        return self.spells.longest_out_h if self.spells else None


@dataclass(frozen=True, slots=True)
class Air:
    """tents, batches: by ID, as defined."""

    tents: Mapping[str, TentAir]
    batches: Mapping[str, BatchAir]


def air_of(
    journal: Journal, course: Mapping[str, Run] | None = None, series: Mapping[str, Series] | None = None
) -> Air:
    """The air of every tent and batch.

    course, series: `runs` and `series_of` of the same journal, where they are at hand.
    """
    course = course if course is not None else runs(journal)
    bench = _Bench(journal, series if series is not None else series_of(journal))
    tents = {tent.id: _tent_air(bench, tent) for tent in journal.settings.tents}
    return Air(tents, {batch.id: _batch_air(bench, batch, course[batch.id]) for batch in journal.batches})


class _Bench:
    """What the reckoning of one tent and of another batch share."""

    def __init__(self, journal: Journal, series: Mapping[str, Series]) -> None:
        self.zone: tzinfo = zone_of(journal.settings)
        self.tents = {tent.id: tent for tent in journal.settings.tents}
        self._series = series
        self._judged: dict[tuple[str, Wanted], Judged] = {}

    def judged(self, tent: Tent, wanted: Wanted) -> Judged:
        """Each tent's readings held against each band once."""
        key = (tent.id, wanted)
        if key not in self._judged:
            self._judged[key] = Judged(self._series.get(tent.id, Series()), wanted)
        return self._judged[key]


def _tent_air(bench: _Bench, tent: Tent) -> TentAir:
    wanted = wanted_in(tent)
    judged = bench.judged(tent, wanted)
    everything = range(len(judged.series))
    counted = counted_in(judged.series, everything)
    temperature_c, humidity_pct = spreads_of(judged.series, counted)
    shares = judged.shares(everything)
    by_day = judged.series.by_day
    return TentAir(
        tent=tent,
        series=judged.series,
        wanted=wanted,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
        shares=shares,
        share=share_reckoned(shares, wanted),
        no_share=_no_share(shares, bool(everything), bool(counted), wanted.is_known, "in it", by_day),
        one_sided=wanted.one_sided,
        spells=spells_in(judged, everything) if shares.all_s else None,
        dampest=None if by_day else dampest_of(judged.series, counted),
        days=days_of(judged, bench.zone),
    )


def _batch_air(bench: _Bench, batch: Batch, run: Run) -> BatchAir:
    stays = [(stay, bench.tents[stay.tent]) for stay in stays_of(batch, run) if stay.tent in bench.tents]
    parts = [_stay_air(bench, batch, stay, tent) for stay, tent in stays]
    readings = [(judged.series, at) for judged, part in parts for at in counted_in(judged.series, part.readings)]
    shares = sum((judged.shares(part.readings) for judged, part in parts), Shares())
    wanted = any(part.wanted.is_known for _, part in parts)
    is_read, by_day = any(part.readings for _, part in parts), any(judged.series.by_day for judged, _ in parts)
    no_share = _no_share(shares, is_read, bool(readings), wanted, "where it stood", by_day)
    return BatchAir(
        batch=batch.id,
        stays=tuple(part for _, part in parts),
        temperature_c=spread_of([series.temperature_c[at] for series, at in readings]),
        humidity_pct=spread_of([series.humidity_pct[at] for series, at in readings]),
        shares=shares,
        no_share=no_share if stays else "no entry says in which tent or room it stood, and from which day",
        spells=sum((spells_in(judged, part.readings) for judged, part in parts), Spells()) if shares.all_s else None,
    )


def _stay_air(bench: _Bench, batch: Batch, stay: Stay, tent: Tent) -> tuple[Judged, StayAir]:
    wanted = wanted_by(batch, tent)
    judged = bench.judged(tent, wanted)
    from_s, until_s = stay.span_s(bench.zone)
    return judged, StayAir(stay, from_s, until_s, wanted, judged.series.between(from_s, until_s))


def _no_share(shares: Shares, is_read: bool, is_counted: bool, is_wanted: bool, where: str, by_day: bool) -> str | None:
    """Why there is no share in band, a sentence without its full stop; None where there is one."""
    if shares.all_s:
        return None
    if by_day and is_read:
        return "the air is told by the day here, and a day's medians bear no share of its time"
    if not is_read:
        return f"the air was not read {where}, or without a time of day"
    if not is_wanted:
        return f"neither a humidity nor a temperature is wanted {where}"
    if not is_counted:
        return f"all that was read {where} was read with the door open, or by a logger that was stuck"
    return f"what is wanted {where} was not read: a humidity alone, or a temperature alone"
