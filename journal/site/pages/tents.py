"""The tents: a page each for climate, for power and control, and for history, and a sheet for the door."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from functools import partial
from typing import Any

from journal.analysis.power import power_sources
from journal.analysis.ventilation import air_changes
from journal.model import Device, Entry, Note
from journal.quantities import counted
from journal.settings import Tent
from journal.site import addresses, wording
from journal.site.pages import tent_power, tent_setup
from journal.site.pages.batches import growing
from journal.site.pages.entry_words import earlier_ids
from journal.site.pages.long_lists import FoldedYear, LongList, folded
from journal.site.pages.lookup import Lookup
from journal.site.pages.place_section import all_places, place_section
from journal.site.pages.tent_climate import climate_part, exhaust_of
from journal.site.pages.tent_now import glance, inside, shared_tents
from journal.site.plan import Page, Planned, Row, made_at


def door(lookup: Lookup, tent: Tent) -> dict[str, Any]:
    """What the sheet shows. It names the day of the last entry, so that a reader of the paper knows how old it is."""
    last = tent_setup.latest_day(lookup, tent)
    devices = [d for d in lookup.devices_in(tent.id) if not lookup.analysis.power.lifetimes[d.id].is_over]
    tree = tent_power.feeds(lookup, tent)
    air = air_changes(tent, exhaust_of(lookup, tent))
    most = "at most " if air and air.is_ == "at most" else ""
    airing = [("air changes per hour", f"{most}{wording.number(air.per_hour)}")] if air else []
    return {
        "name": tent.name,
        "label": lookup.label(tent.id),
        "as_of": wording.day_in_words(last) if last else None,
        "measures": (*tent_setup.measures(lookup, tent), *airing),
        "settings": tent_setup.settings_now(lookup, tent),
        "feeds": tree,
        "crowded": sum(_rows(feed.powers) for feed in tree) > ROOMY,
        "devices": [
            Row(
                label=lookup.label(device.id),
                does=tent_power.what_it_does(device),
                rated_for=device.rated_for or "no rating",
                since=wording.when_in_few_words(device.date),
                spare=device.spare,
                state=tent_power.state_of(lookup.analysis.power.lifetimes[device.id]),
            )
            for device in devices
        ],
        "water": tent_power.water(lookup, devices),
        "services": tent_setup.services(lookup, tent),
    }


ROOMY = 14
"""A tree with more rows is set in two columns, so that the sheet stays one page for longer."""


def _rows(branches: Iterable[Row]) -> int:
    return sum(1 + _rows(branch.powers) for branch in branches)


def pages(lookup: Lookup) -> Iterator[Planned]:
    yield from lookup.together("tents", (addresses.TENTS,), partial(_list_pages, lookup))
    for tent in lookup.settings.tents:
        make = partial(lookup.keep, "tent", tent, partial(_whole_pages, lookup, tent))
        yield from lookup.together("tent", (addresses.page_of(tent),), make)
    for tent in shared_tents(lookup):
        yield lookup.keep_page("door", tent, addresses.door_of(tent), partial(_door, lookup, tent))


def _list_pages(lookup: Lookup) -> Iterator[Page]:
    homeless = lookup.devices_in("")
    batches, _ = growing(lookup)
    context = {
        "title": "Tents",
        "place": "Tent",
        "tents": [(glance(lookup, tent), inside(lookup, tent, batches)) for tent in shared_tents(lookup)],
        "devices": [_device(lookup, device) for device in homeless],
        "entries": [lookup.entry_on_page(entry, homeless[0]) for entry in lookup.indexes.entries_of_devices("")],
        "given": all_places(lookup),
    }
    yield Page("tents", (), addresses.TENTS, "tents/list.html", context, "main", growing=True)


def _door(lookup: Lookup, tent: Tent) -> Page:
    context = {"title": f"{tent.name}: sheet for the door", "place": "Tent"} | door(lookup, tent)
    values = (("name", tent.id.lower()),)
    return Page("door", values, addresses.door_of(tent), "tents/door.html", context, "main", growing=True)


def _whole_pages(lookup: Lookup, tent: Tent) -> tuple[Page, ...]:
    """The climate of a tent, on the page that labels name; its power and control; its history. Of a tent that is not
    shared the last two are there only if they have something to show."""
    made = [("tent", "Climate", addresses.page_of(tent), _climate)]
    if not tent.unshared or lookup.devices_in(tent.id):
        made.append(("power", "Power and control", addresses.power_of(tent.id), _power))
    if not tent.unshared or lookup.entries_on(tent):
        made.append(("history", "History", addresses.history_of(tent.id), _history))
    in_order = [address for _, _, address, _ in made]
    return tuple(map(lookup.whole, made_at(in_order, partial(_pages_of, lookup, tent, made))))


def _pages_of(
    lookup: Lookup, tent: Tent, made: Sequence[tuple[str, str, str, Callable[[Lookup, Tent], dict[str, Any]]]]
) -> Iterator[Page]:
    """made: of each page the endpoint, what it is called, its address, and what makes its own context."""
    parts = tuple((name, words, address) for name, words, address, _ in made)
    for name, words, address, context in made:
        shared = {
            "title": tent.name if name == "tent" else f"{tent.name}: {words.lower()}",
            "place": "Tent",
            "id": tent.id,
            "label": lookup.label(tent.id),
            "name": tent.name,
            "unshared": tent.unshared,
            "parts": parts if len(parts) > 1 else (),
            "part": name,
            "history": addresses.history_of(tent.id),
        }
        values = (("name", tent.id.lower()),)
        template = f"tents/{name}.html"
        yield Page(name, values, address, template, shared | context(lookup, tent), "main", growing=True)
    yield from _folded(lookup, tent)[1]


def _climate(lookup: Lookup, tent: Tent) -> dict[str, Any]:
    return {
        "glance": glance(lookup, tent),
        "batches": inside(lookup, tent, growing(lookup)[0]),
        "air": climate_part(lookup, tent),
        "given": place_section(lookup, tent),
        "settings": tent_setup.settings_now(lookup, tent),
        "services": tent_setup.services(lookup, tent),
        "devices": lookup.labels(device.id for device in lookup.devices_in(tent.id)),
        "leads": lookup.leads_to(tent),
    }


def _power(lookup: Lookup, tent: Tent) -> dict[str, Any]:
    """devices: what is known of each, by ID. over: the IDs of those that are in no tree, the latest to end first."""
    devices = lookup.devices_in(tent.id)
    feeds = tent_power.feeds(lookup, tent)
    drawn = tent_power.in_trees(feeds)
    dry = tent_power.water_words(lookup, devices)
    in_use, over = tent_power.device_ages(lookup, devices)
    return {
        "feeds": feeds,
        "devices": {device.id: _device(lookup, device) | {"water": dry.get(device.id)} for device in devices},
        "over": tuple(row.label.id for row in (*in_use, *over) if row.label.id not in drawn),
        "dry": counted(len(dry), "device") if dry else None,
        "door": addresses.door_of(tent),
        "measures": tent_setup.measures(lookup, tent),
        "larger": any(len(picture.sources) > 1 for one in devices for picture in lookup.pictures.beside(one)),
    }


def _folded(lookup: Lookup, tent: Tent) -> tuple[tuple[FoldedYear, ...], list[Page]]:
    """The entries that do not stand open in a tent's history, by year, and the pages of their parts."""
    at = addresses.history_of(tent.id)
    of = LongList(addresses.history_list(tent.id), f"{tent.name}: history", "Tent", at, "entry", "entries")
    parts = lookup.indexes.history_parts
    entries = [entry for entry in reversed(lookup.entries_on(tent)) if (tent.id.lower(), entry.path) in parts]
    if not entries:
        return (), []
    unclear = {row.anchor: row for row in tent_setup.changes(lookup, tent) if row.is_entangled}

    def entry_block(entry: Entry) -> dict[str, Any]:
        row = lookup.entry_on_page(entry, tent)
        said = unclear[row["anchor"]].entangled if row["anchor"] in unclear else ()
        marks = (words.removesuffix(".") for words in said)
        return {**row, "facts": (*row["facts"], *marks)}

    return folded(of, [(entry.date.first, entry_block(entry)) for entry in entries])


