from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator

import pytest

from journal.forked import Forked
from journal.problems import Refusal

on_linux = pytest.mark.skipif(sys.platform != "linux", reason="processes are forked on Linux alone")

WITH_MUCH_TO_SAY = """
import time
from multiprocessing.connection import wait
from journal.forked import Forked

def answer(_):
    yield b"x" * 10_000_000

with Forked([answer] * {count}, "said much") as forked:
    forked.ask([None] * {count})
    ends = list(forked._workers)
    while len(wait(ends)) < {count}:
        time.sleep(0.01)
    print(*(worker.pid for worker in forked._workers.values()), flush=True)
    time.sleep(600)
"""
"""Says who its processes are once all of them have begun to send more than is read."""


@on_linux
@pytest.mark.parametrize("count", [1, 3])
def test_no_process_stays_that_was_sending_when_the_run_was_killed(count: int) -> None:
    run = [sys.executable, "-c", WITH_MUCH_TO_SAY.format(count=count)]
    with subprocess.Popen(run, stdout=subprocess.PIPE, text=True) as killed:
        assert killed.stdout is not None
        workers = [int(pid) for pid in killed.stdout.readline().split()]
        assert len(workers) == count
        killed.kill()
        try:
            killed.communicate(timeout=20)  # to the end of what all of them have open
        finally:
            for pid in workers:
                with contextlib.suppress(ProcessLookupError):
                    os.kill(pid, signal.SIGKILL)


def _own_pid(_: object) -> Iterator[int]:
    yield os.getpid()


@on_linux
def test_a_process_that_the_system_ended_between_two_questions_is_told_of() -> None:
    with Forked([_own_pid], "rendered pages") as forked:
        (pid,) = forked.ask([None])
        os.kill(pid, signal.SIGKILL)
        while any(child.pid == pid for child in multiprocessing.active_children()):
            time.sleep(0.01)
        with pytest.raises(Refusal, match="the system ended a process that rendered pages"):
            list(forked.ask([None]))
