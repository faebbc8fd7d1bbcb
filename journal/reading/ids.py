"""IDs: what may be one, and what is named by one."""

from __future__ import annotations

import re

from journal.model import Ref
from journal.problems import Unreadable, shortened

_ID = re.compile(r"[A-Za-z][A-Za-z0-9-]{0,31}")
_PART = re.compile(r"\.0*([1-9][0-9]{0,5})")
# Windows' device names, which no file or folder may bear. Source: Microsoft, Naming Files, Paths, and Namespaces.
RESERVED = frozenset({"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))})

# Pages of the site that lie where the pages of IDs lie: a thing with that ID would have no page of its own.
TAKEN = frozenset({"side-by-side"})


def parse_id(text: str) -> str:
    """The ID as written, white space around it dropped. Raises Unreadable where it can be none."""
    found = text.strip()
    if not _ID.fullmatch(found) or found.endswith("-"):
        raise Unreadable(
            f"{shortened(found)} cannot be an ID",
            "begin with a letter A-Z, then at most 31 letters, digits and hyphens, no hyphen at the end: B-031",
        )
    if found.lower() in RESERVED:
        raise Unreadable(f"{shortened(found)} is a name that Windows keeps for itself", f"add a number: {found}-1")
    if found.lower() in TAKEN:
        raise Unreadable(f"{shortened(found)} is the name of a page of the site", f"add a number: {found}-1")
    return found


def parse_ref(text: str) -> Ref:
    """An ID, or a part of what it names: `B-031.2` is unit 2 of B-031. Raises Unreadable."""
    found = text.strip()
    name, dot, _ = found.partition(".")
    if not dot:
        return Ref(parse_id(found))
    number = _PART.fullmatch(found[len(name) :])
    if not number:
        raise Unreadable(f"{shortened(found)} names no part", "write a number from 1 after the dot: B-031.2")
    return Ref(parse_id(name), int(number[1]))
