"""Pages rendered to files: Frozen-Flask over the pages that are asked for, in several processes where that pays."""

from __future__ import annotations

import gc
import hashlib
import mimetypes
import multiprocessing
import os
import signal
import sys
import threading
import traceback
import warnings
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any

from flask import Flask
from flask_frozen import Freezer, FrozenFlaskWarning, MissingURLGeneratorWarning

from journal.problems import Refusal
from journal.site.plan import Page
from journal.unexpected import ASKED_BY, trace

MEDIA_TYPES: Mapping[str, str] = {
    ".html": "text/html",
    ".css": "text/css",
    ".js": "text/javascript",
    ".json": "application/json",
    ".webmanifest": "application/manifest+json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".webp": "image/webp",
    ".txt": "text/plain",
}
"""The media type of each kind of file in a site; a system's own table of suffixes differs between computers."""

PAGES_THAT_PAY = 150
"""A further process pays from this many pages on."""

MOST_PROCESSES = 8

Rendered = tuple[str, str, int]
"""A page's path, and the SHA-256 (hex) and size in bytes of its file."""

Report = Callable[[int], None]
"""Called with how many pages are rendered so far."""


class NotFrozen(RuntimeError):
    """A page of the plan could not be rendered, or the plan and the app do not fit: a fault of the program."""


def freeze(
    app: Flask, pages: Sequence[Page], tree: Path, report: Report, processes: int | None = None
) -> list[Rendered]:
    """Renders pages into a tree and gives what was written, in the order of `pages`. A page's file must not exist in
    the tree yet; one that does (it may be the old site's own, under a second name) is unlinked first. processes: how
    many; None lets the number of pages and cores decide. Raises NotFrozen; OSError if the disk fails; MemoryError;
    Refusal if the system ended a process."""
    for page in pages:
        (tree / page.path).unlink(missing_ok=True)
    to_render = sum(page.text is None for page in pages)
    shares = _shares(pages, processes or _fitting_processes(to_render))
    rendered = _freeze_apart(app, shares, tree, report) if len(shares) > 1 else _freeze_here(app, pages, tree, report)
    by_path = {row[0]: row for row in rendered}
    if missing := [page.path for page in pages if page.path not in by_path]:
        raise NotFrozen(f"nothing was frozen for {', '.join(missing[:3])}")
    return [by_path[page.path] for page in pages]


def compare_with_plan(app: Flask, pages: Iterable[Page]) -> None:
    """Raises NotFrozen where the app and the plan do not fit. A view with no arguments must have its page; one with
    arguments may have none (a journal without finds). Every page must have a view."""
    planned = {page.endpoint for page in pages}
    rules = [rule for rule in app.url_map.iter_rules() if "GET" in (rule.methods or ())]
    if unused := sorted({rule.endpoint for rule in rules if not rule.arguments} - planned):
        raise NotFrozen(f"no page is planned for {', '.join(unused)}")
    if unknown := sorted(planned - {rule.endpoint for rule in rules}):
        raise NotFrozen(f"no view answers for {', '.join(unknown)}")


