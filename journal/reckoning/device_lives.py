"""How long each device has been in use, and what became of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from journal.model import Device, Journal, Note, When
from journal.reckoning.timing import calendar_day, days_between, notes_by_id

End = Literal["dead", "put away"]


@dataclass(frozen=True, slots=True)
class Life:
    """A device's time in use: from the day it went into use to the first note that calls it dead, or else put away.

    ended_by: that note. faulty_by: the latest note that calls it faulty, while it is in use.
    """

    device: Device
    ended_by: Note | None = None
    faulty_by: Note | None = None

    @property
    def begun(self) -> date | None:
        """The day it went into use; None where that is not known to the day."""
        return calendar_day(self.device.date)

    @property
    def is_over(self) -> bool:
        return self.ended_by is not None

    @property
    def how(self) -> End | None:
        """What became of it; None while it is in use."""
        stage = self.ended_by.stage if self.ended_by else None
        return "dead" if stage == "dead" else "put away" if stage else None

    @property
    def ended(self) -> When | None:
        return self.ended_by.date if self.ended_by else None

    @property
    def days(self) -> int | None:
        """Whole calendar days in use, where it is over and both ends are known to the day; never below 0."""
        span_d = days_between(self.device.date, self.ended) if self.ended else None
        return None if span_d is None else max(0, span_d)


def lives_of(journal: Journal) -> dict[str, Life]:
    """The life of every device, by its ID."""
    about = notes_by_id(journal.notes)
    return {device.id: _life(device, about.get(device.id, ())) for device in journal.devices}


def _life(device: Device, notes: tuple[Note, ...]) -> Life:
    """Death outranks being put away: what was put away and taken out again ended when it died."""
    staged = [note for note in notes if note.stage]
    ended_by = next((n for stage in ("dead", "put away") for n in staged if n.stage == stage), None)
    faulty_by = next((n for n in reversed(staged) if n.stage == "faulty"), None) if ended_by is None else None
    return Life(device, ended_by, faulty_by)
