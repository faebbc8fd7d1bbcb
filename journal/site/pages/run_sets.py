"""What was set in a tent while a batch stood there: as ticks of its run, and as entries for the table beneath."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import groupby

from journal.model import Tent, TentEntry, When
from journal.reckoning.air import BatchAir
from journal.reckoning.due import entries_about
from journal.reckoning.stays import Stay
from journal.reckoning.tent_settings import FIELDS, Change, SettingName, history_of
from journal.reckoning.timing import calendar_day
from journal.site.pages.common import Lookup
from journal.site.run.axis import Axis
from journal.site.run.happenings import Happening, Kind
from journal.site.tent.setup import value_in_words

_SHORT: Mapping[SettingName, str] = {
    "humidity set point": "humidity",
    "humidity differential": "differential",
    "temperature set point": "temperature",
    "light": "light",
    "light colour": "light colour",
    "exhaust": "exhaust",
    "air movement": "air",
}
"""What a setting is called where there is little room."""


def ticks(lookup: Lookup, air: BatchAir, axis: Axis) -> Iterator[Happening]:
    """What each entry set otherwise than before, in order; what only says again what holds is no change."""
    for stay, tent in _stays(lookup, air):
        for _, group in groupby(history_of(lookup.journal, tent), key=lambda change: change.path):
            changes = list(group)
            at_d = axis.at(changes[0].when)
            if at_d is not None and at_d >= 0 and _was_there(stay, changes[0].when):
                yield Happening(_kind(changes), at_d, ", ".join(_words(lookup, change) for change in changes))


def _kind(changes: list[Change]) -> Kind:
    return "light" if all(change.what in ("light", "light colour") for change in changes) else "set"


def _words(lookup: Lookup, change: Change) -> str:
    return f"{_SHORT[change.what]} {value_in_words(change.what, change.value, lookup.units)}"


def set_meanwhile(lookup: Lookup, air: BatchAir) -> Iterator[tuple[Tent, TentEntry]]:
    """The entries that set anything in a tent while the batch stood in it."""
    for stay, tent in _stays(lookup, air):
        for entry in entries_about(lookup.journal, tent):
            sets = any(getattr(entry, field) is not None for field in FIELDS.values())
            if sets and _was_there(stay, entry.date):
                yield tent, entry


def _stays(lookup: Lookup, air: BatchAir) -> Iterator[tuple[Stay, Tent]]:
    for part in air.stays:
        tent = lookup.journal.by_id[part.stay.tent.lower()]
        if isinstance(tent, Tent):
            yield part.stay, tent


def _was_there(stay: Stay, when: When) -> bool:
    """Whether a date is of the days on which the batch stood in a tent, the first and the last included."""
    day = calendar_day(when)
    return day is not None and stay.from_day <= day and (stay.until_day is None or day <= stay.until_day)
