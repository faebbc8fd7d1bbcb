"""From the text of a key to what was measured: the size of a colony, the file of a core log."""

from __future__ import annotations

import re

from journal import quantities
from journal.model import Colony
from journal.problems import Unreadable, shortened
from journal.quantities import Parsed, normalised

_COLONY = re.compile(
    r"(?:(?:no\. ?|#)?(?P<part>[1-9][0-9]{0,5}) ?: ?)?"
    r"(?P<one>[0-9][0-9.,]*) ?(?:[x×*] ?(?P<other>[0-9][0-9.,]*) ?)?(?P<unit>mm|cm|in)\.?",
    re.IGNORECASE,
)
_COLONY_FIX = "write two diameters at right angles, like 34 × 36 mm"
_WIDEST_MM = 400.0


def colony(text: str) -> Parsed[Colony]:
    """Two diameters of a colony: `34 × 36 mm`, `3.4 x 3.6 cm`, `1: 34 × 36 mm` of plate 1; one alone is both."""
    found = _COLONY.fullmatch(normalised(text))
    if not found:
        raise Unreadable(f"{shortened(text)} is not the size of a colony", _COLONY_FIX)
    sizes = [quantities.length_m(f"{found[name] or found['one']} {found['unit']}") for name in ("one", "other")]
    one_mm, other_mm = (float(size.value) * 1000 for size in sizes)
    if not (0 < one_mm <= _WIDEST_MM and 0 < other_mm <= _WIDEST_MM):
        raise Unreadable(f"{shortened(text)} is not the size of a colony", _COLONY_FIX)
    part = int(found["part"]) if found["part"] else None
    return Parsed(Colony(part, (one_mm, other_mm)), sizes[0].remarks + sizes[1].remarks)


def log_file(text: str) -> Parsed[tuple[str, str | None]]:
    """The name of a CSV file, with that of a column after a colon and a space where there is one."""
    name, _, column = (part.strip() for part in text.partition(": "))
    if not name.casefold().endswith(".csv"):
        raise Unreadable(f"{shortened(name)} is not a CSV file", "name a file that ends in .csv, beside the entry")
    return Parsed((name, column or None))
