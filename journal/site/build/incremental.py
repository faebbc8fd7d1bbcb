"""A site updated from its plan: files of the old site that are still right are kept, all others are made."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import shutil
import time
from collections.abc import Callable, Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from flask import Flask

from journal.cache.store import FileStat, Output
from journal.cache.unchanged import settled, sha256_of
from journal.reading.listing import SITE_MARK
from journal.site.build.freezing import Freeze, compare_with_plan, freeze
from journal.site.build.offline import OfflineCopy
from journal.site.build.swap import SITE_SENTENCE, Spare, clean_up, new_tree, put_in_place
from journal.site.plan import Page

Files = Mapping[str, tuple[str, int]]
"""Path within the site -> SHA-256 (hex) and size in bytes."""

WriteOffline = Callable[[Path, Sequence[Page], Files, Path | None], OfflineCopy | None]
"""Writes what a device needs for its offline copy, if it needs anything, into a finished tree, given its pages and
files. The last argument is the current site, from which files may be linked; None if somebody changed it."""

Report = Callable[[str, int, int], None]
"""Called with what is being done, how much of it is done, and how much there is."""

Change = Literal["first", "renewed", "nothing"]


@dataclass(frozen=True, slots=True)
class Copy:
    """A file of the site that is an unchanged copy of another file. inputs: digest of, or name for, its content.
    linked: whether the two may be hard links to one file; only if the source belongs to this program. sha256: of the
    content that it must have (hex); None: any."""

    source: Path
    inputs: str
    linked: bool = False
    sha256: str | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything a site should contain. copies, texts: by path within the site. version: of everything that turns a
    page's context into bytes. write_offline: see `WriteOffline`; offline_inputs: digest of, or name for, what its
    files are made from besides the pages' paths and sections and the files' bytes. mark_text: the text of the folder's
    mark. freeze: renders pages."""

    pages: Sequence[Page]
    copies: Mapping[str, Copy]
    texts: Mapping[str, str]
    version: str
    make_app: Callable[[], Flask]
    write_offline: WriteOffline
    offline_inputs: str = ""
    mark_text: str = SITE_SENTENCE
    freeze: Freeze = freeze


class CorruptPictures(OSError):
    """Cached files that a site is to have are not as they were made, or cannot be read."""

    def __init__(self, files: Sequence[Path]) -> None:
        super().__init__(f"{files[0]} was changed since it was made, or cannot be read")
        self.files = files

    def remove(self) -> None:
        """Removes them, so that they are made again."""
        for file in self.files:
            file.unlink(missing_ok=True)


@dataclass(frozen=True, slots=True)
class Update:
    """What a run did. outputs: path -> the file that is there now; rendered: the pages that were made again; offline:
    what was written for the offline copy."""

    outputs: Mapping[str, Output] = field(repr=False)
    rendered: tuple[str, ...]
    change: Change
    offline: OfflineCopy | None = None


def update_site(
    plan: Plan, target: Path, known: Mapping[str, Output], report: Report, spare: Spare | None = None
) -> Update:
    """Makes the site at `target` (absolute) match the plan, completely or not at all; an existing site is replaced.
    known: what was written there last. spare: where one process keeps the site that was there before. Raises OSError,
    CorruptPictures, NotFrozen."""
    clean_up(target, spare)
    planned = _planned_inputs(plan)
    known_same = {
        path: known[path] for path, inputs in planned.items() if path in known and known[path].inputs == inputs
    }
    there = _Listing.of(target, known)
    unchanged = there.unchanged(known_same)
    if len(unchanged) == len(planned) and (outputs := _all_unchanged(plan, there, unchanged, known)) is not None:
        return Update(outputs, (), "nothing")
    change: Change = "renewed" if target.is_dir() and any(target.iterdir()) else "first"
    kept: set[str] = set()  # the very files of the site that is there now
    with new_tree(
        target, mark_text=plan.mark_text, start=lambda tree: kept.update(_reuse_spare(tree, there, unchanged, spare))
    ) as tree:
        rows = dict(unchanged)
        placing = _Placing(tree)

        def place_the_rest() -> None:
            for path in unchanged.keys() - kept:
                if placing.place(f"{target}/{path}", path, linked=True):
                    kept.add(path)
            rows.update(_write_copies(plan, placing, planned, unchanged))

        rows.update(_render_pages(plan, tree, planned, unchanged, report, place_the_rest))
        # whether every file that was written last, after the planned ones, is still as it was
        left = {path: output for path, output in known.items() if path not in planned and path in there.stats}
        is_offline_unchanged = bool(left) and len(there.unchanged(left)) == len(left)
        rendered = tuple(page.path for page in plan.pages if page.path not in unchanged)
        outputs, offline = _write_offline(plan, tree, rows, kept, target if is_offline_unchanged else None, report)
        put_in_place(tree, target, spare=spare)
    return Update(outputs, rendered, change, offline)


