"""What a command works with: the journal's folder, its site, its cache, and the output on stderr."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from journal.cache import last_build
from journal.cache.folders import PLAIN_NAME, build_lock, cache_folder, journal_folder, site_folder, target_lock
from journal.cache.last_build import Findings, Result
from journal.commands.console import Output, closing_line, plain, problem_counts, sentence_of
from journal.quantities import counted
from journal.unexpected import trace

if TYPE_CHECKING:
    from journal.cache.file_cache import FileCache
    from journal.cache.store import Cache
    from journal.locking.key_file import KeyFile
    from journal.model import Journal
    from journal.pipeline import ReadJournal
    from journal.problems import Problem
    from journal.reading.folder import Folder
    from journal.site.build.photo_workers import Executor
    from journal.site.build.swap import Spare
    from journal.site.memory import Memory

WAITING = "Another command is using this journal; waiting for it to finish."


@dataclass(frozen=True, slots=True)
class LockRequest:
    """What was typed. keys: the key file, None for the usual one. passphrase_file: whose first line is a passphrase."""

    keys: Path | None = None
    passphrase_file: Path | None = None


@dataclass(frozen=True, slots=True)
class Workspace:
    """root, site, cache_folder: the journal, its site and its cache, absolute paths. keys: what the site is locked
    with; None where it is a plain one. is_locked_by_settings: whether the settings ask for that."""

    root: Path
    site: Path
    cache_folder: Path
    output: Output
    keys: KeyFile | None = None
    is_locked_by_settings: bool = False
    _began_s: float = field(default_factory=time.monotonic)
    _caches: list[Cache] = field(default_factory=list)
    _plans: list[Memory] = field(default_factory=list)
    _spares: list[Spare] = field(default_factory=list)

    @property
    def seconds(self) -> float:
        """Seconds since the command began."""
        return time.monotonic() - self._began_s

    @property
    def plain_site(self) -> Path:
        """The folder of the plain site: the site itself, or a folder in the cache if the site is locked."""
        return self.site if self.keys is None else self.cache_folder / PLAIN_NAME

    def memory(self, folder: Folder | None = None) -> FileCache:
        """What earlier runs read of the journal. It is read from the disk once: repeated builds read only what was
        saved since. folder: what is in the journal's, if it was just read."""
        from journal.cache.file_cache import FileCache
        from journal.cache.store import Cache

        scanned_ns = folder.scanned_ns if folder else time.time_ns()
        if not self._caches:
            self._caches.append(Cache(self.cache_folder))
        return FileCache(self._caches[0], self.root, scanned_ns, folder)

    def read(self) -> Journal:
        """The journal, with the facts of its photos; makes no published sizes."""
        return self.read_whole().journal

    def read_whole(self) -> ReadJournal:
        """The same, with what it was read from."""
        from journal.pipeline import read_journal

        memory = self.memory()
        with self.output:
            read = read_journal(memory, self.output.progress)
        memory.cache.save()
        return read

    def check(self) -> Findings:
        """What the journal contains; it is not read if a build has read it and nothing has changed since."""
        return last_build.findings_of(self.cache_folder, self.root) or last_build.found_in(self.read())

    def build(self, executor: Executor | None = None, folder: Folder | None = None) -> Result:
        """Updates the site, once no other build is running. executor: does the photo work. folder: as of `memory`.
        Raises as `pipeline.build_site` does."""
        waiting = "Another build of this journal is running; waiting for it to finish."
        with build_lock(self.cache_folder, lambda: self.output.notice(waiting)), self.at_target(self.site), self.output:
            if self.keys is None:
                return self._build_plain(executor, folder)
            from journal.locking.key_file import OWN_SITE
            from journal.locking.placing import place_locked
            from journal.site.build.swap import LOCKED_SENTENCE, SITE_SENTENCE, refuse_unless_ours

            refuse_unless_ours(self.site, self.root, LOCKED_SENTENCE, SITE_SENTENCE)
            built = self._build_plain(executor, folder)
            if built.unchanged and not self._left_beside(self.site):
                last = last_build.repeated(self.cache_folder, self.root, self.site, self.keys.path)
                if last is not None:
                    return last
            placed = place_locked(self.plain_site, self.site, self.keys, OWN_SITE, "journal")
            offline, larger = placed.made.offline_bytes, placed.made.larger_bytes
            self._keep_locked(placed.keys, {"offline_bytes": offline, "larger_bytes": larger})
            is_same = built.unchanged and placed.unchanged
            return replace(built, unchanged=is_same, offline_bytes=offline, larger_bytes=larger)

    def _keep_locked(self, keys: KeyFile, sizes: Mapping[str, int]) -> None:
        """Keeps the record of a locked site that was just put into place, unless its keys were changed meanwhile."""
        from journal.cache.unchanged import lock_of
        from journal.locking.key_file import read_keys

        lock = lock_of(str(keys.path))
        if read_keys(keys.path) == keys:
            more = {"lock": lock, "is_by_settings": self.is_locked_by_settings, **sizes}
            last_build.keep_locked(self.cache_folder, self.plain_site, self.site, more)

    def _build_plain(self, executor: Executor | None, folder: Folder | None) -> Result:
        """Updates the plain site. A process that has planned it builds again because something has changed."""
        memory, spare = next(iter(self._plans), None), next(iter(self._spares), None)
        has_planned = memory is not None and memory.root("journal") is not None
        if not has_planned and not self._left_beside(self.plain_site):
            last = last_build.repeated(self.cache_folder, self.root, self.plain_site)
            if last is not None:
                return last
        from journal.pipeline import build_site

        return build_site(self.memory(folder), self.plain_site, self.output.progress, executor, memory, spare)

    def _left_beside(self, target: Path) -> Sequence[Path]:
        from journal.site.build.swap import left_beside

        return left_beside(target, next(iter(self._spares), None))

    @contextmanager
    def photo_work_at(self, address: str | None) -> Iterator[Executor | None]:
        """The cluster at an address as an executor; None (local processes) without an address."""
        if address is None:
            yield None
            return
        from journal.site.build.cluster import Cluster

        with Cluster(address, self.output.notice) as cluster:
            yield cluster

    def keep_words(self, built: Result, where: str) -> None:
        """What a build prints that finds nothing changed, for `build_again`. where: its last line."""
        same = replace(built, unchanged=True, rendered=0)
        last_build.remember_notices(self.cache_folder, self.site, [closing_line(same, None), plain(where)])

    @contextmanager
    def building_again(self) -> Iterator[None]:
        """Each build meanwhile keeps in memory what the next one need not plan again, and the site before beside the
        new one, so that the next one need not link all of its files."""
        from journal.site.build.swap import Spare
        from journal.site.memory import Memory

        self._plans.append(Memory())
        self._spares.append(Spare())
        try:
            yield
        finally:
            self._plans.pop()
            self._spares.pop().remove()

    def plan_ahead(self) -> None:
        """Plans the site if no build has done so because nothing had changed; the next build reports what is wrong."""
        from journal.pipeline import plan_ahead

        for plan in self._plans:
            if plan.root("journal") is None:
                with suppress(Exception), self.output:
                    plan_ahead(self.memory(), self.output.progress, plan)

    def compare_with_clean(self) -> list[tuple[str, str]]:
        """How the site differs from one that is built without the cache: paths within it, and `pipeline`'s words."""
        from journal.pipeline import compare_with_clean

        with self.output:
            return compare_with_clean(self.root, self.plain_site, self.output.progress)

    @contextmanager
    def at_target(self, target: Path, within: Path | None = None) -> Iterator[None]:
        """Holds the lock of a target folder (see `target_lock`), and reports what an earlier run left beside it."""
        waiting = f"Another command is writing {target}; waiting for it to finish."
        with target_lock(target, self.root, lambda: self.output.notice(waiting), within):
            yield
        for path in self._left_beside(target):
            self.output.notice(f"{path} is left over from the earlier {target} and could not be deleted; delete it.")

    def build_again(self, listed: Callable[[Sequence[Problem]], Sequence[str]], folder: Folder) -> Sequence[str]:
        """Builds after a change; gives lines about what was built, or why it failed. listed: lines about the problems.
        folder: in which the change was found."""
        try:
            built = self.build(folder=folder)
        except Exception as error:  # a folder that is being changed, a full disk: the next change tries again
            trace(error)
            return (sentence_of(error),)
        return (
            *listed(built.problems),
            f"Built again: {counted(built.rendered, 'page')}, {problem_counts(built.problems)}",
        )


@contextmanager
def open_workspace(folder: Path | None, to: Path | None = None, cache: Path | None = None) -> Iterator[Workspace]:
    """The workspace of a journal: the one named, else (None) the one that the current folder is in, which is then said.
    Raises Refusal if a folder cannot be used as asked."""
    root = journal_folder(folder)
    site = site_folder(root, to)
    output = Output()
    if folder is None:
        output.name_journal(root)
    with cache_folder(root, site, cache, output.notice) as cached_in:
        yield Workspace(root, site, cached_in, output)
