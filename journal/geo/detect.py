"""Positions found in a text, in any notation.

They are taken out of a shared text whatever they name, so they may be found too readily: `1.2345` is taken for half a
one.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

Span = tuple[int, int]
"""Where in a text something begins and ends."""

_WORD = (
    "zero|oh|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|thirteen|fourteen|fifteen|sixteen|seventeen"
    "|eighteen|nineteen|twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety|hundred|thousand"
)

NUMBER_WORDS = rf"(?i:(?:{_WORD})\b(?:(?:[ -]| and )(?:{_WORD})\b){{0,6}})"
"""A pattern of a number in words, of any size: `two hundred and fourteen`."""

_DEC = r"[0-9]{1,3}[.,][0-9]"
_SIDE = r"(?:[NSEW]\b|north\b|south\b|east\b|west\b)"
_SIXTY = "(?:60|[0-5]?[0-9])"  # 60 is read too, and carries over
_MINUTES = rf"{_SIXTY}(?:[.,][0-9]+)?"
_OLC = "[23456789CFGHJMPQRVWX]"
_NO_MEASURE = (
    r"(?![0-9])"
    r"(?! ?(?:kg|g|mg|t|lbs?|oz|l|ml|cl|dl|m|cm|mm|km|m\u00b2|h|min|s|ppm|%|kPa|hPa|bar|psi|K|kWh?|V|A"
    r"|kg/\w+|g/\w+)(?!\w))"
)
"""What follows a number of four decimals that is not an angle: not a unit, and not the rest of its digits."""
_LABELS = r"batch|lot|code|strain|isolate|label|serial|no|no\.|nr|nr\.|number|order|model|part|item"
_NO_LABEL = "".join(rf"(?<!\b(?i:{word}) )" for word in _LABELS.split("|"))
"""What stands before letters and digits that are no square of a grid."""
_TO_NEXT = r"[\s,;/&|]{1,6}"

_DEGREES = (
    r"geo:[^\s)>\]]+",
    r"(?<![0-9A-Za-z])[+-][0-9]{2,6}(?:[.,][0-9]+)?[+-][0-9]{3,7}(?:[.,][0-9]+)?(?:[+-][0-9]+(?:\.[0-9]+)?)?(?:CRS\w*)?/?",
    # decimal: two with three decimals or more, any with four, any with a letter for its side
    rf"[+-]?{_DEC}{{3,}} ?°?{_TO_NEXT}[+-]?{_DEC}{{3,}} ?°?",
    rf"(?:\b[NSEW] ?)?[+-]?(?<![0-9])(?<![0-9][.,]){_DEC}{{4,}}{_NO_MEASURE} ?°?(?: ?{_SIDE})?",
    rf"[+-]?\b{_DEC}* ?°? ?{_SIDE}[\s,;/]*[+-]?{_DEC}* ?°? ?{_SIDE}",
    rf"\b[NSEW] ?{_DEC}*°?[\s,;/]*[NSEW] ?{_DEC}*°?",
    rf"[+-]?\b{_DEC}{{2,}} ?°? ?{_SIDE}",
    r"[0-9]{1,3}(?:[.,][0-9]+)? ?° ?[NSEW]\b",
    r"\b[NSEW] ?[0-9]{1,3}(?:[.,][0-9]+)? ?°",
    r"\b[0-9]{1,2} ?[NS][\s,;/]+[0-9]{1,3} ?[EW]\b",
    # decimal, its point set apart, left out or said
    r"[+-]?\b[0-9]{1,3}[.,]\s[0-9]{5,}",
    rf"[+-]?\b[0-9]{{1,3}}[ '][0-9]{{5,}}{_TO_NEXT}[+-]?[0-9]{{1,3}}[ '][0-9]{{5,}}",
    rf"[+-]?\b[0-9]{{1,3}} (?i:point|comma|dot) [0-9]{{3,}}(?: ?(?i:deg(?:rees?)?))?(?: ?{_SIDE})?",
    rf"[+-]?\b[0-9]{{1,3}} (?i:point|comma|dot) [0-9]{{1,2}}(?: ?(?i:deg(?:rees?)?))?[\s,]{{1,3}}{_SIDE}",
    # minutes and seconds
    rf"[0-9]{{1,3}} ?° ?{_MINUTES} ?(?:'+|\"|[NSEW]\b)(?: ?{_MINUTES} ?(?:\"|''|[NSEW]\b)?)?(?: ?{_SIDE})?",
    rf"\b[0-9]{{1,3}}(?:[ :]{_MINUTES}){{1,2}} ?{_SIDE}",
    rf"\b[0-9]{{1,3}}-{_SIXTY}-{_MINUTES} ?[NSEW]\b",
    rf"\b[NSEW] ?[0-9]{{1,3}}(?:(?:[ :]|° ?){_MINUTES}){{1,2}}",
    rf"[0-9]{{1,3}} ?(?:degrees?|deg\.?|d) ?(?:{_MINUTES} ?(?:minutes?|min\.?|m|') ?)?"
    rf"(?:{_MINUTES} ?(?:seconds?|sec\.?|s|\") ?)?{_SIDE}",
    r"\b[0-9]{4}(?:[0-9]{2})?(?:[.,][0-9]+)? ?[NS][\s,;/]*[0-9]{5}(?:[0-9]{2})?(?:[.,][0-9]+)? ?[EW]\b",
    r"\b[NS] ?[0-9]{4}(?:[0-9]{2})?(?:[.,][0-9]+)?[\s,;/]*[EW] ?[0-9]{4,5}(?:[0-9]{2})?(?:[.,][0-9]+)?\b",
)  # fmt: skip

_METRES = r"[0-9]{6,7}(?:[.,][0-9]+)?(?: ?(?:m ?[NE]|m[NE]|[NE]|m)\b)?"
_ZONE = r"(?:\b[0-9]{1,2} ?[A-Za-z]?\b[\s,]*)?"
_GRIDS = (
    # open location codes, whole and short; before MGRS, which they may begin like
    rf"(?<!\w)(?=[0-9+]{{0,15}}[A-Z]){_OLC}{{4,8}}\+{_OLC}{{2,7}}(?!\w)",
    # metres east and north, and north and east
    rf"{_ZONE}(?:\bE ?)?0?{_METRES}[\s,;/]{{1,4}}(?:N ?)?[0-9]{{7}}(?:[.,][0-9]+)?(?: ?(?:m ?N|mN|N|m)\b)?",
    rf"(?:\bN ?)?\b[0-9]{{7}}(?:[.,][0-9]+)?(?: ?(?:m ?N|mN|N|m)\b)?[\s,;/]{{1,4}}(?:E ?)?{_METRES}",
    rf"{_ZONE}\b[0-9]{{3}} [0-9]{{3}} ?E?[\s,;/]{{1,4}}[0-9]{{1,2}} [0-9]{{3}} [0-9]{{3}}(?: ?N\b)?",
    # MGRS, and grids with one letter or two before their digits
    r"\b[0-9]{1,2} ?[C-HJ-NP-Xc-hj-np-x] ?[A-HJ-NP-Za-hj-np-z]{2} ?"
    r"(?:[0-9]{1,5} [0-9]{1,5}|[0-9]{2}(?:[0-9]{2}){0,4})\b",
    r"\bMGRS\W{1,3}\w+(?: [A-Z]{2})?(?: ?[0-9]+){0,2}",
    rf"{_NO_LABEL}"
    r"\b[HJNOST][A-HJ-Z] ?(?:[0-9]{5} ?[0-9]{5}|[0-9]{4} ?[0-9]{4}|[0-9]{3} ?[0-9]{3}|[0-9]{2} ?[0-9]{2})\b(?!-)",
    rf"{_NO_LABEL}"
    r"\b(?i:[HJNOST][A-HJ-Z]) (?:[0-9]{3} [0-9]{3}|[0-9]{4} [0-9]{4}|[0-9]{5} [0-9]{5})\b",
    rf"{_NO_LABEL}" r"\b[A-HJ-Z](?: ?[0-9]{3} ?[0-9]{3}| ?[0-9]{4} [0-9]{4}| ?[0-9]{5} ?[0-9]{5})\b(?!-)",
    rf"{_NO_LABEL}" r"\b[A-Z]{2,3} (?:[0-9]{3} [0-9]{3}|[0-9]{4} [0-9]{4}|[0-9]{5} [0-9]{5})\b",
    # squares of radio amateurs, tiles of maps, words that stand for a square
    r"\b(?i:[A-R]{2}[0-9]{2}[A-X]{2}(?:[0-9]{2})?)\b",
    r"(?i:\b(?:maidenhead|locator|qth)\b)\W{0,3}(?:(?i:grid|square|is)\W{1,2})?(?i:[A-R]{2}[0-9]{2}\w*)",
    r"(?<![0-9/])[0-9]{1,2}/[0-9]{3,8}/[0-9]{3,8}(?![0-9/])",
    r"(?i:\bquad-?key\b)\W{0,3}[0-3]{4,}",
    r"///\s?\w+(?:\.\w+){2}",
    r"(?i:\b(?:what3words|w3w)\b)\W{0,4}(?:\w+[. ]?){0,3}",
    r"(?i:\bgeohash\b)\W{1,3}\w{3,12}",
)  # fmt: skip

_HEIGHT = r"\d+(?:[.,]\d+)? ?(?i:m|ft|feet|met(?:re|er)s?)\b"
_BESIDE_A_WORD = (
    r"(?i:\b(?:lat|latitude|lon|lng|longitude|northing|easting|coords?|coordinates?|waypoint|grid ref(?:erence)?)\b"
    r"[^\d\n+-]{0,12}[+-]?\d[\d.,]*(?: \d[\d.,]*){0,3}°?)",
    r"(?i:\blong[.:=] ?[+-]?\d[\d.,]*°?)",
    r"(?i:\b(?:elevation|altitude|contour|height above (?:the )?sea(?: level)?)\b[^\d\n]{0,12}\d+(?:[.,]\d+)?"
    r"(?: ?(?:m|ft|feet|met(?:re|er)s?)\b)?)",
    rf"\b{_HEIGHT} (?i:(?:of )?(?:elevation|altitude)|(?:up|on) (?:the|a) (?:hill|slope|brae|fell|ben|mountain))\b",
    r"(?i:\b\d+(?:[.,]\d+)? ?(?:m|ft|feet|met(?:re|er)s?) ?(?:a\.?s\.?l\.?\b|above (?:the )?sea))",
)  # fmt: skip

_POINT = r"(?i:point|comma|dot)"
_WORDED_SIDE = r"(?i:north|south|east|west)(?i:erly)?\b"
_IN_WORDS = (
    rf"\b{NUMBER_WORDS} ?(?i:degrees?|deg)\b[\s,]*(?:{NUMBER_WORDS} ?(?i:minutes?|min)\b[\s,]*)?"
    rf"(?:{NUMBER_WORDS} ?(?i:seconds?|sec)\b[\s,]*)?{_WORDED_SIDE}",
    rf"\b{NUMBER_WORDS} {_POINT} {NUMBER_WORDS}(?: (?i:degrees?|deg)\b)?[\s,]{{1,3}}{_WORDED_SIDE}",
    rf"\b(?i:north|south|east|west|lat(?:itude)?|lon(?:g(?:itude)?)?)\b[\s,:=]{{1,3}}"
    rf"(?:(?i:minus|plus|is|of) ){{0,2}}{NUMBER_WORDS}(?: {_POINT} {NUMBER_WORDS})?(?: (?i:degrees?|deg)\b)?",
    rf"\b(?i:minus) {NUMBER_WORDS} {_POINT} {NUMBER_WORDS}",
    rf"\b{NUMBER_WORDS} {_POINT} {NUMBER_WORDS} (?i:degrees?)"
    rf"(?= ?(?:[,;/]|(?i:and|by)\b) ?(?:(?i:minus|plus) )?{NUMBER_WORDS} {_POINT})",
    rf"\b{NUMBER_WORDS} {_WORDED_SIDE}[\s,;]*(?i:and |by )?{NUMBER_WORDS} {_WORDED_SIDE}",
    rf"\b{NUMBER_WORDS} (?i:point)(?: (?i:oh|zero|one|two|three|four|five|six|seven|eight|nine)\b){{3,}}"
    rf"(?: (?i:degrees?))?(?: {_WORDED_SIDE})?",
)  # fmt: skip

_NOTATIONS = (*_DEGREES, *_GRIDS, *_BESIDE_A_WORD, *_IN_WORDS)
# what each begins with, so that none is tried within a word
_POSITION = re.compile(rf"(?=[0-9+\-/]|geo:|\b\w)(?:{'|'.join(f'(?:{one})' for one in _NOTATIONS)})")


def positions_in(plain: str) -> Iterator[Span]:
    """Where a text, as it reads (see `sharing/normalise.py`), gives a position or half of one, in any notation."""
    return (found.span() for found in _POSITION.finditer(plain))


_DOTTED_WORDS = re.compile(
    r"(?<![\w./@-])(?!www\.)[a-z]{3,}\.[a-z]{3,}\.(?!(?:com|org|net|edu|gov)(?!\w))[a-z]{3,}(?![\w/@-])"
)


def perhaps_positions_in(plain: str) -> Iterator[Span]:
    """Where a text has what may be a position, and as well something else: three words with dots between them."""
    return (found.span() for found in _DOTTED_WORDS.finditer(plain))


def merged(spans: Iterable[Span]) -> Iterator[Span]:
    """Stretches in order, those that touch or overlap made one."""
    start = end = -1
    for next_start, next_end in sorted(spans):
        if next_start > end:
            if end > start:
                yield start, end
            start, end = next_start, next_end
        end = max(end, next_end)
    if end > start:
        yield start, end
