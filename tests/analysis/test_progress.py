"""Day 0, stage, losses and harvests, as notes tell them."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from journal.analysis.progress import Progress, days_between, progress_of
from journal.model import Batch, Culture, Note, When
from tests.builders import batch, culture, journal_of, note, when


def run(*notes: Note, of: Batch | Culture | None = None) -> Progress:
    row = of or batch("B", on=6, units=4, tent="hut")
    return progress_of(journal_of(row, *notes))[row.id]


ABOUT = When(written="about 2026-10-08", first=date(2026, 10, 8), exact="about")
MONTH = When(written="2026-10", first=date(2026, 10, 1), exact="month")
CLOCK = When("2026-10-07 23:30", date(2026, 10, 7), "minute", datetime(2026, 10, 7, 22, 30, tzinfo=UTC))


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        (date(2026, 10, 6), []),
        (date(2026, 10, 6), [note("B", 9, stage="colonising")]),
        (date(2026, 10, 8), [note("B", 8, stage="inoculated")]),
        (date(2026, 10, 8), [note("B", 9, stage="inoculated"), note("B", 8, stage="inoculated")]),
        (date(2026, 10, 6), [note("B.1", 8, stage="inoculated")]),
        (None, [note("B", ABOUT, stage="inoculated")]),
        (date(2026, 10, 7), [note("B", CLOCK, stage="inoculated")]),
    ],
)
def test_day_zero_is_the_first_inoculation_else_the_batchs_own_day(expected: date | None, notes: list[Note]) -> None:
    assert expected == run(*notes).day0


def test_a_batch_dated_by_its_month_has_no_day0() -> None:
    assert run(of=batch("B", on=MONTH)).day0 is None


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        (None, []),
        ("pinning", [note("B", 20, stage="pinning"), note("B", 9, stage="colonised")]),
        ("pinning", [note("B", 20, stage="pinning"), note("B", 21, lost=1)]),
        ("colonised", [note("B", 9, stage="colonised"), note("B.2", 20, stage="contaminated")]),
        ("colonised", [note("B, B.2", 9, stage="colonised")]),
    ],
)
def test_the_stage_is_that_of_the_latest_note_about_the_whole(expected: str | None, notes: list[Note]) -> None:
    assert expected == run(*notes).stage


def picked(day: int, flush: int | None = None) -> Note:
    return note("B", day, harvest_g=400.0, flush=flush)


HARVEST, DAYS = "from the harvest", "by the days since the harvest"


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        (("pinning", None), [note("B", 20, stage="pinning")]),
        (("fruiting", HARVEST), [note("B", 20, stage="pinning"), note("B", 26, harvest_g=400.0)]),
        (("fruiting", HARVEST), [note("B", 20, stage="pinning"), note("B.2", 26, harvest_g=400.0)]),
        (("fruiting", HARVEST), [note("B", 26, harvest_g=400.0)]),
        (("fruiting", HARVEST), [note("B", 20, stage="resting"), note("B", 26, harvest_g=400.0)]),
        # until the journal tells of a day more than five after it, by this or any other note
        (("fruiting", HARVEST), [note("B", 20, stage="pinning"), note("B", 26, harvest_g=4.0), note("", 31)]),
        (("resting", DAYS), [note("B", 20, stage="pinning"), note("B", 26, harvest_g=4.0), note("", 32)]),
        (("resting", DAYS), [note("B", 20, stage="pinning"), note("B", 26, harvest_g=4.0), note("B", 32, by="x")]),
        (("resting", DAYS), [note("B", 20, stage="fruiting"), note("B", 26, harvest_g=4.0), note("", 32)]),
        (("fruiting", HARVEST), [note("B", 20, harvest_g=4.0), note("B", 27, harvest_g=4.0), note("", 30)]),
        # what a note says stands, of that day too
        (("fruiting", None), [note("B", 26, harvest_g=4.0), note("B", 26, stage="fruiting"), note("", 28)]),
        (("resting", None), [note("B", 26, harvest_g=4.0), note("B", 28, stage="resting")]),
        (("pinning", None), [note("B", 20, harvest_g=4.0), note("B", 29, stage="pinning"), note("", 50)]),
        (("resting", None), [note("B", 20, stage="pinning"), note("B", 26, stage="resting", harvest_g=400.0)]),
        (("pinning", None), [note("B", 20, stage="pinning"), note("B", 26, harvest_g=0.0)]),
        (("spent", None), [note("B", 20, stage="spent"), note("B", 26, harvest_g=400.0), note("", 50)]),
        (("contaminated", None), [note("B", 20, stage="contaminated"), note("B", 26, harvest_g=400.0)]),
        (("fruiting", None), [note("B", 20, stage="fruiting"), note("", 50)]),
    ],
)  # fmt: skip
def test_a_harvest_moves_the_stage_and_what_is_derived_says_from_what(
    expected: tuple[str, str | None], notes: list[Note]
) -> None:
    assert expected == (run(*notes).stage, run(*notes).stage_derived)


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        # two flushes thirteen days apart, whatever tells them apart
        ("fruiting 13, resting 13, fruiting 26", [picked(13), picked(26)]),
        ("fruiting 13, resting 13, fruiting 26", [picked(13, 1), picked(26, 2)]),
        ("fruiting 13, resting 15, fruiting 26", [picked(13, 1), picked(15, 1), picked(26, 2)]),
        ("fruiting 13, resting 13, fruiting 26, resting 27", [picked(13), picked(26), picked(27), note("", 33)]),
        ("fruiting 12, resting 13, fruiting 26", [note("B", 12, stage="fruiting"), picked(13), picked(26)]),
        # within five days, or of the flush that was harvested before
        ("fruiting 13", [picked(13), picked(18)]),
        ("fruiting 13, resting 13, fruiting 19", [picked(13), picked(19)]),
        ("fruiting 13", [picked(13, 1), picked(20, 1)]),
        # until whatever a note says next
        ("fruiting 13, resting 13, pinning 22, fruiting 26", [picked(13), note("B", 22, stage="pinning"), picked(26)]),
        ("fruiting 13, resting 13, spent 30", [picked(13), note("B", 30, stage="spent")]),
        ("fruiting 13, spent 16", [picked(13), note("B", 16, stage="spent")]),
        ("fruiting 13, resting 14, fruiting 26", [picked(13), note("B", 14, stage="resting"), picked(26)]),
        # of a day that is not known nothing is counted
        ("fruiting 8", [note("B", ABOUT, harvest_g=4.0), picked(26)]),
    ],
)  # fmt: skip
def test_flushes_more_than_five_days_apart_have_a_time_between_them(expected: str, notes: list[Note]) -> None:
    """*Common practice*: a flush is harvested within a few days, and the next comes a week or more later."""
    assert expected == ", ".join(f"{one.name} {one.note.date.first.day}" for one in run(*notes).stages)


def at(hour: int) -> When:
    return When(f"2026-10-13 {hour}:00", date(2026, 10, 13), "minute", datetime(2026, 10, 13, hour, tzinfo=UTC))


def stage(on: int | When, name: str) -> Note:
    return note("B", on, stage=name)


LATER = note("", 31)


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        # the harvest counts after a stage up to fruiting of its day that has no time, or where it has none itself
        ("fruiting 13, resting 13", [picked(13), stage(13, "fruiting"), LATER]),
        ("fruiting 13, resting 13", [picked(13), stage(at(10), "fruiting"), LATER]),
        ("fruiting 13, resting 13", [note("B", at(9), harvest_g=4.0), stage(13, "fruiting"), LATER]),
        ("fruiting 13, resting 13", [note("B", at(11), harvest_g=4.0), stage(at(10), "fruiting"), LATER]),
        ("pinning 13, fruiting 13", [picked(13), stage(at(10), "pinning")]),
        ("pinning 13, fruiting 13, resting 13", [stage(at(8), "pinning"), stage(at(9), "fruiting"), picked(13), LATER]),
        ("fruiting 13, resting 14", [picked(13), picked(14), stage(13, "fruiting"), LATER]),
        # a stage later that day by its time holds, and so does one after fruiting
        ("fruiting 13", [note("B", at(9), harvest_g=4.0), stage(at(10), "fruiting"), LATER]),
        ("fruiting 13, resting 13", [picked(13), stage(at(10), "fruiting"), stage(at(18), "resting"), LATER]),
        ("resting 13", [picked(13), stage(at(18), "resting"), LATER]),
        ("spent 13", [picked(13), stage(at(18), "spent"), LATER]),
    ],
)  # fmt: skip
def test_a_harvest_counts_after_what_the_batch_was_until_then_on_its_day(expected: str, notes: list[Note]) -> None:
    assert expected == ", ".join(f"{one.name} {one.note.date.first.day}" for one in run(*notes).stages)


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        ("pinning 20", [note("B.2", 22, stage="pinning"), note("B.1", 20, stage="pinning")]),
        ("colonised 9, pinning 20", [note("B", 9, stage="colonised"), note("B.1", 20, stage="pinning")]),
        ("pinning 20, pinning 22", [note("B.1", 20, stage="pinning"), note("B", 22, stage="pinning")]),
        ("pinning 20", [note("B", 20, stage="pinning"), note("B.1", 22, stage="pinning")]),
        ("pinning 20, fruiting 25", [note("B.1", 20, stage="pinning"), note("B.1", 25, harvest_g=4.0)]),
        # while others are harvested, those that pin later change nothing; between flushes they begin the next
        ("fruiting 20", [note("B.1", 20, harvest_g=4.0), note("B.2", 22, stage="pinning")]),
        ("fruiting 20, resting 20, pinning 29", [note("B", 20, harvest_g=4.0), note("B.2", 29, stage="pinning")]),
        ("spent 20", [note("B", 20, stage="spent"), note("B.2", 29, stage="pinning")]),
    ],
)  # fmt: skip
def test_the_first_of_its_units_that_pins_moves_the_stage(expected: str, notes: list[Note]) -> None:
    """*Common practice*: the first pins on any block are the first pins of the batch."""
    one = run(*notes)
    assert expected == ", ".join(f"{stage.name} {stage.note.date.first.day}" for stage in one.stages)
    assert ("from the first pins" in {stage.derived for stage in one.stages}) == any(
        stage.name == "pinning" and stage.note.about[0].part for stage in one.stages
    )


PINS = [note("B.1", 20, stage="pinning"), note("B.2", 20, stage="pinning")]


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        ({1: "pinning", 2: "pinning"}, PINS),
        ({2: "pinning"}, [*PINS, note("B.1", 25, harvest_g=4.0)]),
        ({1: "spent", 2: "pinning"}, [*PINS, note("B.1", 25, stage="spent", harvest_g=4.0)]),
        ({}, [*PINS, note("B", 25, harvest_g=4.0)]),
        ({}, [*PINS, note("B", 25, stage="fruiting")]),
        ({2: "pinning"}, [*PINS, note("B", 25, harvest_g=4.0), note("B.2", 33, stage="pinning")]),
        # a harvest of others says nothing of what is contaminated or stored
        ({3: "contaminated"}, [note("B.3", 20, stage="contaminated"), note("B", 25, harvest_g=4.0)]),
        ({}, [note("B.3", 20, stage="contaminated"), note("B", 25, stage="fruiting")]),
        ({3: "contaminated"}, [note("B.3", 20, stage="contaminated"), note("B", 25, stage="contaminated", lost=1)]),
    ],
)
def test_a_stage_of_a_unit_ends_when_it_or_the_whole_batch_reaches_a_later_one(
    expected: dict[int, str], notes: list[Note]
) -> None:
    assert expected == {part: one.stage for part, one in run(*notes).parts_staged.items()}


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        ((), []),
        ((1, 2), [*PINS, note("B.3", 22, stage="pinning")]),
        ((), [*PINS, note("B", 20, stage="pinning")]),
        ((), [note("B", 19, stage="pinning"), *PINS]),
    ],
)
def test_the_units_of_the_first_pins_are_those_of_that_day(expected: tuple[int, ...], notes: list[Note]) -> None:
    assert expected == run(*notes).first_pinned


@pytest.mark.parametrize(
    ("stage", "over", "notes"),
    [
        ("colonised", False, [note("B", 9, stage="colonised"), note("B", 20, stage="contaminated", lost=2)]),
        ("colonised", False, [note("B", 9, stage="colonised"), note("B", 20, stage="discarded", lost=2)]),
        ("contaminated", True, [note("B", 9, stage="colonised"), note("B", 20, stage="contaminated", lost=6)]),
        ("contaminated", True, [note("B", 9, lost=4), note("B", 20, stage="contaminated", lost=2)]),
        ("contaminated", False, [note("B", 9, stage="colonised"), note("B", 20, stage="contaminated")]),
        ("spent", True, [note("B", 9, lost=2), note("B", 20, stage="spent", lost=1)]),
    ],
)
def test_of_six_a_stage_of_two_that_were_lost_is_not_that_of_the_whole(
    stage: str, over: bool, notes: list[Note]
) -> None:
    one = run(*notes, of=batch("B", on=6, units=6))
    assert (stage, over) == (one.stage, one.is_over)


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        (False, []),
        (True, [note("B", 20, stage="spent")]),
        (True, [note("B", 20, stage="discarded")]),
        (False, [note("B", 20, stage="contaminated")]),
        (False, [note("B", 20, stage="spent"), note("B", 22, stage="pinning")]),
        (False, [note("B.1", 20, stage="spent")]),
        (False, [note("B", 20, lost=3)]),
        (True, [note("B", 20, lost=3), note("B.4", 21, lost=1)]),
        (True, [note("B", 20, stage="dead")]),
        (True, [note("B", 20, stage="spent"), note("B", 22, stage="contaminated")]),
    ],
)
def test_nothing_more_is_awaited_once_spent_discarded_dead_or_all_lost(expected: bool, notes: list[Note]) -> None:
    assert expected is run(*notes).is_over


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        (False, []),
        (True, [note("B", 20, stage="spent")]),
        (True, [note("B, B.2", 20, stage="discarded")]),
        (True, [note("B", 20, stage="spent"), note("B", 22, harvest_g=50.0)]),
        (True, [note("B", 20, stage="spent"), note("B", 22, stage="contaminated")]),
        (False, [note("B", 20, stage="spent"), note("B", 22, stage="pinning")]),
        (False, [note("B.1", 20, stage="spent")]),
        (False, [note("B", 20, stage="dead")]),
        (False, [note("B", 20, lost=3)]),
        (True, [note("B", 20, lost=4)]),
        (True, [note("B", 20, lost=3), note("B.4", 22, lost=1)]),
        (True, [note("B", 20, stage="contaminated", lost=4)]),
    ],
)
def test_figures_are_final_once_the_whole_is_spent_discarded_or_lost(expected: bool, notes: list[Note]) -> None:
    assert expected is run(*notes).finished


@pytest.mark.parametrize(
    ("lost", "living", "notes"),
    [
        (0, 4, [note("B", 20, stage="contaminated")]),
        (2, 2, [note("B", 20, lost=1), note("B.2", 21, lost=1)]),
        (2, 2, [note("B.1, B.2", 20, lost=2)]),
        (0, 4, [note("B, C", 20, lost=2)]),
        (9, 0, [note("B", 20, lost=9)]),
    ],
)
def test_only_lost_counts_a_loss(lost: int, living: int, notes: list[Note]) -> None:
    assert (lost, living) == (run(*notes).lost, run(*notes).living)


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        (0.0, [note("B", 20)]),
        (1860.0, [note("B", 20, harvest_g=1290.0, flush=1), note("B.2", 29, harvest_g=570.0)]),
        (300.0, [note("B.1, B.2, B", 20, harvest_g=300.0)]),
        (0.0, [note("B", 20, harvest_g=0.0)]),
    ],
)
def test_a_part_s_harvest_counts_once_for_the_whole(expected: float, notes: list[Note]) -> None:
    assert expected == run(*notes).harvest_g


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        ("hut", []),
        ("loft", [note("B", 20, moved_to="loft")]),
        ("hut", [note("B.2", 20, moved_to="loft")]),
        ("hut", [note("B", 22, moved_to="hut"), note("B", 20, moved_to="loft")]),
        # To an ID that is not in the journal: wherever it is, it is not where it was.
        (None, [note("B", 20, lines={"moved to": 4})]),
    ],
)
def test_it_is_in_the_tent_it_was_last_moved_to(expected: str | None, notes: list[Note]) -> None:
    assert expected == run(*notes).tent


@pytest.mark.parametrize(
    ("since", "over_on", "notes"),
    [
        (None, None, []),
        ("2026-10-20", None, [note("B", 20, stage="pinning")]),
        ("2026-10-20", date(2026, 10, 20), [note("B", 20, stage="spent"), note("B", 22)]),
        (None, date(2026, 10, 22), [note("B", 20, lost=3), note("B", 22, lost=1), note("B", 24, lost=0)]),
        ("2026-10-08", None, [note("B", ABOUT, stage="spent")]),
    ],
)
def test_a_stage_and_the_end_have_their_day(since: str | None, over_on: date | None, notes: list[Note]) -> None:
    one = run(*notes)
    assert (since, over_on) == (one.stage_since.iso if one.stage_since else None, one.over_on)


def test_causes_of_losses_are_named_once_each_with_how_many_each_took_and_how_many_none_is_noted_for() -> None:
    causes = ["green mould", None, "mites", "Green mould "]
    one = run(*(note("B", n, lost=n, cause=cause) for n, cause in enumerate(causes, 1)))
    assert (("green mould", 5), ("mites", 3), ("", 2)) == one.causes
    assert one.lost == sum(count for _, count in one.causes)


def test_vessels_nobody_counted_are_not_all_lost() -> None:
    one = run(note("C", 20, lost=2), of=culture("C", on=1))
    assert (2, None, False) == (one.lost, one.living, one.is_over)


@pytest.mark.parametrize(
    ("expected", "earlier", "later"),
    [
        (0, when(6), when(6)),
        (17, when(6), when(23)),
        (-2, when(8), when(6)),
        (1, when(6), CLOCK),
        (None, ABOUT, when(20)),
        (None, when(1), MONTH),
    ],
)
def test_days_are_whole_calendar_days_and_only_where_both_are_known(
    expected: int | None, earlier: When, later: When
) -> None:
    assert expected == days_between(earlier, later)


def test_ten_thousand_notes_are_sorted_once() -> None:
    """Each note is looked at a bounded number of times: 200 batches, 10,000 notes, one pass."""
    rows = (batch(f"B{n}", on=1, units=99) for n in range(200))
    notes = (note(f"B{n % 200}", 2 + n % 20, lost=1) for n in range(10_000))
    every = progress_of(journal_of(*rows, *notes))
    assert (200, {50}) == (len(every), {one.lost for one in every.values()})
    assert 10_000 == sum(len(one.notes) for one in every.values())


class TestTheSameEntries:
    """What is calculated of entries is kept with the progress of those very objects."""

    def test_have_one_progress_in_two_journals_however_far_these_tell(self) -> None:
        row, pins, picked = batch("B", on=6), note("B", 9, stage="pinning"), note("B", 12, harvest_g=4.0)
        before = progress_of(journal_of(row, pins, picked, note("", 18)))["B"]
        assert progress_of(journal_of(row, pins, picked, note("", 30)))["B"] is before

    def test_have_another_where_a_day_more_changes_the_stage(self) -> None:
        row, pins, picked = batch("B", on=6), note("B", 9, stage="pinning"), note("B", 12, harvest_g=4.0)
        runs = [progress_of(journal_of(row, pins, picked, note("", day)))["B"] for day in (17, 18)]
        assert ["fruiting", "resting"] == [run.stage for run in runs]

    def test_with_an_equal_one_in_place_of_another_are_others(self) -> None:
        row = batch("B", on=6)
        before, after = (progress_of(journal_of(row, note("B", 9, stage="pinning")))["B"] for _ in range(2))
        assert before == after
        assert before is not after
