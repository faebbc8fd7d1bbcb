from __future__ import annotations

from datetime import date

import pytest

from journal.writing.new_entry import Numbered, next_id, next_like

TODAY = date(2026, 11, 25)


def rows(kind: str, *ids: str, year: int = 2026) -> list[Numbered]:
    return [Numbered(kind, name, year) for name in ids]


@pytest.mark.parametrize(
    ("expected", "kind", "there"),
    [
        ("F26-001", "find", []),
        ("C-26A", "culture", []),
        ("B-001", "batch", []),
        ("D-01", "device", []),
        ("B-032", "batch", rows("batch", "B-030", "B-031")),
        ("B-034", "batch", rows("batch", "B-033", "B-031")),
        ("B-10", "batch", rows("batch", "B-9")),
        ("B-100", "batch", rows("batch", "B-99")),
        ("PP-26B", "culture", rows("culture", "PP-26A")),
        ("PP-26AA", "culture", rows("culture", "PP-26Z")),
        ("pp-26b", "culture", rows("culture", "pp-26a")),
        ("lamp-3", "device", rows("device", "fan-1", "lamp-2")),
        ("F26-001", "find", rows("find", "F25-009", year=2025)),
        ("F26-011", "find", [*rows("find", "F26-010"), *rows("find", "F25-009", year=2025)]),
        ("L2026-1", "find", rows("find", "L2025-7", year=2025)),
        ("VF-26A", "culture", rows("culture", "VF-25B", year=2025)),
        ("B-001", "batch", rows("batch", "Oyster")),
        ("F26-016", "find", rows("find", "F26-014", "F26-015-K7Q4")),
        ("F26-017", "find", rows("find", "F26-016-K7Q4", "F26-015")),
        ("F26-001", "find", rows("find", "F25-015-K7Q4", year=2025)),
        ("PP-26A-8", "culture", rows("culture", "PP-26A", "PP-26A-7-K7Q4")),
        ("B-K7Q5", "batch", rows("batch", "B-K7Q4")),
        ("B-015-L7Q5", "batch", rows("batch", "B-015-L7Q4")),
    ],
)
def test_an_id_goes_on_as_the_author_numbers(expected: str, kind: str, there: list[Numbered]) -> None:
    assert expected == next_id(kind, there, [], TODAY)


@pytest.mark.parametrize("taken", ["B-032", "b-032"])
def test_an_id_of_another_kind_is_not_used_again(taken: str) -> None:
    there = [*rows("batch", "B-031"), *rows("device", taken)]
    assert next_id("batch", there, [], TODAY) == "B-033"


def test_an_id_of_a_tent_is_not_used_again() -> None:
    assert next_id("device", [], ["D-01"], TODAY) == "D-02"


def test_names_that_windows_keeps_are_passed_over() -> None:
    assert next_id("device", rows("device", "COM0"), [], TODAY) == "COM10"


def test_an_id_grown_too_long_begins_the_usual_series() -> None:
    assert next_id("batch", rows("batch", "B" + "-" * 29 + "99"), [], TODAY) == "B-001"


def test_a_finds_first_culture_is_named_after_its_species() -> None:
    find = Numbered("find", "F26-001", 2026, species="Pleurotus pulmonarius")
    assert next_id("culture", [find, *rows("culture", "GF-26C")], [], TODAY, about="f26-001") == "PP-26A"


def test_a_find_with_no_latin_name_goes_on_with_the_last_series() -> None:
    find = Numbered("find", "F26-001", 2026, species="oyster #3")
    assert next_id("culture", [find, *rows("culture", "GF-26C")], [], TODAY, about="F26-001") == "GF-26D"


def test_a_clone_of_a_fruit_is_named_after_the_species_that_its_batch_has_by_its_culture() -> None:
    there = [
        Numbered("culture", "C-26-01", 2026, species="Pleurotus pulmonarius"),
        Numbered("batch", "B-031", 2026, sources=("C-26-01",)),
    ]
    assert next_id("culture", there, [], TODAY, about="B-031") == "PP-26A"


def test_a_culture_from_a_culture_stays_in_its_line() -> None:
    there = [Numbered("culture", "PP-26A", 2026), Numbered("culture", "PP-26S", 2026), *rows("culture", "GF-26C")]
    assert next_id("culture", there, [], TODAY, about="pp-26a") == "PP-26A-1"


def test_a_second_culture_of_a_find_stays_in_its_series() -> None:
    there = [
        Numbered("find", "F26-001", 2026, species="Pleurotus pulmonarius"),
        Numbered("culture", "oyster-1", 2026, sources=("F26-001",)),
        *rows("culture", "GF-26C"),
    ]
    assert next_id("culture", there, [], TODAY, about="F26-001") == "oyster-2"


@pytest.mark.parametrize(
    ("expected", "name", "taken"),
    [
        ("F26-016-K7Q4", "F26-015-K7Q4", ["F26-015-K7Q4"]),
        ("F26-018-K7Q4", "F26-015-K7Q4", ["f26-015-k7q4", "F26-016-K7Q4", "F26-017"]),
        ("PP-26A-8-K7Q4", "PP-26A-7-K7Q4", ["PP-26A-7-K7Q4"]),
        ("B-033", "B-032", ["B-032"]),
        ("Oyster-2", "Oyster", ["Oyster"]),
        ("Oyster-3", "Oyster", ["Oyster", "oyster-2"]),
    ],
)
def test_an_id_that_is_taken_is_followed_by_the_next_of_the_same_device(
    expected: str, name: str, taken: list[str]
) -> None:
    assert expected == next_like(name, taken)
