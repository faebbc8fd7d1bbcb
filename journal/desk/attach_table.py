"""The table of `journal attach --dry-run`: each photo under what would become of it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping, Sequence

from rich.cells import cell_len

from journal.desk.attach_words import REASONS, entry_word, home_of, number_of
from journal.desk.telling import plain
from journal.gathering.filing import Fate, Filed, Plan

Row = tuple[str, str, str]
"""A photo as typed; when it was taken; what it is called in the journal, or where it is known from."""

_HEAD: Row = ("Photo", "Taken", "Its name there")
_INDENT, _GAP = "  ", "  "
_FEWEST_COLUMNS = 40

_HEADINGS: Mapping[Fate, str] = {
    "known": "Taken in before",
    "again": "Named once more: the same photo",
    "no day": "Tells no time: its day is asked for, or said with --date 2026-10-27",
    "no picture": "Left out: " + REASONS["no picture"],
    "elsewhere": "Left out: lies in the journal already, in no entry; move that file to {home} and run the same again",
    "unlisted": "Left out: lies there under a name that no entry can list; rename that file and run the same again",
}


def table(plan: Plan, left_out: Sequence[tuple[str, str]], columns: int | None) -> str:
    """A line a photo, under the note that it goes into or what else becomes of it.

    left_out: (photo as typed, why) of those that the plan does not know. columns: of the terminal, which each line
    then fits, long names losing their beginning; None where it is none, and nothing is cut.
    """
    groups = [
        (plain(heading), [tuple(plain(cell) for cell in row) for row in rows])
        for heading, rows in (*_notes(plan), *_others(plan), *_unknown(left_out))
    ]
    widths = _widths([_HEAD, *(row for _, rows in groups for row in rows)], columns)
    lines = [_line(_HEAD, widths)]
    for heading, rows in groups:
        lines += _wrapped(heading, columns) + [_line(row, widths) for row in rows]
    return "\n".join(lines)


def _notes(plan: Plan) -> Iterator[tuple[str, list[Row]]]:
    for note in plan.notes:
        heading = f"{note.path}: a new {entry_word(plan)} with {number_of(len(note.photos), 'photo')}"
        yield heading, [_row(one) for one in note.photos]


def _others(plan: Plan) -> Iterator[tuple[str, list[Row]]]:
    for fate, heading in _HEADINGS.items():
        if rows := [_row(one) for one in plan.with_fate(fate)]:
            yield heading.format(home=home_of(plan)), rows


def _unknown(left_out: Sequence[tuple[str, str]]) -> Iterator[tuple[str, list[Row]]]:
    for why in dict.fromkeys(why for _, why in left_out):
        yield f"Left out: {why}", [(shown, "", "") for shown, other in left_out if other == why]


def _row(one: Filed) -> Row:
    there = {"copied": one.name, "listed": f"{one.name}, lies there", "known": f"in {one.besides}"}
    return one.content.source.shown, _taken(one), there.get(one.fate, one.besides or one.path)


def _taken(one: Filed) -> str:
    if one.looked and one.looked.taken:
        return f"{one.looked.taken:%Y-%m-%d %H:%M}"
    return f"{one.day}, told" if one.day else ""


# -- into columns -----------------------------------------------------------------------------------------------------


def _widths(rows: Sequence[Sequence[str]], columns: int | None) -> list[int]:
    """Cells of each column: as many as its longest cell has; on a terminal the first and the last share what is left,
    and one that needs less than half leaves the rest to the other."""
    first, taken, last = (max(cell_len(row[column]) for row in rows) for column in range(3))
    if columns is None:
        return [first, taken, last]
    room = max(columns, _FEWEST_COLUMNS) - len(_INDENT) - 2 * len(_GAP) - taken
    last = min(last, max(room // 2, room - first))
    return [min(first, room - last), taken, last]


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    cells = (_padded(_end_of(text, width), width) for text, width in zip(row, widths, strict=True))
    return (_INDENT + _GAP.join(cells)).rstrip()


def _padded(text: str, width: int) -> str:
    return text + " " * (width - cell_len(text))


def _end_of(text: str, width: int) -> str:
    """As much of the end of a text as fits: of a path that tells more than its beginning."""
    if cell_len(text) <= width:
        return text
    at = next(at for at in range(1, len(text) + 1) if cell_len(text[at:]) < width)
    return f"…{text[at:]}"


def _wrapped(heading: str, columns: int | None) -> list[str]:
    if columns is None:
        return [heading]
    return textwrap.wrap(heading, max(columns, _FEWEST_COLUMNS), break_on_hyphens=False, break_long_words=False)
