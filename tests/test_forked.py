from __future__ import annotations

import contextlib
import errno
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from journal.commands.console import sentence_of
from journal.forked import Answer, Forked, WorkFailed
from journal.problems import Refusal
from journal.site.plan import made_at
from journal.unexpected import trace

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


def _fails_at_zero(_: object) -> Iterator[int]:
    yield from (1 // number for number in range(2))


def _finds_a_full_disk(_: object) -> Iterator[int]:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "/somewhere")
    yield


def failure_of(answer: Answer) -> Exception:
    """What a process failed with, as the one that asked it has it."""
    with Forked([answer], "rendered pages") as forked, pytest.raises((WorkFailed, OSError)) as raised:
        list(forked.ask([None]))
    return raised.value


@on_linux
@pytest.mark.parametrize(("answer", "name"), [(_fails_at_zero, "ZeroDivisionError"), (_finds_a_full_disk, "OSError")])
def test_the_traceback_of_another_process_is_printed_by_itself_once(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], tmp_path: Path, answer: Answer, name: str
) -> None:
    monkeypatch.setenv("JOURNAL_TRACEBACK", "1")
    failure = failure_of(answer)
    said = sentence_of(failure)
    assert (1, False) == (len(said.splitlines()), "Traceback" in said)
    assert "" == capfd.readouterr().err
    trace(failure)
    shown = capfd.readouterr().err
    assert (1, True) == (shown.count(f"in {answer.__name__}\n"), shown.startswith("Traceback (most recent call last):"))
    assert name in shown
    monkeypatch.setenv("JOURNAL_TRACEBACK", str(tmp_path / "faults.txt"))
    trace(failure_of(answer))
    assert ("", 1) == (capfd.readouterr().err, (tmp_path / "faults.txt").read_text().count(f"in {answer.__name__}\n"))


def _fails_at_a_page(_: object) -> Iterator[int]:
    yield from made_at(("costs/index.html",), lambda: 1 // 0)  # type: ignore[arg-type, return-value]


@on_linux
def test_the_page_that_another_process_failed_at_is_told() -> None:
    said = sentence_of(failure_of(_fails_at_a_page))
    assert "Nothing was changed. It happened while the page costs/index.html was made. To see where, " in said


def _fails_in_two_lines(_: object) -> Iterator[int]:
    raise ValueError("first line\n  second line")
    yield


@on_linux
def test_a_failure_in_another_process_is_told_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JOURNAL_TRACEBACK", "1")
    said = sentence_of(failure_of(_fails_in_two_lines))
    assert said.startswith("This is a fault in the program (WorkFailed: ValueError: first line second line). Nothing ")


@on_linux
def test_a_process_that_the_system_ended_between_two_questions_is_told_of() -> None:
    with Forked([_own_pid], "rendered pages") as forked:
        (pid,) = forked.ask([None])
        os.kill(pid, signal.SIGKILL)
        while any(child.pid == pid for child in multiprocessing.active_children()):
            time.sleep(0.01)
        with pytest.raises(Refusal, match="the system ended a process that rendered pages"):
            list(forked.ask([None]))
