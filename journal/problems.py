"""Problems in what a person wrote, collected as values; and the one exception whose message is meant for the author."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal

Severity = Literal["error", "warning"]


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One line for the author: where it is, what is wrong and how to fix it.

    path: relative to the journal folder, with "/" between its parts.
    line: 1-based line in that file; 0 where the file as a whole is meant.
    severity: "error" (cannot be read or used; the value is None in the model) or "warning" (used, but check it).
    message, fix: short sentences without a final full stop.
    paste: lines for `journal.toml` that fix it, to be added there as they are; "" where there are none.
    """

    path: str
    line: int
    severity: Severity
    message: str
    fix: str
    paste: str = ""

    @property
    def sentence(self) -> str:
        """Message and fix as one line."""
        return f"{self.message}; fix: {self.fix}" if self.fix else self.message

    def __str__(self) -> str:
        where = f"{self.path}:{self.line}" if self.line else self.path
        return f"{where}: {self.severity}: {self.sentence}"


class Unreadable(ValueError):
    """A text not in the expected notation; its reader makes a Problem of its message and fix."""

    def __init__(self, message: str, fix: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.fix = fix


_LONGEST_WORD = 100
_NEGATIONS = ("un", "in", "non", "dis", "not ", "no ")
_SHORT_WORD = 5


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word most like `word` without regard to case, or None where none is near, or `word` is very long.

    Never one that says the opposite (`unsure` for `sure`). A word of up to five letters alone has to be nearer than
    others: of `tags` and `stage`, which mean nothing alike, two letters in three are the same.
    """
    if len(word) > _LONGEST_WORD:
        return None
    by_fold = {k.casefold(): k for k in known if not is_opposite(word.casefold(), k.casefold())}
    is_short = len(word) <= _SHORT_WORD and word.isalpha()
    close = get_close_matches(word.casefold(), by_fold, n=1, cutoff=0.7 if is_short else 0.6)
    return by_fold[close[0]] if close else None


def nearest_name(name: str, known: Iterable[str]) -> str | None:
    """As `nearest`; else the first known name that has every word of `name`, or of which `name` has every word:
    `boat-shed` for `shed`."""
    names = list(known)
    words = _words_of(name)
    return nearest(name, names) or next(
        (one for one in names if (words and words <= _words_of(one)) or (_words_of(one) and _words_of(one) <= words)),
        None,
    )


def _words_of(name: str) -> set[str]:
    return set(re.findall(r"[^\W_]+", name.casefold()))


def nearest_file(name: str, known: Iterable[str]) -> str | None:
    """The known path of the file whose name is most like that of `name`, whatever the folders and the ending: `.jpg`
    makes nothing alike. Of several with one name, one with the same ending."""
    stem, ending = posixpath.splitext(posixpath.basename(name))
    by_stem: dict[str, str] = {}
    for path in sorted(known, key=lambda path: not path.casefold().endswith(ending.casefold())):
        by_stem.setdefault(posixpath.splitext(posixpath.basename(path))[0], path)
    near = nearest(stem, by_stem)
    return None if near is None else by_stem[near]


def is_opposite(one: str, other: str) -> bool:
    """Whether one of two words denies the other: `unsure` and `sure`."""
    return any(one == before + other or other == before + one for before in _NEGATIONS)


def shortened(text: str, at_most: int = 48) -> str:
    """A found text in quotation marks, on one line, cut where it is longer than `at_most` characters."""
    line = " ".join(text.split())
    return f'"{line}"' if len(line) <= at_most else f'"{line[: at_most - 1]}…"'


class Refusal(Exception):
    """A command cannot do what it was asked; its text is a sentence for the author, without the final full stop.

    paste: as a `Problem` has it.
    """

    def __init__(self, sentence: str = "", paste: str = "") -> None:
        super().__init__(sentence)
        self.paste = paste
