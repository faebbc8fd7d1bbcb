"""The last that was read of a tent's air, by a logger or by eye, and how it lies to what is wanted there."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from math import nan

from journal.model import Journal, Tent, TentEntry, When
from journal.reckoning.air_series import STANDS_FOR_AT_MOST_S, Series
from journal.reckoning.due import entries_about
from journal.reckoning.in_band import Judged, Verdict, Wanted, verdicts, wanted_in
from journal.reckoning.psychrometrics import dew_point_c
from journal.reckoning.spells import Side, spells_in


@dataclass(frozen=True, slots=True)
class LastReading:
    """One reading, or a day's medians: `when` then tells no time of day. humidity, temperature: how each lies to its
    band, None where it was not read or none is wanted.

    accuracy_pct: how far the humidity may be off, None where nobody said. sides: in which ways it is out of band.
    """

    when: When
    by_eye: bool
    door_open: bool
    humidity_pct: float | None
    temperature_c: float | None
    accuracy_pct: float | None
    verdict: Verdict
    humidity: Verdict | None
    temperature: Verdict | None
    sides: tuple[Side, ...]

    @property
    def dew_point_c(self) -> float | None:
        """The temperature at and below which a surface would be wet; None where the two were not read together."""
        return dew_point_c(self.temperature_c, self.humidity_pct)


@dataclass(frozen=True, slots=True)
class LastReadings:
    """counted: the latest read with the door shut, or not said, by a logger that was not stuck. uncounted: the latest
    with the door open, where it is later."""

    counted: LastReading | None = None
    uncounted: LastReading | None = None


def last_readings(journal: Journal, tent: Tent, series: Series, zone: tzinfo) -> LastReadings:
    """The last readings of a tent. series: its own. zone: the journal's.

    A reading by eye with no time of day is taken for the first of its day.
    """
    wanted = wanted_in(tent)
    rows = [*_in_series(series, wanted, zone), *_without_a_time(journal, tent, wanted)]
    counted = max((row for row in rows if not row.door_open), key=_order, default=None)
    open_door = max((row for row in rows if row.door_open), key=_order, default=None)
    is_later = open_door is not None and (counted is None or _order(open_door) > _order(counted))
    return LastReadings(counted, open_door if is_later else None)


def _order(row: LastReading) -> tuple[str, float]:
    return row.when.first.isoformat(), row.when.moment.timestamp() if row.when.moment else 0.0


def _in_series(series: Series, wanted: Wanted, zone: tzinfo) -> list[LastReading]:
    """The last of a series with the door open, and the last that counts."""
    fine = [at for at in range(len(series)) if not series.stuck[at]]
    lasts = (next((at for at in reversed(fine) if series.door_open[at] == is_open), None) for is_open in (True, False))
    return [_at(series, at, wanted, zone) for at in lasts if at is not None]


def _at(series: Series, at: int, wanted: Wanted, zone: tzinfo) -> LastReading:
    moment = datetime.fromtimestamp(series.stamps_s[at], zone)
    values = (series.humidity_pct[at], series.temperature_c[at], series.accuracy_pct[at])
    is_day = series.by_day and not series.by_eye[at]
    day = moment.date()
    when = When(day.isoformat(), day, "day") if is_day else When(moment.isoformat(), day, "minute", moment)
    return _judged(when, series.by_eye[at], series.door_open[at], values, wanted)


def _without_a_time(journal: Journal, tent: Tent, wanted: Wanted) -> list[LastReading]:
    return [
        _judged(entry.date, True, entry.door == "open", _values(entry), wanted)
        for entry in entries_about(journal, tent)
        if entry.date.moment is None
        and not (entry.humidity_reading_pct is None and entry.temperature_reading_c is None)
    ]


def _values(entry: TentEntry) -> tuple[float, float, float]:
    humidity_pct, temperature_c = entry.humidity_reading_pct, entry.temperature_reading_c
    return nan if humidity_pct is None else humidity_pct, nan if temperature_c is None else temperature_c, nan


def _judged(
    when: When, by_eye: bool, door_open: bool, values: tuple[float, float, float], wanted: Wanted
) -> LastReading:
    """A reading held against its bands by the rules that hold for every reading; with the door open too."""
    humidity_pct, temperature_c, accuracy_pct = values
    alone = Series((0.0,), (temperature_c,), (humidity_pct,), (accuracy_pct,), (2 * STANDS_FOR_AT_MOST_S,),
                   (False,), (False,), (by_eye,))  # fmt: skip
    out = spells_in(Judged(alone, wanted), range(1)).spells
    return LastReading(
        when=when,
        by_eye=by_eye,
        door_open=door_open,
        humidity_pct=_known(humidity_pct),
        temperature_c=_known(temperature_c),
        accuracy_pct=_known(accuracy_pct),
        verdict=verdicts(alone, wanted)[0],
        humidity=_side(alone, replace(wanted, temperature_c=None)) if humidity_pct == humidity_pct else None,
        temperature=_side(alone, replace(wanted, humidity_pct=None)) if temperature_c == temperature_c else None,
        sides=out[0].sides if out else (),
    )


def _side(alone: Series, wanted: Wanted) -> Verdict | None:
    return verdicts(alone, wanted)[0] if wanted.is_known else None


def _known(value: float) -> float | None:
    return value if value == value else None
