"""Who says what a find is, and what of it reaches a culture and a harvest."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.identity import Identification
from journal.model import Journal, When
from tests.builders import batch, culture, find, journal_of, note


def named(found: Journal) -> Identification:
    """What the one find of a journal is taken to be now."""
    return Analysis(found).identifications[found.finds[0].id][-1]


def test_the_find_itself_says_what_it_is_where_no_note_does() -> None:
    one = find("F", certainty="likely")
    assert "likely" == named(journal_of(one, note("F", on=3, stage="prime"))).certainty


def test_the_latest_note_that_identifies_a_find_rules() -> None:
    one = find("F", species="Pholiota", certainty="unsure")
    later = note("F", on=9, species="Pholiota adiposa", certainty="confirmed", identified_by="the ferry baker, spores")
    said = named(journal_of(one, later, note("F", on=4, certainty="likely")))
    assert ("Pholiota adiposa", "confirmed", later.path) == (said.species, said.certainty, said.path)


def test_a_new_name_without_certainty_is_unsure() -> None:
    one = find("F", species="Pleurotus", certainty="confirmed", identified_by="the ferry baker")
    assert "unsure" == named(journal_of(one, note("F", on=4, species="Panellus"))).certainty


def test_a_note_about_who_named_it_keeps_the_certainty() -> None:
    one = find("F", species="Pleurotus", certainty="likely")
    said = named(journal_of(one, note("F", on=4, identified_by="the ferry baker")))
    assert ("likely", "the ferry baker") == (said.certainty, said.identified_by)


SURE, UNSURE = find("S", certainty="confirmed", identified_by="spores"), find("U", certainty="likely")


@pytest.mark.parametrize(
    ("expected", "rows"),
    [
        (True, [culture("X", "S", method="tissue")]),
        (False, [culture("X", "U", method="tissue")]),
        (False, [culture("X", "S, U", method="tissue")]),
        (True, [culture("A", "S", method="spores"), culture("B", "A"), batch("X", "B")]),
        (False, [culture("A", "S"), culture("B", "U"), batch("X", "A, B")]),
        (False, [culture("X", method="received", received_from="a friend")]),
        (False, [culture("X", "S", method="tissue", received_from="a friend")]),
        (False, [culture("X")]),
        (False, [batch("X")]),
        (False, [culture("X", "S", unknown_sources=1)]),
        (False, [culture("A", "S"), batch("X", "A", unknown_sources=1)]),
        (False, [culture("X", "S, Gone")]),
        (False, [culture("X", "S, B"), culture("B", "X")]),
        (True, [culture("A", "S"), batch("B", "A"), culture("X", "B.2", method="tissue")]),
    ],
)
def test_identity_counts_as_confirmed_only_where_every_find_above_is(expected: bool, rows: list[Any]) -> None:
    assert expected is Analysis(journal_of(SURE, UNSURE, *rows)).confirmed["X"]


PULMONARIUS = find("S", species="Pleurotus pulmonarius", certainty="confirmed", identified_by="spores")
FLAMMULINA = find("T", species="Flammulina velutipes", certainty="confirmed", identified_by="spores")


@pytest.mark.parametrize(
    ("expected", "rows"),
    [
        # What a row comes to have of its find: its own name, or its parent's.
        (True, [culture("X", "S", species="Phoenix oyster")]),
        (True, [culture("X", "S", species="Pleurotus")]),
        (True, [culture("X", "S", species="Pleurotus cf. pulmonarius")]),
        (False, [culture("X", "S", species="Pleurotus ostreatus")]),
        (False, [culture("X", "S", species="Flammulina sp.")]),
        (False, [culture("A", "S"), culture("X", "A", species="velvet foot")]),
        (False, [culture("A", "S", species="Flammulina velutipes"), batch("X", "A", species="Flammulina velutipes")]),
        (False, [culture("A", "S", species="Pleurotus pulmonarius"), batch("X", "A", species="Flammulina velutipes")]),
        # Below one with another name, also where the right name comes back.
        (False, [culture("A", "S", species="Flammulina"), culture("X", "A", species="Pleurotus pulmonarius")]),
        # Of two finds one has to be another species.
        (False, [culture("X", "S, T", species="Pleurotus pulmonarius")]),
        (False, [culture("A", "S"), culture("B", "T"), batch("X", "A, B", species="Flammulina velutipes")]),
    ],
)
def test_what_has_the_name_of_another_species_than_a_find_above_it_is_not_confirmed(
    expected: bool, rows: list[Any]
) -> None:
    assert expected is Analysis(journal_of(PULMONARIUS, FLAMMULINA, *rows)).confirmed["X"]


GENUS = find("G", species="Pleurotus sp.", certainty="confirmed", identified_by="spores")
GENUS_TOO = replace(GENUS, id="H", path="h.md")
PULMONARIUS_TOO = find("P", species="phoenix oyster", certainty="confirmed", identified_by="spores")


@pytest.mark.parametrize(
    ("expected", "rows"),
    [
        # A name that says more than the find's was confirmed by nobody.
        (True, [culture("X", "G", species="Pleurotus")]),
        (True, [culture("X", "G", species="oyster")]),
        (False, [culture("X", "G", species="Pleurotus pulmonarius")]),
        (False, [culture("A", "G", species="P. pulmonarius"), culture("X", "A", species="Pleurotus sp.")]),
        (False, [culture("A", "G", species="Pleurotus"), batch("X", "A", species="phoenix oyster")]),
        # Of several finds each name has to mean one species, and the same.
        (True, [culture("A", "S"), culture("B", "P"), batch("X", "A, B", species="Pleurotus pulmonarius")]),
        (True, [culture("A", "S"), culture("B", "P"), batch("X", "A, B", species="Pleurotus")]),
        (False, [culture("A", "G"), culture("B", "H"), batch("X", "A, B", species="Pleurotus sp.")]),
        (False, [culture("A", "G"), culture("B", "S"), batch("X", "A, B", species="Pleurotus sp.")]),
        (False, [culture("A", "S"), culture("B", "G"), batch("X", "A, B", species="Pleurotus pulmonarius")]),
        (False, [culture("A", "G"), culture("B", "H"), batch("C", "A, B"), culture("X", "C")]),
    ],
)
def test_no_name_becomes_surer_than_what_was_confirmed(expected: bool, rows: list[Any]) -> None:
    finds = (PULMONARIUS, PULMONARIUS_TOO, GENUS, GENUS_TOO)
    assert expected is Analysis(journal_of(*finds, *rows)).confirmed["X"]


def test_an_own_name_counts_as_what_its_author_says_that_it_means() -> None:
    rows = journal_of(PULMONARIUS, culture("X", "S", species="Willow button"), culture("Y", "S", species="shelf one"))
    names = (("willow button", "Flammulina velutipes"), ("Shelf one", "Pleurotus pulmonarius"))
    named = replace(rows, settings=replace(rows.settings, names=names))
    assert {"S": True, "X": False, "Y": True} == Analysis(named).confirmed
    assert {"S": True, "X": True, "Y": True} == Analysis(rows).confirmed  # nobody says what they mean


def test_a_find_identified_as_another_species_later_counts_as_it_is_identified_now() -> None:
    first = replace(PULMONARIUS, species="Pleurotus ostreatus")
    later = note("S", on=20, species="Pleurotus pulmonarius", certainty="confirmed", identified_by="microscopy")
    rows = [culture("X", "S", species="Pleurotus pulmonarius"), culture("Y", "S", species="Pleurotus ostreatus")]
    assert {"S": True, "X": True, "Y": False} == Analysis(journal_of(first, later, *rows)).confirmed


def test_a_later_note_confirms_what_was_taken_before() -> None:
    later = note("U", on=20, certainty="confirmed", identified_by="microscopy")
    assert {"U": True, "X": True} == Analysis(journal_of(UNSURE, culture("X", "U", method="tissue"), later)).confirmed


@pytest.mark.parametrize(
    ("expected", "rows"),
    [
        ({}, [culture("A", method="received"), culture("B", "A")]),
        ({"A": "A"}, [culture("A"), note("A", on=7, stage="doubtful"), culture("B", "A", on=6)]),
        ({"A": "A", "B": "A"}, [culture("A"), note("A", on=7, stage="doubtful"), culture("B", "A", on=7)]),
        (
            {"A": "A", "B": "A", "C": "A", "D": "A"},
            [
                culture("A"),
                note("A", on=7, stage="doubtful"),
                culture("B", "A", on=8),
                batch("C", "B"),
                culture("D", "C"),
            ],
        ),
        ({"B": "A.2"}, [culture("A"), note("A.2", on=7, stage="doubtful"), culture("B", "A.2", on=8)]),
        ({}, [culture("A"), note("A.2", on=7, stage="doubtful"), culture("B", "A.1", on=8)]),
        ({"B": "A.2"}, [culture("A"), note("A.2", on=7, stage="doubtful"), culture("B", "A", on=8)]),
        (
            {"A": "A", "B": "A", "C": "A"},
            [
                culture("A", on=1),
                note("A", on=2, stage="doubtful"),
                culture("B", "A", on=3),
                note("B", on=9, stage="doubtful"),
                culture("C", "B", on=4),
            ],
        ),
        (
            {"A": "A", "B": "A"},
            [culture("A"), note("A", on=7, stage="doubtful"), note("A", on=8, stage="clean"), culture("B", "A", on=9)],
        ),
    ],
)
def test_a_doubt_passes_to_what_was_taken_later(expected: dict[str, str], rows: list[Any]) -> None:
    assert expected == Analysis(journal_of(*rows)).doubtful


@pytest.mark.parametrize(
    ("is_in_doubt", "taken"),
    [
        (True, When(written="2026-10", first=date(2026, 10, 1), exact="month")),
        (True, When(written="2026", first=date(2026, 1, 1), exact="year")),
        (True, When(written="about 2026-10-05", first=date(2026, 10, 5), exact="about")),
        (False, When(written="2026-09", first=date(2026, 9, 1), exact="month")),
    ],
)
def test_a_doubt_passes_to_what_may_have_been_taken_later(is_in_doubt: bool, taken: When) -> None:
    found = Analysis(journal_of(culture("A", on=1), note("A", on=20, stage="doubtful"), culture("B", "A", taken)))
    assert is_in_doubt == ("B" in found.doubtful)
