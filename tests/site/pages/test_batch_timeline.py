"""The run on a batch's page: from entries and readings to the chart and its table."""

from __future__ import annotations

import importlib.util
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from bs4 import BeautifulSoup

from journal.model import Journal, LoggerFile
from journal.site.app import create_app
from journal.site.pages import plan_site
from journal.site.pages.batch_timeline import timeline_content
from journal.site.pages.lookup import Lookup
from journal.site.plan import Published, PublishedSize, Row
from tests.builders import entry, noted, some

TEMPLATES = Path(__file__).parents[3] / "templates"
ZONE = ZoneInfo("Europe/London")

note = partial(noted, about="B-031")


def set_on(day: str, keys: str) -> str:
    return entry("tent", keys, about="wash-house", date=day)


FILES = {
    "journal.toml": '[journal]\ntime_zone = "Europe/London"\n'
    '[tents.wash-house]\nname = "Wash-house tent"\nhumidity = "85–95 %"\ntemperature = "12–18 °C"\n'
    '[tents.net-loft]\nname = "Net-loft"\ntemperature = "4–10 °C"\n',
    "b/batch.md": "---\nkind: batch\nid: B-031\nunits: 4\nwet mass: 2.3 kg\nmoisture: 62 %\ntent: net-loft\n"
    "wants temperature: 15–22 °C\ndate: 2026-10-06\n---\n",
    "b/lost.md": note("2026-10-17", lost="1", cause="green mould"),
    "b/ready.md": note("2026-10-21", stage="colonised"),
    "b/move.md": note("2026-10-22 09:00", moved_to="wash-house"),
    "b/pins.md": note("2026-10-27", stage="pinning", photos="IMG_1.jpg"),
    "b/part.md": noted("2026-10-30", "stage: resting", "B-031.2"),
    "b/picked.md": note("2026-11-01", stage="fruiting", harvest="1290 g", flush="1"),
    "b/spent.md": note("2026-11-20", stage="spent"),
    "t/set.md": set_on("2026-10-25", "humidity set point: 92 %"),
    "t/before.md": set_on("2026-10-20", "light: 12:12"),
    "t/read.md": "---\nkind: tent\nabout: wash-house\nhumidity reading: 72 %\ndoor: open\n"
    "date: 2026-10-30 18:20\n---\n",
}
PHOTOS = {"b/IMG_1.jpg": {"taken": "2026-10-27T07:33:00+00:00", "width": 960, "height": 720}}
SIZES = (PublishedSize(320, 240, 9000, "0a"), PublishedSize(960, 720, 50000, "0a"))


def logged(tent: str, start: str, values: list[tuple[float, float]]) -> LoggerFile:
    """Readings of temperature and humidity, hour by hour."""
    first_s = datetime.fromisoformat(start).replace(tzinfo=ZONE).timestamp()
    return LoggerFile(
        path=f"climate/{tent}.csv",
        tent=tent,
        stamps_s=tuple(first_s + 3600 * at for at in range(len(values))),
        temperature_c=tuple(value for value, _ in values),
        humidity_pct=tuple(value for _, value in values),
    )


LOGS = (
    logged("net-loft", "2026-10-20T00:00", [(7.0 + at % 2 * 0.1, 70.0 + at % 3) for at in range(72)]),
    logged("wash-house", "2026-10-22T00:00", [(16.0 + at % 2 * 0.1, 90.0 + at % 3) for at in range(24 * 30)]),
)


class Built:
    def __init__(self, journal: Journal) -> None:
        published = {path: Published("p", SIZES, "data:image/webp;base64,AAAA") for path in PHOTOS}
        self.site = plan_site(journal, published)
        self.content = timeline_content(Lookup(journal, published), journal.batches[0])
        page = next(page for page in self.site.pages if page.path == "batches/b-031/index.html")
        self.chart: Row = page.context["timeline"]
        self.html = create_app(self.site.pages, TEMPLATES).test_client().get("/batches/b-031/").text
        self.soup = BeautifulSoup(self.html, "html.parser")


