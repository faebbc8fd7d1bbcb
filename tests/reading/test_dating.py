"""When an entry was: its own date, its photos, its name."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.model import Journal
from tests.reading.written import TOML, files, front, weights

Make = Callable[..., Journal]


@pytest.mark.parametrize(
    ("iso", "path", "written", "taken"),
    [
        ("2026-09-12T14:05:00+01:00", "f/x.md", "2026-09-12 14:05", ["2026-09-12T09:00+01:00"]),
        ("2026-09-12T09:00:00+01:00", "f/x.md", "2026-09-12", ["2026-09-12T11:00+01:00", "2026-09-12T09:00+01:00"]),
        ("2026-09-12", "f/x.md", "2026-09-12", ["2026-09-11T23:59+01:00", "2026-09-12T09:00+01:00"]),
        ("2026-09-12", "f/x.md", "2026-09-12", [None]),
        ("2026-09", "f/x.md", "2026-09", ["2026-09-12T09:00+01:00"]),
        ("2026-09-12", "f/x.md", "about 2026-09-12", ["2026-09-12T09:00+01:00"]),
        ("2026-09-11T22:30:00-03:00", "2026-01-01-a/2026-02-02-b.md", "", ["2026-09-11T22:30-03:00"]),
        ("2026-02-02", "2026-01-01-a/2026-02-02-b.md", "", []),
        ("2026-01-01", "2026-01-01-a/find.md", "", [None]),
        ("2026-01-01", "2026-01-01-a/find.md", "yesterday", []),
        ("2026-10-03", "2026-01-01-a/find.md", "3 Oct 2026", []),
        ("2026-01-01", "2026-01-01-a/find.md", "03/10/2026", []),
        ("2026-02-02", "2026-01-01-a/2 February 2026.md", "03/10/2026", []),
        ("2026-09-12T09:00:00+01:00", "a/find.md", "03/10/2026", ["2026-09-12T09:00+01:00"]),
    ],
)
def test_the_date_is_the_entrys_then_its_photos_then_its_names(
    make_journal: Make, iso: str, path: str, written: str, taken: list[str | None]
) -> None:
    folder = path.rpartition("/")[0]
    photos = {f"{folder}/{n}.jpg": {"taken": moment} for n, moment in enumerate(taken)}
    journal = make_journal({"journal.toml": TOML, path: front("find", id="F1", date=written)}, photos)
    assert iso == journal.finds[0].date.iso


def test_a_time_taken_over_from_a_photo_leaves_the_date_as_written(make_journal: Make) -> None:
    journal = make_journal(files(f=front("find", id="F1")), {"f/a.jpg": {"taken": "2026-09-12T09:00+01:00"}})
    assert ("2026-09-12", "minute") == (journal.finds[0].date.written, journal.finds[0].date.exact)


def test_an_entry_that_nothing_dates_is_left_out_and_reported(make_journal: Make) -> None:
    journal = make_journal(files(f=front("find", id="F1", date="")), {"f/a.jpg": {}})
    assert ((), [("f/f.md", "error")]) == (journal.finds, weights(journal))


def test_a_date_that_cannot_be_read_is_reported_once(make_journal: Make) -> None:
    journal = make_journal(files(f=front("find", id="F1", date="2026-13-45")))
    assert ((), [("f/f.md", "error")]) == (journal.finds, weights(journal))
