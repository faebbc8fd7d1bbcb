"""A contact sheet: small pictures of photos with what becomes of each, as one HTML file that loads nothing"""

from __future__ import annotations

import base64
import os
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from journal.atomic_write import write_atomically
from journal.problems import Refusal
from journal.quantities import counted
from journal.site.single_page import styled_page

_MARK = "<!doctype html>\n<!-- a contact sheet of `journal attach` -->\n"


@dataclass(frozen=True, slots=True)
class Pictured:
    """A photo. thumbnail: JPEG; empty where it cannot be decoded. The others: as the table of the command has them.
    fate: `filed`, `label`, `open` or `left out`."""

    thumbnail: bytes
    shown: str
    taken: str
    label: str
    goes_to: str
    why: str
    fate: str

    @property
    def data(self) -> str:
        """A `data:` address of the picture; empty where there is none."""
        return "data:image/jpeg;base64," + base64.b64encode(self.thumbnail).decode("ascii") if self.thumbnail else ""


def refuse_unless_sheet(file: Path, journal: Path) -> None:
    """Raises Refusal where a contact sheet cannot be put there: nothing but an earlier one is written over."""
    if file.resolve().is_relative_to(journal):
        raise Refusal(f"--sheet {file} is in the journal; name a file outside it")
    if not file.parent.is_dir():
        raise Refusal(f"--sheet {file}: there is no folder {file.parent}; make it first")
    if os.path.lexists(file) and not _is_sheet(file):
        raise Refusal(f"--sheet {file} is there already; delete it, or name another file")


def _is_sheet(file: Path) -> bool:
    with suppress(OSError):
        if file.is_file() and not file.is_symlink():
            with file.open("rb") as opened:
                return opened.read(len(_MARK)) == _MARK.encode()
    return False


def write_sheet(file: Path, pictures: Sequence[Pictured], title: str, resources: Path) -> None:
    """Writes the sheet, readable by its owner alone where the system can. title: the journal's. resources: where the
    templates and styles lie. Raises OSError."""
    write_atomically(file, sheet_of(pictures, title, resources).encode(), is_private=True)


def sheet_of(pictures: Sequence[Pictured], title: str, resources: Path) -> str:
    """The page: the photos in order, those together that follow each other and belong to one label."""
    page = styled_page(resources, "attach/sheet.html", title=title, groups=list(_groups(pictures)))
    return _MARK + page.strip() + "\n"


def _groups(pictures: Sequence[Pictured]) -> Iterator[tuple[str, str, list[Pictured]]]:
    """Heading, number of photos in words, and the photos."""
    for is_open, open_or_not in groupby(pictures, key=lambda one: one.fate == "open"):
        for label, same in groupby(open_or_not, key=lambda one: one.label):
            rows = list(same)
            yield "No label" if is_open else label, counted(len(rows), "photo"), rows
