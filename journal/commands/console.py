"""What commands print: progress and notices on stderr, closing lines, and how a command ends."""

from __future__ import annotations

import errno
import os
import re
import shutil
import sys
import time
import traceback
import unicodedata
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

import click
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TaskID, TextColumn
from rich.text import Text

from journal.cache.folders import without_state
from journal.problems import Problem, Refusal
from journal.unexpected import trace

# What is said at the terminal while work is done: notices and progress on stderr, plain text always.

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


class Output:
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

    def __enter__(self) -> Output:
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


# What the commands say when they are done.

if TYPE_CHECKING:
    from journal.model import Journal
    from journal.pipeline import Built


def counts(journal: Journal) -> str:
    """`92 entries, 140 photos, 3 to fix (1 wrong, 2 odd)`."""
    entries = sum(1 for _ in journal.entries())
    return (
        f"{_number(entries, 'entry', 'entries')}, {_number(len(journal.photos), 'photo', 'photos')}, "
        + problem_lines(journal.problems)
    )


def problem_lines(problems: Sequence[Problem]) -> str:
    wrong = sum(problem.severity == "error" for problem in problems)
    odd = len(problems) - wrong
    weights = ", ".join(f"{count} {weight}" for count, weight in ((wrong, "error"), (odd, "warning")) if count)
    return f"{len(problems)} to fix ({weights})" if problems else "nothing to mend"


def closing_line(built: Built, seconds: float) -> str:
    """What a build came to: entries, photos, problems, time, and what a phone will hold."""
    made = "nothing had changed" if built.unchanged else f"{_number(built.rendered, 'page', 'pages')} made"
    size = f"{_size(built.held_bytes)} on the phone"
    if built.larger_bytes:
        size += f" (and {_size(built.larger_bytes)} of larger photos, if asked for)"
    return f"{counts(built.journal)}; {made} in {seconds:.1f} s; {size}"


def after_change(built: Built | str) -> str:
    """One line for a build after a change, or for why there was none."""
    if isinstance(built, str):
        return built
    return f"Made anew: {_number(built.rendered, 'page', 'pages')}, {problem_lines(built.journal.problems)}"


def where_to_look(site: Path) -> str:
    return f"The site is in {site}; open its index.html, or see it with `journal show`"


def tables_written(tables: int, rows: int, folder: Path) -> str:
    return f"{_number(tables, 'table', 'tables')} with {_number(rows, 'row', 'rows')} in {folder}"


def what_comes_next(folder: Path) -> None:
    """Printed after a journal has begun."""
    name = plain(str(folder))
    click.echo(
        f"Your journal begins in {name}. What to do next:\n"
        f"  1. Look into {name}/examples: one text for each kind of entry.\n"
        f"  2. journal new find {_quoted(folder)}    puts a first find there; put its photos into the same folder.\n"
        f"  3. journal show {_quoted(folder)}        shows the site, and again whenever you save a file.\n"
        f"  4. journal check {_quoted(folder)}       says what cannot be read, and how to mend it.\n"
        f"Title, tents and units stand in {name}/journal.toml."
    )


def _quoted(folder: Path) -> str:
    """As it can be typed."""
    text = plain(str(folder))
    return f'"{text}"' if " " in text else text


def _number(count: int, one: str, several: str) -> str:
    return f"{count:,} {one if count == 1 else several}"


def _size(count: int) -> str:
    """Bytes in MB (10^6), to two digits."""
    megabytes = count / 1_000_000
    return f"{megabytes:.1f} MB" if megabytes < 9.95 else f"{megabytes:,.0f} MB"


# How a command ends: its exit status, and one sentence where it could not do what it was asked.

EXIT_FAILED = 2
_STOPPED = 130
"""As shells have it for an interrupted command: 128 and the number of SIGINT."""


