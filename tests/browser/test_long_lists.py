"""Long lists as a reader opens them, from a folder: folded years, filters, jumps, the map of all finds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from journal.model import TentEntry
from journal.settings import Settings, Tent
from journal.site.pages import plan_site
from tests.builders import find, journal_of, some, when, write_static
from tests.site.pages.test_long_lists import days
from tests.site.test_pages import Rendered

pytestmark = pytest.mark.browser

ROWS = "[...document.querySelectorAll('li.row')].filter((row) => row.checkVisibility()).length"


@pytest.fixture(scope="module")
def finds(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The address of a list of 150 finds of 2024 to 2026, each at a place of its own; beside it the history of a tent
    with a service every week."""
    folder = tmp_path_factory.mktemp("long")
    rows = [
        find(f"F-{at}", day, species="Pleurotus ostreatus" if at % 2 else "Lentinula edodes", place=f"Wood {at}")
        for day, at in days(150, "2024-01-01", 7)
    ]
    served = [
        TentEntry(path=f"{at}.md", date=when(day), title="", by="k", about=("hut",), serviced=("tank",))
        for day, at in days(150, "2024-01-01", 7)
    ]
    hut = Settings(tents=(Tent(id="hut", name="Hut"),))
    site = Rendered(plan_site(replace(journal_of(*rows), settings=hut, tent_entries=tuple(served)), {}))
    for page in site.site.pages:
        if page.endpoint in ("finds", "history", "part", "rows"):
            (folder / page.path).parent.mkdir(parents=True, exist_ok=True)
            (folder / page.path).write_text(site.client.get("/" + page.path.removesuffix("index.html")).text, "utf-8")
    write_static(folder)
    return (folder / "finds" / "index.html").as_uri()


def test_a_folded_year_opens_in_place(tab: Any, finds: str) -> None:
    page = tab.afresh(finds).page
    assert 40 >= page.evaluate(ROWS)
    before = page.evaluate(ROWS)
    page.click("#year-2025 > summary")
    page.wait_for_selector("#year-2025 li.row")
    assert before + 52 == page.evaluate(ROWS)  # Mondays of 2025
    leads_to = page.evaluate("document.querySelector('#year-2025 .id').href")
    assert finds.replace("/finds/index.html", "/finds/f-104/index.html") == leads_to  # the last Monday of 2025


def test_a_filter_looks_into_what_is_folded_too(tab: Any, finds: str) -> None:
    visit = tab.afresh(finds)
    page = visit.page
    before = page.evaluate(ROWS)
    page.fill("[name=place]", "wood 3")
    visit.until("document.querySelector('[data-filtered]').textContent !== ''")
    assert "11 of 150 shown" == page.inner_text("[data-filtered]")  # 3 and 30 to 39
    assert 11 == page.evaluate(ROWS)
    page.fill("[name=species]", "pleurotus")
    visit.until("document.querySelector('[data-filtered]').textContent === '6 of 150 shown'")
    for name in ("place", "species"):
        page.fill(f"[name={name}]", "")
    visit.until(f"{ROWS} === {before}")


def test_a_jump_opens_its_year_and_its_row_of_years_stays_in_sight(tab: Any, finds: str) -> None:
    page = tab.afresh(finds).page
    page.click(".jumps a[href='#year-2024']")
    page.wait_for_selector("#year-2024 li.row")
    page.evaluate("scrollTo(0, document.documentElement.scrollHeight)")
    top = page.evaluate("document.querySelector('.jumps').getBoundingClientRect().top")
    assert 0 == pytest.approx(top, abs=1)


def test_an_address_that_names_a_day_opens_the_part_that_it_is_folded_in(tab: Any, finds: str) -> None:
    visit = tab.afresh(finds.replace("/finds/", "/tents/hut/history/") + "#2025-03-03")
    visit.page.wait_for_selector("article[id='2025-03-03']:target")
    visit.until("document.querySelector('article:target').getBoundingClientRect().top < innerHeight")
    assert 1 == visit.page.locator("details[open]").count()


def test_without_scripts_a_folded_part_is_a_link_to_its_page(looking: Any, finds: str) -> None:
    folder = Path(finds.removeprefix("file://")).parents[1]
    page = looking(folder, scripts=False).page
    page.goto(finds)
    links = page.locator("p.fold a")
    assert 3 == len(some(links.all(), 3))
    links.first.click()
    assert "/lists/finds/" in page.url
    assert page.locator("li.row").count() > 0
