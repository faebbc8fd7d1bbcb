"""`journal build` if nothing has changed: ends before the rest of the program is loaded."""

from __future__ import annotations

import hashlib
import os
import sys
import time

from journal.cache.unchanged import (
    APP_NAME,
    PACKAGE,
    is_as_seen,
    is_unchanged,
    lock_of,
    read_record,
    record_file,
    usual_key_file,
)
from journal.reading.listing import journal_around

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

_OPTIONS = ("--to", "--cache", "--keys")
_LOCKED = "--locked"


def is_over(arguments: Sequence[str]) -> bool:
    """Whether these arguments ask for a build that would change nothing; if so, the message is already printed. In any
    doubt the answer is no, and the full command decides."""
    began_s = time.monotonic()
    asked = _asked(arguments)
    if asked is None:
        return False
    try:
        root = os.path.realpath(asked.get("folder", "."), strict=True)
        if journal_around(root) not in (root, None):
            return False
        site = os.path.realpath(asked["--to"]) if "--to" in asked else _usual_site(root)
        cache = os.path.realpath(asked["--cache"]) if "--cache" in asked else _usual_cache(root)
        record = read_record(record_file(cache, site))
        if record is None or "seen" not in record or _is_being_built(site):
            return False
        is_same = is_unchanged if record["seen"] is None else is_as_seen
        if not is_same(record, root, site, _lock(asked, root, bool(record.get("is_by_settings")))):
            return False
        notices = [str(line) for line in record["notices"]]
    except (OSError, KeyError, TypeError, ValueError):
        return False
    for line in notices:
        sys.stderr.write(line.replace("\0", f"{time.monotonic() - began_s:.1f}") + "\n")
    return True


def _asked(arguments: Sequence[str]) -> dict[str, str] | None:
    """The folder and those options of `journal build`; None where anything else is among the arguments."""
    if not arguments or arguments[0] != "build":
        return None
    asked: dict[str, str] = {}
    rest = list(arguments[1:])
    while rest:
        name, is_joined, value = rest.pop(0).partition("=")
        if name in _OPTIONS and (is_joined or rest):
            value = value if is_joined else rest.pop(0)
        elif name == _LOCKED and not is_joined:
            value = "yes"
        elif name.startswith("-") or is_joined:
            return None
        else:
            name, value = "folder", name
        if name in asked or not value:
            return None
        asked[name] = value
    return asked


def _lock(asked: Mapping[str, str], root: str, is_by_settings: bool) -> dict[str, str] | None:
    """What the site is to be locked with, as the record has it; None for a plain one. Raises ValueError where the whole
    command has something to say of it."""
    if _LOCKED not in asked and not is_by_settings:
        if "--keys" in asked:
            raise ValueError("--keys without --locked")
        return None
    file = os.path.realpath(asked["--keys"]) if "--keys" in asked else usual_key_file(root)
    if os.environ.get("JOURNAL_PASSPHRASE") or (os.name == "posix" and os.stat(file).st_mode & 0o077):
        raise ValueError("a passphrase to be looked at, or keys that others can read")
    return lock_of(file)


def _usual_site(root: str) -> str:
    """As `folders.site_folder` finds it."""
    checkout = os.path.dirname(PACKAGE)
    is_sample = root == os.path.join(checkout, "sample_entries")
    if is_sample and os.path.isfile(os.path.join(checkout, "pyproject.toml")):
        return os.path.join(checkout, "build", "site")
    return os.path.realpath(os.path.join(os.path.dirname(root), "site"))


def _usual_cache(root: str) -> str:
    """As `folders.cache_folder` finds it."""
    import platformdirs

    user = platformdirs.user_cache_dir(APP_NAME, appauthor=False)
    return os.path.join(user, hashlib.sha256(os.fsencode(root)).hexdigest()[:16])


def _is_being_built(site: str) -> bool:
    """Whether there is a tree beside the site that another build is making, or that a stopped one has left."""
    folder, name = os.path.split(site)
    return any(found.startswith((f".{name}.new-", f".{name}.ready-", f".{name}.old-")) for found in os.listdir(folder))
