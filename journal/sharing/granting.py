"""What a share holds: which IDs, and which entries about them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from journal.model import Batch, Culture, Device, Entry, Find, Journal, Note, Share, Tent, TentEntry
from journal.problems import nearest
from journal.reckoning.lineage import Lineage, lineage_of
from journal.refusal import Refusal

Reason = Literal["not shared", "private", "before since"]
"""Why something is kept back: nothing grants it, its keeper called it private, or it was before the share begins."""

Named = Find | Culture | Batch | Device | Tent


@dataclass(frozen=True, slots=True)
class Grant:
    """What a share holds of one journal. IDs are spelt as defined, and compared without regard to case.

    ids: every ID that is shared. wordless: of those, the ones that began before the share does: their pages stand for
    what is said of them later, with their facts and links, and without title, text, photos and position.
    """

    share: Share
    ids: frozenset[str]
    wordless: frozenset[str]
    _folded: frozenset[str] = field(repr=False)

    def has(self, id: str) -> bool:
        return id.lower() in self._folded

    def kept_back(self, entry: Entry) -> Reason | None:
        """Why an entry is not shared; None where it is (be it without words, see `is_wordless`).

        A note or tent entry is shared where one of the IDs that it is about is. Of a date that is less exact than a
        day, the first day that it can mean counts.
        """
        if entry.private:
            return "private"
        about = ids_of(entry)
        if not any(map(self.has, about)):
            return "before since" if self._is_early(entry) else "not shared"
        if self._is_early(entry) and not self.is_wordless(entry):
            return "before since"
        return None

    def is_wordless(self, entry: Entry) -> bool:
        """Whether an entry stands for its ID alone."""
        return isinstance(entry, Find | Culture | Batch | Device) and entry.id in self.wordless

    def _is_early(self, entry: Entry) -> bool:
        return self.share.since is not None and entry.date.first < self.share.since


def ids_of(entry: Entry) -> tuple[str, ...]:
    """The ID that an entry bears, or those that it is about."""
    if isinstance(entry, Find | Culture | Batch | Device):
        return (entry.id,)
    if isinstance(entry, Note):
        return tuple(dict.fromkeys(ref.id for ref in entry.about))
    return tuple(dict.fromkeys(entry.about)) if isinstance(entry, TentEntry) else ()


def share_named(journal: Journal, name: str) -> Share:
    """The share of that name; raises Refusal where the settings have none that can be used."""
    known = {share.name.casefold(): share for share in journal.settings.shares}
    if name.casefold() in known:
        return known[name.casefold()]
    near = nearest(name, (share.name for share in journal.settings.shares))
    names = ", ".join(sorted(share.name for share in journal.settings.shares))
    if near:
        raise Refusal(f"there is no share {name} that can be made; did you mean {near}?")
    raise Refusal(
        f"there is no share {name} that can be made; those that can: {names}"
        if names
        else f"there is no share {name} that can be made; `journal check` tells whether one is written and wrong"
    )


def refuse_what_cannot_be(share: Share) -> None:
    """Raises Refusal for a share that is to be locked, which is not possible yet."""
    if share.locked:
        raise Refusal(
            f"the share {share.name} is to be locked, and shares cannot be locked yet; nothing was written "
            "(with locked = false it goes out open to all who have it)"
        )


def grant_of(journal: Journal, share: Share) -> Grant:
    """What a share holds: the IDs it names, the ancestors of each and the descendants of each, never the descendants
    of an ancestor; a tent with its devices, and only where it is named.

    All of it as it is in the public journal: none that is private, nor what is kin only by way of that. Entries from
    `since` on. An ancestor or descendant that began before it is not shared; one that is named and began before it is
    there without words, and so are a tent's devices. Raises Refusal where the share names nothing, an ID that is not
    there, or one that is private.
    """
    named = _named(journal, share)
    public = journal.public
    lineage = lineage_of(public)
    early = {row.id for row in _bearers(public) if share.since and row.date.first < share.since}
    devices = {device.id for device in public.devices if device.tent.lower() in {name.lower() for name in named}}
    stay = {*named, *devices}
    ids = stay | ({id for name in named for id in _kin(lineage, name)} - early)
    return Grant(
        share=share,
        ids=frozenset(ids),
        wordless=frozenset(stay & early),
        _folded=frozenset(id.lower() for id in ids),
    )


def _named(journal: Journal, share: Share) -> tuple[str, ...]:
    """The IDs that a share names, spelt as defined."""
    if not share.about:
        raise Refusal(f"the share {share.name} names nothing; list under `about` the IDs that it is to show")
    rows = []
    for name in share.about:
        row = journal.public.by_id.get(name.lower())
        if row is None:
            raise _unknown(journal, share, name)
        rows.append(row.id)
    return tuple(dict.fromkeys(rows))


def _unknown(journal: Journal, share: Share, name: str) -> Refusal:
    """Why an ID that a share names is not in the public journal."""
    row = journal.by_id.get(name.lower())
    if isinstance(row, Entry) and row.private:
        return Refusal(
            f"the share {share.name} names {row.id}, which is private and so in no share; "
            f"take it out of the share, or `private` out of {row.path}"
        )
    near = nearest(name, (known.id for known in journal.by_id.values()))
    hint = f"; did you mean {near}?" if near else ""
    return Refusal(f"the share {share.name} names {name}, which is not in this journal{hint}")


def _bearers(journal: Journal) -> Iterator[Find | Culture | Batch | Device]:
    yield from journal.finds
    yield from journal.cultures
    yield from journal.batches
    yield from journal.devices


def _kin(lineage: Lineage, id: str) -> tuple[str, ...]:
    """Itself, what it came from and what came of it; the lineage knows of no tents and devices."""
    return (id, *lineage.ancestors_of(id), *lineage.descendants_of(id))
