"""Opens a locked site by what DEVELOPERS.md writes of its format, with nothing of the program."""

from __future__ import annotations

import hashlib
import hmac
import json
import re
import unicodedata
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.pbkdf2 import PBKDF2HMAC

LABEL = b"journal locked site 1"
FILE_LABEL = b"journal locked file 2"


def _subkey(data_key: bytes, use: bytes, size: int = 32) -> bytes:
    """HKDF (RFC 5869) with no salt and one block of output."""
    extracted = hmac.new(bytes(32), data_key, hashlib.sha256).digest()
    return hmac.new(extracted, LABEL + b" " + use + b"\x01", hashlib.sha256).digest()[:size]


@dataclass
class OpenedSite:
    """A locked site, and what its passphrase opened. build: the digest of its root list."""

    folder: Path
    data_key: bytes
    build: str

    @property
    def id(self) -> bytes:
        return _subkey(self.data_key, b"id", 8)

    def packed(self, data: bytes, path: str) -> tuple[int, bytes]:
        """How a sealed file is packed, and what that made of it; raises InvalidTag or AssertionError where it is not of
        that path."""
        assert data[:8] == self.id
        bound = FILE_LABEL + b"\0" + data[:8] + b"\0" + path.encode()
        padded = AESGCM(_subkey(self.data_key, b"content")).decrypt(data[8:20], data[20:], bound)
        size = int.from_bytes(padded[1:8], "big")
        assert not padded[8 + size :].strip(b"\0")
        return padded[0], padded[8 : 8 + size]

    def open(self, data: bytes, path: str) -> bytes:
        """A sealed file's content; raises as `packed` does."""
        way, body = self.packed(data, path)
        return {0: lambda: body, 1: lambda: zlib.decompress(body)}[way]()

    def place_of(self, path: str) -> Path:
        name = hmac.new(_subkey(self.data_key, b"names"), path.encode(), hashlib.sha256).hexdigest()[:32]
        return self.folder / "locked" / f"{name}.bin"

    def listed(self, digest: str, kind: str) -> Any:
        data = (self.folder / "offline" / f"{digest}.bin").read_bytes()
        assert hashlib.sha256(data).hexdigest()[:32] == digest
        return json.loads(self.open(data, f"offline/{kind}"))

    @property
    def root(self) -> Any:
        return self.listed(self.build, "root")

    def rows(self) -> dict[str, tuple[str, int]]:
        """Path -> digest and size of its sealed file, of all lists."""
        lists = [self.listed(digest, "list") for _, _, digest, *_ in self.root["parts"]]
        return {one["base"] + file[0]: (file[1], file[2]) for one in lists for file in one["files"]}

    def contents(self) -> dict[str, bytes]:
        """Every file that the lists name, opened."""
        found = {}
        for path, (digest, size) in self.rows().items():
            data = self.place_of(path).read_bytes()
            assert (hashlib.sha256(data).hexdigest()[:32], len(data)) == (digest, size)
            found[path] = self.open(data, path)
        return found


def unlocked(folder: Path, passphrase: str) -> OpenedSite:
    """Raises ValueError where the passphrase is nobody's."""
    header = json.loads((folder / "lock.json").read_bytes())
    typed = re.sub(r"[\t-\r ]+", " ", unicodedata.normalize("NFKC", passphrase)).strip(" ").encode()
    key = PBKDF2HMAC(SHA256(), 32, bytes.fromhex(header["salt"]), header["rounds"]).derive(typed)
    bound = LABEL + b"\0passphrase\0" + bytes.fromhex(header["key"])
    build = re.match(r'globalThis\.journalBuild = "([0-9a-f]{32})"', (folder / "sw.js").read_text("utf-8"))
    assert build is not None
    for nonce, wrapped in header["readers"]:
        try:
            data_key = AESGCM(key).decrypt(bytes.fromhex(nonce), bytes.fromhex(wrapped), bound)
        except Exception:
            continue
        return OpenedSite(folder, data_key, build[1])
    raise ValueError("nobody's passphrase")
