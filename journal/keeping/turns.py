"""One build of a journal at a time."""

from __future__ import annotations

import contextlib
import os
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO

LOCK_NAME = "busy"
_TRY_EVERY_S = 0.2
_FAR = 1 << 30


@contextlib.contextmanager
def turn(folder: Path, waiting: Callable[[], object]) -> Iterator[None]:
    """Waits until no other process has its turn in this folder; the turn ends with the process, however that ends.

    waiting: called once, if there is someone to wait for. Where a folder knows no locks, nobody waits.
    """
    with hold(folder / LOCK_NAME, waiting):
        yield


@contextlib.contextmanager
def hold(file: Path, waiting: Callable[[], object]) -> Iterator[None]:
    """The same for a lock file of any name, which may be removed by who has the turn."""
    told = False
    while True:
        with file.open("a") as lock:
            while not _take(lock):
                if not told:
                    waiting()
                    told = True
                time.sleep(_TRY_EVERY_S)
            if _is_still(lock, file):
                yield
                return


def _is_still(lock: IO[str], file: Path) -> bool:
    """Whether the file that was opened is still the one of that name."""
    try:
        return os.path.samestat(os.fstat(lock.fileno()), file.stat())
    except FileNotFoundError:
        return False


def _take(lock: IO[str]) -> bool:
    """Whether the lock is ours now (or cannot be had by anyone)."""
    try:
        if sys.platform == "win32":
            import msvcrt

            lock.seek(_FAR)  # beyond what is written, which could not be read else
            msvcrt.locking(lock.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        return True
    return True
