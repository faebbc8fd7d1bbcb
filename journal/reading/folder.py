"""What is in the journal folder: entry files, photos, logger files and tracks, with the stat of each."""

from __future__ import annotations

import os
import posixpath
import stat
import time
import unicodedata
from collections import defaultdict
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from types import MappingProxyType
from typing import Literal, cast

from journal.problems import Problem
from journal.reading.listing import KIND_BY_SUFFIX, RECEIPTS, SETTINGS_NAME, SITE_MARK, row_of

FileKind = Literal["entry", "photo", "csv", "gpx", "receipt"]

_FIRST_YEAR_OF_FILES = 2000
"""Archives without file times unpack files dated 1970 or 1980."""

ReadKind = Literal["entry", "settings", "csv", "weather", "gpx", "receipt"]

LARGEST_BYTES: Mapping[ReadKind, int] = MappingProxyType(
    {"entry": 1 << 20, "settings": 1 << 20, "csv": 32 << 20, "weather": 32 << 20, "gpx": 32 << 20, "receipt": 4 << 20}
)
"""A larger file is not read. An entry is typed: a long novel has about 1 MB. A logger with a row a minute writes about
20 MB a year, a track with a point a second 10 MB a day. (Photos have their own limits, by pixels.)"""

FOLDER_UNREAD = "this folder cannot be read"
"""How the problem of a folder begins that the system does not let us list."""

_FIX_SIZE: Mapping[ReadKind, str] = {
    "entry": "split it, or give it another suffix if it is not an entry",
    "settings": "remove what is not a setting",
    "weather": "split it by year",
    "csv": "split it by month or year",
    "gpx": "split it by day",
    "receipt": "restore it from a copy, or remove it",
}


def too_large(path: str, kind: ReadKind) -> Problem:
    """The problem of a file that is larger than any of its kind should be."""
    message = f"this file is larger than {LARGEST_BYTES[kind] >> 20} MB, so it is not read"
    return Problem(path, 0, "error", message, _FIX_SIZE[kind])


@dataclass(frozen=True, slots=True)
class File:
    """One file. path: relative to the journal folder, "/" between its parts, each spelled as on disk.

    size in bytes, mtime_ns, ctime_ns, inode: together they change whenever the file's content may have.
    """

    path: str
    size: int
    mtime_ns: int
    ctime_ns: int
    inode: int

    @property
    def signature(self) -> tuple[int, int, int, int]:
        return (self.size, self.mtime_ns, self.ctime_ns, self.inode)


@dataclass(frozen=True, slots=True)
class Folder:
    """What was found, each sequence in the order of `path_key`. settings: `journal.toml`, None if there is none.
    scanned_ns: time_ns() before that."""

    root: Path
    settings: File | None = None
    entries: tuple[File, ...] = ()
    photos: tuple[File, ...] = ()
    csvs: tuple[File, ...] = ()
    gpxs: tuple[File, ...] = ()
    receipts: tuple[File, ...] = ()
    problems: tuple[Problem, ...] = ()
    scanned_ns: int = field(default=0, compare=False)

    @property
    def changed_on(self) -> date | None:
        """The latest day (UTC) on which a file was written; None if no file has a usable time."""
        files = (*self.entries, *self.photos, *self.csvs, *self.gpxs, *filter(None, [self.settings]))
        latest_ns = max((file.mtime_ns for file in files), default=0)
        with suppress(OverflowError, ValueError, OSError):
            latest = datetime.fromtimestamp(latest_ns / 1e9, UTC).date()
            return latest if latest.year >= _FIRST_YEAR_OF_FILES else None
        return None

    def files(self) -> Iterator[File]:
        """Every file, whatever its kind."""
        for kind in (self.entries, self.photos, self.csvs, self.gpxs, self.receipts, filter(None, [self.settings])):
            yield from kind

    @property
    def stats(self) -> list[str]:
        """The same as `listing.stats_of_journal` finds, and the problems, which that does not have."""
        return [*sorted(row_of(file.path, *file.signature) for file in self.files()), *map(repr, self.problems)]


@dataclass(slots=True)
class _Findings:
    """What the walk has found so far; real_root: the journal folder with every link resolved."""

    real_root: str
    settings: File | None = None
    files: dict[FileKind, list[File]] = field(default_factory=lambda: defaultdict(list))
    problems: list[Problem] = field(default_factory=list)

    def report(self, path: str, severity: Literal["error", "warning"], message: str, fix: str) -> None:
        self.problems.append(Problem(path, 0, severity, message, fix))


def nfc(text: str) -> str:
    """The text in Unicode's composed form (NFC), so that two encodings of one name compare equal."""
    return unicodedata.normalize("NFC", text)


@lru_cache(maxsize=65_536)
def folder_of(path: str) -> str:
    """The folder of a file in the journal, as NFC text."""
    return nfc(posixpath.dirname(path))


def path_key(path: str) -> tuple[str, str]:
    """Sorts paths as NFC text; equal ones as spelled on disk."""
    return (nfc(path), path)


