"""Receipts of what came in from phones."""

from __future__ import annotations

import json
from typing import Any

import pytest

from journal.reading.receipts import Received, Trace, received_in

PATH = "receipts/2026-11-25T140322Z-0f3c9a12.json"
RECORD = "0f3c9a12-1111-4222-8333-444455556666"
DIGEST = "ab" * 32


def row(**other: Any) -> dict[str, Any]:
    files = [
        {"name": "photo-01.jpg", "sha256": "cd" * 32, "written": "cd" * 32},
        {"name": "entry.md", "sha256": DIGEST, "written": "ef" * 32},
    ]
    return {"record": RECORD, "revision": 2, "id": "F26-015-K7Q4", "path": "finds/a/find.md", "files": files} | other


def trace(id: str) -> Trace:
    return Trace("finds/a/find.md", id, "ef" * 32)


def read(*rows: object) -> tuple[tuple[Received, ...], list[str]]:
    received, problems = received_in(PATH, json.dumps({"version": 1, "records": rows}).encode())
    return received, [problem.severity for problem in problems]


def test_each_record_is_told_by_the_digest_that_the_phone_knows() -> None:
    assert read(row()) == ((Received(RECORD, 2, DIGEST, None, trace("F26-015-K7Q4")),), [])


def test_a_record_of_which_a_photo_is_missing_has_not_come_in_yet() -> None:
    other = "1a2b3c4d-1111-4222-8333-444455556666"
    told = {
        "version": 1,
        "records": [row(), row(record=other)],
        "missing": [f"2026-11-25-find-f-{other[:8]}/photo-01.jpg"],
    }
    received, problems = received_in(PATH, json.dumps(told).encode())
    assert [one.record for one in received] == [RECORD]
    assert problems == ()


def test_an_id_that_was_changed_at_home_is_reported() -> None:
    found = Received(RECORD, 2, DIGEST, "F26-016-K7Q4", trace("F26-016-K7Q4"))
    assert read(row(was="F26-015-K7Q4", id="F26-016-K7Q4")) == ((found,), [])


@pytest.mark.parametrize(
    "bad",
    [
        row(record="../x"),
        row(revision="2"),
        row(revision=True),
        row(files=[]),
        row(files=None),
        row(path="../x.md"),
        row(date=[1]),
        row(about=[{}]),
        row(id=3),
        None,
        "x",
        {},
    ],
)
def test_a_receipt_that_cannot_be_read_is_a_warning_and_reveals_nothing(bad: object) -> None:
    assert read(row(), bad) == ((), ["warning"])


@pytest.mark.parametrize("data", [b"", b"[]", b"{", b"\xff\xfe", b"[" * 100_000, b'{"records": 3}'])
def test_what_is_not_a_receipt_at_all_is_a_warning(data: bytes) -> None:
    received, (problem,) = received_in(PATH, data)
    assert (received, problem.path, problem.severity) == ((), PATH, "warning")
