"""How a command ends: its exit status, and one sentence where it could not do what it was asked."""

from __future__ import annotations

import errno
import os
import shutil
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path

import click

from journal.desk.telling import plain
from journal.keeping.targets import without_state
from journal.refusal import Refusal
from journal.unforeseen import trace

CANNOT = 2
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
        return status or _say(sentence_of(error), CANNOT)


def _drop_output() -> None:
    """Lets nothing that is left in the buffer fail at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _status_of(command: click.Command, arguments: Sequence[str]) -> int:
    try:
        command.main(list(arguments), prog_name="journal", standalone_mode=False)
    except SystemExit as ended:
        return ended.code if isinstance(ended.code, int) else 0
    except click.ClickException as error:
        return _say("\n".join([*_usage(error), error.format_message()]), CANNOT)
    except (click.Abort, KeyboardInterrupt):
        return _say("Stopped.", _STOPPED)
    except BrokenPipeError:
        raise
    except Exception as error:
        trace(error)
        return _say(sentence_of(error), CANNOT)
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
    """What a keeper is told of an exception. Notes added to it say what stands; without any, nothing was changed."""
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
