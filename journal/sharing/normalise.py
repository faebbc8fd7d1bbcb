"""A text as it reads: Markdown, HTML and variants of letters removed; and the IDs written in it."""

from __future__ import annotations

import html
import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Iterator
from functools import cached_property, lru_cache
from itertools import chain, pairwise

from journal.geo.parse import plain_marks

_ENTITY = re.compile(r"&(?:#[0-9]{1,7}|#[xX][0-9a-fA-F]{1,6}|[A-Za-z][A-Za-z0-9]{1,31});")
_HTML = re.compile(
    r"</?(?:(?P<block>br|p|div|li|ul|ol|hr|h[1-6]|td|tr|blockquote)|a|abbr|b|code|del|em|font|i|ins|kbd|mark|q|s|small|span"
    r"|strong|sub|sup|u|wbr)\s*/?>",
    re.IGNORECASE,
)
"""Tags of HTML without attributes: a page shows them as text, and they do not divide a word for its reader."""
_UNSEEN = frozenset("*`\\")
"""Marks of Markdown that are invisible within a word: `Al**der**`, `B\\-031`."""
_POINTS = frozenset("\N{MIDDLE DOT}\N{ARABIC DECIMAL SEPARATOR}\N{BULLET OPERATOR}\N{DOT OPERATOR}")
"""Characters that a number may have as its decimal point."""
_LOOK_ALIKE_SIGNS = {
    **dict.fromkeys("\ua789\u2236\u02d0\u02f8\u05c3", ":"),
    **dict.fromkeys("\u309c\u2218\u26ac", "\N{DEGREE SIGN}"),
    "\u3001": ",",
    "\u3002": ".",
    "\u2795": "+",
    "\u2796": "-",
}
"""Characters of other scripts that stand for those of times and positions."""
_LOOK_ALIKES = str.maketrans(
    "\u0410\u0412\u0415\u041a\u041c\u041d\u041e\u0420\u0421\u0422\u0425\u0405\u0406\u0408"
    "\u0430\u0435\u043e\u0440\u0441\u0443\u0445\u0455\u0456\u0458"
    "\u0391\u0392\u0395\u0396\u0397\u0399\u039a\u039c\u039d\u039f\u03a1\u03a4\u03a5\u03a7\u03bf",
    "ABEKMHOPCTXSIJaeopcyxsijABEZHIKMNOPTYXo",
)
"""Letters of Cyrillic and Greek that read like Latin ones. *Source:* Unicode Technical Standard 39, confusables (a few
of them, from memory)."""
_BY_LETTER = (
    "\u0e00-\u0eff\u1000-\u11ff\u1780-\u17ff\u3040-\u30ff\u3400-\u4dbf\u4e00-\u9fff\uac00-\ud7af\uf900-\ufaff"
    "\U00020000-\U0002ffff"
)
WORD = re.compile(rf"[{_BY_LETTER}]|[^\W_{_BY_LETTER}]+")
"""A word; a single letter in scripts that have no spaces between words or attach endings to names."""
_NEEDS_NO_FOLDING = re.compile(r"[^<&*`\\\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\U0010ffff]*")