def _history(lookup: Lookup, tent: Tent) -> dict[str, Any]:
    """What stands open, and the years of what is folded."""
    parts = lookup.indexes.history_parts
    entries = [entry for entry in reversed(lookup.entries_on(tent)) if (tent.id.lower(), entry.path) not in parts]
    here = {lookup.anchor(tent, entry) for entry in entries}
    years, _ = _folded(lookup, tent)
    since = entries[-1].date.first if years else date.min
    return {
        "years": years,
        "changes": [row for row in tent_setup.changes(lookup, tent) if row.anchor in here],
        "periods": tent_setup.settings_by_period(lookup, tent, since),
        "too_close": tent_setup.TOO_CLOSE_RULE,
        "done": [row for row in tent_setup.done(lookup, tent) if row.anchor in here],
        "checks": tent_setup.checks(lookup, tent),
        "readings": [row for row in tent_setup.manual_readings(lookup, tent) if row.anchor in here],
        "entries": [lookup.entry_on_page(entry, tent) for entry in entries],
        "larger": any(len(picture.sources) > 1 for picture in lookup.photos_about(tent)),
    }


def _device(lookup: Lookup, device: Device) -> dict[str, Any]:
    notes = [entry for entry in lookup.entries_on(device) if isinstance(entry, Note) and entry.stage]
    life = lookup.analysis.power.lifetimes[device.id]
    powered_by, socket = power_sources(device, lookup.indexes.devices_by_id)
    cost = None if device.cost is None else wording.money(device.cost, lookup.settings.currency)
    return {
        "id": device.id,
        "anchor": device.id.lower(),
        "title": tent_power.what_it_does(device),
        "power_sources": lookup.labels(powered_by),
        "socket": socket,
        "controlled_by": lookup.labels((device.controlled_by or "").split(", ")) if device.controlled_by else (),
        "rated_for": device.rated_for,
        "price": _price(lookup, device),
        "cost": cost if cost != _price(lookup, device) else None,
        "spare": device.spare,
        "earlier": earlier_ids(device),
        "since": wording.when_in_words(device.date),
        "since_iso": life.in_use_since.isoformat() if life.in_use_since and not life.is_over else None,
        "in_use_for": tent_power.span_words(life.days) if life.days is not None else None,
        "stages": [(n.stage, wording.when_in_words(n.date), n.cause, lookup.address_on(device, n)) for n in notes],
        "prose": lookup.prose(device),
        "question": lookup.question(device),
        "pictures": lookup.pictures.beside(device),
    }


def _price(lookup: Lookup, device: Device) -> str | None:
    """The price in the author's own words; where these are only a number, in the currency of the journal."""
    if device.price and re.fullmatch(r"[0-9]+([.,][0-9]{1,2})?", device.price.strip()):
        return wording.money(float(device.price.strip().replace(",", ".")), lookup.settings.currency)
    return device.price
