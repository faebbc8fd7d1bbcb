"""The run of a batch, drawn for a phone and for a wide screen."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import pytest

from journal.site.charts import Scale
from journal.site.run.axis import Axis
from journal.site.run.drawing import HungPicture, Told, Trace, drawn
from journal.site.run.happenings import Happening, Picked, Span

AXIS = Axis(date(2026, 10, 6), 50, ZoneInfo("Europe/London"))
AIR = Trace("humidity, %", "85–95", Scale(60, 100), "M0 0h1", ((16, 50, 85, 95),), ((20, 91, False), (24, 72, True)))


def told(**parts: object) -> Told:
    whole = {
        "axis": AXIS,
        "spans": (Span("inoculated", 0, 15), Span("pinning", 21, 26), Span("harvest", 45, 50, expected=True)),
        "happenings": (Happening("loss", 11, "1 lost"),),
        "picked": (Picked(26, 1290, 1, "1.29 kg", "#2026-11-01"), Picked(38, 570, 2, "570 g", "#2026-11-13")),
        "changes": (),
        "pictures": (),
        "traces": (AIR,),
    }
    return Told(**{**whole, **parts})  # type: ignore[arg-type]


@pytest.mark.parametrize("wide", [False, True])
def test_everything_lies_within_the_drawing(wide: bool) -> None:
    sheet = drawn(told(), wide)
    assert all(0 <= box.y and box.y + box.height <= sheet.height for box in sheet.boxes)
    assert all(0 <= text.y <= sheet.height for text in sheet.texts)
    assert all(float(text.x.rstrip("%")) <= 100 for text in sheet.texts)


def test_stages_stand_at_their_days() -> None:
    boxes = {box.look: (box.x, box.width) for box in drawn(told(), wide=True).boxes}
    assert ("42%", "10%") == boxes["stage pinning"]
    assert ("90%", "10%") == boxes["expected"]


def test_the_tallest_bar_is_the_greatest_harvest() -> None:
    first, second = drawn(told(), wide=False).bars
    assert pytest.approx(570 / 1290) == second.height / first.height
    assert ("52%", "76%") == (first.x, second.x)


def test_the_wanted_band_covers_its_part_of_the_scale() -> None:
    sheet = drawn(told(), wide=True)
    (panel,) = sheet.panels
    band = next(box for box in sheet.boxes if box.look == "band")
    assert pytest.approx(panel.height / 4) == band.height
    assert pytest.approx(panel.y + panel.height / 8) == band.y


def test_readings_with_the_door_open_look_otherwise() -> None:
    assert ["eye", "open"] == [dot.look for dot in drawn(told(), wide=True).dots]


def test_a_stage_too_short_for_its_name_has_a_shorter_one_or_none() -> None:
    spans = (Span("pinning", 0, 6), Span("resting", 6, 50), Span("fruiting", 20, 21))
    words = [text.words for text in drawn(told(spans=spans), wide=False).texts if text.look == "on-stage"]
    assert ["pins", "resting"] == words


def test_a_lone_photograph_opens_and_several_lead_to_their_day() -> None:
    def picture(at_d: float, name: str) -> HungPicture:
        return HungPicture(at_d, f"{name}-320.webp", f"{name}-1600.webp", f"#{name}", f"day {int(at_d)}")

    pictures = (picture(5, "a"), picture(30, "b"), picture(30.1, "c"), picture(30.2, "d"))
    frames = drawn(told(pictures=pictures), wide=False).frames
    assert [("a-320.webp", 0), ("b-320.webp", 0), ("c-320.webp", 1)] == [(one.small, one.count) for one in frames]
    assert "day 30, and 1 more" == frames[2].words


def test_changes_stand_beneath_the_air() -> None:
    sheet = drawn(told(changes=(Happening("set", 18, "humidity 92 %"),)), wide=True)
    words = next(text for text in sheet.texts if text.look == "set")
    assert ("humidity 92 %", "36%") == (words.words, words.x)
    assert words.y > sheet.panels[-1].y + sheet.panels[-1].height


def test_day_ticks_are_whole_days() -> None:
    ticks = [text.words for text in drawn(told(), wide=False).texts if text.look == "tick" and "%" in text.x]
    assert ["0", "10", "20", "30", "40", "50"] == ticks
