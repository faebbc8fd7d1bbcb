"""What a command has at hand: the journal's folder, its site, its cache, and who tells."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from journal.cache.file_cache import FileCache
from journal.cache.folders import build_lock, cache_folder, journal_folder, site_folder, target_lock
from journal.cache.store import Cache
from journal.commands.console import Output, sentence_of

if TYPE_CHECKING:
    from journal.model import Journal
    from journal.pipeline import Built


@dataclass(frozen=True, slots=True)
class Workspace:
    """root, site, kept_in: the journal, its site and its cache, absolute."""

    root: Path
    site: Path
    kept_in: Path
    teller: Output
    _began_s: float = field(default_factory=time.monotonic)

    @property
    def seconds(self) -> float:
        """Since the command began."""
        return time.monotonic() - self._began_s

    def memory(self) -> FileCache:
        """What earlier runs know of the journal, as it is now."""
        looked_ns = time.time_ns()
        return FileCache(Cache(self.kept_in), self.root, looked_ns)

    def read(self) -> Journal:
        """The journal, its photos' facts included; nothing is published."""
        from journal.pipeline import read_journal

        memory = self.memory()
        with self.teller:
            journal = read_journal(memory, self.teller.progress).journal
        memory.cache.save()
        return journal

    def build(self) -> Built:
        """Brings the site up to date, when it is our turn. Raises as `making.build_site` does."""
        from journal.pipeline import build_site

        waiting = "Another build of this journal is at work; waiting for it."
        with build_lock(self.kept_in, lambda: self.teller.notice(waiting)), self.at_target(self.site), self.teller:
            return build_site(self.memory(), self.site, self.teller.progress)

    @contextmanager
    def at_target(self, target: Path, within: Path | None = None) -> Iterator[None]:
        """The time in which something may be put at a target (see `targets.at_target`); what an earlier run left there
        for good is told."""
        from journal.site.build.swap import left_beside

        waiting = f"Another command is at work at {target}; waiting for it."
        with target_lock(target, self.root, lambda: self.teller.notice(waiting), within):
            yield
        for path in left_beside(target):
            self.teller.notice(f"{path} is left of what lay at {target} before, and could not be removed; remove it.")

    def try_to_build(self) -> Built | str:
        """The same; where it cannot be done, the sentence that says why."""
        try:
            return self.build()
        except Exception as error:  # a folder in the midst of a change, a full disk: the next change tries again
            return sentence_of(error)


@contextmanager
def open_workspace(folder: Path, to: Path | None = None, cache: Path | None = None) -> Iterator[Workspace]:
    """The desk for a journal; raises Refusal where a folder cannot be what it was named for."""
    root = journal_folder(folder)
    site = site_folder(root, to)
    teller = Output()
    with cache_folder(root, site, cache, teller.notice) as kept_in:
        yield Workspace(root, site, kept_in, teller)
