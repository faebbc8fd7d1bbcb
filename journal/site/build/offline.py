"""The offline copy: lists of a built tree's files by content, bundles of its small files, and the worker.

Storeys of lists, all named by content, under `offline/`: a root list names part lists, a part list names files. A
build is the digest of its root list, and `sw.js`, written last, carries it: one changed byte there says "newer build",
and a phone then fetches the part lists and files whose digests it lacks, no more. The rest of the worker is a script
that `sw.js` imports; it too is named by content.

A digest here is the first 32 hex digits of a SHA-256. The root list is
`{"form": 1, "parts": [[pack, key, digest of its list, files, bytes]], "years": [[year, digest]]}`: the parts of a year
with many of them are in a list of their own, `{"parts": [...]}`, so that one new entry changes little. A part list is
`{"base": "photos/2026-11/", "files": [[name, digest, bytes, [ids]]], "bundles": [[name, count, bytes]]}`: a bundle
holds the bodies of the next `count` files, one after another ("" stands for files that are in no bundle); it is
compressed by gzip (RFC 1952) to so many bytes, or, where none are told, not compressed.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import os
import posixpath
import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from itertools import chain
from pathlib import Path
from typing import Literal

from journal.cache.static_files import joined_text
from journal.site.parts import in_parts
from journal.site.plan import Page

Pack = Literal["core", "pages", "small", "larger"]
PACKS: tuple[Pack, ...] = ("core", "pages", "small", "larger")

CORE_FILES = 300
CORE_BYTES = 5_000_000
"""The worker's install is all or nothing, so it is kept this small; what does not fit comes with the pages."""
BUNDLE_BYTES = 8_000_000
YEAR_PARTS = 6
"""A year with more parts than this has a list of its own."""
BUNDLE_FILES = 8
"""Fewer files than this are fetched one by one."""
SMALL_PX = 320
LEADING_BYTES = 5_000_000
"""So much of the leading photos of what is growing comes unasked, with the small photos, in the size after these."""

NOT_SAVED: tuple[tuple[str, str], ...] = (
    (r"sw\.js", "the worker itself, which the browser keeps"),
    (r"static/(sw|js/refusals)\.js", "the worker's sources, which no page asks for"),
    (r"offline/.*", "the lists and bundles, which the phone keeps by content"),
    (r"404\.html", "a host's own answer; the worker has its own words"),
    (r"\.journal-site", "the mark of a built folder"),
)
"""Pattern of a path -> why it is in no pack. Every other file of the tree is in exactly one pack."""

_NOT_SAVED = re.compile("|".join(pattern for pattern, _ in NOT_SAVED))

WORKER_SCRIPTS = ("pool", "refusals", "record-database", "records")
"""Scripts that the worker's text begins with; pages load all but `refusals`."""

_MONTH = re.compile(r"\d{4}-\d{2}")
_OF_YEAR = re.compile(r"(?:[a-z]+-)?(\d{4})(?:-.*)?")
_PHOTO = re.compile(r"photos/(?P<month>[^/]+)/(?P<name>.+)-(?P<width>\d+)\.\w+")


@dataclass(frozen=True, slots=True)
class OfflineFile:
    """path from the site's root; digest: 32 hex digits; ids: what shows this photo, in lower case."""

    path: str
    digest: str
    bytes: int
    ids: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class OfflineCopy:
    """What was written. build: digest of the root list; packs: (files, bytes) of each pack; paths: its own files."""

    build: str
    packs: Mapping[Pack, tuple[int, int]]
    paths: Collection[str]


Parts = Mapping[tuple[Pack, str], Sequence[OfflineFile]]


def write_offline_copy(
    tree: Path,
    pages: Sequence[Page],
    files: Mapping[str, tuple[str, int]],
    *,
    used_by: Mapping[str, Collection[str]] | None = None,
    earlier: Path | None = None,
) -> OfflineCopy:
    """Write lists, bundles and worker into a built tree, and give what a device will save. files: every path of the
    tree, with "/" -> (SHA-256 in hex, bytes). used_by: the photo's path without its width and ending
    (`photos/2026-11/9f3a`) -> IDs that show it. earlier: the site of the last build, whose bundles are linked where
    they are the same. Raises ValueError where a page of the plan is not among the files."""
    parts = parts_of(pages, files, used_by or {})
    offline = OfflineFolder(tree, earlier)
    build = offline.write_parts(parts)
    worker = offline.write_script(shared_text(tree / "static"))
    offline.clear()
    (tree / "sw.js").unlink(missing_ok=True)
    (tree / "sw.js").write_text(
        f'globalThis.journalBuild = "{build}";\nimportScripts("{worker}");\n', "utf-8", newline="\n"
    )
    return OfflineCopy(build, totals_of(parts), {*(f"offline/{name}" for name in offline.names), "sw.js"})


