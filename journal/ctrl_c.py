"""Ctrl-C, kept back until a step that belongs together is done."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def ctrl_c_later() -> Iterator[None]:
    """Heeds Ctrl-C only afterwards, once, however the step ends; in other threads than the main one, which Ctrl-C does
    not stop, does nothing."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    pressed: list[int] = []
    before = signal.signal(signal.SIGINT, lambda number, _: pressed.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before or signal.SIG_DFL)
        for number in pressed[:1]:
            signal.raise_signal(number)
