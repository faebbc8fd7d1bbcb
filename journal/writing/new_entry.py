"""A new entry: its next free ID, what it is about, and its blank."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date

from journal.model import Ref
from journal.problems import Refusal, Unreadable, nearest, nearest_name
from journal.reading.consistency import stated_date
from journal.reading.entries import Draft, read_entry
from journal.reading.keys import KEYS
from journal.reading.label_codes import without_check
from journal.reading.settings_file import tent_block
from journal.reading.values import is_reserved, parse_id, parse_ref
from journal.settings import Settings
from journal.writing.blanks import KINDS_WITH_ID, blank_path, blank_text

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
    A year in the last ID's first part becomes this year's. about: for a culture, the ID it will be taken from. One from
    a culture is the next of that one's line (`PP-26A-3` after `PP-26A-2`); one from a find or batch begins a line, and
    goes on after its earlier ones, else after its Latin name, else as other cultures do that begin one. `nextId` of
    static/js/record-entry.js gives the same.
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
        if not ({free.lower(), f"{free}{suffix}".lower()} & used or is_reserved(free)):
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
    while name.lower() in used or is_reserved(name):
        name = stem + _after(name[len(stem) :], len(first))
    with suppress(Unreadable):
        return parse_id(name)
    return None


def _habit(kind: str, rows: list[Numbered], today: date, about: str | None) -> tuple[str, str] | None:
    """What the new ID begins with, and how the first of that series ends; None where no habit shows."""
    same_kind = [row for row in rows if row.kind == kind]
    if kind == "culture" and about:
        lines = {_without_suffix(row.id)[0].lower() for row in same_kind}
        own = [row for row in same_kind if about.lower() in {source.lower() for source in row.sources}]
        if parent := next((row.id for row in same_kind if row.id.lower() == about.lower()), None):
            return _in_line(parent, own, lines)
        own = [row for row in own if not _is_in_line(row.id, lines)]
        named = {row.id.lower(): row for row in rows}
        if not own and (initials := _initials(_species(about.lower(), named))):
            return f"{initials}{today:%y}", "A"
        same_kind = own or [row for row in _starts(same_kind, named) if not _is_in_line(row.id, lines)]
    found = _split(_without_suffix(same_kind[-1].id)[0]) if same_kind else None
    if found is None:
        return None
    stem = _in_year(found[0], same_kind[-1].year, today.year)
    first = "1".zfill(len(found[1])) if found[1].isdigit() else ("A" if found[1].isupper() else "a")
    return stem, first


def _is_in_line(name: str, lines: Collection[str]) -> bool:
    """Whether an ID is that of a culture with something behind it: `PP-26A-2`, `PP-26A-GG`. lines: cultures, without a
    device's suffix, in lower case."""
    parts = _without_suffix(name)[0].lower().split("-")
    return any("-".join(parts[:count]) in lines for count in range(1, len(parts)))


def _in_line(parent: str, own: Sequence[Numbered], lines: Collection[str]) -> tuple[str, str]:
    """How transfers of a culture are named: with the numbers of its own ID, else of the last that was taken from it,
    where that is in a line; else after itself."""
    for name in (parent, *(row.id for row in reversed(own))):
        found = _split(_without_suffix(name)[0])
        if found and found[1].isdigit() and _is_in_line(name, lines):
            return found[0], "1".zfill(len(found[1]))
    return f"{_without_suffix(parent)[0]}-", "1"


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
    """kind: a tent entry where a note about a tent was asked for. path: relative to the journal, which may be taken
    already. id: None for kinds that have none."""

    kind: str
    path: str
    text: str
    id: str | None


def new_entry(
    kind: str,
    drafts: Sequence[Draft],
    settings: Settings,
    today: date,
    about: str | None = None,
    form: str | None = None,
    named: str | None = None,
) -> NewEntry:
    """A new entry of a kind. about: the ID that it is about, as the author typed it; of a tent entry or device the only
    tent that there is, where absent. form: of a culture. named: the ID that its label has. Raises CannotAdd."""
    if about is None and _MAY_BE_ABOUT.get(kind) == ("tent",) and len(settings.tents) == 1:
        about = settings.tents[0].id
    ref, about_kind = _named(kind, about, drafts, settings) if about else (None, "")
    kind = "tent" if (kind, about_kind) == ("note", "tent") else kind
    own_id = None
    if kind in KINDS_WITH_ID:
        taken = taken_ids(drafts, settings)
        own_id = _free(kind, named, drafts, settings) if named else None
        own_id = own_id or next_id(kind, _numbered(drafts), taken, today, ref.id if ref else None)
    elif named:
        raise CannotAdd(f"a {kind} has no ID; leave out --id")
    if form and kind != "culture":
        raise CannotAdd(f"only a culture has a form, and not a {kind}; leave out --form")
    whom = str(ref) if ref else None
    beside = _own_folder(ref.id, drafts) if ref else ""
    path = blank_path(kind, today, own_id, ref.id if ref else None, beside)
    values = {"form": form_named(form)} if form else {}
    text = blank_text(kind, today, own_id, whom, about_kind=about_kind, values=values, tents=settings.tents)
    return NewEntry(kind, path, text, own_id)


