"""Files whose bytes are made to be slow to read, and journals of many of one thing: time grows no faster than they."""

from __future__ import annotations

import io
import json
import struct
import zipfile
import zlib
from collections.abc import Callable
from contextlib import suppress
from functools import cache

import pytest

from journal.problems import Unreadable
from journal.reading.entries import read_entry
from journal.reading.linking import assemble
from journal.reading.photos import Limits, _read_open
from journal.reading.picture_files import quiet_readers
from journal.reading.settings_file import read_settings
from tests.growth import grows_faster_than_a_scan
from tests.hostile import chunk, directory, picture, tiff


def packed_with(data: bytes, *behind: bytes) -> bytes:
    """A PNG's chunks after its header."""
    return data[:33] + b"".join(behind) + data[33:]


WHOLE_PNG, WHOLE_JPEG = picture("PNG"), picture()
STEP = 16
"""A directory without rows, and a link to the next, takes six bytes; they begin every sixteen here."""

BYTES: dict[str, Callable[[int], bytes]] = {
    "TIFF: directories in a row, the last before the first": lambda n: tiff(
        *((8 + STEP * k, directory([], 8 + STEP * ((k + 1) % n))) for k in range(n))
    ),
    "TIFF: rows that all lead to the first directory": lambda n: tiff((8, directory([(0x8769, 4, 1, 8)] * n, 8))),
    "TIFF: rows that all lead to one long text": lambda n: tiff(
        (8, directory([(0x10E + k, 2, 12 * n, 8) for k in range(n)], 0))
    ),
    "TIFF: directories within directories": lambda n: tiff(
        *((8 + 32 * k, directory([(0x8769, 4, 1, 8 + 32 * (k + 1)), (0x8825, 4, 1, 8)], 0)) for k in range(n))
    ),
    "TIFF: one row that says it has many values": lambda n: tiff((8, directory([(0x14A, 4, n, 8)], 0))) + bytes(4 * n),
    "JPEG: short segments": lambda n: WHOLE_JPEG[:2] + (b"\xff\xe1" + struct.pack(">H", 10) + b"Exif\0\0II") * n,
    "JPEG: no segment at all": lambda n: WHOLE_JPEG[:2] + b"\xff" * n,
    "PNG: texts": lambda n: packed_with(WHOLE_PNG, *[chunk(b"tEXt", b"a\0b")] * n),
    "PNG: packed texts": lambda n: packed_with(WHOLE_PNG, *[chunk(b"zTXt", b"a\0\0" + zlib.compress(b"b"))] * n),
    "PNG: empty pieces of pixels": lambda n: packed_with(WHOLE_PNG, *[chunk(b"IDAT", b"")] * n),
    "WebP: chunks": lambda n: b"RIFF" + struct.pack("<I", 4 + 8 * n) + b"WEBP" + b"ABCD\0\0\0\0" * n,
    "HEIC: boxes": lambda n: b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0\0\0\x08free" * n,
    "HEIC: boxes in boxes": lambda n: (
        b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"".join(struct.pack(">I", 8 * (n - k)) + b"meta" for k in range(n))
    ),
}


def photo_read(data: bytes) -> object:
    with quiet_readers():
        return _read_open(io.BufferedReader(io.BytesIO(data)), None, Limits(), digest="")  # type: ignore[arg-type]


@pytest.mark.parametrize("name", BYTES)
def test_reading_a_picture_takes_no_longer_than_it_is_long(name: str) -> None:
    make = cache(BYTES[name])
    slower = grows_faster_than_a_scan(lambda text: photo_read(make(len(text))), lambda n: "x" * n, 120)
    assert slower is None


def entry(number: int, keys: str) -> tuple[str, bytes]:
    return f"{number:05}.md", f"---\n{keys}\ndate: 2026-09-12\n---\n".encode()


MANY: dict[str, Callable[[int], list[tuple[str, bytes]]]] = {
    "finds with one ID": lambda n: [entry(k, "kind: find\nid: F-1") for k in range(n)],
    "cultures one from the other": lambda n: [entry(k, f"kind: culture\nid: C-{k}\nfrom: C-{k + 1}") for k in range(n)],
    "cultures in a circle": lambda n: [entry(k, f"kind: culture\nid: C-{k}\nfrom: C-{(k + 1) % n}") for k in range(n)],
    "cultures of the two before": lambda n: [
        entry(k, f"kind: culture\nid: C-{k}\nfrom: C-{k - 1}, C-{k - 2}") for k in range(n)
    ],
    "a note about everything": lambda n: [
        entry(0, "kind: note\nabout: " + ", ".join(f"F-{k}" for k in range(1, n))),
        *(entry(k, f"kind: find\nid: F-{k}") for k in range(1, n)),
    ],
    "notes about what is not there": lambda n: [entry(k, f"kind: note\nabout: X-{k}") for k in range(n)],
    "IDs that nearly are one": lambda n: [
        *(entry(k, f"kind: find\nid: F-{k:04}A") for k in range(n // 2)),
        *(entry(k, f"kind: note\nabout: F-{k:04}B") for k in range(n // 2, n)),
    ],
    "one earlier ID": lambda n: [entry(k, f"kind: find\nid: F-{k}\nformerly: F-{k + 1}") for k in range(n)],
    "what is next, never done": lambda n: [
        entry(0, "kind: batch\nid: B-1"),
        *(entry(k, f"kind: note\nabout: B-1\nnext: 2026-11-28 look {k}") for k in range(1, n)),
    ],
}


@pytest.mark.parametrize("name", MANY)
def test_linking_takes_no_longer_than_there_are_entries(name: str) -> None:
    settings, _ = read_settings(b"")

    @cache
    def drafts(count: int) -> list[object]:
        return [read_entry(path, data, settings) for path, data in MANY[name](count)]

    slower = grows_faster_than_a_scan(
        lambda text: assemble(settings, drafts(len(text))),  # type: ignore[arg-type]
        lambda n: "x" * n,
        40,
    )
    assert slower is None


@cache
def archive(members: int) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("manifest.json", json.dumps({"format": "journal archive", "version": 1, "records": []}))
        for number in range(members):
            packed.writestr(f"{number}/entry.md", b"")
    return out.getvalue()


def test_opening_an_archive_takes_no_longer_than_it_has_members(tmp_path_factory: pytest.TempPathFactory) -> None:
    from journal.importing.archive import read_archives

    folder = tmp_path_factory.mktemp("archives")

    @cache
    def file(count: int) -> object:
        path = folder / f"{count}.zip"
        path.write_bytes(archive(count))
        return path

    def read(text: str) -> None:
        with suppress(Unreadable):
            read_archives([file(len(text))], lambda: "")  # type: ignore[list-item]

    assert grows_faster_than_a_scan(read, lambda n: "x" * n, 60) is None
