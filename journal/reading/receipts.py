"""Receipts: which records came in from a phone, as what, and with which bytes."""

from __future__ import annotations

import hashlib
import json
import posixpath
import re
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from journal.problems import Problem, Refusal
from journal.reading.entries import Draft

RECEIPTS_FOLDER = "receipts"
ENTRY_NAME = "entry.md"
"""The name of every record's text in an archive."""

_UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_DIGEST = re.compile(r"[0-9a-f]{64}")
_NO_BYTES = hashlib.sha256().hexdigest()


@dataclass(frozen=True, slots=True)
class Trace:
    """What the entry of a record is recognised by, also after it was edited, renamed or moved.

    path: where it was put. id: its ID. written: SHA-256 of its bytes as they were put there, hex. date, about, says:
    as `moment_of` has them; None and () where an earlier receipt does not say.
    """

    path: str
    id: str | None = None
    written: str = ""
    date: str | None = None
    about: tuple[str, ...] = ()
    says: tuple[str, ...] = ()


def moment_of(draft: Draft) -> tuple[str | None, tuple[str, ...], tuple[str, ...]]:
    """The date of an entry, ISO 8601, None if it is not known to the minute; what it is about, in lower case; and which
    of the keys it has that tell what was seen or done."""
    when = draft.values.get("date")
    about = tuple(sorted(str(one).lower() for one in draft.values.get("about", ())))
    says = tuple(sorted(name for name in draft.values if name in _SEEN_OR_DONE or name.endswith(_MEASURED)))
    return (when.iso if when and when.moment else None), about, says


_SEEN_OR_DONE = ("stage", "harvest", "lost", "moved to", "colony", "meter", "light", "exhaust")
_MEASURED = (" reading", " set point")


def entries_of(
    traces: Mapping[str, Trace], drafts: Sequence[Draft], digest_of: Callable[[str], str | None]
) -> dict[str, str]:
    """record -> the path of its entry now; a record that has none any more is not in it. No two have one entry.

    traces: record -> its trace, the latest last. digest_of: SHA-256 of the file at a path in the journal, hex; None
    where there is none. An entry is known by its ID and day, else by its place; one without an ID that is not in its
    place by its bytes, else by its date, to the minute, what it is about, and which keys tell what it says. Where fewer
    such entries are there than records they may be of, nobody knows of which, and none is of any, unless all came in
    alike.
    """
    found = _in_place_or_by_id(traces, drafts, digest_of)
    id_now = {
        str(former).lower(): str(draft.values["id"]).lower()
        for draft in drafts
        if "id" in draft.values
        for former in draft.values.get("formerly", ())
    }

    def of_now(date: str | None, about: tuple[str, ...], says: tuple[str, ...]) -> Hashable:
        parted = (one.partition(".") for one in about)
        return date, tuple(sorted(f"{id_now.get(id, id)}{dot}{part}" for id, dot, part in parted)), says

    with_bytes = {record: trace.written for record, trace in traces.items()}
    with_moment = {
        record: of_now(trace.date, trace.about, trace.says) for record, trace in traces.items() if trace.date
    }
    of_draft: tuple[tuple[Mapping[str, Hashable], Callable[[Draft], Hashable]], ...] = (
        (with_bytes, lambda draft: digest_of(draft.path)),
        (with_moment, lambda draft: of_now(*moment_of(draft))),
    )
    for wanted, key_of in of_draft:
        left = [record for record in wanted if record not in found and not traces[record].id]
        if left:
            taken = set(found.values())
            free: dict[Hashable, list[str]] = {}
            for draft in drafts:
                if draft.kind in _WITHOUT_ID and draft.path not in taken:
                    free.setdefault(key_of(draft), []).append(draft.path)
            asking: dict[Hashable, list[str]] = {}
            for record in left:
                asking.setdefault(wanted[record], []).append(record)
            for key, records in asking.items():
                there = free.get(key, ())
                if len(records) <= len(there) or len({traces[record].written for record in records}) == 1:
                    found |= dict(zip(records, there, strict=False))
    return found


_WITHOUT_ID = ("note", "tent")


