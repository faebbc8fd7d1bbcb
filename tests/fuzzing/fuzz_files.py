"""What must hold of the readers of pictures, labels and archives, and of texts as HTML, whatever the bytes."""

from __future__ import annotations

import functools
import hashlib
import io
import json
import math
import re
import tempfile
import uuid
import zipfile
from collections.abc import Callable, Mapping
from contextlib import suppress
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace

from exifread.utils import Ratio

from journal.importing.archive import read_archives, read_manifest
from journal.importing.code_scan import codes_in
from journal.importing.gather_plan import Home, new_text, plan_gather
from journal.problems import Unreadable
from journal.reading.exif import LEAST_OFFSET_MIN, MOST_OFFSET_MIN, ExifFacts, exif_facts, read_exif
from journal.reading.label_codes import label_text, read_label, without_check
from journal.reading.photos import PhotoFacts, photo_of
from journal.reading.picture_files import Limits, check_size, open_picture, quiet_readers
from journal.reading.receipts import Receipts, read_receipt, received_in
from journal.reading.values import parse_id
from journal.site.markdown import Prose, links_of, render
from tests.fuzzing.fuzz_texts import SETTINGS, ZONE, read_or_refused, sound, tells, text_of

# Pictures


def exif_file(data: bytes) -> None:
    """As a whole picture where it starts like one, else as an EXIF block behind a TIFF header."""
    is_picture = data[:2] in (b"\xff\xd8", b"\x89P", b"RI", b"II", b"MM")
    file = io.BytesIO(data if is_picture else b"II*\0\x08\0\0\0" + data)
    with quiet_readers():
        image = None
        with suppress(Unreadable):
            image = open_picture(file)
            check_size(image, Limits())
        sane(read_exif(file, image))


_TAGS_READ = (
    "EXIF DateTimeOriginal", "EXIF OffsetTimeOriginal", "EXIF SubSecTimeOriginal", "GPS GPSDate", "GPS GPSTimeStamp",
    "GPS GPSLatitude", "GPS GPSLatitudeRef", "GPS GPSLongitude", "GPS GPSLongitudeRef", "GPS GPSMapDatum",
    "GPS GPSStatus", "GPS Tag 0x001F", "Image Model",
)  # fmt: skip


def exif_tags(data: bytes) -> None:
    """Tags as ExifRead gives them: of each its number, its type and its length, then so many bytes of its value."""
    tags, at = {}, 0
    while at + 3 <= len(data):
        name, kind, length = data[at : at + 3]
        value = data[at + 3 : at + 3 + length % 40]
        at += 3 + length % 40
        tags[_TAGS_READ[name % len(_TAGS_READ)]] = SimpleNamespace(values=_EXIF_TYPES[kind % len(_EXIF_TYPES)](value))
    facts = exif_facts(tags)
    sane(facts)
    told = {name: getattr(facts, name) for name in ExifFacts.__dataclass_fields__}
    photo, problems = photo_of(PhotoFacts("", "JPEG", **told), "a.jpg", ZONE)
    sound(problems, b"")
    assert photo.taken is None or photo.taken.tzinfo is not None


def ratios(data: bytes, size: int) -> list[Ratio]:
    """Rational numbers of so many bytes above and below the line."""
    numbers = [
        int.from_bytes(data[at : at + size], "big", signed=size > 2) for at in range(0, len(data) - size + 1, size)
    ]
    return [Ratio(above, below) for above, below in zip(numbers[::2], numbers[1::2], strict=False)]


_EXIF_TYPES: tuple[Callable[[bytes], object], ...] = (
    lambda data: data.decode("latin-1"), list, lambda data: ratios(data, 1), lambda data: ratios(data, 4), bytes,
    lambda data: [1.5] * len(data),
)  # fmt: skip


def sane(facts: ExifFacts) -> None:
    assert (facts.lat_deg is None) == (facts.lon_deg is None)
    assert facts.lat_deg is None or (abs(facts.lat_deg) <= 90 and abs(facts.lon_deg or 0) <= 180)
    assert facts.uncertainty_m is None or 0 < facts.uncertainty_m < math.inf, facts.uncertainty_m
    assert facts.offset_min is None or LEAST_OFFSET_MIN <= facts.offset_min <= MOST_OFFSET_MIN
    for _, message, fix in facts.faults:
        tells(message, fix)
    (facts.camera or "").encode()


SITE = "https://journal.example/woods/"


