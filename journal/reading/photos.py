"""The facts of a picture file: content, size upright, when and where it was taken, whether it is complete."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, replace
from datetime import timedelta, timezone, tzinfo
from io import BufferedReader
from pathlib import Path, PurePosixPath
from typing import BinaryIO, TypeVar

from PIL import Image

from journal.model import Photo
from journal.problems import Problem, Unreadable
from journal.reading.dates import in_zone
from journal.reading.exif import ExifFacts, Fault, read_exif
from journal.reading.picture_files import (
    SUFFIXES_BY_KIND,
    Limits,
    check_size,
    kind_of,
    open_picture,
    quiet_readers,
    upright_size,
)
from journal.settings import CameraClock
from journal.unexpected import message_and_fix

_CHUNK_BYTES = 1 << 20


def is_surely_whole(file: BinaryIO, kind: str) -> bool:
    """Whether an open picture file contains every part that it announces; if False, only decoding it can tell.

    kind: as in `SUFFIXES_BY_KIND`. Damage within a part is not found. Always False for a TIFF, whose parts may be
    anywhere. Raises OSError.
    """
    if kind not in _ENDS:
        return False
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    return _ENDS[kind](file, size)


# JPEG. *Source:* ITU-T T.81 (1992), B.1.1 (markers, RSTn, stuffed zeroes) and B.2.1 (the order of segments).
_END_OF_IMAGE, _START_OF_SCAN = 0xD9, 0xDA
_MARKER_AFTER_SCAN = re.compile(rb"(?<!\xff)\xff++([^\x00\xff\xd0-\xd7])")


def _jpeg_ends(file: BinaryIO, size: int) -> bool:
    """Whether the picture's scans are followed by its end. After that, phones may append a film or a second picture."""
    file.seek(max(0, size - 2))
    if file.read(2) == b"\xff\xd9":
        return True
    at = 2
    while (marker := _marker_at(file, at)) is not None:
        kind, length = marker
        if kind == _END_OF_IMAGE:
            return True
        at += 2 + length
        if kind == _START_OF_SCAN:
            at = _next_marker(file, at)
    return False


def _marker_at(file: BinaryIO, at: int) -> tuple[int, int] | None:
    """A marker and the length of its segment (an end of image has none); None if there is no marker."""
    file.seek(at)
    head = file.read(4)
    if len(head) < 2 or head[0] != 0xFF:
        return None
    if head[1] == _END_OF_IMAGE:
        return head[1], 0
    length = int.from_bytes(head[2:4], "big")
    return (head[1], length) if len(head) == 4 and length >= 2 else None


def _next_marker(file: BinaryIO, at: int) -> int:
    """The position of the marker after the coded pixels that begin at a byte; the end of the file if there is none."""
    file.seek(at)
    while chunk := file.read(_CHUNK_BYTES):
        found = _MARKER_AFTER_SCAN.search(chunk)
        if found:
            return at + found.start(1) - 1
        if chunk.endswith(b"\xff") and len(chunk) > 1:  # a marker may begin in one chunk and end in the next
            chunk = chunk[:-1]
            file.seek(at + len(chunk))
        at += len(chunk)
    return at


def _png_ends(file: BinaryIO, size: int) -> bool:
    """*Source:* W3C, Portable Network Graphics (2003), 5.3: length, type, data, CRC; 11.2.5: IEND is the last."""
    at = 8
    while at + 12 <= size:
        file.seek(at)
        head = file.read(8)
        at += 12 + int.from_bytes(head[:4], "big")
        if head[4:] == b"IEND":
            return at <= size
    return False


