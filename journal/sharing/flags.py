"""Flags on what in a text may reveal a place, so that its author can look at it before it is shared."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass

from journal.geo.detect import perhaps_positions_in, positions_in
from journal.geo.directions import directions_in
from journal.sharing.normalise import Normalised
from journal.sharing.place_names import with_names
from journal.sharing.place_rules import hits_in
from journal.sharing.place_words import Sentence, sentences_of


@dataclass(frozen=True, slots=True, order=True)
class Flag:
    """A part of a text that may reveal a place. start, end: its position in the text; kind: what it looks like, in one
    plain word; text: the part itself."""

    start: int
    end: int
    kind: str
    text: str


def flags_in(text: str, known: Collection[str] = ()) -> tuple[Flag, ...]:
    """In order, not overlapping. known: words and phrases of the journal that reveal nothing (species, lines, persons
    who are shown, IDs), in any case of letters. Rather too many than too few: what is flagged is looked at, not cut."""
    links, bare = _without_addresses(text)
    read = Normalised(bare)
    found = [(*read.original(start, end), kind) for start, end, kind in _stretches(read.plain, known) if start < end]
    flags: list[Flag] = []
    for start, end, kind in sorted([*links, *found], key=lambda one: (one[0], -one[1])):
        if flags and start <= flags[-1].end:
            last = flags.pop()
            start, end, kind = last.start, max(end, last.end), min(last.kind, kind, key=_KINDS.index)
        flags.append(Flag(start, end, kind, text[start:end]))
    return tuple(flags)


_KINDS = (
    *("position", "link", "file", "postcode", "telephone", "network", "road number", "code", "name", "owner"),
    *("direction", "height", "view", "house", "road", "transport", "water", "terrain", "landmark", "language"),
)
"""A flag merged from several kinds has the first of these."""

TextStretch = tuple[int, int, str]
"""(start, end, kind)"""

# -- signs -----------------------------------------------------------------------------------------------------------

_ADDRESS = re.compile(r"(?:\b[a-z][a-z0-9+.-]{1,30}://|\bwww\.|\bgeo:)[^\s<>\"')\]]+|(?<=\]\()[^\s()]+", re.IGNORECASE)
_TELLING_ADDRESS = re.compile(
    r"map|geo|loc|place|goo\.gl|track|route|w3w|what3words|osm|bit\.ly|tinyurl|t\.co/|is\.gd|[?&#/@][^/]{0,20}-?[0-9]{1,3}\.[0-9]{2,}",
    re.IGNORECASE,
)
_SIGNS = (
    ("file", re.compile(r"(?<![\w.~+-])(?:[\w~+-]++\.)+(?<=\.)(?:gpx|kmz?|kml|fit|tcx|geojson|nmea)\b", re.IGNORECASE)),
    (
        "postcode",
        re.compile(
            r"(?<![\w-])[A-Z]{1,2}[0-9][A-Z0-9]? ?[0-9][ABD-HJLNP-UW-Z]{2}(?![\w-])"
            r"|(?<![\w-])[A-Z]{1,2}[0-9]{1,2} [0-9](?![\w.,%-])"
            r"|(?<![\w-])(?:[A-Z]{1,3}-)?[0-9]{4,5} [A-Z\u0141\u00d8\u00c6][a-z\u00f8\u00e6\u0142\u00df]{2,}(?![\w-])"
            r"|(?<![\w-])[0-9]{2}-[0-9]{3}(?![\w.-])(?: [A-Z\u0141]\w+)?"
            r"|(?<![\w-])[A-CEGHJ-NPR-TVXY][0-9][A-Z] ?[0-9][A-Z][0-9](?![\w-])"
        ),
    ),
    (
        "telephone",
        re.compile(
            r"(?<![\w.,:/+-])\(?0[0-9]{2,5}\)?(?:[ -][0-9]{2,8}){1,4}(?![0-9])"
            r"|(?<![\w.,:/-])\+[0-9]{1,3}(?:[ -]?\(?[0-9]{1,5}\)?){2,6}(?![0-9])"
            r"|(?i:\b(?:tel|telephone|phone|mobile|mob|ring|call|dial)\b)[.: ]{1,3}(?:(?i:no|on|number)[.: ]{1,2})?"
            r"\(?[0-9][0-9 ()-]{4,16}[0-9]"
        ),
    ),
    (
        "code",
        re.compile(
            r"(?<![\w-])(?=[b-hjkmnp-z]{1,6}[0-9])(?=(?:[0-9]{0,4}[b-hjkmnp-z]){3})[0-9b-hjkmnp-z]{6,12}(?![\w-])"
        ),
    ),
    ("code", re.compile(r"[\"'][a-z]{3,14}(?:[,.] ?| )[a-z]{3,14}(?:[,.] ?| )[a-z]{3,14}[\"']")),
    ("code", re.compile(r"(?<![A-Za-z])[NS][0-9]{1,2}[-_.][0-9]{1,6}.{0,3}[EW][0-9](?:[._-]?[0-9]){0,12}")),
    ("code", re.compile(r"(?<![\w-])[A-Z]{1,2}[0-9]{2,5} [0-9]{2,5}(?![\w.,%-])")),
    ("code", re.compile(r"(?<![\w.,-])[0-9]{6,7} ?[EN]\b")),
    ("network", re.compile(r"(?i:\bssid|\bwi-?fi|\bhot ?spot|\bnetwork)\b[^\n.;]{0,60}")),
)


_TAIL = re.compile(r"(?: [^\W_]{1,20}){1,3}")
"""Words after a sign, which may belong to it."""


def _without_addresses(text: str) -> tuple[list[TextStretch], str]:
    """Addresses that reveal a place, and the text with every address blanked out."""
    links: list[TextStretch] = []

    def blank(found: re.Match[str]) -> str:
        if _TELLING_ADDRESS.search(found.group()):
            links.append((found.start(), found.end(), "link"))
        return " " * len(found.group())

    return links, _ADDRESS.sub(blank, text)


def _stretches(plain: str, known: Collection[str]) -> Iterator[TextStretch]:
    signs = [(start, end, "position") for start, end in positions_in(plain)]
    signs += [(start, end, "code") for start, end in perhaps_positions_in(plain)]
    signs += [(start, end, "direction") for start, end in directions_in(plain)]
    signs += [(*found.span(), kind) for kind, pattern in _SIGNS for found in pattern.finditer(plain)]
    for start, end, kind in signs:
        more = _TAIL.match(plain, end)
        yield start, more.end() if more else end, kind
    for sentence in sentences_of(plain, known):
        named = with_names(sentence)
        yield from _extended(named, hits_in(named))


def _extended(sentence: Sentence, hits: Iterable[tuple[int, int, str]]) -> Iterator[TextStretch]:
    """Hits extended to their phrase: to the ends of the clause, but no more than a few words."""
    words = sentence.words
    for start, end, kind in hits:
        first, last = start, end - 1
        while first > 0 and start - first < _BEFORE and not words[first - 1].ends_clause:
            first -= 1
        while last + 1 < len(words) and last - end < _BEHIND and not words[last].ends_clause:
            last += 1
        yield words[first].start, words[last].end, kind


_BEFORE, _BEHIND = 5, 6
"""At most this many words before and after a hit are shown with it."""
