"""What a command asks the author, and the defaults it takes from this computer."""

from __future__ import annotations

import getpass
import os
import shutil
import sys
from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TypeVar
from zoneinfo import available_timezones

import click

from journal.commands.console import plain
from journal.model import Ref
from journal.problems import Refusal, Unreadable, nearest, shortened
from journal.reading.dates import journal_zone, read_when
from journal.writing.new_entry import form_named
from journal.writing.new_journal import Answers, guess_time_zone, guess_units

T = TypeVar("T")

_LEAVE_OUT = "skip"


def ask_for(folder: Path, title: str | None, author: str | None, time_zone: str | None, units: str | None) -> Answers:
    """What a new journal needs to know; asks for what is None. Raises click.BadParameter for an unknown time zone."""
    name = folder.resolve().name.replace("-", " ").replace("_", " ").strip()
    title = title or _ask("Title", name[:1].upper() + name[1:] or "Journal", str.strip)
    author = author or _ask("Author (the name shown under the entries)", _user_name(), str.strip)
    time_zone = zone_named(time_zone) if time_zone else _ask("Time zone", guess_time_zone(), zone_named)
    units = units or _ask("Units (metric or us; g, kg or oz will do)", guess_units(time_zone), units_named)
    return Answers(title, author, time_zone, units)


PASSPHRASE_VARIABLE = "JOURNAL_PASSPHRASE"


def passphrase_given(file: Path | None) -> str | None:
    """A passphrase from the first line of the named file, else from the environment; None if neither has one. Raises
    Refusal if the file has none."""
    if file is None:
        return os.environ.get(PASSPHRASE_VARIABLE) or None
    try:
        lines = file.read_text(encoding="utf-8").splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise Refusal(f"--passphrase-file {file} cannot be read as text") from error
    if not lines or not lines[0].strip():
        raise Refusal(f"--passphrase-file {file}: its first line is empty; write the passphrase there")
    return lines[0]


NONE = "none"


def ask_text(question: str, default: str, read: Callable[[str], str] = str.strip) -> str:
    """An answer converted by `read`; the default on Enter and at the end of input. read: raises click.BadParameter for
    an invalid text."""
    return _ask(question, default, read)


def ask_one_of(
    question: str, names: Sequence[str], default: str | None, missing: str, answer: str | None = None
) -> str:
    """One of the names, given in any case or by its number among them.

    answer: already given by an option. missing: the sentence of the Refusal that is raised if there is no default and
    nobody can be asked.
    """

    def read(text: str) -> str:
        text = text.strip()
        by_fold = {name.casefold(): name for name in reversed(names)}
        if text.casefold() in by_fold:
            return by_fold[text.casefold()]
        if text.isascii() and text.isdigit() and 0 < int(text[:6]) <= len(names):
            return names[int(text) - 1]
        near = nearest(text, names)
        hint = f"did you mean {near}?" if near else f"write one of {', '.join(names)}"
        raise click.BadParameter(f"{shortened(text)} is not one of them; {hint}")

    if answer is not None:
        return read(answer)
    try:
        return click.prompt(question, default=default, value_proc=read, err=True)
    except click.Abort as stopped:
        if not isinstance(stopped.__context__, EOFError):
            raise
        click.echo(default or "", err=True)
        if default is None:
            raise Refusal(missing) from None
        return default


def ask_form(forms: Sequence[str]) -> str | None:
    """The form of a new culture, as typed; None on Enter, which leaves it open."""

    def read(text: str) -> str:
        try:
            return form_named(text) if text.strip() else ""
        except Refusal as refusal:
            raise click.BadParameter(str(refusal)) from None

    question = f"Form ({', '.join(forms)}; Enter leaves it open)"
    return click.prompt(question, default="", show_default=False, value_proc=read, err=True) or None


def ask_yes(question: str) -> bool:
    """Whether the answer is yes; no on Enter and at the end of input."""
    try:
        return click.confirm(question, default=False, err=True)
    except click.Abort as stopped:
        if not isinstance(stopped.__context__, EOFError):
            raise
        click.echo("no", err=True)
        return False


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
    """The day of a photo without a time; None to skip it. last: the previous answer, which Enter repeats."""
    question = f"{plain(photo)} has no time in it. On which day was it taken (like 2026-10-27; `{_LEAVE_OUT}` skips it)"
    default = last.isoformat() if last else _LEAVE_OUT

    def day_or_none(text: str) -> date | None:
        return None if text.strip().lower() == _LEAVE_OUT else day_named(text)

    return _ask(question, default, day_or_none, at_end=_LEAVE_OUT)  # a day is never guessed


def ask_ref(question: str, named: Callable[[str], Ref]) -> Ref | None:
    """What photos are of; None (Enter) to leave them out. named: finds what has an ID; raises Refusal for an unknown
    ID."""

    def read(text: str) -> Ref | None:
        if text.strip().lower() == _LEAVE_OUT:
            return None
        try:
            return named(text.strip())
        except Refusal as refusal:
            raise click.BadParameter(str(refusal)) from None

    return _ask(f"{plain(question)} (an ID; `{_LEAVE_OUT}` leaves it out)", _LEAVE_OUT, read, at_end=_LEAVE_OUT)


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
    """Whether the author can see and answer a question."""
    return sys.stdin.isatty() and sys.stderr.isatty()


def columns_of_terminal() -> int | None:
    """The width of the terminal on stdout; None if stdout is a file or a pipe."""
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else None


def today_in(zone_name: str) -> date:
    """Today in the journal's time zone."""
    return datetime.now(journal_zone(zone_name)).date()


_UNITS = {
    "metric": ("metric", "g", "kg", "gram", "grams", "gramme", "grammes", "kilo", "kilos", "kilogram", "kilograms"),
    "us": ("us", "usa", "u.s.", "oz", "ounce", "ounces", "lb", "lbs", "pound", "pounds", "imperial"),
}


def units_named(text: str) -> str:
    """The units asked for, `metric` or `us`; raises click.BadParameter for others."""
    for units, words in _UNITS.items():
        if text.strip().lower() in words:
            return units
    raise click.BadParameter(f"{shortened(text)} is not known; write metric (g, kg, °C) or us (oz, lb, °F)")


def _ask(question: str, default: str, reader: Callable[[str], T], at_end: str | None = None) -> T:
    """The answer; at the end of input `at_end` or the default."""
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
