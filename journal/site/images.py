"""Photos as the site shows them: a few sizes, upright, in sRGB, without metadata."""

from __future__ import annotations

import base64
import hashlib
import json
import re
import unicodedata
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image, ImageCms, ImageFilter, ImageOps

from journal.atomic_write import write_atomically
from journal.model import Batch, Culture, Device, Entry, Find, Journal, Photo
from journal.reading.picture_files import orientation_of
from journal.site.addresses import month_of, picture_file, subjects_of
from journal.site.plan import Published, PublishedSize, Site
from journal.site.wording import clock, day_in_words

LONG_SIDES_PX = (320, 960, 1600)
QUALITY = 75
METHOD = 4
"""WebP's quality and effort, chosen by measured bytes, SSIM and CPU seconds; DEVELOPERS.md has the table."""

RECIPE = f"1/{LONG_SIDES_PX}/{QUALITY}/{METHOD}"
"""Changes whenever the bytes made from one photo may change; the first number is raised with changes to this file."""

_PLACEHOLDER_SIDES_PX = (20, 16, 12, 8)
_MOST_PLACEHOLDER_BYTES = 300


@dataclass(frozen=True, slots=True)
class Rendering:
    """A photo's published files before they are written; files: smallest first, (width, height, bytes)."""

    files: tuple[tuple[int, int, bytes], ...]
    placeholder: str


def published_name(digest: str) -> str:
    """The name of the pictures made from a file with that SHA-256; it reveals nothing of the original's name or
    path."""
    return hashlib.sha256(f"{RECIPE}:{digest}".encode()).hexdigest()[:16]


def render(image: Image.Image) -> Rendering:
    """All sizes of an opened picture, decoded once. Raises whatever the decoder raises for a damaged picture."""
    pictures = [_upright_srgb(image)]  # largest first, each made from the one before; one width is made once
    for long_side in reversed(LONG_SIDES_PX[:-1]):
        size = fitted(pictures[0].size, long_side)
        if size[0] < pictures[-1].width:
            pictures.append(pictures[-1].resize(size, Image.Resampling.LANCZOS))
    files = tuple((*picture.size, _webp(picture, QUALITY, METHOD)) for picture in reversed(pictures))
    for side in _PLACEHOLDER_SIDES_PX:  # a `data:` URI of at most 300 bytes that shows the same picture, blurred
        size = fitted(pictures[-1].size, side)
        tiny = pictures[-1].resize(size, Image.Resampling.BOX).filter(ImageFilter.GaussianBlur(0.6))
        uri = "data:image/webp;base64," + base64.b64encode(_webp(tiny, 40, 6)).decode("ascii")
        if len(uri) <= _MOST_PLACEHOLDER_BYTES:
            break
    return Rendering(files, uri)


def fitted(size: tuple[int, int], long_side: int) -> tuple[int, int]:
    """Width and height in px, reduced so that the longer is at most `long_side`; never enlarged, and at least 1."""
    shrink = min(1.0, long_side / max(size))
    return max(1, round(size[0] * shrink)), max(1, round(size[1] * shrink))


def _upright_srgb(image: Image.Image) -> Image.Image:
    """The opened picture at its largest published size, as bare RGB. A JPEG is shrunk while it is decoded; every other
    picture is shrunk before it is rotated, which then takes less time."""
    longest = LONG_SIDES_PX[-1]
    profile = image.info.get("icc_profile")
    # Not smaller than the published size, but not twice it, as `thumbnail` would ask: as WebP both are equally close to
    # the original (SSIM 0.927, a photo of 12 megapixels), and this takes 0.12 s less CPU time.
    image.draft(None, fitted(image.size, longest))
    image.load()
    image = _resizable(image)
    if max(image.size) > longest:
        image.thumbnail((longest, longest), Image.Resampling.LANCZOS)
    if orientation_of(image) != 1:
        image = ImageOps.exif_transpose(image)
    if image.mode == "RGBA":
        image = Image.alpha_composite(Image.new("RGBA", image.size, "white"), image).convert("RGB")
    image = _in_srgb(image, profile)
    # Some versions of Pillow write a picture's own profile by default; this copy has only pixels.
    bare = Image.new("RGB", image.size)
    bare.paste(image)
    return bare


