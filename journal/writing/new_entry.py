"""A new entry: its next free ID, its usual keys, and where it goes. It never overwrites."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from itertools import chain, count
from pathlib import Path

from journal.model import Ref
from journal.problems import Refusal, Unreadable, nearest
from journal.reading.consistency import stated_date
from journal.reading.entries import Draft
from journal.reading.values import RESERVED, parse_id, parse_ref
from journal.settings import Settings

USUAL_KEYS: Mapping[str, tuple[str, ...]] = {
    "find": ("species", "certainty", "where", "place", "growing on"),
    "culture": ("from", "method", "form", "medium", "vessels"),
    "batch": ("culture", "substrate", "units", "wet mass", "moisture"),
    "note": ("about", "stage", "harvest", "flush", "lost"),
    "tent": ("about", "humidity reading", "temperature reading", "door", "serviced"),
    "device": ("tent", "does", "powered by", "controlled by", "rated for"),
}
"""The five keys that a new entry of each kind is given, empty until they are filled in (an empty key is none)."""

ABOUT_KEYS: Mapping[str, str | None] = {
    "find": None,
    "culture": "from",
    "batch": "culture",
    "note": "about",
    "tent": "about",
    "device": "tent",
}
"""The key that says what an entry of each kind is about."""

KINDS_WITH_ID = frozenset({"find", "culture", "batch", "device"})


def blank_text(kind: str, today: date, own_id: str | None = None, about: str | None = None) -> str:
    head = [f"kind: {kind}", *([f"id: {own_id}"] if own_id else []), f"date: {today.isoformat()}"]
    values = {ABOUT_KEYS[kind]: about} if about else {}
    keys = [f"{key}: {values.get(key, '')}".rstrip() for key in USUAL_KEYS[kind]]
    return "\n".join(["---", *head, *keys, "---", "", ""])


def blank_path(kind: str, today: date, own_id: str | None = None, about: str | None = None, beside: str = "") -> str:
    """Its path in the journal. beside: the folder that what it is about has to itself; "" where it has none."""
    day = today.isoformat()
    if kind == "find":
        return f"finds/{day}-{own_id}/find.md"
    if kind == "batch":
        return f"batches/{own_id}/batch.md"
    if kind in ("culture", "device"):
        return f"{kind}s/{own_id}.md"
    if beside:
        return f"{beside}/{day}.md"
    return f"{kind}s/{day}{f'-{about}' if about else ''}.md"


def write_blank(root: Path, path: str, text: str) -> str:
    """Writes a new entry at the first free name like `path` (`…-2.md` next) and gives that. Raises OSError."""
    head, ending = posixpath.splitext(path)
    (root / path).parent.mkdir(parents=True, exist_ok=True)
    for free in chain([path], (f"{head}-{number}{ending}" for number in count(2))):
        with suppress(FileExistsError):
            write_new(root / free, text)
            return free
    raise AssertionError("unreachable: the names never end")


def write_new(file: Path, text: str) -> None:
    """Writes a file that is not there yet, or nothing of it. Raises OSError, which names the file."""
    with file.open("x", encoding="utf-8", newline="\n") as opened:
        try:
            opened.write(text)
            opened.flush()
        except OSError as error:
            error.filename = error.filename or str(file)
            with suppress(OSError):
                file.unlink()
            raise


_FIRST_STEM = {"find": "F{yy}-", "culture": "C-{yy}", "batch": "B-", "device": "D-"}
_FIRST_ENDING = {"find": "001", "culture": "A", "batch": "001", "device": "01"}

_NUMBERED = re.compile(r"(?P<stem>.*?)(?<![0-9])(?P<ending>[0-9]++)")
_LETTERED = re.compile(r"(?P<stem>.*[0-9-])(?P<ending>[A-Z]{1,2}|[a-z]{1,2})")
_DEVICE_SUFFIX = re.compile(r"-[A-HJKMNP-TV-Z][0-9][A-HJKMNP-TV-Z][0-9]", re.IGNORECASE)
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
    earlier cultures it is then named after; the first of a find or batch is named after its Latin name, or as other
    cultures are that were taken from no culture. `nextId` of static/js/record-entry.js gives the same for a clone.
    """
    rows = list(there)
    used = _used([*taken, *(row.id for row in rows)])
    usual = _FIRST_STEM[kind].format(yy=f"{today:%y}"), _FIRST_ENDING[kind]
    series = (_habit(kind, rows, today, about) or usual, usual)
    return next(name for stem, first in series if (name := _next_in_series(stem, first, used)))


def next_like(name: str, taken: Iterable[str]) -> str:
    """The next free ID of the series of an ID that is taken, of the same device: `F26-016-K7Q4` for `F26-015-K7Q4`."""
    stem, suffix = _without_suffix(name)
    head, ending = _split(stem) or (f"{stem}-", "1")
    used = _used(taken)
    while True:
        ending = _after(ending, len(ending))
        free = f"{head}{ending}"
        if not {free.lower(), f"{free}{suffix}".lower()} & used:
            return f"{free}{suffix}"


def _without_suffix(name: str) -> tuple[str, str]:
    """An ID as the series goes on from it, and the suffix of the device that made it: `F26-015` and `-K7Q4`."""
    found = _DEVICE_SUFFIX.fullmatch(name[-5:])
    return (name[:-5], found[0]) if found and _split(name[:-5]) else (name, "")


def _used(names: Iterable[str]) -> set[str]:
    """IDs that may not be used again, in lower case: with a device's suffix and without."""
    return {used.lower() for name in names for used in (name, _without_suffix(name)[0])}


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
    with suppress(Unreadable):
        return parse_id(name)
    return None


