"""Tables in a folder: an earlier export is replaced as a whole, and no stranger's file ever is."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

import pytest

from journal.export.tables import MARK, ExportTable, write_tables
from journal.problems import Refusal

ONE = ExportTable("one", ("a",), (("1",),))
TWO = ExportTable("two", ("b",), (("2",),))

Write = Callable[..., Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Writes tables into a folder `out` beside a journal."""
    (tmp_path / "journal").mkdir()

    def written(*tables: ExportTable, to: str = "out") -> Path:
        write_tables(tables, tmp_path / to, tmp_path / "journal")
        return tmp_path / to

    return written


def files_in(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def test_a_new_folder_is_made_with_its_tables_and_their_list(write: Write) -> None:
    out = write(ONE, TWO, to="a/b/out")
    files = files_in(out)
    assert {MARK, "one.csv", "two.csv"} == files.keys()
    assert b"a\r\n1\r\n" == files["one.csv"]
    # The notation of sha256sum(1): the digest, two spaces, the name.
    listed = [f"{hashlib.sha256(files[name]).hexdigest()}  {name}" for name in ("one.csv", "two.csv")]
    assert listed == files[MARK].decode().splitlines()


def test_an_empty_folder_will_do(write: Write, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    assert "one.csv" in files_in(write(ONE))


def test_an_earlier_export_is_replaced_and_what_is_no_more_told_goes(write: Write) -> None:
    write(ONE, TWO)
    first = files_in(write(TWO))
    assert {MARK, "two.csv"} == first.keys()
    assert first == files_in(write(TWO))


@pytest.mark.parametrize("name", ["mine.csv", "one.csv", MARK])
def test_a_folder_with_a_strangers_file_is_refused_and_left_as_it_is(name: str, write: Write, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / name).write_text("mine")
    if name == MARK:
        (tmp_path / "out" / "other.txt").write_text("mine")
    before = files_in(tmp_path / "out")
    with pytest.raises(Refusal, match="which no export wrote"):
        write(ONE)
    assert before == files_in(tmp_path / "out")


def test_a_file_put_among_the_tables_is_not_lost(write: Write) -> None:
    out = write(ONE)
    (out / "notes.txt").write_text("mine")
    with pytest.raises(Refusal, match=r"notes\.txt"):
        write(ONE)
    assert "mine" == (out / "notes.txt").read_text()


def test_a_table_that_its_author_went_on_working_in_is_not_lost(write: Write) -> None:
    out = write(ONE)
    (out / "one.csv").write_text("a\n1\n2\n")
    with pytest.raises(Refusal, match=r"one\.csv was changed"):
        write(ONE)
    assert "a\n1\n2\n" == (out / "one.csv").read_text()


def test_a_link_in_a_tables_place_is_not_followed(write: Write, tmp_path: Path) -> None:
    out = write(ONE)
    (tmp_path / "other.csv").write_bytes((out / "one.csv").read_bytes())
    (out / "one.csv").unlink()
    (out / "one.csv").symlink_to(tmp_path / "other.csv")
    with pytest.raises(Refusal):
        write(ONE)


@pytest.mark.parametrize("to", ["journal", "journal/tables", "."])
def test_the_journal_itself_is_not_a_place_for_tables(to: str, write: Write, tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="the journal"):
        write(ONE, to=to)
    assert [] == list((tmp_path / "journal").iterdir())


def test_a_file_is_not_a_folder(write: Write, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(Refusal, match="is a file"):
        write(ONE)


def test_what_a_killed_run_left_is_gone_after_the_next(write: Write, tmp_path: Path) -> None:
    (tmp_path / ".out.new-0123abcd").mkdir()
    write(ONE)
    assert ["journal", "out"] == sorted(path.name for path in tmp_path.iterdir())
