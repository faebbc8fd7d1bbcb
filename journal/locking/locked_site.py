"""A finished plain site made into a locked one: every file sealed under a keyed name, lists with a build counter, and
the unlock page. The same site, key and counter give the same bytes."""

from __future__ import annotations

import hashlib
import json
import os
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path
from typing import Any, Literal

from journal.cache.resources import files_below, find_resources
from journal.importing.locked_archive import KEY_DERIVATION
from journal.locking.cipher import DamagedFile, OtherKey, SiteCipher
from journal.locking.key_file import SiteKey
from journal.reading.listing import SITE_MARK
from journal.site.build.offline import (
    PACKS,
    SMALL_PX,
    OfflineFile,
    OfflineFolder,
    Pack,
    is_left_out,
    photo_at,
    worker_text,
)
from journal.site.pages import not_found_page

Kind = Literal["journal", "share"]
FORMAT, VERSION = "journal locked site", 1
FILES = "locked"
"""The folder of sealed files on the host."""

_PAGE_ROOT = re.compile(rb'<html[^<>]* data-root="([^"]*)"')
_BUILD = re.compile(r'globalThis\.journalBuild = "([0-9a-f]{32})"')
_ICONS = ("mark.svg", "mark-192.png", "mark-512.png", "maskable-512.png", "touch-180.png")
_STYLES = ("tokens", "base", "parts")


@dataclass(frozen=True, slots=True)
class LockedSite:
    """A locked site as it was written. key: with the counter of this build. files: path in the plain site -> what was
    sealed there; shell: path -> bytes of what anyone may read. kept: where files lie that are the earlier site's, and
    were found to be whole. offline_bytes: what a device saves of it; larger_bytes: more, with the larger photos."""

    key: SiteKey
    kind: Kind
    build: str
    files: Mapping[str, OfflineFile] = field(repr=False)
    shell: Mapping[str, bytes] = field(repr=False)
    kept: frozenset[str] = field(default=frozenset(), repr=False)
    offline_bytes: int = 0
    larger_bytes: int = 0


def lock_site(plain: Path, tree: Path, key: SiteKey, kind: Kind, earlier: Path | None = None) -> LockedSite:
    """Writes the locked form of a finished plain site into a tree. key: of this site, with at least one reader.
    earlier: the locked site of the last build, from which files that open to the same are linked; one that is damaged,
    or is in another's place, is sealed again. Raises OSError."""
    cipher = key.cipher
    resources = find_resources()
    shell = _shell(resources, key, kind)
    links = _Links(tree, earlier)
    for path, data in shell.items():
        _write(tree / path, data)
    (tree / FILES).mkdir()
    parts = {
        at: [_sealed(plain, links, cipher, path, ids) for path, ids in rows if path in NOT_KEPT or path not in shell]
        for at, rows in _parts_in(plain).items()
    }
    worker = _worker(resources, cipher, kind, shell)
    contents = _contents(parts, worker)
    if contents != key.contents:
        key = replace(key, counter=key.counter + 1, contents=contents)
    offline = _LockedFolder(links, cipher)
    build = offline.write_parts(parts, counter=key.counter)
    offline.clear()
    script = worker_text(resources / "static", build, worker, kind == "journal").encode()
    links.place("sw.js", script.__eq__, lambda: script)
    files = {row.path: row for rows in parts.values() for row in rows}
    larger = sum(row.bytes for (pack, _), rows in parts.items() if pack == "larger" for row in rows)
    saved = sum(row.bytes for row in files.values()) - larger
    return LockedSite(key, kind, build, files, shell, frozenset(links.kept), saved, larger)


def stored_at(cipher: SiteCipher, path: str) -> str:
    """Where the sealed file of a path is in a locked site."""
    return f"{FILES}/{cipher.name(path)}.bin"


