"""A finished plain site into its place as a locked one: locked beside what is there, checked, counted, exchanged."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from journal.locking.checker import check_locked
from journal.locking.key_file import KeyFile
from journal.locking.locked_site import FILES, Kind, LockedSite, lock_site
from journal.reading.listing import SITE_MARK
from journal.site.build.swap import LOCKED_SENTENCE, clean_up, new_tree, put_in_place


@dataclass(frozen=True, slots=True)
class Placed:
    """A locked site in its place. keys: as they are kept since. unchanged: it was there already."""

    keys: KeyFile
    unchanged: bool
    made: LockedSite


def place_locked(plain: Path, target: Path, keys: KeyFile, site: str, kind: Kind) -> Placed:
    """Locks a plain site, checks what came of it, and puts it at the target, whole or not at all. target: absolute,
    ours to replace. Raises LegibleSite where the check fails, OSError where the disk refuses."""
    clean_up(target)
    earlier = target if is_locked_site(target) else None
    with new_tree(target, says=LOCKED_SENTENCE) as tree:
        made = lock_site(plain, tree, keys.sites[site], kind, earlier)
        check_locked(plain, tree, made)
        unchanged = earlier is not None and made.key == keys.sites[site] and _is_same(tree, earlier, made)
        if not unchanged:
            keys = keys.keep(site, made.key)  # first: no two builds may bear one number
            put_in_place(tree, target)
    return Placed(keys, unchanged, made)


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
        told = json.loads((folder / "lock.json").read_bytes())
        return str(told["key"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _is_same(tree: Path, earlier: Path, made: LockedSite) -> bool:
    """Whether the earlier site has the same files, of the same bytes."""
    names = [{one.relative_to(site) for one in site.rglob("*") if one.is_file()} for site in (tree, earlier)]
    new = (name for name in names[0] if name.as_posix() not in made.kept)
    return names[0] == names[1] and all((tree / name).read_bytes() == (earlier / name).read_bytes() for name in new)
