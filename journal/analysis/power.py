"""Power and control: what each device is powered and controlled by, its water rating, and how long it lasted."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from operator import itemgetter
from typing import Literal

from journal.analysis.progress import calendar_day, days_between, notes_by_id
from journal.analysis.tent_settings import SettingName, current_settings, history_of
from journal.model import Device, Journal, Note, TentEntry, When

RatingClaim = Literal["wet", "damp", "dry"]


SPLASH = 4
"""The least second numeral that withstands splashing from every side. *Source:* IEC 60529, table 3."""

_I = re.IGNORECASE
_CODE = re.compile(r"\bIP\s?([0-6X])([0-9X])(?![0-9])", _I)
_CLAUSE = re.compile(r"[,;:.()]\s|[,;:.()]$|\bbut\b", _I)
_NOT = re.compile(r"\b(?:not?|never|without|away from|keep out of|protect from|unsuitable)\b|\bnon-", _I)
_WORDS: tuple[tuple[RatingClaim, re.Pattern[str]], ...] = (
    ("wet", re.compile(r"\b(?:wet|fog|mist|spray|splash|rain|outdoor|immers|submers|water[ -]?(?:proof|jet))", _I)),
    ("damp", re.compile(r"\b(?:damp|humid|moist|drip|water[ -]?(?:resist|repel))", _I)),
    ("dry", re.compile(r"\b(?:dry|indoor|living room)", _I)),
)
_WATER = re.compile(r"\b(?:wet|damp|humid|moist|water|fog|mist|splash|rain|outdoor|bath)", _I)


@dataclass(frozen=True, slots=True)
class WetRating:
    """The water rating as written: how the words are read, not a judgement of a device. For mains work in wet places
    follow local codes and licensed practice. claim: the wettest place it is said to be for, None if the words name
    none, or there are none. written: the author's words, None if nothing was written. code: the IP code in them, if
    any."""

    claim: RatingClaim | None
    written: str | None
    code: str | None = None

    @property
    def is_for_the_wet(self) -> bool:
        """Whether it is said to be for a place with fog and splashing water."""
        return self.claim == "wet"


def wet_rating(rated_for: str | None) -> WetRating:
    """What the words under `rated for` say about water: by the IP code, else by the wettest word that they do not deny.
    A damp place is not a wet one: it has moisture, but nothing in it is soaked. Numerals 1 to 3 withstand only drips
    and spray from above, which is the worst of a damp place. A clause that denies a place means that the device is for
    dry ones. *Source:* IEC 60529 (degrees of protection by enclosures), table 3; NFPA 70 (National Electrical Code),
    article 100, *Location, Damp*, *Dry* and *Wet*; other words are common practice."""
    written = (rated_for or "").strip() or None
    if written is None:
        return WetRating(None, None)
    codes = [(int(found[2]), found[0]) for found in _CODE.finditer(written) if found[2].isdigit()]
    if codes:
        numeral, code = max(codes, key=itemgetter(0))
        claim: RatingClaim = "wet" if numeral >= SPLASH else "damp" if numeral else "dry"
        return WetRating(claim, written, re.sub(r"\s", "", code).upper())
    claims: set[RatingClaim] = set()
    for clause in _CLAUSE.split(written):
        denied = _NOT.search(clause)
        before = clause[: denied.start()] if denied else clause
        claimed = next((claim for claim, word in _WORDS if word.search(before)), None)
        if claimed or (denied and _WATER.search(clause)):
            claims.add(claimed or "dry")
    return WetRating(next((claim for claim, _ in _WORDS if claim in claims), None), written)


@dataclass(frozen=True, slots=True)
class Lifetime:
    """A device's time in use: from the day it went into use to the first note that calls it dead, or else put away.
    Dead takes precedence over put away: a device that was put away and taken out again ended when it died. ended_by:
    that note. faulty_by: the latest note that calls it faulty, while it is in use."""

    device: Device
    ended_by: Note | None = None
    faulty_by: Note | None = None

    @property
    def in_use_since(self) -> date | None:
        """The day it went into use; None if that is not known to the day."""
        return calendar_day(self.device.date)

    @property
    def is_over(self) -> bool:
        return self.ended_by is not None

    @property
    def how(self) -> str | None:
        """How it ended, "dead" or "put away"; None while it is in use."""
        return self.ended_by.stage if self.ended_by else None

    @property
    def ended(self) -> When | None:
        return self.ended_by.date if self.ended_by else None

    @property
    def days(self) -> int | None:
        """Whole calendar days in use, if that is over and both ends are known to the day; never below 0."""
        span_d = days_between(self.device.date, self.ended) if self.ended else None
        return None if span_d is None else max(0, span_d)


def lifetimes_of(journal: Journal) -> dict[str, Lifetime]:
    """The lifetime of every device, by its ID."""
    about = notes_by_id(journal.notes)
    lifetimes = {}
    for device in journal.devices:
        staged = [note for note in about.get(device.id, ()) if note.stage]
        ended_by = next((n for stage in ("dead", "put away") for n in staged if n.stage == stage), None)
        faulty_by = next((n for n in reversed(staged) if n.stage == "faulty"), None) if ended_by is None else None
        lifetimes[device.id] = Lifetime(device, ended_by, faulty_by)
    return lifetimes


SwitchedSetting = Literal["light", "exhaust", "humidity", "temperature"]

DEEPEST = 6
"""How many levels of devices are nested before the rest is listed under a separate heading: as many as fit on a
phone."""

_CONTROLLED_BY: Mapping[str, SwitchedSetting] = {
    "light": "light", "lamp": "light", "exhaust": "exhaust", "humidifier": "humidity", "fogger": "humidity",
    "heater": "temperature",
}  # fmt: skip
"""What a device does -> the setting of its tent that its controller has to keep."""

_SET_AS: Mapping[SwitchedSetting, SettingName] = {
    "light": "light", "exhaust": "exhaust", "humidity": "humidity set point", "temperature": "temperature set point",
}  # fmt: skip


_ON_MAINS = (*_CONTROLLED_BY, "fan", "controller", "timer", "strip")  # needs a socket, whether or not one is given


@dataclass(frozen=True, slots=True)
class PoweredDevice:
    """A device and everything that it powers. again: it has a second power source too, under which the rest is
    listed."""

    device: Device
    powers: tuple[PoweredDevice, ...] = ()
    again: bool = False


@dataclass(frozen=True, slots=True)
class Root:
    """A power source: a socket, or the ID of a device far down another root; None if it is not given."""

    name: str | None
    powers: tuple[PoweredDevice, ...]


@dataclass(frozen=True, slots=True)
class ControlledSetting:
    """The setting of a tent that a timer or controller keeps. entry: the one that set it, if any."""

    controller: str
    setting: SwitchedSetting
    tent: str
    devices: tuple[str, ...]
    entry: TentEntry | None


@dataclass(frozen=True)
class PowerAndControl:
    """For the devices in use, and those that something in use depends on. settings: in
    the order of the devices."""

    lifetimes: Mapping[str, Lifetime]
    roots: tuple[Root, ...]
    settings: tuple[ControlledSetting, ...]
    on_mains: frozenset[str]

    def inside(self, tent: str) -> tuple[Root, ...]:
        """The parts of the roots that concern a tent: its devices, what powers them, what they power."""
        pruned = (Root(root.name, tuple(_within(root.powers, tent.lower()))) for root in self.roots)
        return tuple(root for root in pruned if root.powers)

    def settings_controlled_by(self, controller: str) -> tuple[ControlledSetting, ...]:
        return tuple(row for row in self.settings if row.controller == controller)

    def ratings(self, devices: Iterable[Device]) -> tuple[tuple[Device, WetRating], ...]:
        """The water ratings of those devices that are in use and on the mains."""
        asked = [row for row in devices if row.id in self.on_mains and not self.lifetimes[row.id].is_over]
        return tuple((device, wet_rating(device.rated_for)) for device in asked)


def power_sources(device: Device, known: Mapping[str, Device]) -> tuple[tuple[str, ...], str | None]:
    """What powers it: the devices, and the name of a socket, None if there is none. A comma may be in the name."""
    named = (device.powered_by or "").split(", ")
    sockets = [name for name in named if name and name.lower() not in known]
    return tuple(known[name.lower()].id for name in named if name.lower() in known), ", ".join(sockets) or None


def controllers_of(device: Device, known: Mapping[str, Device]) -> tuple[str, ...]:
    """The IDs of what turns it on and off."""
    named = (device.controlled_by or "").split(", ")
    return tuple(known[name.lower()].id for name in named if name.lower() in known)


def power_and_control_of(journal: Journal) -> PowerAndControl:
    """All power and control. Circles were removed when the journal was read."""
    known = {device.id.lower(): device for device in journal.devices}
    lifetimes = lifetimes_of(journal)
    shown = _in_use_or_needed(journal.devices, lifetimes, known)
    return PowerAndControl(
        lifetimes=lifetimes,
        roots=tuple(_roots(shown, known)),
        settings=tuple(_settings_of(journal, [device for device in shown if not lifetimes[device.id].is_over], known)),
        on_mains=frozenset(one.id for one in shown if one.powered_by or one.controlled_by or _needs_a_socket(one)),
    )


def _needs_a_socket(device: Device) -> bool:
    does = (device.does or "").casefold()
    return "damper" not in does and any(word in does for word in _ON_MAINS)


def _in_use_or_needed(
    devices: Iterable[Device], lifetimes: Mapping[str, Lifetime], known: Mapping[str, Device]
) -> tuple[Device, ...]:
    """The devices in use, and those between the wall socket and them; in the journal's order."""
    rows = tuple(devices)
    waiting = [device for device in rows if not lifetimes[device.id].is_over]
    wanted: set[str] = set()
    while waiting:
        device = waiting.pop()
        if device.id not in wanted:
            wanted.add(device.id)
            waiting += [known[name.lower()] for name in _depends_on(device, known)]
    return tuple(device for device in rows if device.id in wanted)


