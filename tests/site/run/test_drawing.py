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
        "picked": (Picked(26, 1290, "1.29 kg"), Picked(38, 570, "570 g")),
        "changes": (),
        "pictures": (),
        "traces": (AIR,),
    }
    return Told(**{**whole, **parts})  # type: ignore[arg-type]


def test_everything_lies_within_the_drawing() -> None:
    sheet = drawn(told())
    assert all(0 <= box.y and box.y + box.height <= sheet.height for box in sheet.boxes)
    assert all(0 <= text.y <= sheet.height for text in sheet.texts)
    assert all(float(text.x.rstrip("%")) <= 100 for text in sheet.texts)


def test_stages_stand_at_their_days() -> None:
    boxes = {box.look: (box.x, box.width) for box in drawn(told()).boxes}
    assert ("42%", "10%") == boxes["stage pinning"]
    assert ("90%", "10%") == boxes["expected"]


def test_the_tallest_bar_is_the_greatest_harvest() -> None:
    first, second = drawn(told()).bars
    assert pytest.approx(570 / 1290) == second.height / first.height
    assert ("52%", "76%") == (first.x, second.x)


def test_the_wanted_band_covers_its_part_of_the_scale() -> None:
    sheet = drawn(told())
    (panel,) = sheet.panels
    band = next(box for box in sheet.boxes if box.look == "band")
    assert pytest.approx(panel.height / 4) == band.height
    assert pytest.approx(panel.y + panel.height / 8) == band.y


def test_readings_with_the_door_open_look_otherwise() -> None:
    assert ["eye", "open"] == [dot.look for dot in drawn(told()).dots]


def test_a_stage_too_short_for_its_name_has_a_shorter_one_or_none() -> None:
    spans = (Span("pinning", 0, 6), Span("resting", 6, 50), Span("fruiting", 20, 21))
    words = [(text.words, text.look) for text in drawn(told(spans=spans)).texts if "on-stage" in text.look]
    phone, wide = ("pins", "on-stage n"), ("pinning", "on-stage w")
    assert [phone, wide, ("resting", "on-stage")] == words


def test_a_lone_photograph_opens_and_several_lead_to_their_day() -> None:
    def picture(at_d: float, name: str) -> HungPicture:
        return HungPicture(at_d, f"{name}-320.webp", f"{name}-1600.webp", f"#{name}", f"day {int(at_d)}")

    pictures = (picture(5, "a"), picture(30, "b"), picture(30.1, "c"), picture(30.2, "d"))
    frames = drawn(told(pictures=pictures)).frames
    hung = {one.picture.anchor: (one.lane, one.only, one.behind_narrow, one.behind_wide) for one in frames}
    assert {"#a": (0, "", 0, 0), "#b": (0, "", 0, 0), "#c": (1, "", 1, 1)} == hung


def test_a_wide_screen_shows_photographs_that_a_phone_has_no_room_for() -> None:
    pictures = tuple(HungPicture(20 + at, f"{at}", "", f"#{at}", "") for at in (0, 4, 8))
    frames = drawn(told(pictures=pictures)).frames
    hung = {one.picture.anchor: (one.only, one.behind_narrow, one.behind_wide) for one in frames}
    assert {"#0": ("", 0, 0), "#4": ("", 1, 0), "#8": ("w", 0, 0)} == hung


def test_a_photograph_at_the_edge_is_moved_inside() -> None:
    pictures = (HungPicture(0, "a", "", "", ""), HungPicture(50, "b", "", "", ""))
    assert [32, -32] == [one.shift_px for one in drawn(told(pictures=pictures)).frames]


def test_changes_stand_beneath_the_air() -> None:
    sheet = drawn(told(changes=(Happening("set", 18, "humidity 92 %"),)))
    words = next(text for text in sheet.texts if text.look == "set")
    assert ("humidity 92 %", "36%") == (words.words, words.x)
    assert words.y > sheet.panels[-1].y + sheet.panels[-1].height


def test_day_ticks_are_whole_days() -> None:
    ticks = [(text.words, text.look) for text in drawn(told()).texts if "tick" in text.look and "%" in text.x]
    assert ["0", "10", "20", "30", "40", "50"] == [words for words, look in ticks if look == "tick"]
    assert {"tick w"} == {look for words, look in ticks if words in ("5", "15")}
