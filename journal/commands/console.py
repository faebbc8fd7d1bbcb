"""What commands print on stderr (progress, notices, closing lines), and their exit codes."""

from __future__ import annotations

import errno
import json
import os
import sys
import time
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

import click

from journal.cache.folders import without_state
from journal.cache.last_build import Result
from journal.ctrl_c import stopped_status
from journal.problems import Problem, Refusal
from journal.quantities import counted, size_in_mb
from journal.unexpected import entry_worked_on, how_to_report, page_worked_on, trace

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

_WORDS = {
    "entries": "Reading entries",
    "photos": "Reading photos",
    "planning": "Planning pages",
    "pages": "Building pages",
    "offline": "Packing for offline use",
    "looking": "Looking for photos already in the journal",
    "labels": "Looking for labels in the photos",
    "copying": "Copying photos",
    "searching": "Searching the pages for private content",
}
FIRST_SHOWN_AFTER_S = 0.5
_DRAWN_EVERY_S = 0.1

# What would move the cursor, hide or reorder text: control and format characters, and halves of surrogate pairs.
_UNSHOWN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})


def plain(text: str) -> str:
    """The text with every character that could steer a terminal written out, like `\\x1b`."""
    return "".join(_escaped(char) if unicodedata.category(char) in _UNSHOWN else char for char in text)


def plain_json(text: str) -> str:
    """The same for a JSON document: such characters become JSON's own escapes, its line breaks stay."""
    unshown = (char for char in set(text) - {"\n"} if unicodedata.category(char) in _UNSHOWN)
    return text.translate({ord(char): json.dumps(char)[1:-1] for char in unshown})


def _escaped(char: str) -> str:
    code = ord(char)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


class Output:
    """Writes notices, and a progress bar for work that takes longer than half a second. A context manager. It draws
    only when progress is reported: with a thread of its own, pages could not be made in several processes."""

    def __init__(self) -> None:
        self._bar: Progress | None = None
        self._tasks: dict[str, TaskID] = {}
        self._began_s = time.monotonic()
        self._drawn_s = 0.0
        self._step = ""
        self._began_at = (0.0, 0)  # when the step was first reported, in seconds, and how much of it was done by then

    def __enter__(self) -> Output:
        self._began_s = time.monotonic()
        self._step = ""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if isinstance(error, MemoryError) and self._step:
            error.args = (_WORDS.get(self._step, self._step).lower(),)  # it means nothing by itself
        if self._bar is not None:
            self._bar.stop()
        self._bar = None
        self._tasks = {}

    def notice(self, *lines: str) -> None:
        for line in map(plain, lines):
            if self._bar is None:
                click.echo(line, err=True)
            else:
                self._bar.console.print(line)

    def name_journal(self, root: Path) -> None:
        """Says which journal a command found, where that is not the current folder."""
        if root != Path().resolve():
            self.notice(f"The journal is {root}.")

    def progress(self, what: str, done: int, total: int) -> None:
        """Progress of a step; shown only if the whole takes long enough for somebody to wait."""
        now_s = time.monotonic()
        if what != self._step or done < self._began_at[1]:
            self._began_at = (now_s, done)
        self._step = what
        left = time_left(done - self._began_at[1], total - self._began_at[1], now_s - self._began_at[0])
        if now_s - self._began_s < FIRST_SHOWN_AFTER_S:
            return
        if self._bar is None:
            self._bar = _started_bar()
        if what not in self._tasks:
            self._tasks[what] = self._bar.add_task(_WORDS.get(what, what), total=total, left="")
        self._bar.update(self._tasks[what], completed=done, total=total, left=left)
        if done == total or now_s - self._drawn_s > _DRAWN_EVERY_S:
            self._drawn_s = now_s
            self._bar.refresh()


_TOLD_AFTER_S = 2.0
_TOLD_FROM_S = 5.0


def time_left(done: int, total: int, seconds: float) -> str:
    """How long the rest of a step takes at the same pace: `about 4 min left`. Empty if that is not known yet or too
    short to mention. done: how much of the total was done in how many seconds."""
    left_s = seconds * (total - done) / done if done > 0 else 0.0
    if seconds < _TOLD_AFTER_S or left_s < _TOLD_FROM_S:
        return ""
    if left_s < 90:
        return f"about {round(left_s / 5) * 5} s left"
    if left_s < 90 * 60:
        return f"about {round(left_s / 60)} min left"
    return f"about {round(left_s / 3600)} h left"


