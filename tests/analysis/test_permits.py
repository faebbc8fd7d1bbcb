"""What was picked by day and permit, and where that is more than it allows."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.permits import breaches
from journal.model import Journal
from tests.builders import entry, noted

TOML = """[permits.wood]
limit_a_day = "1 kg"
limit = "2.5 kg"
first = 2026-09-01
last = 2026-10-31
[permits.shore]
"""


def find(id: str, day: str, kg: float, permit: str = "wood") -> dict[str, str]:
    return {f"{id}.md": entry("find", f"id: {id}\ndate: {day}\npicked mass: {kg} kg\npermit: {permit}")}


@pytest.fixture(scope="module")
def journal(make_journal: Callable[..., Journal]) -> Callable[..., Journal]:
    def make(*files: dict[str, str]) -> Journal:
        every = {path: text for row in files for path, text in row.items()}
        made: Journal = make_journal({"journal.toml": TOML, **every})
        return made

    return make


def test_masses_are_summed_by_permit_and_day_with_later_visits(journal: Callable[..., Journal]) -> None:
    made = journal(
        find("F-1", "2026-09-12", 0.4),
        find("F-2", "2026-09-12 15:00", 0.5, "Wood"),
        find("F-3", "2026-09-13", 0.3, "shore"),
        find("F-4", "2026-09", 0.3),
        {"none.md": entry("find", "id: F-5\ndate: 2026-09-14\npicked mass: 200 g")},
        {"visit.md": noted("2026-09-20", "harvest: 0.7 kg", "F-1")},
    )
    uses = Analysis(made).permit_uses
    assert ["wood", "shore", None] == [use.permit and use.permit.name for use in uses]
    assert [900, 700] == [day.mass_g for day in uses[0].days]
    assert ("F-1", "F-2") == uses[0].days[0].finds
    assert [1600, 300, 200] == [use.mass_g for use in uses]
    assert [] == list(breaches(made))
    assert () == made.problems


@pytest.mark.parametrize(
    ("files", "what", "says"),
    [
        (
            [find("F-1", "2026-09-12", 0.6), find("F-2", "2026-09-12", 0.6)],
            ["a day"],
            "1.2 kg picked that day under the permit wood, which allows 1 kg a day",
        ),
        (
            [find(f"F-{at}", f"2026-09-1{at}", 0.9) for at in range(3)],
            ["in all"],
            "2.7 kg picked in all under the permit wood, which allows 2.5 kg",
        ),
        ([find("F-1", "2026-11-01", 0.1)], ["not then"], "is not valid"),
        ([find("F-1", "2026-11-01", 3)], ["not then"], "3 kg picked on a day on which the permit wood is not valid"),
        ([find("F-1", "2026-11-01", 3), find("F-2", "2026-09-12", 0.9)], ["not then"], ""),
        ([find("F-1", "2026-09-12", 1), find("F-2", "2026-11-01", 0.5, "shore")], [], ""),
    ],
)
def test_more_than_a_permit_allows_is_a_warning(
    files: list[dict[str, str]], what: list[str], says: str, journal: Callable[..., Journal]
) -> None:
    made = journal(*files)
    assert what == [breach.what for breach in breaches(made)]
    assert len(what) == len(made.problems)
    assert all(problem.severity == "warning" and problem.line for problem in made.problems)
    assert not says or any(says in problem.message for problem in made.problems)


def test_what_was_picked_when_a_permit_did_not_hold_is_in_no_sum_of_it(journal: Callable[..., Journal]) -> None:
    made = journal(
        find("F-1", "2026-11-01", 3),
        find("F-2", "2026-09-12", 1.4),
        find("F-3", "2026-09-13", 1),
        find("F-4", "2026-09-14", 1),
    )
    wood = Analysis(made).permit_uses[0]
    assert (3400, 3000) == (wood.mass_g, wood.outside_g)
    assert -900 == pytest.approx(wood.left_g)
    assert [400, 0, 0, 0] == pytest.approx([wood.over_g(day) for day in wood.days])
    assert ["2026-09-14"] == [wood.over_in_all and wood.over_in_all.day.isoformat()]


def test_a_permit_that_the_settings_do_not_name_is_an_error_with_the_nearest(
    journal: Callable[..., Journal],
) -> None:
    (problem,) = journal(find("F-1", "2026-09-12", 0.4, "woods")).problems
    fix = "write wood, if you mean that, or add [permits.woods] to journal.toml"
    assert ("error", fix) == (problem.severity, problem.fix)
