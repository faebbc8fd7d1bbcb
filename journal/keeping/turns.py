"""One build of a journal at a time."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO

LOCK_NAME = "busy"
_TRY_EVERY_S = 0.2


@contextlib.contextmanager
def turn(folder: Path, waiting: Callable[[], object]) -> Iterator[None]:
    """Waits until no other process has its turn in this folder; the turn ends with the process, however that ends.

    waiting: called once, if there is someone to wait for. Where a folder knows no locks, nobody waits.
    """
    with (folder / LOCK_NAME).open("a") as lock:
        told = False
        while not _take(lock):
            if not told:
                waiting()
                told = True
            time.sleep(_TRY_EVERY_S)
        yield


def _take(lock: IO[str]) -> bool:
    """Whether the lock is ours now (or cannot be had by anyone)."""
    try:
        if sys.platform == "win32":
            import msvcrt

            lock.seek(0)
            msvcrt.locking(lock.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        return True
    return True
