"""No pattern of the program takes time that grows faster than the text it is tried on."""

from __future__ import annotations

import ast
import importlib
import re
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from journal.geo.parse import parse_position
from journal.problems import Unreadable
from journal.quantities import normalised
from tests.growth import grows_faster_than_a_scan

ROOT = Path(__file__).parent.parent
AT_ONE_PLACE = frozenset({"match", "fullmatch"})
IN_THE_WHOLE = frozenset({"search", "findall", "finditer", "sub", "subn", "split"})
SIZE = 300

ON_SHORT_TEXTS = {
    "journal.quantities": "what `tidied` lets through",
    "journal.reading.values": "what `tidied` lets through",
    "journal.geo.parse": "positions, of which `parse_position` bounds the length",
    "journal.geo.grids": "positions, of which `parse_position` bounds the length",
    "journal.analysis.sensors": "what `tidied` lets through",
    "journal.sharing.program_words": "the program's own templates",
}
"""Modules whose patterns are tried on nothing but texts that are short, or that nobody else writes."""

IN_A_PART = {
    ("journal.sharing.decoders", "_TAG_OR_COMMENT"): "up to the last end of a comment, so that each finds its own",
}
"""Patterns that are tried only on a part of a text in which they cannot be slow; `tests/test_parsers.py` tries that."""

ENDS = ("\x00", "\n!")
MOST_SHAPES = 160
COMMON = (
    " ", "0", "a", "A", ".", ",", ":", ";", "-", "_", "/", "\\", "(", ")", "[", "]", "{", "}", "<", ">", "&", "#",
    "*", "`", "'", '"', "=", "+", "%", "@", "!", "?", "|", "~", "°", "′", "±", "é", "\n", "\t", "0 ", "a ", "0.",
    "a.", "0,", "a-", "0-", "0:", "0°", "a/", "a_", "a0", "a:", "((", "[(", "](", "[a](", "<a", "<a ", "</", "<!--",
    'a="', "a=", "&#", "a@", "a@a.", "not shared ", "N ", "0 N ", "0° ", "{{", "{%", "{#", "0 m ", "+0 ", "://",
    "a://a", "www.", "| ", "IP", "\\u", "--- ", ": ",
)  # fmt: skip


def source_files() -> list[Path]:
    return sorted((ROOT / "journal").rglob("*.py"))


def module_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def values_within(value: object) -> Iterator[re.Pattern[Any]]:
    """The patterns that a value of a module is, or holds."""
    if isinstance(value, re.Pattern):
        yield value
    elif isinstance(value, dict):
        for each in value.values():
            yield from values_within(each)
    elif isinstance(value, tuple | list | frozenset):
        for each in value:
            yield from values_within(each)


def own_patterns(path: Path) -> Iterator[tuple[str, re.Pattern[Any], bool]]:
    """Every pattern of a file's own: its name, and whether it is searched for in the whole text, not at one place."""
    tree = ast.parse(path.read_text("utf-8"))
    module = importlib.import_module(module_of(path))
    assigned = {
        target.id
        for node in tree.body
        if isinstance(node, ast.Assign | ast.AnnAssign)
        for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
        if isinstance(target, ast.Name)
    }
    for name in sorted(assigned):
        held = () if (module_of(path), name) in IN_A_PART else values_within(getattr(module, name, None))
        for number, pattern in enumerate(held):
            yield f"{name}.{number}", pattern, uses_of(name, path) != AT_ONE_PLACE
    for call in ast.walk(tree):
        if not isinstance(call, ast.Call) or not is_of_re(call.func):
            continue
        method = call.func.attr  # type: ignore[attr-defined]
        if method in AT_ONE_PLACE | IN_THE_WHOLE and isinstance(call.args[0], ast.Constant):
            yield f"line {call.lineno}", re.compile(call.args[0].value), method in IN_THE_WHOLE


def is_of_re(func: ast.expr) -> bool:
    return isinstance(func, ast.Attribute) and isinstance(func.value, ast.Name) and func.value.id == "re"


@cache
def all_source() -> str:
    return "\n".join(path.read_text("utf-8") for path in source_files())


def uses_of(name: str, path: Path) -> frozenset[str]:
    """`AT_ONE_PLACE` where that is all that the program ever does with what bears this name, else something wider."""
    source = path.read_text("utf-8") if name.startswith("_") else all_source()
    mentions = re.findall(rf"(?<!\w){re.escape(name)}(?!\w)(?! ?[:=])(?:\.(\w+))?", source)
    return AT_ONE_PLACE if mentions and set(mentions) <= AT_ONE_PLACE else AT_ONE_PLACE | IN_THE_WHOLE


# -- texts made for a pattern --------------------------------------------------------------------------------------

_PARSER: Any = re._parser  # type: ignore[attr-defined]


def letters_of(items: Any) -> list[str]:
    """A few letters that a set of the pattern language holds."""
    found: list[str] = []
    negated = False
    for op, value in items:
        name = str(op)
        if name == "NEGATE":
            negated = True
        elif name == "LITERAL":
            found.append(chr(value))
        elif name == "RANGE":
            found += [chr(value[0]), chr(value[1])]
        elif name == "CATEGORY":
            found += of_category(str(value))
    if negated:
        kept = re.compile("[" + "".join(re.escape(each) for each in found) + "]") if found else None
        return [each for each in "a0 <[(.\"'" if not (kept and kept.match(each))] or ["é"]
    return found[:6]


