from __future__ import annotations

from pathlib import Path

import pytest

from journal.cache import folders
from journal.cache.folders import (
    LOCK_NAME,
    build_lock,
    cache_folder,
    journal_folder,
    new_folder,
    shares_folder,
    site_folder,
)
from journal.cache.store import Cache
from journal.problems import Refusal
from journal.reading.listing import SITE_MARK


@pytest.fixture
def root(tmp_path: Path) -> Path:
    root = tmp_path / "home" / "my-journal"
    root.mkdir(parents=True)
    return root


@pytest.fixture
def user_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(folders.platformdirs, "user_cache_dir", lambda *a, **k: str(tmp_path / "user-cache"))
    return tmp_path / "user-cache"


def test_a_folder_that_is_not_there_is_refused_with_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match=r"no folder .*journal start"):
        journal_folder(tmp_path / "absent")


def test_a_file_is_not_a_journal(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(Refusal, match="is a file"):
        journal_folder(tmp_path / "file")


def test_the_site_is_beside_the_journal(root: Path) -> None:
    assert root.parent / "site" == site_folder(root, None)


def test_the_samples_site_is_in_build(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(folders, "checkout_root", lambda: tmp_path)
    assert tmp_path / "build" / "site" == site_folder(tmp_path / "sample_entries", None)
    assert tmp_path / "site" == site_folder(tmp_path / "another", None)


def test_the_site_is_where_a_link_leads(root: Path, tmp_path: Path) -> None:
    (tmp_path / "public").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "public")
    assert tmp_path / "public" == site_folder(root, tmp_path / "link")


def test_shares_are_beside_the_site_or_where_they_are_asked_for(root: Path, tmp_path: Path) -> None:
    assert root.parent / "shares" == shares_folder(root, None)
    assert tmp_path / "desk" == shares_folder(root, tmp_path / "desk")


def test_each_journal_has_a_cache_of_its_own(root: Path, tmp_path: Path, user_cache: Path) -> None:
    with cache_folder(root, None, None, print) as one, cache_folder(tmp_path, None, None, print) as other:
        assert one != other
        assert user_cache == one.parent == other.parent


@pytest.mark.parametrize("place", ["home/my-journal", "home/my-journal/.cache", "home", "home/site", "home/site/cache"])
def test_a_cache_in_the_journal_or_the_site_is_refused(root: Path, tmp_path: Path, place: str) -> None:
    site = root.parent / "site"
    with pytest.raises(Refusal, match=r"is in the|contains it"), cache_folder(root, site, tmp_path / place, print):
        pass


def test_a_cache_among_other_files_is_refused(root: Path, tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "holiday.jpg").touch()
    with pytest.raises(Refusal, match=r"other files \(holiday"), cache_folder(root, None, tmp_path / "mine", print):
        pass


def test_an_earlier_cache_is_taken_again(root: Path, tmp_path: Path) -> None:
    cache = Cache(tmp_path / "cache")
    cache.remember("any", "k", "v", 1, int)
    cache.save()
    cache.pictures.mkdir()
    with cache_folder(root, None, tmp_path / "cache", print) as folder:
        assert Cache(folder).recall("any", "k", "v", int) == 1


@pytest.mark.parametrize("is_there", [True, False])
def test_a_cache_whose_lock_or_folder_was_removed_can_be_locked(tmp_path: Path, is_there: bool) -> None:
    """As where it is deleted while a journal is shown."""
    if is_there:
        (tmp_path / "cache" / LOCK_NAME / "within").mkdir(parents=True)
    with build_lock(tmp_path / "cache", lambda: pytest.fail("nobody holds it")):
        assert (tmp_path / "cache" / LOCK_NAME).is_file()


def test_where_the_users_cache_cannot_be_written_the_run_still_goes(root: Path, user_cache: Path) -> None:
    user_cache.write_text("a file in its place", encoding="utf-8")
    told: list[str] = []
    with cache_folder(root, None, None, told.append) as folder:
        assert folder.is_dir()
    assert not folder.exists()
    assert "--cache" in told[0]


def test_a_cache_asked_for_that_cannot_be_written_is_refused(root: Path, tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(Refusal, match="cannot be written"), cache_folder(root, None, tmp_path / "file", print):
        pass


@pytest.mark.parametrize(("name", "says"), [("journal.toml", "journal already"), (SITE_MARK, "built site")])
def test_no_journal_begins_in_another_or_in_a_site(root: Path, name: str, says: str) -> None:
    (root / name).touch()
    with pytest.raises(Refusal, match=says):
        new_folder(root)