def _depends_on(device: Device, known: Mapping[str, Device]) -> tuple[str, ...]:
    """The devices it depends on: what powers it; if that is not given, what controls it."""
    devices, socket = power_sources(device, known)
    return devices if devices or socket else controllers_of(device, known)


def _roots(devices: Iterable[Device], known: Mapping[str, Device]) -> Iterator[Root]:
    """Each device is expanded only where it occurs first, so that the tree is not larger than the number of links."""
    at_socket: dict[str, tuple[str, list[Device]]] = {}
    alone: list[Device] = []
    below: dict[str, list[Device]] = {}
    for device in devices:
        above, socket = _depends_on(device, known), power_sources(device, known)[1]
        for id in above:
            below.setdefault(id, []).append(device)
        if socket:
            at_socket.setdefault(" ".join(socket.casefold().split()), (socket, []))[1].append(device)
        elif not above:
            alone.append(device)
    met: set[str] = set()
    further: list[tuple[str, Device]] = []

    def unfolded(device: Device, depth: int = 1) -> PoweredDevice:
        if device.id in met:
            return PoweredDevice(device, again=True)
        met.add(device.id)
        if depth >= DEEPEST:
            further.extend((device.id, child) for child in below.get(device.id, ()))
            return PoweredDevice(device)
        return PoweredDevice(device, tuple(unfolded(child, depth + 1) for child in below.get(device.id, ())))

    def by_number(name: str) -> list[tuple[int, str]]:  # socket 7 before socket 14
        parts = re.split(r"([0-9]{1,9})", name)
        return [(int(part), "") if at % 2 else (-1, part) for at, part in enumerate(parts)]

    for key in sorted(at_socket, key=by_number):
        yield Root(at_socket[key][0], tuple(map(unfolded, at_socket[key][1])))
    if alone:
        yield Root(None, tuple(map(unfolded, alone)))
    while further:
        name, device = further.pop(0)
        yield Root(name, (unfolded(device),))