def kind_of_file(name: str) -> FileKind | None:
    """What a file is by its suffix, in any case (a receipt also by its folder); None for files that a journal does not
    read."""
    suffix = os.path.splitext(name)[1].lower()
    kind = "receipt" if name.startswith(RECEIPTS) and suffix == ".json" else KIND_BY_SUFFIX.get(suffix)
    return cast("FileKind | None", kind)


def scan(root: Path) -> Folder:
    """Everything in the journal folder that a journal reads, without opening any file.

    Hidden files and folders, and folders with `SITE_MARK`, are skipped. A symbolic link is never followed out of the
    journal; its target inside is read once, at its own path (a photo may be in two places). Raises nothing: a folder or
    file that cannot be examined is a problem.
    """
    scanned_ns = time.time_ns()
    found = _Findings(real_root=os.path.realpath(root))
    waiting = [(os.fspath(root), "")]
    while waiting:
        folder, below = waiting.pop()
        waiting.extend(_look_into(folder, below, found))
    kinds: tuple[FileKind, ...] = ("entry", "photo", "csv", "gpx", "receipt")
    rows = {kind: tuple(sorted(found.files[kind], key=lambda file: path_key(file.path))) for kind in kinds}
    for files in rows.values():
        for one, other in pairwise(files):
            if nfc(one.path) == nfc(other.path):
                message = f"this name and {one.path} differ only in how their accents are encoded"
                found.report(other.path, "warning", message, "rename one of them: a Mac keeps only one of the two")
    return Folder(
        root,
        found.settings,
        rows["entry"],
        rows["photo"],
        rows["csv"],
        rows["gpx"],
        rows["receipt"],
        tuple(sorted(found.problems)),
        scanned_ns,
    )


def _look_into(folder: str, below: str, found: _Findings) -> Iterator[tuple[str, str]]:
    """Adds one folder's files and gives the folders in it that are still to be searched."""
    try:
        with os.scandir(folder) as rows:
            inside = list(rows)
    except OSError as error:
        message = f"{FOLDER_UNREAD} ({_reason(error)})"
        fix = "give yourself permission to read it, or move it out of the journal"
        found.report(below.rstrip("/") or ".", "error", message, fix)
        return
    if any(row.name == SITE_MARK for row in inside):
        if not below:
            fix = "name the folder with the entries"
            found.report(".", "error", "this folder is a built site, not a journal", fix)
        return
    for row in inside:
        if row.name.startswith("."):
            continue
        try:
            row.name.encode("utf-8")
        except UnicodeEncodeError:  # names that are not Unicode cannot be written into an entry or a page
            shown, fix = os.fsencode(below + row.name).decode("utf-8", "replace"), "rename it with plain letters"
            found.report(shown, "error", "this name is not UTF-8, so the file is skipped", fix)
        else:
            yield from _take(row, below + row.name, found)


def _take(row: os.DirEntry[str], path: str, found: _Findings) -> Iterator[tuple[str, str]]:
    """Adds one item of a folder; gives it back if it is a folder to be searched."""
    try:
        if row.is_symlink():
            _take_link(row, path, found)
        elif row.is_dir(follow_symlinks=False):
            yield (row.path, path + "/")
        else:
            _take_file(path, row.stat(follow_symlinks=False), found)
    except OSError as error:
        found.report(path, "error", f"this file cannot be read ({_reason(error)})", "check the disk, or remove it")


def _take_file(path: str, facts: os.stat_result, found: _Findings) -> None:
    kind = kind_of_file(path)
    is_settings = path == SETTINGS_NAME
    if kind is None and not is_settings:
        return
    if not stat.S_ISREG(facts.st_mode):
        found.report(path, "error", "this is not a regular file", "replace it with a file, or remove it")
        return
    file = File(path, facts.st_size, facts.st_mtime_ns, facts.st_ctime_ns, facts.st_ino)
    if is_settings:
        found.settings = file
    elif kind is not None:
        found.files[kind].append(file)


def _take_link(row: os.DirEntry[str], path: str, found: _Findings) -> None:
    try:
        target = os.path.realpath(row.path, strict=True)
    except OSError as error:
        found.report(path, "error", f"this link is broken ({_reason(error)})", "remove it, or put the file here")
        return
    if target != found.real_root and not target.startswith(os.path.join(found.real_root, "")):
        message = "this link leads out of the journal folder, so it is not followed"
        found.report(path, "error", message, "copy the file itself into the journal")
        return
    facts = os.stat(target)
    kind = kind_of_file(path)
    parts = os.path.relpath(target, found.real_root).split(os.sep)
    is_read_anyway = not any(part.startswith(".") for part in parts) and kind_of_file(target) is not None
    if stat.S_ISDIR(facts.st_mode) or (kind not in (None, "photo") and is_read_anyway):
        message = "this link leads to a file or folder of this journal, which is read already"
        found.report(path, "warning", message, "remove the link")
        return
    _take_file(path, facts, found)


def _reason(error: OSError) -> str:
    return (error.strerror or "unknown error").lower()
