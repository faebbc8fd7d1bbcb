"""The folders that a command makes: whose each is, and one command at a time at it.

What is known of a folder NAME lies in a hidden file beside it, `.NAME.of`, never in it, since what is in it is handed
on: the way to the journal from there, and the lock. Where nothing can be written beside it, the file lies in the
user's cache folder.
"""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import platformdirs

from journal.keeping.folders import APP_NAME
from journal.keeping.turns import hold
from journal.refusal import Refusal

_STATE = re.compile(r"\.(?P<name>.+)\.(?:new|ready|old)-[0-9a-f]{8}")


def without_state(path: Path) -> Path:
    """A path as it will be once the tree that is being made has its place: `.site.new-0123abcd/x` is `site/x`."""
    return Path(*(found["name"] if (found := _STATE.fullmatch(part)) else part for part in path.parts))


@contextmanager
def at_target(target: Path, journal: Path, waiting: Callable[[], object], within: Path | None = None) -> Iterator[None]:
    """The time in which a command may put things at `target`, which is this journal's then.

    Both are absolute, with links resolved. waiting: called once, if another command is at work there. within: the
    folder beside which the hidden file lies, where that is not the target itself. Raises Refusal where what lies at
    the target is of another journal that is still there; a target of which nothing is known is taken over.
    """
    with _opened(target, within or target, waiting) as file:
        owner = _owner(file)
        if os.path.lexists(target) and owner and os.path.isdir(owner) and not _is_same(owner, journal):
            raise Refusal(
                f"{target} was made from another journal, {owner}, and what is made of one never takes the place of "
                f"what is of another; name a folder of its own for {journal} with --to"
            )
        is_known = owner is not None
        try:
            _write(file, _way_to(journal, file.parent))
            yield
            is_known = True
        finally:
            if not is_known or not os.path.lexists(target):
                file.unlink(missing_ok=True)


@contextmanager
def _opened(target: Path, beside: Path, waiting: Callable[[], object]) -> Iterator[Path]:
    name = f".{beside.name}.of" if beside == target else f".{beside.name}.{target.name}.of"
    made = [folder for folder in beside.parents if not folder.exists()]
    for file in (beside.with_name(name), _in_cache(target)):
        is_new = not file.exists()
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.open("a").close()
        except OSError:
            continue
        try:
            with hold(file, waiting):
                is_new = False  # now it is for who has the turn to say whether it stays
                yield file
        finally:
            if is_new:
                with suppress(OSError):
                    file.unlink()
            for folder in made:
                with suppress(OSError):
                    folder.rmdir()
        return
    raise Refusal(f"nothing can be written beside {beside}; name a folder elsewhere with --to")


def _in_cache(target: Path) -> Path:
    name = hashlib.sha256(os.fsencode(target)).hexdigest()[:16]
    return Path(platformdirs.user_cache_dir(APP_NAME, appauthor=False)) / "targets" / f"{name}.of"


def _way_to(journal: Path, folder: Path) -> str:
    """Relative, so that both may move together; absolute where there is no such way (another drive)."""
    try:
        return os.path.relpath(journal, folder)
    except ValueError:
        return str(journal)


def _owner(file: Path) -> Path | None:
    written = _read(file)
    return Path(os.path.normpath(file.parent / written)) if written else None


def _read(file: Path) -> str:
    return os.fsdecode(file.read_bytes()).strip("\n").replace("\0", "")


def _write(file: Path, text: str) -> None:
    """Into the file itself, since the lock is on it."""
    data = os.fsencode(text) + b"\n"
    if file.read_bytes() != data:
        with file.open("r+b") as opened:
            opened.write(data)
            opened.truncate()


def _is_same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except OSError:
        return False
