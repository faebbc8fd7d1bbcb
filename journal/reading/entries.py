"""An entry file into a draft: every key typed, nothing linked yet."""

from __future__ import annotations

import operator
import re
from collections.abc import Callable, Collection, Hashable, Iterable, Mapping
from dataclasses import dataclass
from datetime import tzinfo
from functools import lru_cache
from typing import Annotated, Any, TypeVar

from journal.problems import Problem, Severity, Unreadable, shortened
from journal.quantities import Parsed
from journal.reading.dates import journal_zone
from journal.reading.everyday_words import fix_by_meaning, fix_of_key
from journal.reading.folder import path_key
from journal.reading.front_matter import Field, FrontMatter, Item, read_front_matter
from journal.reading.key_help import example_of
from journal.reading.keys import COMMON_KEYS, KEYS, KINDS, Key, kinds_with
from journal.reading.listing import SETTINGS_NAME
from journal.reading.pictures_in_text import with_slips_mended
from journal.reading.private_passages import COUNTS_AS_PRIVATE, private_problems
from journal.reading.values import NOTATIONS, VALUES
from journal.settings import Settings
from journal.unexpected import attempt


@dataclass(frozen=True)
class Draft:
    """One entry as its file has it, before it is linked to anything.

    kind: None if the file does not say; such an entry is left out, and its problems say why.
    values: canonical key -> typed value. A key that is absent, empty, wrong or of another kind is not in it. The type
        is that of the key's notation (`makes` in `values.NOTATIONS`), a tuple of it where the key takes several; IDs
        and references are in it once each.
    lines: canonical key -> 1-based line on which it stands, for keys in `values` and for those that were wrong.
    text: the Markdown after the front matter, lines ended by "\\n", its pictures as CommonMark shows them; text_line:
        the line on which it begins.
    problems: all that is wrong in this file by itself, a missing `kind` and missing required keys of the table included
        (`about` of a note, a culture's parent and the date depend on other files: whoever links says so).
    """

    path: str
    kind: str | None
    values: Annotated[Mapping[str, Any], VALUES]
    lines: Mapping[str, int]
    text: str
    text_line: int
    problems: tuple[Problem, ...]

    @property
    def is_unread(self) -> bool:
        """Whether nothing is known of what the file says."""
        return self.kind is None and any(not problem.line for problem in self.problems)


def read_entry(path: str, data: bytes, settings: Settings) -> Draft | None:
    """The draft of an entry file; None if the file does not begin with front matter, and so is not an entry.

    path: relative to the journal folder. settings: for its time zone. Never raises, whatever the bytes. Two values are
    not left out with their problem, to be on the safe side: a `private` that cannot be read, or whatever else looks
    like one, counts as yes, and `certainty: confirmed` without `identified by` counts as likely.
    """
    front = read_front_matter(path, data)
    if front is None:
        return None
    if not front.legible:
        return Draft(path, None, {}, {}, front.text, front.text_line, front.problems)
    text = with_slips_mended(front.text)
    reading = _Reading(path, journal_zone(settings.time_zone))
    kind = reading.kind_of(front.fields)
    keys = KEYS[kind] if kind else COMMON_KEYS
    for field in front.fields:
        if key := keys.get(field.name):
            reading.read(field, key)
        else:
            reading.report_other_key(field, kind)
    reading.check_privacy(front)
    if kind:
        reading.report_missing(kind, front.fields)
        reading.check_certainty()
    found = (*front.problems, *reading.problems, *private_problems(path, front.text, front.text_line))
    return Draft(path, kind, reading.values, reading.lines, text, front.text_line, tuple(sorted(set(found))))


def no_entry(problem: Problem) -> Draft:
    """The draft of a file that could not be read: without a kind, and so left out, with its problem."""
    return Draft(problem.path, None, {}, {}, "", 1, (problem,))


_MOST_UNKNOWN_KEYS = 20
_ONCE = frozenset({"id", "reference"})
_JOINED = frozenset({"text", "names", "position"})
_SEPARATORS = {
    "mix part": re.compile(r",\s+"),
    "colony": re.compile(r",\s+"),
    "id": re.compile(","),
    "reference": re.compile(","),
}


_SHORT = 64


def _read_value(text: str, key: Key, zone: tzinfo) -> Parsed[Any]:
    return NOTATIONS[key.notation].read(text, key, zone)


_read_short = lru_cache(maxsize=4096)(_read_value)
"""The same; a journal writes the same kinds, stages, days and IDs in many entries."""


