"""What was done for a tent, and when each service was last done."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.analysis.due import last_served, served
from journal.model import Journal, Tent

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


def test_all_that_was_done_is_told_oldest_first_with_what_it_counts_for(journal: Journal, hut: Tent) -> None:
    assert [
        ("tank filled", ("tank",), "a.md"),
        ("duct emptied", ("duct",), "b.md"),
        ("tank and duct scrubbed", ("tank", "duct"), "b.md"),
        ("floor wiped", (), "b.md"),
    ] == [(one.words, one.services, one.path) for one in served(journal, hut)]


def test_each_service_has_the_last_time_it_was_done(journal: Journal, hut: Tent) -> None:
    found = {one.service: (one.when.iso[:10] if one.when else None, one.every_d) for one in last_served(journal, hut)}
    assert {"tank": ("2026-10-09", 7.0), "duct": ("2026-10-09", 14.0), "damper": (None, 90.0)} == found
