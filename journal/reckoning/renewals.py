"""Which kept cultures want renewing, and from which day."""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType

from journal.model import Culture, Entry, Journal
from journal.reckoning.timing import Run, calendar_day, runs

RENEW_AFTER_MONTHS: Mapping[str, int] = MappingProxyType({"slant": 12, "liquid": 6})
"""How long a culture keeps in the cold, by form: *common practice, from memory*."""

NOT_RENEWED = frozenset({"contaminated", "sectored"})
"""Stages in which renewing would only pass the fault on."""

_CALLED = {"slant": "the slant", "liquid": "the liquid culture"}
_GONE = re.compile(r"\b(used up|thrown (out|away)|given away|none left|gone)\b", re.IGNORECASE)
_RENEWED = re.compile(r"\s*renew", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Renewal:
    """A culture that wants renewing from `day` on; None where the day it was made is not known exactly."""

    id: str
    what: str
    day: date | None
    words: str


def renewals(journal: Journal, course: Mapping[str, Run] | None = None) -> Iterator[Renewal]:
    """Every kept slant and liquid culture, with the day it wants renewing.

    The day counts from the day it was made. A transfer from it renews nothing, since what stays in the vessel goes on
    ageing, and neither does a new entry: the new culture has its own day, and the old one is due until it is spent,
    discarded, dead, lost or noted as used up under `kept`. Only `done` with a word such as `renewed`, about the whole
    culture, begins the count anew: the keeper put it on fresh medium under the same label.
    """
    course = course if course is not None else runs(journal)
    for culture in journal.cultures:
        months = RENEW_AFTER_MONTHS.get(culture.form or "")
        if months and is_kept(course[culture.id]):
            yield _renewal(culture, course[culture.id], months)


def is_kept(run: Run) -> bool:
    """Whether a culture is still there, and fit to be passed on."""
    kept = run.of.kept if isinstance(run.of, Culture) else None
    return not run.is_over and run.stage not in NOT_RENEWED and not (kept and _GONE.search(kept))


def _renewal(culture: Culture, run: Run, months: int) -> Renewal:
    renewed = [note for note in run.whole_notes if renews(note)]
    start = calendar_day(renewed[-1].date if renewed else culture.date)
    since = "renewed" if renewed else "made"
    words = f"{months} months after it was {since}, common practice, from memory"
    return Renewal(culture.id, f"renew {_CALLED[culture.form or '']}", _months_after(start, months), words)


def renews(entry: Entry) -> bool:
    """Whether an entry says that a culture was renewed."""
    return any_renewing(entry.done)


def any_renewing(texts: Iterable[str]) -> bool:
    """Whether one of these says, to begin with, to renew or that it was."""
    return any(_RENEWED.match(text) for text in texts)


def _months_after(day: date | None, months: int) -> date | None:
    """The same day of a later month, or that month's last where it has no such day."""
    if day is None:
        return None
    years, month = divmod(day.month - 1 + months, 12)
    year = day.year + years
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
