"""How a tent is built, set and kept: its measures, settings, services and checks, now and over time."""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import groupby

from journal.analysis.due import entries_about, last_service, served
from journal.analysis.sensors import SALTS, TAKEN_WHERE_UNSAID_C, ProbeCheck, Salt, probe_checks
from journal.analysis.tent_settings import (
    FIELDS,
    TOO_CLOSE_D,
    Change,
    SettingName,
    current_settings,
    history_of,
    settings_on,
)
from journal.model import TentEntry
from journal.quantities import counted
from journal.settings import Tent, ValueRange
from journal.site import wording
from journal.site.figures import figure
from journal.site.pages.entry_words import value_in_words
from journal.site.pages.lookup import Lookup
from journal.site.plan import Row


def measures(lookup: Lookup, tent: Tent) -> tuple[tuple[str, str], ...]:
    """What the settings say of a tent: (what, in words)."""
    units = lookup.units
    sides = [tent.width_m, tent.depth_m, tent.height_m]
    size = " × ".join(wording.length(side, units) for side in sides if side is not None)
    flow = wording.flow(tent.exhaust_m3_h, units) if tent.exhaust_m3_h is not None else None
    lines = (
        ("width × depth × height" if None not in sides else "size", size),
        ("floor", tent.floor),
        ("exhaust flow", flow and (f"{flow}, {tent.exhaust_flow_is}" if tent.exhaust_flow_is else flow)),
        ("humidity wanted", wording.humidity_range(tent.humidity_pct) if tent.humidity_pct else None),
        ("temperature wanted", wording.temperature_range(tent.temperature_c, units) if tent.temperature_c else None),
    )
    return tuple((what, words) for what, words in lines if words)


def settings_now(lookup: Lookup, tent: Tent) -> tuple[Row, ...]:
    """Each current setting, in the order in which settings are listed."""
    holding = current_settings(history_of(lookup.journal, tent))
    return tuple(
        Row(
            what=change.what,
            words=value_in_words(change.what, change.value, lookup.units),
            since=wording.when_in_few_words(change.when),
            why=change.why,
            address=lookup.address_on(tent, lookup.indexes.entry_by_path[change.path]),
        )
        for change in (holding[what] for what in FIELDS if what in holding)
    )


def anchor_of(lookup: Lookup, tent: Tent, path: str) -> str:
    """The anchor of an entry about a tent on its page."""
    return next(lookup.anchor(tent, entry) for entry in lookup.entries_on(tent) if entry.path == path)


def services(lookup: Lookup, tent: Tent) -> tuple[Row, ...]:
    """The regular services of a tent, as its settings name them; due is None if there is nothing to count from."""
    entries = entries_about(lookup.journal, tent)
    return tuple(_service(entries, name, every_d) for name, every_d in tent.every)


def _service(entries: list[TentEntry], name: str, every_d: float) -> Row:
    last = last_service(entries, name)
    start = last or (entries[0] if entries else None)
    due = start.date.first + timedelta(days=wording.half_up(every_d)) if start and start.date.counts_days else None
    return Row(
        name=name,
        every=counted(int(wording.half_up(every_d)), "day"),
        last_iso=last.date.iso if last else None,
        last=wording.when_in_few_words(last.date) if last else None,
        due_iso=due.isoformat() if due else None,
        due=wording.day_in_words(due) if due else None,
    )


def latest_day(lookup: Lookup, tent: Tent) -> date | None:
    """The day of the latest entry about a tent or anything that is in it."""
    entries = [*lookup.entries_on(tent), *lookup.devices_in(tent.id)]
    return max((entry.date.first for entry in entries), default=None)


def changes(lookup: Lookup, tent: Tent) -> tuple[Row, ...]:
    """The settings that each entry changed, the latest first; changes too close together cannot be told apart."""
    history = history_of(lookup.journal, tent)
    groups = [(path, list(group)) for path, group in groupby(history, key=lambda change: change.path)]
    told: set[date] = set()
    return tuple(
        Row(
            when=wording.when_in_words(group[0].when),
            anchor=anchor_of(lookup, tent, path),
            sets=tuple(_set(lookup, change) for change in group),
            why=group[0].why,
            is_first=all(change.before is None for change in group),
            is_entangled=not all(change.can_be_separated for change in group),
            entangled=tuple(_entangled(group, told)),
        )
        for path, group in reversed(groups)
    )


def _set(lookup: Lookup, change: Change) -> Row:
    words = value_in_words(change.what, change.value, lookup.units)
    before = None if change.before is None else value_in_words(change.what, change.before, lookup.units)
    return Row(what=change.what, words=words, before=before)


def _entangled(group: Sequence[Change], told: set[date]) -> Iterator[str]:
    """What cannot be told apart from the changes of an entry: those of its day, once for all entries of the day, and
    those of other days. told: the days of which that was said."""
    altered = [change for change in group if not change.can_be_separated]
    if not altered:
        return
    day, own = altered[0].when.first, {one.what for one in altered}
    near = {(other.day, other.what) for change in altered for other in change.nearby}
    same = {what for on, what in near if on == day}
    if same and day not in told:
        told.add(day)
        are_several = len(same | own) > 1
        how = "were changed on the same day, so their" if are_several else "was changed more than once that day, so the"
        yield f"{_named(same | own)} {how} effects cannot be told apart."
    if apart := [f"{what} on {wording.day_in_words(on)}" for on, what in sorted(near) if on != day]:
        were = "was" if len(own) == 1 else "were"
        within = f"within {TOO_CLOSE_D} days of {wording.joined(apart)}"
        yield f"{_named(own)} {were} changed {within}, so their effects cannot be told apart."


