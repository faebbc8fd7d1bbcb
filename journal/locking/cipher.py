"""The cryptography of a locked site: keys out of a data key, files sealed and opened, a data key under a passphrase.

The format is written down in DEVELOPERS.md, *Locked sites*; `templates/locked/lock.js` is its other reader.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import unicodedata
import zlib
from dataclasses import dataclass, field

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

LABEL = b"journal locked site 1"
"""Format and version of the keys, bound into each of them."""
FILE_LABEL = b"journal locked file 2"
"""The same of sealed files. Version 1 packed nothing; it had other nonces, since no nonce may be used for two texts."""
KEY_BYTES, ID_BYTES, NONCE_BYTES, TAG_BYTES, LENGTH_BYTES = 32, 8, 12, 16, 8
SMALLEST_BYTES = 256
_AS_IT_IS, _DEFLATED = 0, 1
_PACKED_ALREADY = (".webp", ".png", ".jpg", ".jpeg", ".avif", ".woff2", ".zip", ".pdf")
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
        keys = [hkdf(data_key, LABEL + b" " + use) for use in (b"content", b"nonces 2", b"names")]
        return cls(hkdf(data_key, LABEL + b" id", ID_BYTES), *keys)

    def name(self, path: str) -> str:
        """What a file is called on the host: 32 hex digits, under a key."""
        return hmac.digest(self._names, path.encode(), "sha256")[:16].hex()

    def seal(self, path: str, content: bytes) -> bytes:
        """A file as it is on the host: key's ID, nonce, then, under AES-256-GCM, how it is packed, length, packed
        content and padding. The nonce is made of the path and of all that is encrypted, whatever packed it: the
        same two give the same bytes, and others have another nonce."""
        plain = _packed(path, content)
        of = path.encode() + b"\0" + hashlib.sha256(plain).digest()
        nonce = hmac.digest(self._nonces, of, "sha256")[:NONCE_BYTES]
        return self.id + nonce + seal(self._content, nonce, plain, self._bound(path))

    def open(self, path: str, sealed: bytes) -> bytes:
        """The content of a file of this path. Raises OtherKey, DamagedFile."""
        start = ID_BYTES + NONCE_BYTES
        if len(sealed) < start + LENGTH_BYTES + TAG_BYTES:
            raise DamagedFile("it is cut off")
        if sealed[:ID_BYTES] != self.id:
            raise OtherKey("it is under another key")
        plain = opened(self._content, sealed[ID_BYTES:start], sealed[start:], self._bound(path))
        size = int.from_bytes(plain[1:LENGTH_BYTES], "big")
        body = plain[LENGTH_BYTES : LENGTH_BYTES + size]
        return body if plain[0] == _AS_IT_IS else zlib.decompress(body)

    def _bound(self, path: str) -> bytes:
        return FILE_LABEL + b"\0" + self.id + b"\0" + path.encode()


def _packed(path: str, content: bytes) -> bytes:
    """How it is packed (a byte), the length of what follows (7 bytes), that, and padding: deflated where that takes a
    step of padding less."""
    deflated = content if path.endswith(_PACKED_ALREADY) else zlib.compress(content, 9)
    sizes = [padded_size(LENGTH_BYTES + len(body)) for body in (content, deflated)]
    way, body = (_DEFLATED, deflated) if sizes[1] < sizes[0] else (_AS_IT_IS, content)
    head = bytes([way]) + len(body).to_bytes(LENGTH_BYTES - 1, "big")
    return (head + body).ljust(min(sizes), b"\0")


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
