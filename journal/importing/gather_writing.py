"""Carries out the plan for an archive, so that a run can be stopped before or after any step and repeated.

All is made in a hidden folder of the journal, `.gather-…`, with the plan in it, and gets its place from there. What
a stopped run has put in place is known by its plan; what it has not is planned anew.
"""

from __future__ import annotations

import hashlib
import json
import os
import posixpath
import shutil
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path

from journal.importing.archive import Archive, Manifest, Record, receipt_code
from journal.importing.copying import Disk
from journal.importing.destinations import numbered
from journal.importing.gather_plan import GatherPlan, Home, Taking, digest_of, new_text, plan_gather
from journal.reading.receipts import (
    ENTRY_NAME,
    RECEIPTS_FOLDER,
    Gathered,
    Receipt,
    Receipts,
    gathered_of,
    read_receipts,
    receipt_text,
)

STAGING = ".gather-"
_PLAN_NAME = "plan.json"


class GatherDisk(Disk):
    """Changes files of a journal; see `Disk`. Every method may raise OSError."""

    def write_file(self, path: Path, chunks: Iterable[bytes]) -> None:
        """Writes a hidden file anew, whole and on the disk."""
        self._before("write", path)
        with path.open("wb") as file:
            for chunk in chunks:
                self._before("write more", path)
                file.write(chunk)
            file.flush()
            os.fsync(file.fileno())

    def make_staged(self, folder: Path) -> None:
        """Makes a hidden folder that is empty."""
        self._before("make folder", folder)
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()

    def move(self, staged: Path, final: Path) -> None:
        """Gives a hidden folder or file its name, in one step; raises FileExistsError where that is taken."""
        self._before("put in place", final)
        if os.path.lexists(final):
            raise FileExistsError(0, "something else was given this name meanwhile; run this again", str(final))
        staged.rename(final)
        self.sync_folder(final.parent)

    def replace(self, staged: Path, final: Path) -> None:
        """Puts a hidden file in the place of another, in one step."""
        self._before("replace", final)
        staged.replace(final)
        self.sync_folder(final.parent)

    def remove_staged(self, folder: Path) -> None:
        """Removes a hidden folder with all that is in it, its plan last."""
        self._before("remove", folder)
        for path in sorted(folder.iterdir(), key=lambda path: path.name == _PLAN_NAME):
            self._before("remove", path)
            shutil.rmtree(path) if path.is_dir() else path.unlink()
        folder.rmdir()
        self.sync_folder(folder.parent)


# What a stopped run has left


@dataclass(frozen=True, slots=True)
class Unfinished:
    """The hidden folder of a stopped run, and what of its plan is in place and in no receipt."""

    folder: Path
    archive: str
    device: str
    manifest: str
    done: tuple[Taking, ...]


def unfinished_in(root: Path, receipts: Receipts) -> list[Unfinished]:
    """What stopped runs have left in a journal. receipts: those of the journal; what is in place is added to them."""
    found = []
    for folder in sorted(path for path in root.glob(f"{STAGING}*") if path.is_dir()):
        row = Unfinished(folder, "", "", "", ())
        with suppress(OSError, ValueError, KeyError, TypeError):  # without a whole plan nothing was put in place
            row = _unfinished(folder, root, receipts)
        receipts.add(row.device, (taking.gathered for taking in row.done))
        found.append(row)
    return found


def _unfinished(folder: Path, root: Path, receipts: Receipts) -> Unfinished:
    given = json.loads((folder / _PLAN_NAME).read_bytes())
    takings = [_taking_of(row) for row in given["takings"]]
    done = tuple(one for one in takings if one.is_done(root) and not receipts.covers(one.gathered))
    return Unfinished(folder, given["archive"], given["device"], given["manifest"], done)


def _taking_of(row: dict[str, object]) -> Taking:
    gathered, put = row["gathered"], row["put"]
    if not isinstance(gathered, dict) or not isinstance(put, list):
        raise TypeError
    pairs = tuple((str(name), str(path)) for name, path in put)
    return Taking(**{**row, "gathered": gathered_of(gathered), "put": pairs})  # type: ignore[arg-type]


