"""The tents: whether the air is right, what hangs on what, what is set and done, and a sheet for each one's door."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from journal.model import Device, Note, Tent
from journal.site import addresses, wording
from journal.site.pages.asking import asking_of
from journal.site.pages.batches import growing
from journal.site.pages.common import Lookup
from journal.site.plan import Page
from journal.site.tent.air import air_part
from journal.site.tent.door import door
from journal.site.tent.glance import glance, inside, shared_tents
from journal.site.tent.history import TOO_CLOSE, TOO_CLOSE_RULE, changes, checks, done, held_over_time, read_by_eye
from journal.site.tent.setup import measures, services, settings_now
from journal.site.tent.wiring import ages, fed_by_words, feeds, span_words, water, what_it_does


def pages(lookup: Lookup) -> Iterator[Page]:
    homeless = lookup.devices_in("")
    batches = growing(lookup)
    context = {
        "title": "Tents",
        "place": "Tent",
        "tents": [(glance(lookup, tent), inside(lookup, tent, batches)) for tent in shared_tents(lookup)],
        "devices": [_device(lookup, device) for device in homeless],
        "entries": [lookup.told(entry, homeless[0]) for entry in lookup.entries_in_no_tent()],
    }
    yield Page("tents", (), addresses.TENTS, "tents/list.html", context, "main", growing=True)
    for tent in lookup.settings.tents:
        yield _tent(lookup, tent)
    for tent in shared_tents(lookup):
        yield _door(lookup, tent)


def _tent(lookup: Lookup, tent: Tent) -> Page:
    pictures = lookup.photos_about(tent)
    devices = lookup.devices_in(tent.id)
    in_use, over = ages(lookup, devices)
    context = {
        "title": tent.name,
        "place": "Tent",
        "id": tent.id,
        "label": lookup.label(tent.id),
        "unshared": tent.unshared,
        "door": addresses.door_of(tent),
        "glance": glance(lookup, tent),
        "batches": inside(lookup, tent, growing(lookup)),
        "air": air_part(lookup, tent),
        "feeds": feeds(lookup, tent),
        "water": water(lookup, devices),
        "in_use": in_use,
        "over": over,
        "measures": measures(lookup, tent),
        "settings": settings_now(lookup, tent),
        "changes": changes(lookup, tent),
        "held": held_over_time(lookup, tent),
        "too_close": (TOO_CLOSE, TOO_CLOSE_RULE),
        "services": services(lookup, tent),
        "done": done(lookup, tent),
        "checks": checks(lookup, tent),
        "readings": read_by_eye(lookup, tent),
        "devices": [_device(lookup, device) for device in devices],
        "entries": [lookup.told(entry, tent) for entry in reversed(lookup.entries_on(tent))],
        "leads": lookup.leads_to(tent),
        "larger": any(len(picture.sources) > 1 for picture in pictures),
    }
    values = (("name", tent.id.lower()),)
    return Page("tent", values, addresses.page_of(tent), "tents/tent.html", context, "main", growing=True)


def _door(lookup: Lookup, tent: Tent) -> Page:
    context = {"title": f"{tent.name}: the sheet for its door", "place": "Tent"} | door(lookup, tent)
    values = (("name", tent.id.lower()),)
    return Page("door", values, addresses.door_of(tent), "tents/door.html", context, "main", growing=True)


def _device(lookup: Lookup, device: Device) -> dict[str, Any]:
    notes = [entry for entry in lookup.about.get(device.id.lower(), ()) if isinstance(entry, Note) and entry.stage]
    life = lookup.wiring.lives[device.id]
    feeders, socket = fed_by_words(lookup, device)
    return {
        "id": device.id,
        "anchor": device.id.lower(),
        "title": what_it_does(device),
        "feeders": feeders,
        "socket": socket,
        "switched_by": lookup.labels((device.switched_by or "").split(", ")) if device.switched_by else (),
        "rated_for": device.rated_for,
        "price": device.price,
        "spare": device.spare,
        "since": wording.when_in_words(device.date),
        "lived": span_words(life.days) if life.days is not None else None,
        "stages": [
            (note.stage, wording.when_in_words(note.date), note.cause, lookup.anchor(device, note)) for note in notes
        ],
        "prose": lookup.prose(device),
        "asking": asking_of(lookup, device),
        "pictures": lookup.pictures.beside(device),
    }
