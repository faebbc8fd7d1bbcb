"""Ctrl-C and the system's signal to end (SIGTERM), which stop a command alike; and kept back until a step that belongs
together is done."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import NoReturn


class Terminated(KeyboardInterrupt):
    """The system, or another program, asked this one to end."""


def stop_when_terminated() -> None:
    """From here on SIGTERM stops the command as Ctrl-C does, so that it removes what it has in temporary folders. One
    that this process was started to ignore stays ignored; processes forked from it end at once."""
    if signal.getsignal(signal.SIGTERM) is not signal.SIG_DFL:
        return
    this = os.getpid()

    def stop(number: int, _: FrameType | None) -> NoReturn:
        if os.getpid() != this:
            end_when_terminated()
            signal.raise_signal(number)
        raise Terminated

    signal.signal(signal.SIGTERM, stop)


def end_when_terminated() -> None:
    """From here on SIGTERM ends this process at once, wherever it is: for one that was forked and leaves nothing."""
    signal.signal(signal.SIGTERM, signal.SIG_DFL)


def stopped_status(error: BaseException) -> int:
    """The exit code of a command that this stopped: 128 plus the number of the signal, as shells report it."""
    return 128 + (signal.SIGTERM if isinstance(error, Terminated) else signal.SIGINT)


@contextmanager
def ctrl_c_later() -> Iterator[None]:
    """Heeds Ctrl-C, and SIGTERM where that stops the command in the same way, only afterwards, once, however the step
    ends; in other threads than the main one, which neither stops, does nothing."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []
    kept = [signal.SIGINT, *([signal.SIGTERM] if callable(signal.getsignal(signal.SIGTERM)) else [])]
    before = [(number, signal.signal(number, lambda one, _: came.append(one))) for number in kept]
    try:
        yield
    finally:
        for number, handler in before:
            signal.signal(number, handler or signal.SIG_DFL)
        for one in came[:1]:
            signal.raise_signal(one)
