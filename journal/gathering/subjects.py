"""What photos are of: the ID that a keeper typed, and the stage it may be in."""

from __future__ import annotations

import posixpath
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from journal.model import Ref, Settings
from journal.problems import Unreadable, nearest, shortened
from journal.reading.dating import date_as_told
from journal.reading.entries import Draft
from journal.reading.folder import kind_of_file, path_key
from journal.reading.ids import parse_ref
from journal.reading.keys import STAGES, canonical
from journal.reading.names import Bearer, Names, bearers_in
from journal.refusal import Refusal

_PARTS = {"batch": "units", "culture": "vessels"}


@dataclass(frozen=True, slots=True)
class Subject:
    """What a note will be about.

    ref: spelt as defined. kind: find, culture, batch, device or tent. path: of the entry that defines it; for a tent,
    which stands in the settings, None. began: the day its entry tells, None where it is less exact than a day.
    """

    ref: Ref
    kind: str
    path: str | None = None
    began: date | None = None

    @property
    def entry_kind(self) -> str:
        """The kind of entry that tells of it on a day."""
        return "tent" if self.kind == "tent" else "note"


def subject_named(typed: str, drafts: Sequence[Draft], settings: Settings) -> Subject:
    """What bears the ID typed, without regard to case; raises Refusal that names the nearest where nothing does."""
    _refuse_path(typed, drafts)
    try:
        ref = parse_ref(typed)
    except Unreadable as unreadable:
        raise Refusal(f"{unreadable.says}; {unreadable.mend}") from None
    bearer = _bearer(ref, drafts, settings)
    _refuse_missing_part(ref, bearer)
    own = next((draft for draft in drafts if draft.path == bearer.path), None)
    if own is None:
        return Subject(Ref(bearer.id, ref.part), bearer.kind)
    told = date_as_told(own, ())
    began = told.first if told is not None and told.counts_days else None
    return Subject(Ref(bearer.id, ref.part), bearer.kind, own.path, began)


def _refuse_path(typed: str, drafts: Sequence[Draft]) -> None:
    """A path stands there where the photos were typed first, or where a note is to get more photos."""
    path = posixpath.normpath(typed.strip().replace("\\", "/"))
    if "/" not in path and kind_of_file(path) not in ("entry", "photo"):
        return
    while path.startswith("../"):
        path = path[3:]
    meant = [draft for draft in drafts if f"/{draft.path}".endswith(f"/{path}")]
    told = [ref for draft in meant for ref in (draft.values.get("id"), *draft.values.get("about", ())) if ref]
    example = told[0] if len(meant) == 1 and told else "B-031"
    raise Refusal(
        f"{shortened(typed)} cannot be an ID: it reads like a file or folder; the ID of what the photos show comes "
        f"first, and they become notes of their own: `journal attach {example} PHOTOS`"
    )


def _bearer(ref: Ref, drafts: Sequence[Draft], settings: Settings) -> Bearer:
    names = Names(settings.tents)
    bearers = bearers_in(drafts)
    for path in sorted(bearers, key=path_key):
        names.give(bearers[path])
    found = names.get(ref.id)
    if found is None:
        near = nearest(ref.id, names.ids())
        raise Refusal(f"nothing in this journal is called {ref.id}" + (f"; did you mean {near}?" if near else ""))
    return found


def _refuse_missing_part(ref: Ref, bearer: Bearer) -> None:
    if ref.part is None:
        return
    if bearer.kind not in _PARTS:
        raise Refusal(f"{bearer.id} is a {bearer.kind} and has no part {ref.part}; name {bearer.id} itself")
    if bearer.parts is not None and ref.part > bearer.parts:
        word = _PARTS[bearer.kind]
        raise Refusal(
            f"{bearer.id} has {bearer.parts} {word}, so there is no {bearer.id}.{ref.part}; "
            f"correct the number, or `{word}` in {bearer.path}"
        )


def stage_of(subject: Subject, typed: str | None) -> str | None:
    """The stage typed, as a note writes it; raises Refusal where what the note is about knows no such stage."""
    if typed is None:
        return None
    known = STAGES[subject.kind]
    stage = canonical(typed)
    if stage in known:
        return stage
    if not known:
        raise Refusal(f"{subject.ref} is a {subject.kind}, which has no stages; leave --stage out")
    near = nearest(stage[:60], known)
    raise Refusal(
        f"{shortened(typed)} is no stage of a {subject.kind} ({subject.ref}); "
        + (f"did you mean {near}? It" if near else "it")
        + f" is one of: {', '.join(known)}"
    )
