"""Makes photos in worker processes, so that no picture, however damaged or large, can end the build."""

from __future__ import annotations

import hashlib
import os
import sys
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Future, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol, TypeVar

from pebble import ProcessExpired, ProcessPool
from PIL import Image

from journal.reading import photos
from journal.reading.exif import Fault
from journal.reading.photos import PhotoFacts
from journal.reading.picture_files import Limits
from journal.site.build.worker_pool import abort_queued, fresh_pool
from journal.site.images import Rendering, published_from_cache, render, write
from journal.site.plan import Published

T = TypeVar("T")

PhotoResult = tuple[PhotoFacts, Published | None]

_MOST_RESTARTS = 3


class Executor(Protocol):
    """Where photo work is done: processes here (`LimitedPool`) or other computers (`cluster.Cluster`)."""

    @property
    def workers(self) -> int:
        """How many tasks run at a time."""

    def submit(self, function: Callable[..., Any], /, *args: Any) -> Future[Any]:
        """Runs a function elsewhere; it and its arguments can be pickled, and one of these is the photo's path."""


def photo_work(
    rows: Sequence[tuple[str, Path]],
    folder: Path | None,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
    executor: Executor | None = None,
    limits: Limits | None = None,
    quickly: bool = False,
) -> Iterator[tuple[str, PhotoFacts, Published | None]]:
    """Each row with its facts and, where a folder is given, its published sizes in it; in the order they are done.
    rows: (path in the journal, file). folder: where the published files go; None: facts only, nothing is written.
    workers: processes; as many as there are cores where None. progress: is told (rows done, rows in all). executor:
    does the work where one is given, and keeps the limits on time and memory. quickly: only what `read_quickly` gives,
    and rows are not compared with each other; only without a folder. A photo that two rows share is made once. A
    picture that breaks a limit, or its worker, gets a fault. Raises OSError of `folder`."""
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
    limits = limits or Limits()
    jobs = [_Job(file, [path]) for path, file in rows] if quickly else _jobs(rows)
    if not jobs:
        return
    workers = max(1, min(executor.workers if executor else workers or cores(), len(jobs)))
    done = 0
    with _Workers(executor, workers, limits, quickly) as pool:
        for job, (facts, published) in _outcomes(jobs, folder, pool, limits):
            for path in job.paths:
                done += 1
                if progress:
                    progress(done, len(rows))
                yield path, facts, published


def run_on_files(
    task: Callable[[Path, Limits], T],
    files: Sequence[Path],
    executor: Executor | None = None,
) -> Iterator[tuple[Path, T | None]]:
    """The result of `task` for each file in a worker process, in the order they are done; None if the file broke a
    limit or its worker. task: can be pickled; raises nothing for a fault of the picture."""
    limits = Limits()
    workers = max(1, min(cores(), len(files)))
    waiting = [(file, 0) for file in reversed(files)]
    running: dict[Future[T], tuple[Path, int]] = {}
    with _Workers(executor, workers, limits) as pool:
        while waiting or running:
            while waiting and len(running) < 2 * workers:
                file, restarts = waiting.pop()
                running[pool.submit(task, file, limits)] = file, restarts
            for future in wait(running, return_when=FIRST_COMPLETED).done:
                file, restarts = running.pop(future)
                error = future.exception()
                if isinstance(error, BrokenExecutor) and restarts < _MOST_RESTARTS:
                    waiting.append((file, restarts + 1))
                elif error is None:
                    yield file, future.result()
                elif isinstance(error, TimeoutError | MemoryError | ProcessExpired | BrokenExecutor):
                    yield file, None
                else:
                    raise error


def cores() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


@dataclass(slots=True)
class _Job:
    """One file content to be processed, and every row that has it. fault: the limit that the first try broke; the
    second try then asks for no pixels. passing: whether that was the time limit, or somebody killed the worker.
    restarts: how often its pool was lost."""

    file: Path
    paths: list[str]
    fault: Fault | None = None
    passing: bool = False
    restarts: int = 0


