"""The parts of README.md and DEVELOPERS.md that are made from declarations: keys, settings, commands, the modules.

`python tests/document_tables.py` writes them anew between the marks that stand around them.
"""

from __future__ import annotations

import ast
import itertools
import re
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import click

from journal.cli import cli
from journal.export.document import document
from journal.export.example_journal import specimen
from journal.export.tables import tables_of
from journal.reading.key_help import words_of
from journal.reading.keys import COMMON_KEYS, KEYS, KINDS, Key
from journal.reading.setting_help import tables_help
from journal.reading.toml_tables import Setting

ROOT = Path(__file__).parent.parent
_MARKED = re.compile(
    r"(<!-- made from (?P<what>[^>]+): python tests/document_tables\.py -->\n).*?(<!-- end -->)", re.DOTALL
)


def written_anew(document: str) -> str:
    """A document with every marked part as the declarations have it now."""
    return _MARKED.sub(lambda part: f"{part[1]}\n{PARTS[part['what']]()}\n\n{part[3]}", document)


def parts_of(document: str) -> list[str]:
    """The names of the marked parts."""
    return [part["what"] for part in _MARKED.finditer(document)]


def _table(head: tuple[str, ...], rows: Iterator[tuple[str, ...]]) -> str:
    lines = [head, ("---",) * len(head), *rows]
    return "\n".join(f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in line)} |" for line in lines)


def _code(names: tuple[str, ...]) -> str:
    return ", ".join(f"`{name}`" for name in names)


def _key_rows(keys: Mapping[str, Key]) -> Iterator[tuple[str, str]]:
    """Keys beside one another that say the same share a row."""
    for line, same in itertools.groupby(keys.values(), _key_line):
        yield _code(tuple(key.name for key in same)), line


def _key_line(key: Key) -> str:
    required = "required" if key.required and key.name != "kind" else ""
    older = f"`{key.old[0]}` is an older name" if key.old else ""
    meaning = ": ".join(filter(None, (key.help, words_of(key))))
    return "; ".join(filter(None, (required, meaning, older)))


def keys_of(kind: str) -> str:
    """The table of a kind's keys, without those that every kind has."""
    own = {name: key for name, key in KEYS[kind].items() if name not in COMMON_KEYS}
    return _table(("key", "value"), _key_rows(own))


def settings() -> str:
    return _table(("table", "settings"), _setting_rows())


def _setting_rows() -> Iterator[tuple[str, str]]:
    for table in tables_help():
        about = f"{table.about}: " if table.about and table.settings else table.about
        yield f"`{table.header}`", about + ", ".join(map(_setting, table.settings))


def _setting(row: Setting) -> str:
    more = "; ".join(filter(None, (row.help, f"`{row.old}` is an older name" if row.old else "")))
    return f"`{row.name}`" + (f" ({more})" if more else "")


def commands() -> str:
    return _table(("command", "does", "options"), _command_rows())


def _command_rows() -> Iterator[tuple[str, str, str]]:
    for name, command in cli.commands.items():
        named = " ".join(_argument(one) for one in command.params if isinstance(one, click.Argument))
        options = (_option(one) for one in command.params if isinstance(one, click.Option))
        yield f"`journal {name} {named}`", (command.short_help or "").rstrip("."), ", ".join(options)


def _argument(argument: click.Argument) -> str:
    if isinstance(argument.type, click.Choice) and argument.name:
        return argument.name.upper()
    if argument.metavar:
        return argument.metavar
    return argument.make_metavar(click.Context(cli)).removesuffix("...") + ("…" if argument.nargs < 0 else "")


def _option(option: click.Option) -> str:
    name = next(one for one in option.opts if one.startswith("--"))
    if isinstance(option.type, click.Choice):
        return f"`{name} {' or '.join(map(str, option.type.choices))}`"
    if isinstance(option.type, click.IntRange):
        return f"`{name} N`"
    if option.secondary_opts:
        return f"`{name}` or `{option.secondary_opts[0]}`"
    return f"`{name}`" if option.is_flag else f"`{name} {option.make_metavar(click.Context(cli))}`"


def tables() -> str:
    """The tables of `journal export --as csv`, as the example journal with a value of everything has them."""
    whole = document(specimen())
    inner: dict[str, list[str]] = {}
    for table in tables_of(whole, whole):
        if table.name not in whole:
            inner.setdefault(" and ".join(table.columns[: 2 if table.columns[0] == "kind" else 1]), []).append(
                table.name
            )
    said = {"kind and entry": "entry, by kind and path", "entry": "entry, by path"}
    rows = (
        ("a thing of that kind", tuple(whole)),
        *((f"one of several of the same {said.get(by, by)}", tuple(names)) for by, names in inner.items()),
    )
    return _table(("a row is", "tables"), ((of, _code(tuple(f"{name}.csv" for name in names))) for of, names in rows))


def lists() -> str:
    """The columns that hold several values in one cell."""
    whole = document(specimen())
    tables = {table.name for table in tables_of(whole, whole)}
    return f"{_code(tuple(sorted(_lists_in(whole, tables))))}."


def _lists_in(value: Any, tables: set[str], name: str = "") -> set[str]:
    """tables: names that are tables where a list is empty."""
    if isinstance(value, dict):
        return {one for key, part in value.items() for one in _lists_in(part, tables, key)}
    if not isinstance(value, list):
        return set()
    is_plain = not any(isinstance(part, dict | list) for part in value) and (value or name not in tables)
    return ({name} if is_plain else set()) | {one for part in value for one in _lists_in(part, tables, name)}


def modules() -> str:
    """Every module under the first sentence of its docstring, an indented block."""
    return "\n".join("    " + line for line in _module_lines(ROOT / "journal", 0))


def _module_lines(folder: Path, depth: int) -> Iterator[str]:
    indent = "  " * depth
    yield f"{indent}{folder.name + '/':<12} {first_sentence(folder / '__init__.py')}"
    files = [path for path in sorted(folder.glob("*.py")) if not path.name.startswith("__")]
    for path in files:
        yield f"{indent}  {path.name:<20} {first_sentence(path)}"
    for inner in sorted(path for path in folder.iterdir() if (path / "__init__.py").is_file()):
        yield from _module_lines(inner, depth + 1)


def first_sentence(module: Path) -> str:
    """Of a module's docstring, on one line."""
    docstring = ast.get_docstring(ast.parse(module.read_text(encoding="utf-8"))) or ""
    whole = " ".join(docstring.partition("\n\n")[0].split())
    return re.split(r"(?<=[.!?]) (?=[A-Z`])", whole)[0].removesuffix(".")


PARTS: Mapping[str, Callable[[], str]] = {
    "the commands": commands,
    "the keys of every kind": lambda: _table(("key", "value"), _key_rows(COMMON_KEYS)),
    **{f"the keys of a {kind}": (lambda kind=kind: keys_of(kind)) for kind in KINDS},
    "the settings": settings,
    "the modules": modules,
    "the tables of an export": tables,
    "the lists in an export": lists,
}


def main() -> None:
    for name in ("README.md", "DEVELOPERS.md"):
        path = ROOT / name
        path.write_text(written_anew(path.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
