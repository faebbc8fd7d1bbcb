"""The settings of a tent as a history, and its light compared with common practice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from journal.analysis.calculation import figure
from journal.analysis.due import entries_about
from journal.analysis.progress import calendar_day
from journal.model import Journal, When
from journal.settings import Exhaust, LightHours, Tent

SettingName = Literal[
    "humidity set point", "humidity differential", "temperature set point", "light", "light colour", "exhaust",
    "air movement",
]  # fmt: skip
Value = float | str | LightHours | Exhaust

FIELDS: Mapping[SettingName, str] = {
    "humidity set point": "humidity_set_pct",
    "humidity differential": "humidity_differential_pct",
    "temperature set point": "temperature_set_c",
    "light": "light",
    "light colour": "light_k",
    "exhaust": "exhaust",
    "air movement": "air_movement",
}
"""Each setting by its field of a tent entry."""

TOO_CLOSE_D = 7
"""Changes no more days apart are marked: common practice is one change at a time."""


@dataclass(frozen=True, slots=True)
class NearbyChange:
    """Another change of the same tent within seven days."""

    what: SettingName
    day: date
    path: str


@dataclass(frozen=True, slots=True)
class Change:
    """A setting changed to a new value. value: in %, °C or K, or as written. before: the value until then, None if
    unknown. alters: whether it changed something; False for the first known value, or if it only adds clock times to
    the same hours of light. nearby: other changes that altered something within seven days, in order; the effects of
    these cannot be told apart."""

    what: SettingName
    value: Value
    before: Value | None
    when: When
    path: str
    why: str | None = None
    alters: bool = True
    nearby: tuple[NearbyChange, ...] = ()

    @property
    def can_be_separated(self) -> bool:
        return not self.nearby


def history_of(journal: Journal, tent: Tent) -> tuple[Change, ...]:
    """Every setting of a tent and each change of it, oldest first, without entries that only repeat the current
    value."""
    current: dict[SettingName, Value] = {}
    changes: list[Change] = []
    for entry in entries_about(journal, tent):
        for what, field in FIELDS.items():
            value: Value | None = getattr(entry, field)
            before = current.get(what)
            if value is None or (before is not None and _is_repeated(before, value)):
                continue
            current[what] = value
            alters = before is not None and not _is_repeated(value, before)
            changes.append(Change(what, value, before, entry.date, entry.path, entry.why, alters))
    # only changes that altered something, on known days, count as close together
    dated = [(day, at) for at, one in enumerate(changes) if one.alters and (day := calendar_day(one.when))]
    by_day: dict[int, list[tuple[int, date]]] = {}
    for day, at in dated:
        by_day.setdefault(day.toordinal(), []).append((at, day))
    nearby: dict[int, tuple[NearbyChange, ...]] = {}
    for day, at in dated:
        around = range(day.toordinal() - TOO_CLOSE_D, day.toordinal() + TOO_CLOSE_D + 1)
        near = sorted((other, there) for each in around for other, there in by_day.get(each, ()) if other != at)
        nearby[at] = tuple(NearbyChange(changes[other].what, there, changes[other].path) for other, there in near)
    return tuple(replace(one, nearby=nearby.get(at, ())) for at, one in enumerate(changes))


def settings_on(history: Sequence[Change], day: date) -> Mapping[SettingName, Change]:
    """The settings at the end of a day, each with its change; an inexact date counts from its first day."""
    return {change.what: change for change in history if change.when.first <= day}


def current_settings(history: Sequence[Change]) -> Mapping[SettingName, Change]:
    """The settings last written."""
    return settings_on(history, date.max)


def _is_repeated(before: Value, after: Value) -> bool:
    """Whether `after` says no more than `before`: equal, or the same hours of light without their clock times."""
    if isinstance(before, str) and isinstance(after, str):
        return before.casefold() == after.casefold()
    if isinstance(before, LightHours) and isinstance(after, LightHours) and after.lit_from is None:
        return before.on_h == after.on_h
    return before == after


USUAL_H = 12.0
USUAL_K = (6000.0, 7000.0)

HOURS_PRACTICE = "common practice: 12 h on and 12 h off, for forming and not for food"
COLOUR_PRACTICE = "common practice: 6000–7000 K, about 6500 K"


@dataclass(frozen=True, slots=True)
class Light:
    """The light settings. hours_words, colour_words: compared with common practice, None if not set."""

    hours: LightHours | None
    colour_k: float | None
    hours_words: str | None
    colour_words: str | None


def light_of(holding: Mapping[SettingName, Change]) -> Light:
    """The light by the current settings. holding: as `tent_settings.held_on` gives them."""
    light, colour = holding.get("light"), holding.get("light colour")
    hours = light.value if light and isinstance(light.value, LightHours) else None
    colour_k = colour.value if colour and isinstance(colour.value, float | int) else None
    hours_words = hours_in_words(hours.on_h) if hours else None
    return Light(hours, colour_k, hours_words, colour_in_words(colour_k) if colour_k is not None else None)


def hours_in_words(on_h: float) -> str:
    """`12 h a day, as is usual (common practice: …)`, `8 h a day, 4 h less than is usual (…)`."""
    off_h = on_h - USUAL_H
    how = f"{figure(abs(off_h), 'h')} {'more' if off_h > 0 else 'less'} than is usual" if off_h else "as is usual"
    return f"{figure(on_h, 'h')} a day, {how} ({HOURS_PRACTICE})"


def colour_in_words(colour_k: float) -> str:
    """`6500 K, as is usual (common practice: …)`, `4000 K, redder than is usual (…)`."""
    low_k, high_k = USUAL_K
    how = "redder than is usual" if colour_k < low_k else "bluer than is usual" if colour_k > high_k else "as is usual"
    return f"{figure(colour_k, 'K', 0)}, {how} ({COLOUR_PRACTICE})"
