from __future__ import annotations

from pathlib import Path

import pytest

from journal.cache.unchanged import sha256_of
from journal.importing.copying import Disk
from journal.importing.survey import clear_notes, digests_of, finish_photos, leftovers_in, remove_duplicates
from journal.reading.entries import read_entry
from journal.settings import Settings


@pytest.fixture
def root(tmp_path: Path) -> Path:
    for name, text in {
        "b/.a.jpg.attach-part": "half",
        "b/.named.jpg.attach-ready": "named",
        "b/.waits.jpg.attach-ready": "waits",
        "b/.unwritten.md.attach-ready": "text",
        "b/.taken.md.attach-ready": "text",
        "b/taken.md": "",
        "b/.other.md.attach-ready": "text",
        "b/other.md": "another's",
        "b/.strange.attach-ready": "of another program",
        "b/a.attach-part": "not hidden",
        ".hidden/.x.jpg.attach-part": "half",
        "site/.journal-site": "",
        "site/.x.jpg.attach-part": "half",
    }.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    return tmp_path


def test_what_a_stopped_run_left_is_found_where_a_journal_is_read(root: Path) -> None:
    found = [(one.path, one.is_whole) for one in leftovers_in(root)]
    expected = [
        ("b/a.jpg", False), ("b/named.jpg", True), ("b/other.md", True), ("b/taken.md", True),
        ("b/unwritten.md", True), ("b/waits.jpg", True),
    ]  # fmt: skip
    assert expected == found


def test_it_is_finished_cleared_away_or_kept(root: Path) -> None:
    text = b"---\nkind: note\nabout: B\nphotos:\n  - named.jpg\n---\n"
    photos = clear_notes(leftovers_in(root), root, Disk())
    waiting = finish_photos(photos, [read_entry("b/note.md", text, Settings())], root, Disk())  # type: ignore[list-item]
    assert ["b/waits.jpg"] == [one.path for one in waiting]
    assert {"b/waits.jpg": sha256_of(root / "b/.waits.jpg.attach-ready")} == digests_of(waiting)
    left = {path.name: path.read_text() for path in (root / "b").iterdir()}
    expected = {
        "named.jpg": "named", ".waits.jpg.attach-ready": "waits", "taken.md": "text", "other.md": "another's",
        ".strange.attach-ready": "of another program", "a.attach-part": "not hidden",
    }  # fmt: skip
    assert expected == left


def test_a_copy_that_is_to_be_seen_elsewhere_goes(root: Path) -> None:
    photos = clear_notes(leftovers_in(root), root, Disk())
    kept = remove_duplicates(photos, {sha256_of(root / "b/.waits.jpg.attach-ready")}, Disk())
    assert ["b/named.jpg"] == [one.path for one in kept]
    assert not (root / "b/.waits.jpg.attach-ready").exists()
