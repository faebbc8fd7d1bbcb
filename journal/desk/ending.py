"""How a command ends: its exit status, and one sentence where it could not do what it was asked."""

from __future__ import annotations

import errno
import os
import sys
import traceback
from collections.abc import Sequence

import click

from journal.desk.telling import plain
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
    try:
        status = _status_of(command, arguments)
        sys.stdout.flush()
        return status
    except BrokenPipeError:
        # Who read our output has read enough. What is left in the buffer must not fail at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


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
    """What a keeper is told of an exception."""
    if isinstance(error, Refusal):
        return f"{error}" if str(error).endswith("?") else f"{error}."
    if isinstance(error, OSError):
        return _disk_sentence(error)
    entry = _entry_in_hand(error)
    at = f" It was at {entry}; moved out of the journal for now, that stops nothing." if entry else ""
    return (
        f"The program itself is at fault ({type(error).__name__}: {error}). Nothing was changed.{at} "
        "JOURNAL_TRACEBACK=1 before the command shows where."
    )


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
    where = f"{os.fsdecode(what)}: " if isinstance(what, str | bytes) else ""
    said = (error.strerror or str(error)).lower()
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"{where}the disk is full. Make room and try again; nothing was changed."
    return f"{where}{said}. Nothing was changed."
