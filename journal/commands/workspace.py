"""What a command works with: the journal's folder, its site, its cache, and the output on stderr."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from journal.cache.file_cache import FileCache
from journal.cache.folders import build_lock, cache_folder, journal_folder, site_folder, target_lock
from journal.cache.store import Cache
from journal.commands.console import Output, problem_counts, sentence_of
from journal.quantities import counted

if TYPE_CHECKING:
    from journal.model import Journal
    from journal.pipeline import Built, ReadJournal
    from journal.problems import Problem

WAITING = "Another command is using this journal; waiting for it to finish."


@dataclass(frozen=True, slots=True)
class Workspace:
    """root, site, cache_folder: the journal, its site and its cache, absolute paths."""

    root: Path
    site: Path
    cache_folder: Path
    output: Output
    _began_s: float = field(default_factory=time.monotonic)

    @property
    def seconds(self) -> float:
        """Since the command began."""
        return time.monotonic() - self._began_s

    def memory(self) -> FileCache:
        """What earlier runs read of the journal, as it is now."""
        looked_ns = time.time_ns()
        return FileCache(Cache(self.cache_folder), self.root, looked_ns)

    def read(self) -> Journal:
        """The journal, with what its photos say; makes no published sizes."""
        return self.read_whole().journal

    def read_whole(self) -> ReadJournal:
        """The same, with what it was read from."""
        from journal.pipeline import read_journal

        memory = self.memory()
        with self.output:
            read = read_journal(memory, self.output.progress)
        memory.cache.save()
        return read

    def build(self) -> Built:
        """Brings the site up to date, once no other build is running. Raises as `pipeline.build_site` does."""
        from journal.pipeline import build_site

        waiting = "Another build of this journal is running; waiting for it to finish."
        with build_lock(self.cache_folder, lambda: self.output.notice(waiting)), self.at_target(self.site), self.output:
            return build_site(self.memory(), self.site, self.output.progress)

    @contextmanager
    def at_target(self, target: Path, within: Path | None = None) -> Iterator[None]:
        """Holds the lock of a target folder (see `target_lock`), and reports what an earlier run left beside it."""
        from journal.site.build.swap import left_beside

        waiting = f"Another command is writing {target}; waiting for it to finish."
        with target_lock(target, self.root, lambda: self.output.notice(waiting), within):
            yield
        for path in left_beside(target):
            self.output.notice(f"{path} is left over from the earlier {target} and could not be deleted; delete it.")

    def build_again(self, listed: Callable[[Sequence[Problem]], Sequence[str]]) -> Sequence[str]:
        """Builds after a change; gives lines on what was built, or on why it failed. listed: lines on the problems."""
        try:
            built = self.build()
        except Exception as error:  # a folder that is just being changed, a full disk: the next change tries again
            return (sentence_of(error),)
        problems = built.journal.problems
        return (*listed(problems), f"Built again: {counted(built.rendered, 'page')}, {problem_counts(problems)}")


@contextmanager
def open_workspace(folder: Path, to: Path | None = None, cache: Path | None = None) -> Iterator[Workspace]:
    """The workspace of a journal; raises Refusal where a folder cannot be used as asked."""
    root = journal_folder(folder)
    site = site_folder(root, to)
    output = Output()
    with cache_folder(root, site, cache, output.notice) as cached_in:
        yield Workspace(root, site, cached_in, output)
