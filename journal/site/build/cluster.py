"""Photo work on other computers: a dask.distributed cluster with the same interface as local worker processes."""

from __future__ import annotations

import hashlib
import logging
import platform
import re
import tempfile
import threading
from collections import defaultdict
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass
from functools import cache, partial
from importlib import import_module
from importlib.metadata import version
from importlib.util import find_spec
from multiprocessing import current_process
from multiprocessing.util import Finalize
from pathlib import Path
from pkgutil import resolve_name
from typing import Any, Literal, NamedTuple

from PIL import features

from journal.cache.resources import source_digest
from journal.problems import Refusal
from journal.reading.photos import PhotoFacts, read_facts
from journal.reading.picture_files import Limits
from journal.site.build.photo_workers import LimitedPool, cores, digest_of, make_photo, render_photo
from journal.site.images import Rendering, write

ADDRESS = re.compile(r"(tcp|tls)://(\[[0-9a-fA-F:]+\]|[^\s/:]+):\d{1,5}")

_MOST_SENT_BYTES = 128 << 20
"""A larger photo is made on this computer: a cluster would hold it in memory two or three times."""

_SOURCES = (
    "reading/exif.py", "reading/photos.py", "reading/picture_files.py", "site/images.py", "site/build/cluster.py",
    "site/build/photo_workers.py",
)  # fmt: skip
_CONNECT_TIMEOUT_S = 15.0
_CHECK_EVERY_S = 2.0
_GIVE_UP_AFTER_S = 12.0
_MOST_TRIES = 3


@cache
def makers() -> Mapping[str, str]:
    """Everything that the bytes made from a photo depend on, by name: program, libraries, codecs, processor type."""
    found = {"this program": source_digest(*_SOURCES)[:12], "processor": platform.machine()}
    found |= {library: version(library) for library in ("pillow", "pillow-heif", "exifread")}
    for codec in ("libjpeg_turbo", "webp", "littlecms2", "avif", "libtiff"):
        found[codec] = features.version(codec) or "none"
    return found


class Sent(NamedTuple):
    """A photo as it is sent to a worker. content: None if the worker is to read the file itself."""

    path: str
    digest: str
    content: bytes | None


class Answer(NamedTuple):
    """A worker's answer: the result; the exception that the photo caused; that it does not have the file; or why its
    results could have other bytes."""

    status: Literal["done", "failed", "lacks", "differs"]
    value: Any = None


def answer(makers_here: Mapping[str, str], photo: Sent, function: Callable[..., Any], limits: Limits) -> Answer:
    """Runs on a worker: the result of `function` for a photo, in a separate process under the usual limits.
    makers_here: those of the computer that asks."""
    if makers() != makers_here:
        return Answer("differs", difference(makers(), makers_here))
    if photo.content is None:
        file = Path(photo.path)
        return _within_limits(function, file, limits) if digest_of(file) == photo.digest else Answer("lacks")
    with tempfile.TemporaryDirectory(prefix="journal-") as folder:
        file = Path(folder) / "photo"
        file.write_bytes(photo.content)
        return _within_limits(function, file, limits)


def _within_limits(function: Callable[..., Any], file: Path, limits: Limits) -> Answer:
    future = _pool(limits, function, file)
    error = future.exception()
    if error is None:
        return Answer("done", future.result())
    if isinstance(error, Exception):
        return Answer("failed", error)
    raise error


_pools: dict[Limits, LimitedPool] = {}
_pools_lock = threading.Lock()


def _pool(limits: Limits, function: Callable[..., Any], file: Path) -> Future[Any]:
    """Hands a task to this worker's own processes, as many as it has threads, begun with the first photo."""
    threads = import_module("distributed").get_worker().state.nthreads
    with _pools_lock:
        if limits not in _pools:
            current_process().daemon = False  # a nanny's worker is one, and such may have no processes of their own
            _pools[limits] = LimitedPool(threads, limits)
            # Before its processes are waited for, which `atexit` would come behind in a nanny's worker.
            Finalize(None, _pools[limits].end, kwargs={"at_once": True}, exitpriority=1)
        return _pools[limits].submit(function, file, limits)


def difference(there: Mapping[str, str], here: Mapping[str, str]) -> str:
    """How a worker differs from this computer: `pillow 11.0.0, here 13.0.0`; empty if it does not."""
    for name, mine in here.items():
        theirs = there.get(name, "none")
        if theirs != mine:
            return f"another version of {name}" if name == "this program" else f"{name} {theirs}, here {mine}"
    return ""


@dataclass(slots=True, eq=False)
class _Order:
    """One call that waits for its result; how often the cluster answered without one; which workers may take it now."""

    function: Callable[..., Any]
    args: tuple[Any, ...]
    future: Future[Any]
    tries: int = 0
    workers: frozenset[str] = frozenset()

    @property
    def limits(self) -> Limits:
        return next(one for one in self.args if isinstance(one, Limits))

    @property
    def file(self) -> Path:
        return next(one for one in self.args if isinstance(one, Path))


