"""`journal attach --by-label`: its steps, its table, its questions and its contact sheet"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any, Literal

import click
from rich.cells import cell_len

from journal.cache.folders import build_lock
from journal.cache.resources import find_resources
from journal.commands.attach import (
    MOST_LINES,
    REASONS,
    cell,
    days_of,
    entry_word,
    home_of,
    journal_read,
    known_lines,
    left_out_lines,
    photos_surveyed,
    problem_lines,
    waiting_lines,
    write_plans,
)
from journal.commands.console import first_of, plain
from journal.commands.prompts import ask_ref, ask_yes, can_ask, columns_of_terminal, today_in
from journal.commands.workspace import WAITING, Workspace
from journal.importing.code_scan import Scan, scan_photos
from journal.importing.contact_sheet import Pictured, refuse_unless_sheet, write_sheet
from journal.importing.destinations import Subject, stage_of, subject_named
from journal.importing.filing import Filed, FilingPlan, PhotoTarget, day_in_doubt, day_warnings, file_groups
from journal.importing.label_groups import Placed, Shot, answered, order_notices, place, runs_to_ask, shot_of
from journal.importing.photo_files import Content, PhotoList, skipped_sentence
from journal.importing.survey import Leftover, Survey, over_since, refuse_undated
from journal.model import Ref
from journal.pipeline import ReadFiles
from journal.problems import Refusal, Unreadable
from journal.quantities import counted, duration_min

PAUSE = "5 min"


@dataclass(frozen=True, slots=True)
class ByLabelRequest:
    """What was typed. pause: how soon a photo follows the one before it. day: of photos that have no time in them.
    sheet: where the contact sheet goes; None for none."""

    photos: Sequence[Path]
    pause: timedelta
    stage: str | None = None
    day: date | None = None
    with_labels: bool = False
    sheet: Path | None = None
    yes: bool = False
    dry_run: bool = False

    @classmethod
    def typed(cls, named: Sequence[str], folder: str | None, day: date | None, **request: Any) -> ByLabelRequest:
        """From the command line; raises click.UsageError where that does not fit together."""
        if request["by_day"]:
            raise click.UsageError("--by-day is not needed with --by-label, which writes a note for each day anyway")
        if folder is not None:
            raise click.UsageError("--into names the journal, with --by-label: each photo goes beside its own entry")
        try:
            pause = timedelta(minutes=duration_min(request["pause"] or PAUSE).value)
        except (Unreadable, OverflowError):
            raise click.UsageError(f"--pause {request['pause']} is not a time; write it like 5 min") from None
        return cls(
            [Path(one) for one in named],
            pause,
            request["stage"],
            day,
            request["with_labels"],
            request["sheet"],
            request["yes"],
            request["dry_run"],
        )

    @property
    def asking(self) -> bool:
        return can_ask() and not (self.yes or self.dry_run)


@dataclass(frozen=True, slots=True)
class _Found:
    """The journal and the photos that were named. scans: by digest. renamed: what labels say -> the ID it is now."""

    written: ReadFiles
    photos: PhotoList
    survey: Survey
    waiting: Sequence[Leftover]
    scans: Mapping[str, Scan]
    renamed: dict[str, Ref] = field(default_factory=dict)

    def subject(self, typed: str) -> Subject:
        """What has an ID; raises Refusal where nothing does that photos can be of."""
        subject = subject_named(typed, self.written.drafts, self.written.settings)
        refuse_undated(subject, self.survey.inventory)
        return subject

    def named(self, label: str) -> Subject:
        """The same for an ID that is on a label."""
        try:
            subject = self.subject(label)
        except Refusal:
            reserved = {id.casefold(): id for _, id in self.written.settings.labels.reserved}
            if ahead := reserved.get(label.casefold()):
                raise Refusal(f"{ahead} was printed ahead and has no entry yet") from None
            raise
        if str(subject.ref).casefold() != label.casefold():
            self.renamed[label] = subject.ref
        return subject

    def shots(self) -> list[Shot]:
        """Every picture once, with the meaning of its codes."""
        named, site_url = cache(self.named), self.written.settings.site_url
        looked = self.survey.inspected.items()
        return [shot_of(photo, self.scans[digest], site_url, named) for digest, photo in looked if photo.is_picture]

    def is_known(self, shot: Shot) -> bool:
        """Whether an entry has a photo already."""
        return self.holder(shot) is not None

    def holder(self, shot: Shot) -> tuple[str, str] | None:
        """(photo path, entry path) of an entry that has it."""
        return self.survey.inventory.holder(shot.content.digest, shot.photo.day)

    @property
    def unplaceable(self) -> list[tuple[str, str]]:
        """(path as typed, why) of what is not a photo."""
        others = [one.content for one in self.survey.inspected.values() if not one.is_picture]
        return [
            *self.photos.left_out,
            *self.survey.left_out,
            *((content.source.shown, REASONS["no picture"]) for content in others),
        ]


@dataclass(frozen=True, slots=True)
class _Sorting:
    """What becomes of every photo. placed: in the order in which they were taken. filed: by digest, those that a plan
    has. doubts: by digest, what is odd about the day of those."""

    placed: Sequence[Placed]
    plans: Sequence[FilingPlan]
    with_labels: bool
    filed: Mapping[str, Filed]
    doubts: Mapping[str, str]

    def fate(self, one: Placed) -> Literal["filed", "label", "open", "left out"]:
        filed = self.filed.get(one.shot.content.digest)
        if one.ref is None:
            return "open"
        if one.shot.is_label and not self.with_labels:
            return "label"
        return "filed" if filed is not None and filed.fate in ("copied", "listed", "known") else "left out"

    @property
    def new_notes(self) -> int:
        return sum(len(plan.notes) for plan in self.plans)


def attach_by_label(workspace: Workspace, request: ByLabelRequest) -> int:
    """Copies photos to what the labels photographed before them name, or shows what would be done. Returns the exit
    code (1: one is left out). Raises Refusal where it cannot be done as asked."""
    if request.sheet is not None:
        refuse_unless_sheet(request.sheet, workspace.root)
    notice = workspace.output.notice
    with nullcontext() if request.dry_run else build_lock(workspace.cache_folder, lambda: notice(WAITING)):
        found = _scanned(workspace, request)
        placed: Sequence[Placed] = place(found.shots(), request.pause)
        sorting = _sorted(found, request, placed, {})
        table = by_label_table(sorting, found.holder, request.asking, columns_of_terminal())
        if request.dry_run:
            click.echo(table)
        else:
            notice(*table.split("\n"))
        notice(*_notices(found, placed))
        if request.sheet is not None:
            _write_sheet(workspace, request, found, sorting)
        if request.asking:
            placed = _ask_about(found, placed)
        timeless = [one.shot.content for one in placed if one.ref and not one.shot.taken and not _is_left(one, request)]
        sorting = _sorted(found, request, placed, days_of(timeless, request.day, request.asking))
        return (_show if request.dry_run else _carry_out)(workspace, request, found, sorting)


def _scanned(workspace: Workspace, request: ByLabelRequest) -> _Found:
    written, waiting = journal_read(workspace, request.dry_run)
    photos, surveyed, copies = photos_surveyed(
        workspace, written, waiting, request.photos, request.dry_run, known_too=True
    )
    pictures = [one.content for one in surveyed.inspected.values() if one.is_picture]
    with workspace.output:
        scans = scan_photos(pictures, workspace.output.progress, thumbnails=request.sheet is not None)
    return _Found(written, photos, surveyed, copies, scans)


def _is_left(one: Placed, request: ByLabelRequest) -> bool:
    """Whether a photo is of a label, and not wanted."""
    return one.shot.is_label and not request.with_labels


def _sorted(found: _Found, request: ByLabelRequest, placed: Sequence[Placed], days: Mapping[str, date]) -> _Sorting:
    groups: dict[Ref, list[Content]] = {}
    for one in placed:
        if one.ref is not None and not _is_left(one, request):
            groups.setdefault(one.ref, []).append(one.shot.content)
    subjects = {ref: found.subject(str(ref)) for ref in groups}
    wanted = [(PhotoTarget(one, stage_of(one, request.stage)), groups[ref]) for ref, one in subjects.items()]
    plans = file_groups(wanted, found.survey.inspected, days, found.survey.inventory)
    filed = {one.content.digest: one for plan in plans for one in plan.filed}
    today = today_in(found.written.settings.time_zone)
    noted = [(plan, note.day, one) for plan in plans for note in plan.notes for one in note.photos]
    doubts = {one.content.digest: doubt for plan, day, one in noted if (doubt := day_in_doubt(plan, day, today))}
    return _Sorting(placed, plans, request.with_labels, filed, doubts)


def _notices(found: _Found, placed: Sequence[Placed]) -> list[str]:
    """A line on each label that is not what it seems, and on what leaves the order open."""
    lines = [f"{old} is {ref} now: photos after its label go there" for old, ref in found.renamed.items()]
    for ref in dict.fromkeys(one.ref for one in placed if one.ref):
        over = over_since(ref, found.written.drafts)
        if over is not None:
            lines.append(f"{ref} has been {over[0]} since {over[1]}: check that its label is not on something else now")
    skipped = [skipped_sentence(found.photos.skipped)] if found.photos.skipped else []
    return [*lines, *order_notices(placed), *skipped]


def _ask_about(found: _Found, placed: Sequence[Placed]) -> Sequence[Placed]:
    """The photos, those that belong to no label with what the author says."""
    for run in runs_to_ask(placed, found.is_known):
        first, last = run[0].shot, run[-1].shot
        names = first.name if first is last else f"{first.name} to {last.name} ({counted(len(run), 'photo')})"
        ref = ask_ref(f"{names}, {_when(first)}: {run[0].why}. What is it of", lambda typed: found.subject(typed).ref)
        placed = placed if ref is None else answered(placed, run, ref)
    return placed


# -- the table ---------------------------------------------------------------------------------------------------------

PhotoRow = tuple[str, str, str, str, str]
"""When a photo was taken; the label it belongs to; the photo as typed; where it would go; why."""

_HEAD: PhotoRow = ("Taken", "Label", "Photo", "Goes to", "Why")
_GAP = "  "
_LEAST_CELLS, _MOST_CELLS_OF_WHY = 14, 32
"""How far a photo's path and the place it goes to are cut on a narrow terminal."""


