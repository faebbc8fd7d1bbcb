"""A tent at a glance: whether the climate is in range, what is set, whether the light is on, what is inside."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal

from journal.analysis.in_range import PeriodOut
from journal.analysis.readings import LeftOut
from journal.analysis.sensors import LastReading
from journal.analysis.tent_settings import SettingName, current_settings, history_of
from journal.model import Batch, When
from journal.settings import LightHours, Tent
from journal.site import wording
from journal.site.charts.climate_chart import gauge
from journal.site.pages.batches import batch_line
from journal.site.pages.entry_words import value_in_words
from journal.site.pages.lookup import Lookup
from journal.site.plan import Row

RangeState = Literal["in", "out", "unsure", "none"]


def shared_tents(lookup: Lookup) -> tuple[Tent, ...]:
    """The tents that are shared; a tent that a share keeps back is in the journal only for the batches that were in
    it."""
    return tuple(tent for tent in lookup.settings.tents if not tent.unshared)


def glance(lookup: Lookup, tent: Tent) -> Row:
    last = lookup.analysis.last_readings[tent.id]
    shown = last.counted or last.uncounted
    dew_c = shown.dew_point_c if shown else None
    holding = current_settings(history_of(lookup.journal, tent))
    light = holding["light"].value if "light" in holding else None
    hours = light if isinstance(light, LightHours) else None
    verdict = _verdict(lookup, tent, shown) if shown else None
    return Row(
        label=lookup.label(tent.id),
        name=tent.name,
        state=_state_of(shown.verdict) if shown else "none",
        verdict=verdict,
        in_short=_in_short(verdict) if verdict else None,
        values=_values(lookup, tent, shown) if shown else (),
        read_iso=shown.when.iso if shown else None,
        read_short=_read_short(shown.when) if shown else None,
        read=f"{wording.when_in_words(shown.when)}, {_by(lookup, tent, shown)}" if shown else None,
        since=_since(lookup, tent, last.uncounted) if last.counted and last.uncounted else None,
        dew_point=wording.temperature(dew_c, lookup.units) if dew_c is not None else None,
        set_points=tuple(
            f"{what.partition(' ')[0]} set to {value_in_words(what, holding[what].value, lookup.units)}"
            for what in _SET_POINTS
            if what in holding
        ),
        light=wording.light(hours) if hours else None,
        lit_from=hours.lit_from if hours else None,
        lit_to=hours.lit_to if hours else None,
        left_out=wording.left_out(_left_out_since(lookup, tent, shown), lookup.units),
    )


def _left_out_since(lookup: Lookup, tent: Tent, shown: LastReading | None) -> tuple[LeftOut, ...]:
    """The values that no tent has, all of them if the last was read with the reading that is shown, or later."""
    left_out = lookup.analysis.readings[tent.id].left_out
    if not left_out or shown is None:
        return left_out
    last = lookup.moment(left_out[-1].stamp_s)
    is_later = last >= shown.when.moment if shown.when.moment else last.date() >= shown.when.first
    return left_out if is_later else ()


_SET_POINTS: tuple[SettingName, ...] = ("humidity set point", "temperature set point")


def _state_of(verdict: str | None) -> RangeState:
    states: dict[str | None, RangeState] = {"in": "in", "out": "out", "cannot tell": "unsure"}
    return states.get(verdict, "none")


def _in_short(verdict: str) -> str:
    """Without the sensor's accuracy, in brackets."""
    before, mark, rest = verdict.partition(" (sensor ")
    return before + rest.partition(")")[2] if mark else verdict


def _verdict(lookup: Lookup, tent: Tent, row: LastReading) -> str:
    """The answer in a few words."""
    if tent.humidity_pct is None and tent.temperature_c is None:
        return "The settings have no range for this tent"
    if row.verdict == "not counted":
        return "Everything in it is colonising, and its range is for fruiting"
    if row.verdict == "in":
        words = "In range"
    elif row.verdict == "out":
        out = lookup.analysis.climate.tents[tent.id].out_of_range
        last = out.periods[-1] if out and out.periods else None
        at_s = row.when.moment.timestamp() if row.when.moment else None
        period = last if last and at_s is not None and last.from_s <= at_s <= last.until_s else None
        words = f"Out of range: {', '.join(row.sides)}" + (f" for {wording.hours(period.hours)}" if period else "")
    else:
        accuracy_pct = row.accuracy_pct
        assumed = ", assumed" if row.accuracy_assumed else ""
        stated = f"±{wording.number(accuracy_pct)}\N{NO-BREAK SPACE}%{assumed}" if accuracy_pct else ""
        accuracy = f" (sensor accuracy {stated})" if stated else ""
        is_close = row.humidity == "cannot tell"
        words = f"Too close to call{accuracy}" if is_close else "In range as far as it was read"
    return f"{words}, but the door was open" if row.door_open else words


