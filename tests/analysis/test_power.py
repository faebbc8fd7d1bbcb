"""What feeds what."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import pytest

from journal.analysis.power import DEEPEST, PoweredDevice, Root, power_and_control_of
from journal.model import Journal
from tests.reading.written import files, front

Make = Callable[..., Journal]


def device(id: str, tent: str = "hut", **keys: str) -> str:
    return front("device", id=id, tent=tent, **keys)


TENT: dict[str, str] = {
    "strip": device("strip-1", does="power strip", powered_by="Wall socket 2, by the mangle", rated_for="IP44"),
    "tl": device("timer-light", does="timer", powered_by="strip-1", rated_for="dry rooms"),
    "tx": device("timer-exhaust", does="timer", powered_by="strip-1"),
    "lamp": device("lamp-1", does="light", powered_by="timer-light", controlled_by="timer-light", rated_for="IP65"),
    "exhaust": device("exhaust-1", does="exhaust", powered_by="timer-exhaust", controlled_by="timer-exhaust"),
    "heater": device("heater-1", does="heater", powered_by="wall socket 2,  by the MANGLE"),
    "damper": device("damper-1", does="damper"),
}
SET = {
    "set": front("tent", about="hut", light="06:30–18:30", date="2026-10-18"),
    "before": front("tent", about="hut", light="12/12", exhaust="2 min every 15 min", date="2026-01-01"),
}


def outline(roots: Iterable[Root]) -> list[Any]:
    return [(root.name, [_branch(node) for node in root.powers]) for root in roots]


def _branch(node: PoweredDevice) -> Any:
    name = node.device.id + (" again" if node.again else "")
    return (name, [_branch(child) for child in node.powers]) if node.powers else name


def test_the_tree_runs_from_the_wall_to_the_last_device(make_journal: Make) -> None:
    assert [
        (
            "wall socket 2, by the MANGLE",
            ["heater-1", ("strip-1", [("timer-light", ["lamp-1"]), ("timer-exhaust", ["exhaust-1"])])],
        ),
        (None, ["damper-1"]),
    ] == outline(power_and_control_of(make_journal(files(**TENT))).roots)


def test_sockets_come_in_the_order_of_their_numbers(make_journal: Make) -> None:
    named = ("socket 14", "socket 7", "the kitchen's", "7", "socket")
    rows = {f"f{at}": device(f"fan-{at}", powered_by=name) for at, name in enumerate(named)}
    roots = power_and_control_of(make_journal(files(**rows))).roots
    assert ["7", "socket", "socket 7", "socket 14", "the kitchen's"] == [root.name for root in roots]


def test_what_is_switched_and_powered_by_nothing_written_hangs_on_its_switch(make_journal: Make) -> None:
    radio = {
        "c": device("plug", does="controller", powered_by="wall"),
        "f": device("fan", does="fan", controlled_by="plug"),
    }
    assert [("wall", [("plug", ["fan"])])] == outline(power_and_control_of(make_journal(files(**radio))).roots)


def test_what_is_switched_from_elsewhere_hangs_on_what_feeds_it(make_journal: Make) -> None:
    radio = {
        "c": device("remote", does="controller", powered_by="north"),
        "f": device("fan", does="fan", powered_by="south", controlled_by="remote"),
    }
    assert [("north", ["remote"]), ("south", ["fan"])] == outline(
        power_and_control_of(make_journal(files(**radio))).roots
    )


def test_a_device_fed_twice_is_shown_twice_and_is_unfolded_once(make_journal: Make) -> None:
    rows = {
        "a": device("a", powered_by="wall"),
        "b": device("b", powered_by="wall"),
        "c": device("c", powered_by="a, b"),
        "d": device("d", powered_by="c"),
    }
    roots = power_and_control_of(make_journal(files(**rows))).roots
    assert [("wall", [("a", [("c", ["d"])]), ("b", ["c again"])])] == outline(roots)


def test_twenty_rows_of_devices_that_are_each_fed_twice_do_not_grow_without_end(make_journal: Make) -> None:
    rows = {f"{side}{n}": device(f"{side}{n}", powered_by=f"a{n - 1}, b{n - 1}" if n else "wall")
            for n in range(20) for side in "ab"}  # fmt: skip
    roots = power_and_control_of(make_journal(files(**rows))).roots
    assert len(str(outline(roots))) < 3000


def test_a_chain_of_hundreds_is_given_in_stretches(make_journal: Make) -> None:
    rows = {f"d{n}": device(f"d{n}", powered_by=f"d{n - 1}" if n else "wall") for n in range(300)}
    roots = power_and_control_of(make_journal(files(**rows))).roots
    assert 300 / DEEPEST == len(roots)
    assert ["wall", f"d{DEEPEST - 1}"] == [root.name for root in roots[:2]]


def test_what_is_dead_or_put_away_is_in_no_tree_unless_something_in_use_hangs_on_it(make_journal: Make) -> None:
    gone = {
        "n1": front("note", about="lamp-1", stage="dead"),
        "n2": front("note", about="strip-1", stage="put away"),
    }
    wiring = power_and_control_of(make_journal(files(**TENT, **gone)))
    shown = str(outline(wiring.roots))
    assert "lamp-1" not in shown
    assert "strip-1" in shown
    assert wiring.lifetimes["strip-1"].is_over


def test_a_tent_has_its_own_devices_what_leads_to_them_and_what_hangs_on_them(make_journal: Make) -> None:
    rows = {
        "s": device("strip-9", tent="loft", powered_by="north"),
        "f": device("fan-9", tent="hut", powered_by="strip-9"),
        "g": device("fan-8", tent="loft", powered_by="strip-9"),
        "h": device("fan-7", tent="loft", powered_by="fan-9"),
        "i": device("fan-6", tent="loft", powered_by="south"),
    }
    wiring = power_and_control_of(make_journal(files(**rows)))
    assert [("north", [("strip-9", [("fan-9", ["fan-7"])])])] == outline(wiring.inside("hut"))
    assert outline(wiring.roots) == outline(wiring.inside("LOFT"))


def test_each_switch_holds_the_setting_of_what_it_switches(make_journal: Make) -> None:
    held = power_and_control_of(make_journal(files(**TENT, **SET))).settings
    assert [
        ("timer-exhaust", "exhaust", ("exhaust-1",), "before/before.md"),
        ("timer-light", "light", ("lamp-1",), "set/set.md"),  # the latest that set it
    ] == sorted((row.controller, row.setting, row.devices, row.entry.path if row.entry else None) for row in held)


def test_what_says_less_of_the_same_hours_does_not_hide_the_clock_that_a_timer_holds(make_journal: Make) -> None:
    later = {"later": front("tent", about="hut", light="12 h on, 12 h off", date="2026-11-01")}
    wiring = power_and_control_of(make_journal(files(**TENT, **SET, **later)))
    assert ["set/set.md"] == [row.entry.path for row in wiring.settings_controlled_by("timer-light") if row.entry]


@pytest.mark.parametrize(
    ("switches", "lamp"),
    [
        (["t-1"], {"powered_by": "t-1"}),
        (["t-1"], {"powered_by": "s-1"}),  # a strip in the timer
        (["t-2"], {"powered_by": "s-1", "controlled_by": "t-2"}),
        ([], {"powered_by": "c-1"}),  # a humidity controller has no hours
        ([], {"powered_by": "wall"}),
    ],
)
def test_a_lamp_that_gets_its_current_through_a_timer_is_controlled_by_it(
    make_journal: Make, switches: list[str], lamp: dict[str, str]
) -> None:
    rows = {
        "t": device("t-1", does="timer", powered_by="wall"),
        "u": device("t-2", does="timer", powered_by="wall"),
        "s": device("s-1", does="power strip", powered_by="t-1"),
        "c": device("c-1", does="humidity controller", powered_by="t-1"),
        "l": device("lamp-1", does="light", **lamp),
    }
    assert switches == [row.controller for row in power_and_control_of(make_journal(files(**rows))).settings]


def test_a_switch_whose_setting_was_never_written_holds_nothing_known(make_journal: Make) -> None:
    wiring = power_and_control_of(make_journal(files(**TENT)))
    assert [None] == [row.entry for row in wiring.settings_controlled_by("timer-light")]


@pytest.mark.parametrize(
    ("does", "setting"),
    [("light", "light"), ("LED light", "light"), ("exhaust fan", "exhaust"), ("humidifier", "humidity"),
     ("heater", "temperature"), ("fan", None), ("damper", None)],
)  # fmt: skip
def test_what_a_device_does_shows_which_setting_its_switch_holds(
    make_journal: Make, does: str, setting: str | None
) -> None:
    rows = {"t": device("t-1", powered_by="wall"), "x": device("x-1", does=does, powered_by="t-1", controlled_by="t-1")}
    held = power_and_control_of(make_journal(files(**rows))).settings
    assert ([setting] if setting else []) == [row.setting for row in held]


def test_what_water_may_reach_is_asked_of_what_hangs_on_the_mains_and_is_in_use(make_journal: Make) -> None:
    gone = {"n": front("note", about="heater-1", stage="dead")}
    journal = make_journal(files(**TENT, **gone))
    wiring = power_and_control_of(journal)
    said = {device.id: (rating.claim, rating.written) for device, rating in wiring.ratings(journal.devices)}
    assert {
        "strip-1": ("wet", "IP44"),
        "timer-light": ("dry", "dry rooms"),
        "timer-exhaust": (None, None),
        "lamp-1": ("wet", "IP65"),
        "exhaust-1": (None, None),
    } == said


def test_what_needs_mains_by_what_it_does_is_asked_too_where_no_socket_is_written(make_journal: Make) -> None:
    rows = {
        "f": device("fan-1", does="clip fan"),
        "d": device("damper-1", does="exhaust damper"),
        "p": device("probe-1", does="probe"),
    }
    assert {"fan-1"} == power_and_control_of(make_journal(files(**rows))).on_mains


def test_a_circle_was_opened_before_and_what_remains_is_a_tree(make_journal: Make) -> None:
    rows = {"a": device("a", powered_by="b"), "b": device("b", powered_by="a")}
    journal = make_journal(files(**rows))
    assert 2 == len(journal.problems)
    assert [(None, [("b", ["a"])])] == outline(power_and_control_of(journal).roots)
