"""The sample journal, built once as an author builds it, in a real browser: what it looks like, holds and leads to."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("sample")]

KINDS = {
    "now": "index.html",
    "finds": "finds/index.html",
    "find": "finds/f25-007/index.html",
    "cultures": "cultures/index.html",
    "culture": "cultures/pp-26a/index.html",
    "line against line": "cultures/compare/index.html",
    "batches": "batches/index.html",
    "batch": "batches/b-031/index.html",
    "tents": "tents/index.html",
    "tent": "tents/wash-house/index.html",
    "a tent's door": "tents/wash-house/door/index.html",
    "diary": "diary/index.html",
    "month": "diary/2026-11/index.html",
    "sums": "calculators/index.html",
    "this phone": "device/index.html",
    "to mend": "device/problems/index.html",
    "cautions": "device/safety/index.html",
}
AXE = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    "rules": {"target-size": {"enabled": True}, "color-contrast-enhanced": {"enabled": True}},
    "resultTypes": ["violations"],
}


@pytest.fixture(scope="module")
def looks(browser: Any, sample_site: Path) -> Any:
    """Opens a page of the sample from its folder, by width and theme."""
    contexts: dict[tuple[int, str], Any] = {}

    def opened(path: str, width: int = 390, theme: str = "light") -> Any:
        if (width, theme) not in contexts:
            # The checker is put in by the test itself, which the pages' policy would rightly stop.
            viewport = {"width": width, "height": 844}
            contexts[width, theme] = browser.new_context(viewport=viewport, color_scheme=theme, bypass_csp=True)
            contexts[width, theme].new_page()
        page = contexts[width, theme].pages[0]
        page.goto((sample_site / path).as_uri())
        return page

    yield opened
    for context in contexts.values():
        context.close()


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("kind", KINDS)
def test_everyone_can_read_and_reach_it(looks: Callable[..., Any], axe_script: str, kind: str, theme: str) -> None:
    page = looks(KINDS[kind], 360, theme)
    page.evaluate(axe_script)
    found = page.evaluate("(options) => axe.run(document, options)", AXE)["violations"]
    told = [f"{row['id']}: {node['target']} {node['failureSummary']}" for row in found for node in row["nodes"]]
    assert [] == told


@pytest.mark.parametrize("width", [320, 390, 820, 1280])
@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_wider_than_the_screen(looks: Callable[..., Any], kind: str, width: int) -> None:
    page = looks(KINDS[kind], width)
    inner, outer = page.evaluate("[document.documentElement.clientWidth, document.documentElement.scrollWidth]")
    assert outer <= inner


@pytest.mark.parametrize("kind", KINDS)
def test_buttons_places_and_tags_are_large_enough_for_a_wet_thumb(looks: Callable[..., Any], kind: str) -> None:
    small = looks(KINDS[kind]).evaluate(
        """() => [...document.querySelectorAll(".places a, .button, button, .home, input, summary, .call, .foot a")]
          .filter((e) => e.offsetParent !== null && e.getBoundingClientRect().height < 47.5)
          .map((e) => `${e.className || e.tagName}: ${e.getBoundingClientRect().height}`)"""
    )
    assert [] == small


def test_from_a_folder_the_table_of_cultures_sorts(visit: Any, sample_site: Path) -> None:
    visit.page.goto((sample_site / "cultures/index.html").as_uri())
    visit.page.click("th button >> nth=0")
    names = visit.page.evaluate("[...document.querySelectorAll('tbody tr')].map((r) => r.cells[0].dataset.sort)")
    assert names[0] == "CA-26R"
    assert names == sorted(names)


def test_the_sample_says_what_day_it_is_shown_as_of(looks: Callable[..., Any]) -> None:
    page = looks("index.html")
    assert page.inner_text("h1") == "Wednesday 25 November"
    assert page.inner_text("[data-day0='2026-10-06']") == "day 50"
    assert "3 days late" in page.inner_text("[data-due-list]")


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_what_the_search_finds_lies_over_the_page_and_can_be_read(
    looks: Callable[..., Any], axe_script: str, theme: str
) -> None:
    page = looks("finds/f26-001/index.html", 360, theme)
    height = page.evaluate("document.querySelector('.head').offsetHeight")
    page.fill("[data-search]", "oyster")
    page.wait_for_selector("a.search-hit")
    assert height == page.evaluate("document.querySelector('.head').offsetHeight")
    page.evaluate(axe_script)
    assert [] == [row["id"] for row in page.evaluate("(options) => axe.run(document, options)", AXE)["violations"]]
