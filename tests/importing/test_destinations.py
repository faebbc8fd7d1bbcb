from __future__ import annotations

from itertools import islice

import pytest

from journal.importing.destinations import Destination, Subject, conflict_with, destinations_for
from journal.model import Ref
from journal.reading.entries import Draft
from tests.builders import draft


def subject(path: str | None, id: str, kind: str) -> Subject:
    return Subject(Ref(id), kind, path)


ALONE = draft("batches/B-031/batch.md", "kind: batch\nid: B-031\ndate: 2026-10-06")
NOTE = draft("batches/B-031/2026-10-20.md", "kind: note")
LONE_IN_COMMON = draft("batches/B-001.md", "kind: batch\nid: B-001\ndate: 2026-10-06")
TWO = [
    draft("finds/alder/find.md", "kind: find\nid: F-1\ndate: 2026-09-12"),
    draft("finds/alder/second.md", "kind: find\nid: F-2\ndate: 2026-09-12"),
]
TENTS = [
    draft("tents/2026-10-20.md", "kind: tent\nabout: Wash-House\ndate: 2026-10-20"),
    draft("diary/2026-10-21.md", "kind: tent\nabout: net-loft\ndate: 2026-10-21"),
]


@pytest.mark.parametrize(
    ("expected", "about", "drafts"),
    [
        (["batches/B-031", "batches/B-031/notes", "batches/B-031/notes-2"],
         subject("batches/B-031/batch.md", "B-031", "batch"), [ALONE, NOTE]),
        (["batches/B-001", "batches/B-001/notes"], subject("batches/B-001.md", "B-001", "batch"), [LONE_IN_COMMON]),
        (["finds/alder/F-2", "finds/alder/F-2/notes"], subject("finds/alder/second.md", "F-2", "find"), TWO),
        (["F-9", "F-9/notes"], subject("find.md", "F-9", "find"), [draft("find.md", "kind: find\nid: F-9")]),
        (["tents", "tents/wash-house", "tents/wash-house/notes"], subject(None, "wash-house", "tent"), TENTS),
        (["diary", "diary/net-loft"], subject(None, "net-loft", "tent"), TENTS),
        (["tents", "tents/attic"], subject(None, "attic", "tent"), TENTS),
    ],
)  # fmt: skip
def test_notes_go_beside_what_they_are_about(expected: list[str], about: Subject, drafts: list[Draft]) -> None:
    assert expected == [home.path for home in islice(destinations_for(about, drafts), len(expected))]


NEW = draft("batches/B-031/2026-10-27.md", "kind: note\nabout: B-031\nphotos:\n  - new.jpg")
NEW_TENT = draft("batches/B-031/2026-10-27.md", "kind: tent\nabout: x\nphotos:\n  - new.jpg")
LISTED = draft("batches/B-031/batch.md", "kind: batch\nid: B-031\nphotos: old.jpg")
HOME = Destination("batches/B-031", own=True)


@pytest.mark.parametrize(
    ("says", "new", "drafts", "photos"),
    [
        (None, NEW, [], ["new.jpg"]),
        (None, NEW, [ALONE], ["new.jpg"]),
        (None, NEW, [LISTED], ["new.jpg", "old.jpg"]),
        (None, NEW, [ALONE, NOTE], ["new.jpg", "stray.jpg"]),
        ('"old.jpg" belongs to batches/B-031/batch.md only while', NEW, [ALONE], ["new.jpg", "old.jpg"]),
        ('"stray.jpg" is there and in no entry', NEW, [], ["new.jpg", "stray.jpg"]),
        ("2026-10-20.md has no `about`", NEW_TENT, [ALONE, NOTE], ["new.jpg"]),
    ],
)
def test_a_folder_where_a_note_would_upset_what_belongs_to_whom(
    says: str | None, new: Draft, drafts: list[Draft], photos: list[str]
) -> None:
    told = conflict_with([new], HOME, drafts, [HOME.file(name) for name in photos])
    assert told is None if says is None else says in (told or "")
