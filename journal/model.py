"""What a journal holds, once read: frozen values, no files, no clock.

Units are at the end of a name: `_g` grams, `_m` metres, `_c` degrees Celsius, `_pct` per cent, `_deg` degrees,
`_h` hours, `_min` minutes, `_d` days, `_k` kelvin; money is in the currency of the settings. None means unknown.
Sequences are tuples, so that every value has one stable repr (page digests rest on it). Paths are relative to the
journal folder, with "/" between parts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any, ClassVar, Literal

from journal.logged import CoreLog as CoreLog
from journal.logged import LoggerFile as LoggerFile
from journal.logged import WeatherDay as WeatherDay
from journal.logged import WeatherFile as WeatherFile
from journal.problems import Problem
from journal.settings import Exhaust, LightHours, Settings, Tent, ValueRange

Exactness = Literal["minute", "day", "month", "year", "about"]


@dataclass(frozen=True, slots=True)
class When:
    """A date as far as it is known.

    written: as the author wrote it (or as calculated from a photo or file name).
    first: the first day it can mean; entries sort by it.
    exact: how far it is known; only "minute" and "day" allow day counts.
    moment: aware datetime, only where exact is "minute".
    """

    written: str
    first: date
    exact: Exactness
    moment: datetime | None = None

    @property
    def iso(self) -> str:
        """ISO 8601 with as much as is known: `2026-10`, `2026-10-03`, `2026-10-03T14:05:00+01:00`."""
        if self.moment is not None:
            return self.moment.isoformat()
        if self.exact == "month":
            return self.first.isoformat()[:7]
        if self.exact == "year":
            return self.first.isoformat()[:4]
        return self.first.isoformat()

    @property
    def counts_days(self) -> bool:
        """Whether a number of days may be calculated from it."""
        return self.exact in ("minute", "day")


@dataclass(frozen=True, slots=True)
class Ref:
    """A named ID, spelled as where it was defined; `part` is the number after the dot in `B-031.2`."""

    id: str
    part: int | None = None

    def __str__(self) -> str:
        return self.id if self.part is None else f"{self.id}.{self.part}"


@dataclass(frozen=True, slots=True)
class Position:
    """A place on WGS 84. uncertainty_m: radius, None where not stated.

    grid_deg: where only the cell of a decimal grid may be told, its side; the place is then the cell's centre.
    """

    lat_deg: float
    lon_deg: float
    uncertainty_m: float | None
    source: Literal["entry", "photo", "track"]
    written: str = ""
    grid_deg: float | None = None


@dataclass(frozen=True, slots=True)
class MixPart:
    name: str
    mass_g: float


@dataclass(frozen=True, slots=True)
class Colony:
    """A colony on agar: two diameters at right angles. part: the number of its plate, where it is written here."""

    part: int | None
    across_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Next:
    """Something to be done; date: None where only words were written."""

    text: str
    date: date | None


@dataclass(frozen=True, slots=True)
class PhotoUse:
    """A photo in an entry; path is that of a Photo in the journal."""

    path: str
    caption: str | None = None
    in_text: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What every kind of entry has.

    text: the Markdown after the front matter, `::: private` passages included.
    lines: the line each key is on, for later problems; no part of the value.
    """

    kind: ClassVar[str]

    path: str
    date: When
    title: str
    by: str
    private: bool = False
    next: tuple[Next, ...] = ()
    done: tuple[str, ...] = ()
    text: str = ""
    photos: tuple[PhotoUse, ...] = ()
    lines: Mapping[str, int] = field(default_factory=dict, repr=False, compare=False)


