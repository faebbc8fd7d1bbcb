"""`journal receive`, from the file that lands to the inbox that is empty again, and stopped anywhere between."""

from __future__ import annotations

import contextlib
import errno
import json
import re
import shutil
import socket
import threading
from collections.abc import Callable, Iterator
from functools import partial
from http.client import HTTPConnection
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import click
import pytest

from journal.commands import gather as gathering
from journal.commands import receive as receiving
from journal.commands.gather import GatherRequest, gather_archives, qr_lines
from journal.commands.receive import ReceiveRequest, receive_archives
from journal.commands.workspace import open_workspace
from journal.importing.gather_writing import GatherDisk
from journal.importing.receiver import INBOX, ReceiverServer
from journal.problems import Refusal
from tests.importing.archives import ALL, FIND, PINS, archive, archive_in_parts, locked
from tests.importing.shore import Shore

NAME = "journal-2026-11-25-1403-K7Q4-1-of-1.zip"
Receive = Callable[..., int]


class Killed(BaseException):
    """The process ends here: nothing that it would still have done is done."""


class Phone:
    """The upload page, as the address that is shown opens it."""

    def __init__(self, address: str) -> None:
        parts = urlsplit(address)
        self.host, self.token = parts.netloc, parts.fragment

    def ask(self, method: str, path: str, body: bytes | None = None) -> tuple[int, bytes]:
        connection = HTTPConnection(self.host, timeout=10)
        connection.request(
            method, path, body, {"Origin": f"http://{self.host}", "Host": self.host, "Journal-Token": self.token}
        )
        answer = connection.getresponse()
        try:
            return answer.status, answer.read()
        finally:
            connection.close()

    def send(self, body: bytes, name: str = NAME) -> int:
        return self.ask("PUT", f"/inbox/{name}", body)[0]

    def told(self) -> list[dict[str, Any]]:
        rows: list[dict[str, Any]] = json.loads(self.ask("GET", "/status")[1])["files"]
        return rows


@pytest.fixture
def port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def receive(shore: Shore, port: int, monkeypatch: pytest.MonkeyPatch) -> Receive:
    """Receives until nothing more comes; called with what the phone does once the address is shown."""
    monkeypatch.setattr(receiving, "_LOOK_EVERY_S", 0.02)
    monkeypatch.setattr(receiving, "_QUIET_S", 0.05)
    monkeypatch.setattr(ReceiverServer, "expiration_interval", 0.05)  # it ends without waiting half a second

    def run(phone: Callable[[Phone], object] = lambda _: None, yes: bool = True, **more: Any) -> int:
        asked = ReceiveRequest("127.0.0.1", port, yes, **{"idle_s": 0.2, **more})
        with open_workspace(shore.root) as workspace:
            return receive_archives(workspace, asked, lambda address: phone(Phone(address)))

    return run


def inbox(shore: Shore) -> list[str]:
    folder = shore.root / INBOX
    return sorted(path.name for path in folder.iterdir()) if folder.is_dir() else []


def said(capsys: pytest.CaptureFixture[str]) -> str:
    return capsys.readouterr().err


def entries(shore: Shore) -> dict[str, bytes]:
    return {path: data for path, data in shore.visible().items() if not path.startswith("receipts/")}


def test_what_lands_is_gathered_and_its_code_goes_back(shore: Shore, receive: Receive) -> None:
    codes: list[Any] = []

    def phone(page: Phone) -> None:
        assert page.send(archive(*ALL)) == 201
        codes.extend(page.told())

    assert receive(phone) == 0
    assert [(row["name"], row["code"]) for row in codes] == [(NAME, None)]
    assert inbox(shore) == []
    assert len(list((shore.root / "receipts").iterdir())) == 1


def test_the_same_file_sent_in_two_runs_changes_nothing(shore: Shore, receive: Receive) -> None:
    receive(lambda page: page.send(archive(*ALL)))
    before = shore.visible()
    assert receive(lambda page: page.send(archive(*ALL))) == 0
    assert (shore.visible(), inbox(shore)) == (before, [])


def test_it_does_not_stop_for_being_idle_while_a_file_waits_to_be_gathered(shore: Shore, receive: Receive) -> None:
    assert receive(lambda page: page.send(archive(*ALL)), idle_s=0.0) == 0
    assert inbox(shore) == []


