"""`journal receive`: what it serves, gathers, says and leaves, on loopback."""

from __future__ import annotations

import json
import socket
import threading
import time
from collections.abc import Callable
from http.client import HTTPConnection
from pathlib import Path
from typing import Any

import pytest

from journal.commands.gather import qr_lines
from journal.commands.receive import ReceiveRequest, receive_archives
from journal.commands.workspace import open_workspace
from journal.importing.receiver import INBOX
from journal.problems import Refusal
from tests.importing.archives import FIND, PINS, archive, write
from tests.importing.shore import Shore

NAME = "journal-2026-11-25-1403-K7Q4-1-of-1.zip"


@pytest.fixture
def port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def receive(shore: Shore, tmp_path: Path, port: int) -> Callable[..., int]:
    """Runs the command until it has been idle, while `meanwhile` gets the address."""

    def run(meanwhile: Callable[[str], object] = lambda address: None, **asked: Any) -> int:
        request = ReceiveRequest(
            "127.0.0.1", asked.pop("port", port), asked.pop("yes", True), None, asked.pop("idle_s", 1)
        )
        threads: list[threading.Thread] = []

        def ready(address: str) -> None:
            threads.append(threading.Thread(target=meanwhile, args=(address,), daemon=True))
            threads[-1].start()

        with open_workspace(shore.root, cache=tmp_path / "cache") as workspace:
            status = receive_archives(workspace, request, ready)
        for thread in threads:
            thread.join(10)
        return status

    return run


def send(address: str, data: bytes, name: str = NAME) -> int:
    origin, _, token = address.partition("/#")
    connection = HTTPConnection(origin.removeprefix("http://"), timeout=20)
    connection.request("PUT", f"/inbox/{name}", data, {"Origin": origin, "Journal-Token": token})
    status = connection.getresponse().status
    connection.close()
    return status


def code_of(address: str) -> str | None:
    origin, _, token = address.partition("/#")
    deadline = time.monotonic() + 30
    while time.monotonic() < deadline:
        connection = HTTPConnection(origin.removeprefix("http://"), timeout=20)
        connection.request("GET", "/status", headers={"Journal-Token": token})
        files = json.loads(connection.getresponse().read())["files"]
        connection.close()
        if files and files[0]["code"]:
            return str(files[0]["code"])
        time.sleep(0.1)
    return None


def test_what_lands_is_gathered_and_its_code_goes_back(
    receive: Callable[..., int], shore: Shore, capsys: pytest.CaptureFixture[str]
) -> None:
    data = write(shore.camera, archive(FIND, PINS)).read_bytes()
    codes: list[str | None] = []

    def phone(address: str) -> None:
        send(address, data)
        codes.append(code_of(address))

    assert receive(phone, idle_s=4) == 0
    out, err = capsys.readouterr()
    assert len(out.split()) == 2
    assert codes[0] is not None
    assert codes[0] in err
    assert f"Received {NAME}" in err
    assert list((shore.root / INBOX).iterdir()) == []


def test_what_an_earlier_run_received_is_gathered_first_and_once(
    receive: Callable[..., int], shore: Shore, capsys: pytest.CaptureFixture[str]
) -> None:
    inbox = shore.root / INBOX
    inbox.mkdir()
    write(inbox, archive(FIND)).rename(inbox / NAME)
    (inbox / ".part-0011223344556677").write_bytes(b"cut off")
    assert receive() == 0
    assert len(capsys.readouterr().out.split()) == 1
    assert list(inbox.iterdir()) == []
    assert receive() == 0
    assert capsys.readouterr().out == ""


def test_what_cannot_be_gathered_stays_in_the_inbox_and_is_said(
    receive: Callable[..., int], shore: Shore, capsys: pytest.CaptureFixture[str]
) -> None:
    assert receive(lambda address: send(address, b"no archive at all"), idle_s=4) == 1
    assert "is not taken" in capsys.readouterr().err
    assert [path.name for path in (shore.root / INBOX).iterdir()] == [NAME]


def test_a_port_that_is_taken_is_said_with_what_to_do(receive: Callable[..., int]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(Refusal, match="try another --port"):
            receive(port=taken.getsockname()[1])


def test_where_nobody_can_be_asked_yes_must_be_said(receive: Callable[..., int]) -> None:
    with pytest.raises(Refusal, match="use --yes"):
        receive(yes=False)


def test_the_code_in_the_terminal_has_the_three_finder_patterns() -> None:
    # ISO/IEC 18004, 6.3.3: a dark square of 3, a light ring and a dark ring of 7 modules, in three corners.
    finder = ["#######", "#     #", "# ### #", "# ### #", "# ### #", "#     #", "#######"]
    halves = {"█": "  ", "▀": " #", "▄": "# ", " ": "##"}  # drawn light on dark: a full block is light
    rows = [[halves[half] for half in line] for line in qr_lines("VVKV-E4M8-2KBP-N")]
    modules = ["".join(pair[at] for pair in row) for row in rows for at in (0, 1)]
    top = next(at for at, row in enumerate(modules) if "#######" in row)
    left = modules[top].index("#")
    size = modules[top].rindex("#") - left + 1
    symbol = [row[left : left + size] for row in modules[top : top + size]]
    assert size in (21, 25, 29)
    for down, right in ((0, 0), (0, size - 7), (size - 7, 0)):
        assert [row[right : right + 7] for row in symbol[down : down + 7]] == finder
