"""Links in an entry's text: how its Markdown is read, and which of them would lead nowhere."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from markdown_it import MarkdownIt

LEADS_ELSEWHERE = re.compile(r"(?i)(?:https?|mailto|geo):")
_TARGET = re.compile(r"!\[[^\[\]]*\]\(|\](?:\(\s*+|:\s*+)(?P<target>[^\s)]*+)")
"""Pictures are passed over: only the target of what may be a link is named."""


@cache
def markdown_reader() -> MarkdownIt:
    """Reads CommonMark, with HTML as text."""
    from markdown_it import MarkdownIt  # a command that meets no Markdown does not load it

    return MarkdownIt("commonmark", {"html": False})


def links_in_vain(text: str, leads: Callable[[str], bool]) -> dict[str, int]:
    """The targets of a text's links that lead neither elsewhere nor, as `leads` tells of each, to something here: as
    CommonMark has them, percent-encoded, each with the line on which its first link begins, 0 for the text's first.

    Linear; the text is parsed only if one of them may be there.
    """
    found: dict[str, int] = {}

    def is_in_vain(target: str) -> bool:
        return not LEADS_ELSEWHERE.match(target) and not leads(target)

    written = (one["target"] for one in _TARGET.finditer(text))
    if not any(target is not None and is_in_vain(target.strip("<>")) for target in written):
        return found
    for token in markdown_reader().parse(text):
        line = token.map[0] if token.map else 0
        for child in token.children or ():
            if child.type == "link_open" and is_in_vain(target := str(child.attrs.get("href", ""))):
                found.setdefault(target, line)
            line += child.type in ("softbreak", "hardbreak")
    return found