@pytest.fixture(scope="module")
def build(make_journal: Callable[..., Any]) -> Callable[..., Built]:
    def make(files: dict[str, str] | None = None, logs: tuple[LoggerFile, ...] = LOGS) -> Built:
        return Built(make_journal({**FILES, **(files or {})}, PHOTOS, logs=logs))

    return make


@pytest.fixture(scope="module")
def built(build: Callable[..., Built]) -> Built:
    return build()


def shown(built: Built, classes: str) -> list[str]:
    """The words of a look on a wide screen."""
    texts = [text for text in built.chart.drawing.texts if "xw" not in text.classes]
    return [text.words for text in texts if classes in text.classes.split()]


def test_a_stage_of_a_part_is_none_of_the_whole(built: Built) -> None:
    stages = [(span.stage, span.from_d) for span in built.content.spans]
    assert [
        ("inoculated", 0),
        ("colonised", 15),
        ("pinning", 21),
        ("fruiting", 26),
        ("resting", 27),
        ("spent", 45),
    ] == stages


def test_two_flushes_thirteen_days_apart_are_two_bars(build: Callable[..., Built]) -> None:
    """*Common practice*: a flush is harvested within a few days, and the next comes a week or more later."""
    files = {f"b/{name}.md": "" for name in ("part", "picked", "spent")}
    picked = {f"b/flush-{day}.md": note(f"2026-11-{day}", harvest="700 g") for day in (13, 26)}
    spans = [(span.words, span.from_d) for span in build({**files, **picked}).content.spans if not span.expected]
    assert [
        ("fruiting (from the harvest)", 38),
        ("between flushes (by the days since the harvest)", 39),
        ("fruiting (from the harvest)", 51),
    ] == spans[3:]


def test_moves_and_losses_are_under_the_stages(built: Built) -> None:
    assert ["1 lost"] == shown(built, "loss")
    assert ["to Wash-house tent"] == shown(built, "move")


def test_the_air_follows_the_batch_from_room_to_room(built: Built) -> None:
    humidity, temperature = built.content.traces
    # The loft's readings end at the move on day 16, 09:00; the tent's of that morning are not its own.
    assert 2 == len(temperature.ranges)
    # Until it was colonised, on day 15, it wanted nothing that is written.
    assert (15, pytest.approx(16.375), 15, 22) == temperature.ranges[0]
    assert (pytest.approx(16.375), 46, 15, 22) == temperature.ranges[1]
    assert ((pytest.approx(16.375), 46, 85, 95),) == humidity.ranges


def test_a_batch_wants_its_own_range_before_its_tents(built: Built) -> None:
    assert ["85–95", "15–22"] == [trace.wanted for trace in built.content.traces]


def test_where_most_of_its_time_is_too_close_to_call_the_page_says_how_to_state_the_accuracy(
    build: Callable[..., Built],
) -> None:
    """Of 90, 91 and 92 % in turn, two are within an assumed 5 % of 95; none is within 2 %."""
    said = (
        "The accuracy of a humidity sensor is not stated: ±5 % is assumed, and most of the time is too close to call. "
        "Write humidity_accuracy under its [[climate]] in journal.toml."
    )
    assert said in build().html
    assert "is assumed" not in build(logs=tuple(replace(log, humidity_accuracy_pct=2.0) for log in LOGS)).html
    calm = logged("wash-house", "2026-10-22T00:00", [(16.0, 90.0)] * 300)
    assert "is assumed" not in build(logs=(LOGS[0], calm)).html


def test_of_air_told_by_the_day_the_chart_says_what_its_line_joins(build: Callable[..., Built]) -> None:
    hours = logged("wash-house", "2026-10-22T12:00", [(16.0, 90.0), (16.5, 91.0)])
    days = replace(hours, stamps_s=(hours.stamps_s[0], hours.stamps_s[0] + 86400), by_day=True)
    content = build(logs=(days,))
    assert "the line joins the daily medians" in content.chart.foot
    assert "known by the day" in (content.chart.no_share or "")
    assert (2, ()) == (len(content.chart.days), content.chart.figures)


