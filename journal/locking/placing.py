"""A finished plain site into its place as a locked one: locked beside what is there, checked, counted, exchanged."""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from journal.cache.resources import files_below
from journal.locking.key_file import KeyFile
from journal.locking.locked_site import FILES, Kind, LockedSite, content_of, files_in, lock_site, opens_to, stored_at
from journal.problems import Refusal
from journal.reading.listing import SITE_MARK
from journal.site.build.offline import is_left_out
from journal.site.build.swap import LOCKED_SENTENCE, clean_up, new_tree, put_in_place


@dataclass(frozen=True, slots=True)
class PlacedSite:
    """A locked site in its place. keys: as they are kept since. unchanged: it was there already."""

    keys: KeyFile
    unchanged: bool
    made: LockedSite


def place_locked(plain: Path, target: Path, keys: KeyFile, site: str, kind: Kind) -> PlacedSite:
    """Locks a plain site, checks what came of it, and puts it at the target, whole or not at all. target: absolute,
    ours to replace. Raises LegibleSite where the check fails, OSError where the disk refuses."""
    clean_up(target)
    earlier = target if is_locked_site(target) else None
    with new_tree(target, mark_text=LOCKED_SENTENCE) as tree:
        made = lock_site(plain, tree, keys.sites[site], kind, earlier)
        check_locked(plain, tree, made)
        unchanged = earlier is not None and made.key == keys.sites[site] and _is_same(tree, earlier, made)
        if not unchanged:
            keys = keys.keep(site, made.key)  # first: no two builds may have the same number
            put_in_place(tree, target)
    return PlacedSite(keys, unchanged, made)


def lock_folder(plain: Path, tree: Path, keys: KeyFile, site: str, kind: Kind) -> tuple[KeyFile, LockedSite]:
    """Locks a plain site into a new folder of a tree that is put into place as a whole later; checked, and counted."""
    tree.mkdir()
    made = lock_site(plain, tree, keys.sites[site], kind)
    check_locked(plain, tree, made)
    return keys.keep(site, made.key), made


def is_locked_site(folder: Path) -> bool:
    """Whether the site in a folder is a locked one."""
    with suppress(OSError):
        return (folder / SITE_MARK).read_text("utf-8", "replace") == LOCKED_SENTENCE and (folder / FILES).is_dir()
    return False


