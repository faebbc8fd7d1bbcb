"""Archives of records made on a phone: what they list, and which of it is complete. Nothing is ever extracted."""

from __future__ import annotations

import hashlib
import json
import re
import stat
import struct
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

from journal.importing.locked_archive import is_locked, unlocked
from journal.problems import Refusal, Unreadable, shortened
from journal.reading.values import parse_id

FORMAT, VERSION = "journal archive", 1
MANIFEST, ENTRY = "manifest.json", "entry.md"
KINDS = ("find", "culture", "batch", "note", "tent")

MOST_RECORDS, MOST_PARTS, MOST_FILES, MOST_MEMBERS = 1000, 999, 201, 50_000
LARGEST_PART = 260 << 20
_LARGEST = {MANIFEST: 4 << 20, ENTRY: 1 << 20}
_LARGEST_PHOTO = 64 << 20

_FOLDER = re.compile(r"[a-z0-9-]{1,80}")
_NAME = re.compile(r"entry\.md|photo-[0-9]{2,3}\.(?:jpg|png|webp|heic|heif|avif)")
_MEMBER = re.compile(rf"manifest\.json|{_FOLDER.pattern}/(?:{_NAME.pattern})")
_UUID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_DEVICE = re.compile(r"[A-HJKMNP-TV-Z][0-9][A-HJKMNP-TV-Z][0-9]")
_DIGEST = re.compile(r"[0-9a-f]{64}")
_CHUNK_BYTES = 1 << 20


class BadArchive(Refusal):
    """A file that is not an archive of this format, or is not taken whatever is in it; its text says which and why."""


class _CutOff(Exception):
    """The bytes end, or cannot be read, before something is whole."""


# What an archive lists


@dataclass(frozen=True, slots=True)
class ListedFile:
    """A file of a record. sha256: of its bytes, hex. parts: the numbers of the archive's parts that hold it."""

    name: str
    size: int
    sha256: str
    parts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Record:
    """A record as it was saved. record: its UUID, the same in every revision. folder: its name in the archive."""

    record: str
    revision: int
    kind: str
    id: str | None
    folder: str
    files: tuple[ListedFile, ...]


@dataclass(frozen=True, slots=True)
class Manifest:
    """What all parts of an archive together hold. digest: SHA-256 of the list itself, hex."""

    archive: str
    device: str
    parts: int
    records: tuple[Record, ...]
    digest: str


def read_manifest(data: bytes) -> Manifest:
    """The list in an archive; raises ValueError that says what is wrong with it."""
    try:
        given = json.loads(data)
        if given["format"] != FORMAT:
            raise ValueError("its list is not that of a journal archive")
        if given["version"] != VERSION:
            raise ValueError("it was made by another version of this program; update the program on this computer")
        parts = _count(given["parts"], 1, MOST_PARTS)
        records = tuple(_record(row, parts) for row in _rows(given["records"], MOST_RECORDS))
        found = Manifest(
            archive=_text(given["archive"], _UUID),
            device=_text(given["device"], _DEVICE),
            parts=parts,
            records=records,
            digest=hashlib.sha256(data).hexdigest(),
        )
    except json.JSONDecodeError as error:
        raise ValueError("its list of contents cannot be read") from error
    except (KeyError, TypeError, RecursionError, UnicodeDecodeError, Unreadable) as error:
        raise ValueError("its list of contents is not as it should be") from error
    _all_different(record.record for record in records)
    _all_different(record.folder for record in records)
    return found


def _record(row: Any, parts: int) -> Record:
    files = tuple(_file(one, parts) for one in _rows(row["files"], MOST_FILES))
    names = _all_different(file.name for file in files)
    if ENTRY not in names or row["kind"] not in KINDS:
        raise ValueError("its list of contents has a record without a text, or of an unknown kind")
    return Record(
        record=_text(row["record"], _UUID),
        revision=_count(row["revision"], 1, 1_000_000),
        kind=row["kind"],
        id=None if row["id"] is None else parse_id(_text(row["id"])),
        folder=_text(row["folder"], _FOLDER),
        files=files,
    )


def _file(row: Any, parts: int) -> ListedFile:
    name = _text(row["name"], _NAME)
    return ListedFile(
        name=name,
        size=_count(row["bytes"], 0, largest(name)),
        sha256=_text(row["sha256"], _DIGEST),
        parts=tuple(_count(part, 1, parts) for part in _rows(row["parts"], parts, least=1)),
    )


def largest(name: str) -> int:
    """How many bytes a file of this name may have."""
    return _LARGEST.get(name, _LARGEST_PHOTO)


def _rows(value: Any, most: int, least: int = 0) -> list[Any]:
    if not isinstance(value, list) or not least <= len(value) <= most:
        raise ValueError(f"its list of contents has too many rows, or none, where {least} to {most:,} may stand")
    return value


def _text(value: Any, pattern: re.Pattern[str] | None = None) -> str:
    if not isinstance(value, str) or not (pattern is None or pattern.fullmatch(value)):
        raise ValueError("its list of contents has a name, an ID or a digest that cannot be one")
    return value


