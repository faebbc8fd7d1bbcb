"""Days taken to each thing that happened to a batch."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.analysis.milestones import Milestones, milestones
from journal.analysis.progress import progress_of
from journal.model import Note, When
from tests.builders import batch, journal_of, note

ABOUT = When(written="about 2026-10-20", first=date(2026, 10, 20), exact="about")


def took(*notes: Note, begun: int | When = 0) -> Milestones:
    return milestones(progress_of(journal_of(batch("B", on=begun, units=4), *notes))["B"])


@pytest.mark.parametrize(
    ("colonised", "pinning", "harvest", "notes"),
    [
        (None, None, None, []),
        (15, 26, 31, [note("B", 15, stage="colonised"), note("B", 26, stage="pinning"), note("B", 31, harvest_g=9.0)]),
        (15, None, None, [note("B", 22, stage="colonised"), note("B", 15, stage="colonised")]),
        # A part's stage is none of the whole; its first pins and its harvest are.
        (None, 26, 31, [note("B.2", 15, stage="colonised"), note("B.2", 26, stage="pinning"),
                        note("B", 27, stage="pinning"), note("B.2", 31, harvest_g=9.0)]),
        (None, None, 31, [note("B", 30, harvest_g=0.0), note("B", 31, harvest_g=9.0)]),
        # Pins after a harvest are of a later flush.
        (None, None, 31, [note("B", 31, harvest_g=9.0), note("B", 40, stage="pinning")]),
        (None, 31, 31, [note("B", 31, harvest_g=9.0), note("B.2", 31, stage="pinning")]),
        (None, None, None, [note("B", ABOUT, stage="colonised"), note("B", 25, stage="colonised")]),
        (None, None, None, [note("B", -2, stage="colonised")]),
        (13, None, None, [note("B", 2, stage="inoculated"), note("B", 15, stage="colonised")]),
        (0, None, None, [note("B", 0, stage="colonised")]),
    ],
)  # fmt: skip
def test_days_are_counted_from_day_zero_to_the_first_note_about_the_whole(
    colonised: int | None, pinning: int | None, harvest: int | None, notes: list[Note]
) -> None:
    one = took(*notes)
    assert (colonised, pinning, harvest) == (one.colonised_d, one.pinning_d, one.harvest_d)


def test_a_batch_whose_day_is_not_known_counts_no_days_but_between_its_notes() -> None:
    one = took(note("B", 26, stage="pinning"), note("B", 31, harvest_g=9.0), begun=ABOUT)
    assert (None, None, 5) == (one.pinning_d, one.harvest_d, one.harvest_after_pins_d)


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        (None, []),
        (5, [note("B", 21, moved_to="hut")]),
        (5, [note("B", 18, moved_to="shelf"), note("B", 21, moved_to="hut"), note("B", 40, moved_to="loft")]),
        (None, [note("B.1", 21, moved_to="hut")]),
        (None, [note("B", 3, moved_to="shelf")]),  # before it was colonised
        (11, [note("B", 15, moved_to="hut")]),
        (None, [note("B", 26, moved_to="hut")]),  # moved because of the pins
        (3, [note("B", 21, moved_to="hut"), note("B.2", 24, stage="pinning"), note("B", 25, moved_to="loft")]),
        (None, [note("B", ABOUT, moved_to="hut")]),
    ],
)
def test_pins_are_counted_too_from_the_last_move_before_them(expected: int | None, notes: list[Note]) -> None:
    one = took(note("B", 15, stage="colonised"), note("B", 26, stage="pinning"), *notes)
    assert expected == one.pinning_after_move_d


@pytest.mark.parametrize(
    ("between", "flushes", "picked"),
    [
        ({}, (), []),
        ({}, (1,), [(31, 1)]),
        ({1: 9}, (1, 2), [(31, 1), (34, 1), (43, 2), (45, 2)]),
        ({1: 12, 2: 10}, (1, 2, 3), [(53, 3), (43, 2), (31, 1)]),
        ({}, (1, 3), [(31, 1), (53, 3)]),
        ({}, (1, 2), [(31, 2), (43, 1)]),
        ({}, (1,), [(31, 1), (43, None)]),
    ],
)
def test_flushes_are_counted_from_the_last_day_of_one_to_the_first_of_the_next(
    between: dict[int, int], flushes: tuple[int, ...], picked: list[tuple[int, int | None]]
) -> None:
    one = took(*(note("B", day, harvest_g=9.0, flush=flush) for day, flush in picked))
    assert (between, flushes) == (one.between_flushes_d, one.flushes)


@given(st.lists(st.tuples(st.integers(0, 90), st.sampled_from(["colonised", "pinning", "resting"])), max_size=8))
def test_the_order_in_which_notes_are_read_changes_nothing(rows: list[tuple[int, str]]) -> None:
    notes = [note("B", day, stage=stage) for day, stage in rows]
    one = took(*notes)
    assert one == took(*reversed(notes))
    assert min((day for day, stage in rows if stage == "colonised"), default=None) == one.colonised_d


def test_nothing_is_counted_of_a_batch_that_is_told_from_a_later_day_on() -> None:
    late = batch("B", units=4, shared_from=date(2026, 10, 20))
    notes = (note("B", 26, stage="pinning"), note("B", 31, harvest_g=9.0, flush=1))
    assert Milestones() == milestones(progress_of(journal_of(late, *notes))["B"])
