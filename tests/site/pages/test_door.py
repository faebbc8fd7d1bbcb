"""The sheet for a tent's door."""

from __future__ import annotations

from typing import Any

from journal.site.pages.tents import door


def rows(hut: Any) -> dict[str, str]:
    return {
        "s": hut.front("tent", about="hut", date="2026-10-01", exhaust="2 min every 15 min", why="custom"),
        "strip": hut.front(
            "device", id="strip-1", tent="hut", does="power strip", powered_by="wall", date="2025-12-06"
        ),
        "fan": hut.front(
            "device", id="fan-1", tent="hut", does="fan", powered_by="strip-1", rated_for="IP54", date="2026-10"
        ),
        "old": hut.front("device", id="fan-0", tent="hut", does="fan", powered_by="strip-1"),
        "dead": hut.front("note", about="fan-0", stage="dead", date="2026-10-08"),
        "else": hut.front("device", id="fan-9", tent="loft", does="fan"),
    }


def test_it_lists_the_devices_in_use_with_what_is_said_of_water_and_their_age(hut: Any) -> None:
    found = door(*hut.lookup(rows(hut)))
    assert [("strip-1", "no rating", "6 Dec 2025"), ("fan-1", "IP54", "Oct 2026")] == [
        (row.label.id, row.rated_for, row.since) for row in found["devices"]
    ]


def test_it_says_as_of_which_entry_it_was_written_since_paper_does_not_know_its_age(hut: Any) -> None:
    assert "8 October 2026" == door(*hut.lookup(rows(hut)))["as_of"]
    assert door(*hut.lookup({}))["as_of"] is None


def test_air_changes_stand_among_the_measures_with_at_most(hut: Any) -> None:
    # 144 m³/h for 2 of 15 minutes, through 1.2 × 1.2 × 2 m: 144 × 2 / 15 / 2.88 = 6.67 an hour, of a rated flow.
    assert ("air changes per hour", "at most 6.7") in door(*hut.lookup(rows(hut)))["measures"]
    assert "air changes per hour" not in dict(door(*hut.lookup({}))["measures"])


def test_settings_stand_with_their_reasons(hut: Any) -> None:
    assert [("exhaust", "2 min every 15 min", "1 Oct 2026", "custom")] == [
        (row.what, row.words, row.since, row.why) for row in door(*hut.lookup(rows(hut)))["settings"]
    ]


def test_a_tree_of_many_rows_is_set_closer(hut: Any) -> None:
    many = {f"d{at}": hut.front("device", id=f"d-{at}", tent="hut", powered_by="wall") for at in range(15)}
    assert [False, True] == [door(*hut.lookup(entries))["crowded"] for entries in (rows(hut), many)]
