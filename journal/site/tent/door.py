"""The sheet for a tent's door: all that a helper, or a friend who asks how it is set up, needs on one page of paper."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from journal.model import Device, Tent
from journal.reckoning.ventilation import air_changes
from journal.site import wording
from journal.site.pages.common import Label, Lookup
from journal.site.tent.air import exhaust_of
from journal.site.tent.setup import latest_day, measures, services, settings_now
from journal.site.tent.wiring import Branch, feeds, state_of, water, what_it_does


@dataclass(frozen=True, slots=True)
class DoorDevice:
    """A device as a row of the sheet."""

    label: Label
    does: str
    rated_for: str
    since: str
    spare: str | None
    state: str | None


def door(lookup: Lookup, tent: Tent) -> dict[str, Any]:
    """What the sheet shows. It names the day of the last entry, since paper does not know how old it is."""
    last = latest_day(lookup, tent)
    devices = [d for d in lookup.devices_in(tent.id) if not lookup.wiring.lives[d.id].is_over]
    tree = feeds(lookup, tent)
    return {
        "name": tent.name,
        "label": lookup.label(tent.id),
        "as_of": wording.day_in_words(last) if last else None,
        "measures": (*measures(lookup, tent), *_air_changes(lookup, tent)),
        "settings": settings_now(lookup, tent),
        "feeds": tree,
        "crowded": sum(_rows(feed.hangs) for feed in tree) > ROOMY,
        "devices": [_device(lookup, device) for device in devices],
        "water": water(lookup, devices),
        "services": services(lookup, tent),
    }


ROOMY = 14
"""A tree of more rows than these is set in two columns, so that the sheet stays one page for longer."""


def _rows(hangs: Iterable[Branch]) -> int:
    return sum(1 + _rows(branch.hangs) for branch in hangs)


def _air_changes(lookup: Lookup, tent: Tent) -> tuple[tuple[str, str], ...]:
    changes = air_changes(tent, exhaust_of(lookup, tent))
    if changes is None:
        return ()
    most = "at most " if changes.is_ == "at most" else ""
    return (("air changes an hour", f"{most}{wording.number(changes.per_hour)}"),)


def _device(lookup: Lookup, device: Device) -> DoorDevice:
    return DoorDevice(
        label=lookup.label(device.id),
        does=what_it_does(device),
        rated_for=device.rated_for or "not said",
        since=wording.when_in_few_words(device.date),
        spare=device.spare,
        state=state_of(lookup.wiring.lives[device.id]),
    )
