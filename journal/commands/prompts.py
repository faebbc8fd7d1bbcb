"""What a command asks the author, and what it guesses of this computer."""

from __future__ import annotations

import getpass
import locale
import shutil
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import available_timezones

import click

from journal.commands.console import plain
from journal.problems import Unreadable, nearest
from journal.reading.dates import journal_zone, read_when
from journal.writing.new_journal import Answers, guess_time_zone

_LEAVE_OUT = "skip"


def ask_for(folder: Path, title: str | None, author: str | None, time_zone: str | None, units: str | None) -> Answers:
    """What a new journal needs to know; asks for what is None. Raises click.BadParameter for a zone that is none."""
    return Answers(
        title=title or _ask("Title", _title_from(folder)),
        author=author or _ask("Author (a name to stand under the entries)", _user_name()),
        time_zone=zone_named(time_zone) if time_zone else _ask("Time zone", guess_time_zone(), zone_named),
        units=units or _ask("Units", _usual_units(), units_named),
    )


def zone_named(text: str) -> str:
    """An IANA time zone's name; raises click.BadParameter that names the nearest for any other text."""
    known = available_timezones()
    if text in known:
        return text
    near = nearest(text, known)
    raise click.BadParameter(
        f"{text} is no time zone; " + (f"did you mean {near}?" if near else "write one like Europe/London")
    )


def ask_day(photo: str, last: date | None) -> date | None:
    """The day on which a photo was taken that tells no time; None where it is to be left out.

    last: the day that was answered before, which Enter then takes again.
    """
    question = f"{plain(photo)} tells no time. Its day, like 2026-10-27, or `{_LEAVE_OUT}`"
    usual = last.isoformat() if last else _LEAVE_OUT
    try:
        return click.prompt(question, default=usual, value_proc=_day_or_none, err=True)
    except click.Abort as stopped:
        if not isinstance(stopped.__context__, EOFError):
            raise
        click.echo(_LEAVE_OUT, err=True)  # nobody answers any more, and a day is never guessed
        return None


def _day_or_none(text: str) -> date | None:
    return None if text.strip().lower() == _LEAVE_OUT else day_named(text)


def day_named(text: str) -> date:
    """A whole day; raises click.BadParameter for any other text."""
    try:
        told = read_when(text, UTC).value
    except Unreadable as fault:
        raise click.BadParameter(f"{fault.message}; write it like 2026-10-27") from None
    if not told.counts_days:
        raise click.BadParameter(f"{text} is less than a day; write it like 2026-10-27")
    return told.first


def somebody_is_there() -> bool:
    """Whether a question would be seen and can be answered."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def columns_of_terminal() -> int | None:
    """How wide the terminal is that reads our answer; None where a file or a program does."""
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else None


def today_in(zone_name: str) -> date:
    """Today by the journal's clock."""
    return datetime.now(journal_zone(zone_name)).date()


def units_named(text: str) -> str:
    """The units asked for; raises click.BadParameter for others."""
    found = text.strip().lower()
    if found in ("metric", "us"):
        return found
    raise click.BadParameter(f"{text} is neither metric nor us")


def _ask(question: str, usual: str, reader: Callable[[str], str] = str.strip) -> str:
    """The answer; the usual one where nobody is there to answer (the input has ended)."""
    try:
        return click.prompt(question, default=usual, value_proc=reader, err=True)
    except click.Abort as stopped:
        if not isinstance(stopped.__context__, EOFError):
            raise
        click.echo(usual, err=True)
        return usual


def _title_from(folder: Path) -> str:
    name = folder.resolve().name.replace("-", " ").replace("_", " ").strip()
    return name[:1].upper() + name[1:] or "Journal"


def _user_name() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "the author"


def _usual_units() -> str:
    """US customary units where this computer is set up for a country that measures so."""
    return "us" if (locale.getlocale()[0] or "").endswith(("_US", "_LR", "_MM")) else "metric"