def _planned_inputs(plan: Plan) -> dict[str, str]:
    """Path -> inputs of every page, copied file and text; raises if two have one path."""
    planned: dict[str, str] = {}
    rows = [(page.path, page.digest(plan.version)) for page in plan.pages]
    rows += [(path, copy.inputs) for path, copy in plan.copies.items()]
    rows += [(path, hashlib.sha256(text.encode()).hexdigest()) for path, text in plan.texts.items()]
    for path, inputs in rows:
        if path in planned:
            raise ValueError(f"two files are planned at {path}")
        planned[path] = inputs
    return planned


@dataclass(frozen=True, slots=True)
class _Listing:
    """The stats of files of a site, by path within it. scanned_ns: time_ns() before they were read."""

    site: Path
    scanned_ns: int
    stats: Mapping[str, FileStat]

    @classmethod
    def of(cls, site: Path, paths: Iterable[str]) -> _Listing:
        """Of those of these files that are there."""
        scanned_ns, top, stats = time.time_ns(), os.fspath(site), {}
        for path in paths:
            with contextlib.suppress(OSError):
                facts = os.lstat(f"{top}/{path}")
                stats[path] = (facts.st_size, facts.st_mtime_ns, facts.st_ino)
        return cls(site, scanned_ns, stats)

    def unchanged(self, outputs: Mapping[str, Output]) -> dict[str, Output]:
        """Those files that are as they were written (by their stat, or else by their bytes), with their present
        stat."""
        found = {}
        for path, output in outputs.items():
            stat = self.stats.get(path)
            if stat is not None and output.stat == stat:
                found[path] = output
            elif stat is not None and _has_bytes(self.site / path, output.sha256):
                found[path] = self.with_stat(path, output)
        return found

    def with_stat(self, path: str, output: Output) -> Output:
        """With the file's present stat, if the file is old enough for its stat to stand for its bytes."""
        stat = self.stats[path]
        if output.stat == stat:
            return output
        return replace(output, stat=stat if settled(self.scanned_ns, stat[1]) else None)


def _has_bytes(file: Path, sha256: str) -> bool:
    try:
        return file.is_file() and not file.is_symlink() and sha256_of(file) == sha256
    except OSError:
        return False


def _all_unchanged(
    plan: Plan, there: _Listing, unchanged: Mapping[str, Output], known: Mapping[str, Output]
) -> dict[str, Output] | None:
    """All files, if nothing in the site has to change, including what devices need for their offline copy; otherwise
    None."""
    inputs = _offline_inputs(plan, unchanged)
    written_last = {path: output for path, output in known.items() if output.inputs == inputs}
    offline = there.unchanged(written_last)
    outputs = {**unchanged, **offline}
    is_exact = len(offline) == len(written_last) and set(_files_in(there.site)) == {*outputs, SITE_MARK}
    mark = hashlib.sha256(plan.mark_text.encode()).hexdigest()
    return outputs if is_exact and _has_bytes(there.site / SITE_MARK, mark) else None


def _offline_inputs(plan: Plan, rows: Mapping[str, Output]) -> str:
    """Digest of everything that the files for the offline copy are made from."""
    files = sorted((path, output.sha256, output.size) for path, output in rows.items())
    pages = [(page.path, page.section, page.growing) for page in plan.pages]
    outputs = repr((plan.version, plan.offline_inputs, files, pages))
    return hashlib.sha256(outputs.encode("utf-8", "surrogatepass")).hexdigest()


def _reuse_spare(tree: Path, there: _Listing, unchanged: Iterable[str], spare: Spare | None) -> frozenset[str]:
    """Makes the spare the new tree, as far as its files are the very files of the site that are still right. Gives the
    paths of these; where there are none, there need not be a tree."""
    if spare is None or spare.folder is None:
        return frozenset()
    return spare.become(tree, {path: there.stats[path] for path in unchanged})


def _render_pages(
    plan: Plan,
    tree: Path,
    planned: Mapping[str, str],
    unchanged: Mapping[str, Output],
    report: Report,
    meanwhile: Callable[[], None],
) -> dict[str, Output]:
    """Renders the pages that are missing. meanwhile: what else there is to do, which other processes need not wait
    for."""
    pages = [page for page in plan.pages if page.path not in unchanged]
    if not pages:
        meanwhile()
        return {}
    app = plan.make_app()
    compare_with_plan(app, plan.pages)
    rows = plan.freeze(app, pages, tree, lambda done: report("pages", done, len(pages)), meanwhile=meanwhile)
    return {path: Output(planned[path], sha256, size) for path, sha256, size in rows}


