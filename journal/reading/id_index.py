"""Everything that has an ID in a journal, and what a named ID refers to."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from journal.model import Batch, Culture, Device, Find, Journal, Ref
from journal.problems import nearest, nearest_name
from journal.quantities import counted
from journal.reading.entries import Draft, ProblemList
from journal.reading.folder import path_key
from journal.reading.listing import SETTINGS_NAME
from journal.reading.settings_file import tent_block
from journal.settings import Tent

ALL_KINDS = ("find", "culture", "batch", "device", "tent")
ORIGINS = ("find", "culture", "batch")

MOST_SEARCHES = 100
"""How many unknown IDs are compared with all known ones; a journal with more is missing a folder, not misspelling
names."""

PARTS = {"batch": "units", "culture": "vessels"}
"""The key that counts the parts of something with an ID, by its kind."""


@dataclass(frozen=True, slots=True)
class IdOwner:
    """Something with an ID, as defined. kind: one of `ALL_KINDS`. parts: its units or vessels, None if not counted."""

    id: str
    kind: str
    path: str
    parts: int | None = None

    @property
    def parts_in_words(self) -> str:
        """`4 units`, `1 vessel`; only of what has parts that are counted."""
        return counted(self.parts or 0, PARTS[self.kind].removesuffix("s"))


class Names:
    """Every ID of a journal, found without regard to case."""

    def __init__(
        self, tents: Iterable[Tent], settings_path: str = "journal.toml", are_tents_known: bool = True
    ) -> None:
        """are_tents_known: whether the settings could be read."""
        self._are_tents_known = are_tents_known
        self._owners = {tent.id.lower(): IdOwner(tent.id, "tent", settings_path) for tent in tents}
        self._former: dict[str, IdOwner] = {}
        self._left_out: dict[str, IdOwner] = {}
        self._unread: tuple[str, ...] = ()
        self._nearest: dict[tuple[str, tuple[str, ...], str], str | None] = {}

    def give(self, owner: IdOwner) -> IdOwner:
        """Gives the ID to the first that claims it; returns its owner."""
        return self._owners.setdefault(owner.id.lower(), owner)

    def give_former(self, id: str, owner: IdOwner) -> IdOwner:
        """Makes an earlier ID of a thing refer to it, unless it refers to something else; returns what it refers to."""
        return self._owners.get(id.lower()) or self._former.setdefault(id.lower(), owner)

    def leave_out(self, owner: IdOwner) -> None:
        """Remembers which left-out entry would have had an ID, so that a message about it can say why it is unknown."""
        self._left_out.setdefault(owner.id.lower(), owner)

    def miss(self, paths: Iterable[str]) -> None:
        """Remembers files and folders that could not be read: an unknown ID may stand in one of them."""
        self._unread = tuple(sorted(paths, key=path_key))

    def get(self, id: str) -> IdOwner | None:
        """What has an ID, or had it before."""
        return self._owners.get(id.lower()) or self._former.get(id.lower())

    def ids(self) -> list[str]:
        return [owner.id for owner in self._owners.values()]

    def mean_the_same(self, other: Names) -> bool:
        """Whether every ID means the same in both."""
        one, two = ((names._owners, names._former, names._left_out, names._unread) for names in (self, other))
        return one == two

    def refs(
        self, draft: Draft, key: str, refs: Iterable[Ref], kinds: Collection[str], problems: ProblemList
    ) -> tuple[Ref, ...]:
        """The refs that name one of `kinds`, spelled as defined, each once; problems report the others."""
        found = [known for ref in refs if (known := self.ref(draft, key, ref, kinds, problems)) is not None]
        return tuple(dict.fromkeys(found) if len(found) > 1 else found)

    def ref(self, draft: Draft, key: str, ref: Ref, kinds: Collection[str], problems: ProblemList) -> Ref | None:
        """The ref as defined, or None and a problem."""
        owner = self.get(ref.id)
        if owner is None:
            own = draft.values.get("id", "")
            fix, paste = self.advice_on_near(ref.id, kinds, own), ""
            if tuple(kinds) == ("tent",) and not self._are_tents_known:
                fix = f"correct {SETTINGS_NAME} first: it cannot be read, and tents are defined there"
            elif tuple(kinds) == ("tent",) and ref.id.lower() not in self._left_out:
                add = f"add [tents.{ref.id}] to {SETTINGS_NAME}"
                fix, paste = (f"{fix}, or {add}", "") if fix else (add, tent_block(ref.id))
            fix = fix or self.advice_on_unread(kinds) or f"name a {_one_of(kinds)} of this journal"
            problems.error(draft, key, f"`{key}` names {ref.id}, which is not in this journal", fix, paste)
        elif owner.kind not in kinds:
            near = self._near(ref.id, kinds, draft.values.get("id", ""))
            fix = f"name a {_one_of(kinds)}" + (f", perhaps {near}" if near else "")
            problems.error(draft, key, f"`{key}` names {owner.id}, which is a {owner.kind}", fix)
        elif ref.part is None or self._has_part(draft, key, ref.part, owner, problems):
            return ref if ref.id == owner.id else Ref(owner.id, ref.part)
        return None

    def id(self, draft: Draft, key: str, id: str | None, kinds: Collection[str], problems: ProblemList) -> str | None:
        """The ID as defined, or None and a problem; None if none is given."""
        found = None if id is None else self.ref(draft, key, Ref(id), kinds, problems)
        return found.id if found else None

    def _has_part(self, draft: Draft, key: str, part: int, owner: IdOwner, problems: ProblemList) -> bool:
        parts = PARTS.get(owner.kind)
        if parts is None:
            message, fix = f"{owner.id} is a {owner.kind} and has no part {part}", f"name {owner.id} itself"
        elif owner.parts is not None and part > owner.parts:
            message = f"`{key}` names {owner.id}.{part}, but {owner.id} has {owner.parts_in_words}"
            fix = f"correct the number, or `{parts}` in {owner.path}"
        else:
            return True
        problems.error(draft, key, message, fix)
        return False

    def advice_on_near(self, id: str, kinds: Collection[str], own: str) -> str | None:
        """How to fix an unknown ID if an entry that was left out would have it, or if another one is near it. own: the
        ID of the entry that names it, which is never meant."""
        left_out = self._left_out.get(id.lower())
        if left_out is not None:
            return f"correct {left_out.path}, which would be {left_out.id}"
        near = self._near(id, kinds, own)
        return self.advice_on_unread(kinds) or f"write {near}, if you mean that" if near else None

    def advice_on_unread(self, kinds: Collection[str]) -> str | None:
        """How to fix an unknown ID if it may stand in a file or folder that could not be read. A tent's never does."""
        if not self._unread or tuple(kinds) == ("tent",):
            return None
        return f"make {self._unread[0]} readable first: this ID may be in it"

    def _near(self, id: str, kinds: Collection[str], own: str) -> str | None:
        """The nearest ID of one of `kinds` except `own`; cached and limited in number, because it takes tens of
        milliseconds."""
        asked = (id.lower(), tuple(kinds), own.lower())
        if asked not in self._nearest and len(self._nearest) < MOST_SEARCHES:
            owners = (owner for owner in self._owners.values() if owner.kind in kinds)
            find = nearest_name if tuple(kinds) == ("tent",) else nearest
            self._nearest[asked] = find(id, (owner.id for owner in owners if owner.id.lower() != asked[2]))
        return self._nearest.get(asked)


def by_former_id(journal: Journal) -> dict[str, Find | Culture | Batch | Device]:
    """Things by their earlier ID, in lower case; none of these is a current ID."""
    rows: tuple[Any, ...] = (*journal.finds, *journal.cultures, *journal.batches, *journal.devices)
    return {id.lower(): row for row in rows for id in row.formerly}


def owners_in(drafts: Iterable[Draft]) -> Mapping[str, IdOwner]:
    """The ID of each draft, by its path; without drafts that have none."""
    return {
        draft.path: IdOwner(draft.values["id"], draft.kind, draft.path, _count(draft))
        for draft in drafts
        if draft.kind in ("find", "culture", "batch", "device") and "id" in draft.values
    }


def _count(draft: Draft) -> int | None:
    """How many parts it has: a batch has one unless stated; None for a count that cannot be read."""
    key = PARTS.get(draft.kind or "", "")
    written: int | None = draft.values.get(key)
    if written is None and draft.kind == "batch" and key not in draft.lines:
        return 1
    return written


def _one_of(kinds: Collection[str]) -> str:
    words = [kind for kind in ALL_KINDS if kind in kinds]
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " or " + words[-1]
