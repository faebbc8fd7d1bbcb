"""What a share keeps back, told to the keeper and to nobody else."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from journal.model import Device, Find, Journal, Note, Share
from journal.reading.keeper import split_keeper
from journal.sharing import cells
from journal.sharing.granting import Grant, Reason
from journal.sharing.kept_sums import has_sums, is_whole, kept_back_for_privacy, kept_back_openly

Kept = Literal[
    "hidden", "made coarse", "keeper's passage", "never shared", "persons are not shared", "not all shared",
    "told as a part", "private sums",
]  # fmt: skip
"""Why something of what is shared is kept back."""


@dataclass(frozen=True, slots=True)
class Withheld:
    """Something that a share keeps back. what: "entry", "photo", "position" and so on. which: its ID, title or path."""

    what: str
    which: str
    reason: Reason | Kept


def withheld_of(journal: Journal, grant: Grant) -> Iterator[Withheld]:
    """What a share keeps back of a journal, by kind and reason."""
    share = grant.share
    public = {entry.path: entry for entry in journal.public.entries()}
    for entry in journal.entries():
        reason = grant.kept_back(public[entry.path]) if entry.path in public else "private"
        if reason is not None:
            yield Withheld("entry", entry.title, reason)
            continue
        if any(for_keeper for _, for_keeper in split_keeper(entry.text)):
            yield Withheld("text", entry.title, "keeper's passage")
        if grant.is_wordless(entry):
            yield Withheld("words and photos", entry.title, "before since")
        if isinstance(entry, Find):
            yield from _withheld_of_find(entry, share)
        if isinstance(entry, Note) and has_sums(entry) and not is_whole(entry, grant):
            yield Withheld("sum", entry.title, "not all shared")
        if isinstance(entry, Device) and entry.price:
            yield Withheld("price", entry.id, "never shared")
    yield from _photos_withheld(journal, grant)
    yield from (Withheld("BE", id, "told as a part") for id in sorted(kept_back_openly(journal, grant)))
    yield from (Withheld("sums of", id, "private sums") for id in sorted(kept_back_for_privacy(journal, grant)))
    for tent in journal.settings.tents:
        if not grant.has(tent.id):
            yield Withheld("tent", tent.name, "not shared")
    if not share.by:
        yield Withheld("persons", "by, identified by, received from", "persons are not shared")


def _photos_withheld(journal: Journal, grant: Grant) -> Iterator[Withheld]:
    """Photos that are not shared. Those of entries that are, which none shows but in what is private, are private."""
    shown = {use.path for entry in journal.public.entries() if grant.kept_back(entry) is None for use in entry.photos}
    used = {use.path for entry in journal.entries() if grant.kept_back(entry) is None for use in entry.photos}
    for photo in journal.photos:
        if photo.path not in shown:
            yield Withheld("photo", photo.path, "private" if photo.path in used else "not shared")


def _withheld_of_find(find: Find, share: Share) -> Iterator[Withheld]:
    for what, value in (("place", find.place), ("permission", find.permission)):
        if value:
            yield Withheld(what, find.id, "never shared")
    if find.position is not None:
        shown = cells.shown(find.position, find.locality, share)
        if shown is None:
            yield Withheld("position", find.id, "hidden")
        elif shown.grid_deg is not None:
            yield Withheld("position", find.id, "made coarse")
