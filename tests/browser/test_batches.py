"""The sample's batches in a browser: what comes next in the phone's words, and calculations that open on any width."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.xdist_group("sample")]

BATCHES = ("b-026", "b-027", "b-028", "b-031", "b-032", "b-033")


@pytest.fixture
def looks(browser: Any, sample_site: Path) -> Any:
    """Opens a page of the sample from its folder, by width, as on a day, with scripts or without."""
    contexts = []

    def opened(path: str, width: int = 390, day: str = "", scripts: bool = True) -> Any:
        contexts.append(browser.new_context(viewport={"width": width, "height": 844}, java_script_enabled=scripts))
        page = contexts[-1].new_page()
        page.goto((sample_site / path).as_uri())
        if day:
            page.evaluate("(day) => (document.documentElement.dataset.asOf = day)", day)
            page.evaluate("dispatchEvent(new PageTransitionEvent('pageshow', { persisted: true }))")
        return page

    yield opened
    for context in contexts:
        context.close()


# B-031 is expected to be ready 23 to 25 November 2026 (pins on the 20th and 3 to 5 days).
@pytest.mark.parametrize(
    ("words", "day"),
    [
        ("in 3 to 5 days", "2026-11-20"),
        ("any day now, until in 2 days", "2026-11-23"),
        ("any day now", "2026-11-25"),
        ("5 days later than usual", "2026-11-30"),
    ],
)
@pytest.mark.parametrize("path", ["index.html", "batches/index.html", "batches/b-031/index.html"])
def test_the_phone_says_when_what_comes_next_is_expected(
    path: str, words: str, day: str, looks: Callable[..., Any]
) -> None:
    page = looks(path, day=day)
    assert words == page.inner_text(".ahead [data-expect-from='2026-11-23']")


def test_what_is_not_expected_yet_is_not_due_yet(looks: Callable[..., Any]) -> None:
    page = looks("index.html", day="2026-11-22")
    row = page.locator("tr[data-row-from='2026-11-23']")
    assert not row.is_visible()
    page = looks("index.html", day="2026-11-30")
    assert "late" == page.get_attribute("tr[data-row-from='2026-11-23']", "class")


@pytest.mark.parametrize("path", ["index.html", "batches/index.html", "batches/b-031/index.html"])
def test_without_scripts_the_dates_stand(path: str, looks: Callable[..., Any]) -> None:
    page = looks(path, scripts=False)
    assert "23 to 25 November 2026" in page.locator(".ahead").first.inner_text()


@pytest.mark.parametrize("width", [320, 1280])
@pytest.mark.parametrize("id", BATCHES)
def test_every_calculation_opens_and_nothing_grows_wider_than_the_screen(
    id: str, width: int, looks: Callable[..., Any]
) -> None:
    page = looks(f"batches/{id}/index.html", width)
    summaries = page.locator("details.calculated > summary")
    for at in range(summaries.count()):
        summaries.nth(at).click()
        assert page.locator("details.calculated .formula").nth(at).is_visible()
    inner, outer = page.evaluate("[document.documentElement.clientWidth, document.documentElement.scrollWidth]")
    assert summaries.count()
    assert outer <= inner


def test_on_a_wide_screen_the_numbers_stand_beside_the_course(looks: Callable[..., Any]) -> None:
    page = looks("batches/b-031/index.html", 1280)
    course, counts = page.locator(".course").bounding_box(), page.locator(".counts").bounding_box()
    assert counts["x"] > course["x"] + course["width"]
    phone = looks("batches/b-031/index.html", 390)
    course, counts = phone.locator(".course").bounding_box(), phone.locator(".counts").bounding_box()
    assert counts["y"] + counts["height"] <= course["y"]