def by_label_table(
    sorting: _Sorting, holder: Callable[[Shot], tuple[str, str] | None], asking: bool, columns: int | None
) -> str:
    """One line a photo, in the order in which they were taken. asking: whether the author is asked about those that
    belong to no label. columns: where paths are cut; None: nowhere."""
    rows = [_HEAD, *(_row(one, sorting, holder(one.shot), asking) for one in sorting.placed)]
    widths = [max(cell_len(row[column]) for row in rows) for column in range(4)]
    if columns is not None:
        why = min(_MOST_CELLS_OF_WHY, max(cell_len(row[4]) for row in rows))
        for column in (2, 3):
            others = sum(widths) - widths[column] + 4 * len(_GAP) + why
            widths[column] = min(widths[column], max(_LEAST_CELLS, columns - others))
    return "\n".join(_GAP.join((*map(cell, row[:4], widths), row[4])).rstrip() for row in rows)


def _row(one: Placed, sorting: _Sorting, existing: tuple[str, str] | None, asking: bool) -> PhotoRow:
    ref = str(one.ref) if one.ref else "?"
    return (
        _when(one.shot),
        ref,
        plain(one.shot.content.source.shown),
        plain(_goes_to(one, sorting, existing, asking)),
        plain("; ".join(filter(None, (one.why, sorting.doubts.get(one.shot.content.digest))))),
    )