def run(command: click.Command, arguments: Sequence[str]) -> int:
    """Runs a command and gives its exit status. What was done stays; what could not be done is told in a sentence."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # a terminal that lacks a letter is no reason to stop
    status = 0
    try:
        status = _status_of(command, arguments)
        sys.stdout.flush()
        return status
    except BrokenPipeError:
        # Who read our output has read enough.
        _drop_output()
        return 0
    except OSError as error:
        _drop_output()
        return status or _say(sentence_of(error), EXIT_FAILED)


def _drop_output() -> None:
    """Lets nothing that is left in the buffer fail at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _status_of(command: click.Command, arguments: Sequence[str]) -> int:
    try:
        command.main(list(arguments), prog_name="journal", standalone_mode=False)
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else 0
    except click.ClickException as error:
        return _say("\n".join([*_usage(error), error.format_message()]), EXIT_FAILED)
    except (click.Abort, KeyboardInterrupt):
        return _say("Stopped.", _STOPPED)
    except BrokenPipeError:
        raise
    except Exception as error:
        trace(error)
        return _say(sentence_of(error), EXIT_FAILED)
    return 0


def _usage(error: click.ClickException) -> list[str]:
    """How the command is used, where it was used otherwise."""
    context = error.ctx if isinstance(error, click.UsageError) else None
    return [context.get_usage(), f"`{context.command_path} --help` tells more."] if context else []


def _say(text: str, status: int) -> int:
    for line in text.split("\n"):
        click.echo(plain(line), err=True)
    return status


def sentence_of(error: Exception) -> str:
    """What an author is told of an exception. Notes added to it say what stands; without any, nothing was changed."""
    stands = " ".join(getattr(error, "__notes__", ())) or "Nothing was changed."
    if isinstance(error, Refusal):
        return f"{error}" if str(error).endswith("?") else f"{error}."
    if isinstance(error, MemoryError) or (isinstance(error, OSError) and error.errno == errno.ENOMEM):
        step = f" while {error.args[0]}" if isinstance(error, MemoryError) and error.args else ""
        return f"There is not enough memory{step}. Close other programs and try again. {stands}"
    if isinstance(error, OSError):
        return f"{_disk_sentence(error)} {stands}"
    entry = _entry_in_hand(error)
    at = f" It was at {entry}; moved out of the journal for now, that stops nothing." if entry else ""
    return (
        f"The program itself is at fault ({type(error).__name__}: {error}). {stands}{at} "
        "JOURNAL_TRACEBACK=1 before the command shows where."
    )


_MENDS = {
    errno.EROFS: "this disk takes no writing. Name a folder on another disk, or have this one writable.",
    errno.EACCES: "permission denied. See to it that you may read and write there, or name another folder.",
    errno.EPERM: "the system does not permit it. See to it that you may write there, or name another folder.",
    errno.EMFILE: "too many files are open. Close other programs, or raise the limit (`ulimit -n`).",
    errno.ENFILE: "too many files are open. Close other programs and try again.",
    errno.ENAMETOOLONG: "this name is longer than the disk allows. Give the folder or the file a shorter one.",
    errno.EFBIG: "a file would be larger than the disk, or the limit set for you, allows. Name a folder elsewhere.",
    errno.EIO: "the disk does not read or write as it should. Look after your copies, and try another disk.",
}


def _entry_in_hand(error: Exception) -> str | None:
    """The path of the entry that was last worked on where an exception came up, None where it was none."""
    from journal.model import Entry

    path = None
    for frame, _ in traceback.walk_tb(error.__traceback__):
        paths = [value.path for value in frame.f_locals.values() if isinstance(value, Entry)]
        path = paths[-1] if paths else path
    return path


def _disk_sentence(error: OSError) -> str:
    what = error.filename2 or error.filename
    path = without_state(Path(os.fsdecode(what))) if isinstance(what, str | bytes | os.PathLike) else None
    where = f"{path}: " if path else ""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"{where}the disk is full{_free(path)}. Make room, or name a folder on another disk, and try again."
    return where + _MENDS.get(error.errno or 0, f"{(error.strerror or str(error)).lower()}.")


def _free(path: Path | None) -> str:
    """How much room there is where a path lies, as far as that can be told."""
    for folder in (path, *path.parents) if path and path.is_absolute() else ():
        try:
            return f" ({shutil.disk_usage(folder).free / 1e6:,.1f} MB free)".replace(",", " ")
        except OSError:
            continue
    return ""
