"""Passages of a text, and entries, that the author wants in no share. In doubt they count as private.

Whatever looks like a request for privacy counts as one, because a misspelling must not reveal what should stay private;
`Problem`s report these cases.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from journal.problems import Problem

COUNTS_AS_PRIVATE = "counts as private"
"""Part of each problem about something that looks like a request for privacy."""

_NO = frozenset({"no", "false", "n", "off"})
_YES = frozenset({"", "yes", "true", "y", "on", "1", "private"})
_LIKE_PRIVATE = frozenset({
    "privacy", "secret", "confidential", "unshared", "not shared", "not to share", "do not share", "dont share",
    "don t share", "no share", "never share", "keep private", "is private", "keeper only", "for keeper", "keeper s",
    "for the keeper", "keeper",
})  # fmt: skip
_LIKE_SHARED = frozenset({"share", "shared", "public", "shareable", "open to all"})
_FARTHEST = 2
"""How many letters may be wrong, missing, added or swapped in `private`."""
_LONGEST_MARK = 40

# Characters of other scripts that look like these two, and invisible characters
_PLAIN = str.maketrans(
    {
        **dict.fromkeys("\uff1a\ufe13\ufe55\ua789\u2236\u02d0\u02f8\u05c3", ":"),
        **dict.fromkeys("\uff1d\ufe66", "="),
        **dict.fromkeys("\u00ad\u200b\u200c\u200d\u2060\ufeff"),
    }
)
_COLON = re.compile("[:\uff1a\ufe13\ufe55\ua789\u2236\u02d0\u02f8\u05c3]")
_COLON_OR_EQUALS = re.compile("[:=]")
_LINE = re.compile(r"[^\n]*\n|[^\n]+")
_MARK = re.compile(r"(?P<before>[^\w:]*(?:[0-9]{1,9}[.)][^\w:]*)?)(?P<colons>:(?:[ \t]?:)*)(?P<after>.*)", re.DOTALL)
_MARK_WITHIN = re.compile(r"(?<!:)::+(?!:)[^\w:]{0,8}([^\W\d_]{1,20})")
_WORD_AND_MARK = re.compile(r"[^\w:]*(?P<word>[^\W\d_]{1,20})[^\w:]*(?P<colons>:+)(?P<after>.*)", re.DOTALL)
_WORD = re.compile(r"[^\W\d_]+")


def is_like_private(words: str) -> bool:
    """Whether a key or a word reads like `private`, however it is spelled: `privat`, `prviate`, `keep private`."""
    plain = _letters(words) if len(words) <= _LONGEST_MARK else ""
    if not plain:
        return False
    if plain in _LIKE_PRIVATE or plain.startswith("privat"):
        return True
    return " " not in plain and _steps_between(plain, "private") <= _FARTHEST


def _is_like_a_mark(word: str) -> bool:
    """The same for the word after the colons of a passage, which may also be `keeper`."""
    plain = _letters(word)
    return is_like_private(plain) or plain.startswith("keep") or _steps_between(plain, "keeper") <= _FARTHEST


def _letters(words: str) -> str:
    """In lower case without accents, one space between two words."""
    if words.isascii():
        return " ".join(_WORD.findall(words.lower()))
    parted = unicodedata.normalize("NFKD", words.translate(_PLAIN)).casefold()
    return " ".join(_WORD.findall("".join(sign for sign in parted if not unicodedata.combining(sign))))


def _steps_between(one: str, other: str) -> int:
    """The optimal string alignment distance of two words; beyond `_FARTHEST` not exact."""
    if abs(len(one) - len(other)) > _FARTHEST:
        return _FARTHEST + 1
    before, above = [0] * (len(other) + 1), list(range(len(other) + 1))
    for at, letter in enumerate(one, 1):
        row = [at]
        for to, wanted in enumerate(other, 1):
            best = min(above[to] + 1, row[to - 1] + 1, above[to - 1] + (letter != wanted))
            if at > 1 and to > 1 and letter == other[to - 2] and one[at - 2] == wanted:
                best = min(best, before[to - 2] + 1)
            row.append(best)
        before, above = above, row
    return above[-1]


def private_lines_in_front(lines: Sequence[str], first: int, known: frozenset[str]) -> Iterator[int]:
    """The lines, from number `first`, that ask for privacy in any spelling. known: keys that mean something else."""
    for number, line in enumerate(lines, first):
        if not line.startswith("#") and _asks(line, known):
            yield number


def private_lines_in_text(text: str, first: int) -> Iterator[int]:
    """The numbers of the lines of a text that consist of `private: yes`, which belongs in the front matter."""
    for number, line in enumerate(_LINE.findall(text), first):
        if len(line) <= _LONGEST_MARK:
            key, mark, rest = _parted(line)
            if mark and (words := _letters(key)).startswith("privat") and " " not in words:
                value = _value(rest)
                if value and value in _YES:
                    yield number


def _asks(line: str, known: frozenset[str]) -> bool:
    key, mark, rest = _parted(line)
    words, is_like = _letters_of_key(key)
    if mark:
        if is_like:
            return _value(rest) not in _NO
        if words in _LIKE_SHARED and _value(rest) in _NO:
            return True
        return words not in known and is_like_private(_value(rest))
    first, _, more = words.partition(" ")
    return is_like if not more or not first.startswith("privat") else more in _YES


@lru_cache(maxsize=1024)
def _letters_of_key(key: str) -> tuple[str, bool]:
    """A key's letters, and whether they read like `private`: a journal writes the same few keys in every entry."""
    words = _letters(key)
    return words, is_like_private(words)


