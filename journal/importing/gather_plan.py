"""The plan for each record of an archive: its folder in the journal, its ID, and the files to take in."""

from __future__ import annotations

import hashlib
import os
import posixpath
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from journal.importing.archive import Archive, ListedFile, Record
from journal.importing.destinations import folded, numbered, spelled_on_disk
from journal.reading.entries import Draft, read_entry
from journal.reading.receipts import ENTRY_NAME, Gathered, GatheredFile, Receipts, entries_of, moment_of
from journal.settings import Settings
from journal.writing.blanks import KINDS_WITH_ID
from journal.writing.new_entry import next_like

RecordFate = Literal["new", "later", "beside", "photos"]
"""A new folder; a later text in the place of the earlier; one beside a text that was changed here; photos alone."""

_FOLDERS = {"find": "finds", "culture": "cultures", "batch": "batches", "note": "notes", "tent": "tents"}
_NO_BYTES = hashlib.sha256().hexdigest()
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


@dataclass(frozen=True, slots=True)
class Taking:
    """One record that is to come in. gathered: as its receipt will have it.

    put: (name in the archive, path in the journal) of each file that is to be written, the text last.
    keep: where the earlier text goes; earlier: SHA-256 of that text, hex. ids: IDs to be replaced -> their new ones.
    """

    gathered: Gathered
    fate: RecordFate
    put: tuple[tuple[str, str], ...]
    keep: str | None = None
    earlier: str | None = None
    ids: Mapping[str, str] = field(default_factory=dict)

    def is_done(self, root: Path) -> bool:
        """Whether all of it is in place. A new folder gets its name whole, in one step."""
        if self.fate == "new":
            return os.path.lexists(root / self.gathered.path)
        files = {file.name: file.written for file in self.gathered.files}
        return all(digest_of(root / path) == files[name] for name, path in self.put)


@dataclass(frozen=True, slots=True)
class Home:
    """The journal that an archive is imported into. again: whether what was imported earlier and is no longer there
    comes in once more."""

    root: Path
    settings: Settings
    drafts: Sequence[Draft]
    receipts: Receipts
    again: bool = False

    def used_ids(self) -> set[str]:
        """Every ID that an entry or a tent has, or an entry had before, in lower case."""
        named = [draft for draft in self.drafts if draft.kind in KINDS_WITH_ID and "id" in draft.values]
        own = [id for draft in named for id in (draft.values["id"], *draft.values.get("formerly", ()))]
        return {name.lower() for name in (*own, *(tent.id for tent in self.settings.tents))}

    def entries(self, latest: Mapping[str, Gathered]) -> dict[str, str]:
        """record -> where its entry lies now. latest: the records that came in, the latest last."""
        traces = {record: known.trace for record, known in latest.items()}
        return entries_of(traces, self.drafts, lambda path: digest_of(self.root / path)) | self.receipts.planned


@dataclass(frozen=True, slots=True)
class GatherPlan:
    """takings: in the order in which they are carried out. known: records that are in the journal already. gone: those
    that came in earlier, are no longer there, and stay out.

    missing: names in the archive of files that are not there whole. in_journal: record -> what of it is in the journal
    once the plan is carried out. removed: (record, name) of photos that came in with an earlier text and are not with a
    later one; lost: of those that the later text lists all the same, so that the phone no longer has their bytes.
    """

    takings: tuple[Taking, ...]
    known: tuple[Gathered, ...]
    gone: tuple[Gathered, ...]
    missing: tuple[str, ...]
    in_journal: Mapping[str, Gathered]
    removed: tuple[tuple[str, str], ...] = ()
    lost: tuple[tuple[str, str], ...] = ()

    def is_in_journal(self, record: Record, file: ListedFile) -> bool:
        one = self.in_journal.get(record.record)
        if one is None or one.revision > record.revision:
            return one is not None
        found = one.file(file.name)
        return found is not None and found.sha256 == file.sha256


def plan_gather(archive: Archive, home: Home) -> GatherPlan:
    """What is to be done so that all that is whole in an archive is in the journal. Raises as `Archive.chunks` does.

    A record whose text is missing stays out, with its photos; of one whose text is whole, so do photos that are not.
    """
    return _Planner(archive, home).plan()


