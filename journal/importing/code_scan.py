"""Photos searched for QR codes, in worker processes: what each says, and whether one is there that cannot be read"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image, ImageOps

from journal.importing.photo_files import Content, Report
from journal.problems import Refusal
from journal.reading.picture_files import Limits, check_size, open_picture, quiet_readers
from journal.site.build.photo_workers import Executor, run_on_files
from journal.site.images import fitted

if TYPE_CHECKING:
    from zxingcpp import Barcode

LEAST_LONG_SIDE_PX = 1500
"""A photo is halved while its long side stays above this: 12 megapixels are read at half their width and height. Chosen
by measurement; DEVELOPERS.md has the table."""

THUMBNAIL_PX = 240


@dataclass(frozen=True, slots=True)
class Scan:
    """What was seen in a photo. texts: of each code that could be read, each once, whatever they say. has_unreadable:
    whether a code is there that could not. is_decoded: False where its pixels cannot be had. thumbnail: a small JPEG,
    where one was asked for."""

    texts: tuple[str, ...] = ()
    has_unreadable: bool = False
    is_decoded: bool = True
    thumbnail: bytes = b""


def scan_photos(
    contents: Sequence[Content], report: Report, thumbnails: bool = False, executor: Executor | None = None
) -> Mapping[str, Scan]:
    """Each photo's scan, by its digest. Raises Refusal where the library that reads codes is not installed."""
    try:
        import zxingcpp  # noqa: F401
    except ImportError:
        raise Refusal("reading labels needs zxing-cpp, which is not installed; run `pip install zxing-cpp`") from None
    files = {content.source.file: content.digest for content in contents}
    found: dict[str, Scan] = {}
    if files:
        report("labels", 0, len(files))
    for done, (file, scan) in enumerate(run_on_files(partial(scan_photo, thumbnails), list(files), executor), 1):
        found[files[file]] = scan or Scan(is_decoded=False)
        report("labels", done, len(files))
    return found


def scan_photo(has_thumbnail: bool, file: Path, limits: Limits) -> Scan:
    """The scan of one photo: at a reduced size, and whole where a code is seen there that cannot be read."""
    try:
        with file.open("rb") as opened, quiet_readers():
            scan, is_reduced = _scanned(opened, limits, reduced=True, has_thumbnail=has_thumbnail)
            if scan.has_unreadable and is_reduced:
                whole, _ = _scanned(opened, limits, reduced=False, has_thumbnail=False)
                texts = tuple(dict.fromkeys((*scan.texts, *whole.texts)))
                return Scan(texts, whole.has_unreadable, True, scan.thumbnail)
            return scan
    except MemoryError:
        raise
    except Exception:  # a damaged picture raises whatever its decoder stumbled on; its problem is told by `inspect`
        return Scan(is_decoded=False)


def _scanned(opened: io.BufferedReader, limits: Limits, reduced: bool, has_thumbnail: bool) -> tuple[Scan, bool]:
    """The scan, and whether the picture was reduced for it."""
    image = open_picture(opened)
    check_size(image, limits)
    stored = max(image.size)
    factor = reduction(stored) if reduced else 1
    # A JPEG is reduced, and its colours left out, while it is decoded.
    image.draft(None if has_thumbnail else "L", (image.width // factor, image.height // factor))
    image.load()
    grey = image if image.mode == "L" else image.convert("L")
    if (rest := factor * max(grey.size) // stored) > 1:
        grey = grey.reduce(rest)
    texts, has_unreadable = codes_in(grey)
    thumbnail = _thumbnail_of(image) if has_thumbnail else b""
    return Scan(texts, has_unreadable, True, thumbnail), factor > 1


def reduction(long_side_px: int) -> int:
    """By how much a picture's sides are divided before it is searched: 1, 2, 4 or 8, as a JPEG's decoder can."""
    return next(factor for factor in (8, 4, 2, 1) if factor == 1 or long_side_px >= factor * LEAST_LONG_SIDE_PX)


def codes_in(grey: Image.Image) -> tuple[tuple[str, ...], bool]:
    """The texts of the QR codes in a picture of mode L, each once; and whether one more is there that cannot be read:
    its three corners are found, and what is between them has more faults than its level can correct."""
    import zxingcpp

    kind = zxingcpp.barcode_formats_from_str("QRCode")
    found = zxingcpp.read_barcodes(grey, formats=kind, return_errors=True, try_invert=False)
    read = [code for code in found if code.valid and code.text]
    # A code that was read may be met a second time, at another scale, and not be read there.
    rest = (code for code in found if not code.valid and not any(_is_within(code, other) for other in read))
    return tuple(dict.fromkeys(code.text for code in read)), any(rest)


def _is_within(code: Barcode, other: Barcode) -> bool:
    """Whether the middle of a code is in the rectangle around another."""
    corners, others = (
        [(at.x, at.y) for at in (place.top_left, place.top_right, place.bottom_right, place.bottom_left)]
        for place in (code.position, other.position)
    )
    middle = [sum(values) / 4 for values in zip(*corners, strict=True)]
    sides = list(zip(*others, strict=True))
    return all(min(side) <= at <= max(side) for at, side in zip(middle, sides, strict=True))


def _thumbnail_of(image: Image.Image) -> bytes:
    upright = ImageOps.exif_transpose(image)
    small = upright.convert("RGB").resize(fitted(upright.size, THUMBNAIL_PX), Image.Resampling.BOX)
    bare = Image.new("RGB", small.size)  # nothing but pixels goes into the sheet
    bare.paste(small)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=70)
    return out.getvalue()
