"""What stands beside a share's pages: its zip, and the sheet of every photo for the author to look over."""

from __future__ import annotations

import shutil
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from journal.cache.resources import files_below
from journal.quantities import counted

_LONG_AGO = (1980, 1, 1, 0, 0, 0)  # the earliest time a zip can tell; when a file was made is nobody's business
_READABLE = 0o100644 << 16
_PACKED_ALREADY = (".webp", ".png")


def zip_folder(folder: Path, file: Path) -> None:
    """Packs every file below a folder, but hidden ones, by name; raises OSError."""
    with zipfile.ZipFile(file, "w") as packed:
        for name in files_below(folder):
            row = zipfile.ZipInfo(name, _LONG_AGO)
            row.create_system = 3  # or a zip made under Windows would differ
            row.external_attr = _READABLE
            row.compress_type = zipfile.ZIP_STORED if name.endswith(_PACKED_ALREADY) else zipfile.ZIP_DEFLATED
            packed.writestr(row, (folder / name).read_bytes())


SHEET = "photos.html"
_STYLES = ("tokens", "base", "parts", "pages", "paper")


@dataclass(frozen=True, slots=True)
class ToLookOver:
    """A photo that would go out. path: in the journal. source: its largest published size, None where it has none;
    width, height: of that, in px. words: what stands beside it."""

    path: str
    source: Path | None
    width: int
    height: int
    words: tuple[str, ...] = ()

    @property
    def file(self) -> str | None:
        """Where it lies beside the sheet."""
        return f"photos/{self.source.name}" if self.source else None


def write_sheet(folder: Path, name: str, photos: Sequence[ToLookOver], shelf: Path) -> Path:
    """Writes the sheet of a share and the pictures that it shows into a folder, and gives the sheet's path. shelf:
    where templates and styles lie. Raises OSError."""
    pages = Environment(
        loader=FileSystemLoader(shelf / "templates"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
    )
    count = counted(len(photos), "photo")
    text = pages.get_template("share/photos.html").render(name=name, photos=photos, count=count)
    (folder / "photos").mkdir(parents=True, exist_ok=True)
    (folder / "css").mkdir(exist_ok=True)
    for photo in photos:
        if photo.source and photo.file:
            shutil.copyfile(photo.source, folder / photo.file)
    for style in _STYLES:
        shutil.copyfile(shelf / "static" / "css" / f"{style}.css", folder / "css" / f"{style}.css")
    (folder / SHEET).write_text(text, encoding="utf-8", newline="\n")
    return folder / SHEET
