"""A tent's settings as a history: what changed, what held on any day, and what came too close together."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.tent_settings import Change, current_settings, history_of, settings_on
from journal.model import Journal
from journal.settings import Exhaust, LightHours
from tests.builders import some

Make = Callable[..., Journal]
History = Callable[..., tuple[Change, ...]]


@pytest.fixture
def history(make_journal: Make) -> History:
    """Called with (date, keys) of each entry about a tent it gives that tent's history."""

    def of(*entries: tuple[str, str]) -> tuple[Change, ...]:
        files = {
            f"{at}.md": f"---\nkind: tent\nabout: HUT\ndate: {day}\n{keys}\n---\n"
            for at, (day, keys) in enumerate(entries)
        }
        journal = make_journal({"journal.toml": "[tents.hut]\n", **files})
        return history_of(journal, journal.settings.tents[0])

    return of


SET_UP = ("2026-01-01", "humidity set point: 90 %\nlight: 12:12\nexhaust: 2 min every 15 min")


def rows(changes: tuple[Change, ...]) -> list[tuple[str, Any, Any]]:
    return [(change.what, change.before, change.value) for change in changes]


def test_a_history_has_what_was_first_set_and_every_change(history: History) -> None:
    found = history(SET_UP, ("2026-02-01", "humidity set point: 92 %\nwhy: too dry"), ("2026-03-01", "exhaust: off"))
    cycle = Exhaust("cycle", 2, 15)
    assert [
        ("humidity set point", None, 90.0),
        ("light", None, LightHours(12.0)),
        ("exhaust", None, cycle),
        ("humidity set point", 90.0, 92.0),
        ("exhaust", cycle, Exhaust("off")),
    ] == rows(found)
    assert [False, False, False, True, True] == [change.alters for change in found]
    assert ("too dry", "1.md", "2026-02-01") == (found[3].why, found[3].path, found[3].when.iso)


@pytest.mark.parametrize(
    ("first", "again"),
    [
        ("humidity set point: 90 %", "humidity set point: 90.0 %"),
        ("exhaust: 2 min every 15 min", "exhaust: 120 s every 15 min"),
        ("air movement: fan on low", "air movement: Fan on low"),
        ("light: 06:30–18:30", "light: 12 h on, 12 h off"),
    ],
)
def test_what_only_says_again_what_holds_is_not_a_change(first: str, again: str, history: History) -> None:
    assert 1 == len(history(("2026-01-01", first), ("2026-03-01", again)))


def test_the_hours_by_the_clock_are_kept_and_alter_nothing(history: History) -> None:
    found = history(("2026-01-01", "light: 12:12"), ("2026-03-01", "light: 06:30–18:30"))
    assert LightHours(12.0, "06:30", "18:30") == current_settings(found)["light"].value
    assert [False, False] == [change.alters for change in found]


def test_light_moved_by_the_clock_is_a_change(history: History) -> None:
    found = history(("2026-01-01", "light: 06:30–18:30"), ("2026-03-01", "light: 08:00–20:00"))
    assert [False, True] == [change.alters for change in found]


@pytest.mark.parametrize(
    ("value", "day"),
    [
        (None, date(2025, 12, 31)),
        (90.0, date(2026, 1, 1)),
        (90.0, date(2026, 1, 31)),
        (92.0, date(2026, 2, 1)),
        (95.0, date(2026, 12, 31)),
    ],
)
def test_on_any_day_that_setting_held_which_was_last_written_by_then(
    value: float | None, day: date, history: History
) -> None:
    found = history(
        SET_UP, ("2026-02-01 18:00", "humidity set point: 92 %"), ("2026-05", "humidity set point: 95 %")
    )  # fmt: skip
    held = settings_on(found, day).get("humidity set point")
    assert value == (held.value if held else None)


@pytest.mark.parametrize(
    ("told_apart", "second_day", "second"),
    [
        (False, "2026-02-01", "exhaust: on"),
        (False, "2026-02-08", "exhaust: on"),
        (True, "2026-02-09", "exhaust: on"),
        # The same setting twice in a week: the first has had no time to show.
        (False, "2026-02-03", "humidity set point: 95 %"),
        # On a day that nobody knows, or with nothing altered.
        (True, "2026-02", "exhaust: on"),
        (True, "2026-02-03", "exhaust: 2 min every 15 min"),
        (True, "2026-02-03", "light colour: 6500 K"),
        (True, "2026-02-03", "light: 06:00–18:00"),
    ],
)
def test_changes_within_seven_days_of_each_other_cannot_be_told_apart(
    told_apart: bool, second_day: str, second: str, history: History
) -> None:
    found = history(SET_UP, ("2026-02-01", "humidity set point: 92 %"), (second_day, second))
    altering = [change for change in found if change.alters]
    assert [told_apart] * len(altering) == [change.can_be_separated for change in altering]


def test_a_change_names_those_it_cannot_be_told_apart_from(history: History) -> None:
    found = history(SET_UP, ("2026-02-01", "humidity set point: 92 %"), ("2026-02-04", "exhaust: on"))
    humidity, exhaust = (change for change in found if change.alters)
    assert [("exhaust", date(2026, 2, 4), "2.md")] == [(row.what, row.day, row.path) for row in humidity.nearby]
    assert [("humidity set point", date(2026, 2, 1))] == [(row.what, row.day) for row in exhaust.nearby]


def test_what_a_tent_is_set_up_with_is_no_change_at_all(history: History) -> None:
    assert all(change.can_be_separated for change in some(history(SET_UP)))


def test_the_sample_changed_two_settings_in_one_week_once(make_journal: Make) -> None:
    """The author wrote on 10 May: three days after the other change, and that is three weeks too soon."""
    sample = Path(__file__).parents[2] / "sample_entries"
    files = {path.name: path.read_bytes() for path in (*(sample / "tents").glob("*.md"), sample / "journal.toml")}
    journal = make_journal(files)
    found = [change for tent in journal.settings.tents for change in history_of(journal, tent)]
    crowded = [(change.what, change.when.first) for change in found if not change.can_be_separated]
    assert [("humidity set point", date(2026, 5, 7)), ("exhaust", date(2026, 5, 10))] == crowded
