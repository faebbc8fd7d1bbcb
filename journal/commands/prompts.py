"""What a command asks the author, and the defaults it takes from this computer."""

from __future__ import annotations

import getpass
import locale
import shutil
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TypeVar
from zoneinfo import available_timezones

import click

from journal.commands.console import plain
from journal.problems import Unreadable, nearest
from journal.reading.dates import journal_zone, read_when
from journal.writing.new_journal import Answers, guess_time_zone

T = TypeVar("T")

_LEAVE_OUT = "skip"


def ask_for(folder: Path, title: str | None, author: str | None, time_zone: str | None, units: str | None) -> Answers:
    """What a new journal needs to know; asks for what is None. Raises click.BadParameter for an unknown time zone."""
    us = (locale.getlocale()[0] or "").endswith(("_US", "_LR", "_MM"))
    name = folder.resolve().name.replace("-", " ").replace("_", " ").strip()
    return Answers(
        title=title or _ask("Title", name[:1].upper() + name[1:] or "Journal", str.strip),
        author=author or _ask("Author (the name shown under the entries)", _user_name(), str.strip),
        time_zone=zone_named(time_zone) if time_zone else _ask("Time zone", guess_time_zone(), zone_named),
        units=units or _ask("Units", "us" if us else "metric", units_named),
    )


def zone_named(text: str) -> str:
    """An IANA time zone's name; raises click.BadParameter that names the nearest for any other text."""
    known = available_timezones()
    if text in known:
        return text
    near = nearest(text, known)
    raise click.BadParameter(
        f"{text} is not a time zone; " + (f"did you mean {near}?" if near else "write one like Europe/London")
    )


def ask_day(photo: str, last: date | None) -> date | None:
    """The day of a photo that has no time in it; None to skip it. last: the previous answer, which Enter repeats."""
    question = f"{plain(photo)} has no time in it. On which day was it taken (like 2026-10-27; `{_LEAVE_OUT}` skips it)"
    default = last.isoformat() if last else _LEAVE_OUT

    def day_or_none(text: str) -> date | None:
        return None if text.strip().lower() == _LEAVE_OUT else day_named(text)

    return _ask(question, default, day_or_none, at_end=_LEAVE_OUT)  # a day is never guessed


def day_named(text: str) -> date:
    """A whole day; raises click.BadParameter for any other text."""
    try:
        when = read_when(text, UTC).value
    except Unreadable as fault:
        raise click.BadParameter(f"{fault.message}; write it like 2026-10-27") from None
    if not when.counts_days:
        raise click.BadParameter(f"{text} is not a whole day; write it like 2026-10-27")
    return when.first


def can_ask() -> bool:
    """Whether a question would be seen and could be answered."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def columns_of_terminal() -> int | None:
    """The width of the terminal on stdout; None where stdout is a file or a pipe."""
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else None


def today_in(zone_name: str) -> date:
    """Today by the journal's clock."""
    return datetime.now(journal_zone(zone_name)).date()


def units_named(text: str) -> str:
    """The units asked for; raises click.BadParameter for others."""
    found = text.strip().lower()
    if found in ("metric", "us"):
        return found
    raise click.BadParameter(f"{text} is not known; write metric or us")


def _ask(question: str, default: str, reader: Callable[[str], T], at_end: str | None = None) -> T:
    """The answer; where the input has ended that to `at_end`, or to the default."""
    try:
        return click.prompt(question, default=default, value_proc=reader, err=True)
    except click.Abort as stopped:
        if not isinstance(stopped.__context__, EOFError):
            raise
        click.echo(at_end or default, err=True)
        return reader(at_end or default)


def _user_name() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "the author"
