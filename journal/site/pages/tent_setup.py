"""How a tent is built, set and kept: its measures, the settings that hold and why, its regular services."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from journal.analysis.due import entries_about, last_service, resets
from journal.analysis.tent_settings import FIELDS, SettingName, Value, history_of, holding_now
from journal.model import Exhaust, LightHours, TentEntry
from journal.quantities import counted
from journal.settings import Tent
from journal.site import wording
from journal.site.pages.lookup import Lookup
from journal.site.wording import Units


@dataclass(frozen=True, slots=True)
class CurrentSetting:
    """A setting that holds. anchor: of the entry that set it, on the tent's page."""

    what: str
    words: str
    since: str
    why: str | None
    anchor: str


@dataclass(frozen=True, slots=True)
class Service:
    """A regular service. last_iso, due_iso: None where it was never recorded, or its day is not known. done: when it
    was done and in what words, the latest first."""

    name: str
    every: str
    last_iso: str | None
    last: str | None
    due_iso: str | None
    due: str | None
    done: tuple[tuple[str, str], ...]


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


def value_in_words(what: SettingName, value: Value, units: Units) -> str:
    """A setting as a page words it."""
    match value:
        case LightHours():
            return wording.light(value)
        case Exhaust():
            return wording.exhaust(value)
        case str():
            return value
    if what == "temperature set point":
        return wording.temperature(value, units)
    return f"{wording.number(value, 0)} K" if what == "light colour" else wording.percent(value)


def settings_now(lookup: Lookup, tent: Tent) -> tuple[CurrentSetting, ...]:
    """Each setting that holds, in the order in which settings are listed."""
    holding = holding_now(history_of(lookup.journal, tent))
    return tuple(
        CurrentSetting(
            what=change.what,
            words=value_in_words(change.what, change.value, lookup.units),
            since=wording.when_in_few_words(change.when),
            why=change.why,
            anchor=anchor_of(lookup, tent, change.path),
        )
        for change in (holding[what] for what in FIELDS if what in holding)
    )


def anchor_of(lookup: Lookup, tent: Tent, path: str) -> str:
    """Where an entry about a tent stands on its page."""
    return next(lookup.anchor(tent, entry) for entry in lookup.entries_on(tent) if entry.path == path)


def services(lookup: Lookup, tent: Tent) -> tuple[Service, ...]:
    """The regular services of a tent, as its settings name them."""
    entries = entries_about(lookup.journal, tent)
    return tuple(_service(entries, name, every_d) for name, every_d in tent.every)


def _service(entries: list[TentEntry], name: str, every_d: float) -> Service:
    last = last_service(entries, name)
    start = last or (entries[0] if entries else None)
    due = start.date.first + timedelta(days=round(every_d)) if start and start.date.counts_days else None
    return Service(
        name=name,
        every=counted(round(every_d), "day"),
        last_iso=last.date.iso if last else None,
        last=wording.when_in_few_words(last.date) if last else None,
        due_iso=due.isoformat() if due else None,
        due=wording.day_in_words(due) if due else None,
        done=tuple(
            (wording.when_in_words(entry.date), words)
            for entry in reversed(entries)
            for words in entry.serviced
            if resets(words, name)
        ),
    )


def latest_day(lookup: Lookup, tent: Tent) -> date | None:
    """The day of the latest entry about a tent or anything that stands in it."""
    entries = [*lookup.entries_on(tent), *lookup.devices_in(tent.id)]
    return max((entry.date.first for entry in entries), default=None)
