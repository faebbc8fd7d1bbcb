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
    ("warning", "second"),
    [
        (False, "Pleurotus  PULMONARIUS"),
        (False, "*Pleurotus pulmonarius*"),
        (False, "phoenix oyster"),
        (False, "phoenix oyster mushroom"),
        (False, "Pleurotus sp."),
        (False, "Pleurotus cf. pulmonarius"),
        (False, "P. pulmonarius"),
        (True, "P. ostreatus"),
        (True, "Pholiota"),
    ],
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


def test_a_batch_of_two_species_is_told_once_and_not_called_wrong(make_journal: Make) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1", species="Pleurotus pulmonarius"),
            g=front("find", id="F2", species="Flammulina velutipes"),
            a=front("culture", id="C1", from_="F1"),
            b=front("culture", id="C2", from_="F2"),
            x=front("batch", id="X", culture="C1, C2"),
            y=front("batch", id="Y", culture="C1"),
            c=front("culture", id="C3", from_="X"),
        )
    )
    (problem,) = journal.problems
    assert ("x/x.md", "warning") == (problem.path, problem.severity)
    assert "culture:" in front("batch", id="X", culture="C1, C2").splitlines()[problem.line - 1]
    assert (
        "its cultures are of different species: C1 is Pleurotus pulmonarius, C2 is Flammulina velutipes; it is listed "
        "as the first"
    ) == problem.message
    assert "if they were mixed on purpose, leave it as it is" in problem.fix
    assert "Pleurotus pulmonarius" == journal.batches[0].species


def test_a_batch_with_a_received_culture_too_is_not_told(make_journal: Make) -> None:
    """What was received is not confirmed in any mix."""
    journal = make_journal(
        files(
            f=front("find", id="F1", species="Pleurotus pulmonarius"),
            a=front("culture", id="C1", from_="F1"),
            b=front("culture", id="C2", received_from="a friend", species="Flammulina velutipes"),
            x=front("batch", id="X", culture="C1, C2"),
        )
    )
    assert () == journal.problems


@pytest.mark.parametrize("second", ["phoenix oyster", "Pleurotus sp.", "oyster"])
def test_a_batch_of_what_may_be_one_species_is_not_told(make_journal: Make, second: str) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1", species="Pleurotus pulmonarius"),
            g=front("find", id="F2", species=second),
            a=front("culture", id="C1", from_="F1"),
            b=front("culture", id="C2", from_="F2"),
            x=front("batch", id="X", culture="C1, C2"),
        )
    )
    assert () == journal.problems


def test_parents_are_compared_each_with_each(make_journal: Make) -> None:
    journal = make_journal(
        files(
            a=front("find", id="F1", species="Pleurotus sp."),
            b=front("find", id="F2", species="Pleurotus pulmonarius"),
            c=front("find", id="F3", species="Pleurotus ostreatus"),
            d=front("culture", id="C1", from_="F1, F2, F3"),
            e=front("culture", id="C2", from_="F1, F2"),
        )
    )
    assert ["d/d.md"] == [one.path for one in journal.problems]


@pytest.mark.parametrize(
    ("warning", "from_", "species"),
    [
        (True, "C1", "Flammulina velutipes"),
        (True, "C1", "grey oyster"),
        (True, "F1", "willow button"),
        (True, "C1, C2", "Hericium erinaceus"),
        (False, "C1", "phoenix oyster"),
        (False, "C1", "Pleurotus"),
        (False, "C1, C2", "velvet foot"),  # its parents are of both, and its author says which it is
        (False, "C1, C2", "F. velutipes"),
        (False, "C3", "Pleurotus ostreatus"),  # its find is identified as that by now
    ],
)
def test_a_culture_of_another_species_than_what_it_came_from_is_told(
    make_journal: Make, warning: bool, from_: str, species: str
) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1", species="Pleurotus pulmonarius"),
            g=front("find", id="F2", species="Flammulina velutipes"),
            h=front("find", id="F3", species="Pleurotus pulmonarius"),
            n=front("note", about="F3", species="Pleurotus ostreatus", date="2026-10-01"),
            a=front("culture", id="C1", from_="F1"),
            b=front("culture", id="C2", from_="F2"),
            c=front("culture", id="C3", from_="F3"),
            x=front("culture", id="X", from_=from_, species=species),
        )
        | {"journal.toml": '[names]\n"willow button" = "Flammulina velutipes"\n'}
    )
    above = from_.partition(",")[0]
    message = f'this is "{species}", but {above}, which it came from, is "Pleurotus pulmonarius"'
    assert ([message] if warning else []) == [one.message for one in journal.problems]
    assert species == journal.by_id["x"].species  # type: ignore[union-attr]
    for problem in journal.problems:
        assert ("x/x.md", "warning", True) == (problem.path, problem.severity, "`species`" in problem.fix)
        assert "species:" in front("culture", id="X", from_=from_, species=species).splitlines()[problem.line - 1]


def test_a_likely_misspelling_is_told_as_such(make_journal: Make) -> None:
    journal = make_journal(
        files(
            f=front("find", id="F1", species="Flammulina velutipes"),
            a=front("culture", id="C1", from_="F1", species="Flamulina velutipes"),
        )
    )
    (problem,) = journal.problems
    message = '"Flamulina velutipes" is spelled like no species that is known here; did you mean Flammulina velutipes?'
    assert ("a/a.md", "warning", message) == (problem.path, problem.severity, problem.message)
