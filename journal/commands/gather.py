"""`journal gather`: which archives, into which journal, and what it prints about each record."""

from __future__ import annotations

import contextlib
import functools
import io
import itertools
import re
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import click

from journal.cache.folders import build_lock
from journal.commands.console import plain
from journal.commands.prompts import PASSPHRASE_VARIABLE, can_ask, passphrase_given
from journal.commands.workspace import Workspace
from journal.importing.archive import Archive, read_archives
from journal.importing.destinations import journal_and_folder
from journal.importing.gather_plan import GatherPlan, Home, Taking
from journal.importing.gather_writing import GatherDisk, GatherResult, codes_of, gather, preview
from journal.pipeline import read_files
from journal.problems import Refusal
from journal.quantities import counted
from journal.reading.listing import SETTINGS_NAME
from journal.reading.receipts import ENTRY_NAME, Gathered, Receipts

_ARCHIVE = re.compile(r"journal-.*\.zip(?: ?\([0-9]+\))?(?:\.locked)?", re.IGNORECASE | re.DOTALL)
"""The name of an archive in a folder; browsers number the second of a name before what they take for its ending."""
_WAITING = "Another command is using this journal; waiting for it to finish."
_MOST_LINES = 12
_HomeWith = Callable[[Receipts], Home]


@dataclass(frozen=True, slots=True)
class GatherRequest:
    """What was typed. archives: files. passphrase_file: its first line is the passphrase of locked archives. again:
    whether what was imported earlier and is no longer in the journal comes in once more."""

    archives: Sequence[Path]
    passphrase_file: Path | None = None
    dry_run: bool = False
    again: bool = False


def archives_and_journal(named: Sequence[Path], here: Path) -> tuple[list[Path], Path | None]:
    """The archives, and the journal: the last path if it is one, else None for the one around the current folder.

    A folder stands for the archives in it. Raises Refusal if there is no archive or no journal.
    """
    last = named[-1]
    is_journal = len(named) > 1 and last.is_dir() and ((last / SETTINGS_NAME).is_file() or not _archives_in(last))
    archives = [path for one in (named[:-1] if is_journal else named) for path in _archives_at(one)]
    if not is_journal:
        journal_and_folder(here, None)  # refuses where there is none
    return list(dict.fromkeys(archives)), last if is_journal else None


def _archives_at(path: Path) -> list[Path]:
    if not path.is_dir():
        if not path.exists():
            raise Refusal(f"there is no file {path}")
        return [path]
    found = _archives_in(path)
    if not found:
        raise Refusal(
            f"there is no archive in {path}; its name would be like journal-2026-11-25-140322-K7Q4-1-of-1.zip"
        )
    return found


def _archives_in(folder: Path) -> list[Path]:
    return sorted(path for path in folder.iterdir() if _ARCHIVE.fullmatch(path.name) and path.is_file())


def gather_archives(workspace: Workspace, asked: GatherRequest, codes: dict[Path, str] | None = None) -> int:
    """Takes archives in, or shows what would be done; returns the exit code (1: something of them is missing).

    codes: gets the receipt code of each file that is then complete in the journal. Raises Refusal if none can be taken
    in.
    """
    archives, refused = read_archives(asked.archives, functools.cache(lambda: _passphrase(asked.passphrase_file)))
    for refusal in refused if archives else refused[:-1]:
        workspace.output.notice(f"{refusal}.")
    if not archives:
        raise refused[-1]
    lock: AbstractContextManager[None] = contextlib.nullcontext()
    if not asked.dry_run:
        lock = build_lock(workspace.cache_folder, lambda: workspace.output.notice(_WAITING))
    with lock:
        home = functools.partial(_home, workspace, asked.again)
        take = (
            functools.partial(_preview, workspace, home, Receipts())
            if asked.dry_run
            else functools.partial(_take, workspace, home)
        )
        given = {} if codes is None else codes
        is_whole = [_report(workspace, archive, take(archive), asked, given) for archive in archives]
    return 0 if all(is_whole) and not refused else 1


def _preview(workspace: Workspace, home: _HomeWith, planned: Receipts, archive: Archive) -> GatherResult:
    outcome = preview(archive, workspace.root, home, planned)
    for taking in outcome.plan.takings:
        _print_path(taking)
    return outcome


def _take(workspace: Workspace, home: _HomeWith, archive: Archive) -> GatherResult:
    """Takes one archive in, and prints the path of each record; if the disk fails, the error says how many are done."""
    count = itertools.count()

    def taken(taking: Taking) -> None:
        next(count)
        _print_path(taking)

    try:
        return gather(archive, workspace.root, home, datetime.now(UTC), taken, GatherDisk())
    except BrokenPipeError:
        raise
    except OSError as error:
        error.add_note(f"{counted(next(count), 'record')} imported; run the same command again for the rest.")
        raise


def _report(
    workspace: Workspace, archive: Archive, outcome: GatherResult, asked: GatherRequest, codes: dict[Path, str]
) -> bool:
    """Prints what was done with an archive; returns whether nothing that it lists is missing."""
    notice, plan = workspace.output.notice, outcome.plan
    missing = _missing_lines(archive, plan.missing)
    for line in (*_lines(plan, outcome.latest), *missing, *_gone_lines(plan.gone, asked)):
        notice(line)
    if not asked.dry_run:
        for part, code in codes_of(archive.manifest, plan).items():
            notice(f"Receipt code of part {part} of {archive.manifest.parts}, for the phone: {code}")
            codes.update((path, code) for path, number in archive.parts.items() if str(number) == part)
            if sys.stderr.isatty():  # for *Scan the code* in the outbox
                notice(*qr_lines(code))
    notice(_closing(plan, outcome.completed, asked.dry_run))
    return not plan.missing


