"""An entry's text as a page needs it: the Markdown, which IDs it names, which pictures it shows."""

from __future__ import annotations

import posixpath
import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from urllib.parse import unquote

from journal.site.pictures import Picture

_WORD = re.compile(r"(?<![A-Za-z0-9-])[A-Za-z][A-Za-z0-9-]*(?:\.[0-9]+(?![0-9]))?(?![A-Za-z0-9])")

_POINTED_OR_BARE = re.compile(r"\s*+(<[^>]+>|[^\s)]+)")
_BARE = re.compile(r"\s*+([^\s)]+)")


@dataclass(frozen=True, slots=True)
class Prose:
    """Markdown and all that rendering it takes.

    links: (word as it stands in the text, address from the site's root).
    pictures: (target as it stands in the text, the picture).
    """

    text: str
    links: tuple[tuple[str, str], ...] = ()
    pictures: tuple[tuple[str, Picture], ...] = ()


def id_words(text: str) -> list[str]:
    """Every word in a text that has the shape of an ID or of a part of one, in order, each once."""
    return list(dict.fromkeys(match.group().rstrip("-") for match in _WORD.finditer(text)))


def links_in(text: str, addresses: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Which words of a text are IDs, and where they lead. addresses: ID in lower case -> address."""
    found = []
    for word in id_words(text):
        address = addresses.get(word.partition(".")[0].lower())
        if address is not None:
            found.append((word, address))
    return tuple(found)


def targets_in(text: str) -> Iterator[str]:
    """Where the pictures of a text lie, as it stands there, in code or not. Each sign is looked at once or twice."""
    last_pointed = text.rfind(">")
    passed, closing = 0, text.find("](")
    while closing >= 0:
        words = max(passed, text.rfind("]", passed, closing) + 1)
        passed = closing + 1
        if text.find("![", words, closing) >= 0:
            at = closing + 2
            if target := _POINTED_OR_BARE.match(text, at) if at < last_pointed else _BARE.match(text, at):
                yield target[1].strip("<>")
                passed = target.end()
        closing = text.find("](", passed)


def photo_path(entry_path: str, target: str) -> str:
    """The journal path of a picture that an entry's text shows, NFC; targets may be percent-encoded."""
    joined = posixpath.normpath(posixpath.join(posixpath.dirname(entry_path), unquote(target)))
    return unicodedata.normalize("NFC", joined)
