"""The next free ID, in the way the journal's keeper numbers things."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from journal.problems import Unreadable
from journal.reading.ids import RESERVED, parse_id

_FIRST_STEM = {"find": "F{yy}-", "culture": "C-{yy}", "batch": "B-", "device": "D-"}
_FIRST_ENDING = {"find": "001", "culture": "A", "batch": "001", "device": "01"}

_NUMBERED = re.compile(r"(?P<stem>.*?)(?<![0-9])(?P<ending>[0-9]++)")
_LETTERED = re.compile(r"(?P<stem>.*[0-9-])(?P<ending>[A-Z]{1,2}|[a-z]{1,2})")
_LATIN = re.compile(r"(?P<genus>[A-Z])[a-z]+ (?P<epithet>[a-z])[a-z-]+")


@dataclass(frozen=True, slots=True)
class Numbered:
    """An ID that is there. year: of its entry's date, None where unknown. sources: IDs it was taken from."""

    kind: str
    id: str
    year: int | None = None
    sources: tuple[str, ...] = ()
    species: str | None = None


def next_id(kind: str, there: Iterable[Numbered], taken: Collection[str], today: date, about: str | None = None) -> str:
    """An ID for a new entry of this kind: `B-032` after `B-031`, `PP-26B` after `PP-26A`.

    there: the journal's IDs, oldest entry first. taken: every ID that may not be used again, tents' included.
    A year in the last ID's first part becomes this year's. about: for a culture, the ID it will be taken from, whose
    earlier cultures it is then named after; a find's first culture is named after its Latin name.
    """
    rows = list(there)
    used = {name.lower() for name in taken} | {row.id.lower() for row in rows}
    usual = _FIRST_STEM[kind].format(yy=f"{today:%y}"), _FIRST_ENDING[kind]
    series = (_habit(kind, rows, today, about) or usual, usual)
    return next(name for stem, first in series if (name := _next_in_series(stem, first, used)))


def _next_in_series(stem: str, first: str, used: Collection[str]) -> str | None:
    """The stem with what follows the highest ending that is used with it; None where that is too long for an ID."""
    endings = [first]
    for name in used:
        found = _split(name.upper() if first.isupper() else name)
        if found and found[0].lower() == stem.lower() and found[1].isdigit() == first.isdigit():
            endings.append(_after(found[1], len(first)))
    name = stem + max(endings, key=_rank)
    while name.lower() in used or name.lower() in RESERVED:
        name = stem + _after(name[len(stem) :], len(first))
    return name if _can_be_id(name) else None


def _can_be_id(name: str) -> bool:
    try:
        return parse_id(name) == name
    except Unreadable:
        return False


def _habit(kind: str, rows: list[Numbered], today: date, about: str | None) -> tuple[str, str] | None:
    """What the new ID begins with, and how the first of that series ends; None where no habit shows."""
    same_kind = [row for row in rows if row.kind == kind]
    if kind == "culture" and about:
        own = [row for row in same_kind if about.lower() in {row.id.lower(), *(s.lower() for s in row.sources)}]
        if not own and (letters := _initials(rows, about)):
            return f"{letters}-{today:%y}", "A"
        same_kind = own or same_kind
    found = _split(same_kind[-1].id) if same_kind else None
    if found is None:
        return None
    stem = _in_year(found[0], same_kind[-1].year, today.year)
    first = "1".zfill(len(found[1])) if found[1].isdigit() else ("A" if found[1].isupper() else "a")
    return stem, first


def _initials(rows: list[Numbered], about: str) -> str | None:
    """Two letters for the Latin species of what bears this ID."""
    species = next((row.species for row in rows if row.id.lower() == about.lower()), None)
    found = _LATIN.match(species or "")
    return f"{found['genus']}{found['epithet'].upper()}" if found else None


def _split(name: str) -> tuple[str, str] | None:
    """The part of an ID that stays, and the number or letter that goes on; None where it ends in neither."""
    found = _NUMBERED.fullmatch(name) or _LETTERED.fullmatch(name)
    return (found["stem"], found["ending"]) if found else None


def _in_year(stem: str, then: int | None, now: int) -> str:
    """The stem with this year in the place of the year its entry is from, written with two digits or four."""
    if then is None:
        return stem
    for written, new in ((f"{then}", f"{now}"), (f"{then % 100:02}", f"{now % 100:02}")):
        changed = re.sub(rf"(?<![0-9]){written}(?![0-9])", new, stem)
        if changed != stem:
            return changed
    return stem


def _after(ending: str, width: int) -> str:
    """The number or letter that follows: 009 -> 010, A -> B, Z -> AA."""
    if ending.isdigit():
        return str(int(ending) + 1).zfill(width)
    head, last = ending[:-1], ending[-1]
    if last not in "Zz":
        return head + chr(ord(last) + 1)
    first = "A" if last == "Z" else "a"
    return (_after(head, width) if head else first) + first


def _rank(ending: str) -> tuple[int, str]:
    return (int(ending), "") if ending.isdigit() else (len(ending), ending.upper())
