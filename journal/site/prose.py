"""An entry's text as a page needs it: the Markdown, which IDs it names, which pictures it shows."""

from __future__ import annotations

import posixpath
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import unquote

from journal.site.pictures import Picture

_WORD = re.compile(r"(?<![A-Za-z0-9-])[A-Za-z][A-Za-z0-9-]*(?:\.[0-9]+(?![0-9]))?(?![A-Za-z0-9])")


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


def photo_path(entry_path: str, target: str) -> str:
    """The journal path of a picture that an entry's text shows, NFC; targets may be percent-encoded."""
    joined = posixpath.normpath(posixpath.join(posixpath.dirname(entry_path), unquote(target)))
    return unicodedata.normalize("NFC", joined)
