"""What was made or begun and what of it was lost, as one figure with every loss beneath."""

from __future__ import annotations

from collections.abc import Iterator

from journal.model import Note
from journal.reckoning.timing import Run
from journal.site import wording
from journal.site.figures import Figure

SOURCE = "as the keeper wrote it; only what is written as lost counts as a loss"


def made_and_lost(run: Run, words: str, beside: str | None) -> Figure:
    """How many there were. words: what they are and what was done (`blocks begun`)."""
    made = run.begun or 0
    return Figure(
        number=str(made),
        words=words,
        beside=beside,
        inputs=((words, str(made)), *_losses(run)),
        formula=f"what is left = {words} − lost" if run.losses else f"{words} = as written, 1 where nothing is",
        source=SOURCE,
    )


def _losses(run: Run) -> Iterator[tuple[str, str]]:
    for note in run.losses:
        name = ", ".join(filter(None, (f"lost {wording.date_in_words(note.date)}", parts_in_words(note, run.of.id))))
        yield name, f"{note.lost}, {note.cause}" if note.cause else str(note.lost)


def parts_in_words(note: Note, id: str) -> str | None:
    """`no. 1 and 2`; None where a note is about the whole."""
    parts = [ref.part for ref in note.about if ref.id == id]
    if not parts or None in parts:
        return None
    return f"no. {wording.joined([str(part) for part in dict.fromkeys(parts)])}"
