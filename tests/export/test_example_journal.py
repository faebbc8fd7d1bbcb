"""The specimen: it has one of everything, so that tables have their columns."""

from __future__ import annotations

from typing import Any

from journal.export.document import document
from journal.export.example_journal import specimen


def test_it_has_at_least_one_of_every_kind_and_of_all_within_them() -> None:
    told = document(specimen())
    assert [] == [name for name, rows in told.items() if not rows]
    lacking = {
        f"{kind}.{name}"
        for kind in told
        if kind != "journal"
        for name in told[kind][0]
        if all(row[name] in ([], {}) for row in told[kind])
    }
    # Lists of plain words; all others have objects within them.
    assert lacking <= {
        *("patches.joined_by", "patches.former_ids"),
        *("cultures.done", "batches.done", "notes.done", "devices.done", "batches.doubtful_harvests"),
    } | {f"{kind}.photos" for kind in ("cultures", "batches", "notes", "devices")}


def test_nothing_in_it_is_wrong_but_what_is_meant_to_be() -> None:
    assert [("letter.md", "warning")] == [(problem.path, problem.severity) for problem in specimen().problems]


def test_it_shows_what_few_journals_can() -> None:
    told: dict[str, Any] = document(specimen())
    (culture,) = told["cultures"]
    assert culture["be_interval"] is not None
    assert told["finds"][0]["position"] is not None
    assert told["photos"][0]["track"] is not None
    assert any(batch["expected"] for batch in told["batches"])
    assert any(batch["days_between_flushes"] for batch in told["batches"])