def _resizable(image: Image.Image) -> Image.Image:
    """The picture itself if its samples can be averaged as they are, otherwise converted so that they can."""
    if image.mode in ("RGB", "L", "CMYK", "RGBA") and "transparency" not in image.info:
        return image
    if image.has_transparency_data:
        return image.convert("RGBA")
    if image.mode.startswith("I"):  # 16 bits a sample
        return image.point(lambda sample: sample * (1 / 256)).convert("L")
    return image.convert("L" if image.mode in ("1", "F") else "RGB")


@cache
def _srgb() -> ImageCms.ImageCmsProfile:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))


def _in_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """The same colours in sRGB; a picture whose profile is missing or unusable is assumed to be in sRGB already."""
    if profile:
        with suppress(ImageCms.PyCMSError, OSError):
            converted = ImageCms.profileToProfile(
                image, ImageCms.ImageCmsProfile(BytesIO(profile)), _srgb(),
                renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC, outputMode="RGB",
                flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
            )  # fmt: skip
            if converted is not None:
                return converted
    return image.convert("RGB")


def _webp(picture: Image.Image, quality: int, method: int) -> bytes:
    out = BytesIO()
    picture.save(out, "WEBP", quality=quality, method=method)
    return out.getvalue()


def write(rendering: Rendering, digest: str, folder: Path) -> Published:
    """Puts the files of a rendering into `folder`, each whole or not at all; raises OSError if the disk fails. digest:
    SHA-256 of the original. A note beside them, written last, lets `published_from_cache` find them again."""
    name = published_name(digest)
    for width, _, content in rendering.files:
        write_atomically(folder / f"{name}-{width}.webp", content, is_cached=True)
    sizes = tuple(
        PublishedSize(width, height, len(content), hashlib.sha256(content).hexdigest())
        for width, height, content in rendering.files
    )
    published = Published(name, sizes, rendering.placeholder)
    note = json.dumps(published_to_dict(published)).encode()
    whole = hashlib.sha256(note).hexdigest().encode() + b"\n" + note
    write_atomically(folder / f"{name}.json", whole, is_cached=True)
    return published


def published_from_cache(digest: str, folder: Path) -> Published | None:
    """What was made earlier from a file with that SHA-256, if all of it is still in `folder`, as far as the sizes of
    its files tell; otherwise None."""
    try:
        own, _, note = (folder / f"{published_name(digest)}.json").read_bytes().partition(b"\n")
        if own != hashlib.sha256(note).hexdigest().encode():
            return None
        published = published_from_dict(json.loads(note))
        files = [(folder / f"{published.name}-{size.width}.webp", size.bytes) for size in published.sizes]
        is_complete = all(file.stat().st_size == size for file, size in files)
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return None
    return published if is_complete and published.name == published_name(digest) else None


def published_to_dict(published: Published) -> dict[str, Any]:
    """As plain values that JSON holds."""
    return asdict(published)


def published_from_dict(row: dict[str, Any]) -> Published:
    """From what `published_to_dict` gave; raises KeyError or TypeError for anything else."""
    sizes = tuple(PublishedSize(**size) for size in row["sizes"])
    numbers = [number for size in sizes for number in (size.width, size.height, size.bytes)]
    texts = [row["name"], row["placeholder"], *(size.sha256 for size in sizes)]
    if not sizes or {*map(type, numbers)} != {int} or {*map(type, texts)} != {str}:
        raise TypeError("no published picture")
    return Published(row["name"], sizes, row["placeholder"])


@dataclass(frozen=True, slots=True)
class Picture:
    """sources: (file from the site's root, width in px), smallest first; empty where the pixels cannot be read. width,
    height: of the largest, for the page's layout. taken: in words; stamp: the same as ISO 8601, to the minute."""

    sources: tuple[tuple[str, int], ...]
    width: int
    height: int
    placeholder: str
    alt: str
    caption: str | None = None
    taken: str | None = None
    stamp: str | None = None

    @property
    def small(self) -> str | None:
        return self.sources[0][0] if self.sources else None

    @property
    def large(self) -> str | None:
        return self.sources[-1][0] if self.sources else None


FiledPhoto = tuple[Photo, Published | None, str]
"""A photo, its published files, and the month they are filed under."""