def _count(value: Any, least: int, most: int) -> int:
    if type(value) is not int or not least <= value <= most:
        raise ValueError(f"its list of contents has a number that is not from {least} to {most:,}")
    return value


def _all_different(names: Iterable[str]) -> set[str]:
    rows = list(names)
    if len(set(rows)) < len(rows):
        raise ValueError("its list of contents names something twice")
    return set(rows)


# The members of one part, by the headers that are before each

# Source: PKWARE, APPNOTE.TXT 6.3.10, sections 4.3.7 (local file header), 4.3.12 (central directory header) and 4.3.16
# (end of central directory record). A part is read from its beginning: where its end is missing, the rest is there.
_LOCAL, _CENTRAL, _END = b"PK\x03\x04", b"PK\x01\x02", b"PK\x05\x06"
_LOCAL_HEADER = struct.Struct("<HHHHHIIIHH")
_CENTRAL_HEADER = struct.Struct("<HHHHHHIIIHHHHHII")
_END_RECORD = struct.Struct("<HHHHIIH")
_ENCRYPTED, _SIZES_BEHIND = 0x0001, 0x0008
_MADE_ON_UNIX, _DOS_FOLDER = 3, 0x10


@dataclass(frozen=True, slots=True)
class _Member:
    """at: where its header begins; data: where its bytes begin."""

    name: str
    size: int
    crc: int
    at: int
    data: int


def _members(file: BinaryIO) -> tuple[list[_Member], bool]:
    """The members whose bytes are all there, in order; and whether the file is whole. Raises ValueError."""
    end = file.seek(0, 2)
    found: list[_Member] = []
    names: set[str] = set()
    at = file.seek(0)
    try:
        while (signature := _exactly(file, 4)) == _LOCAL:
            member = _member(file, at)
            if member.name in names or len(names) == MOST_MEMBERS:
                raise ValueError(f"{member.name} is in it twice" if member.name in names else "it has too many files")
            names.add(member.name)
            at = member.data + member.size
            if at > end:
                raise _CutOff
            found.append(member)
            file.seek(at)
        if signature not in (_CENTRAL, _END):
            raise _CutOff
        _check_directory(file, signature, found)
    except _CutOff:
        return found, False
    return found, True


def _member(file: BinaryIO, at: int) -> _Member:
    _, flags, method, _, _, crc, packed, size, name_bytes, extra = _LOCAL_HEADER.unpack(
        _exactly(file, _LOCAL_HEADER.size)
    )
    raw = _exactly(file, name_bytes)
    name = raw.decode("ascii", "replace")
    if not _MEMBER.fullmatch(name):
        raise ValueError(f"it holds {shortened(name)}, which is not the name of a file in such an archive")
    if flags & (_ENCRYPTED | _SIZES_BEHIND) or method or packed != size:
        raise ValueError(f"{name} is compressed, encrypted or has no size in front; no archive from the phone is")
    if size > largest(name.rpartition("/")[2]):
        raise ValueError(f"{name} is larger than {largest(name.rpartition('/')[2]) >> 20} MB")
    return _Member(name, size, crc, at, at + 4 + _LOCAL_HEADER.size + name_bytes + extra)


def _check_directory(file: BinaryIO, signature: bytes, found: list[_Member]) -> None:
    """Raises ValueError where the directory at the end tells anything else than the headers did."""
    listed = []
    while signature == _CENTRAL:
        made, _, flags, method, _, _, crc, packed, size, name_bytes, extra, comment, _, _, mode, at = (
            _CENTRAL_HEADER.unpack(_exactly(file, _CENTRAL_HEADER.size))
        )
        name = _exactly(file, name_bytes + extra + comment)[:name_bytes].decode("ascii", "replace")
        kind = stat.S_IFMT(mode >> 16) if made >> 8 == _MADE_ON_UNIX else 0
        if kind not in (0, stat.S_IFREG) or mode & _DOS_FOLDER:
            raise ValueError(f"{shortened(name)} is a link or a folder, not a file")
        listed.append((name, packed, size, crc, at, method, flags & (_ENCRYPTED | _SIZES_BEHIND)))
        signature = _exactly(file, 4)
    counted = _END_RECORD.unpack(_exactly(file, _END_RECORD.size))[3] if signature == _END else None
    if counted is None and not listed:
        raise _CutOff
    if listed != [(one.name, one.size, one.size, one.crc, one.at, 0, 0) for one in found] or counted != len(found):
        raise ValueError("its directory does not name the files that are in it")


def _exactly(file: BinaryIO, count: int) -> bytes:
    try:
        data = file.read(count)
    except OSError as error:
        raise _CutOff from error
    if len(data) < count:
        raise _CutOff
    return data


# One archive, of all its parts that are there


