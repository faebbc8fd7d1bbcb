"""What `journal gather` does with one archive, and what a journal has of it then."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from journal.importing import gather_writing as gathering
from journal.importing.archive import read_archives
from journal.importing.gather_plan import GatherPlan, Home
from journal.importing.gather_writing import GatherDisk
from journal.reading.entries import read_entry
from journal.reading.folder import scan
from journal.reading.receipts import Receipts
from journal.reading.settings_file import read_settings
from tests.importing.archives import CULTURE, FIND, PINS, RYE, TENT, Saved, archive, write
from tests.importing.shore import Shore


class Refused(Exception):
    """No archive that can be taken."""


NOW = datetime(2026, 11, 25, 20, 3, 22, tzinfo=UTC)


def home_of(root: Path, receipts: Receipts) -> Home:
    """The journal as its files tell it."""
    settings, _ = read_settings((root / "journal.toml").read_bytes())
    paths = [file.path for file in scan(root).entries]
    drafts = [draft for path in paths if (draft := read_entry(path, (root / path).read_bytes(), settings))]
    return Home(root, settings, drafts, receipts)


def gather(root: Path, *paths: Path, disk: GatherDisk | None = None) -> GatherPlan:
    """What `journal gather` does with one archive."""
    disk = disk or GatherDisk()
    archives, refused = read_archives(paths, lambda: "")
    if refused:
        raise Refused(refused)
    (one,) = archives
    return gathering.gather(one, root, partial(home_of, root), NOW, lambda taking: None, disk).plan


def put(shore: Shore, *records: Saved, name: str = "archive") -> GatherPlan:
    return gather(shore.root, write(shore.camera, archive(*records, name=name)))


HOME = "finds/2026-11-25-find-F26-015-K7Q4"
PLACES = {
    "finds/2026-11-25-find-F26-015-K7Q4": {"find.md": FIND.entry, **FIND.photos},
    "cultures/2026-11-25-culture-PP-26A-7-K7Q4": {"culture.md": CULTURE.entry},
    "notes/2026-11-25-note-B-031": {"note.md": PINS.entry, **PINS.photos},
    "notes/2026-11-25-note": {"note.md": RYE.entry},
    "tents/2026-11-25-tent-wash-house": {"tent.md": TENT.entry},
}
FILES = {f"{folder}/{name}": data for folder, files in PLACES.items() for name, data in files.items()}


def came_in(shore: Shore, before: dict[str, bytes]) -> dict[str, bytes]:
    """What is new or changed since, receipts aside."""
    now = shore.visible()
    assert before.keys() <= now.keys()
    return {path: now[path] for path in now if now[path] != before.get(path) and not path.startswith("receipts/")}


def receipts(shore: Shore) -> list[dict[str, object]]:
    paths = sorted((shore.root / "receipts").iterdir(), key=lambda path: path.stem)
    return [json.loads(path.read_bytes()) for path in paths]
