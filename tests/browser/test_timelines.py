"""A crowded run in a real browser: no words are on others at any width, and the keyboard goes from day to day."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date, timedelta
from functools import partial
from itertools import combinations
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from journal.reading.keys import STAGES
from journal.site.app import create_app
from journal.site.charts.climate_chart import Trace
from journal.site.charts.primitives import Scale
from journal.site.charts.timeline import TimelineContent, draw_timeline
from journal.site.charts.timeline_events import DayAxis, Happening, Harvest, StageSpan
from journal.site.plan import Row
from tests.browser.conftest import WIDTHS, Look
from tests.conftest import run_journal

pytestmark = pytest.mark.browser

DAY0 = date(2026, 1, 1)
TENTS = {"tub": "Tub", "stairs": "Bare room with a very long name, by the net-loft stairs"}
ROOT = Path(__file__).parents[2]
STYLES = ("tokens.css", "base.css", "parts.css", "pages.css", "timeline.css")
A4_PX = 718
"""What A4 leaves between margins of 10 mm, at 96 px an inch."""


def entries() -> dict[str, str]:
    """A batch of 400 days: flushes a month apart and some on days running, moves, losses, changes of settings."""
    found = {
        "journal.toml": "".join(f'[tents.{id}]\nname = "{name}"\nhumidity = "85–95 %"\n' for id, name in TENTS.items()),
        "b.md": f"---\nkind: batch\nid: B-1\nunits: 9\ndry mass: 800 g\ntent: tub\ndate: {DAY0}\n---\n",
    }

    def tell(name: str, day: int, keys: str, head: str = "kind: note\nabout: B-1") -> None:
        found[f"{name}-{day}.md"] = f"---\n{head}\ndate: {DAY0 + timedelta(days=day)}\n{keys}\n---\n"

    for at in range(12):
        tell("picked", 60 + at * 28, f"harvest: {300 + at * 57} g\nflush: {at + 1}")
        tell("staged", 40 + at * 30, f"stage: {('pinning', 'fruiting', 'resting')[at % 3]}")
    for at in range(4):
        tell("again", 396 + at, f"harvest: {700 - at * 150} g\nflush: 13")
        tell("moved", 200 + at, f"moved to: {'stairs' if at % 2 else 'tub'}")
        tell("lost", 201 + at, "lost: 1\ncause: gnats")
        set_it = f"humidity set point: {90 + at} %\nlight: {8 + at}:{16 - at}"
        tell("set", 20 + at, set_it, "kind: tent\nabout: tub")
        tell("read", 30 + at * 50, "humidity reading: 80 %\ntemperature reading: 15 °C", "kind: tent\nabout: tub")
    return found


@pytest.fixture(scope="module")
def crowded_site(tmp_path_factory: pytest.TempPathFactory, picture_bytes: Callable[..., bytes]) -> Path:
    room = tmp_path_factory.mktemp("crowded")
    for name, text in entries().items():
        (room / "journal" / name).parent.mkdir(parents=True, exist_ok=True)
        (room / "journal" / name).write_text(text, encoding="utf-8")
    for at in range(30):
        (room / "journal" / f"{at}.jpg").write_bytes(picture_bytes("JPEG", size=(64 + at, 48)))
        day = DAY0 + timedelta(days=at * 13)
        note = f"---\nkind: note\nabout: B-1\ndate: {day}\nphotos: {at}.jpg\n---\n"
        (room / "journal" / f"photo-{at}.md").write_text(note, encoding="utf-8")
    run_journal("build", room / "journal", "--to", room / "site", "--cache", room / "cache")
    return room / "site"


@pytest.fixture(scope="module")
def look(looking: Callable[..., Look], crowded_site: Path) -> Look:
    return looking(crowded_site)


@pytest.fixture
def run_at(look: Look) -> Callable[..., Any]:
    """The batch's page at a width, on a screen or on paper."""
    return partial(look, "batches/b-1/index.html")