def new_text(archive: Archive, record: Record, ids: Mapping[str, str]) -> bytes:
    """The text of a record, with IDs replaced where they stand as IDs: in its keys of IDs, and in what was written."""
    text = _bytes_of(archive, record)
    return with_new_ids(text, ids) if ids else text


def _bytes_of(archive: Archive, record: Record) -> bytes:
    return b"".join(archive.chunks(record, _text_of(record)))


def digest_of(path: Path) -> str | None:
    """SHA-256 of a file's bytes, hex; None where there is no such file."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except (FileNotFoundError, NotADirectoryError, IsADirectoryError):
        return None


class _Planner:
    """The plan as it is put together, record by record."""

    def __init__(self, archive: Archive, home: Home) -> None:
        self._archive = archive
        self._home = home
        self._latest = home.receipts.latest
        self._used = home.used_ids()
        self._taken = self._used | {one.id.lower() for one in self._latest.values() if one.id}
        self._taken |= {id.lower() for _, id in home.settings.labels.reserved}  # a record of its label may have it
        # An ID that another record of a phone has by rights stays that record's, whoever else came with it.
        self._rightful = {one.id.lower() for one in self._latest.values() if one.id}
        renamed = home.receipts.renamed.get(archive.manifest.device, {})
        self._renamed = {old: new for old, new in renamed.items() if old not in self._rightful}
        self._own_ids: dict[str, tuple[str | None, str | None]] = {}
        self._entries = home.entries(self._latest | self._with_moments())
        self._places: set[str] = set()
        self._missing: list[str] = []
        self._removed: list[tuple[str, str]] = []
        self._lost: list[tuple[str, str]] = []

    def plan(self) -> GatherPlan:
        records = self._archive.manifest.records
        for record in records:
            if self._archive.has(record, _text_of(record)):
                self._own_ids[record.record] = self._own_id(record)
        takings: list[Taking] = []
        known: list[Gathered] = []
        gone: list[Gathered] = []
        for record in records:
            earlier = self._latest.get(record.record)
            if taking := self._taking(record, earlier):
                takings.append(taking)
            elif earlier is not None:
                (known if record.record in self._entries else gone).append(earlier)
        in_journal = {one.record: one for one in (*known, *(taking.gathered for taking in takings))}
        # Records that get other IDs come first: what names them is then never there without them.
        in_order = tuple(sorted(takings, key=lambda taking: taking.gathered.was is None))
        not_here = (tuple(self._missing), in_journal, tuple(self._removed), tuple(self._lost))
        return GatherPlan(in_order, tuple(known), tuple(gone), *not_here)

    def _with_moments(self) -> dict[str, Gathered]:
        """Records of the archive whose receipts lack their date, as earlier receipts do."""
        found = {}
        for record in self._archive.manifest.records:
            known = self._latest.get(record.record)
            if known and not known.date and self._archive.has(record, _text_of(record)):
                found[record.record] = self._with_moment(known, record, self._renamed)
        return found

    # -- which ID a record has

    def _own_id(self, record: Record) -> tuple[str | None, str | None]:
        """The ID that its text gives it, and the one that it has in the journal."""
        draft = self._draft(record, {})
        written = draft.values.get("id") if draft and draft.kind in KINDS_WITH_ID else None
        known = self._latest.get(record.record)
        if written is None:
            return None, None
        is_its_own = record.record in self._entries or known is None or (known.id or "").lower() not in self._used
        if known and known.id and is_its_own and written.lower() in (known.id.lower(), (known.was or "").lower()):
            return written, known.id
        free = written
        if written.lower() in self._used:
            free = next_like(written, self._taken)
            if written.lower() not in self._rightful:
                self._renamed[written.lower()] = free
        for known_ids in (self._used, self._taken, self._rightful):
            known_ids.add(free.lower())
        return written, free

    def _ids(self, record: Record) -> dict[str, str]:
        """What is to be replaced in the text of a record: IDs of the device that are others here, and its own."""
        written, own = self._own_ids[record.record]
        ids = dict(self._renamed)
        if written and own:
            ids.pop(written.lower(), None)
            ids |= {written.lower(): own} if written != own else {}
        return ids

    def _was(self, record: Record) -> str | None:
        """The ID that its text gives it, where it has another one here."""
        written, own = self._own_ids[record.record]
        return written if written != own else None

    def _draft(self, record: Record, ids: Mapping[str, str]) -> Draft | None:
        return read_entry(f"{record.kind}.md", new_text(self._archive, record, ids), self._home.settings)

    # -- what becomes of it

    def _taking(self, record: Record, known: Gathered | None) -> Taking | None:
        entry = self._entries.get(record.record)
        if known is not None:
            if known.revision > record.revision:
                return None
            text = known.file(ENTRY_NAME)
            is_same = text is not None and text.sha256 == _text_of(record).sha256
            if entry and is_same and known.revision == record.revision:
                return self._more(record, known, entry)
            if not entry and is_same and not self._home.again:
                return None
        if record.record not in self._own_ids:
            self._missing += [f"{record.folder}/{file.name}" for file in record.files]
            return None
        return self._later(record, known, entry) if known and entry else self._new(record)

    def _new(self, record: Record) -> Taking:
        ids = self._ids(record)
        _, own = self._own_ids[record.record]
        path = self._free_place(record, self._draft(record, ids), own)
        folder = posixpath.dirname(path)
        photos = [file for file in _photos_of(record) if self._is_whole(record, file)]
        put = tuple((file.name, f"{folder}/{file.name}") for file in photos)
        files = (*(_as_it_was(file) for file in photos), self._text_file(record, ids))
        gathered = Gathered(record.record, record.revision, own, path, files, self._was(record))
        return Taking(self._with_moment(gathered, record, ids), "new", (*put, (ENTRY_NAME, path)), ids=ids)

    def _with_moment(self, gathered: Gathered, record: Record, ids: Mapping[str, str]) -> Gathered:
        """With what the entry is recognised by once it is moved and edited."""
        draft = self._draft(record, ids)
        if draft is None:
            return gathered
        date, about, says = moment_of(draft)
        return replace(gathered, date=date, about=about, says=says)

    def _more(self, record: Record, known: Gathered, entry: str) -> Taking | None:
        """Photos that did not come with the text."""
        files, put = self._photos(record, known, posixpath.dirname(entry))
        text = known.file(ENTRY_NAME)
        more = replace(known, path=entry, files=(*files, *([text] if text else [])))
        return Taking(more, "photos", put) if set(files) - set(known.files) else None

    def _later(self, record: Record, known: Gathered, entry: str) -> Taking:
        """A later revision, in the place of the text that came in before where nobody has changed that since."""
        ids = self._ids(record)
        folder, stem = posixpath.dirname(entry), posixpath.splitext(entry)[0]
        files, put = self._photos(record, known, folder)
        text, before = self._text_file(record, ids), known.file(ENTRY_NAME)
        here = digest_of(self._home.root / entry)
        gathered = Gathered(
            record.record,
            record.revision,
            self._own_ids[record.record][1],
            entry,
            (*files, text),
            self._was(record),
        )
        gathered = self._with_moment(gathered, record, ids)
        if here == text.written:
            return Taking(gathered, "photos", put, ids=ids)
        self._note_gone(record, known, ids)
        if before is not None and here == before.written:
            keep = self._beside(f"{stem}-revision-{known.revision}.txt", here)
            return Taking(gathered, "later", (*put, (ENTRY_NAME, entry)), keep, here, ids)
        beside = self._beside(f"{stem}-revision-{record.revision}.txt", text.written)
        return Taking(gathered, "beside", (*put, (ENTRY_NAME, beside)), ids=ids)

    def _note_gone(self, record: Record, known: Gathered, ids: Mapping[str, str]) -> None:
        """Notes the photos that a later text came without. known: with which it came in before."""
        draft = self._draft(record, ids)
        listed = {name for name, _ in draft.values.get("photos", ())} if draft else set()
        for name in sorted({file.name for file in known.files} - {file.name for file in record.files}):
            (self._lost if name in listed else self._removed).append((record.record, name))

    def _photos(
        self, record: Record, known: Gathered, folder: str
    ) -> tuple[list[GatheredFile], tuple[tuple[str, str], ...]]:
        """Those that are in the journal then, and where those go that are not there yet.

        One that came in before and is gone was removed by the author.
        """
        files, put = [], []
        for file in _photos_of(record):
            before = known.file(file.name)
            path = posixpath.join(folder, file.name)
            came_in = before is not None and before.sha256 == file.sha256
            is_here = came_in or digest_of(self._home.root / path) == file.sha256
            if is_here or self._is_whole(record, file):
                files.append(_as_it_was(file))
                put += [] if is_here else [(file.name, self._beside(path, file.sha256))]
        return files, tuple(put)

    def _is_whole(self, record: Record, file: ListedFile) -> bool:
        is_whole = self._archive.has(record, file)
        self._missing += [] if is_whole else [f"{record.folder}/{file.name}"]
        return is_whole

    def _text_file(self, record: Record, ids: Mapping[str, str]) -> GatheredFile:
        written = hashlib.sha256(new_text(self._archive, record, ids)).hexdigest()
        return GatheredFile(ENTRY_NAME, _text_of(record).sha256, written)

    # -- where it goes

    def _free_place(self, record: Record, draft: Draft | None, own: str | None) -> str:
        """`finds/2026-11-25-find-F26-015-K7Q4/find.md`, in the first folder of such a name that is free."""
        about = draft.values.get("about", ()) if draft else ()
        label = own or next((str(getattr(one, "id", one)) for one in about), None)
        day = _DAY.match(record.folder)
        name = "-".join(filter(None, (day and day[0], record.kind, label)))
        above = spelled_on_disk(self._home.root, _FOLDERS[record.kind])
        for folder in numbered(f"{above}/{name}"):
            if folded(folder) not in self._places and not os.path.lexists(self._home.root / folder):
                self._places.add(folded(folder))
                return f"{folder}/{record.kind}.md"
        raise AssertionError("unreachable: the names never end")

    def _beside(self, path: str, digest: str) -> str:
        """A path, or the first like it that is free or has these bytes already (or none yet, of a stopped run)."""
        return next(name for name in numbered(path) if digest_of(self._home.root / name) in (None, digest, _NO_BYTES))


def _text_of(record: Record) -> ListedFile:
    return next(file for file in record.files if file.name == ENTRY_NAME)


def _photos_of(record: Record) -> Iterator[ListedFile]:
    return (file for file in record.files if file.name != ENTRY_NAME)


def _as_it_was(file: ListedFile) -> GatheredFile:
    return GatheredFile(file.name, file.sha256, file.sha256)


# An ID that is another one here

_KEYS_OF_IDS = re.compile(r"(?:id|about|from|culture)[ \t]*:", re.IGNORECASE)
_LIKE_AN_ID = re.compile(r"(?<![A-Za-z0-9-])[A-Za-z][A-Za-z0-9-]*+")


def with_new_ids(text: bytes, ids: Mapping[str, str]) -> bytes:
    """An entry in which these IDs are replaced, as whole words, under the keys of IDs and below the front matter.

    ids: ID in lower case -> the new one.
    """
    lines = text.decode("utf-8", "surrogateescape").split("\n")
    return "\n".join(_lines_with(lines, ids)).encode("utf-8", "surrogateescape")


def _lines_with(lines: Iterable[str], ids: Mapping[str, str]) -> Iterator[str]:
    is_front = is_of_ids = False
    for number, line in enumerate(lines):
        if line.rstrip() == "---" and (is_front or not number):
            is_front = not is_front
        elif is_front and line[:1] not in (" ", "\t", "-"):
            is_of_ids = bool(_KEYS_OF_IDS.match(line))
        if is_of_ids or not is_front:
            yield _LIKE_AN_ID.sub(lambda found: ids.get(found[0].lower(), found[0]), line)
        else:
            yield line
