"""`journal attach`: its steps, its questions, its table and its messages."""

from __future__ import annotations

import contextlib
import itertools
import os
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import click
from rich.cells import cell_len

from journal.cache.file_cache import FileCache
from journal.cache.folders import build_lock
from journal.commands.console import plain
from journal.commands.prompts import ask_day, can_ask, columns_of_terminal, today_in
from journal.commands.workspace import Workspace
from journal.importing.copying import Disk, carry_out
from journal.importing.destinations import stage_of, subject_named
from journal.importing.filing import Fate, Filed, Plan, Wanted, day_warnings, file_photos, refuse_several_days
from journal.importing.photo_files import PhotoList, find_photos, skipped_sentence
from journal.importing.survey import (
    Leftover,
    Survey,
    clear_notes,
    finish_photos,
    leftovers_in,
    refuse_undated,
    remove_duplicates,
    survey,
)
from journal.pipeline import ReadFiles, read_files
from journal.problems import Refusal
from journal.quantities import size_in_mb

# Messages: what would be done, and what was done

STOPPED = "An earlier run was stopped before it finished; the next run without --dry-run completes it first."

MOST_LINES = 12
"""How many lines of one sort are printed before the rest is counted."""

REASONS: Mapping[Fate, str] = {
    "no day": "has no time in it, so its day is not known; give the day with --date 2026-10-27",
    "no picture": "is not a picture: it is not a JPEG, HEIC, PNG, WebP, TIFF or AVIF file, whatever its name says",
    "elsewhere": "is in the journal already ({path}), but in no entry; move that file to {home} and run this again",
    "unlisted": "is there already under a name that an entry cannot list ({path}); rename it and run this again",
}


def home_of(plan: Plan) -> str:
    """The folder of its notes, as messages name it."""
    return plan.home.path or "the journal's own folder"


def reasons(plan: Plan) -> list[tuple[str, str]]:
    """(photo as typed, why) of the photos that the plan leaves out."""
    return [
        (one.content.source.shown, REASONS[one.fate].format(path=one.path, home=home_of(plan))) for one in plan.left_out
    ]


def left_out_rows(rows: Sequence[tuple[str, str]]) -> Iterator[str]:
    """A line for each photo that is left out; all of them, since the author has to act on each."""
    for shown, why in rows:
        yield f"Left out: {shown} {why}"


def skipped_lines(photos: PhotoList) -> list[str]:
    return [skipped_sentence(photos.skipped)] if photos.skipped else []


def known_lines(plan: Plan) -> list[str]:
    """Photos that an entry has already."""
    before = plan.with_fate("known")
    lines = [f"{one.content.source.shown} is in the journal already: {one.path}, in {one.besides}" for one in before]
    return _counted(lines, "more are in the journal already")


def problem_lines(plan: Plan) -> list[str]:
    """Problems of new photos, as `journal check` will word them."""
    new = plan.with_fate("copied", "no day")
    lines = [f"{one.content.source.shown}: {words}" for one in new if one.inspected for words in one.inspected.words]
    return _counted(lines, "more problems; `journal check` lists them")


def waiting_lines(rows: Sequence[Leftover]) -> list[str]:
    """Hidden copies left by a stopped run that no note lists."""
    lines = [
        f"{one.file} is a copy left by a stopped run that no note lists; attach that photo, or delete the copy"
        for one in rows
    ]
    return _counted(lines, "more such copies")


def _counted(lines: list[str], rest: str) -> list[str]:
    more = len(lines) - MOST_LINES
    return [*lines[:MOST_LINES], *([f"{more:,} {rest}"] if more > 0 else [])]


def planned_lines(plan: Plan) -> str:
    if not plan.notes:
        return f"{_about(plan)}: nothing new, so nothing would be written"
    copied = plan.with_fate("copied")
    size = f" ({size_in_mb(plan.copied_bytes)})" if copied else ""
    return (
        f"{_about(plan)}: {number_of(len(plan.notes), entry_word(plan))} and {number_of(len(copied), 'photo')}{size} "
        "would be written; this was a dry run"
    )


def done_lines(plan: Plan, notes: int, copied: int, left_out: int) -> str:
    """The closing line."""
    listed, before = len(plan.with_fate("listed")), len(plan.with_fate("known"))
    parts = [
        f"{number_of(notes, entry_word(plan))} with {number_of(copied + listed, 'photo')}" if notes else "nothing new"
    ]
    if before:
        parts.append(f"{before:,} already in the journal")
    if left_out:
        parts.append(f"{left_out:,} left out")
    return f"{_about(plan)}: {', '.join(parts)}"


def as_typed(path: Path) -> str:
    """A path as it can be typed here: relative below the current folder, else absolute."""
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


def outcome(notes: int) -> str:
    """What a run that failed has changed. notes: how many were completed."""
    if not notes:
        return "No note was completed. Your photos are unchanged; run the same command again."
    what = "One note and its photos are" if notes == 1 else f"{notes} notes and their photos are"
    return f"{what} in the journal. Run the same command again for the others."


# The table of `journal attach --dry-run`: each photo under what would become of it.

