"""Probes held against a saturated salt, as a keeper wrote it down: `probe-1 read 74 % over table salt at 20 °C`."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from journal.model import Device, Entry, Journal, Note, TentEntry, When
from journal.problems import Unreadable
from journal.quantities import percentage, temperature_c, tidied
from journal.reckoning.due import subject_ids
from journal.reckoning.reckoned import Amount, Reckoning
from journal.reckoning.salts import HOW, SOURCE, salt_in

TAKEN_WHERE_UNSAID_C = 20.0
FORMULA = "off by = what the probe read − humidity over the salt"

_NUMBER = r"[+-]?[0-9]+(?:[.,][0-9]+)?"
_PCT = rf"(?<![0-9.,]){_NUMBER} ?(?:%|per ?cent\b)"
_ANY_PCT = re.compile(_PCT, re.IGNORECASE)
_READ = re.compile(rf"\b(?:reads?|reading|show(?:s|ed|n|ing)?|said|says|gives?|gave)\b[^0-9%]*({_PCT})", re.IGNORECASE)
_DUE = re.compile(rf"\([^()]*\)|\b(?:should|ought|instead of|rather than|expected)\b[^0-9%]*{_PCT}", re.IGNORECASE)
_AT = re.compile(rf"(?<![0-9.,])({_NUMBER}) ?(?:°|deg(?:rees?)? )? ?([CF])\b")
_OVER = re.compile(r"\b(?:over|above|against|saturated|wet|salt (?:test|check))\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ProbeCheck:
    """about: the probe where one is named, else the tent. words: as written. path: the entry it stands in.

    read_pct, expected_pct: what it read, and the humidity over that salt. t_is_written: whether the temperature was,
    else 20 °C was taken. off: what the probe is off by, in %, above 0 where it reads too much, with its reckoning.
    """

    about: str
    when: When
    words: str
    path: str
    salt: str
    read_pct: float
    expected_pct: float
    t_c: float
    t_is_written: bool
    off: Reckoning


def probe_checks(journal: Journal) -> tuple[ProbeCheck, ...]:
    """Every check under `serviced` of a tent or `done` of a tent or device, oldest first.

    It is one where it says what was read in %, `over` (above, against), `saturated`, `wet` or `salt test`, and a salt
    that is known. Of several percentages it is the one that was read, by its verb, or the only one beside what should
    have been; where that does not settle it, there is none. What is outside 0 to 100 %, or at a temperature outside 0
    to 50 °C, is none; nor is one of nothing known: of no probe that is named, in an entry about no tent.
    """
    probes = {device.id.lower(): device.id for device in journal.devices}
    found = (_check(entry, words, probes) for entry in journal.entries() for words in _done_in(entry, probes))
    return tuple(check for check in found if check is not None)


def _done_in(entry: Entry, probes: dict[str, str]) -> Iterator[str]:
    if isinstance(entry, TentEntry):
        yield from (*entry.serviced, *entry.done)
    elif isinstance(entry, Device) or (isinstance(entry, Note) and any(r.id.lower() in probes for r in entry.about)):
        yield from entry.done


def _check(entry: Entry, words: str, probes: dict[str, str]) -> ProbeCheck | None:
    try:
        plain = tidied(words)
        salt, read, at = salt_in(plain), _what_was_read(plain), _AT.search(plain)
        if salt is None or read is None or not _OVER.search(plain):
            return None
        read_pct = percentage(read).value
        t_c = temperature_c(f"{at[1]} °{at[2]}").value if at else TAKEN_WHERE_UNSAID_C
    except Unreadable:
        return None
    expected_pct = salt.humidity_pct(t_c)
    about = _probe_named(entry, plain, probes)
    if expected_pct is None or about is None or not 0 <= read_pct <= 100:
        return None
    return ProbeCheck(
        about=about,
        when=entry.date,
        words=words,
        path=entry.path,
        salt=salt.name,
        read_pct=read_pct,
        expected_pct=expected_pct,
        t_c=t_c,
        t_is_written=at is not None,
        off=_off(read_pct, expected_pct, salt.name, t_c, at is not None),
    )


def _what_was_read(words: str) -> str | None:
    """The percentage that the probe showed; None where there is none, or nobody can tell which of several it is."""
    told = _READ.search(words)
    if told is not None:
        return told[1]
    found = set(_ANY_PCT.findall(words))
    if len(found) > 1:
        found = set(_ANY_PCT.findall(_DUE.sub(" ", words)))
    return found.pop() if len(found) == 1 else None


def _off(read_pct: float, expected_pct: float, salt: str, t_c: float, t_is_written: bool) -> Reckoning:
    temperature = "temperature" if t_is_written else "temperature (none was written, so this was taken)"
    inputs: tuple[tuple[str, Amount | str], ...] = (
        ("the probe read", Amount(read_pct, "%")),
        (f"humidity over {salt}", Amount(expected_pct, "%")),
        (temperature, Amount(t_c, "°C")),
    )
    return Reckoning(read_pct - expected_pct, "%", inputs, FORMULA, f"{SOURCE}: {HOW}")


def _probe_named(entry: Entry, words: str, probes: dict[str, str]) -> str | None:
    """The device that the words name, else the first that the entry is about; None where that is nothing known."""
    named = (probes.get(word.lower()) for word in re.findall(r"[A-Za-z][A-Za-z0-9-]*", words))
    about = subject_ids(entry)
    of_entry = (id for id in about if id.lower() in probes)
    return next((id for id in named if id), None) or next(of_entry, None) or next(iter(about), None)