class Cluster:
    """The workers of a cluster as an executor of photo work; connected to when the first photo comes. A worker whose
    results could have other bytes gets no work. What the cluster does not finish is done on this computer. As a context
    manager, ends what it started."""

    def __init__(self, address: str, notice: Callable[[str], None]) -> None:
        """address: of the scheduler, like tcp://10.0.0.5:8786. notice: is called with one line about what the cluster
        lacks. Raises Refusal for a malformed address, and if the extra is not installed."""
        if not ADDRESS.fullmatch(address):
            raise Refusal(f"{address} is not the address of a cluster; write it like tcp://10.0.0.5:8786")
        if find_spec("distributed") is None:
            raise Refusal(
                "--workers needs the extra `distributed`, which is not installed; run: "
                'python -m pip install "field-fruiting-journal[distributed]", or leave out --workers'
            )
        self._address = address
        self._notice = notice
        self._client: Any = None
        self._lock = threading.RLock()
        self._ended = threading.Event()
        self._is_gone = False
        self._sends = False  # whether some worker lacked a file, so that every file is sent
        self._seen: set[str] = set()
        self._usable: dict[str, int] = {}
        self._waiting: dict[Any, _Order] = {}
        self._own: LimitedPool | None = None

    def __enter__(self) -> Cluster:
        return self

    def __exit__(self, *_: object) -> None:
        self._ended.set()
        with self._lock:
            self._waiting.clear()
        if self._client is not None:
            _close(self._client)
        if self._own is not None:
            self._own.end(at_once=True)

    @property
    def workers(self) -> int:
        """How many photos are worked on at a time. Raises Refusal if the cluster cannot be used."""
        self._connect()
        return cores() if self._is_gone else max(1, sum(self._usable.values()))

    def submit(self, function: Callable[..., Any], /, *args: Any) -> Future[Any]:
        """As `Executor` has it. Raises Refusal where the cluster cannot be used from the first."""
        self._connect()
        order = _Order(function, args, Future())
        self._send_out(order)
        return order.future

    def _connect(self) -> None:
        if self._client is not None:
            return
        options = {"timeout": _CONNECT_TIMEOUT_S, "set_as_default": False}
        connect = partial(_quiet_distributed().Client, self._address, name="journal", **options)
        made = Future[Any]()  # in a thread, since it waits for ever for what takes a connection and never answers
        threading.Thread(target=_settle, args=(made, connect), daemon=True).start()
        try:
            client = made.result(2 * _CONNECT_TIMEOUT_S)
        except (OSError, ValueError) as error:
            raise Refusal(
                f"there is no cluster at {self._address}; start one there (dask scheduler), or leave out --workers"
            ) from error
        reasons = self._check_workers(client, client.nthreads())
        if not self._usable:
            _close(client)
            why = next(iter(reasons), "it has no workers; start some (dask worker)")
            raise Refusal(f"the cluster at {self._address} cannot be used: {why}")
        for reason in reasons:
            self._notice(f"Left out of the photo work: {reason}.")
        self._client = client
        threading.Thread(target=self._watch, name="cluster", daemon=True).start()

    def _check_workers(self, client: Any, threads: Mapping[str, int]) -> list[str]:
        """Checks which workers can be used; a line for each reason why some cannot."""
        answers = _makers_of(client, sorted(threads)) if threads else {}
        why: dict[str, list[str]] = defaultdict(list)
        for address, found in answers.items():
            self._seen.add(address)
            if isinstance(found, BaseException):
                why[_why_unusable(found)].append(address)
            elif reason := difference(found, makers()):
                why[reason].append(address)
            else:
                self._usable[address] = threads[address]
        return [
            f"{', '.join(addresses[:3])}{f' and {len(addresses) - 3:,} more' if len(addresses) > 3 else ''} "
            f"({reason}); install the same versions there"
            for reason, addresses in why.items()
        ]

    def _watch(self) -> None:
        """Checks new workers, and whether a usable one is left."""
        alone_s = 0.0
        while not self._ended.wait(_CHECK_EVERY_S) and not self._is_gone:
            try:
                self._update_workers(self._client.nthreads())
                is_alone = not self._usable
            except Exception:
                is_alone = True
            alone_s = alone_s + _CHECK_EVERY_S if is_alone else 0.0
            if alone_s >= _GIVE_UP_AFTER_S:
                self._give_up()

    def _update_workers(self, threads: Mapping[str, int]) -> None:
        """Adds new workers, removes those that left, and reassigns the work that only those could do."""
        self._seen &= threads.keys()
        self._usable = {address: count for address, count in self._usable.items() if address in threads}
        new = {address: count for address, count in threads.items() if address not in self._seen}
        for reason in self._check_workers(self._client, new):
            self._notice(f"Left out of the photo work: {reason}.")
        if not self._usable:
            return
        with self._lock:
            stranded = {key: order for key, order in self._waiting.items() if not order.workers & threads.keys()}
            for key in stranded:
                del self._waiting[key]
        for order in stranded.values():
            self._send_out(order)

    def _give_up(self) -> None:
        """From now on everything is done on this computer, including what waits for the cluster."""
        with self._lock:
            if self._is_gone or self._ended.is_set():
                return
            self._is_gone = True
            waiting = list(self._waiting.values())
            self._waiting.clear()
        self._notice(f"The cluster at {self._address} is gone; the rest of the photos are done on this computer.")
        for order in waiting:
            self._do_here(order)

    def _send_out(self, order: _Order) -> None:
        order.workers = frozenset(self._usable)
        is_for_here = self._is_gone or not order.workers or order.tries >= _MOST_TRIES
        photo = None if is_for_here else self._sent(order.file)
        if photo is None:
            self._do_here(order)
            return
        try:  # a worker without this program would crash on being sent its functions
            asked = self._client.submit(
                answer, makers(), photo, _asked_for(order), order.limits, pure=False, workers=sorted(order.workers)
            )
        except Exception:
            self._give_up()
            self._do_here(order)
            return
        with self._lock:
            self._waiting[asked.key] = order
        asked.add_done_callback(self._answered)

    def _sent(self, file: Path) -> Sent | None:
        """The order that a worker gets for a photo; None if this computer is to make it."""
        try:
            if not file.is_file() or file.stat().st_size > _MOST_SENT_BYTES:
                return None
            if not self._sends:
                return Sent(str(file.absolute()), digest_of(file), None)
            content = file.read_bytes()
        except OSError:
            return None
        return Sent(str(file.absolute()), hashlib.sha256(content).hexdigest(), content)

    def _answered(self, asked: Any) -> None:
        """Called, in a separate thread, when the cluster has finished or lost an order."""
        with self._lock:
            order = self._waiting.pop(asked.key, None)
        if order is None:
            return
        try:
            got = asked.result()
        except BaseException:  # a fault of the cluster: exceptions caused by a photo are in the answer
            if self._client.status != "running":
                self._give_up()
            order.tries = _MOST_TRIES
            self._send_out(order)
            return
        if got.status in ("lacks", "differs"):
            self._sends = self._sends or got.status == "lacks"
            order.tries += 1
            self._send_out(order)
            return
        if got.status == "failed":
            order.future.set_exception(got.value)
        else:
            _settle(order.future, partial(_outcome, order, got.value))  # which fails where the disk refuses

    def _do_here(self, order: _Order) -> None:
        with self._lock:
            if self._ended.is_set():
                return
            if self._own is None:
                self._own = LimitedPool(cores(), order.limits)
            future = self._own.submit(order.function, *order.args)
        future.add_done_callback(lambda done: _settle(order.future, done.result))


