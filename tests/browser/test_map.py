"""The sketch map in a real browser: as the Python draws it, moved by fingers, wheel and keys, with the list beside."""

from __future__ import annotations

import random
from itertools import combinations
from math import hypot
from pathlib import Path
from typing import Any

import pytest

from journal.geo.flat_map import FlatMap
from journal.site.charts.sketch_map import clustered, round_below

pytestmark = pytest.mark.browser

CANVAS = "canvas.map"
SHOWN = f"""() => {{
  const {{ x, y, scale, marks }} = document.querySelector("{CANVAS}").shown;
  return {{ x, y, scale, marks }};
}}"""
PINCH = """([from, to]) => {
  const canvas = document.querySelector("canvas.map");
  const box = canvas.getBoundingClientRect();
  const send = (type, pointerId, x) => canvas.dispatchEvent(new PointerEvent(type, {pointerId, pointerType: "touch",
    clientX: box.left + box.width / 2 + x, clientY: box.top + box.height / 2, bubbles: true, cancelable: true}));
  canvas.setPointerCapture = () => {};
  send("pointerdown", 1, -from); send("pointerdown", 2, from);
  for (let at = 1; at <= 4; at += 1) {
    const apart = from + ((to - from) * at) / 4;
    send("pointermove", 1, -apart); send("pointermove", 2, apart);
  }
  send("pointerup", 1, -to); send("pointerup", 2, to);
}"""


@pytest.fixture
def finds(tab: Any, sample_site: Path) -> Any:
    """The sample's finds from their folder, with the map in view."""
    page = tab.afresh((sample_site / "finds/index.html").as_uri()).page
    tab.until(f"document.querySelector('{CANVAS}')?.shown.marks.length > 0")
    page.locator(CANVAS).scroll_into_view_if_needed()
    return page


def shown(page: Any) -> Any:
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")
    return page.evaluate(SHOWN)


def test_the_script_calculates_as_the_python_does(finds: Any) -> None:
    places = [(58.3, -8.9), (58.31, -8.87), (58.3, 171.1), (-58.3, 0.0), (90.0, 0.0), (58.3, -8.9000001)]
    for centre in ((58.3, -8.9), (0.0, 179.999), (-90.0, 20.0)):
        flat = FlatMap(*centre)
        script = "([lat, lon, places]) => places.map((p) => journalMap.flatMap(lat, lon).metres(...p))"
        found = finds.evaluate(script, [*centre, places])
        for place, (x, y) in zip(places, found, strict=True):
            assert (x, -y) == pytest.approx(flat.metres(*place), abs=1e-6, rel=1e-12)
        back = finds.evaluate("([lat, lon]) => journalMap.flatMap(lat, lon).place(300, -200)", centre)
        assert back == pytest.approx(flat.place(300, 200), abs=1e-12)
    chance = random.Random(5)
    points = [(chance.gauss(0, 400), chance.gauss(0, 400)) for _ in range(400)]
    script = (
        "([points, apart]) => journalMap.clustered(points.map(([x, y]) => ({x, y})), apart).map((one) => one.members)"
    )
    assert clustered(points, 130.0) == finds.evaluate(script, [points, 130.0])
    for length_m, units in ((730, "metric"), (0.31, "metric"), (1600, "us"), (1609.344, "us"), (5000, "us")):
        found = finds.evaluate("([m, units]) => journalMap.roundBelow(m, units).metres", [length_m, units])
        assert round_below(length_m, units) == pytest.approx(found)  # type: ignore[arg-type]


def test_every_find_with_a_position_is_on_it_where_the_page_says(finds: Any) -> None:
    state = shown(finds)
    rows = finds.evaluate(
        "[...document.querySelectorAll('[data-point]')].map((row) => row.dataset.point.split(' ').map(Number))"
    )
    assert list(range(len(rows))) == sorted(at for mark in state["marks"] for at in mark["members"])
    box = finds.locator(CANVAS).bounding_box()
    for mark in state["marks"]:
        if len(mark["members"]) == 1:
            x, y, _ = rows[mark["members"][0]]
            expected = (
                (x - state["x"]) * state["scale"] + box["width"] / 2,
                (y - state["y"]) * state["scale"] + box["height"] / 2,
            )
            assert expected == pytest.approx((mark["x"], mark["y"]), abs=0.01)