def test_readings_that_no_tent_has_are_counted_where_the_batch_was(build: Callable[..., Built]) -> None:
    odd = logged("wash-house", "2026-10-23T00:00", [(55.3, 90.0)] * 3 + [(16.0, 90.0 + at % 3) for at in range(700)])
    found = build(logs=(odd,)).chart
    assert [
        "3 readings of temperature, 55.3 °C, are left out: no tent has less than −10 °C or more than 45 °C"
    ] == list(found.left_out)
    (share,) = (one for one in found.figures if "in range" in one.words)
    assert (share.note or "").endswith("too close to call, within the sensor's accuracy or with a value left out")
    before = logged("wash-house", "2020-01-01T00:00", [(55.3, 90.0)] * 3)
    assert [] == list(build(logs=(before,)).chart.left_out)


def test_only_settings_of_its_days_there_are_ticks(built: Built) -> None:
    assert ["humidity 92 %"] == shown(built, "set")


def test_what_only_says_again_what_holds_is_not_a_tick(build: Callable[..., Built]) -> None:
    again = {"t/again.md": set_on("2026-10-28", "humidity set point: 92 %")}
    assert ["humidity 92 %"] == shown(build(again), "set")
    assert any("28 October 2026" in row.date for row in build(again).chart.happened)


def test_a_tick_names_all_that_an_entry_changed(build: Callable[..., Built]) -> None:
    content = build({"t/set.md": set_on("2026-10-25", "temperature set point: 15 °C\nlight colour: 6500 K")}).content
    assert [("set", "temperature 15 °C, light colour 6500 K")] == [(one.kind, one.words) for one in content.changes]
    lit = build({"t/set.md": set_on("2026-10-25", "light colour: 6500 K")}).content
    assert [("light", "light colour 6500 K")] == [(one.kind, one.words) for one in lit.changes]


def test_all_that_was_lost_on_a_day_is_one_mark(build: Callable[..., Built]) -> None:
    more = {"b/l1.md": note("2026-10-17", lost="1"), "b/l2.md": note("2026-10-18", lost="1")}
    assert ["2 lost", "1 lost"] == [one.words for one in build(more).content.happenings if one.kind == "loss"]


def test_a_move_with_no_time_of_day_stands_where_the_air_changes(build: Callable[..., Built]) -> None:
    built = build({"b/move.md": note("2026-10-22", moved_to="wash-house")})
    (move,) = [one for one in built.content.happenings if one.kind == "move"]
    assert 16 == move.at_d == built.content.traces[1].ranges[1][0]


def test_a_move_to_a_place_that_is_not_known_ends_the_air_and_is_shown(build: Callable[..., Built]) -> None:
    built = build({"b/gone.md": note("2026-10-30", moved_to="attic")})
    assert ["to Wash-house tent", "moved elsewhere"] == [
        one.words for one in built.content.happenings if one.kind == "move"
    ]
    assert pytest.approx(24, abs=0.05) == built.content.traces[1].ranges[-1][1]  # an hour off since the clocks changed


def test_what_comes_after_the_end_still_lies_on_the_axis(build: Callable[..., Built]) -> None:
    late = {"b/late.md": note("2026-11-24", harvest="90 g", flush="2")}
    built = build(late)
    assert 50 == built.content.axis.end_d
    assert all(float(bar.x.rstrip("%")) < 100 for bar in some(built.chart.drawing.bars))


def test_what_came_before_day_0_has_its_day_in_the_table_and_no_place_in_the_drawing(
    build: Callable[..., Built],
) -> None:
    built = build({"b/early.md": note("2026-10-01", lost="1")})
    assert (-5, "1 October 2026") == (built.chart.happened[0].day, built.chart.happened[0].date)
    assert all(float(line.x.rstrip("%")) >= 0 for line in some(line for line in built.chart.drawing.lines if line.x))


