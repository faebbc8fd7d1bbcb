"""The wiring of a tent, as its page words it."""

from __future__ import annotations

from typing import Any

import pytest

from journal.site.pages.tent_power import device_ages, feeds, span_words, water
from journal.site.plan import Row


def device(hut: Any, id: str, tent: str = "hut", **keys: str) -> str:
    return str(hut.front("device", id=id, tent=tent, **keys))


def tree(hut: Any) -> dict[str, str]:
    return {
        "strip": device(hut, "strip-1", does="power strip", powered_by="wall socket 2", rated_for="IP44"),
        "timer": device(hut, "timer-1", does="timer", powered_by="strip-1", rated_for="dry rooms"),
        "lamp": device(hut, "lamp-1", does="light", powered_by="timer-1", controlled_by="timer-1"),
        "fan": device(hut, "fan-1", tent="loft", does="fan", powered_by="strip-1", controlled_by="timer-1"),
    }


def branches(hut: Any, entries: dict[str, str]) -> dict[str, Row]:
    found: dict[str, Row] = {}

    def walk(rows: tuple[Row, ...]) -> None:
        for row in rows:
            found[row.label.id] = row
            walk(row.powers)

    for feed in feeds(*hut.lookup(entries)):
        walk(feed.powers)
    return found


def test_a_timer_is_shown_with_the_hours_it_holds_and_for_what(hut: Any) -> None:
    set_light = {"s": hut.front("tent", about="hut", light="06:30–18:30")}
    assert ("light 06:30–18:30 (12 h) for lamp-1",) == branches(hut, tree(hut) | set_light)["timer-1"].holds
    assert ("light for lamp-1, with no setting recorded",) == branches(hut, tree(hut))["timer-1"].holds


@pytest.mark.parametrize(
    ("does", "keys", "words"),
    [
        ("exhaust", {"exhaust": "3 min every 15 min"}, "exhaust 3 min every 15 min for x-1"),
        ("humidifier", {"humidity_set_point": "92 %"}, "humidity at 92 % for x-1"),
        ("heater", {"temperature_set_point": "15 °C"}, "temperature at 15 °C for x-1"),
    ],
)
def test_every_switch_holds_the_setting_of_what_it_switches(
    hut: Any, does: str, keys: dict[str, str], words: str
) -> None:
    entries = {
        "c": device(hut, "c-1", does="controller", powered_by="wall"),
        "x": device(hut, "x-1", does=does, powered_by="c-1", controlled_by="c-1"),
        "s": hut.front("tent", about="hut", **keys),
    }
    assert (words,) == branches(hut, entries)["c-1"].holds


def test_what_switches_a_device_is_shown_where_it_does_not_hang_on_it(hut: Any) -> None:
    rows = branches(hut, tree(hut))
    assert ["timer-1"] == [label.id for label in rows["fan-1"].controlled_by]
    assert () == rows["lamp-1"].controlled_by


def test_a_device_of_another_tent_that_hangs_here_is_shown_with_its_tent(hut: Any) -> None:
    rows = branches(hut, tree(hut))
    assert ("Loft", None) == (rows["fan-1"].elsewhere, rows["lamp-1"].elsewhere)
    lost = branches(hut, tree(hut) | {"lost": device(hut, "fan-2", tent="attic", does="fan", powered_by="strip-1")})
    assert "no tent" == lost["fan-2"].elsewhere


def test_what_is_dead_or_faulty_says_so_in_the_tree(hut: Any) -> None:
    notes = {
        "a": hut.front("note", about="strip-1", stage="dead", date="2026-10-08"),
        "b": hut.front("note", about="lamp-1", stage="faulty", date="2026-11-01"),
    }
    rows = branches(hut, tree(hut) | notes)
    assert ("dead since 8 October 2026", "faulty since 1 November 2026", None) == (
        rows["strip-1"].state, rows["lamp-1"].state, rows["timer-1"].state,
    )  # fmt: skip


def test_a_long_chain_goes_on_under_the_device_it_left_off_at(hut: Any) -> None:
    entries = {f"d{n}": device(hut, f"d{n}", powered_by=f"d{n - 1}" if n else "wall") for n in range(20)}
    found = feeds(*hut.lookup(entries))
    assert ["wall", "d5", "d11", "d17"] == [feed.name for feed in found]
    assert found[0].label is None
    assert found[1].label is not None


def test_what_is_not_said_to_stand_splashing_is_listed_by_what_is_said(hut: Any) -> None:
    entries = {
        **tree(hut),
        "damp": device(hut, "damp-1", does="heater", powered_by="strip-1", rated_for="damp rooms"),
        "warning": device(hut, "odd-1", does="fan", powered_by="strip-1", rated_for="13 A"),
    }
    lookup, tent = hut.lookup(entries)
    found = water(lookup, lookup.devices_in(tent.id))
    assert (["timer-1"], ["damp-1"], ["odd-1"], ["lamp-1"]) == tuple(
        [said.label.id for said in group] for group in (found.dry, found.damp, found.unclear, found.unsaid)
    )
    assert ("“dry rooms”", "“13 A”", "nothing written") == (
        found.dry[0].words, found.unclear[0].words, found.unsaid[0].words,
    )  # fmt: skip


def test_what_is_dead_is_asked_nothing_about_water(hut: Any) -> None:
    entries = tree(hut) | {"n": hut.front("note", about="lamp-1", stage="dead")}
    lookup, tent = hut.lookup(entries)
    assert () == water(lookup, lookup.devices_in(tent.id)).unsaid


def test_ages_part_what_is_in_use_from_what_ended_the_last_to_end_first(hut: Any) -> None:
    entries = {
        "a": device(hut, "fan-a", does="fan", date="2025-12-06"),
        "b": device(hut, "fan-b", does="fan", date="2025-01-01"),
        "c": device(hut, "fan-c", does="fan", date="2026-10-10"),
        "na": hut.front("note", about="fan-a", stage="dead", cause="rust", date="2026-10-08"),
        "nb": hut.front("note", about="fan-b", stage="put away", date="2025-12-06"),
    }
    lookup, tent = hut.lookup(entries)
    in_use, over = device_ages(lookup, lookup.devices_in(tent.id))
    assert [("fan-c", "2026-10-10")] == [(row.label.id, row.since_iso) for row in in_use]
    assert [
        ("fan-a", "dead 8 October 2026", "306 days (10 months)", "rust"),
        ("fan-b", "put away 6 December 2025", "339 days (11 months)", None),
    ] == [(row.label.id, row.ended, row.in_use_for, row.cause) for row in over]


@pytest.mark.parametrize(
    ("days", "words"),
    [(0, "0 days"), (1, "1 day"), (61, "61 days"), (306, "306 days (10 months)"), (1096, "1,096 days (3 years)")],
)
def test_a_span_is_shown_in_days_and_where_it_is_long_in_months_or_years(days: int, words: str) -> None:
    assert words == span_words(days)
