"""Core logs: named by entries, read with the columns that the file itself shows."""

from __future__ import annotations

from pathlib import Path

import pytest

from journal.cache.file_cache import FileCache
from journal.cache.store import Cache
from journal.file_reading import read_logs
from journal.problems import Problem
from journal.reading.core_logs import NamedLog, core_logs_named, read_core_log
from journal.settings import Settings
from tests.builders import draft

BATCH = "kind: batch\nid: B-1\ndate: 2026-10-05\n"
CSVS = ("batches/B-1/core.csv", "loads/2026-10-04.csv")


@pytest.mark.parametrize(
    ("written", "path", "column"),
    [
        ("core.csv", "batches/B-1/core.csv", None),
        ("core.csv: Probe 2", "batches/B-1/core.csv", "Probe 2"),
        ("../../loads/2026-10-04.csv", "loads/2026-10-04.csv", None),
    ],
)
def test_an_entry_names_a_file_by_its_way_from_there(written: str, path: str, column: str | None) -> None:
    entry = draft("batches/B-1/batch.md", f"{BATCH}core log: {written}")
    assert ((NamedLog(entry.path, path, column),), ()) == core_logs_named([entry], CSVS)


@pytest.mark.parametrize(
    ("written", "says", "fix"),
    [
        ("cor.csv", 'no file "cor.csv" next to', "write core.csv"),
        ("elsewhere.csv", "no file", "put the file next to"),
    ],
)
def test_a_file_that_is_not_there_is_an_error_with_a_fix(written: str, says: str, fix: str) -> None:
    named, (problem,) = core_logs_named([draft("batches/B-1/batch.md", f"{BATCH}core log: {written}")], CSVS)
    assert ((), "error", 5) == (named, problem.severity, problem.line)
    assert says in problem.message
    assert fix in problem.fix


def test_what_is_not_a_csv_file_is_not_read() -> None:
    (problem,) = draft("b.md", f"{BATCH}core log: core.xlsx").problems
    assert "is not a CSV file" in problem.message


def test_an_entry_whose_file_cannot_be_read_has_a_core_log_without_readings(tmp_path: Path) -> None:
    problems: list[Problem] = []
    cache = FileCache(Cache(tmp_path), tmp_path, 0)
    logs = read_logs(cache, [], Settings(), [draft("batches/B-1/batch.md", f"{BATCH}core log: cor.csv")], problems)
    assert [("batches/B-1/batch.md", "cor.csv", ())] == [
        (one.entry, one.log.path, one.log.stamps_s) for one in logs.core
    ]
    assert ["error"] == [problem.severity for problem in problems]


@pytest.mark.parametrize(
    ("text", "column", "read_c"),
    [
        ("Time,Core (°C)\n2026-10-05 12:00,20.5\n2026-10-05 12:02,121.1\n", None, (20.5, 121.1)),
        ("Time;Core (°F)\n2026-10-05 12:00;250\n", None, (121.1,)),
        ("Time,Chamber (°C),Core (°C)\n25/10/2026 12:00,121,98\n", "Core (°C)", (98.0,)),
        ("Time,Core\n2026-10-05 12:00,98\n", None, (98.0,)),
    ],
)
def test_a_file_is_read_as_it_shows_itself(text: str, column: str | None, read_c: tuple[float, ...]) -> None:
    log, _ = read_core_log("core.csv", text.encode(), column, "Europe/London")
    assert read_c == pytest.approx(log.temperature_c, abs=0.02)


@pytest.mark.parametrize(
    ("text", "column", "says", "fix"),
    [
        ("Time,A (°C),B (°C)\n2026-10-05 12:00,1,2\n", None, "2 columns that may be", "core log: core.csv: A (°C)"),
        ("Time,A (°C)\n05/10/2026 12:00,1\n", None, "it is open whether", "write them like 2026-10-05 14:05"),
        ("Time,A (°C)\n2026-10-05 12:00,1\n", "Core", 'no column "Core"', "correct"),
        ("Time,Word\n2026-10-05 12:00,hot\n", None, "no column of numbers", "export"),
        ("Time,A (°C)\n12:00,1\n12:01,2\n", None, "column Time have no date (12:00)", "in one column, like 2026-10-05"),
        ("Time,A (°C)\n12.00,1\n12.01,2\n", None, "column Time have no date (12.00)", "in one column, like 2026-10-05"),
        ("Date,A (°C)\n05.10.26,1\n", None, "no column of this file has dates with a time", "like 2026-10-05 14:05"),
        ("Date,Time,A (°C)\n05.10.26,12:00,1\n", None, "in two columns, Date and Time", "both in one column"),
        ("nothing", None, "no table", "CSV"),
    ],
)
def test_a_file_that_leaves_something_open_says_what_and_how_to_fix_it(
    text: str, column: str | None, says: str, fix: str
) -> None:
    log, problems = read_core_log("core.csv", text.encode(), column, "UTC")
    assert () == log.temperature_c
    assert any(says in one.message and fix in one.fix and one.severity == "error" for one in problems), problems
