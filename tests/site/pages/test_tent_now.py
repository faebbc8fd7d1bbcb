"""A tent at one glance."""

from __future__ import annotations

from typing import Any

import pytest

from journal.site.pages.tent_now import MOST_PERIODS, glance, out_of_range

DAY = "2026-11-25"


@pytest.mark.parametrize(
    ("row", "accuracy_pct", "state", "verdict"),
    [
        ((15.0, 90.0), None, "in", "In range"),
        ((15.0, 80.0), 0.0, "out", "Out of range: too dry"),
        ((19.0, 96.0), 0.0, "out", "Out of range: too damp, too warm"),
        ((15.0, 86.0), None, "unsure", "Too close to call (sensor accuracy ±5\N{NO-BREAK SPACE}%, assumed)"),
        ((15.0, 86.0), 3.0, "unsure", "Too close to call (sensor accuracy ±3\N{NO-BREAK SPACE}%)"),
        ((None, 90.0), None, "unsure", "In range as far as it was read"),
    ],
)
def test_the_verdict_on_the_last_reading_is_shown_in_a_few_words(
    hut: Any, row: tuple[float | None, float | None], accuracy_pct: float | None, state: str, verdict: str
) -> None:
    found = glance(*hut.lookup({}, hut.log([(f"{DAY} 06:00", *row)], accuracy_pct)))
    assert (state, verdict) == (found.state, found.verdict)


def test_on_one_line_the_verdict_leaves_out_the_accuracy_only(hut: Any) -> None:
    keys = {"about": "hut", "date": f"{DAY} 07:10", "humidity_reading": "86 %", "door": "open"}
    found = glance(*hut.lookup({"e": hut.front("tent", **keys)}))
    assert "Too close to call, but the door was open" == found.in_short


def test_a_reading_has_a_gauge_with_all_that_was_read_that_day(hut: Any) -> None:
    rows = [("2026-11-24 06:00", 10.0, 50.0), (f"{DAY} 05:00", 15.0, 88.0), (f"{DAY} 06:00", 15.0, 90.0)]
    humidity, temperature = glance(*hut.lookup({}, hut.log(rows))).values
    assert [("40%", "10%")] == [(one.x, one.width) for one in humidity.gauge.rects if one.classes == "read"]
    assert ["50%"] == [one.x for one in temperature.gauge.dots]
    loft, _ = hut.lookup({}, hut.log(rows, tent="loft"))
    assert [None, None] == [value.gauge for value in glance(loft, loft.settings.tents[1]).values]


def test_now_has_what_is_due_then_the_climate_then_what_grows_by_need(hut: Any) -> None:
    batch = hut.front("batch", id="B-1", date="2026-10-06", tent="hut", next="2026-11-26 turn the blocks")
    page = hut.pages({"b": batch}, hut.log([(f"{DAY} 06:00", 15.0, 90.0)]))[""]
    assert ["Due", "Climate", "Growing", "Latest"] == [head.get_text() for head in page.select("main h2")]
    (line,) = page.select(".air:has(.value)")
    assert 2 == len(line.select("svg.gauge circle"))
    facts = [" ".join(fact.get_text().split()) for fact in page.select("#growing ~ ul p")]
    assert "Next, as noted: turn the blocks, 26 November 2026" == facts[1]
    assert "inoculated 6 October 2026" == facts[2]


def test_gauges_are_explained_only_where_there_are_some(hut: Any) -> None:
    assert "The dot is" not in hut.pages({})[""].get_text()
    assert "The dot is" in hut.pages({}, hut.log([(f"{DAY} 06:00", 15.0, 90.0)]))[""].get_text()


def test_how_long_it_has_been_out_of_range_is_shown_with_it(hut: Any) -> None:
    rows = hut.steady(f"{DAY} 00:00", 4) + hut.steady(f"{DAY} 04:00", 3, rh_pct=70.0)
    # Out from 03:52:30, half-way between two readings, to half an hour after the last one, 06:45: 3.4 h.
    assert "Out of range: too dry for 3.4 h" == glance(*hut.lookup({}, hut.log(rows))).verdict


def test_each_value_is_shown_with_what_is_wanted_and_how_sure_it_is(hut: Any) -> None:
    found = glance(*hut.lookup({}, hut.log([(f"{DAY} 06:00", 15.2, 86.0)], 3.0)))
    assert [
        ("86 %", "wanted 85–95 %", "unsure"),
        ("15.2 °C", "wanted 12–18 °C", "in"),
    ] == [(value.number, value.wanted, value.state) for value in found.values]


def test_a_reading_is_shown_with_when_and_by_what(hut: Any) -> None:
    eye = {"e": hut.front("tent", about="hut", date=f"{DAY} 07:10", humidity_reading="88 %")}
    manual = glance(*hut.lookup(eye))
    logged = glance(*hut.lookup({}, hut.log([(f"{DAY} 06:00", 15.0, 90.0)])))
    assert ("25 November 2026, 07:10, manual reading", "25 November 2026, 06:00, logger") == (
        manual.read,
        logged.read,
    )
    assert "2026-11-25T07:10:00+00:00" == manual.read_iso


