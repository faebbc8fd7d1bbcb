"""Links and pictures of a Markdown text, set aside while its words are cleaned, and put back where they may stay."""

from __future__ import annotations

import re
from collections.abc import Callable
from urllib.parse import unquote, urlsplit

_LINK_TITLE = r"(?:\"[^\"]*\"|'[^']*'|\([^()]*\))"
_LINK = re.compile(
    r"(?P<bang>!?)\[(?P<words>(?:[^\[\]]|\[[^\[\]]*\])*+)\]"
    r"\((?:\s*+(?:<(?P<pointed>[^<>\n]*)>|(?P<bare>(?:[^\s()<>]|\([^\s()]*\))*+))"
    rf"(?:\s++{_LINK_TITLE})?\s*+|\s++{_LINK_TITLE}\s*+)\)"
)
_DEFINITION = re.compile(r"^ {0,3}\[(?P<label>[^\]\n]+)\]:[^\n]*\n?", re.MULTILINE)
_BY_REFERENCE = re.compile(r"(?P<bang>!?)\[(?P<words>[^\[\]]*)\] ?\[(?P<label>[^\[\]\n]*)\]")
_ELSEWHERE = re.compile(
    r"map|geo|loc|place|goo\.gl|track|w3w|what3words|//osm|\.osm|bit\.ly|tinyurl|//t\.co/|is\.gd|ow\.ly|/go/|/@"
    r"|/(?!www\.)[a-z]{3,}\.[a-z]{3,}\.(?!(?:com|org|net|edu|gov)/?$)[a-z]{3,}/?$",
    re.IGNORECASE,
)
"""What stands in the address of a map, of a place in one, or of a short link of which nobody sees where it leads."""
_ADDRESS = re.compile(
    r"<?\b(?:[a-z][a-z0-9+.-]{1,30}://|(?:geo|mailto|tel|sms|data|javascript):|www\.)[^\s<>\"]+>?", re.I
)
_SET_ASIDE = re.compile("[\ue000-\uf8ff]")
_FIRST, _LAST = 0xE000, 0xF8FE

Shown = Callable[[str], str | None]
"""From the target of a picture to the name that it has in the share; None where the share does not show it."""

Harmless = Callable[[str], bool]
"""Whether a text tells nothing that is not shared."""


class SetAside:
    """A text without its links' targets and its pictures; a sign of Unicode's private use stands for each that stays.

    Signs of the text's own that are of private use are dropped. Definitions of links by reference, and addresses that
    are no plain web page, go with their targets; their words stay.
    """

    def __init__(self, text: str, shown: Shown, clean: Callable[[str], str], harmless: Harmless) -> None:
        self._shown, self._clean, self._harmless = shown, clean, harmless
        self._kept: list[tuple[str, str]] = []
        whole = _SET_ASIDE.sub("", text)
        labels = frozenset(found["label"].casefold() for found in _DEFINITION.finditer(whole))
        bare = _BY_REFERENCE.sub(lambda found: _words_alone(found, labels), _DEFINITION.sub("", whole))
        self.text = _ADDRESS.sub(self._address, self._without_links(bare))

    def put_back(self, text: str, mark: str) -> str:
        """The text with what was set aside; a link of which something was cleaned away is no link any more.

        mark: what stands in the place of what was cleaned away.
        """
        for number, (opening, closing) in enumerate(self._kept):
            begins, ends = _signs(number)
            words = text.partition(begins)[2].partition(ends)[0]
            stays = begins in text and (not closing or (ends in text and mark not in words))
            text = text.replace(begins, opening if stays else "").replace(ends, closing if stays else "")
        return text

    def _without_links(self, text: str) -> str:
        return _LINK.sub(self._link, text)

    def _link(self, found: re.Match[str]) -> str:
        target = unquote(found["pointed"] if found["pointed"] is not None else found["bare"] or "")
        if found["bang"]:
            name = self._shown(target)
            return self._aside(f"![{_in_brackets(self._clean(found['words']))}]({name})", "")[0] if name else ""
        words = self._without_links(found["words"])
        if not self._may_stay(target):
            return words
        begins, ends = self._aside("[", f"]({target})")
        return f"{begins}{words}{ends}"

    def _address(self, found: re.Match[str]) -> str:
        written = found.group()
        target = written.strip("<>").rstrip(".,;:)")
        if not self._may_stay(f"https://{target}" if target.lower().startswith("www.") else target):
            return ""
        return self._aside(written, "")[0]

    def _aside(self, opening: str, closing: str) -> tuple[str, str]:
        """The signs that stand for what is kept; nothing where there are more links than signs for them."""
        if _FIRST + 2 * len(self._kept) + 1 > _LAST:
            return "", ""
        self._kept.append((opening, closing))
        return _signs(len(self._kept) - 1)

    def _may_stay(self, target: str) -> bool:
        """Whether a link's target may be shared: a plain page of the web, on no map, that asks for nothing."""
        try:
            parts = urlsplit(target)
        except ValueError:
            return False
        if parts.scheme.lower() not in ("http", "https") or parts.query or parts.fragment or "@" in target:
            return False
        if _ELSEWHERE.search(target) or re.search(r"[\s()<>]", target):
            return False
        return self._harmless(re.sub(r"[/_.?=&+-]+", " ", unquote(target))) and self._harmless(unquote(target))


def _words_alone(found: re.Match[str], labels: frozenset[str]) -> str:
    """The words of a link by a reference that was defined; nothing of a picture."""
    if (found["label"] or found["words"]).casefold() not in labels:
        return found.group()
    return "" if found["bang"] else found["words"]


def _signs(number: int) -> tuple[str, str]:
    return chr(_FIRST + 2 * number), chr(_FIRST + 2 * number + 1)


def _in_brackets(words: str) -> str:
    return words.replace("[", "(").replace("]", ")")
