"""What feeds what: from the wall to every device, what switches which, and which setting each switch holds."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from journal.model import Device, Journal, TentEntry
from journal.reckoning.device_lives import Life, lives_of
from journal.reckoning.tent_settings import SettingName, history_of, holding_now
from journal.reckoning.wet_ratings import WetRating, wet_rating

Setting = Literal["light", "exhaust", "humidity", "temperature"]

DEEPEST = 6
"""How many devices stand one behind the other before what follows is told under a heading of its own: as many as a
phone has room for."""

_HELD_BY: Mapping[str, Setting] = {
    "light": "light", "lamp": "light", "exhaust": "exhaust", "humidifier": "humidity", "fogger": "humidity",
    "heater": "temperature",
}  # fmt: skip
"""What a device does -> the setting of its tent that whatever switches it has to hold."""

_SET_AS: Mapping[Setting, SettingName] = {
    "light": "light", "exhaust": "exhaust", "humidity": "humidity set point", "temperature": "temperature set point",
}  # fmt: skip

_SWITCHED_BY: Mapping[Setting, str] = {
    "light": "timer", "exhaust": "timer", "humidity": "controller", "temperature": "controller",
}  # fmt: skip
"""What turns a device on and off where it gets its current through one and nothing is written (common practice)."""

_ON_MAINS = (*_HELD_BY, "fan", "controller", "timer", "strip")
"""What needs a socket, whether or not one is written."""


@dataclass(frozen=True, slots=True)
class Hung:
    """A device and all that hangs on it. again: it hangs on a second thing too, and what hangs on it stands there."""

    device: Device
    hangs: tuple[Hung, ...] = ()
    again: bool = False


@dataclass(frozen=True, slots=True)
class Root:
    """Where current comes from: the name of a socket, or the ID of a device that stands far down another root.

    name: None where nothing is written that feeds these devices.
    """

    name: str | None
    hangs: tuple[Hung, ...]


@dataclass(frozen=True, slots=True)
class Held:
    """What a timer or controller has to hold: the setting of a tent for the devices that it switches.

    entry: the tent entry that made it what it is, None where none did.
    """

    switch: str
    setting: Setting
    tent: str
    devices: tuple[str, ...]
    entry: TentEntry | None


@dataclass(frozen=True)
class Wiring:
    """Of the devices in use, and of those out of use that something in use still hangs on.

    roots: sockets by name, then what nothing is written to feed. held: by switch, in the order of its devices.
    """

    lives: Mapping[str, Life]
    roots: tuple[Root, ...]
    held: tuple[Held, ...]
    on_mains: frozenset[str]

    def inside(self, tent: str) -> tuple[Root, ...]:
        """The roots as far as a tent has to do with them: its devices, what leads to them, what hangs on them."""
        pruned = (Root(root.name, tuple(_within(root.hangs, tent.lower()))) for root in self.roots)
        return tuple(root for root in pruned if root.hangs)

    def held_by(self, switch: str) -> tuple[Held, ...]:
        return tuple(row for row in self.held if row.switch == switch)

    def ratings(self, devices: Iterable[Device]) -> tuple[tuple[Device, WetRating], ...]:
        """What is written of water for those of the devices that are in use and hang on the mains."""
        asked = [row for row in devices if row.id in self.on_mains and not self.lives[row.id].is_over]
        return tuple((device, wet_rating(device.rated_for)) for device in asked)


def feeders(device: Device, known: Mapping[str, Device]) -> tuple[tuple[str, ...], str | None]:
    """What feeds it: the devices, and the name of a socket, None where there is none. A comma may be in the name."""
    named = (device.fed_by or "").split(", ")
    sockets = [name for name in named if name and name.lower() not in known]
    return tuple(known[name.lower()].id for name in named if name.lower() in known), ", ".join(sockets) or None


def switches_of(device: Device, known: Mapping[str, Device]) -> tuple[str, ...]:
    """The IDs of what turns it on and off."""
    named = (device.switched_by or "").split(", ")
    return tuple(known[name.lower()].id for name in named if name.lower() in known)


def wiring_of(journal: Journal) -> Wiring:
    """Everything that hangs on anything. Circles were opened when the journal was read."""
    known = {device.id.lower(): device for device in journal.devices}
    lives = lives_of(journal)
    shown = _in_use_or_needed(journal.devices, lives, known)
    return Wiring(
        lives=lives,
        roots=tuple(_Tree(shown, known).roots()),
        held=tuple(_held(journal, [device for device in shown if not lives[device.id].is_over], known)),
        on_mains=frozenset(device.id for device in shown if _is_on_mains(device)),
    )


def _in_use_or_needed(
    devices: Iterable[Device], lives: Mapping[str, Life], known: Mapping[str, Device]
) -> tuple[Device, ...]:
    """The devices in use, and those that lead from the wall to them; in the journal's order."""
    rows = tuple(devices)
    waiting = [device for device in rows if not lives[device.id].is_over]
    wanted: set[str] = set()
    while waiting:
        device = waiting.pop()
        if device.id not in wanted:
            wanted.add(device.id)
            waiting += [known[name.lower()] for name in _hangs_on(device, known)]
    return tuple(device for device in rows if device.id in wanted)