def test_it_is_moved_and_enlarged_by_finger_wheel_keys_and_buttons(finds: Any) -> None:
    canvas = finds.locator(CANVAS)
    first = shown(finds)
    box = canvas.bounding_box()
    finds.mouse.move(box["x"] + 100, box["y"] + 100)
    finds.mouse.wheel(0, 30)  # not the map's until it has the focus
    assert first["scale"] == shown(finds)["scale"]
    canvas.scroll_into_view_if_needed()
    box = canvas.bounding_box()
    finds.mouse.move(box["x"] + 100, box["y"] + 200)
    finds.mouse.down()
    finds.mouse.move(box["x"] + 160, box["y"] + 170, steps=3)
    finds.mouse.up()
    dragged = shown(finds)
    moved = ((first["x"] - dragged["x"]) * first["scale"], (first["y"] - dragged["y"]) * first["scale"])
    assert (60, -30) == pytest.approx(moved, abs=1)
    assert finds.evaluate("document.activeElement.className") == "map"
    for _ in range(2):
        finds.mouse.wheel(0, -120)
        finds.wait_for_timeout(30)
    assert 2 == pytest.approx(shown(finds)["scale"] / first["scale"])
    for key, expected in (("+", 4), ("-", 2), ("0", 1)):
        finds.keyboard.press(key)
        assert expected == pytest.approx(shown(finds)["scale"] / first["scale"])
    finds.keyboard.press("ArrowRight")
    assert 60 == pytest.approx((shown(finds)["x"] - first["x"]) * first["scale"])
    finds.click("text=Whole map")
    assert (first["x"], first["y"]) == pytest.approx((shown(finds)["x"], shown(finds)["y"]))
    finds.evaluate(PINCH, [40, 120])
    pinched = shown(finds)
    assert 3 == pytest.approx(pinched["scale"] / first["scale"])
    assert hypot(pinched["x"] - first["x"], pinched["y"] - first["y"]) * first["scale"] < 1


def test_a_mark_that_is_chosen_is_shown_in_the_words_of_its_row(finds: Any) -> None:
    state = shown(finds)
    mark = next(mark for mark in state["marks"] if len(mark["members"]) == 1)
    finds.locator(CANVAS).click(position={"x": mark["x"], "y": mark["y"]})
    row = finds.evaluate("(at) => document.querySelectorAll('[data-point]')[at].innerText", mark["members"][0])
    assert row == finds.inner_text(".map-told li")
    assert finds.locator(".map-told a.id").get_attribute("href")
    many = next(mark for mark in state["marks"] if len(mark["members"]) > 1)
    finds.locator(CANVAS).click(position={"x": many["x"], "y": many["y"]})
    assert shown(finds)["scale"] > state["scale"]


NAMES = """() => {
  const canvas = document.querySelector("canvas.map");
  const { x, y, scale, width, height, marks, names } = canvas.shown;
  const track = document.querySelector(".sketch-map .track");
  const length = track ? track.getTotalLength() : 0;
  const along = Array.from({ length: length ? 2000 : 0 }, (_, at) => track.getPointAtLength((at / 2000) * length));
  const line = along.map((one) => [(one.x - x) * scale + width / 2, (one.y - y) * scale + height / 2]);
  const isOn = (l, t, r, b) => line.some(([px, py]) => l < px && px < r && t < py && py < b);
  const crossed = names.filter(([, ...box]) => isOn(...box)).map(([words]) => words);
  return { names, width, height, crossed, marks: marks.map((mark) => [mark.x, mark.y]) };
}"""


@pytest.mark.parametrize("width", [320, 360, 390, 820, 1280])
def test_no_name_on_the_map_is_cut_or_is_on_a_track_a_mark_or_another(finds: Any, width: int) -> None:
    finds.set_viewport_size({"width": width, "height": 900})
    for _ in range(2):  # the whole map, and a part of it
        shown(finds)
        told = finds.evaluate(NAMES)
        boxes = [tuple(box) for _, *box in told["names"]]
        assert len(boxes) >= 2
        assert [] == told["crossed"]
        assert all(
            left >= 0 and top >= 0 and right <= told["width"] and foot <= told["height"]
            for left, top, right, foot in boxes
        )
        places = [(x - 6, y - 6, x + 6, y + 6) for x, y in told["marks"]]
        for (left, top, right, foot), (left2, top2, right2, foot2) in combinations([*boxes, *places], 2):
            is_place = (left2, top2, right2, foot2) in places and (left, top, right, foot) in places
            assert is_place or right <= left2 or right2 <= left or foot <= top2 or foot2 <= top
        finds.locator(CANVAS).press("+")
    finds.set_viewport_size({"width": 390, "height": 800})


@pytest.mark.parametrize("edge", ["top", "foot", "left", "right"])
def test_a_name_that_would_be_cut_stands_on_another_side_of_its_point(finds: Any, edge: str) -> None:
    """A point is dragged to 25 px from an edge, in which a name beside it on that side has no room."""
    shown(finds)
    told = finds.evaluate(NAMES)
    name, *box = told["names"][0]
    middle = ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2)
    x, y = min(told["marks"], key=lambda mark: hypot(mark[0] - middle[0], mark[1] - middle[1]))
    to_x = {"left": 25, "right": told["width"] - 25}.get(edge, told["width"] / 2)
    to_y = {"top": 25, "foot": told["height"] - 25}.get(edge, told["height"] / 2)
    on_page = finds.locator(CANVAS).bounding_box()
    finds.mouse.move(on_page["x"] + x, on_page["y"] + y)
    finds.mouse.down()
    finds.mouse.move(on_page["x"] + to_x, on_page["y"] + to_y, steps=4)
    finds.mouse.up()
    shown(finds)
    assert name in [words for words, *_ in finds.evaluate(NAMES)["names"]]


def test_without_scripts_the_map_is_in_the_page(browser: Any, sample_site: Path) -> None:
    context = browser.new_context(java_script_enabled=False, viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto((sample_site / "finds/index.html").as_uri())
    box = page.locator("svg.map").bounding_box()
    assert 1.25 == pytest.approx(box["width"] / box["height"], abs=0.02)
    assert page.locator("svg.map .marks > svg").count() >= 3
    context.close()
