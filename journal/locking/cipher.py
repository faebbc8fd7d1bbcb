"""The cryptography of a locked site: keys out of a data key, files sealed and opened, a data key under a passphrase.

The format is written down in DEVELOPERS.md, *Locked sites*; `templates/locked/lock.js` is its other reader.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import unicodedata
from dataclasses import dataclass, field

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

LABEL = b"journal locked site 1"
"""Format and version, bound into every key and every file."""
KEY_BYTES, ID_BYTES, NONCE_BYTES, TAG_BYTES, LENGTH_BYTES = 32, 8, 12, 16, 8
SMALLEST_BYTES = 256
_BLANKS = re.compile(r"[\t-\r ]+")


class WrongPassphrase(ValueError):
    """A passphrase does not open this data key."""


class OtherKey(ValueError):
    """A file was sealed under another key."""


class DamagedFile(ValueError):
    """A file is not what was sealed under this key for this path."""


def pbkdf2(passphrase: bytes, salt: bytes, rounds: int, size: int = KEY_BYTES) -> bytes:
    """PBKDF2-HMAC-SHA-256. *Source:* RFC 8018, 5.2; vectors: RFC 7914, 11."""
    return hashlib.pbkdf2_hmac("sha256", passphrase, salt, rounds, size)


def hkdf(key: bytes, info: bytes, size: int = KEY_BYTES, salt: bytes = b"") -> bytes:
    """HKDF-SHA-256. *Source:* RFC 5869, 2; no salt counts as one of zeros."""
    return HKDF(SHA256(), size, salt or None, info).derive(key)


def seal(key: bytes, nonce: bytes, plain: bytes, bound: bytes) -> bytes:
    """AES-256-GCM: the text under the key, then a tag of 16 bytes. *Source:* NIST SP 800-38D."""
    return AESGCM(key).encrypt(nonce, plain, bound)


def opened(key: bytes, nonce: bytes, sealed: bytes, bound: bytes) -> bytes:
    """The text that `seal` sealed; raises DamagedFile where it was anything else."""
    try:
        return AESGCM(key).decrypt(nonce, sealed, bound)
    except (InvalidTag, ValueError) as error:
        raise DamagedFile("it is damaged, or belongs elsewhere") from error


def padded_size(size: int) -> int:
    """The next of the sizes that are used: 256, then eight steps to each doubling, so that one is at most 12.5 % more
    than the one before."""
    if size <= SMALLEST_BYTES:
        return SMALLEST_BYTES
    step = 1 << ((size - 1).bit_length() - 4)
    return -(-size // step) * step


@dataclass(frozen=True, slots=True)
class SiteCipher:
    """Everything that one data key seals and opens. id: 8 bytes that name the key and tell nothing of it."""

    id: bytes
    _content: bytes = field(repr=False)
    _nonces: bytes = field(repr=False)
    _names: bytes = field(repr=False)

    @classmethod
    def of(cls, data_key: bytes) -> SiteCipher:
        keys = [hkdf(data_key, LABEL + b" " + use) for use in (b"content", b"nonces", b"names")]
        return cls(hkdf(data_key, LABEL + b" id", ID_BYTES), *keys)

    def name(self, path: str) -> str:
        """What a file is called on the host: 32 hex digits, under a key."""
        return hmac.digest(self._names, path.encode(), "sha256")[:16].hex()

    def header(self, path: str, content: bytes) -> bytes:
        """How the sealed file begins: key's ID and nonce. The same path and content always get the same."""
        of = path.encode() + b"\0" + hashlib.sha256(content).digest()
        return self.id + hmac.digest(self._nonces, of, "sha256")[:NONCE_BYTES]

    def seal(self, path: str, content: bytes) -> bytes:
        """A file as it lies on the host: key's ID, nonce, then length, content and padding under AES-256-GCM."""
        header = self.header(path, content)
        plain = len(content).to_bytes(LENGTH_BYTES, "big") + content
        plain = plain.ljust(padded_size(len(plain)), b"\0")
        return header + seal(self._content, header[ID_BYTES:], plain, self._bound(path))

    def open(self, path: str, sealed: bytes) -> bytes:
        """The content of a file of this path. Raises OtherKey, DamagedFile."""
        start = ID_BYTES + NONCE_BYTES
        if len(sealed) < start + LENGTH_BYTES + TAG_BYTES:
            raise DamagedFile("it is cut off")
        if sealed[:ID_BYTES] != self.id:
            raise OtherKey("it is under another key")
        plain = opened(self._content, sealed[ID_BYTES:start], sealed[start:], self._bound(path))
        size = int.from_bytes(plain[:LENGTH_BYTES], "big")
        return plain[LENGTH_BYTES : LENGTH_BYTES + size]

    def _bound(self, path: str) -> bytes:
        return LABEL + b"\0" + self.id + b"\0" + path.encode()


def normal(passphrase: str) -> bytes:
    """A passphrase as bytes, however it was typed: NFKC, without blanks around it, one between words."""
    return _BLANKS.sub(" ", unicodedata.normalize("NFKC", passphrase)).strip(" ").encode()


def wrap(data_key: bytes, passphrase: str, salt: bytes, rounds: int, nonce: bytes) -> bytes:
    """The data key under a passphrase: 48 bytes. nonce: by chance."""
    return seal(pbkdf2(normal(passphrase), salt, rounds), nonce, data_key, _wrap_bound(data_key))


def unwrap(wrapped: bytes, nonce: bytes, key: bytes, id: bytes) -> bytes:
    """The data key out of its wrap. key: by `pbkdf2` of the passphrase; id: of the data key. Raises WrongPassphrase."""
    try:
        return opened(key, nonce, wrapped, LABEL + b"\0passphrase\0" + id)
    except DamagedFile as error:
        raise WrongPassphrase("the passphrase is wrong") from error


def _wrap_bound(data_key: bytes) -> bytes:
    return LABEL + b"\0passphrase\0" + SiteCipher.of(data_key).id