AttachRow = tuple[str, str, str]
"""A photo as typed; when it was taken; its name in the journal, or the entry that has it."""

_HEAD: AttachRow = ("Photo", "Taken", "In the journal")
_INDENT, _GAP = "  ", "  "
_FEWEST_COLUMNS = 40

_HEADINGS: Mapping[Fate, str] = {
    "known": "Already in the journal",
    "again": "Same photo as another one named",
    "no day": "No time in the photo: you are asked for its day, or give it with --date 2026-10-27",
    "no picture": "Left out: " + REASONS["no picture"],
    "elsewhere": "Left out: in the journal already, but in no entry; move that file to {home} and run this again",
    "unlisted": "Left out: there already under a name that an entry cannot list; rename that file and run this again",
}


def attach_table(plan: Plan, left_out: Sequence[tuple[str, str]], columns: int | None) -> str:
    """One line a photo, under the note that it goes into or the reason why it goes into none.

    left_out: (photo as typed, why) of those that are not in the plan. columns: the width of the terminal; longer names
    lose their beginning. None: nothing is cut.
    """
    groups = [
        (plain(heading), [tuple(plain(cell) for cell in row) for row in rows])
        for heading, rows in (*_notes(plan), *_others(plan), *_unknown(left_out))
    ]
    widths = _widths([_HEAD, *(row for _, rows in groups for row in rows)], columns)
    lines = [_line(_HEAD, widths)]
    for heading, rows in groups:
        lines += _wrapped(heading, columns) + [_line(row, widths) for row in rows]
    return "\n".join(lines)


def _notes(plan: Plan) -> Iterator[tuple[str, list[AttachRow]]]:
    for note in plan.notes:
        heading = f"{note.path}: a new {entry_word(plan)} with {number_of(len(note.photos), 'photo')}"
        yield heading, [_row(one) for one in note.photos]


def _others(plan: Plan) -> Iterator[tuple[str, list[AttachRow]]]:
    for fate, heading in _HEADINGS.items():
        if rows := [_row(one) for one in plan.with_fate(fate)]:
            yield heading.format(home=home_of(plan)), rows


def _unknown(left_out: Sequence[tuple[str, str]]) -> Iterator[tuple[str, list[AttachRow]]]:
    for why in dict.fromkeys(why for _, why in left_out):
        yield f"Left out: {why}", [(shown, "", "") for shown, other in left_out if other == why]


def _row(one: Filed) -> AttachRow:
    there = {"copied": one.name, "listed": f"{one.name}, there already", "known": f"in {one.besides}"}
    return one.content.source.shown, _taken(one), there.get(one.fate, one.besides or one.path)


def _taken(one: Filed) -> str:
    if one.inspected and one.inspected.taken:
        return f"{one.inspected.taken:%Y-%m-%d %H:%M}"
    return f"{one.day}, given" if one.day else ""