class Normalised:
    """A normalised text, and the position of each of its letters in the original. plain: without accents, entities,
    look-alike characters and marks of emphasis. low: the same in lower case, of the same length."""

    def __init__(self, text: str) -> None:
        self._from: list[int] | None = None
        self._until: list[int] | None = None
        self.plain = text if _NEEDS_NO_FOLDING.fullmatch(text) else self._fold(text)
        self.low = "".join(map(_low, self.plain)) if not self.plain.isascii() else self.plain.lower()

    @classmethod
    def loosely(cls, text: str) -> Normalised:
        """Normalises a long text, fast and without positions in the original."""
        folded = cls("")
        whole = _HTML.sub(_tag_read, html.unescape(text))
        folded.plain = whole.translate({ord(letter): _folded(letter) for letter in set(whole)})
        small = folded.plain.lower()
        folded.low = small if len(small) == len(folded.plain) else "".join(map(_low, folded.plain))
        return folded

    @cached_property
    def words(self) -> list[tuple[str, int, int]]:
        """Each word in small letters, and where it starts and ends."""
        return [(found.group(), *found.span()) for found in WORD.finditer(self.low)]

    @cached_property
    def word_list(self) -> list[str]:
        """The words alone, which take a third of the time: most texts are looked at for words that they do not have."""
        return WORD.findall(self.low)

    @cached_property
    def vocabulary(self) -> frozenset[str]:
        return frozenset(self.word_list)

    @cached_property
    def chunks(self) -> list[str]:
        """The runs of letters, and those of digits, of which IDs are made."""
        return _CHUNK.findall(self.low)

    def original(self, start: int, end: int) -> tuple[int, int]:
        """The position in the original of a part of the plain text, of at least one letter."""
        if self._from is None or self._until is None:
            return start, end
        return self._from[start], self._until[end - 1]

    def _fold(self, text: str) -> str:
        plain: list[str] = []
        self._from, self._until = [], []
        at = 0
        while at < len(text):
            reads, end = text[at], at + 1
            if reads == "&" and (entity := _ENTITY.match(text, at)):
                reads, end = html.unescape(entity.group()), entity.end()
            elif reads == "<" and (tag := _HTML.match(text, at)):
                reads, end = _tag_read(tag), tag.end()
            for letter in reads:
                for folded in _folded(letter):
                    plain.append(folded)
                    self._from.append(at)
                    self._until.append(end)
            at = end
        return "".join(plain)


def _tag_read(tag: re.Match[str]) -> str:
    return " " if tag["block"] else ""


_JOINING = re.compile("</?[A-Za-z]{1,10} ?/?>|[*`\u00ad\u200b-\u200f\u2060\ue000-\uf8ff]")


def parted(text: str) -> str:
    """A text with a blank for each character of invisible marks that join the words on both sides of them."""
    return _JOINING.sub(lambda found: " " * len(found.group()), text)


def normalise(text: str) -> str:
    """A text as it reads."""
    return Normalised.loosely(text).plain


@lru_cache(maxsize=4096)
def _folded(letter: str) -> str:
    """What one letter reads as; nothing if it is invisible."""
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


_CHUNK = re.compile(r"[a-z]+|[0-9]+")
_GAP = re.compile(r"[-_ ]?|-\s{1,4}")
_PART = re.compile(r"\.[0-9]{1,6}(?![0-9])")
_SHORT = 4
"""Shorter IDs must have their hyphen or a blank, because without it they may be something else: `T1`."""
_LIST = re.compile(r"\s*(?P<between>/|&|\+|[,;]|\b(?:and|or|to)\b|-)\s*-?(?P<digits>[0-9]{2,9})(?![0-9A-Za-z.])")
_CLOSE = ("/", "&", "+")
_OF_A_LIST = 3
"""From this many digits on, a number is part of an ID whatever precedes it; fewer may be days or grams."""
_UNIT = re.compile(
    r"\s?(?:(?:[mk]?g|m?l|[cm]?m|h|min|days?|units?|blocks?|bags?|jars?|plates?|K|ppm)\b|[%°])", re.IGNORECASE
)


