"""How a reader of a share names an entry."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime

import pytest

from journal.model import Journal, When
from journal.site.pages.entry_words import question_about
from journal.site.pages.lookup import Lookup
from tests.builders import batch, note, noted
from tests.site.test_pages import WOOD

PAGE = "batches/b-031/index.html"
DAY = When("2026-11-20", date(2026, 11, 20), "day")
MINUTE = When("", date(2026, 11, 20), "minute", datetime.fromisoformat("2026-11-20T14:05:00+00:00"))


@pytest.mark.parametrize(
    ("called", "written", "anchor"),
    [
        ("B-031, 20 November 2026", DAY, "2026-11-20"),
        ("B-031, 20 November 2026", MINUTE, "2026-11-20"),
        ("B-031, 20 November 2026, the second of that day", DAY, "2026-11-20-2"),
        ("B-031, 20 November 2026, no. 11 of that day", DAY, "2026-11-20-11"),
        ("B-031, about 20 November 2026", When("", date(2026, 11, 20), "about"), "2026-11-20"),
        ("B-031, November 2026", When("2026-11", date(2026, 11, 1), "month"), "2026-11"),
    ],
)
def test_an_entry_is_called_by_its_id_and_its_day(called: str, written: When, anchor: str) -> None:
    assert called == question_about("B-031", note("B-031", written), f"{PAGE}#{anchor}", "third pins", "Woods").called


def test_what_has_an_id_is_called_by_it() -> None:
    assert "B-031" == question_about("B-031", batch("B-031"), PAGE, "batch inoculated", "Woods").called


def test_a_message_begins_with_title_date_and_address() -> None:
    question = question_about("B-031", note("B-031", DAY), f"{PAGE}#2026-11-20", "pinning, Third pins", "Woods")
    assert "About B-031, 20 November 2026 in Woods\nPinning, Third pins\n" + PAGE + "#2026-11-20\n\n" == question.text


def test_an_entry_about_several_ids_is_called_on_each_page_by_that_pages_own(
    make_journal: Callable[..., Journal],
) -> None:
    journal = make_journal({**WOOD, "both.md": noted("2026-11-02", about="PP-26A, B-031")})
    lookup = Lookup(journal, {}, "key")
    (found,) = (one for one in journal.notes if one.path == "both.md")
    called = [lookup.question(found, journal.by_id[id]) for id in ("pp-26a", "b-031")]
    assert [
        ("PP-26A, 2 November 2026", "cultures/pp-26a/index.html#2026-11-02"),
        ("B-031, 2 November 2026", "batches/b-031/index.html#2026-11-02"),
    ] == [(one.called, one.address) for one in called if one]


def test_what_is_noted_of_a_device_is_called_by_its_tent_on_whose_page_it_stands(
    make_journal: Callable[..., Journal],
) -> None:
    journal = make_journal({**WOOD, "dead.md": noted("2026-11-02", "stage: dead", "fan-1")})
    lookup = Lookup(journal, {}, "key")
    (found,) = (one for one in journal.notes if one.path == "dead.md")
    question = lookup.question(found, journal.settings.tents[0])
    assert question is not None
    address = "tents/wash-house/history/index.html#2026-11-02"
    assert ("wash-house, 2 November 2026", address) == (question.called, question.address)


def test_on_the_authors_own_site_nobody_is_asked(make_journal: Callable[..., Journal]) -> None:
    journal = make_journal(WOOD)
    assert Lookup(journal, {}).question(journal.batches[0]) is None
