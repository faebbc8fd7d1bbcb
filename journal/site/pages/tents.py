"""The tents: what was read, what is set, what stands there and what it hangs on."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from journal.model import Device, Note, Tent, TentEntry
from journal.reckoning.due import entries_about, last_service
from journal.site import addresses, wording
from journal.site.pages.batches import growing
from journal.site.pages.common import Lookup
from journal.site.pages.cultures import batch_line, label_or_none
from journal.site.plan import Page


def pages(lookup: Lookup) -> Iterator[Page]:
    homeless = lookup.devices_in("")
    context = {
        "title": "Tents",
        "place": "Tent",
        "tents": [glance(lookup, tent) for tent in lookup.settings.tents],
        "devices": [_device(lookup, device) for device in homeless],
        "entries": [lookup.told(entry, homeless[0]) for entry in lookup.entries_in_no_tent()],
    }
    yield Page("tents", (), addresses.TENTS, "tents/list.html", context, "main", growing=True)
    for tent in lookup.settings.tents:
        yield _tent(lookup, tent)


def glance(lookup: Lookup, tent: Tent) -> dict[str, Any]:
    """What one sees at the tent's door: the last reading by eye, the set points, the light."""
    entries = entries_about(lookup.journal, tent)
    readings = [e for e in entries if e.humidity_reading_pct is not None or e.temperature_reading_c is not None]
    last = readings[-1] if readings else None
    humidity = last.humidity_reading_pct if last else None
    temperature = last.temperature_reading_c if last else None
    light = _latest(entries, "light")
    return {
        "label": lookup.label(tent.id),
        "name": tent.name,
        "humidity": wording.percent(humidity) if humidity is not None else None,
        "temperature": wording.temperature(temperature, lookup.units) if temperature is not None else None,
        "door": last.door if last else None,
        "read_iso": last.date.iso if last else None,
        "read_words": wording.when_in_words(last.date) if last else None,
        "humidity_set": _worded(_latest(entries, "humidity_set_pct"), wording.percent),
        "light": wording.light(light) if light else None,
        "lit_from": light.lit_from if light else None,
        "lit_to": light.lit_to if light else None,
        "batches": [batch_line(lookup, b) for b in growing(lookup) if _stands_in(lookup, b.id, tent)],
    }


def _stands_in(lookup: Lookup, batch_id: str, tent: Tent) -> bool:
    where = lookup.runs[batch_id].tent
    return where is not None and where.lower() == tent.id.lower()


def _latest(entries: list[TentEntry], name: str) -> Any:
    """The value of a setting that holds: the last one written."""
    return next((value for e in reversed(entries) if (value := getattr(e, name)) is not None), None)


def _worded(value: Any, word: Any) -> str | None:
    return None if value is None else word(value)


def _tent(lookup: Lookup, tent: Tent) -> Page:
    entries = entries_about(lookup.journal, tent)
    pictures = lookup.photos_about(tent)
    context = {
        "title": tent.name,
        "place": "Tent",
        "glance": glance(lookup, tent),
        "id": tent.id,
        "label": lookup.label(tent.id),
        "facts": _facts(lookup, tent),
        "settings": _settings_now(lookup, entries),
        "hero": next((picture for picture in reversed(pictures) if picture.sources), None),
        "readings": [_reading(lookup, e) for e in reversed(entries) if _is_reading(e)],
        "devices": [_device(lookup, device) for device in lookup.devices_in(tent.id)],
        "services": _services(lookup, tent, entries),
        "entries": [lookup.told(entry, tent) for entry in reversed(lookup.entries_on(tent))],
        "leads": lookup.leads_to(tent),
        "larger": any(len(picture.sources) > 1 for picture in pictures),
    }
    values = (("name", tent.id.lower()),)
    return Page("tent", values, addresses.page_of(tent), "tents/tent.html", context, "main", growing=True)


