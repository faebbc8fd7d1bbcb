"""A folder as one zip: the same files, the same bytes."""

from __future__ import annotations

import zipfile
from pathlib import Path

from journal.keeping.shelf import files_below

_LONG_AGO = (1980, 1, 1, 0, 0, 0)
"""The earliest time a zip can tell; when a file was made is nobody's business."""
_READABLE = 0o100644 << 16
_PACKED_ALREADY = (".webp", ".png")


def zip_folder(folder: Path, file: Path) -> None:
    """Packs every file below a folder, but hidden ones, by name; raises OSError."""
    with zipfile.ZipFile(file, "w") as packed:
        for name in files_below(folder):
            packed.writestr(_row(name), (folder / name).read_bytes())


def _row(name: str) -> zipfile.ZipInfo:
    row = zipfile.ZipInfo(name, _LONG_AGO)
    row.create_system = 3  # or a zip made under Windows would differ
    row.external_attr = _READABLE
    row.compress_type = zipfile.ZIP_STORED if name.endswith(_PACKED_ALREADY) else zipfile.ZIP_DEFLATED
    return row
