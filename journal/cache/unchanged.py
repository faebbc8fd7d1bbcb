"""Whether a journal, its site and the program are unchanged since the last build, by their stat; imports almost
nothing.

The first look after a build lists every folder. What it has seen is recorded: each file and each folder with its stat.
A later look need list nothing, since a folder's own stat changes when a name in it comes or goes.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
import time

from journal.reading.listing import stats_of_journal

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping
    from typing import Any

PACKAGE = os.path.dirname(os.path.dirname(os.path.realpath(__file__)))

APP_NAME = "field-fruiting-journal"

LAST_BUILD_PREFIX = "last-build-"

_FORM = 3
"""Increased whenever the meaning of the record changes; a record of another form is not read."""

_FINE_MARGIN_NS = 100_000_000
_COARSE_MARGIN_NS = 2_000_000_000


def settled(scanned_ns: int, *stamps_ns: int) -> bool:
    """Whether a file's stamps (mtime, ctime) may stand for its content.

    A write within the same tick of the file system's clock as the look leaves the same stamps, so the stamps of a file
    that changed just before the look cannot be trusted. Ticks are a few milliseconds where stamps have fractions of a
    second, and up to two seconds (FAT) where they have none. scanned_ns: time_ns() before the look.
    """
    return scanned_ns - max(stamps_ns) > (_FINE_MARGIN_NS if _has_fractions(stamps_ns) else _COARSE_MARGIN_NS)


def _has_fractions(stamps_ns: Iterable[int]) -> bool:
    return any(stamp_ns % 1_000_000_000 for stamp_ns in stamps_ns)


def sha256_of(path: str | os.PathLike[str]) -> str:
    """SHA-256 of a file's bytes, hex; raises OSError."""
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def sha256_of_rows(rows: Iterable[str]) -> str:
    return hashlib.sha256("\0\0".join(rows).encode("utf-8", "surrogatepass")).hexdigest()


def record_file(cache: str | os.PathLike[str], site: str | os.PathLike[str]) -> str:
    """The path of a site's record in a cache."""
    name = f"{LAST_BUILD_PREFIX}{hashlib.sha256(os.fsencode(site)).hexdigest()[:16]}.json"
    return os.path.join(cache, name)


def read_record(file: str) -> dict[str, Any] | None:
    """A record, if it is complete and of this form."""
    try:
        with open(file, "rb") as opened:
            checksum_line, _, body = opened.read().partition(b"\n")
        if checksum_line.decode() != f"{_FORM} {hashlib.sha256(body).hexdigest()}":
            return None
        record = json.loads(body)
    except (OSError, ValueError):
        return None
    return record if isinstance(record, dict) else None


def write_record(file: str, record: Mapping[str, Any]) -> None:
    """Writes the record completely or not at all; a failing disk only makes the next build slower."""
    body = json.dumps(record).encode()
    fresh = f"{file}.part"
    try:
        with open(fresh, "wb") as opened:
            opened.write(f"{_FORM} {hashlib.sha256(body).hexdigest()}\n".encode() + body)
        os.replace(fresh, file)
    except OSError:
        pass


def is_of(record: Mapping[str, Any], root: str) -> bool:
    """Whether a record is of this journal, and journal and program have not changed."""
    if record.get("root") != root or record.get("program") != program_digest():
        return False
    stats = stats_of_journal(root)
    if stats is None:
        from pathlib import Path

        from journal.reading.folder import scan

        stats = scan(Path(root)).stats
    return bool(record.get("journal") == sha256_of_rows(stats))


def is_unchanged(record: Mapping[str, Any], root: str, site: str, lock: Mapping[str, str] | None = None) -> bool:
    """Whether the same build again would change nothing. lock: of a site that is to be locked, what `lock_of` gives.
    Raises OSError, KeyError and TypeError as what it looks at gives cause."""
    unsure: dict[str, str] = record["unsure"]
    if record["site"] != site or record.get("lock") != lock or not is_of(record, root):
        return False
    if record["files"] != site_digest(signatures_below(site), unsure):
        return False
    return all(sha256_of(os.path.join(site, path)) == digest for path, digest in unsure.items())


