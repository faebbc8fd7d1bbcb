"""The folders that a command works on, which journal each belongs to, and their locks.

The owner of a folder NAME is kept in a hidden file beside it, `.NAME.of`, which is also its lock. It is never in the
folder, because the folder is published. Where nothing can be written next to it, the file is in the user's cache
folder.
"""

from __future__ import annotations

import hashlib
import os
import re
import shlex
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, suppress
from pathlib import Path
from typing import IO

import platformdirs

from journal.cache import store
from journal.cache.resources import checkout_root
from journal.cache.unchanged import APP_NAME, LAST_BUILD_PREFIX
from journal.problems import Refusal
from journal.reading.listing import SETTINGS_NAME, SITE_MARK, journal_around

LOCK_NAME = "busy"
_TRY_EVERY_S = 0.2
_FAR = 1 << 30


def build_lock(folder: Path, waiting: Callable[[], object]) -> AbstractContextManager[None]:
    """Holds the lock of a cache, waiting until no other process holds it; it ends with the process, however that ends.

    folder: the cache's; made again where somebody removed it. waiting: called once, if another process holds it. On a
    file system without locks nobody waits.
    """
    folder.mkdir(parents=True, exist_ok=True)
    if (folder / LOCK_NAME).is_dir():
        shutil.rmtree(folder / LOCK_NAME)
    return file_lock(folder / LOCK_NAME, waiting)


@contextmanager
def file_lock(file: Path, waiting: Callable[[], object]) -> Iterator[None]:
    """The same for a lock file of any name, which the process that holds it may remove."""
    has_called = False
    while True:
        with file.open("a") as lock:
            while not _take(lock):
                if not has_called:
                    waiting()
                    has_called = True
                time.sleep(_TRY_EVERY_S)
            is_still_there = False  # otherwise another process has removed it, and may have made another with that name
            with suppress(FileNotFoundError):
                is_still_there = os.path.samestat(os.fstat(lock.fileno()), file.stat())
            if is_still_there:
                yield
                return