def _goes_to(one: Placed, sorting: _Sorting, existing: tuple[str, str] | None, asking: bool) -> str:
    fate, filed = sorting.fate(one), sorting.filed.get(one.shot.content.digest)
    if existing is not None:
        return f"already in {existing[1]}"
    if fate == "filed" and filed is not None:
        return filed.path if filed.fate == "copied" else f"{filed.path}, there already"
    if fate == "open":
        return "you are asked" if asking else "left out"
    return "left out"


def _when(shot: Shot) -> str:
    return f"{shot.taken:%Y-%m-%d %H:%M}" if shot.taken else "no time"


def _write_sheet(workspace: Workspace, request: ByLabelRequest, found: _Found, sorting: _Sorting) -> None:
    assert request.sheet is not None
    pictures = []
    for one in sorting.placed:
        taken, label, shown, goes_to, why = _row(one, sorting, found.holder(one.shot), request.asking)
        scan = found.scans[one.shot.content.digest]
        pictures.append(Pictured(scan.thumbnail, shown, taken, label, goes_to, why, sorting.fate(one)))
    write_sheet(request.sheet, pictures, found.written.settings.title, find_resources())
    workspace.output.notice(f"The contact sheet is in {request.sheet}; it holds your photos, so show it to nobody else")


# -- what is done ------------------------------------------------------------------------------------------------------


