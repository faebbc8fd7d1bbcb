"""Whether a picture file is there to its end, by how its format is built and with no pixel decoded."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from typing import BinaryIO

_CHUNK_BYTES = 1 << 20


def is_surely_whole(file: BinaryIO, kind: str) -> bool:
    """Whether every part that an open picture file announces lies in it; where False, only decoding it can tell.

    kind: as in `SUFFIXES_BY_KIND`. Damage within a part does not show. A TIFF is never sure: its parts lie anywhere.
    Raises OSError.
    """
    ends = _ENDS.get(kind)
    if ends is None:
        return False
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    return ends(file, size)


# -- JPEG. Source: ITU-T T.81 (1992), B.1.1 (markers, RSTn, stuffed zeroes) and B.2.1 (the order of segments) ---------

_END_OF_IMAGE, _START_OF_SCAN = 0xD9, 0xDA
_MARKER_AFTER_SCAN = re.compile(rb"(?<!\xff)\xff++([^\x00\xff\xd0-\xd7])")


def _jpeg_ends(file: BinaryIO, size: int) -> bool:
    """Whether the picture's scans are followed by its end. Behind that a phone may keep a film or a second picture."""
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
    """A marker and the length of its segment, which an end of image has not; None where none stands there."""
    file.seek(at)
    head = file.read(4)
    if len(head) < 2 or head[0] != 0xFF:
        return None
    if head[1] == _END_OF_IMAGE:
        return head[1], 0
    length = int.from_bytes(head[2:4], "big")
    return (head[1], length) if len(head) == 4 and length >= 2 else None


def _next_marker(file: BinaryIO, at: int) -> int:
    """Where the coded pixels that begin at a byte are followed by a marker; the end of the file where by none."""
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


# -- formats of boxes and chunks --------------------------------------------------------------------------------------


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


def _webp_ends(file: BinaryIO, size: int) -> bool:
    """*Source:* RFC 9649, 2.4: the size in the header counts what follows its first 8 bytes."""
    return 8 + int.from_bytes(file.read(8)[4:], "little") <= size


def _boxes_end(file: BinaryIO, size: int) -> bool:
    """Whether boxes follow each other to the very end, those with the pixels among them.

    *Source:* ISO/IEC 14496-12, 4.2: size and type, the size 1 for one of 64 bits behind the type. One that says 0 goes
    on to the end of the file, wherever that is, and so tells nothing.
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
    "WebP": _webp_ends,
    "HEIC": _boxes_end,
    "AVIF": _boxes_end,
}
