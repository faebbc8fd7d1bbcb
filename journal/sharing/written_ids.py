"""IDs in a text, as people write them: `B-032`, `b032`, `B 32`, `B-031/032`, `B-032s`."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import pairwise

from journal.sharing.folding import Folded

_CHUNK = re.compile(r"[a-z]+|[0-9]+")
_GAP = re.compile(r"[-_ ]?|-\s{1,4}")
_PART = re.compile(r"\.[0-9]{1,6}(?![0-9])")
_SHORT = 4
"""IDs of fewer letters and digits are written with their hyphen or a blank, or may be something else: `T1`."""
_LIST = re.compile(r"\s*(?P<between>/|&|\+|[,;]|\b(?:and|or|to)\b|-)\s*-?(?P<digits>[0-9]{2,9})(?![0-9A-Za-z.])")
_CLOSE = ("/", "&", "+")
_OF_A_LIST = 3
"""So many digits are a number of an ID whatever stands before them; fewer may be days or grams."""
_UNIT = re.compile(
    r"\s?(?:(?:[mk]?g|m?l|[cm]?m|h|min|days?|units?|blocks?|bags?|jars?|plates?|K|ppm)\b|[%°])", re.IGNORECASE
)


@dataclass(frozen=True)
class WrittenIds:
    """hidden: IDs that are looked for. shared: IDs that may be told, of which no piece is one that is hidden; both as
    they were defined.

    keen: also with zeros more or fewer, apart from their letters, and by their number alone behind another ID
    (`B-031/032`).
    """

    hidden: tuple[str, ...]
    shared: tuple[str, ...]
    keen: bool = field(default=True, kw_only=True)

    def told_in(self, text: Folded) -> Iterator[tuple[int, int, str]]:
        """Where in a text a hidden ID is told, with its part: (start, end, which), in order."""
        chunks = [found.span() for found in _CHUNK.finditer(text.low)]
        passed = 0
        for at, (start, end) in enumerate(chunks):
            if start < passed or text.low[start:end] not in self._first or text.low[start - 1 : start].isalnum():
                continue
            found = self._longest(text, chunks, at)
            if found is None:
                continue
            passed, id = found
            if id in self._hidden:
                yield start, passed, id
            for one in self._of_a_list(text, passed, id) if self.keen else ():
                passed = one[1]
                yield one

    def _longest(self, text: Folded, chunks: list[tuple[int, int]], at: int) -> tuple[int, str] | None:
        """Where the longest ID ends that begins with a chunk of a text, and which it is; a shared one before others."""
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

    def _end(self, text: Folded, start: int, end: int, id: str) -> int | None:
        """Where an ID ends that may stand between two places of a text, or None where something else does."""
        written = text.plain[start:end]
        if not _pattern(id, self.keen).fullmatch(written.lower()):
            return None
        if written.lower().startswith("a ") and not written.startswith(id[0]):
            return None  # an article, as in "a 1 kg bag"
        after = text.low[end : end + 2]
        is_joined = id in self._shared and written[-1].isdigit() and after[:1].isalpha()
        if after[:1].isalnum() and not (after[:1] == "s" and not after[1:].isalnum()) and not is_joined:
            return None
        part = _PART.match(text.plain, end)
        return part.end() if part else end

    def _of_a_list(self, text: Folded, after: int, id: str) -> Iterator[tuple[int, int, str]]:
        """Hidden IDs that follow another by their numbers alone."""
        head, number = _parted(id)
        while number and (more := _LIST.match(text.plain, after)):
            digits = more["digits"]
            is_number = len(digits) >= _OF_A_LIST or more["between"] in _CLOSE
            if len(digits) != len(number) or not is_number or _UNIT.match(text.plain, more.end()):
                return
            after = more.end()
            for other in self._by_key.get(_key(head + digits), ()):
                if other in self._hidden:
                    yield more.start("digits"), after, other

    @cached_property
    def _hidden(self) -> frozenset[str]:
        return frozenset(self.hidden)

    @cached_property
    def _shared(self) -> frozenset[str]:
        return frozenset(self.shared)

    @cached_property
    def _by_key(self) -> Mapping[str, tuple[str, ...]]:
        found: dict[str, list[str]] = defaultdict(list)
        for id in (*self.hidden, *self.shared):
            for key in dict.fromkeys(_keys(id)):
                found[key].append(id)
        return {key: tuple(ids) for key, ids in found.items()}

    @cached_property
    def _first(self) -> frozenset[str]:
        return frozenset(key.partition("|")[0] for key in self._by_key)

    @cached_property
    def _most_chunks(self) -> int:
        return max((key.count("|") + 1 for key in self._by_key), default=0)


def _keys(id: str) -> Iterator[str]:
    """An ID by its runs of letters and of digits; and with those of one kind on both sides of a hyphen made one."""
    yield _key(id)
    yield _key(id.replace("-", ""))


def _key(id: str) -> str:
    return "|".join(_without_zeros(chunk) for chunk in _CHUNK.findall(id.lower()))


def _without_zeros(chunk: str) -> str:
    return chunk.lstrip("0") or "0" if chunk.isdigit() else chunk


@lru_cache(maxsize=65_536)
def _pattern(id: str, keen: bool) -> re.Pattern[str]:
    """How an ID may be written, in small letters."""
    pieces = [(found.group(), found.start(), found.end()) for found in _CHUNK.finditer(id.lower())]
    is_short = sum(len(piece) for piece, _, _ in pieces) < _SHORT
    pattern = _piece(pieces[0][0], keen)
    for (before, _, end), (piece, start, _) in pairwise(pieces):
        pattern += _between(start > end, before.isdigit(), is_short, keen) + _piece(piece, keen)
    return re.compile(pattern)


def _between(has_hyphen: bool, is_behind_digits: bool, is_short: bool, keen: bool) -> str:
    """What may stand between two runs of letters or digits of an ID."""
    if has_hyphen:
        return ("[-_ ]" if keen else "[-_]") if is_short else r"(?:[-_ ]?|-\s{1,4})"
    if is_short or not keen:
        return ""
    return "[-_]?" if is_behind_digits else "[-_ ]?"


def _piece(piece: str, keen: bool) -> str:
    return f"0*{_without_zeros(piece)}" if keen and piece.isdigit() else piece


def _parted(id: str) -> tuple[str, str]:
    """An ID without the digits at its end, and those."""
    head = id.rstrip("0123456789")
    return head, id[len(head) :]
