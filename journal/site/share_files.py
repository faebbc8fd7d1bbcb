"""The files beside a share's pages: its zip, and the preview of every text and photo for its author."""

from __future__ import annotations

import base64
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from journal.cache.resources import files_below
from journal.quantities import counted
from journal.site.single_page import styled_page

_LONG_AGO = (1980, 1, 1, 0, 0, 0)  # the earliest time a zip can have; when a file was made is not shared
_READABLE = 0o100644 << 16
_PACKED_ALREADY = (".webp", ".png")


def zip_folder(folder: Path, file: Path) -> None:
    """Packs every file below a folder except hidden ones, sorted by name; raises OSError."""
    with zipfile.ZipFile(file, "w") as packed:
        for name in files_below(folder):
            row = zipfile.ZipInfo(name, _LONG_AGO)
            row.create_system = 3  # or a zip made under Windows would differ
            row.external_attr = _READABLE
            row.compress_type = zipfile.ZIP_STORED if name.endswith(_PACKED_ALREADY) else zipfile.ZIP_DEFLATED
            packed.writestr(row, (folder / name).read_bytes())


PREVIEW = "preview.html"


@dataclass(frozen=True, slots=True)
class PhotoSeen:
    """A photo that would be shared. path: in the journal. source: its largest published size, None where it has none;
    width, height: of that, in px. words: what is beside it."""

    path: str
    source: Path | None
    width: int
    height: int
    words: tuple[str, ...] = ()

    @property
    def data(self) -> str | None:
        """The picture itself as a `data:` address, which loads nothing."""
        if self.source is None:
            return None
        return f"data:image/webp;base64,{base64.b64encode(self.source.read_bytes()).decode('ascii')}"


@dataclass(frozen=True, slots=True)
class MarkedText:
    """A part of a text; kind: what it may reveal, None if nothing was found."""

    text: str
    kind: str | None = None


@dataclass(frozen=True, slots=True)
class TextSeen:
    """A text that would be shared, in parts. path: of its file; field: the key that it is under."""

    path: str
    field: str
    parts: tuple[MarkedText, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Texts and photos that are looked at together; count: how many, in words."""

    all_photos: tuple[PhotoSeen, ...]
    all_texts: tuple[TextSeen, ...]

    @property
    def photos(self) -> tuple[PhotoSeen, ...]:
        return self.all_photos

    @property
    def texts(self) -> list[tuple[str, list[TextSeen]]]:
        """The texts of each file together."""
        return [(path, list(rows)) for path, rows in groupby(self.all_texts, lambda row: row.path)]

    @property
    def photo_count(self) -> str:
        return counted(len(self.all_photos), "photo")

    @property
    def text_count(self) -> str:
        return counted(len(self.all_texts), "text")

    @property
    def count(self) -> str:
        return f"{self.text_count} and {self.photo_count}" if self.all_photos else self.text_count


def write_preview(folder: Path, name: str, news: str, allows: str, groups: Sequence[Group], resources: Path) -> Path:
    """Writes the preview of everything that a share would show, one file that contains its styles and pictures, and
    gives its path. news, allows: what is new, and what the share allows, in words. groups: what is new, what was looked
    at before, what is left out. resources: where templates and styles lie. Raises OSError."""
    new, known, left_out = groups
    text = styled_page(
        resources,
        "share/preview.html",
        name=name,
        news=news,
        allows=allows,
        new=new,
        known=known,
        left_out=left_out,
    )
    (folder / PREVIEW).write_text(text.lstrip(), encoding="utf-8", newline="\n")
    return folder / PREVIEW
