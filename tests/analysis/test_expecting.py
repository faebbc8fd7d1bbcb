"""What is expected of a batch next, and what that rests on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.forecast import Expected, why_nothing
from tests.builders import batch_files, entry, noted

Make = Callable[..., Any]
Files = dict[str, str]


def start(id: str, species: str) -> Files:
    return {f"{id}.md": entry("culture", id=id, date="2026-01-01", species=species, received_from="a friend")}


def batch(id: str, culture: str, day: str, *notes: tuple[str, str]) -> Files:
    return batch_files(id, culture, day, *notes, keys="units: 4")


def finished(id: str, culture: str, colonised: str, end: str = "spent") -> Files:
    """A batch of 1 February, colonised on a day, and ended."""
    return batch(id, culture, "2026-02-01", (colonised, "stage: colonised"), ("2026-05-01", f"stage: {end}"))


PHOENIX = start("L", "Pleurotus pulmonarius")
NOW = batch("B", "L", "2026-10-01")


def of_b(make_journal: Make, *files: Files) -> Expected | None:
    return Analysis(make_journal({path: text for some in files for path, text in some.items()})).expected.get("B")


def told(one: Expected | None) -> tuple[object, ...] | None:
    if one is None:
        return None
    return one.what, one.from_day.isoformat(), one.to_day and one.to_day.isoformat(), one.basis, one.n


def test_the_line_s_own_finished_batches_come_first_with_median_range_and_n(make_journal: Make) -> None:
    past = [finished("P1", "L", "2026-02-11"), finished("P2", "L", "2026-02-13"), finished("P3", "L", "2026-02-21")]
    one = of_b(make_journal, PHOENIX, NOW, *past)
    assert ("colonised", "2026-10-11", "2026-10-21", "line", 3) == told(one)
    assert one is not None
    assert 12 == one.median_d
    words = "10 to 20 days after inoculation (median 12) in 3 finished batches of line L"
    assert f"{words}; one more is in such a range with a probability of 50 %" == one.words
    assert one.late_after is None


@pytest.mark.parametrize("stage", [(), (("2026-10-15", "stage: colonised"),)])
def test_where_nobody_noted_the_pins_the_harvest_is_expected(
    stage: tuple[tuple[str, str], ...], make_journal: Make
) -> None:
    """Of a species that no table has: harvested 30 and 34 days after inoculation, which says nothing of pins."""
    past = [
        batch(id, "L", "2026-02-01", (day, "harvest: 9 g\nflush: 1"), ("2026-05-01", "stage: spent"))
        for id, day in (("P", "2026-03-03"), ("Q", "2026-03-07"))
    ]
    one = of_b(make_journal, start("L", "Agrocybe rara"), *past, batch("B", "L", "2026-10-01", *stage))
    assert ("harvest", "2026-10-31", "2026-11-04", "line", 2) == told(one)


def test_one_batch_gives_a_day_to_look_from_and_no_range(make_journal: Make) -> None:
    one = of_b(make_journal, PHOENIX, NOW, finished("P1", "L", "2026-02-11"))
    assert ("colonised", "2026-10-11", None, "line", 1) == told(one)
    assert one is not None
    assert "once: 10 days after inoculation, in 1 finished batch of line L" == one.words


@pytest.mark.parametrize(("cases", "late_after"), [(4, None), (5, date(2026, 10, 16))])
def test_nothing_is_called_late_by_fewer_than_five_batches(
    cases: int, late_after: date | None, make_journal: Make
) -> None:
    past = [finished(f"P{n}", "L", f"2026-02-{16 - n}") for n in range(cases)]
    one = of_b(make_journal, PHOENIX, NOW, *past)
    assert one is not None
    assert (date(2026, 10, 16), late_after) == (one.to_day, one.late_after)


def test_its_own_flushes_count_before_every_other_batch_and_from_the_last_day_picked(make_journal: Make) -> None:
    flushes = [("2026-10-20", 1), ("2026-10-22", 1), ("2026-11-03", 2), ("2026-11-05", 2)]
    notes = [(day, f"harvest: 9 g\nflush: {flush}") for day, flush in flushes]
    one = of_b(make_journal, PHOENIX, batch("B", "L", "2026-10-01", *notes))
    assert ("next flush", "2026-11-17", None, "batch", 1) == told(one)
    assert one is not None
    assert "once: 12 days after flush 2, between this batch's flushes so far" == one.words


def test_a_batch_of_two_lines_tells_of_the_species_and_of_neither_line(make_journal: Make) -> None:
    lines = PHOENIX | start("K", "Pleurotus pulmonarius")
    past = finished("P1", "L", "2026-02-11") | finished("P2", "L, K", "2026-03-21")
    assert ("colonised", "2026-10-11", None, "line", 1) == told(of_b(make_journal, lines, NOW, past))
    two = batch("B", "K, L", "2026-10-01")
    assert ("colonised", "2026-10-11", "2026-11-18", "species", 2) == told(of_b(make_journal, lines, two, past))


def test_else_the_species_in_this_journal_else_the_published_range(make_journal: Make) -> None:
    other = start("M", "phoenix oyster (Pleurotus pulmonarius)") | finished("P1", "M", "2026-02-11")
    assert ("colonised", "2026-10-11", None, "species", 1) == told(of_b(make_journal, PHOENIX, NOW, other))
    one = of_b(make_journal, PHOENIX, NOW)
    assert ("colonised", "2026-10-09", "2026-10-15", "published", None) == told(one)
    assert one is not None
    assert "P. Stamets" in one.words


@pytest.mark.parametrize(
    ("keys", "notes", "words"),
    [
        ("", [], "at 24 to 29 °C"),  # the tent's range is for fruiting
        ("wants temperature: 9-12 °C", [], "at 24 to 29 °C"),
        ("wants temperature while colonising: 22-26 °C", [], "at 24 to 29 °C"),
        (
            "wants temperature while colonising: 16-20 °C",
            [],
            "at 24 to 29 °C; 16 to 20 °C are wanted while it colonises, which is outside",
        ),
        ("", [("2026-10-14", "stage: pinning")], "; 4 to 6 °C are wanted where it is, which is outside"),
        ("wants temperature: 20-24 °C", [("2026-10-14", "stage: pinning")], "p. 325, at 18 to 27 °C"),
    ],
)
def test_a_published_range_has_its_temperatures_and_says_where_those_wanted_now_lie_outside(
    keys: str, notes: list[tuple[str, str]], words: str, make_journal: Make
) -> None:
    hut = {"journal.toml": '[tents.hut]\nname = "Hut"\ntemperature = "4-6 °C"\n'}
    one = of_b(
        make_journal, hut, PHOENIX, batch_files("B", "L", "2026-10-01", *notes, keys=f"units: 4\ntent: hut\n{keys}")
    )
    assert one is not None
    assert one.words.endswith(words)


@pytest.mark.parametrize("species", ["Pleurotus ostreatus", "Pleurotus sp.", "oyster"])
def test_a_sister_species_is_never_borrowed(species: str, make_journal: Make) -> None:
    sister = start("M", species) | finished("P1", "M", "2026-02-11")
    assert "published" == getattr(of_b(make_journal, PHOENIX, NOW, sister), "basis", None)


@pytest.mark.parametrize(
    ("basis", "species"),
    [("practice", "Pholiota adiposa"), (None, "Pholiota squarrosa"), (None, "a scalycap, perhaps")],
)
def test_common_practice_comes_last_and_then_nothing(basis: str | None, species: str, make_journal: Make) -> None:
    one = of_b(make_journal, start("L", species), NOW)
    assert basis == getattr(one, "basis", None)
    assert one is None or "common practice" in one.words


@pytest.mark.parametrize("end", ["contaminated", "stored"])
def test_a_batch_that_is_not_finished_is_not_evidence(end: str, make_journal: Make) -> None:
    assert "published" == getattr(
        of_b(make_journal, PHOENIX, NOW, finished("P1", "L", "2026-02-11", end)), "basis", None
    )


def test_a_batch_under_a_doubt_is_not_evidence(make_journal: Make) -> None:
    doubt = {"d.md": noted("2026-01-05", "stage: doubtful", "M")}
    taken = start("M", "Pleurotus pulmonarius") | doubt | finished("P1", "M", "2026-02-11")
    assert "published" == getattr(of_b(make_journal, PHOENIX, NOW, taken), "basis", None)


@pytest.mark.parametrize(
    ("awaited", "notes"),
    [
        (("colonised", "2026-10-09", "2026-10-15"), []),
        (None, [("2026-10-14", "stage: colonised")]),  # no move to count from
        (("pins", "2026-10-18", "2026-10-20"), [("2026-10-14", "stage: colonised"), ("2026-10-15", "moved to: hut")]),
        (("harvest", "2026-10-21", "2026-10-23"), [("2026-10-18", "stage: pinning")]),
        (("next flush", "2026-10-29", "2026-11-01"),
         [("2026-10-18", "stage: pinning"), ("2026-10-22", "harvest: 9 g\nflush: 1\nstage: resting")]),
        (("next flush", "2026-10-31", "2026-11-03"),
         [("2026-10-22", "harvest: 9 g\nflush: 1"), ("2026-10-24", "harvest: 9 g\nflush: 1")]),
        (("harvest", "2026-11-01", "2026-11-03"),
         [("2026-10-22", "harvest: 9 g\nflush: 1"), ("2026-10-29", "stage: pinning")]),
        (None, [("2026-10-22", "harvest: 9 g\nflush: 3")]),  # the published three are over
        (None, [("2026-10-22", "harvest: 9 g")]),
        (None, [("2026-10-14", "stage: spent")]),
        (None, [("2026-10-14", "stage: contaminated")]),
        (None, [("2026-10-14", "stage: stored")]),
        (None, [("2026-10-14", "lost: 4")]),
    ],
)  # fmt: skip
def test_what_was_seen_last_shows_what_is_awaited(
    awaited: tuple[str, ...] | None, notes: list[tuple[str, str]], make_journal: Make
) -> None:
    hut = {"journal.toml": '[tents.hut]\nname = "Hut"\n'}
    one = told(of_b(make_journal, hut, PHOENIX, batch("B", "L", "2026-10-01", *notes)))
    assert awaited == (one and one[:3])


@pytest.mark.parametrize(("stage", "awaited"), [("colonised", "colonised"), ("pinning", "harvest")])
def test_only_the_first_pins_of_a_part_move_on_what_is_awaited(stage: str, awaited: str, make_journal: Make) -> None:
    """*Common practice*: the blocks of a batch that pin first are the first to be harvested."""
    part = {"p.md": noted("2026-10-10", f"stage: {stage}", "B.2")}
    assert awaited == getattr(of_b(make_journal, PHOENIX, NOW, part), "what", None)


def test_no_further_flush_is_awaited_than_the_line_ever_gave(make_journal: Make) -> None:
    past = batch("P", "L", "2026-02-01", ("2026-03-01", "harvest: 9 g\nflush: 1"), ("2026-04-01", "stage: spent"))
    now = batch("B", "L", "2026-10-01", ("2026-11-01", "harvest: 9 g\nflush: 1"))
    assert of_b(make_journal, PHOENIX, past, now) is None


@pytest.mark.parametrize("day", ["2026-10", "about 2026-10-01"])
def test_nothing_is_counted_from_a_day_that_is_not_known(day: str, make_journal: Make) -> None:
    assert of_b(make_journal, PHOENIX, batch("B", "L", day)) is None


def test_the_days_of_a_window_are_days_of_the_calendar(make_journal: Make) -> None:
    one = of_b(make_journal, PHOENIX, batch("B", "L", "2028-02-20"))
    assert (date(2028, 2, 28), date(2028, 3, 5)) == (getattr(one, "from_day", None), getattr(one, "to_day", None))


@pytest.mark.parametrize(
    ("why", "species", "notes"),
    [
        (None, "Pleurotus pulmonarius", []),
        (None, "Pholiota squarrosa", [("2026-10-14", "stage: spent")]),
        ("while it is stored", "Pleurotus pulmonarius", [("2026-10-14", "stage: stored")]),
        ("no day is known from which to count", "Pleurotus pulmonarius", [("2026-10-22", "harvest: 9 g")]),
        ("how long after inoculation a batch is colonised", "Pholiota squarrosa", []),
        ("after flush 3: this species usually gives 3, published: P. Stamets", "Pleurotus pulmonarius",
         [("2026-10-22", "harvest: 9 g\nflush: 3")]),
    ],
)  # fmt: skip
def test_where_nothing_is_expected_it_is_said_why(
    why: str | None, species: str, notes: list[tuple[str, str]], make_journal: Make
) -> None:
    journal = make_journal(start("L", species) | batch("B", "L", "2026-10-01", *notes))
    found = Analysis(journal)
    said = why_nothing(journal.batches[0], found.progress["B"], found.evidence, found.lineage)
    assert (why is None) == (said is None)
    assert (why or "") in (said or "")


def test_the_last_flush_the_line_ever_gave_is_said_to_be_so(make_journal: Make) -> None:
    past = batch("P", "L", "2026-02-01", ("2026-03-01", "harvest: 9 g\nflush: 1"), ("2026-04-01", "stage: spent"))
    now = batch("B", "L", "2026-10-01", ("2026-11-01", "harvest: 9 g\nflush: 1"))
    journal = make_journal(PHOENIX | past | now)
    found = Analysis(journal)
    (row,) = [one for one in journal.batches if one.id == "B"]
    said = why_nothing(row, found.progress["B"], found.evidence, found.lineage)
    assert "No flush is expected after flush 1: no finished batch of line L gave more." == said


def test_of_what_is_told_from_a_later_day_on_nothing_is_expected_from_its_beginning(make_journal: Make) -> None:
    """What is waited for may have come before that day."""
    journal = make_journal(PHOENIX | batch("B", "L", "2026-10-01"))
    row = journal.batches[0]
    late = replace(journal, batches=(replace(row, shared_from=date(2026, 11, 1)),))
    found = Analysis(late)
    assert "B" in Analysis(journal).expected
    assert "B" not in found.expected
    said = why_nothing(late.batches[0], found.progress["B"], found.evidence, found.lineage)
    assert "Nothing is expected: what came before is not shared." == said
