"""Pools of Pebble's worker processes that answer every task, whenever a worker ends."""

from __future__ import annotations

import multiprocessing
import signal
import threading
import time
from collections import deque
from collections.abc import Callable
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from queue import Empty
from typing import Any

from pebble import CONSTS, ProcessPool
from pebble.pool.process import PoolManager

from journal.ctrl_c import ctrl_c_later

CONSTS.sleep_unit = 0.02
"""How often, in seconds, a pool checks whether it is to end or has lost a worker. With its default, each end took 0.1
s."""


def fresh_pool(workers: int, begin: Callable[..., None], *args: Any, preload: str) -> ProcessPool:
    """A pool whose workers start with the first task. begin: is called with `args` in each. preload: the module that
    the process has loaded from which workers are forked, where they are."""
    way = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    context = multiprocessing.get_context(way)
    if way == "forkserver":
        context.set_forkserver_preload([preload])
        _begin_fork_server()
    pool = ProcessPool(max_workers=workers, initializer=begin, initargs=args, context=context)
    pool._pool_manager = _LosesNothing(pool._context, context)
    return pool


def abort_queued(pool: ProcessPool) -> None:
    """Answers, with BrokenProcessPool, tasks that a lost pool still had to hand out."""
    manager = pool._pool_manager
    assert isinstance(manager, _LosesNothing)
    manager.abort_queued()


class _LosesNothing(PoolManager):
    """Every task is answered, whenever a worker ends.

    - A worker is taken for lost only once all that it sent was read. Pebble reads that in another thread than the one
      that sees a worker end; where the reading came later, nobody knew which task the worker had taken, and that task
      was waited for until its time was up (https://github.com/noxdafox/pebble/issues/153).
    - A worker that ended while it held the lock that all share would keep the others waiting without end, and their
      time would never be up: the pool is then lost.
    - When a pool is lost, so are the tasks that come to it meanwhile; Pebble would leave those unanswered."""

    worker_manager: Any

    def __init__(self, *args: Any) -> None:
        super().__init__(*args)
        self._ended: deque[tuple[int, int]] = deque()
        self._in_doubt_since: float | None = None

    def start(self) -> None:
        """A worker that Ctrl-C came before would be ended by nobody, and would print that what it loads is gone."""
        with ctrl_c_later():
            super().start()  # type: ignore[no-untyped-call]

    def handle_worker_expiration(self, expiration: tuple[int, int]) -> None:
        self._ended.append(expiration)
        self._in_doubt_since = self._in_doubt_since or time.monotonic()

    def process_next_message(self, timeout: float) -> None:
        """In the thread that reads. What had ended before the pipe was found empty has nothing left to say."""
        ended = len(self._ended)
        super().process_next_message(timeout)
        with suppress(OSError):  # the pipe was closed: the pool ends
            channel = self.worker_manager.pool_channel
            if ended and channel and not channel.poll(0):
                for _ in range(ended):
                    super().handle_worker_expiration(self._ended.popleft())

    def update_workers(self) -> None:
        """In the thread that sees workers end. One holds the lock only while it takes a task or sends a result."""
        super().update_workers()  # type: ignore[no-untyped-call]
        if self._in_doubt_since is None:
            return
        with self.worker_manager.workers_channel.lock(block=False) as is_free:
            if is_free:
                self._in_doubt_since = None
            elif time.monotonic() - self._in_doubt_since > _LOCK_S:
                raise BrokenProcessPool("A worker ended while it held the lock of all workers.")

    def schedule(self, task: Any) -> None:
        """In the thread that hands out tasks."""
        super().schedule(task)
        if not self.context.alive:
            self.task_manager.tasks_abort(_lost())

    def handle_broken_pool(self, error: BrokenProcessPool) -> None:
        """In the thread that finds the pool lost."""
        super().handle_broken_pool(error)
        self.abort_queued()

    def abort_queued(self) -> None:
        """Answers tasks that nobody will hand out any more."""
        queue = self.context.task_queue
        with suppress(Empty):
            while True:
                task = queue.get_nowait()
                if task is not None:
                    self.task_manager.register(task)
                    self.task_manager.task_problem(task.id, _lost())
        queue.put(None)  # ends the thread that hands out tasks

    def stop(self) -> None:
        """Workers first: one that is still starting would print that what it loads is gone."""
        self.worker_manager.force_stop_workers()
        self.worker_manager.close_channels()


_LOCK_S = 3


def _lost() -> BrokenProcessPool:
    return BrokenProcessPool("The pool was lost.")


def _begin_fork_server() -> None:
    """Starts the process from which workers are forked so that it ignores Ctrl-C from the start. A terminal sends
    Ctrl-C to every process, and this one would end with a traceback while it loads."""
    from multiprocessing import forkserver  # not on every system

    if threading.current_thread() is not threading.main_thread():
        forkserver.ensure_running()
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        forkserver.ensure_running()
    finally:
        signal.signal(signal.SIGINT, before or signal.SIG_DFL)
