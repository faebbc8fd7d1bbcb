from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from journal.importing.photo_files import find_photos, skipped_sentence
from journal.problems import Refusal


@pytest.fixture
def camera(tmp_path: Path) -> Path:
    for name in ("b.jpg", "a.HEIC", "sub/c.png", "sub/d.mov", ".e.jpg", ".trash/f.jpg", "site/g.jpg", "README"):
        file = tmp_path / name
        file.parent.mkdir(exist_ok=True)
        file.touch()
    (tmp_path / "site/.journal-site").touch()
    return tmp_path


def names(found) -> list[str]:
    return [source.name for source in found.sources]


def test_a_folder_is_searched_for_photos_but_for_what_is_hidden_or_a_built_site(camera: Path) -> None:
    found = find_photos([camera])
    assert ["a.HEIC", "b.jpg", "c.png"] == names(found)
    assert ([], Counter({".mov": 1, "no suffix": 1})) == (found.left_out, found.skipped)


def test_files_stay_in_the_order_in_which_they_were_named_each_once(camera: Path) -> None:
    named = [camera / "sub/c.png", camera / "b.jpg", camera / "sub/../b.jpg", camera]
    assert ["c.png", "b.jpg", "a.HEIC"] == names(find_photos(named))


def test_a_file_named_is_taken_though_it_is_hidden(camera: Path) -> None:
    assert [".e.jpg"] == names(find_photos([camera / ".e.jpg"]))


def test_a_file_named_that_is_not_a_photo_is_left_out(camera: Path) -> None:
    ((shown, why),) = find_photos([camera / "README"]).left_out
    assert (str(camera / "README"), True) == (shown, "is not a JPEG" in why)


def test_links_to_files_are_photos_and_links_to_folders_are_named(camera: Path, tmp_path_factory) -> None:
    room = tmp_path_factory.mktemp("links")
    (room / "one.jpg").symlink_to(camera / "b.jpg")
    (room / "gone.jpg").symlink_to(camera / "nowhere.jpg")
    (room / "folder").symlink_to(camera)
    found = find_photos([room])
    assert ["one.jpg"] == names(found)
    assert {"folder", "gone.jpg"} == {Path(shown).name for shown, _ in found.left_out}
    assert ["a.HEIC", "b.jpg", "c.png"] == names(find_photos([room / "folder"]))


def test_a_folder_that_is_named_like_a_photo_is_searched(tmp_path: Path) -> None:
    (tmp_path / "roll.jpg").mkdir()
    (tmp_path / "roll.jpg/a.jpg").touch()
    assert ["a.jpg"] == names(find_photos([tmp_path]))


def test_what_is_not_there_stops_it(camera: Path) -> None:
    with pytest.raises(Refusal, match=r"there is no file or folder .*x\.jpg \(and 1 more"):
        find_photos([camera, camera / "x.jpg", camera / "y.jpg"])


@pytest.mark.parametrize(
    ("says", "counted"),
    [
        ("Skipped 1 file that is not a photo (.mov)", {".mov": 1}),
        ("Skipped 5 files that are not photos (.aae, .mov)", {".mov": 2, ".aae": 3}),
    ],
)
def test_what_is_passed_over_is_counted(says: str, counted: dict[str, int]) -> None:
    assert says == skipped_sentence(counted)