def _boxes_end(file: BinaryIO, size: int) -> bool:
    """Whether boxes follow each other to the end of the file, including those with the pixels.

    *Source:* ISO/IEC 14496-12, 4.2: size and type; the size 1 means a size of 64 bits after the type. The size 0 means
    up to the end of the file, and so proves nothing.
    """
    at, kinds = 0, set()
    while at + 8 <= size:
        file.seek(at)
        head = file.read(16)
        length, least = int.from_bytes(head[:4], "big"), 8
        if length == 1:
            length, least = int.from_bytes(head[8:], "big"), 16
        if length < least:
            return False
        kinds.add(head[4:8])
        at += length
    return at == size and {b"meta", b"mdat"} <= kinds


_ENDS: dict[str, Callable[[BinaryIO, int], bool]] = {
    "JPEG": _jpeg_ends,
    "PNG": _png_ends,
    # *Source:* RFC 9649, 2.4: the size in the header counts what follows its first 8 bytes.
    "WebP": lambda file, size: 8 + int.from_bytes(file.read(8)[4:], "little") <= size,
    "HEIC": _boxes_end,
    "AVIF": _boxes_end,
}


T = TypeVar("T")

_DAMAGED: Fault = (
    "warning",
    "this photo has pixels that cannot be decoded: the file is cut short or damaged",
    "copy it from the camera again, or remove it from the entry",
)

_FIX_SIZE = "save a smaller copy under this name"
_FIX_CLOCK_CHANGE = (
    "write its offset into the photo, as OffsetTimeOriginal, with a program that edits EXIF; like +01:00"
)


@dataclass(frozen=True, slots=True)
class PhotoFacts(ExifFacts):
    """The facts of a file's content, independent of its name and journal; faults: of EXIF and of the file.

    digest: SHA-256 of the file, hex; empty if it cannot be opened. kind: as in `SUFFIXES_BY_KIND`. width, height: px,
    as shown upright; None where the pixels cannot be read. passing: a fault that a busy computer may have caused; worth
    another try.
    """

    digest: str
    kind: str | None = None
    width: int | None = None
    height: int | None = None
    passing: bool = False

    def without_pixels(self, fault: Fault, passing: bool = False) -> PhotoFacts:
        """The same, after the pixels turned out to be unreadable."""
        return replace(self, width=None, height=None, faults=(*self.faults, fault), passing=passing)


def read_facts(file: Path, limits: Limits | None = None) -> PhotoFacts:
    """The facts of one picture file. Raises nothing: what is wrong with the file is among its faults."""
    return read_photo(file, _decode_cheaply, limits)[0]


def read_header(file: Path, limits: Limits | None = None) -> PhotoFacts:
    """The facts of one picture file except its size, without decoding pixels."""
    return read_photo(file, None, limits)[0]


def read_quickly(file: Path, limits: Limits | None = None) -> PhotoFacts:
    """The facts of one picture file, without decoding the pixels of one that is certainly complete.

    For a complete one, digest and size are missing, and damage within its pixels is not found. For every other file it
    is the result of `read_facts`.
    """
    if file.is_file():
        with contextlib.suppress(OSError), file.open("rb") as opened, quiet_readers():
            facts, _ = _read_open(opened, None, limits or Limits(), digest="")
            if facts.kind is not None and is_surely_whole(opened, facts.kind):
                return facts
    return read_facts(file, limits)


def read_photo(
    file: Path, pixels: Callable[[Image.Image, str], T] | None, limits: Limits | None = None
) -> tuple[PhotoFacts, T | None]:
    """The facts of one picture file, and what `pixels` makes of the opened picture, decoding it this one time.

    pixels: gets the picture and the file's digest. What it raises makes the result None and is a fault.
    With None the pixels are not asked for, and no size is given.
    """
    try:
        if not file.is_file():
            return _unopened("this photo is not a regular file", "replace it with the photo itself"), None
        with file.open("rb") as opened, quiet_readers():
            return _read_open(opened, pixels, limits or Limits())
    except OSError as error:
        reason = error.strerror or type(error).__name__
        return _unopened(f"this photo cannot be opened ({reason})", "give yourself permission to read it"), None
    except MemoryError:
        raise
    except Exception as error:
        return _unopened(*message_and_fix(error)), None


