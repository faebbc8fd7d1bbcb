"""`journal export`: the whole journal, printed as one JSON document or written as CSV tables."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Literal

import click

from journal.commands.console import plain_json
from journal.commands.workspace import Workspace
from journal.export.document import document
from journal.export.example_journal import specimen
from journal.export.tables import refuse_unless_our_tables, tables_of, write_tables
from journal.problems import Refusal
from journal.quantities import counted


def export_journal(workspace: Workspace, form: Literal["json", "csv"], to: Path | None) -> None:
    """Prints the document, or writes the tables to a folder. Raises Refusal where form and folder do not fit."""
    if form == "json" and to is not None:
        raise Refusal("--to is for tables only; add --as csv, or leave out --to to print the JSON document")
    if form == "csv" and to is None:
        raise Refusal("--as csv writes several files; name a folder for them with --to")
    if to is None:
        text = json.dumps(document(workspace.read()), ensure_ascii=False, indent=1)
        click.echo(plain_json(text).encode())
        return
    target = to.resolve()
    refuse_unless_our_tables(target, workspace.root)  # before the journal is read, which can take a while
    tables = tables_of(document(workspace.read()), document(specimen()))
    with workspace.at_target(target):
        write_tables(tables, target, workspace.root)
    rows = counted(sum(len(table.rows) for table in tables), "row")
    workspace.output.notice(f"{counted(len(tables), 'table')} with {rows} in {target}")
