"""Pictures in an entry's text: which it shows, and small mistakes in their notation corrected to CommonMark."""

from __future__ import annotations

import re
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from html import unescape
from urllib.parse import unquote

_IMAGE = re.compile(
    r"(?<!\\)!\[(?P<alt>(?:[^\[\]]|\[[^\[\]]*\])*)\]"
    r"\(\s*(?:<(?P<pointed>[^<>]*)>|(?P<bare>(?:[^\s()<>]|\([^\s()]*\))+))(?:\s+[\"'(][^\"')]*[\"')])?\s*\)"
)
_FENCE = re.compile(r" {0,3}(`{3,}|~{3,})")
_TOKEN = re.compile(r"(?<!\\)!\[|\]\(")
_SLIP = re.compile(
    r"\s*+(?P<target>(?:(?!\]\()[^<>\n]){1,255}?\.(?!html?\b)[A-Za-z]{3,4})(?P<title>\s+\"[^\"\n]{0,255}\")?\s*\)"
)


@dataclass(frozen=True, slots=True)
class ShownPicture:
    """A picture shown in an entry's text. line: 0 for the text's first line. target: percent-decoded."""

    line: int
    alt: str
    target: str


def shown_in(text: str) -> Iterator[ShownPicture]:
    """The pictures that a Markdown text shows, `![alt](target)`, outside code.

    *Source:* CommonMark 0.31.2, sections 4.5 (fenced code), 6.1 (code spans), 6.4 (images); images by reference and
    indented code are not considered.
    """
    if "![" not in text:
        return
    for number, line in _lines_outside_fences(text):
        if "![" in line:
            spans = _code_spans(line)
            for found in _IMAGE.finditer(line):
                if not any(start <= found.start() < end for start, end in spans):
                    target = found["pointed"] if found["pointed"] is not None else found["bare"]
                    yield ShownPicture(number, " ".join(unescape(found["alt"]).split()), unquote(target))


def _lines_outside_fences(text: str) -> Iterator[tuple[int, str]]:
    fence = ""
    for number, line in enumerate(text.split("\n")):
        mark = _FENCE.match(line)
        if not fence and mark:
            fence = mark[1]
        elif not fence:
            yield number, line
        elif mark and mark[1].startswith(fence) and not line[mark.end() :].strip():
            fence = ""


def _code_spans(line: str) -> list[tuple[int, int]]:
    """The code spans of a line: from a run of backticks to the next run of the same length."""
    runs = [(found.start(), found.end()) for found in re.finditer("`+", line)]
    by_length: dict[int, list[int]] = defaultdict(list)
    for start, end in runs:
        by_length[end - start].append(start)
    spans: list[tuple[int, int]] = []
    for start, end in runs:
        if spans and start < spans[-1][1]:
            continue
        alike = by_length[end - start]
        after = bisect_right(alike, start)
        if after < len(alike):
            spans.append((start, alike[after] + end - start))
    return spans


def with_slips_mended(text: str) -> str:
    """The text in which pictures that CommonMark would not recognise, because of a space in the file's name or an
    unmatched bracket in the caption (`![the cluster](IMG 1.JPG)`), are written so that it does. Lines keep their
    numbers."""
    if "![" not in text:
        return text
    lines = text.split("\n")
    for number, line in _lines_outside_fences(text):
        if "![" in line and "](" in line:
            lines[number] = _mended(line)
    return "\n".join(lines)


def _mended(line: str) -> str:
    spans = iter(_code_spans(line))
    start, end = next(spans, (len(line), len(line)))
    shown = {found.start(): found.end() for found in _IMAGE.finditer(line)}
    parts: list[str] = []
    copied, passed, opened = 0, 0, None
    for token in _TOKEN.finditer(line):
        at = token.start()
        while end <= at:
            start, end = next(spans, (len(line), len(line) + 1))
        if at < passed or start <= at < end:
            continue
        if token[0] == "![":
            passed, opened = shown.get(at, passed), None if at in shown else at
        elif opened is not None and (slip := _SLIP.match(line, token.end())):
            alt = line[opened + 2 : at].replace("[", "&#91;").replace("]", "&#93;")
            parts += (line[copied:opened], f"![{alt}](<{slip['target'].strip()}>{slip['title'] or ''})")
            copied, passed, opened = slip.end(), slip.end(), None
    return "".join((*parts, line[copied:]))
