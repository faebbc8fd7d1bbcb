"""What was done for a tent, as a history, and when each regular service was last done."""

from __future__ import annotations

from dataclasses import dataclass

from journal.model import Journal, Tent, When
from journal.reckoning.due import entries_about, last_service, resets


@dataclass(frozen=True, slots=True)
class Served:
    """One thing done. services: the regular services that it counts for, by name; path: the entry it stands in."""

    when: When
    words: str
    services: tuple[str, ...]
    path: str


@dataclass(frozen=True, slots=True)
class LastServed:
    """A regular service and the last time it was done; when, path: None where it never was. every_d: days between."""

    service: str
    every_d: float
    when: When | None
    path: str | None


def served(journal: Journal, tent: Tent) -> tuple[Served, ...]:
    """All that was done, oldest first."""
    names = [service for service, _ in tent.every]
    return tuple(
        Served(entry.date, words, tuple(name for name in names if resets(words, name)), entry.path)
        for entry in entries_about(journal, tent)
        for words in entry.serviced
    )


def last_served(journal: Journal, tent: Tent) -> tuple[LastServed, ...]:
    """Each regular service of the settings, in their order."""
    entries = entries_about(journal, tent)
    last = ((service, every_d, last_service(entries, service)) for service, every_d in tent.every)
    return tuple(
        LastServed(service, every_d, entry.date if entry else None, entry.path if entry else None)
        for service, every_d, entry in last
    )