def key_id_at(folder: Path) -> str | None:
    """The ID of the key that the site in a folder is locked with; None where there is none."""
    try:
        revealed = json.loads((folder / "lock.json").read_bytes())
        return str(revealed["key"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _is_same(tree: Path, earlier: Path, made: LockedSite) -> bool:
    """Whether the earlier site has the same files, of the same bytes."""
    names = [{one.relative_to(site) for one in site.rglob("*") if one.is_file()} for site in (tree, earlier)]
    new = (name for name in names[0] if name.as_posix() not in made.kept)
    return names[0] == names[1] and all((tree / name).read_bytes() == (earlier / name).read_bytes() for name in new)


# The check at the end of every locked build: each new file opened again, and searched for anything legible.

_SEALED = re.compile(rf"(?:{FILES}/[0-9a-f]{{32}}\.bin|offline/[0-9a-f]{{32}}\.(?:bin|bundle))")
_SHORTEST_WORD = 7
"""Shorter words occur among random bytes by chance."""
_LEGIBLE = re.compile(rb"[\w.,:+/ \x80-\xff-]{7,}")
_WORDS = re.compile(rb"[A-Za-z0-9\x80-\xff][\w.\x80-\xff-]{6,}")
_NAMES = re.compile(rb"(?=.{7})[A-Z\xc3][\w.\x80-\xff-]{1,40}(?: [A-Z\xc3][\w.\x80-\xff-]{1,40})+")
"""Of words so short that a long run of letters is read no more than so often; a longer one is among `_WORDS`."""
_TEXTS = (".html", ".js", ".json", ".txt", ".webmanifest", ".svg")


class LegibleSite(Refusal):
    """A locked site is not what it should be; it was not put into place."""


def check_locked(plain: Path, tree: Path, made: LockedSite) -> None:
    """Raises LegibleSite unless every file of the tree is a part of the unlock page, byte for byte as it comes with the
    program, or opens to the file of the plain site that it stands for, and nothing that the plain site tells can be
    read in any of them. plain: the site that was locked. What was kept of the earlier site passed this check when it
    was sealed, and was opened, or compared byte for byte, when it was linked."""
    found = set(files_in(tree))
    sealed = {stored_at(made.key.cipher, path): path for path in made.files}
    if missing := {*sealed, *made.shell, "sw.js"} - found:
        raise LegibleSite(f"the locked site lacks {min(missing)}; nothing was put into place")
    new = found - made.kept
    words = _words_of(plain, made) if new - made.shell.keys() else frozenset()
    starts = frozenset(word[:_SHORTEST_WORD] for word in words)
    for path in sorted(new):
        data = (tree / path).read_bytes()
        if path in made.shell:
            _expect(data == made.shell[path], path, "is not as it comes with the program")
        elif path == "sw.js":
            revealed = {*_WORDS.findall(data), *_NAMES.findall(data)} & words
            _expect(not revealed, path, f"tells {len(revealed)} words of the journal")
        else:
            _expect(_SEALED.fullmatch(path) is not None, path, "has no place in a locked site")
            _expect(
                is_random(data.replace(made.key.cipher.id, b"")), path, "is not random: it is legible in part, or empty"
            )
            word = _first_word_in(data, words, starts)
            _expect(word is None, path, f"tells {word!r}")
            if path in sealed:
                content = content_of(plain, sealed[path])
                _expect(
                    opens_to(made.key.cipher, sealed[path], data, content), path, "does not open to what was locked"
                )


def _expect(is_so: bool, path: str, how: str) -> None:
    if not is_so:
        raise LegibleSite(f"{path} of the locked site {how}; nothing was put into place")


def is_random(data: bytes) -> bool:
    """Whether bytes look as ciphertext does: nothing of them can be packed, in any stretch of 64 KiB."""
    stretches = [data[at : at + 65536] for at in range(0, len(data), 65536)]
    return bool(data) and all(len(zlib.compress(one, 1)) >= len(one) for one in stretches)


def _words_of(plain: Path, made: LockedSite) -> frozenset[bytes]:
    """What a host must not read: every word of seven letters or more, every number with as many digits, and every name
    of several words, that a text of the plain site has and the unlock page and the worker have not; and the names of
    its files."""
    revealed: set[bytes] = set()
    for path in files_below(plain):
        if path.endswith(_TEXTS) and not is_left_out(path) and not path.startswith("static/"):
            text = (plain / path).read_bytes()
            revealed.update(_WORDS.findall(text), _NAMES.findall(text))
        revealed.update(_WORDS.findall(path.encode()))
    shown = set[bytes]()
    for text in _shown(made):
        shown.update(_WORDS.findall(text), _NAMES.findall(text))
    return frozenset(revealed - shown)


def _shown(made: LockedSite) -> Iterator[bytes]:
    from journal.cache.resources import find_resources
    from journal.site.build.offline import worker_text

    yield from made.shell.values()
    yield worker_text(find_resources() / "static", made.build).encode()
    yield "\n".join(made.shell).encode()


def _first_word_in(data: bytes, words: frozenset[bytes], starts: frozenset[bytes]) -> str | None:
    """The first of the words that is in the bytes, also within a longer one; None where there is none. starts: of
    the words, which few stretches of random bytes have."""
    for run in _LEGIBLE.findall(data):
        for at in range(len(run) - _SHORTEST_WORD + 1):
            if run[at : at + _SHORTEST_WORD] in starts:
                ends = range(at + _SHORTEST_WORD, len(run) + 1)
                if word := next((run[at:end] for end in ends if run[at:end] in words), None):
                    return str(word.decode("utf-8", "replace"))
    return None