class _Reading:
    def __init__(self, path: str, zone: tzinfo) -> None:
        self.path = path
        self.zone = zone
        self.values: dict[str, Any] = {}
        self.lines: dict[str, int] = {}
        self.problems: list[Problem] = []
        self.unknown_keys = 0

    def report(self, line: int, severity: Severity, message: str, fix: str) -> None:
        self.problems.append(Problem(self.path, line, severity, message, fix))

    def kind_of(self, fields: tuple[Field, ...]) -> str | None:
        field = next((field for field in fields if field.name == "kind"), None)
        if not field or not (field.items or field.broken):
            fix = f"write a line kind: with one of {' · '.join(KINDS)}"
            self.report(field.line if field else 1, "error", "this entry has no kind", fix)
            return None
        self.read(field, COMMON_KEYS["kind"])
        return self.values.get("kind")

    def read(self, field: Field, key: Key) -> None:
        """Adds the field's value to the values, or reports why not."""
        if field.name in self.lines or not (field.items or field.broken):
            return
        self.lines[field.name] = field.line
        items = self._items(field, key)
        read = [value for item in items if (value := self._typed(item, key)) is not None]
        if not read or (key.whole and len(read) < len(items)):
            return
        if key.several:
            self.values[field.name] = tuple(dict.fromkeys(read) if key.notation in _ONCE else read)
        else:
            self.values[field.name] = read[0]

    def _items(self, field: Field, key: Key) -> tuple[Item, ...]:
        if key.commas:
            separator = _SEPARATORS[key.notation]
            parts = ((part.strip(), item.line) for item in field.items for part in separator.split(item.text))
            return tuple(Item(text, line) for text, line in parts if text)
        if key.several or len(field.items) < 2:
            return field.items
        if key.notation in _JOINED:
            return (Item(", ".join(item.text for item in field.items), field.line),)
        self.report(field.line, "error", f"{key.name} takes one value, not {len(field.items)}", "keep one of them")
        return ()

    def _typed(self, item: Item, key: Key) -> Any:
        try:
            read = (_read_short if len(item.text) <= _SHORT else _read_value)(item.text, key, self.zone)
        except Unreadable as fault:
            message = "it cannot be read" if LIKE_A_POSITION.search(item.text) else fault.message
            is_private = key.name == "private"
            message = f"{message}; the entry {COUNTS_AS_PRIVATE}" if is_private else message
            self.report(item.line, "error", f"{key.name}: {message}", fault.fix)
            return True if is_private else None
        for remark in read.remarks:
            self.report(item.line, "warning", f"{key.name}: {remark.message}", remark.fix)
        return read.value

    def report_other_key(self, field: Field, kind: str | None) -> None:
        kinds = kinds_with(field.name)
        if kinds:
            if kind:
                message = f"{field.name} is a key of a {' and a '.join(kinds)}, not of a {kind}"
                fix = fix_by_meaning(field.name, kind) or "remove it, or move it to the entry it belongs to"
                self.report(field.line, "warning", message, fix)
            return
        self.unknown_keys += 1
        if self.unknown_keys <= _MOST_UNKNOWN_KEYS:
            shown = "this" if _LIKE_A_PLACE.search(field.name) else shortened(field.name)
            whose = f" of a {kind}" if kind else ""
            self.report(field.line, "error", f"{shown} is not a key{whose}", fix_of_key(field.name, kind))
        elif self.unknown_keys == _MOST_UNKNOWN_KEYS + 1:
            self.report(field.line, "error", "there are more unknown keys below", "fix those above first")

    def report_missing(self, kind: str, fields: tuple[Field, ...]) -> None:
        lines = {field.name: field.line for field in fields}
        for key in KEYS[kind].values():
            if key.required and key.name not in self.lines:
                message = f"a {kind} needs {key.name}"
                fix = f"write a line like {key.name}: {example_of(key, kind)}"
                self.report(lines.get(key.name, 1), "error", message, fix)

    def check_privacy(self, front: FrontMatter) -> None:
        """Makes the entry private if anything in it looks like a request for that, and reports what."""
        read = next((field for field in front.fields if field.name == "private" and len(field.items) == 1), None)
        for line in front.private_lines:
            if read is not None and line in (read.line, read.items[0].line):
                continue
            message = "this line looks like private: yes, but is spelled differently"
            if any(field.name == "private" and field.line == line for field in front.fields):
                message = "private is not yes or no"
            self.lines.setdefault("private", line)
            self.values["private"] = True
            fix = "write private: yes, or private: no"
            self.report(line, "error", f"{message}; the entry {COUNTS_AS_PRIVATE}", fix)

    def check_certainty(self) -> None:
        if self.values.get("certainty") == "confirmed" and "identified by" not in self.values:
            self.values["certainty"] = "likely"
            message = "confirmed counts as likely, because `identified by` is missing"
            self.report(self.lines["certainty"], "warning", message, "write a line like identified by: who, and how")