def _habit(kind: str, rows: list[Numbered], today: date, about: str | None) -> tuple[str, str] | None:
    """What the new ID begins with, and how the first of that series ends; None where no habit shows."""
    same_kind = [row for row in rows if row.kind == kind]
    if kind == "culture" and about:
        own = [row for row in same_kind if about.lower() in {row.id.lower(), *(s.lower() for s in row.sources)}]
        named = {row.id.lower(): row for row in rows}
        if not own and (initials := _initials(_species(about.lower(), named))):
            return f"{initials}{today:%y}", "A"
        same_kind = own or _starts(same_kind, named)
    found = _split(_without_suffix(same_kind[-1].id)[0]) if same_kind else None
    if found is None:
        return None
    stem = _in_year(found[0], same_kind[-1].year, today.year)
    first = "1".zfill(len(found[1])) if found[1].isdigit() else ("A" if found[1].isupper() else "a")
    return stem, first


def _initials(species: str | None) -> str | None:
    """`PP-` for *Pleurotus pulmonarius*; None where the name is not Latin."""
    latin = _LATIN.match(species or "")
    return f"{latin['genus']}{latin['epithet'].upper()}-" if latin else None


def _species(name: str, named: Mapping[str, Numbered], seen: frozenset[str] = frozenset()) -> str | None:
    """Of an ID in lower case: its own, else that of the first it was taken from that has one."""
    row = named.get(name)
    if row is None or name in seen:
        return None
    return row.species or next(
        (found for source in row.sources if (found := _species(source.lower(), named, seen | {name}))), None
    )


def _starts(cultures: Sequence[Numbered], named: Mapping[str, Numbered]) -> list[Numbered]:
    """Those whose series a clone may go on with: taken from no other culture, and not named after their species."""
    names = {row.id.lower() for row in cultures}
    first = [row for row in cultures if not names & {source.lower() for source in row.sources}]
    return [row for row in first if not row.id.startswith(_initials(_species(row.id.lower(), named)) or "\0")]


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


_MAY_BE_ABOUT = {
    "culture": ("find", "culture", "batch"),
    "batch": ("culture",),
    "note": ("find", "culture", "batch", "tent", "device"),
    "tent": ("tent",),
    "device": ("tent",),
}


class CannotAdd(Refusal):
    """The entry asked for is not possible."""


@dataclass(frozen=True, slots=True)
class NewEntry:
    """path: relative to the journal, which may be taken already. id: None for kinds that bear none."""

    path: str
    text: str
    id: str | None


def new_entry(kind: str, drafts: Sequence[Draft], settings: Settings, today: date, about: str | None) -> NewEntry:
    """A new entry of a kind. about: the ID that it is about, as the author typed it. Raises CannotAdd."""
    ref = _named(kind, about, drafts, settings) if about else None
    own_id = None
    if kind in KINDS_WITH_ID:
        tents = [tent.id for tent in settings.tents]
        own_id = next_id(kind, _numbered(drafts), tents, today, ref.id if ref else None)
    whom = str(ref) if ref else None
    beside = _own_folder(ref.id, drafts) if ref else ""
    path = blank_path(kind, today, own_id, ref.id if ref else None, beside)
    return NewEntry(path, blank_text(kind, today, own_id, whom), own_id)


def _named(kind: str, about: str, drafts: Sequence[Draft], settings: Settings) -> Ref:
    """The ID asked for, spelt as where it was defined, if an entry of this kind may be about it."""
    if kind not in _MAY_BE_ABOUT:
        raise CannotAdd(f"a {kind} cannot be about anything; leave out --about")
    try:
        ref = parse_ref(about)
    except Unreadable as unreadable:
        raise CannotAdd(f"--about: {unreadable.message}; {unreadable.fix}") from None
    there = {tent.id.lower(): ("tent", tent.id) for tent in settings.tents}
    there |= {draft.values["id"].lower(): (str(draft.kind), draft.values["id"]) for draft in drafts if _bears_id(draft)}
    if ref.id.lower() not in there:
        near = nearest(ref.id, (name for _, name in there.values()))
        raise CannotAdd(f"there is no {ref.id} in this journal" + (f"; did you mean {near}?" if near else ""))
    found, name = there[ref.id.lower()]
    if found not in _MAY_BE_ABOUT[kind]:
        raise CannotAdd(f"{name} is a {found}; a {kind} must be about a {' or a '.join(_MAY_BE_ABOUT[kind])}")
    return Ref(name, ref.part)


def _bears_id(draft: Draft) -> bool:
    return draft.kind in KINDS_WITH_ID and "id" in draft.values


def _numbered(drafts: Sequence[Draft]) -> list[Numbered]:
    rows = []
    for draft in filter(_bears_id, drafts):
        when = stated_date(draft, ())
        sources = tuple(ref.id for key in ("from", "culture") for ref in draft.values.get(key, ()))
        year = when.first.year if when else None
        row = Numbered(str(draft.kind), draft.values["id"], year, sources, draft.values.get("species"))
        rows.append((when.first if when else date.min, draft.path, row))
    return [row for _, _, row in sorted(rows, key=lambda row: row[:2])]


SHARED_FOLDERS = frozenset({"finds", "cultures", "batches", "tents", "devices"})
"""Folders that blanks are put into beside others of their kind, so that none has one to itself."""


def _own_folder(name: str, drafts: Sequence[Draft]) -> str:
    """The folder that what bears this ID has to itself but for notes, "" where it has none."""
    own = next((d for d in drafts if _bears_id(d) and d.values["id"].lower() == name.lower()), None)
    if own is None:
        return ""
    folder = posixpath.dirname(own.path)
    alone = all(d is own or d.kind == "note" or posixpath.dirname(d.path) != folder for d in drafts)
    return folder if alone and posixpath.basename(folder) not in SHARED_FOLDERS else ""