@dataclass(slots=True)
class Archive:
    """An archive, as far as its parts are there. whole: member's name -> (where to read it, at which byte).

    damaged: names of members whose bytes are not those that the phone wrote. cut_off: names of files that end early.
    parts: file -> which part it is, by its name; 0 where that does not say.
    """

    manifest: Manifest
    whole: dict[str, tuple[Callable[[], BinaryIO], int]] = field(default_factory=dict)
    damaged: set[str] = field(default_factory=set)
    cut_off: list[str] = field(default_factory=list)
    parts: dict[Path, int] = field(default_factory=dict)

    def has(self, record: Record, file: ListedFile) -> bool:
        return f"{record.folder}/{file.name}" in self.whole

    def chunks(self, record: Record, file: ListedFile) -> Iterator[bytes]:
        """The bytes of a file that is whole; raises BadArchive where they have changed since it was looked at."""
        opener, at = self.whole[f"{record.folder}/{file.name}"]
        digest = hashlib.sha256()
        try:
            with opener() as opened:
                opened.seek(at)
                for chunk in _chunks(opened, file.size):
                    digest.update(chunk)
                    yield chunk
        except _CutOff:
            pass
        if digest.hexdigest() != file.sha256:
            raise BadArchive(f"{record.folder}/{file.name} changed while it was read; run this again")


def read_archives(paths: Iterable[Path], passphrase: Callable[[], str]) -> tuple[list[Archive], list[BadArchive]]:
    """The archives that these files are parts of, every digest verified; and why files among them are not taken.

    passphrase: called where a file is locked. The parts of one archive are known by the list that they share.
    """
    archives: dict[str, Archive] = {}
    refused = []
    for path in paths:
        try:
            _add_part(path, passphrase, archives)
        except BadArchive as error:
            refused.append(error)
        except (ValueError, OSError) as error:
            reason = (error.strerror or "unknown error").lower() if isinstance(error, OSError) else str(error)
            refused.append(BadArchive(f"{path} is not taken: {reason}"))
    return list(archives.values()), refused


def _add_part(path: Path, passphrase: Callable[[], str], archives: dict[str, Archive]) -> None:
    if path.stat().st_size > LARGEST_PART:
        raise ValueError(f"it is larger than {LARGEST_PART >> 20} MB")
    opener = unlocked(path, passphrase) if is_locked(path) else lambda: path.open("rb")
    with opener() as file:
        members, is_whole = _members(file)
        manifest = _manifest_in(file, members)
        archive = Archive(manifest)
        listed = {f"{record.folder}/{one.name}": one for record in manifest.records for one in record.files}
        for member in members[1:]:
            _add_member(file, member, listed, archive, opener)
    known = archives.setdefault(manifest.digest, Archive(manifest))
    known.whole = archive.whole | known.whole
    known.damaged |= archive.damaged
    known.cut_off += [] if is_whole else [str(path)]
    number = re.search(r"-(\d{1,3})-of-\d{1,3}\.", path.name)
    known.parts[path] = int(number[1]) if number else 0


def _manifest_in(file: BinaryIO, members: list[_Member]) -> Manifest:
    if not members or members[0].name != MANIFEST:
        raise ValueError("it is not an archive from the phone, or it is cut off before its list of contents ends")
    file.seek(members[0].data)
    try:
        data = _exactly(file, members[0].size)
    except _CutOff:
        data = b""
    if zlib.crc32(data) != members[0].crc:
        raise ValueError("its list of contents is damaged")
    return read_manifest(data)


def _add_member(
    file: BinaryIO,
    member: _Member,
    listed: Mapping[str, ListedFile],
    archive: Archive,
    opener: Callable[[], BinaryIO],
) -> None:
    """Takes up a member where its bytes are those that the list names."""
    if member.name not in listed:
        raise ValueError(f"{member.name} is in it and not in its list of contents")
    digest = hashlib.sha256()
    try:
        file.seek(member.data)
        for chunk in _chunks(file, member.size):
            digest.update(chunk)
    except _CutOff:
        pass
    if member.size == listed[member.name].size and digest.hexdigest() == listed[member.name].sha256:
        archive.whole[member.name] = (opener, member.data)
    else:
        archive.damaged.add(member.name)


def _chunks(file: BinaryIO, size: int) -> Iterator[bytes]:
    while size:
        chunk = _exactly(file, min(size, _CHUNK_BYTES))
        size -= len(chunk)
        yield chunk


# The code that says a part is in the journal

_CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_CODE_LENGTH = 12


def receipt_code(manifest_digest: str, part: int) -> str:
    """`XXXX-XXXX-XXXX-X`: the phone makes the same code of what it sent, and so knows that the part has come in.

    The letters are the first 60 bits of a SHA-256 in Crockford's base 32; the last one is a check of the others.
    """
    digest = hashlib.sha256(f"journal receipt\n{manifest_digest}\n{part}".encode()).digest()
    bits = int.from_bytes(digest[:8], "big") >> 4
    values = [bits >> 5 * place & 31 for place in reversed(range(_CODE_LENGTH))]
    check = sum(value * place for place, value in enumerate(values, 1)) % 31
    code = "".join(_CROCKFORD[value] for value in (*values, check))
    return "-".join((code[:4], code[4:8], code[8:12], code[12:]))
