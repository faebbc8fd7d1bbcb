"""`journal show`: serves a built site to this computer only, and watches a folder for changes."""

from __future__ import annotations

import http.client
import os
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from io import BytesIO
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from watchdog.events import FileSystemEvent, FileSystemEventHandler
from watchdog.observers import Observer

from journal.cache.folders import PLAIN_NAME
from journal.commands.console import counts, problem_lines, sentence_of
from journal.commands.plain_or_locked import is_to_be_locked
from journal.commands.workspace import Workspace
from journal.problems import Problem, Refusal
from journal.reading.folder import Folder, scan
from journal.site.build.freezing import MEDIA_TYPES

LOOPBACK = "127.0.0.1"
DEFAULT_PORT = 8460
"""One port for every run: a browser stores a site's data under its address, port included."""

CHECK_EVERY_S = 1.0

_OWN_NAMES = ("127.0.0.1", "localhost")
_PLAIN_TYPES = ("text/html", "text/css", "text/javascript", "text/plain")
_READS = ("GET", "HEAD")

_FROM_HERE = frozenset({"same-origin", "none"})
"""Values of `Sec-Fetch-Site` for requests by pages of this site, and by an address typed in, a bookmark or another
program (W3C Fetch Metadata Request Headers)."""

_WITH_EVERY_ANSWER = {
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Content-Security-Policy": "frame-ancestors 'none'",
    "X-Frame-Options": "DENY",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
}
"""Any page open in the browser can send requests to this computer. The journal's pages, photos and search data load for
this site's own pages only, and the browser caches no copy of them."""


_WORKER = "/sw.js"
_AS_SHOWN = b"\nglobalThis.journalIsShown = true;\n"
"""Added to the worker of a plain site: it answers from what it saved only where this server does not answer. A locked
site's has to open what it answers with, and offers a newer version as everywhere."""

_UNLOCK_PAGE = "unlock.html"
"""Only a locked site has it."""

_SHOWN_MARK = ("Server-Timing", "shown")
"""By which a page of a plain site knows that it came from here (W3C Server Timing)."""


class _SiteHandler(SimpleHTTPRequestHandler):
    """Serves the current files of one site, to pages of that site and to its user."""

    protocol_version = "HTTP/1.1"
    server_version = "journal"
    sys_version = ""
    timeout = 30
    extensions_map = {  # noqa: RUF012 - the standard library's own way to set them
        "": "application/octet-stream",
        **{suffix: f"{kind}; charset=utf-8" if kind in _PLAIN_TYPES else kind for suffix, kind in MEDIA_TYPES.items()},
    }

    def parse_request(self) -> bool:
        """Refuses requests from another site's page, by their host name or by the browser's headers."""
        if not super().parse_request():
            return False
        if refused := self._refused():
            self.send_error(*refused)
            return False
        # A page rebuilt within the same second would count as unchanged.
        del self.headers["If-Modified-Since"]
        return True

    def _refused(self) -> tuple[http.HTTPStatus, str] | None:
        """Why a request is refused, as a status and a line; None if it is not."""
        hosts = self.headers.get_all("Host", [])
        if len(hosts) != 1:
            return http.HTTPStatus.BAD_REQUEST, "A request must name one host."  # RFC 9112, 3.2
        host = hosts[0].lower()
        if host not in own_hosts(self.connection.getsockname()[1]) or not self.path.startswith("/"):
            return http.HTTPStatus.MISDIRECTED_REQUEST, "Only requests to this server's own address are answered."
        origins = set(self.headers.get_all("Origin", []))
        if not (origins <= {f"http://{host}"} and _FROM_HERE.issuperset(self.headers.get_all("Sec-Fetch-Site", []))):
            return (
                http.HTTPStatus.FORBIDDEN,
                "Pages of other sites cannot open this site, not even by a link: type its address, or use a bookmark.",
            )
        if self.command not in _READS:
            return http.HTTPStatus.METHOD_NOT_ALLOWED, "Only GET and HEAD are allowed."
        return None

    def end_headers(self) -> None:
        for name, value in _WITH_EVERY_ANSWER.items():
            self.send_header(name, value)
        if not self._is_locked():
            self.send_header(*_SHOWN_MARK)
        super().end_headers()

    def _is_locked(self) -> bool:
        return Path(self.directory, _UNLOCK_PAGE).is_file()

    def send_head(self) -> Any:
        if urlsplit(self.path).path != _WORKER or self._is_locked():
            return super().send_head()
        try:
            script = Path(self.directory, _WORKER[1:]).read_bytes() + _AS_SHOWN
        except OSError:
            return self.send_error(http.HTTPStatus.NOT_FOUND)
        self.send_response(http.HTTPStatus.OK)
        self.send_header("Content-Type", self.extensions_map[".js"])
        self.send_header("Content-Length", str(len(script)))
        self.end_headers()
        return BytesIO(script)

    def list_directory(self, path: Any) -> None:
        self.send_error(http.HTTPStatus.NOT_FOUND)

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """The site's own 404 page if it has one, else one line of text; ends the connection, whatever else was sent."""
        page = Path(self.directory) / "404.html"
        is_own = code == http.HTTPStatus.NOT_FOUND and page.is_file()
        line = message or http.HTTPStatus(code).phrase
        body = page.read_bytes() if is_own else f"{line}\n".encode("ascii", "backslashreplace")
        self.send_response(code)
        if code == http.HTTPStatus.METHOD_NOT_ALLOWED:
            self.send_header("Allow", ", ".join(_READS))
        self.send_header("Content-Type", f"text/{'html' if is_own else 'plain'}; charset=utf-8")
        self.send_header("Content-Length", str(len(body)))
        if not is_own:
            self.send_header("Connection", "close")
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body)

    def log_message(self, format: str, *args: Any) -> None:
        return