Certainty = Literal["confirmed", "likely", "unsure"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Find(Entry):
    """A wild specimen. certainty: as at the find (a later note may change it: see `calculation.identity`)."""

    kind: ClassVar[str] = "find"

    id: str
    formerly: tuple[str, ...] = ()
    species: str | None = None
    certainty: Certainty = "unsure"
    identified_by: str | None = None
    position: Position | None = None
    place: str | None = None
    habitat: str | None = None
    growing_on: str | None = None
    host: str | None = None
    growth: str | None = None
    smell: str | None = None
    weather: str | None = None
    elevation_m: float | None = None
    spore_print: str | None = None
    specimen: str | None = None
    permission: str | None = None
    permit: str | None = None
    picked_mass_g: float | None = None
    locality: Literal["hidden", "area", "exact"] = "hidden"
    patch: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Culture(Entry):
    """Anything alive in a vessel. species: its own or its parent's. sources: what it was taken from.

    unknown_sources: how many of the IDs it names as its origin could not be followed; unshared_sources: of those, how
    many are known and kept back by a share.
    """

    kind: ClassVar[str] = "culture"

    id: str
    formerly: tuple[str, ...] = ()
    sources: tuple[Ref, ...] = ()
    unknown_sources: int = 0
    unshared_sources: int = 0
    received_from: str | None = None
    species: str | None = None
    method: Literal["tissue", "spores", "transfer", "received"] | None = None
    form: str | None = None
    medium: str | None = None
    treatment: str | None = None
    vessels: int | None = None
    transfers_before: int | None = None
    master: bool = False
    kept: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch(Entry):
    """Units inoculated together. All masses are per unit, but for `mix`, which is the whole lot.

    units: how many; 1 if nothing is written, None if what is written cannot be read. species: of its first culture that
    has one. unknown_sources, unshared_sources: as in `Culture`. dry_g: dry substrate a unit; dry_from: which of the
    ways gave it. totals_are_partial: in a share, whether some of its harvests or losses are left out. shared_from: in a
    share, the day before which everything about it is left out. known_until: in a share, a day until which it has
    every harvest from there on, None if it is known of none; None in no share."""

    kind: ClassVar[str] = "batch"

    id: str
    formerly: tuple[str, ...] = ()
    cultures: tuple[Ref, ...] = ()
    unknown_sources: int = 0
    unshared_sources: int = 0
    species: str | None = None
    substrate: str | None = None
    container: str | None = None
    units: int | None = 1
    mix: tuple[MixPart, ...] = ()
    wet_g: float | None = None
    moisture_pct: float | None = None
    dry_g: float | None = None
    dry_from: Literal["dry mass", "moisture", "mix"] | None = None
    treatment: str | None = None
    spawn_g: float | None = None
    spawn_ml: float | None = None
    tent: str | None = None
    cost: float | None = None
    wants_humidity_pct: ValueRange | None = None
    wants_temperature_c: ValueRange | None = None
    wants_humidity_while_colonising_pct: ValueRange | None = None
    wants_temperature_while_colonising_c: ValueRange | None = None
    totals_are_partial: bool = False
    shared_from: date | None = None
    known_until: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Note(Entry):
    """A dated observation, work done, or harvest, about one or several IDs (or parts of them)."""

    kind: ClassVar[str] = "note"

    about: tuple[Ref, ...]
    stage: str | None = None
    harvest_g: float | None = None
    dried_g: float | None = None
    dried_from_g: float | None = None
    flush: int | None = None
    lost: int | None = None
    cause: str | None = None
    moved_to: str | None = None
    colony: tuple[Colony, ...] = ()
    minutes: float | None = None
    cost: float | None = None
    sold: float | None = None
    species: str | None = None
    certainty: Certainty | None = None
    identified_by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TentEntry(Entry):
    """A setting changed, a manual reading, or a service done; about: tent IDs."""

    kind: ClassVar[str] = "tent"

    about: tuple[str, ...]
    humidity_set_pct: float | None = None
    humidity_differential_pct: float | None = None
    temperature_set_c: float | None = None
    light: LightHours | None = None
    light_k: float | None = None
    exhaust: Exhaust | None = None
    air_movement: str | None = None
    humidity_reading_pct: float | None = None
    temperature_reading_c: float | None = None
    co2_ppm: float | None = None
    meter_kwh: float | None = None
    door: Literal["open", "shut"] | None = None
    why: str | None = None
    serviced: tuple[str, ...] = ()
    light_level_lux: float | None = None
    tank_fill_ml: float | None = None
    cost: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Device(Entry):
    """What is in a tent. tent: "" where none known is named.

    powered_by: a device's ID or the name of a socket; controlled_by: a device's ID; several are joined by ", ".
    """

    kind: ClassVar[str] = "device"

    id: str
    tent: str
    formerly: tuple[str, ...] = ()
    does: str | None = None
    powered_by: str | None = None
    controlled_by: str | None = None
    rated_for: str | None = None
    price: str | None = None
    spare: str | None = None
    cost: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A picture file. width, height: as shown upright, None where the pixels cannot be read.

    digest: SHA-256 of the file, hex. taken: aware, in the offset the camera or GPS gave, else the journal's zone.
    by_day: only the day of `taken` is told; its time of day means nothing.
    lat_deg, lon_deg, uncertainty_m: its own GPS. track: its place on a track log, where it has no GPS.
    camera: the model, as it writes it.
    """

    path: str
    digest: str
    taken: datetime | None = None
    by_day: bool = False
    lat_deg: float | None = None
    lon_deg: float | None = None
    uncertainty_m: float | None = None
    track: Position | None = None
    width: int | None = None
    height: int | None = None
    entries: tuple[str, ...] = ()
    camera: str | None = None


@dataclass(frozen=True)
class Journal:
    """The whole journal. Entries of each kind are sorted by (date, path); photos and problems by path.

    newest: the day of its newest file, which no entry should be later than; None where that is not known. figures: what
    was calculated from its parts (see `analysis.kept`); a copy with other parts has it too. surest: in a share, how
    sure each find, culture and batch may be called at most, by ID: no surer than in the journal that is shared."""

    settings: Settings
    finds: tuple[Find, ...] = ()
    cultures: tuple[Culture, ...] = ()
    batches: tuple[Batch, ...] = ()
    notes: tuple[Note, ...] = ()
    tent_entries: tuple[TentEntry, ...] = ()
    devices: tuple[Device, ...] = ()
    photos: tuple[Photo, ...] = ()
    logs: tuple[LoggerFile, ...] = ()
    core_logs: tuple[CoreLog, ...] = ()
    weather: tuple[WeatherFile, ...] = ()
    problems: tuple[Problem, ...] = ()
    newest: date | None = None
    surest: Mapping[str, Certainty] = field(default_factory=dict)
    figures: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)
    _link_public: Callable[[], Journal] | None = field(default=None, init=False, repr=False, compare=False)

    def with_public(self, link: Callable[[], Journal], problems: tuple[Problem, ...] = ()) -> Journal:
        """This journal, told its problems and how to make `public`; a copy made by `replace` no longer knows that."""
        object.__setattr__(self, "problems", problems)
        object.__setattr__(self, "_link_public", link)
        return self

    def is_future(self, entry: Entry) -> bool:
        """Whether an entry is of a day after the newest file's, by more than what a day begins earlier elsewhere."""
        return self.newest is not None and entry.date.first > self.newest + timedelta(days=1)

    @cached_property
    def public(self) -> Journal:
        """The journal as it would be had nothing private in it ever been written: of what a share shows, all comes
        from here. Raises ValueError where an entry is private and nobody told how to link the others without it."""
        if self._link_public is not None:
            return self._link_public()
        if any(entry.private for entry in self.entries()):
            raise ValueError("an entry is private, and how the others would be linked without it is not known")
        return self

    @cached_property
    def by_id(self) -> dict[str, Find | Culture | Batch | Device | Tent]:
        """Everything that has an ID, by that ID in lower case."""
        rows: tuple[Any, ...] = (*self.finds, *self.cultures, *self.batches, *self.devices, *self.settings.tents)
        return {row.id.lower(): row for row in rows}

    @cached_property
    def photo_by_path(self) -> dict[str, Photo]:
        return {photo.path: photo for photo in self.photos}

    def entries(self) -> Iterator[Entry]:
        """Every entry of every kind, sorted by (first day, moment, path)."""
        return iter(self._in_order)

    @cached_property
    def _in_order(self) -> tuple[Entry, ...]:
        named = (*self.finds, *self.cultures, *self.batches)
        return tuple(sorted((*named, *self.notes, *self.tent_entries, *self.devices), key=sort_key))


def sort_key(entry: Entry) -> tuple[date, float, str]:
    """Order of entries: by day, then by moment (those with no time of day first), then by path."""
    moment = entry.date.moment.timestamp() if entry.date.moment else 0.0
    return (entry.date.first, moment, entry.path)