def a_label(data: bytes) -> None:
    """The text of a code: what is taken for an ID is one, and its own label is read as the same."""
    text = text_of(data)
    for site in (None, SITE):
        ref = read_label(text, site)
        if ref is not None:
            assert parse_id(ref.id) == ref.id
            for has_check in (False, True):
                assert read_label(label_text(ref, has_check=has_check), site) == ref
    read_or_refused(lambda: without_check(text, {"b-031"}))


def a_code(data: bytes) -> None:
    """Bytes as the modules of a small grey picture, searched for codes."""
    from PIL import Image

    side = math.isqrt(len(data) * 8)
    bits = "".join(f"{byte:08b}" for byte in data)[: side * side]
    if side < 21:
        return
    small = Image.frombytes("L", (side, side), bytes(255 * (bit == "0") for bit in bits))
    picture = Image.new("L", (side * 3 + 24, side * 3 + 24), 255)
    picture.paste(small.resize((side * 3, side * 3), Image.Resampling.NEAREST), (12, 12))
    texts, _ = codes_in(picture)
    for text in texts:
        a_label(text.encode("utf-8", "replace"))


# What a phone sends home

NOBODY = Home(Path("/nowhere"), SETTINGS, (), Receipts())


@functools.cache
def _room() -> tempfile.TemporaryDirectory[str]:
    return tempfile.TemporaryDirectory()


def an_archive(content: bytes) -> None:
    """What is taken of it goes nowhere but into folders of the journal."""
    path = Path(_room().name, "a-1-of-1.zip")
    path.write_bytes(content)
    archives, refused = read_archives([path], lambda: "")
    assert len(archives) + len(refused) == 1
    for error in refused:
        tells(str(error), "")
    for archive in archives:
        for taking in plan_gather(archive, NOBODY).takings:
            path_in = taking.gathered.path
            assert not path_in.startswith(("/", ".")), path_in
            assert ".." not in path_in.split("/"), path_in
        for record in archive.manifest.records:
            if archive.has(record, record.files[0]):
                new_text(archive, record, {"b-1": "B-2"})


def around(make: Callable[[bytes], bytes]) -> Callable[[bytes], None]:
    return lambda data: an_archive(make(data))


def listed(data: bytes) -> bytes:
    """An archive with these bytes as its list."""
    return zipped({"manifest.json": data})


def zipped(files: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for name, data in files.items():
            made.writestr(zipfile.ZipInfo(name), data)
    return out.getvalue()


def listing(text: bytes) -> dict[str, object]:
    """The list of an archive with one record, which has this text alone."""
    digest = hashlib.sha256(text).hexdigest()
    file = {"name": "entry.md", "bytes": len(text), "sha256": digest, "parts": [1]}
    record = {
        "record": str(uuid.UUID(int=7)),
        "revision": 1,
        "kind": "find",
        "id": "F-1",
        "folder": "a",
        "files": [file],
    }
    return {
        "format": "journal archive", "version": 1, "archive": str(uuid.UUID(int=5)), "device": "K7Q4", "parts": 1,
        "records": [record],
    }  # fmt: skip


def holding(text: bytes) -> bytes:
    return zipped({"manifest.json": json.dumps(listing(text)).encode(), "a/entry.md": text})


ARCHIVE_WAYS = (an_archive, around(listed), around(holding))


def a_manifest(data: bytes) -> None:
    """Every list in JSON that comes from elsewhere: of an archive, and the receipts of what came in."""
    try:
        manifest = read_manifest(data)
    except ValueError as refused:
        tells(str(refused), "")
    else:
        assert all(record.id is None or parse_id(record.id) for record in manifest.records)
    with suppress(ValueError):
        for one in read_receipt(data).records:
            assert ".." not in one.path.split("/"), one.path
    _, problems = received_in("receipts/a.json", data)
    sound(problems, data)


# Texts as HTML

_TAGS = frozenset("a blockquote br code div em figure h3 h4 h5 h6 hr li ol p pre strong ul".split())  # noqa: SIM905
"""What an entry's text may become; h1 and h2 are the page's own."""


class _Allowed(HTMLParser):
    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert tag in _TAGS, f"<{tag}>"
        for name, value in attrs:
            assert name in ("href", "class", "rel", "start", "title"), f"{tag} {name}"
            if name == "href":
                bare = re.sub(r"[\x00-\x20]", "", value or "").lower()
                assert bare == "../f-1/" or bare.startswith(("http:", "https:", "mailto:", "geo:")), value


def markdown(data: bytes) -> None:
    """Nothing but plain tags comes out, and no link that a browser would run."""
    text = text_of(data)
    _Allowed().feed(render(Prose(text, links=links_of({"f-1": "f-1/"})(text)), "../", lambda picture: ""))
