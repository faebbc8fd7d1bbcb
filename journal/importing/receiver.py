"""The receiver: a small HTTP server on the home network that takes archives from a phone into one folder, and nothing
else. It serves an upload page, and one request changes anything: PUT of an archive, with the token.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
import re
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from http import HTTPStatus
from pathlib import Path
from queue import Full, SimpleQueue
from typing import Any
from urllib.parse import parse_qs

from cheroot.server import HTTPConnection
from cheroot.wsgi import Gateway_10, Server

from journal.problems import Refusal

INBOX = ".received"
"""The folder of a journal that archives are received into; the journal's reader passes hidden folders over."""

_COPY = r"(?: ?\(\d{1,3}\))?"
_NAME = re.compile(
    rf"journal-\d{{4}}-\d\d-\d\d-\d{{4}}(\d\d)?-[A-Z0-9]{{4}}-\d{{1,3}}-of-\d{{1,3}}{_COPY}\.zip({_COPY}\.locked)?"
)
"""As a phone names an archive (with no seconds: an older version), and a browser the second file of one name."""
_CHUNK_BYTES = 1 << 16
_HEADERS = (
    (
        "Content-Security-Policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src data:; base-uri 'none'; "
        "form-action 'none'; frame-ancestors 'none'",
    ),
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("Cache-Control", "no-store"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
)


@dataclass(frozen=True, slots=True)
class UploadLimits:
    """What one run takes. spare_bytes: what must stay free on the disk. headers_s, chunk_s: how long a request's head,
    and each 64 KiB of its body, may take. drain_bytes, drain_s: how much of what is refused is still read, and for how
    long, so that the sender hears why."""

    file_bytes: int = 270_000_000
    files: int = 200
    spare_bytes: int = 200_000_000
    wrong_tokens: int = 5
    headers_s: float = 10.0
    chunk_s: float = 20.0
    drain_bytes: int = 16 << 20
    drain_s: float = 2.0
    uploads: int = 2


@dataclass(slots=True)
class Landed:
    """An archive that is whole in the inbox. sha256: of its bytes, hex. code: its receipt code, once it is gathered.

    left: whether it was to be gathered and was not, so that it is still in the inbox.
    """

    name: str
    path: Path
    bytes: int
    sha256: str
    code: str | None = None
    left: bool = False


class _Refused(Exception):
    def __init__(self, status: HTTPStatus, words: str) -> None:
        super().__init__(words)
        self.status, self.words = status, words


@dataclass
class Receiver:
    """The application (WSGI, PEP 3333). origin: `http://192.168.1.7:8470`, which Host and Origin must name.

    page: path -> (media type, bytes) of the upload page. landed: archives as they land, in turn. at_s: when something
    was last sent, by `time.monotonic`. stopped: why it takes nothing more, None while it does.
    """

    inbox: Path
    origin: str
    token: str
    page: Mapping[str, tuple[str, bytes]]
    limits: UploadLimits = UploadLimits()
    landed: SimpleQueue[Landed] = field(default_factory=SimpleQueue)
    files: list[Landed] = field(default_factory=list)
    at_s: float = field(default_factory=time.monotonic)
    stopped: str | None = None
    uploading: int = 0
    _wrong: int = 0
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def __call__(self, environ: Mapping[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        try:
            status, kind, body = self._answer(environ)
        except _Refused as refused:
            status, kind, body = refused.status, "text/plain; charset=utf-8", f"{refused.words}\n".encode()
        except OSError:
            status, kind, body = HTTPStatus.INSUFFICIENT_STORAGE, "text/plain; charset=utf-8", b"The disk refused it.\n"
        rows = [("Content-Type", kind), ("Content-Length", str(len(body))), ("Connection", "close"), *_HEADERS]
        start_response(f"{status.value} {status.phrase}", rows)
        return [body]

    def _answer(self, environ: Mapping[str, Any]) -> tuple[HTTPStatus, str, bytes]:
        if environ.get("HTTP_HOST") != self.origin.removeprefix("http://"):
            raise _Refused(HTTPStatus.MISDIRECTED_REQUEST, "Only requests to this address itself are answered.")
        if environ.get("HTTP_ORIGIN") not in (None, self.origin):
            raise _Refused(HTTPStatus.FORBIDDEN, "Pages of other sites cannot send anything here.")
        if self.stopped:
            raise _Refused(HTTPStatus.SERVICE_UNAVAILABLE, self.stopped)
        method, path = environ["REQUEST_METHOD"], environ.get("PATH_INFO", "")
        if method == "GET" and path in self.page:
            return HTTPStatus.OK, *self.page[path]
        if method == "GET" and path == "/status":
            self._check_token(environ)
            return HTTPStatus.OK, "application/json", json.dumps(self._state()).encode()
        if method == "GET" and path.startswith("/offer/"):
            self._check_token(environ)
            bytes_asked = parse_qs(environ.get("QUERY_STRING", "")).get("bytes", [""])[0]
            with self._turn():
                self._check(path[7:], bytes_asked)
            return HTTPStatus.OK, "application/json", b"{}"
        if method == "PUT" and path.startswith("/inbox/"):
            self._check_token(environ)
            return HTTPStatus.CREATED, "application/json", json.dumps(self._take(path[7:], environ)).encode()
        raise _Refused(HTTPStatus.NOT_FOUND, "There is nothing at this address.")

    def _state(self) -> dict[str, Any]:
        rows = [{"name": one.name, "sha256": one.sha256, "code": one.code, "left": one.left} for one in self.files]
        return {"files": rows}

    def _check_token(self, environ: Mapping[str, Any]) -> None:
        given = environ.get("HTTP_JOURNAL_TOKEN", "")
        if hmac.compare_digest(given.encode("utf-8", "replace"), self.token.encode()):
            return
        with self._lock:
            self._wrong += 1
            if self._wrong >= self.limits.wrong_tokens:
                self.stopped = "Stopped after too many requests with a wrong token; start it again for a new one."
        raise _Refused(HTTPStatus.FORBIDDEN, "The address on the screen has a token, which was missing or wrong.")

    def _take(self, name: str, environ: Mapping[str, Any]) -> dict[str, Any]:
        """Streams an archive into the inbox, and says what it got once that is on disk."""
        if environ.get("HTTP_ORIGIN") != self.origin:
            raise _Refused(HTTPStatus.FORBIDDEN, "Only the page of this address can send files.")
        with self._turn():
            length = self._check(name, environ.get("CONTENT_LENGTH", ""))
            self.inbox.mkdir(exist_ok=True)
            landed = self._written(name, length, environ)
        self._list(landed)
        return {"name": landed.name, "bytes": landed.bytes, "sha256": landed.sha256}

    def _check(self, name: str, length: str) -> int:
        """The length of an archive that may be sent now. A page asks before it sends, since a browser that is refused
        in the middle of sending may not hear why."""
        if not _NAME.fullmatch(name):
            raise _Refused(HTTPStatus.BAD_REQUEST, "This is not the name of an archive that the outbox exported.")
        is_number = length.isascii() and length.isdigit() and len(length) < 20
        if not is_number or not 0 < int(length) <= self.limits.file_bytes:
            raise _Refused(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "An archive has at most 270 MB, and says its length.")
        disk = self.inbox if self.inbox.exists() else self.inbox.parent
        if shutil.disk_usage(disk).free < int(length) + self.limits.spare_bytes:
            raise _Refused(HTTPStatus.INSUFFICIENT_STORAGE, "The computer's disk is too full for this file.")
        return int(length)

    def _list(self, landed: Landed) -> None:
        """To be gathered: once, and again where it was sent again because it was left."""
        with self._lock:
            if landed in self.files and not landed.left:
                return
            if landed not in self.files:
                self.files.append(landed)
            landed.left = False
            self.landed.put(landed)

    @contextmanager
    def _turn(self) -> Iterator[None]:
        with self._lock:
            if self.uploading >= self.limits.uploads or len(self.files) >= self.limits.files:
                raise _Refused(HTTPStatus.SERVICE_UNAVAILABLE, "Other files are being received; send this one again.")
            self.uploading += 1
        try:
            yield
        finally:
            with self._lock:
                self.uploading -= 1
            self.at_s = time.monotonic()

    def _written(self, name: str, length: int, environ: Mapping[str, Any]) -> Landed:
        part = self.inbox / f".part-{os.urandom(8).hex()}"
        digest = hashlib.sha256()
        try:
            with part.open("xb") as file:
                left = length
                while left:
                    environ["journal.deadline"](self.limits.chunk_s)
                    chunk = environ["wsgi.input"].read(min(left, _CHUNK_BYTES))
                    if not chunk:
                        raise _Refused(HTTPStatus.BAD_REQUEST, "The file was cut off; send it again.")
                    file.write(chunk)
                    digest.update(chunk)
                    left -= len(chunk)
                file.flush()
                os.fsync(file.fileno())
            return self._placed(part, Landed(name, self.inbox / name, length, digest.hexdigest()))
        finally:
            part.unlink(missing_ok=True)

    def _placed(self, part: Path, landed: Landed) -> Landed:
        """Under its own name, never over another file: the same file again is the same, another goes beside it."""
        with self._lock:
            for path in (landed.path, landed.path.with_name(f"journal-{landed.sha256[:16]}-{landed.name[8:]}")):
                known = next((one for one in self.files if one.path == path and one.sha256 == landed.sha256), None)
                if known and (known.code or path.exists()):
                    return known
                if not path.exists():
                    part.rename(path)
                    landed.path = path
                    return landed
                if hashlib.sha256(path.read_bytes()).hexdigest() == landed.sha256:
                    landed.path = path
                    return landed
        raise _Refused(HTTPStatus.CONFLICT, "A file of this name is there already.")


class _Connection(HTTPConnection):
    """A connection that is cut when its deadline passes, however slowly bytes still come."""

    def communicate(self) -> bool:
        self.deadline_s = time.monotonic() + self.server.limits.headers_s
        self.server.open_now.add(self)
        self.unread = 0
        try:
            goes_on = bool(super().communicate())  # type: ignore[no-untyped-call]
            if self.unread:
                self._drain()
            return goes_on
        finally:
            self.server.open_now.discard(self)

    def _drain(self) -> None:
        """Reads on what a refused sender still sends: closed with bytes unread, a connection is reset (RFC 9293, 3.6),
        and the answer that is on its way is lost."""
        limits = self.server.limits
        end_s, left = time.monotonic() + limits.drain_s, min(self.unread, limits.drain_bytes)
        self.deadline_s = end_s + 1
        with suppress(OSError):
            self.socket.shutdown(socket.SHUT_WR)
            while left > 0 and (wait_s := end_s - time.monotonic()) > 0:
                self.socket.settimeout(wait_s)
                chunk = self.socket.recv(min(left, _CHUNK_BYTES))
                if not chunk:
                    return
                left -= len(chunk)


class _Gateway(Gateway_10):
    def respond(self) -> None:
        super().respond()
        self.req.conn.unread = getattr(self.req.rfile, "remaining", 0)

    def get_environ(self) -> dict[str, Any]:  # type: ignore[override]
        def deadline(seconds: float) -> None:
            self.req.conn.deadline_s = time.monotonic() + seconds

        self.req.close_connection = True  # what was sent behind a request is not read
        environ: dict[str, Any] = super().get_environ()  # type: ignore[no-untyped-call]
        return environ | {"journal.deadline": deadline}


class ReceiverServer(Server):
    """Serves a receiver on one address of this computer, with a bound on everything that a client can hold."""

    ConnectionClass = _Connection

    def __init__(self, receiver: Receiver, address: tuple[str, int]) -> None:
        self.limits = receiver.limits
        self.open_now: set[Any] = set()
        super().__init__(
            address, receiver, numthreads=12, max=12, request_queue_size=32, timeout=10, shutdown_timeout=2,
            accepted_queue_size=64, accepted_queue_timeout=0, server_name="journal",
        )  # fmt: skip
        self.gateway = _Gateway
        self.max_request_header_size = 16 << 10
        self.max_request_body_size = 0  # the receiver checks it itself, and says so in words
        self._ended = threading.Event()

    def process_conn(self, conn: HTTPConnection) -> None:
        """Puts a connection in the queue, or ends it where too many wait already."""
        try:
            self.requests.put(conn)
        except Full:
            conn.close()

    def error_log(self, msg: str = "", level: int = 20, traceback: bool = False) -> None:
        """Nothing that a client sends reaches the terminal."""

    @contextmanager
    def running(self) -> Iterator[None]:
        """Serves in threads of its own until the block ends. Raises Refusal where the address cannot be had."""
        _check_free(self.bind_addr)
        self.prepare()
        threads = [threading.Thread(target=run, daemon=True) for run in (self.serve, self._cut_slow)]
        for thread in threads:
            thread.start()
        try:
            yield
        finally:
            self._ended.set()
            self.stop()

    def _cut_slow(self) -> None:
        while not self._ended.wait(0.5):
            now = time.monotonic()
            for connection in [one for one in list(self.open_now) if one.deadline_s < now]:
                with suppress(OSError):
                    connection.socket.shutdown(socket.SHUT_RDWR)


def _check_free(address: tuple[str, int]) -> None:
    """Raises Refusal where an address cannot be listened on."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(address)
        except OSError as error:
            raise Refusal(
                f"{address[0]}, port {address[1]}, cannot be used ({(error.strerror or 'no reason given').lower()}); "
                "try another --port"
            ) from error


def home_address() -> str | None:
    """This computer's own address on the network it would send to; None where it has none. Sends nothing."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # RFC 5737, TEST-NET-1: no host has it, and UDP connects without a packet
        except OSError:
            return None
        found: str = probe.getsockname()[0]
        return found
