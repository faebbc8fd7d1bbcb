"""A text as it reads: what Markdown and HTML hide in it undone, its letters plain, with the way back to the text."""

from __future__ import annotations

import html
import re
import unicodedata
from functools import lru_cache

from journal.reckoning.angles import plain_marks

_ENTITY = re.compile(r"&(?:#[0-9]{1,7}|#[xX][0-9a-fA-F]{1,6}|[A-Za-z][A-Za-z0-9]{1,31});")
_HTML = re.compile(
    r"</?(?:(?P<block>br|p|div|li|ul|ol|hr|h[1-6]|td|tr|blockquote)|a|abbr|b|code|del|em|font|i|ins|kbd|mark|q|s|small|span"
    r"|strong|sub|sup|u|wbr)\s*/?>",
    re.IGNORECASE,
)
"""Tags of HTML, bare of attributes: a page shows them as they stand, and they part no word for who reads it."""
_UNSEEN = frozenset("*`\\")
"""Marks of Markdown that stand in a word without being seen: `Al**der**`, `B\\-031`."""
_POINTS = frozenset("\N{MIDDLE DOT}\N{ARABIC DECIMAL SEPARATOR}\N{BULLET OPERATOR}\N{DOT OPERATOR}")
"""Signs that a number may have for its decimal point."""
_LOOK_ALIKE_SIGNS = {
    **dict.fromkeys("\ua789\u2236\u02d0\u02f8\u05c3", ":"),
    **dict.fromkeys("\u309c\u2218\u26ac", "\N{DEGREE SIGN}"),
    "\u3001": ",",
    "\u3002": ".",
    "\u2795": "+",
    "\u2796": "-",
}
"""Signs of other writing that stand for those of times and positions."""
_LOOK_ALIKES = str.maketrans(
    "\u0410\u0412\u0415\u041a\u041c\u041d\u041e\u0420\u0421\u0422\u0425\u0405\u0406\u0408"
    "\u0430\u0435\u043e\u0440\u0441\u0443\u0445\u0455\u0456\u0458"
    "\u0391\u0392\u0395\u0396\u0397\u0399\u039a\u039c\u039d\u039f\u03a1\u03a4\u03a5\u03a7\u03bf",
    "ABEKMHOPCTXSIJaeopcyxsijABEZHIKMNOPTYXo",
)
"""Letters of Cyrillic and Greek that read like Latin ones. *Source:* Unicode Technical Standard 39, confusables (a few
of them, from memory)."""
_NEEDS_NO_FOLDING = re.compile(r"[^<&*`\\\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\U0010ffff]*")


class Folded:
    """A text as it reads, and where each of its letters stands in the text.

    plain: accents, entities, look-alike marks and marks of emphasis undone.
    low: the same in small letters, of the same length.
    """

    def __init__(self, text: str) -> None:
        self._from: list[int] | None = None
        self._until: list[int] | None = None
        if _NEEDS_NO_FOLDING.fullmatch(text):
            self.plain = text
        else:
            self.plain = self._fold(text)
        self.low = "".join(map(_low, self.plain)) if not self.plain.isascii() else self.plain.lower()

    @classmethod
    def loosely(cls, text: str) -> Folded:
        """A long text, quickly and with no way back."""
        folded = cls("")
        whole = _HTML.sub(_tag_read, html.unescape(text))
        folded.plain = whole.translate({ord(letter): _folded(letter) for letter in set(whole)})
        small = folded.plain.lower()
        folded.low = small if len(small) == len(folded.plain) else "".join(map(_low, folded.plain))
        return folded

    def original(self, start: int, end: int) -> tuple[int, int]:
        """Where a stretch of the plain text, of at least one letter, stands in the text."""
        if self._from is None or self._until is None:
            return start, end
        return self._from[start], self._until[end - 1]

    def _fold(self, text: str) -> str:
        plain: list[str] = []
        self._from, self._until = [], []
        at = 0
        while at < len(text):
            reads, end = _next_read(text, at)
            for letter in reads:
                for folded in _folded(letter):
                    plain.append(folded)
                    self._from.append(at)
                    self._until.append(end)
            at = end
        return "".join(plain)


def _next_read(text: str, at: int) -> tuple[str, int]:
    """What stands at a place of a text, a letter, an entity or a tag, as it reads; and where the next begins."""
    if text[at] == "&" and (entity := _ENTITY.match(text, at)):
        return html.unescape(entity.group()), entity.end()
    if text[at] == "<" and (tag := _HTML.match(text, at)):
        return _tag_read(tag), tag.end()
    return text[at], at + 1


def _tag_read(tag: re.Match[str]) -> str:
    return " " if tag["block"] else ""


_JOINING = re.compile("</?[A-Za-z]{1,10} ?/?>|[*`\u00ad\u200b-\u200f\u2060\ue000-\uf8ff]")


def parted(text: str) -> str:
    """A text with a blank for each sign of those marks that are not seen and join the words on both sides of them."""
    return _JOINING.sub(lambda found: " " * len(found.group()), text)


def fold(text: str) -> str:
    """A text as it reads."""
    return Folded.loosely(text).plain


@lru_cache(maxsize=4096)
def _folded(letter: str) -> str:
    """What one letter reads as; nothing where it is not seen."""
    if letter in _UNSEEN:
        return ""
    if letter in _POINTS:
        return "."
    if letter in _LOOK_ALIKE_SIGNS:
        return _LOOK_ALIKE_SIGNS[letter]
    if letter in "\n\r\t":
        return letter
    marked = plain_marks(letter)
    if marked != letter:
        return marked
    if "\ufe10" <= letter <= "\ufe6f" or "\uff01" <= letter <= "\uffee":
        letter = unicodedata.normalize("NFKC", letter)[:1]
    letter = letter.translate(_LOOK_ALIKES)
    kind = unicodedata.category(letter)
    if kind in ("Cf", "Co", "Mn", "Me", "Cc") and not letter.isspace():
        return ""
    if letter.isspace():
        return " "
    if kind == "Pd":
        return "-"
    if kind == "Nd" or (kind == "No" and unicodedata.digit(letter, None) is not None):
        return str(unicodedata.digit(letter))
    parted = unicodedata.normalize("NFKD", letter) if kind[0] == "L" else letter
    return "".join(one for one in parted if unicodedata.category(one) != "Mn")


@lru_cache(maxsize=4096)
def _low(letter: str) -> str:
    small = letter.lower()
    return small if len(small) == 1 else letter
