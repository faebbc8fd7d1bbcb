"""The last two weeks of a tent's air as a drawing."""

from __future__ import annotations

import re
from typing import Any

import pytest

from journal.settings import ValueRange
from journal.site.charts.climate_chart import DAYS, PLOT_PX, climate_chart, gauge
from journal.site.charts.primitives import scale_over
from journal.site.charts.xy_chart import Series, xy_chart
from journal.site.plan import Row
from tests.builders import some


def drawn(hut: Any, *logs: Any, entries: dict[str, str] | None = None, **options: Any) -> Row | None:
    lookup, tent = hut.lookup(entries or {}, *logs, **options)
    return climate_chart(lookup.analysis.climate.tents[tent.id], lookup.settings)


def test_the_numbers_of_a_small_chart_are_beside_its_plot() -> None:
    scales = scale_over([0.0, 10.0], least_span=1), scale_over([0.0, 80.0], least_span=1)
    chart = xy_chart("a", "", "", "mm", scales, [Series([(0.0, 80.0), (10.0, 0.0)])], [(0.0, "Sep")])
    numbers = [text for text in chart.drawings[0].texts if text.words.isdigit()]
    assert ["0", "20", "40", "60", "80"] == sorted((text.words for text in numbers), key=int)
    assert {("0", "end", -6)} == {(text.x, text.anchor, text.dx) for text in numbers}


@pytest.mark.parametrize("rows", [[], [("2026-11-25 06:00", 15.0, 90.0)]])
def test_nothing_is_drawn_of_fewer_than_two_readings(hut: Any, rows: list[tuple[str, float, float]]) -> None:
    assert drawn(hut, hut.log(rows)) is None


def test_fourteen_days_are_drawn_up_to_the_last_reading(hut: Any) -> None:
    rows = hut.steady("2026-11-01 00:00", 24 * 25, step_min=60)  # to 25 November 23:00
    chart = drawn(hut, hut.log(rows))
    assert chart is not None
    assert "Climate of Hut, 12 November 2026 to 25 November 2026" == chart.title
    assert DAYS == len([line for line in chart.drawings[0].lines if line.classes == "day"])
    dates = {date.words: date.x for date in chart.drawings[-1].texts}
    assert ["12 Nov", "16", "18", "20", "22", "24"] == list(dates)
    assert "28.57%" == dates["16"]


def test_a_month_is_named_again_where_it_changes(hut: Any) -> None:
    chart = drawn(hut, hut.log(hut.steady("2026-11-25 00:00", 24 * 10, step_min=60)))  # to 4 December
    assert chart is not None
    assert ["21 Nov", "25", "27", "29", "1 Dec"] == [date.words for date in chart.drawings[-1].texts]


def titles(chart: Row) -> list[str]:
    return [text.words for sheet in chart.drawings for text in sheet.texts if text.classes == "head"]


def test_the_wanted_range_lies_where_its_values_do(hut: Any) -> None:
    chart = drawn(hut, hut.log(hut.steady("2026-11-25 00:00", 2, rh_pct=90.0)))
    assert chart is not None
    assert "humidity, % (wanted 85–95)" == titles(chart)[0]
    humidity = chart.drawings[0]
    (path,), (wanted, *edges) = humidity.paths, humidity.rects
    assert [wanted.y, wanted.y + wanted.height] == pytest.approx([edge.y + edge.height / 2 for edge in edges])
    numbers_y = {text.words: text.y for text in humidity.texts}
    px_a_percent = (numbers_y["80"] - numbers_y["90"]) / 10
    grid_y = [line.from_y for line in humidity.lines if line.classes == "grid"]
    assert pytest.approx(numbers_y["90"] + 3) == min(grid_y, key=lambda y: abs(y - numbers_y["90"] - 3))
    assert pytest.approx(numbers_y["90"] + 3 - 5 * px_a_percent) == wanted.y
    assert pytest.approx(10 * px_a_percent) == wanted.height
    assert ("0%", "100%") == (wanted.x, wanted.width)
    assert path.y <= wanted.y <= wanted.y + wanted.height <= path.y + PLOT_PX