def worker_text(static: Path, build: str, before: str = "", records: bool = True) -> str:
    """The worker's script: the build's digest, what worker and page share, and its own source. static: the folder with
    all of these, of a site or of the program; before: script that is to be before what they share; records: whether it
    takes photos into them."""
    return f'globalThis.journalBuild = "{build}";\n{before}{shared_text(static, records)}'


def shared_text(static: Path, records: bool = True) -> str:
    """The worker's script without what only one build's has."""
    names = WORKER_SCRIPTS if records else ("pool", "refusals")
    files = [static / "js" / f"{name}.js" for name in names]
    shared = [file.read_text("utf-8") if file.is_file() else joined_text(static, f"js/{file.name}") for file in files]
    return f"{''.join(shared)}{(static / 'sw.js').read_text('utf-8')}"


def photo_at(path: str) -> re.Match[str] | None:
    """Month, name and width of the published photo that has this path in the site; None if it is not a photo."""
    return _PHOTO.fullmatch(path)


def is_left_out(path: str) -> bool:
    """Whether a path is never saved on a device, by NOT_SAVED."""
    return _NOT_SAVED.fullmatch(path) is not None


def parts_of(
    pages: Sequence[Page], files: Mapping[str, tuple[str, int]], used_by: Mapping[str, Collection[str]]
) -> Parts:
    """(pack, key) -> its files by path; packs in order, keys sorted."""
    page_by_path = {page.path: page for page in pages}
    if missing := sorted(page_by_path.keys() - files.keys()):
        raise ValueError(f"{len(missing)} planned pages are not in the tree, the first is {missing[0]}")
    rows = [_row(path, *files[path], used_by) for path in sorted(files) if not is_left_out(path)]
    core, leading = core_of(rows, page_by_path), _leading(rows, pages)
    parts: dict[tuple[Pack, str], list[OfflineFile]] = defaultdict(list)
    by_month: dict[Pack, list[tuple[date, OfflineFile]]] = defaultdict(list)
    for row in reversed(rows):  # of one month, paths that come later count as the newer
        pack, key = _place(row, core, leading, page_by_path)
        if row.path in page_by_path and _MONTH.fullmatch(key):
            by_month[pack].append((date.fromisoformat(f"{key}-01"), row))
        else:
            parts[pack, key].append(row)
    for pack, dated in by_month.items():
        parts |= {(pack, key): part for key, part in in_parts(dated).items()}
    for part in parts.values():
        part.reverse()
    return {key: parts[key] for key in sorted(parts, key=lambda key: (PACKS.index(key[0]), key[1]))}


def _row(path: str, sha256: str, size: int, used_by: Mapping[str, Collection[str]]) -> OfflineFile:
    photo = photo_at(path)
    ids = used_by.get(f"photos/{photo['month']}/{photo['name']}", ()) if photo else ()
    return OfflineFile(path, sha256[:32], size, tuple(sorted({i.lower() for i in ids})))


def core_of(rows: Iterable[OfflineFile], pages: Mapping[str, Page]) -> set[str]:
    """Paths of what is saved first, by rank, as far as they fit; of equal rank the newest first. What is listed
    together is saved together, so that a page that grows by a letter moves no other out."""
    groups: dict[tuple[int, str], list[OfflineFile]] = defaultdict(list)
    for row in rows:
        if (rank := _rank(row.path, pages)) is not None:
            groups[rank, _key(row.path, pages)].append(row)
    chosen: set[str] = set()
    room = CORE_BYTES
    for rank in range(3):
        of_rank = sorted((key for at, key in groups if at == rank), reverse=True)
        for group in (groups[rank, key] for key in of_rank):
            size = sum(row.bytes for row in group)
            if len(chosen) + len(group) > CORE_FILES or size > room:
                break
            chosen |= {row.path for row in group}
            room -= size
    return chosen


