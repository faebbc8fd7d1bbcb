"""The check at the end of every locked build: each new file opened again, and searched for anything legible."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator
from pathlib import Path

from journal.cache.resources import files_below
from journal.locking.locked_site import FILES, LockedSite, content_of, files_in, opens_to, stored_at
from journal.problems import Refusal
from journal.site.build.offline import is_left_out

_SEALED = re.compile(rf"(?:{FILES}/[0-9a-f]{{32}}\.bin|offline/[0-9a-f]{{32}}\.(?:bin|bundle))")
_TOLD_FROM = 7
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
    starts = frozenset(word[:_TOLD_FROM] for word in words)
    for path in sorted(new):
        data = (tree / path).read_bytes()
        if path in made.shell:
            _expect(data == made.shell[path], path, "is not as it comes with the program")
        elif path == "sw.js":
            told = {*_WORDS.findall(data), *_NAMES.findall(data)} & words
            _expect(not told, path, f"tells {len(told)} words of the journal")
        else:
            _expect(_SEALED.fullmatch(path) is not None, path, "has no place in a locked site")
            _expect(
                is_random(data.replace(made.key.cipher.id, b"")), path, "is not random: it is legible in part, or empty"
            )
            word = _told(data, words, starts)
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
    told: set[bytes] = set()
    for path in files_below(plain):
        if path.endswith(_TEXTS) and not is_left_out(path) and not path.startswith("static/"):
            text = (plain / path).read_bytes()
            told.update(_WORDS.findall(text), _NAMES.findall(text))
        told.update(_WORDS.findall(path.encode()))
    shown = set[bytes]()
    for text in _shown(made):
        shown.update(_WORDS.findall(text), _NAMES.findall(text))
    return frozenset(told - shown)


def _shown(made: LockedSite) -> Iterator[bytes]:
    from journal.cache.resources import find_resources
    from journal.site.build.offline import worker_text

    yield from made.shell.values()
    yield worker_text(find_resources() / "static", made.build).encode()
    yield "\n".join(made.shell).encode()


def _told(data: bytes, words: frozenset[bytes], starts: frozenset[bytes]) -> str | None:
    """The first of the words that stands in the bytes, also within a longer one; None where there is none. starts: of
    the words, which few stretches of random bytes have."""
    for run in _LEGIBLE.findall(data):
        for at in range(len(run) - _TOLD_FROM + 1):
            if run[at : at + _TOLD_FROM] in starts:
                ends = range(at + _TOLD_FROM, len(run) + 1)
                if word := next((run[at:end] for end in ends if run[at:end] in words), None):
                    return str(word.decode("utf-8", "replace"))
    return None
