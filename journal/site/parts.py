"""Rows in parts by time, each as long as a page or a small file may be, so that what is old stays where it is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from typing import TypeVar

from journal.site import wording

T = TypeVar("T")

PART_ROWS = 60
"""How many rows a part has at most: of a list, so that its page stays under 100 kB and 2,500 nodes."""

Dated = tuple[date, T]
"""A row with the day by which it is put into a part."""


def in_parts(rows: Iterable[Dated[T]]) -> dict[str, list[T]]:
    """Rows by part: a year (`2025`), where that would be too long its quarters (`2025-q3`), then months (`2025-07`),
    then so many rows at a time, counted from the oldest (`2025-07-2`), so that what is old stays where it is."""
    return {key: [row for _, row in part] for key, part in _split(list(rows), _STEPS)}


_STEPS: tuple[tuple[Callable[[date], tuple[int, ...]], str], ...] = (
    (lambda day: (day.year,), "{}"),
    (lambda day: (day.year, (day.month + 2) // 3), "{}-q{}"),
    (lambda day: (day.year, day.month), "{}-{:02}"),
)
"""From longer to shorter parts: what tells one from another, and its name."""


def _split(
    rows: Sequence[Dated[T]], steps: Sequence[tuple[Callable[[date], tuple[int, ...]], str]]
) -> Iterator[tuple[str, list[Dated[T]]]]:
    parts: dict[tuple[int, ...], list[Dated[T]]] = defaultdict(list)
    part_of, name = steps[0]
    for row in rows:
        parts[part_of(row[0])].append(row)
    for at, part in parts.items():
        if len(part) <= PART_ROWS:
            yield name.format(*at), part
        elif len(steps) > 1:
            yield from _split(part, steps[1:])
        else:
            yield from _by_number(name.format(*at), part)


def _by_number(key: str, rows: Sequence[Dated[T]]) -> Iterator[tuple[str, list[Dated[T]]]]:
    """The oldest first into parts by number; of one day, what is last in the list counts as the oldest."""
    oldest = sorted(range(len(rows)), key=lambda at: (rows[at][0], -at))
    for first in range(0, len(rows), PART_ROWS):
        yield f"{key}-{first // PART_ROWS + 1}", [rows[at] for at in sorted(oldest[first : first + PART_ROWS])]


def time_of(key: str) -> tuple[int, int, int]:
    """Year, first month and number of a part, 0 where it is longer."""
    year, rest, number = (*key.split("-"), "", "")[:3]
    month = 3 * int(rest[1:]) - 2 if rest.startswith("q") else int(rest or 0)
    return int(year), month, int(number or 0)


def part_in_words(key: str) -> str:
    """`2025`, `July to September 2025`, `July 2025`, `July 2025, part 2`."""
    year, month, number = time_of(key)
    if month == 0:
        return str(year)
    first = wording.month_in_words(date(year, month, 1))
    if "-q" in key:
        return f"{first.partition(' ')[0]} to {wording.month_in_words(date(year, month + 2, 1))}"
    return f"{first}, part {number}" if number else first