def of_category(name: str) -> list[str]:
    return {"DIGIT": ["0"], "SPACE": [" ", "\n"], "WORD": ["a", "0", "_"]}.get(
        name.removeprefix("CATEGORY_"), ["-", " ", "a"]
    )


def samples(parsed: Any, most: int = 3) -> list[str]:
    """A few texts that a parsed pattern matches, roughly."""
    texts = [""]
    for op, value in parsed:
        ways = ways_of(str(op), value)
        texts = [before + after for after in ways[:3] for before in texts][: most * 2]
    return list(dict.fromkeys(texts))[:most]


def ways_of(op: str, value: Any) -> list[str]:
    if op == "LITERAL":
        return [chr(value)]
    if op == "NOT_LITERAL":
        return ["a" if value != ord("a") else "b"]
    if op == "ANY":
        return ["a"]
    if op == "IN":
        return letters_of(value)
    if op in ("MAX_REPEAT", "MIN_REPEAT", "POSSESSIVE_REPEAT"):
        return [one * max(value[0], 1) for one in samples(value[2])] + ([""] if value[0] == 0 else [])
    if op == "BRANCH":
        return [text for branch in value[1] for text in samples(branch, 1)]
    if op == "SUBPATTERN":
        return samples(value[3])
    if op == "ATOMIC_GROUP":
        return samples(value)
    return [""]


def pumped(parsed: Any, before: tuple[str, ...] = ("",)) -> Iterator[tuple[str, str]]:
    """(what is before, what is repeated) for every repetition of a parsed pattern that may be long."""
    for op, value in parsed:
        name = str(op)
        if name in ("MAX_REPEAT", "MIN_REPEAT", "POSSESSIVE_REPEAT"):
            if value[1] > 8:
                for body in samples(value[2], 4):
                    yield from ((front, body) for front in before)
            yield from pumped(value[2], before)
        elif name == "BRANCH":
            for branch in value[1]:
                yield from pumped(branch, before)
        elif name == "SUBPATTERN":
            yield from pumped(value[3], before)
        elif name == "ATOMIC_GROUP":
            yield from pumped(value, before)
        elif name in ("ASSERT", "ASSERT_NOT"):
            yield from pumped(value[1], before)
        before = tuple(dict.fromkeys(front + way for way in ways_of(name, value)[:2] for front in before))[:3]


def shapes_for(pattern: re.Pattern[Any]) -> list[tuple[str, str, str]]:
    """(once, again and again, at the end) of every text to try."""
    parsed = _PARSER.parse(pattern.pattern, pattern.flags)
    made: dict[tuple[str, str, str], None] = {}
    for front, body in pumped(parsed):
        for end in ENDS:
            made[front, body, end] = None
        made["", front + body, ENDS[0]] = None
        made["", front + body + "\n", ENDS[0]] = None
        if front:
            made["", front, ENDS[0]] = None
    shapes = [shape for shape in made if shape[1]]
    step = len(shapes) // MOST_SHAPES + 1
    return [*shapes[::step], *(("", one, ENDS[0]) for one in COMMON)]


def tried(pattern: re.Pattern[Any], in_the_whole: bool) -> Callable[[str], object]:
    def ready(text: str) -> Any:
        return text.encode("latin-1", "replace") if isinstance(pattern.pattern, bytes) else text

    if in_the_whole:
        return lambda text: sum(1 for _ in pattern.finditer(ready(text)))
    return lambda text: (pattern.match(ready(text)), pattern.fullmatch(ready(text)))


PATHS = [path for path in source_files() if module_of(path) not in ON_SHORT_TEXTS]


def test_texts_are_short_where_patterns_trust_that_they_are() -> None:
    with pytest.raises(Unreadable):
        normalised("0" * 1000)
    with pytest.raises(Unreadable):
        parse_position("0" * 1000)
    assert set(ON_SHORT_TEXTS) <= {module_of(path) for path in source_files()}


@pytest.mark.parametrize("path", PATHS, ids=module_of)
def test_the_time_of_a_pattern_grows_no_faster_than_its_text(path: Path) -> None:
    slow = []
    for name, pattern, in_the_whole in own_patterns(path):
        read = tried(pattern, in_the_whole)
        for front, body, end in shapes_for(pattern):

            def shape(size: int, front: str = front, body: str = body, end: str = end) -> str:
                return front + body * (size // len(body)) + end

            if factor := grows_faster_than_a_scan(read, shape, SIZE):
                slow.append(f"{name}: {front!r} {body!r}… {end!r}: {factor:.0f} times")
                break
    assert not slow, "\n".join(slow)


MADE_WHILE_RUNNING = frozenset(
    {
        ("journal.sharing.clean_text", "_odd_file_names"),
        ("journal.sharing.normalise", "_pattern"),
        ("journal.site.build.swap", "_left_beside"),
        ("journal.writing.new_entry", "_in_year"),
    }
)
"""(module, function) that makes a pattern of names, of IDs or of a list of its own."""


def test_no_pattern_is_made_while_the_program_runs_but_those_that_are_known() -> None:
    made = set()
    for path in source_files():
        functions = (node for node in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(node, ast.FunctionDef))
        made |= {(module_of(path), one.name) for one in functions if any(map(makes_a_pattern, ast.walk(one)))}
    assert made == MADE_WHILE_RUNNING


def makes_a_pattern(node: ast.AST) -> bool:
    """Whether something of a syntax tree calls `re` with a pattern that does not stand there as it is."""
    if not isinstance(node, ast.Call) or not is_of_re(node.func) or isinstance(node.args[0], ast.Constant):
        return False
    return isinstance(node.func, ast.Attribute) and node.func.attr != "escape"
