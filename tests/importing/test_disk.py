from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from journal.importing.copying import PART, READY, Disk, UnreadableSource, hidden


def digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


@pytest.fixture(params=[True, False], ids=["links", "no links"])
def disk(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Disk:
    """On a file system where a file has two names, and on one where it has not."""

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    if not request.param:
        monkeypatch.setattr("os.link", refuse)
    return Disk()


def test_a_copy_is_whole_and_hidden_until_it_gets_its_name(tmp_path: Path, disk: Disk) -> None:
    data = os.urandom(3_000_000)
    source, final = tmp_path / "source", tmp_path / "a.jpg"
    source.write_bytes(data)
    disk.copy(source, digest(data), final)
    assert ["source", ".a.jpg.attach-ready"] == sorted((path.name for path in tmp_path.iterdir()), reverse=True)
    disk.put_new(hidden(final, READY), final)
    assert data == final.read_bytes()
    assert ["a.jpg", "source"] == sorted(path.name for path in tmp_path.iterdir())


def test_no_name_that_is_taken_is_taken(tmp_path: Path, disk: Disk) -> None:
    ready, final = tmp_path / "ready", tmp_path / "note.md"
    final.write_text("mine")
    ready.write_text("new")
    with pytest.raises(FileExistsError):
        disk.put_new(ready, final)
    assert tmp_path / "note-2.md" == disk.put_first_free(ready, final)
    assert ("mine", "new", False) == (final.read_text(), (tmp_path / "note-2.md").read_text(), ready.exists())


@pytest.mark.parametrize(
    ("done", "left", "there"),
    [(True, "new", None), (True, "new", ""), (True, "new", "new"), (False, "other", "other")],
)
def test_a_name_is_given_once_whenever_the_run_was_stopped(
    tmp_path: Path, disk: Disk, done: bool, left: str, there: str | None
) -> None:
    ready, final = tmp_path / "ready", tmp_path / "a.jpg"
    ready.write_text("new")
    if there is not None:
        final.write_text(there)
    assert done == disk.reveal(ready, final)
    assert (left, not done) == (final.read_text(), ready.exists())


def test_a_source_that_changed_is_reported_and_not_copied(tmp_path: Path) -> None:
    (tmp_path / "source").write_bytes(b"changed")
    with pytest.raises(UnreadableSource, match="changed while"):
        Disk().copy(tmp_path / "source", digest(b"as it was"), tmp_path / "a.jpg")
    assert not hidden(tmp_path / "a.jpg", READY).exists()


def test_a_ready_copy_of_other_content_is_made_anew(tmp_path: Path) -> None:
    (tmp_path / "source").write_bytes(b"right")
    hidden(tmp_path / "a.jpg", READY).write_bytes(b"error")
    Disk().copy(tmp_path / "source", digest(b"right"), tmp_path / "a.jpg")
    assert b"right" == hidden(tmp_path / "a.jpg", READY).read_bytes()


def test_new_folders_are_returned_so_that_they_can_be_removed(tmp_path: Path) -> None:
    made = Disk().make_folder(tmp_path / "a/b")
    assert [tmp_path / "a/b", tmp_path / "a"] == made
    assert [] == Disk().make_folder(tmp_path / "a/b")


def test_a_hidden_name_is_not_read_by_a_journal() -> None:
    assert (".a.jpg.attach-part", ".a.jpg.attach-ready") == tuple(
        hidden(Path("a.jpg"), ending).name for ending in (PART, READY)
    )
