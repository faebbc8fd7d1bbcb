"""The front matter of an entry: every key with its text, and the line that it is on.

Keys and values are found line by line, and only what needs YAML's rules (quotation marks, block scalars, flow lists) is
given to YAML, one value at a time. So a line that cannot be read affects only one key, and a plain value on one line
keeps what YAML would take for syntax: `title: Oyster #3`, `title: Block 3: first pins`, `species: *Pleurotus*`. Every
scalar is text.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import yaml

from journal.problems import Problem, shortened
from journal.reading.keys import CURRENT_NAMES, canonical, names_of
from journal.reading.private_passages import private_lines_in_front, private_lines_in_text

# The C reader if available; both make only text, lists and mappings from a document.
_TEXT_ONLY: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)

AS_UTF_8 = "as UTF-8"
"""The end of the fix for each file that is left out because it is not UTF-8."""
_BOM = b"\xef\xbb\xbf"
_OTHER_BOMS = (b"\xff\xfe", b"\xfe\xff")
_CLOSING = re.compile(r"^---[ \t]*$", re.MULTILINE)
_OPENING = re.compile(r"---[ \t]*(?:\n|\Z)")
_COLON = re.compile(r":(?=[ \t]|\Z)")
_BLOCK_SCALAR = re.compile(r"[|>](?:[+-]?[1-9]?|[1-9][+-])[ \t]*(?:#.*)?")
_LONGEST_KEY = 60


@dataclass(frozen=True, slots=True)
class Item:
    """One value of a key: its text, and its line in the file."""

    text: str
    line: int


@dataclass(frozen=True, slots=True)
class Field:
    """One key: canonical name, line, and its values (none if it is empty).

    listed: whether they were written as a list; broken: whether its value could not be read, which is already reported.
    """

    name: str
    line: int
    items: tuple[Item, ...]
    listed: bool = False
    broken: bool = False


@dataclass(frozen=True, slots=True)
class FrontMatter:
    """What precedes an entry's text.

    fields: each key once, in the order of the file; text: all after the front matter, lines ended by "\\n";
    text_line: the line on which it begins; legible: False where the file is not UTF-8 (then all is empty).
    private_lines: the lines on which something looks like `private`, however it is written, and is not `no`.
    """

    fields: tuple[Field, ...]
    text: str
    text_line: int
    problems: tuple[Problem, ...]
    legible: bool = True
    private_lines: tuple[int, ...] = ()


def read_front_matter(path: str, data: bytes) -> FrontMatter | None:
    """Front matter and text of an entry file; None if the file does not begin with front matter.

    data: the file's bytes, UTF-8 with or without BOM, lines ended by LF, CRLF or CR. Takes time linear in its length.
    """
    bare = data.removeprefix(_BOM)
    if not bare.startswith((b"---", *_OTHER_BOMS)):
        return None
    try:
        whole = bare.decode("utf-8")
    except UnicodeDecodeError as fault:
        line = bare[: fault.start].count(b"\n") + 1
        message = f"the byte 0x{bare[fault.start]:02x} is not UTF-8"
        problem = Problem(path, line, "error", message, f"save the file {AS_UTF_8}")
        if bare.startswith(_OTHER_BOMS):
            problem = Problem(path, 0, "error", "this file is saved as UTF-16", f"save it {AS_UTF_8}")
        return FrontMatter((), "", line, (problem,), legible=False)
    return _read_text(path, whole)


def guess_front_matter(path: str, data: bytes) -> FrontMatter | None:
    """The same for a file that is not UTF-8, as far as its letters can be guessed, to find what is private in it.

    Decoded line by line as UTF-8, else as Windows-1252; as UTF-16 if it begins with its mark.
    """
    bare = data.removeprefix(_BOM)
    if bare.startswith(_OTHER_BOMS):
        return _read_text(path, bare.decode("utf-16", "replace"))
    return _read_text(path, "".join(_guessed(line) for line in bare.splitlines(keepends=True)))


def _guessed(line: bytes) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError:
        return line.decode("cp1252", "replace")


def _read_text(path: str, text: str) -> FrontMatter | None:
    whole = text.replace("\r\n", "\n").replace("\r", "\n")
    opening = _OPENING.match(whole)
    if not opening:
        return None
    if closing := _CLOSING.search(whole, opening.end()):
        return _closed(path, whole[opening.end() : closing.start()], whole[closing.end() + 1 :])
    return _never_closed(path, whole[opening.end() :])


def _closed(path: str, front: str, text: str) -> FrontMatter:
    blocks, faults = _split_blocks(front.split("\n"))
    fields, doubled = _fields(path, blocks)
    problems = (*_unreadable_lines(path, faults), *doubled)
    text_line = front.count("\n") + 3
    private_lines = (
        *private_lines_in_front(front.split("\n"), 2, _OTHER_KEYS),
        *private_lines_in_text(text, text_line),
    )
    return FrontMatter(fields, text, text_line, tuple(sorted(problems)), private_lines=private_lines)


_OTHER_KEYS = frozenset((*names_of(), *CURRENT_NAMES)) - {"private"}


def _never_closed(path: str, rest: str) -> FrontMatter:
    """Keys up to the first line that is blank or cannot be a key; everything after it is text."""
    size = length = 0
    for line in rest.split("\n"):
        if not line.strip() or not (_is_continuation(line) or _key_and_value(line)):
            break
        size, length = size + 1, length + len(line) + 1
    read = _closed(path, rest[:length].removesuffix("\n"), rest[length:])
    message = f"the front matter starts here and never ends; keys were read down to line {size + 1}"
    problem = Problem(path, 1, "error", message, "add a line --- below the last key")
    private_lines = tuple(private_lines_in_front(rest.split("\n"), 2, _OTHER_KEYS))
    return FrontMatter(read.fields, read.text, size + 2, (problem, *read.problems), private_lines=private_lines)


@dataclass(slots=True)
class _Block:
    """A key's line and the lines that belong to it. name: canonical; written: that, or an older spelling of it."""

    name: str
    written: str
    line: int
    head: str
    more: list[str]