def _write_copies(
    plan: Plan, placing: _Placing, planned: Mapping[str, str], unchanged: Mapping[str, Output]
) -> dict[str, Output]:
    """Writes the copied files and texts that are missing; raises CorruptPictures if files are not as they must be."""
    rows, corrupt = {}, []
    tree = placing.tree
    for path, text in plan.texts.items():
        if path not in unchanged:
            placing.make_room(path)
            _write(tree / path, text.encode())
            rows[path] = _output(tree / path, planned[path])
    for path, copy in plan.copies.items():
        if path not in unchanged:
            try:
                placing.place(copy.source, path, copy.linked)
                rows[path] = _output(tree / path, planned[path])
            except PermissionError:
                if copy.sha256 is None:
                    raise
                corrupt.append(copy.source)
                continue
            if copy.sha256 not in (None, rows[path].sha256):
                corrupt.append(copy.source)
    if corrupt:
        raise CorruptPictures(corrupt)
    return rows


def _write(file: Path, data: bytes) -> None:
    try:
        file.write_bytes(data)
    except OSError as error:
        error.filename = error.filename or str(file)  # a failed write, unlike a failed open, does not say which file
        raise


def _output(file: Path, inputs: str) -> Output:
    return Output(inputs, sha256_of(file), file.stat().st_size)


class _Placing:
    """Puts files of other places into a tree."""

    def __init__(self, tree: Path) -> None:
        self.tree = tree
        self._made = {""}

    def make_room(self, path: str) -> None:
        """Makes the folder of a file of the tree, where there is none."""
        folder = path.rpartition("/")[0]
        if folder not in self._made:
            os.makedirs(f"{self.tree}/{folder}", exist_ok=True)
            self._made.add(folder)

    def place(self, source: str | Path, path: str, linked: bool) -> bool:
        """A hard link if that is asked for and the file system allows it, otherwise a copy; gives whether it is a link.
        Nothing may be written to this path of the tree afterwards: it may be the source itself."""
        self.make_room(path)
        file = f"{self.tree}/{path}"
        if linked:
            try:
                os.link(source, file)
                return True
            except FileNotFoundError:
                raise
            except OSError:
                pass  # another disk, or a file system without hard links
        (shutil.copy2 if linked else shutil.copyfile)(source, file)
        return False


def _write_offline(
    plan: Plan, tree: Path, rows: Mapping[str, Output], kept: Set[str], earlier: Path | None, report: Report
) -> tuple[dict[str, Output], OfflineCopy | None]:
    """Writes what a device needs for its offline copy, last of all, and gives all files of the tree as they then are,
    and what was written. kept: those that were looked at in the site and are the same files."""
    report("offline", 0, 1)
    files = {path: (output.sha256, output.size) for path, output in rows.items()}
    offline = plan.write_offline(tree, plan.pages, files, earlier)
    written = sorted(offline.paths) if offline else []
    report("offline", 1, 1)
    inputs = _offline_inputs(plan, rows)
    outputs = {**rows, **{path: _output(tree / path, inputs) for path in written}}
    fresh = {path: output for path, output in outputs.items() if path not in kept or output.stat is None}
    there = _Listing.of(tree, fresh)
    if lost := sorted(fresh.keys() - there.stats.keys()):
        raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), os.fspath(tree / lost[0]))
    return {**outputs, **{path: there.with_stat(path, output) for path, output in fresh.items()}}, offline


def differences(site: Path, clean: Path) -> list[tuple[str, str]]:
    """(path within both, how `site` differs there from `clean`: "differs", "missing" or "extra"), by path."""
    ours, theirs = set(_files_in(site)), set(_files_in(clean))
    differing = {path for path in ours & theirs if sha256_of(site / path) != sha256_of(clean / path)}
    found = {**dict.fromkeys(differing, "differs"), **dict.fromkeys(theirs - ours, "missing")}
    return sorted({**found, **dict.fromkeys(ours - theirs, "extra")}.items())


def _files_in(folder: Path) -> Iterable[str]:
    """Every file below a folder, "/" between the parts."""
    top = os.fspath(folder)
    for here, _, names in os.walk(top):
        below = here[len(top) + 1 :].replace(os.sep, "/")
        for name in names:
            yield f"{below}/{name}" if below else name
