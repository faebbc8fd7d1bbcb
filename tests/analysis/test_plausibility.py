"""What is hardly possible is said, and totals know which harvests are doubtful."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from journal.analysis.limits import limit
from journal.analysis.plausibility import doubtful_harvests, doubts_of
from journal.analysis.progress import progress_of
from journal.data import read_table
from journal.model import Entry, Journal, MixPart, Note, TentEntry, When
from journal.settings import Settings
from tests.builders import batch, culture, find, journal_of, note, when

# Six blocks of 2.3 kg at 62 % moisture: 13.8 kg wet, 5.244 kg dry, by plain arithmetic.
BLOCKS = batch("B-001", on=6, units=6, wet_g=2300.0, dry_g=874.0)
MONTH = When(written="2026-09", first=date(2026, 9, 1), exact="month")


def told(*rows: Entry, newest: date | None = None) -> list[tuple[str, str, str]]:
    """The path, key and message of each doubt."""
    journal = replace(journal_of(*rows), newest=newest)
    return [(one.entry.path, one.key, one.message) for one in doubts_of(journal, progress_of(journal))]


def messages(*rows: Entry, **more: Any) -> list[str]:
    return [message for _, _, message in told(*rows, **more)]


def test_a_harvest_of_90_kg_from_six_blocks_is_hardly_possible() -> None:
    """`harvest: 90 kg` for 900 g: BE 1716 % of 5.244 kg, and more than the blocks weighed wet."""
    picked = note("B-001", 30, harvest_g=90_000.0, flush=1)
    assert [
        (picked.path, "harvest", "90 kg in flush 1 is more than the 6 units weighed wet (13.8 kg)"),
        ("B-001.md", "dry mass", "the harvests of B-001 make a BE of 1716 %, and over 300 % is not usual"),
    ] == told(BLOCKS, picked)


@pytest.mark.parametrize(
    ("doubted", "notes"),
    [
        ([], [("B-001", 13_800.0, 1)]),
        (["B-001"], [("B-001", 13_900.0, 1)]),
        # Two flushes of 8 kg are no more than the crop can be; 16 kg in one flush are.
        ([], [("B-001", 7_800.0, 1), ("B-001", 7_800.0, 2)]),
        (["B-001"], [("B-001", 8_000.0, 1), ("B-001", 7_000.0, 1)]),
        ([], [("B-001.2", 2_300.0, 1)]),
        (["B-001.2"], [("B-001.2", 2_400.0, 1)]),
        ([], [("B-001.2, B-001.3", 4_000.0, 1)]),
        (["B-001.2"], [("B-001.2", 2_000.0, 1), ("B-001.2", 900.0, 1)]),
        ([], [("B-001.2", 2_000.0, 1), ("B-001.2", 900.0, 2)]),
        (["B-001"], [("B-001", 13_900.0, None)]),
        # 15.74 kg are 300.2 % of 5.244 kg, 15.73 kg are 299.96 %.
        (["B-001"], [("B-001", 7_900.0, 1), ("B-001", 7_840.0, 2)]),
        ([], [("B-001", 7_900.0, 1), ("B-001", 7_830.0, 2)]),
    ],
)
def test_a_flush_weighs_no_more_than_its_substrate_and_a_be_is_up_to_300(
    doubted: list[str], notes: list[tuple[str, float, int | None]]
) -> None:
    rows = [note(about, 20 + at, harvest_g=g, flush=flush) for at, (about, g, flush) in enumerate(notes)]
    journal = journal_of(BLOCKS, *rows)
    found = doubtful_harvests(doubts_of(journal, progress_of(journal)))
    assert doubted == [str(one.about[0]) for one in found.get("B-001", ())]


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        (["1.84 g in flush 1 is less than 0.1 % of what the 6 units weighed wet (13.8 kg)"], [("B-001", 1.84, 1)]),
        (["1.84 g in one harvest is less than 0.1 % of what the 6 units weighed wet (13.8 kg)"],
         [("B-001", 1.84, None)]),
        (["1.8 g in flush 1 is less than 0.1 % of what the unit weighed wet (2.3 kg)"], [("B-001.2", 1.8, 1)]),
        ([], [("B-001", 13.8, 1)]),
        ([], [("B-001.2", 2.4, 1)]),  # a single small mushroom of one block
        ([], [("B-001", 900.0, 1), ("B-001", 4.0, 1)]),  # the last of a flush
        ([], [("B-001", 900.0, 1), ("B-001.3", 2.0, 1)]),
        ([], [("B-001", 0.0, 1)]),
    ],
)  # fmt: skip
def test_a_flush_of_less_than_a_thousandth_of_the_substrate_is_doubted(
    expected: list[str], notes: list[tuple[str, float, int | None]]
) -> None:
    """*Common practice*: a flush is some 3 to 30 % of the wet mass; g for kg makes it a thousandth of that."""
    rows = [note(about, 20 + at, harvest_g=g, flush=flush) for at, (about, g, flush) in enumerate(notes)]
    assert expected == messages(BLOCKS, *rows)
    journal = journal_of(BLOCKS, *rows)
    assert bool(expected) == bool(doubtful_harvests(doubts_of(journal, progress_of(journal))))


@pytest.mark.parametrize(
    ("expected", "wet_kg", "more"),
    [
        ("2300 kg wet is more than a unit weighs; up to 10 kg is usual", 2300, {"container": "filter bag"}),
        ("13.8 kg wet is more than a unit weighs; up to 10 kg is usual", 13.8, {"container": "filter-patch bags"}),
        ("13.8 kg wet is more than a unit weighs; up to 10 kg is usual", 13.8, {}),
        ("2300 kg wet is more than a unit weighs; up to 500 kg is usual", 2300, {"container": "logs"}),
        (
            "13.8 kg wet is more than a unit weighs; up to 10 kg is usual",
            13.8,
            {"container": "bags", "substrate": "log"},
        ),
        (None, 10, {"container": "filter bag"}),
        (None, 0.02, {"container": "jar"}),
        (None, 25, {"container": "oak logs"}),
        (None, 25, {"substrate": "birch log"}),
        (None, 120, {"container": "bed"}),
        (None, 18, {"container": "buckets"}),
        (None, 20, {"container": "hanging straw columns"}),
    ],
)
def test_a_block_or_bag_of_more_than_ten_kilograms_is_doubted(
    expected: str | None, wet_kg: float, more: dict[str, str]
) -> None:
    """*Common practice*: bags for fruiting hold 1 to 5 kg; logs, beds, buckets and columns weigh more."""
    told = messages(batch("B-1", on=6, units=6, wet_g=wet_kg * 1000, lines={"wet mass": 9}, **more))
    assert told == ([expected] if expected else [])


def test_a_wet_mass_of_all_is_divided_first() -> None:
    assert [] == messages(batch("B-1", on=6, units=6, wet_g=13_800 / 6, container="bags", lines={"wet mass": 9}))


def test_a_batch_known_by_its_mix_alone_has_a_wet_mass_too() -> None:
    mixed = batch("B-1", on=6, units=2, mix=(MixPart("oak pellets", 1000.0), MixPart("water", 1600.0)))
    assert ["2.7 kg in flush 1 is more than the 2 units weighed wet (2.6 kg)"] == messages(
        mixed, note("B-1", 30, harvest_g=2700.0, flush=1)
    )


@pytest.mark.parametrize(
    ("expected", "day"),
    [
        (["2027-11-21 is in the future: no file of this journal is as new"], "2027-11-21"),
        (["2026-12-02 is in the future: no file of this journal is as new"], "2026-12-02"),
        ([], "2026-12-01"),  # where the day began earlier than where the file's time is told
        ([], "2026-11-30"),
    ],
)
def test_a_day_after_the_newest_file_is_in_the_future(expected: list[str], day: str) -> None:
    assert expected == messages(note("", day), newest=date(2026, 11, 30))
    assert [] == messages(note("", day)), "with no file to compare it with"


@pytest.mark.parametrize(
    ("expected", "one"),
    [
        (["this is dated 2026-09-25, 11 days before B-001 was inoculated (2026-10-06)"], note("B-001", -5, flush=1)),
        (["this is dated 2026-09, before B-001 was inoculated (2026-10-06)"], note("B-001", MONTH, lost=1)),
        (["this is dated 2026-09-16, 20 days before B-001 was inoculated (2026-10-06)"], note("B-001", -14)),
        ([], note("B-001", -5)),  # the grain was soaked
        ([], note("B-001", 6, lost=1)),
        ([], note("B-001", -5, stage="inoculated")),
        (["this is dated 2026-09-29, 3 days before C-1 was made (2026-10-02)"], note("C-1", -1, stage="clean")),
        (["this is dated 2026-09-29, 2 days before F-1 was found (2026-10-01)"], note("F-1", -1, stage="young")),
    ],
)
def test_nothing_happens_before_a_thing_began(expected: list[str], one: Note) -> None:
    assert expected == messages(BLOCKS, culture("C-1", "F-1", on=2, method="tissue"), find("F-1", on=1), one)


@pytest.mark.parametrize(
    ("expected", "notes"),
    [
        (["B-001.2 was lost on 2026-10-20, before this"], [("B-001.2", 20, {"lost": 1}), ("B-001.2", 22, "g")]),
        (["B-001.2 was lost on 2026-10-20, before this"], [("B-001.2", 20, {"lost": 1}), ("B-001.2", 22, {"lost": 1})]),
        (
            ["B-001.2 was lost on 2026-10-20, before this"],
            [("B-001.2, B-001.3", 20, {"lost": 2}), ("B-001.1, B-001.2", 22, "g")],
        ),
        ([], [("B-001.2", 20, {"lost": 1}), ("B-001.2", 20, "g")]),
        ([], [("B-001.2", 20, {"lost": 1}), ("B-001.3", 22, "g")]),
        ([], [("B-001.2", 20, {"lost": 1}), ("B-001", 22, "g")]),
        ([], [("B-001.2, B-001.3", 20, {"lost": 1}), ("B-001.2", 22, "g")]),  # nobody knows which
        (["B-001.2 was discarded on 2026-10-20, before this"],
         [("B-001.2", 20, {"stage": "discarded"}), ("B-001.2", 22, "g")]),
        (["B-001 was discarded on 2026-10-20, before this"],
         [("B-001", 20, {"stage": "discarded"}), ("B-001", 22, "g")]),
        (["B-001 was discarded on 2026-10-20, before this"],
         [("B-001", 20, {"stage": "discarded"}), ("B-001", 22, {"stage": "pinning"}), ("B-001", 23, "g")]),
        (["B-001 was lost on 2026-10-20, before this"], [("B-001", 20, {"lost": 6}), ("B-001", 22, "g")]),
        (["B-001 was lost on 2026-10-20, before this"],  # and grows, by the second note, for all later ones
         [("B-001", 20, {"lost": 6}), ("B-001", 22, {"stage": "pinning"}), ("B-001", 23, "g"), ("B-001", 25, "g")]),
        ([], [("B-001", 20, {"stage": "spent"}), ("B-001", 22, "g")]),  # a late flush
        ([], [("B-001", 20, {"stage": "discarded"}), ("B-001", 22, {"text": "What I would do otherwise."})]),
    ],
)  # fmt: skip
def test_nothing_is_harvested_of_what_was_lost_or_discarded(expected: list[str], notes: list[Any]) -> None:
    rows = [note(about, on, **({"harvest_g": 90.0, "flush": 1} if keys == "g" else keys)) for about, on, keys in notes]
    assert expected == messages(BLOCKS, *rows)


@pytest.mark.parametrize(
    ("expected", "rows"),
    [
        ([], [culture("C-1", "F-1", on=10, method="tissue")]),
        (
            ["C-1 is dated 2026-10-09, 1 day before F-1 was found (2026-10-10)"],
            [culture("C-1", "F-1", on=9, method="tissue")],
        ),
        (
            ["B-1 is dated 2026-10-25, after C-1 was lost or discarded (2026-10-20)"],
            [culture("C-1", "F-1", on=10), note("C-1", 20, stage="discarded"), batch("B-1", "C-1", on=25)],
        ),
        (
            ["B-1 is dated 2026-10-25, after C-1.2 was lost or discarded (2026-10-20)"],
            [culture("C-1", "F-1", on=10, vessels=3), note("C-1.2", 20, lost=1), batch("B-1", "C-1.2", on=25)],
        ),
        ([], [culture("C-1", "F-1", on=10), note("C-1", 20, stage="spent"), batch("B-1", "C-1", on=25)]),
        ([], [culture("C-1", "F-1", on=10), note("C-1", 20, stage="discarded"), batch("B-1", "C-1", on=20)]),
    ],
)
def test_a_thing_comes_from_what_there_was_on_its_day(expected: list[str], rows: list[Entry]) -> None:
    assert expected == messages(find("F-1", on=10), *rows)


@pytest.mark.parametrize(("falls_pct", "is_told"), [(5.0, False), (92.0, True), (95.0, True)])
def test_a_set_point_does_not_cross_its_differential(falls_pct: float, is_told: bool) -> None:
    set_ = TentEntry(
        path="t.md", date=when(1), title="t", by="k", about=("hut",), humidity_set_pct=92.0,
        humidity_differential_pct=falls_pct,
    )  # fmt: skip
    found = doubts_of(Journal(Settings(), tent_entries=(set_,)), {})
    assert is_told == bool(found)


def test_every_limit_names_its_source() -> None:
    for name in read_table("limits"):
        one = limit(name)
        assert one.source
        assert one.low is not None or one.high is not None
