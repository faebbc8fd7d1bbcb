"""Passages of an entry's text that the keeper wants in no share."""

from __future__ import annotations

import re
from collections.abc import Iterator

from journal.problems import Problem

_LINE = re.compile(r"[^\n]*\n|[^\n]+")
# Generous on purpose: what looks like the beginning of a passage is one, for the sake of what stands in it.
_BEGINS = re.compile(r"\s*+:{3,}+\s*+keeper\s*+(?::++\s*+)?", re.IGNORECASE)
_ENDS = re.compile(r"\s*+:{3,}+\s*+")
_SEEMS_TO_BEGIN = re.compile(r"\s*+:{3,}+\s*+[^:\s]")


def split_keeper(text: str) -> tuple[tuple[str, bool], ...]:
    """(passage, whether it is for the keeper alone), in order, without the `::: keeper` and `:::` lines.

    A passage that is never closed goes to the end. Passages of white space alone are left out.
    """
    passages: list[tuple[list[str], bool]] = [([], False)]
    for line, _, turns in _lines(text):
        if turns is None:
            passages[-1][0].append(line)
        else:
            passages.append(([], turns))
    joined = (("".join(lines), for_keeper) for lines, for_keeper in passages)
    return tuple((passage, for_keeper) for passage, for_keeper in joined if passage.strip())


def keeper_problems(path: str, text: str, text_line: int) -> Iterator[Problem]:
    """A passage that is never closed, and lines that begin none though they seem to; text_line: where text begins."""
    opened_on = None
    for line, number, turns in _lines(text):
        if turns is not None:
            opened_on = text_line + number if turns else None
        elif opened_on is None and _SEEMS_TO_BEGIN.match(line):
            says = "this line seems to begin a passage for the keeper and does not"
            yield Problem(path, text_line + number, "odd", says, "write ::: keeper")
    if opened_on is not None:
        says = "the passage for the keeper is never closed; it goes to the end of the file"
        yield Problem(path, opened_on, "odd", says, "put a line ::: under it")


def _lines(text: str) -> Iterator[tuple[str, int, bool | None]]:
    """(line with its end, number from 0, turns): turns True where a passage begins, False where it ends, else None."""
    inside = False
    for number, line in enumerate(_LINE.findall(text)):
        turns: bool | None = None
        if ":::" in line:
            if not inside and _BEGINS.fullmatch(line):
                inside = turns = True
            elif inside and _ENDS.fullmatch(line):
                inside = turns = False
        yield line, number, turns
