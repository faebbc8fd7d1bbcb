"""Each layer of journal/ imports only those below it, in no circle; those that calculate open no file and no clock."""

from __future__ import annotations

import ast
import graphlib
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "journal"

LAYERS = (
    {"problems"},
    {"quantities", "data", "atomic_write", "ctrl_c"},
    {"settings", "logged", "amounts"},
    {"model"},
    {"unexpected"},
    {"forked"},
    {"geo"},
    {"analysis"},
    {"reading"},
    {"cache"},
    {"sharing", "writing"},
    {"site"},
    {"export", "importing"},
    {"locking"},
    {"file_reading"},
    {"pipeline"},
    {"share_pipeline"},
    {"commands"},
    {"cli"},
    {"__main__"},
)
"""Folders and modules of journal/, the lowest first; those of one layer know nothing of each other."""

HEIGHT = {part: height for height, parts in enumerate(LAYERS) for part in parts}
CALCULATING = {"analysis", "geo", "model", "settings", "quantities", "amounts", "problems"}

MODULES = {
    ".".join(("journal", *path.relative_to(PACKAGE).with_suffix("").parts)).removesuffix(".__init__"): path
    for path in sorted(PACKAGE.rglob("*.py"))
}
INSIDE = [name for name in MODULES if name != "journal"]


def part_of(module: str) -> str:
    """The folder of journal/ that a module is in, or its own name where it is in none."""
    return module.split(".")[1]


@cache
def imports_of(module: str) -> frozenset[str]:
    """Every module that is imported, wherever in the file, also where only types need it."""
    return frozenset(_imports_in(module))


def _imports_in(module: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(MODULES[module].read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}, line {node.lineno}: a relative import"
            assert node.module is not None
            named = [f"{node.module}.{alias.name}" for alias in node.names]
            yield from (one if one in MODULES else node.module for one in named)


def test_the_package_is_what_is_looked_at() -> None:
    assert {"journal.cli", "journal.model", "journal.reading.entries", "journal.site.pages"} <= set(INSIDE)
    assert {"journal.reading.entries", "click"} <= {
        name for module in ("journal.pipeline", "journal.cli") for name in imports_of(module)
    } | set(INSIDE)


def test_no_import_climbs() -> None:
    climbs = [
        f"{module} imports {name}"
        for module in INSIDE
        for name in sorted(imports_of(module))
        if name.startswith("journal.") and (other := part_of(name)) in HEIGHT
        if other != (own := part_of(module)) and HEIGHT[other] >= HEIGHT[own]
    ]
    assert [] == climbs


def test_no_imports_run_in_a_circle() -> None:
    """Not even those that only types need. A package's own `__init__` counts as one of its modules."""
    graph = {name: {one for one in imports_of(name) if one in MODULES and one != name} for name in INSIDE}
    assert any(graph.values())
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as error:
        pytest.fail(" -> ".join(reversed(error.args[1])))


def test_no_two_modules_have_one_name() -> None:
    counted = Counter(path.stem for path in MODULES.values() if path.stem != "__init__")
    assert [] == [name for name, count in counted.items() if count > 1]


@pytest.mark.parametrize("module", [name for name in INSIDE if part_of(name) in CALCULATING])
def test_what_calculates_opens_no_file_and_knows_no_clock(module: str) -> None:
    outside = {"os", "io", "pathlib", "time", "sqlite3", "subprocess", "urllib", "shutil", "random", "tempfile"}
    assert set() == outside & {name.partition(".")[0] for name in imports_of(module)}
    nodes = ast.walk(ast.parse(MODULES[module].read_text(encoding="utf-8")))
    calls = [ast.unparse(node.func) for node in nodes if isinstance(node, ast.Call)]
    assert [] == [call for call in calls if call == "open" or call.endswith((".today", ".now", ".utcnow", "read_text"))]


def test_every_part_has_its_layer() -> None:
    assert {part_of(module) for module in INSIDE} <= set(HEIGHT)