def taken_ids(drafts: Iterable[Draft], settings: Settings) -> list[str]:
    """Every ID that a new entry may not have apart from those that entries have: of tents, earlier IDs, and those
    printed on labels ahead."""
    former = [id for draft in drafts if draft.kind in KINDS_WITH_ID for id in draft.values.get("formerly", ())]
    return [*(tent.id for tent in settings.tents), *former, *(id for _, id in settings.labels.reserved)]


def reserved_ids(kind: str, count: int, drafts: Sequence[Draft], settings: Settings, today: date) -> tuple[str, ...]:
    """The next free IDs of a kind, for labels that are printed ahead."""
    there, found = _numbered(drafts), []
    taken = taken_ids(drafts, settings)
    for _ in range(count):
        found.append(next_id(kind, there, taken, today))
        taken.append(found[-1])
    return tuple(found)


def _free(kind: str, named: str, drafts: Sequence[Draft], settings: Settings) -> str:
    """An ID from a label, as it was printed; raises CannotAdd where it is none, or something else has it."""
    ahead = {name.lower(): (of, name) for of, name in settings.labels.reserved}
    try:
        id = parse_id(without_check(named, ahead))
    except Unreadable as unreadable:
        raise CannotAdd(f"--id: {unreadable.message}; {unreadable.fix}") from None
    of, name = ahead.get(id.lower(), (kind, id))
    if of != kind:
        raise CannotAdd(f"--id: the label {name} was printed for a {of}, and not for a {kind}")
    own = {draft.values["id"].lower() for draft in drafts if _has_id(draft)}
    if id.lower() in own | ({one.lower() for one in taken_ids(drafts, settings)} - ahead.keys()):
        raise CannotAdd(f"--id: {name} is taken")
    return name


FORMS = KEYS["culture"]["form"].words


def form_named(written: str) -> str:
    """The form of a culture as an entry that says so is read; raises CannotAdd for a word that is none."""
    read = read_entry("", f"---\nkind: culture\nid: C-1\nfrom: F-1\nform: {written}\n---\n".encode(), Settings())
    problems = [problem for problem in read.problems if problem.severity == "error"] if read else []
    if read is None or problems or "form" not in read.values:
        why = problems[0].sentence if problems else f"form: {written} is not known"
        raise CannotAdd(f"--{why}" if why.startswith("form") else why)
    return str(read.values["form"])


def _named(kind: str, about: str, drafts: Sequence[Draft], settings: Settings) -> tuple[Ref, str]:
    """The ID asked for, spelled as where it was defined, if an entry of this kind may be about it; and its kind."""
    if kind not in _MAY_BE_ABOUT:
        raise CannotAdd(f"a {kind} cannot be about anything; leave out --about")
    there = {tent.id.lower(): ("tent", tent.id) for tent in settings.tents}
    bearing = [draft for draft in drafts if _has_id(draft)]
    there |= {id.lower(): (str(d.kind), d.values["id"]) for d in bearing for id in d.values.get("formerly", ())}
    there |= {draft.values["id"].lower(): (str(draft.kind), draft.values["id"]) for draft in bearing}
    try:
        ref = parse_ref(without_check(about, there))
    except Unreadable as unreadable:
        raise CannotAdd(f"--about: {unreadable.message}; {unreadable.fix}") from None
    if ref.id.lower() not in there:
        tents = (tent.id for tent in settings.tents)
        near = nearest(ref.id, (name for _, name in there.values())) or nearest_name(ref.id, tents)
        if near is None and "tent" in _MAY_BE_ABOUT[kind] and ref.part is None:
            what = f"there is no {ref.id} in this journal; if it is a tent or room, add these lines to journal.toml"
            raise CannotAdd(what, tent_block(ref.id))
        raise CannotAdd(f"there is no {ref.id} in this journal" + (f"; did you mean {near}?" if near else ""))
    found, name = there[ref.id.lower()]
    if found not in _MAY_BE_ABOUT[kind]:
        raise CannotAdd(f"{name} is a {found}; a {kind} must be about a {' or a '.join(_MAY_BE_ABOUT[kind])}")
    return Ref(name, ref.part), found


def _has_id(draft: Draft) -> bool:
    return draft.kind in KINDS_WITH_ID and "id" in draft.values


def _numbered(drafts: Sequence[Draft]) -> list[Numbered]:
    rows = []
    for draft in filter(_has_id, drafts):
        when = stated_date(draft, ())
        sources = tuple(ref.id for key in ("from", "culture") for ref in draft.values.get(key, ()))
        year = when.first.year if when else None
        row = Numbered(str(draft.kind), draft.values["id"], year, sources, draft.values.get("species"))
        rows.append((when.first if when else date.min, draft.path, row))
    return [row for _, _, row in sorted(rows, key=lambda row: row[:2])]


SHARED_FOLDERS = frozenset({"finds", "cultures", "batches", "tents", "devices"})
"""Folders that blanks are put into beside others of their kind, so that none has one to itself."""


def _own_folder(name: str, drafts: Sequence[Draft]) -> str:
    """The folder that the entry with this ID has to itself but for notes, "" where it has none."""
    own = next((d for d in drafts if _has_id(d) and d.values["id"].lower() == name.lower()), None)
    if own is None:
        return ""
    folder = posixpath.dirname(own.path)
    alone = all(d is own or d.kind == "note" or posixpath.dirname(d.path) != folder for d in drafts)
    return folder if alone and posixpath.basename(folder) not in SHARED_FOLDERS else ""
