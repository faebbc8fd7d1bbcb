"""Results of earlier runs, kept outside journal and site; they can be deleted at any time.

One sqlite3 file is read completely when a run begins, and written in one transaction whenever the run says so. Nothing
depends on it in between: a cache that is damaged, of another version, locked or missing counts as empty.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from journal.cache.codec import WrongType, packed, unpacked
from journal.cache.unchanged import settled
from journal.reading.folder import File

Signature = tuple[int, int, int, int]
"""Size in bytes, mtime_ns, ctime_ns, inode: they change whenever a file's content may have changed."""

FileStat = tuple[int, int, int]
"""Size in bytes, mtime_ns, inode. No ctime: a hard link in the next tree would change it."""

DATABASE_NAME = "cache.sqlite3"
PICTURES_NAME = "pictures"
TAG_NAME = "CACHEDIR.TAG"

# The signature is that of the Cache Directory Tagging Specification (bford.info/cachedir), so that backups skip it.
_TAG = (
    "Signature: 8a477f597d28d172789f06886806bc55\n# Kept by the program `journal`. It may be deleted at any moment.\n"
)

_APPLICATION_ID = 0x4A4E4C31
_SCHEMA_VERSION = 2
_SCHEMA = """
CREATE TABLE seen (path TEXT PRIMARY KEY, size INTEGER, mtime_ns INTEGER, ctime_ns INTEGER, inode INTEGER,
                   digest TEXT) WITHOUT ROWID;
CREATE TABLE fact (kind TEXT, key TEXT, made_by TEXT, value BLOB, PRIMARY KEY (kind, key)) WITHOUT ROWID;
CREATE TABLE site (path TEXT PRIMARY KEY, outputs BLOB) WITHOUT ROWID;
"""

WAIT_FOR_LOCK_S = 2.0


@dataclass(frozen=True, slots=True)
class Output:
    """One file of a built site.

    inputs: digest of what it was made from. sha256, size: of its bytes. stat: its stat when it was put into place; None
    if that may not stand for its bytes.
    """

    inputs: str
    sha256: str
    size: int
    stat: FileStat | None = None


class Given(NamedTuple):
    """What was given for a file whose stat stands for its bytes. depends_on, key: what else it depends on, and under
    what it is cached."""

    file: File
    depends_on: str
    key: str
    value: Any


