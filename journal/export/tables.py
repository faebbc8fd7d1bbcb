"""The document of the model as tables: one a kind, a row an observation, a column a variable; written whole, never
over another's file.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

from journal.problems import Refusal
from journal.site.build.swap import clean_up, new_tree, put_in_place

# Tables and columns come from the document itself, and from that of an example journal with a value of everything, so
# that a column is there before its first value. Within a row, objects become columns (`position_lat_deg`),
# lists of plain values are joined, and lists of objects become tables of their own whose rows name what they belong
# to.

TableRow = Mapping[str, Any]
KeyPath = tuple[str, ...]

UNITS: Mapping[str, str] = {
    **dict.fromkeys(("be_interval_high", "be_interval_low", "be_median"), "percent"),
    **dict.fromkeys(("lat", "lon", "position_lat", "position_lon", "track_lat", "track_lon"), "deg"),
    **dict.fromkeys(("height", "width"), "px"),
}
"""The units of columns whose name in the document does not tell it."""

_STARTS_A_FORMULA = re.compile("'*[=+\\-@\t\r＝＋－＠]")
"""What spreadsheets take for the start of a formula, also behind apostrophes that hide it. *Source:* OWASP, CSV
Injection."""


@dataclass(frozen=True, slots=True)
class ExportTable:
    """name: of the file, without `.csv`. Every row has as many cells as there are columns; "" is unknown."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def tables_of(document: TableRow, example: TableRow) -> tuple[ExportTable, ...]:
    """Every table of a document, those within rows last. example: has a value of everything; adds columns, no rows."""
    kinds = []
    for name, found in document.items():
        rows = _rows(found)
        kinds.append(_Kind(name, rows, _shape_of_objects([*_rows(example.get(name, ())), *rows])))
    inner: dict[str, list[tuple[_Kind, KeyPath]]] = {}
    for kind in kinds:
        for path in kind.shape.paths("rows", "numbered"):
            inner.setdefault(path[-1], []).append((kind, path))
    return (
        *(
            ExportTable(kind.name, tuple(map(_column, kind.shape.columns())), tuple(_cells(kind.rows, kind.shape)))
            for kind in kinds
        ),
        *(_inner_table(name, parents) for name, parents in inner.items()),
    )


def csv_of(table: ExportTable) -> bytes:
    """A table as a file: RFC 4180, UTF-8 without a mark, one line of header. Text that a spreadsheet would take for a
    formula begins with an apostrophe."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(table.columns)
    writer.writerows(table.rows)
    return out.getvalue().encode("utf-8", "backslashreplace")


def _rows(found: Any) -> list[TableRow]:
    return [found] if isinstance(found, Mapping) else list(found)


@dataclass(slots=True)
class _Shape:
    """What was seen of one thing in all rows. `numbered` is an object whose names are numbers, like flush 2."""

    kind: Literal["value", "object", "list", "rows", "numbered"]
    parts: dict[str, _Shape] = field(default_factory=dict)

    def paths(self, *kinds: str) -> Iterator[KeyPath]:
        """Where parts of these kinds are within an object: values and lists are columns, the others tables."""
        for name, part in self.parts.items():
            if part.kind == "object":
                yield from ((name, *path) for path in part.paths(*kinds))
            elif part.kind in kinds:
                yield (name,)

    def columns(self) -> tuple[KeyPath, ...]:
        return tuple(self.paths("value", "list"))

    def flat(self) -> _Shape:
        """The same with no table of its own in it: what would be one is in one cell, as JSON."""
        if self.kind in ("rows", "numbered"):
            return _Shape("value")
        return _Shape(self.kind, {name: part.flat() for name, part in self.parts.items()})

    def at(self, path: KeyPath) -> _Shape:
        return self.parts[path[0]].at(path[1:]) if path else self


def _shape_of(values: Iterable[Any]) -> _Shape:
    known = [value for value in values if value is not None]
    if known and all(isinstance(value, Mapping) for value in known):
        return _shape_of_objects(known)
    if known and all(isinstance(value, list) for value in known):
        items = [item for value in known for item in value]
        if items and all(isinstance(item, Mapping) for item in items):
            return _Shape("rows", {name: part.flat() for name, part in _shape_of_objects(items).parts.items()})
        return _Shape("list")
    return _Shape("value")


def _shape_of_objects(objects: Sequence[TableRow]) -> _Shape:
    names = list(dict.fromkeys(name for row in objects for name in row))
    if names and all(name.isdecimal() for name in names):
        return _Shape("numbered")
    return _Shape("object", {name: _shape_of(row[name] for row in objects if name in row) for name in names})


def _value_at(row: TableRow, path: KeyPath) -> Any:
    found: Any = row
    for name in path:
        found = found.get(name) if isinstance(found, Mapping) else None
    return found


@dataclass(frozen=True, slots=True)
class _Kind:
    """What the document has under one name. shape: of its rows and the specimen's."""

    name: str
    rows: Sequence[TableRow]
    shape: _Shape

    @property
    def singular(self) -> str:
        return self.name.removesuffix("es" if self.name.endswith("ches") else "s")


