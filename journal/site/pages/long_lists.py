"""Long lists in parts: what is current is open, the rest folded by year, each part a page and a script of its rows."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any, TypeVar

from journal.analysis.species_names import OwnNames, name_of_kind
from journal.quantities import counted
from journal.site import addresses
from journal.site.parts import Dated, in_parts, part_in_words, time_of
from journal.site.plan import Page

T = TypeVar("T")

OPEN_ROWS = 40
"""How many rows a list shows unfolded at most."""

FILTERED_FROM = 12
"""A list with fewer rows has no filter and no jump."""

MOST_CHOICES = 40
"""How many names a filter offers; others can be typed."""


@dataclass(frozen=True, slots=True)
class LongList:
    """kind: folder of its parts below `lists/`, and the name of the macro that lays out its rows. title: of its page.
    place: which main page it hangs under. one, several: what its rows are called."""

    kind: str
    title: str
    place: str | None
    address: str
    one: str
    several: str

    def counted(self, count: int) -> str:
        return counted(count, self.one, self.several)


@dataclass(frozen=True, slots=True)
class Fold:
    """A part as its list shows it. script: brings its rows into the page of the list."""

    words: str
    count: str
    address: str
    script: str


@dataclass(frozen=True, slots=True)
class FoldedYear:
    year: int
    count: str
    folds: tuple[Fold, ...]


@dataclass(frozen=True, slots=True)
class Filter:
    """A field by which rows are filtered. key: the row's attribute is `data-KEY`. is_fixed: whether nothing else can be
    typed."""

    key: str
    label: str
    choices: tuple[str, ...]
    is_fixed: bool = False


def folded(of: LongList, rows: Sequence[Dated[Mapping[str, Any]]]) -> tuple[tuple[FoldedYear, ...], list[Page]]:
    """The rows that are not open, by year and part, the newest first, and the pages of these parts. The rows of a part
    are in the order given."""
    years: dict[int, list[Fold]] = defaultdict(list)
    counts = Counter(day.year for day, _ in rows)
    pages: list[Page] = []
    for key, part in sorted(in_parts(rows).items(), key=lambda one: time_of(one[0]), reverse=True):
        year, words = int(key[:4]), part_in_words(key)
        fold = Fold(words, of.counted(len(part)), addresses.part_of_list(of.kind, key), f"lists/{of.kind}/{key}.js")
        years[year].append(fold)
        pages += _pages(of, key, fold, part)
    return tuple(FoldedYear(year, of.counted(counts[year]), tuple(folds)) for year, folds in years.items()), pages


def _pages(of: LongList, key: str, fold: Fold, rows: Sequence[Mapping[str, Any]]) -> Iterator[Page]:
    values, section = (("kind", of.kind), ("part", key)), f"lists-{key[:4]}"
    shown: dict[str, Any] = {"kind": of.kind, "rows": rows}
    title = f"{of.title}: {fold.words}"
    page = {"title": title, "place": of.place, "list": of, "fold": fold, **shown}
    yield Page("part", values, fold.address, "lists/part.html", page, section)
    script = {**shown, "script": fold.script, "root": addresses.root_from(of.address)}  # of the page that reads it
    yield Page("rows", values, fold.script, "lists/rows.js", script, section)


def newest_year(rows: Sequence[Dated[T]], most: int = OPEN_ROWS) -> tuple[list[T], list[Dated[T]]]:
    """Rows in order of time, the newest first: those of the newest year, as far as there is room, and the others. Of
    few rows none is folded. most: how many rows stay open."""
    if len(rows) <= most:
        return [row for _, row in rows], []
    newest = rows[0][0].year
    count = sum(day.year == newest for day, _ in rows[:most])
    return [row for _, row in rows[:count]], list(rows[count:])


def newest_part(rows: Sequence[Dated[T]]) -> tuple[list[T], list[Dated[T]]]:
    """Rows in order of time, the newest first: those of the newest part, and the others, so that a row that joins the
    newest ones changes no part. Of few rows none is folded."""
    if len(rows) <= OPEN_ROWS:
        return [row for _, row in rows], []
    parts = in_parts(rows)
    count = len(parts[max(parts, key=time_of)])
    return [row for _, row in rows[:count]], list(rows[count:])


def choices_of(names: Iterable[str | None]) -> tuple[str, ...]:
    """The names that are used most, in order of the alphabet; of very many those alone that are used again."""
    used = Counter(name for name in names if name)
    few = len(used) <= MOST_CHOICES
    kept = sorted((row for row in used.items() if few or row[1] > 1), key=lambda row: (-row[1], row[0]))[:MOST_CHOICES]
    return tuple(sorted((name for name, _ in kept), key=str.casefold))


def species_compared(written: Iterable[str | None], own: OwnNames) -> tuple[str, ...]:
    """What a row is filtered by: each species that it has, and its name as it is written. own: the author's names."""
    names = ((name_of_kind(text, own), text.strip("*_ ")) for text in written if text)
    return tuple(dict.fromkeys(filter(None, chain.from_iterable(names))))


def filters_of(
    rows: Sequence[Mapping[str, Any]], *fields: tuple[str, str], stages: Iterable[str] = ()
) -> tuple[Filter, ...]:
    """The filters of a list, as far as its rows differ in them. rows: all of the list, folded or not; each has what is
    compared under `filter`, a text or several. fields: key and label; stages: the choices for `stage`, in order."""
    if len(rows) < FILTERED_FROM:
        return ()
    compared = {key: [row["filter"].get(key) for row in rows] for key, _ in fields}
    stages = tuple(stages)
    kept = [
        Filter(key, label, choices_of(chain.from_iterable([one] if isinstance(one, str) else one for one in found)))
        for key, label in fields
        if len({*(found := [one for one in compared[key] if one])}) > 1
    ]
    return (*kept, Filter("stage", "Stage", stages, is_fixed=True)) if stages else tuple(kept)