def _named(settings: Container[SettingName]) -> str:
    """`Humidity set point and exhaust`: in the order in which settings are listed."""
    return wording.capitalised(wording.joined([what for what in FIELDS if what in settings]))


def settings_by_period(lookup: Lookup, tent: Tent, since: date = date.min) -> tuple[Row, ...]:
    """The settings of every period since the first setting, the latest first. since: of those that did not end before
    this day."""
    history = history_of(lookup.journal, tent)
    days = sorted({change.when.first for change in history})
    ends = [day - timedelta(days=1) for day in days[1:]]
    spans = [*(wording.days_in_words(*span) for span in zip(days, ends, strict=False))]
    spans += [f"since {wording.day_in_words(days[-1])}"] if days else []
    rows = []
    for span, day in zip(spans, days, strict=True):
        if day != days[-1] and ends[days.index(day)] < since:
            continue
        settings = settings_on(history, day)
        sets = [(what, value_in_words(what, settings[what].value, lookup.units)) for what in FIELDS if what in settings]
        rows.append(Row(days=span, sets=tuple(sets)))
    return tuple(reversed(rows))


TOO_CLOSE_RULE = (
    f"Two changes within {TOO_CLOSE_D} days of each other are marked: what happened after them may be due to either "
    "(common practice: one change at a time)."
)


def done(lookup: Lookup, tent: Tent) -> tuple[Row, ...]:
    """Everything that was done, by entry, the latest first."""
    groups = groupby(served(lookup.journal, tent), key=lambda one: (one.path, one.when))
    rows = [
        Row(
            when=wording.when_in_words(when),
            anchor=anchor_of(lookup, tent, path),
            words=tuple(one.words for one in rows),
        )
        for (path, when), rows in groups
    ]
    return tuple(reversed(rows))


def checks(lookup: Lookup, tent: Tent) -> tuple[Row, ...]:
    """The checks of the probes that are in a tent, and of the tent itself, the latest first."""
    here = {tent.id.lower(), *(device.id.lower() for device in lookup.devices_in(tent.id))}
    return tuple(
        _check(lookup, one, tent) for one in reversed(probe_checks(lookup.journal)) if one.about.lower() in here
    )


def _check(lookup: Lookup, check: ProbeCheck, tent: Tent) -> Row:
    off_pct = check.off.value
    how = "correctly" if abs(off_pct) < 0.05 else "too high" if off_pct > 0 else "too low"
    at = wording.temperature(check.t_c, lookup.units)
    taken = "" if check.t_is_written else f" (no temperature was recorded; {at} is assumed)"
    read, expected = wording.percent(check.read_pct), wording.percent(check.expected_pct)
    if check.uncertainty_pct is not None:
        expected = f"{wording.number(check.expected_pct)} ± {wording.percent(check.uncertainty_pct)}"
    words = f"read {how}: {read}, while the air over {check.salt} at {at} has {expected}{taken}"
    if tent.humidity_pct and not _is_near(check.expected_pct, tent.humidity_pct):
        near = wording.joined([said for salt in SALTS if (said := _salt_words(salt, tent.humidity_pct, lookup.units))])
        wanted = wording.humidity_range(tent.humidity_pct)
        words += f". That is not near the {wanted} wanted: check it there too" + (f", over {near}" if near else "")
    shown = figure(check.off, words, lookup.units)
    return Row(
        label=lookup.label(check.about),
        when=wording.when_in_words(check.when),
        words=check.words,
        figure=replace(shown, number=f"{'+' if off_pct > 0 else ''}{shown.number}"),
    )


_NEAR_PCT = 5.0
"""How near to the target range a check has to be to be of use for it (*common practice*)."""


def _is_near(humidity_pct: float | None, wanted: ValueRange) -> bool:
    return humidity_pct is not None and wanted.low - _NEAR_PCT <= humidity_pct <= wanted.high + _NEAR_PCT


def _salt_words(salt: Salt, wanted: ValueRange, units: wording.Units) -> str | None:
    """`potassium chloride (85 % at 20 °C)`; None if that is not near the target range."""
    humidity_pct = salt.humidity_pct(TAKEN_WHERE_UNSAID_C)
    if humidity_pct is None or not _is_near(humidity_pct, wanted):
        return None
    return f"{salt.name} ({wording.percent(humidity_pct, 0)} at {wording.temperature(TAKEN_WHERE_UNSAID_C, units)})"


def manual_readings(lookup: Lookup, tent: Tent) -> tuple[Row, ...]:
    """Manual readings in a tent, the latest first."""
    rows = []
    for entry in reversed(entries_about(lookup.journal, tent)):
        humidity_pct, temperature_c, co2_ppm = entry.humidity_reading_pct, entry.temperature_reading_c, entry.co2_ppm
        light_lux, meter_kwh = entry.light_level_lux, entry.meter_kwh
        if all(value is None for value in (humidity_pct, temperature_c, co2_ppm, light_lux, meter_kwh)):
            continue
        moment, when = entry.date.moment, wording.when_in_few_words(entry.date)
        row = Row(
            iso=entry.date.iso,
            when=f"{when}, {wording.clock(moment)}" if moment else when,
            anchor=lookup.anchor(tent, entry),
            humidity_pct=humidity_pct,
            humidity=None if humidity_pct is None else wording.percent(humidity_pct),
            temperature_c=temperature_c,
            temperature=None if temperature_c is None else wording.temperature(temperature_c, lookup.units),
            co2=None if co2_ppm is None else f"{wording.number(co2_ppm, 0)} ppm",
            light=None if light_lux is None else wording.lux(light_lux),
            meter=None if meter_kwh is None else f"{wording.number(meter_kwh)} kWh",
            door=entry.door,
        )
        rows.append(row)
    return tuple(rows)
