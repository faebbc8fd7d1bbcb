"""The note that names photos, as a keeper would type it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from journal.gathering.naming import photo_lines
from journal.gathering.subjects import Subject


def note_text(subject: Subject, day: date, stage: str | None, names: Sequence[str]) -> str:
    """The entry file's text: a note, or an entry of the tent."""
    head = [f"kind: {subject.entry_kind}", f"about: {subject.ref}", f"date: {day.isoformat()}"]
    if stage:
        head.append(f"stage: {stage}")
    return "\n".join(["---", *head, photo_lines(names), "---", ""])


def note_name(subject: Subject, day: date, stage: str | None, is_own_home: bool) -> str:
    """Its file name: `2026-10-27-pinning.md`, with the ID in it where its folder does not tell that or it is a part."""
    parts = [day.isoformat()]
    if not is_own_home or subject.ref.part is not None:
        parts.append(str(subject.ref))
    if stage:
        parts.append(stage.replace(" ", "-"))
    return "-".join(parts) + ".md"
