"""Where a text tells a place: positions in any notation that is in use, and ways from which one could be reckoned.

What is found here is taken out of a shared text whatever it names, so that it may be found too readily: `1.2345` is
taken for half a position.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

Span = tuple[int, int]

# Positions ---------------------------------------------------------------------------------------------------------

_DEC = r"[0-9]{1,3}[.,][0-9]"
_SIDE = r"(?:[NSEW]\b|north\b|south\b|east\b|west\b)"
_MINUTES = r"[0-5]?[0-9](?:[.,][0-9]+)?"
_OLC = "[23456789CFGHJMPQRVWX]"

_NOTATIONS = (
    r"geo:[^\s)>\]]+",
    r"(?<![0-9A-Za-z])[+-][0-9]{2,6}(?:[.,][0-9]+)?[+-][0-9]{3,7}(?:[.,][0-9]+)?(?:[+-][0-9]+(?:\.[0-9]+)?)?(?:CRS\w*)?/?",
    # decimal degrees: two with three decimals or more, any with four, any with a letter for its side
    rf"[+-]?{_DEC}{{3,}} ?°?[\s,;/&|]{{1,6}}[+-]?{_DEC}{{3,}} ?°?",
    rf"(?:\b[NSEW] ?)?[+-]?{_DEC}{{4,}} ?°?(?: ?{_SIDE})?",
    rf"[+-]?\b{_DEC}* ?°? ?{_SIDE}[\s,;/]*[+-]?{_DEC}* ?°? ?{_SIDE}",
    rf"\b[NSEW] ?{_DEC}*°?[\s,;/]*[NSEW] ?{_DEC}*°?",
    r"[0-9]{1,3}(?:[.,][0-9]+)? ?° ?[NSEW]\b",
    r"\b[NSEW] ?[0-9]{1,3}(?:[.,][0-9]+)? ?°",
    r"\b[0-9]{1,2} ?[NS][\s,;/]+[0-9]{1,3} ?[EW]\b",
    # degrees, minutes, seconds
    rf"[0-9]{{1,3}} ?° ?{_MINUTES} ?(?:'+|\"|[NSEW]\b)(?: ?{_MINUTES} ?(?:\"|''|[NSEW]\b)?)?(?: ?{_SIDE})?",
    rf"\b[0-9]{{1,3}}(?:[ :]{_MINUTES}){{1,2}} ?{_SIDE}",
    rf"\b[NSEW] ?[0-9]{{1,3}}(?:(?:[ :]|° ?){_MINUTES}){{1,2}}",
    rf"[0-9]{{1,3}} ?(?:degrees?|deg\.?) ?(?:{_MINUTES} ?(?:minutes?|min\.?|') ?)?"
    rf"(?:{_MINUTES} ?(?:seconds?|sec\.?|\") ?)?{_SIDE}",
    # grids: UTM, MGRS, two letters or one and two halves of digits, cells with a plus, words behind three strokes
    r"\b(?:[0-9]{1,2} ?[A-Za-z]?\b[\s,]*)?(?:E ?)?[0-9]{6}(?:[.,][0-9]+)? ?(?:m ?E|mE|E|m)?[\s,;/]{1,4}"
    r"(?:N ?)?[0-9]{7}(?:[.,][0-9]+)?(?: ?(?:m ?N|mN|N|m)\b)?",
    r"\b[0-9]{1,2} ?[C-HJ-NP-Xc-hj-np-x] ?[A-HJ-NP-Za-hj-np-z]{2} ?"
    r"(?:[0-9]{1,5} [0-9]{1,5}|[0-9]{2}(?:[0-9]{2}){0,4})\b",
    r"\bMGRS\W{1,3}\w+(?: [A-Z]{2})?(?: ?[0-9]+){0,2}",
    r"\b[HJNOST][A-HJ-Z] ?(?:[0-9]{3} ?[0-9]{3}|[0-9]{4} ?[0-9]{4}|[0-9]{5} ?[0-9]{5})\b",
    r"\b[A-HJ-Z] (?:[0-9]{3} [0-9]{3}|[0-9]{4} [0-9]{4}|[0-9]{5} [0-9]{5})\b",
    rf"(?<!\w)(?=[0-9]*[A-Z]){_OLC}{{4,8}}\+{_OLC}{{2,7}}(?!\w)",
    r"///\w+(?:\.\w+){2}",
    r"(?i:\bgeohash\b)\W{1,3}\w{3,12}",
    # numbers beside a word for them
    r"(?i:\b(?:lat|latitude|lon|lng|longitude|northing|easting|coords?|coordinates?|waypoint|grid ref(?:erence)?)\b"
    r"[^\d\n+-]{0,12}[+-]?\d[\d.,]*\d*°?)",
    r"(?i:\blong[.:=] ?[+-]?\d[\d.,]*°?)",
    r"(?i:\b(?:elevation|altitude)\b[^\d\n]{0,6}\d+(?:[.,]\d+)? ?(?:m|ft|feet|met(?:re|er)s?)\b)",
    r"(?i:\b\d+(?:[.,]\d+)? ?(?:m|ft|feet|met(?:re|er)s?) ?(?:a\.?s\.?l\.?\b|above (?:the )?sea))",
)  # fmt: skip

# Ways --------------------------------------------------------------------------------------------------------------

_POINT = (
    r"(?:(?:N|S|E|W|NE|NW|SE|SW|NNE|ENE|ESE|SSE|SSW|WSW|WNW|NNW)\b"
    r"|(?i:(?:north|south)(?:[- ]?(?:east|west))?(?:erly|ern|wards?)?\b|(?:east|west)(?:erly|ern|wards?)?\b))"
)
_FAR = r"(?i:km|kilomet(?:re|er)s?|mi|miles?|yds?|yards?|paces?|strides?|furlongs?|nautical miles?|leagues?)\b"
_ANY_UNIT = rf"(?:{_FAR}|(?i:m|met(?:re|er)s?|ft|feet|foot|steps?)\b)"
_COUNT = r"(?:[0-9]+(?:[., ][0-9]+)?)"
_TELLING = (
    r"(?i:(?:half|quarter|third)(?: of)? an?|an?|one|two|three|four|five|six|seven|eight|nine|ten|twelve|fifteen|twenty"
    r"|thirty|forty|fifty|sixty|eighty|(?:an?|two|three|four|five|six|seven|eight|nine|few|couple of) hundred|hundred"
    r"|thousand|few)"
)
_FROM = (
    r"(?i:from|past|beyond|before|behind|up|down|along|inland|upstream|downstream|off|into|out|in|to|above|below"
    r"|away|further|uphill|downhill)\b"
)
_WHAT = r"(?:\s+(?i:of|from|past|beyond|behind|above|below|to|the|a|an)\b){0,3}(?:\s+[^\W\d_][\w'-]*)?"
_FILLER = r"\s*,?\s*(?:(?i:or so|roughly|about|due|to the|on|further|more|and)\s+){0,2}"

_WAYS = (
    rf"\b(?:{_COUNT} ?{_ANY_UNIT}|{_TELLING} (?:{_FAR}|(?i:met(?:re|er)s?|feet|steps?)\b)){_FILLER}{_POINT}{_WHAT}",
    rf"\b(?:{_COUNT} ?{_FAR}|{_TELLING} {_FAR}){_FILLER}{_FROM}{_WHAT}",
    rf"\b(?:[0-9]{{2,}}(?:[.,][0-9]+)? ?(?i:m|met(?:re|er)s?|steps?)\b|[3-9][0-9](?:[.,][0-9]+)? ?(?i:ft|feet)\b"
    rf"|[0-9]{{3,}} ?(?i:ft|feet)\b|(?i:\w+ )?(?i:hundred|thousand) (?i:m|met(?:re|er)s?|steps?|feet)\b)"
    rf"{_FILLER}{_FROM}{_WHAT}",
    rf"\b(?:{_COUNT}|{_TELLING}) ?(?i:minutes?'?|mins?|hours?'?|h)[ -](?i:walk|stroll|row|ride|drive|sail|on foot"
    rf"|by (?:boat|bike|car|bus|foot)|uphill|downhill){_WHAT}",
    r"(?i:\b(?:bearing|heading|azimuth)s?\b)[^\d\n]{0,16}[0-9]{1,3}(?:[.,][0-9]+)? ?(?:°|(?i:deg(?:rees?)?)\b)?"
    rf"(?: ?(?i:true|magnetic|mag\.?|T|M)\b)?{_WHAT}",
    r"\b[0-9]{1,3}(?:[.,][0-9]+)? ?(?:°|(?i:deg(?:rees)?)\b) ?(?i:true|magnetic|mag\.?|from|to the|bearing|T|M)\b"
    rf"{_WHAT}",
    rf"\b[NS] ?[0-9]{{1,2}} ?° ?[EW]\b{_WHAT}",
)

_MEASURE = re.compile(
    r"°|\b(?:k?m|kilomet(?:re|er)s?|met(?:re|er)s?|mi|miles?|yds?|yards?|paces?|strides?|steps?|furlongs?|leagues?|ft|feet"
    r"|foot|bearings?|headings?|azimuths?|walk|stroll|row|ride|drive|sail|boat|bike|car|bus|uphill|downhill|deg|degrees?)\b",
    re.IGNORECASE,
)
_REACH = 120

_POSITION = re.compile("|".join(f"(?:{one})" for one in _NOTATIONS))
_WAY = re.compile("|".join(f"(?:{one})" for one in _WAYS))


def positions_in(plain: str) -> Iterator[Span]:
    """Where a text, as it reads (see `folding`), gives a position or half of one, in any notation."""
    return (found.span() for found in _POSITION.finditer(plain))


def ways_in(plain: str) -> Iterator[Span]:
    """Where a text, as it reads, says how far or in which direction something is from something else.

    Not what is nearer than some ten metres: that is how things stand in a tent, or on a log.
    """
    for start, end in _near_a_measure(plain):
        yield from (found.span() for found in _WAY.finditer(plain, start, end))


def _near_a_measure(plain: str) -> Iterator[Span]:
    """The stretches of a text in which a measure of a way stands, none overlapping: elsewhere nothing need be tried."""
    start, end = 0, 0
    for found in _MEASURE.finditer(plain):
        if found.start() - _REACH > end:
            if end:
                yield start, end
            start = found.start() - _REACH
        end = found.end() + _REACH
    if end:
        yield max(0, start), end