class WrittenIds:
    """IDs in a text, as people write them: `B-032`, `b032`, `B 32`, `B-031/032`, `B-032s`. hidden: IDs to search for.
    shared: IDs that may be shown; no part of one counts as a hidden ID. keen: also with more or fewer zeros, separated
    from their letters, and by number alone after another (`B-031/032`)."""

    def __init__(self, hidden: Iterable[str], shared: Iterable[str], *, keen: bool = True) -> None:
        ids = tuple(hidden), tuple(shared)
        self._hidden, self._shared, self._keen = frozenset(ids[0]), frozenset(ids[1]), keen
        self._by_key: dict[str, list[str]] = defaultdict(list)
        for id in chain(*ids):  # by its key, and by the key it has if the runs on both sides of a hyphen are joined
            for key in dict.fromkeys((_key(id), _key(id.replace("-", "")))):
                self._by_key[key].append(id)
        self._first = {key.partition("|")[0] for key in self._by_key}
        self._most_chunks = max((key.count("|") + 1 for key in self._by_key), default=0)

    def mentions_in(self, text: Normalised) -> Iterator[tuple[int, int, str]]:
        """Where a text contains a hidden ID, with its part: (start, end, which), in order."""
        perhaps = [at for at, chunk in enumerate(text.chunks) if chunk in self._first]
        chunks = [found.span() for found in _CHUNK.finditer(text.low)] if perhaps else []
        passed = 0
        for at in perhaps:
            start = chunks[at][0]
            if start < passed or text.low[start - 1 : start].isalnum():
                continue
            found = self._longest(text, chunks, at)
            if found is None:
                continue
            passed, id = found
            if id in self._hidden:
                yield start, passed, id
            for one in self._of_a_list(text, passed, id) if self._keen else ():
                passed = one[1]
                yield one

    def _longest(self, text: Normalised, chunks: list[tuple[int, int]], at: int) -> tuple[int, str] | None:
        """The end of the longest ID that begins with a chunk of a text, and which it is; shared IDs take precedence."""
        best: tuple[int, str] | None = None
        key: list[str] = []
        for next_at, (start, end) in enumerate(chunks[at : at + self._most_chunks], at):
            if next_at > at and not _GAP.fullmatch(text.plain, chunks[next_at - 1][1], start):
                break
            key.append(_without_zeros(text.low[start:end]))
            for id in self._by_key.get("|".join(key), ()):
                until = self._end(text, chunks[at][0], end, id)
                if until is not None and (best is None or until > best[0] or id in self._shared):
                    best = until, id
        return best

    def _end(self, text: Normalised, start: int, end: int, id: str) -> int | None:
        """The end of an ID between two positions of a text, or None if something else is there."""
        written = text.plain[start:end]
        if not _pattern(id, self._keen).fullmatch(written.lower()):
            return None
        if written.lower().startswith("a ") and not written.startswith(id[0]):
            return None  # an article, as in "a 1 kg bag"
        after = text.low[end : end + 2]
        is_joined = id in self._shared and written[-1].isdigit() and after[:1].isalpha()
        if after[:1].isalnum() and not (after[:1] == "s" and not after[1:].isalnum()) and not is_joined:
            return None
        part = _PART.match(text.plain, end)
        return part.end() if part else end

    def _of_a_list(self, text: Normalised, after: int, id: str) -> Iterator[tuple[int, int, str]]:
        head = id.rstrip("0123456789")
        number = id[len(head) :]
        while number and (more := _LIST.match(text.plain, after)):
            digits = more["digits"]
            is_number = len(digits) >= _OF_A_LIST or more["between"] in _CLOSE
            if len(digits) != len(number) or not is_number or _UNIT.match(text.plain, more.end()):
                return
            after = more.end()
            for other in self._by_key.get(_key(head + digits), ()):
                if other in self._hidden:
                    yield more.start("digits"), after, other


def _key(id: str) -> str:
    """An ID by its runs of letters and of digits."""
    return "|".join(_without_zeros(chunk) for chunk in _CHUNK.findall(id.lower()))


def _without_zeros(chunk: str) -> str:
    return chunk.lstrip("0") or "0" if chunk.isdigit() else chunk


@lru_cache(maxsize=65_536)
def _pattern(id: str, keen: bool) -> re.Pattern[str]:
    pieces = [(found.group(), found.start(), found.end()) for found in _CHUNK.finditer(id.lower())]
    is_short = sum(len(piece) for piece, _, _ in pieces) < _SHORT
    pattern = _piece(pieces[0][0], keen)
    for (before, _, end), (piece, start, _) in pairwise(pieces):
        if start > end:  # with a hyphen between them
            gap = ("[-_ ]" if keen else "[-_]") if is_short else r"(?:[-_ ]?|-\s{1,4})"
        elif is_short or not keen:
            gap = ""
        else:
            gap = "[-_]?" if before.isdigit() else "[-_ ]?"
        pattern += gap + _piece(piece, keen)
    return re.compile(pattern)


def _piece(piece: str, keen: bool) -> str:
    return f"0*{_without_zeros(piece)}" if keen and piece.isdigit() else piece
