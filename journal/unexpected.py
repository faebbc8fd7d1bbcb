"""Unexpected exceptions: a fault of the program costs one file, and its traceback goes where it is asked for."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Callable
from typing import TypeVar

from journal.problems import Problem, Refusal

T = TypeVar("T")
E = TypeVar("E", bound=BaseException)

ASKED_BY = "JOURNAL_TRACEBACK"
"""The environment variable that asks for tracebacks: `1` for stderr, else the path of a file they are added to."""


def trace(error: BaseException) -> None:
    """Writes an exception's traceback where `JOURNAL_TRACEBACK` says; to stderr where that file cannot be written."""
    asked = _asked()
    if not asked:
        return
    text = traceback_of(error)
    if asked != "1":
        try:
            with open(asked, "a", encoding="utf-8", errors="backslashreplace") as file:
                file.write(text)
            return
        except OSError:
            pass
    print(text, end="", file=sys.stderr)


def traceback_of(error: BaseException) -> str:
    """An exception's traceback; before it that of what failed in another process, if it is told of here."""
    return "".join([vars(error).get(_ELSEWHERE, ""), *traceback.format_exception(error)])


def with_traceback_of(told: E, failure: BaseException) -> E:
    """An exception that another process gets in place of a failure, or the failure itself: with the traceback as a
    text. Otherwise it does not leave this process, unless a library has taught it to."""
    vars(told)[_ELSEWHERE] = traceback_of(failure)
    told.__traceback__ = None
    return told


_ELSEWHERE = "traceback_elsewhere"


def _asked() -> str:
    asked = os.environ.get(ASKED_BY, "")
    return "" if asked == "0" else asked


def how_to_report() -> str:
    """What to do about a fault of the program, as a sentence: once it was traced, there is nothing left to ask for."""
    if _asked():
        return "Report it, with its traceback."
    return f"To see where, run it again with {ASKED_BY}=1 before the command."


def message_and_fix(error: Exception) -> tuple[str, str]:
    """Message and fix where the program failed at one file; the traceback is written as asked for.

    No word of the exception is in it but its name: the rest may repeat what is in the file.
    """
    trace(error)
    message = f"this file is left out because of a fault in the program ({type(error).__name__})"
    return message, f"report it, with what the command prints after {ASKED_BY}=1; everything else is read"


def attempt(path: str, step: Callable[..., T], *given: object) -> T | Problem:
    """What `step` makes of what is given of one file, or the file's problem; OSError, MemoryError and Refusal are
    raised."""
    try:
        return step(*given)
    except (OSError, MemoryError, Refusal):
        raise
    except Exception as error:
        return Problem(path, 0, "error", *message_and_fix(error))


def name_page(error: Exception, address: str) -> None:
    """Says at which page an exception was raised, if nothing said so before."""
    vars(error).setdefault(_PAGE, address)


def page_worked_on(error: Exception) -> str | None:
    """The address of the page that was being made when an exception was raised; None if that is not known."""
    page: str | None = vars(error).get(_PAGE)
    return page


_PAGE = "page_worked_on"


def entry_worked_on(error: Exception) -> str | None:
    """The path of the entry that was being processed when an exception was raised; None if there was none."""
    from journal.model import Entry  # not loaded by a build that finds nothing changed

    path = None
    for frame, _ in traceback.walk_tb(error.__traceback__):
        paths = [value.path for value in frame.f_locals.values() if isinstance(value, Entry)]
        path = paths[-1] if paths else path
    return path
