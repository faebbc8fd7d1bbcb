"""Delimited text files, as data loggers write them: encoding, delimiter and header found from the file itself."""

from __future__ import annotations

import codecs
import csv
import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Literal

from journal.problems import Unreadable, nearest

Encoding = Literal["utf-8", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]

_DELIMITERS = "\t;|,"
_LONGEST_PREAMBLE = 100
_LONGEST_HEADER = 10_000


@dataclass(frozen=True, slots=True)
class Table:
    """A header and the lines after it. header_line: its 1-based line in the file."""

    header: tuple[str, ...]
    header_line: int
    delimiter: str
    lines: tuple[str, ...]

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """Line number and cells of every line after the header that is not blank."""
        for number, line in enumerate(self.lines, start=self.header_line + 1):
            if line and not line.isspace():
                yield number, cells_of(line, self.delimiter)

    def column(self, name: str) -> int | None:
        """Index of the column of that name, without regard to case, spacing or a unit after it; None where none is."""
        plain = [_plain(cell) for cell in self.header]
        if _plain(name) in plain:
            return plain.index(_plain(name))
        bare = [_without_unit(cell) for cell in plain]
        return bare.index(_plain(name)) if bare.count(_plain(name)) == 1 else None

    def nearest(self, name: str) -> str | None:
        """The header cell most like a name, or None."""
        return nearest(name, [cell.strip() for cell in self.header if cell.strip()])


def encoding_of(data: bytes) -> Encoding:
    """By its byte order mark, else UTF-8 where it is valid, else Windows-1252."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if data[:200].count(0) > len(data[:200]) // 4:  # UTF-16 without a mark: every other byte of Latin text is 0
        return "utf-16-le" if data[1:2] == b"\0" else "utf-16-be"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def decoded_as(data: bytes, encoding: Encoding) -> str:
    """The text of a file or of a part of it, a byte order mark at its beginning left out."""
    return data.decode("utf-8-sig" if encoding == "utf-8" else encoding, "replace")


def find_table(text: str, names: Sequence[str]) -> Table:
    """The table whose header holds most of the names, among the first 100 lines and the delimiters , ; | and tab.

    Where no line holds any, the line that looks most like a header. Unreadable where nothing looks like a table.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    best: tuple[tuple[int, int], Table] | None = None
    for number, line in islice(enumerate(lines, start=1), _LONGEST_PREAMBLE):
        for delimiter in _DELIMITERS if len(line) <= _LONGEST_HEADER else "":
            header = tuple(cells_of(line, delimiter))
            score = _likeness(header, names, number, delimiter)
            if len(header) > 1 and (best is None or score > best[0]):
                best = score, Table(header, number, delimiter, tuple(lines[number:]))
    if best is None:
        raise Unreadable("no table of readings is in this file", "export the readings as CSV with a line of names")
    return best[1]


def cells_of(line: str, delimiter: str) -> list[str]:
    """The cells of one line; a quote that is never closed ends with its line, not with the file."""
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:  # a cell of over 128 KiB
        return line.split(delimiter)


def _likeness(header: tuple[str, ...], names: Sequence[str], number: int, delimiter: str) -> tuple[int, int]:
    """How many of the names a line holds, then how many of its cells are words."""
    table = Table(header, number, delimiter, ())
    words = sum(bool(re.match(r"\s*[^\W\d]", cell)) for cell in header)
    return sum(table.column(name) is not None for name in names), words


def _plain(name: str) -> str:
    """A column's name for comparing: one look for each sign, one space, no case."""
    return " ".join(unicodedata.normalize("NFKC", name.replace("º", "°")).casefold().split())


def _without_unit(name: str) -> str:
    """A column's name without what stands in brackets at its end, or behind its last comma."""
    begins = [name.rfind(",")]
    if name.endswith(("]", ")")):
        closed = max(name.rfind("]", 0, -1), name.rfind(")", 0, -1))
        begins += [name.find("[", closed + 1), name.find("(", closed + 1)]
    begins = [at for at in begins if at >= 0]
    return name[: min(begins)].rstrip() if begins else name
