"""`journal build` if nothing has changed: ends before the rest of the program is loaded."""

from __future__ import annotations

import hashlib
import os
import sys
import time

from journal.cache.unchanged import PACKAGE, read_record, record_file, stands

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Sequence

_OPTIONS = ("--to", "--cache")


def is_over(arguments: Sequence[str]) -> bool:
    """Whether these arguments ask for a build that would change nothing; if so, the message is already printed. In any
    doubt the answer is no, and the full command decides."""
    began_s = time.monotonic()
    asked = _asked(arguments)
    if asked is None:
        return False
    try:
        root = os.path.realpath(asked.get("folder", "."), strict=True)
        site = os.path.realpath(asked["--to"]) if "--to" in asked else _usual_site(root)
        cache = os.path.realpath(asked["--cache"]) if "--cache" in asked else _usual_cache(root)
        record = read_record(record_file(cache, site))
        if record is None or len(record["unsure"]) > 1 or _is_being_built(site) or not stands(record, root, site):
            return False
        told = [str(line) for line in record["told"]]
    except (OSError, KeyError, TypeError, ValueError):
        return False
    for line in told:
        sys.stderr.write(line.replace("\0", f"{time.monotonic() - began_s:.1f}") + "\n")
    return True


def _asked(arguments: Sequence[str]) -> dict[str, str] | None:
    """The folder and the two options of `journal build`; None where anything else is among the arguments."""
    if not arguments or arguments[0] != "build":
        return None
    asked: dict[str, str] = {}
    rest = list(arguments[1:])
    while rest:
        name, is_joined, value = rest.pop(0).partition("=")
        if name in _OPTIONS and (is_joined or rest):
            value = value if is_joined else rest.pop(0)
        elif name.startswith("-") or is_joined:
            return None
        else:
            name, value = "folder", name
        if name in asked or not value:
            return None
        asked[name] = value
    return asked


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

    user = platformdirs.user_cache_dir("field-fruiting-journal", appauthor=False)
    return os.path.join(user, hashlib.sha256(os.fsencode(root)).hexdigest()[:16])


def _is_being_built(site: str) -> bool:
    """Whether there is a tree beside the site that another build is making, or that a stopped one has left."""
    folder, name = os.path.split(site)
    return any(found.startswith((f".{name}.new-", f".{name}.ready-", f".{name}.old-")) for found in os.listdir(folder))
