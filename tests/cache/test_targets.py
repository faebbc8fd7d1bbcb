from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from journal.cache import folders
from journal.cache.folders import target_lock, without_state
from journal.problems import Refusal


@pytest.fixture(autouse=True)
def user_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(folders.platformdirs, "user_cache_dir", lambda *a, **k: str(tmp_path / "user-cache"))
    return tmp_path / "user-cache"


@pytest.fixture
def home(tmp_path: Path) -> Path:
    for name in ("one", "two"):
        (tmp_path / "home" / name).mkdir(parents=True)
    return tmp_path / "home"


def make(home: Path, name: str, target: str = "site", within: Path | None = None) -> Path:
    """Lets a journal put something at the target."""
    with target_lock(home / target, home / name, lambda: None, within):
        (home / target).mkdir(parents=True, exist_ok=True)
    return home / target


def hidden(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if path.name.startswith("."))


def test_what_was_made_of_one_journal_is_refused_to_another(home: Path) -> None:
    make(home, "one")
    make(home, "one")
    with pytest.raises(Refusal) as refused:
        make(home, "two")
    assert str(home / "one") in str(refused.value)
    assert str(refused.value).endswith(f"with --to, like --to {home / 'site'}-two")
    make(home, "one")


def test_the_mark_is_beside_the_target_and_shows_no_more_than_the_way(home: Path) -> None:
    assert [] == list(make(home, "one").iterdir())
    assert [".site.of"] == hidden(home)
    assert (home / ".site.of").read_text(encoding="utf-8") == "one\n"


def test_a_share_has_its_mark_beside_the_folder_of_shares(home: Path) -> None:
    for name in ("mentor", "club"):
        make(home, "one", f"shares/{name}", home / "shares")
    assert [] == hidden(home / "shares")
    assert [".shares.club.of", ".shares.mentor.of"] == hidden(home)
    make(home, "two", "shares/other", home / "shares")
    with pytest.raises(Refusal, match="another journal"):
        make(home, "two", "shares/mentor", home / "shares")


def test_what_is_of_nobody_known_is_taken_over(home: Path) -> None:
    (home / "site").mkdir()
    make(home, "two")
    with pytest.raises(Refusal):
        make(home, "one")


def test_a_journal_that_was_moved_or_is_gone_holds_nothing_back(home: Path) -> None:
    make(home, "one")
    (home / "one").rename(home / "renamed")
    make(home, "renamed")
    with pytest.raises(Refusal):
        make(home, "two")


def test_journal_and_site_may_move_or_be_copied_together(home: Path) -> None:
    make(home, "one")
    shutil.copytree(home, home.parent / "copy")
    make(home.parent / "copy", "one")
    home.rename(home.parent / "moved")
    make(home.parent / "moved", "one")


def test_a_journal_reached_another_way_is_the_same(home: Path) -> None:
    make(home, "one")
    (home / "link").symlink_to("one")
    make(home, "link")


def test_a_target_that_is_gone_belongs_to_nobody(home: Path) -> None:
    shutil.rmtree(make(home, "one"))
    make(home, "two")


@pytest.mark.parametrize("is_there", [True, False])
def test_a_command_that_fails_leaves_no_mark_of_its_own(home: Path, is_there: bool) -> None:
    if is_there:
        (home / "site").mkdir()
    with pytest.raises(OSError, match="full"), target_lock(home / "site", home / "one", lambda: None):
        raise OSError("full")
    assert [] == hidden(home)


def test_folders_made_for_the_mark_alone_are_gone_again(home: Path) -> None:
    with pytest.raises(OSError, match="full"), target_lock(home / "a" / "b" / "site", home / "one", lambda: None):
        raise OSError("full")
    assert not (home / "a").exists()


def test_where_nothing_can_be_written_beside_it_the_mark_is_in_the_users_cache(home: Path, user_cache: Path) -> None:
    (home / ".site.of").mkdir()  # no file can be opened there
    make(home, "one")
    assert 1 == len(list((user_cache / "targets").iterdir()))
    with pytest.raises(Refusal, match="one"):
        make(home, "two")


@pytest.mark.parametrize("written", [b"", b"\n", b"\0\n", b"\xff\xfe\n", b"/no/where\n", b"x" * 5000])
def test_a_mark_that_cannot_be_used_is_none(home: Path, written: bytes) -> None:
    (home / "site").mkdir()
    (home / ".site.of").write_bytes(written)
    make(home, "two")
    with pytest.raises(Refusal):
        make(home, "one")


HOLDER = """
import sys
from pathlib import Path
from journal.cache.folders import target_lock
home = Path(sys.argv[1])
with target_lock(home / "site", home / "one", lambda: None):
    print("mine", flush=True)
    sys.stdin.read()
"""


def test_a_second_journal_waits_until_the_first_is_done_with_the_target(home: Path) -> None:
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(home)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    told: list[str] = []

    def waiting() -> None:
        told.append("waiting")
        assert holder.stdin is not None
        holder.stdin.close()  # it ends, and with no site made its mark goes: another lock file is needed

    with holder:
        assert holder.stdout is not None
        assert holder.stdout.readline() == "mine\n"
        with target_lock(home / "site", home / "two", waiting):
            assert told == ["waiting"]
            assert (home / ".site.of").read_text(encoding="utf-8") == "two\n"


def test_a_tree_that_is_being_made_is_told_by_the_name_it_will_have() -> None:
    assert Path("/a/site/x.html") == without_state(Path("/a/.site.new-0123abcd/x.html"))
    assert Path("/a/.site.new/x") == without_state(Path("/a/.site.new/x"))
