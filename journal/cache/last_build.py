"""What the last build into a folder was made from and came to, so that the same build again is over at once.

A small record of each site, apart from the rest of the cache, tells how everything looked that the site depends on:
the journal's files, the program, its templates and libraries, the time zones, and the site's own files. It is believed
only where all of them look the same again, and only where that may stand for their bytes (see `store.settled`). Without
it, or where it is cut, damaged or of another version, the build goes its whole way.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
import time
import zoneinfo
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from journal.cache.resources import PACKAGE, find_resources
from journal.cache.store import LAST_BUILD_PREFIX, Look, Output, settled, sha256_of
from journal.problems import Problem
from journal.reading.folder import SITE_MARK, Folder, scan

if TYPE_CHECKING:
    from journal.model import Journal

_NUMBERS = ("entries", "photos", "logger_files", "held_bytes", "larger_bytes")

_FORM = 1
"""Raised whenever the record's meaning changes; what is of another form is not read."""


@dataclass(frozen=True, slots=True)
class Findings:
    """What a journal was found to hold. entries, photos, logger_files: their numbers."""

    entries: int
    photos: int
    logger_files: int
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class Result(Findings):
    """What a build came to. unchanged: nothing had changed. rendered: pages made again. held_bytes: what a device saves
    for offline use; larger_bytes: more, with the larger photos."""

    unchanged: bool
    rendered: int
    held_bytes: int
    larger_bytes: int


def repeated(cache: Path, root: Path, site: Path) -> Result | None:
    """What the last build of this journal into `site` came to, where the same build would change nothing; else None.
    cache: the cache's folder; all are absolute, with links resolved."""
    file = _file(cache, site)
    record = _read(file)
    if record is None or not _is_of(record, root) or record["site"] != str(site):
        return None
    looked_ns = time.time_ns()
    try:
        looks = _looks_below(site)
        unsure: dict[str, str] = record["unsure"]
        if _site_digest(looks, unsure) != record["files"]:
            return None
        if any(sha256_of(site / path) != digest for path, digest in unsure.items()):
            return None
        sizes = {name: record[name] for name in ("held_bytes", "larger_bytes")}
        result = Result(**_found(record), unchanged=True, rendered=0, **sizes)
        left = {p: sha256 for p, sha256 in unsure.items() if p == SITE_MARK or not settled(looked_ns, looks[p][1])}
    except (OSError, KeyError, TypeError):
        return None
    if left.keys() != unsure.keys():
        _write(file, {**record, "unsure": left, "files": _site_digest(looks, left)})
    return result


def found_in(journal: Journal) -> Findings:
    entries = sum(1 for _ in journal.entries())
    return Findings(entries, len(journal.photos), len(journal.logs), journal.problems)


def findings_of(cache: Path, root: Path) -> Findings | None:
    """What this journal holds, where some build of it has read it and nothing changed since; else None."""
    for file in sorted(cache.glob(f"{LAST_BUILD_PREFIX}*.json")):
        record = _read(file)
        if record is not None and _is_of(record, root):
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
    looked_ns: int,
    outputs: Mapping[str, Output],
    result: Result,
) -> None:
    """Keeps the record of a build that has just put `outputs` at `site`. folder: the journal as it looked to the build;
    looked_ns: time_ns() before that; program: `program_digest()` before that. Where one of them cannot be told from
    outside, there is no record afterwards. A disk that refuses costs the next build time, nothing else."""
    file = _file(cache, site)
    with suppress(OSError):
        file.unlink(missing_ok=True)
        _forget_sites_that_are_gone(cache)
        files = [row for kind in _files_of(folder) for row in kind]
        if program is None or not all(settled(looked_ns, row.mtime_ns, row.ctime_ns) for row in files):
            return
        unsure = {path: output.sha256 for path, output in outputs.items() if output.look is None}
        unsure[SITE_MARK] = sha256_of(site / SITE_MARK)
        looks = {path: output.look for path, output in outputs.items() if output.look is not None}
        record = {
            "root": str(folder.root),
            "site": str(site),
            "journal": _journal_digest(folder),
            "program": program,
            "files": _site_digest(looks, unsure),
            "unsure": unsure,
            **{name: getattr(result, name) for name in _NUMBERS},
            "problems": [asdict(problem) for problem in result.problems],
        }
        _write(file, record)


