"""Files of the journal read at most once for as long as they stay the same."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar, cast

from journal.cache.resources import source_digest
from journal.cache.store import Cache, Given
from journal.cache.unchanged import sha256_of
from journal.model import LoggerFile, WeatherFile
from journal.problems import Problem
from journal.reading.entries import Draft
from journal.reading.folder import File, Folder
from journal.reading.photos import PhotoFacts
from journal.reading.receipts import Received
from journal.reading.tracks import Track
from journal.settings import Settings

T = TypeVar("T")

KINDS: Mapping[str, Any] = MappingProxyType(
    {
        "settings": tuple[tuple[Settings, tuple[Problem, ...]]],
        "entry": tuple[Draft | None],
        "track": tuple[tuple[Track, tuple[Problem, ...]]],
        "weather": tuple[tuple[WeatherFile, tuple[Problem, ...]]],
        "log": tuple[tuple[LoggerFile, tuple[Problem, ...]]],
        "receipt": tuple[tuple[tuple[Received, ...], tuple[Problem, ...]]],
        "photo": PhotoFacts,
    }
)
"""What is cached of the journal's files: the type of each kind."""


Packed = tuple[str, bytes]
"""The SHA-256 of a file, and what was made of it as bytes."""


class TooLarge(OSError):
    """A file that is too large."""


class FileCache:
    """What one run reads, and what earlier runs cached. scanned_ns: time_ns() before the folder was read. folder: what
    is in it, if that is known already; taken once. is_repeatable: whether another run would read the same from the same
    files; False if a disk or a time limit refused one."""

    def __init__(self, cache: Cache, root: Path, scanned_ns: int, folder: Folder | None = None) -> None:
        self.cache = cache
        self.folder = folder
        self.root = root
        self._folder = os.fspath(root)
        self.scanned_ns = scanned_ns
        self.is_repeatable = True
        self._used_paths: set[str] = set()
        self._used_keys: set[tuple[str, str]] = set()

    def read(self, file: File, kind: str, depends_on: str, reader: Callable[[bytes], T], most_bytes: int) -> T:
        """The result of `reader` for a file's bytes, which are not read again while the file stays the same.

        kind: as in `KINDS`, which gives the type of the reader's result, here in a tuple of one, so that None can be
        cached. depends_on: everything else that the result depends on, apart from the path and the program's sources.
        Raises OSError, and TooLarge before any of a larger file is read.
        """
        self._used_paths.add(file.path)
        if (given := self._given(file, kind, depends_on)) is not None:
            self._used_keys.add((kind, given.key))
            return cast(T, given.value)
        if file.size > most_bytes:
            raise TooLarge(file.path)
        digest = self.cache.digest_of(file.path, file.signature)
        data = None
        if digest is None:
            data = self._bytes_of(file, most_bytes)
            digest = hashlib.sha256(data).hexdigest()
            self.remember_digest(file, digest)
        key = f"{digest}|{file.path}|{depends_on}"
        known = self.recall(kind, key, source_digest())
        if known is not None:
            value = cast(tuple[T], known)[0]
            if data is None:
                self.cache.given[kind, file.path] = Given(file, depends_on, key, value)
            return value
        made = reader(self._bytes_of(file, most_bytes) if data is None else data)
        self.cache.remember(kind, key, source_digest(), (made,), KINDS[kind])
        return made

    def _given(self, file: File, kind: str, depends_on: str) -> Given | None:
        """What this process gave for the file before, if the file is the same by a stat that stands for its bytes."""
        given = self.cache.given.get((kind, file.path))
        return given if given is not None and given.file == file and given.depends_on == depends_on else None

    def is_known(self, file: File, kind: str, depends_on: str) -> bool:
        """Whether `read` would not read the file."""
        return self._given(file, kind, depends_on) is not None or self.packed_of(file, kind, depends_on) is not None

    def packed_of(self, file: File, kind: str, depends_on: str) -> Packed | None:
        """A file's digest with what is cached of it, as `read` would find them; None if it would read the file."""
        digest = self.cache.digest_of(file.path, file.signature)
        blob = digest and self.cache.packed_of(kind, f"{digest}|{file.path}|{depends_on}", source_digest())
        return (digest, blob) if digest and blob else None

    def take_packed(self, file: File, kind: str, depends_on: str, packed: Packed) -> None:
        """Takes over what another process gave as `packed_of` that file."""
        digest, blob = packed
        self.remember_digest(file, digest)
        self.cache.take_packed(kind, f"{digest}|{file.path}|{depends_on}", source_digest(), blob)

    def _bytes_of(self, file: File, most: int) -> bytes:
        """The whole file, which may have grown since its stat was read. Room for `most` is asked for only then: getting
        and returning that for each small file takes longer than reading it."""
        with open(os.path.join(self._folder, file.path), "rb") as opened:
            data = opened.read(file.size + 1)
            if len(data) > file.size:
                data += opened.read(most + 1 - len(data))
        if len(data) > most:
            raise TooLarge(file.path)
        return data

    def digest_of(self, file: File) -> str | None:
        """A file's content digest if its stat, or (for a moved or copied file) its bytes, are known; otherwise None."""
        self._used_paths.add(file.path)
        digest = self.cache.digest_of(file.path, file.signature)
        if digest is None and self.cache.may_know(file.size):
            digest = sha256_of(self.root / file.path)
            self.remember_digest(file, digest)
        return digest

    def remember_digest(self, file: File, digest: str) -> None:
        self._used_paths.add(file.path)
        self.cache.remember_digest(file.path, file.signature, digest, self.scanned_ns)

    def recall(self, kind: str, key: str, program: str) -> Any | None:
        self._used_keys.add((kind, key))
        return self.cache.recall(kind, key, program, KINDS[kind])

    def remember(self, kind: str, key: str, program: str, value: object) -> None:
        self._used_keys.add((kind, key))
        self.cache.remember(kind, key, program, value, KINDS[kind])

    def facts_of(self, digest: str) -> PhotoFacts | None:
        """The cached facts of a photo with this content, whatever its name."""
        facts = cast(PhotoFacts | None, self.recall("photo", digest, _facts_version()))
        return facts if facts is not None and facts.digest == digest else None

    def keep_facts(self, facts: PhotoFacts) -> None:
        """Caches a photo's facts, unless another try may give more."""
        if facts.digest and not facts.passing:
            self.remember("photo", facts.digest, _facts_version(), facts)

    def forget_the_rest(self) -> None:
        """Removes everything that this run did not ask for."""
        self.cache.prune(self._used_paths, self._used_keys)


def _facts_version() -> str:
    return source_digest("reading/photos.py", "reading/exif.py", "reading/picture_files.py")
