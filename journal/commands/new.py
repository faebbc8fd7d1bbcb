"""`journal new`: asks for what it cannot assume, writes the entry and says what it left open."""

from __future__ import annotations

from journal.commands.prompts import ask_form, can_ask, today_in
from journal.commands.workspace import Workspace
from journal.pipeline import read_files
from journal.reading.settings_file import tent_block
from journal.writing.blanks import write_blank
from journal.writing.new_entry import FORMS, new_entry


def add_entry(workspace: Workspace, kind: str, about: str | None, form: str | None, id: str | None = None) -> str:
    """Writes a new entry and gives its path in the journal. id: of a label. Raises Refusal if it is not possible."""
    memory = workspace.memory()
    with workspace.output:
        written = read_files(memory, workspace.output.progress)
    memory.cache.save()
    today = today_in(written.settings.time_zone)
    new_entry(kind, written.drafts, written.settings, today, about, form, id)  # refused before anything is asked
    if kind == "culture" and form is None and can_ask():
        form = ask_form(FORMS)
    made = new_entry(kind, written.drafts, written.settings, today, about, form, id)
    path = write_blank(workspace.root, made.path, made.text)
    if made.kind != kind:
        workspace.output.notice(f"{about} is a tent, so this is a tent entry.")
    if kind == "culture" and form is None:
        workspace.output.notice(f"Its form is missing: write it there, or give --form ({', '.join(FORMS)}).")
    if made.kind in ("tent", "device") and not written.settings.tents:
        paste = tent_block("tent-1").splitlines()
        workspace.output.notice("journal.toml has no tent yet: add these lines there, with an ID of your own:", *paste)
    return path
