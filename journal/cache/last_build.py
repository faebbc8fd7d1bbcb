"""The inputs and the result of the last build into a folder, so that the same build again ends at once.

A record of each site, apart from the rest of the cache, has the stat of everything that the site depends on: the
journal's files, the program, its templates and libraries, the time zones, and the site's own files. It is used only if
all of these are the same again, and only if a stat may stand for their bytes (see `unchanged.settled`). If it is
missing, truncated, damaged or of another version, a full build runs.
"""

from __future__ import annotations

import os
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from journal.cache.store import Output
from journal.cache.unchanged import (
    LAST_BUILD_PREFIX,
    is_of,
    is_unchanged,
    lock_of,
    read_record,
    record_file,
    seen,
    settled,
    sha256_of,
    sha256_of_rows,
    signatures_below,
    site_digest,
    write_record,
)
from journal.problems import Problem
from journal.reading.folder import Folder
from journal.reading.listing import SITE_MARK

if TYPE_CHECKING:
    from journal.model import Journal

_NUMBERS = ("entries", "photos", "logger_files", "offline_bytes", "larger_bytes")


@dataclass(frozen=True, slots=True)
class Findings:
    """What a journal contains. entries, photos, logger_files: their numbers."""

    entries: int
    photos: int
    logger_files: int
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class Result(Findings):
    """The result of a build. unchanged: nothing had changed. rendered: pages made again. offline_bytes: what a device
    saves for offline use; larger_bytes: what the larger photos add."""

    unchanged: bool
    rendered: int
    offline_bytes: int
    larger_bytes: int


def repeated(cache: Path, root: Path, site: Path, keys: Path | None = None) -> Result | None:
    """What the last build of this journal into `site` came to, where the same build would change nothing; else None.
    cache: the cache's folder; all are absolute, with links resolved. keys: what the site is to be locked with."""
    file = record_file(cache, site)
    before = record = read_record(file)
    if record is None:
        return None
    scanned_ns = time.time_ns()
    try:
        if not is_unchanged(record, str(root), str(site), lock_of(str(keys)) if keys is not None else None):
            return None
        unsure: dict[str, str] = record["unsure"]
        sizes = {name: record[name] for name in ("offline_bytes", "larger_bytes")}
        result = Result(**_found(record), unchanged=True, rendered=0, **sizes)
        signatures = signatures_below(str(site)) if unsure.keys() != {SITE_MARK} else {}
        left = {
            p: sha256 for p, sha256 in unsure.items() if p == SITE_MARK or not settled(scanned_ns, signatures[p][1])
        }
    except (OSError, KeyError, TypeError):
        return None
    if left.keys() != unsure.keys():
        record = {**record, "unsure": left, "files": site_digest(signatures, left)}
    if left.keys() == {SITE_MARK}:
        with suppress(OSError, ValueError):
            record = {**record, "seen": seen(str(root), str(site), scanned_ns)}
    if record != before:
        write_record(file, record)
    return result


def remember_notices(cache: Path, site: Path, words: Sequence[str]) -> None:
    """Adds to the record what the command prints for the same build again, so that it can be printed at once."""
    file = record_file(cache, site)
    record = read_record(file)
    if record is not None and record.get("notices") != list(words):
        write_record(file, {**record, "notices": list(words)})


def found_in(journal: Journal) -> Findings:
    entries = sum(1 for _ in journal.entries())
    return Findings(entries, len(journal.photos), len(journal.logs), journal.problems)


def findings_of(cache: Path, root: Path) -> Findings | None:
    """What this journal contains, if a build has read it and nothing has changed since; otherwise None."""
    for file in sorted(cache.glob(f"{LAST_BUILD_PREFIX}*.json")):
        record = read_record(str(file))
        if record is not None and is_of(record, str(root)):
            with suppress(KeyError, TypeError):
                return Findings(**_found(record))
    return None


def _found(record: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of `Findings`."""
    numbers = {name: record[name] for name in ("entries", "photos", "logger_files")}
    return {**numbers, "problems": tuple(Problem(**row) for row in record["problems"])}


def keep(
    cache: Path,
    folder: Folder,
    site: Path,
    *,
    program: str | None,
    scanned_ns: int,
    outputs: Mapping[str, Output],
    result: Result,
) -> None:
    """Writes the record of a build that has just put `outputs` at `site`. folder: the journal as the build found it;
    scanned_ns: time_ns() before that; program: `program_digest()` before that. If a stat cannot stand for one of them,
    there is no record afterwards. A failing disk only makes the next build slower."""
    file = record_file(cache, site)
    with suppress(OSError):
        Path(file).unlink(missing_ok=True)
        _forget_sites_that_are_gone(cache)
        if program is None or not all(settled(scanned_ns, row.mtime_ns, row.ctime_ns) for row in folder.files()):
            return
        unsure = {path: output.sha256 for path, output in outputs.items() if output.stat is None}
        unsure[SITE_MARK] = sha256_of(site / SITE_MARK)
        signatures = {path: output.stat for path, output in outputs.items() if output.stat is not None}
        record = {
            "root": str(folder.root),
            "site": str(site),
            "journal": sha256_of_rows(folder.stats),
            "program": program,
            "files": site_digest(signatures, unsure),
            "unsure": unsure,
            **{name: getattr(result, name) for name in _NUMBERS},
            "problems": [asdict(problem) for problem in result.problems],
        }
        write_record(file, record)


def keep_locked(cache: Path, plain: Path, site: Path, facts: Mapping[str, object]) -> None:
    """Keeps the record of a locked site that has passed its check and has just been put at `site`, made of a plain one
    that has a record. facts: what the locked one has besides, or otherwise: `lock`, `is_by_settings` (whether the
    journal's settings say that it is locked; else an option did), `offline_bytes`, `larger_bytes`."""
    file = record_file(cache, site)
    with suppress(OSError, KeyError, TypeError):
        Path(file).unlink(missing_ok=True)
        record = read_record(record_file(cache, plain))
        if record is None:
            return
        scanned_ns = time.time_ns()
        signatures = signatures_below(str(site))
        unsure = {path: sha256_of(site / path) for path, stat in signatures.items() if not settled(scanned_ns, stat[1])}
        unsure[SITE_MARK] = sha256_of(site / SITE_MARK)
        locked = {"site": str(site), "files": site_digest(signatures, unsure), "unsure": unsure, "notices": None}
        write_record(file, {**{name: row for name, row in record.items() if name != "seen"}, **locked, **facts})


def _forget_sites_that_are_gone(cache: Path) -> None:
    for file in cache.glob(f"{LAST_BUILD_PREFIX}*"):
        record = read_record(str(file))
        if record is None or not os.path.isdir(str(record.get("site"))):
            file.unlink(missing_ok=True)
