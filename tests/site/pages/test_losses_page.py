"""Losses: lot by lot with limits where there are enough, and by what lots have in common; and none of it in a share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from journal.analysis.losses import FEWEST_LOTS
from journal.site.pages import plan_site
from tests.site.test_pages import Rendered

Make = Callable[..., Any]


def plates(number: int) -> dict[str, str]:
    """So many lots of ten plates; one is lost of each but the last, of which eight are."""
    files = {}
    for at in range(number):
        lost = 8 if at == number - 1 else 1
        day = f"2026-{at // 28 + 1:02d}-{at % 28 + 1:02d}"
        head = f"---\nkind: culture\nid: C-{at}\ndate: {day}\nreceived from: x\nform: plate\nvessels: 10\n---\n"
        files |= {
            f"c{at}.md": head,
            f"n{at}.md": f"---\nkind: note\nabout: C-{at}\ndate: {day}\nlost: {lost}\ncause: green mould\n---\n",
        }
    return files


@pytest.mark.parametrize("number", [FEWEST_LOTS, FEWEST_LOTS - 1])
def test_limits_are_shown_from_twenty_lots_on_and_below_that_it_says_too_few(number: int, make_journal: Make) -> None:
    page = Rendered(plan_site(make_journal(plates(number)), {}))["losses/"]
    words = " ".join(page.main.get_text(" ").split())
    enough = number >= FEWEST_LOTS
    assert f"{number + 7} of {number * 10} vessels lost in {number} lots: 14 %" in words
    assert enough == ("Too few for limits" not in words)
    assert [enough, enough] == [bool(page.select("svg rect.range")), "outside" in words]
    assert [1 if enough else 0, number] == [len(page.select("svg circle.out")), len(page.select("svg circle"))]
    assert f"Causes: green mould {number + 7}." in words
    numbers = [text for text in page.select("svg text.tick") if text["x"] == "0" and "dx" in text.attrs]
    assert {"end"} == {text["text-anchor"] for text in numbers}  # beside the plot, not on it
    assert f"A dot for each of the {number} lots, in order of their days" in words
    assert ["plate: January 2026"] == [
        row.td.get_text() for row in page.select("section[aria-labelledby=by-month] tbody tr")
    ]


STEPS = {
    "s.md": "---\nkind: culture\nid: S\ndate: 2026-01-02\nreceived from: x\nform: slant\nvessels: 3\n---\n",
    "g.md": "---\nkind: culture\nid: G\ndate: 2026-01-03\nfrom: S\nform: grain\nvessels: 4\n---\n",
    "b.md": "---\nkind: batch\nid: B\ndate: 2026-02-03\nculture: G\nunits: 6\n---\n",
    "n.md": "---\nkind: note\nabout: B\ndate: 2026-02-09\nlost: 1\n---\n",
}


def test_steps_and_tables_are_in_two_columns_that_end_together(make_journal: Make) -> None:
    page = Rendered(plan_site(make_journal({**plates(2), **STEPS}), {}))["losses/"]
    columns = [
        [
            [section["aria-labelledby"] for section in column.find_all("section")]
            for column in both.find_all("div", recursive=False)
        ]
        for both in page.select(".side-by-side")
    ]
    assert [
        [["step-plate", "step-slant"], ["step-grain", "step-batch"]],  # plates and batches have a chart
        [["by-spawn"], ["by-month"]],
    ] == columns
    assert "G" == page.select_one("section[aria-labelledby=by-spawn] td a.id").get_text()


def test_one_lot_is_shown_as_one(make_journal: Make) -> None:
    page = Rendered(plan_site(make_journal(plates(1)), {}))["losses/"]
    assert "A dot for the only lot, and a line at 80 %" in " ".join(page.main.get_text(" ").split())


def test_a_share_has_no_losses_page(make_journal: Make) -> None:
    journal = make_journal(plates(1))
    sites = [plan_site(journal, {}, share=share) for share in (None, "m")]
    assert [True, False] == ["losses/index.html" in {page.path for page in site.pages} for site in sites]
