from __future__ import annotations

import sys
from pathlib import Path

import pytest

from journal.cache.unchanged import signatures_below
from journal.reading.listing import SITE_MARK
from journal.site.build.swap import (
    SHARE_SENTENCE,
    SHEET_SENTENCE,
    SITE_SENTENCE,
    Refused,
    Spare,
    clean_up,
    exchange_folders,
    left_beside,
    new_tree,
    put_in_place,
    refuse_unless_ours,
    remove_tree,
)


def site_with(folder: Path, text: str) -> Path:
    folder.mkdir(parents=True)
    (folder / SITE_MARK).write_text("", encoding="utf-8")
    (folder / "index.html").write_text(text, encoding="utf-8")
    return folder


def never(one: Path, other: Path) -> bool:
    return False


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


class TestRefusals:
    @pytest.fixture
    def journal(self, tmp_path: Path) -> Path:
        folder = tmp_path / "home" / "my-journal"
        folder.mkdir(parents=True)
        return folder

    @pytest.mark.parametrize("target", ["home/my-journal", "home", "."])
    def test_the_journal_and_what_is_above_it_are_refused(self, tmp_path: Path, journal: Path, target: str) -> None:
        with pytest.raises(Refused, match="is the journal itself or contains it"):
            refuse_unless_ours((tmp_path / target).resolve(), journal)

    def test_a_folder_with_files_of_others_is_refused(self, tmp_path: Path, journal: Path) -> None:
        (tmp_path / "letters").mkdir()
        (tmp_path / "letters" / "aunt.txt").write_text("Dear", encoding="utf-8")
        with pytest.raises(Refused, match="that `journal` did not make"):
            refuse_unless_ours(tmp_path / "letters", journal)

    def test_a_file_is_refused(self, tmp_path: Path, journal: Path) -> None:
        (tmp_path / "site").write_text("", encoding="utf-8")
        with pytest.raises(Refused, match="is a file"):
            refuse_unless_ours(tmp_path / "site", journal)

    def test_an_absent_an_empty_and_an_earlier_site_are_taken(self, tmp_path: Path, journal: Path) -> None:
        (tmp_path / "empty").mkdir()
        site_with(tmp_path / "earlier", "old")
        for name in ("absent", "empty", "earlier"):
            refuse_unless_ours(tmp_path / name, journal)
        refuse_unless_ours(journal / "site", journal)

    @pytest.mark.parametrize(
        ("stands", "comes", "words"),
        [
            (SHARE_SENTENCE, SITE_SENTENCE, "is a share, which only its own command replaces"),
            (SITE_SENTENCE, SHARE_SENTENCE, "is the site of a journal"),
            (SHEET_SENTENCE, SHARE_SENTENCE, "is the preview of a share"),
            ("Made by an earlier version.\n", SHARE_SENTENCE, "is the site of a journal"),
        ],
    )
    def test_a_share_and_a_whole_site_never_take_each_others_place(
        self, tmp_path: Path, journal: Path, stands: str, comes: str, words: str
    ) -> None:
        target = tmp_path / "out"
        with new_tree(target, mark_text=stands) as tree:
            put_in_place(tree, target)
        refuse_unless_ours(target, journal, stands if "earlier" not in stands else SITE_SENTENCE)
        with pytest.raises(Refused, match=words):
            refuse_unless_ours(target, journal, comes)