def _jobs(rows: Sequence[tuple[str, Path]]) -> list[_Job]:
    """The rows, grouped by content; only files of equal size are opened to compare them."""
    by_size: dict[int, list[tuple[str, Path]]] = defaultdict(list)
    jobs: list[_Job] = []
    for path, file in rows:
        if file.is_file():
            by_size[file.stat().st_size].append((path, file))
        else:
            jobs.append(_Job(file, [path]))
    for same_size in by_size.values():
        by_content: dict[str, _Job] = {}
        for path, file in same_size:
            content = digest_of(file) if len(same_size) > 1 else ""
            by_content.setdefault(content or path, _Job(file, [])).paths.append(path)
        jobs.extend(by_content.values())
    return jobs


def digest_of(file: Path) -> str:
    """SHA-256, hex; empty if the file cannot be read."""
    try:
        with file.open("rb") as opened:
            return hashlib.file_digest(opened, "sha256").hexdigest()
    except OSError:
        return ""


def _outcomes(
    jobs: list[_Job], folder: Path | None, pool: _Workers, limits: Limits
) -> Iterator[tuple[_Job, PhotoResult]]:
    """Every job with its outcome; only a few are submitted at a time, so that memory does not grow."""
    waiting = jobs[::-1]
    running: dict[Future[PhotoResult], _Job] = {}
    while waiting or running:
        while waiting and len(running) < 2 * pool.workers:
            job = waiting.pop()
            running[pool.begin(job, folder)] = job
        for future in wait(running, return_when=FIRST_COMPLETED).done:
            job = running.pop(future)
            outcome = _outcome(job, future, limits)
            if outcome is None:
                waiting.append(job)
            else:
                yield job, outcome


def _outcome(job: _Job, future: Future[PhotoResult], limits: Limits) -> PhotoResult | None:
    """The outcome of a job; None if it has to be tried again."""
    error = future.exception()
    if error is None:
        facts, published = future.result()
        return (facts.without_pixels(job.fault, job.passing), None) if job.fault else (facts, published)
    if isinstance(error, BrokenExecutor) and job.restarts < _MOST_RESTARTS:
        job.restarts += 1
        return None
    if isinstance(error, TimeoutError):
        fault = photos.time_fault(limits)
    elif isinstance(error, MemoryError):
        fault = photos.memory_fault(limits)
    elif isinstance(error, ProcessExpired | BrokenExecutor):
        fault = photos.crash_fault(limits)
    else:
        raise error  # no picture's fault
    if job.fault is None:
        job.fault, job.passing = fault, isinstance(error, TimeoutError) or _was_killed(error)
        return None
    # Not even its header can be read.
    return PhotoFacts(digest_of(job.file), faults=(job.fault,), passing=job.passing), None


def _was_killed(error: BaseException) -> bool:
    """Whether its worker was killed by something else: a system out of memory, say. No decoder ends in this way."""
    return isinstance(error, ProcessExpired) and error.exitcode == -9  # SIGKILL, which Windows does not have


class _Workers:
    """Where jobs are done: a given executor, or our own processes, started when the first job comes."""

    def __init__(self, executor: Executor | None, workers: int, limits: Limits, quickly: bool = False) -> None:
        self.workers = workers
        self._quickly = quickly
        self._executor = executor
        self._limits = limits
        self._own: LimitedPool | None = None

    def __enter__(self) -> _Workers:
        return self

    def __exit__(self, error: type[BaseException] | None, *_: object) -> None:
        if self._own is not None:
            self._own.end(at_once=error is not None)

    def begin(self, job: _Job, folder: Path | None) -> Future[PhotoResult]:
        if job.fault is not None:
            return self.submit(_facts_alone, photos.read_header, job.file, self._limits)
        if self._quickly:
            return self.submit(_facts_alone, photos.read_quickly, job.file, self._limits)
        return self.submit(make_photo, job.file, folder, self._limits)

    def submit(self, function: Callable[..., Any], /, *args: Any) -> Future[Any]:
        if self._executor is None and self._own is None:
            self._own = LimitedPool(self.workers, self._limits)
        executor = self._executor or self._own
        assert executor is not None
        return executor.submit(function, *args)


