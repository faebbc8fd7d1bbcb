"""From the text of a key to what was measured: the size of a colony, minutes of work, the file of a core log."""

from __future__ import annotations

import re

from journal import quantities
from journal.analysis.limits import limit
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
    """Two diameters of a colony: `34 × 36 mm`, `3.4 x 3.6 cm`, `1: 34 × 36 mm` of plate 1; one alone
    is both, with a remark, and so has one wider than any dish."""
    found = _COLONY.fullmatch(normalised(text))
    if not found:
        raise Unreadable(f"{shortened(text)} is not the size of a colony", _COLONY_FIX)
    sizes = [quantities.length_m(f"{found[name] or found['one']} {found['unit']}") for name in ("one", "other")]
    one_mm, other_mm = (float(size.value) * 1000 for size in sizes)
    if not (0 < one_mm <= _WIDEST_MM and 0 < other_mm <= _WIDEST_MM):
        raise Unreadable(f"{shortened(text)} is not the size of a colony", _COLONY_FIX)
    part = int(found["part"]) if found["part"] else None
    read = Parsed(Colony(part, (one_mm, other_mm)), sizes[0].remarks + (sizes[1].remarks if found["other"] else ()))
    if found["other"] is None:
        read = read.noting(f"{shortened(text)} is one diameter, which counts as both", _COLONY_FIX)
    if not limit("colony_mm").allows(max(one_mm, other_mm)):
        return read.noting(f"{shortened(text)} is wider than any dish", "check the number and its unit")
    return read


_WHOLE = re.compile(r"[+-]?[0-9 ]+")
_BARE = re.compile(r"[0-9]+[.,][0-9]+")
_HOURS_MINUTES = re.compile(r"([0-9]{1,2}) ?(?:h|hrs?|hours?|:) ?([0-5]?[0-9]) ?m?")
_SOME_HOUR = re.compile(r"(?:a )?(.+?) ?h(?:(?:ou)?rs?)?")
_HOUR_WORDS = {
    "quarter of an": 15,
    "quarter": 15,
    "half an": 30,
    "half": 30,
    "½": 30,
    "1/2": 30,
    "an": 60,
    "one": 60,
    "1½": 90,
}
"""Minutes of what is said before `hour`."""


def working_min(text: str) -> Parsed[float]:
    """Minutes of work, 0 or more: `25`, `25 min`, `1.5 h`, `1 h 30 min`. Of other ways to write them (`1h30`, `half an
    hour`) the fix says which of these is meant."""
    plain = normalised(text).casefold()
    if _WHOLE.fullmatch(plain):
        return quantities.count(text).then(float)
    try:
        return quantities.duration_min(text)
    except Unreadable as fault:
        some_hour = _SOME_HOUR.fullmatch(plain)
        message, meant = f"{shortened(text)} cannot be read as minutes", ""
        if clock := _HOURS_MINUTES.fullmatch(plain):
            meant = f"{clock[1]} h {int(clock[2])} min"
        elif some_hour and (minutes := _HOUR_WORDS.get(some_hour[1])):
            meant = f"{minutes} min"
        elif _BARE.fullmatch(plain):
            meant = f"{plain} h or {plain} min"
        if meant:
            raise Unreadable(message, f"write {meant}") from None
        raise Unreadable(fault.message, "write it like 25, 25 min, 1.5 h or 1 h 30 min") from None


def log_file(text: str) -> Parsed[tuple[str, str | None]]:
    """The name of a CSV file, with that of a column after a colon and a space where there is one."""
    name, _, column = (part.strip() for part in text.partition(": "))
    if not name.casefold().endswith(".csv"):
        raise Unreadable(f"{shortened(name)} is not a CSV file", "name a file that ends in .csv, next to the entry")
    return Parsed((name, column or None))
