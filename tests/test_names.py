"""Every name that the program gives a file or folder can be held by Windows and macOS, beside all others."""

from __future__ import annotations

from pathlib import Path

import pytest

from journal.export.document import document
from journal.export.example_journal import specimen
from journal.export.tables import tables_of
from journal.problems import Unreadable
from journal.reading.settings_file import read_settings
from journal.reading.values import is_reserved, parse_id
from journal.writing.new_entry import next_like
from journal.writing.new_journal import EXAMPLES
from tests.builders import some, unfit


def below(folder: Path) -> list[str]:
    return some((path.relative_to(folder).as_posix() for path in folder.rglob("*")), 50)


def test_what_cannot_be_held_is_found() -> None:
    refused = ["a/con", "Nul.txt", "com1", "LPT\u00b9.x", "a.", "b ", "c:d", "e?", "x/./y", "f\x1f", "n" * 256]
    assert sorted(refused) == unfit([*refused, "console", "a/b.c", ".hidden", "\u83cc"])
    assert 1 == len(unfit(["a/B.md", "a/b.md"])) == len(unfit(["e\u0301", "\u00e9"]))


def test_a_site_and_its_cache_have_only_such_names(sample_site: Path) -> None:
    assert [] == unfit(below(sample_site))
    assert [] == unfit(below(sample_site.parent / "cache"))


def test_a_share_has_only_such_names(mentor_share: Path) -> None:
    assert [] == unfit(below(mentor_share))


def test_tables_and_examples_have_only_such_names() -> None:
    told = document(specimen())
    assert [] == unfit([*(f"{table.name}.csv" for table in tables_of(told, told)), *EXAMPLES])


@pytest.mark.parametrize("name", ["con", "Aux", "NUL", "com1", "lpt9", "nul.jpg", "CON .txt", "COM\u00b2", "conin$"])
def test_the_names_of_devices_are_known(name: str) -> None:
    assert is_reserved(name)


@pytest.mark.parametrize("name", ["com", "com0", "com10", "console", "x.con", "nul-1", "lpt"])
def test_others_like_them_are_free(name: str) -> None:
    assert not is_reserved(name)


def test_no_id_is_one_nor_the_next_after_another() -> None:
    """The folder of a new entry, the note beside it and the page on the site are called by it."""
    with pytest.raises(Unreadable, match="reserved by Windows"):
        parse_id("Com7")
    assert [] == unfit(filter(None, (next_like(name, [name]) for name in ("COM0", "lpt8"))))


def test_two_shares_that_differ_by_case_alone_are_an_error() -> None:
    """Their folders would be one."""
    settings, problems = read_settings(b'[shares.mentor]\nabout = "B-1"\n[shares.Mentor]\nabout = "B-2"\n')
    assert ["mentor"] == [share.name for share in settings.shares]
    assert "there is another share Mentor; capital letters make no difference" in {one.message for one in problems}