def _parted(line: str) -> tuple[str, str, str]:
    """Key, colon or equals sign, and the rest of a line, if it has them."""
    plain = line[: 4 * _LONGEST_MARK]
    if not plain.isascii():
        plain = plain.translate(_PLAIN)
    mark = _COLON_OR_EQUALS.search(plain, 0, _LONGEST_MARK + 8)
    if mark is None:
        return plain[: 2 * _LONGEST_MARK], "", ""
    return plain[: mark.start()], mark[0], plain[mark.end() :]


def _value(rest: str) -> str:
    """The value after a key's mark, without marks, in lower case."""
    return rest.lstrip(":= \t").partition(" #")[0].strip(" \t\n\"'.!,;[]()").casefold()


@dataclass(frozen=True, slots=True)
class _Read:
    """A line with its end, its number from 0, whether it is hidden or only a mark, and what is odd about it."""

    line: str
    number: int
    hidden: bool
    mark: bool = False
    odd: str = ""


def split_private(text: str) -> tuple[tuple[str, bool], ...]:
    """(passage, whether it is private), in order, without the `::: private` and `:::` lines.

    A passage that is never closed extends to the end; `:::` without an open passage hides what is above it. `:::
    keeper` is the same as `::: private`. Passages of only white space are left out.
    """
    if not _COLON.search(text):
        return ((text, False),) if text.strip() else ()
    passages: list[tuple[list[str], bool]] = [([], False)]
    for read in _read(text):
        if read.mark or read.hidden != passages[-1][1]:
            passages.append(([], read.hidden))
        if not read.mark:
            passages[-1][0].append(read.line)
    joined = (("".join(lines), is_private_passage) for lines, is_private_passage in passages)
    return tuple((passage, is_private_passage) for passage, is_private_passage in joined if passage.strip())


def private_problems(path: str, text: str, text_line: int) -> Iterator[Problem]:
    """Passages that are never closed, and lines that only look like a mark; text_line: where text begins."""
    if not _COLON.search(text):
        return
    opened_on, is_open = 0, False
    for read in _read(text):
        if read.odd:
            fix = "write ::: private on a line of its own, and ::: below the passage"
            yield Problem(path, text_line + read.number, "warning", f"{read.odd}; it {COUNTS_AS_PRIVATE}", fix)
        if read.hidden and not is_open:
            opened_on = text_line + read.number
        is_open = read.hidden
    if is_open:
        message = "this private passage never ends, so it goes to the end of the file"
        yield Problem(path, opened_on, "warning", message, "add a line ::: below it")


def _read(text: str) -> Iterator[_Read]:
    pending: list[_Read] = []
    """Lines since the last mark, which a closing mark without an open passage hides."""
    quoted: bool | None = None
    """For the open passage: whether its mark was in a list or quote."""
    for number, line in enumerate(_LINE.findall(text)):
        mark = _mark_of(line) if _COLON.search(line) else None
        if quoted is not None:
            ends = mark is not None and mark.ends and (quoted or not mark.quoted)
            yield _Read(line, number, not ends, mark=ends)
            quoted = None if ends else quoted
        elif mark is None:
            pending.append(_Read(line, number, False))
        elif mark.ends:
            yield from (_Read(one.line, one.number, True) for one in pending)
            odd = "this line ends a private passage, but none starts above"
            yield _Read(line, number, False, mark=True, odd=odd)
            pending = []
        else:
            yield from pending
            pending = []
            odd = "" if mark.plain else "this line seems to start a private passage"
            yield _Read(line, number, True, mark=not mark.has_more, odd=odd)
            quoted = mark.quoted
    yield from pending


@dataclass(frozen=True, slots=True)
class _Mark:
    """A line that begins or ends a passage. plain: as it should be written. quoted: whether it is in a list or quote.

    has_more: whether further words follow the mark, which belong to the passage.
    """

    ends: bool
    plain: bool = True
    quoted: bool = False
    has_more: bool = False


def _mark_of(line: str) -> _Mark | None:
    """The mark in a line, however it is written; None if the line is not a mark."""
    plain = line.translate(_PLAIN)
    found = _MARK.match(plain)
    if found:
        count = found["colons"].count(":")
        words = _WORD.findall(found["after"][:400])
        quoted = bool(found["before"].strip())
        if count >= 3 and not any(sign.isalnum() for sign in found["after"]):
            return _Mark(ends=True, quoted=quoted)
        is_like = bool(words) and _is_like_a_mark(words[0])
        if count >= 3 or (is_like and (count == 2 or (len(words) == 1 and len(found["after"]) <= _LONGEST_MARK))):
            is_plain = found["colons"] == ":" * max(3, count) and not quoted
            is_plain = is_plain and found["after"].strip(" \t\n:").casefold() in ("private", "keeper")
            return _Mark(ends=False, plain=is_plain, quoted=quoted, has_more=not (is_like and len(words) == 1))
    before = _WORD_AND_MARK.match(plain)
    if before and _is_like_a_mark(before["word"]):
        is_bare = not any(sign.isalnum() for sign in before["after"])
        is_label = _letters(before["word"]).startswith("privat") and before["after"][:1] in ("", " ", "\t", "\n")
        is_label = is_label and len(before["colons"]) == 1 and before["after"].strip().casefold() not in _NO
        if is_label or (len(before["colons"]) > 1 and is_bare):
            return _Mark(ends=False, plain=False, has_more=not is_bare)
    within = any(_is_like_a_mark(one[1]) for one in _MARK_WITHIN.finditer(plain))
    return _Mark(ends=False, plain=False, has_more=True) if within else None
