"""Where a text says how far or in which direction something is from something else: ways from which a place could be
reckoned. What is found here is taken out of a shared text whatever it names."""

from __future__ import annotations

import re
from collections.abc import Iterator

from journal.sharing.number_words import NUMBER_WORDS

Span = tuple[int, int]

_POINT = (
    r"(?:(?:N|S|E|W|NE|NW|SE|SW|NNE|ENE|ESE|SSE|SSW|WSW|WNW|NNW)\b"
    r"|(?i:(?:north|south)(?:[- ]?(?:east|west))?(?:erly|ern|wards?)?\b|(?:east|west)(?:erly|ern|wards?)?\b))"
)
_FAR = r"(?i:km|kilomet(?:re|er)s?|mi|miles?|yds?|yards?|paces?|strides?|furlongs?|nautical miles?|leagues?)\b"
_ANY_UNIT = rf"(?:{_FAR}|(?i:m|met(?:re|er)s?|ft|feet|foot|steps?)\b)"
_COUNT = r"(?:[0-9]+(?:[., ][0-9]+)?)"
_TELLING = (
    r"(?i:(?:half|quarter|third)(?: of)? an?|an?|(?:one|two|three|four|five|six|seven|eight|nine|ten) and a half|one"
    r"|two|three|four|five|six|seven|eight|nine|ten|twelve|fifteen|twenty|thirty|forty|fifty|sixty|eighty"
    r"|(?:an?|two|three|four|five|six|seven|eight|nine|few|couple of) hundred|hundred|thousand|few|couple of)"
)
_AND_A_HALF = r"(?: and (?:a half|a quarter|three quarters))?"
_FROM = (
    r"(?i:from|past|beyond|before|behind|up|down|along|inland|upstream|downstream|off|into|out|in|to|above|below"
    r"|away|further|uphill|downhill)\b"
)
_FILLER = r"\s*+(?:,\s*+)?(?:(?i:or so|roughly|about|due|to the|on|further|more|and)\s++){0,2}"
_GO = r"(?i:walk|stroll|row|ride|drive|sail|on foot|by (?:boat|bike|car|bus|foot)|uphill|downhill)"
_TIME = rf"(?:{_COUNT}|{_TELLING})[ -]?(?i:minutes?|mins?|hours?|h)(?:'s?)?"

LANDMARKS = (
    "piers?|quays?|jetty|harbour|slipway|ferry|boat|lighthouse|beacon|bridges?|footbridges?|ford|stiles?|gates?"
    "|gateposts?|roads?|lanes?|tracks?|paths?|junction|crossroads?|roundabout|lay-?by|car park|car|bus stop|bus|station"
    "|railway|church|kirk|chapel|abbey|churchyard|school|farms?|farmhouse|steading|barns?|house|cottages?|crofts?|mills?"
    "|castle|ruins?|bothy|tower|mast|dam|weir|locks?|burns?|loch|lochan|lake|rivers?|streams?|becks?|ponds?|wells?"
    "|springs?|waterfall|quarry|mines?|shore|beach|cliffs?|cove|bay|headland|hills?|summit|cairn|trig point|dykes?"
    "|walls?|fences?|hedges?|pub|inn|shop|post office|village|town|hamlet|home"
)
"""What a way is told from, out of doors. Nothing of a tent or a room."""
_NAME = r"(?:[A-Z][\w'-]{1,30}\s++)"
_NAMED_LANDMARK = "|".join(word[0].upper() + word[1:] for word in LANDMARKS.split("|"))
_GROUND = (
    "woods?|woodland|forest|grove|copse|thicket|plantation|trees?|oaks?|beech(?:es)?|birch(?:es)?|ash|alders?|elms?|pines?"
    "|spruces?|willows?|logs?|stumps?|slope|bank|fields?|meadow|clearing|park|glen|valley|ride|ditch|hollow"
)
_BESIDE = "behind|beyond|beside|above|below|near|by|at|past|off|opposite|next to|in front of|across from|along"
_LANDMARK = rf"(?:(?i:the|a|an|my|our|their|old|new|north|south|east|west)\s++){{0,3}}(?i:{LANDMARKS})\b"
_WHAT = (
    r"(?:\s++(?i:of|from|past|beyond|behind|above|below|to|the|a|an)\b){0,3}"
    rf"(?:\s++(?:(?i:{LANDMARKS})\b|[^\W\d_][\w'-]*))?"
)

