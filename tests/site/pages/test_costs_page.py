"""Costs: by line and batch, in the currency of the settings; and none of it in a share."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from journal.site.pages import plan_site
from tests.analysis.test_costs import files
from tests.site.test_pages import Rendered

Make = Callable[..., Any]


@pytest.mark.parametrize(
    ("currency", "a_kg"), [("'GBP'", "£17.00 a kg"), ("'SEK'", "17.00 SEK a kg"), (None, "17.00 a kg")]
)
def test_figures_and_lines_are_told_in_the_currency(currency: str | None, a_kg: str, make_journal: Make) -> None:
    written = {name: text.replace("£", "") for name, text in files().items()}
    written["journal.toml"] = f"[journal]\ncurrency = {currency}\n" if currency else "[journal]\ntitle = 't'\n"
    written["journal.toml"] += "[tents.hut]\nname = 'Hut'\n"
    site = Rendered(plan_site(make_journal(written), {}))
    page = site["costs/"]
    assert a_kg == page.select_one("ul.figures b").get_text()
    (line, none) = (
        " ".join(row.get_text(" ").split()) for row in page.select("section[aria-labelledby=by-line] tbody tr")
    )
    assert "1 of 3 1.5 kg 2 of 3" in line
    assert none.startswith("of several lines, or none")
    assert ("The settings name no currency" in site.words("costs/")) == (currency is None)


def test_in_us_units_prices_and_work_are_by_the_pound(make_journal: Make) -> None:
    """17.00 and 12.00 a kg, 1.5 kg an hour. Source: NIST SP 811 (2008), B.8: 1 lb (avoirdupois) = 0.453 592 37 kg."""
    toml = files()["journal.toml"].replace("[journal]\n", "[journal]\nunits = 'us'\n")
    page = Rendered(plan_site(make_journal({**files(), "journal.toml": toml}), {}))["costs/"]
    assert "£7.71 a lb" == page.select_one("ul.figures b").get_text()
    words = " ".join(page.main.get_text(" ").split())
    for said in (
        "Figures per pound",
        "Line Cost a lb Pounds an hour",
        "3.31 lb an hour",
        "£5.44 1 of 3 3.31 lb 2 of 3",
    ):
        assert said in words
    assert not re.search(r"\bkg\b|kilogram", words, re.IGNORECASE)


def test_where_nothing_is_written_it_says_what_to_write(make_journal: Make) -> None:
    assert "Nothing recorded yet" in Rendered(plan_site(make_journal({}), {})).words("costs/")


def test_a_note_shows_its_work_and_money_and_a_batch_its_cost(make_journal: Make) -> None:
    words = Rendered(plan_site(make_journal(files()), {})).words("batches/b1/")
    for said in ("30 min of work", "cost £2.00", "sold for £9.00", "cost, whole batch £10.00"):
        assert said in words


def test_a_share_has_no_costs_page(make_journal: Make) -> None:
    sites = [plan_site(make_journal(files()), {}, share=share) for share in (None, "m")]
    assert [True, False] == ["costs/index.html" in {page.path for page in site.pages} for site in sites]


def test_the_figure_with_devices_is_over_the_same_batches_and_only_where_something_was_paid_for_these(
    make_journal: Make,
) -> None:
    words = Rendered(plan_site(make_journal(files()), {})).words("costs/")
    assert "£41.00 a kg with devices, services and other notes, over the same 2 batches" in words
    assert "batches £17.00" in words
    assert "harvested 1 kg" in words
    unpaid = {name: text for name, text in files().items() if name not in {"f.md", "t.md", "nnnnn.md"}}
    assert "with devices" not in Rendered(plan_site(make_journal(unpaid), {})).words("costs/")


def test_what_is_noted_on_several_things_is_said_to_be_left_out(make_journal: Make) -> None:
    more = "---\nkind: note\nabout: B1, B2\ndate: 2026-11-20\nminutes: 90\ncost: £8\n---\n"
    words = Rendered(plan_site(make_journal({**files(), "several.md": more}), {})).words("costs/")
    assert "without 2.1 h noted on cultures or several batches" in words
    assert "without £9.00 in notes about cultures or several batches" in words
