"""A descent of sixty nodes in a real browser: nothing is over anything else, whatever the face and the width."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from journal.model import Journal
from journal.site.app import create_app
from journal.site.pages import plan_site
from tests.browser.conftest import WIDTHS, Look
from tests.builders import write_static
from tests.sixty import sixty

pytestmark = pytest.mark.browser

ROOT = Path(__file__).parents[2]
PAGE = "cultures/po-25a/index.html"

LAID_OVER = """() => {
  const boxes = [...document.querySelectorAll('.descent text, .descent path.tag')]
    .filter((e) => !(e.matches('text.tag')))
    .map((e) => [e.textContent || 'tag', e.getBoundingClientRect()]);
  const over = [];
  boxes.forEach(([name, a], at) => boxes.slice(at + 1).forEach(([other, b]) => {
    if (a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom) over.push(`${name} / ${other}`);
  }));
  return over;
}"""
LINES_THROUGH_WORDS = """() => {
  const lines = [...document.querySelectorAll('.descent line')].map((e) => e.getBoundingClientRect());
  return [...document.querySelectorAll('.descent text')].filter((text) => {
    const a = text.getBoundingClientRect();
    return lines.some((b) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom);
  }).map((text) => text.textContent);
}"""
TAGS_BURST = """() => [...document.querySelectorAll('.descent a.step')].filter((link) => {
  const [tag, words] = ['path.tag', 'text.tag'].map((part) => link.querySelector(part).getBoundingClientRect());
  return words.right > tag.right || words.left < tag.left;
}).map((link) => link.textContent)"""
OUT_OF_SIGHT = """() => {
  const right = document.documentElement.clientWidth;
  return [...document.querySelectorAll('.descent text')].filter((e) => e.getBoundingClientRect().right > right)
    .map((e) => e.textContent);
}"""


@pytest.fixture(scope="module")
def folder(make_journal: Callable[..., Journal], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of a culture of sixty nodes, and what it needs to look as it should."""
    site = plan_site(make_journal(sixty()), {})
    place = tmp_path_factory.mktemp("sixty")
    (place / PAGE).parent.mkdir(parents=True)
    answer = create_app(site.pages, ROOT / "templates").test_client().get("/cultures/po-25a/")
    (place / PAGE).write_text(answer.text, encoding="utf-8")
    write_static(place)
    return place


@pytest.fixture(scope="module")
def look(looking: Callable[..., Look], folder: Path) -> Callable[..., Any]:
    return partial(looking(folder), PAGE)


@pytest.mark.parametrize("width", [320, 360, 390, 820, 1280])
def test_sixty_nodes_lie_apart_and_in_sight(look: Any, width: int) -> None:
    page = look(width)
    assert 60 == page.locator(".descent a.step").count()
    assert [] == page.evaluate(LAID_OVER)
    assert [] == page.evaluate(LINES_THROUGH_WORDS)
    assert [] == page.evaluate(TAGS_BURST)
    assert ["PO-25A-LIQUID-FOR-THE-FERRY-BAKE"] * (width < 400) == page.evaluate(OUT_OF_SIGHT)
    inner, outer = page.evaluate(WIDTHS)
    assert outer <= inner


def test_every_node_is_a_target_for_a_thumb(look: Any) -> None:
    heights = look(360).evaluate(
        "[...document.querySelectorAll('.descent .reach')].map((e) => e.getBoundingClientRect().height)"
    )
    assert min(heights) >= 48


def test_a_touch_anywhere_on_a_row_leads_to_its_page(look: Any) -> None:
    touched = look(360).evaluate(
        """() => {
          const rows = [...document.querySelectorAll('.descent a.step')];
          const row = rows.find((e) => e.textContent.includes('PO-25A-T9')).querySelector('.reach');
          row.scrollIntoView({ block: 'center', behavior: 'instant' });
          const box = row.getBoundingClientRect();
          const spots = [[4, 0.1], [100, 0.5], [200, 0.4], [310, 0.9]];
          return spots.map(([x, y]) => document.elementFromPoint(box.left + x, box.top + box.height * y)
            .closest('a')?.getAttribute('href'));
        }"""
    )
    assert ["../../cultures/po-25a-t9/index.html"] * 4 == touched


def test_the_list_of_sixty_fits_a_narrow_screen(look: Any) -> None:
    page = look(320, afresh=True)
    page.click(".culture-descent summary")
    assert 60 == page.locator(".descent-list a.id:visible").count()
    inner, outer = page.evaluate(WIDTHS)
    assert outer <= inner


def test_larger_letters_grow_the_whole_drawing(look: Any) -> None:
    page = look(360, afresh=True)
    page.evaluate("document.documentElement.style.fontSize = '26px'")
    assert [] == page.evaluate(LAID_OVER)
    inner, outer = page.evaluate(WIDTHS)
    assert outer <= inner
