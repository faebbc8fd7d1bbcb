"""A file's bytes as texts: as they are, unpacked from every encoding or archive, and the texts in a photo's
metadata."""

from __future__ import annotations

import base64
import binascii
import gzip
import io
import re
import warnings
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from urllib.parse import unquote

if TYPE_CHECKING:
    from PIL.Image import Image

DEEPEST = 4
"""How many nested encodings are unpacked."""
MOST_BYTES = 400_000_000
"""A packed file that is larger is not opened; it is reported as one that cannot be searched."""

NOISE = 7
"""In bytes that are not text, shorter words turn up by chance."""


@dataclass(frozen=True, slots=True)
class DecodedText:
    """A text found in a file. where: how to get to it, for a person. least: shorter words are not searched for in it,
    because they turn up by chance."""

    where: str
    text: str
    least: int = 1


@dataclass(frozen=True, slots=True)
class Unwanted:
    """Something that no share may contain, whatever it says. what: its kind. shown: more about it, in a few words."""

    where: str
    what: str
    shown: str


T = TypeVar("T")
Found = DecodedText | Unwanted

METADATA = "what a camera or program wrote beside the pixels"
UNREADABLE = "something that cannot be opened"

_TAG = re.compile(r"</?[A-Za-z!?][^<>]*>")
_TAG_OR_COMMENT = re.compile(rf"<!--.*?-->|{_TAG.pattern}", re.DOTALL)
_INLINE = re.compile(r"</?(?:a|abbr|b|bdi|code|em|i|mark|q|s|small|span|strong|sub|sup|tspan|u|wbr)\b[^<>]*>", re.I)
_ATTRIBUTE = re.compile(r"(?<![\w:-])([\w:-]++)\s*+=\s*+(?:\"([^\"]*)\"|'([^']*)')")
_DRAWN = frozenset({"d", "points", "transform", "viewbox"})
_JS_ESCAPE = re.compile(r"\\u\{([0-9a-fA-F]{1,6})\}|\\u([0-9a-fA-F]{4})|\\x([0-9a-fA-F]{2})")
_BASE64 = re.compile(r"[A-Za-z0-9+/_-]{12,}={0,2}")
_HEX = re.compile(r"(?<![0-9A-Fa-f])(?:[0-9A-Fa-f]{2}){6,}(?![0-9A-Fa-f])")
_STRINGS = re.compile(rb"[\x20-\x7e\t\r\n]{%d,}" % NOISE)
_WIDE = (
    ("utf-16-le", re.compile(rb"(?:[\x20-\x7e]\x00){%d,}" % NOISE)),
    ("utf-16-be", re.compile(rb"(?:\x00[\x20-\x7e]){%d,}" % NOISE)),
)
_PICTURE = re.compile(rb"RIFF....WEBP|\xff\xd8\xff|\x89PNG\r\n|II\*\x00|MM\x00\*|....ftyp|GIF8", re.DOTALL)
_INFO_NAMES = {
    "exif": "EXIF", "xmp": "XMP", "XML:com.adobe.xmp": "XMP", "photoshop": "IPTC", "comment": "a comment",
    "icc_profile": "a colour profile", "Raw profile type exif": "EXIF", "Raw profile type iptc": "IPTC",
    "Raw profile type xmp": "XMP",
}  # fmt: skip
_MARKS = (
    (b"Exif\x00\x00", "EXIF"),
    (b"http://ns.adobe.com/xap/", "XMP"),
    (b"<x:xmpmeta", "XMP"),
    (b"Photoshop 3.0", "IPTC"),
    (b"ICC_PROFILE\x00", "a colour profile"),
)


def texts_in(
    name: str, data: bytes, is_known: Callable[[bytes], bool] = lambda data: False, depth: int = DEEPEST
) -> Iterator[Found]:
    """All texts in a file's bytes; name: of the file, for a person. is_known: whether the bytes of a file in an archive
    need not be read again."""
    if _PICTURE.match(data):
        yield from _picture(name, data)
        yield from _readable_runs(name, data)
        return
    inside = tuple(_unpacked(name, data)) if depth else ()
    for found in inside:
        if not isinstance(found, tuple):
            yield found
        elif not is_known(found[1]):
            yield from texts_in(*found, is_known, depth - 1)
    text = _as_text(data)
    if inside or text is None:
        yield from _readable_runs(name, data)
        yield from _metadata_in(name, data)
    if text is not None:
        yield from _text(name, text, depth)


