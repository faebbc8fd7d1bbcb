"""`journal receive`: the upload page on the home network, and gathering what was received into the journal."""

from __future__ import annotations

import os
import secrets
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from queue import Empty

import click

from journal.cache.resources import find_resources
from journal.commands.console import plain
from journal.commands.gather import GatherRequest, gather_archives, qr_lines
from journal.commands.prompts import can_ask
from journal.commands.workspace import Workspace
from journal.importing.receiver import INBOX, Landed, Receiver, ReceiverServer, home_address
from journal.problems import Refusal
from journal.quantities import counted, size_in_mb

DEFAULT_PORT = 8470
STYLES = ("tokens", "base", "parts", "record")
_LOOK_EVERY_S = 0.5
_QUIET_S = 2.0
"""How long nothing may arrive before what was received is gathered: a phone sends several files one after another."""


@dataclass(frozen=True, slots=True)
class ReceiveRequest:
    """What was typed. idle_s: it stops by itself after this long without a request."""

    address: str | None
    port: int
    yes: bool
    passphrase_file: Path | None = None
    idle_s: float = 900.0


def receive_archives(workspace: Workspace, asked: ReceiveRequest, ready: Callable[[str], object] | None = None) -> int:
    """Serves until it was idle for too long or is stopped by Ctrl-C; returns the exit code (1: something was not
    gathered).

    ready: called with the address once it is served. Raises Refusal if there is no network or the port is taken.
    """
    address = asked.address or home_address()
    if address is None:
        raise Refusal("this computer is on no network; join the home network, or name its address with --address")
    if not asked.yes and not can_ask():
        raise Refusal("there is no terminal to ask on; use --yes to gather what is received")
    origin = f"http://{address}:{asked.port}" if asked.port != 80 else f"http://{address}"
    receiver = Receiver(_inbox(workspace.root), origin, secrets.token_urlsafe(16), _page())
    gathering = _Gathering(workspace, asked)
    gathering.take_earlier(receiver.inbox)
    with ReceiverServer(receiver, (address, asked.port)).running():
        _show(workspace, f"{origin}/#{receiver.token}")
        if ready:
            ready(f"{origin}/#{receiver.token}")
        return _wait(workspace, receiver, gathering, asked.idle_s)


def _inbox(root: Path) -> Path:
    """The inbox of a journal; raises Refusal if something else has its name, such as a link out of the journal."""
    inbox = root / INBOX
    if os.path.lexists(inbox) and (inbox.is_symlink() or not inbox.is_dir()):
        raise Refusal(f"{inbox} is not a folder of this journal, and what is sent is put there; move it away")
    return inbox


def _page() -> dict[str, tuple[str, bytes]]:
    resources = find_resources()
    styles = b"".join((resources / "static" / "css" / f"{name}.css").read_bytes() for name in STYLES)
    folder = resources / "templates" / "receive"
    return {
        "/": ("text/html; charset=utf-8", (folder / "upload.html").read_bytes()),
        "/upload.js": ("text/javascript; charset=utf-8", (folder / "upload.js").read_bytes()),
        "/upload.css": ("text/css; charset=utf-8", styles),
    }


def _show(workspace: Workspace, address: str) -> None:
    workspace.output.notice(*qr_lines(address))
    workspace.output.notice(f"Open this address on the phone, on the same network: {address}")
    workspace.output.notice("What is sent is not encrypted on its way; use a network you trust. Ctrl-C stops.")


def _wait(workspace: Workspace, receiver: Receiver, gathering: _Gathering, idle_s: float) -> int:
    waiting: list[Landed] = []
    landed_s = 0.0
    try:
        while True:
            try:
                one = receiver.landed.get(timeout=_LOOK_EVERY_S)
                waiting.append(one)
                landed_s = time.monotonic()
                workspace.output.notice(f"Received {plain(one.name)}, {size_in_mb(one.bytes)}")
                continue
            except Empty:
                pass
            if waiting and not receiver.uploading and time.monotonic() - landed_s > _QUIET_S:
                gathering.take([one.path for one in waiting], waiting)
                waiting, receiver.at_s = [], time.monotonic()
            if receiver.stopped:
                workspace.output.notice(receiver.stopped)
                break
            is_idle = not waiting and not receiver.uploading and receiver.landed.empty()
            if is_idle and time.monotonic() - receiver.at_s > idle_s:
                workspace.output.notice(f"Stopped: nothing was sent for {idle_s / 60:.0f} min.")
                break
    except (KeyboardInterrupt, click.Abort):
        workspace.output.notice("Stopped.")
    while not receiver.landed.empty():
        waiting.append(receiver.landed.get())
    for one in waiting:
        workspace.output.notice(f"Not gathered yet: {one.path}; the next run tries again")
    return 1 if waiting or gathering.left or receiver.stopped else 0


class _Gathering:
    """Gathers what was received into the journal after a yes. left: archives of which something is missing, or
    refused."""

    def __init__(self, workspace: Workspace, asked: ReceiveRequest) -> None:
        self._workspace = workspace
        self._asked = asked
        self.left = False

    def take_earlier(self, inbox: Path) -> None:
        """What an earlier run received and did not gather; unfinished uploads are removed, because the phone still has
        them."""
        if not inbox.is_dir():
            return
        for part in inbox.glob(".part-*"):
            part.unlink(missing_ok=True)
        paths = sorted(inbox.glob("journal-*"))
        if paths:
            self._workspace.output.notice(f"{counted(len(paths), 'file')} received earlier and not gathered yet")
            self.take(paths, [])

    def take(self, paths: Sequence[Path], landed: Sequence[Landed]) -> None:
        if not (self._asked.yes or click.confirm(f"Gather {counted(len(paths), 'file')} now?", default=True, err=True)):
            self._report({}, landed)
            return
        codes: dict[Path, str] = {}
        try:
            status = gather_archives(self._workspace, GatherRequest(paths, self._asked.passphrase_file), codes)
        except Refusal as refusal:
            self._workspace.output.notice(f"{refusal}.")
            status = 1
        self._report(codes, landed)
        for path in (path for path in paths if not status and path not in codes):  # what it has was removed here
            words = f"Not all in the journal: {plain(str(path))}; run `journal gather --again` on it, or delete it"
            self._workspace.output.notice(words)
        for path in codes:
            path.unlink(missing_ok=True)
        self.left = self.left or status != 0

    def _report(self, codes: Mapping[Path, str], landed: Sequence[Landed]) -> None:
        """The answer to a phone: the code of each file, or that it was left in the inbox."""
        for one in landed:
            one.code, one.left = codes.get(one.path), one.path not in codes
            self.left = self.left or one.left