def _started_bar() -> Progress:
    """A progress bar on stderr that draws only when it is asked to."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    bar = Progress(
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[left]}", markup=False),
        console=Console(stderr=True, highlight=False, markup=False, emoji=False, soft_wrap=True),
        auto_refresh=False,
        transient=sys.stderr.isatty(),
        redirect_stdout=False,
        redirect_stderr=False,
    )
    bar.start()
    return bar


def counts(built: Result) -> str:
    """`92 entries, 140 photos, 3 problems (1 error, 2 warnings)`."""
    entries = counted(built.entries, "entry", "entries")
    return f"{entries}, {counted(built.photos, 'photo')}, {problem_counts(built.problems)}"


def problem_counts(problems: Sequence[Problem]) -> str:
    """`3 problems (1 error, 2 warnings)`, or `no problems`."""
    errors = sum(problem.severity == "error" for problem in problems)
    warnings = len(problems) - errors
    by_severity = f"{counted(errors, 'error')}, {counted(warnings, 'warning')}"
    return f"{counted(len(problems), 'problem')} ({by_severity})" if problems else "no problems"


def problem_lines(problems: Iterable[Problem]) -> Iterator[str]:
    """Each problem on one line; below it the lines to paste, indented, the same lines only once."""
    pasted = {""}
    for problem in problems:
        yield plain(str(problem))
        if problem.paste not in pasted:
            yield from (plain(f"    {line}".rstrip()) for line in problem.paste.splitlines())
        pasted.add(problem.paste)


def closing_line(built: Result, seconds: float | None) -> str:
    """The closing line of a build: entries, photos, problems, time, and the size for offline use. seconds: None leaves
    a NUL in their place."""
    made = "nothing had changed" if built.unchanged else f"{counted(built.rendered, 'page')} built"
    size = f"{size_in_mb(built.offline_bytes, roughly=True)} for offline use"
    if built.larger_bytes:
        size += f" (plus {size_in_mb(built.larger_bytes, roughly=True)} for larger photos, if you choose them)"
    took = "\0" if seconds is None else f"{seconds:.1f}"
    return f"{counts(built)}; {made} in {took} s; {size}"


def where_it_is(site: Path, locked: bool) -> str:
    """Where a site is, and how to open it."""
    if not locked:
        return f"The site is in {site}; open its index.html, or run `journal show`"
    return f"The locked site is in {site}; any static HTTPS host may have it (`journal show --locked` shows it)"


def comparison_with_clean(differing: Sequence[tuple[str, str]], cache: Path) -> str:
    """Prints the files that differ from a site built without the cache, and gives the closing line.

    differing: path and how it differs, as of `pipeline.compare_with_clean`.
    """
    for path, how in differing:
        click.echo(plain(f"{path}: {how}"))
    if not differing:
        return "The site is the same as one built without the cache"
    differ = "file differs" if len(differing) == 1 else "files differ"
    return f"{len(differing):,} {differ} from a site built without the cache; delete {cache} and build again"


def print_next_steps(folder: Path) -> None:
    """Printed after `journal start`."""
    name = plain(str(folder))
    typed = f'"{name}"' if " " in name else name
    click.echo(
        f"Your journal is in {name}. What to do next:\n"
        f"  1. Look into {name}/examples: it has an example of each kind of entry.\n"
        f"  2. journal new find {typed}    adds a first find; put its photos into the same folder.\n"
        f"  3. journal show {typed}        shows the site, and updates it whenever you save a file.\n"
        f"  4. journal check {typed}       lists problems and how to fix them.\n"
        f"Title, tents and units are set in {name}/journal.toml."
    )


@contextmanager
def printing_result(outcome: str) -> Iterator[None]:
    """If printing fails, the error says what was done. outcome: a sentence."""
    try:
        yield
    except BrokenPipeError:
        raise
    except OSError as error:
        error.add_note(outcome)
        raise


def first_of(lines: Sequence[str], most: int, rest: str) -> list[str]:
    """The first lines, and how many more there are. rest: such as `{more} more such copies`."""
    more = len(lines) - most
    return [*lines[:most], *([rest.format(more=f"{more:,}")] if more > 0 else [])]


EXIT_FAILED = 2


def run(command: click.Command, arguments: Sequence[str]) -> int:
    """Runs a command and returns its exit code; an exception becomes one sentence on stderr."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")  # a character it cannot show must not stop a command
    status = 0
    try:
        status = _status_of(command, arguments)
        sys.stdout.flush()
        return status
    except BrokenPipeError:
        # The reader of our output has stopped reading.
        _drop_output()
        return 0
    except OSError as error:
        _drop_output()
        return status or _say(sentence_of(error), EXIT_FAILED)