# Problems may be shown to others, so they do not repeat numbers that are precise enough to be a position.
LIKE_A_POSITION = re.compile(r"[0-9][.,][0-9]{4}|[0-9] ?°[^CFcf]*[0-9]")
_LIKE_A_PLACE = re.compile(r"[0-9]{2}|°")


T = TypeVar("T")


Kept = dict[str, tuple[object, Hashable, Any]]
"""By the path of a draft: what a step read, as `ProblemList.each` has it, and what it made of that."""


class KeptSteps:
    """What the steps of linking made of single drafts, kept in one process from one reading of a journal to the next.
    Nothing is kept of a draft in which something is wrong: what is said of that may depend on how much else is. keeps:
    whether there is a next reading; otherwise nothing is kept at all."""

    def __init__(self, keeps: bool = True) -> None:
        self._keeps = keeps
        self._frames: dict[str, object] = {}
        self._made: dict[str, dict[str, Kept]] = {}

    def begin(self, stage: str, frame: object, is_same: Callable[[Any, Any], bool] = operator.eq) -> None:
        """Forgets all that the steps of a stage made, unless the frame, which is everything that they read besides one
        draft, is as it was. is_same: whether two frames are."""
        if stage not in self._frames or not is_same(self._frames[stage], frame):
            self._made[stage] = {}
            self._frames[stage] = frame

    def of(self, stage: str, step: str) -> Kept | None:
        return self._made[stage].setdefault(step, {}) if self._keeps else None


class ProblemList:
    """Collects problems. failed: those of entries on which the program itself failed, by path."""

    def __init__(self, problems: Iterable[Problem] = ()) -> None:
        self._problems = list(problems)
        self.failed: dict[str, Problem] = {}

    def each(
        self,
        drafts: Collection[Draft],
        step: Callable[[Draft], T],
        kept: Kept | None = None,
        reads: Callable[[Draft], tuple[object, Hashable] | None] = lambda draft: (draft, None),
    ) -> list[T]:
        """The result of `step` for each draft, except those on which it fails unexpectedly. kept: what the step made
        before, used where what it `reads` is the same: the very object, and an equal second; not used where that gives
        None."""
        made: list[T] = []
        for draft in drafts:
            if kept is not None:
                inputs, known = reads(draft), kept.get(draft.path)
                if inputs and known and known[0] is inputs[0] and known[1] == inputs[1]:
                    made.append(known[2])
                    continue
                kept.pop(draft.path, None)
            before = len(self._problems)
            result = attempt(draft.path, step, draft)
            if isinstance(result, Problem):
                self.failed[draft.path] = result
                continue
            made.append(result)
            if kept is not None and inputs and len(self._problems) == before:
                kept[draft.path] = (*inputs, result)
        if kept is not None and len(kept) > len(made):
            for path in kept.keys() - {draft.path for draft in drafts}:
                del kept[path]
        return made

    def error(self, draft: Draft, key: str, message: str, fix: str, paste: str = "") -> None:
        """Adds an error at the line of that key (or for the whole file, if the key is missing)."""
        self.at(draft.path, draft.lines.get(key, 0), "error", message, fix, paste)

    def warning(self, draft: Draft, key: str, message: str, fix: str) -> None:
        """Adds a warning: the value is used, but should be checked."""
        self.at(draft.path, draft.lines.get(key, 0), "warning", message, fix)

    def has(self, path: str, words: str) -> bool:
        """Whether there is a problem of this file whose message begins with these words."""
        return any(one.path == path and one.message.startswith(words) for one in self._problems)

    def paths_of(self, words: str) -> list[str]:
        """The files or folders with a problem whose message begins with these words."""
        return [one.path for one in self._problems if one.message.startswith(words)]

    def add(self, problem: Problem) -> None:
        self._problems.append(problem)

    def at(self, path: str, line: int, severity: Severity, message: str, fix: str, paste: str = "") -> None:
        self._problems.append(Problem(path, line, severity, message, fix, paste))

    def sorted(self) -> tuple[Problem, ...]:
        """Each problem once: those of the settings first, from which others may follow; then by path as NFC text, and
        by line."""

        def place(row: Problem) -> tuple[object, ...]:
            is_later = row.path != SETTINGS_NAME
            return (is_later, path_key(row.path), row.line, row.severity, row.message, row.fix)

        return tuple(sorted(set(self._problems), key=place))
