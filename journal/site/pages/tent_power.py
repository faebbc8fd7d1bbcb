"""Power and control in a tent, as nested lists, and what is known of each device: water rating, age, end of use."""

from __future__ import annotations

from collections.abc import Iterable

from journal.analysis.power import ControlledSetting, Lifetime, PoweredDevice, controllers_of
from journal.model import Device
from journal.quantities import counted
from journal.settings import Tent
from journal.site import wording
from journal.site.pages.lookup import Lookup
from journal.site.plan import Row


def feeds(lookup: Lookup, tent: Tent) -> tuple[Row, ...]:
    """The tree of a tent, starting from its sockets, or of the devices of another list; without a name if no source is
    given."""
    rows = []
    for root in lookup.analysis.power.inside(tent.id):
        label = lookup.label(root.name) if root.name and root.name in lookup.analysis.power.lifetimes else None
        powers = tuple(_branch(lookup, tent, node, None) for node in root.powers)
        rows.append(Row(name=root.name, label=label, powers=powers))
    return tuple(rows)


def _branch(lookup: Lookup, tent: Tent, node: PoweredDevice, above: str | None) -> Row:
    """A device in the tree. controlled_by: if that is not what powers it. again: its devices are listed above."""
    device = node.device
    home = lookup.journal.by_id.get(device.tent.lower())
    switches = [name for name in controllers_of(device, lookup.indexes.devices_by_id) if name != above]
    return Row(
        label=lookup.label(device.id),
        does=what_it_does(device),
        holds=tuple(setting_words(lookup, row) for row in lookup.analysis.power.settings_controlled_by(device.id)),
        controlled_by=lookup.labels(switches),
        state=state_of(lookup.analysis.power.lifetimes[device.id]),
        elsewhere=None
        if device.tent.lower() == tent.id.lower()
        else home.name
        if isinstance(home, Tent)
        else "no tent",
        again=node.again,
        powers=tuple(_branch(lookup, tent, below, device.id) for below in node.powers),
    )


def what_it_does(device: Device) -> str:
    return device.does or (device.title if "title" in device.lines else "device")


def setting_words(lookup: Lookup, row: ControlledSetting) -> str:
    """`light 06:30–18:30 (12 h) for lamp-1`, or that nothing is recorded."""
    devices = wording.joined(list(row.devices))
    entry, units = row.entry, lookup.units
    if entry is None:
        return f"{row.setting} for {devices}, with no setting recorded"
    if row.setting == "light" and entry.light:
        return f"light {wording.light(entry.light)} for {devices}"
    if row.setting == "exhaust" and entry.exhaust:
        return f"exhaust {wording.exhaust(entry.exhaust)} for {devices}"
    if row.setting == "humidity" and entry.humidity_set_pct is not None:
        return f"humidity at {wording.percent(entry.humidity_set_pct)} for {devices}"
    return f"temperature at {wording.temperature(entry.temperature_set_c or 0.0, units)} for {devices}"


def state_of(life: Lifetime) -> str | None:
    """`dead since 8 October 2026`; None for a device in use with nothing wrong."""
    if life.ended is not None:
        return f"{life.how} since {wording.when_in_words(life.ended)}"
    return f"faulty since {wording.when_in_words(life.faulty_by.date)}" if life.faulty_by else None


def water(lookup: Lookup, devices: Iterable[Device]) -> Row:
    """The devices on the mains whose water rating does not cover splashing water, by the rating that is given."""
    rows = [(device, rating) for device, rating in lookup.analysis.power.ratings(devices) if not rating.is_for_the_wet]

    def rated(*claims: str | None, is_written: bool = True) -> tuple[Row, ...]:
        return tuple(
            Row(
                label=lookup.label(device.id),
                does=what_it_does(device),
                words=f"“{rating.written}”" if rating.written else "nothing written",
            )
            for device, rating in rows
            if rating.claim in claims and (rating.written is not None) == is_written
        )

    unsaid = rated(None, is_written=False)
    return Row(dry=rated("dry"), damp=rated("damp"), unclear=rated(None), unsaid=unsaid, any=bool(rows))


_NOT_FOR_THE_WET = {
    "dry": "rated for dry places: keep out of fog and drips",
    "damp": "rated for damp places, which is less than wet",
    None: "rated, but the rating does not mention water",
}


def water_words(lookup: Lookup, devices: Iterable[Device]) -> dict[str, str]:
    """What to say of each device on the mains whose water rating does not cover splashing water, by its ID."""
    unsaid = "no rating against splashing water: nothing is written under “rated for”"
    return {
        device.id: _NOT_FOR_THE_WET[rating.claim] if rating.written else unsaid
        for device, rating in lookup.analysis.power.ratings(devices)
        if not rating.is_for_the_wet
    }


def in_trees(feeds: Iterable[Row]) -> frozenset[str]:
    """The IDs of the devices in some trees."""
    return frozenset().union(*({row.label.id} | in_trees([row]) for feed in feeds for row in feed.powers))


def device_ages(lookup: Lookup, devices: Iterable[Device]) -> tuple[tuple[Row, ...], tuple[Row, ...]]:
    """The devices in use, and those that are not, the latest to end first."""
    rows = [lookup.analysis.power.lifetimes[device.id] for device in devices]
    over = sorted((life for life in rows if life.ended), key=lambda life: life.ended.first, reverse=True)  # type: ignore[union-attr]
    in_use = tuple(_aged(lookup, life) for life in rows if not life.is_over)
    return in_use, tuple(_aged(lookup, life) for life in over)


def _aged(lookup: Lookup, life: Lifetime) -> Row:
    device, note = life.device, life.ended_by or life.faulty_by
    return Row(
        label=lookup.label(device.id),
        does=what_it_does(device),
        since_iso=life.in_use_since.isoformat() if life.in_use_since else None,
        since=wording.when_in_few_words(device.date),
        ended=f"{life.how} {wording.when_in_words(life.ended)}" if life.ended else None,
        in_use_for=span_words(life.days) if life.days is not None else None,
        cause=note.cause if note else None,
        anchor=lookup.anchor(device, note) if note else None,
        state=state_of(life),
    )


def span_words(days: int) -> str:
    """`306 days (10 months)`; months and years where there are two or more of them."""
    words = counted(days, "day")
    if days >= 731:
        return f"{words} ({wording.number(days / 365.25)} years)"
    return f"{words} ({wording.number(days / 30.44, 0)} months)" if days >= 62 else words
