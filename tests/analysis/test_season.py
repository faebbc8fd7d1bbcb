"""In which weeks of the year a species was found."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.calendar import Season
from tests.builders import entry, noted

Make = Callable[..., Any]


def find(id: str, day: str, species: str = "Flammulina velutipes") -> str:
    return entry("find", id=id, date=day, species=species)


def weeks(journal: Any) -> dict[str, dict[int, tuple[int, ...]]]:
    return {season.species: dict(season.weeks) for season in Analysis(journal).seasons}


@pytest.mark.parametrize(
    ("expected", "day"),
    # ISO 8601: 29 December 2014 is the first day of 2015's week 1; 1 January 2016 is in week 53 of 2015.
    [({1: (2015,)}, "2014-12-29"), ({53: (2015,)}, "2016-01-01"), ({47: (2025,)}, "2025-11-22 14:05")],
)
def test_weeks_and_their_years_are_counted_as_iso_8601_does(
    expected: dict[int, tuple[int, ...]], day: str, make_journal: Make
) -> None:
    assert {"Flammulina velutipes": expected} == weeks(make_journal({"f.md": find("F1", day)}))


@pytest.mark.parametrize("day", ["2025-11", "2025", "about 2025-11-22"])
def test_a_day_that_is_not_exact_counts_in_no_week(day: str, make_journal: Make) -> None:
    assert {} == weeks(make_journal({"f.md": find("F1", day)}))


@pytest.mark.parametrize(
    ("expected", "stage"),
    [(2, "young"), (2, "prime"), (1, "past"), (1, "nothing there")],
)
def test_a_visit_counts_where_it_found_it_young_or_in_its_prime(expected: int, stage: str, make_journal: Make) -> None:
    files = {"f.md": find("F1", "2025-11-22"), "v.md": noted("2026-10-10", f"stage: {stage}", "F1")}
    assert expected == len(weeks(make_journal(files))["Flammulina velutipes"])


def test_one_week_of_several_years_names_each_year_once(make_journal: Make) -> None:
    files = {f"{n}.md": find(f"F{n}", day) for n, day in enumerate(("2024-11-19", "2025-11-18", "2025-11-20"))}
    assert {"Flammulina velutipes": {47: (2024, 2025)}} == weeks(make_journal(files))


def test_an_own_name_is_in_the_season_of_what_it_means(make_journal: Make) -> None:
    files = {
        "journal.toml": '[names]\n"shelf oyster" = "Pleurotus pulmonarius"\n',
        "a.md": find("F1", "2024-11-19", "Shelf oyster"),
        "b.md": find("F2", "2025-11-18", "Pleurotus pulmonarius"),
    }
    assert {"Pleurotus pulmonarius": {47: (2024, 2025)}} == weeks(make_journal(files))


def test_names_of_one_species_are_one_and_a_later_identification_rules(make_journal: Make) -> None:
    files = {
        "a.md": find("F1", "2025-11-22", "velvet foot"),
        "b.md": find("F2", "2025-11-29", "a small brown one"),
        "c.md": find("F3", "2025-12-06", ""),
        "d.md": noted("2025-12-01", "species: Flammulina velutipes\ncertainty: likely", "F2"),
    }
    days = (date(2025, 11, 22), date(2025, 11, 29))
    assert (Season("Flammulina velutipes", days),) == Analysis(make_journal(files)).seasons


def test_a_name_that_means_no_one_species_is_shown_as_written(make_journal: Make) -> None:
    assert {"a small brown one": {47: (2025,)}} == weeks(
        make_journal({"f.md": find("F1", "2025-11-22", "a small brown one")})
    )
