"""What `journal attach` does, asks and says, in that order."""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import click

from journal.desk import attach_words as words
from journal.desk.asking import ask_day, columns_of_terminal, somebody_is_there, today_in
from journal.desk.at_hand import Desk
from journal.desk.attach_table import table
from journal.desk.telling import plain
from journal.gathering.disk import Disk
from journal.gathering.filing import Plan, Wanted, file_photos, odd_days, refuse_several_days
from journal.gathering.leftovers import Leftover, clear_doubled, clear_notes, finish_photos, leftovers_in
from journal.gathering.sources import Roll, find_photos
from journal.gathering.subjects import stage_of, subject_named
from journal.gathering.surveying import Survey, refuse_undated, survey
from journal.gathering.taking_in import take_in
from journal.keeping.remembering import Memory
from journal.keeping.turns import turn
from journal.making import Written, read_written

_WAITING = "Another command is at work in this journal; waiting for it."


@dataclass(frozen=True, slots=True)
class Asked:
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

    written: Written
    wanted: Wanted
    roll: Roll
    survey: Survey
    waiting: Sequence[Leftover]

    @property
    def left_out(self) -> list[tuple[str, str]]:
        """(path as typed, why) of what is no photo that can be read."""
        return [*self.roll.left_out, *self.survey.left_out]


def attach_photos(desk: Desk, asked: Asked) -> int:
    """Takes photos into the journal, or shows what would be done; gives the exit status: 1 where one is left out.

    Raises Refusal where it cannot be done as asked.
    """
    alone: AbstractContextManager[None] = contextlib.nullcontext()
    if not asked.dry_run:
        alone = turn(desk.kept_in, lambda: desk.teller.notice(_WAITING))
    with alone:
        found = _look(desk, asked)
        days = _days(found, asked)
        plan = file_photos(found.wanted, found.survey.contents, found.survey.looked, days, found.survey.shelf)
        return (_show if asked.dry_run else _carry_out)(desk, asked, found, plan)


def _look(desk: Desk, asked: Asked) -> _Found:
    memory = desk.memory()
    if asked.dry_run and leftovers_in(desk.root):
        desk.teller.notice(words.STOPPED)
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


def _read(desk: Desk, memory: Memory, dry_run: bool) -> tuple[Written, list[Leftover]]:
    """The journal's entries, and what an earlier run left hidden, as far as it could not be finished now."""
    tell = desk.teller.progress
    leftovers = leftovers_in(memory.root)
    if dry_run or not leftovers:
        return read_written(memory, tell), []
    photos = clear_notes(leftovers, memory.root, Disk())
    waiting = finish_photos(photos, read_written(memory, tell).drafts, memory.root, Disk())
    return read_written(memory, tell), waiting


def _days(found: _Found, asked: Asked) -> Mapping[str, date]:
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


def _show(desk: Desk, asked: Asked, found: _Found, plan: Plan) -> int:
    """Prints what would be done."""
    click.echo(table(plan, found.left_out, columns_of_terminal()))
    _notice(desk, [*words.passed_over(found.roll), *words.oddities(plan), *_day_words(found, plan)])
    if not asked.by_day:
        refuse_several_days(plan)
    _notice(desk, [words.would_be(plan)])
    to_ask = somebody_is_there()
    staying_out = any(not (to_ask and one.fate == "no day") for one in plan.left_out)
    return 1 if found.left_out or staying_out else 0


def _carry_out(desk: Desk, asked: Asked, found: _Found, plan: Plan) -> int:
    """Does it, and prints the path of every note as soon as it is there."""
    if not asked.by_day:
        refuse_several_days(plan)
    root = found.written.folder.root
    _notice(desk, words.left_out([*found.left_out, *words.reasons(plan)]))
    left_out, copied, notes = len(found.left_out) + len(plan.left_out), 0, 0
    try:
        with desk.teller:
            for written in take_in(plan, root, _counter(desk, plan)):
                left_out += len(written.left_out)
                copied += written.copied
                notes += written.path is not None
                _notice(desk, words.left_out(written.left_out))
                if written.path is not None:
                    click.echo(plain(words.as_typed(root / written.path)))
    except Exception as error:
        if notes:
            error.add_note(words.stands(notes))
        raise
    _notice(desk, [*words.passed_over(found.roll), *words.known(plan), *words.oddities(plan)])
    _notice(desk, [*_day_words(found, plan), *words.waiting([one for one in found.waiting if one.file.exists()])])
    _notice(desk, [words.done(plan, notes, copied, left_out)])
    return 1 if left_out else 0


def _counter(desk: Desk, plan: Plan) -> Callable[[], None]:
    """Tells of one more photo copied each time it is called."""
    total = len(plan.with_fate("copied"))
    counts = itertools.count(1)
    return lambda: desk.teller.progress("copying", next(counts), total)


def _day_words(found: _Found, plan: Plan) -> list[str]:
    return list(odd_days(plan, today_in(found.written.settings.time_zone)))


def _notice(desk: Desk, lines: Iterable[str]) -> None:
    for line in lines:
        desk.teller.notice(line)
