"""A new tree of files beside the old one, and the step that replaces the old one with it.

During a build there may be, beside a site NAME, `.NAME.new-…` (being made), `.NAME.ready-…` (complete, about to replace
the site) and `.NAME.old-…` (the replaced site, about to be removed). A process that builds again and again keeps the
replaced site as `.NAME.spare-…`, whose files the next new tree need not link anew. A run that was killed leaves some of
them. `clean_up` completes or removes them, so that one whole site is at NAME whenever the run was killed.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import re
import secrets
import shutil
import sys
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from journal.cache.store import FileStat
from journal.cache.unchanged import signatures_below
from journal.problems import Refusal
from journal.reading.listing import SITE_MARK

SITE_SENTENCE = "Made by `journal build`, which replaces this whole folder at every build.\n"
LOCKED_SENTENCE = "Made by `journal build --locked`, which replaces this whole folder at every build.\n"
SHARE_SENTENCE = "Made by `journal share`, which replaces this whole folder every time.\n"
SHEET_SENTENCE = "Made by `journal share --preview`, for the author only; the next one replaces this whole folder.\n"
"""The text of a folder's mark, which tells a site from a share: neither may replace the other."""

_AT_FDCWD = -100
_RENAME_EXCHANGE = 2


class Refused(Refusal):
    """A site cannot be put at the requested place."""


def refuse_unless_ours(target: Path, journal: Path, mark_text: str = SITE_SENTENCE, or_mark_text: str = "") -> None:
    """Raises Refused unless the target is absent, empty or an earlier site, and neither the journal nor above it. Both
    are absolute, with links resolved. mark_text: the text of an earlier site's mark, `SITE_SENTENCE` or the like;
    or_mark_text: another text that is accepted."""
    if journal.is_relative_to(target):
        raise Refused(f"{target} is the journal itself or contains it; name another folder with --to")
    if not os.path.lexists(target):
        return
    if not target.is_dir():
        raise Refused(f"{target} is a file; name a folder with --to")
    if any(target.iterdir()) and not (target / SITE_MARK).is_file():
        raise Refused(
            f"{target} contains files that `journal` did not make, and they would be replaced; "
            "name an empty or a new folder with --to"
        )
    if (target / SITE_MARK).is_file():
        marked = (target / SITE_MARK).read_text(encoding="utf-8", errors="replace")
        kind = marked if marked in _KINDS else SITE_SENTENCE
        if kind not in (mark_text, or_mark_text):
            why = f"{target} is {_KINDS[kind]}, which only its own command replaces"
            raise Refused(f"{why}; name another folder with --to")


_KINDS = {
    SITE_SENTENCE: "the site of a journal",
    LOCKED_SENTENCE: "a locked site (`journal build --locked`)",
    SHARE_SENTENCE: "a share",
    SHEET_SENTENCE: "the preview of a share",
}


class Spare:
    """The site that was replaced last, which one process keeps. Nobody else reads it, and anybody may remove it."""

    def __init__(self) -> None:
        self.folder: Path | None = None

    def keep(self, replaced: Path, target: Path) -> None:
        """Keeps a replaced site in place of the one before; it is removed if it cannot be kept."""
        self.remove()
        folder = _beside(target, "spare", like=replaced)
        try:
            self.folder = replaced.rename(folder)
        except OSError:
            remove_tree(replaced)

    def remove(self) -> None:
        if self.folder is not None:
            remove_tree(self.folder)
        self.folder = None

    def become(self, tree: Path, stats: Mapping[str, FileStat]) -> frozenset[str]:
        """Makes the spare the tree, with those of its files that have these stats, and gives their paths. If that is
        not possible, there is no tree, and no path. stats: of the files that the tree may keep, by path."""
        folder, self.folder = self.folder, None
        if folder is None:
            return frozenset()
        try:
            folder.rename(tree)
            there = signatures_below(os.fspath(tree))
            right = frozenset(path for path, stat in there.items() if stats.get(path) == stat)
            for path in there.keys() - right:
                (tree / path).unlink()
                _remove_empty((tree / path).parent, tree)
        except OSError:  # removed or changed by somebody
            remove_tree(folder)
            remove_tree(tree)
            return frozenset()
        return right


def _remove_empty(folder: Path, tree: Path) -> None:
    """Removes a folder below a tree in which nothing is left, and those above it of which that is then true."""
    with contextlib.suppress(OSError):
        while folder != tree:
            folder.rmdir()
            folder = folder.parent