def _left_out(workspace: Workspace, found: _Found, sorting: _Sorting) -> int:
    """How many photos stay out and are not in the journal; names those that the table does not have."""
    rows = list(found.unplaceable)
    for plan in sorting.plans:
        for filed in plan.left_out:
            rows.append((filed.content.source.shown, REASONS[filed.fate].format(path=filed.path, home=home_of(plan))))
    workspace.output.notice(*left_out_lines(rows))
    return len(rows) + sum(sorting.fate(one) == "open" and not found.is_known(one.shot) for one in sorting.placed)


def _planned_lines(sorting: _Sorting) -> list[str]:
    return [
        f"{note.path}: a new {entry_word(plan)} with {counted(len(note.photos), 'photo')}"
        for plan in sorting.plans
        for note in plan.notes
    ]


def _show(workspace: Workspace, request: ByLabelRequest, found: _Found, sorting: _Sorting) -> int:
    left_out = _left_out(workspace, found, sorting)
    _show_plans(workspace, found, sorting)
    what = f"{_counts(sorting)} would be written" if sorting.new_notes else "nothing new, so nothing would be written"
    rest = f", {left_out:,} left out" if left_out else ""
    workspace.output.notice(f"{what}{rest}; this was a dry run")
    return 1 if left_out else 0


def _show_plans(workspace: Workspace, found: _Found, sorting: _Sorting) -> None:
    today = today_in(found.written.settings.time_zone)
    for plan in sorting.plans:
        workspace.output.notice(*problem_lines(plan), *day_warnings(plan, today))
    workspace.output.notice(*_planned_lines(sorting))


def _counts(sorting: _Sorting) -> str:
    photos = sum(len(note.photos) for plan in sorting.plans for note in plan.notes)
    return f"{counted(sorting.new_notes, 'entry', 'entries')} with {counted(photos, 'photo')}"


def _carry_out(workspace: Workspace, request: ByLabelRequest, found: _Found, sorting: _Sorting) -> int:
    """Carries the plans out once the author says yes."""
    left_out = _left_out(workspace, found, sorting)
    _show_plans(workspace, found, sorting)
    notes = copied = lost = 0
    if sorting.new_notes and not request.yes:
        if not can_ask():
            raise Refusal("nothing was written: look at the table above, then add --yes")
        if not ask_yes(f"Write {_counts(sorting)}?"):
            workspace.output.notice("Nothing was written.")
            return 1 if left_out else 0
    if sorting.new_notes:
        notes, copied, lost = write_plans(workspace, sorting.plans, found.written.folder.root)
    known = [line for plan in sorting.plans for line in known_lines(plan)]
    labels = sum(sorting.fate(one) == "label" and not found.is_known(one.shot) for one in sorting.placed)
    parts = [
        f"{counted(notes, 'new entry', 'new entries')} with {counted(copied, 'photo')}" if notes else "nothing new",
        f"{len(known):,} already in the journal" if known else "",
        f"{counted(labels, 'photo')} of labels not copied" if labels else "",
        f"{left_out + lost:,} left out" if left_out + lost else "",
    ]
    workspace.output.notice(
        *first_of(known, MOST_LINES, "{more} more are in the journal already"),
        *waiting_lines(found.waiting),
        ", ".join(filter(None, parts)),
    )
    return 1 if left_out or lost else 0
