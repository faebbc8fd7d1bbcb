"""The days of the sample journal, as its story tells them."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.milestones import milestones
from journal.analysis.progress import progress_of
from journal.export.document import document
from journal.model import Journal
from journal.reading.entries import read_entry
from journal.reading.linking import assemble
from journal.reading.settings_file import read_settings

SAMPLE = Path(__file__).parent.parent / "sample_entries"


@pytest.fixture(scope="module")
def journal() -> Journal:
    settings, _ = read_settings((SAMPLE / "journal.toml").read_bytes())
    files = sorted(SAMPLE.rglob("*.md"))
    read = (read_entry(file.relative_to(SAMPLE).as_posix(), file.read_bytes(), settings) for file in files)
    return assemble(settings, [draft for draft in read if draft is not None])


def test_the_phoenix_batch_is_in_its_fiftieth_day_when_the_sample_is_shown(journal: Journal) -> None:
    day0 = progress_of(journal)["B-031"].day0
    assert journal.settings.as_of is not None
    assert day0 is not None
    assert 50 == (journal.settings.as_of - day0).days


@pytest.mark.parametrize(
    ("id", "colonised", "pinning", "after_move", "harvest", "between"),
    [
        ("B-026", 28, 42, 12, 52, {1: 23}),
        ("B-027", 42, 59, None, 83, {}),  # moved because of the folds
        ("B-028", 26, 45, 10, 52, {1: 16, 2: 17}),
        ("B-031", 15, 21, 5, 26, {1: 12}),
        ("B-032", None, None, None, None, {}),
        ("B-033", 27, None, None, None, {}),
    ],
)
def test_a_run_took_the_days_its_story_tells(
    id: str,
    colonised: int | None,
    pinning: int | None,
    after_move: int | None,
    harvest: int | None,
    between: dict[int, int],
    journal: Journal,
) -> None:
    one = milestones(progress_of(journal)[id])
    assert (colonised, pinning, after_move, harvest, between) == (
        one.colonised_d, one.pinning_d, one.pinning_after_move_d, one.harvest_d, one.between_flushes_d,
    )  # fmt: skip


def test_what_each_growing_batch_waits_for_and_what_that_rests_on(journal: Journal) -> None:
    assert {
        "B-031": ("harvest", date(2026, 11, 25), None, "batch", 1),
        "B-032": ("colonised", date(2026, 12, 15), date(2027, 1, 1), "practice", None),
        "B-033": ("pins", date(2026, 12, 4), None, "line", 1),
    } == {id: (one.what, one.from_day, one.to_day, one.basis, one.n) for id, one in Analysis(journal).expected.items()}


def test_the_slant_s_renewal_is_the_author_s_own_and_the_liquid_culture_s_is_calculated(journal: Journal) -> None:
    rows = [row for row in Analysis(journal).due if row.what.startswith("renew")]
    assert [(("VF-25A-3",), "next", date(2026, 12, 12)), (("PP-26A-4",), "renewal", date(2027, 4, 1))] == [
        (row.about, row.basis, row.day) for row in rows
    ]


def test_velvet_foot_was_found_in_one_week_of_two_years(journal: Journal) -> None:
    weeks = {season.species: dict(season.weeks) for season in Analysis(journal).seasons}
    assert {47: (2025, 2026)} == weeks["Flammulina velutipes"]
    assert {41: (2025, 2026)} == weeks["Grifola frondosa"]


def test_the_document_tells_days_taken_expected_and_due_with_no_today(journal: Journal) -> None:
    told = json.loads(json.dumps(document(journal), allow_nan=False))
    batches = {row["id"]: row for row in told["batches"]}
    assert {"colonised": 15, "pinning": 21, "harvest": 26} == batches["B-031"]["days_to"]
    assert "pinning" == batches["B-031"]["stage"]
    wanted = {"what": "harvest", "from": "2026-11-25", "to": None, "late_after": None, "basis": "batch"}
    assert wanted.items() <= batches["B-031"]["expected"].items()
    assert batches["B-026"]["expected"] is None
    assert {"next", "service", "renewal", "batch", "line", "practice"} == {row["basis"] for row in told["due"]}
    days = [row["from"] for row in told["due"] if row["from"]]
    assert sorted(days) == days
    assert [] == [row for row in told["due"] if not {"about", "what", "from", "basis"} <= row.keys()]
