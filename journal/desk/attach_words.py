"""The words of `journal attach`: a table of what would be done, and lines of what was."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from rich.cells import cell_len

from journal.desk.telling import plain
from journal.gathering.filing import Fate, Filed, Plan
from journal.gathering.leftovers import Leftover
from journal.gathering.sources import Roll, passed_over_sentence

STOPPED = "An earlier run was stopped before it was done; the next one without --dry-run finishes that first."

MOST_LINES = 12
"""How many lines of one sort are said before the rest is counted."""

_REASONS: Mapping[Fate, str] = {
    "no day": "tells no time, so its day is not known; say it with --date 2026-10-27",
    "no picture": "is no picture, whatever its name says: nothing in it is JPEG, HEIC, PNG, WebP, TIFF or AVIF",
    "elsewhere": "lies in the journal already ({path}), in no entry; move that file to {home} and run the same again",
    "unlisted": "lies there under a name that no entry can list ({path}); rename that file and run the same again",
}

_FATES: Mapping[Fate, str] = {
    "copied": "{path}, in {note}",
    "listed": "{path}, lies there already, in {note}",
    "known": "taken in before: {path}, in {besides}",
    "again": "the same as {besides}",
    "no day": "tells no time: its day is asked for",
    "no picture": "left out: " + _REASONS["no picture"],
    "elsewhere": "left out: " + _REASONS["elsewhere"],
    "unlisted": "left out: " + _REASONS["unlisted"],
}

_HEAD = ("Photo", "Taken", "Where it goes")


def table(plan: Plan, left_out: Sequence[tuple[str, str]]) -> str:
    """One line a photo: its path as typed, when it was taken, what becomes of it."""
    note_of = {photo.path: note.path for note in plan.notes for photo in note.photos}
    rows = [_HEAD]
    for one in plan.filed:
        fate = _FATES[one.fate].format(
            path=one.path, besides=one.besides, note=note_of.get(one.path, ""), home=_home(plan)
        )
        rows.append((one.content.source.shown, _taken(one), fate))
    rows += [(shown, "", f"left out: {why}") for shown, why in left_out]
    shown = [tuple(plain(cell) for cell in row) for row in rows]
    widths = [max(cell_len(row[column]) for row in shown) for column in (0, 1)]
    return "\n".join("  ".join((_padded(row[0], widths[0]), _padded(row[1], widths[1]), row[2])) for row in shown)


def _padded(text: str, width: int) -> str:
    return text + " " * (width - cell_len(text))


def _taken(one: Filed) -> str:
    if one.looked and one.looked.taken:
        return f"{one.looked.taken:%Y-%m-%d %H:%M}"
    return f"{one.day}, as told" if one.day else ""


def _home(plan: Plan) -> str:
    return plan.home.path or "the journal's own folder"


def reasons(plan: Plan) -> list[tuple[str, str]]:
    """(photo as typed, why) of the photos that the plan leaves out."""
    return [
        (one.content.source.shown, _REASONS[one.fate].format(path=one.path, home=_home(plan))) for one in plan.left_out
    ]


def left_out(rows: Sequence[tuple[str, str]]) -> Iterator[str]:
    """A line for each thing that stays out: every one of them, since each has to be seen to."""
    for shown, why in rows:
        yield f"Left out: {shown} {why}"


def passed_over(roll: Roll) -> list[str]:
    return [passed_over_sentence(roll.passed_over)] if roll.passed_over else []


def known(plan: Plan) -> list[str]:
    """Photos that an entry had before."""
    before = plan.with_fate("known")
    lines = [f"{one.content.source.shown} was taken in before: {one.path}, in {one.besides}" for one in before]
    return _counted(lines, "more were taken in before")


def oddities(plan: Plan) -> list[str]:
    """What is odd about new photos, in the words that `journal check` will have for it."""
    new = plan.with_fate("copied", "no day")
    lines = [f"{one.content.source.shown}: {words}" for one in new if one.looked for words in one.looked.words]
    return _counted(lines, "more things are odd; `journal check` lists them")


def waiting(rows: Sequence[Leftover]) -> list[str]:
    """Hidden copies of a stopped run that no note has."""
    lines = [
        f"{one.file} is the copy of a photo that a stopped run did not get to; attach that photo, or remove the copy"
        for one in rows
    ]
    return _counted(lines, "more such copies lie there")


def _counted(lines: list[str], rest: str) -> list[str]:
    more = len(lines) - MOST_LINES
    return [*lines[:MOST_LINES], *([f"{more:,} {rest}"] if more > 0 else [])]


def would_be(plan: Plan) -> str:
    if not plan.notes:
        return f"{_about(plan)}: nothing is new, so nothing would be written"
    copied = plan.with_fate("copied")
    size = f" ({_size(plan.copied_bytes)})" if copied else ""
    return (
        f"{_about(plan)}: {_count(len(plan.notes), _entry(plan))} and {_count(len(copied), 'photo')}{size} "
        "would be written; nothing was"
    )


def done(plan: Plan, notes: int, copied: int, left_out: int) -> str:
    """The closing line."""
    listed, before = len(plan.with_fate("listed")), len(plan.with_fate("known"))
    parts = [f"{_count(notes, _entry(plan))} with {_count(copied + listed, 'photo')}" if notes else "nothing new"]
    if before:
        parts.append(f"{before:,} taken in before")
    if left_out:
        parts.append(f"{left_out:,} left out")
    return f"{_about(plan)}: {', '.join(parts)}"


def as_typed(path: Path) -> str:
    """A path as one would type it here: below this folder by its short way, else whole."""
    here = Path.cwd()
    return os.fspath(path.relative_to(here) if path.is_relative_to(here) else path)


def _about(plan: Plan) -> str:
    return str(plan.wanted.subject.ref)


def _entry(plan: Plan) -> str:
    return "note" if plan.wanted.subject.entry_kind == "note" else "tent entry"


def _count(count: int, what: str) -> str:
    plural = "tent entries" if what == "tent entry" else f"{what}s"
    return f"{count:,} {what if count == 1 else plural}"


def _size(count: int) -> str:
    """Bytes in MB (10^6)."""
    return f"{count / 1_000_000:,.1f} MB" if count >= 50_000 else "under 0.1 MB"
