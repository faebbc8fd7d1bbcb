"""The key file of a journal: for its own site and for each locked share a data key, its readers and a build counter."""

from __future__ import annotations

import json
import os
import secrets
import stat
import time
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from journal.atomic_write import write_atomically
from journal.cache.unchanged import usual_key_file
from journal.locking.cipher import KEY_BYTES, NONCE_BYTES, SiteCipher, WrongPassphrase, normal, pbkdf2, unwrap, wrap
from journal.problems import Refusal

FORMAT, VERSION = "journal keys", 1
ROUNDS = 1_000_000
OWN_SITE = ""
"""The name under which the key of the journal's own site stands; a share's is under the share's name."""
_SALT_BYTES = 16


@dataclass(frozen=True, slots=True)
class Reader:
    """Someone who has a passphrase. name: known to the author alone; nonce, wrapped: hex, as they are on the host."""

    name: str
    nonce: str
    wrapped: str


@dataclass(frozen=True, slots=True)
class SiteKey:
    """What one site is locked with. counter: of the last build; contents: keyed digest of what that held, "" for none.
    The counter begins with the time of day, so that a new key's first build counts as newer than an older key's last.
    """

    data_key: str = field(repr=False)
    salt: str
    rounds: int
    counter: int
    contents: str = ""
    readers: tuple[Reader, ...] = ()

    @classmethod
    def new(cls, after: int = 0, rounds: int = ROUNDS) -> SiteKey:
        """A key by chance, with no reader yet. after: a counter that its first build must exceed."""
        counter = max(int(time.time()), after + 1)
        return cls(secrets.token_hex(KEY_BYTES), secrets.token_hex(_SALT_BYTES), rounds, counter)

    @property
    def cipher(self) -> SiteCipher:
        return SiteCipher.of(bytes.fromhex(self.data_key))

    def with_reader(self, name: str, passphrase: str) -> SiteKey:
        """The same key with one more reader, or with another passphrase for one who is there."""
        nonce = secrets.token_bytes(NONCE_BYTES)
        key, salt = bytes.fromhex(self.data_key), bytes.fromhex(self.salt)
        reader = Reader(name, nonce.hex(), wrap(key, passphrase, salt, self.rounds, nonce).hex())
        return replace(self, readers=(*(one for one in self.readers if one.name != name), reader))

    def without_reader(self, name: str) -> SiteKey:
        return replace(self, readers=tuple(one for one in self.readers if one.name != name))

    def opened_by(self, passphrase: str) -> str | None:
        """The reader whose passphrase this is; None where it is nobody's."""
        key = pbkdf2(normal(passphrase), bytes.fromhex(self.salt), self.rounds)
        for one in self.readers:
            try:
                unwrap(bytes.fromhex(one.wrapped), bytes.fromhex(one.nonce), key, self.cipher.id)
            except WrongPassphrase:
                continue
            return one.name
        return None


@dataclass(frozen=True, slots=True)
class KeyFile:
    """A key file as it was read. sites: name of each site -> its key."""

    path: Path
    sites: Mapping[str, SiteKey] = field(default_factory=dict, repr=False)

    def keep(self, name: str, key: SiteKey) -> KeyFile:
        """Writes the file with this key in it, whole at any moment and readable by its owner alone; raises OSError."""
        kept = replace(self, sites={**self.sites, name: key})
        rows = {one: asdict(site) for one, site in sorted(kept.sites.items())}
        text = json.dumps({"format": FORMAT, "version": VERSION, "what": _WHAT, "sites": rows}, indent=1) + "\n"
        self.path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        write_atomically(self.path, text.encode(), is_private=True)
        return kept


_WHAT = "Opens the locked sites of a journal. Keep a copy, and show it to nobody: whoever has it can read them."


def default_path(root: Path) -> Path:
    """Where the keys of the journal in this folder are kept, unless another file is named."""
    return Path(usual_key_file(str(root)))


def refuse_place(path: Path, folders: Mapping[str, Path]) -> None:
    """Raises Refusal for a key file that is in a folder that is handed on, or may be deleted. folders: what it is, in
    words -> the folder; all absolute, with links resolved."""
    for what, folder in folders.items():
        if path.is_relative_to(folder):
            raise Refusal(f"the key file {path} is in {what}; name one elsewhere with --keys")


def read_keys(path: Path) -> KeyFile:
    """The key file, with no keys where there is none. Raises Refusal where it is damaged or others can read it."""
    try:
        with path.open("rb") as file:
            mode = stat.S_IMODE(os.fstat(file.fileno()).st_mode)
            data = file.read()
    except FileNotFoundError:
        return KeyFile(path)
    if os.name == "posix" and mode & 0o077:
        raise Refusal(
            f"{path} can be read or changed by other users of this computer (mode {mode:o}); run `chmod 600 {path}`. "
            "If somebody may have read it, make a new key: `journal readers remove NAME --new-key`"
        )
    try:
        document = json.loads(data)
        if (document["format"], document["version"]) != (FORMAT, VERSION):
            raise ValueError(document["format"])
        return KeyFile(path, {name: _site_key(row) for name, row in document["sites"].items()})
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise Refusal(
            f"{path} is not a key file of this version, or it is damaged; restore it from a copy. Without one, name a "
            "new file with --keys: that makes a new key, and every device has to be unlocked again"
        ) from error


def _site_key(row: Mapping[str, Any]) -> SiteKey:
    readers = tuple(Reader(**one) for one in row["readers"])
    key = SiteKey(**{**row, "readers": readers})
    sizes = [len(bytes.fromhex(text)) for text in (key.data_key, key.salt)]
    if sizes != [KEY_BYTES, _SALT_BYTES] or type(key.rounds) is not int or type(key.counter) is not int:
        raise ValueError("a key is damaged")
    return key
