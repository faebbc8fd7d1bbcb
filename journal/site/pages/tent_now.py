"""What one asks at a tent's door: whether the air is right, what is set, whether the lamp is on, what stands inside."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

from journal.analysis.in_range import PeriodOut
from journal.analysis.sensors import LastReading
from journal.analysis.tent_settings import history_of, holding_now
from journal.model import Batch, LightHours, Tent
from journal.site import wording
from journal.site.pages.batch_line import batch_line
from journal.site.pages.lookup import Label, Lookup
from journal.site.pages.tent_setup import value_in_words

Look = Literal["in", "out", "unsure", "none"]


@dataclass(frozen=True, slots=True)
class Value:
    """A reading set large. wanted: the band, with how sure the reading is; look: how it lies to it."""

    number: str
    wanted: str | None
    look: Look


@dataclass(frozen=True, slots=True)
class Glance:
    """A tent at one glance. verdict: in a few words; read: when and by what; since: what was read after that with the
    door open. lit_from, lit_to: clock times, None where none were written."""

    label: Label
    name: str
    look: Look
    verdict: str | None
    values: tuple[Value, ...]
    read_iso: str | None
    read: str | None
    since: str | None
    dew_point: str | None
    set_points: tuple[str, ...]
    light: str | None
    lit_from: str | None
    lit_to: str | None


def shared_tents(lookup: Lookup) -> tuple[Tent, ...]:
    """The tents of which anything is told; one that a share keeps back is there only for what stood in it."""
    return tuple(tent for tent in lookup.settings.tents if not tent.unshared)


def glance(lookup: Lookup, tent: Tent) -> Glance:
    last = lookup.analysis.last_readings[tent.id]
    shown = last.counted or last.uncounted
    holding = holding_now(history_of(lookup.journal, tent))
    light = holding["light"].value if "light" in holding else None
    hours = light if isinstance(light, LightHours) else None
    return Glance(
        label=lookup.label(tent.id),
        name=tent.name,
        look=_look(shown.verdict) if shown else "none",
        verdict=_verdict(lookup, tent, shown) if shown else None,
        values=_values(lookup, tent, shown) if shown else (),
        read_iso=shown.when.iso if shown else None,
        read=f"{wording.when_in_words(shown.when)}, {_by(lookup, tent, shown)}" if shown else None,
        since=_since(lookup, tent, last.uncounted) if last.counted and last.uncounted else None,
        dew_point=_dew_point(lookup, shown) if shown else None,
        set_points=tuple(
            f"{name} set to {value_in_words(what, holding[what].value, lookup.units)}"
            for name, what in _SET_POINTS
            if what in holding
        ),
        light=wording.light(hours) if hours else None,
        lit_from=hours.lit_from if hours else None,
        lit_to=hours.lit_to if hours else None,
    )


_SET_POINTS: tuple[tuple[str, Any], ...] = (
    ("humidity", "humidity set point"),
    ("temperature", "temperature set point"),
)


def _look(verdict: str | None) -> Look:
    looks: dict[str | None, Look] = {"in": "in", "out": "out", "cannot tell": "unsure"}
    return looks.get(verdict, "none")


def _verdict(lookup: Lookup, tent: Tent, row: LastReading) -> str:
    """The answer in a few words."""
    if row.verdict == "not counted" or (tent.humidity_pct is None and tent.temperature_c is None):
        return "The settings name no band for it"
    if row.verdict == "in":
        words = "In band"
    elif row.verdict == "out":
        spell = _spell_now(lookup, tent, row)
        words = f"Out of band: {', '.join(row.sides)}" + (f" for {_hours(spell)}" if spell else "")
    else:
        words = "Too near the band’s edge to tell" if row.humidity == "cannot tell" else "In band as far as it was read"
    return f"{words}, but the door was open" if row.door_open else words


def _spell_now(lookup: Lookup, tent: Tent, row: LastReading) -> PeriodOut | None:
    """The spell out of band that the last reading ends."""
    spells = lookup.analysis.climate.tents[tent.id].spells
    last = spells.spells[-1] if spells and spells.spells else None
    at_s = row.when.moment.timestamp() if row.when.moment else None
    return last if last and at_s is not None and last.from_s <= at_s <= last.until_s else None


def _hours(spell: PeriodOut) -> str:
    return f"{wording.number(spell.hours)} h"


def _values(lookup: Lookup, tent: Tent, row: LastReading) -> tuple[Value, ...]:
    units, values = lookup.units, []
    if row.humidity_pct is not None:
        band = wording.humidity_range(tent.humidity_pct) if tent.humidity_pct else None
        unsure = f", read to ±{wording.number(row.accuracy_pct)}\N{NO-BREAK SPACE}%" if row.accuracy_pct else ""
        wanted = f"wanted {band}{unsure}" if band else None
        values.append(Value(wording.percent(row.humidity_pct), wanted, _look(row.humidity)))
    if row.temperature_c is not None:
        band = wording.temperature_range(tent.temperature_c, units) if tent.temperature_c else None
        wanted = f"wanted {band}" if band else None
        values.append(Value(wording.temperature(row.temperature_c, units), wanted, _look(row.temperature)))
    return tuple(values)


def _by(lookup: Lookup, tent: Tent, row: LastReading) -> str:
    if row.by_eye:
        return "by eye"
    return "the middle of that day" if lookup.analysis.readings[tent.id].by_day else "by the logger"


def _since(lookup: Lookup, tent: Tent, row: LastReading) -> str:
    """What was read later with the door open, which says little of the air with it shut."""
    read = [wording.percent(row.humidity_pct)] if row.humidity_pct is not None else []
    if row.temperature_c is not None:
        read.append(wording.temperature(row.temperature_c, lookup.units))
    told = f"{wording.joined(read)} {_by(lookup, tent, row)}"
    return f"{told} since, at {wording.when_in_words(row.when)}, with the door open"


def _dew_point(lookup: Lookup, row: LastReading) -> str | None:
    return wording.temperature(row.dew_point_c, lookup.units) if row.dew_point_c is not None else None


def inside(lookup: Lookup, tent: Tent, batches: Iterable[Batch]) -> list[dict[str, Any]]:
    """Those of the batches that stand in a tent, as lines."""
    here = (batch for batch in batches if (lookup.analysis.progress[batch.id].tent or "").lower() == tent.id.lower())
    return [batch_line(lookup, batch) for batch in here]


@dataclass(frozen=True, slots=True)
class OutOfRange:
    """A spell out of band. iso: the day on which it ended."""

    label: Label
    name: str
    words: str
    iso: str
    when: str


MOST_PERIODS = 5
"""How many spells of a tent are handed to a page that shows those of the last days."""


def out_of_range(lookup: Lookup) -> tuple[OutOfRange, ...]:
    """The last spells of each tent, the latest first; the phone shows those of the last days."""
    rows = [
        (spell.until_s, _out(lookup, tent, spell))
        for tent in shared_tents(lookup)
        if (spells := lookup.analysis.climate.tents[tent.id].spells)
        for spell in spells.spells[-MOST_PERIODS:]
    ]
    return tuple(row for _, row in sorted(rows, key=lambda one: -one[0]))


def _out(lookup: Lookup, tent: Tent, spell: PeriodOut) -> OutOfRange:
    ended = lookup.moment(spell.until_s)
    return OutOfRange(
        label=lookup.label(tent.id),
        name=tent.name,
        words=period_words(lookup, spell),
        iso=ended.date().isoformat(),
        when=f"until {wording.day_in_words(ended.date())}, {wording.clock(ended)}",
    )


def period_words(lookup: Lookup, spell: PeriodOut) -> str:
    """`too dry for 8.3 h, down to 68.4 %`."""
    humidity, temperature, furthest = spell.humidity_pct, spell.temperature_c, []
    for side in spell.sides:
        if side in ("too dry", "too damp") and humidity:
            furthest.append(wording.percent(humidity.low if side == "too dry" else humidity.high))
        elif temperature:
            value_c = temperature.low if side == "too cold" else temperature.high
            furthest.append(wording.temperature(value_c, lookup.units))
    far = f", as far as {wording.joined(furthest)}" if furthest else ""
    return f"{wording.joined(list(spell.sides))} for {_hours(spell)}{far}"
