"""TOML tables read key by key: typed values, and problems with their lines."""

from __future__ import annotations

import json
import re
import tomllib
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from journal.problems import Problem, Severity, Unreadable, nearest, shortened
from journal.quantities import Parsed

NOT_TOML = "this file is not TOML"
_HEADER = re.compile(r"\s*+\[\[?+\s*+(?P<name>[^\[\]]++)\]\]?+\s*+(?:#.*)?")
_KEY = re.compile(r"\s*(?P<name>\"[^\"]*\"|'[^']*'|[A-Za-z0-9_.-]+)\s*=")
_DEEP = re.compile(r"(?<![\w.-])(?:(?:[\w-]++|\"[\w-]*+\"|'[\w-]*+')[ \t]*+\.[ \t]*+){64}")
_FAULT_LINE = re.compile(r" \(at line (\d+), column \d+\)$| \(at end of document\)$")
_MISSING_QUOTES = re.compile("""Expected "('+)\"""")


@dataclass(frozen=True, slots=True)
class Setting:
    """One setting: its name in the table, the model's field, and how its TOML value is read.

    read: takes what tomllib made of the value; gives the typed value, or raises Unreadable. help: what the README adds
    to its name. old: an older name, which is still read. meant_by: other words that people write for it, to which a
    message answers with its name.
    """

    name: str
    field: str
    read: Callable[[Any], Parsed[Any]]
    help: str = ""
    required: bool = False
    old: str = ""
    meant_by: tuple[str, ...] = ()


@dataclass(slots=True)
class Toml:
    """A TOML document, the line of each of its keys, and the problems found so far."""

    path: str
    document: Mapping[str, Any] = field(default_factory=dict)
    lines: Mapping[tuple[str, ...], int] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def report(self, at: tuple[str, ...], severity: Severity, message: str, fix: str = "", paste: str = "") -> None:
        """Adds a problem on the line of the key, else of its table."""
        self.problems.append(Problem(self.path, self.line_of(at), severity, message, fix, paste))

    def line_of(self, at: tuple[str, ...]) -> int:
        """The line of the key, else of its table; 0 where neither is known."""
        return next((self.lines[at[:size]] for size in range(len(at), 0, -1) if at[:size] in self.lines), 0)

    def report_unknown(
        self, at: tuple[str, ...], known: Mapping[str, Any] | tuple[str, ...], what: str, *, is_meant: bool = False
    ) -> None:
        """Adds a problem for a name that is none of those known. is_meant: the only one known is what it means."""
        near = next(iter(known)) if is_meant else nearest(at[-1][:60], known)
        fix = f"write {near}, if you mean that" if near else f"write one of {', '.join(known)}"
        self.report(at, "error", f"{shortened(at[-1])} is not a {what}", fix)

    def read_table(
        self, at: tuple[str, ...], table: Mapping[str, Any], settings: tuple[Setting, ...]
    ) -> dict[str, Any]:
        """The values of one table by the model's fields, without those that are absent or wrong."""
        known = {name: setting for setting in settings for name in (setting.name, setting.old) if name}
        values = {}
        for name, written in table.items():
            setting = known.get(name)
            if setting is None:
                meant = next((one for one in settings if name.casefold() in one.meant_by), None)
                names = (meant.name,) if meant else tuple(one.name for one in settings)
                self.report_unknown((*at, name), names, f"setting of [{'.'.join(at)}]", is_meant=meant is not None)
            elif name == setting.old and setting.name in table:
                message = f"{setting.name} is written twice ({name} is its older name); {setting.name} is used"
                self.report((*at, name), "error", message, "keep one of them")
            elif (value := self.read_value((*at, name), written, setting.read)) is not None:
                values[setting.field] = value
        for setting in settings:
            if setting.required and setting.name not in table:
                self.report(at, "error", f"[{'.'.join(at)}] needs {setting.name}", "add it to that table")
        return values

    def read_value(self, at: tuple[str, ...], written: Any, read: Callable[[Any], Parsed[Any]]) -> Any:
        """The typed value; None if it cannot be read, which is reported."""
        try:
            found = read(written)
        except Unreadable as unreadable:
            self.report(at, "error", f"{at[-1]}: {unreadable.message}", unreadable.fix)
            return None
        for remark in found.remarks:
            self.report(at, "warning", f"{at[-1]}: {remark.message}", remark.fix)
        return found.value

    def subtables(self, name: str) -> dict[str, Mapping[str, Any]]:
        """The tables [name.x] by x; what is not a table is reported and left out."""
        tables = self.document.get(name, {})
        if not isinstance(tables, dict):
            self.report((name,), "error", f"{name} is not a table", f"write [{name}.NAME], then its settings below")
            return {}
        for key, table in tables.items():
            if not isinstance(table, dict):
                message = f"{shortened(key)} is in [{name}], which has only tables"
                self.report((name, key), "error", message, f"write [{name}.{key}], then its settings below")
        return {key: table for key, table in tables.items() if isinstance(table, dict)}