BOXES = """() => [...document.querySelectorAll("svg.timeline :is(text, image)")].filter((one) => one.checkVisibility())
  .map((part) => {
    const { left, right, top, bottom } = part.getBoundingClientRect();
    return [part.tagName, part.textContent, left, right, top, bottom];
  })"""


@pytest.mark.parametrize(
    ("width", "media"),
    [(320, "null"), (360, "null"), (390, "null"), (600, "null"), (820, "null"), (1100, "null"), (1280, "null"),
     (1600, "null"), (A4_PX, "print")],
)  # fmt: skip
def test_no_words_and_no_photographs_are_on_each_other_or_leave_the_drawing(
    run_at: Callable[..., Any], width: int, media: str
) -> None:
    page = run_at(width, media=media)
    frame = page.locator(".batch-timeline").bounding_box()
    boxes = [box for box in page.evaluate(BOXES) if not box[1].startswith("+")]  # counts are on their photograph
    assert len(boxes) > 20
    assert all(frame["x"] - 1 <= box[2] and box[3] <= frame["x"] + frame["width"] + 1 for box in boxes)
    for (kind, one, left, right, top, bottom), (kind2, other, left2, right2, top2, bottom2) in combinations(boxes, 2):
        slack = 3 if "text" in (kind, kind2) else 0  # a line of text is taller than its letters
        assert right <= left2 or right2 <= left or bottom - slack <= top2 or bottom2 - slack <= top, (one, other)


CROSSED = """() => {
  const texts = [...document.querySelectorAll("svg.timeline text:not(.tally)")].filter((one) => one.checkVisibility());
  const boxes = texts.map((one) => {
    const { left, right, top, bottom } = one.getBoundingClientRect();
    return { words: one.textContent, left: left + 1, right: right - 1, top: top + 4, bottom: bottom - 4 };
  });
  const crossed = [];
  for (const shape of document.querySelectorAll("svg.timeline :is(line, path.trace, .leader path, circle, .bar)")) {
    if (!shape.checkVisibility() || shape.closest("defs")) continue;
    const matrix = shape.getScreenCTM();
    const length = shape.getTotalLength();
    for (let at = 0; at <= length; at += Math.max(2, length / 4000)) {
      const { x, y } = shape.getPointAtLength(at).matrixTransform(matrix);
      const box = boxes.find((one) => one.left < x && x < one.right && one.top < y && y < one.bottom);
      if (box) { crossed.push(`${box.words} by ${shape.outerHTML.slice(0, 80)}`); break; }
    }
  }
  return [boxes.length, crossed];
}"""


def generated(seed: int) -> TimelineContent:
    """Some batch: up to 14 stages, moves to tents of long names, losses, flushes, settings, often on days running."""
    chance = random.Random(seed)
    axis = DayAxis(DAY0, chance.choice([12, 60, 150, 400]), ZoneInfo("Europe/London"))
    days = sorted(chance.sample(range(int(axis.end_d)), chance.randint(2, min(14, int(axis.end_d) - 1))))
    stages = [chance.choice(STAGES["batch"]) for _ in days]
    spans = [
        StageSpan(stage, day, end) for stage, day, end in zip(stages, days, [*days[1:], axis.end_d - 1], strict=True)
    ]

    def some_days(most: int) -> list[float]:
        first = chance.uniform(0, axis.end_d)
        return sorted(min(axis.end_d, first + at * chance.choice([0.1, 1, 9])) for at in range(chance.randint(0, most)))

    words = ("to Bare room with a very long name, by the net-loft stairs", "to Tub", "12 lost", "moved elsewhere")
    settings = "humidity 92 %, temperature 15 °C, light 12:12, light colour 6500 K, exhaust 3 min every 15 min"
    trace = "M0 0L100 900L200 0L300 1000L400 0L500 900L600 0L700 1000L800 0L1000 900"
    return TimelineContent(
        axis,
        (*spans, StageSpan("next flush", axis.end_d - 1, axis.end_d, expected=True)),
        tuple(
            Happening("loss" if "lost" in one else "move", at, one)
            for at in some_days(9)
            for one in chance.sample(words, 2)
        ),
        tuple(Harvest(at, 9 + at, "1.29 kg", number, "1.29 kg") for number, at in enumerate(some_days(13), 1)),
        tuple(Happening("set", at, settings[: chance.randint(12, 90)]) for at in some_days(6)),
        (),
        tuple(
            Trace(title, "85–95, then 80–90, then 70–85", Scale(40, 100), trace, ((0, axis.end_d, 85, 95),))
            for title in ("humidity, %", "temperature, °C")
        ),
    )