def _as_text(data: bytes) -> str | None:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", "replace")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return None
    return None if "\x00" in text else text


def _text(name: str, text: str, depth: int) -> Iterator[Found]:
    is_marked_up = "<" in text and any(True for _ in _tags(text))
    if is_marked_up:
        yield DecodedText(name, _without_tags(_INLINE.sub("", text)))
        yield DecodedText(name, _without_tags(text))
        attributes = (_ATTRIBUTE.findall(tag.group()) for tag in _tags(text))
        values = (double or single for row in attributes for key, double, single in row if key.lower() not in _DRAWN)
        yield DecodedText(f"{name}, an attribute", "\n".join(values))
    yield DecodedText(name, text, least=5 if is_marked_up else 1)
    plainer = text  # with the escapes of scripts and of addresses decoded
    if "\\" in plainer:
        plainer = _JS_ESCAPE.sub(_letter, plainer).replace("\\n", "\n").replace("\\t", "\t").replace("\\/", "/")
    plainer = unquote(plainer) if "%" in plainer else plainer
    if plainer != text:
        yield DecodedText(f"{name}, escaped", plainer, least=5 if is_marked_up else 1)
    if depth:
        for where, data in _encoded(name, text):
            yield from texts_in(where, data, depth=depth - 1)


def _tags(text: str) -> Iterator[re.Match[str]]:
    """Tags and comments. After the last `-->` no comment is searched for, because it would have no end."""
    last = text.rfind("-->") + 3 if "-->" in text else 0
    yield from _TAG_OR_COMMENT.finditer(text, 0, last)
    yield from _TAG.finditer(text, last)


def _without_tags(text: str) -> str:
    kept, at = [], 0
    for tag in _tags(text):
        kept.append(text[at : tag.start()])
        at = tag.end()
    return " ".join([*kept, text[at:]])


def _letter(found: re.Match[str]) -> str:
    number = int(found[1] or found[2] or found[3], 16)
    return chr(number) if number < 0x110000 else ""


def _encoded(name: str, text: str) -> Iterator[tuple[str, bytes]]:
    """Texts and pictures that a text contains in base64 or hexadecimal."""
    runs = (_from_base64(found.group()) for found in _BASE64.finditer(text))
    yield from ((f"{name}, in base64", data) for run in runs for data in run if _is_readable(data))
    hexed = (bytes.fromhex(found.group()) for found in _HEX.finditer(text))
    yield from ((f"{name}, in hexadecimal", data) for data in hexed if _is_readable(data))


def _from_base64(run: str) -> Iterator[bytes]:
    """The possible decodings of a run of base64, which may begin at any of its first four letters."""
    plain = run.rstrip("=").replace("-", "+").replace("_", "/")
    for start in range(4 if len(plain) >= 24 else 1):
        piece = plain[start:]
        with suppress(binascii.Error, ValueError):
            yield base64.b64decode(piece[: len(piece) - (len(piece) % 4 == 1)] + "==", validate=False)


def _is_readable(data: bytes) -> bool:
    # One in 65,536 hexadecimal names or fingerprints begins with gzip's two bytes, and no share may be refused for
    # that: a gzip member has deflate as its method, and 18 bytes of header and trailer (RFC 1952).
    if data.startswith(b"\x1f\x8b"):
        return data[2:3] == b"\x08" and len(data) > 18
    if _PICTURE.match(data) or data.startswith(b"PK\x03\x04"):
        return True
    readable = sum(32 <= byte < 127 or byte in (9, 10, 13) for byte in data[:200])
    return len(data) >= 4 and readable >= 0.9 * len(data[:200])


def _readable_runs(name: str, data: bytes) -> Iterator[DecodedText]:
    runs = [run.decode("ascii") for run in _STRINGS.findall(data)]
    for encoding, pattern in _WIDE:
        runs += [run.decode(encoding) for run in pattern.findall(data)]
    if runs:
        yield DecodedText(f"{name}, among its bytes", "\n".join(runs), least=NOISE)


def _metadata_in(name: str, data: bytes) -> Iterator[Unwanted]:
    return (Unwanted(name, METADATA, what) for mark, what in _MARKS if mark in data)