def _settle(future: Future[Any], make: Callable[[], Any]) -> None:
    """Gives a future what `make` returns or raises."""
    try:
        future.set_result(make())
    except Exception as error:
        future.set_exception(error)


def _asked_for(order: _Order) -> Callable[[Path, Limits], Any]:
    """The function that a worker calls for an order; it does not write into the folder of the pictures."""
    if order.function is not make_photo:
        reader: Callable[[Path, Limits], Any] = order.args[0]
        return reader
    _, folder, _ = order.args
    return read_facts if folder is None else render_photo


def _outcome(order: _Order, value: Any) -> Any:
    """The result of the order from a worker's answer; the pictures are written here."""
    if isinstance(value, PhotoFacts):
        return value, None
    facts, rendering = value
    return facts, write(rendering, facts.digest, order.args[1]) if isinstance(rendering, Rendering) else None


def _makers_of(client: Any, workers: list[str]) -> Mapping[str, Mapping[str, str] | BaseException]:
    """What `makers` gives on each of these workers, or why it cannot be called there. A worker that gets a function it
    cannot import crashes, so the first call passes the function's name as text."""
    name = f"{makers.__module__}:{makers.__name__}"
    found: dict[str, Any] = client.run(resolve_name, name, workers=workers, on_error="return")
    have = [address for address, got in found.items() if not isinstance(got, BaseException)]
    return found | (client.run(makers, workers=have, on_error="return") if have else {})


def _why_unusable(error: BaseException) -> str:
    """What is missing on a worker that cannot report its versions."""
    if isinstance(error, ModuleNotFoundError):
        return f"without {'this program' if error.name == 'journal' else error.name or 'a library'}"
    if isinstance(error, ImportError | AttributeError):
        return "another version of this program"
    return f"it does not answer: {type(error).__name__}"


def _quiet_distributed() -> Any:
    """The library, configured to print nothing on the terminal and not to warn that a photo is a large graph."""
    distributed = import_module("distributed")
    import_module("dask").config.set({"distributed.admin.large-graph-warning-threshold": "1 GiB"})
    for name in list(logging.root.manager.loggerDict):
        if name.partition(".")[0] in ("distributed", "tornado", "asyncio"):
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    return distributed


def _close(client: Any) -> None:
    with suppress(Exception):
        client.close(timeout=2)
