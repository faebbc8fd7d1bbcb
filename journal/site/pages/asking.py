"""How a reader of a share names an entry: on the telephone, and in a message."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from journal.model import Batch, Culture, Device, Entry, Find, When
from journal.site import addresses, wording
from journal.site.pages.telling import what_it_is

if TYPE_CHECKING:
    from journal.site.pages.common import Lookup

_NTH = ("", "", "the second", "the third", "the fourth", "the fifth", "the sixth")


@dataclass(frozen=True, slots=True)
class Asking:
    """called: an entry as it is named aloud, `B-031, 20 November 2026`; it never changes while the entry stands.

    address: from the site's root, with the entry's place on the page. text: what to begin a message with.
    """

    called: str
    address: str
    text: str


def asking_of(lookup: Lookup, entry: Entry, row: addresses.Named | None = None) -> Asking | None:
    """How to ask about an entry, as it stands on the page of `row`, or where it stands first; None on the keeper's own
    site."""
    if lookup.share is None:
        return None
    label = lookup.label_of(entry) if row is None else lookup.label(row.id)
    address = lookup.address_of(entry)
    if row is not None and not isinstance(entry, Find | Culture | Batch | Device):
        address = f"{addresses.page_of(row).partition('#')[0]}#{lookup.anchor(row, entry)}"
    return asking_about(label.id if label else "", entry, address, what_it_is(lookup, entry), lookup.settings.title)


def asking_about(id: str, entry: Entry, address: str, told: str, title: str) -> Asking:
    """How to ask about an entry that stands at an address under an ID.

    told: what the entry is, in a few words. title: what the journal is called.
    """
    called = id if isinstance(entry, Find | Culture | Batch | Device) else _dated(id, entry.date, address)
    return Asking(called, address, f"About {called} in {title}\n{told[:1].upper()}{told[1:]}\n{address}\n\n")


def _dated(id: str, date: When, address: str) -> str:
    """The ID and the day, and which entry of that day it is where it is not the first."""
    day = wording.when_in_words(replace(date, moment=None))
    nth = _nth_of(date, address.rpartition("#")[2])
    return f"{id}, {day}" + (f", {nth} of that day" if nth else "")


def _nth_of(date: When, anchor: str) -> str:
    _, _, number = anchor.partition(f"{date.first.isoformat()}-")
    if not number.isdigit():
        return ""
    return _NTH[int(number)] if int(number) < len(_NTH) else f"no. {number}"