def own_hosts(port: int) -> frozenset[str]:
    """The complete Host header, in lower case, of requests for this server's own address; browsers leave out the
    default port of http (RFC 9110, 4.2.3)."""
    with_port = {f"{name}:{port}" for name in _OWN_NAMES}
    return frozenset(with_port.union(_OWN_NAMES) if port == http.client.HTTP_PORT else with_port)


class _QuietServer(ThreadingHTTPServer):
    """Ignores clients that disconnect."""

    daemon_threads = True

    def handle_error(self, request: Any, client_address: Any) -> None:
        return


@contextmanager
def served(site: Path, port: int | None) -> Iterator[str]:
    """Serves a site on loopback from a thread and gives its address. port: 0 for any free one; None for the default
    one, or any other if that is taken. Raises Refusal if the requested port cannot be used."""
    handler = partial(_SiteHandler, directory=str(site))
    try:
        server = _QuietServer((LOOPBACK, DEFAULT_PORT if port is None else port), handler)
    except OSError as error:
        if port is not None:
            reason = (error.strerror or "unknown error").lower()
            raise Refusal(f"port {port} cannot be used ({reason}); name another with --port, or 0 for any") from error
        server = _QuietServer((LOOPBACK, 0), handler)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True)
    thread.start()
    try:
        yield f"http://{LOOPBACK}:{server.server_address[1]}/"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def watch(
    root: Path,
    built_from: Folder,
    rebuild: Callable[[Folder], object],
    wait: Callable[[float], object] = time.sleep,
    state: Callable[[Path], Folder] = scan,
) -> None:
    """Calls `rebuild` with the folder whenever it has changed and then stayed the same; never returns. built_from: its
    state before the first build began. wait: waits this many seconds, or as `changes_in` does. The folder is listed
    once if the wait says that it has settled, otherwise twice."""
    built = before = built_from
    has_settled: object = False
    while True:
        began_s = time.monotonic()
        now = state(root)
        if now != built and (has_settled or now == before):
            built = now
            rebuild(now)
        before = now
        # Scan a folder that takes long to scan less often.
        has_settled = wait(max(CHECK_EVERY_S, 10 * (time.monotonic() - began_s)))


_SETTLED_AFTER_S = 0.1


class _Changes(FileSystemEventHandler):
    """Receives the system's events about a folder."""

    def __init__(self) -> None:
        self._has_changed = threading.Event()

    def on_any_event(self, event: FileSystemEvent) -> None:
        if event.event_type not in ("opened", "closed_no_write"):
            self._has_changed.set()

    def wait(self, seconds: float) -> bool:
        """Waits this long, or until something has changed and then nothing more for a moment; True in the second
        case."""
        has_changed = self._has_changed.wait(seconds)
        while self._has_changed.is_set():
            self._has_changed.clear()
            self._has_changed.wait(_SETTLED_AFTER_S)
        return has_changed


@contextmanager
def changes_in(root: Path) -> Iterator[Callable[[float], object]]:
    """A function that waits for a change below a folder, for `watch`; if the system reports no changes (a network disk,
    too many folders), one that only waits."""
    changes, observer = _Changes(), Observer()
    try:
        observer.schedule(changes, os.fspath(root), recursive=True)
        observer.start()
    except OSError:
        yield time.sleep
        return
    try:
        yield changes.wait
    finally:
        observer.stop()
        observer.join()


def show_site(workspace: Workspace, port: int | None) -> None:
    """Builds the site, serves it, and builds it again after each change, until it is stopped. port: as of `served`."""
    with workspace.building_again():
        _show(workspace, port)


def _show(workspace: Workspace, port: int | None) -> None:
    before = scan(workspace.root)
    built = workspace.build()
    with served(workspace.site, port) as address:
        problems = ProblemLister()
        workspace.output.notice(*problems.lines(built.problems), counts(built))
        workspace.output.notice(f"Showing {workspace.site} at {address} until you press Ctrl-C")
        workspace.plan_ahead()
        with changes_in(workspace.root) as wait:
            rebuild = partial(_built_again, workspace, problems)
            watch(workspace.root, before, lambda folder: workspace.output.notice(*rebuild(folder)), wait)


_LOCKED_NOW = (
    "The journal is to be locked now, and what is shown is not: nothing is built again. End this with Ctrl-C, and run "
    "`journal build`: a locked site then takes its place."
)


def _built_again(workspace: Workspace, problems: ProblemLister, folder: Folder) -> Sequence[str]:
    """Builds after a change, but no plain site outside the cache where the journal was locked meanwhile; gives lines
    about it. folder: in which the change was found."""
    if workspace.keys is None and workspace.site != workspace.cache_folder / PLAIN_NAME:
        try:
            if is_to_be_locked(workspace.root):
                return (_LOCKED_NOW,)
        except Refusal as refusal:
            return (sentence_of(refusal),)
    return workspace.build_again(problems.lines, folder)


MOST_LISTED = 20
"""How many problems are listed at once; `journal check` lists them all."""


class ProblemLister:
    """Lists a journal's problems with file and line; after later builds only new ones."""

    def __init__(self) -> None:
        self._listed: frozenset[Problem] = frozenset()

    def lines(self, problems: Sequence[Problem]) -> list[str]:
        new = [problem for problem in problems if problem not in self._listed]
        self._listed = frozenset(problems)
        more = f"and {len(new) - MOST_LISTED:,} more; `journal check` lists them all"
        return [*problem_lines(new[:MOST_LISTED]), *([more] if len(new) > MOST_LISTED else [])]
