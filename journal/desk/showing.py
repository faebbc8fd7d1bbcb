"""A built site served to this computer alone, and a folder watched for changes."""

from __future__ import annotations

import http
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from journal.reading.folder import Folder, scan
from journal.refusal import Refusal
from journal.site.freezing import MEDIA_TYPES

LOOPBACK = "127.0.0.1"
USUAL_PORT = 8460
"""One port for every run: a browser keeps what it holds of a site under its address, port included."""

LOOK_EVERY_S = 1.0

_OWN_NAMES = frozenset({"127.0.0.1", "localhost"})
_PLAIN_TYPES = ("text/html", "text/css", "text/javascript", "text/plain")


class _SiteHandler(SimpleHTTPRequestHandler):
    """Answers with the files of one site, as they are at this moment."""

    protocol_version = "HTTP/1.1"
    server_version = "journal"
    sys_version = ""
    timeout = 30
    extensions_map = {  # noqa: RUF012 - the standard library's own way to set them
        "": "application/octet-stream",
        **{suffix: f"{kind}; charset=utf-8" if kind in _PLAIN_TYPES else kind for suffix, kind in MEDIA_TYPES.items()},
    }

    def parse_request(self) -> bool:
        """Refuses a request that does not name this computer: another page's script may have led it here."""
        if not super().parse_request():
            return False
        host = (self.headers.get("Host") or "").rpartition(":")[0] or self.headers.get("Host") or ""
        if host.lower() not in _OWN_NAMES:
            self.send_error(http.HTTPStatus.MISDIRECTED_REQUEST, "only asked for by its own name")
            return False
        # A page rebuilt within the second would pass for unchanged.
        del self.headers["If-Modified-Since"]
        return True

    def end_headers(self) -> None:
        self.send_header("Cache-Control", "no-cache")
        self.send_header("X-Content-Type-Options", "nosniff")
        super().end_headers()

    def list_directory(self, path: Any) -> None:
        self.send_error(http.HTTPStatus.NOT_FOUND)

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """The site's own 404 where it has one."""
        page = Path(self.directory) / "404.html"
        if code != http.HTTPStatus.NOT_FOUND or not page.is_file():
            super().send_error(code, message, explain)
            return
        body = page.read_bytes()
        self.send_response(code)
        self.send_header("Content-Type", "text/html; charset=utf-8")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body)

    def log_message(self, format: str, *args: Any) -> None:
        return


class _QuietServer(ThreadingHTTPServer):
    """A reader who leaves halfway is no fault to tell of."""

    daemon_threads = True

    def handle_error(self, request: Any, client_address: Any) -> None:
        return


@contextmanager
def served(site: Path, port: int | None) -> Iterator[str]:
    """Serves a site on loopback from a thread and gives its address.

    port: 0 for any free one; None for the usual one, or any other where that is taken. Raises Refusal where the port
    asked for cannot be had.
    """
    server = _server(site, USUAL_PORT if port is None else port, or_any=port is None)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True)
    thread.start()
    try:
        yield f"http://{LOOPBACK}:{server.server_address[1]}/"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def _server(site: Path, port: int, or_any: bool) -> ThreadingHTTPServer:
    handler = partial(_SiteHandler, directory=str(site))
    try:
        return _QuietServer((LOOPBACK, port), handler)
    except OSError as error:
        if or_any:
            return _QuietServer((LOOPBACK, 0), handler)
        said = (error.strerror or "unknown fault").lower()
        raise Refusal(f"port {port} cannot be had ({said}); name another with --port, or 0 for any") from error


def look(root: Path) -> Folder:
    """How the journal folder looks now; two looks are equal where nothing that a journal reads has changed."""
    return scan(root)


def watch(
    root: Path,
    built_from: Folder,
    rebuild: Callable[[], object],
    wait: Callable[[float], object] = time.sleep,
    looking: Callable[[Path], Folder] = look,
) -> None:
    """Calls `rebuild` whenever the folder has changed and then stayed the same for one more look; never returns.

    built_from: the look before the first build began. wait: passes the time between looks, given in seconds.
    """
    built, before = built_from, built_from
    while True:
        began_s = time.monotonic()
        now = looking(root)
        if now != built and now == before:
            built = now
            rebuild()
        before = now
        # A folder that takes long to look through is looked through less often.
        wait(max(LOOK_EVERY_S, 10 * (time.monotonic() - began_s)))
