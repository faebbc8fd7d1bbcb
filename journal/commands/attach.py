"""`journal attach`: its steps, its questions, its table and its messages."""

from __future__ import annotations

import itertools
import os
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

import click
from rich.cells import cell_len

from journal.cache.folders import build_lock
from journal.commands.console import first_of, plain
from journal.commands.prompts import ask_day, can_ask, columns_of_terminal, today_in
from journal.commands.workspace import WAITING, Workspace
from journal.importing.copying import Disk, carry_out
from journal.importing.destinations import stage_of, subject_named
from journal.importing.filing import (
    Fate,
    Filed,
    FilingPlan,
    PhotoTarget,
    day_warnings,
    file_photos,
    refuse_several_days,
)
from journal.importing.photo_files import Content, PhotoList, find_photos, skipped_sentence
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
from journal.quantities import counted, size_in_mb

STOPPED = "An earlier run was stopped before it finished; the next run without --dry-run completes it first."

MOST_LINES = 12
"""How many lines of one kind are printed before the rest is only counted."""

REASONS: Mapping[Fate, str] = {
    "no day": "has no time in it, so its day is not known; give the day with --date 2026-10-27",
    "no picture": "is not a picture: it is not a JPEG, HEIC, PNG, WebP, TIFF or AVIF file, whatever its name says",
    "elsewhere": "is in the journal already ({path}), but in no entry; move that file to {home} and run this again",
    "unlisted": "is there already under a name that an entry cannot list ({path}); rename it and run this again",
}


def home_of(plan: FilingPlan) -> str:
    """The folder of its notes, as messages name it."""
    return plan.home.path or "the journal's own folder"


def left_out_lines(rows: Iterable[tuple[str, str]]) -> list[str]:
    """A line for each photo (as typed, why) that is left out; all of them, because the author has to act on each."""
    return [f"Left out: {shown} {why}" for shown, why in rows]


def problem_lines(plan: FilingPlan) -> list[str]:
    """Problems of new photos, in the words of `journal check`."""
    new = plan.with_fate("copied", "no day")
    lines = [f"{one.content.source.shown}: {words}" for one in new if one.inspected for words in one.inspected.words]
    return first_of(lines, MOST_LINES, "{more} more problems; `journal check` lists them")


def done_line(plan: FilingPlan, notes: int, copied: int, left_out: int) -> str:
    listed, before = len(plan.with_fate("listed")), len(plan.with_fate("known"))
    new = f"{_number_of_notes(plan, notes)} with {counted(copied + listed, 'photo')}"
    parts = [new if notes else "nothing new"]
    if before:
        parts.append(f"{before:,} already in the journal")
    if left_out:
        parts.append(f"{left_out:,} left out")
    return f"{plan.wanted.subject.ref}: {', '.join(parts)}"


def entry_word(plan: FilingPlan) -> str:
    return "note" if plan.wanted.subject.entry_kind == "note" else "tent entry"


def _number_of_notes(plan: FilingPlan, number: int) -> str:
    return counted(number, entry_word(plan), "notes" if entry_word(plan) == "note" else "tent entries")


def outcome(notes: int) -> str:
    """What a run that failed has changed. notes: how many were completed."""
    if not notes:
        return "No note was completed. Your photos are unchanged; run the same command again."
    what = "One note and its photos are" if notes == 1 else f"{notes} notes and their photos are"
    return f"{what} in the journal. Run the same command again for the others."


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
_wrapped = partial(textwrap.wrap, break_on_hyphens=False, break_long_words=False)


def attach_table(plan: FilingPlan, left_out: Sequence[tuple[str, str]], columns: int | None) -> str:
    """One line per photo, under the note that it goes into or the reason why it goes into none. left_out: (photo as
    typed, why) of those not in the plan. columns: the width at which longer names are cut; None: never."""
    groups: list[tuple[str, list[AttachRow]]] = []
    for note in plan.notes:
        heading = f"{note.path}: a new {entry_word(plan)} with {counted(len(note.photos), 'photo')}"
        groups.append((heading, [_row(one) for one in note.photos]))
    for fate, heading in _HEADINGS.items():
        if photos := plan.with_fate(fate):
            groups.append((heading.format(home=home_of(plan)), [_row(one) for one in photos]))
    for why in dict.fromkeys(why for _, why in left_out):
        groups.append((f"Left out: {why}", [(plain(shown), "", "") for shown, other in left_out if other == why]))
    widths = _widths([_HEAD, *(row for _, rows in groups for row in rows)], columns)
    lines = [_line(_HEAD, widths)]
    for heading, rows in groups:
        lines += [plain(heading)] if columns is None else _wrapped(plain(heading), max(columns, _FEWEST_COLUMNS))
        lines += [_line(row, widths) for row in rows]
    return "\n".join(lines)


