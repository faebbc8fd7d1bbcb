"""Where a batch stood: from day 0, over each move of the whole of it, until it was over."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from math import inf
from zoneinfo import ZoneInfo

import pytest

from journal.analysis.climate import Location, locations_of
from journal.analysis.progress import progress_of
from journal.model import Batch, Journal

Make = Callable[..., Journal]
LONDON = ZoneInfo("Europe/London")
TOML = '[journal]\ntime_zone = "Europe/London"\n[tents.hut]\nname = "Hut"\n[tents.Loft]\nname = "Loft"\n'


@pytest.fixture
def stays(make_journal: Make) -> Callable[..., tuple[Location, ...]]:
    """Called with the keys of a batch and of the notes about it it gives the stays of that batch."""

    def of(batch: str, *notes: str, about: str = "B") -> tuple[Location, ...]:
        files = {f"n{at}.md": f"---\nkind: note\nabout: {about}\n{keys}\n---\n" for at, keys in enumerate(notes)}
        files["b.md"] = f"---\nkind: batch\nid: B\ndate: 2026-10-01\nunits: 2\n{batch}\n---\n"
        journal = make_journal({"journal.toml": TOML, **files})
        (row,) = journal.batches
        assert isinstance(row, Batch)
        return locations_of(row, progress_of(journal)["B"])

    return of


Stays = Callable[..., tuple[Location, ...]]


def day(number: int) -> date:
    return date(2026, 10, number)


@pytest.mark.parametrize(
    ("expected", "batch", "notes"),
    [
        ([], "", []),
        ([Location("hut", day(1))], "tent: hut", []),
        # Day 0 is that of the note that says it was inoculated.
        ([Location("hut", day(3))], "tent: hut", ["date: 2026-10-03\nstage: inoculated"]),
        # An ID is spelled as it was defined.
        ([Location("Loft", day(5))], "", ["date: 2026-10-05\nmoved to: LOFT"]),
        (
            [Location("hut", day(1), until_day=day(5), left_by="moved"), Location("Loft", day(5))],
            "tent: hut",
            ["date: 2026-10-05\nmoved to: loft"],
        ),
        # Moved to where it is: it stays.
        ([Location("hut", day(1))], "tent: hut", ["date: 2026-10-05\nmoved to: hut"]),
        # Nobody knows on which day: it left at the first it can have been, and is lost sight of until the next move.
        (
            [Location("hut", day(1), until_day=day(4), left_by="moved"), Location("hut", day(9))],
            "tent: hut",
            ["date: about 2026-10-04\nmoved to: loft", "date: 2026-10-09\nmoved to: hut"],
        ),
        # Moved to where the journal knows of no tent: it has left, and nobody knows the air about it.
        (
            [Location("hut", day(1), until_day=day(5), left_by="moved")],
            "tent: hut",
            ["date: 2026-10-05\nmoved to: attic"],
        ),
        ([Location("hut", day(1), until_day=day(8), left_by="over")], "tent: hut", ["date: 2026-10-08\nstage: spent"]),
        ([Location("hut", day(1), until_day=day(7), left_by="over")], "tent: hut", ["date: 2026-10-07\nlost: 2"]),
        # Lost in part, and pinned again after it was called spent: it is there still.
        ([Location("hut", day(1))], "tent: hut", ["date: 2026-10-07\nlost: 1"]),
        (
            [Location("hut", day(1))],
            "tent: hut",
            ["date: 2026-10-07\nstage: spent", "date: 2026-10-09\nstage: pinning"],
        ),
        # Moved and thrown away on one day.
        (
            [
                Location("hut", day(1), until_day=day(8), left_by="moved"),
                Location("Loft", day(8), until_day=day(8), left_by="over"),
            ],
            "tent: hut",
            ["date: 2026-10-08\nmoved to: loft", "date: 2026-10-08\nstage: discarded"],
        ),
        # What was moved when it was over already stands nowhere.
        (
            [Location("hut", day(1), until_day=day(8), left_by="over")],
            "tent: hut",
            ["date: 2026-10-08\nstage: discarded", "date: 2026-10-09\nmoved to: loft"],
        ),
    ],
)
def test_a_batch_stands_where_it_began_and_then_where_it_was_moved_to(
    expected: list[Location], batch: str, notes: list[str], stays: Stays
) -> None:
    assert tuple(expected) == stays(batch, *notes)


def test_a_move_of_a_part_moves_no_batch(stays: Stays) -> None:
    assert (Location("hut", day(1)),) == stays("tent: hut", "date: 2026-10-05\nmoved to: loft", about="B.1")


def test_a_move_with_a_time_of_day_is_at_that_moment(stays: Stays) -> None:
    first, second = stays("tent: hut", "date: 2026-10-05 14:30\nmoved to: loft")
    moment_s = datetime(2026, 10, 5, 14, 30, tzinfo=LONDON).timestamp()
    assert (moment_s, moment_s) == (first.until_s, second.from_s)
    assert (datetime(2026, 10, 1, tzinfo=LONDON).timestamp(), moment_s) == first.span_s(LONDON)
    assert (moment_s, inf) == second.span_s(LONDON)


def test_a_day_belongs_to_where_it_was_moved_to_and_the_last_day_to_where_it_was_over(stays: Stays) -> None:
    notes = ("date: 2026-10-05\nmoved to: loft", "date: 2026-10-08\nstage: spent")
    spans = [stay.span_s(LONDON) for stay in stays("tent: hut", *notes)]
    midnights = [datetime(2026, 10, number, tzinfo=LONDON).timestamp() for number in (1, 5, 9)]
    assert [(midnights[0], midnights[1]), (midnights[1], midnights[2])] == spans