def _picture(name: str, data: bytes) -> Iterator[Found]:
    found = dict.fromkeys(one.shown for one in _metadata_in(name, data))

    def info_of(image: Image) -> dict[Any, Any]:
        info = dict(image.info)
        if image.format == "PNG":
            image.load()  # there may be texts after the pixels
            info |= dict(image.info)
        return info

    for key, value in (_read_picture(io.BytesIO(data), info_of) or {}).items():
        where = f"{name}, {_INFO_NAMES.get(key, key)}"
        if key in _INFO_NAMES or isinstance(value, str):
            found[_INFO_NAMES.get(key, f"a text ({key})")] = None
        if isinstance(value, str):
            yield DecodedText(where, value)
        elif isinstance(value, bytes):
            yield from _readable_runs(where, value)
    yield from (Unwanted(name, METADATA, what) for what in found)


def _read_picture(file: Path | io.BytesIO, read: Callable[[Image], T]) -> T | None:
    import PIL.Image

    import journal.reading.picture_files  # noqa: F401 - lets Pillow read HEIC

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with PIL.Image.open(file) as image:
                return read(image)
    except Exception:  # whatever a decoder raises for something that is not a picture
        return None


def _unpacked(name: str, data: bytes) -> Iterator[tuple[str, bytes] | Found]:
    try:
        if data.startswith((b"PK\x03\x04", b"PK\x05\x06")):
            with zipfile.ZipFile(io.BytesIO(data)) as packed:
                yield from _unzipped(name, packed)
        elif data.startswith(b"\x1f\x8b"):
            with gzip.GzipFile(fileobj=io.BytesIO(data)) as file:
                unpacked = file.read(MOST_BYTES + 1)
            if len(unpacked) > MOST_BYTES:
                raise ValueError("too large")
            yield f"{name}, unpacked", unpacked
        elif data.startswith((b"BZh", b"\xfd7zXZ")):
            yield Unwanted(name, UNREADABLE, "packed as no file of a site is")
    except (zipfile.BadZipFile, RuntimeError, zlib.error, OSError, EOFError, ValueError) as error:
        # zipfile raises RuntimeError for a locked file in it, and for one packed in a way it does not know
        yield Unwanted(name, UNREADABLE, f"cannot be unpacked ({error})")


def _unzipped(name: str, packed: zipfile.ZipFile) -> Iterator[tuple[str, bytes] | Found]:
    rows = packed.infolist()
    names = [packed.comment.decode("utf-8", "replace")]
    for row in rows:
        names += [row.filename, *(text.decode("utf-8", "replace") for text in (row.comment, row.extra))]
    yield DecodedText(f"{name}, names of files in it", "\n".join(names))
    for row in rows:
        if row.file_size > MOST_BYTES:
            yield Unwanted(f"{name} › {row.filename}", UNREADABLE, "too large")
        elif not row.is_dir():
            yield f"{name} › {row.filename}", packed.read(row)


_FIRST = (0x010E, 0x013B, 0x8298, 0x9C9B, 0x9C9C, 0x9C9D, 0x9C9E, 0x9C9F)
"""ImageDescription, Artist, Copyright; Windows' own title, comment, author, keywords and subject."""
_EXIF = (0x9286, 0xA420, 0xA430, 0xA431, 0xA435)
"""UserComment, ImageUniqueID, CameraOwnerName, BodySerialNumber, LensSerialNumber."""
_EXIF_POINTER = 0x8769


def camera_words(file: Path) -> Iterator[str]:
    """Texts in a picture's EXIF that identify a person or one camera; nothing if it has none or cannot be read.
    *Source:* CIPA DC-008 (Exif), tables of tags."""

    def values(image: Image) -> list[object]:
        exif = image.getexif()
        return [*map(exif.get, _FIRST), *map(exif.get_ifd(_EXIF_POINTER).get, _EXIF)]

    texts = map(_camera_words_as_text, _read_picture(file, values) or ())
    yield from (text for text in texts if len(text) >= 5)


def _camera_words_as_text(value: object) -> str:
    if isinstance(value, str):
        return value.strip("\0 ")
    if not isinstance(value, bytes):
        return ""
    if value[:8] in (b"ASCII\0\0\0", b"UNICODE\0"):
        value = value[8:]
    encoding = "utf-16-le" if value[1::2].count(0) > len(value) // 4 else "utf-8"
    return value.decode(encoding, "replace").strip("\0 \ufffd")
