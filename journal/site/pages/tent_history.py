"""What was changed and done in a tent over time: settings, services, probe checks, and manual readings."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import timedelta
from itertools import groupby

from journal.analysis.due import entries_about, served
from journal.analysis.sensors import ProbeCheck, probe_checks
from journal.analysis.tent_settings import FIELDS, NOT_TOLD_APART, TOO_CLOSE_D, Change, held_on, history_of
from journal.settings import Tent
from journal.site import wording
from journal.site.figures import Figure, figure
from journal.site.pages.lookup import Label, Lookup
from journal.site.pages.tent_setup import anchor_of, value_in_words

TOO_CLOSE = f"{NOT_TOLD_APART[:1].upper()}{NOT_TOLD_APART[1:]}"


@dataclass(frozen=True, slots=True)
class SettingSet:
    """One setting: its value, and the value before it, None where it was the first. entangled: the other changes that
    came too close to it, None where its effects can be told apart."""

    what: str
    words: str
    before: str | None
    entangled: str | None


@dataclass(frozen=True, slots=True)
class Changed:
    """The settings that one entry changed. is_first: it sets nothing that was set before."""

    when: str
    anchor: str
    sets: tuple[SettingSet, ...]
    why: str | None
    is_first: bool

    @property
    def is_entangled(self) -> bool:
        return any(one.entangled for one in self.sets)


@dataclass(frozen=True, slots=True)
class HeldSettings:
    """What was set over some days on which nothing was changed: as it stood at the end of the first of them."""

    days: str
    sets: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ServiceDone:
    """The maintenance that one entry records."""

    when: str
    anchor: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Check:
    """A probe checked against a saturated salt."""

    label: Label
    when: str
    words: str
    figure: Figure


@dataclass(frozen=True, slots=True)
class ManualReading:
    """A manual reading, as a row of a table that can be sorted."""

    iso: str
    when: str
    anchor: str
    humidity_pct: float | None
    humidity: str | None
    temperature_c: float | None
    temperature: str | None
    co2: str | None
    door: str | None


def changes(lookup: Lookup, tent: Tent) -> tuple[Changed, ...]:
    """Every change of settings, the latest first."""
    history = history_of(lookup.journal, tent)
    groups = [(path, list(group)) for path, group in groupby(history, key=lambda change: change.path)]
    return tuple(
        Changed(
            when=wording.when_in_words(group[0].when),
            anchor=anchor_of(lookup, tent, path),
            sets=tuple(_set(lookup, change) for change in group),
            why=group[0].why,
            is_first=all(change.before is None for change in group),
        )
        for path, group in reversed(groups)
    )


def _set(lookup: Lookup, change: Change) -> SettingSet:
    words = value_in_words(change.what, change.value, lookup.units)
    before = None if change.before is None else value_in_words(change.what, change.before, lookup.units)
    beside = wording.joined([f"{other.what} on {wording.day_in_words(other.day)}" for other in change.beside])
    return SettingSet(change.what, words, before, None if change.can_be_told_apart else beside)


def held_over_time(lookup: Lookup, tent: Tent) -> tuple[HeldSettings, ...]:
    """The settings of every period since the first setting, the latest first."""
    history = history_of(lookup.journal, tent)
    days = sorted({change.when.first for change in history})
    ends = [day - timedelta(days=1) for day in days[1:]]
    spans = [*(wording.days_in_words(*span) for span in zip(days, ends, strict=False))]
    spans += [f"since {wording.day_in_words(days[-1])}"] if days else []
    rows = []
    for span, day in zip(spans, days, strict=True):
        held = held_on(history, day)
        sets = [(what, value_in_words(what, held[what].value, lookup.units)) for what in FIELDS if what in held]
        rows.append(HeldSettings(span, tuple(sets)))
    return tuple(reversed(rows))


TOO_CLOSE_RULE = (
    f"Two changes within {TOO_CLOSE_D} days of each other are marked: what happened after them may be due to either "
    "(common practice: one change at a time)."
)


def done(lookup: Lookup, tent: Tent) -> tuple[ServiceDone, ...]:
    """Everything that was done, by entry, the latest first."""
    groups = groupby(served(lookup.journal, tent), key=lambda one: (one.path, one.when))
    rows = [
        ServiceDone(wording.when_in_words(when), anchor_of(lookup, tent, path), tuple(one.words for one in group))
        for (path, when), group in groups
    ]
    return tuple(reversed(rows))


def checks(lookup: Lookup, tent: Tent) -> tuple[Check, ...]:
    """The checks of the probes that stand in a tent, and of the tent itself, the latest first."""
    here = {tent.id.lower(), *(device.id.lower() for device in lookup.devices_in(tent.id))}
    rows = reversed(probe_checks(lookup.journal))
    return tuple(_check(lookup, check) for check in rows if check.about.lower() in here)


def _check(lookup: Lookup, check: ProbeCheck) -> Check:
    off_pct = check.off.value
    how = "correctly" if abs(off_pct) < 0.05 else "too high" if off_pct > 0 else "too low"
    at = wording.temperature(check.t_c, lookup.units)
    taken = "" if check.t_is_written else f" (no temperature was recorded; {at} is assumed)"
    read, expected = wording.percent(check.read_pct), wording.percent(check.expected_pct)
    words = f"read {how}: {read}, while the air over {check.salt} at {at} has {expected}{taken}"
    shown = figure(check.off, words, lookup.units)
    return Check(
        label=lookup.label(check.about),
        when=wording.when_in_words(check.when),
        words=check.words,
        figure=replace(shown, number=f"{'+' if off_pct > 0 else ''}{shown.number}"),
    )


def manual_readings(lookup: Lookup, tent: Tent) -> tuple[ManualReading, ...]:
    """What the author read in a tent, the latest first."""
    rows = []
    for entry in reversed(entries_about(lookup.journal, tent)):
        humidity_pct, temperature_c, co2_ppm = entry.humidity_reading_pct, entry.temperature_reading_c, entry.co2_ppm
        if humidity_pct is None and temperature_c is None and co2_ppm is None:
            continue
        moment, when = entry.date.moment, wording.when_in_few_words(entry.date)
        row = ManualReading(
            iso=entry.date.iso,
            when=f"{when}, {wording.clock(moment)}" if moment else when,
            anchor=lookup.anchor(tent, entry),
            humidity_pct=humidity_pct,
            humidity=None if humidity_pct is None else wording.percent(humidity_pct),
            temperature_c=temperature_c,
            temperature=None if temperature_c is None else wording.temperature(temperature_c, lookup.units),
            co2=None if co2_ppm is None else f"{wording.number(co2_ppm, 0)} ppm",
            door=entry.door,
        )
        rows.append(row)
    return tuple(rows)