def _values(lookup: Lookup, tent: Tent, row: LastReading) -> tuple[Row, ...]:
    """Each measure that was read. gauge: the reading beside its range, None if it has none."""
    units, values = lookup.units, []
    if row.humidity_pct is not None:
        wanted = f"wanted {wording.humidity_range(tent.humidity_pct)}" if tent.humidity_pct else None
        day = _read_that_day(lookup, tent, row, "humidity_pct")
        drawn = gauge(tent.humidity_pct, row.humidity_pct, day, within=(0, 100)) if tent.humidity_pct else None
        number = wording.percent(row.humidity_pct)
        values.append(Row(number=number, wanted=wanted, state=_state_of(row.humidity), gauge=drawn))
    if row.temperature_c is not None:
        wanted = f"wanted {wording.temperature_range(tent.temperature_c, units)}" if tent.temperature_c else None
        day = _read_that_day(lookup, tent, row, "temperature_c")
        drawn = gauge(tent.temperature_c, row.temperature_c, day) if tent.temperature_c else None
        number = wording.temperature(row.temperature_c, units)
        values.append(Row(number=number, wanted=wanted, state=_state_of(row.temperature), gauge=drawn))
    return tuple(values)


def _read_that_day(lookup: Lookup, tent: Tent, row: LastReading, measure: str) -> tuple[float, float] | None:
    """The least and the greatest reading of the day of the last one, as far as they count."""
    days = lookup.analysis.climate.tents[tent.id].days
    read = getattr(days[-1], measure) if days and days[-1].day == row.when.first else None
    return (read.low, read.high) if read else None


def _read_short(when: When) -> str:
    """`25 Nov 2026, 06:45`, or the day alone."""
    day = wording.when_in_few_words(when)
    return f"{day}, {wording.clock(when.moment)}" if when.moment else day


def _by(lookup: Lookup, tent: Tent, row: LastReading) -> str:
    if row.is_manual:
        return "manual reading"
    return "median of that day" if lookup.analysis.readings[tent.id].by_day else "logger"


def _since(lookup: Lookup, tent: Tent, row: LastReading) -> str:
    """A later reading with the door open, which says little about the climate with the door shut."""
    read = [value.number for value in _values(lookup, tent, row)]
    when = f"{wording.when_in_words(row.when)}, {_by(lookup, tent, row)}"
    return f"Later, with the door open: {wording.joined(read)} ({when})"


def inside(lookup: Lookup, tent: Tent, batches: Iterable[Batch]) -> list[dict[str, Any]]:
    """Those of the batches that are in a tent, as lines."""
    here = (batch for batch in batches if (lookup.analysis.progress[batch.id].tent or "").lower() == tent.id.lower())
    return [batch_line(lookup, batch) for batch in here]


MOST_PERIODS = 5
"""How many periods of a tent a page gets, of which it shows those of the last days."""


def out_of_range(lookup: Lookup) -> tuple[Row, ...]:
    """The last periods out of range of each tent, the latest first; the device shows only those of the last days."""
    rows = [
        (tent, period, lookup.moment(period.until_s))
        for tent in shared_tents(lookup)
        if (out := lookup.analysis.climate.tents[tent.id].out_of_range)
        for period in out.periods[-MOST_PERIODS:]
    ]
    return tuple(
        Row(
            label=lookup.label(tent.id),
            name=tent.name,
            words=period_words(lookup, period),
            iso=ended.date().isoformat(),
            when=f"until {wording.day_in_words(ended.date())}, {wording.clock(ended)}",
        )
        for tent, period, ended in sorted(rows, key=lambda row: -row[1].until_s)
    )


def period_words(lookup: Lookup, period: PeriodOut) -> str:
    """`too dry for 8.3 h, down to 68.4 %`."""
    humidity, temperature, furthest = period.humidity_pct, period.temperature_c, []
    for side in period.sides:
        if side in ("too dry", "too damp") and humidity:
            furthest.append(wording.percent(humidity.low if side == "too dry" else humidity.high))
        elif temperature:
            value_c = temperature.low if side == "too cold" else temperature.high
            furthest.append(wording.temperature(value_c, lookup.units))
    far = f", as far as {wording.joined(furthest)}" if furthest else ""
    return f"{wording.joined(list(period.sides))} for {wording.hours(period.hours)}{far}"
