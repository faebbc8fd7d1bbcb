"""What two sources tell differently is said."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from journal.model import Journal
from tests.reading.written import GPX, HERE, files, front, weights

Make = Callable[..., Journal]


@pytest.mark.parametrize(
    ("warning", "kind", "written", "taken"),
    [
        (False, "find", "2026-09-12 12:00", "2026-09-13T11:59+01:00"),
        (True, "find", "2026-09-12 12:00", "2026-09-13T12:01+01:00"),
        (True, "find", "2026-09-12 12:00", "2026-09-11T11:59+01:00"),
        (False, "find", "2026-09-12", "2026-09-13T23:59+01:00"),
        (True, "find", "2026-09-12", "2026-09-14T00:01+01:00"),
        (False, "find", "2026-09-12", "2026-09-11T00:01+01:00"),
        (True, "find", "2026-09-12", "2026-09-10T23:59+01:00"),
        (False, "find", "2026-09", "2026-09-30T12:00+01:00"),
        (True, "find", "2026-09", "2026-10-02T12:00+01:00"),
        (True, "find", "2026", "2027-01-02T12:00+00:00"),
        (False, "find", "about 2026-09-12", "2026-09-20T12:00+01:00"),
        (True, "note", "2026-09-12", "2026-09-20T12:00+01:00"),
        (True, "tent", "2026-09-12", "2026-09-20T12:00+01:00"),
        (False, "culture", "2026-09-12", "2026-12-20T12:00+00:00"),
        (False, "batch", "2026-09-12", "2026-12-20T12:00+00:00"),
        (False, "device", "2026-09-12", "2026-12-20T12:00+00:00"),
    ],
)
def test_a_photo_over_a_day_from_its_entry_is_odd(
    make_journal: Make, warning: bool, kind: str, written: str, taken: str
) -> None:
    more = {"note": {"about": "hut"}, "tent": {"about": "hut"}, "culture": {"received_from": "x"}}.get(kind, {})
    more |= {"device": {"tent": "hut"}}.get(kind, {}) | ({} if kind in ("note", "tent") else {"id": "X1"})
    journal = make_journal(files(e=front(kind, date=written, **more)), {"e/a.jpg": {"taken": taken}})
    assert ([("e/e.md", "warning")] if warning else []) == weights(journal)


@pytest.mark.parametrize(
    ("warning", "where", "photo", "track"),
    [
        # One minute of latitude is 1857 m at 58 N (WGS 84), so 0.0022 degrees are 245 m, 0.0023 are 256 m.
        (False, "58.3022, -8.9", HERE, False),
        (True, "58.3023, -8.9", HERE, False),
        (True, "58.3050, -8.9", {"taken": "2026-09-12T10:01+01:00"}, True),
        (False, "58.3050, -8.9", {"taken": "2026-09-12T10:01+01:00"}, False),
    ],
)
def test_a_photo_over_250_m_from_where_is_odd(
    make_journal: Make, warning: bool, where: str, photo: dict[str, Any], track: bool
) -> None:
    tracks = {"walk.gpx": GPX} if track else {}
    journal = make_journal({**files(f=front("find", id="F1", where=where)), **tracks}, {"f/a.jpg": photo})
    assert ([("f/f.md", "warning")] if warning else []) == weights(journal)
    assert "58.3" not in "".join(problem.sentence for problem in journal.problems), "a place in a message"


@pytest.mark.parametrize(
    ("warning", "notes"),
    [
        ([], [("B1", 2)]),
        ([], [("B1.1, B1.2", 2)]),
        (["n1"], [("B1", 3)]),
        (["n2"], [("B1", 1), ("B1.2", 1), ("B1", 1)]),
        (["n0"], [("B1, C1", 1)]),
    ],
)
def test_losses_add_up_to_what_there_was(make_journal: Make, warning: list[str], notes: list[tuple[str, int]]) -> None:
    rows = {
        f"n{n}": front("note", about=about, lost=str(lost), date=f"2026-10-{n + 1:02}")
        for n, (about, lost) in enumerate(notes, len(notes) == 1 and notes[0][1] == 3)
    }
    journal = make_journal(
        files(b=front("batch", id="B1", units="2"), c=front("culture", id="C1", received_from="x"), **rows)
    )
    assert [(f"{name}/{name}.md", "warning") for name in warning] == weights(journal)
