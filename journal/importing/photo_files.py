"""The named picture files, and what is in each: when it was taken, and its problems."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date, datetime, tzinfo
from pathlib import Path

from journal.cache.file_cache import FileCache
from journal.cache.unchanged import sha256_of
from journal.problems import Refusal
from journal.reading.folder import File, kind_of_file
from journal.reading.listing import SITE_MARK
from journal.reading.photos import PhotoFacts, photo_of
from journal.reading.picture_files import SUFFIXES_BY_KIND, kind_by_first_bytes
from journal.settings import CameraClock
from journal.site.build.photo_workers import photo_work


@dataclass(frozen=True, slots=True)
class Source:
    """One picture file. shown: its path as the author would type it."""

    file: Path
    shown: str

    @property
    def name(self) -> str:
        return self.file.name


@dataclass(slots=True)
class PhotoList:
    """What was found.

    sources: in the order in which they were named, each file once. left_out: (path as typed, why) of what was named
    and cannot be taken. skipped: how many files in the folders are not photos, by suffix.
    """

    sources: list[Source] = field(default_factory=list)
    left_out: list[tuple[str, str]] = field(default_factory=list)
    skipped: Counter[str] = field(default_factory=Counter)


def find_photos(named: Iterable[Path]) -> PhotoList:
    """The photos that these paths name. Hidden files and folders in a folder named are skipped, as are built sites.

    A link to a file stands for that file; a link to a folder is followed where it was named, not where it was met.
    Raises Refusal where a path names nothing.
    """
    named = list(named)
    missing = [str(path) for path in named if not os.path.exists(path)]
    if missing:
        more = f" (and {len(missing) - 1} more are missing)" if len(missing) > 1 else ""
        raise Refusal(f"there is no file or folder {missing[0]}{more}; nothing was copied")
    photos = PhotoList()
    for path in named:
        if path.is_dir():
            _search(path, photos)
        elif kind_of_file(path.name) != "photo":
            photos.left_out.append((str(path), "is not a JPEG, HEIC, PNG, WebP, TIFF or AVIF file"))
        else:
            _take(path, photos)
    each_once: dict[str, Source] = {}
    for source in photos.sources:
        each_once.setdefault(os.path.normpath(source.file), source)
    photos.sources = list(each_once.values())
    return photos


def _search(folder: Path, photos: PhotoList) -> None:
    def leave_out(error: OSError) -> None:
        reason = (error.strerror or "unknown fault").lower()
        why = f"cannot be opened ({reason}); give yourself permission to read it, and run this again"
        photos.left_out.append((os.fsdecode(error.filename or ""), why))

    for here, folders, files in os.walk(folder, onerror=leave_out):
        if SITE_MARK in files:
            folders.clear()
            continue
        for name in [name for name in folders if (Path(here) / name).is_symlink() and not name.startswith(".")]:
            photos.left_out.append((str(Path(here) / name), "is a link to another folder; name that folder itself"))
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(name for name in files if not name.startswith(".")):
            if kind_of_file(name) == "photo":
                _take(Path(here) / name, photos)
            else:
                photos.skipped[os.path.splitext(name)[1].lower() or "no suffix"] += 1


def _take(path: Path, photos: PhotoList) -> None:
    if path.is_symlink() and not path.exists():
        photos.left_out.append((str(path), "is a broken link; name the photo itself"))
    elif not path.is_file():
        photos.left_out.append((str(path), "is not a regular file; name the photo itself"))
    else:
        photos.sources.append(Source(path.absolute(), str(path)))


def skipped_sentence(skipped: Mapping[str, int]) -> str:
    """`Skipped 5 files that are not photos (.aae, .mov)`."""
    count = sum(skipped.values())
    endings = ", ".join(sorted(skipped))
    return f"Skipped {count} {'file that is not a photo' if count == 1 else 'files that are not photos'} ({endings})"


Report = Callable[[str, int, int], None]
"""Called with the step, how many are done, and of how many."""


@dataclass(frozen=True, slots=True)
class Content:
    """One file's content. digest: SHA-256, hex. size: bytes."""

    source: Source
    digest: str
    size: int


