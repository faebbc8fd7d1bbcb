"""Species come down the line."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.model import Journal
from tests.reading.written import files, front, told

Make = Callable[..., Journal]


def test_species_come_down_the_line(make_journal: Make) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1", species="*Pleurotus*"),
            a=front("culture", id="z1", from_="F1"),
            b=front("batch", id="B1", culture="z1"),
            c=front("culture", id="a1", from_="B1"),
            d=front("culture", id="d1", from_="a1", species="Pleurotus pulmonarius"),
            e=front("culture", id="e1", from_="d1"),
        )
    )
    assert {
        "z1": "*Pleurotus*", "a1": "*Pleurotus*", "d1": "Pleurotus pulmonarius", "e1": "Pleurotus pulmonarius"
    } == {row.id: row.species for row in journal.cultures}  # fmt: skip
    assert "*Pleurotus*" == journal.batches[0].species


def test_a_find_identified_later_passes_on_its_new_name(make_journal: Make) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1", species="Pholiota"),
            n=front("note", about="F1", species="Pholiota adiposa", certainty="likely", date="2026-10-01"),
            c=front("culture", id="C1", from_="F1"),
        )
    )
    assert ("Pholiota", "Pholiota adiposa") == (journal.finds[0].species, journal.cultures[0].species)


@pytest.mark.parametrize(
    ("warning", "second"), [(False, "Pleurotus  PULMONARIUS"), (False, "*Pleurotus pulmonarius*"), (True, "Pholiota")]
)
def test_parents_of_two_species_are_odd_and_the_first_is_taken(make_journal: Make, warning: bool, second: str) -> None:
    journal = make_journal(
        files(
            a=front("find", id="F1", species="Pleurotus pulmonarius"),
            b=front("find", id="F2", species=second),
            c=front("culture", id="C1", from_="F1, F2"),
        )
    )
    assert ("Pleurotus pulmonarius", warning) == (journal.cultures[0].species, bool(told(journal)))
