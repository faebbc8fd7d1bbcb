"""`journal keys`: every key of a kind of entry, or every setting, with what it means and an example."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

import click

from journal.reading.key_help import KIND_MEANS, KeyHelp, help_of
from journal.reading.keys import KINDS
from journal.reading.setting_help import example_of, tables_help
from journal.reading.toml_tables import Setting

_WIDTH = 96


def print_settings() -> None:
    """Prints every table of journal.toml with its settings."""
    for table in tables_help():
        about = [textwrap.fill(table.about.replace("`", "").replace("*", ""), _WIDTH)] if table.about else []
        _print("\n".join((*_heading(table.header), *about, *_setting_lines(table.settings))))


def _setting_lines(settings: tuple[Setting, ...]) -> Iterator[str]:
    for one in settings:
        yield from ("", one.name + (" (required)" if one.required else ""))
        yield from _parts((("means", one.help), ("older name", one.old), ("example", example_of(one))))


def print_keys(kind: str | None) -> None:
    """Prints the keys of a kind, including those that every kind has; None: of every kind."""
    for one in (kind,) if kind else KINDS:
        _print("\n".join(_kind_lines(one)))
    _print("\n".join((*_heading("Keys that every kind has"), *_lines(help_of(None)))))
    if kind is None:
        _print("`journal keys KIND` prints those of one kind, `journal keys settings` what journal.toml takes.")


def _print(text: str) -> None:
    click.echo(text + "\n")


def _heading(words: str) -> tuple[str, str]:
    return words, "=" * len(words)


def _kind_lines(kind: str) -> Iterator[str]:
    yield from _heading(f"{kind}: {KIND_MEANS[kind]}")
    yield from _lines(help_of(kind))


def _lines(rows: tuple[KeyHelp, ...]) -> Iterator[str]:
    for row in rows:
        yield ""
        yield row.name + (" (required)" if row.required else "")
        parts = (("means", row.means), ("takes", row.takes), ("also read", row.also), ("older name", row.older))
        yield from _parts((*parts, ("example", row.example)))


def _parts(parts: tuple[tuple[str, str], ...]) -> Iterator[str]:
    for what, words in parts:
        if words:
            yield textwrap.fill(
                words.replace("`", ""), _WIDTH, initial_indent=f"  {what:<12}", subsequent_indent=" " * 14
            )