@dataclass(frozen=True, slots=True)
class Inspected:
    """A photo that was read.

    taken: by its EXIF, aware; None where it has no time in it. endings: how the name of a file of its kind may end, the
    usual first; empty where nothing can read it. words: its problems, as sentences. is_picture: False where
    it is another file under a picture's name; a picture that is damaged is one.
    """

    content: Content
    taken: datetime | None
    endings: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    is_picture: bool = True

    @property
    def day(self) -> date | None:
        """The day it was, by the clock of whoever took it."""
        return self.taken.date() if self.taken else None


def contents_of(sources: Sequence[Source], report: Report) -> tuple[list[Content], list[tuple[str, str]]]:
    """Each file's content, and (path as typed, why) of those that have none or cannot be read."""
    contents, left_out = [], []
    for done, source in enumerate(sources, 1):
        try:
            size = source.file.stat().st_size
            if size:
                contents.append(Content(source, sha256_of(source.file), size))
            else:
                left_out.append((source.shown, "is empty (0 bytes); copy it from the camera again"))
        except OSError as error:
            reason = (error.strerror or "unknown fault").lower()
            why = f"cannot be read ({reason}); give yourself permission to read it, and run this again"
            left_out.append((source.shown, why))
        report("looking", done, len(sources))
    return contents, left_out


def known_contents(memory: FileCache, photos: Sequence[File], sizes: Collection[int]) -> dict[str, tuple[str, ...]]:
    """Digest -> the journal's photos of these sizes that can be read; only those that changed are opened."""
    found: dict[str, tuple[str, ...]] = {}
    for file in photos:
        if file.size not in sizes:
            continue
        digest = memory.cache.digest_of(file.path, file.signature)
        if digest is None:
            try:
                digest = sha256_of(memory.root / file.path)
            except OSError:
                continue
            memory.remember_digest(file, digest)
        found[digest] = (*found.get(digest, ()), file.path)
    return found


def inspect(
    contents: Sequence[Content], memory: FileCache, zone: tzinfo, report: Report, clocks: Sequence[CameraClock] = ()
) -> list[Inspected]:
    """Each photo with when it was taken, in the order given; none is opened whose content was read before.

    Each content must come once. zone: the journal's, for clocks without an offset. clocks: those that are off. No
    pixel is decoded of a photo that is there to its end: that is left to the build, which has to decode it anyway.
    """
    facts = {content.digest: memory.facts_of(content.digest) for content in contents}
    rows = [(content.digest, content.source.file) for content in contents if facts[content.digest] is None]
    if rows:
        report("photos", 0, len(rows))  # the workers take a moment to begin
        for done, (digest, fact, _) in enumerate(photo_work(rows, None, quickly=True), 1):
            facts[digest] = fact
            report("photos", done, len(rows))
    return [_inspected(content, facts[content.digest] or PhotoFacts(""), zone, clocks) for content in contents]


def _inspected(content: Content, facts: PhotoFacts, zone: tzinfo, clocks: Sequence[CameraClock]) -> Inspected:
    endings = SUFFIXES_BY_KIND[facts.kind] if facts.kind else ()
    # Its copy is named by what it is, so that what its own name ends in is no problem.
    photo, problems = photo_of(facts, "photo" + endings[0] if endings else content.source.name, zone, clocks)
    words = tuple(problem.sentence for problem in problems)
    is_picture = True
    if facts.kind is None:  # one that begins like a picture is a damaged one; one that cannot be read may be whole
        with suppress(OSError), content.source.file.open("rb") as file:
            is_picture = kind_by_first_bytes(file) is not None
    return Inspected(content, photo.taken, endings, words, is_picture)