def _leading(rows: Iterable[OfflineFile], pages: Iterable[Page]) -> set[str]:
    """The leading photo of each page of what is growing, in its second size, the newest first as far as there is
    room. It fills the page of a phone, and a small one there would be blurred."""
    files = {page.leading for page in pages if page.growing}
    chosen: set[str] = set()
    room = LEADING_BYTES
    for row in sorted((row for row in rows if row.path in files), key=lambda row: row.path, reverse=True):
        if row.bytes > room:
            break
        chosen.add(row.path)
        room -= row.bytes
    return chosen


def _rank(path: str, pages: Mapping[str, Page]) -> int | None:
    """0 the shell and the main pages with what they read, 1 what is growing, 2 search parts and what can be near; None:
    not core."""
    if path == "manifest.webmanifest" or path in _READ_BY_PAGES or path.startswith("static/"):
        return 0
    if path in pages:
        return None if not pages[path].growing else 0 if pages[path].section == "main" else 1
    return 2 if path.startswith(("search/", "near-me/")) else None


_READ_BY_PAGES = ("record/data.json", "search/parts.js")
_FOLDERS = ("search", "record", "static")


def _key(path: str, pages: Mapping[str, Page]) -> str:
    """What a file stands with in a list: its month or section; small files of one folder with those of their year."""
    if photo := photo_at(path):
        return photo["month"]
    if path in pages:
        return pages[path].section
    if path in _READ_BY_PAGES:
        return "main"
    folder, _, name = path.partition("/")
    if folder in _FOLDERS and (year := re.search(r"\d{4}(?=[-.])", name)):
        return f"{folder}-{year[0]}"
    return (
        "shell" if path == "manifest.webmanifest" or folder == "static" else folder if folder in _FOLDERS else "other"
    )


def _place(
    row: OfflineFile, core: Collection[str], leading: Collection[str], pages: Mapping[str, Page]
) -> tuple[Pack, str]:
    if photo := photo_at(row.path):
        is_small = int(photo["width"]) <= SMALL_PX or row.path in leading
        return ("small" if is_small else "larger", photo["month"])
    return ("core" if row.path in core else "pages", _key(row.path, pages))


def _totals(parts: Iterable[Sequence[OfflineFile]]) -> tuple[int, int]:
    rows = [row for part in parts for row in part]
    return len(rows), sum(row.bytes for row in rows)


def totals_of(parts: Parts) -> dict[Pack, tuple[int, int]]:
    """(files, bytes) of each pack."""
    return {pack: _totals(rows for (p, _), rows in parts.items() if p == pack) for pack in PACKS}


