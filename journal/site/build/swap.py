"""A new tree of files beside the old one, and the step that replaces the old one with it.

During a build there may be, beside a site NAME, `.NAME.new-…` (being made), `.NAME.ready-…` (complete, about to replace
the site) and `.NAME.old-…` (the replaced site, about to be removed). A run that was killed leaves some of them.
`clean_up` completes or removes them, so that one whole site is at NAME whenever the run was killed.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import re
import secrets
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

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


def refuse_unless_ours(target: Path, journal: Path, says: str = SITE_SENTENCE, or_says: str = "") -> None:
    """Raises Refused unless the target is absent, empty or an earlier site, and neither the journal nor above it. Both
    are absolute, with links resolved. says: the text of an earlier site's mark, `SITE_SENTENCE` or the like; or_says:
    another text that is accepted."""
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
        if kind not in (says, or_says):
            why = f"{target} is {_KINDS[kind]}, which only its own command replaces"
            raise Refused(f"{why}; name another folder with --to")


_KINDS = {
    SITE_SENTENCE: "the site of a journal",
    LOCKED_SENTENCE: "a locked site (`journal build --locked`)",
    SHARE_SENTENCE: "a share",
    SHEET_SENTENCE: "the preview of a share",
}


@contextlib.contextmanager
def new_tree(target: Path, mark: str = SITE_MARK, says: str = SITE_SENTENCE) -> Iterator[Path]:
    """An empty folder beside the target, marked as a site (or as `mark` says). At the end it is removed unless it
    replaced the target, and so are parent folders that were made for it. An OSError without a file name gets the
    target's."""
    tree = _beside(target, "new")
    made = [folder for folder in tree.parents if not folder.exists()]
    try:
        tree.mkdir(parents=True)
        (tree / mark).write_text(says, encoding="utf-8", newline="\n")
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


def put_in_place(tree: Path, target: Path, exchange: Callable[[Path, Path], bool] | None = None) -> None:
    """Replaces the target with a finished tree, in one step if the system supports that. exchange: swaps two folders in
    one step and returns whether it could; None: the system's own. Raises OSError if the old target is still there, and
    Refused if it is not. Raises nothing once the tree is in place."""
    ready = _beside(target, "ready", like=tree)
    tree.rename(ready)
    try:
        earlier = _swap(ready, target, exchange or exchange_folders)
    except OSError:
        remove_tree(ready)
        raise
    if earlier is not None:
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


def clean_up(target: Path) -> None:
    """Completes or removes what a killed run left beside the target; raises OSError."""
    new, ready, old = (_left_beside(target, state) for state in ("new", "ready", "old"))
    if old and not os.path.lexists(target):
        (ready or old).pop().rename(target)
    for folder in (*new, *ready, *old):
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


def left_beside(target: Path) -> list[Path]:
    """What an earlier run left beside the target that could not be removed."""
    return [path for state in ("new", "ready", "old") for path in _left_beside(target, state)]


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