def _unopened(message: str, fix: str) -> PhotoFacts:
    return PhotoFacts(digest="", faults=(("error", message, fix),))


def _read_open(
    file: BufferedReader, pixels: Callable[[Image.Image, str], T] | None, limits: Limits, digest: str | None = None
) -> tuple[PhotoFacts, T | None]:
    """digest: None where the whole file is to be read for it."""
    if digest is None:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    image: Image.Image | None = None
    width = height = result = None
    faults: list[Fault] = []
    try:
        image = open_picture(file)
        stored = image.size
        check_size(image, limits)
        if pixels:
            result = pixels(image, digest)
            width, height = upright_size(image, stored)
    except Exception as error:  # a decoder may raise anything for a damaged picture
        faults.append(pixel_fault(error, limits))
    exif = read_exif(file, image)
    tags = asdict(exif) | {"faults": (*faults, *exif.faults)}
    facts = PhotoFacts(digest, kind_of(image) if image else None, width, height, **tags)
    return facts, result


def pixel_fault(error: Exception, limits: Limits) -> Fault:
    if isinstance(error, Unreadable):
        return "warning", error.message, error.fix
    # Decoders written in C report a refused allocation in their own words.
    if isinstance(error, MemoryError) or "memory" in str(error).lower():
        return memory_fault(limits)
    return _DAMAGED


def memory_fault(limits: Limits) -> Fault:
    return "warning", f"this photo needs over {limits.memory_mib} MiB of memory to be decoded", _FIX_SIZE


def time_fault(limits: Limits) -> Fault:
    return "warning", f"this photo takes over {limits.seconds:g} s to be decoded", _FIX_SIZE


def crash_fault(limits: Limits) -> Fault:
    message = f"this photo crashed its decoder: it is damaged, or needs over {limits.memory_mib} MiB of memory"
    return "warning", message, "copy it from the camera again, or save a smaller copy under this name"


def _decode_cheaply(image: Image.Image, _: str) -> None:
    """Decodes every pixel; a JPEG at an eighth of its size, which still reads the file to its end."""
    image.draft(None, (1, 1))
    image.load()


def photo_of(
    facts: PhotoFacts, path: str, zone: tzinfo, clocks: Iterable[CameraClock] = ()
) -> tuple[Photo, tuple[Problem, ...]]:
    """The photo at `path` (relative to the journal folder); its time is in the journal's zone if it has no offset, and
    corrected by the settings for its camera's clock."""
    problems = [Problem(path, 0, *fault) for fault in facts.faults]
    suffix = PurePosixPath(path).suffix
    if facts.kind is not None and suffix.lower() not in SUFFIXES_BY_KIND[facts.kind]:
        message = f"this photo is a {facts.kind} file, but its name ends in {suffix}"
        problems.append(Problem(path, 0, "warning", message, f"change the suffix to {SUFFIXES_BY_KIND[facts.kind][0]}"))
    taken = None
    if facts.local is not None and facts.offset_min is not None:
        taken = facts.local.replace(tzinfo=timezone(timedelta(minutes=facts.offset_min)))
    elif facts.local is not None:
        placed = in_zone(facts.local, zone)
        taken = placed.value
        for remark in placed.remarks:
            problems.append(Problem(path, 0, "warning", f"this photo's time {remark.message}", _FIX_CLOCK_CHANGE))
    if taken is not None and (local := facts.local):
        off = next((clock.add_min for clock in clocks if clock.is_for(facts.camera, local.date())), 0.0)
        taken += timedelta(minutes=off)
    photo = Photo(
        path=path, digest=facts.digest, taken=taken, camera=facts.camera,
        lat_deg=facts.lat_deg, lon_deg=facts.lon_deg, uncertainty_m=facts.uncertainty_m,
        width=facts.width, height=facts.height,
    )  # fmt: skip
    return photo, tuple(problems)
