"""What a command asks the keeper, and what it guesses of this computer."""

from __future__ import annotations

import getpass
import locale
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from zoneinfo import available_timezones

import click

from journal.problems import nearest
from journal.reading.dates import journal_zone
from journal.writing.starting import Answers, guess_time_zone


def ask_for(folder: Path, title: str | None, keeper: str | None, time_zone: str | None, units: str | None) -> Answers:
    """What a new journal needs to know; asks for what is None. Raises click.BadParameter for a zone that is none."""
    return Answers(
        title=title or _ask("Title", _title_from(folder)),
        keeper=keeper or _ask("Keeper (a name to stand under the entries)", _user_name()),
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
        return "the keeper"


def _usual_units() -> str:
    """US customary units where this computer is set up for a country that measures so."""
    return "us" if (locale.getlocale()[0] or "").endswith(("_US", "_LR", "_MM")) else "metric"
