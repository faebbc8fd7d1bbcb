"""The air of a tent day by day, and how near it came to condensing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, tzinfo

from journal.reckoning.air_series import Series
from journal.reckoning.days import days_read
from journal.reckoning.in_band import Judged, Shares
from journal.reckoning.psychrometrics import dew_point_c, humidity_ratio_kg_kg, vapour_pressure_deficit_pa
from journal.reckoning.spread import Spread, spread_of

DAMPEST_RULE = (
    "the nearest that the air came to condensing is that of its dampest reading: a surface so much colder than the air "
    "was wet"
)


@dataclass(frozen=True, slots=True)
class Dampest:
    """The reading of the highest humidity, of several the coldest.

    dew_point_c: a surface at or below it got wet. margin_c: how much colder than the air that is, 0 in saturated air.
    """

    stamp_s: float
    temperature_c: float
    humidity_pct: float
    dew_point_c: float
    margin_c: float


@dataclass(frozen=True, slots=True)
class DayAir:
    """One calendar day of the journal's time zone; a reading belongs to the day on which it was made.

    temperature_c, humidity_pct: None where none was read. shares: of what the tent is to have; all 0 s where nothing is
    wanted. dew_point_c, deficit_pa, humidity_ratio_kg_kg: of air of the day's median temperature and humidity.
    """

    day: date
    temperature_c: Spread | None
    humidity_pct: Spread | None
    shares: Shares
    dew_point_c: float | None
    deficit_pa: float | None
    humidity_ratio_kg_kg: float | None
    dampest: Dampest | None


def days_of(judged: Judged, zone: tzinfo) -> tuple[DayAir, ...]:
    """Every day with a reading that counts, in order. zone: the journal's."""
    days = days_read(judged.series.stamps_s, zone)
    read = ((day, part, counted_in(judged.series, part)) for day, part in days)
    return tuple(_day(judged, day, part, counted) for day, part, counted in read if counted)


def counted_in(series: Series, part: range) -> list[int]:
    """The readings among some that count: not with the door open, nor of a logger that was stuck."""
    return [at for at in part if not (series.door_open[at] or series.stuck[at])]


def spreads_of(series: Series, counted: list[int]) -> tuple[Spread | None, Spread | None]:
    """Of temperature and of humidity."""
    temperature_c = spread_of([series.temperature_c[at] for at in counted])
    return temperature_c, spread_of([series.humidity_pct[at] for at in counted])


def dampest_of(series: Series, counted: list[int]) -> Dampest | None:
    """The reading that was nearest to condensing; None where temperature and humidity were never read together."""
    together = [
        (-series.humidity_pct[at], series.temperature_c[at], series.stamps_s[at])
        for at in counted
        if series.humidity_pct[at] == series.humidity_pct[at] and series.temperature_c[at] == series.temperature_c[at]
    ]
    if not together:
        return None
    negative_pct, temperature_c, stamp_s = min(together)
    dew_c = dew_point_c(temperature_c, -negative_pct)
    if dew_c is None:
        return None
    return Dampest(stamp_s, temperature_c, -negative_pct, dew_c, max(0.0, temperature_c - dew_c))


def _day(judged: Judged, day: date, part: range, counted: list[int]) -> DayAir:
    temperature_c, humidity_pct = spreads_of(judged.series, counted)
    median_c = temperature_c.median if temperature_c else None
    median_pct = humidity_pct.median if humidity_pct else None
    return DayAir(
        day=day,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
        shares=judged.shares(part),
        dew_point_c=dew_point_c(median_c, median_pct),
        deficit_pa=vapour_pressure_deficit_pa(median_c, median_pct),
        humidity_ratio_kg_kg=humidity_ratio_kg_kg(median_c, median_pct),
        dampest=None if judged.series.by_day else dampest_of(judged.series, counted),
    )