def _hangs_on(device: Device, known: Mapping[str, Device]) -> tuple[str, ...]:
    """The devices it hangs on: what feeds it; where nothing is written that does, what switches it."""
    devices, socket = feeders(device, known)
    return devices if devices or socket else switches_of(device, known)


class _Tree:
    """Each device is unfolded where it is met first; so a tree of many ways stays as small as its links are few."""

    def __init__(self, devices: Iterable[Device], known: Mapping[str, Device]) -> None:
        self.at_socket: dict[str, list[Device]] = {}
        self.names: dict[str, str] = {}
        self.alone: list[Device] = []
        self.below: dict[str, list[Device]] = {}
        self.met: set[str] = set()
        self.further: list[tuple[str, Hung]] = []
        for device in devices:
            self._place(device, known)

    def _place(self, device: Device, known: Mapping[str, Device]) -> None:
        above, socket = _hangs_on(device, known), feeders(device, known)[1]
        for id in above:
            self.below.setdefault(id, []).append(device)
        if socket:
            key = " ".join(socket.casefold().split())
            self.names.setdefault(key, socket)
            self.at_socket.setdefault(key, []).append(device)
        elif not above:
            self.alone.append(device)

    def roots(self) -> Iterator[Root]:
        for key in sorted(self.at_socket, key=_by_number):
            yield Root(self.names[key], tuple(self._unfold(device, 1) for device in self.at_socket[key]))
        if self.alone:
            yield Root(None, tuple(self._unfold(device, 1) for device in self.alone))
        while self.further:
            name, device = self.further.pop(0)
            yield Root(name, (self._unfold(device.device, 1),))

    def _unfold(self, device: Device, depth: int) -> Hung:
        if device.id in self.met:
            return Hung(device, again=True)
        self.met.add(device.id)
        below = self.below.get(device.id, [])
        if depth >= DEEPEST:
            self.further += [(device.id, Hung(child)) for child in below]
            return Hung(device)
        return Hung(device, tuple(self._unfold(child, depth + 1) for child in below))


def _by_number(name: str) -> list[tuple[int, str]]:
    """Socket 7 before socket 14."""
    parts = re.split(r"([0-9]{1,9})", name)
    return [(int(part), "") if at % 2 else (-1, part) for at, part in enumerate(parts)]


def _within(hangs: Iterable[Hung], tent: str) -> Iterator[Hung]:
    for hung in hangs:
        if hung.device.tent.lower() == tent:
            yield hung
        elif below := tuple(_within(hung.hangs, tent)):
            yield replace(hung, hangs=below)


def _held(journal: Journal, devices: Iterable[Device], known: Mapping[str, Device]) -> Iterator[Held]:
    groups: dict[tuple[str, Setting, str], list[str]] = {}
    for device in devices:
        setting = _setting_of(device)
        if setting is None:
            continue
        for switch in switches_of(device, known) or _on_the_way(device, _SWITCHED_BY[setting], known):
            groups.setdefault((switch, setting, device.tent), []).append(device.id)
    for (switch, setting, tent), ids in groups.items():
        yield Held(switch, setting, tent, tuple(ids), _set_by(journal, tent, setting))


def _on_the_way(device: Device, what: str, known: Mapping[str, Device]) -> tuple[str, ...]:
    """The nearest timer or controller through which a device is fed, straight or through power strips."""
    if device.switched_by:
        return ()
    for id in feeders(device, known)[0]:
        does = (known[id.lower()].does or "").casefold()
        if what in does:
            return (id,)
        if "strip" in does and (found := _on_the_way(known[id.lower()], what, known)):
            return found
    return ()


def _setting_of(device: Device) -> Setting | None:
    does = (device.does or "").casefold()
    return next((setting for word, setting in _HELD_BY.items() if word in does), None)


def _set_by(journal: Journal, tent: str, setting: Setting) -> TentEntry | None:
    """The entry that made it what it is; None where none did, or the device stands in no known tent."""
    row = next((row for row in journal.settings.tents if row.id == tent), None)
    change = holding_now(history_of(journal, row)).get(_SET_AS[setting]) if row else None
    return next((entry for entry in journal.tent_entries if change and entry.path == change.path), None)


def _is_on_mains(device: Device) -> bool:
    does = (device.does or "").casefold()
    return bool(device.fed_by or device.switched_by) or ("damper" not in does and any(w in does for w in _ON_MAINS))
