"""What each photo is, by its content: which it is, when it was taken, and what is odd about it."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from journal.gathering.sources import Source
from journal.keeping.cache import sha256_of
from journal.keeping.remembering import Memory
from journal.reading.folder import File
from journal.reading.photos import PhotoFacts, photo_of
from journal.reading.pixels import SUFFIXES_BY_KIND, kind_by_first_bytes
from journal.site.photo_work import photo_work

Tell = Callable[[str, int, int], None]
"""Told what is being done, how many are done, and of how many."""

_NO_KIND = PhotoFacts("")


@dataclass(frozen=True, slots=True)
class Content:
    """One file's content. digest: SHA-256, hex. size: bytes."""

    source: Source
    digest: str
    size: int


@dataclass(frozen=True, slots=True)
class Looked:
    """A photo that was looked at.

    taken: by its EXIF, aware; None where it tells no time. endings: how the name of a file of its kind may end, the
    usual first; empty where nothing can read it. words: what is odd about it, as sentences. is_picture: False where
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


def contents_of(sources: Sequence[Source], tell: Tell) -> tuple[list[Content], list[tuple[str, str]]]:
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
            left_out.append((source.shown, f"cannot be read ({reason}); see to it that it can, and run the same again"))
        tell("looking", done, len(sources))
    return contents, left_out


def known_contents(memory: Memory, photos: Sequence[File], sizes: Collection[int]) -> dict[str, tuple[str, ...]]:
    """Digest -> paths of the journal's photos that have it, of those whose size is among `sizes`.

    Only a photo that changed since it was last read is opened. One that cannot be read is known by nothing.
    """
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
            memory.saw(file, digest)
        found[digest] = (*found.get(digest, ()), file.path)
    return found


def look_at(contents: Sequence[Content], memory: Memory, zone: tzinfo, tell: Tell) -> list[Looked]:
    """Each photo with when it was taken, in the order given; none is opened whose content was read before.

    Each content must come once. zone: the journal's, for clocks without an offset. No pixel is decoded of a photo
    that is there to its end: that is left to the build, which has to decode it anyway.
    """
    facts = {content.digest: memory.facts_of(content.digest) for content in contents}
    rows = [(content.digest, content.source.file) for content in contents if facts[content.digest] is None]
    if rows:
        tell("photos", 0, len(rows))  # the workers take a moment to begin
        for done, (digest, fact, _) in enumerate(photo_work(rows, None, quickly=True), 1):
            facts[digest] = fact
            tell("photos", done, len(rows))
    return [_looked(content, facts[content.digest] or _NO_KIND, zone) for content in contents]


def _looked(content: Content, facts: PhotoFacts, zone: tzinfo) -> Looked:
    endings = SUFFIXES_BY_KIND[facts.kind] if facts.kind else ()
    # Its copy is named by what it is, so that what its own name ends in is no problem.
    photo, problems = photo_of(facts, "photo" + endings[0] if endings else content.source.name, zone)
    words = tuple(problem.sentence for problem in problems)
    return Looked(content, photo.taken, endings, words, facts.kind is not None or _begins_like_one(content.source))


def _begins_like_one(source: Source) -> bool:
    """Whether a file that nothing can read begins like a picture, or cannot be looked into now."""
    try:
        with source.file.open("rb") as file:
            return kind_by_first_bytes(file) is not None
    except OSError:
        return True