def content_of(plain: Path, path: str) -> bytes:
    """A file of a plain site as it is sealed: pages also name the scripts that hold the key and lead to the lock."""
    data = (plain / path).read_bytes()
    page = _PAGE_ROOT.search(data) if path.endswith(".html") else None
    if page is None:
        return data
    scripts = (b'<script defer src="%bunlock/%b"></script>\n' % (page[1], name) for name in (b"lock.js", b"inside.js"))
    first = data.index(b"<script ")  # before every other, since those look for what these make
    return data[:first] + b"".join(scripts) + data[first:]


def _parts_in(plain: Path) -> dict[tuple[Pack, str], list[tuple[str, Sequence[str]]]]:
    """(pack, key) -> the paths in it, each with the IDs that it shows; by the site's own lists, where it has any."""
    parts: dict[tuple[Pack, str], list[tuple[str, Sequence[str]]]] = {}
    if (plain / "sw.js").is_file():
        build = _BUILD.match((plain / "sw.js").read_text("utf-8"))
        assert build is not None, "a built site's worker tells its build"
        root = _list_in(plain, build[1])
        years = (_list_in(plain, digest)["parts"] for _, digest in root.get("years", ()))
        listed = sorted(chain(root["parts"], *years), key=lambda row: (PACKS.index(row[0]), row[1]))
        for pack, name, digest, *_ in listed:
            saved = _list_in(plain, digest)
            parts[pack, name] = [(saved["base"] + file[0], file[3] if len(file) > 3 else ()) for file in saved["files"]]
        return parts
    for path in files_below(plain):
        if not is_left_out(path):
            photo = photo_at(path)
            into: Pack = "core" if photo is None else "small" if int(photo["width"]) <= SMALL_PX else "larger"
            parts.setdefault((into, photo["month"] if photo else "share"), []).append((path, ()))
    return {at: parts[at] for at in sorted(parts, key=lambda at: (PACKS.index(at[0]), at[1]))}


def _list_in(plain: Path, digest: str) -> dict[str, Any]:
    rows: dict[str, Any] = json.loads((plain / "offline" / f"{digest}.json").read_bytes())
    return rows


class _Links:
    """The files of a tree, each linked from the earlier site where that has the same one. kept: those that were."""

    def __init__(self, tree: Path, earlier: Path | None) -> None:
        self.tree, self._earlier = tree, earlier
        self.kept: set[str] = set()

    def place(self, at: str, is_same: Callable[[bytes], bool], make: Callable[[], bytes]) -> bytes:
        """Puts a file there, and gives its bytes: the earlier one's where `is_same` finds that they will do."""
        if self._earlier is not None:
            with suppress(OSError):  # it is not there, or on another disk, or on one without links
                data = (self._earlier / at).read_bytes()
                if is_same(data):
                    os.link(self._earlier / at, self.tree / at)
                    self.kept.add(at)
                    return data
        data = make()
        (self.tree / at).write_bytes(data)
        return data


def _sealed(plain: Path, links: _Links, cipher: SiteCipher, path: str, ids: Sequence[str]) -> OfflineFile:
    """The file of a path, sealed into the tree."""
    content = content_of(plain, path)
    data = links.place(
        stored_at(cipher, path), lambda data: opens_to(cipher, path, data, content), lambda: cipher.seal(path, content)
    )
    return OfflineFile(path, hashlib.sha256(data).hexdigest()[:32], len(data), tuple(ids))


def opens_to(cipher: SiteCipher, path: str, data: bytes, content: bytes) -> bool:
    """Whether bytes are a sealed file of this path, whole, with this content."""
    try:
        return cipher.open(path, data) == content
    except (OtherKey, DamagedFile):
        return False


def _contents(parts: Mapping[tuple[Pack, str], Sequence[OfflineFile]], worker: str) -> str:
    """Digest of all that a build holds, but for its counter."""
    rows = [(at, [(row.path, row.digest, row.bytes, row.ids) for row in saved]) for at, saved in parts.items()]
    return hashlib.sha256(repr((rows, worker)).encode("utf-8", "surrogatepass")).hexdigest()


