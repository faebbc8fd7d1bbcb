"""The days a batch took, beside those of the others of its line or species."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.forecast import OtherBatches, days_taken
from tests.builders import batch_files, entry

Files = dict[str, str]
BEGUN = "2026-01-01"
Taken = dict[str, tuple[int | None, OtherBatches | None]]


def start(id: str) -> Files:
    keys = "date: 2025-12-01\nspecies: Pleurotus eryngii\nreceived from: a friend"
    return {f"{id}.md": entry("culture", keys, id=id)}


def ended(id: str, culture: str, colonised: str) -> Files:
    return batch_files(id, culture, BEGUN, (colonised, "stage: colonised"), ("2026-04-01", "stage: spent"))


@pytest.fixture
def taken_by(make_journal: Callable[..., Any]) -> Callable[..., Taken]:
    """Gives by name what batch B took, from these files."""

    def take(*files: Files) -> Taken:
        journal = make_journal({path: text for some in files for path, text in some.items()})
        found = Analysis(journal)
        (row,) = [one for one in journal.batches if one.id == "B"]
        rows = days_taken(row, found.progress["B"], found.evidence, found.lineage)
        return {one.what: (one.days, one.others) for one in rows}

    return take


def test_every_span_is_given_in_whole_days(taken_by: Callable[..., Taken]) -> None:
    own = batch_files(
        "B", "L", BEGUN,
        ("2026-01-15", "stage: colonised"), ("2026-01-20", "moved to: hut"), ("2026-01-25", "stage: pinning"),
        ("2026-01-31", "harvest: 9 g\nflush: 1"), ("2026-02-14", "harvest: 9 g\nflush: 2"),
    )  # fmt: skip
    hut = {"journal.toml": '[tents.hut]\nname = "Hut"\n'}
    assert {
        "inoculated to colonised": (14, None),
        "inoculated to first pins": (24, None),
        "moved into the tent to first pins": (5, None),
        "first pins to first harvest": (6, None),
        "inoculated to first harvest": (30, None),
        "end of flush 1 to flush 2": (14, None),
    } == taken_by(hut, start("L"), own)


def test_others_of_the_line_come_first_with_median_range_and_n(taken_by: Callable[..., Taken]) -> None:
    past = [ended("P1", "L", "2026-01-11"), ended("P2", "L", "2026-01-13"), ended("P3", "L", "2026-01-21")]
    sister = start("M") | ended("P4", "M", "2026-03-01")
    told = taken_by(start("L"), batch_files("B", "L", BEGUN, ("2026-01-15", "stage: colonised")), sister, *past)
    others = OtherBatches((("P1", 10), ("P2", 12), ("P3", 20)), "line L")
    assert {"inoculated to colonised": (14, others)} == told
    assert (3, 12, 10, 20) == (others.n, others.median_d, others.low_d, others.high_d)


def test_where_the_line_has_none_the_species_is_taken_and_said(taken_by: Callable[..., Taken]) -> None:
    told = taken_by(start("L"), batch_files("B", "L", BEGUN), start("M"), ended("P", "M", "2026-01-11"))
    others = OtherBatches((("P", 10),), "Pleurotus eryngii in this journal")
    assert {"inoculated to colonised": (None, others)} == told


def test_a_finished_batch_is_not_compared_with_itself(taken_by: Callable[..., Taken]) -> None:
    assert {"inoculated to colonised": (10, None)} == taken_by(start("L"), ended("B", "L", "2026-01-11"))


def test_a_batch_that_still_grows_is_nothing_to_go_by(taken_by: Callable[..., Taken]) -> None:
    growing = batch_files("P", "L", BEGUN, ("2026-01-11", "stage: colonised"))
    assert {} == taken_by(start("L"), batch_files("B", "L", BEGUN), growing)