def settle(rows: Iterable[Unfinished], root: Path, now: datetime, disk: GatherDisk) -> None:
    """Writes the receipts of what stopped runs have put in place, and removes what else they have left."""
    for row in rows:
        if row.done:
            records = tuple(taking.gathered for taking in row.done)
            receipt = Receipt(row.archive, row.device, _utc(now), row.manifest, {}, records)
            _write_receipt(receipt, row.folder, root, disk)
        disk.remove_staged(row.folder)


# One archive


@dataclass(frozen=True, slots=True)
class GatherResult:
    """What became of an archive. completed: how many records a stopped run had put in place already.

    latest: record -> its latest revision before this run.
    """

    plan: GatherPlan
    completed: int
    latest: Mapping[str, Gathered]


def preview(archive: Archive, root: Path, home_with: Callable[[Receipts], Home], planned: Receipts) -> GatherResult:
    """What would become of an archive; changes nothing. planned: what would have come in before, and this too then."""
    receipts = read_receipts(root)
    completed = sum(len(row.done) for row in unfinished_in(root, receipts) if row.manifest == archive.manifest.digest)
    receipts.add(archive.manifest.device, planned.latest.values())
    receipts.planned |= {record: one.path for record, one in planned.latest.items()}
    plan = plan_gather(archive, home_with(receipts))
    planned.add(archive.manifest.device, (taking.gathered for taking in plan.takings))
    return GatherResult(plan, completed, receipts.latest)


def gather(
    archive: Archive,
    root: Path,
    home_with: Callable[[Receipts], Home],
    now: datetime,
    taken: Callable[[Taking], object],
    disk: GatherDisk,
) -> GatherResult:
    """Brings in all of an archive that is whole, and completes what a stopped run has left.

    home_with: reads the journal. taken: called after each record. Raises OSError where the journal's disk refuses:
    then what was given to `taken` stays, and the same run again brings in the rest. Raises Refusal as `read_receipts`.
    """
    receipts = read_receipts(root)
    stopped = unfinished_in(root, receipts)
    same = [row for row in stopped if row.manifest == archive.manifest.digest]
    settle((row for row in stopped if row not in same), root, now, disk)
    plan = plan_gather(archive, home_with(receipts))
    before = tuple(taking for row in same for taking in row.done)
    if plan.takings or before:
        carry_out(archive, plan, before, root, now, taken, disk)
    else:
        settle(same, root, now, disk)
    return GatherResult(plan, len(before), receipts.latest)


def codes_of(manifest: Manifest, plan: GatherPlan) -> dict[str, str]:
    """The receipt code of each part of which every file is in the journal once the plan is carried out."""
    numbers = {part for record in manifest.records for file in record.files for part in file.parts}
    lacking = {
        part
        for record in manifest.records
        for file in record.files
        if not plan.is_in_journal(record, file)
        for part in file.parts
    }
    return {str(part): receipt_code(manifest.digest, part) for part in sorted(numbers - lacking)}


def carry_out(
    archive: Archive,
    plan: GatherPlan,
    before: tuple[Taking, ...],
    root: Path,
    now: datetime,
    taken: Callable[[Taking], object],
    disk: GatherDisk,
) -> None:
    """Brings in what is planned, and writes the receipt.

    before: what a stopped run of the same archive has put in place. Raises as `gather`.
    """
    manifest = archive.manifest
    staging = root / f"{STAGING}{manifest.digest[:16]}"
    try:
        _write_plan(manifest, (*before, *plan.takings), staging, disk)
        by_record = {record.record: record for record in manifest.records}
        for taking in plan.takings:
            _Taking(archive, by_record[taking.gathered.record], taking, root, staging, disk).done()
            taken(taking)
        records = tuple(taking.gathered for taking in (*before, *plan.takings))
        receipt = Receipt(
            manifest.archive,
            manifest.device,
            _utc(now),
            manifest.digest,
            codes_of(manifest, plan),
            records,
            plan.missing,
        )
        _write_receipt(receipt, staging, root, disk)
        disk.remove_staged(staging)
    except Exception:
        with suppress(OSError):
            for path in staging.iterdir():
                if path.is_dir():
                    shutil.rmtree(path, ignore_errors=True)
        raise