class _LockedFolder(OfflineFolder):
    """Lists that are sealed, and bundles of sealed files."""

    list_ending = ".bin"
    bundled = ("core", "pages", "small")
    compressed = ()  # what is sealed packs no smaller
    has_years = False

    def __init__(self, links: _Links, cipher: SiteCipher) -> None:
        super().__init__(links.tree, None)
        self._links, self._cipher = links, cipher

    def _place(self, name: str, size: int, chunks: Iterable[bytes]) -> None:
        if name not in self.names:
            self.names.add(name)
            data = b"".join(chunks)
            self._links.place(f"offline/{name}", data.__eq__, lambda: data)

    def as_stored(self, text: bytes, is_root: bool) -> bytes:
        return self._cipher.seal("offline/root" if is_root else "offline/list", text)

    def file_of(self, row: OfflineFile) -> Path:
        return self.tree / stored_at(self._cipher, row.path)


# -- what anyone may read ----------------------------------------------------------------------------------------


def header_of(key: SiteKey, kind: Kind) -> str:
    """`lock.json`: how the passphrases are turned into keys, and the data key under each of them. `check` tells a
    damaged file from a wrong passphrase; it is not a secret."""
    readers = sorted([one.nonce, one.wrapped] for one in key.readers)
    key_fields = [FORMAT, str(VERSION), kind, key.cipher.id.hex(), KEY_DERIVATION, str(key.rounds), key.salt]
    check = hashlib.sha256("\n".join([*key_fields, *chain(*readers)]).encode()).hexdigest()[:32]
    rows = {
        "format": FORMAT,
        "version": VERSION,
        "kind": kind,
        "key": key_fields[3],
        "kdf": KEY_DERIVATION,
        "rounds": key.rounds,
        "salt": key.salt,
        "readers": readers,
        "check": check,
    }
    return json.dumps(rows, indent=1) + "\n"


_NO_PAGE = "There is no page at this address, or it is locked. Open the journal's first page, and unlock it there."


def _shell(resources: Path, key: SiteKey, kind: Kind) -> dict[str, bytes]:
    """Path -> bytes of the unlock page and what it needs; the same for every journal but for `lock.json`."""
    own, static = resources / "templates" / "locked", resources / "static"
    page = (own / "unlock.html").read_bytes()
    styles = [*(static / "css" / f"{name}.css" for name in _STYLES), own / "unlock.css"]
    shell = {
        "index.html": page,
        "unlock.html": page,
        "404.html": not_found_page("Page not found", _NO_PAGE).encode(),
        "lock.json": header_of(key, kind).encode(),
        "manifest.webmanifest": (own / f"{kind}.webmanifest").read_bytes(),
        "unlock/unlock.css": b"\n".join(file.read_bytes() for file in styles),
        "unlock/theme.js": (static / "js" / "theme.js").read_bytes(),
        **{f"unlock/{name}": (own / name).read_bytes() for name in ("lock.js", "inside.js", "unlock.js")},
        **{f"static/icons/{name}": (static / "icons" / name).read_bytes() for name in _ICONS},
    }
    return shell | ({"READ-ME.txt": (own / "READ-ME.txt").read_bytes()} if kind == "share" else {})


def _worker(resources: Path, cipher: SiteCipher, kind: Kind, shell: Mapping[str, bytes]) -> str:
    """What a locked site's worker has before the script of every worker."""
    rows = {path: hashlib.sha256(data).hexdigest()[:32] for path, data in shell.items() if path not in NOT_KEPT}
    key_fields = json.dumps({"key": cipher.id.hex(), "kind": kind, "shell": rows}, separators=(",", ":"))
    lock = (resources / "templates" / "locked" / "lock.js").read_text("utf-8")
    return f"globalThis.journalLocked = {key_fields};\n{lock}"


NOT_KEPT = ("index.html", "404.html", "READ-ME.txt")
"""Files of the shell that a device does not keep: the unlock page is there as `unlock.html`."""


def _write(file: Path, data: bytes) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(data)


def files_in(tree: Path) -> Iterator[str]:
    """Every file of a locked site but its mark."""
    for path in files_below(tree):
        if path != SITE_MARK:
            yield path