def program_digest() -> str | None:
    """SHA-256 (hex) of how everything looks that turns a journal into a site: Python and the libraries by version, the
    program's sources and resources and the time zones by their files. None where a file changed just now."""
    looked_ns = time.time_ns()
    rows: list[str] = [sys.version, *sorted(_libraries())]
    resources = find_resources()
    places = [(str(PACKAGE), (".py", ".toml")), *((str(resources / name), ("",)) for name in ("templates", "static"))]
    for top, endings in places:
        for path, facts in sorted(_stats_below(top)):
            if path.endswith(endings):
                if not settled(looked_ns, facts.st_mtime_ns, facts.st_ctime_ns):
                    return None
                rows += [top, path, *map(str, (facts.st_size, facts.st_mtime_ns, facts.st_ctime_ns, facts.st_ino))]
    for top in zoneinfo.TZPATH:
        with suppress(OSError), os.scandir(top) as inside:
            # a zone is replaced by renaming a new file over it, which its folder shows
            zones = sorted((row.name, row.stat().st_mtime_ns, row.stat().st_size) for row in inside)
            rows += [top, repr(zones)]
    return _sha256(rows)


def _libraries() -> Iterable[str]:
    """Names of the folders, with versions in them, that tell which libraries are installed."""
    for place in sys.path:
        with suppress(OSError):
            yield from (name for name in os.listdir(place or ".") if name.endswith((".dist-info", ".egg-info")))


def _is_of(record: Mapping[str, Any], root: Path) -> bool:
    """Whether a record is of this journal, and journal and program look as they did."""
    if record.get("root") != str(root) or record.get("program") != program_digest():
        return False
    return bool(record.get("journal") == _journal_digest(scan(root)))


def _files_of(folder: Folder) -> tuple[Sequence[Any], ...]:
    settings = (folder.settings,) if folder.settings else ()
    return (settings, folder.entries, folder.photos, folder.csvs, folder.gpxs, folder.receipts)


def _journal_digest(folder: Folder) -> str:
    rows = [f"{f.path}\0{f.size}\0{f.mtime_ns}\0{f.ctime_ns}\0{f.inode}" for kind in _files_of(folder) for f in kind]
    counts = [str(len(kind)) for kind in _files_of(folder)]
    return _sha256([*counts, *rows, *map(repr, folder.problems)])


def _looks_below(top: Path) -> dict[str, Look]:
    return {path: (facts.st_size, facts.st_mtime_ns, facts.st_ino) for path, facts in _stats_below(str(top))}


def _stats_below(top: str) -> Iterable[tuple[str, os.stat_result]]:
    """Every file below a folder, "/" between the parts, with how it looks; links are not followed. Raises OSError."""
    waiting = [(top, "")]
    while waiting:
        folder, below = waiting.pop()
        with os.scandir(folder) as inside:
            for row in inside:
                if row.is_dir(follow_symlinks=False):
                    waiting.append((row.path, f"{below}{row.name}/"))
                else:
                    yield below + row.name, row.stat(follow_symlinks=False)


def _site_digest(looks: Mapping[str, Look], unsure: Mapping[str, str]) -> str:
    """Of every file's path and look; of those that are held by their bytes, of the path alone."""
    rows = [path if path in unsure else f"{path}\0{look[0]}\0{look[1]}\0{look[2]}" for path, look in looks.items()]
    return _sha256(sorted([*rows, *(path for path in unsure if path not in looks)]))


def _sha256(rows: Iterable[str]) -> str:
    return hashlib.sha256("\0\0".join(rows).encode("utf-8", "surrogatepass")).hexdigest()


def _file(cache: Path, site: Path) -> Path:
    return cache / f"{LAST_BUILD_PREFIX}{hashlib.sha256(os.fsencode(site)).hexdigest()[:16]}.json"


def _read(file: Path) -> dict[str, Any] | None:
    """A record, where it is whole and of this form."""
    try:
        head, _, body = file.read_bytes().partition(b"\n")
        if head.decode() != f"{_FORM} {hashlib.sha256(body).hexdigest()}":
            return None
        record = json.loads(body)
    except (OSError, ValueError):
        return None
    return record if isinstance(record, dict) else None


def _write(file: Path, record: Mapping[str, Any]) -> None:
    body = json.dumps(record).encode()
    fresh = file.with_suffix(".part")
    with suppress(OSError):
        fresh.write_bytes(f"{_FORM} {hashlib.sha256(body).hexdigest()}\n".encode() + body)
        fresh.replace(file)


def _forget_sites_that_are_gone(cache: Path) -> None:
    for file in cache.glob(f"{LAST_BUILD_PREFIX}*"):
        record = _read(file)
        if record is None or not os.path.isdir(str(record.get("site"))):
            file.unlink(missing_ok=True)
