"""What an author has looked at, kept in the journal's own folder, and the key without which it reveals nothing."""

from __future__ import annotations

import hmac
import json
import re
import secrets
from datetime import date
from pathlib import Path

from journal.atomic_write import write_atomically
from journal.problems import Refusal
from journal.sharing.review import ReviewRecord

FOLDER = "shares"
KEY = "key"
_WHAT = (
    "Keyed digests of what its author has looked at before sharing it, and of texts that they left out; "
    "without it, all has to be looked at again. In no share."
)


def record_path(root: Path, share: str) -> Path:
    return root / FOLDER / f"{share}.reviewed"


def read_key(root: Path) -> bytes:
    """The journal's key: 32 random bytes; new ones if there are none yet, which `write_record` keeps."""
    try:
        written = (root / FOLDER / KEY).read_text(encoding="ascii", errors="replace").strip()
    except FileNotFoundError:
        return secrets.token_bytes(32)
    if not re.fullmatch(r"[0-9a-f]{64}", written):
        raise Refusal(f"{FOLDER}/{KEY} is not a key; restore it from a copy, or delete it and look at everything again")
    return bytes.fromhex(written)


def key_of_share(key: bytes, share: str) -> bytes:
    """The key of one share, from which neither the journal's nor another share's can be derived."""
    return hmac.digest(key, f"share\0{share.casefold()}".encode("utf-8", "surrogatepass"), "sha256")


def read_record(root: Path, share: str) -> ReviewRecord:
    """The record; an empty one if there is no file. Raises Refusal if it cannot be read."""
    path = record_path(root, share)
    try:
        rows = json.loads(path.read_bytes())
        shown = rows["shown"]
        return ReviewRecord(
            looked_at={digest: date.fromisoformat(day) for digest, day in rows["looked at"].items()},
            left_out=frozenset(map(str, rows["left out"])),
            shown=None if shown is None else frozenset(map(str, shown)),
        )
    except FileNotFoundError:
        return ReviewRecord()
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise Refusal(
            f"{FOLDER}/{path.name} cannot be read; restore it from a copy, or delete it and look at everything again"
        ) from error


def write_record(root: Path, share: str, record: ReviewRecord, key: bytes) -> None:
    """Writes a record, and the key if it is new. Each file is complete at any moment. Raises OSError."""
    folder = root / FOLDER
    folder.mkdir(exist_ok=True)
    if not (folder / KEY).exists():
        write_atomically(folder / KEY, f"{key.hex()}\n".encode(), is_private=True)
    rows = {
        "what": _WHAT,
        "looked at": {digest: str(day) for digest, day in sorted(record.looked_at.items())},
        "left out": sorted(record.left_out),
        "shown": None if record.shown is None else sorted(record.shown),
    }
    write_atomically(record_path(root, share), f"{json.dumps(rows, indent=1)}\n".encode())