_WAYS = (
    # a distance with a point of the compass, or with from where
    rf"\b(?:{_COUNT} ?{_ANY_UNIT}|{_TELLING} (?:{_FAR}|(?i:met(?:re|er)s?|feet|steps?)\b)){_AND_A_HALF}{_FILLER}"
    rf"{_POINT}{_WHAT}",
    rf"\b(?:{_COUNT} ?{_FAR}|{_TELLING} {_FAR}){_AND_A_HALF}{_FILLER}{_FROM}{_WHAT}",
    rf"\b(?:[0-9]{{2,}}(?:[.,][0-9]+)? ?(?i:m|met(?:re|er)s?|steps?)\b|[3-9][0-9](?:[.,][0-9]+)? ?(?i:ft|feet)\b"
    rf"|[0-9]{{3,}} ?(?i:ft|feet)\b|(?i:\w+ )?(?i:hundred|thousand) (?i:m|met(?:re|er)s?|steps?|feet)\b)"
    rf"{_FILLER}{_FROM}{_WHAT}",
    rf"\b(?:{_COUNT} ?{_ANY_UNIT}|{_TELLING} (?i:met(?:re|er)s?|feet|steps?|fields?)\b)"
    rf"(?:\s++(?i:from|of|past|behind|above|below|up|down|off)\b){{1,2}}\s++{_LANDMARK}",
    # a time on the way
    rf"\b{_TIME}[ -]{_GO}{_WHAT}",
    rf"\b{_TIME}\s++(?i:from|past|beyond|up|down|along|off|above|below)\s++{_LANDMARK}",
    # a bearing
    rf"(?i:\b(?:bearing|heading|azimuth)s?\b)[^\d\n]{{0,16}}[0-9]{{1,3}}(?:[.,][0-9]+)?"
    rf"(?: ?(?:°|(?i:deg(?:rees?)?)\b))?(?: ?(?i:true|magnetic|mag\.?|T|M)\b)?{_WHAT}",
    rf"(?i:\b(?:bearing|heading|azimuth)s?\b)(?:\s++(?i:of|is|about)\b)?\s++{NUMBER_WORDS}(?:\s++(?i:degrees?))?{_WHAT}",
    rf"\b{NUMBER_WORDS} (?i:degrees?)\s++(?:(?i:from|to|of)\s++{_LANDMARK}|(?i:true|magnetic)\b)",
    r"\b[0-9]{1,3}(?:[.,][0-9]+)? ?(?:°|(?i:deg(?:rees)?)\b) ?(?i:true|magnetic|mag\.?|from|to the|bearing|T|M)\b"
    rf"{_WHAT}",
    rf"\b[NS] ?[0-9]{{1,2}} ?° ?[EW]\b{_WHAT}",
    rf"\b(?:(?i:two|three|four|five|a few|several) (?i:fields?|bends?|gates?|bays?) )?(?:(?i:due|just|directly)\s++)?"
    rf"{_POINT}\s++(?i:of|from)\s++{_LANDMARK}",
    # what lies behind something that has a name: "the wood behind Ferry Cottage"
    rf"\b(?:(?i:the|a|an|my|our) )?(?i:{_GROUND})\s++"
    rf"(?:(?i:just|right|up|down|out|close|not far)\s++){{0,2}}(?i:{_BESIDE})"
    rf"\s++(?:(?i:the|old|new)\s++){{0,2}}{_NAME}{{1,3}}(?i:{LANDMARKS})\b",
    rf"\b(?i:behind|beyond|opposite|next to|in front of)\s++(?:(?i:the)\s++)?{_NAME}{{1,3}}(?:{_NAMED_LANDMARK})\b",
    # between two of which each is known
    rf"(?:\b(?i:half[- ]?way|midway) )?\b(?i:between)\s++{_LANDMARK}\s++(?i:and)\s++{_LANDMARK}",
)

_MEASURE = re.compile(
    r"°|(?:\b|(?<=[0-9]))(?:k?m|kilomet(?:re|er)s?|met(?:re|er)s?|mi|miles?|yds?|yards?|paces?|strides?|steps?|furlongs?"
    r"|leagues?|ft|feet|foot|bearings?|headings?|azimuths?|walk|stroll|row|ride|drive|sail|boat|bike|car|bus|uphill"
    rf"|downhill|deg|degrees?|{LANDMARKS})\b",
    re.IGNORECASE,
)
_REACH = 120

_WAY = re.compile("|".join(f"(?:{one})" for one in _WAYS))


def ways_in(plain: str) -> Iterator[Span]:
    """Where a text, as it reads (see `folding`), says how far or in which direction something is from something else.

    Not what is nearer than some ten metres, but to a landmark: that is how things stand in a tent, or on a log.
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