class LimitedPool:
    """Worker processes that are stopped when a task takes too long and refused memory beyond the limit. Each is a fresh
    process ("spawn", or forked off a fresh one), never a copy of this one with its threads."""

    def __init__(self, workers: int, limits: Limits) -> None:
        self.workers = workers
        self._limits = limits
        self._pool: Any = self._fresh_pool()

    def _fresh_pool(self) -> ProcessPool:
        return fresh_pool(self.workers, _limit_memory, self._limits.memory_mib, preload=__name__)

    def submit(self, function: Callable[..., Any], /, *args: Any) -> Future[Any]:
        if not self._pool.active:  # a worker was lost while it held no task, and the pool gave up
            self.end(at_once=True)
            self._pool = self._fresh_pool()
        future: Future[Any] = Future()
        try:
            future = self._pool.schedule(function, args=args, timeout=self._limits.seconds)
        except RuntimeError as error:  # lost since
            future.set_exception(BrokenProcessPool(str(error)))
        if not self._pool.active:  # lost before it had this task, perhaps
            abort_queued(self._pool)
        return future

    def end(self, at_once: bool) -> None:
        """Ends the workers; at once: also those that are busy."""
        if at_once:
            self._pool.stop()
        else:
            self._pool.close()
        self._pool.join()


def _limit_memory(memory_mib: int) -> None:
    """Limits this process to its current address space plus `memory_mib`; if the system does not support that (macOS,
    Windows), it is ended once it has taken more. If nothing tells how much it has taken, only the number of pixels is
    limited."""
    try:
        import resource

        pages = int(Path("/proc/self/statm").read_text().split()[0])
        most = pages * resource.getpagesize() + memory_mib * 2**20
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
    except (ImportError, OSError, ValueError):
        try:
            most_bytes = _peak_bytes() + memory_mib * 2**20
        except ImportError:
            return
        threading.Thread(target=_end_beyond, args=[most_bytes], daemon=True).start()


_CHECK_EVERY_S = 0.02


def _end_beyond(most_bytes: int) -> None:
    """Ends this process when it has held more memory, as the system ends one: the picture then counts as one that
    crashed its decoder. A decoder lets other threads run."""
    while _peak_bytes() <= most_bytes:
        time.sleep(_CHECK_EVERY_S)
    os._exit(1)


def _peak_bytes() -> int:
    """The most memory that this process has held so far, or holds now if the system tells no more. Source:
    getrusage(2): KiB on Linux, bytes on macOS; psutil's `memory_info`: on Windows `peak_wset`. Raises ImportError if
    neither is there."""
    try:
        import resource
    except ImportError:
        import psutil

        memory = psutil.Process().memory_info()
        return int(getattr(memory, "peak_wset", memory.rss))
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)


def make_photo(file: Path, folder: Path | None, limits: Limits) -> PhotoResult:
    """One picture's facts and, where a folder is given, its published sizes in it; raises OSError of that folder."""
    if folder is None:
        return photos.read_facts(file, limits), None

    def published_or_rendered(image: Image.Image, digest: str) -> Published | Rendering:
        return published_from_cache(digest, folder) or render(image)

    facts, made = photos.read_photo(file, published_or_rendered, limits)
    return facts, write(made, facts.digest, folder) if isinstance(made, Rendering) else made


def render_photo(file: Path, limits: Limits) -> tuple[PhotoFacts, Rendering | None]:
    """One picture's facts and its published sizes, not yet written to a folder."""
    return photos.read_photo(file, lambda image, _: render(image), limits)


def _facts_alone(read: Callable[[Path, Limits], PhotoFacts], file: Path, limits: Limits) -> PhotoResult:
    return read(file, limits), None
