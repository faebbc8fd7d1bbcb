"""The timeline of a batch, drawn once for a phone, a tablet or paper, and a wide screen."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import pytest

from journal.site.charts.axis_labels import WIDTHS_PX, hidden_except_at
from journal.site.charts.climate_chart import Trace
from journal.site.charts.primitives import Scale
from journal.site.charts.timeline import TimelineContent, TimelinePhoto, draw_timeline
from journal.site.charts.timeline_events import DayAxis, Happening, Harvest, StageSpan
from tests.builders import some

AXIS = DayAxis(date(2026, 10, 6), 50, ZoneInfo("Europe/London"))
AIR = Trace("humidity, %", "85–95", Scale(60, 100), "M0 0h1", ((16, 50, 85, 95),), ((20, 91, False), (24, 72, True)))


def content(**parts: object) -> TimelineContent:
    whole = {
        "axis": AXIS,
        "spans": (
            StageSpan("inoculated", 0, 15),
            StageSpan("pinning", 21, 26),
            StageSpan("harvest", 45, 50, expected=True),
        ),
        "happenings": (Happening("loss", 11, "1 lost"),),
        "harvests": (Harvest(26, 1290, "1.29 kg", 1, "1.29 kg"), Harvest(38, 570, "570 g", 2, "570 g")),
        "changes": (),
        "pictures": (),
        "traces": (AIR,),
    }
    return TimelineContent(**{**whole, **parts})  # type: ignore[arg-type]


def test_everything_lies_within_the_drawing() -> None:
    sheet = draw_timeline(content())
    assert all(0 <= box.y and box.y + box.height <= sheet.height for box in some(sheet.rects))
    assert all(0 <= text.y <= sheet.height for text in some(sheet.texts))
    assert all(float(text.x.rstrip("%")) <= 100 for text in sheet.texts)


def test_stages_stand_at_their_days() -> None:
    boxes = {box.classes: (box.x, box.width) for box in draw_timeline(content()).rects}
    assert ("42%", "10%") == boxes["stage tone-1 pinning"]
    assert ("90%", "10%") == boxes["expected"]


def test_the_tallest_bar_is_the_greatest_harvest() -> None:
    first, second = draw_timeline(content()).bars
    assert pytest.approx(570 / 1290) == second.height / first.height
    assert ("52%", "76%") == (first.x, second.x)


def harvests(days: list[float], flushes: list[int | None]) -> tuple[Harvest, ...]:
    rows = zip(days, flushes, strict=True)
    return tuple(Harvest(day, 100, "100 g", flush, "300 g") for day, flush in rows)


def test_each_flush_has_its_number_and_its_mass_above_its_first_bar() -> None:
    sheet = draw_timeline(content(harvests=harvests([10, 11, 30, 40], [1, 1, 2, None])))
    words = {text.words: text.x for text in sheet.texts if "mass" in text.classes}
    assert {"flush 1: 300 g": "20%", "flush 2: 300 g": "60%", "300 g": "80%"} == words
    assert ["bar", "bar", "bar next", "bar"] == [bar.classes for bar in sheet.bars]


def test_no_words_of_a_harvest_stand_as_low_as_a_bar() -> None:
    sheet = draw_timeline(content(harvests=harvests([4.0 * at for at in range(12)], list(range(1, 13)))))
    words = [text.y for text in sheet.texts if "mass" in text.classes]
    assert words
    assert max(words) < min(bar.y for bar in sheet.bars)


def test_bars_of_neighbouring_days_do_not_cover_each_other_on_a_phone() -> None:
    sheet = draw_timeline(content(harvests=harvests([20, 21, 22], [1, 1, 1])))
    assert {5} == {bar.width for bar in sheet.bars}
    assert WIDTHS_PX["n"] / 50 >= 5


@pytest.mark.parametrize("at_d", [0, 13, 25, 37, 50])
def test_a_long_name_is_told_whole_in_several_lines_wherever_it_stands(at_d: int) -> None:
    name = "to Bare room with a very long name, by the net-loft stairs"
    texts = draw_timeline(content(happenings=(Happening("move", at_d, name),))).texts
    for width in WIDTHS_PX:
        lines = [one.words for one in texts if one.classes.startswith("move") and f"x{width}" not in one.classes]
        assert name == " ".join(lines)


def test_the_wanted_range_covers_its_part_of_the_scale() -> None:
    sheet = draw_timeline(content())
    (path,) = sheet.paths
    range_ = next(box for box in sheet.rects if box.classes == "range")
    assert pytest.approx(path.height / 4) == range_.height
    assert pytest.approx(path.y + path.height / 8) == range_.y


def test_readings_with_the_door_open_look_otherwise() -> None:
    assert ["eye", "open"] == [dot.classes for dot in draw_timeline(content()).dots]


def test_a_part_is_hidden_at_each_width_that_has_no_room_for_it() -> None:
    assert ["n", "m", "w"] == list(WIDTHS_PX)
    assert ["", "xn", "xm xw"] == [hidden_except_at(widths) for widths in ("nmw", "mw", "n")]


def test_stages_have_shorter_names_where_there_is_little_room() -> None:
    spans = tuple(
        StageSpan(stage, 5 * at, 5 * at + 5) for at, stage in enumerate(("pinning", "fruiting", "resting") * 3)
    )
    texts = [text for text in draw_timeline(content(spans=spans, happenings=())).texts if "on-stage" in text.classes]
    shown = {width: {text.words for text in texts if f"x{width}" not in text.classes} for width in WIDTHS_PX}
    assert {"pins", "fruits", "rest"} == shown["n"]
    assert {"pinning", "fruiting", "between flushes"} == shown["w"]


@pytest.mark.parametrize("name", ["n", "m", "w"])
@pytest.mark.parametrize("days", [(1, 2, 3, 7, 25), tuple(range(1, 30)), (46, 47, 48, 49)])
def test_every_stage_shows_its_word_at_every_width(name: str, days: tuple[int, ...]) -> None:
    ends = (*days[1:], 50)
    spans = tuple(StageSpan(("fruiting", "pinning")[at % 2], at, end) for at, end in zip(days, ends, strict=True))
    texts = [text for text in draw_timeline(content(spans=spans)).texts if "on-stage" in text.classes]
    assert sorted(AXIS.scale.percent(at) for at in days) == sorted(t.x for t in texts if f"x{name}" not in t.classes)


def picture(at_d: float, name: str) -> TimelinePhoto:
    return TimelinePhoto(at_d, f"{name}-320.webp", f"{name}-1600.webp", f"#{name}", f"day {int(at_d)}")


def test_a_lone_photograph_opens_and_several_lead_to_their_day() -> None:
    pictures = (picture(5, "a"), picture(30, "b"), picture(30.1, "c"), picture(30.2, "d"))
    frames = draw_timeline(content(pictures=pictures)).frames
    hung = {one.picture.anchor: (one.lane, one.hidden, one.behind) for one in frames}
    assert {"#a": (0, "", ()), "#b": (0, "", ()), "#c": (1, "", ((1, ""),))} == hung


def test_a_wider_screen_shows_photographs_that_a_phone_has_no_room_for() -> None:
    pictures = tuple(picture(20 + at, f"{at}") for at in (0, 4, 8))
    hung = {one.picture.anchor: (one.hidden, one.behind) for one in draw_timeline(content(pictures=pictures)).frames}
    assert {"#0": ("", ()), "#4": ("", ((1, "xm xw"),)), "#8": ("xn", ())} == hung


def test_photographs_come_in_the_order_of_their_days_whichever_lane_they_hang_in() -> None:
    """So a keyboard goes through them."""
    pictures = tuple(picture(2 * at, f"{at}") for at in range(25))
    frames = draw_timeline(content(pictures=pictures)).frames
    assert 2 == len({frame.lane for frame in frames})
    days = [frame.picture.at_d for frame in frames]
    assert sorted(days) == days


def test_photographs_of_one_place_share_a_thread() -> None:
    sheet = draw_timeline(content(pictures=(picture(20, "a"), picture(20.001, "b"), picture(40, "c"))))
    assert ["40%", "80%"] == [line.x for line in sheet.lines if line.classes.startswith("thread")][:2]
    assert 3 == len(sheet.frames)


def test_threads_are_painted_before_every_photograph_and_end_at_the_stages() -> None:
    sheet = draw_timeline(content(pictures=(picture(20, "a"), picture(21, "b"))))
    threads = [line for line in sheet.lines if line.classes.startswith("thread")][:2]
    assert [64, 70 + 64] == sorted(line.from_y for line in threads)
    assert {sheet.rects[0].y} == {line.to_y for line in threads}


def test_a_photograph_at_the_edge_is_moved_inside() -> None:
    pictures = (picture(0, "a"), picture(50, "b"))
    assert [32, -32] == [one.shift_px for one in draw_timeline(content(pictures=pictures)).frames]


def test_changes_stand_beneath_the_air() -> None:
    sheet = draw_timeline(content(changes=(Happening("set", 18, "humidity 92 %"),)))
    words = next(text for text in sheet.texts if text.classes == "set")
    assert ("humidity 92 %", "36%") == (words.words, words.x)
    assert words.y > sheet.paths[-1].y + sheet.paths[-1].height


def test_day_ticks_are_whole_days() -> None:
    ticks = [
        (text.words, text.classes)
        for text in draw_timeline(content()).texts
        if "tick" in text.classes and "%" in text.x
    ]
    assert ["0", "10", "20", "30", "40", "50"] == [words for words, classes in ticks if classes == "tick"]
    assert {"tick xn xm"} == {classes for words, classes in ticks if words in ("5", "15")}
