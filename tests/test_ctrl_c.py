"""Ctrl-C that comes amid a step that belongs together."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from journal.ctrl_c import Terminated, ctrl_c_later, stop_when_terminated, stopped_status


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


def test_sigterm_waits_too_where_it_stops_a_command_as_ctrl_c_does() -> None:
    done = []

    def work() -> None:
        with ctrl_c_later():
            signal.raise_signal(signal.SIGTERM)
            done.append("to its end")

    before = signal.signal(signal.SIGTERM, signal.SIG_DFL)
    try:
        stop_when_terminated()
        with pytest.raises(Terminated) as stopped:
            work()
        assert (["to its end"], 143) == (done, stopped_status(stopped.value))
    finally:
        signal.signal(signal.SIGTERM, before)


def test_a_sigterm_that_is_ignored_stays_ignored() -> None:
    before = signal.signal(signal.SIGTERM, signal.SIG_IGN)
    try:
        stop_when_terminated()
        assert signal.SIG_IGN is signal.getsignal(signal.SIGTERM)
    finally:
        signal.signal(signal.SIGTERM, before)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="only where a process can be forked")
def test_sigterm_ends_a_forked_process_at_once() -> None:
    before = signal.signal(signal.SIGTERM, signal.SIG_DFL)
    try:
        stop_when_terminated()
        if not (child := os.fork()):
            try:
                signal.raise_signal(signal.SIGTERM)
            finally:
                os._exit(1)
        assert signal.SIGTERM == os.WTERMSIG(os.waitpid(child, 0)[1])
    finally:
        signal.signal(signal.SIGTERM, before)


_WAITING = """
import sys, time
from multiprocessing.util import get_temp_dir
from journal import __main__, cli
cli.main = lambda: (get_temp_dir(), print("ready", flush=True), time.sleep(60))
sys.argv[1:] = ["keys", "find"]
__main__.main()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="a process there cannot be asked to end")
def test_a_command_that_is_asked_to_end_leaves_nothing_in_the_temporary_folder(tmp_path: Path) -> None:
    """Workers of a build have a folder of multiprocessing there, which Python removes as the process ends."""
    with subprocess.Popen(
        [sys.executable, "-c", _WAITING],
        env={**os.environ, "TMPDIR": str(tmp_path)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as command:
        assert command.stdout is not None
        assert "ready\n" == command.stdout.readline()
        assert 1 == len(list(tmp_path.iterdir()))
        command.terminate()
        assert ("", "Stopped.\n") == command.communicate(timeout=60)
    assert (143, []) == (command.returncode, list(tmp_path.iterdir()))
