"""The sample's batches in a browser: what comes next in the phone's words, and calculations that open on any width."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.browser.conftest import WIDTHS, Look

pytestmark = pytest.mark.browser

SUMMARY = (".begin", ".batch-timeline", ".counts", ".timeline-notes")
BATCHES = ("b-026", "b-027", "b-028", "b-031", "b-032", "b-033")


ON_DAY = """(day) => {
  document.documentElement.dataset.asOf = day;
  dispatchEvent(new PageTransitionEvent("pageshow", { persisted: true }));
}"""


@pytest.fixture(scope="module")
def look(looking: Callable[..., Look], sample_site: Path) -> Look:
    return looking(sample_site)


# B-032 is usually colonised from 15 December 2026 to 1 January 2027 (common practice).
@pytest.mark.parametrize(
    ("words", "day"),
    [
        ("in 3 to 20 days", "2026-12-12"),
        ("look now, usually within the next 2 days", "2026-12-30"),
        ("look now, usually by today", "2027-01-01"),
        ("look now, past the usual time", "2027-01-06"),
    ],
)
@pytest.mark.parametrize("path", ["index.html", "batches/index.html", "batches/b-032/index.html"], scope="module")
def test_the_phone_says_when_what_comes_next_is_expected(path: str, words: str, day: str, look: Look) -> None:
    page = look(path)
    page.evaluate(ON_DAY, day)
    assert words == page.inner_text(".ahead [data-expect-from='2026-12-15']")


def test_on_its_own_page_what_the_phone_says_of_that_is_a_line_of_its_own(look: Look) -> None:
    page = look("batches/b-032/index.html")
    page.evaluate(ON_DAY, "2027-01-01")
    assert page.inner_text("div.ahead > p:first-child").split("\n")[1:] == ["look now, usually by today"]


def test_what_is_not_expected_yet_is_not_due_yet(look: Look) -> None:
    page = look("index.html")
    page.evaluate(ON_DAY, "2026-11-24")
    row = page.locator("tr[data-row-from='2026-11-25']")
    assert not row.is_visible()
    page.evaluate(ON_DAY, "2026-11-30")
    assert row.is_visible()
    assert "late" not in (row.get_attribute("class") or "")  # a published range makes nothing late


def test_without_scripts_the_dates_stand(looking: Callable[..., Look], sample_site: Path) -> None:
    look = looking(sample_site, scripts=False)
    for path in ("index.html", "batches/index.html", "batches/b-031/index.html"):
        assert "from 25\N{NO-BREAK SPACE}Nov" in look(path).locator(".ahead:not(.planned)").first.inner_text(), path


FIRST_ROW = """() => {
  const [count, stage] = [...document.querySelector(".rows .row [data-day0]").parentElement.children];
  const before = getComputedStyle(stage, "::before").content;
  return [count.innerText, before === "none" ? "" : JSON.parse(before), stage.innerText];
}"""


@pytest.mark.parametrize(("words", "scripts"), [(["day 50", " · ", "pinning"], True), (["", "", "pinning"], False)])
def test_a_batch_in_the_list_says_once_when_it_was_inoculated(
    looking: Callable[..., Look], sample_site: Path, words: list[str], scripts: bool
) -> None:
    page = looking(sample_site, scripts=scripts)("batches/index.html")
    assert words == page.evaluate(FIRST_ROW)
    rows = page.locator(".rows > .row").all_inner_texts()
    assert [1] * 7 == [len(re.findall(r"inoculated (?:about )?[0-9]+\s[A-Z]", row)) for row in rows]


TAP_EACH = """() => [...document.querySelectorAll("details.calculated")].flatMap((details) => {
  const [summary, formula] = [details.querySelector("summary"), details.querySelector(".formula")];
  const wasShut = !formula.checkVisibility();
  summary.scrollIntoView({ block: "center", behavior: "instant" });
  const box = summary.getBoundingClientRect();
  document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2)?.click();
  return wasShut && formula.checkVisibility() ? [] : [summary.textContent];
})"""
"""Taps each calculation where its summary's middle is; gives those that this does not open."""


@pytest.mark.parametrize("id", BATCHES)
def test_every_calculation_opens_and_nothing_grows_wider_than_the_screen(id: str, look: Look) -> None:
    page = look(f"batches/{id}/index.html", afresh=True)
    page.evaluate("for (const one of document.querySelectorAll('details:not(.calculated)')) one.open = true;")
    summaries, formulas = page.locator("details.calculated > summary"), page.locator("details.calculated .formula")
    assert summaries.count()
    for width in (320, 1280):
        page.set_viewport_size({"width": width, "height": 844})
        summaries.first.click()
        assert formulas.first.is_visible(), width
        summaries.first.click()
        assert [] == page.evaluate(TAP_EACH), width
        inner, outer = page.evaluate(WIDTHS)
        assert outer <= inner, width
        page.evaluate("for (const one of document.querySelectorAll('details.calculated')) one.open = false;")


def test_on_a_wide_screen_the_numbers_are_beside_the_course(look: Look) -> None:
    page = look("batches/b-031/index.html", 1280)
    begin, timeline, counts, notes = (page.locator(part).bounding_box() for part in SUMMARY)
    assert counts["x"] > timeline["x"] + timeline["width"]
    assert counts["y"] == begin["y"]
    assert counts["y"] + counts["height"] == pytest.approx(notes["y"] + notes["height"], abs=1)  # they end together
    assert page.locator(".counts .hero .pic").bounding_box()["height"] > 150


def test_on_a_phone_four_numbers_stand_directly_under_the_timeline(look: Look) -> None:
    phone = look("batches/b-031/index.html", 390)
    _, timeline, counts, notes = (phone.locator(part).bounding_box() for part in SUMMARY)
    numbers = [one.bounding_box() for one in phone.locator(".figures.four > li").all()]
    assert 4 == len(numbers)
    assert numbers[0]["y"] < timeline["y"] + timeline["height"] + 100
    assert counts["y"] + counts["height"] <= notes["y"]
    assert not phone.locator(".counts .seen").is_visible()  # its newest entry shows that photo
