"""Receipts: what `journal gather` brought in from a phone, so that the phone can be told."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import Any

from journal.problems import Problem

_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_DIGEST = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Received:
    """A revision of a record that is in the journal.

    record: the UUID the phone gave it. digest: SHA-256 of its entry's text as the phone sent it, hex. id: the ID it
    has in the journal where that is another than the phone gave it, else None.
    """

    record: str
    revision: int
    digest: str
    id: str | None = None


def read_receipt(path: str, data: bytes) -> tuple[tuple[Received, ...], tuple[Problem, ...]]:
    """What one receipt file says came in. A file that is no receipt gives nothing, and a warning."""
    try:
        rows = json.loads(data)["records"]
        return tuple(_received(row) for row in rows), ()
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        message = "this receipt cannot be read, so phones are not told what came in with it"
        return (), (Problem(path, 0, "warning", message, "restore it from a copy, or gather the archive again"),)


def _received(row: dict[str, Any]) -> Received:
    digest = {file["name"]: file["sha256"] for file in row["files"]}["entry.md"]
    record, revision, renamed = row["record"], row["revision"], row["id"] if row.get("was") else None
    if not (_UUID.fullmatch(record) and _DIGEST.fullmatch(digest)) or type(revision) is not int:
        raise ValueError("not a row of a receipt")
    return Received(record, revision, digest, renamed)