def _key_and_value(line: str) -> tuple[str, str] | None:
    colon = _COLON.search(line)
    if not colon or colon.start() > _LONGEST_KEY or line[0] in "#-?[]{}&*!|>%@`,":
        return None
    name = _name_of_key(line[: colon.start()])
    return (name, line[colon.end() :].strip()) if name else None


@lru_cache(maxsize=1024)
def _name_of_key(written: str) -> str:
    """The canonical name: a journal writes the same few keys in every entry."""
    return canonical(written.strip().strip("\"'"))


def _is_continuation(line: str) -> bool:
    return line[0] in " \t]}" or line[:2] == "- " or line == "-"


def _split_blocks(lines: list[str]) -> tuple[list[_Block], list[tuple[int, str]]]:
    """Keys with their lines, and (number, text) of the lines that belong to no key. Line 1 is the opening one."""
    blocks: list[_Block] = []
    faults: list[tuple[int, str]] = []
    open_block: _Block | None = None
    for number, line in enumerate(lines, start=2):
        if line.startswith("#"):
            line = ""
        if not line.strip():
            if open_block:
                open_block.more.append("")
        elif _is_continuation(line):
            if open_block and not (open_block.head and line[0] == "-"):
                open_block.more.append(line)
            else:
                faults.append((number, line))
        elif key := _key_and_value(line):
            open_block = _Block(CURRENT_NAMES.get(key[0], key[0]), key[0], number, key[1], [])
            blocks.append(open_block)
        else:
            open_block = None
            faults.append((number, line))
    return blocks, faults


def _unreadable_lines(path: str, faults: Iterable[tuple[int, str]]) -> Iterator[Problem]:
    last = -1
    for number, line in faults:
        if number != last + 1:
            word = line.split(maxsplit=1)[0].rstrip(":,")
            start = shortened(word) if word.isalpha() else "the line"  # not more: there may be a place in it
            fix = "write a key, a colon and a space, then the value; text goes below the second ---"
            yield Problem(path, number, "error", f"{start} does not start a key with a value", fix)
        last = number


def _fields(path: str, blocks: Iterable[_Block]) -> tuple[tuple[Field, ...], list[Problem]]:
    fields: dict[str, Field] = {}
    problems: list[Problem] = []
    for block in blocks:
        if block.name in fields:
            first = fields[block.name].line
            again = "" if block.written == block.name else f" ({block.written} is its older name)"
            message = f"{shortened(block.name)} is written twice{again}; the one on line {first} is used"
            if block.name == "private":
                message = "private is written twice; one yes is enough to make the entry private"
            problems.append(Problem(path, block.line, "error", message, "keep one of them"))
            continue
        try:
            fields[block.name] = _field(block)
        except _NotYaml as fault:
            fields[block.name] = Field(block.name, block.line, (), broken=True)
            line = block.line + fault.below
            problems.append(Problem(path, line, "error", f"{block.name}: {fault}", fault.fix))
    return tuple(fields.values()), problems


class _NotYaml(ValueError):
    """A value that YAML cannot read. fix: as in Problem; below: how many lines under the key's own."""

    def __init__(self, message: str, fix: str = "write it on one line", below: int = 0) -> None:
        super().__init__(message)
        self.fix = fix
        self.below = below


class _Refused(_NotYaml):
    """A value that looks like YAML but is to be read as text."""


