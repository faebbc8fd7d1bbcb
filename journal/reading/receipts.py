"""Receipts: which records came home from a phone, as what, and with which bytes."""

from __future__ import annotations

import json
import posixpath
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from journal.problems import Refusal

RECEIPTS_FOLDER = "receipts"
ENTRY_NAME = "entry.md"
"""The name that an archive gives the text of every record."""


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

    parts: number of each part that is in the journal whole -> its receipt code. missing: names in the archive.
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
    """The receipt in a file's bytes; raises ValueError where it is none."""
    try:
        given = json.loads(data)
        if given.pop("version") != 1:
            raise ValueError("of another version")
        records = tuple(gathered_of(row) for row in given.pop("records"))
        return Receipt(**{**given, "records": records, "missing": tuple(given["missing"])})
    except (KeyError, TypeError, AttributeError, RecursionError) as error:
        raise ValueError("not a receipt") from error


def gathered_of(row: Mapping[str, Any]) -> Gathered:
    """A record from its JSON; raises ValueError, KeyError or TypeError where it is none."""
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
                f"{RECEIPTS_FOLDER}/{path.name} cannot be read as a receipt, so it is not known what came in before; "
                "restore it from a backup, or move it away"
            ) from error
        found.add(receipt.device, receipt.records)
    return found
