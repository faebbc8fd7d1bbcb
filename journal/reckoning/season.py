"""In which weeks of the year each species was found, over all years."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from journal.model import Journal
from journal.reckoning.identity import identifications
from journal.reckoning.species_names import species_named
from journal.reckoning.timing import calendar_day

SEEN = frozenset({"young", "prime"})
"""Stages of a visit that found it fit to be found."""


@dataclass(frozen=True, slots=True)
class Season:
    """One species, and the days on which it was found or seen `young` or `prime`, each once, in order.

    species: genus and epithet where the name means one species, else the name as first written.
    """

    species: str
    days: tuple[date, ...]

    @property
    def weeks(self) -> Mapping[int, tuple[int, ...]]:
        """For each week of the year in which it was seen the years of that, both as ISO 8601 counts them (1-53)."""
        found: dict[int, dict[int, None]] = {}
        for day in self.days:
            year, week, _ = day.isocalendar()
            found.setdefault(week, {})[year] = None
        return {week: tuple(years) for week, years in sorted(found.items())}


def seasons(journal: Journal) -> tuple[Season, ...]:
    """The season of every species that finds are taken to be now, by name.

    Days that are not known exactly, and finds with no name, count in none.
    """
    days: dict[str, set[date]] = {}
    names: dict[str, str] = {}
    for species, day in _sightings(journal):
        name = species_named(species) or species.strip(" *_")
        names.setdefault(name.casefold(), name)
        days.setdefault(name.casefold(), set()).add(day)
    return tuple(Season(names[key], tuple(sorted(days[key]))) for key in sorted(days))


def _sightings(journal: Journal) -> Iterator[tuple[str, date]]:
    species = {id: said[-1].species for id, said in identifications(journal).items()}
    seen = [(find.id, find.date) for find in journal.finds]
    seen += [(ref.id, note.date) for note in journal.notes if note.stage in SEEN for ref in note.about]
    for id, when in seen:
        name, day = species.get(id), calendar_day(when)
        if name and day:
            yield name, day
