"""Tables in a folder of their own: written whole, and never over a file that this program did not write.

The folder's mark lists every file by SHA-256, as `sha256sum` does. So an earlier export is known from a stranger's
folder, and a table that its keeper went on working in from one that may be written anew.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Mapping
from pathlib import Path

from journal.refusal import Refusal
from journal.site.placing import new_tree, put_in_place, tidy
from journal.site.tidy import Table, csv_of

MARK = ".journal-tables"


def write_tables(tables: Iterable[Table], target: Path, journal: Path) -> None:
    """Puts the tables into the folder, in one step, in the place of an earlier export.

    Both paths are absolute, with links resolved. Raises Refusal where the folder holds, or lies among, what is not
    ours to write over; then nothing is changed.
    """
    refuse_unless_ours(target, journal)
    tidy(target)
    files = {f"{table.name}.csv": csv_of(table) for table in tables}
    with new_tree(target, MARK, _marked(files)) as tree:
        for name, content in files.items():
            (tree / name).write_bytes(content)
        put_in_place(tree, target)


def refuse_unless_ours(target: Path, journal: Path) -> None:
    """Raises Refusal unless the target is absent, empty, or an earlier export as it was written, apart from the
    journal."""
    if target.is_relative_to(journal) or journal.is_relative_to(target):
        raise Refusal(f"--to {target} lies in the journal, or holds it; name a folder apart from it")
    if not os.path.lexists(target):
        return
    if not target.is_dir():
        raise Refusal(f"--to {target} is a file; name a folder")
    written = _written(target)
    for name in sorted(path.name for path in target.iterdir()):
        if name != MARK and name not in written:
            raise Refusal(f"--to {target} holds {name}, which no export wrote; name an empty or a new folder")
        if name in written and written[name] != _digest(target / name):
            raise Refusal(
                f"{target / name} was changed since it was written; move it elsewhere, or name another folder"
            )


def _marked(files: Mapping[str, bytes]) -> str:
    return "".join(f"{hashlib.sha256(files[name]).hexdigest()}  {name}\n" for name in sorted(files))


def _written(target: Path) -> dict[str, str]:
    """What an earlier export wrote there: name -> SHA-256; nothing where there is no mark."""
    mark = target / MARK
    if mark.is_symlink() or not mark.is_file():
        return {}
    lines = mark.read_text(encoding="utf-8", errors="replace").splitlines()
    return {name: digest for digest, found, name in (line.partition("  ") for line in lines) if found}


def _digest(file: Path) -> str | None:
    """None for what is no plain file."""
    return hashlib.sha256(file.read_bytes()).hexdigest() if file.is_file() and not file.is_symlink() else None