def _facts(lookup: Lookup, tent: Tent) -> list[tuple[str, str]]:
    sides = [tent.width_m, tent.depth_m, tent.height_m]
    size = " × ".join(wording.length(side, lookup.units) for side in sides if side is not None)
    flow = wording.flow(tent.exhaust_m3_h, lookup.units) if tent.exhaust_m3_h is not None else None
    if flow and tent.exhaust_flow_is:
        flow += f", {tent.exhaust_flow_is}"
    lines = [
        ("width × depth × height" if None not in sides else "size", size),
        ("floor", tent.floor),
        ("exhaust flow", flow),
        ("humidity wanted", wording.humidity_band(tent.humidity_pct) if tent.humidity_pct else None),
        (
            "temperature wanted",
            wording.temperature_band(tent.temperature_c, lookup.units) if tent.temperature_c else None,
        ),
    ]
    return [(what, words) for what, words in lines if words]


def _settings_now(lookup: Lookup, entries: list[TentEntry]) -> list[dict[str, str]]:
    """Each setting that holds now, and since when."""
    kinds: tuple[tuple[str, str, Any], ...] = (
        ("humidity set point", "humidity_set_pct", wording.percent),
        ("humidity differential", "humidity_differential_pct", wording.percent),
        ("temperature set point", "temperature_set_c", lambda c: wording.temperature(c, lookup.units)),
        ("light", "light", wording.light),
        ("light colour", "light_k", lambda k: f"{wording.number(k, 0)} K"),
        ("exhaust", "exhaust", wording.exhaust),
        ("air movement", "air_movement", str),
    )
    rows = []
    for what, name, words in kinds:
        holding = next((entry for entry in reversed(entries) if getattr(entry, name) is not None), None)
        if holding is not None:
            since = wording.when_in_words(holding.date)
            rows.append({"what": what, "words": words(getattr(holding, name)), "since": since})
    return rows


def _is_reading(entry: TentEntry) -> bool:
    values = (entry.humidity_reading_pct, entry.temperature_reading_c, entry.co2_ppm)
    return any(value is not None for value in values)


def _reading(lookup: Lookup, entry: TentEntry) -> dict[str, str | float | None]:
    return {
        "iso": entry.date.iso,
        "when": wording.when_in_words(entry.date),
        "humidity_pct": entry.humidity_reading_pct,
        "humidity": _worded(entry.humidity_reading_pct, wording.percent),
        "temperature_c": entry.temperature_reading_c,
        "temperature": _worded(entry.temperature_reading_c, lambda c: wording.temperature(c, lookup.units)),
        "co2": _worded(entry.co2_ppm, lambda ppm: f"{wording.number(ppm, 0)} ppm"),
        "door": entry.door,
    }


def _device(lookup: Lookup, device: Device) -> dict[str, Any]:
    notes = [entry for entry in lookup.about.get(device.id.lower(), ()) if isinstance(entry, Note) and entry.stage]
    return {
        "id": device.id,
        "anchor": device.id.lower(),
        "title": device.does or device.title,
        "title_own": device.title,
        "fed_by": label_or_none(lookup, device.fed_by) or device.fed_by,
        "switched_by": label_or_none(lookup, device.switched_by) or device.switched_by,
        "rated_for": device.rated_for,
        "price": device.price,
        "spare": device.spare,
        "since": wording.when_in_words(device.date),
        "stages": [(n.stage, wording.when_in_words(n.date), lookup.anchor(device, n)) for n in notes],
        "prose": lookup.prose(device),
        "pictures": lookup.pictures.beside(device),
    }


def _services(lookup: Lookup, tent: Tent, entries: list[TentEntry]) -> list[dict[str, Any]]:
    """Each regular service: how often, and when last."""
    rows = []
    for name, every_d in tent.every:
        last = last_service(entries, name)
        rows.append(
            {
                "name": name,
                "every": wording.count(round(every_d), "day"),
                "iso": last.date.iso if last else None,
                "last": wording.when_in_words(last.date) if last else None,
            }
        )
    return rows
