"""The sample journal, built once as an author builds it, in a real browser: what it looks like, holds and leads to."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import WIDTHS, Look

pytestmark = pytest.mark.browser

KINDS = {
    "now": "index.html",
    "finds": "finds/index.html",
    "find": "finds/f25-007/index.html",
    "patches": "patches/index.html",
    "patch": "patches/patch_the_fallen_stem/index.html",
    "near me": "near-me/index.html",
    "cultures": "cultures/index.html",
    "culture": "cultures/pp-26a/index.html",
    "line against line": "cultures/compare/index.html",
    "batches": "batches/index.html",
    "batch": "batches/b-031/index.html",
    "plan": "plan/index.html",
    "losses": "losses/index.html",
    "costs": "costs/index.html",
    "tents": "tents/index.html",
    "tent": "tents/wash-house/index.html",
    "a tent's power": "tents/wash-house/power/index.html",
    "a tent's history": "tents/wash-house/history/index.html",
    "a tent's door": "tents/wash-house/door/index.html",
    "diary": "diary/index.html",
    "month": "diary/2026-11/index.html",
    "sums": "calculators/index.html",
    "this phone": "device/index.html",
    "to mend": "device/problems/index.html",
    "format": "device/format/index.html",
    "cautions": "device/safety/index.html",
    "due": "due/index.html",
    "labels": "labels/index.html",
    "a folded year": "lists/diary/2025/index.html",
}
AXE = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "rules": {
        "target-size": {"enabled": True},
        "color-contrast-enhanced": {"enabled": True}, "color-contrast": {"enabled": False},  # the one holds the other
    },
    "resultTypes": ["violations"],
}  # fmt: skip


@pytest.fixture(scope="module")
def look(looking: Callable[..., Look], sample_site: Path) -> Look:
    return looking(sample_site, checked=True)


OF_COLOUR = AXE | {"runOnly": {"type": "rule", "values": ["color-contrast-enhanced", "link-in-text-block"]}}
"""The rules that look at colours: the only ones that another theme of the same page can break."""


def found_by_axe(page: Any, axe_script: str, options: dict[str, Any] = AXE) -> list[str]:
    """What the accessibility checker objects to."""
    if not page.evaluate("'axe' in globalThis"):
        page.evaluate(axe_script)
    found = page.evaluate("(options) => axe.run(document, options).then((told) => told.violations)", options)
    return [f"{row['id']}: {node['target']} {node['failureSummary']}" for row in found for node in row["nodes"]]


# All tests of a page come one after another, so that it is loaded once.
each_kind = pytest.mark.parametrize("kind", KINDS, scope="module")


@pytest.mark.parametrize("theme", ["dark", "light"])  # opened in the one, then changed to the other
@each_kind
def test_everyone_can_read_and_reach_it(look: Look, axe_script: str, kind: str, theme: str) -> None:
    options = AXE if theme == "dark" else OF_COLOUR
    assert [] == found_by_axe(look(KINDS[kind], 360, theme), axe_script, options)


@pytest.mark.parametrize("width", [320, 390, 820, 1280])
@each_kind
def test_nothing_is_wider_than_the_screen(look: Look, kind: str, width: int) -> None:
    inner, outer = look(KINDS[kind], width).evaluate(WIDTHS)
    assert outer <= inner


@each_kind
def test_buttons_places_and_tags_are_large_enough_for_a_wet_thumb(look: Look, kind: str) -> None:
    small = look(KINDS[kind]).evaluate(
        """() => [...document.querySelectorAll(".places a, .button, button, .home, input, summary, .call, .foot a")]
          .filter((e) => e.offsetParent !== null && e.getBoundingClientRect().height < 47.5)
          .map((e) => `${e.className || e.tagName}: ${e.getBoundingClientRect().height}`)"""
    )
    assert [] == small


IN_FOCUS = """() => [...document.querySelectorAll("a[href], button, summary, input, select, textarea, [tabindex]")]
  .filter((e) => e.checkVisibility({ visibilityProperty: true }) && !e.disabled && e.type !== "radio")
  .filter((e) => {
    if (e.tabIndex > 0) return true; // it would come before what is read before it
    if (e.tabIndex < 0 || e.matches(".scroll, .strip, .skip")) return false; // as large as what is in them
    e.focus({ focusVisible: true });
    const at = [...e.getClientRects()].find((box) => box.width && box.height) ?? e.getBoundingClientRect();
    const top = document.elementFromPoint(at.x + at.width / 2, at.y + at.height / 2);
    return !top || !(e.contains(top) || top.contains(e) || top.closest("label")?.contains(e));
  })
  .map((e) => `${e.tagName} ${e.textContent.trim() || e.name}`)"""


@pytest.mark.parametrize("width", [360, 1280])
@each_kind
def test_nothing_lies_over_what_is_in_focus_and_the_order_is_that_of_reading(look: Look, kind: str, width: int) -> None:
    assert [] == look(KINDS[kind], width).evaluate(IN_FOCUS)


def test_from_a_folder_the_table_of_cultures_sorts(visit: Any, sample_site: Path) -> None:
    visit.page.goto((sample_site / "cultures/index.html").as_uri())
    visit.page.click("th button >> nth=0")
    names = visit.page.evaluate(
        "[...document.querySelectorAll('.cultures tbody tr')].map((r) => r.cells[0].dataset.sort)"
    )
    assert names[0] == "CA-26R"
    assert names == sorted(names)


def test_the_sample_says_what_day_it_is_shown_as_of(look: Look) -> None:
    page = look("index.html")
    assert page.inner_text("h1") == "Wednesday 25 November"
    assert page.inner_text("[data-day0='2026-10-06']") == "day 50"
    assert "3 days late" in page.inner_text("[data-due-list]")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_what_the_search_finds_lies_over_the_page_and_can_be_read(look: Look, axe_script: str, theme: str) -> None:
    page = look("finds/f26-001/index.html", 360, theme, afresh=True)
    height = page.evaluate("document.querySelector('.head').offsetHeight")
    page.fill("[data-search]", "oyster")
    page.wait_for_selector("a.search-hit")
    assert height == page.evaluate("document.querySelector('.head').offsetHeight")
    widths = "[document.querySelector('.search-hits').offsetWidth, document.documentElement.clientWidth]"
    assert [360, 360] == page.evaluate(widths)
    assert [] == found_by_axe(page, axe_script, AXE if theme == "light" else OF_COLOUR)