_SEEN_TOGETHER, _MOST_DIGESTS = 1000, 200
"""Files and folders that one digest is made of, but more where there would be too many digests."""

_PAYING = 6
"""Another process pays from so many digests on."""

_BETWEEN = "//"
"""Between paths: in none of them."""


def seen(root: str, site: str, scanned_ns: int) -> list[list[str]] | None:
    """What `is_as_seen` compares, if journal and site have not changed since scanned_ns, a time_ns() before they were
    found unchanged: rows of a folder, paths below it, and the digest of their stats. None where a look has to list the
    folders: in a journal that needs a closer look (as of `stats_of_journal`), and on a disk whose stamps have no
    fractions of a second, which may have none for folders. Raises OSError; ValueError where something changed just now,
    so that the next look may see more."""
    folders = [""]
    journal = stats_of_journal(root, folders)
    if journal is None:
        return None
    places = [(root, [*(row.partition("\0")[0] for row in journal), *folders])]
    folders = [""]
    places.append((site, [*(path for path, _ in stats_below(site, folders)), *folders]))
    size = max(_SEEN_TOGETHER, sum(len(paths) for _, paths in places) // _MOST_DIGESTS)
    rows = []
    for top, paths in places:
        for at in range(0, len(paths), size):
            part = paths[at : at + size]
            stats = _stats(top, part)
            for facts in stats:
                if not settled(scanned_ns, facts.st_mtime_ns, facts.st_ctime_ns):
                    raise ValueError("changed just now")
                if not _has_fractions((facts.st_mtime_ns, facts.st_ctime_ns)):
                    return None
            rows.append([top, _BETWEEN.join(part), _digest_of(stats)])
    return rows


def _stats(top: str, paths: Iterable[str]) -> list[os.stat_result]:
    """The stats of paths below a folder; links are not followed. Raises OSError."""
    return list(map(os.lstat, [f"{top}/{path}" for path in paths]))


def _digest_of(stats: Iterable[os.stat_result]) -> str:
    return sha256_of_rows([f"{s.st_size} {s.st_mtime_ns} {s.st_ctime_ns} {s.st_ino}" for s in stats])


def is_as_seen(record: Mapping[str, Any], root: str, site: str, lock: Mapping[str, str] | None = None) -> bool:
    """As `is_unchanged`, of a record with what was seen; lists nothing."""
    rows: list[list[str]] = record["seen"]
    if record["root"] != root or record["site"] != site or record.get("lock") != lock:
        return False

    def is_same(at: int) -> bool:
        if at == len(rows):
            return bool(record["program"] == program_digest())
        top, paths, digest = rows[at]
        try:
            return _digest_of(_stats(top, paths.split(_BETWEEN))) == digest
        except OSError:
            return False

    return _all_hold(len(rows) + 1, is_same)


def _all_hold(count: int, holds: Callable[[int], bool]) -> bool:
    """Whether this holds of 0, 1 … up to count, which is at most 255. Where that pays, a process forked from this one
    takes some of them: each takes the next number from a pipe. What goes wrong there is as if it did not hold."""
    numbers, end = os.pipe()
    os.write(end, bytes(range(count)))
    os.close(end)
    other = _forked() if count >= _PAYING else None
    if other == 0:
        try:
            os._exit(0 if _hold(numbers, holds) else 1)
        finally:
            os._exit(1)  # whatever it was: the whole command will say so
    try:
        is_so = _hold(numbers, holds)
    finally:
        os.close(numbers)
        status = os.waitpid(other, 0)[1] if other else 0
    return is_so and status == 0


def _hold(numbers: int, holds: Callable[[int], bool]) -> bool:
    """Whether this holds of each number that is taken from a pipe; if not, nobody need take any more."""
    while number := os.read(numbers, 1):
        if not holds(number[0]):
            os.read(numbers, 255)
            return False
    return True


def _forked() -> int | None:
    """As `os.fork`; None where there is one core for this program, or no fork."""
    if sys.platform != "linux" or len(os.sched_getaffinity(0)) == 1:
        return None
    try:
        return os.fork()
    except OSError:
        return None


def lock_of(keys: str) -> dict[str, str]:
    """What a record holds of a locked site's key file: its path and its bytes' SHA-256. Raises OSError."""
    return {"keys": keys, "sha256": sha256_of(keys)}


def usual_key_file(root: str) -> str:
    """Where the keys of the journal in this folder are kept, unless another file is named: in the user's configuration
    folder, under the folder's name and a digest of its place."""
    import re

    import platformdirs

    name = re.sub(r"[^\w-]+", "-", os.path.basename(root)).strip("-") or "journal"
    place = hashlib.sha256(os.fsencode(root)).hexdigest()[:8]
    return os.path.join(platformdirs.user_config_dir(APP_NAME, appauthor=False), "keys", f"{name}-{place}.json")


def program_digest() -> str | None:
    """SHA-256 (hex) of the state of everything that turns a journal into a site: Python and the libraries by version,
    the program's sources and resources and the time zones by the stat of their files. None if a file changed just
    now."""
    scanned_ns = time.time_ns()
    rows: list[str] = [sys.version, *sorted(_libraries())]
    resources = _resources()
    places = [
        (PACKAGE, (".py", ".toml")),
        *((os.path.join(resources, name), ("",)) for name in ("templates", "static")),
    ]
    for top, endings in places:
        for path, facts in sorted(stats_below(top)):
            if path.endswith(endings):
                if not settled(scanned_ns, facts.st_mtime_ns, facts.st_ctime_ns):
                    return None
                rows += [top, path, *map(str, (facts.st_size, facts.st_mtime_ns, facts.st_ctime_ns, facts.st_ino))]
    return sha256_of_rows([*rows, *zone_rows()])


def zone_rows() -> list[str]:
    """The state of the system's time zones, by the stat of their files and folders."""
    from zoneinfo import TZPATH

    rows = []
    for top in TZPATH:
        try:
            with os.scandir(top) as inside:
                # a zone is replaced by renaming a new file over it, which changes its folder's stat
                rows += [top, repr(sorted((row.name, *_stamps(row)) for row in inside))]
        except OSError:
            continue
    return rows


def _stamps(row: os.DirEntry[str]) -> tuple[int, int]:
    """mtime_ns and size of what a row is or leads to, or of a link that leads nowhere."""
    try:
        facts = row.stat()
    except OSError:
        facts = row.stat(follow_symlinks=False)
    return facts.st_mtime_ns, facts.st_size


def _resources() -> str:
    """The same folder as `resources.find_resources` finds."""
    installed = os.path.join(PACKAGE, "_resources")
    return installed if os.path.isdir(os.path.join(installed, "templates")) else os.path.dirname(PACKAGE)


def _libraries() -> Iterator[str]:
    """Names of the folders, with versions in them, that show which libraries are installed."""
    for place in sys.path:
        try:
            yield from (name for name in os.listdir(place or ".") if name.endswith((".dist-info", ".egg-info")))
        except OSError:
            continue


def signatures_below(top: str) -> dict[str, tuple[int, int, int]]:
    """Every file below a folder -> size, mtime_ns, inode, as `store.Look`; raises OSError."""
    return {path: (facts.st_size, facts.st_mtime_ns, facts.st_ino) for path, facts in stats_below(top)}


def stats_below(top: str, folders: list[str] | None = None) -> Iterator[tuple[str, os.stat_result]]:
    """Every file below a folder, "/" between the parts, with its stat; links are not followed. folders: gets every
    folder below it. Raises OSError."""
    waiting = [(top, "")]
    while waiting:
        folder, below = waiting.pop()
        with os.scandir(folder) as inside:
            for row in inside:
                if row.is_dir(follow_symlinks=False):
                    waiting.append((row.path, f"{below}{row.name}/"))
                    if folders is not None:
                        folders.append(below + row.name)
                else:
                    yield below + row.name, row.stat(follow_symlinks=False)


def site_digest(stats: Mapping[str, tuple[int, int, int]], unsure: Mapping[str, str]) -> str:
    """Digest of every file's path and stat; for files compared by their bytes, of the path only."""
    rows = [
        path if path in unsure else f"{path}\0{stamps[0]}\0{stamps[1]}\0{stamps[2]}" for path, stamps in stats.items()
    ]
    return sha256_of_rows(sorted([*rows, *(path for path in unsure if path not in stats)]))
