"""Which folder is a journal, and which files it reads, by their names, with their stat; imports almost nothing."""

from __future__ import annotations

import os

SITE_MARK = ".journal-site"
"""A file of this name marks a folder as a built site, which is never read as part of a journal."""

SETTINGS_NAME = "journal.toml"

RECEIPTS = "receipts/"
"""The folder of receipts: what came in from a phone, one JSON file each time."""

KIND_BY_SUFFIX = {
    ".md": "entry",
    ".csv": "csv",
    ".gpx": "gpx",
    **dict.fromkeys((".jpg", ".jpeg", ".heic", ".heif", ".png", ".webp", ".tif", ".tiff", ".avif"), "photo"),
}


def journal_around(folder: str) -> str | None:
    """The nearest folder, from this one upwards, that has a journal's settings; None if there is none. folder: an
    absolute path."""
    while not os.path.isfile(os.path.join(folder, SETTINGS_NAME)):
        above = os.path.dirname(folder)
        if above == folder:
            return None
        folder = above
    return folder


def stats_of_journal(root: str, folders: list[str] | None = None) -> list[str] | None:
    """A row for every file that a journal reads, sorted: path and stat. None if anything would be a problem or needs a
    closer look: a link, a name that is not UTF-8, a folder that cannot be listed. folders: gets every folder below it
    that was listed."""
    rows: list[str] = []
    waiting = [(root, "")]
    try:
        while waiting:
            folder, below = waiting.pop()
            with os.scandir(folder) as inside:
                found = list(inside)
            if any(row.name == SITE_MARK for row in found):
                if below:
                    continue
                return None
            for row in found:
                name = row.name
                if name.startswith("."):
                    continue
                if row.is_dir(follow_symlinks=False):
                    waiting.append((row.path, f"{below}{name}/"))
                    if folders is not None:
                        folders.append(below + name)
                elif row.is_symlink():
                    return None
                elif _is_read(below, name):
                    if not row.is_file(follow_symlinks=False):
                        return None
                    facts = row.stat(follow_symlinks=False)
                    rows.append(row_of(below + name, facts.st_size, facts.st_mtime_ns, facts.st_ctime_ns, facts.st_ino))
        "".join(rows).encode()
    except (OSError, UnicodeEncodeError):
        return None
    rows.sort()
    return rows


def row_of(path: str, size: int, mtime_ns: int, ctime_ns: int, inode: int) -> str:
    return f"{path}\0{size}\0{mtime_ns}\0{ctime_ns}\0{inode}"


def _is_read(below: str, name: str) -> bool:
    suffix = os.path.splitext(name)[1].lower()
    if suffix == ".json":
        return (below + name).startswith(RECEIPTS)
    return suffix in KIND_BY_SUFFIX or (name == SETTINGS_NAME and not below)
