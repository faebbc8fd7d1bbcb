"""What is expected of a batch next, as pages show it: dates, which the phone turns into days."""

from __future__ import annotations

from dataclasses import dataclass

from journal.reckoning.awaiting import What
from journal.reckoning.expecting import Expected
from journal.site import wording
from journal.site.pages.common import Lookup

_NAMED: dict[What, str] = {
    "colonised": "colonised",
    "pins": "pins",
    "harvest": "ready to pick",
    "next flush": "next flush",
}


@dataclass(frozen=True, slots=True)
class Ahead:
    """what: comes next. first, last: ISO dates, both included. dates: the same in words. basis: what they rest on, in a
    few words; rests_on: in full, with the days counted."""

    what: str
    first: str
    last: str
    dates: str
    basis: str
    rests_on: str


def ahead_of(lookup: Lookup, id: str) -> Ahead | None:
    """What is expected of a batch next; None where nothing is."""
    found = lookup.expected.get(id)
    return _shown(found) if found else None


def _shown(found: Expected) -> Ahead:
    return Ahead(
        what=_NAMED[found.what],
        first=found.from_day.isoformat(),
        last=found.to_day.isoformat(),
        dates=wording.days_in_words(found.from_day, found.to_day),
        basis=_basis_words(found),
        rests_on=found.words,
    )


def _basis_words(found: Expected) -> str:
    if found.basis == "published":
        return "by a published range"
    if found.basis == "practice":
        return "by common practice"
    return f"by {wording.count(found.n or 0, 'finished batch', 'finished batches')} of its {found.basis}"
