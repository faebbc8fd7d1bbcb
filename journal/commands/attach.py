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
from journal.commands.prompts import ask_day, columns_of_terminal, somebody_is_there, today_in
from journal.commands.workspace import Workspace
from journal.importing.copying import Disk, carry_out
from journal.importing.destinations import stage_of, subject_named
from journal.importing.filing import Fate, Filed, Plan, Wanted, file_photos, odd_days, refuse_several_days
from journal.importing.photo_files import PhotoList, find_photos, passed_over_sentence
from journal.importing.survey import (
    Leftover,
    Survey,
    clear_doubled,
    clear_notes,
    finish_photos,
    leftovers_in,
    refuse_undated,
    survey,
)
from journal.pipeline import ReadFiles, read_files

# The words of `journal attach`: lines of what would be done, and of what was.

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


def left_out_rows(rows: Sequence[tuple[str, str]]) -> Iterator[str]:
    """A line for each thing that stays out: every one of them, since each has to be seen to."""
    for shown, why in rows:
        yield f"Left out: {shown} {why}"


def passed_over(roll: PhotoList) -> list[str]:
    return [passed_over_sentence(roll.passed_over)] if roll.passed_over else []


def known_lines(plan: Plan) -> list[str]:
    """Photos that an entry had before."""
    before = plan.with_fate("known")
    lines = [f"{one.content.source.shown} was taken in before: {one.path}, in {one.besides}" for one in before]
    return _counted(lines, "more were taken in before")


def oddities(plan: Plan) -> list[str]:
    """What is odd about new photos, in the words that `journal check` will have for it."""
    new = plan.with_fate("copied", "no day")
    lines = [f"{one.content.source.shown}: {words}" for one in new if one.looked for words in one.looked.words]
    return _counted(lines, "more things are odd; `journal check` lists them")


def waiting_lines(rows: Sequence[Leftover]) -> list[str]:
    """Hidden copies of a stopped run that no note has."""
    lines = [
        f"{one.file} is the copy of a photo that a stopped run did not get to; attach that photo, or remove the copy"
        for one in rows
    ]
    return _counted(lines, "more such copies lie there")


def _counted(lines: list[str], rest: str) -> list[str]:
    more = len(lines) - MOST_LINES
    return [*lines[:MOST_LINES], *([f"{more:,} {rest}"] if more > 0 else [])]


def planned_lines(plan: Plan) -> str:
    if not plan.notes:
        return f"{_about(plan)}: nothing is new, so nothing would be written"
    copied = plan.with_fate("copied")
    size = f" ({_size(plan.copied_bytes)})" if copied else ""
    return (
        f"{_about(plan)}: {number_of(len(plan.notes), entry_word(plan))} and {number_of(len(copied), 'photo')}{size} "
        "would be written; nothing was"
    )


def done_lines(plan: Plan, notes: int, copied: int, left_out: int) -> str:
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


# The table of `journal attach --dry-run`: each photo under what would become of it.

AttachRow = tuple[str, str, str]
"""A photo as typed; when it was taken; what it is called in the journal, or where it is known from."""

_HEAD: AttachRow = ("Photo", "Taken", "Its name there")
_INDENT, _GAP = "  ", "  "
_FEWEST_COLUMNS = 40

_HEADINGS: Mapping[Fate, str] = {
    "known": "Taken in before",
    "again": "Named once more: the same photo",
    "no day": "Tells no time: its day is asked for, or said with --date 2026-10-27",
    "no picture": "Left out: " + REASONS["no picture"],
    "elsewhere": "Left out: lies in the journal already, in no entry; move that file to {home} and run the same again",
    "unlisted": "Left out: lies there under a name that no entry can list; rename that file and run the same again",
}


