"""What was changed and done in a tent over time."""

from __future__ import annotations

from typing import Any

import pytest

from journal.site.pages.tent_setup import changes, checks, done, manual_readings, settings_by_period


def set_(hut: Any, date: str, **keys: str) -> str:
    return str(hut.front("tent", about="hut", date=date, **keys))


def test_changes_come_the_latest_first_with_what_held_before_and_why(hut: Any) -> None:
    entries = {
        "a": set_(hut, "2026-01-01", humidity_set_point="90 %", exhaust="2 min every 15 min", why="custom"),
        "b": set_(hut, "2026-03-01", humidity_set_point="92 %", why="pins dried"),
    }
    later, first = changes(*hut.lookup(entries))
    assert (False, "pins dried", True) == (later.is_first, later.why, first.is_first)
    assert [("humidity set point", "92 %", "90 %")] == [(one.what, one.words, one.before) for one in later.sets]
    assert [("humidity set point", "90 %", None), ("exhaust", "2 min every 15 min", None)] == [
        (one.what, one.words, one.before) for one in first.sets
    ]


@pytest.mark.parametrize(("day", "entangled"), [("2026-05-14", True), ("2026-05-15", False)])
def test_changes_within_seven_days_are_marked_on_both(hut: Any, day: str, entangled: bool) -> None:
    entries = {
        "a": set_(hut, "2026-01-01", humidity_set_point="90 %", exhaust="2 min every 15 min"),
        "b": set_(hut, "2026-05-07", humidity_set_point="92 %"),
        "c": set_(hut, day, exhaust="3 min every 15 min"),
    }
    later, earlier, first = changes(*hut.lookup(entries))
    assert (entangled, entangled, False) == (later.is_entangled, earlier.is_entangled, first.is_entangled)
    if entangled:
        so = "so their effects cannot be told apart."
        assert (f"Exhaust was changed within 7 days of humidity set point on 7 May 2026, {so}",) == later.entangled
        assert (f"Humidity set point was changed within 7 days of exhaust on 14 May 2026, {so}",) == earlier.entangled


def test_settings_changed_on_one_day_are_told_in_one_sentence(hut: Any) -> None:
    entries = {
        "a": set_(hut, "2026-01-01", humidity_set_point="90 %", exhaust="2 min every 15 min"),
        "b": set_(hut, "2026-05-07", humidity_set_point="92 %", exhaust="on"),
    }
    both = changes(*hut.lookup(entries))[0]
    same = "Humidity set point and exhaust were changed on the same day, so their effects cannot be told apart."
    assert (same,) == both.entangled
    entries["c"] = set_(hut, "2026-05-09", humidity_set_point="93 %")
    apart = "Humidity set point and exhaust were changed within 7 days of humidity set point on 9 May 2026, "
    after, both, _ = changes(*hut.lookup(entries))
    assert (same, f"{apart}so their effects cannot be told apart.") == both.entangled
    assert 1 == len(after.entangled)


def test_of_two_entries_of_one_day_only_one_tells_what_they_changed_together(hut: Any) -> None:
    entries = {
        "a": set_(hut, "2026-01-01", humidity_set_point="90 %", exhaust="2 min every 15 min"),
        "b": set_(hut, "2026-05-07 08:00", humidity_set_point="92 %"),
        "c": set_(hut, "2026-05-07 18:00", exhaust="on"),
    }
    later, earlier, _ = changes(*hut.lookup(entries))
    same = "Humidity set point and exhaust were changed on the same day, so their effects cannot be told apart."
    assert ((same,), ()) == (later.entangled, earlier.entangled)
    assert later.is_entangled
    assert earlier.is_entangled
    entries["c"] = set_(hut, "2026-05-07 18:00", humidity_set_point="93 %")
    twice = "Humidity set point was changed more than once that day, so the effects cannot be told apart."
    assert (twice,) == changes(*hut.lookup(entries))[0].entangled


def test_what_was_done_comes_by_entry_the_latest_first(hut: Any) -> None:
    entries = {
        "a": hut.front("tent", about="hut", date="2026-01-01", serviced="[tank filled, floor wiped]"),
        "b": hut.front("tent", about="hut", date="2026-01-08", serviced="tank filled"),
    }
    assert [("8 January 2026", ("tank filled",)), ("1 January 2026", ("tank filled", "floor wiped"))] == [
        (row.when, row.words) for row in done(*hut.lookup(entries))
    ]


def test_what_held_on_any_day_is_shown_by_spans_of_days_the_latest_first(hut: Any) -> None:
    entries = {
        "a": set_(hut, "2026-01-01", humidity_set_point="90 %", exhaust="off"),
        "b": set_(hut, "2026-01-20 07:30", exhaust="on"),
        "c": set_(hut, "2026-01-20 19:00", humidity_set_point="92 %"),
        "d": set_(hut, "2026-02-03", light="12:12"),
    }
    assert [
        ("since 3 February 2026", {"humidity set point": "92 %", "light": "12 h on, 12 h off", "exhaust": "on"}),
        ("20 January to 2 February 2026", {"humidity set point": "92 %", "exhaust": "on"}),
        ("1 to 19 January 2026", {"humidity set point": "90 %", "exhaust": "off"}),
    ] == [(row.days, dict(row.sets)) for row in settings_by_period(*hut.lookup(entries))]
    assert () == settings_by_period(*hut.lookup({}))


