"""What is due and from which day: notes under `next`, regular services, cultures to renew, and what is expected of
batches. Only dates: whether something is late is decided where today's date is known.
"""

from __future__ import annotations

import calendar
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

from journal.amounts import half_up
from journal.analysis.forecast import Expected
from journal.analysis.progress import Progress, calendar_day
from journal.analysis.usual_times import What
from journal.model import Batch, Culture, Device, Entry, Find, Journal, Next, Note, TentEntry, When
from journal.settings import Tent

RENEW_AFTER_MONTHS: Mapping[str, int] = {"slant": 12, "liquid": 6}
"""How long a culture keeps in cold storage, by form: *common practice, from memory*."""

NOT_RENEWED = frozenset({"contaminated", "sectored"})
"""Stages in which renewing would only pass on the contamination or fault."""

_CALLED = {"slant": "the slant", "liquid": "the liquid culture"}
_GONE = re.compile(r"\b(used up|thrown (out|away)|given away|none left|gone)\b", re.IGNORECASE)
_RENEWED = re.compile(r"\s*renew", re.IGNORECASE)


def renewals(journal: Journal, progress: Mapping[str, Progress]) -> Iterator[Due]:
    """Every kept slant and liquid culture, with the day on which it should be renewed; None if that cannot be
    calculated. The day counts from the day it was made. A transfer from it does not renew it, because what stays in the
    vessel goes on ageing. Neither does a new entry: the new culture has its own day, and the old one is due until it is
    spent, discarded, dead, lost or noted as used up under `kept`. Only `done` with a word such as `renewed`, about the
    whole culture, restarts the count: the author put it on fresh medium under the same label."""
    for culture in journal.cultures:
        months, row = RENEW_AFTER_MONTHS.get(culture.form or ""), progress[culture.id]
        if not months or row.is_over or row.stage in NOT_RENEWED or _GONE.search(culture.kept or ""):
            continue
        renewed = [note.date for note in row.whole_notes if any_renewing(note.done)]
        day = _months_after(calendar_day(renewed[-1] if renewed else culture.date), months)
        words = f"{months} months after it was {'renewed' if renewed else 'made'} (common practice)"
        yield Due((culture.id,), f"renew {_CALLED[culture.form or '']}", day, "renewal", words=words)


def any_renewing(texts: Iterable[str]) -> bool:
    """Whether one of these texts begins with a word such as `renew` or `renewed`."""
    return any(_RENEWED.match(text) for text in texts)


def _months_after(day: date | None, months: int) -> date | None:
    """The same day of a later month, or that month's last day if it has no such day."""
    if day is None:
        return None
    years, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + years, month + 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


DueBasis = Literal["next", "service", "renewal", "batch", "line", "species", "published", "practice"]

LOOK_FOR: Mapping[What, str] = {
    "colonised": "see whether it is colonised",
    "pins": "look for pins",
    "harvest": "see what is ready to harvest",
    "next flush": "look for the next flush",
}
"""What to do about something expected."""


@dataclass(frozen=True, slots=True)
class Due:
    """about: IDs. day: when it falls due, None where none was written. basis: where it comes from. to_day: the last day
    of the usual days, None where there is no such range. is_firm: it is late from the day after the last; what is only
    looked for never is. path: the entry it is in.
    words: what it is based on, where it was calculated."""

    about: tuple[str, ...]
    what: str
    day: date | None
    basis: DueBasis
    path: str | None = None
    to_day: date | None = None
    words: str | None = None
    is_firm: bool = True

    @property
    def last_day(self) -> date | None:
        """The last day given for it, after which it is late if it is firm."""
        return self.to_day or self.day


def due(
    journal: Journal, nexts: Iterable[Due], to_renew: Iterable[Due], awaited: Mapping[str, Expected]
) -> tuple[Due, ...]:
    """Everything open, the earliest first and undated things last. nexts, to_renew, awaited: as `nexts_not_done`,
    `renewals` and `expected` give them. An author's own `next` to renew a culture replaces ours."""
    nexts = tuple(nexts)
    planned = {id for row in nexts if any_renewing([row.what]) for id in row.about}
    rows = [
        *nexts,
        *services(journal),
        *(row for row in to_renew if planned.isdisjoint(row.about)),
        *(
            Due(
                (id,),
                LOOK_FOR[one.what],
                one.from_day,
                one.basis,
                to_day=one.to_day,
                words=one.words,
                is_firm=one.late_after is not None,
            )
            for id, one in awaited.items()
        ),
    ]
    return tuple(sorted(rows, key=lambda row: (row.day is None, row.day or date.max, row.what, row.about)))


