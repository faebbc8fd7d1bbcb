"""Opens a picture file: its kind and size, before any pixel is decoded."""

from __future__ import annotations

import logging
import threading
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from math import ceil
from typing import BinaryIO

import pillow_heif
from PIL import AvifImagePlugin, ExifTags, Image

from journal.problems import Unreadable

SUFFIXES_BY_KIND: dict[str, tuple[str, ...]] = {
    "JPEG": (".jpg", ".jpeg"),
    "HEIC": (".heic", ".heif"),
    "PNG": (".png",),
    "WebP": (".webp",),
    "TIFF": (".tif", ".tiff"),
    "AVIF": (".avif",),
}
"""The kinds of photos, and the suffixes of each."""

# AVIF comes before HEIF: both may have the brand "mif1", and only Pillow's AVIF reader leaves other files to the next
# reader.
_PILLOW_FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "AVIF", "HEIF")
_KIND_BY_FORMAT = {"MPO": "JPEG", "WEBP": "WebP", "HEIF": "HEIC"}
"""Kinds for which Pillow's name differs from `SUFFIXES_BY_KIND`."""

_FIX_DAMAGE = "copy it from the camera again, or remove it from the entry"


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits for one picture: stored megapixels, seconds elapsed, and address space above that of an idle worker."""

    megapixels: float = 200
    seconds: float = 16
    memory_mib: int = 1024


# Each decoder uses one thread: there is already a worker for each core, and threads take address space.
pillow_heif.register_heif_opener(thumbnails=False, decode_threads=1)
AvifImagePlugin.DEFAULT_MAX_THREADS = 1


@contextmanager
def quiet_readers() -> Iterator[None]:
    """Hides what Pillow and ExifRead would print about a damaged file, in this thread only.

    Pillow's own limit on pixels is off meanwhile: `check_size` applies the journal's.
    """
    here = threading.get_ident()
    log = logging.getLogger("exifread")

    def is_from_elsewhere(record: logging.LogRecord) -> bool:
        return record.thread != here

    log.addFilter(is_from_elsewhere)
    pillows_limit = Image.MAX_IMAGE_PIXELS
    Image.MAX_IMAGE_PIXELS = None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        Image.MAX_IMAGE_PIXELS = pillows_limit
        log.removeFilter(is_from_elsewhere)


def open_picture(file: BinaryIO) -> Image.Image:
    """The picture in an open file, with its header read and no pixel decoded; raises Unreadable if there is none."""
    file.seek(0, 2)
    if file.tell() == 0:
        raise Unreadable("this photo is empty (0 bytes)", _FIX_DAMAGE)
    file.seek(0)
    try:
        return Image.open(file, formats=_PILLOW_FORMATS)
    except MemoryError:
        raise
    except Exception as error:  # a reader may raise anything for a damaged header
        if kind_by_first_bytes(file) is not None:
            raise Unreadable("this photo is damaged: its header cannot be read", _FIX_DAMAGE) from error
        message = f"this file is not a picture: it is not {', '.join(list(SUFFIXES_BY_KIND)[:-1])} or AVIF"
        fix = "replace it with the photo itself, or remove its name from the entry"
        raise Unreadable(message, fix) from error


def kind_by_first_bytes(file: BinaryIO) -> str | None:
    """JPEG, PNG, WebP, TIFF, or HEIC for any of that family of containers; None if the file begins like none of
    them."""
    file.seek(0)
    head = file.read(12)
    beginnings = {b"\xff\xd8\xff": "JPEG", b"\x89PNG\r\n\x1a\n": "PNG", b"II*\0": "TIFF", b"MM\0*": "TIFF"}
    for beginning, kind in beginnings.items():
        if head.startswith(beginning):
            return kind
    if head[:4] == b"RIFF" and head[8:] == b"WEBP":
        return "WebP"
    return "HEIC" if head[4:8] == b"ftyp" else None


def kind_of(image: Image.Image) -> str:
    """The kind of an opened picture, as `SUFFIXES_BY_KIND` names it."""
    return _KIND_BY_FORMAT.get(image.format or "", image.format or "")


def upright_size(image: Image.Image, stored: tuple[int, int]) -> tuple[int, int]:
    """Width and height in px as shown upright, of a picture that had the size `stored` when it was opened.

    Decodes the pixels of a PNG, because its orientation may come after them. Source: CIPA DC-008 (Exif), Orientation
    (112.H): 5 to 8 lay rows down as columns.
    """
    width, height = stored
    # Pillow gives the upright size of a TIFF, and pillow-heif that of a HEIC, from the first.
    if image.format in ("TIFF", "HEIF") or orientation_of(image) not in (5, 6, 7, 8):
        return width, height
    return height, width


def orientation_of(image: Image.Image) -> int:
    """The Exif orientation, 1 to 8; 1 if there is none or an undefined one."""
    try:
        value = image.getexif().get(ExifTags.Base.Orientation, 1)
    except Exception:  # the reader may raise anything for a damaged EXIF block; the pixels may be intact
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def check_size(image: Image.Image, limits: Limits) -> None:
    """Raises Unreadable if a picture is too large to be decoded."""
    megapixels = image.size[0] * image.size[1] / 1e6
    if megapixels > limits.megapixels:
        message = f"this photo has {ceil(megapixels * 10) / 10:g} megapixels, over the limit of {limits.megapixels:g}"
        raise Unreadable(message, "save a smaller copy under this name")
