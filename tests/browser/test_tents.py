"""The tents of the sample in a real browser: the first look, the clock of the lamp, and the sheet on paper."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.browser.conftest import WIDTHS, Look, Visit
from tests.conftest import run_journal

pytestmark = pytest.mark.browser

TENT = "tents/wash-house/index.html"
POWER = "tents/wash-house/power/index.html"
HISTORY = "tents/wash-house/history/index.html"
DOOR = "tents/wash-house/door/index.html"
CLOCK = """(clock) => {
  const Real = Date;
  const at = new Real(`2026-11-25T${clock}:00`).getTime();
  globalThis.Date = class extends Real { constructor(...given) { super(...(given.length ? given : [at])); } };
}"""


@pytest.fixture(scope="module")
def look(looking: Callable[..., Look], sample_site: Path) -> Look:
    return looking(sample_site)


def pages_of(pdf: bytes) -> list[tuple[float, float]]:
    """The pages of a PDF, by width and height in mm.

    Source: ISO 32000-1, 7.7.3.3: a page has /Type /Page, and its size as /MediaBox, in points of 1/72 inch.
    """
    assert len(re.findall(rb"/Type\s*/Page(?![A-Za-z])", pdf)) == len(re.findall(rb"/MediaBox", pdf))
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", pdf)
    return [(float(width) / 72 * 25.4, float(height) / 72 * 25.4) for width, height in boxes]


@pytest.mark.parametrize("tent", ["wash-house", "net-loft"])
def test_the_sheet_for_the_door_is_one_page_of_a4(look: Look, tent: str) -> None:
    page = look(f"tents/{tent}/door/index.html")
    # A4 is 210 by 297 mm. Source: ISO 216.
    assert [(pytest.approx(210, abs=0.5), pytest.approx(297, abs=0.5))] == pages_of(page.pdf(prefer_css_page_size=True))


def built(files: dict[str, str], room: Path) -> Path:
    """The site of a journal of these files, built by the command."""
    (room / "journal").mkdir(parents=True)
    for name, text in files.items():
        (room / "journal" / name).write_text(text, encoding="utf-8")
    run_journal("build", room / "journal", "--to", room / "site", "--cache", room / "cache")
    return room / "site"


def test_a_long_chain_of_devices_with_long_names_stays_on_a_phone(looking: Callable[..., Look], tmp_path: Path) -> None:
    files = {"journal.toml": '[tents.hut]\nname = "Hut"\n'}
    for at in range(14):
        powered_by = (
            f"extension-lead-by-the-mangle-{at - 1:03}" if at else "a-socket-with-a-name-that-never-seems-to-end"
        )
        keys = f"id: extension-lead-by-the-mangle-{at:03}\ntent: hut\ndoes: power strip\npowered by: {powered_by}"
        files[f"d{at}.md"] = f"---\nkind: device\ndate: 2026-01-01\n{keys}\n---\n"
    look = looking(built(files, tmp_path))
    for width in (320, 390):
        page = look("tents/hut/power/index.html", width)
        rights = "[...document.querySelectorAll('.feeds *')].map((part) => part.getBoundingClientRect().right)"
        assert max(page.evaluate(rights)) <= width


def test_a_tent_of_twenty_devices_still_has_one_sheet(looking: Callable[..., Look], tmp_path: Path) -> None:
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
    page = looking(built(files, tmp_path))("tents/hut/door/index.html")
    assert 1 == len(pages_of(page.pdf(prefer_css_page_size=True)))


def test_on_paper_the_sheet_has_room_for_dates_by_hand_and_no_buttons(look: Look) -> None:
    page = look(DOOR, 720)
    hand, buttons = "td.hand >> nth=0", ".doorsheet .acts >> nth=0"
    assert (False, True) == (page.is_visible(hand), page.is_visible(buttons))
    page.emulate_media(media="print")
    assert (True, False) == (page.is_visible(hand), page.is_visible(buttons))


def test_nothing_of_the_sheet_is_cut_off_on_paper(look: Look) -> None:
    page = look(DOOR, 711)  # 188 mm, what A4 leaves between the sheet's margins, at 96 px an inch
    page.emulate_media(media="print")
    inner, outer = page.evaluate(WIDTHS)
    assert outer <= inner


def test_a_button_prints_the_sheet(look: Look) -> None:
    page = look(DOOR, afresh=True)
    page.evaluate("window.print = () => { document.title = 'printed'; }")
    page.click("[data-print]")
    assert "printed" == page.title()


def test_the_first_screen_of_a_phone_answers_whether_the_air_is_right(look: Look) -> None:
    page = look(TENT)
    for part in (".air .verdict", ".air .reading", ".air [data-ago]", ".air [data-lit-from]", ".row >> nth=0"):
        box = page.locator(part).first.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] < 844 - 60, part  # above the places at the thumb
    assert "today" == page.inner_text(".air [data-ago]")


@pytest.mark.parametrize(("clock", "words"), [("06:29", "off now"), ("06:30", "on now"), ("18:30", "off now")])
def test_whether_the_lamp_is_lit_is_told_by_the_phones_clock(
    visit: Visit, sample_site: Path, clock: str, words: str
) -> None:
    visit.page.add_init_script(f"({CLOCK})({clock!r})")
    visit.page.goto((sample_site / TENT).as_uri())
    assert words == visit.page.inner_text(".air [data-lit-from]")


@pytest.mark.parametrize(("part", "page"), [("#fan-1", POWER), ("#2026-05-10", HISTORY), ("#services", TENT)])
def test_a_label_or_link_to_a_part_of_the_tents_page_leads_to_where_that_is_now(
    visit: Visit, sample_site: Path, part: str, page: str
) -> None:
    visit.page.goto((sample_site / TENT).as_uri() + part)
    visit.until("document.readyState === 'complete'")
    visit.until(f"location.href.endsWith({page + part!r})")
    assert visit.page.locator(f"[id='{part[1:]}']").count()


def test_without_scripts_no_sentence_is_left_hanging(looking: Callable[..., Look], sample_site: Path) -> None:
    look = looking(sample_site, scripts=False)
    for path in (TENT, "tents/index.html", "index.html"):
        said = " ".join(look(path).locator(".air").first.inner_text().split())
        read = "read 25 Nov 2026, 06:45 ·" if path == "index.html" else "read 25 November 2026, 06:45, logger"
        assert read in said, path
        assert "06:30–18:30" in said, path
        assert not re.search(r", (?:·|$)|, ,|light (?:·|$)", said), path


def test_the_sample_shows_its_story_of_two_timers_a_sagging_duct_and_a_dead_fan(look: Look) -> None:
    page = look(POWER, 1280)
    tree = " ".join(page.inner_text("ul.feeds").split())
    assert "timer-light timer holds the light 06:30–18:30 (12 h) for lamp-1" in tree
    assert "timer-exhaust timer holds the exhaust 3 min every 15 min for exhaust-1" in tree
    assert "fan-1" not in tree
    assert "306 days (10 months)" in page.inner_text("section[aria-labelledby=over]")
    page = look(HISTORY, 1280)
    assert "The duct sags" in page.inner_text("section[aria-labelledby=history]")
    marked = page.locator(".entangled").all_inner_texts()
    assert 2 == len(marked)
    assert "10 May" in marked[0]
    assert "7 May" in marked[1]


@pytest.mark.parametrize("width", [320, 360, 1280])
def test_no_two_words_of_the_chart_are_on_each_other(look: Look, width: int) -> None:
    page = look(TENT, width)
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