def _write_plan(manifest: Manifest, takings: tuple[Taking, ...], staging: Path, disk: GatherDisk) -> None:
    disk.make_folder(staging)
    plan = {
        "version": 1,
        "archive": manifest.archive,
        "device": manifest.device,
        "manifest": manifest.digest,
        "takings": [asdict(taking) for taking in takings],
    }
    part = staging / f"{_PLAN_NAME}.part"
    disk.write_file(part, [json.dumps(plan).encode()])
    disk.replace(part, staging / _PLAN_NAME)


def _write_receipt(receipt: Receipt, staging: Path, root: Path, disk: GatherDisk) -> None:
    folder = root / RECEIPTS_FOLDER
    disk.make_folder(folder)
    ready = staging / "receipt.json"
    disk.write_file(ready, [receipt_text(receipt).encode()])
    stamp = datetime.fromisoformat(receipt.gathered).strftime("%Y-%m-%dT%H%M%SZ")
    free = (folder / name for name in numbered(f"{stamp}-{receipt.manifest[:8]}.json"))
    disk.move(ready, next(path for path in free if not os.path.lexists(path)))


def _utc(now: datetime) -> str:
    return now.astimezone(UTC).isoformat(timespec="seconds")


class _Taking:
    """One record on its way into the journal."""

    def __init__(
        self, archive: Archive, record: Record, taking: Taking, root: Path, staging: Path, disk: GatherDisk
    ) -> None:
        self._archive = archive
        self._record = record
        self._taking = taking
        self._root = root
        self._staged = staging / record.record
        self._disk = disk
        self._written = {file.name: file.written for file in taking.gathered.files}

    def done(self) -> None:
        """Brings it in."""
        self._disk.make_staged(self._staged)
        for name, path in self._taking.put:
            self._disk.write_file(self._staged / posixpath.basename(path), self._chunks(name))
        self._disk.sync_folder(self._staged)
        if self._taking.fate == "new":
            final = (self._root / self._taking.gathered.path).parent
            self._disk.make_folder(final.parent)
            self._disk.move(self._staged, final)
            return
        for name, path in self._taking.put:
            if name == ENTRY_NAME and self._taking.keep is not None:
                self._replace(path)
            else:
                self._put(self._staged / posixpath.basename(path), path, self._written[name])

    def _chunks(self, name: str) -> Iterator[bytes]:
        if name == ENTRY_NAME:
            yield new_text(self._archive, self._record, self._taking.ids)
            return
        yield from self._archive.chunks(self._record, next(file for file in self._record.files if file.name == name))

    def _put(self, staged: Path, path: str, digest: str) -> None:
        """Gives a file its name, unless a stopped run has done so."""
        final = self._root / path
        if digest_of(final) != digest:
            if not self._disk.reveal(staged, final):
                raise FileExistsError(0, "another file was given this name meanwhile; run this again", str(final))
            self._disk.sync_folder(final.parent)

    def _replace(self, path: str) -> None:
        """Keeps the earlier text beside the entry, and puts the later one in its place."""
        entry, keep = self._root / path, self._taking.keep or ""
        earlier = entry.read_bytes()
        if hashlib.sha256(earlier).hexdigest() != self._taking.earlier:
            raise FileExistsError(0, "it was changed while records were gathered; run this again", str(entry))
        kept = self._staged / posixpath.basename(keep)
        self._disk.write_file(kept, [earlier])
        self._put(kept, keep, self._taking.earlier)
        self._disk.replace(self._staged / posixpath.basename(path), entry)
