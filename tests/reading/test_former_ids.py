"""Earlier IDs: `formerly` in an entry lets labels and entries that name the old ID lead to it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from journal.export.document import document
from journal.export.occurrences import chosen_ids
from journal.importing.destinations import subject_named
from journal.model import Ref
from journal.problems import Refusal
from journal.reading.entries import read_entry
from journal.reading.id_index import by_former_id
from journal.reading.label_codes import check_character
from journal.settings import Settings, Share
from journal.sharing.redact import redaction_of
from journal.writing.new_entry import new_entry

CULTURE = "---\nkind: culture\nid: PP-26A\ndate: 2026-09-01\nreceived from: a friend\nformerly: OY-3, oy-4\n---\n"
BATCH = "---\nkind: batch\nid: B-031\ndate: 2026-10-01\nculture: OY-3\nunits: 2\nformerly: B-013\n---\n"
NOTE = "---\nkind: note\nabout: b-013.2, B-031\ndate: 2026-10-09\nstage: pinning\n---\nFrom oy-4, as B-013 was.\n"


def test_what_names_an_earlier_id_leads_to_the_id_of_now(make_journal: Callable[..., Any]) -> None:
    journal = make_journal({"c.md": CULTURE, "b.md": BATCH, "n.md": NOTE})
    assert () == journal.problems
    assert (Ref("PP-26A"),) == journal.batches[0].cultures
    assert (Ref("B-031", 2), Ref("B-031")) == journal.notes[0].about
    assert {"oy-3": "PP-26A", "oy-4": "PP-26A", "b-013": "B-031"} == {
        old: row.id for old, row in by_former_id(journal).items()
    }
    assert ["B-013"] == document(journal)["batches"][0]["formerly"]


@pytest.mark.parametrize(
    ("files", "path", "message"),
    [
        ({"a.md": BATCH.replace("B-013", "PP-26A")}, "a.md", "`formerly` names PP-26A, which leads to c.md already"),
        ({"a.md": BATCH.replace("B-013", "OY-4")}, "c.md", "`formerly` names oy-4, which leads to a.md already"),
        ({"a.md": BATCH.replace("B-013", "hut")}, "a.md", "`formerly` names hut, which leads to journal.toml already"),
        ({"a.md": BATCH.replace("B-013", "7")}, "a.md", 'formerly: "7" cannot be an ID'),
    ],
)
def test_an_earlier_id_that_is_of_something_else_is_an_error(
    make_journal: Callable[..., Any], files: dict[str, str], path: str, message: str
) -> None:
    journal = make_journal({"journal.toml": "[tents.hut]\n", "c.md": CULTURE, **files})
    told = [(row["path"], row["line"], row["severity"], row["message"]) for row in document(journal)["problems"]]
    line = {"a.md": 7, "c.md": 6}[path]
    assert [(path, line, "error", message)] == [row for row in told if "formerly" in row[3]]


def test_its_own_id_is_not_an_earlier_one(make_journal: Callable[..., Any]) -> None:
    journal = make_journal({"c.md": CULTURE.replace("OY-3, oy-4", "PP-26A")})
    assert ((), {}) == (journal.problems, by_former_id(journal))


def test_a_share_shows_no_earlier_id_of_what_it_keeps_back(make_journal: Callable[..., Any]) -> None:
    other = BATCH.replace("B-031", "B-050").replace("B-013", "B-049").replace("OY-3", "PP-26A")
    note = NOTE.replace("b-013.2, B-031", "B-031").replace("From oy-4, as B-013 was", "Beside B-049, once B-013")
    journal = make_journal({"c.md": CULTURE, "b.md": BATCH, "o.md": other, "n.md": note})
    share = Share(name="m", about=("B-031",))
    told = redaction_of(journal, share).journal
    assert "B-031" in {batch.id for batch in told.batches}
    assert "B-049" not in repr(told)
    assert {} == by_former_id(told)


@pytest.mark.parametrize(
    ("typed", "id"), [("B-013", "B-031"), ("b-013.2", "B-031.2"), (f"B-013+{check_character('B-013')}", "B-031")]
)
def test_commands_take_an_earlier_id_and_one_with_its_check_character(typed: str, id: str) -> None:
    drafts = [
        draft
        for path, text in (("b.md", BATCH), ("c.md", CULTURE))
        if (draft := read_entry(path, text.encode(), Settings()))
    ]
    assert id == str(subject_named(typed, drafts, Settings()).ref)
    assert f"about: {id}\n" in new_entry("note", drafts, Settings(), date(2026, 11, 25), typed).text


def test_a_wrong_check_character_stops_a_command() -> None:
    drafts = [draft for draft in [read_entry("b.md", BATCH.encode(), Settings())] if draft]
    with pytest.raises(Refusal, match="check character"):
        subject_named("B-031+A", drafts, Settings())
    with pytest.raises(Refusal, match="check character"):
        new_entry("note", drafts, Settings(), date(2026, 11, 25), "B-031+A")


def test_records_of_finds_are_chosen_by_an_earlier_id_too(make_journal: Callable[..., Any]) -> None:
    journal = make_journal({"f.md": "---\nkind: find\nid: F26-002\ndate: 2026-09-01\nformerly: F-9\n---\n"})
    assert (
        ("F26-002",) == chosen_ids(journal, ["f-9"]) == chosen_ids(journal, [f"F26-002+{check_character('F26-002')}"])
    )