def filed_photos(journal: Journal, published: Mapping[str, Published]) -> dict[str, FiledPhoto]:
    """Every photo of a journal by its path, NFC."""
    first_entry: dict[str, Entry] = {}
    for entry in journal.entries():
        for use in entry.photos:
            first_entry.setdefault(use.path, entry)
    shown = [photo for photo in journal.photos if photo.path in first_entry]
    months = {photo.path: month_of(photo, first_entry[photo.path]) for photo in shown}
    months |= {own.file: "maps" for own in journal.settings.maps if own.file not in months}
    # One published picture has one file, however many photos have its content.
    month_of_name: dict[str, str] = {}
    for path in sorted(months):
        if path in published:
            month_of_name.setdefault(published[path].name, months[path])
    filed = {}
    for photo in journal.photos:
        made = published.get(photo.path)
        month = month_of_name.get(made.name, "") if made else ""
        filed[unicodedata.normalize("NFC", photo.path)] = (photo, made, month)
    return filed


class Pictures:
    """Makes the pictures of a journal and remembers which published files they need. filed: as of `filed_photos`."""

    def __init__(self, filed: Mapping[str, FiledPhoto]) -> None:
        self._filed = filed
        self.files: dict[str, tuple[str, int]] = {}
        """File from the site's root -> (published name, width), for all pictures made so far."""

    @contextmanager
    def collected(self) -> Iterator[Mapping[str, tuple[str, int]]]:
        """The files of the pictures that are made inside this context; they are also added to all others at the end."""
        before, self.files = self.files, {}
        try:
            yield self.files
        finally:
            before.update(self.files)
            self.files = before

    def take(self, files: Mapping[str, tuple[str, int]]) -> None:
        """Files of pictures that were made before."""
        self.files.update(files)

    def of(self, path: str, alt: str, caption: str | None = None) -> Picture:
        """The picture of one photo; alt is used where there is no caption."""
        photo, published, month = self._filed[unicodedata.normalize("NFC", path)]
        taken, stamp = None, None
        if photo.taken is not None:
            day = day_in_words(photo.taken.date())
            taken = day if photo.by_day else f"{day}, {clock(photo.taken)}"
            stamp = photo.taken.date().isoformat() if photo.by_day else photo.taken.isoformat()[:16]
        if published is None:
            return Picture((), photo.width or 0, photo.height or 0, "", caption or alt, caption, taken, stamp)
        sources = []
        for size in published.sizes:
            file = picture_file(month, published.name, size.width)
            self.files[file] = (published.name, size.width)
            sources.append((file, size.width))
        width, height = published.sizes[-1].width, published.sizes[-1].height
        return Picture(tuple(sources), width, height, published.placeholder, caption or alt, caption, taken, stamp)

    def of_entry(self, entry: Entry) -> tuple[Picture, ...]:
        """Every picture of an entry, those shown within its text included."""
        return tuple(self.of(use.path, entry.title, use.caption) for use in entry.photos)

    def beside(self, entry: Entry) -> tuple[Picture, ...]:
        """The pictures of an entry that its text does not show."""
        return tuple(self.of(use.path, entry.title, use.caption) for use in entry.photos if not use.in_text)


def shown_by(journal: Journal, published: Mapping[str, Published], site: Site) -> dict[str, tuple[str, ...]]:
    """A picture's path in the site, without width and suffix -> the IDs whose entries show it, sorted."""
    path_of_name = {name: path.rpartition("-")[0] for path, (name, _) in site.pictures}
    ids: dict[str, set[str]] = defaultdict(set)
    for entry in journal.entries():
        if not entry.photos:
            continue
        own = (entry,) if isinstance(entry, Find | Culture | Batch | Device) else subjects_of(journal, entry)
        for use in entry.photos:
            made = published.get(use.path)
            if made and made.name in path_of_name:
                ids[path_of_name[made.name]].update(row.id.lower() for row in own)
    return {path: tuple(sorted(names)) for path, names in sorted(ids.items())}


_PICTURE_FILE = re.compile(r"\.?(?P<name>[0-9a-f]{16})(?:-\d+\.webp|\.json)(?:\.\d+\.part)?")


def prune_pictures(folder: Path, names: Collection[str]) -> None:
    """Removes published pictures that no page shows any more; a file that cannot be removed may stay."""
    for file in folder.iterdir() if folder.is_dir() else ():
        found = _PICTURE_FILE.fullmatch(file.name)
        if found and (found["name"] not in names or file.suffix == ".part"):
            with suppress(OSError):
                file.unlink()