def attach_table(plan: Plan, left_out: Sequence[tuple[str, str]], columns: int | None) -> str:
    """A line a photo, under the note that it goes into or what else becomes of it.

    left_out: (photo as typed, why) of those that the plan does not know. columns: of the terminal, which each line
    then fits, long names losing their beginning; None where it is none, and nothing is cut.
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
    there = {"copied": one.name, "listed": f"{one.name}, lies there", "known": f"in {one.besides}"}
    return one.content.source.shown, _taken(one), there.get(one.fate, one.besides or one.path)


def _taken(one: Filed) -> str:
    if one.looked and one.looked.taken:
        return f"{one.looked.taken:%Y-%m-%d %H:%M}"
    return f"{one.day}, told" if one.day else ""


# -- into columns -----------------------------------------------------------------------------------------------------


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
    """As much of the end of a text as fits: of a path that tells more than its beginning."""
    if cell_len(text) <= width:
        return text
    at = next(at for at in range(1, len(text) + 1) if cell_len(text[at:]) < width)
    return f"…{text[at:]}"


def _wrapped(heading: str, columns: int | None) -> list[str]:
    if columns is None:
        return [heading]
    return textwrap.wrap(heading, max(columns, _FEWEST_COLUMNS), break_on_hyphens=False, break_long_words=False)


# What `journal attach` does, asks and says, in that order.

_WAITING = "Another command is at work in this journal; waiting for it."


@dataclass(frozen=True, slots=True)
class AttachRequest:
    """What was typed. folder: in the journal, None for the usual one. day: for photos that tell no time."""

    id: str
    photos: Sequence[Path]
    stage: str | None = None
    folder: str | None = None
    day: date | None = None
    by_day: bool = False
    dry_run: bool = False


@dataclass(frozen=True, slots=True)
class _Found:
    """The journal as it is, what was asked of it, and the photos that were named. waiting: see `finish_photos`."""

    written: ReadFiles
    wanted: Wanted
    roll: PhotoList
    survey: Survey
    waiting: Sequence[Leftover]

    @property
    def left_out(self) -> list[tuple[str, str]]:
        """(path as typed, why) of what is no photo that can be read."""
        return [*self.roll.left_out, *self.survey.left_out]


def attach_photos(desk: Workspace, asked: AttachRequest) -> int:
    """Takes photos into the journal, or shows what would be done; gives the exit status: 1 where one is left out.

    Raises Refusal where it cannot be done as asked.
    """
    alone: AbstractContextManager[None] = contextlib.nullcontext()
    if not asked.dry_run:
        alone = build_lock(desk.kept_in, lambda: desk.teller.notice(_WAITING))
    with alone:
        found = _look(desk, asked)
        days = _days(found, asked)
        plan = file_photos(found.wanted, found.survey.contents, found.survey.looked, days, found.survey.shelf)
        return (_show if asked.dry_run else _carry_out)(desk, asked, found, plan)


def _look(desk: Workspace, asked: AttachRequest) -> _Found:
    memory = desk.memory()
    if asked.dry_run and leftovers_in(desk.root):
        desk.teller.notice(STOPPED)
    with desk.teller:
        written, waiting = _read(desk, memory, asked.dry_run)
        subject = subject_named(asked.id, written.drafts, written.settings)
        wanted = Wanted(subject, stage_of(subject, asked.stage), asked.folder)
        roll = find_photos(asked.photos)
        zone = written.settings.time_zone
        looked = survey(roll.sources, written.folder, written.drafts, zone, memory, waiting, desk.teller.progress)
    memory.cache.save()
    refuse_undated(subject, looked.shelf)
    if not asked.dry_run:
        waiting = clear_doubled(waiting, looked.shelf.contents, Disk())
    return _Found(written, wanted, roll, looked, waiting)


def _read(desk: Workspace, memory: FileCache, dry_run: bool) -> tuple[ReadFiles, list[Leftover]]:
    """The journal's entries, and what an earlier run left hidden, as far as it could not be finished now."""
    tell = desk.teller.progress
    leftovers = leftovers_in(memory.root)
    if dry_run or not leftovers:
        return read_files(memory, tell), []
    photos = clear_notes(leftovers, memory.root, Disk())
    waiting = finish_photos(photos, read_files(memory, tell).drafts, memory.root, Disk())
    return read_files(memory, tell), waiting


def _days(found: _Found, asked: AttachRequest) -> Mapping[str, date]:
    """The day of each photo that tells no time, by digest, where it was typed or is answered now."""
    timeless = [one.content for one in found.survey.timeless]
    if asked.day is not None:
        return {content.digest: asked.day for content in timeless}
    days: dict[str, date] = {}
    if asked.dry_run or not somebody_is_there():
        return days
    last: date | None = None
    for content in timeless:
        day = ask_day(content.source.shown, last)
        if day is not None:
            days[content.digest] = last = day
    return days


def _show(desk: Workspace, asked: AttachRequest, found: _Found, plan: Plan) -> int:
    """Prints what would be done."""
    click.echo(attach_table(plan, found.left_out, columns_of_terminal()))
    _notice(desk, [*passed_over(found.roll), *oddities(plan), *_day_words(found, plan)])
    if not asked.by_day:
        refuse_several_days(plan)
    _notice(desk, [planned_lines(plan)])
    to_ask = somebody_is_there()
    staying_out = any(not (to_ask and one.fate == "no day") for one in plan.left_out)
    return 1 if found.left_out or staying_out else 0


def _carry_out(desk: Workspace, asked: AttachRequest, found: _Found, plan: Plan) -> int:
    """Does it, and prints the path of every note as soon as it is there."""
    if not asked.by_day:
        refuse_several_days(plan)
    root = found.written.folder.root
    _notice(desk, left_out_rows([*found.left_out, *reasons(plan)]))
    left_out, copied, notes = len(found.left_out) + len(plan.left_out), 0, 0
    try:
        with desk.teller:
            for written in carry_out(plan, root, _counter(desk, plan)):
                left_out += len(written.left_out)
                copied += written.copied
                notes += written.path is not None
                _notice(desk, left_out_rows(written.left_out))
                if written.path is not None:
                    click.echo(plain(as_typed(root / written.path)))
    except Exception as error:
        if notes:
            error.add_note(stands(notes))
        raise
    _notice(desk, [*passed_over(found.roll), *known_lines(plan), *oddities(plan)])
    _notice(desk, [*_day_words(found, plan), *waiting_lines([one for one in found.waiting if one.file.exists()])])
    _notice(desk, [done_lines(plan, notes, copied, left_out)])
    return 1 if left_out else 0


def _counter(desk: Workspace, plan: Plan) -> Callable[[], None]:
    """Tells of one more photo copied each time it is called."""
    total = len(plan.with_fate("copied"))
    counts = itertools.count(1)
    return lambda: desk.teller.progress("copying", next(counts), total)


def _day_words(found: _Found, plan: Plan) -> list[str]:
    return list(odd_days(plan, today_in(found.written.settings.time_zone)))


def _notice(desk: Workspace, lines: Iterable[str]) -> None:
    for line in lines:
        desk.teller.notice(line)