def _field(block: _Block) -> Field:
    while block.more and not block.more[-1].strip():
        block.more.pop()
    first = next((line.strip() for line in block.more if line.strip()), "") if block.more else ""
    if not block.head and (first == "-" or first.startswith("- ")):
        return Field(block.name, block.line, tuple(_list_items(block.more, block.line + 1)), listed=True)
    value = _value(block.head, block.more)
    listed = not isinstance(value, str)
    texts = value if isinstance(value, list) else [value]
    return Field(block.name, block.line, tuple(Item(text, block.line) for text in texts if text), listed)


def _list_items(lines: list[str], number: int) -> Iterator[Item]:
    """The items of a block list; every line that does not begin an item belongs to the one above it."""
    starts = [at for at, line in enumerate(lines) if line.lstrip().startswith("- ") or line.strip() == "-"]
    indent = min(len(lines[at]) - len(lines[at].lstrip()) for at in starts)
    starts = [at for at in starts if len(lines[at]) - len(lines[at].lstrip()) == indent]
    for at, end in zip(starts, [*starts[1:], len(lines)], strict=True):
        try:
            value = _value(lines[at].lstrip()[1:].strip(), [line for line in lines[at + 1 : end] if line.strip()])
        except _NotYaml as fault:
            fault.below += at + 1
            raise
        if not isinstance(value, str):
            value = ", ".join(value)
        if value:
            yield Item(value, number + at)


def _value(head: str, more: list[str]) -> str | list[str]:
    if not more or not any(line.strip() for line in more):
        return _one_line(head)
    if head[:1] in {'"', "'", "["} or _BLOCK_SCALAR.fullmatch(head):
        return _flat(_from_yaml("\n".join((head, *more))))
    lines = [line.strip() for line in (head, *more)]
    if not head and all(_COLON.search(line) for line in lines if line):
        return [line for line in lines if line and not line.startswith("#")]
    return " ".join(line for line in lines if line and not line.startswith("#"))


def _one_line(head: str) -> str | list[str]:
    if head[:1] not in {'"', "'", "["} and not _BLOCK_SCALAR.fullmatch(head):
        return head
    try:
        return _flat(_from_yaml(head))
    except _Refused:
        raise
    except _NotYaml:
        if head[0] == "[" and head[-1] == "]":
            return [part.strip() for part in head[1:-1].split(",")]
        return head


def _from_yaml(text: str) -> Any:
    try:
        _refuse_more_than_text(text)
        return yaml.load(text, Loader=_TEXT_ONLY)
    except yaml.MarkedYAMLError as fault:
        raise _NotYaml(f"cannot be read ({fault.problem})") from fault
    except _NotYaml:
        raise
    except (yaml.YAMLError, RecursionError, ValueError) as fault:
        raise _NotYaml("cannot be read") from fault


_DEEPEST = 8


def _refuse_more_than_text(text: str) -> None:
    """Raises _NotYaml for anchors, aliases, tags and deep nesting, from the text, before YAML constructs anything.

    An alias repeats what its anchor marks, so a few of them can expand to more text than fits into memory.
    """
    depth = 0
    event: Any
    for event in yaml.parse(text, Loader=_TEXT_ONLY):
        below = event.start_mark.line
        if isinstance(event, yaml.AliasEvent):  # one line without anchors is text: [*Pleurotus, birch]
            raise _NotYaml(_ALIAS.format("*", event.anchor), "write the value out, or put it in quotation marks", below)
        if getattr(event, "anchor", None):
            raise _Refused(_ALIAS.format("&", event.anchor), "write the value out, or put it in quotation marks", below)
        if getattr(event, "tag", None):
            raise _Refused("YAML tags, like !this, are not read", "remove it, or put it in quotation marks", below)
        depth += isinstance(event, yaml.CollectionStartEvent) - isinstance(event, yaml.CollectionEndEvent)
        if depth > _DEEPEST:
            raise _NotYaml("lists are nested too deeply", "write one list")


_ALIAS = "YAML anchors and aliases, like {}{:.20}, are not read"


def _flat(value: Any) -> str | list[str]:
    """Text unchanged; a list, or a mapping as a list of `name: value`, one level deep."""
    if isinstance(value, str):
        return value.strip()
    if isinstance(value, dict):
        return [_pair(name, text) for name, text in value.items()]
    texts: list[str] = []
    for item in value if isinstance(value, list) else ():
        if not isinstance(item, str | dict):
            raise _NotYaml("contains a list in a list")
        flat = _flat(item)
        texts += [flat] if isinstance(flat, str) else flat
    return texts if isinstance(value, list) else ""


def _pair(name: Any, text: Any) -> str:
    if not (isinstance(name, str) and isinstance(text, str)):
        raise _NotYaml("contains a list in a list")
    return f"{name}: {text}" if text else name
