"""What was done for a tent, and when each service was last done."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.analysis.due import served, services
from journal.model import Journal
from journal.settings import Tent

Make = Callable[..., Journal]
TOML = '[tents.hut]\n[tents.hut.every]\ntank = "7 d"\nduct = "14 d"\ndamper = "90 d"\n'


@pytest.fixture
def journal(make_journal: Make) -> Journal:
    entries = {
        "a.md": "date: 2026-10-01\nserviced: tank filled",
        "b.md": "date: 2026-10-09 07:20\nserviced:\n  - duct emptied\n  - tank and duct scrubbed\n  - floor wiped",
        "c.md": "date: 2026-10-10\nhumidity reading: 90 %",
    }
    files = {name: f"---\nkind: tent\nabout: hut\n{keys}\n---\n" for name, keys in entries.items()}
    return make_journal({"journal.toml": TOML, **files})


@pytest.fixture
def hut(journal: Journal) -> Tent:
    return journal.settings.tents[0]


def test_all_that_was_done_is_given_oldest_first_with_what_it_counts_for(journal: Journal, hut: Tent) -> None:
    assert [
        ("tank filled", ("tank",), "a.md"),
        ("duct emptied", ("duct",), "b.md"),
        ("tank and duct scrubbed", ("tank", "duct"), "b.md"),
        ("floor wiped", (), "b.md"),
    ] == [(one.words, one.services, one.path) for one in served(journal, hut)]


def test_each_service_is_due_after_the_last_time_it_was_done_else_after_the_first_entry(journal: Journal) -> None:
    found = {one.what: (one.path, one.day.isoformat() if one.day else None) for one in services(journal)}
    assert {
        "tank": ("b.md", "2026-10-16"),
        "duct": ("b.md", "2026-10-23"),
        "damper": (None, "2026-12-30"),
    } == found
