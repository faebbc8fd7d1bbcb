"""Yield by place: kilograms a square metre of shelf and day of each tent, and the energy and water a kilogram."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from typing import Literal

from journal.analysis.calculation import Amount, Calculation
from journal.analysis.climate import Location, locations_of
from journal.analysis.due import entries_about
from journal.analysis.progress import Progress
from journal.model import Journal, Note, TentEntry
from journal.settings import Tent

FORMULA = "yield by area and day = harvested there ÷ area ÷ days on which a batch was there"
SOURCE = (
    "common practice: plain arithmetic on what is written; the trade counts mass by growing area and time (USDA, "
    "National Agricultural Statistics Service, Mushrooms, yearly)"
)
ENERGY_FORMULA = "electricity by mass = what the meter went up by, reading by reading ÷ harvested there meanwhile"
WATER_FORMULA = "water by mass = all tank fills but the first ÷ harvested there from the first fill to the last"
PLAIN_SOURCE = "common practice: plain arithmetic on what is written"


def kg_per_m2_day(harvest_g: float, area_m2: float, days: float) -> float:
    return harvest_g / 1000 / area_m2 / days


@dataclass(frozen=True, slots=True)
class Used:
    """What went into a place between two days. amount: kWh, or litres. harvest_g: harvested there after the first day,
    up to the last. resets: times at which a meter stood lower than before, and nothing counts."""

    amount: float
    first: date
    last: date
    harvest_g: float
    resets: int = 0

    @property
    def per_kg(self) -> float | None:
        return self.amount / (self.harvest_g / 1000) if self.harvest_g else None


@dataclass(frozen=True, slots=True)
class MonthYield:
    """first: the first day of the month. days: those on which a batch was there."""

    first: date
    harvest_g: float
    days: int
    kg_m2_d: float | None


@dataclass(frozen=True, slots=True)
class PlaceYield:
    """Of one tent. area_is: whether the area is that of its shelves, or of its floor; None where neither is known.
    days: on which a batch was there, from `first` to `last`; days_spanned: all from the one to the other. batches:
    those of which something was harvested there."""

    tent: Tent
    area_m2: float | None
    area_is: Literal["shelf", "floor"] | None
    harvest_g: float
    batches: tuple[str, ...]
    days: int
    days_spanned: int
    first: date
    last: date
    months: tuple[MonthYield, ...]
    energy: Used | None
    water: Used | None

    @property
    def calculation(self) -> Calculation | None:
        """Kilograms a square metre and day in use; None where the area is not known."""
        if self.area_m2 is None:
            return None
        inputs = (
            ("harvested there", Amount(self.harvest_g, "g")),
            (f"area of the {'shelves' if self.area_is == 'shelf' else 'floor'}", Amount(self.area_m2, "m²")),
            ("days in use", f"{self.days}"),
        )
        return Calculation(kg_per_m2_day(self.harvest_g, self.area_m2, self.days), "kg", inputs, FORMULA, SOURCE)


def area_of(tent: Tent) -> tuple[float, Literal["shelf", "floor"]] | None:
    """The area that a tent has to grow on, in m²: its shelves', else its floor's."""
    if tent.shelf_area_m2 is not None:
        return tent.shelf_area_m2, "shelf"
    if tent.width_m is not None and tent.depth_m is not None:
        return tent.width_m * tent.depth_m, "floor"
    return None


def yields_by_place(journal: Journal, progress: Mapping[str, Progress]) -> Mapping[str, PlaceYield]:
    """The yield of each tent in which a batch stood, by the tent's ID; up to the day of the last entry."""
    until = journal.settings.as_of or max((entry.date.first for entry in journal.entries()), default=None)
    if until is None:
        return {}
    stays = [(batch, locations_of(batch, progress[batch.id])) for batch in journal.batches]
    harvests = [
        (place, batch.id, note)
        for batch, locations in stays
        for note in progress[batch.id].harvests
        if (place := _where(note, locations)) is not None
    ]
    found = {}
    for tent in journal.settings.tents:
        days = set(_days(tent, (location for _, locations in stays for location in locations), until))
        if days:
            own = [(id, note) for place, id, note in harvests if place == tent.id]
            found[tent.id] = _of_tent(tent, own, days, entries_about(journal, tent))
    return found