@pytest.fixture(scope="module")
def worst_of_many(looking: Callable[..., Look], tmp_path_factory: pytest.TempPathFactory) -> Look:
    """The timelines of the three generated batches, of two hundred, that need the most height."""
    drawings = sorted((draw_timeline(generated(seed)) for seed in range(200)), key=lambda one: -one.height)
    template = create_app((), ROOT / "templates").jinja_env.get_template("batches/_timeline.html")
    room = tmp_path_factory.mktemp("worst")
    styles = "".join(f'<link rel="stylesheet" href="{(ROOT / "static" / "css" / one).as_uri()}">' for one in STYLES)
    for at, drawing in enumerate(drawings[:3]):
        words = dict.fromkeys(("title", "desc", "foot", "medians", "no_share", "degrees"), "")
        shown = Row(drawing=drawing, figures=(), happened=(), days=(), **words)
        body = template.render(timeline=shown, root="")
        page = f"<!doctype html><html data-theme=light><meta charset=utf-8>{styles}<main>{body}</main>"
        (room / f"{at}.html").write_text(page, encoding="utf-8")
    return looking(room, scripts=False)


@pytest.mark.parametrize("width", [320, 360, 390, 820, 1280])
def test_no_label_of_the_worst_batch_is_crossed_cut_or_covered(worst_of_many: Look, width: int) -> None:
    for at in range(3):
        page = worst_of_many(f"{at}.html", width)
        many, crossed = page.evaluate(CROSSED)
        assert many > 20
        assert [] == crossed
        frame, boxes = page.locator("main").bounding_box(), page.evaluate(BOXES)
        for (_, one, left, right, top, bottom), (_, other, left2, right2, top2, bottom2) in combinations(boxes, 2):
            assert right <= left2 or right2 <= left or bottom - 3 <= top2 or bottom2 - 3 <= top, (one, other)
        assert all(
            frame["x"] <= box[2] and box[3] <= frame["x"] + frame["width"] and "…" not in box[1] for box in boxes
        )


@pytest.mark.parametrize("width", [320, 360])
def test_a_page_of_many_flushes_grows_no_wider_than_a_phone(run_at: Callable[..., Any], width: int) -> None:
    inner, outer = run_at(width).evaluate(WIDTHS)
    assert outer <= inner


def test_more_is_told_where_there_is_more_room(run_at: Callable[..., Any]) -> None:
    """On the desktop the numbers are beside it, and its room is that of a tablet."""
    narrow, *wide = [len(run_at(width).evaluate(BOXES)) for width in (360, 820, 1280)]
    assert narrow < min(wide)


def test_the_keyboard_goes_through_the_photographs_by_their_days(run_at: Callable[..., Any]) -> None:
    page = run_at(1280, afresh=True)
    days = []
    page.locator("svg.timeline a").first.focus()
    while label := page.evaluate("document.activeElement.closest('svg.timeline') && document.activeElement.ariaLabel"):
        days.append(int(label.split()[1].strip(",:")))
        page.keyboard.press("Tab")
    assert len(days) > 10
    assert sorted(days) == days
