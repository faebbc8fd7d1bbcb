"""Receipts: which records came in from a phone, as what, and with which bytes."""

from __future__ import annotations

import json
import posixpath
import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from journal.problems import Problem, Refusal

RECEIPTS_FOLDER = "receipts"
ENTRY_NAME = "entry.md"
"""The name of every record's text in an archive."""

_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_DIGEST = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class GatheredFile:
    """A file that came in. name: in its archive. sha256: of its bytes there; written: of those in the journal, hex."""

    name: str
    sha256: str
    written: str


@dataclass(frozen=True, slots=True)
class Gathered:
    """A record that came in. record: its UUID. path: of its entry. was: the ID it had on the phone, if it got another.

    files: those of this revision that are in the journal, also those that came in earlier.
    """

    record: str
    revision: int
    id: str | None
    path: str
    files: tuple[GatheredFile, ...]
    was: str | None = None

    def file(self, name: str) -> GatheredFile | None:
        return next((file for file in self.files if file.name == name), None)


@dataclass(frozen=True, slots=True)
class Receipt:
    """What one run of `journal gather` took in. gathered: UTC, ISO 8601. manifest: SHA-256 of the archive's list, hex.

    parts: number of each part that is completely in the journal -> its receipt code. missing: names in the archive.
    """

    archive: str
    device: str
    gathered: str
    manifest: str
    parts: Mapping[str, str]
    records: tuple[Gathered, ...]
    missing: tuple[str, ...] = ()


def receipt_text(receipt: Receipt) -> str:
    """A receipt as its file holds it."""
    rows = asdict(receipt)
    for row in rows["records"]:
        if row["was"] is None:
            del row["was"]
    return json.dumps({"version": 1, **rows}, ensure_ascii=False, indent=1) + "\n"


def read_receipt(data: bytes) -> Receipt:
    """The receipt in a file's bytes; raises ValueError if it is not one."""
    try:
        given = json.loads(data)
        if given.pop("version") != 1:
            raise ValueError("of another version")
        records = tuple(gathered_of(row) for row in given.pop("records"))
        return Receipt(**{**given, "records": records, "missing": tuple(given["missing"])})
    except (KeyError, TypeError, AttributeError, RecursionError) as error:
        raise ValueError("not a receipt") from error


def gathered_of(row: Mapping[str, Any]) -> Gathered:
    """A record from its JSON; raises ValueError, KeyError or TypeError if it is not one."""
    path = row["path"]
    if not isinstance(path, str) or path.startswith(("/", ".")) or posixpath.normpath(path) != path or "\\" in path:
        raise ValueError("a path that leads out of the journal")
    return Gathered(**{**row, "files": tuple(GatheredFile(**file) for file in row["files"])})


@dataclass(slots=True)
class Receipts:
    """What came in so far. latest: record -> its latest revision. renamed: device -> {ID it gave, lower case: ID}."""

    latest: dict[str, Gathered] = field(default_factory=dict)
    renamed: dict[str, dict[str, str]] = field(default_factory=dict)

    def add(self, device: str, records: Iterable[Gathered]) -> None:
        for one in records:
            known = self.latest.get(one.record)
            if known is None or known.revision <= one.revision:
                self.latest[one.record] = one
            if one.was and one.id:
                self.renamed.setdefault(device, {})[one.was.lower()] = one.id

    def covers(self, one: Gathered) -> bool:
        """Whether a receipt has this revision, or a later one, with all of these files."""
        known = self.latest.get(one.record)
        if known is None or known.revision < one.revision:
            return False
        return known.revision > one.revision or set(one.files) <= set(known.files)


def read_receipts(root: Path) -> Receipts:
    """Every receipt of a journal, the oldest first. Raises Refusal for one that cannot be read, else OSError."""
    found = Receipts()
    for path in sorted((root / RECEIPTS_FOLDER).glob("*.json"), key=lambda path: path.stem):
        try:
            receipt = read_receipt(path.read_bytes())
        except ValueError as error:
            raise Refusal(
                f"{RECEIPTS_FOLDER}/{path.name} cannot be read as a receipt, so it is not known what was imported "
                "before; restore it from a backup, or move it away"
            ) from error
        found.add(receipt.device, receipt.records)
    return found


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


def received_in(path: str, data: bytes) -> tuple[tuple[Received, ...], tuple[Problem, ...]]:
    """What came in according to one receipt file. A file that is not a receipt gives nothing, and a warning."""
    try:
        given = json.loads(data)
        parted = {name.partition("/")[0][-8:] for name in given.get("missing", ())}  # incomplete records
        return tuple(_received(row) for row in given["records"] if row["record"][:8] not in parted), ()
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        message = "this receipt cannot be read, so phones cannot be told what came in with it"
        return (), (Problem(path, 0, "warning", message, "restore it from a copy, or gather the archive again"),)


def _received(row: dict[str, Any]) -> Received:
    digest = {file["name"]: file["sha256"] for file in row["files"]}[ENTRY_NAME]
    record, revision, renamed = row["record"], row["revision"], row["id"] if row.get("was") else None
    if not (_UUID.fullmatch(record) and _DIGEST.fullmatch(digest)) or type(revision) is not int:
        raise ValueError("not a row of a receipt")
    return Received(record, revision, digest, renamed)
