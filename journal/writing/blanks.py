"""A new entry with the usual keys to fill in, put where entries of its kind lie."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path

USUAL_KEYS: Mapping[str, tuple[str, ...]] = {
    "find": ("species", "certainty", "where", "place", "growing on"),
    "culture": ("from", "method", "form", "medium", "vessels"),
    "batch": ("culture", "substrate", "units", "wet mass", "moisture"),
    "note": ("about", "stage", "harvest", "flush", "lost"),
    "tent": ("about", "humidity reading", "temperature reading", "door", "serviced"),
    "device": ("tent", "does", "fed by", "switched by", "rated for"),
}
"""The five keys that a new entry of each kind is given, empty until they are filled in (an empty key is none)."""

ABOUT_KEYS: Mapping[str, str | None] = {
    "find": None,
    "culture": "from",
    "batch": "culture",
    "note": "about",
    "tent": "about",
    "device": "tent",
}
"""The key that says what an entry of each kind is about."""

KINDS_WITH_ID = frozenset({"find", "culture", "batch", "device"})


def blank_text(kind: str, today: date, own_id: str | None = None, about: str | None = None) -> str:
    """The text of a new entry."""
    head = [f"kind: {kind}", *([f"id: {own_id}"] if own_id else []), f"date: {today.isoformat()}"]
    values = {ABOUT_KEYS[kind]: about} if about else {}
    keys = [f"{key}: {values.get(key, '')}".rstrip() for key in USUAL_KEYS[kind]]
    return "\n".join(["---", *head, *keys, "---", "", ""])


def blank_path(kind: str, today: date, own_id: str | None = None, about: str | None = None, beside: str = "") -> str:
    """Where a new entry is put, relative to the journal.

    beside: the folder that what it is about has to itself; "" where it has none.
    """
    day = today.isoformat()
    if kind == "find":
        return f"finds/{day}-{own_id}/find.md"
    if kind == "batch":
        return f"batches/{own_id}/batch.md"
    if kind in ("culture", "device"):
        return f"{kind}s/{own_id}.md"
    if beside:
        return f"{beside}/{day}.md"
    return f"{kind}s/{day}{f'-{about}' if about else ''}.md"


def write_blank(root: Path, path: str, text: str) -> str:
    """Writes a new entry at the first free name like `path` (`…-2.md` for the second) and gives the path taken.

    Never overwrites. Raises OSError.
    """
    for free in _names_like(path):
        file = root / free
        file.parent.mkdir(parents=True, exist_ok=True)
        try:
            with file.open("x", encoding="utf-8", newline="\n") as opened:
                try:
                    opened.write(text)
                    opened.flush()
                except OSError as error:
                    error.filename = error.filename or str(file)
                    file.unlink()
                    raise
        except FileExistsError:
            continue
        return free
    raise AssertionError("names without end ran out")


def _names_like(path: str) -> Iterator[str]:
    yield path
    head, _, ending = path.rpartition(".")
    number = 2
    while True:
        yield f"{head}-{number}.{ending}"
        number += 1