def nexts_not_done(journal: Journal, progress: Mapping[str, Progress]) -> tuple[tuple[Due, ...], tuple[Due, ...]]:
    """What is under `next` and not under `done` in a later entry about the same ID: first what is open, then what is
    not due any more, because every batch and culture it is about has ended since. What is written in the note that ends
    one, or later, is open; so is all of it again where a later note says that it grows."""
    entries = list(journal.entries())
    order_of = {entry.path: order for order, entry in enumerate(entries)}
    rows: tuple[list[Due], list[Due]] = ([], [])
    for order, row in _not_done(entries):
        ends = {id: run.end for id in row.about if (run := progress.get(id))}
        left = tuple(id for id in row.about if not ((end := ends.get(id)) and order_of[end.path] > order))
        rows[bool(row.about) and not left].append(replace(row, about=left or row.about))
    return tuple(rows[0]), tuple(rows[1])


def _not_done(entries: Sequence[Entry]) -> Iterator[tuple[int, Due]]:
    """Each with its entry's place in order."""
    done: dict[str, dict[str, int]] = {}  # ID -> words under `done`, each with its last entry's place in order
    for order, entry in enumerate(entries):
        for words in entry.done:
            for id in subject_ids(entry) or _NOTHING:
                done.setdefault(id, {})[words] = order
    for order, entry in enumerate(entries):
        ids = subject_ids(entry) if entry.next else ()
        for item in entry.next:
            later = (row for id in ids or _NOTHING for row in done.get(id, {}).items())
            if not any(at > order and settles(words, item) for words, at in later):
                yield order, Due(ids, item.text, item.date, "next", entry.path)


_NOTHING = ("",)
"""Stands for the ID in notes about nothing in particular, so that one can close another."""


def subject_ids(entry: Entry) -> tuple[str, ...]:
    """The IDs an entry is about: its own, or those under `about`; each once."""
    match entry:
        case Find() | Culture() | Batch() | Device():
            return (entry.id,)
        case Note():
            return tuple(dict.fromkeys(ref.id for ref in entry.about))
        case TentEntry():
            return tuple(dict.fromkeys(entry.about))
    return ()


def settles(done: str, item: Next) -> bool:
    """Whether `done` closes a `next`: by the same words among its own, or by `yes` for all."""
    words = _plain(done)
    return words == "yes" or _plain(item.text) in words


def _plain(text: str) -> str:
    folded = unicodedata.normalize("NFKD", text).casefold().replace("’", "'")
    return re.sub(r"\s+", " ", folded).strip(" .;,")


def services(journal: Journal) -> Iterator[Due]:
    """Each regular service of each tent, counted from when it was last done; before the first time, from the tent's
    first entry."""
    for tent in journal.settings.tents:
        entries = entries_about(journal, tent)
        for service, every_d in tent.every:
            last = last_service(entries, service)
            start = last or (entries[0] if entries else None)
            day = start.date.first + timedelta(days=half_up(every_d)) if start and start.date.counts_days else None
            yield Due((tent.id,), service, day, "service", last.path if last else None)


def entries_about(journal: Journal, tent: Tent) -> list[TentEntry]:
    """A tent's own entries, oldest first."""
    name = tent.id.lower()
    return [entry for entry in journal.tent_entries if name in {about.lower() for about in entry.about}]


def last_service(entries: list[TentEntry], service: str) -> TentEntry | None:
    """The latest entry in which a service was done."""
    return next((e for e in reversed(entries) if any(resets(words, service) for words in e.serviced)), None)


def resets(words: str, service: str) -> bool:
    """Whether the service's name begins with one of the words, of three letters or more, for what was serviced."""
    said = {word.strip(".,;:()").casefold() for word in words.split()}
    return any(len(word) > 2 and service.casefold().startswith(word) for word in said)


@dataclass(frozen=True, slots=True)
class Served:
    """One thing done. services: the regular services that it counts for, by name; path: the entry it is in."""

    when: When
    words: str
    services: tuple[str, ...]
    path: str


def served(journal: Journal, tent: Tent) -> tuple[Served, ...]:
    """Everything that was done, oldest first."""
    names = [service for service, _ in tent.every]
    return tuple(
        Served(entry.date, words, tuple(name for name in names if resets(words, name)), entry.path)
        for entry in entries_about(journal, tent)
        for words in entry.serviced
    )
