"""Processes forked from this one, each with all that this one has in memory, which answer what they are asked."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from multiprocessing.connection import Connection, wait
from typing import Any

from journal.ctrl_c import end_when_terminated
from journal.problems import Refusal
from journal.unexpected import entry_worked_on, name_page, page_worked_on, with_traceback_of

MOST_PROCESSES = 8

Answer = Callable[[Any], Iterator[Any]]
"""Gives the answers to one question, in a process of its own; question and answers can be pickled. None is no answer,
but a moment at which to see whether anybody is left who asked."""

_LOOK_EVERY_S = 0.5


class WorkFailed(RuntimeError):
    """What a process did has failed, by a fault of the program. entry: the path of what it worked on, if that is known;
    the exception that would tell does not leave that process. Its traceback and its page come with this one."""

    def __init__(self, words: str, entry: str | None = None) -> None:
        super().__init__(words)
        self.entry = entry


def fitting_processes(pieces: int, least: int) -> int:
    """How many processes so many pieces of work are worth, each with at least so many of them; 1 where processes cannot
    be forked, or not safely (other threads run)."""
    if sys.platform != "linux" or threading.active_count() > 1:
        return 1
    return max(1, min(len(os.sched_getaffinity(0)), MOST_PROCESSES, pieces // least))


class Forked:
    """One process for each of these answers; they end with the context. doing: what they do, as in `a process that
    rendered pages`."""

    def __init__(self, answers: Sequence[Answer], doing: str) -> None:
        self._answers, self._doing = answers, doing
        self._workers: dict[Connection, Any] = {}

    def __enter__(self) -> Forked:
        fork = multiprocessing.get_context("fork")
        gc.freeze()  # else each process looks for garbage in all that it has got, and so makes a copy of it
        try:
            for answer in self._answers:
                end, far_end = fork.Pipe()
                not_its_own = [*self._workers, end]
                worker = fork.Process(target=_work, args=(answer, far_end, not_its_own, os.getpid()), daemon=True)
                worker.start()
                far_end.close()
                self._workers[end] = worker
        except BaseException:
            self.__exit__()
            raise
        finally:
            gc.unfreeze()
        return self

    def __exit__(self, *_: object) -> None:
        for worker in self._workers.values():
            worker.terminate()
        for end, worker in self._workers.items():
            worker.join()
            end.close()
        self._workers = {}

    def ask(self, questions: Sequence[Any]) -> Iterator[Any]:
        """Asks each process its question, at once, and gives the answers of all as they come. Raises what a process
        did if the disk or memory failed, WorkFailed if the program did, and Refusal if the system ended a process."""
        for end, question in zip(self._workers, questions, strict=True):
            try:
                end.send(question)
            except (BrokenPipeError, ConnectionResetError):
                raise self._ended_early(self._workers[end]) from None
        return self._answered()

    def _answered(self) -> Iterator[Any]:
        waiting = list(self._workers)
        while waiting:
            for end in wait(waiting):
                assert isinstance(end, Connection)
                try:
                    is_answer, sent = end.recv()
                except (EOFError, ConnectionResetError):
                    raise self._ended_early(self._workers[end]) from None
                if is_answer:
                    yield sent
                elif sent is None:
                    waiting.remove(end)
                else:
                    raise sent

    def _ended_early(self, worker: Any) -> Exception:
        worker.join()
        if worker.exitcode == -signal.SIGKILL:
            return Refusal(
                f"the system ended a process that {self._doing}, as it does where memory runs out; the site is as it "
                "was. Close other programs and try again"
            )
        return WorkFailed(f"a process that {self._doing} ended before its work was done")


def _work(answer: Answer, far_end: Connection, not_its_own: Sequence[Connection], parent: int) -> None:
    """Answers until there is nobody left to ask: (True, an answer), and (False, None) after the last to a question; or
    at the end (False, what failed). not_its_own: the ends of the process that asks, which are open in this one too.
    Nothing is looked for garbage: nearly all that such a process makes it keeps, and it ends soon."""
    end_when_terminated()
    gc.disable()
    for end in not_its_own:
        end.close()  # else an answer that nobody reads any more would be waited for and never fail
    try:
        while True:
            while not far_end.poll(_LOOK_EVERY_S):
                if os.getppid() != parent:
                    return
            for sent in answer(far_end.recv()):
                if os.getppid() != parent:
                    return  # the run was killed: what is still written would only litter
                if sent is not None:
                    far_end.send((True, sent))
            far_end.send((False, None))
    except (KeyboardInterrupt, BrokenPipeError, ConnectionResetError, EOFError):
        return
    except (OSError, MemoryError) as failure:
        far_end.send((False, with_traceback_of(failure, failure)))
    except Exception as failure:
        far_end.send((False, _told_of(failure)))


def _told_of(failure: Exception) -> WorkFailed:
    words = str(failure) if isinstance(failure, WorkFailed) else f"{type(failure).__name__}: {failure}"
    told = with_traceback_of(WorkFailed(words, entry_worked_on(failure)), failure)
    if page := page_worked_on(failure):
        name_page(told, page)
    return told