class Cache:
    """A cache folder, read. Nothing is written before `save`. given: what this process gave for files, by kind and
    path."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._seen: dict[str, tuple[Signature, str]] = {}
        self._facts: dict[tuple[str, str], tuple[str, bytes]] = {}
        self._values: dict[tuple[str, str], Any] = {}  # the facts that were asked for or made, as objects
        self._sites: dict[str, bytes] = {}
        self._outputs: dict[str, tuple[bytes, Mapping[str, Output]]] = {}  # of sites that were asked for or built
        self._unsaved: dict[tuple[str, ...], Callable[[sqlite3.Connection], object]] = {}
        self.given: dict[tuple[str, str], Given] = {}
        self._sizes: set[int] | None = None
        self._broken = False
        self._load()

    @property
    def database(self) -> Path:
        return self.folder / DATABASE_NAME

    @property
    def pictures(self) -> Path:
        """The folder of published pictures."""
        return self.folder / PICTURES_NAME

    def digest_of(self, path: str, signature: Signature) -> str | None:
        """The content digest of a file whose stat is still the same as when it was read; otherwise None."""
        row = self._seen.get(path)
        return row[1] if row is not None and row[0] == signature else None

    def may_know(self, size: int) -> bool:
        """Whether a file of this size was read before, so that hashing one with a new name may pay."""
        if self._sizes is None:
            self._sizes = {signature[0] for signature, _ in self._seen.values()}
        return size in self._sizes

    def remember_digest(self, path: str, signature: Signature, digest: str, scanned_ns: int) -> None:
        """Caches a file's content digest under its stat, unless it changed too shortly before scanned_ns."""
        if not settled(scanned_ns, *signature[1:3]) or self._seen.get(path) == (signature, digest):
            return
        self._seen[path] = (signature, digest)
        self._sizes = None
        row = (path, *signature, digest)
        self._unsaved["seen", path] = lambda db: db.execute("REPLACE INTO seen VALUES (?,?,?,?,?,?)", row)

    def recall(self, kind: str, key: str, made_by: str, hint: Any) -> Any | None:
        """The value of type `hint` that the same code (made_by) cached under this kind and key; otherwise None."""
        at = (kind, key)
        row = self._facts.get(at)
        if row is None or row[0] != made_by:
            return None
        if at not in self._values:
            try:
                self._values[at] = unpacked(row[1], hint, f"{kind}|{key}|{made_by}")
            except WrongType:
                return None
        return self._values[at]

    def remember(self, kind: str, key: str, made_by: str, value: object, hint: Any) -> None:
        """Caches a value of the type `hint`, which `codec` must support; a value of another type is not cached."""
        try:
            blob = packed(value, hint, f"{kind}|{key}|{made_by}")
        except WrongType:
            return
        self.take_packed(kind, key, made_by, blob)
        self._values[kind, key] = value

    def packed_of(self, kind: str, key: str, made_by: str) -> bytes | None:
        """The bytes that the same code cached under this kind and key; otherwise None."""
        row = self._facts.get((kind, key))
        return row[1] if row is not None and row[0] == made_by else None

    def take_packed(self, kind: str, key: str, made_by: str, blob: bytes) -> None:
        """Caches the bytes that `packed_of` gave in another process."""
        self._facts[kind, key] = (made_by, blob)
        self._values.pop((kind, key), None)
        row = (kind, key, made_by, blob)
        self._unsaved["fact", kind, key] = lambda db: db.execute("REPLACE INTO fact VALUES (?,?,?,?)", row)

    def outputs_of(self, site: Path) -> Mapping[str, Output]:
        """The files last put into place at a site's path, by path within it."""
        name = str(site)
        blob, outputs = self._outputs.get(name, (None, {}))
        if blob is not None and self._sites.get(name) is blob:
            return outputs
        try:
            known: Mapping[str, Output] = unpacked(self._sites[name], Mapping[str, Output], name)
        except (KeyError, WrongType):
            return {}
        self._outputs[name] = (self._sites[name], known)
        return known

    def keep_outputs(self, site: Path, outputs: Mapping[str, Output]) -> None:
        """Replaces everything that was known about a site."""
        name = str(site)
        blob = packed(dict(outputs), Mapping[str, Output], name)
        if self._sites.get(name) == blob:
            return
        self._sites[name] = blob
        self._outputs[name] = (blob, dict(outputs))
        self._unsaved["site", name] = lambda db: db.execute("REPLACE INTO site VALUES (?,?)", (name, blob))

    def prune(self, paths: Iterable[str], keys: Iterable[tuple[str, str]]) -> None:
        """Removes files, facts and sites that no longer exist: all except these paths and these (kind, key)."""
        gone_paths = self._seen.keys() - set(paths)
        self.given = {at: given for at, given in self.given.items() if at[1] not in gone_paths}
        gone_keys = self._facts.keys() - set(keys)
        for key in gone_keys:
            self._values.pop(key, None)
        gone_sites = {site for site in self._sites if not Path(site).is_dir()}
        self._forget("seen", "path = ?", self._seen, {path: (path,) for path in gone_paths})
        self._forget("fact", "kind = ? AND key = ?", self._facts, {key: key for key in gone_keys})
        self._forget("site", "path = ?", self._sites, {site: (site,) for site in gone_sites})
        self._sizes = None

    def save(self) -> bool:
        """Writes what is new in one transaction; False where the folder cannot be written (only time is lost)."""
        if self._broken or not self.database.is_file():
            return self._save_afresh()
        if not self._unsaved:
            return True
        try:
            self._prepare_folder()
            with _connection(self.database) as db:
                _write(db, self._unsaved.values())
        except (sqlite3.Error, OSError) as error:
            code = getattr(error, "sqlite_errorcode", None)
            is_locked = isinstance(code, int) and code & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
            return False if is_locked else self._save_afresh()
        self._unsaved.clear()
        return True

    def _forget(self, table: str, where: str, rows: dict[Any, Any], gone: Mapping[Any, tuple[str, ...]]) -> None:
        for key, values in gone.items():
            del rows[key]
            statement = f"DELETE FROM {table} WHERE {where}"
            self._unsaved[table, *values] = lambda db, s=statement, v=values: db.execute(s, v)  # type: ignore[misc]

    def _load(self) -> None:
        if not self.database.is_file():
            return
        try:
            with _connection(self.database) as db:
                if not _is_ours(db):
                    raise sqlite3.DatabaseError("of another version")
                for path, *signature, digest in _rows_of(db, "seen", str, int, int, int, int, str):
                    self._seen[path] = ((signature[0], signature[1], signature[2], signature[3]), digest)
                for kind, key, made_by, value in _rows_of(db, "fact", str, str, str, bytes):
                    self._facts[kind, key] = (made_by, value)
                self._sites.update(_rows_of(db, "site", str, bytes))
        except (sqlite3.Error, OSError, ValueError, TypeError):
            self._seen, self._facts, self._sites = {}, {}, {}
            self._broken = True

    def _prepare_folder(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        tag = self.folder / TAG_NAME
        if not tag.is_file():
            tag.write_text(_TAG, encoding="utf-8")

    def _save_afresh(self) -> bool:
        """Writes everything known into a new database if the old one is not writable."""
        try:
            for tail in ("", "-wal", "-shm", "-journal"):
                self.database.with_name(DATABASE_NAME + tail).unlink(missing_ok=True)
            self._prepare_folder()
            with _connection(self.database) as db:
                _write(db, [self._write_all])
        except (sqlite3.Error, OSError):
            return False
        self._unsaved.clear()
        self._broken = False
        return True

    def _write_all(self, db: sqlite3.Connection) -> None:
        seen = [(path, *signature, digest) for path, (signature, digest) in self._seen.items()]
        db.executemany("REPLACE INTO seen VALUES (?,?,?,?,?,?)", seen)
        facts = [(*key, *value) for key, value in self._facts.items()]
        db.executemany("REPLACE INTO fact VALUES (?,?,?,?)", facts)
        db.executemany("REPLACE INTO site VALUES (?,?)", list(self._sites.items()))


@contextlib.contextmanager
def _connection(database: Path) -> Iterator[sqlite3.Connection]:
    db = sqlite3.connect(database, timeout=WAIT_FOR_LOCK_S, isolation_level=None)
    try:
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = NORMAL")
        yield db
    finally:
        db.close()


def _rows_of(db: sqlite3.Connection, table: str, *kinds: type) -> Iterator[tuple[Any, ...]]:
    """The rows of a table, except those with a cell of another type, which SQLite allows in any column."""
    for row in db.execute(f"SELECT * FROM {table}"):
        if tuple(map(type, row)) == kinds:
            yield row


def _is_ours(db: sqlite3.Connection) -> bool:
    application_id = db.execute("PRAGMA application_id").fetchone()[0]
    schema_version = db.execute("PRAGMA user_version").fetchone()[0]
    return bool(application_id == _APPLICATION_ID and schema_version == _SCHEMA_VERSION)


def _write(db: sqlite3.Connection, changes: Iterable[Callable[[sqlite3.Connection], object]]) -> None:
    """One transaction; in an empty file the tables are created first."""
    db.execute("BEGIN IMMEDIATE")
    try:
        if not _is_ours(db):
            if db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
                raise sqlite3.DatabaseError("of another version")
            for statement in _SCHEMA.split(";"):
                db.execute(statement)
            db.execute(f"PRAGMA application_id = {_APPLICATION_ID}")
            db.execute(f"PRAGMA user_version = {_SCHEMA_VERSION}")
        for change in changes:
            change(db)
        db.execute("COMMIT")
    except BaseException:
        with contextlib.suppress(sqlite3.Error):
            db.execute("ROLLBACK")
        raise
