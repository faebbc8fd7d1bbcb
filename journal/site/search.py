"""The search index: rows about entries -> small scripts that a page reads from a host or from a folder."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from itertools import chain
from types import MappingProxyType

from journal.site.parts import in_parts, time_of

WORDS_KEPT = 100
LETTERS_KEPT = 24

_LETTERS = str.maketrans({
    "ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i",
})  # fmt: skip
_WORD = re.compile(r"[^\W_]+")
_NOT_ASCII = re.compile(r"[^\x00-\x7f]")


@dataclass(frozen=True, slots=True)
class SearchRow:
    """One thing that can be found. path: the page, relative to the site's root, with an anchor where it needs one. id:
    as it is spelled, or "". date: ISO 8601, or "". words: text to be found by, the weightiest first (species, place,
    then the entry's own text); photo: a small picture's path from the root."""

    title: str
    path: str
    kind: str
    id: str = ""
    date: str = ""
    words: str = ""
    photo: str | None = None


@dataclass(frozen=True, slots=True)
class SearchLine:
    """A row as its part of the index holds it. date, path: as in the row."""

    date: str
    path: str
    text: str


def line_of(row: SearchRow) -> SearchLine:
    text = as_script([row.title, row.path, row.kind, row.id, row.date, index_words(row), row.photo])
    return SearchLine(row.date, row.path, text)


def fold(text: str) -> str:
    """Text without case and accents, as static/js/search.js folds what is typed."""
    lower = text.lower()
    if lower.isascii():
        return lower
    parted = unicodedata.normalize("NFKD", lower)
    return _NOT_ASCII.sub(_without_mark, parted).translate(_LETTERS)


def _without_mark(found: re.Match[str]) -> str:
    return "" if unicodedata.category(found[0])[0] == "M" else found[0]


def words_of(text: str) -> list[str]:
    """The different words of a text, folded, in the order of their first use."""
    return list(dict.fromkeys(chain.from_iterable(map(_words_within, dict.fromkeys(text.split())))))


@lru_cache(maxsize=1 << 14)
def _words_within(run: str) -> tuple[str, ...]:
    """Of what stands between two spaces: the same few thousand make up nearly all texts of a journal."""
    return tuple(_WORD.findall(fold(run)))


def index_words(row: SearchRow) -> str:
    """What the index holds of a row's words: no word twice, none that the title has, none of one letter."""
    in_title = set(words_of(row.title))
    kept = [w[:LETTERS_KEPT] for w in words_of(row.words) if w not in in_title and (len(w) > 1 or w.isdigit())]
    return " ".join(list(dict.fromkeys(kept))[:WORDS_KEPT])


def search_parts(
    rows: Iterable[SearchRow | SearchLine], names: Mapping[str, Iterable[str]] = MappingProxyType({})
) -> dict[str, str]:
    """Path from the site's root -> script, for `search/parts.js` and every part it names, newest first. A part is as
    `in_parts` has it (`2026`, `2026-11`), so that one new entry stays a small fetch; or `undated`.

    names: other names of what rows tell (`Pleurotus pulmonarius` -> `phoenix oyster`). A row with all words of the one
    is found by the others too; they stand once, beside the parts' names."""
    parts = _by_part(row if isinstance(row, SearchLine) else line_of(row) for row in rows)
    dated = sorted(parts, key=lambda name: (0, 0, 0) if name == "undated" else time_of(name), reverse=True)
    scripts = {f"search/{name}.js": _part_script(parts[name]) for name in dated}
    also = {" ".join(words_of(of)): " ".join(_words_of_names(others)) for of, others in sorted(names.items())}
    scripts["search/parts.js"] = f"journalSearch.parts({as_script(dated)}{',' + as_script(also) if also else ''});\n"
    return scripts


def _words_of_names(names: Iterable[str]) -> list[str]:
    """The words of names, those with an apostrophe also as they are written without: `lion`, `s`, `mane`, `lions`."""
    whole = " ".join(names)
    return words_of(" ".join((whole, re.sub("['’]", "", whole))))


def _by_part(rows: Iterable[SearchLine]) -> Mapping[str, list[SearchLine]]:
    newest_first = sorted(rows, key=lambda row: (row.date, row.path), reverse=True)
    parts = in_parts((_day_of(row.date), row) for row in newest_first if row.date)
    undated = [row for row in newest_first if not row.date]
    return {**parts, "undated": undated} if undated else parts


def _day_of(iso: str) -> date:
    """The first day of a date that may be a month or a year."""
    year, month, day = (*iso[:10].split("-"), "01", "01")[:3]
    return date(int(year), int(month), int(day))


def _part_script(rows: Sequence[SearchLine]) -> str:
    lines = ",\n".join(row.text for row in rows)
    return f"journalSearch.add([\n{lines}\n]);\n"


def as_script(value: object) -> str:
    """JSON that is a script too: U+2028 and U+2029 end a line in older script engines."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    return text.replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