def _row(one: Filed) -> AttachRow:
    taken = one.inspected.taken if one.inspected else None
    when = f"{taken:%Y-%m-%d %H:%M}" if taken else f"{one.day}, given" if one.day else ""
    there = {"copied": one.name, "listed": f"{one.name}, there already", "known": f"in {one.same_as}"}
    return plain(one.content.source.shown), when, plain(there.get(one.fate, one.same_as or one.path))


def _widths(rows: Sequence[Sequence[str]], columns: int | None) -> list[int]:
    """Widths of the columns; on a terminal the first and the last share the remaining width, as far as they need it."""
    first, taken, last = (max(cell_len(row[column]) for row in rows) for column in range(3))
    if columns is None:
        return [first, taken, last]
    room = max(columns, _FEWEST_COLUMNS) - len(_INDENT) - 2 * len(_GAP) - taken
    last = min(last, max(room // 2, room - first))
    return [min(first, room - last), taken, last]


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    return (_INDENT + _GAP.join(map(cell, row, widths))).rstrip()


def cell(text: str, width: int) -> str:
    """A padded text; a longer one is cut at the start, because the end of a path says more than its beginning."""
    if cell_len(text) > width:
        text = "…" + next(text[at:] for at in range(1, len(text) + 1) if cell_len(text[at:]) < width)
    return text + " " * (width - cell_len(text))


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

    @classmethod
    def typed(cls, named: Sequence[str], folder: str | None, day: date | None, **request: Any) -> AttachRequest:
        """From the command line; raises click.UsageError if the options contradict each other."""
        for option in ("pause", "with_labels", "sheet", "yes"):
            if request[option]:
                raise click.UsageError(f"--{option.replace('_', '-')} goes with --by-label")
        id, *photos = named
        if not photos:
            raise click.UsageError("name an ID, then the photos: `journal attach B-031 PHOTOS`; or add --by-label")
        return cls(
            id, [Path(one) for one in photos], request["stage"], folder, day, request["by_day"], request["dry_run"]
        )


@dataclass(frozen=True, slots=True)
class _Found:
    """The journal, the request, and the photos that were named. waiting: see `finish_photos`."""

    written: ReadFiles
    wanted: PhotoTarget
    photos: PhotoList
    survey: Survey
    waiting: Sequence[Leftover]

    @property
    def today(self) -> date:
        return today_in(self.written.settings.time_zone)

    @property
    def left_out(self) -> list[tuple[str, str]]:
        """(path as typed, why) of each file that cannot be read as a photo."""
        return [*self.photos.left_out, *self.survey.left_out]


def attach_photos(workspace: Workspace, request: AttachRequest) -> int:
    """Copies photos into the journal, or shows what would be done; returns the exit code (1: one is left out). Raises
    Refusal if it cannot be done as asked."""
    notice = workspace.output.notice
    with nullcontext() if request.dry_run else build_lock(workspace.cache_folder, lambda: notice(WAITING)):
        found = _survey(workspace, request)
        days = _days(found, request)
        plan = file_photos(found.wanted, found.survey.contents, found.survey.inspected, days, found.survey.inventory)
        return (_show if request.dry_run else _carry_out)(workspace, request, found, plan)


def _survey(workspace: Workspace, request: AttachRequest) -> _Found:
    written, waiting = journal_read(workspace, request.dry_run)
    subject = subject_named(request.id, written.drafts, written.settings)
    wanted = PhotoTarget(subject, stage_of(subject, request.stage), request.folder)
    photos, surveyed, copies = photos_surveyed(workspace, written, waiting, request.photos, request.dry_run)
    refuse_undated(subject, surveyed.inventory)
    return _Found(written, wanted, photos, surveyed, copies)


def journal_read(workspace: Workspace, dry_run: bool) -> tuple[ReadFiles, list[Leftover]]:
    """The journal, after completing what a stopped run left (not in a dry run); and copies that cannot be completed."""
    leftovers = leftovers_in(workspace.root)
    if dry_run and leftovers:
        workspace.output.notice(STOPPED)
    with workspace.output:
        file_cache, report = workspace.memory(), workspace.output.progress
        waiting: list[Leftover] = []
        if leftovers and not dry_run:
            copies = clear_notes(leftovers, workspace.root, Disk())
            waiting = finish_photos(copies, read_files(file_cache, report).drafts, workspace.root, Disk())
        return read_files(file_cache, report), waiting


def photos_surveyed(
    workspace: Workspace,
    written: ReadFiles,
    waiting: Sequence[Leftover],
    named: Sequence[Path],
    dry_run: bool,
    known_too: bool = False,
) -> tuple[PhotoList, Survey, Sequence[Leftover]]:
    """The named photos, compared with the journal; and the copies that are still waiting. known_too: see `survey`."""
    file_cache, settings = workspace.memory(), written.settings
    photos = find_photos(named)
    with workspace.output:
        surveyed = survey(
            photos.sources, written.folder, written.drafts, settings.time_zone, file_cache, waiting,
            workspace.output.progress, settings.camera_clocks, known_too,
        )  # fmt: skip
    file_cache.cache.save()
    if not dry_run:
        waiting = remove_duplicates(waiting, surveyed.inventory.contents, Disk())
    return photos, surveyed, waiting


def _days(found: _Found, request: AttachRequest) -> Mapping[str, date]:
    asking = can_ask() and not request.dry_run
    return days_of([one.content for one in found.survey.timeless], request.day, asking)


def days_of(timeless: Sequence[Content], given: date | None, asking: bool) -> Mapping[str, date]:
    """The day of each photo without a time, by digest, if it was typed or is answered now."""
    if given is not None:
        return {content.digest: given for content in timeless}
    days: dict[str, date] = {}
    last: date | None = None
    for content in timeless if asking else ():
        if day := ask_day(content.source.shown, last):
            days[content.digest] = last = day
    return days


def _show(workspace: Workspace, request: AttachRequest, found: _Found, plan: FilingPlan) -> int:
    click.echo(attach_table(plan, found.left_out, columns_of_terminal()))
    skipped = [skipped_sentence(found.photos.skipped)] if found.photos.skipped else []
    workspace.output.notice(*skipped, *problem_lines(plan), *day_warnings(plan, found.today))
    if not request.by_day:
        refuse_several_days(plan)
    copied = plan.with_fate("copied")
    size = f" ({size_in_mb(plan.copied_bytes)})" if copied else ""
    what = f"{_number_of_notes(plan, len(plan.notes))} and {counted(len(copied), 'photo')}{size}"
    planned = (
        f"{what} would be written; this was a dry run" if plan.notes else "nothing new, so nothing would be written"
    )
    workspace.output.notice(f"{plan.wanted.subject.ref}: {planned}")
    to_ask = can_ask()
    staying_out = any(not (to_ask and one.fate == "no day") for one in plan.left_out)
    return 1 if found.left_out or staying_out else 0


def _carry_out(workspace: Workspace, request: AttachRequest, found: _Found, plan: FilingPlan) -> int:
    """Carries out the plan, and prints the path of every note as soon as it is written."""
    if not request.by_day:
        refuse_several_days(plan)
    root, home = found.written.folder.root, home_of(plan)
    out = [(one.content.source.shown, REASONS[one.fate].format(path=one.path, home=home)) for one in plan.left_out]
    workspace.output.notice(*left_out_lines([*found.left_out, *out]))
    notes, copied, lost = write_plans(workspace, [plan], root)
    left_out = len(found.left_out) + len(plan.left_out) + lost
    workspace.output.notice(
        *([skipped_sentence(found.photos.skipped)] if found.photos.skipped else []),
        *first_of(known_lines(plan), MOST_LINES, "{more} more are in the journal already"),
        *problem_lines(plan),
        *day_warnings(plan, found.today),
        *waiting_lines(found.waiting),
        done_line(plan, notes, copied, left_out),
    )
    return 1 if left_out else 0


def write_plans(workspace: Workspace, plans: Sequence[FilingPlan], root: Path) -> tuple[int, int, int]:
    """Carries out plans, and prints the path of every note as soon as it is written. Gives how many notes were written,
    how many photos were copied, and how many were left out because they can no longer be read."""
    notes = copied = left_out = 0
    counts, total = itertools.count(1), sum(len(plan.with_fate("copied")) for plan in plans)

    def report() -> None:
        workspace.output.progress("copying", next(counts), total)

    try:
        with workspace.output:
            for written in itertools.chain.from_iterable(carry_out(plan, root, report) for plan in plans):
                left_out += len(written.left_out)
                copied += written.copied
                notes += written.path is not None
                workspace.output.notice(*left_out_lines(written.left_out))
                if written.path is not None:
                    path, here = root / written.path, Path.cwd()
                    click.echo(plain(os.fspath(path.relative_to(here) if path.is_relative_to(here) else path)))
    except Exception as error:
        if not isinstance(error, Refusal):
            error.add_note(outcome(notes))
        raise
    return notes, copied, left_out


def known_lines(plan: FilingPlan) -> list[str]:
    return [
        f"{one.content.source.shown} is in the journal already: {one.path}, in {one.same_as}"
        for one in plan.with_fate("known")
    ]


def waiting_lines(waiting: Sequence[Leftover]) -> list[str]:
    """What is left of a stopped run that no note lists."""
    lines = [
        f"{one.file} is a copy left by a stopped run that no note lists; attach that photo, or delete the copy"
        for one in waiting
        if one.file.exists()
    ]
    return first_of(lines, MOST_LINES, "{more} more such copies")
