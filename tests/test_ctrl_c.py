"""Ctrl-C that comes amid a step that belongs together."""

from __future__ import annotations

import signal
from collections.abc import Iterator

import pytest

from journal.ctrl_c import ctrl_c_later


@pytest.fixture(autouse=True)
def heeded() -> Iterator[None]:
    """It is ignored, if the tests run in the background."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.parametrize("fails", [False, True])
def test_ctrl_c_waits_for_what_belongs_together(fails: bool) -> None:
    done = []

    def work() -> None:
        with ctrl_c_later():
            signal.raise_signal(signal.SIGINT)
            done.append("to its end")
            if fails:
                raise OSError

    with pytest.raises(KeyboardInterrupt):
        work()
    assert ["to its end"] == done
