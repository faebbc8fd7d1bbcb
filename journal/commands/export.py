"""The whole journal handed to other programs: printed as one document, or written as tables."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Literal

import click

from journal.commands.console import plain_json, tables_written
from journal.commands.workspace import Workspace
from journal.export.document import document
from journal.export.example_journal import specimen
from journal.export.tables import refuse_unless_our_tables, tables_of, write_tables
from journal.problems import Refusal

Form = Literal["json", "csv"]


def export_journal(desk: Workspace, form: Form, to: Path | None) -> None:
    """Prints the document, or writes the tables to a folder. Raises Refusal where the two do not go together."""
    if form == "json" and to is not None:
        raise Refusal("one JSON document is printed, and goes to no folder; write --as csv with --to")
    if form == "csv" and to is None:
        raise Refusal("tables are several files; name a folder for them with --to")
    if to is None:
        _print_document(desk)
    else:
        _write_tables(desk, to.resolve())


def _print_document(desk: Workspace) -> None:
    text = json.dumps(document(desk.read()), ensure_ascii=False, indent=1)
    click.echo(plain_json(text).encode())


def _write_tables(desk: Workspace, target: Path) -> None:
    refuse_unless_our_tables(target, desk.root)  # before the journal is read, which may take a while
    tables = tables_of(document(desk.read()), document(specimen()))
    with desk.at_target(target):
        write_tables(tables, target, desk.root)
    desk.teller.notice(tables_written(len(tables), sum(len(table.rows) for table in tables), target))