def _in_place_or_by_id(
    traces: Mapping[str, Trace], drafts: Sequence[Draft], digest_of: Callable[[str], str | None]
) -> dict[str, str]:
    owners = {trace.path: record for record, trace in traces.items()}  # of two that were put in one place, the later
    received = {trace.id.lower() for trace in traces.values() if trace.id}
    own_ids = {draft.path: str(draft.values.get("id", "")).lower() for draft in drafts}
    by_id: dict[str, list[Draft]] = {}
    for draft in drafts:
        for id in (draft.values.get("id"), *draft.values.get("formerly", ())):
            by_id.setdefault(str(id).lower(), []).append(draft)
    found = {}
    for record, trace in traces.items():
        own = trace.id.lower() if trace.id else ""
        named = [draft.path for draft in by_id.get(own, ()) if own and _can_be_of_day(draft, trace)]
        other = own_ids.get(trace.path, "") or own
        is_own_place = owners[trace.path] == record and (other == own or other not in received)
        is_there = trace.path in own_ids or digest_of(trace.path) not in (None, _NO_BYTES)
        if named and trace.path not in named:
            found[record] = named[0]
        elif named or (is_own_place and is_there):
            found[record] = trace.path
    return found


def _can_be_of_day(draft: Draft, trace: Trace) -> bool:
    """Whether an entry with the ID may be the one that came in, and not another that got the ID once that was gone."""
    when = draft.values.get("date")
    return not (when and trace.date) or draft.path == trace.path or trace.date.startswith(when.first.isoformat())


@dataclass(frozen=True, slots=True)
class GatheredFile:
    """A file that came in. name: in its archive. sha256: of its bytes there; written: of those in the journal, hex."""

    name: str
    sha256: str
    written: str


@dataclass(frozen=True, slots=True)
class Gathered:
    """A record that came in. record: its UUID. path: of its entry. was: the ID it had on the phone, if it got another.

    files: those of this revision that are in the journal, also those that came in earlier. date, about, says: as in
    `Trace`.
    """

    record: str
    revision: int
    id: str | None
    path: str
    files: tuple[GatheredFile, ...]
    was: str | None = None
    date: str | None = None
    about: tuple[str, ...] = ()
    says: tuple[str, ...] = ()

    @property
    def trace(self) -> Trace:
        text = self.file(ENTRY_NAME)
        return Trace(self.path, self.id, text.written if text else "", self.date, self.about, self.says)

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
        for key in ("was", "date", "about", "says"):
            if not row[key]:
                del row[key]
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
    lists = {name: tuple(row.get(name, ())) for name in ("about", "says")}
    one = Gathered(**{**row, **lists, "files": tuple(GatheredFile(**file) for file in row["files"])})
    words = [
        one.record,
        *one.about,
        *one.says,
        *(word for file in one.files for word in (file.name, file.sha256, file.written)),
    ]
    if not all(isinstance(word, str) for word in (*words, one.id or "", one.was or "", one.date or "")):
        raise ValueError("a number or a list where a text should be")
    return one


@dataclass(slots=True)
class Receipts:
    """What came in so far. latest: record -> its latest revision. renamed: device -> {ID it gave, lower case: ID}.

    planned: record -> where its entry will lie, of those that would have come in by now in a dry run.
    """

    latest: dict[str, Gathered] = field(default_factory=dict)
    renamed: dict[str, dict[str, str]] = field(default_factory=dict)
    planned: dict[str, str] = field(default_factory=dict)

    def add(self, device: str, records: Iterable[Gathered]) -> None:
        for one in records:
            known = self.latest.get(one.record)
            if known is None or known.revision <= one.revision:
                self.latest.pop(one.record, None)  # so that the latest are last
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
    """A revision of a record that came in.

    record: the UUID the phone gave it. digest: SHA-256 of its entry's text as the phone sent it, hex. id: the ID it
    has in the journal where that is another than the phone gave it, else None. is_here: whether its entry still is in
    the journal.
    """

    record: str
    revision: int
    digest: str
    id: str | None = None
    trace: Trace = Trace("")
    is_here: bool = True


def as_they_are_now(
    received: Sequence[Received], drafts: Sequence[Draft], digest_of: Callable[[str], str | None]
) -> tuple[Received, ...]:
    """The same, each with whether its entry still is in the journal. received: the latest last. digest_of: as in
    `entries_of`."""
    latest: dict[str, Received] = {}
    for row in received:
        if row.record not in latest or latest[row.record].revision <= row.revision:
            latest.pop(row.record, None)
            latest[row.record] = row
    entries = entries_of({record: row.trace for record, row in latest.items()}, drafts, digest_of)
    return tuple(replace(row, is_here=row.record in entries) for row in received)


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
    one = gathered_of(row)
    digest = {file.name: file.sha256 for file in one.files}[ENTRY_NAME]
    if not (_UUID.fullmatch(one.record) and _DIGEST.fullmatch(digest)) or type(one.revision) is not int:
        raise ValueError("not a row of a receipt")
    return Received(one.record, one.revision, digest, one.id if one.was else None, one.trace)
