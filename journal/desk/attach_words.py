"""The words of `journal attach`: lines of what would be done, and of what was."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from journal.gathering.filing import Fate, Plan
from journal.gathering.leftovers import Leftover
from journal.gathering.sources import Roll, passed_over_sentence

STOPPED = "An earlier run was stopped before it was done; the next one without --dry-run finishes that first."

MOST_LINES = 12
"""How many lines of one sort are said before the rest is counted."""

REASONS: Mapping[Fate, str] = {
    "no day": "tells no time, so its day is not known; say it with --date 2026-10-27",
    "no picture": "is no picture, whatever its name says: nothing in it is JPEG, HEIC, PNG, WebP, TIFF or AVIF",
    "elsewhere": "lies in the journal already ({path}), in no entry; move that file to {home} and run the same again",
    "unlisted": "lies there under a name that no entry can list ({path}); rename that file and run the same again",
}


def home_of(plan: Plan) -> str:
    """The folder of its notes, as a sentence names it."""
    return plan.home.path or "the journal's own folder"


def reasons(plan: Plan) -> list[tuple[str, str]]:
    """(photo as typed, why) of the photos that the plan leaves out."""
    return [
        (one.content.source.shown, REASONS[one.fate].format(path=one.path, home=home_of(plan))) for one in plan.left_out
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
        f"{_about(plan)}: {number_of(len(plan.notes), entry_word(plan))} and {number_of(len(copied), 'photo')}{size} "
        "would be written; nothing was"
    )


def done(plan: Plan, notes: int, copied: int, left_out: int) -> str:
    """The closing line."""
    listed, before = len(plan.with_fate("listed")), len(plan.with_fate("known"))
    parts = [
        f"{number_of(notes, entry_word(plan))} with {number_of(copied + listed, 'photo')}" if notes else "nothing new"
    ]
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


def entry_word(plan: Plan) -> str:
    """What its notes are called."""
    return "note" if plan.wanted.subject.entry_kind == "note" else "tent entry"


def number_of(number: int, what: str) -> str:
    """`1 note`, `2 tent entries`."""
    plural = "tent entries" if what == "tent entry" else f"{what}s"
    return f"{number:,} {what if number == 1 else plural}"


def _size(count: int) -> str:
    """Bytes in MB (10^6)."""
    return f"{count / 1_000_000:,.1f} MB" if count >= 50_000 else "under 0.1 MB"


def stands(notes: int) -> str:
    """What an attaching that failed after its first note has done."""
    what = "One note and its photos are" if notes == 1 else f"{notes} notes and their photos are"
    return f"{what} in the journal and stay; run the same again for the others."
