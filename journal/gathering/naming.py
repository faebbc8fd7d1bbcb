"""What copies of photos and their notes are called, so that a journal reads every name back on every system."""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Collection, Iterator, Sequence

from journal.model import Settings
from journal.reading.entries import read_entry
from journal.reading.folder import nfc
from journal.reading.ids import RESERVED

LONGEST_BYTES = 200
"""Of a name. File systems take 255; the name that a copy has while it is written is longer than its own."""

# What Windows takes in no name. Source: Microsoft, Naming Files, Paths, and Namespaces.
_NOT_ON_WINDOWS = frozenset('<>:"/\\|?*')


def folded(name: str) -> str:
    """What two names have in common that are one name on some system: Windows and macOS go by no case."""
    return nfc(name).casefold()


def name_for_copy(name: str, endings: Sequence[str], digest: str) -> str:
    """The name a photo gets in a journal: its own, where an entry can name it so.

    endings: how the name of a file of its kind may end, the usual first; empty where its kind is unknown.
    """
    stem, ending = os.path.splitext(_plain(name))
    if endings and ending.lower() not in endings:
        ending = endings[0]
    stem = _cut(stem.strip(" .") or "photo", LONGEST_BYTES - len(ending.encode()))
    if stem.split(".")[0].lower() in RESERVED:
        stem = f"photo-{stem}"
    return stem + ending if can_be_listed(stem + ending) else f"photo-{digest[:12]}{ending}"


def _plain(name: str) -> str:
    """The name as composed Unicode text; what no name should hold becomes a hyphen, every run of blanks a space."""
    text = nfc(os.fsencode(name).decode("utf-8", "replace"))
    kept = (" " if char.isspace() else "-" if _is_unfit(char) else char for char in text)
    return re.sub(" +", " ", "".join(kept)).strip()


def _is_unfit(char: str) -> bool:
    return char in _NOT_ON_WINDOWS or char == "\ufffd" or unicodedata.category(char)[0] == "C"


def _cut(text: str, most_bytes: int) -> str:
    return text.encode()[:most_bytes].decode("utf-8", "ignore").rstrip(" .")


def can_be_listed(name: str) -> bool:
    """Whether an entry that lists this name under `photos` names this very file."""
    entry = read_entry("note.md", photo_lines([name]).join(("---\n", "\n---\n")).encode("utf-8", "replace"), Settings())
    return entry is not None and entry.values.get("photos") == ((name, None),)


def photo_lines(names: Sequence[str]) -> str:
    """The lines of front matter that list these photos."""
    return "\n".join(["photos:", *(f"  - {name}" for name in names)])


def first_free(name: str, taken: Collection[str]) -> str:
    """The name, or the first like it (`IMG_0533-2.jpg`) that is free on every system. taken: as `folded` gives them."""
    return next(free for free in numbered(name) if folded(free) not in taken)


def numbered(name: str) -> Iterator[str]:
    """`IMG_0533.jpg`, `IMG_0533-2.jpg`, `IMG_0533-3.jpg` and so on."""
    yield name
    stem, ending = os.path.splitext(name)
    number = 2
    while True:
        yield f"{stem}-{number}{ending}"
        number += 1