def qr_lines(text: str) -> list[str]:
    """A QR code (ISO/IEC 18004) of a text, drawn in a terminal's characters."""
    import segno

    drawn = io.StringIO()
    segno.make(text, error="l", micro=False).terminal(drawn, compact=True)
    return drawn.getvalue().splitlines()


def _home(workspace: Workspace, again: bool, receipts: Receipts) -> Home:
    memory = workspace.memory()
    with workspace.output:
        written = read_files(memory, workspace.output.progress)
    memory.cache.save()
    return Home(workspace.root, written.settings, written.drafts, receipts, again)


def _print_path(taking: Taking) -> None:
    click.echo(plain(taking.put[-1][1] if taking.put and taking.fate != "photos" else taking.gathered.path))


# What it prints


def _lines(plan: GatherPlan, latest: Mapping[str, Gathered]) -> Iterator[str]:
    """A line for each record about which the author should know more than that it came in."""
    for one in plan.takings:
        entry = one.gathered.path
        before = latest.get(one.gathered.record)
        if one.fate == "new" and before and _sent_text(before) != _sent_text(one.gathered):
            yield (
                f"{before.path} was imported earlier and is no longer in the journal; its later text from the phone is "
                f"a new entry, {entry}"
            )
        if one.fate == "new" and one.gathered.was:
            yield (
                f"{one.gathered.was} is the ID of something else in this journal; the new entry is {one.gathered.id}, "
                "in all of this archive that names it"
            )
        elif one.fate == "later":
            yield f"{entry}: the text was changed on the phone; the earlier one is next to it, in {_name(one.keep)}"
        elif one.fate == "beside":
            yield (
                f"{entry} was changed both here and on the phone; the phone's text is next to it, in "
                f"{_name(one.put[-1][1])}: merge them by hand"
            )
        for name in (name for record, name in plan.removed if record == one.gathered.record):
            yield f"{entry}: {name} was removed on the phone; delete it here too if you do not want it"
        for name in (name for record, name in plan.lost if record == one.gathered.record):
            yield f"{entry}: {name} is in the text from the phone, which has lost the photo: keep the one here"


def _sent_text(one: Gathered) -> str | None:
    """SHA-256 of its text as the phone sent it, hex."""
    text = one.file(ENTRY_NAME)
    return text.sha256 if text else None


def _name(path: str | None) -> str:
    return (path or "").rpartition("/")[2]


def _missing_lines(archive: Archive, missing: Sequence[str]) -> Iterator[str]:
    for name in missing[:_MOST_LINES]:
        why = "its bytes are not those that the phone wrote" if name in archive.damaged else "it is in no part given"
        yield f"Missing: {name} ({why})"
    if len(missing) > _MOST_LINES:
        yield f"Missing: {len(missing) - _MOST_LINES:,} more files"
    for path in archive.cut_off if missing else ():
        yield f"{path} is cut off"
    if missing:
        yield "What is missing is still on the phone: give all parts of the archive, or export it again and gather that"


def _gone_lines(gone: Sequence[Gathered], asked: GatherRequest) -> Iterator[str]:
    """Which records stay out because the journal had them, and how they come in once more."""
    why = "a later text of it was imported" if asked.again else "it was imported earlier"
    for one in gone[:_MOST_LINES]:
        yield f"No longer in the journal: {one.path} ({why})"
    if len(gone) > _MOST_LINES:
        yield f"No longer in the journal: {len(gone) - _MOST_LINES:,} more records"
    if gone and asked.again:
        yield "A record comes in again from the archive that has its latest text"
    elif gone:
        yield "If you removed these on purpose, there is nothing to do; `journal gather --again` imports them again"
    if gone and not asked.dry_run:
        yield "A part with any of these gets no receipt code, so the phone does not count them as in the journal"


def _closing(plan: GatherPlan, earlier: int, dry_run: bool) -> str:
    """The closing line. earlier: how many records a stopped run had already put in place."""
    photos = sum(name != ENTRY_NAME for taking in plan.takings for name, _ in taking.put)
    count = len(plan.takings)
    came = "would be imported; this was a dry run" if dry_run else "came in"
    with_photos = f" with {counted(photos, 'photo')}" if photos else ""
    parts = [f"{counted(count, 'record')}{with_photos} {came}" if count else "nothing new"]
    if earlier:
        parts.append(f"{counted(earlier, 'record')} of a stopped run completed")
    if len(plan.known) > earlier:
        parts.append(f"{len(plan.known) - earlier:,} already in the journal")
    if plan.gone:
        parts.append(f"{len(plan.gone):,} imported earlier and no longer in the journal")
    if plan.missing:
        parts.append(f"{counted(len(plan.missing), 'file')} missing")
    return "; ".join(parts)


# The passphrase of a locked archive


def _passphrase(file: Path | None) -> str:
    """From the named file, else from the environment, else by asking. Raises Refusal if it is not available."""
    if (given := passphrase_given(file)) is not None:
        return given
    if not can_ask():
        raise Refusal(
            "the archive is locked, and there is no terminal to ask on; use --passphrase-file, or set "
            f"{PASSPHRASE_VARIABLE}"
        )
    answer: str = click.prompt("Passphrase of the archive", hide_input=True, err=True)
    return answer