def read_toml(path: str, data: bytes) -> Toml:
    """The document with the lines of its keys; if it is not TOML, an empty one and the problem."""
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
        if _DEEP.search(text):
            return _no_toml(path, 0, "it is nested too deeply")
        return Toml(path, tomllib.loads(text), _key_lines(text))
    except UnicodeDecodeError as fault:
        return _no_toml(path, data[: fault.start].count(b"\n") + 1, "it is not UTF-8")
    except RecursionError:
        return _no_toml(path, 0, "it is nested too deeply")
    except tomllib.TOMLDecodeError as fault:
        where, why = _FAULT_LINE.search(str(fault)), _FAULT_LINE.sub("", str(fault))
        line = int(where[1]) if where and where[1] else _line_open_at_end(text, why)
        return _no_toml(path, line, why, _has_odd_quotes(text.split("\n")[line - 1]))
    except ValueError:
        return _no_toml(path, 0, "a number in it is too long")


def _line_open_at_end(text: str, why: str) -> int:
    """The line of a fault that is found at the end: of a missing ' that of the one before, which is the last there
    is."""
    missing = _MISSING_QUOTES.fullmatch(why)
    at = text.rfind(missing[1]) if missing else len(text.rstrip("\n"))
    return text.count("\n", 0, at) + 1


def _has_odd_quotes(line: str) -> bool:
    return (line.count('"') - line.count('\\"') or line.count("'")) % 2 == 1


def _no_toml(path: str, line: int, why: str, has_odd_quotes: bool = False) -> Toml:
    message = f"{NOT_TOML} ({why}), so the default settings are used"
    fix = 'write one name = "value" per line, below [table] lines'
    if has_odd_quotes:
        fix = 'check the quotes on this line, of which there is an odd number: a value has two, as in name = "value"'
    return Toml(path, problems=[Problem(path, line, "error", message, fix)])


def _key_lines(text: str) -> dict[tuple[str, ...], int]:
    """The line of every table and key written in the plain way; the second [[climate]] is ("climate", "1")."""
    lines: dict[tuple[str, ...], int] = {}
    repeated: Counter[tuple[str, ...]] = Counter()
    at: tuple[str, ...] = ()
    for number, line in enumerate(text.split("\n"), start=1):
        if header := _HEADER.fullmatch(line):
            at = _parts(header["name"].strip())
            if line.lstrip().startswith("[["):
                repeated[at] += 1
                at = (*at, str(repeated[at] - 1))
            for size in range(1, len(at) + 1):
                lines.setdefault(at[:size], number)
        elif key := _KEY.match(line):
            lines.setdefault((*at, *_parts(key["name"])), number)
    return lines


def _parts(name: str) -> tuple[str, ...]:
    if name[:1] in {'"', "'"}:
        return (name[1:-1],)
    return tuple(part.strip().strip("\"'") for part in name.split("."))


def toml_string(text: str) -> str:
    """A TOML basic string. Source: TOML 1.0.0, "String": its escapes are JSON's, and U+007F is escaped too."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def addition_to(written: bytes, block: str) -> bytes:
    """What is added to the settings, in the line endings that they have. written: the file as it is."""
    text = f"\n{block}\n" if not written or written.endswith(b"\n") else f"\n\n{block}\n"
    return (text.replace("\n", "\r\n") if b"\r\n" in written else text).encode()