def _fitting_processes(count: int) -> int:
    """One if forking is not available or not safe (other threads run); otherwise by the number of pages."""
    if sys.platform != "linux" or threading.active_count() > 1:
        return 1
    cores = len(os.sched_getaffinity(0))
    return max(1, min(cores, MOST_PROCESSES, count // PAGES_THAT_PAY))


def _shares(pages: Sequence[Page], processes: int) -> list[Sequence[Page]]:
    """Every n-th page to each process, so that long kinds of pages are spread, and those that are finished too."""
    in_order = sorted(pages, key=lambda page: page.text is not None)
    return [share for n in range(processes) if (share := in_order[n::processes])]


def _freeze_here(app: Flask, pages: Sequence[Page], tree: Path, report: Report) -> list[Rendered]:
    rendered = []
    for row in _frozen(app, pages, tree):
        rendered.append(row)
        report(len(rendered))
    return rendered


def _freeze_apart(app: Flask, shares: Sequence[Sequence[Page]], tree: Path, report: Report) -> list[Rendered]:
    """Forks a process for each group of pages and collects what they send; ends all of them if one fails or the run is
    interrupted."""
    fork = multiprocessing.get_context("fork")
    workers, ends = [], []
    gc.freeze()  # else each process looks for garbage in all that it has got, and so makes a copy of it
    try:
        for share in shares:
            end, far_end = fork.Pipe(duplex=False)
            worker = fork.Process(target=_work, args=(app, share, tree, far_end, os.getpid()), daemon=True)
            worker.start()
            far_end.close()
            workers.append(worker)
            ends.append(end)
        return list(_gathered(dict(zip(ends, workers, strict=True)), report))
    finally:
        gc.unfreeze()
        for worker in workers:
            worker.terminate()
            worker.join()


def _gathered(workers: dict[Connection, Any], report: Report) -> Iterator[Rendered]:
    count = 0
    while workers:
        for end in wait(list(workers)):
            assert isinstance(end, Connection)
            try:
                sent = end.recv()
            except EOFError:
                raise _ended_early(workers[end]) from None
            if sent is None:
                del workers[end]
            elif isinstance(sent, str):
                raise NotFrozen(sent)
            elif isinstance(sent, OSError | MemoryError):
                raise sent
            else:
                count += 1
                report(count)
                yield sent


def _ended_early(worker: Any) -> Exception:
    worker.join()
    if worker.exitcode == -signal.SIGKILL:
        return Refusal(
            "the system ended a process that rendered pages, as it does where memory runs out; the site is as it was. "
            "Close other programs and try again"
        )
    return NotFrozen("a process that rendered pages ended before its work was done")


def _work(app: Flask, share: Sequence[Page], tree: Path, far_end: Connection, parent: int) -> None:
    """One process's part: sends each page's row, then None; or one text that says what failed."""
    try:
        for row in _frozen(app, share, tree):
            if os.getppid() != parent:
                return  # the run was killed: what is still written would only litter
            far_end.send(row)
        far_end.send(None)
    except (KeyboardInterrupt, BrokenPipeError):
        return
    except (OSError, MemoryError) as failure:
        far_end.send(failure)
    except NotFrozen as failure:
        far_end.send(_message_of(failure))


def _message_of(failure: NotFrozen) -> str:
    """The message of a failure; with its traceback if that was asked for, because the exception itself does not leave
    this process."""
    if os.environ.get(ASKED_BY) != "1":
        trace(failure)
        return str(failure)
    return "\n".join([str(failure), *traceback.format_exception(failure)])


def _frozen(app: Flask, pages: Sequence[Page], tree: Path) -> Iterator[Rendered]:
    """Each page as it is rendered and written; uses the freezer's public calls and treats its warnings as failures. A
    page that is finished is only written."""
    to_render = [page for page in pages if page.text is None]
    with _set_up(app, tree), warnings.catch_warnings():
        # The freezer's warnings are failures, except about endpoints that another process renders or that need no new
        # page.
        warnings.simplefilter("error", FrozenFlaskWarning)
        warnings.simplefilter("ignore", MissingURLGeneratorWarning)
        freezer = Freezer(app, with_static_files=False, with_no_argument_rules=False, log_url_for=False)
        freezer.register_generator(lambda: ((page.endpoint, dict(page.values)) for page in to_render))
        written = freezer.freeze_yield()
        for page in to_render:
            path = _next_path(written, page, tree)
            if path != page.path:
                raise NotFrozen(f"{page.path} was planned, and its address leads to {path}")
            data = (tree / path).read_bytes()
            yield (path, hashlib.sha256(data).hexdigest(), len(data))
        for extra in written:
            raise NotFrozen(f"{extra.path} was written and not planned")
    for page in pages:
        if page.text is not None:
            data, file = page.text.encode(), tree / page.path
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(data)
            yield (page.path, hashlib.sha256(data).hexdigest(), len(data))


def _next_path(written: Iterator[Any], page: Page, tree: Path) -> str:
    try:
        return str(next(written).path.as_posix())
    except StopIteration:
        raise NotFrozen(f"{page.path} has the address of another page") from None
    except MemoryError:
        raise
    except Exception as error:
        if isinstance(error, OSError) and error.errno is not None:  # a missing template has no error number
            error.filename = error.filename or str(tree / page.path)
            raise
        raise NotFrozen(f"{page.path} could not be rendered ({type(error).__name__}: {error})") from error


@contextmanager
def _set_up(app: Flask, tree: Path) -> Iterator[None]:
    """The freezer's settings during one run, and views whose exceptions are not hidden."""
    for suffix, media_type in MEDIA_TYPES.items():
        mimetypes.add_type(media_type, suffix)
    before = dict(app.config)
    app.config.update(
        FREEZER_DESTINATION=str(tree),
        FREEZER_RELATIVE_URLS=True,
        FREEZER_REMOVE_EXTRA_FILES=False,
        FREEZER_REDIRECT_POLICY="error",
        FREEZER_SKIP_EXISTING=False,
        PROPAGATE_EXCEPTIONS=True,
    )
    try:
        yield
    finally:
        app.config.clear()
        app.config.update(before)