def _take(lock: IO[str]) -> bool:
    """Whether we have the lock now (or nobody can have it)."""
    try:
        if sys.platform == "win32":
            import msvcrt

            lock.seek(_FAR)  # beyond the text, which could not be read otherwise
            msvcrt.locking(lock.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        return True
    return True


_IN_A_CACHE = frozenset({store.TAG_NAME, store.PICTURES_NAME, LOCK_NAME})
PLAIN_NAME = "plain"
"""The folder in the cache of the plain site that a locked one is made from."""
_BEGINS_IN_A_CACHE = (store.DATABASE_NAME, LAST_BUILD_PREFIX, PLAIN_NAME, f".{PLAIN_NAME}.")


_NAME_THE_JOURNAL = "name the journal itself, or no folder"


def journal_folder(folder: Path | None) -> Path:
    """The journal's folder, absolute, links resolved: the one named, else (None) the journal that the current folder is
    in, else the current folder. Raises Refusal where there is no folder of that name, or where it is only a part of a
    journal."""
    if folder is None:
        here = Path().resolve()
        return Path(journal_around(str(here)) or here)
    root = folder.resolve()
    around = journal_around(str(root))
    if not folder.exists():
        if around is not None:
            raise Refusal(f"there is no folder {folder} in the journal {around}; {_NAME_THE_JOURNAL}")
        raise Refusal(f"there is no folder {folder}; `journal start {folder}` starts a journal there")
    if not folder.is_dir():
        raise Refusal(f"{folder} is a file; name the journal's folder")
    if around is not None and around != str(root):
        raise Refusal(f"{folder} is a folder of the journal {around}; {_NAME_THE_JOURNAL}")
    return root


def new_folder(folder: Path) -> None:
    """Raises Refusal if no journal can be started in this folder."""
    if (folder / SETTINGS_NAME).exists():
        raise Refusal(f"{folder} is a journal already; nothing was changed")
    if (folder / SITE_MARK).exists():
        raise Refusal(f"{folder} is a built site, which the next build replaces; name another folder")
    if folder.exists() and not folder.is_dir():
        raise Refusal(f"{folder} is a file; name a folder")
    if around := journal_around(str(folder.resolve())):
        raise Refusal(
            f"{folder} is in the journal {around}, which would read the new one's entries as its own; "
            "name a folder outside it"
        )


def not_a_journal(root: Path) -> Refusal:
    """The refusal of a folder with neither settings nor entries."""
    if (root / SITE_MARK).exists():
        return Refusal(f"{root} is a built site, not a journal; name the folder with the entries")
    return Refusal(
        f"{root} has no {SETTINGS_NAME} and no entries; name the journal's folder, or start a journal: "
        "`journal start my-journal`"
    )


def site_folder(root: Path, to: Path | None) -> Path:
    """The site's folder, absolute: as given, else `build/site` for the sample of a checkout, else `site` beside the
    journal."""
    if to is not None:
        return to.resolve()
    checkout = checkout_root()
    if checkout is not None and root == checkout / "sample_entries":
        return checkout / "build" / "site"
    return (root.parent / "site").resolve()


def shares_folder(root: Path, to: Path | None) -> Path:
    """The folder of shares, each under its name, absolute: as given, else `shares` next to the site."""
    return to.resolve() if to is not None else site_folder(root, None).parent / "shares"


@contextmanager
def cache_folder(root: Path, site: Path | None, chosen: Path | None, notice: Callable[[str], object]) -> Iterator[Path]:
    """A writable folder for the cache; raises Refusal if the one given cannot be used.

    If none is given and the user's own cache folder is not writable, a temporary one is used.
    """
    if chosen is not None:
        folder = chosen.resolve()
        _refuse_cache(folder, root, site)
        _make_writable(folder)
        yield folder
        return
    folder = _user_cache() / _name_of(root)
    try:
        _make_writable(folder)
    except Refusal:
        notice(f"{folder} cannot be written, so nothing is cached; --cache names another")
        with tempfile.TemporaryDirectory(prefix="journal-") as temporary:
            yield Path(temporary).resolve()
        return
    yield folder


def _refuse_cache(folder: Path, root: Path, site: Path | None) -> None:
    for other, what in ((root, "the journal"), (site, "the site")):
        if other is not None and (folder.is_relative_to(other) or other.is_relative_to(folder)):
            raise Refusal(f"--cache {folder} is in {what} or contains it; name another folder")
    names = sorted(path.name for path in folder.iterdir()) if folder.is_dir() else []
    if others := [name for name in names if name not in _IN_A_CACHE and not name.startswith(_BEGINS_IN_A_CACHE)]:
        raise Refusal(f"--cache {folder} contains other files ({others[0]}); name an empty or a new folder")


def _make_writable(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise Refusal(f"the cache folder {folder} cannot be written ({error.strerror})") from error


_STATE = re.compile(r"\.(?P<name>.+)\.(?:new|ready|old)-[0-9a-f]{8}")


def without_state(path: Path) -> Path:
    """A path as it will be once the new tree is in place: `.site.new-0123abcd/x` is `site/x`."""
    return Path(*(found["name"] if (found := _STATE.fullmatch(part)) else part for part in path.parts))


@contextmanager
def target_lock(
    target: Path, journal: Path, waiting: Callable[[], object], within: Path | None = None
) -> Iterator[None]:
    """Holds the lock of `target`, which belongs to this journal from then on.

    Both are absolute, with links resolved. waiting: called once, if another command holds it. within: the
    folder beside which the hidden file lies, where that is not the target itself. Raises Refusal where the
    target belongs to another journal that still exists; one with no known owner is taken over.
    """
    with _opened(target, within or target, waiting) as file:
        written = os.fsdecode(file.read_bytes()).strip("\n").replace("\0", "")
        owner = Path(os.path.normpath(file.parent / written)) if written else None
        if os.path.lexists(target) and owner and os.path.isdir(owner) and not _is_same(owner, journal):
            raise Refusal(
                f"{target} was made from another journal, {owner}, and is not replaced; name another folder for "
                f"{journal} with --to, like --to {shlex.quote(f'{within or target}-{journal.name}')}"
            )
        is_known = owner is not None
        try:
            _write_owner(file, journal)
            yield
            is_known = True
        finally:
            if not is_known or not os.path.lexists(target):
                file.unlink(missing_ok=True)


@contextmanager
def _opened(target: Path, beside: Path, waiting: Callable[[], object]) -> Iterator[Path]:
    name = f".{beside.name}.of" if beside == target else f".{beside.name}.{target.name}.of"
    made = [folder for folder in beside.parents if not folder.exists()]
    for file in (beside.with_name(name), _user_cache() / "targets" / f"{_name_of(target)}.of"):
        is_new = not file.exists()
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.open("a").close()
        except OSError:
            continue
        try:
            with file_lock(file, waiting):
                is_new = False  # from here the holder of the lock decides whether it stays
                yield file
        finally:
            if is_new:
                with suppress(OSError):
                    file.unlink()
            for folder in made:
                with suppress(OSError):
                    folder.rmdir()
        return
    raise Refusal(f"nothing can be written next to {beside}; name another folder with --to")


def _user_cache() -> Path:
    return Path(platformdirs.user_cache_dir(APP_NAME, appauthor=False))


def _name_of(path: Path) -> str:
    return hashlib.sha256(os.fsencode(path)).hexdigest()[:16]


def _write_owner(file: Path, journal: Path) -> None:
    """Into the file itself, because the lock is on it. The path is relative, so that both can move together."""
    try:
        path = os.path.relpath(journal, file.parent)
    except ValueError:  # on another drive
        path = str(journal)
    data = os.fsencode(path) + b"\n"
    if file.read_bytes() != data:
        with file.open("r+b") as opened:
            opened.write(data)
            opened.truncate()


def _is_same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False
