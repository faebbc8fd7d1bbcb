"""Receipts: what was imported from a phone, written and read."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from journal.problems import Refusal
from journal.reading.receipts import (
    Gathered,
    GatheredFile,
    Receipt,
    Receipts,
    read_receipt,
    read_receipts,
    receipt_text,
)

TEXT, PHOTO = GatheredFile("entry.md", "a" * 64, "b" * 64), GatheredFile("photo-01.jpg", "c" * 64, "c" * 64)
FIND = Gathered("0f3c", 2, "F26-016-K7Q4", "finds/a/find.md", (PHOTO, TEXT), was="F26-015-K7Q4")
NOTE = Gathered("1a2b", 1, None, "notes/a/note.md", (TEXT,))
RECEIPT = Receipt(
    "uuid", "K7Q4", "2026-11-25T20:03:22+00:00", "d" * 64, {"1": "XXXX"}, (FIND, NOTE), ("a/photo-02.jpg",)
)


def test_what_is_written_is_read() -> None:
    text = receipt_text(RECEIPT)
    assert RECEIPT == read_receipt(text.encode())
    assert ["F26-015-K7Q4", "none"] == [row.get("was", "none") for row in json.loads(text)["records"]]
    assert 1 == json.loads(text)["version"]


@pytest.mark.parametrize("path", ["/etc/passwd", "../x.md", "a/../../x.md", "a\\..\\x.md", "./x.md", "a//x.md", 1])
def test_a_path_that_leads_elsewhere_is_none(path: object) -> None:
    rows = json.loads(receipt_text(RECEIPT))
    rows["records"][0]["path"] = path
    with pytest.raises(ValueError, match="a path that leads out of the journal"):
        read_receipt(json.dumps(rows).encode())


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "{}", '{"version": 2}', '{"version": 1, "records": [{}]}', "\x00", "1"]
)
def test_what_is_not_a_receipt_is_refused_by_its_name(tmp_path: Path, text: str) -> None:
    (tmp_path / "receipts").mkdir()
    (tmp_path / "receipts" / "2026-11-25T200322Z-dddddddd.json").write_text(text)
    with pytest.raises(Refusal, match="2026-11-25T200322Z-dddddddd"):
        read_receipts(tmp_path)


def test_the_latest_revision_counts_in_whatever_order_receipts_come() -> None:
    earlier = replace(FIND, revision=1, path="finds/b/find.md")
    for order in ([FIND, earlier], [earlier, FIND]):
        found = Receipts()
        found.add("K7Q4", order)
        assert ({FIND.record: FIND}, {"K7Q4": {"f26-015-k7q4": "F26-016-K7Q4"}}) == (found.latest, found.renamed)


def test_of_one_second_the_later_receipt_counts(tmp_path: Path) -> None:
    (tmp_path / "receipts").mkdir()
    for name, files in (("s-d.json", (TEXT,)), ("s-d-2.json", (PHOTO, TEXT))):
        receipt = replace(RECEIPT, records=(replace(FIND, files=files),))
        (tmp_path / "receipts" / name).write_text(receipt_text(receipt))
    assert (PHOTO, TEXT) == read_receipts(tmp_path).latest[FIND.record].files


@pytest.mark.parametrize(
    ("covered", "one"),
    [
        (True, FIND),
        (True, replace(FIND, files=(TEXT,))),
        (True, replace(FIND, revision=1, files=(GatheredFile("photo-09.jpg", "", ""),))),
        (False, replace(FIND, revision=3)),
        (False, replace(FIND, files=(GatheredFile("photo-09.jpg", "", ""),))),
        (False, NOTE),
    ],
)
def test_a_receipt_covers_a_revision_with_its_files_and_those_before(covered: bool, one: Gathered) -> None:
    found = Receipts()
    found.add("K7Q4", [FIND])
    assert covered is found.covers(one)
