"""The check at the end of every share: every byte of what is to go out is searched for what is not shared."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from journal.keeping.shelf import find_shelf
from journal.model import Journal, Share
from journal.sharing.folding import fold
from journal.sharing.hunting import Hunted, hunted_of
from journal.sharing.opened import Metadata, Shut, Text, opened
from journal.sharing.own_words import own_files

MOST_OF_A_KIND = 3
"""So many findings of one kind are told of one file; the others would say the same."""


@dataclass(frozen=True, slots=True, order=True)
class Leak:
    """Something that a share tells and must not, for the keeper's own eyes.

    file: the file, from the folder's root. what: what kind of thing it is. where: how to come to it. shown: the words
    themselves, with those around them; "" where there are none.
    """

    file: str
    what: str
    where: str
    shown: str = ""

    def __str__(self) -> str:
        words = f": “{self.shown}”" if self.shown else ""
        return f"{self.where} tells {self.what}{words}"


def leaks_in(
    folder: Path, whole: Journal, share: Share, *, files: Iterable[str] = (), strings: Iterable[str] = ()
) -> tuple[Leak, ...]:
    """All that a built share tells of a journal and must not, by file; nothing where all is well.

    folder: what is to go out: pages, pictures, packed files. whole: the journal before redaction. files: paths of what
    else lies in the journal's folder (logger files, tracks, entries that could not be read). strings: more that must
    not stand anywhere: names of published pictures that are not shared, what the photos' cameras say of themselves.
    What cannot be looked into counts as a leak. Raises Refusal where the share cannot be made, OSError where a file
    cannot be read.
    """
    hunted = hunted_of(whole, share, files, strings)
    found: list[Leak] = []
    known: dict[str, tuple[Leak, ...]] = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        found += _told_by_name(name, hunted)
        if path.is_file() and not _is_own(path, name):
            data = _bytes_of(path, name)
            digest = hashlib.sha256(data).hexdigest()
            if digest not in known:
                known[digest] = tuple(_told_by_bytes(name, data, hunted))
            found += [
                Leak(name, leak.what, leak.where.replace(leak.file, name, 1), leak.shown) for leak in known[digest]
            ]
    return tuple(sorted(set(found)))


def _told_by_name(name: str, hunted: Hunted) -> Iterator[Leak]:
    for told in hunted.found_in(name.rpartition("/")[2]):
        yield Leak(name, told.what, f"the name {name}")


def _told_by_bytes(name: str, data: bytes, hunted: Hunted) -> Iterator[Leak]:
    seen: dict[tuple[str, str], int] = {}
    for found in opened(name, data):
        if isinstance(found, Metadata):
            yield Leak(name, "what a camera or program wrote beside the pixels", found.where, found.what)
        elif isinstance(found, Shut):
            yield Leak(name, "something that cannot be looked into", found.where, found.why)
        else:
            yield from _told_by_text(name, found, hunted, seen)


def _told_by_text(name: str, text: Text, hunted: Hunted, seen: dict[tuple[str, str], int]) -> Iterator[Leak]:
    plain = ""
    for told in hunted.found_in(text.text):
        if told.end - told.start < text.least:
            continue
        plain = plain or fold(text.text)
        words = " ".join(plain[told.start : told.end].split())
        seen[told.what, words] = seen.get((told.what, words), 0) + 1
        if seen[told.what, words] == 1 and sum(what == told.what for what, _ in seen) <= MOST_OF_A_KIND:
            around = " ".join(plain[max(0, told.start - 20) : told.end + 20].split())
            yield Leak(name, told.what, text.where, around)


def _is_own(path: Path, name: str) -> bool:
    """Whether a file is one of the program's own static ones, the same on every site."""
    known = own_files().get(name.removeprefix("static/")) if name.startswith("static/") else None
    return known is not None and hashlib.sha256(path.read_bytes()).hexdigest() == known


def _bytes_of(path: Path, name: str) -> bytes:
    """A file's bytes; of the worker, what is not its source."""
    data = path.read_bytes()
    if name == "sw.js":
        for source in ("sw.js", "js/pool.js"):
            data = data.replace((find_shelf() / "static" / source).read_bytes(), b"")
    return data