def test_a_dip_of_one_reading_is_in_the_line(hut: Any) -> None:
    rows = hut.steady("2026-11-12 00:00", 24 * 14)
    rows[700] = (rows[700][0], 15.0, 60.0)
    chart = drawn(hut, hut.log(rows))
    assert chart is not None
    assert min(float(text.words) for text in chart.drawings[0].texts if text.classes == "tick") <= 60
    steps = [int(step) for step in re.findall(r"[vl]\d* ?(-?\d+)", chart.drawings[0].paths[0].d)]
    assert max(abs(step) for step in steps) > 500  # over half of the plot's height, of 1000


def test_many_readings_make_a_short_path(hut: Any) -> None:
    chart = drawn(hut, hut.log(hut.steady("2026-11-12 00:00", 24 * 14, step_min=1)))  # 20,160 rows
    assert chart is not None
    assert all(len(path.d) < 6200 for sheet in some(chart.drawings) for path in sheet.paths)


def test_dots_are_what_was_read_by_eye_and_hollow_with_the_door_open(hut: Any) -> None:
    entries = {
        "a": hut.front("tent", about="hut", date="2026-11-25 00:35", humidity_reading="88 %", door="shut"),
        "b": hut.front("tent", about="hut", date="2026-11-25 12:00", humidity_reading="70 %", door="open"),
    }
    chart = drawn(hut, hut.log(hut.steady("2026-11-25 00:00", 2)), entries=entries)
    assert chart is not None
    assert ["eye", "open"] == [dot.classes for dot in chart.drawings[0].dots]
    assert f"{13.5 / 14 * 100:.2f}%" == chart.drawings[0].dots[1].x
    assert [] == chart.drawings[1].dots  # no temperature was read manually


def test_a_measure_that_was_never_read_has_no_strip(hut: Any) -> None:
    rows = [(stamp, None, rh_pct) for stamp, _, rh_pct in hut.steady("2026-11-25 00:00", 2)]
    chart = drawn(hut, hut.log(rows))
    assert chart is not None
    assert ["humidity, % (wanted 85–95)"] == titles(chart)


def test_a_tent_that_wants_nothing_has_no_range_and_no_word_of_one(hut: Any) -> None:
    settings = '[tents.hut]\nname = "Hut"\n'
    chart = drawn(hut, hut.log(hut.steady("2026-11-25 00:00", 2)), settings=settings)
    assert chart is not None
    assert [[], [], []] == [sheet.rects for sheet in chart.drawings]
    assert ["humidity, %", "temperature, °C"] == titles(chart)
    assert "shaded" not in chart.foot


def test_temperature_is_drawn_in_the_units_of_the_settings(hut: Any) -> None:
    settings = '[journal]\nunits = "us"\n[tents.hut]\nname = "Hut"\ntemperature = "50–68 °F"\n'
    chart = drawn(hut, hut.log(hut.steady("2026-11-25 00:00", 2, air_c=15.0)), settings=settings)
    assert chart is not None
    assert "temperature, °F (wanted 50–68)" == titles(chart)[1]
    assert {"50", "60"} <= {text.words for text in chart.drawings[1].texts}


@pytest.mark.parametrize(
    ("value", "read", "edges", "dot", "bar"),
    [
        (90.0, None, ["25%", "75%"], ("50%", "eye"), None),  # half a range beyond 85–95: 80 to 100
        (88.0, (86.0, 94.0), ["25%", "75%"], ("40%", "eye"), ("30%", "40%")),
        (75.0, (75.0, 85.0), ["40%", "80%"], ("0%", "out"), ("0%", "40%")),  # as far as what was read: 75 to 100
        (90.0, (90.0, 90.0), ["25%", "75%"], ("50%", "eye"), None),
    ],
)
def test_a_gauge_has_the_reading_and_that_day_beside_the_wanted_range(
    value: float, read: tuple[float, float] | None, edges: list[str], dot: tuple[str, str], bar: tuple[str, str] | None
) -> None:
    drawn = gauge(ValueRange(85, 95), value, read, within=(0, 100))
    assert edges == [line.x for line in drawn.lines]
    assert [dot] == [(one.x, one.classes) for one in drawn.dots]
    assert ([bar] if bar else []) == [(rect.x, rect.width) for rect in drawn.rects if rect.classes == "read"]


def test_a_gauge_ends_where_its_measure_does() -> None:
    drawn = gauge(ValueRange(90, 100), 95, within=(0, 100))
    assert ["33.33%", "100%"] == [line.x for line in drawn.lines]
