"""What the commands say when they are done."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from journal.desk.telling import plain
from journal.problems import Problem

if TYPE_CHECKING:
    from journal.making import Built
    from journal.model import Journal


def counts(journal: Journal) -> str:
    """`92 entries, 140 photos, 3 to mend (1 wrong, 2 odd)`."""
    entries = sum(1 for _ in journal.entries())
    return f"{_number(entries, 'entry', 'entries')}, {_number(len(journal.photos), 'photo', 'photos')}, " + to_mend(
        journal.problems
    )


def to_mend(problems: Sequence[Problem]) -> str:
    wrong = sum(problem.weight == "wrong" for problem in problems)
    odd = len(problems) - wrong
    weights = ", ".join(f"{count} {weight}" for count, weight in ((wrong, "wrong"), (odd, "odd")) if count)
    return f"{len(problems)} to mend ({weights})" if problems else "nothing to mend"


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
    return f"Made anew: {_number(built.rendered, 'page', 'pages')}, {to_mend(built.journal.problems)}"


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