class OfflineFolder:
    """The folder `offline` of a tree: files are written by content, and those that nothing names any more are
    removed."""

    list_ending = ".json"
    bundled: tuple[Pack, ...] = ("pages", "small")
    """Packs whose small files also come as bundles."""
    compressed: tuple[Pack, ...] = ("pages",)
    """Packs whose bundles are compressed, since hosts compress pages and no bundles."""
    has_years = True
    """Whether many parts of a year have a list of their own."""

    def __init__(self, tree: Path, earlier: Path | None) -> None:
        self.tree = tree
        self.folder = tree / "offline"
        self.earlier = earlier / "offline" if earlier else None
        self.names: set[str] = set()
        self.folder.mkdir(exist_ok=True)

    def write_parts(self, parts: Parts, **facts: object) -> str:
        """Write all lists and bundles, and give the root list's digest. facts: further items of that list."""
        rows = [_write_part(self, *key, rows) for key, rows in parts.items()]
        years: dict[str, list[list[str | int]]] = defaultdict(list)
        for row in rows:
            if self.has_years and (year := _OF_YEAR.fullmatch(str(row[1]))):
                years[year[1]].append(row)
        apart = {year: group for year, group in years.items() if len(group) > YEAR_PARTS}
        root = {"form": 1, **facts, "parts": [row for row in rows if row not in chain(*apart.values())]}
        if apart:
            root["years"] = [[year, self.write_list({"parts": group})] for year, group in sorted(apart.items())]
        return self.write_list(root, is_root=True)

    def write_script(self, text: str) -> str:
        """Write a script and give its path from the site's root."""
        data = text.encode()
        name = f"{hashlib.sha256(data).hexdigest()[:32]}.js"
        self._place(name, len(data), [data])
        return f"offline/{name}"

    def write_list(self, value: object, is_root: bool = False) -> str:
        """Write a list as JSON and give its digest."""
        text = json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode()
        data = self.as_stored(text, is_root)
        digest = hashlib.sha256(data).hexdigest()[:32]
        self._place(f"{digest}{self.list_ending}", len(data), [data])
        return digest

    def as_stored(self, text: bytes, is_root: bool) -> bytes:
        """A list's text as it is stored on the host."""
        return text

    def file_of(self, row: OfflineFile) -> Path:
        """The path of a row's file in the tree."""
        return self.tree / row.path

    def write_bundle(self, rows: Sequence[OfflineFile], is_compressed: bool) -> list[str | int]:
        """Write the bodies of files one after another; named by their digests, so nothing is read to name it. Gives the
        bundle's row in the list."""
        name = hashlib.sha256("\n".join(row.digest for row in rows).encode()).hexdigest()[:32]
        if is_compressed:
            return [name, len(rows), self._place_compressed(f"{name}.bundle", rows)]
        bodies = (self.file_of(row).read_bytes() for row in rows)
        self._place(f"{name}.bundle", sum(row.bytes for row in rows), bodies)
        return [name, len(rows)]

    def _place_compressed(self, name: str, rows: Sequence[OfflineFile]) -> int:
        """Write a compressed bundle, or link it from the earlier site where its length is as it says at its end; gives
        its bytes."""
        self.names.add(name)
        target, size = self.folder / name, sum(row.bytes for row in rows)
        if not _unpacks_to(target, size):
            target.unlink(missing_ok=True)
            if self.earlier and _unpacks_to(self.earlier / name, size):
                with suppress(OSError):
                    os.link(self.earlier / name, target)
            if not target.exists():
                with target.open("wb") as out, gzip.GzipFile("", "wb", 6, out, mtime=0) as packed:
                    packed.writelines(self.file_of(row).read_bytes() for row in rows)
        return target.stat().st_size

    def clear(self) -> None:
        for path in self.folder.iterdir():
            if path.name not in self.names:
                path.unlink()

    def _place(self, name: str, size: int, chunks: Iterable[bytes]) -> None:
        self.names.add(name)
        target = self.folder / name
        if _has_size(target, size):
            return None
        target.unlink(missing_ok=True)  # never write through a hard link into the live site
        if self.earlier and _has_size(self.earlier / name, size):
            with suppress(OSError):  # another disk, or one without hard links: write it again
                return os.link(self.earlier / name, target)
        with target.open("wb") as out:
            out.writelines(chunks)
        return None


def _unpacks_to(path: Path, size: int) -> bool:
    """Whether a file ends as gzip ends one of so many bytes (RFC 1952, ISIZE)."""
    if not path.is_file() or path.stat().st_size < 18:
        return False
    with path.open("rb") as packed:
        packed.seek(-4, os.SEEK_END)
        return int.from_bytes(packed.read(4), "little") == size % 2**32


def _has_size(path: Path, size: int) -> bool:
    return path.is_file() and path.stat().st_size == size


def _write_part(offline: OfflineFolder, pack: Pack, key: str, rows: Sequence[OfflineFile]) -> list[str | int]:
    """Write one part's list and bundles; the row for the root list."""
    shared = posixpath.commonpath([posixpath.dirname(row.path) for row in rows])
    base = f"{shared}/" if shared else ""
    groups = bundle_groups(rows) if pack in offline.bundled else ()
    is_compressed = pack in offline.compressed
    bundles = [
        offline.write_bundle(group, is_compressed) if len(group) >= BUNDLE_FILES else ["", len(group)]
        for group in groups
    ]
    files = [[row.path[len(base) :], row.digest, row.bytes, *([row.ids] if row.ids else [])] for row in rows]
    digest = offline.write_list({"base": base, "files": files, "bundles": bundles})
    count, size = _totals([rows])
    return [pack, key, digest, count, size]


def bundle_groups(rows: Sequence[OfflineFile]) -> Iterator[list[OfflineFile]]:
    """The rows in order, cut into groups of at most BUNDLE_BYTES (or of one file that is larger)."""
    group: list[OfflineFile] = []
    filled = 0
    for row in rows:
        if group and filled + row.bytes > BUNDLE_BYTES:
            yield group
            group, filled = [], 0
        group.append(row)
        filled += row.bytes
    if group:
        yield group
