"""The calls of a process that change something on the disk, counted, and ended at any one of them.

What is counted: a file opened to be written, each write to it, a folder made, a name given, changed or removed, a file
flushed to the disk, a statement to the cache's database.
"""

from __future__ import annotations

import builtins
import contextlib
import errno
import io
import os
import sqlite3
import sys
import tempfile
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any
from unittest.mock import patch

KILLED = 9
WRITES = ("w", "a", "x", "+")
NEEDS_ROOM = frozenset({"open", "write", "mkdir", "link", "symlink", "sendfile", "copy_file_range", "fsync", "sql"})
OF_OS = (
    "mkdir", "rmdir", "unlink", "remove", "rename", "replace", "link", "symlink", "truncate", "ftruncate", "chmod",
    "utime", "fsync", "write", "sendfile", "copy_file_range",
)  # fmt: skip


@dataclass
class Points:
    """The fault points of this process, as they are reached. at: the one to end at; full: whether the disk is full from
    there on, else the process is killed."""

    at: int = -1
    full: bool = False
    names: list[str] = field(default_factory=list)

    def __call__(self, what: str, halfway: Callable[[], object] = lambda: None) -> None:
        """To be called before the change. halfway: what is on the disk already where the process is killed."""
        here = len(self.names)
        self.names.append(what)
        if here == self.at and not self.full:
            halfway()
            os._exit(KILLED)
        if self.full and 0 <= self.at <= here and (here == self.at or what in NEEDS_ROOM):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


class _Raw(io.FileIO):
    """A file of which each write to the disk is a fault point."""

    points: Points

    def write(self, data: Any) -> int:
        half = memoryview(data).cast("B")[: memoryview(data).nbytes // 2]
        self.points("write", lambda: super(_Raw, self).write(half))
        return super().write(data)

    def truncate(self, size: int | None = None) -> int:
        self.points("truncate")
        return super().truncate(size)


@contextlib.contextmanager
def watched(points: Points) -> Iterator[None]:
    """Every change that this process makes on the disk is a fault point."""
    real_open, real_connect = io.open, sqlite3.connect

    def opened(file: Any, mode: str = "r", buffering: int = -1, *more: Any, **named: Any) -> Any:
        if not any(letter in mode for letter in WRITES) or mode.startswith("U"):
            return real_open(file, mode, buffering, *more, **named)
        names = ("encoding", "errors", "newline", "closefd", "opener")
        asked = {**dict(zip(names, more, strict=False)), **named}
        if not isinstance(file, int) and "opener" not in asked:
            points("open")
        raw = _Raw(file, mode.replace("b", "").replace("t", ""), asked.get("closefd", True), asked.get("opener"))
        raw.points = points
        if buffering == 0:
            return raw
        buffered = (io.BufferedRandom if "+" in mode else io.BufferedWriter)(raw)
        if "b" in mode:
            return buffered
        text = io.TextIOWrapper(buffered, asked.get("encoding"), asked.get("errors"), asked.get("newline"))
        text.mode = mode  # type: ignore[misc]
        return text

    def before(name: str) -> Callable[..., Any]:
        real = getattr(os, name)

        def called(*args: Any, **named: Any) -> Any:
            points(name)
            return real(*args, **named)

        return called

    real_os_open = os.open

    def os_opened(path: Any, flags: int, *more: Any, **named: Any) -> int:
        if flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT):
            points("open")
        return real_os_open(path, flags, *more, **named)

    class Database(sqlite3.Connection):
        def execute(self, *args: Any) -> sqlite3.Cursor:
            if not str(args[0]).lstrip().upper().startswith(("SELECT", "PRAGMA USER_VERSION;")):
                self._point()
            return super().execute(*args)

        def executemany(self, *args: Any) -> sqlite3.Cursor:
            self._point()
            return super().executemany(*args)

        @staticmethod
        def _point() -> None:
            try:
                points("sql")
            except OSError as error:
                raise sqlite3.OperationalError("database or disk is full") from error

    from journal.site.build import swap

    real_exchange = swap.exchange_folders

    def exchanged(one: Path, other: Path) -> bool:
        points("exchange")
        return real_exchange(one, other)

    with contextlib.ExitStack() as stack:
        for owner, name, with_ in (
            (io, "open", opened),
            (builtins, "open", opened),
            (os, "open", os_opened),
            (sqlite3, "connect", partial(real_connect, factory=Database)),
            (swap, "exchange_folders", exchanged),
            *((os, name, before(name)) for name in OF_OS if hasattr(os, name)),
        ):
            stack.enter_context(patch.object(owner, name, with_))
        yield


@dataclass(frozen=True)
class Ended:
    """How a command ended, what it said, and the fault points that it reached."""

    status: int
    said: str
    points: tuple[str, ...]


@dataclass
class Running:
    """A command in a process of its own. said, told: files of what it printed, and of the fault points it reached."""

    child: int
    said: Any
    told: Any

    def wait(self) -> Ended:
        status = os.waitstatus_to_exitcode(os.waitpid(self.child, 0)[1])
        texts = []
        for file in (self.said, self.told):
            file.seek(0)
            texts.append(file.read())
            file.close()
        return Ended(status, texts[0], tuple(texts[1].split("\n")))


def fork() -> int:
    """As `os.fork`, without the warning about threads: the child asks nothing of other threads."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        return os.fork()


def begin(words: list[str], points: Points, setting: Callable[[contextlib.ExitStack], None]) -> Running:
    """Begins a command in a process of its own, which has this one's modules. setting: patches what it uses."""
    from journal.cli import cli
    from journal.commands.console import run as run_command

    said, told = (tempfile.TemporaryFile("w+") for _ in range(2))  # noqa: SIM115 - `wait` closes them
    sys.stdout.flush()
    sys.stderr.flush()
    child = fork()
    if not child:
        status = 1
        try:
            for stream in (1, 2):
                os.dup2(said.fileno(), stream)
            sys.stdout, sys.stderr = (io.TextIOWrapper(io.FileIO(n, "w"), write_through=True) for n in (1, 2))
            with contextlib.ExitStack() as stack:
                setting(stack)
                with watched(points):
                    status = run_command(cli, words)
            told.write("\n".join(points.names))
            told.flush()
        finally:
            os._exit(status)
    return Running(child, said, told)
