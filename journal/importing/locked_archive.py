"""Archives under a passphrase: the zip in chunks of 1 MiB, each under AES-256-GCM, with a key made by PBKDF2."""

from __future__ import annotations

import errno
import hashlib
import io
import json
import unicodedata
from collections.abc import Callable
from pathlib import Path
from typing import Any, BinaryIO

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

FORMAT, VERSION = "journal archive, locked", 1
KEY_DERIVATION = "PBKDF2-HMAC-SHA-256"
FEWEST_ROUNDS, MOST_ROUNDS = 600_000, 10_000_000
CHUNK_BYTES, TAG_BYTES = 1 << 20, 16
_LONGEST_HEADER = 1000


def is_locked(path: Path) -> bool:
    """Whether a file begins like a locked archive; raises OSError."""
    with path.open("rb") as file:
        return file.read(1) == b"{"


def unlocked(path: Path, passphrase: Callable[[], str]) -> Callable[[], BinaryIO]:
    """Opens the zip in a locked archive, any number of times, deriving the key once.

    Raises ValueError where the file is none, or the passphrase is not its own, OSError where it cannot be read.
    """
    with path.open("rb") as file:
        line = file.readline(_LONGEST_HEADER)
    salt, nonce, rounds = _header(line)
    words = unicodedata.normalize("NFKC", passphrase()).encode()
    cipher = AESGCM(hashlib.pbkdf2_hmac("sha256", words, salt, rounds, 32))

    def opener() -> BinaryIO:
        return io.BufferedReader(_Unlocked(path.open("rb"), line, nonce, cipher), CHUNK_BYTES)

    opener().close()
    return opener


def _header(line: bytes) -> tuple[bytes, bytes, int]:
    """Salt, the nonces' beginning and the rounds."""
    try:
        if not line.endswith(b"\n"):
            raise ValueError
        given: dict[str, Any] = json.loads(line)
        salt, nonce = bytes.fromhex(given["salt"]), bytes.fromhex(given["nonce"])
        header = (given["format"], given["version"], given["kdf"], given["chunk"], len(salt), len(nonce))
        if header != (FORMAT, VERSION, KEY_DERIVATION, CHUNK_BYTES, 16, 7) or type(given["rounds"]) is not int:
            raise ValueError
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise ValueError("it is not a locked archive of a version that can be read here") from error
    if not FEWEST_ROUNDS <= given["rounds"] <= MOST_ROUNDS:
        raise ValueError(
            f"its key is made in {given['rounds']} rounds, where {FEWEST_ROUNDS:,} to {MOST_ROUNDS:,} are accepted"
        )
    return salt, nonce, given["rounds"]


class _Unlocked(io.RawIOBase):
    """The zip in a locked archive: as many whole chunks as are there. A damaged chunk is a read error (EIO)."""

    def __init__(self, file: BinaryIO, line: bytes, nonce: bytes, cipher: AESGCM) -> None:
        self._file = file
        self._start = len(line)
        self._bound = hashlib.sha256(line).digest()
        self._nonce = nonce
        self._cipher = cipher
        self._at = 0
        self._kept: tuple[int, bytes] = (-1, b"")
        whole, rest = divmod(file.seek(0, 2) - self._start, CHUNK_BYTES + TAG_BYTES)
        self._last: int | None = whole if rest else max(whole - 1, 0)
        last = self._opened_chunk(self._last)
        if last is not None:
            self._size = self._last * CHUNK_BYTES + len(last)
        else:
            self._last, self._size = None, whole * CHUNK_BYTES  # cut off: none of the chunks is its last
        if last is None and (not whole or self._opened_chunk(0) is None):
            file.close()
            raise ValueError("the passphrase is wrong, or the file is damaged or cut off at its beginning")

    def _opened_chunk(self, number: int) -> bytes | None:
        if number == self._kept[0]:
            return self._kept[1]
        self._file.seek(self._start + number * (CHUNK_BYTES + TAG_BYTES))
        data = self._file.read(CHUNK_BYTES + TAG_BYTES)
        nonce = self._nonce + number.to_bytes(4, "big") + bytes([number == self._last])
        try:
            plain = self._cipher.decrypt(nonce, data, self._bound)
        except (InvalidTag, ValueError):
            return None
        self._kept = (number, plain)
        return plain

    def readinto(self, buffer: Any) -> int:
        number, offset = divmod(self._at, CHUNK_BYTES)
        if self._at >= self._size:
            return 0
        chunk = self._opened_chunk(number)
        if chunk is None:
            raise OSError(errno.EIO, "the file is damaged")
        part = chunk[offset : offset + len(buffer)]
        buffer[: len(part)] = part
        self._at += len(part)
        return len(part)

    def seek(self, offset: int, whence: int = 0) -> int:
        self._at = offset + (0, self._at, self._size)[whence]
        return self._at

    def tell(self) -> int:
        return self._at

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def close(self) -> None:
        if not self.closed:
            self._file.close()
        super().close()
