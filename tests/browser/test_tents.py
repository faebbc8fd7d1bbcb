"""The tents of the sample in a real browser: the first look, the clock of the lamp, and the sheet on paper."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("sample")]

TENT = "tents/wash-house/index.html"
DOOR = "tents/wash-house/door/index.html"
CLOCK = """(clock) => {
  const Real = Date;
  const at = new Real(`2026-11-25T${clock}:00`).getTime();
  globalThis.Date = class extends Real { constructor(...given) { super(...(given.length ? given : [at])); } };
}"""


@pytest.fixture
def open_page(browser: Any, sample_site: Path) -> Iterator[Callable[..., Any]]:
    """Opens a page of the sample from its folder; clock: what time it is on the phone."""
    contexts: list[Any] = []

    def opened(path: str, width: int = 390, clock: str | None = None, scripts: bool = True) -> Any:
        context = browser.new_context(
            viewport={"width": width, "height": 844}, bypass_csp=True, java_script_enabled=scripts
        )
        contexts.append(context)
        page = context.new_page()
        if clock:
            page.add_init_script(f"({CLOCK})({clock!r})")
        page.goto((sample_site / path).as_uri())
        return page

    yield opened
    for context in contexts:
        context.close()


def pages_of(pdf: bytes) -> list[tuple[float, float]]:
    """The pages of a PDF, by width and height in mm.

    Source: ISO 32000-1, 7.7.3.3: a page has /Type /Page, and its size as /MediaBox, in points of 1/72 inch.
    """
    assert len(re.findall(rb"/Type\s*/Page(?![A-Za-z])", pdf)) == len(re.findall(rb"/MediaBox", pdf))
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", pdf)
    return [(float(width) / 72 * 25.4, float(height) / 72 * 25.4) for width, height in boxes]


@pytest.mark.parametrize("tent", ["wash-house", "net-loft"])
def test_the_sheet_for_the_door_is_one_page_of_a4(open_page: Callable[..., Any], tent: str) -> None:
    page = open_page(f"tents/{tent}/door/index.html")
    # A4 is 210 by 297 mm. Source: ISO 216.
    assert [(pytest.approx(210, abs=0.5), pytest.approx(297, abs=0.5))] == pages_of(page.pdf(prefer_css_page_size=True))


def built(files: dict[str, str], room: Path) -> Path:
    """The site of a journal of these files, built by the command."""
    (room / "journal").mkdir()
    for name, text in files.items():
        (room / "journal" / name).write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "journal", "build", str(room / "journal"), "--to", str(room / "site")]
    subprocess.run([*command, "--cache", str(room / "cache")], check=True, capture_output=True)
    return room / "site"


@pytest.mark.parametrize("width", [320, 390])
def test_a_long_chain_of_devices_with_long_names_stays_on_a_phone(browser: Any, tmp_path: Path, width: int) -> None:
    files = {"journal.toml": '[tents.hut]\nname = "Hut"\n'}
    for at in range(14):
        powered_by = (
            f"extension-lead-by-the-mangle-{at - 1:03}" if at else "a-socket-with-a-name-that-never-seems-to-end"
        )
        keys = f"id: extension-lead-by-the-mangle-{at:03}\ntent: hut\ndoes: power strip\npowered by: {powered_by}"
        files[f"d{at}.md"] = f"---\nkind: device\ndate: 2026-01-01\n{keys}\n---\n"
    context = browser.new_context(viewport={"width": width, "height": 844})
    page = context.new_page()
    page.goto((built(files, tmp_path) / "tents/hut/index.html").as_uri())
    rights = "[...document.querySelectorAll('.feeds *')].map((part) => part.getBoundingClientRect().right)"
    widest = max(page.evaluate(rights))
    assert widest <= width
    context.close()


def test_a_tent_of_twenty_devices_still_has_one_sheet(browser: Any, tmp_path: Path) -> None:
    """With settings, services, and a reason for each."""
    every = "".join(f'{name} = "7 d"\n' for name in ("tank", "duct", "damper", "floor"))
    files = {
        "journal.toml": f'[tents.hut]\nname = "Hut"\nhumidity = "85–95 %"\n[tents.hut.every]\n{every}',
        "set.md": "---\nkind: tent\nabout: hut\ndate: 2026-10-01\nhumidity set point: 92 %\nlight: 06:30–18:30\n"
        "light colour: 6500 K\nexhaust: 2 min every 15 min\nwhy: first setting, by custom\n---\n",
    }
    for at in range(20):
        does = ("power strip", "timer", "light", "fan")[at % 4]
        powered_by = "socket by the door" if at < 4 else f"d-{at - 4}"
        keys = f"id: d-{at}\ntent: hut\ndoes: {does}\npowered by: {powered_by}\nrated for: dry rooms"
        files[f"d{at}.md"] = f"---\nkind: device\ndate: 2026-01-01\n{keys}\n---\n"
    site = built(files, tmp_path)
    context = browser.new_context()
    page = context.new_page()
    page.goto((site / "tents/hut/door/index.html").as_uri())
    assert 1 == len(pages_of(page.pdf(prefer_css_page_size=True)))
    context.close()


def test_on_paper_the_sheet_has_room_for_dates_by_hand_and_no_buttons(open_page: Callable[..., Any]) -> None:
    page = open_page(DOOR, 720)
    hand, buttons = "td.hand >> nth=0", ".acts >> nth=0"
    assert (False, True) == (page.is_visible(hand), page.is_visible(buttons))
    page.emulate_media(media="print")
    assert (True, False) == (page.is_visible(hand), page.is_visible(buttons))


def test_nothing_of_the_sheet_is_cut_off_on_paper(open_page: Callable[..., Any]) -> None:
    page = open_page(DOOR, 711)  # 188 mm, what A4 leaves between the sheet's margins, at 96 px an inch
    page.emulate_media(media="print")
    inner, outer = page.evaluate("[document.documentElement.clientWidth, document.documentElement.scrollWidth]")
    assert outer <= inner


def test_a_button_prints_the_sheet(open_page: Callable[..., Any]) -> None:
    page = open_page(DOOR)
    page.evaluate("window.print = () => { document.title = 'printed'; }")
    page.click("[data-print]")
    assert "printed" == page.title()


def test_the_first_screen_of_a_phone_answers_whether_the_air_is_right(open_page: Callable[..., Any]) -> None:
    page = open_page(TENT)
    for part in (".air .verdict", ".air .reading", ".air [data-ago]", ".air [data-lit-from]", ".row >> nth=0"):
        box = page.locator(part).first.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] < 844 - 60, part  # above the places at the thumb
    assert "today" == page.inner_text(".air [data-ago]")


@pytest.mark.parametrize(("clock", "words"), [("06:29", "off now"), ("06:30", "on now"), ("18:30", "off now")])
def test_whether_the_lamp_is_lit_is_told_by_the_phones_clock(
    open_page: Callable[..., Any], clock: str, words: str
) -> None:
    assert words == open_page(TENT, clock=clock).inner_text(".air [data-lit-from]")


@pytest.mark.parametrize("path", [TENT, "tents/index.html", "index.html"])
def test_without_scripts_no_sentence_is_left_hanging(open_page: Callable[..., Any], path: str) -> None:
    page = open_page(path, scripts=False)
    said = " ".join(page.locator(".air").first.inner_text().split())
    assert "read 25 November 2026, 06:45, logger" in said
    assert "06:30–18:30" in said
    assert not re.search(r", (?:·|$)|, ,|light (?:·|$)", said)


def test_the_sample_tells_its_story_of_two_timers_a_sagging_duct_and_a_dead_fan(open_page: Callable[..., Any]) -> None:
    page = open_page(TENT, 1280)
    tree = " ".join(page.inner_text("ul.feeds").split())
    assert "timer-light timer holds the light 06:30–18:30 (12 h) for lamp-1" in tree
    assert "timer-exhaust timer holds the exhaust 3 min every 15 min for exhaust-1" in tree
    assert "fan-1" not in tree
    assert "306 days (10 months)" in page.inner_text("section[aria-labelledby=over]")
    assert "The duct sags" in page.inner_text("section[aria-labelledby=history]")
    marked = page.locator(".entangled").all_inner_texts()
    assert 2 == len(marked)
    assert "10 May" in marked[0]
    assert "7 May" in marked[1]


@pytest.mark.parametrize("width", [320, 360, 1280])
def test_no_two_words_of_the_chart_lie_on_each_other(open_page: Callable[..., Any], width: int) -> None:
    page = open_page(TENT, width)
    boxes = page.evaluate(
        """() => [...document.querySelectorAll(".climate-chart text")].map((text) => {
          const { left, right, top, bottom } = text.getBoundingClientRect();
          return [text.textContent, left, right, top, bottom];
        })"""
    )
    assert len(boxes) > 9
    for at, (one, left, right, top, bottom) in enumerate(boxes):
        for other, left2, right2, top2, bottom2 in boxes[at + 1 :]:
            apart = right <= left2 or right2 <= left or bottom - 3 <= top2 or bottom2 - 3 <= top
            assert apart, (one, other)
