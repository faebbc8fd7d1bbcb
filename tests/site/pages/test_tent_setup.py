"""How a tent is built, set and kept."""

from __future__ import annotations

from typing import Any

import pytest

from journal.site.pages.tent_setup import latest_day, measures, services, settings_now


def test_measures_come_in_the_units_of_the_settings(hut: Any) -> None:
    settings = (
        '[journal]\nunits = "us"\n[tents.hut]\nname = "Hut"\nwidth = "4 ft"\ndepth = "4 ft"\nheight = "6.5 ft"\n'
        'floor = "single sheet"\nexhaust_flow = "118 cfm"\nexhaust_flow_is = "measured"\ntemperature = "50–59 °F"\n'
    )
    lookup, tent = hut.lookup({}, settings=settings)
    assert (
        ("width × depth × height", "4 ft × 4 ft × 6.5 ft"),
        ("floor", "single sheet"),
        ("exhaust flow", "118 cfm, measured"),
        ("temperature wanted", "50–59 °F"),
    ) == measures(lookup, tent)


def test_a_tent_of_which_a_side_is_not_known_has_a_size(hut: Any) -> None:
    settings = '[tents.hut]\nname = "Hut"\nwidth = "1.2 m"\ndepth = "1 m"\n'
    assert (("size", "1.2 m × 1 m"),) == measures(*hut.lookup({}, settings=settings))


def test_each_setting_is_the_one_written_last_with_since_when_and_why(hut: Any) -> None:
    entries = {
        "a": hut.front("tent", about="hut", date="2026-01-01", light="12/12", light_colour="6500 K", why="custom"),
        "b": hut.front("tent", about="hut", date="2026-02-01 08:00", light="06:30–18:30", why="to see them"),
        "c": hut.front("tent", about="hut", date="2026-03-01", light="12/12"),  # says nothing new
    }
    assert [
        ("light", "06:30–18:30 (12 h)", "1 Feb 2026", "to see them"),
        ("light colour", "6500 K", "1 Jan 2026", "custom"),
    ] == [(row.what, row.words, row.since, row.why) for row in settings_now(*hut.lookup(entries))]


@pytest.mark.parametrize(
    ("entries", "last", "due"),
    [
        ([("2026-11-01", "tank emptied"), ("2026-11-10 07:00", "tank filled")], "10 Nov 2026", "2026-11-17"),
        ([("2026-11-01", "floor wiped")], None, "2026-11-08"),  # calculated from the tent's first entry
        ([], None, None),
    ],
)
def test_a_service_is_due_so_many_days_after_it_was_last_done(
    hut: Any, entries: list[tuple[str, str]], last: str | None, due: str | None
) -> None:
    rows = enumerate(entries)
    written = {f"e{at}": hut.front("tent", about="hut", date=day, serviced=words) for at, (day, words) in rows}
    (tank,) = services(*hut.lookup(written))
    assert ("tank", "7 days", last, due) == (tank.name, tank.every, tank.last, tank.due_iso)


def test_half_a_day_between_services_is_rounded_up_and_due_so(hut: Any) -> None:
    settings = '[tents.hut]\nname = "Hut"\n[tents.hut.every]\ntank = "60 h"\n'
    emptied = hut.front("tent", about="hut", date="2026-11-10", serviced="tank emptied")
    lookup, tent = hut.lookup({"e": emptied}, settings=settings)
    (tank,) = services(lookup, tent)
    assert ("3 days", "2026-11-13") == (tank.every, tank.due_iso)
    assert ["2026-11-13"] == [str(one.day) for one in lookup.analysis.due if one.basis == "service"]


def test_what_is_known_is_as_old_as_the_last_entry_about_the_tent_or_its_devices(hut: Any) -> None:
    entries = {
        "a": hut.front("tent", about="hut", date="2026-01-01", light="12/12"),
        "d": hut.front("device", id="fan-1", tent="hut", does="fan", date="2026-02-01"),
        "n": hut.front("note", about="fan-1", stage="faulty", date="2026-03-01"),
        "o": hut.front("tent", about="loft", date="2026-04-01", light="12/12"),
    }
    found = latest_day(*hut.lookup(entries))
    assert found is not None
    assert "2026-03-01" == found.isoformat()
    assert latest_day(*hut.lookup({})) is None
