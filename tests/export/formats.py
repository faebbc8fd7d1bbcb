"""What is kept of each format of a journal: a journal (`format_1/journal`), and what was exported of it.

`python tests/export/formats.py` writes the exports of all formats anew, but only where nothing that they hold is lost
or read otherwise; with `--changed` also where it is, which it lists.
"""

from __future__ import annotations

import csv
import io
import json
import re
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))

from journal.cache.file_cache import FileCache
from journal.cache.store import Cache
from journal.export.document import document
from journal.export.tables import csv_of, tables_of
from journal.model import Journal
from journal.pipeline import read_journal
from tests.builders import Inline

FORMATS = sorted(Path(__file__).parent.glob("format_*"))


def exported(kept: Path) -> dict[str, bytes]:
    """What this program makes of a format's journal, by the name of the file: the document of `journal export` and its
    tables (without the wording of problems, and without what is only expected), the settings, and the texts with and
    without what is private, and what came in from a phone."""
    with tempfile.TemporaryDirectory() as folder:
        memory = FileCache(Cache(Path(folder)), kept / "journal", time.time_ns())
        read = read_journal(memory, lambda *_: None, executor=Inline())
    told = {name: rows for name, rows in document(read.journal).items() if name not in ("plan", "coming", "weeks")}
    told = _rounded(told)
    told["problems"] = [{"path": row["path"], "severity": row["severity"]} for row in told["problems"]]
    tables = tables_of(told, {})
    return {
        "journal.json": _json(told),
        "settings.json": _json(_rounded(asdict(read.journal.settings))),
        "texts.json": _json({"whole": _texts(read.journal), "public": _texts(read.journal.public)}),
        "received.json": _json([asdict(row) for row in read.received]),
        **{f"{table.name}.csv": csv_of(table) for table in tables if table.rows},
    }


def _rounded(value: Any) -> Any:
    """With ten digits of each number: the last ones differ with the system's mathematical library."""
    if isinstance(value, float):
        return float(f"{value:.10g}")
    if isinstance(value, dict):
        return {key: _rounded(one) for key, one in value.items()}
    return [_rounded(one) for one in value] if isinstance(value, list | tuple) else value


def _texts(journal: Journal) -> dict[str, str]:
    rows = (*journal.finds, *journal.cultures, *journal.batches, *journal.notes, *journal.tent_entries)
    return {entry.path: entry.text for entry in sorted(rows, key=lambda entry: entry.path)}


def _json(value: Any) -> bytes:
    return (json.dumps(value, ensure_ascii=False, indent=1, default=str) + "\n").encode()


def changed(kept: Mapping[str, bytes], now: Mapping[str, bytes]) -> list[str]:
    """What is in the one and otherwise, or no more, in the other, a line each; what is only added is none."""
    found: list[str] = []
    for name, data in sorted(kept.items()):
        rows = _values(name, now[name]) if name in now else None
        found += (f"{name}: {line}" for line in _lost(_values(name, data), rows))
    return found


def _values(name: str, data: bytes) -> Any:
    if name.endswith(".json"):
        return json.loads(data)
    return list(csv.DictReader(io.StringIO(data.decode())))


def _lost(before: Any, after: Any, at: str = "") -> Iterator[str]:
    if isinstance(before, dict) and isinstance(after, dict):
        for key, value in before.items():
            yield from _lost(value, after.get(key, _GONE), f"{at}.{key}")
    elif isinstance(before, list) and isinstance(after, list) and len(before) == len(after):
        for number, (one, other) in enumerate(zip(before, after, strict=True)):
            yield from _lost(one, other, f"{at}.{number}")
    elif before != after:
        yield f"{at[1:]} was {before!r}, and is {'gone' if after is _GONE else repr(after)}"


_GONE = object()


def written_keys(kept: Path) -> set[tuple[str, str]]:
    """(kind, key) of all that the journal's entries hold, as spelled there but for the mark between words."""
    found = set()
    for path in (kept / "journal").rglob("*.md"):
        lines = path.read_text(encoding="utf-8-sig").partition("\n---")[0].splitlines()
        names = [re.sub("[-_]", " ", line.partition(":")[0]) for line in lines[1:]]
        kind = next((line.removeprefix("kind: ") for line in lines if line.startswith("kind: ")), "")
        found |= {(kind, name) for name in names}
    return found


def main() -> int:
    for kept in FORMATS:
        export = kept / "export"
        export.mkdir(exist_ok=True)
        now = exported(kept)
        lost = changed({path.name: path.read_bytes() for path in export.iterdir()}, now)
        print(*lost, sep="\n", end="\n" if lost else "")
        if lost and "--changed" not in sys.argv:
            print(f"Nothing is written to {export}: what is read of an old journal must stay (--changed: write it).")
            return 1
        for path in export.iterdir():
            path.unlink()
        for name, data in now.items():
            (export / name).write_bytes(data)
    return 0


if __name__ == "__main__":
    sys.exit(main())