def test_what_happened_on_a_day_that_nobody_knows_is_in_the_table_without_a_number(
    build: Callable[..., Built],
) -> None:
    happened = build({"b/dry.md": note("2026-11", done="soaked")}).chart.happened
    (row,) = [row for row in happened if "soaked" in row.words]
    assert (None, "November 2026") == (row.day, row.date)


def test_flushes_are_shown_by_number_and_mass(build: Callable[..., Built]) -> None:
    more = {
        "b/more.md": note("2026-11-03", harvest="210 g", flush="1"),
        "b/two.md": note("2026-11-13", harvest="570 g", flush="2"),
    }
    assert ["flush 1: 1.5 kg", "flush 2: 570 g"] == [*shown(build(more), "mass")]


def test_a_reading_by_eye_is_a_dot(built: Built) -> None:
    humidity = built.content.traces[0]
    assert ((pytest.approx(24.81, abs=0.05), 72, True),) == humidity.dots


def test_the_share_in_range_is_one_tap_from_its_calculation(built: Built) -> None:
    share = built.chart.figures[0]
    assert share.number.endswith("%")
    assert "share in range" in str(share.formula)
    assert (("wanted in net-loft", "15–22 °C"), ("wanted in wash-house", "85–95 %, 15–22 °C")) == share.more


def test_the_range_wanted_while_it_colonised_is_beside_the_share(build: Callable[..., Built]) -> None:
    batch = FILES["b/batch.md"].replace("wants temp", "wants temperature while colonising: 20–24 °C\nwants temp")
    share = build({"b/batch.md": batch}).chart.figures[0]
    assert ("wanted in net-loft while colonising", "20–24 °C") == share.more[0]
    assert (("wanted in net-loft", "15–22 °C"), ("wanted in wash-house", "85–95 %, 15–22 °C")) == share.more[1:]


def test_every_figure_of_the_air_is_one_tap_from_its_calculation(built: Built) -> None:
    assert [True, True] == [bool(one.formula and one.source and one.inputs) for one in built.chart.figures]
    assert ("periods out of range", "1") in built.chart.figures[1].inputs


def test_the_air_where_it_stood_is_shown_by_median_and_range(build: Callable[..., Built]) -> None:
    loft = logged("net-loft", "2026-10-20T00:00", [(7.0, 70.0), (7.2, 72.0)])
    tent = logged("wash-house", "2026-10-22T08:00", [(30.0, 40.0), (16.0, 90.0)])  # it came at 09:00
    words = "humidity 72 % (70 to 90 %), temperature 7.2 °C (7 to 16 °C): median and range of 3 readings"
    built = build({"t/read.md": ""}, logs=(loft, tent))
    assert f"Where it was: {words}." == built.chart.medians
    assert words in " ".join(built.soup.get_text().split())


def test_the_tables_hold_what_the_chart_shows(built: Built) -> None:
    rows = [row.get_text(" ", strip=True) for row in built.soup.select(".timeline-notes tbody tr")]
    assert any(row.startswith("11 17 October 2026 1 lost: green mould") for row in rows)
    assert any("humidity set to 92\N{NO-BREAK SPACE}%" in row for row in rows)
    assert any(row.startswith("17 23 October 91 16") for row in rows)


def test_on_the_day_of_a_move_each_tent_is_shown_by_the_hours_it_stood_there(build: Callable[..., Built]) -> None:
    """It left the loft at 09:00 on day 16; what the loft was like after that is nothing to it."""
    loft = logged("net-loft", "2026-10-21T00:00", [(7.0, 70.0)] * 24 + [(8.0, 71.0)] * 9 + [(20.0, 50.0)] * 15)
    tent = logged("wash-house", "2026-10-22T00:00", [(30.0, 40.0)] * 9 + [(16.0, 90.0)] * 30)
    rows = [(row.day, row.where, row.humidity, row.temperature) for row in build(logs=(loft, tent)).chart.days]
    assert [
        (15, "Net-loft", "70", "7"),
        (16, "Net-loft", "71", "8"),
        (16, "Wash-house tent", "90", "16"),
        (17, "Wash-house tent", "90", "16"),
    ] == rows


