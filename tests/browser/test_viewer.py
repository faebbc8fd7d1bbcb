"""The viewer of photos: in the order of time, by thumb and by keys, two beside each other; and none shown broken."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import WIDTHS, Look, Visit, until

pytestmark = pytest.mark.browser

BATCH = "batches/b-031/index.html"
LATEST = ".entry figure a"
TIMES = [
    "2026-10-17T09:25", "2026-10-27T07:31", "2026-11-01T08:20", "2026-11-01T08:44", "2026-11-11T07:40",
    "2026-11-11T20:12", "2026-11-20T07:33",
]  # fmt: skip


@pytest.fixture(scope="module")
def look(looking: Callable[..., Look], sample_site: Path) -> Look:
    return looking(sample_site)


@pytest.fixture
def viewer(look: Look) -> Iterator[Any]:
    """A phone on the page of B-031, with its latest photo in the viewer."""
    page = look(BATCH, 390, afresh=True)
    page.click(LATEST)
    page.wait_for_selector(".viewer[open]")
    yield page
    page.emulate_media(reduced_motion="no-preference")


def shown(page: Any) -> str:
    return str(page.inner_text(".viewer .soft >> nth=0"))


def test_a_photo_has_its_caption_date_and_entry_and_those_beside_it_in_time(viewer: Any) -> None:
    said = viewer.inner_text(".viewer .caption")
    for words in ("B-031.1, third time", "20 November 2026, 07:33 · 7 of 7", "07:33 · day 45 · pinning, Third pins"):
        assert words in said
    assert viewer.locator(".viewer button:text-is('Later')").is_disabled()
    viewer.keyboard.press("ArrowLeft")
    assert "11 November 2026, 20:12 · 6 of 7" == shown(viewer)
    viewer.click(".viewer button:text-is('Earlier')")
    assert "11 November 2026, 07:40 · 5 of 7" == shown(viewer)
    viewer.keyboard.press("Home")
    assert "17 October 2026, 09:25 · 1 of 7" == shown(viewer)
    assert TIMES == viewer.evaluate("journalViewer.photosOf(document.querySelector('main')).map((one) => one.taken)")


def test_escape_leads_back_to_the_photo_and_back_does_not_leave_the_page(viewer: Any) -> None:
    viewer.keyboard.press("ArrowLeft")
    viewer.keyboard.press("Escape")
    assert not viewer.locator(".viewer").is_visible()
    until(viewer, "navigation.canGoForward")  # it leaves the history too, a moment later
    time = "document.activeElement.parentElement.querySelector('time').dateTime"
    assert "2026-11-11T20:12" == viewer.evaluate(time)
    viewer.keyboard.press("Enter")
    assert "11 November 2026, 20:12 · 6 of 7" == shown(viewer)
    viewer.go_back()
    until(viewer, "!document.querySelector('.viewer').open")
    assert viewer.url.endswith(BATCH)


def test_from_a_photo_one_comes_to_its_entry(viewer: Any) -> None:
    viewer.click(".viewer a")
    until(viewer, "location.hash === '#2026-11-20'")
    assert not viewer.locator(".viewer").is_visible()


TOUCH = """(moves) => {
  const stage = document.querySelector(".viewer .stage");
  stage.setPointerCapture = () => undefined; // these pointers are no real ones
  for (const [pointerId, type, clientX, clientY] of moves)
    stage.dispatchEvent(new PointerEvent(`pointer${type}`, { pointerId, clientX, clientY, bubbles: true }));
  return document.querySelector(".viewer .stage figure:last-child img").style.transform;
}"""


@pytest.mark.parametrize(("by", "left"), [(200, 6), (-200, 7), (20, 7)])
def test_a_swipe_leads_to_the_photo_beside(viewer: Any, by: int, left: int) -> None:
    viewer.evaluate(TOUCH, [[1, "down", 190, 300], [1, "move", 190 + by, 300], [1, "up", 190 + by, 300]])
    assert shown(viewer).endswith(f"{left} of 7")


def test_two_fingers_enlarge_a_photo_and_a_double_tap_makes_it_small_again(viewer: Any) -> None:
    fingers = [[1, "down", 150, 300], [2, "down", 200, 300], [2, "move", 250, 300]]
    assert viewer.evaluate(TOUCH, fingers).endswith("scale(2)")
    viewer.evaluate(TOUCH, [[1, "up", 150, 300], [2, "up", 250, 300]])
    viewer.evaluate(TOUCH, [[1, "down", 150, 300], [1, "move", 90, 300], [1, "up", 90, 300]])
    assert shown(viewer).endswith("7 of 7")  # a finger moves what is enlarged
    viewer.dispatch_event(".viewer .stage", "dblclick")
    assert "" == viewer.evaluate(TOUCH, [])
    viewer.keyboard.press("+")
    assert viewer.evaluate(TOUCH, []).endswith("scale(1.5)")


SAME_BLOCK = """() => {
  const photo = (taken, ...units) => ({ taken, units });
  const photos = [photo("2026-10-17", "B-1.3"), photo("2026-10-27", "B-1.2"), photo("2026-11-01", "B-1.1"),
                  photo("2026-11-01", "B-1.2"), photo("2026-11-11", "B-1.4")];
  return photos.map((_, at) => journalViewer.toCompare(photos, at));
}"""


def test_a_photo_stands_beside_one_of_the_same_block_on_another_day(viewer: Any) -> None:
    assert [1, 3, 1, 1, 3] == viewer.evaluate(SAME_BLOCK)
    viewer.click(".viewer button:text-is('Compare')")
    assert 2 == viewer.locator(".viewer .stage img:visible").count()
    viewer.select_option(".viewer select", "0")
    assert "17 October 2026, 09:25" == viewer.inner_text(".viewer .stage figcaption")
    assert "20 November 2026, 07:33 · 7 of 7" == shown(viewer)
    viewer.click(".viewer button:text-is('Compare')")
    assert 1 == viewer.locator(".viewer .stage img:visible").count()


@pytest.mark.parametrize(("width", "height", "across"), [(390, 844, 1), (820, 1180, 1), (1280, 800, 2), (844, 390, 2)])
def test_two_photos_are_beside_each_other_or_one_over_the_other_as_there_is_room(
    viewer: Any, width: int, height: int, across: int
) -> None:
    viewer.set_viewport_size({"width": width, "height": height})
    viewer.click(".viewer button:text-is('Compare')")
    boxes = [one.bounding_box() for one in viewer.locator(".viewer .stage figure").all()]
    assert across == len({box["x"] for box in boxes})


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_every_button_suits_a_thumb_and_nothing_is_wider_than_the_screen(viewer: Any, width: int) -> None:
    viewer.set_viewport_size({"width": width, "height": 700})
    viewer.click(".viewer button:text-is('Compare')")
    boxes = [one.bounding_box() for one in viewer.locator(".viewer :is(button, select, a)").all()]
    assert 7 == len(boxes)
    assert all(box["height"] >= 44 and box["x"] >= 0 and box["x"] + box["width"] <= width for box in boxes)
    inner, outer = viewer.evaluate(WIDTHS)
    assert outer <= inner


BY_HAND = """() => {
  globalThis.tick = null;
  globalThis.setInterval = (act) => { globalThis.tick = act; return 1; };
}"""
"""Time passes only as a test lets it."""


def test_the_photos_play_from_the_first_to_the_last_once_asked(look: Look) -> None:
    page = look(BATCH, 390, afresh=True)
    page.evaluate(BY_HAND)
    assert page.evaluate("globalThis.tick === null")  # nothing plays by itself
    page.click("[data-play]")
    page.wait_for_selector(".viewer[open]")  # fetched now
    assert shown(page).endswith("1 of 7")
    for _ in range(5):
        page.evaluate("tick()")
    assert (True, "Stop") == (shown(page).endswith("6 of 7"), page.inner_text(".viewer .acts button >> nth=3"))
    page.evaluate("tick()")
    assert (True, "Play") == (shown(page).endswith("7 of 7"), page.inner_text(".viewer .acts button >> nth=3"))


def test_nothing_plays_where_motion_is_not_wanted(look: Look) -> None:
    page = look("index.html", 390, afresh=True)
    page.emulate_media(reduced_motion="reduce")
    page = look(BATCH, 390, afresh=True)
    try:
        assert not page.locator("[data-play]").is_visible()
        page.click(LATEST)
        page.wait_for_selector(".viewer[open]")
        assert not page.locator(".viewer button:text-is('Play')").is_visible()
    finally:
        page.emulate_media(reduced_motion="no-preference")


def test_a_photo_that_is_not_there_is_not_shown_broken(look: Look) -> None:
    page = look(BATCH, 390, afresh=True)
    page.evaluate("document.querySelector('.entry .pic > img:last-child').srcset = 'gone.webp'")
    page.wait_for_selector(".entry .pic > img.unloaded", state="attached")
    assert "0" == page.evaluate("getComputedStyle(document.querySelector('.unloaded')).opacity")
    page.evaluate("for (const link of document.querySelectorAll('main a[href$=\".webp\"]')) link.href = 'gone.webp'")
    page.click(LATEST)
    until(page, "document.querySelector('.viewer .caption')?.innerText.includes('not saved on this device')")


def test_without_scripts_a_photo_is_a_plain_link(looking: Callable[..., Look], sample_site: Path) -> None:
    page = looking(sample_site, scripts=False)(BATCH, 390)
    page.click(LATEST)
    assert page.url.endswith(".webp")


def test_the_viewer_is_fetched_at_the_first_tap_and_a_photo_opens_without_it(thumb: Callable[..., Visit]) -> None:
    visit = thumb(BATCH)
    page = visit.page
    assert [] == [url for url in visit.requests if url.endswith("viewer.js")]
    page.route("**/viewer.js", lambda route: route.abort())
    page.click(LATEST)
    page.wait_for_url("**/*.webp")
    page.unroute("**/viewer.js")
    page.go_back()
    page.click(LATEST)
    page.wait_for_selector(".viewer[open]")
