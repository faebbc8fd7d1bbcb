"""What wants doing, and from which day: what the keeper wrote under `next`, services that come round, cultures to
renew, and what is expected of batches.

Dates only: whether a thing is late is for whoever knows today.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType
from typing import Literal

from journal.model import Batch, Culture, Device, Entry, Find, Journal, Next, Note, Tent, TentEntry
from journal.reckoning.awaiting import What
from journal.reckoning.expecting import Expected, expected
from journal.reckoning.lineage import Lineage, lineage_of
from journal.reckoning.renewals import any_renewing, renewals
from journal.reckoning.timing import Run, runs

DueBasis = Literal["next", "service", "renewal", "line", "species", "published", "practice"]

LOOK_FOR: Mapping[What, str] = MappingProxyType(
    {
        "colonised": "see whether it is colonised",
        "pins": "look for pins",
        "harvest": "pick",
        "next flush": "look for the next flush",
    }
)
"""What there is to do about something expected."""


@dataclass(frozen=True, slots=True)
class Due:
    """about: IDs. day: when it falls due, None where none was written. basis: where it comes from.

    to_day: the last day of an expected window, None where the day itself is the last: late from the day after.
    path: the entry it stands in. words: what it rests on, where it was reckoned.
    """

    about: tuple[str, ...]
    what: str
    day: date | None
    basis: DueBasis
    path: str | None = None
    to_day: date | None = None
    words: str | None = None

    @property
    def last_day(self) -> date | None:
        """The day after which it is late."""
        return self.to_day or self.day


def due(
    journal: Journal, course: Mapping[str, Run] | None = None, lineage: Lineage | None = None
) -> tuple[Due, ...]:
    """Everything open, the earliest first and what has no day last.

    course, lineage: `runs` and `lineage_of` of the same journal, where they are at hand.
    """
    course = course if course is not None else runs(journal)
    awaited = expected(journal, course, lineage or lineage_of(journal))
    return due_with(journal, course, awaited)


def due_with(journal: Journal, course: Mapping[str, Run], awaited: Mapping[str, Expected]) -> tuple[Due, ...]:
    """As `due`, with what is expected of each batch at hand."""
    nexts = tuple(open_nexts(journal))
    rows = [*nexts, *services(journal), *_renewals(journal, course, nexts), *_expected(awaited)]
    return tuple(sorted(rows, key=lambda row: (row.day is None, row.day or date.max, row.what, row.about)))


def _expected(awaited: Mapping[str, Expected]) -> Iterator[Due]:
    for id, one in awaited.items():
        yield Due((id,), LOOK_FOR[one.what], one.from_day, one.basis, to_day=one.to_day, words=one.words)


def _renewals(journal: Journal, course: Mapping[str, Run], nexts: Iterable[Due]) -> Iterator[Due]:
    """Cultures to renew; where the keeper wrote a `next` of their own to renew one, theirs stands."""
    planned = {id for row in nexts if any_renewing([row.what]) for id in row.about}
    for one in renewals(journal, course):
        if one.id not in planned:
            yield Due((one.id,), one.what, one.day, "renewal", words=one.words)


def open_nexts(journal: Journal) -> Iterator[Due]:
    """What stands under `next` and no later entry about the same ID has `done`."""
    entries = list(journal.entries())
    done = _last_done(entries)
    for order, entry in enumerate(entries):
        ids = subject_ids(entry) if entry.next else ()
        for item in entry.next:
            if not any(at > order and settles(words, item) for id in ids for words, at in done.get(id, {}).items()):
                yield Due(ids, item.text, item.date, "next", entry.path)


def _last_done(entries: Iterable[Entry]) -> dict[str, dict[str, int]]:
    """For each ID the words under `done`, each with the place in order of the last entry that has them."""
    done: dict[str, dict[str, int]] = {}
    for order, entry in enumerate(entries):
        for words in entry.done:
            for id in subject_ids(entry):
                done.setdefault(id, {})[words] = order
    return done


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