def _within(powers: Iterable[PoweredDevice], tent: str) -> Iterator[PoweredDevice]:
    for node in powers:
        if node.device.tent.lower() == tent:
            yield node
        elif below := tuple(_within(node.powers, tent)):
            yield replace(node, powers=below)


def _settings_of(
    journal: Journal, devices: Iterable[Device], known: Mapping[str, Device]
) -> Iterator[ControlledSetting]:
    groups: dict[tuple[str, SwitchedSetting, str], list[str]] = {}
    for device in devices:
        does = (device.does or "").casefold()
        setting = next((setting for word, setting in _CONTROLLED_BY.items() if word in does), None)
        if setting is None:
            continue
        usual = "timer" if setting in ("light", "exhaust") else "controller"  # common practice, if none is given
        for controller in controllers_of(device, known) or _on_the_way(device, usual, known):
            groups.setdefault((controller, setting, device.tent), []).append(device.id)
    for (controller, setting, tent), ids in groups.items():
        row = next((row for row in journal.settings.tents if row.id == tent), None)
        change = current_settings(history_of(journal, row)).get(_SET_AS[setting]) if row else None
        entry = next((entry for entry in journal.tent_entries if change and entry.path == change.path), None)
        yield ControlledSetting(controller, setting, tent, tuple(ids), entry)


def _on_the_way(device: Device, what: str, known: Mapping[str, Device]) -> tuple[str, ...]:
    """The nearest timer or controller through which a device is powered, directly or through power strips."""
    if device.controlled_by:
        return ()
    for id in power_sources(device, known)[0]:
        does = (known[id.lower()].does or "").casefold()
        if what in does:
            return (id,)
        if "strip" in does and (found := _on_the_way(known[id.lower()], what, known)):
            return found
    return ()
