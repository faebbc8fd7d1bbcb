"""Picked mass by day and permit, against what each permit allows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Literal

from journal.analysis.progress import calendar_day
from journal.model import Entry, Find, Journal, Note
from journal.settings import Permit


@dataclass(frozen=True, slots=True)
class PickedDay:
    """What was picked under one permit on one day. entries: the finds and visits that it is the sum of, in order."""

    day: date
    mass_g: float
    entries: tuple[Find | Note, ...]
    finds: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PermitUse:
    """Of one permit, or (None) of what was picked under none. days: those on which something was picked, in order, also
    those on which it did not hold: these are in no sum of what it allows."""

    permit: Permit | None
    days: tuple[PickedDay, ...]

    @property
    def mass_g(self) -> float:
        """Picked while the permit held."""
        return sum(day.mass_g for day in self.days if not self.is_outside(day))

    @property
    def outside_g(self) -> float:
        """Picked on days on which it did not."""
        return sum(day.mass_g for day in self.days if self.is_outside(day))

    def over_g(self, day: PickedDay) -> float:
        """How much more was picked on a day than the permit allows on one; 0 where it is not more, or did not hold."""
        allowed_g = self.permit.a_day_g if self.permit else None
        return 0.0 if allowed_g is None or self.is_outside(day) else max(0.0, day.mass_g - allowed_g)

    @property
    def left_g(self) -> float | None:
        """What it still allows, below 0 where more was picked; None where it has no limit in all."""
        allowed_g = self.permit.in_all_g if self.permit else None
        return None if allowed_g is None else allowed_g - self.mass_g

    def is_outside(self, day: PickedDay) -> bool:
        """Whether the permit did not hold on a day."""
        return self.permit is not None and not self.permit.holds_on(day.day)

    @property
    def over_in_all(self) -> PickedDay | None:
        """The day on which the sum came to more than the permit allows in all."""
        limit_g, total_g = (self.permit.in_all_g if self.permit else None), 0.0
        for day in (day for day in self.days if not self.is_outside(day)):
            total_g += day.mass_g
            if limit_g is not None and total_g > limit_g:
                return day
        return None


def permit_uses(journal: Journal) -> tuple[PermitUse, ...]:
    """Every permit of the settings, in their order, then what was picked under none. What was picked is the find's
    `picked mass` and the `harvest` of later visits to it, under the find's permit; days not known exactly are left
    out."""
    known = {permit.name.casefold(): permit for permit in journal.settings.permits}
    by_permit: dict[str, dict[date, list[tuple[str, Find | Note, float]]]] = {name: {} for name in (*known, "")}
    for find, entry, mass_g in _picked(journal):
        day = calendar_day(entry.date)
        if day is not None:
            name = (find.permit or "").casefold()
            by_permit[name if name in known else ""].setdefault(day, []).append((find.id, entry, mass_g))
    uses = (
        PermitUse(known.get(name), tuple(_day(day, rows) for day, rows in sorted(days.items(), key=lambda row: row[0])))
        for name, days in by_permit.items()
    )
    return tuple(use for use in uses if use.permit is not None or use.days)


def _picked(journal: Journal) -> Iterator[tuple[Find, Find | Note, float]]:
    finds = {find.id: find for find in journal.finds}
    for find in journal.finds:
        if find.picked_mass_g is not None:
            yield find, find, find.picked_mass_g
    for note in journal.notes:
        of = list(dict.fromkeys(ref.id for ref in note.about if ref.id in finds))
        if note.harvest_g is not None and of:  # of several finds of one walk, the sum is the first one's
            yield finds[of[0]], note, note.harvest_g


def _day(day: date, rows: list[tuple[str, Find | Note, float]]) -> PickedDay:
    return PickedDay(
        day, sum(mass_g for *_, mass_g in rows), tuple(entry for _, entry, _ in rows),
        tuple(dict.fromkeys(id for id, *_ in rows)),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Breach:
    """An entry at which a permit was broken. what: the permit did not hold, or its limit of a day or in all."""

    entry: Entry
    permit: Permit
    what: Literal["not then", "a day", "in all"]
    mass_g: float


def breaches(journal: Journal) -> Iterator[Breach]:
    for use in permit_uses(journal):
        if use.permit is None:
            continue
        for day in use.days:
            if use.is_outside(day):
                yield Breach(day.entries[-1], use.permit, "not then", day.mass_g)
            if use.over_g(day):
                yield Breach(day.entries[-1], use.permit, "a day", day.mass_g)
        if over := use.over_in_all:
            yield Breach(over.entries[-1], use.permit, "in all", use.mass_g)
