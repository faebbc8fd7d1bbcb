from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from journal.reading.entries import read_entry
from journal.reading.keys import KEYS, KINDS
from journal.settings import Settings
from journal.writing.new_entry import ABOUT_KEYS, KINDS_WITH_ID, USUAL_KEYS, blank_path, blank_text, write_blank

TODAY = date(2026, 11, 25)


def test_every_kind_has_a_blank() -> None:
    assert set(KINDS) == USUAL_KEYS.keys() == ABOUT_KEYS.keys()


@pytest.mark.parametrize("kind", USUAL_KEYS)
def test_a_kind_is_given_five_usual_keys_of_its_own(kind: str) -> None:
    assert len(set(USUAL_KEYS[kind])) == 5
    assert set(USUAL_KEYS[kind]) <= KEYS[kind].keys()


def blank_draft(kind: str, about: str | None = None):
    own_id = "X-1" if kind in KINDS_WITH_ID else None
    return read_entry("a.md", blank_text(kind, TODAY, own_id, about).encode(), Settings())


@pytest.mark.parametrize("kind", ["find", "culture", "batch", "note"])
def test_a_blank_reads_without_a_problem(kind: str) -> None:
    assert blank_draft(kind).problems == ()


@pytest.mark.parametrize(("kind", "key"), [("tent", "about"), ("device", "tent")])
def test_a_blank_that_must_name_its_tent_asks_for_that_alone(kind: str, key: str) -> None:
    problems = blank_draft(kind).problems
    assert len(problems) == 1
    assert key in problems[0].sentence


@pytest.mark.parametrize("kind", USUAL_KEYS)
def test_a_blank_has_kind_day_and_id_and_nothing_else(kind: str) -> None:
    draft = blank_draft(kind)
    assert (kind, "2026-11-25") == (draft.kind, draft.values["date"].iso)
    assert draft.values.keys() <= {"kind", "date", "id"}


@pytest.mark.parametrize(("kind", "key"), [(kind, key) for kind, key in ABOUT_KEYS.items() if key])
def test_what_it_is_about_is_filled_in(kind: str, key: str) -> None:
    draft = blank_draft(kind, "W-2")
    assert draft.problems == ()
    value = draft.values[key]
    assert str(value if isinstance(value, str) else value[0]) == "W-2"


@pytest.mark.parametrize(
    ("expected", "kind", "own_id", "about", "beside"),
    [
        ("finds/2026-11-25-F26-003/find.md", "find", "F26-003", None, ""),
        ("cultures/PP-26A.md", "culture", "PP-26A", "F26-003", ""),
        ("batches/B-031/batch.md", "batch", "B-031", "PP-26A", ""),
        ("batches/B-031/2026-11-25.md", "note", None, "B-031", "batches/B-031"),
        ("notes/2026-11-25-PP-26A.md", "note", None, "PP-26A", ""),
        ("notes/2026-11-25.md", "note", None, None, ""),
        ("tents/2026-11-25-wash-house.md", "tent", None, "wash-house", ""),
        ("devices/fan-1.md", "device", "fan-1", "wash-house", ""),
    ],
)
def test_an_entry_lies_with_its_kind(expected: str, kind: str, own_id, about, beside: str) -> None:
    assert expected == blank_path(kind, TODAY, own_id, about, beside)


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    paths = [write_blank(tmp_path, "notes/2026-11-25.md", text) for text in ("one", "two", "three")]
    assert paths == ["notes/2026-11-25.md", "notes/2026-11-25-2.md", "notes/2026-11-25-3.md"]
    assert [(tmp_path / path).read_text(encoding="utf-8") for path in paths] == ["one", "two", "three"]