def _where(note: Note, locations: Iterable[Location]) -> str | None:
    """Where a batch stood when it was harvested: on a day on which it was moved, where it came from, unless the hours
    tell; None where that is not known."""
    moment_s = note.date.moment.timestamp() if note.date.moment else None
    if not note.date.counts_days:
        return None
    for one in locations:
        is_after = moment_s is not None and one.until_s is not None and moment_s > one.until_s
        if one.from_day <= note.date.first <= (one.until_day or date.max) and not is_after:
            return one.tent
    return None


def _days(tent: Tent, locations: Iterable[Location], until: date) -> Iterator[date]:
    for one in locations:
        if one.tent == tent.id:
            last = min(one.until_day or until, until)
            yield from (one.from_day + timedelta(days=at) for at in range((last - one.from_day).days + 1))


def _of_tent(
    tent: Tent, harvests: Sequence[tuple[str, Note]], days: set[date], entries: Sequence[TentEntry]
) -> PlaceYield:
    area = area_of(tent)
    first, last = min(days), max(days)
    return PlaceYield(
        tent=tent,
        area_m2=area[0] if area else None,
        area_is=area[1] if area else None,
        harvest_g=sum(note.harvest_g or 0 for _, note in harvests),
        batches=tuple(dict.fromkeys(id for id, note in harvests if note.harvest_g)),
        days=len(days),
        days_spanned=(last - first).days + 1,
        first=first,
        last=last,
        months=tuple(_months(harvests, days, area[0] if area else None)),
        energy=_energy(entries, harvests),
        water=_water(entries, harvests),
    )


def _months(harvests: Iterable[tuple[str, Note]], days: Iterable[date], area_m2: float | None) -> Iterator[MonthYield]:
    in_use: dict[date, int] = {}
    for day in days:
        month = day.replace(day=1)
        in_use[month] = in_use.get(month, 0) + 1
    for month in sorted(in_use):
        harvest_g = sum(note.harvest_g or 0 for _, note in harvests if note.date.first.replace(day=1) == month)
        count = in_use[month]
        yield MonthYield(month, harvest_g, count, kg_per_m2_day(harvest_g, area_m2, count) if area_m2 else None)


def _energy(entries: Iterable[TentEntry], harvests: Iterable[tuple[str, Note]]) -> Used | None:
    """None where a meter was not read on two days that are known, or never went up."""
    read = [
        (entry.date.first, entry.meter_kwh)
        for entry in entries
        if entry.meter_kwh is not None and entry.date.counts_days
    ]
    steps = [later[1] - earlier[1] for earlier, later in pairwise(read)]
    kwh = sum(step for step in steps if step > 0)
    if not kwh or read[-1][0] == read[0][0]:
        return None
    first, last = read[0][0], read[-1][0]
    return Used(kwh, first, last, _harvested(harvests, first, last), sum(step < 0 for step in steps))


def _water(entries: Iterable[TentEntry], harvests: Iterable[tuple[str, Note]]) -> Used | None:
    """Litres; None where the tank was not filled on two days that are known. Each fill replaces what was used since the
    one before."""
    fills = [
        (entry.date.first, entry.tank_fill_ml)
        for entry in entries
        if entry.tank_fill_ml is not None and entry.date.counts_days
    ]
    if not fills or fills[-1][0] == fills[0][0]:
        return None
    first, last = fills[0][0], fills[-1][0]
    return Used(sum(ml for _, ml in fills[1:]) / 1000, first, last, _harvested(harvests, first, last))


def _harvested(harvests: Iterable[tuple[str, Note]], after: date, until: date) -> float:
    return sum(note.harvest_g or 0 for _, note in harvests if after < note.date.first <= until)
