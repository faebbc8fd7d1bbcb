"""What a killed run left hidden in the journal: finished, cleared away, or kept until its photo comes again."""

from __future__ import annotations

import os
import posixpath
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from journal.gathering.disk import PART, READY, Disk
from journal.keeping.cache import sha256_of
from journal.reading.entries import Draft
from journal.reading.folder import SITE_MARK, kind_of_file, nfc


@dataclass(frozen=True, slots=True)
class Leftover:
    """A hidden file. path: the one that it was to have, relative to the journal. is_whole: whether it is ready."""

    file: Path
    path: str
    is_whole: bool

    @property
    def is_note(self) -> bool:
        return kind_of_file(self.path) == "entry"


def leftovers_in(root: Path) -> list[Leftover]:
    """Every such file, wherever a journal is read; opens none."""
    found = []
    for here, folders, files in os.walk(root):
        if SITE_MARK in files:
            folders.clear()
            continue
        folders[:] = [name for name in folders if not name.startswith(".")]
        found += [one for name in files if (one := _leftover(root, Path(here) / name))]
    return sorted(found, key=lambda one: one.path)


def _leftover(root: Path, file: Path) -> Leftover | None:
    ending = next((ending for ending in (PART, READY) if file.name.endswith(ending)), None)
    if ending is None or not file.name.startswith("."):
        return None
    final = file.with_name(file.name[1 : -len(ending)] or "none")
    if kind_of_file(final.name) not in ("entry", "photo"):
        return None
    return Leftover(file, final.relative_to(root).as_posix(), ending == READY)


def clear_notes(leftovers: Iterable[Leftover], root: Path, disk: Disk) -> list[Leftover]:
    """Removes what is no whole photo, and gives those that are.

    A note that was never put in place goes too: the run that comes again writes it again. One whose name was taken
    before it was filled gets it.
    """
    photos = []
    for one in leftovers:
        final = root / one.path
        if one.is_whole and not one.is_note:
            photos.append(one)
        elif one.is_whole and final.is_file() and final.stat().st_size == 0:
            disk.reveal(one.file, final)
        else:
            disk.remove(one.file)
    return photos


def finish_photos(photos: Iterable[Leftover], drafts: Sequence[Draft], root: Path, disk: Disk) -> list[Leftover]:
    """Gives every photo its name that a note beside it names already; gives the photos that none names."""
    named = set(_named_by(drafts))
    waiting = []
    for one in photos:
        if nfc(one.path) not in named or not disk.reveal(one.file, root / one.path):
            waiting.append(one)
    return waiting


def _named_by(drafts: Sequence[Draft]) -> Iterator[str]:
    for draft in drafts:
        for name, _ in draft.values.get("photos", ()):
            yield nfc(posixpath.normpath(posixpath.join(posixpath.dirname(draft.path), name)))


def digests_of(waiting: Iterable[Leftover]) -> Mapping[str, str]:
    """Digest (hex) of each waiting photo, by the path that it was to have."""
    return {one.path: sha256_of(one.file) for one in waiting}


def clear_doubled(waiting: Iterable[Leftover], contents: Collection[str], disk: Disk) -> list[Leftover]:
    """Removes every waiting photo whose content (its digest) is to be seen in the journal; gives the others."""
    others = []
    for one in waiting:
        if sha256_of(one.file) in contents:
            disk.remove(one.file)
        else:
            others.append(one)
    return others