def _widths(rows: Sequence[Sequence[str]], columns: int | None) -> list[int]:
    """Cells of each column: as many as its longest cell has; on a terminal the first and the last share what is left,
    and one that needs less than half leaves the rest to the other."""
    first, taken, last = (max(cell_len(row[column]) for row in rows) for column in range(3))
    if columns is None:
        return [first, taken, last]
    room = max(columns, _FEWEST_COLUMNS) - len(_INDENT) - 2 * len(_GAP) - taken
    last = min(last, max(room // 2, room - first))
    return [min(first, room - last), taken, last]


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    cells = (_padded(_end_of(text, width), width) for text, width in zip(row, widths, strict=True))
    return (_INDENT + _GAP.join(cells)).rstrip()


def _padded(text: str, width: int) -> str:
    return text + " " * (width - cell_len(text))


def _end_of(text: str, width: int) -> str:
    """As much of the end of a text as fits, since the end of a path says more than its beginning."""
    if cell_len(text) <= width:
        return text
    at = next(at for at in range(1, len(text) + 1) if cell_len(text[at:]) < width)
    return f"…{text[at:]}"


def _wrapped(heading: str, columns: int | None) -> list[str]:
    if columns is None:
        return [heading]
    return textwrap.wrap(heading, max(columns, _FEWEST_COLUMNS), break_on_hyphens=False, break_long_words=False)


# The command

_WAITING = "Another command is using this journal; waiting for it to finish."


@dataclass(frozen=True, slots=True)
class AttachRequest:
    """What was typed. folder: in the journal, None for the default one. day: for photos that have no time in them."""

    id: str
    photos: Sequence[Path]
    stage: str | None = None
    folder: str | None = None
    day: date | None = None
    by_day: bool = False
    dry_run: bool = False


@dataclass(frozen=True, slots=True)
class _Found:
    """The journal, the request, and the photos that were named. waiting: see `finish_photos`."""

    written: ReadFiles
    wanted: Wanted
    photos: PhotoList
    survey: Survey
    waiting: Sequence[Leftover]

    @property
    def left_out(self) -> list[tuple[str, str]]:
        """(path as typed, why) of what cannot be read as a photo."""
        return [*self.photos.left_out, *self.survey.left_out]


def attach_photos(workspace: Workspace, asked: AttachRequest) -> int:
    """Copies photos into the journal, or shows what would be done; returns the exit code (1: one is left out).

    Raises Refusal where it cannot be done as asked.
    """
    lock: AbstractContextManager[None] = contextlib.nullcontext()
    if not asked.dry_run:
        lock = build_lock(workspace.cache_folder, lambda: workspace.output.notice(_WAITING))
    with lock:
        found = _survey(workspace, asked)
        days = _days(found, asked)
        plan = file_photos(found.wanted, found.survey.contents, found.survey.inspected, days, found.survey.inventory)
        return (_show if asked.dry_run else _carry_out)(workspace, asked, found, plan)


def _survey(workspace: Workspace, asked: AttachRequest) -> _Found:
    memory = workspace.memory()
    if asked.dry_run and leftovers_in(workspace.root):
        workspace.output.notice(STOPPED)
    with workspace.output:
        written, waiting = _read(workspace, memory, asked.dry_run)
        subject = subject_named(asked.id, written.drafts, written.settings)
        wanted = Wanted(subject, stage_of(subject, asked.stage), asked.folder)
        photos = find_photos(asked.photos)
        zone = written.settings.time_zone
        inspected = survey(
            photos.sources, written.folder, written.drafts, zone, memory, waiting, workspace.output.progress
        )
    memory.cache.save()
    refuse_undated(subject, inspected.inventory)
    if not asked.dry_run:
        waiting = remove_duplicates(waiting, inspected.inventory.contents, Disk())
    return _Found(written, wanted, photos, inspected, waiting)


def _read(workspace: Workspace, memory: FileCache, dry_run: bool) -> tuple[ReadFiles, list[Leftover]]:
    """The journal's entries, and the hidden copies of an earlier run that could not be completed now."""
    tell = workspace.output.progress
    leftovers = leftovers_in(memory.root)
    if dry_run or not leftovers:
        return read_files(memory, tell), []
    photos = clear_notes(leftovers, memory.root, Disk())
    waiting = finish_photos(photos, read_files(memory, tell).drafts, memory.root, Disk())
    return read_files(memory, tell), waiting


def _days(found: _Found, asked: AttachRequest) -> Mapping[str, date]:
    """The day of each photo that has no time in it, by digest, where it was typed or is answered now."""
    timeless = [one.content for one in found.survey.timeless]
    if asked.day is not None:
        return {content.digest: asked.day for content in timeless}
    days: dict[str, date] = {}
    if asked.dry_run or not can_ask():
        return days
    last: date | None = None
    for content in timeless:
        day = ask_day(content.source.shown, last)
        if day is not None:
            days[content.digest] = last = day
    return days


def _show(workspace: Workspace, asked: AttachRequest, found: _Found, plan: Plan) -> int:
    """Prints what would be done."""
    click.echo(attach_table(plan, found.left_out, columns_of_terminal()))
    _notice(workspace, [*skipped_lines(found.photos), *problem_lines(plan), *_day_lines(found, plan)])
    if not asked.by_day:
        refuse_several_days(plan)
    _notice(workspace, [planned_lines(plan)])
    to_ask = can_ask()
    staying_out = any(not (to_ask and one.fate == "no day") for one in plan.left_out)
    return 1 if found.left_out or staying_out else 0


def _carry_out(workspace: Workspace, asked: AttachRequest, found: _Found, plan: Plan) -> int:
    """Carries the plan out, and prints the path of every note as soon as it is written."""
    if not asked.by_day:
        refuse_several_days(plan)
    root = found.written.folder.root
    _notice(workspace, left_out_rows([*found.left_out, *reasons(plan)]))
    left_out, copied, notes = len(found.left_out) + len(plan.left_out), 0, 0
    try:
        with workspace.output:
            for written in carry_out(plan, root, _counter(workspace, plan)):
                left_out += len(written.left_out)
                copied += written.copied
                notes += written.path is not None
                _notice(workspace, left_out_rows(written.left_out))
                if written.path is not None:
                    click.echo(plain(as_typed(root / written.path)))
    except Exception as error:
        if not isinstance(error, Refusal):
            error.add_note(outcome(notes))
        raise
    _notice(workspace, [*skipped_lines(found.photos), *known_lines(plan), *problem_lines(plan)])
    _notice(workspace, [*_day_lines(found, plan), *waiting_lines([one for one in found.waiting if one.file.exists()])])
    _notice(workspace, [done_lines(plan, notes, copied, left_out)])
    return 1 if left_out else 0


def _counter(workspace: Workspace, plan: Plan) -> Callable[[], None]:
    """Reports one more copied photo each time it is called."""
    total = len(plan.with_fate("copied"))
    counts = itertools.count(1)
    return lambda: workspace.output.progress("copying", next(counts), total)


def _day_lines(found: _Found, plan: Plan) -> list[str]:
    return list(day_warnings(plan, today_in(found.written.settings.time_zone)))


def _notice(workspace: Workspace, lines: Iterable[str]) -> None:
    for line in lines:
        workspace.output.notice(line)
