"""Each storey of the house knows only those below it, and the two that calculate open no file and know no clock."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

HOUSE = Path(__file__).parent.parent / "journal"

LAYERS = (
    {"problems"},
    {"quantities", "unexpected", "data"},
    {"model"},
    {"geo"},
    {"analysis"},
    {"reading"},
    {"cache"},
    {"sharing"},
    {"site", "export"},
    {"importing", "writing"},
    {"pipeline", "share_pipeline"},
    {"commands"},
    {"cli"},
)
HEIGHT = {room: height for height, rooms in enumerate(LAYERS) for room in rooms}

MODULES = sorted(path for path in HOUSE.rglob("*.py") if path.name != "__main__.py")


def room_of(path: Path) -> str:
    """The folder of journal/ a module lies in, or its own name where it lies in none."""
    return path.relative_to(HOUSE).parts[0].removesuffix(".py")


def imports_of(path: Path) -> Iterator[str]:
    """Every module that is imported, wherever in the file, but for those that only types need."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    typing_only = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if id(node) in typing_only:
            continue
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module == "journal":
            yield from (f"journal.{alias.name}" for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(HOUSE)))
def test_no_import_climbs(path: Path) -> None:
    room = room_of(path)
    if room == "__init__":
        return
    rooms = {name.split(".")[1] for name in imports_of(path) if name.startswith("journal.") and name != "journal"}
    climbing = [other for other in rooms if other in HEIGHT and HEIGHT[other] > HEIGHT[room]]
    assert [] == climbing


@pytest.mark.parametrize(
    "path",
    [path for path in MODULES if room_of(path) in ("analysis", "geo", "model", "quantities", "problems")],
    ids=lambda path: str(path.relative_to(HOUSE)),
)
def test_what_calculates_opens_no_file_and_knows_no_clock(path: Path) -> None:
    outside = {"os", "io", "pathlib", "time", "sqlite3", "subprocess", "urllib", "shutil", "random", "tempfile"}
    assert set() == outside & {name.partition(".")[0] for name in imports_of(path)}
    nodes = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    calls = [ast.unparse(node.func) for node in nodes if isinstance(node, ast.Call)]
    assert [] == [call for call in calls if call == "open" or call.endswith((".today", ".now", ".utcnow", "read_text"))]


def test_every_room_has_its_storey() -> None:
    assert {room_of(path) for path in MODULES} - {"__init__"} <= set(HEIGHT)
