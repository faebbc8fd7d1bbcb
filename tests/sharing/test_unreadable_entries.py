"""What stands in entries that are wrong is no part of the journal, and still must not be told."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.model import Journal
from journal.reading.front_matter import guess_front_matter, read_front_matter
from journal.settings import Share
from journal.sharing.detectors import detectors_of
from journal.sharing.redact import redaction_of
from journal.sharing.secrets import BrokenEntries, broken_entries_of

WRONG = {
    "no date": "---\nkind: find\nid: F-9\nplace: Quorn Hill\nwhere: 58.30412, -8.90177\nby: Zelda\n---\n",
    "no kind": "---\nid: F-9\nplace: Quorn Hill\nwhere: 58.30412, -8.90177\nby: Zelda\n---\n",
    "misspelled keys": "---\nkind: find\nid: F-9\nplcae: Quorn Hill\nwhere: 58.30412, -8.90177\nby: Zelda\n---\n",
    "never ends": "---\nkind: find\nid: F-9\nplace: Quorn Hill\nwhere: 58.30412, -8.90177\nby: Zelda\n\nText.\n",
}


def unread(text: str) -> BrokenEntries:
    front = read_front_matter("f.md", text.encode())
    assert front is not None
    return broken_entries_of([front])


@pytest.mark.parametrize("what", WRONG)
def test_names_and_places_are_read_from_it(what: str) -> None:
    expected = BrokenEntries(("F-9",), ("Quorn Hill",), (), ("Zelda",), ((58.30412, -8.90177),))
    assert expected == unread(WRONG[what])


def test_a_position_that_cannot_be_read_is_none() -> None:
    assert () == unread("---\nwhere: by the sea\n---\n").positions


def test_they_are_taken_out_of_texts_and_looked_for(make_journal: Callable[..., Journal]) -> None:
    text = "Like F-9 at Quorn Hill, 58.304 and 8.902, said Zelda."
    journal = make_journal({"b.md": f"---\nkind: batch\nid: B-1\ndate: 2026-10-06\n---\n{text}\n"})
    share, found = Share(name="m", about=("B-1",)), unread(WRONG["no kind"])
    redacted = redaction_of(journal, share, (), found).journal.batches[0].text
    assert "Like (not shared) at (not shared), said (not shared)." == redacted.strip()
    told = {one.what for one in detectors_of(journal, share, broken=found).found_in(text)}
    assert {"an ID", "a place", "a position", "a person"} <= told


@pytest.mark.parametrize(
    "data",
    [
        "---\nkind: find\nid: F-9\nplace: Quorn Hill\nby: Zelda\nhost: bl\u00e5\n---\n".encode("latin-1"),
        "---\r\nkind: find\r\nid: F-9\r\nplace: Quorn Hill\r\nby: Zelda\r\n---\r\n\u201cT\u201d".encode("cp1252"),
        "---\nkind: find\nid: F-9\nplace: Quorn Hill\nby: Zelda\n---\n".encode("utf-16"),
        b"\xef\xbb\xbf---\nkind: find\nid: F-9\nplace: Quorn Hill\nby: Zelda\n---\n\xff\xfe",
    ],
)
def test_a_file_that_is_no_utf_8_tells_its_names_all_the_same(data: bytes) -> None:
    assert not read_front_matter("f.md", data).legible  # type: ignore[union-attr]
    front = guess_front_matter("f.md", data)
    assert front is not None
    assert (("F-9",), ("Quorn Hill",), ("Zelda",)) == (
        broken_entries_of([front]).ids, broken_entries_of([front]).places, broken_entries_of([front]).persons,
    )  # fmt: skip


def test_lines_that_are_utf_8_are_read_as_such_beside_one_that_is_not() -> None:
    front = guess_front_matter("f.md", "---\nplace: Bl\u00e5vik\n".encode() + b"host: bl\xe5\n---\n")
    assert front is not None
    assert [["Bl\u00e5vik"], ["bl\u00e5"]] == [[item.text for item in field.items] for field in front.fields]