def test_a_photograph_hangs_on_its_day_and_opens_at_a_tap(built: Built) -> None:
    (frame,) = built.chart.drawing.frames
    # 27 October, 07:33 at UTC: day 21 since the clocks went back on day 19.
    assert ("day 21", 0) == (frame.picture.words.partition(":")[0], len(frame.behind))
    link = built.soup.select_one("svg.timeline a")
    assert link is not None
    assert str(link["href"]).endswith("p-960.webp")


def test_a_photograph_with_others_behind_it_says_so_to_whoever_does_not_see_it(bench: Any) -> None:
    page = BeautifulSoup(bench.built(*bench.made(60, 40, 100))[0], "html.parser")
    counted = [link for link in page.select("svg.timeline a") if link.select_one(".tally")]
    assert counted
    assert all(str(link["aria-label"]).endswith(", and others") for link in counted)


def test_the_drawing_is_named_and_described(built: Built) -> None:
    for drawing in some(built.soup.select("svg.timeline")):
        named = [built.soup.find(id=name) for name in (drawing["aria-labelledby"], drawing["aria-describedby"])]
        assert all(one is not None and one.get_text(strip=True) for one in named)
    assert "pinning from day 21" in built.chart.desc
    assert "1.29 kg on day 26" in built.chart.desc


def test_a_run_with_no_readings_says_nothing_of_the_air(build: Callable[..., Built]) -> None:
    chart = build({"t/read.md": ""}, ()).chart
    assert ([], (), None) == (chart.drawing.paths, chart.figures, chart.no_share)


def test_a_batch_of_which_nothing_is_shown_yet_has_no_table_to_open(build: Callable[..., Built]) -> None:
    alone = {path: "" for path in FILES if path not in ("journal.toml", "b/batch.md")}
    built = build(alone, ())
    assert built.soup.select_one(".timeline-notes details") is None
    assert "table" not in built.chart.desc


def test_a_batch_whose_day_is_not_known_has_no_run(build: Callable[..., Built]) -> None:
    undated = FILES["b/batch.md"].replace("2026-10-06", "2026-10")
    built = build({"b/batch.md": undated})
    assert built.chart is None
    words = "There is no timeline, because the day of inoculation is not known (October 2026)."
    assert words in built.soup.get_text()


def test_what_is_expected_is_part_of_a_run_that_goes_on(build: Callable[..., Built]) -> None:
    culture = "---\nkind: culture\nid: PP-26A\nspecies: Pleurotus pulmonarius\nreceived from: unknown\n"
    culture += "date: 2026-09-13\n---\n"
    named = FILES["b/batch.md"].replace("units", "culture: PP-26A\nunits")
    going_on = {"c.md": culture, "b/spent.md": "", "b/picked.md": "", "b/batch.md": named}
    chart = build(going_on).chart
    assert "expected" in {box.classes for box in chart.drawing.rects}
    assert "expected next" in chart.foot


def test_temperatures_are_drawn_in_the_authors_units(build: Callable[..., Built]) -> None:
    toml = FILES["journal.toml"].replace("[journal]\n", '[journal]\nunits = "us"\n')
    temperature = build({"journal.toml": toml}).content.traces[1]
    assert ("temperature, °F", "59–71.6") == (temperature.title, temperature.wanted)


@pytest.fixture(scope="module")
def bench() -> Any:
    """The benchmark's own journal: 120 days, 40 photos, 50,000 readings."""
    spec = importlib.util.spec_from_file_location("runs", Path(__file__).parents[2] / "bench" / "timelines.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_a_long_run_of_many_photos_and_readings_stays_a_small_page(bench: Any) -> None:
    page, _ = bench.built(*bench.made(120, 40, 50_000))
    without_photos = re.sub(r"data:image/[^\"]+", "", page)
    assert 2 == page.count('class="trace"')
    assert all(len(path) <= 6 * 1024 for path in some(re.findall(r'class="trace"[^>]* d="([^"]+)"', page), 2))
    assert len(without_photos.encode()) < 65_000  # every stage has its word, laid out for three widths
