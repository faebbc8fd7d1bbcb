"""What a new entry of a journal is called, says, and where it goes."""

from __future__ import annotations

import posixpath
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from journal.model import Ref, Settings
from journal.problems import Unreadable, nearest
from journal.reading.dating import date_as_told
from journal.reading.entries import Draft
from journal.reading.ids import parse_ref
from journal.refusal import Refusal
from journal.writing.blanks import KINDS_WITH_ID, blank_path, blank_text
from journal.writing.numbering import Numbered, next_id

_MAY_BE_ABOUT = {
    "culture": ("find", "culture", "batch"),
    "batch": ("culture",),
    "note": ("find", "culture", "batch", "tent", "device"),
    "tent": ("tent",),
    "device": ("tent",),
}


class CannotAdd(Refusal):
    """What was asked for cannot be an entry."""


@dataclass(frozen=True, slots=True)
class NewEntry:
    """path: relative to the journal, not yet taken care that it is free. id: None for kinds that bear none."""

    path: str
    text: str
    id: str | None


def new_entry(kind: str, drafts: Sequence[Draft], settings: Settings, today: date, about: str | None) -> NewEntry:
    """A new entry of a kind. about: the ID that it is about, as the keeper typed it. Raises CannotAdd."""
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
        raise CannotAdd(f"a {kind} is about nothing else; leave --about out")
    try:
        ref = parse_ref(about)
    except Unreadable as unreadable:
        raise CannotAdd(f"--about: {unreadable.says}; {unreadable.mend}") from None
    there = {tent.id.lower(): ("tent", tent.id) for tent in settings.tents}
    there |= {draft.values["id"].lower(): (str(draft.kind), draft.values["id"]) for draft in drafts if _bears_id(draft)}
    if ref.id.lower() not in there:
        near = nearest(ref.id, (name for _, name in there.values()))
        raise CannotAdd(f"nothing in this journal is called {ref.id}" + (f"; did you mean {near}?" if near else ""))
    found, name = there[ref.id.lower()]
    if found not in _MAY_BE_ABOUT[kind]:
        raise CannotAdd(f"{name} is a {found}; a {kind} is about a {' or a '.join(_MAY_BE_ABOUT[kind])}")
    return Ref(name, ref.part)


def _bears_id(draft: Draft) -> bool:
    return draft.kind in KINDS_WITH_ID and "id" in draft.values


def _numbered(drafts: Sequence[Draft]) -> list[Numbered]:
    """Every ID of the journal's entries, oldest entry first."""
    rows = []
    for draft in drafts:
        if _bears_id(draft):
            told = date_as_told(draft, ())
            sources = tuple(ref.id for ref in draft.values.get("from", ()))
            year = told.first.year if told else None
            row = Numbered(str(draft.kind), draft.values["id"], year, sources, draft.values.get("species"))
            rows.append((told.first if told else date.min, draft.path, row))
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