@pytest.mark.parametrize(
    ("words", "number", "how"),
    [
        # Over saturated sodium chloride at 20 °C: 75.47 %. Source: L. Greenspan, J. Res. Natl. Bur. Stand. 81A, 1977.
        ("probe-1 read 77 % over table salt at 20 °C", "+1.5 %", "air over table salt at 20 °C has 75.5 ± 0.1 %"),
        (
            "probe-1 read 93 % over KNO3 at 20 °C",
            "−1.6 %",
            "over potassium nitrate at 20 °C has 94.6 ± 2 %",
        ),
        ("probe-1 read 74 % over table salt", "−1.5 %", "no temperature was recorded; 20 °C is assumed"),
    ],
)
def test_a_probe_checked_against_a_salt_is_shown_with_what_it_is_off_by(
    hut: Any, words: str, number: str, how: str
) -> None:
    entries = {
        "p": hut.front("device", id="probe-1", tent="hut", does="probe"),
        "a": hut.front("tent", about="hut", date="2026-11-09", serviced=words),
    }
    (check,) = checks(*hut.lookup(entries))
    assert ("probe-1", number) == (check.label.id, check.figure.number)
    assert how in check.figure.words
    assert check.figure.source is not None
    assert "Greenspan" in check.figure.source


@pytest.mark.parametrize(
    ("words", "advice"),
    [
        # Wanted 85–95 %. Over KCl 85.11 %, KNO3 94.62 %, K2SO4 97.59 % at 20 °C. Source: Greenspan, 1977, table 2.
        (
            "probe read 77 % over table salt at 20 °C",
            "not near the 85–95 % wanted: check it there too, over potassium chloride (85 % at 20 °C), "
            "potassium nitrate (95 % at 20 °C) and potassium sulphate (98 % at 20 °C)",
        ),
        ("probe read 86 % over KCl at 20 °C", None),
    ],
)
def test_a_probe_is_to_be_checked_near_what_is_wanted(hut: Any, words: str, advice: str | None) -> None:
    (check,) = checks(*hut.lookup({"a": hut.front("tent", about="hut", date="2026-11-09", serviced=words)}))
    assert (advice or "read too high") in check.figure.words
    assert (advice is None) == ("not near" not in check.figure.words)


def test_a_check_shows_no_degrees_that_the_settings_do_not_use(hut: Any) -> None:
    entries = {"a": hut.front("tent", about="hut", date="2026-11-09", serviced="probe read 74 % over table salt")}
    (check,) = checks(*hut.lookup(entries, settings='[journal]\nunits = "us"\n[tents.hut]\nname = "Hut"\n'))
    told = f"{check.figure.words} {check.figure.inputs}"
    assert "68 °F is assumed" in told
    assert "°C" not in told


def test_a_probe_of_another_tent_is_checked_on_that_tents_page(hut: Any) -> None:
    entries = {
        "p": hut.front("device", id="probe-9", tent="loft", does="probe"),
        "a": hut.front("tent", about="loft", date="2026-11-09", serviced="probe-9 read 77 % over table salt at 20 °C"),
    }
    lookup, tent = hut.lookup(entries)
    assert () == checks(lookup, tent)
    assert 1 == len(checks(lookup, lookup.settings.tents[1]))


def test_readings_by_eye_come_the_latest_first_and_settings_alone_are_none(hut: Any) -> None:
    entries = {
        "a": set_(hut, "2026-01-01", humidity_set_point="90 %"),
        "b": set_(hut, "2026-01-02 07:10", humidity_reading="91 %", co2_reading="900 ppm", door="shut"),
        "c": set_(hut, "2026-01-03", temperature_reading="15.5 °C", meter="128.4 kwh"),
    }
    later, earlier = manual_readings(*hut.lookup(entries))
    assert ("3 Jan 2026", None, "15.5 °C", None) == (later.when, later.humidity, later.temperature, later.door)
    assert ("128.4 kWh", None) == (later.meter, earlier.meter)
    assert ("2 Jan 2026, 07:10", "91 %", "900 ppm", "shut") == (
        earlier.when, earlier.humidity, earlier.co2, earlier.door,
    )  # fmt: skip


def test_what_happened_to_a_device_is_not_told_as_if_of_its_tent(hut: Any) -> None:
    """Of a device in the hut, of two in no tent, and of the hut and a device at once."""
    devices = {"fan-1": "hut", "fan-2": None, "fan-3": None}
    entries = {
        name: hut.front("device", id=name, date="2026-01-01", **({"tent": tent} if tent else {}))
        for name, tent in devices.items()
    }
    entries |= {
        f"n{name}": hut.front("note", about=name, date=f"2026-10-0{at}", stage="dead")
        for at, name in enumerate(devices, 1)
    }
    entries["both"] = hut.front("note", about="hut, fan-1", date="2026-10-05", title="Both wiped")
    entries["plain"] = hut.front("note", about="fan-1", date="2026-10-06", minutes="5")
    pages = hut.pages(entries)
    told = [" ".join(row.get_text(" ").split()) for row in pages["tents/hut/history/"].select("article.entry")]
    plain, both, dead = told[:3]
    assert dead.startswith("1 October 2026 · fan-1 dead about fan-1")
    assert both.startswith("5 October 2026 · Both wiped also about fan-1")
    assert plain.startswith("6 October 2026 about fan-1")
    homeless = [" ".join(row.get_text(" ").split()) for row in pages["tents/"].select("article.entry")]
    for day, name in ((2, "fan-2"), (3, "fan-3")):
        assert any(row.startswith(f"{day} October 2026 · {name} dead about {name}") for row in homeless), homeless
