"""Sizes of colonies, and whose they are."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.model import Colony, Journal
from journal.problems import Unreadable
from journal.reading.measures import colony, working_min
from tests.builders import entry, noted


@pytest.mark.parametrize(
    ("text", "part", "across_mm"),
    [
        ("34 × 36 mm", None, (34, 36)),
        ("34x36 mm", None, (34, 36)),
        ("3,4 x 3,6 cm", None, (34, 36)),
        ("2: 31 × 33 mm", 2, (31, 33)),
        ("no. 12: 31 * 33 mm", 12, (31, 33)),
        ("35 mm", None, (35, 35)),
        ("1.5 in", None, (38.1, 38.1)),
    ],
)
def test_two_diameters(text: str, part: int | None, across_mm: tuple[float, float]) -> None:
    read = colony(text).value
    assert part == read.part
    assert across_mm == pytest.approx(read.across_mm)


@pytest.mark.parametrize(
    "text", ["34 × 36", "large", "34 × mm", "0 mm", "34 × 36 × 3 mm", "34 kg", "2 × 900 mm", "0: 3 mm"]
)
def test_what_is_not_a_size_of_a_colony(text: str) -> None:
    with pytest.raises(Unreadable, match=r"not the size of a colony|two separators"):
        colony(text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("34 × 36 mm", None),
        ("34 mm", '"34 mm" is one diameter, which counts as both'),
        ("150 × 150 mm", None),
        ("340 × 340 mm", '"340 × 340 mm" is wider than any dish'),
    ],
)
def test_a_colony_that_can_hardly_be_is_noted(text: str, says: str | None) -> None:
    assert ([says] if says else []) == [remark.message for remark in colony(text).remarks]


@pytest.mark.parametrize(
    ("minutes", "text"), [(25, "25"), (25, "25 min"), (90, "1.5 h"), (90, "1,5 h"), (90, "1 h 30 min"), (0, "0")]
)
def test_work_is_read_in_minutes(minutes: float, text: str) -> None:
    assert pytest.approx(minutes) == working_min(text).value


@pytest.mark.parametrize(
    ("text", "fix"),
    [
        ("half an hour", "write 30 min"),
        ("Half hour", "write 30 min"),
        ("½ h", "write 30 min"),
        ("an hour", "write 60 min"),
        ("a quarter of an hour", "write 15 min"),
        ("1h30", "write 1 h 30 min"),
        ("1:05", "write 1 h 5 min"),
        ("0.5", "write 0.5 h or 0.5 min"),
        ("some", "write it like 25, 25 min, 1.5 h or 1 h 30 min"),
        ("-3 min", "write it like 25, 25 min, 1.5 h or 1 h 30 min"),
    ],
)
def test_minutes_that_are_not_read_say_how_they_are_written(text: str, fix: str) -> None:
    with pytest.raises(Unreadable) as fault:
        working_min(text)
    assert fix == fault.value.fix


CULTURES = {f"{id}.md": entry("culture", f"id: {id}\ndate: 2026-09-12\nreceived from: unknown") for id in ("C", "D")}


def test_several_plates_are_on_one_line(make_journal: Callable[..., Journal]) -> None:
    journal = make_journal({**CULTURES, "n.md": noted("2026-09-15", "colony: 1: 34 × 36 mm, 2: 31,5 × 33 mm", "C")})
    assert (Colony(1, (34, 36)), Colony(2, (31.5, 33))) == journal.notes[0].colony
    assert () == journal.problems


@pytest.mark.parametrize("about", ["C, D", "X-1"])
def test_a_colony_is_of_one_culture(about: str, make_journal: Callable[..., Journal]) -> None:
    journal = make_journal({**CULTURES, "n.md": noted("2026-09-15", "colony: 34 × 36 mm", about)})
    assert () == journal.notes[0].colony
    assert any("a colony is measured on one culture" in problem.message for problem in journal.problems)
