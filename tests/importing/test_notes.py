from __future__ import annotations

from datetime import date

import pytest

from journal.importing.destinations import Subject
from journal.importing.filing import note_name, note_text
from journal.model import Ref
from journal.reading.entries import read_entry
from journal.settings import Settings

DAY = date(2026, 10, 27)


@pytest.mark.parametrize(
    ("expected", "ref", "stage", "own"),
    [
        ("2026-10-27.md", Ref("B-031"), None, True),
        ("2026-10-27-pinning.md", Ref("B-031"), "pinning", True),
        ("2026-10-27-B-031.2-pinning.md", Ref("B-031", 2), "pinning", True),
        ("2026-10-27-B-031.md", Ref("B-031"), None, False),
        ("2026-10-27-put-away.md", Ref("fan-1"), "put away", True),
    ],
)
def test_a_notes_file_is_called_by_its_day(expected: str, ref: Ref, stage: str | None, own: bool) -> None:
    assert expected == note_name(Subject(ref, "batch"), DAY, stage, own)


@pytest.mark.parametrize(("kind", "of"), [("note", "batch"), ("note", "device"), ("tent", "tent")])
def test_the_text_is_an_entry_with_no_problems(kind: str, of: str) -> None:
    text = note_text(Subject(Ref("wash-house"), of), DAY, None, ["a.jpg", "b c.jpg"])
    entry = read_entry("x.md", text.encode(), Settings())
    assert entry is not None
    assert (kind, ()) == (entry.kind, entry.problems)
    assert (("a.jpg", None), ("b c.jpg", None)) == entry.values["photos"]
    assert DAY == entry.values["date"].first