def test_what_was_read_since_with_the_door_open_is_beside_it(hut: Any) -> None:
    keys = {"about": "hut", "date": f"{DAY} 07:10", "humidity_reading": "70 %", "door": "open"}
    found = glance(*hut.lookup({"e": hut.front("tent", **keys)}, hut.log([(f"{DAY} 06:00", 15.0, 90.0)])))
    assert "In range" == found.verdict
    assert "Later, with the door open: 70 % (25 November 2026, 07:10, manual reading)" == found.since


def test_where_only_an_open_door_was_read_the_verdict_says_so(hut: Any) -> None:
    keys = {"about": "hut", "date": f"{DAY} 07:10", "humidity_reading": "70 %", "door": "open"}
    found = glance(*hut.lookup({"e": hut.front("tent", **keys)}))
    assert found.verdict == "Out of range: too dry, but the door was open"
    assert found.since is None


def test_what_is_set_and_when_the_lamp_is_lit_are_shown(hut: Any) -> None:
    keys = {"about": "hut", "humidity_set_point": "92 %", "temperature_set_point": "15 °C", "light": "06:30–18:30"}
    found = glance(*hut.lookup({"s": hut.front("tent", **keys)}))
    assert ("humidity set to 92 %", "temperature set to 15 °C") == found.set_points
    assert ("06:30–18:30 (12 h)", "06:30", "18:30") == (found.light, found.lit_from, found.lit_to)


def test_a_tent_with_no_reading_and_no_setting_says_nothing_of_either(hut: Any) -> None:
    found = glance(*hut.lookup({}))
    assert ("none", None, (), None, (), None) == (
        found.state, found.verdict, found.values, found.read, found.set_points, found.light,
    )  # fmt: skip


def test_without_a_range_there_is_no_verdict_on_the_air(hut: Any) -> None:
    lookup, _ = hut.lookup({}, hut.log([(f"{DAY} 06:00", 15.0, 90.0)], tent="loft"))
    found = glance(lookup, lookup.settings.tents[1])
    assert ("none", "The settings have no range for this tent") == (found.state, found.verdict)
    assert [None, None] == [value.wanted for value in found.values]


def test_temperatures_come_in_the_units_of_the_settings(hut: Any) -> None:
    settings = '[journal]\nunits = "us"\n[tents.hut]\nname = "Hut"\ntemperature = "50–59 °F"\n'
    found = glance(*hut.lookup({}, hut.log([(f"{DAY} 06:00", 10.0, 90.0)]), settings=settings))
    assert ("50 °F", "wanted 50–59 °F") == (found.values[1].number, found.values[1].wanted)


def test_periods_of_all_tents_come_the_latest_first_and_only_the_last_few(hut: Any) -> None:
    def periods(tent: str, minute: str) -> Any:
        rows = [(f"2026-11-{day:02} {clock}:{minute}", 15.0, 70.0) for day in range(1, 10) for clock in ("06", "07")]
        return hut.log(rows, tent=tent)

    settings = "".join(f'[tents.{name}]\nname = "{name}"\nhumidity = "85–95 %"\n' for name in ("hut", "loft"))
    lookup, _ = hut.lookup({}, periods("hut", "00"), periods("loft", "10"), settings=settings)
    rows = out_of_range(lookup)
    assert 2 * MOST_PERIODS == len(rows)
    assert [("loft", "2026-11-09"), ("hut", "2026-11-09"), ("loft", "2026-11-08")] == [
        (row.label.id, row.iso) for row in rows[:3]
    ]
    assert "too dry for 2 h, as far as 70 %" == rows[0].words


def test_a_period_on_both_sides_is_shown_with_its_furthest_values(hut: Any) -> None:
    rows = [(f"{DAY} 06:00", 10.0, 80.0), (f"{DAY} 06:30", 9.5, 70.0), (f"{DAY} 07:00", 11.0, 75.0)]
    (row,) = out_of_range(hut.lookup({}, hut.log(rows))[0])
    assert "too dry and too cold for 2 h, as far as 70 % and 9.5 °C" == row.words


def test_what_no_tent_has_is_no_alarm_and_is_said_while_it_is_what_was_read_last(hut: Any) -> None:
    odd = [(f"{DAY} 05:00", 55.3, 90.0), (f"{DAY} 06:00", 60.5, 90.0)]
    lookup, tent = hut.lookup({}, hut.log(odd))
    found = glance(lookup, tent)
    assert ("unsure", "In range as far as it was read") == (found.state, found.verdict)
    assert ["2 readings of temperature"] == [words.partition(",")[0] for words in found.left_out]
    assert not out_of_range(lookup)
    later = [*odd, (f"{DAY} 07:00", 15.0, 90.0)]
    assert [] == glance(*hut.lookup({}, hut.log(later))).left_out
    only = glance(*hut.lookup({}, hut.log([(f"{DAY} 06:00", 60.5, None)])))
    assert ((), 1) == (only.values, len(only.left_out))
    page = hut.pages({}, hut.log([(f"{DAY} 06:00", 60.5, None)]))[""].get_text()
    assert "1 reading of temperature, 60.5 °C, is left out" in page.replace("\xa0", " ")
    assert "No readings of humidity or temperature yet" not in page.partition("left out")[0]