class TestPlace:
    @pytest.mark.parametrize("exchange", [None, never])
    def test_the_new_tree_takes_the_place_and_nothing_else_is_left(self, tmp_path: Path, exchange) -> None:
        target = site_with(tmp_path / "site", "old")
        with new_tree(target) as tree:
            (tree / "index.html").write_text("new", encoding="utf-8")
            put_in_place(tree, target, exchange)
        assert (target / "index.html").read_text(encoding="utf-8") == "new"
        assert names_in(tmp_path) == ["site"]

    def test_a_first_site_takes_an_absent_and_an_empty_place(self, tmp_path: Path) -> None:
        (tmp_path / "empty").mkdir()
        for name in ("absent", "empty"):
            with new_tree(tmp_path / name) as tree:
                put_in_place(tree, tmp_path / name)
        assert names_in(tmp_path / "absent") == names_in(tmp_path / "empty") == [SITE_MARK]

    def test_a_run_that_fails_leaves_the_old_site_and_nothing_beside_it(self, tmp_path: Path) -> None:
        target = site_with(tmp_path / "site", "old")

        def fail() -> None:
            with new_tree(target) as tree:
                (tree / "index.html").write_text("half", encoding="utf-8")
                raise OSError("the disk is full")

        with pytest.raises(OSError, match="full"):
            fail()
        assert (target / "index.html").read_text(encoding="utf-8") == "old"
        assert names_in(tmp_path) == ["site"]

    def test_a_place_that_can_be_neither_taken_nor_given_back_is_reported_and_completed_by_the_next_run(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        target, real = site_with(tmp_path / "site", "old"), Path.rename

        def rename(path: Path, to: Path) -> Path:
            if to == target:
                raise PermissionError(13, "Permission denied")
            return real(path, to)

        with new_tree(target) as tree:
            (tree / "index.html").write_text("new", encoding="utf-8")
            monkeypatch.setattr(Path, "rename", rename)
            with pytest.raises(
                Refused, match=r"was moved away and not replaced \(permission denied\); run the same command"
            ):
                put_in_place(tree, target, never)
        monkeypatch.undo()
        clean_up(target)
        assert (target / "index.html").read_text(encoding="utf-8") == "new"
        assert names_in(tmp_path) == ["site"]

    @pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux has renameat2")
    def test_two_folders_are_exchanged_in_one_step(self, tmp_path: Path) -> None:
        site_with(tmp_path / "a", "a")
        site_with(tmp_path / "b", "b")
        assert exchange_folders(tmp_path / "a", tmp_path / "b")
        assert (tmp_path / "a" / "index.html").read_text(encoding="utf-8") == "b"
        assert (tmp_path / "b" / "index.html").read_text(encoding="utf-8") == "a"

    def test_folders_that_cannot_be_exchanged_are_left_alone(self, tmp_path: Path) -> None:
        site_with(tmp_path / "a", "a")
        assert not exchange_folders(tmp_path / "a", tmp_path / "absent")
        assert names_in(tmp_path) == ["a"]


class Killed(BaseException):
    """Stands for the end of the process at some call."""


class TestKilledRuns:
    """A run ends before each of its renames and removals in turn; then the next one tidies."""

    @pytest.fixture
    def steps(self, monkeypatch: pytest.MonkeyPatch):
        """Lets so many renames and removals pass, then ends the run; no clean-up of its own runs after that."""

        def allow(count: int) -> None:
            left = [count]

            def step(real):
                def stepped(*args, **kwargs):
                    if left[0] == 0:
                        raise Killed
                    left[0] -= 1
                    return real(*args, **kwargs)

                return stepped

            monkeypatch.setattr(Path, "rename", step(Path.rename))
            monkeypatch.setattr("journal.site.build.swap.shutil.rmtree", step(__import__("shutil").rmtree))

        return allow

    @pytest.mark.parametrize("exchange", [None, never])
    @pytest.mark.parametrize("allowed", range(5))
    def test_one_whole_site_is_in_place_after_tidying(
        self, tmp_path: Path, steps, monkeypatch: pytest.MonkeyPatch, allowed: int, exchange
    ) -> None:
        target = site_with(tmp_path / "site", "old")
        steps(allowed)
        try:
            with new_tree(target) as tree:
                (tree / "index.html").write_text("new", encoding="utf-8")
                put_in_place(tree, target, exchange)
        except Killed:
            pass
        monkeypatch.undo()
        clean_up(target)
        assert names_in(tmp_path) == ["site"]
        assert (target / "index.html").read_text(encoding="utf-8") in ("old", "new")
        assert names_in(target) == [SITE_MARK, "index.html"]

    def test_between_the_two_renames_the_new_site_is_completed(self, tmp_path: Path) -> None:
        site_with(tmp_path / ".site.old-0123abcd", "old")
        site_with(tmp_path / ".site.ready-0123abcd", "new")
        clean_up(tmp_path / "site")
        assert (tmp_path / "site" / "index.html").read_text(encoding="utf-8") == "new"
        assert names_in(tmp_path) == ["site"]

    def test_folders_of_other_names_are_left_alone(self, tmp_path: Path) -> None:
        for name in (".site.new-", ".site.old-keep", ".sitex.new-0123abcd", ".site.new-0123abcd.bak"):
            site_with(tmp_path / name, "")
        before = names_in(tmp_path)
        clean_up(tmp_path / "site")
        assert before == names_in(tmp_path)


class TestSpare:
    @pytest.fixture
    def target(self, tmp_path: Path) -> Path:
        return site_with(tmp_path / "site", "old")

    @pytest.fixture
    def spare(self, target: Path) -> Spare:
        spare = Spare()
        with new_tree(target) as tree:
            (tree / "index.html").write_text("new", encoding="utf-8")
            put_in_place(tree, target, spare=spare)
        return spare

    def test_is_the_site_that_was_replaced_until_it_is_removed(self, target: Path, spare: Spare) -> None:
        assert spare.folder is not None
        assert (spare.folder / "index.html").read_text(encoding="utf-8") == "old"
        assert len(names_in(target.parent)) == 2
        spare.remove()
        assert names_in(target.parent) == ["site"]

    def test_of_this_run_stays_and_of_another_is_cleaned_up(self, target: Path, spare: Spare) -> None:
        clean_up(target, spare)
        assert left_beside(target, spare) == []
        assert left_beside(target) == [spare.folder]
        clean_up(target, Spare())
        assert names_in(target.parent) == ["site"]

    def test_is_one_site_only(self, target: Path, spare: Spare) -> None:
        with new_tree(target) as tree:
            put_in_place(tree, target, spare=spare)
        assert len(names_in(target.parent)) == 2

    def test_becomes_a_tree_with_nothing_but_what_looks_right(self, target: Path, spare: Spare) -> None:
        assert spare.folder is not None
        for path in ("a/b/right.html", "a/wrong.html", "gone/deep/extra.html"):
            (spare.folder / path).parent.mkdir(parents=True, exist_ok=True)
            (spare.folder / path).write_text(path, encoding="utf-8")
        (spare.folder / "led").symlink_to(target)
        found = signatures_below(str(spare.folder))
        stats = {path: found[path] for path in ("a/b/right.html", "a/wrong.html")}
        (spare.folder / "a/wrong.html").write_text("by hand", encoding="utf-8")
        tree = target.with_name("tree")
        assert spare.become(tree, stats) == {"a/b/right.html"}
        assert sorted(path.relative_to(tree).as_posix() for path in tree.rglob("*")) == ["a", "a/b", "a/b/right.html"]
        assert (target / "index.html").is_file()
        assert spare.folder is None

    def test_that_somebody_removed_becomes_nothing(self, target: Path, spare: Spare) -> None:
        assert spare.folder is not None
        remove_tree(spare.folder)
        assert spare.become(target.with_name("tree"), {}) == frozenset()
        assert names_in(target.parent) == ["site"]
