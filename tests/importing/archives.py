"""Archives as a phone makes them, and as nobody should: records, their list, and the parts that hold them."""

from __future__ import annotations

import hashlib
import io
import json
import uuid
import warnings
import zipfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.ciphers.aead import AESGCM

DEVICE = "K7Q4"
Members = list[tuple[str, bytes]]


@dataclass(frozen=True)
class Saved:
    """A record as it is on the phone. keys: what follows `date` in the front matter."""

    kind: str
    id: str | None = None
    about: Sequence[str] = ()
    date: str = "2026-11-25 14:03+00:00"
    keys: Mapping[str, str] = field(default_factory=dict)
    text: str = "Two shelves on the shaded side.\n"
    photos: Mapping[str, bytes] = field(default_factory=dict)
    revision: int = 1
    seed: str = "first"

    @property
    def record(self) -> str:
        return str(uuid.uuid5(uuid.NAMESPACE_URL, self.seed))

    @property
    def folder(self) -> str:
        named = self.id or next(iter(self.about), "entry")
        return f"{self.date[:10]}-{self.kind}-{named.lower().replace('.', '-')}-{self.record[:8]}"

    @property
    def entry(self) -> bytes:
        keys = {"id": self.id, "about": ", ".join(self.about), "date": self.date, **self.keys}
        lines = [f"kind: {self.kind}", *(f"{key}: {value}" for key, value in keys.items() if value)]
        photos = ["photos:", *(f"  - {name}" for name in self.photos)] if self.photos else []
        return "\n".join(["---", *lines, *photos, "---", "", self.text]).encode()

    @property
    def files(self) -> dict[str, bytes]:
        return {"entry.md": self.entry, **self.photos}

    def later(self, **changes: Any) -> Saved:
        """Its next revision."""
        return replace(self, revision=self.revision + 1, **changes)


def photo(shade: int = 0, size: int = 3000) -> bytes:
    """Bytes that stand for a photo: gathering opens none."""
    return (hashlib.sha256(bytes([shade])).digest() * (size // 32 + 1))[:size]


def manifest_of(
    records: Iterable[Saved], where: Mapping[str, Sequence[int]] | None = None, parts: int = 1, name: str = "archive"
) -> dict[str, Any]:
    """where: photo's member name -> the parts that hold it; a record's text is in each of its photos' parts."""
    where = where or {}
    rows = []
    for one in records:
        held = {file: list(where.get(f"{one.folder}/{file}", [1])) for file in one.photos}
        texts = sorted({part for numbers in held.values() for part in numbers}) or [1]
        rows.append(
            {
                "record": one.record,
                "revision": one.revision,
                "kind": one.kind,
                "id": one.id,
                "folder": one.folder,
                "files": [
                    {
                        "name": file,
                        "bytes": len(data),
                        "sha256": hashlib.sha256(data).hexdigest(),
                        "parts": held.get(file, texts),
                    }
                    for file, data in one.files.items()
                ],
            }
        )
    return {
        "format": "journal archive",
        "version": 1,
        "archive": str(uuid.uuid5(uuid.NAMESPACE_URL, name)),
        "device": DEVICE,
        "made": "2026-11-25T18:00:00+00:00",
        "parts": parts,
        "records": rows,
    }


def json_of(manifest: object) -> bytes:
    """As `JSON.stringify` writes it."""
    return json.dumps(manifest, ensure_ascii=False, separators=(",", ":")).encode()


def members_of(records: Iterable[Saved], manifest: object, part: int = 1) -> Members:
    rows = [] if not isinstance(manifest, dict) else manifest["records"]
    held = {f"{row['folder']}/{file['name']}" for row in rows for file in row["files"] if part in file["parts"]}
    files = [(f"{one.folder}/{name}", data) for one in records for name, data in one.files.items()]
    return [("manifest.json", json_of(manifest)), *(row for row in files if row[0] in held)]


def zipped(members: Iterable[tuple[str, bytes]], change: Callable[[zipfile.ZipInfo], object] | None = None) -> bytes:
    """A zip of these members, stored, by Python's own writer. change: what is to be changed in a member's header."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made, warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # a name that is there twice
        for name, data in members:
            info = zipfile.ZipInfo(name, (2026, 11, 25, 18, 0, 0))
            info.external_attr = 0o100644 << 16
            if change:
                change(info)
            made.writestr(info, data, info.compress_type)
    return out.getvalue()


def archive(*records: Saved, name: str = "archive") -> bytes:
    """All of an archive that has one part."""
    return zipped(members_of(records, manifest_of(records, name=name)))


def archive_in_parts(where: Mapping[str, Sequence[int]], parts: int, *records: Saved) -> list[bytes]:
    manifest = manifest_of(records, where, parts)
    return [zipped(members_of(records, manifest, part)) for part in range(1, parts + 1)]


def locked(data: bytes, passphrase: str, rounds: int = 600_000, **header: Any) -> bytes:
    """A zip under a passphrase."""
    salt, nonce = bytes(range(16)), bytes(range(7))
    told = {
        "format": "journal archive, locked",
        "version": 1,
        "kdf": "PBKDF2-HMAC-SHA-256",
        "rounds": rounds,
        "salt": salt.hex(),
        "nonce": nonce.hex(),
        "chunk": 1 << 20,
    }
    line = json_of({**told, **header}) + b"\n"
    key = AESGCM(hashlib.pbkdf2_hmac("sha256", passphrase.encode(), salt, rounds, 32))
    chunks = [data[at : at + (1 << 20)] for at in range(0, len(data), 1 << 20)]
    sealed = [
        key.encrypt(
            nonce + number.to_bytes(4, "big") + bytes([number == len(chunks) - 1]), chunk, hashlib.sha256(line).digest()
        )
        for number, chunk in enumerate(chunks)
    ]
    return line + b"".join(sealed)


FIND = Saved(
    "find",
    "F26-015-K7Q4",
    keys={"species": "Pleurotus pulmonarius", "where": "58.30412, -8.90177 ±8 m"},
    photos={"photo-01.jpg": photo(1), "photo-02.jpg": photo(2)},
)
CULTURE = Saved("culture", "PP-26A-7-K7Q4", keys={"from": "F26-015-K7Q4", "vessels": "4"}, seed="culture")
PINS = Saved(
    "note", about=["B-031.2"], keys={"stage": "pinning"}, photos={"photo-01.webp": photo(3)}, seed="pins",
    text="Pins on B-031.2, from F26-015-K7Q4.\n",
)  # fmt: skip
RYE = Saved("note", text="Bought rye.\n", seed="rye")
TENT = Saved("tent", about=["wash-house"], keys={"humidity reading": "92 %", "door": "shut"}, seed="tent")
ALL = (FIND, CULTURE, PINS, RYE, TENT)


def write(folder: Path, data: bytes, name: str = "journal-2026-11-25-1800-K7Q4-1-of-1.zip") -> Path:
    path = folder / name
    path.write_bytes(data)
    return path
