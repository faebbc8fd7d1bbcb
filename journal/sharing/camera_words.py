"""What a photo's own metadata says in words, and which must stand in no share: who owns the camera, its numbers."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path

_FIRST = (0x010E, 0x013B, 0x8298, 0x9C9B, 0x9C9C, 0x9C9D, 0x9C9E, 0x9C9F)
"""ImageDescription, Artist, Copyright; title, comment, author, keywords and subject as Windows writes them."""
_EXIF = (0x9286, 0xA420, 0xA430, 0xA431, 0xA435)
"""UserComment, ImageUniqueID, CameraOwnerName, BodySerialNumber, LensSerialNumber."""
_EXIF_POINTER = 0x8769
_LEAST_LETTERS = 5


def camera_words(file: Path) -> Iterator[str]:
    """Texts in a picture's EXIF that tell of somebody or of one camera; nothing where it has none or cannot be read.

    *Source:* CIPA DC-008 (Exif), tables of tags.
    """
    from PIL import Image

    import journal.reading.pixels  # noqa: F401 - lets Pillow read HEIC

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(file) as image:
                exif = image.getexif()
                values = [exif.get(tag) for tag in _FIRST]
                values += [exif.get_ifd(_EXIF_POINTER).get(tag) for tag in _EXIF]
    except Exception:  # whatever a decoder does with a picture that is none
        return
    for value in values:
        text = _as_text(value)
        if len(text) >= _LEAST_LETTERS:
            yield text


def _as_text(value: object) -> str:
    if isinstance(value, str):
        return value.strip("\0 ")
    if not isinstance(value, bytes):
        return ""
    if value[:8] in (b"ASCII\0\0\0", b"UNICODE\0"):
        value = value[8:]
    encoding = "utf-16-le" if value[1::2].count(0) > len(value) // 4 else "utf-8"
    return value.decode(encoding, "replace").strip("\0 \ufffd")
