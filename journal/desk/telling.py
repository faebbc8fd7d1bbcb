"""What is said at the terminal while work is done: notices and progress on stderr, plain text always."""

from __future__ import annotations

import re
import sys
import time
import unicodedata
from types import TracebackType

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TaskID, TextColumn
from rich.text import Text

_WORDS = {
    "entries": "Reading entries",
    "photos": "Reading photos",
    "pages": "Making pages",
    "offline": "Packing for the phone",
    "looking": "Looking for photos taken in before",
    "copying": "Copying photos",
    "searching": "Looking for what must not be told",
}
FIRST_SHOWN_AFTER_S = 0.5
_DRAWN_EVERY_S = 0.1

# What would move the cursor, hide or reorder text: control and format characters, and halves of surrogate pairs.
_UNSHOWN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def plain(text: str) -> str:
    """The text with every character that could steer a terminal written out, like `\\x1b`."""
    return "".join(_shown(char) if unicodedata.category(char) in _UNSHOWN else char for char in text)


def plain_json(text: str) -> str:
    """The same for a JSON document: such characters become JSON's own escapes, its line breaks stay."""
    return re.sub(r"[^\n\x20-\x7e]", lambda found: _escaped(found[0]), text)


def _shown(char: str) -> str:
    code = ord(char)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def _escaped(char: str) -> str:
    if unicodedata.category(char) not in _UNSHOWN:
        return char
    units = char.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[n]:02x}{units[n + 1]:02x}" for n in range(0, len(units), 2))


class Teller:
    """Writes notices, and a bar for work that goes on for longer than half a second. A context manager.

    It draws only when told of progress, from the thread that tells: a thread of its own would keep pages from being
    made in several processes.
    """

    def __init__(self) -> None:
        self._console = Console(stderr=True, highlight=False, markup=False, emoji=False, soft_wrap=True)
        self._bar: Progress | None = None
        self._tasks: dict[str, TaskID] = {}
        self._began_s = time.monotonic()
        self._drawn_s = 0.0
        self._step = ""

    def __enter__(self) -> Teller:
        self._began_s = time.monotonic()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if isinstance(error, MemoryError) and self._step:
            error.args = (_WORDS.get(self._step, self._step).lower(),)  # it tells nothing by itself
        if self._bar is not None:
            self._bar.stop()
        self._bar = None
        self._tasks = {}

    def notice(self, text: str) -> None:
        """One line for the reader."""
        self._console.print(Text(plain(text)))

    def progress(self, what: str, done: int, total: int) -> None:
        """How far a step is; shown only where the whole takes long enough to wonder."""
        self._step = what
        now_s = time.monotonic()
        if now_s - self._began_s < FIRST_SHOWN_AFTER_S:
            return
        bar = self._bar or self._open_bar()
        if what not in self._tasks:
            self._tasks[what] = bar.add_task(_WORDS.get(what, what), total=total)
        bar.update(self._tasks[what], completed=done, total=total)
        if done == total or now_s - self._drawn_s > _DRAWN_EVERY_S:
            self._drawn_s = now_s
            bar.refresh()

    def _open_bar(self) -> Progress:
        columns = (TextColumn("{task.description}", markup=False), BarColumn(), MofNCompleteColumn())
        self._bar = Progress(
            *columns,
            console=self._console,
            auto_refresh=False,
            transient=sys.stderr.isatty(),
            redirect_stdout=False,
            redirect_stderr=False,
        )
        self._bar.start()
        return self._bar