@contextlib.contextmanager
def new_tree(
    target: Path, mark: str = SITE_MARK, mark_text: str = SITE_SENTENCE, start: Callable[[Path], object] | None = None
) -> Iterator[Path]:
    """An empty folder beside the target, marked as a site (or as `mark` says). At the end it is removed unless it
    replaced the target, and so are parent folders that were made for it. An OSError without a file name gets the
    target's. start: may put a folder there that is not empty."""
    tree = _beside(target, "new")
    made = [folder for folder in tree.parents if not folder.exists()]
    try:
        if start is not None:
            start(tree)
        tree.mkdir(parents=True, exist_ok=True)
        (tree / mark).write_text(mark_text, encoding="utf-8", newline="\n")
        yield tree
    except OSError as error:
        if error.errno is not None and error.filename is None:
            error.filename = str(target)  # a failed write, unlike a failed open, does not say which file
        raise
    finally:
        shutil.rmtree(tree, ignore_errors=True)
        for folder in made:
            with contextlib.suppress(OSError):
                folder.rmdir()


def put_in_place(
    tree: Path, target: Path, exchange: Callable[[Path, Path], bool] | None = None, spare: Spare | None = None
) -> None:
    """Replaces the target with a finished tree, in one step if the system supports that. exchange: swaps two folders in
    one step and returns whether it could; None: the system's own. spare: keeps what is replaced. Raises OSError if the
    old target is still there, and Refused if it is not. Raises nothing once the tree is in place."""
    ready = _beside(target, "ready", like=tree)
    tree.rename(ready)
    try:
        earlier = _swap(ready, target, exchange or exchange_folders)
    except OSError:
        remove_tree(ready)
        raise
    if earlier is not None and spare is not None:
        spare.keep(earlier, target)
    elif earlier is not None:
        remove_tree(earlier)


def _swap(ready: Path, target: Path, exchange: Callable[[Path, Path], bool]) -> Path | None:
    """Puts a complete tree at the target, and gives the path that the old one has now."""
    if not target.is_dir():
        ready.rename(target)
        return None
    if exchange(ready, target):
        return ready
    old = _beside(target, "old", like=ready)
    target.rename(old)
    try:
        ready.rename(target)
    except OSError as error:
        try:
            old.rename(target)
        except OSError:
            reason = (error.strerror or str(error)).lower()
            raise Refused(f"{target} was moved away and not replaced ({reason}); run the same command again") from error
        raise
    return old


def clean_up(target: Path, spare: Spare | None = None) -> None:
    """Completes or removes what a killed run left beside the target; raises OSError. spare: this run's own, which
    stays."""
    new, ready, old = (_left_beside(target, state) for state in ("new", "ready", "old"))
    spares = [folder for folder in _left_beside(target, "spare") if spare is None or folder != spare.folder]
    if old and not os.path.lexists(target):
        (ready or old).pop().rename(target)
    for folder in (*new, *ready, *old, *spares):
        remove_tree(folder)


def exchange_folders(one: Path, other: Path) -> bool:
    """Swaps two folders on one file system in a single step; False where this system or file system cannot. Source:
    renameat2(2), RENAME_EXCHANGE (Linux 3.15, glibc 2.28)."""
    if not sys.platform.startswith("linux"):
        return False
    renameat2 = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None)
    if renameat2 is None:
        return False
    done = renameat2(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), ctypes.c_uint(_RENAME_EXCHANGE))
    return bool(done == 0)


def remove_tree(folder: Path) -> None:
    """Removes a folder that another run may also be removing, or that a run killed a moment ago is still writing to.
    Read-only folders in it are removed too; what cannot be removed stays (see `left_beside`)."""
    for _ in range(3):
        shutil.rmtree(folder, ignore_errors=True)
        if not folder.exists():
            return
        with contextlib.suppress(OSError):
            folder.chmod(0o700)
            for here, names, _ in os.walk(folder):
                for inner in (Path(here) / name for name in names):
                    if not inner.is_symlink():
                        inner.chmod(0o700)


def left_beside(target: Path, spare: Spare | None = None) -> list[Path]:
    """What an earlier run left beside the target that could not be removed. spare: this run's own."""
    left = [path for state in ("new", "ready", "old", "spare") for path in _left_beside(target, state)]
    return [path for path in left if spare is None or path != spare.folder]


def _beside(target: Path, state: str, like: Path | None = None) -> Path:
    """A name beside the target for a tree in this state; `like`: a name whose random part is reused."""
    token = like.name.rsplit("-", 1)[1] if like else secrets.token_hex(4)
    return target.with_name(f".{target.name}.{state}-{token}")


def _left_beside(target: Path, state: str) -> list[Path]:
    pattern = re.compile(re.escape(f".{target.name}.{state}-") + "[0-9a-f]{8}")
    if not target.parent.is_dir():
        return []
    beside = sorted(target.parent.iterdir())
    return [path for path in beside if pattern.fullmatch(path.name) and path.is_dir() and not path.is_symlink()]
