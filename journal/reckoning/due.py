"""What wants doing, and from which day: what the keeper wrote under `next`, and services that come round.

Dates only: whether a thing is late is for whoever knows today.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from journal.model import Batch, Culture, Device, Entry, Find, Journal, Next, Note, Tent, TentEntry


@dataclass(frozen=True, slots=True)
class Due:
    """about: IDs. day: when it falls due, None where none was written. basis: where it comes from."""

    about: tuple[str, ...]
    what: str
    day: date | None
    basis: Literal["next", "service"]
    path: str | None = None


def due(journal: Journal) -> tuple[Due, ...]:
    """Everything open, the earliest first and what has no day last."""
    rows = [*open_nexts(journal), *services(journal)]
    return tuple(sorted(rows, key=lambda row: (row.day is None, row.day or date.max, row.what, row.about)))


def open_nexts(journal: Journal) -> Iterator[Due]:
    """What stands under `next` and no later entry about the same ID has `done`."""
    done: dict[str, list[tuple[int, str]]] = {}
    entries = list(journal.entries())
    for order, entry in enumerate(entries):
        for name in subject_ids(entry):
            done.setdefault(name, []).extend((order, words) for words in entry.done)
    for order, entry in enumerate(entries):
        ids = subject_ids(entry)
        for item in entry.next:
            later = (words for name in ids for at, words in done.get(name, ()) if at > order)
            if not any(settles(words, item) for words in later):
                yield Due(ids, item.text, item.date, "next", entry.path)


def subject_ids(entry: Entry) -> tuple[str, ...]:
    """The IDs an entry is about: its own, or those under `about`; each once."""
    if isinstance(entry, Find | Culture | Batch | Device):
        return (entry.id,)
    if isinstance(entry, Note):
        return tuple(dict.fromkeys(ref.id for ref in entry.about))
    return tuple(dict.fromkeys(entry.about)) if isinstance(entry, TentEntry) else ()


def settles(done: str, item: Next) -> bool:
    """Whether `done` closes a `next`: by the same words among its own, or by `yes` for all."""
    words = _plain(done)
    return words == "yes" or _plain(item.text) in words


def _plain(text: str) -> str:
    folded = unicodedata.normalize("NFKD", text).casefold().replace("’", "'")
    return re.sub(r"\s+", " ", folded).strip(" .;,")


def services(journal: Journal) -> Iterator[Due]:
    """Each regular service of each tent, from when it was last done; before the first, from the tent's first entry."""
    for tent in journal.settings.tents:
        entries = entries_about(journal, tent)
        for service, every_d in tent.every:
            last = last_service(entries, service)
            start = last or (entries[0] if entries else None)
            day = start.date.first + timedelta(days=round(every_d)) if start and start.date.counts_days else None
            yield Due((tent.id,), service, day, "service", last.path if last else None)


def entries_about(journal: Journal, tent: Tent) -> list[TentEntry]:
    """A tent's own entries, oldest first."""
    name = tent.id.lower()
    return [entry for entry in journal.tent_entries if name in {about.lower() for about in entry.about}]


def last_service(entries: list[TentEntry], service: str) -> TentEntry | None:
    """The latest entry in which a service was done."""
    return next((e for e in reversed(entries) if any(resets(words, service) for words in e.serviced)), None)


def resets(words: str, service: str) -> bool:
    """Whether what was serviced names a service: one of its words begins the service's name.

    Words of one or two letters (`a`, `in`) begin too many names to mean one.
    """
    said = {word.strip(".,;:()").casefold() for word in words.split()}
    return any(len(word) > 2 and service.casefold().startswith(word) for word in said)