def _drop_output() -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _status_of(command: click.Command, arguments: Sequence[str]) -> int:
    try:
        return command.main(list(arguments), prog_name="journal", standalone_mode=False) or 0
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else 0
    except click.ClickException as error:
        context = error.ctx if isinstance(error, click.UsageError) else None
        usage = f"{context.get_usage()}\nFor more, run `{context.command_path} --help`.\n" if context else ""
        return _say(usage + error.format_message(), EXIT_FAILED)
    except (click.Abort, KeyboardInterrupt) as error:
        notes = [*getattr(error, "__notes__", ()), *getattr(error.__cause__, "__notes__", ())]
        return _say(" ".join(["Stopped.", *notes]), stopped_status(error.__cause__ or error))
    except BrokenPipeError:
        raise
    except Exception as error:
        trace(error)
        return _say(sentence_of(error), EXIT_FAILED)


def _say(text: str, status: int) -> int:
    for line in text.split("\n"):
        click.echo(plain(line), err=True)
    return status


def sentence_of(error: Exception) -> str:
    """The sentence for an exception. Notes added to it say what was changed; without any, nothing was."""
    outcome = " ".join(getattr(error, "__notes__", ())) or "Nothing was changed."
    if isinstance(error, Refusal):
        sentence = f"{error}" if str(error).endswith("?") else f"{error}."
        return f"{sentence.removesuffix('.')}:\n\n{error.paste}" if error.paste else sentence
    if isinstance(error, MemoryError) or (isinstance(error, OSError) and error.errno == errno.ENOMEM):
        step = f" while {error.args[0]}" if isinstance(error, MemoryError) and error.args else ""
        return f"There is not enough memory{step}. Close other programs and try again. {outcome}"
    if isinstance(error, OSError):
        return f"{_disk_sentence(error)} {outcome}"
    return f"This is a fault in the program ({_in_a_line(error)}). {outcome}{_worked_on(error)} {how_to_report()}"


def _in_a_line(error: Exception) -> str:
    return " ".join(f"{type(error).__name__}: {error}".split())


def _worked_on(error: Exception) -> str:
    """At which entry it happened, which can be taken out, or else for which page, as a sentence with a space before."""
    if entry := getattr(error, "entry", None) or entry_worked_on(error):
        return f" It happened at {entry}; move that file out of the journal to go on without it."
    page = page_worked_on(error)
    return f" It happened while the page {page} was made." if page else ""


_FIXES = {
    errno.EROFS: "this disk is read-only. Name a folder on another disk, or make this one writable.",
    errno.EACCES: "permission denied. Give yourself permission to read and write there, or name another folder.",
    errno.EPERM: "the system does not allow it. Give yourself permission to write there, or name another folder.",
    errno.EMFILE: "too many files are open. Close other programs, or raise the limit (`ulimit -n`).",
    errno.ENFILE: "too many files are open. Close other programs and try again.",
    errno.ENAMETOOLONG: "this name is longer than the disk allows. Give the folder or the file a shorter one.",
    errno.EFBIG: "a file would be larger than the disk or your limit allows. Name a folder on another disk.",
    errno.EIO: "the disk has a read or write error. Check your backups, and try another disk.",
}


def _disk_sentence(error: OSError) -> str:
    what = error.filename2 or error.filename
    path = without_state(Path(os.fsdecode(what))) if isinstance(what, str | bytes | os.PathLike) else None
    where = f"{path}: " if path else ""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"{where}the disk is full. Make room, or name a folder on another disk, and try again."
    return where + _FIXES.get(error.errno or 0, f"{(error.strerror or str(error)).lower()}.")
