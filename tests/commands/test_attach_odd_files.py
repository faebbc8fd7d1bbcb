"""`journal attach` with files that are not as they should be, or go by odd names."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from journal.cli import cli
from journal.commands.console import run
from tests.importing.shore import Shore


def test_a_photo_that_may_not_be_read_is_left_out_and_the_others_come_in(
    shore: Shore, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Named one by one, as a shell names `*.jpg`. Whoever runs the tests may read everything, so it is acted out."""
    locked, other = shore.photo("a.jpg", shade=1), shore.photo("b.jpg", shade=2)
    opened, access = open, os.access

    def refuse(path: Any, *words: Any, **more: Any) -> Any:
        if path == locked or path == str(locked):
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return opened(path, *words, **more)

    monkeypatch.setattr("builtins.open", refuse)
    monkeypatch.setattr(Path, "open", refuse)
    monkeypatch.setattr("os.access", lambda path, *words: Path(path).name != locked.name and access(path, *words))
    ended = shore.attach("B-031", locked, other)
    assert (1, ["batches/B-031/2026-10-27.md"]) == (ended.status, ended.paths)
    (said,) = [line for line in ended.err.splitlines() if str(locked) in line]
    assert said.startswith(
        f"Left out: {locked} cannot be read (permission denied); give yourself permission to read it"
    )
    assert "photos:\n  - b.jpg\n---\n" in shore.text("batches/B-031/2026-10-27.md")


def test_an_empty_name_is_not_the_folder_one_is_in(shore: Shore, photo_bytes: Callable[..., bytes]) -> None:
    shore.write({"batches/B-031/2026-10-20.md": "---\nkind: note\n---\n"})
    shore.write({"batches/B-031/IMG_0553.jpg": photo_bytes("2026:10:27 12:00:00", 9)})
    before = shore.visible()
    refused = shore.attach("B-031", "")
    assert (2, before) == (refused.status, shore.visible())
    assert "one of PHOTOS is empty" in refused.err


def test_what_is_odd_about_a_photo_is_said_when_it_comes_in(shore: Shore) -> None:
    (shore.camera / "cut.jpg").write_bytes(shore.photo("a.jpg", shade=3).read_bytes()[:-40])
    (shore.camera / "a.jpg").unlink()
    ended = shore.attach("B-031", shore.camera)
    assert ["batches/B-031/2026-10-27.md"] == ended.paths
    assert "cut.jpg: this photo has pixels that cannot be decoded" in ended.err


def test_what_is_not_a_picture_whatever_its_name_is_left_out_and_no_day_asked_for(shore: Shore) -> None:
    shore.photo("a.jpg")
    (shore.camera / "no.jpg").write_text("no picture at all")
    before = (shore.camera / "no.jpg").read_bytes()
    ended = shore.attach("B-031", shore.camera, "--date", "2026-10-27")
    assert (1, ["batches/B-031/2026-10-27.md"]) == (ended.status, ended.paths)
    said = [line for line in ended.err.splitlines() if "no.jpg" in line]
    assert 1 == len(said)
    assert "no.jpg is not a picture" in said[0]
    assert "photos:\n  - a.jpg\n---\n" in shore.text("batches/B-031/2026-10-27.md")
    assert before == (shore.camera / "no.jpg").read_bytes()
    assert () == shore.journal().problems


def test_what_only_decoding_shows_is_found_by_the_check_that_follows(
    shore: Shore, capsys: pytest.CaptureFixture[str]
) -> None:
    """Attaching decodes no pixel of a file that is there to its end, and so must not speak for its pixels."""
    photo = shore.photo("a.heic", kind="HEIF", shade=3)
    whole = photo.read_bytes()
    pixels = whole.index(b"mdat") + 4
    photo.write_bytes(whole[:pixels] + bytes(16) + whole[pixels + 16 :])
    ended = shore.attach("B-031", shore.camera)
    assert ["batches/B-031/2026-10-27.md"] == ended.paths
    run(cli, ["check"])
    assert "batches/B-031/a.heic: warning: this photo has pixels that cannot be decoded" in capsys.readouterr().out


def test_a_copy_is_named_by_what_it_is(shore: Shore) -> None:
    shore.photo("IMG_0001.JPG", kind="HEIF", shade=4)
    shore.attach("B-031", shore.camera)
    assert "  - IMG_0001.heic\n" in shore.text("batches/B-031/2026-10-27.md")
    assert () == shore.journal().problems


@pytest.mark.parametrize(
    "name",
    [b"pr\xe9mi\xe8re.jpg", "première.jpg", "a: b.jpg", "'quoted'.jpg", '"x.jpg', "[a].jpg", "- b.jpg", "a\nb.jpg",
     "con.jpg", "a%20b #3.jpg", "\u202egpj.jpg", " lead.jpg", "C:\\x.jpg", "data:x.jpg", "x" * 250 + ".jpg", "| .jpg"],
)  # fmt: skip
def test_odd_names_come_in_under_names_that_an_entry_can_list(shore: Shore, name: str | bytes) -> None:
    photo = shore.photo(name)
    ended = shore.attach("B-031", photo)
    assert 0 == ended.status
    journal = shore.journal()
    assert () == journal.problems
    (use,) = journal.notes[0].photos
    assert photo.read_bytes() == (shore.root / use.path).read_bytes()


def test_a_link_stands_for_its_photo(shore: Shore, tmp_path: Path) -> None:
    photo = shore.photo("IMG_0001.jpg")
    (tmp_path / "link.jpg").symlink_to(photo)
    shore.attach("B-031", tmp_path / "link.jpg")
    copy = shore.root / "batches/B-031/link.jpg"
    assert (False, photo.read_bytes()) == (copy.is_symlink(), copy.read_bytes())


def test_files_that_are_not_photos_are_counted_and_passed_over(shore: Shore) -> None:
    shore.photo("a.jpg")
    shore.photo(".hidden.jpg", shade=2)
    shore.photo(".trash/b.jpg", shade=3)
    (shore.camera / "a.mov").touch()
    (shore.camera / "a.AAE").touch()
    ended = shore.attach("B-031", shore.camera)
    assert (0, "Skipped 2 files that are not photos (.aae, .mov)") == (ended.status, ended.err.splitlines()[0])
    assert "  - a.jpg\n---\n" in shore.text("batches/B-031/2026-10-27.md")