def _inner_table(name: str, parents: Sequence[tuple[_Kind, KeyPath]]) -> ExportTable:
    """What is in the rows of these kinds; whose a row is: the one kind's ID, else kind and path of the entry."""
    shapes = [kind.shape.at(path) for kind, path in parents]
    shape = _Shape("rows", {part: found for each in shapes for part, found in each.parts.items()})
    is_numbered = shapes[0].kind == "numbered"
    own = ("number", _column((name,))) if is_numbered else tuple(map(_column, shape.columns()))
    first = parents[0][0]
    key, owner = ("id", first.singular) if "id" in first.shape.parts else ("path", "entry")
    rows: list[tuple[str, ...]] = []
    for kind, path in parents:
        for row in kind.rows:
            whose = (cell_of(row.get(key)),) if len(parents) == 1 else (kind.singular, cell_of(row.get("path")))
            found = _value_at(row, path)
            if is_numbered:
                rows += [(*whose, cell_of(number), cell_of(value)) for number, value in (found or {}).items()]
            else:
                rows += [(*whose, *cells) for cells in _cells(found or (), shape)]
    return ExportTable(name, (*((owner,) if len(parents) == 1 else ("kind", "entry")), *own), tuple(rows))


def _cells(rows: Iterable[TableRow], shape: _Shape) -> Iterator[tuple[str, ...]]:
    paths = shape.columns()
    return (tuple(cell_of(_value_at(row, path)) for path in paths) for row in rows)


def _column(path: KeyPath) -> str:
    name = "_".join(path)
    return f"{name}_{UNITS[name]}" if name in UNITS else name


def cell_of(value: Any) -> str:
    """A value as a cell has it: "" for unknown, true or false, a number as in JSON, text as it is, and the parts
    of a list with `; ` between them."""
    match value:
        case None:
            return ""
        case bool():
            return "true" if value else "false"
        case str():
            return _harmless(value)
        case list():
            return _harmless("; ".join(_text_of(part).replace(";", ";;") for part in value))
    return _text_of(value)


def _text_of(value: Any) -> str:
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _harmless(text: str) -> str:
    return f"'{text}" if _STARTS_A_FORMULA.match(text) else text


MARK = ".journal-tables"
"""Lists every file by SHA-256, as `sha256sum` does: so an earlier export is known from a stranger's folder, and a table
that its author went on working in from one that may be replaced."""


def write_tables(tables: Iterable[ExportTable], target: Path, journal: Path) -> None:
    """Puts the tables into the folder, in one step, in the place of an earlier export. Both paths are absolute, with
    links resolved. Raises Refusal where the folder holds, or lies among, what is not ours to write over; then nothing
    is changed."""
    refuse_unless_our_tables(target, journal)
    clean_up(target)
    files = {f"{table.name}.csv": csv_of(table) for table in tables}
    mark = "".join(f"{hashlib.sha256(files[name]).hexdigest()}  {name}\n" for name in sorted(files))
    with new_tree(target, MARK, mark) as tree:
        for name, content in files.items():
            (tree / name).write_bytes(content)
        put_in_place(tree, target)


def refuse_unless_our_tables(target: Path, journal: Path) -> None:
    """Raises Refusal unless the target is absent, empty or an unchanged earlier export, apart from the journal."""
    if target.is_relative_to(journal) or journal.is_relative_to(target):
        raise Refusal(f"--to {target} is in the journal or contains it; name another folder")
    if not os.path.lexists(target):
        return
    if not target.is_dir():
        raise Refusal(f"--to {target} is a file; name a folder")
    written = _written(target)
    for file in sorted(target.iterdir()):
        if file.name != MARK and file.name not in written:
            raise Refusal(f"--to {target} contains {file.name}, which no export wrote; name an empty or a new folder")
        digest = hashlib.sha256(file.read_bytes()).hexdigest() if file.is_file() and not file.is_symlink() else None
        if file.name in written and written[file.name] != digest:
            raise Refusal(f"{file} was changed after the export; move it elsewhere, or name another folder")


def _written(target: Path) -> dict[str, str]:
    """What an earlier export wrote there: name -> SHA-256; nothing where there is no mark."""
    mark = target / MARK
    if mark.is_symlink() or not mark.is_file():
        return {}
    lines = mark.read_text(encoding="utf-8", errors="replace").splitlines()
    return {name: digest for digest, found, name in (line.partition("  ") for line in lines) if found}
