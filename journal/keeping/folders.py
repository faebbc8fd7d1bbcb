"""Which folders a command works on: the journal, its site, its cache."""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import platformdirs

from journal.keeping import cache
from journal.keeping.shelf import checkout_root
from journal.keeping.turns import LOCK_NAME
from journal.reading.folder import SETTINGS_NAME, SITE_MARK
from journal.refusal import Refusal

APP_NAME = "field-fruiting-journal"
_IN_A_CACHE = frozenset({cache.TAG_NAME, cache.PICTURES_NAME, LOCK_NAME})


def journal_folder(folder: Path) -> Path:
    """The journal's folder, absolute, links resolved; raises Refusal where there is no such folder."""
    if not folder.exists():
        raise Refusal(f"there is no folder {folder}; `journal start {folder}` makes a new journal there")
    if not folder.is_dir():
        raise Refusal(f"{folder} is a file; name the folder that holds the journal")
    return folder.resolve()


def new_folder(folder: Path) -> None:
    """Raises Refusal where no journal can begin in this folder."""
    if (folder / SETTINGS_NAME).exists():
        raise Refusal(f"{folder} is a journal already; nothing was changed")
    if (folder / SITE_MARK).exists():
        raise Refusal(f"{folder} is a built site, which the next build replaces; name another folder")
    if folder.exists() and not folder.is_dir():
        raise Refusal(f"{folder} is a file; name a folder")


def not_a_journal(root: Path) -> Refusal:
    """What to say of a folder that holds neither settings nor entries."""
    if (root / SITE_MARK).exists():
        return Refusal(f"{root} is a built site, not a journal; name the folder that holds the entries")
    return Refusal(
        f"{root} holds no {SETTINGS_NAME} and no entry; name the journal's folder, or begin one: "
        "`journal start my-journal`"
    )


def site_folder(root: Path, to: Path | None) -> Path:
    """Where the site goes: where asked, else `build/site` for the sample in a checkout, else `site` beside the journal.

    Absolute, links resolved.
    """
    if to is not None:
        return to.resolve()
    checkout = checkout_root()
    if checkout is not None and root == checkout / "sample_entries":
        return checkout / "build" / "site"
    return (root.parent / "site").resolve()


def shares_folder(root: Path, to: Path | None) -> Path:
    """Where shares go, each in a folder of its name: where asked, else a folder `shares` beside the site.

    Absolute, links resolved.
    """
    return to.resolve() if to is not None else site_folder(root, None).parent / "shares"


@contextmanager
def cache_folder(root: Path, site: Path | None, asked: Path | None, notice: Callable[[str], object]) -> Iterator[Path]:
    """A folder that may be written for what is worth remembering; raises Refusal where the one asked for cannot be.

    Where none is asked for and the user's own cache folder cannot be written, it is gone again after the run.
    """
    if asked is not None:
        folder = asked.resolve()
        _refuse_cache(folder, root, site)
        _make_writable(folder)
        yield folder
        return
    name = hashlib.sha256(os.fsencode(root)).hexdigest()[:16]
    folder = Path(platformdirs.user_cache_dir(APP_NAME, appauthor=False)) / name
    try:
        _make_writable(folder)
    except Refusal:
        notice(f"{folder} cannot be written, so the next build will begin afresh; --cache names another folder")
        with tempfile.TemporaryDirectory(prefix="journal-") as temporary:
            yield Path(temporary).resolve()
        return
    yield folder


def _refuse_cache(folder: Path, root: Path, site: Path | None) -> None:
    for other, what in ((root, "the journal"), (site, "the site")):
        if other is not None and (folder.is_relative_to(other) or other.is_relative_to(folder)):
            raise Refusal(f"--cache {folder} lies in {what}, or holds it; name a folder apart from both")
    if folder.is_dir() and (strangers := sorted(p.name for p in folder.iterdir() if not _is_ours(p.name))):
        raise Refusal(f"--cache {folder} holds other files ({strangers[0]}); name an empty or a new folder")


def _is_ours(name: str) -> bool:
    return name in _IN_A_CACHE or name.startswith(cache.DATABASE_NAME)


def _make_writable(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise Refusal(f"the cache folder {folder} cannot be written ({error.strerror})") from error
