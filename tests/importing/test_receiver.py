"""The receiver under attack, on loopback: it goes on serving its owner or stops, and nothing is lost or doubled."""

from __future__ import annotations

import errno
import hashlib
import json
import shutil
import socket
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from http.client import HTTPConnection
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from journal.importing.receiver import Receiver, ReceiverServer, UploadLimits

NAME = "journal-2026-11-25-1403-K7Q4-1-of-1.zip"
DATA = bytes(range(256)) * 1000
TOKEN = "t0k3n-of-22-characters"
PAGE = {"/": ("text/html; charset=utf-8", b"<h1>Send</h1>")}


@dataclass
class Served:
    receiver: Receiver
    port: int

    @property
    def host(self) -> str:
        return f"127.0.0.1:{self.port}"

    @property
    def names(self) -> list[str]:
        inbox = self.receiver.inbox
        return sorted(path.name for path in inbox.iterdir()) if inbox.is_dir() else []

    def ask(
        self, method: str, path: str, body: bytes | None = None, headers: dict[str, str] | None = None
    ) -> tuple[int, bytes]:
        status, answer, _ = self.ask_all(method, path, body, headers)
        return status, answer

    def ask_all(
        self, method: str, path: str, body: bytes | None, headers: dict[str, str] | None
    ) -> tuple[int, bytes, Any]:
        connection = HTTPConnection("127.0.0.1", self.port, timeout=20)
        connection.request(method, path, body, {"Host": self.host, **(headers or {})})
        answer = connection.getresponse()
        try:
            return answer.status, answer.read(), answer.headers
        finally:
            connection.close()

    def put(self, name: str = NAME, body: bytes = DATA, **headers: str) -> tuple[int, bytes]:
        given = {"Journal-Token": TOKEN, "Origin": f"http://{self.host}"}
        given |= {key.replace("_", "-"): value for key, value in headers.items()}
        return self.ask("PUT", f"/inbox/{name}", body, {key: value for key, value in given.items() if value})

    def raw(self, sent: bytes, wait_s: float = 5) -> bytes:
        """What comes back for bytes sent as they are, until the server ends the connection."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=wait_s) as one:
            one.sendall(sent)
            got = b""
            try:
                while chunk := one.recv(65536):
                    got += chunk
            except (TimeoutError, ConnectionResetError):
                pass
            return got

    def serves_its_owner(self) -> None:
        status, answer = self.put()
        assert status == 201
        assert json.loads(answer)["sha256"] == hashlib.sha256(DATA).hexdigest()
        assert (self.receiver.inbox / NAME).read_bytes() == DATA
        assert not [name for name in self.names if name.startswith(".")]


@dataclass
class Serving:
    folder: Path
    running: list[Any] = field(default_factory=list)

    def __call__(self, **limits: Any) -> Served:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        receiver = Receiver(self.folder / "inbox", f"http://127.0.0.1:{port}", TOKEN, PAGE, UploadLimits(**limits))
        context = ReceiverServer(receiver, ("127.0.0.1", port)).running()
        context.__enter__()
        self.running.append(context)
        return Served(receiver, port)


@pytest.fixture
def serve(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Served]]:
    monkeypatch.setattr(ReceiverServer, "expiration_interval", 0.05)  # it ends without waiting half a second
    serving = Serving(tmp_path)
    yield serving
    for context in serving.running:
        context.__exit__(None, None, None)


def test_an_archive_lands_whole_and_its_digest_goes_back(serve: Callable[..., Served]) -> None:
    served = serve()
    served.serves_its_owner()
    landed = served.receiver.landed.get_nowait()
    assert (landed.name, landed.bytes, landed.path) == (NAME, len(DATA), served.receiver.inbox / NAME)


def test_the_page_is_served_and_may_run_nothing_but_its_own_files(serve: Callable[..., Served]) -> None:
    status, body, headers = serve().ask_all("GET", "/", None, None)
    assert (status, body) == (200, b"<h1>Send</h1>")
    assert headers["Content-Security-Policy"].startswith("default-src 'none'; script-src 'self'")
    assert (headers["X-Content-Type-Options"], headers["Cache-Control"]) == ("nosniff", "no-store")


def test_the_status_tells_codes_to_who_has_the_token(serve: Callable[..., Served]) -> None:
    served = serve()
    served.put()
    served.receiver.files[0].code = "XXXX-XXXX-XXXX-X"
    assert served.ask("GET", "/status")[0] == 403
    _, answer = served.ask("GET", "/status", headers={"Journal-Token": TOKEN})
    assert json.loads(answer)["files"][0]["code"] == "XXXX-XXXX-XXXX-X"


# -- who may send ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "localhost:{port}", "127.0.0.1:1", ""])
def test_another_host_name_is_refused_as_after_dns_rebinding(serve: Callable[..., Served], host: str) -> None:
    served = serve()
    named = host.format(port=served.port)
    for method, path in (("GET", "/"), ("PUT", f"/inbox/{NAME}")):
        status, _ = served.ask(method, path, DATA if method == "PUT" else None, {
            "Host": named, "Journal-Token": TOKEN, "Origin": f"http://{named}",
        })  # fmt: skip
        assert status in (400, 421)
    assert served.names == []


@pytest.mark.parametrize("origin", ["", "null", "http://evil.example", "https://127.0.0.1:{port}", "http://127.0.0.1"])
def test_another_sites_page_can_send_nothing(serve: Callable[..., Served], origin: str) -> None:
    served = serve()
    assert served.put(Origin=origin.format(port=served.port))[0] == 403
    assert served.names == []


def test_five_wrong_tokens_stop_it_for_good(serve: Callable[..., Served]) -> None:
    served = serve()
    wrong = ["", "x", TOKEN[:-1], TOKEN.upper(), TOKEN + "x"]
    assert [served.put(Journal_Token=token)[0] for token in wrong] == [403] * 5
    assert served.put()[0] == 503
    assert served.receiver.stopped is not None
    assert served.names == []


@pytest.mark.parametrize("method", ["POST", "DELETE", "PATCH", "OPTIONS", "MOVE"])
def test_no_other_request_changes_anything(serve: Callable[..., Served], method: str) -> None:
    served = serve()
    served.put()
    headers = {"Journal-Token": TOKEN, "Origin": f"http://{served.host}"}
    assert served.ask(method, f"/inbox/{NAME}", b"x", headers)[0] in (404, 405, 501)
    assert served.names == [NAME]
    assert served.ask("GET", f"/inbox/{NAME}", None, headers)[0] == 404


# -- what is sent --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    [
        "../journal.toml", "..%2Fjournal.toml", "%2e%2e/x.zip", "/etc/passwd", f"x/{NAME}", f"{NAME}/..", "a.zip",
        f".{NAME}", f"{NAME}%00.txt", NAME.replace("K7Q4", "k7q4"), f"{NAME}\\x", f"{NAME}%0A", "", "CON",
    ],
)  # fmt: skip
def test_a_name_that_is_no_archives_is_refused(serve: Callable[..., Served], name: str, tmp_path: Path) -> None:
    served = serve()
    assert served.put(name)[0] in (400, 404)
    assert sorted(path.name for path in tmp_path.rglob("*")) in ([], ["inbox"])


def test_the_same_file_again_is_one_and_another_of_its_name_goes_beside(serve: Callable[..., Served]) -> None:
    served = serve()
    assert [served.put()[0], served.put()[0], served.put(body=DATA[:-1])[0]] == [201, 201, 201]
    assert len(served.receiver.files) == 2
    assert len(served.names) == 2
    assert (served.receiver.inbox / NAME).read_bytes() == DATA
    assert all(name.startswith("journal-") for name in served.names)


@pytest.mark.parametrize(
    "name",
    [
        NAME, f"{NAME}.locked", NAME.replace("1403", "140322"), NAME.replace(".zip", " (1).zip"),
        NAME.replace(".zip", "(12).zip"), f"{NAME} (1).locked",
    ],
)  # fmt: skip
def test_an_archive_is_received_as_a_phone_or_a_browser_names_it(serve: Callable[..., Served], name: str) -> None:
    served = serve()
    assert served.put(quote(name))[0] == 201
    assert served.names == [name]


def test_a_file_that_is_too_large_is_refused_before_any_of_it_is_read(serve: Callable[..., Served]) -> None:
    served = serve(file_bytes=1000)
    sent = f"PUT /inbox/{NAME} HTTP/1.1\r\nHost: {served.host}\r\nOrigin: http://{served.host}\r\n"
    sent += f"Journal-Token: {TOKEN}\r\nContent-Length: 1001\r\n\r\n"
    assert served.raw(sent.encode()).startswith(b"HTTP/1.1 413")
    assert served.names == []


REFUSED = [
    ({"Journal-Token": "wrong"}, len(DATA), 403, b"The address on the screen has a token"),
    ({}, 1001, 413, b"An archive has at most 270 MB"),
    ({}, 1000, 507, b"The computer's disk is too full"),
]


@pytest.mark.parametrize(("headers", "length", "status", "words"), REFUSED)
def test_who_is_refused_hears_why_before_a_file_is_sent_and_while(
    serve: Callable[..., Served], monkeypatch: pytest.MonkeyPatch,
    headers: dict[str, str], length: int, status: int, words: bytes,
) -> None:  # fmt: skip
    served = serve(file_bytes=1000)
    usage = shutil.disk_usage("/")
    monkeypatch.setattr(shutil, "disk_usage", lambda path: usage._replace(free=100_000_000))
    given = {"Journal-Token": TOKEN, **headers}
    found, answer = served.ask("GET", f"/offer/{NAME}?bytes={length}", None, given)
    assert (found, answer[: len(words)]) == (status, words)

    body = bytes(length if status == 507 else 8_000_000)  # more than the system holds for a reader that does not read
    head = [f"PUT /inbox/{NAME} HTTP/1.1", f"Host: {served.host}", f"Origin: http://{served.host}"]
    head += [f"Content-Length: {len(body)}", *(f"{key}: {value}" for key, value in given.items()), "", ""]
    answer = served.raw("\r\n".join(head).encode() + body)
    assert answer.startswith(f"HTTP/1.1 {status}".encode())
    assert words in answer
    assert served.names == []


def test_one_that_may_send_is_told_so_and_nothing_is_kept_of_the_question(serve: Callable[..., Served]) -> None:
    served = serve()
    assert served.ask("GET", f"/offer/{NAME}?bytes={len(DATA)}", None, {"Journal-Token": TOKEN}) == (200, b"{}")
    assert served.ask("GET", f"/offer/{NAME}", None, {"Journal-Token": TOKEN})[0] == 413
    assert served.ask("GET", "/offer/../x.zip?bytes=1", None, {"Journal-Token": TOKEN})[0] == 400
    assert (served.receiver.inbox.exists(), served.receiver.uploading) == (False, 0)
    served.serves_its_owner()


@pytest.mark.parametrize("length", ["-1", "1e3", "", "0", "١٢", "9" * 30, "9" * 5000])
def test_a_length_that_is_not_a_number_is_refused(serve: Callable[..., Served], length: str) -> None:
    served = serve()
    sent = f"PUT /inbox/{NAME} HTTP/1.1\r\nHost: {served.host}\r\nOrigin: http://{served.host}\r\n"
    sent += f"Journal-Token: {TOKEN}\r\nContent-Length: {length}\r\n\r\nx"
    answer = served.raw(sent.encode(), wait_s=3)
    assert not answer.startswith(b"HTTP/1.1 2")
    assert not [name for name in served.names if name.startswith("journal")]
    served.serves_its_owner()


def test_a_body_that_ends_early_leaves_nothing(serve: Callable[..., Served]) -> None:
    served = serve(chunk_s=1)
    sent = f"PUT /inbox/{NAME} HTTP/1.1\r\nHost: {served.host}\r\nOrigin: http://{served.host}\r\n"
    sent += f"Journal-Token: {TOKEN}\r\nContent-Length: {len(DATA)}\r\n\r\n"
    with socket.create_connection(("127.0.0.1", served.port)) as one:
        one.sendall(sent.encode() + DATA[:1000])
    deadline = time.monotonic() + 10
    while served.names and time.monotonic() < deadline:
        time.sleep(0.05)
    assert served.names == []
    served.serves_its_owner()


def test_a_full_disk_is_said_before_and_while_a_file_is_written(
    serve: Callable[..., Served], monkeypatch: pytest.MonkeyPatch
) -> None:
    served = serve()
    usage = shutil.disk_usage("/")
    with monkeypatch.context() as patched:
        patched.setattr(shutil, "disk_usage", lambda path: usage._replace(free=100_000_000))
        assert served.put()[0] == 507
    with monkeypatch.context() as patched:
        patched.setattr("os.fsync", lambda fd: (_ for _ in ()).throw(OSError(errno.ENOSPC, "full")))
        assert served.put()[0] == 507
    assert served.names == []
    served.serves_its_owner()


# -- the connection ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "sent",
    [
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03", b"GET\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", b"\x00" * 100_000,
        b"GET / HTTP/1.1\r\n\r\n", b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"GET " + b"/" * 100_000 + b" HTTP/1.1\r\n\r\n", b"GET / HTTP/1.1\r\nX: " + b"y" * 100_000 + b"\r\n\r\n",
        b"PUT /inbox/x HTTP/1.1\r\nTransfer-Encoding: chunked\r\n\r\nZZ\r\n", b"\r\n" * 1000,
    ],
)  # fmt: skip
def test_what_is_not_a_request_changes_nothing(serve: Callable[..., Served], sent: bytes) -> None:
    served = serve(headers_s=1)
    assert not served.raw(sent, wait_s=4).startswith(b"HTTP/1.1 2")
    assert served.names == []
    served.serves_its_owner()


def test_a_chunked_body_says_no_length_and_is_refused(serve: Callable[..., Served]) -> None:
    served = serve()
    sent = f"PUT /inbox/{NAME} HTTP/1.1\r\nHost: {served.host}\r\nOrigin: http://{served.host}\r\n"
    sent += f"Journal-Token: {TOKEN}\r\nTransfer-Encoding: chunked\r\n\r\n5\r\nhello\r\n0\r\n\r\n"
    assert served.raw(sent.encode()).startswith(b"HTTP/1.1 4")
    assert served.names == []


def test_of_pipelined_requests_only_the_first_is_answered(serve: Callable[..., Served]) -> None:
    served = serve()
    one = f"GET / HTTP/1.1\r\nHost: {served.host}\r\n\r\n".encode()
    assert served.raw(one * 20).count(b"HTTP/1.1 200") == 1
    served.serves_its_owner()


@pytest.mark.parametrize("part", ["head", "body"])
def test_slow_senders_are_cut_and_the_owner_is_served(serve: Callable[..., Served], part: str) -> None:
    served = serve(headers_s=0.5, chunk_s=0.5)
    head = f"PUT /inbox/{NAME} HTTP/1.1\r\nHost: {served.host}\r\nOrigin: http://{served.host}\r\n"
    head += f"Journal-Token: {TOKEN}\r\nContent-Length: {len(DATA)}\r\n\r\n"
    sent = head.encode()[: 30 if part == "head" else None]
    slow = [socket.create_connection(("127.0.0.1", served.port)) for _ in range(12)]
    for one in slow:
        one.sendall(sent)
    deadline = time.monotonic() + 30
    cut = 0
    while cut < len(slow) and time.monotonic() < deadline:
        cut = 0
        for one in slow:
            try:
                one.send(b"x")
            except OSError:
                cut += 1
        time.sleep(0.2)
    for one in slow:
        one.close()
    assert cut == len(slow)
    served.serves_its_owner()


def test_ten_thousand_connections_do_not_keep_the_owner_out(serve: Callable[..., Served]) -> None:
    served = serve(headers_s=0.5)
    held: list[socket.socket] = []
    for _ in range(10_000):
        one = socket.socket()
        one.setblocking(False)
        one.connect_ex(("127.0.0.1", served.port))  # nothing waits for an answer
        held.append(one)
        if len(held) >= 200:
            for old in held[:100]:
                old.close()
            del held[:100]
    deadline = time.monotonic() + 60
    status = 0
    while status != 201 and time.monotonic() < deadline:
        try:
            status, _ = served.put()
        except OSError:
            time.sleep(0.2)
    for one in held:
        one.close()
    assert status == 201
    served.serves_its_owner()


def test_a_file_that_was_left_is_gathered_again_once_it_is_sent_again(serve: Callable[..., Served]) -> None:
    served = serve()
    served.put()
    served.receiver.landed.get_nowait()
    served.put()
    assert served.receiver.landed.empty()
    served.receiver.files[0].left = True
    served.put()
    assert served.receiver.landed.get_nowait().left is False
    (served.receiver.inbox / NAME).unlink()
    served.serves_its_owner()


def test_wrong_tokens_are_counted_over_all_connections(serve: Callable[..., Served]) -> None:
    served = serve(wrong_tokens=5)
    with ThreadPoolExecutor(12) as threads:
        asked = [threads.submit(served.ask, "GET", "/status", None, {"Journal-Token": f"{n}"}) for n in range(40)]
    statuses = [one.result()[0] for one in asked]
    assert set(statuses) == {403, 503}
    assert statuses.count(403) < 5 + 12  # those that were on their way when the fifth was counted
    assert served.put()[0] == 503


def test_two_that_send_one_file_at_once_are_one(serve: Callable[..., Served]) -> None:
    served = serve()
    with ThreadPoolExecutor(2) as threads:
        asked = [threads.submit(served.put) for _ in range(2)]
    assert [one.result()[0] for one in asked] == [201, 201]
    assert (len(served.receiver.files), served.receiver.landed.qsize(), served.names) == (1, 1, [NAME])