# -- where it cannot begin -----------------------------------------------------------------------------------------


def test_a_port_that_is_taken_is_said(receive: Receive, port: int) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", port))
        other.listen()
        with pytest.raises(Refusal, match=f"port {port}, cannot be used .*another --port"):
            receive()


@pytest.mark.parametrize("kind", ["file", "link", "dangling link"])
def test_an_inbox_that_is_not_a_folder_of_the_journal_is_refused(shore: Shore, receive: Receive, kind: str) -> None:
    elsewhere = shore.camera / "elsewhere"
    if kind == "link":
        elsewhere.mkdir()
        (elsewhere / ".part-0123456789abcdef").write_bytes(b"theirs")
    path = shore.root / INBOX
    path.write_bytes(b"mine") if kind == "file" else path.symlink_to(elsewhere)
    with pytest.raises(Refusal, match=r"\.received is not a folder .*move it away"):
        receive(lambda page: page.send(archive(*ALL)))
    assert [name.name for name in elsewhere.glob("*")] == ([".part-0123456789abcdef"] if kind == "link" else [])
    assert entries(shore).keys() == shore.visible().keys()


def test_with_nobody_to_ask_it_says_so(receive: Receive, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(receiving, "can_ask", lambda: False)
    with pytest.raises(Refusal, match="use --yes"):
        receive(yes=False)


# -- what is not gathered ------------------------------------------------------------------------------------------


def test_a_file_that_gather_refuses_stays_is_said_and_the_phone_is_told(
    shore: Shore, receive: Receive, capsys: pytest.CaptureFixture[str]
) -> None:
    told: list[Any] = []

    def phone(page: Phone) -> None:
        page.send(b"no zip at all")
        while not told or not told[-1]["left"]:
            told[:] = page.told()

    monitor: list[threading.Thread] = []

    def later(page: Phone) -> None:
        thread = threading.Thread(target=phone, args=(page,), daemon=True)
        monitor.append(thread)
        thread.start()

    assert receive(later, idle_s=1.5) == 1
    monitor[0].join(5)
    assert [(row["code"], row["left"]) for row in told] == [(None, True)]
    assert inbox(shore) == [NAME]
    assert f"{NAME} is not taken: it is not an archive from the phone" in said(capsys)


def test_a_file_of_which_something_was_removed_here_stays_and_what_to_do_is_said(
    shore: Shore, receive: Receive, capsys: pytest.CaptureFixture[str]
) -> None:
    receive(lambda page: page.send(archive(*ALL)))
    shutil.rmtree(shore.root / "notes/2026-11-25-note")
    assert receive(lambda page: page.send(archive(*ALL))) == 1
    assert inbox(shore) == [NAME]
    assert f"Not all in the journal: {shore.root / INBOX / NAME}; run `journal gather --again` on it" in said(capsys)
    with open_workspace(shore.root) as workspace:
        gather_archives(workspace, GatherRequest([shore.root / INBOX / NAME], again=True))
    assert (receive(), inbox(shore)) == (0, [])


def test_each_file_that_an_earlier_run_left_and_gather_refuses_is_said(
    shore: Shore, receive: Receive, capsys: pytest.CaptureFixture[str]
) -> None:
    (shore.root / INBOX).mkdir()
    for name in ("journal-a.zip", "journal-b.zip", "journal-\x1b[2J.zip"):
        (shore.root / INBOX / name).write_bytes(b"none")
    assert receive() == 1
    told = said(capsys)
    assert "journal-a.zip is not taken" in told
    assert "journal-b.zip is not taken" in told
    assert "\x1b" not in told
    assert len(inbox(shore)) == 3


def test_a_locked_file_with_nobody_to_ask_stays_and_comes_in_with_its_passphrase(
    shore: Shore, receive: Receive, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gathering, "can_ask", lambda: False)
    assert receive(lambda page: page.send(locked(archive(*ALL), "five words"), f"{NAME}.locked")) == 1
    assert "the archive is locked, and there is no terminal to ask on" in said(capsys)
    assert inbox(shore) == [f"{NAME}.locked"]
    monkeypatch.setenv("JOURNAL_PASSPHRASE", "five words")
    assert receive() == 0
    assert inbox(shore) == []


@pytest.mark.parametrize("stop", [KeyboardInterrupt, click.Abort])
def test_stopped_at_the_question_it_says_what_is_not_gathered_yet(
    shore: Shore,
    receive: Receive,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    stop: type[BaseException],
) -> None:
    def stopped(*_: object, **__: object) -> bool:
        raise stop

    monkeypatch.setattr(receiving, "can_ask", lambda: True)
    monkeypatch.setattr(click, "confirm", stopped)
    assert receive(lambda page: page.send(archive(*ALL)), yes=False) == 1
    assert re.search(rf"Not gathered yet: .*{NAME}", said(capsys))
    assert inbox(shore) == [NAME]


def test_a_page_that_only_asks_does_not_keep_it_running(receive: Receive) -> None:
    ended = threading.Event()

    def ask_on(page: Phone) -> None:
        with contextlib.suppress(OSError):
            while not ended.wait(0.02):
                page.told()

    def phone(page: Phone) -> None:
        threading.Thread(target=ask_on, args=(page,), daemon=True).start()
        threading.Timer(8, ended.set).start()

    assert receive(phone, idle_s=0.5) == 0
    assert not ended.is_set()
    ended.set()


# -- stopped anywhere ----------------------------------------------------------------------------------------------


class Fault:
    """Ends the run before its step of this number; counts the steps."""

    def __init__(self, at: int = -1, error: Callable[[], BaseException] = Killed) -> None:
        self.at, self.error, self.steps = at, error, list[str]()

    def __call__(self, what: str, *_: object) -> None:
        self.steps.append(what)
        if len(self.steps) == self.at + 1:
            raise self.error()


@contextlib.contextmanager
def faults(fault: Fault, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Every step between a file that has landed and the end of the run is told to `fault` before it is taken."""
    whole, unlink = gathering.gather_archives, Path.unlink

    def gathered(*given: Any) -> int:
        fault("landed")
        status = whole(*given)
        fault("gathered")
        return status

    def unlinked(path: Path, missing_ok: bool = False) -> None:
        if path.parent.name == INBOX and not path.name.startswith("."):
            fault("clear the inbox")
        unlink(path, missing_ok=missing_ok)

    with monkeypatch.context() as patched:
        patched.setattr(receiving, "gather_archives", gathered)
        patched.setattr(gathering, "GatherDisk", partial(GatherDisk, fault))
        patched.setattr(Path, "unlink", unlinked)
        yield


def test_killed_at_any_step_from_landed_to_cleared_nothing_is_lost_or_doubled(
    shore: Shore,
    receive: Receive,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    monkeypatch.setattr("os.fsync", lambda _: None)
    before = tmp_path / "before"
    shutil.copytree(shore.root, before)
    parts = archive_in_parts({f"{FIND.folder}/photo-02.jpg": [2]}, 2, FIND, PINS)

    def phone(page: Phone) -> None:
        for number, part in enumerate(parts, 1):
            assert page.send(part, NAME.replace("1-of-1", f"{number}-of-2")) == 201

    def records() -> tuple[dict[str, bytes], list[str]]:
        rows = [json.loads(path.read_bytes()) for path in sorted((shore.root / "receipts").iterdir())]
        return entries(shore), sorted(f"{one['record']} {one['revision']}" for row in rows for one in row["records"])

    counting = Fault()
    with faults(counting, monkeypatch):
        assert receive(phone) == 0
    whole = records()
    print(f"{len(counting.steps)} fault points: {', '.join(dict.fromkeys(counting.steps))}")
    assert {"landed", "put in place", "gathered", "clear the inbox"} <= set(counting.steps)
    for at in range(len(counting.steps)):
        shutil.rmtree(shore.root)
        shutil.copytree(before, shore.root)
        fault = Fault(at, Killed if at % 2 else lambda: OSError(errno.ENOSPC, "No space left on device"))
        with faults(fault, monkeypatch), contextlib.suppress(Killed, OSError):
            receive(phone)
        assert len(fault.steps) > at
        receive(idle_s=0.0)
        assert inbox(shore) == [], (at, fault.steps)
        assert records() == whole, (at, fault.steps)
        assert not list(shore.root.glob(".gather-*"))


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
