"""Distances and directions found in a text, in words. What tells a way is a matter of judgement, and is flagged (see
`sharing/flags.py`)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import lru_cache

from journal.geo.detect import NUMBER_WORDS, Span, merged

_COMPASS_POINT = (
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
    rf"{_COMPASS_POINT}{_WHAT}",
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
    rf"{_COMPASS_POINT}\s++(?i:of|from)\s++{_LANDMARK}",
    # what lies behind something that has a name: "the wood behind Ferry Cottage"
    rf"\b(?:(?i:the|a|an|my|our) )?(?i:{_GROUND})\s++"
    rf"(?:(?i:just|right|up|down|out|close|not far)\s++){{0,2}}(?i:{_BESIDE})"
    rf"\s++(?:(?i:the|old|new)\s++){{0,2}}{_NAME}{{1,3}}(?i:{LANDMARKS})\b",
    rf"\b(?i:behind|beyond|opposite|next to|in front of)\s++(?:(?i:the)\s++)?{_NAME}{{1,3}}(?:{_NAMED_LANDMARK})\b",
    # between two of which each is known
    rf"(?:\b(?i:half[- ]?way|midway) )?\b(?i:between)\s++{_LANDMARK}\s++(?i:and)\s++{_LANDMARK}",
)

_MEASURE = re.compile(
    r"°|k?m|kilomet(?:re|er)s?|met(?:re|er)s?|mi|miles?|yds?|yards?|paces?|strides?|steps?|furlongs?"
    r"|leagues?|ft|feet|foot|bearings?|headings?|azimuths?|walk|stroll|row|ride|drive|sail|boat|bike|car|bus|uphill"
    rf"|downhill|deg|degrees?|{LANDMARKS}|lay|trig|post"
)
"""A word, or the first of several, that a way is told with."""
_LETTERS = re.compile(r"°|[^\W\d_]+")
_REACH = 120

_MEASURED = 6
"""The first so many ways begin with a number, of which one looks once for all of them; the third may have a word more
before it."""


def _either(patterns: Iterable[str]) -> str:
    return "|".join(f"(?:{one})" for one in patterns)


_WAY = re.compile(
    rf"\b(?:(?=[0-9]|(?=(?i:[acefhnoqst])){_TELLING})(?:{_either(_WAYS[:_MEASURED])})|{_either(_WAYS[2:3])}"
    rf"|{_either(_WAYS[_MEASURED:])})"
)


@lru_cache(maxsize=1 << 14)
def _is_measure(word: str) -> bool:
    return _MEASURE.fullmatch(word) is not None


def directions_in(plain: str) -> Iterator[Span]:
    """Where a text, as it reads (see `sharing/normalise.py`), says how far or in which direction something lies. Not
    what is nearer than some ten metres, but to a landmark: that is how things stand in a tent, or on a log."""
    # only near a measure of a way: elsewhere nothing need be tried
    words = (found for found in _LETTERS.finditer(plain) if _is_measure(found.group().lower()))
    for start, end in merged((max(0, found.start() - _REACH), found.end() + _REACH) for found in words):
        yield from (found.span() for found in _WAY.finditer(plain, start, end))
