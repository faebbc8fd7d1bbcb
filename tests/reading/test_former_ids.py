"""Earlier IDs: `formerly` in an entry lets labels and entries that name the old ID lead to it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from journal.export.document import document
from journal.model import Ref
from journal.settings import Share
from journal.sharing.redact import redaction_of

CULTURE = "---\nkind: culture\nid: PP-26A\ndate: 2026-09-01\nreceived from: a friend\nformerly: OY-3, oy-4\n---\n"
BATCH = "---\nkind: batch\nid: B-031\ndate: 2026-10-01\nculture: OY-3\nunits: 2\nformerly: B-013\n---\n"
NOTE = "---\nkind: note\nabout: b-013.2, B-031\ndate: 2026-10-09\nstage: pinning\n---\nFrom oy-4, as B-013 was.\n"


def test_what_names_an_earlier_id_leads_to_the_id_of_now(make_journal: Callable[..., Any]) -> None:
    journal = make_journal({"c.md": CULTURE, "b.md": BATCH, "n.md": NOTE})
    assert () == journal.problems
    assert (Ref("PP-26A"),) == journal.batches[0].cultures
    assert (Ref("B-031", 2), Ref("B-031")) == journal.notes[0].about
    assert {"oy-3": "PP-26A", "oy-4": "PP-26A", "b-013": "B-031"} == {
        old: row.id for old, row in journal.by_former_id.items()
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


def test_its_own_id_is_no_earlier_one(make_journal: Callable[..., Any]) -> None:
    journal = make_journal({"c.md": CULTURE.replace("OY-3, oy-4", "PP-26A")})
    assert ((), {}) == (journal.problems, journal.by_former_id)


def test_a_share_tells_no_earlier_id_of_what_it_keeps_back(make_journal: Callable[..., Any]) -> None:
    other = BATCH.replace("B-031", "B-050").replace("B-013", "B-049").replace("OY-3", "PP-26A")
    note = NOTE.replace("b-013.2, B-031", "B-031").replace("From oy-4, as B-013 was", "Beside B-049, once B-013")
    journal = make_journal({"c.md": CULTURE, "b.md": BATCH, "o.md": other, "n.md": note})
    share = Share(name="m", about=("B-031",))
    told = redaction_of(journal, share).journal
    assert "B-031" in {batch.id for batch in told.batches}
    assert "B-049" not in repr(told)
    assert {} == told.by_former_id
