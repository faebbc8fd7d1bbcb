"""The title of an entry, and how a reader of a share names it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime

import pytest

from journal.model import Journal, When
from journal.sharing.redact import redaction_of
from journal.site.pages import plan_site
from journal.site.pages.entry_words import question_about
from journal.site.pages.lookup import Lookup
from tests.builders import batch, entry, note, noted
from tests.site.test_pages import WOOD, Rendered

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


TITLED = {
    "finds/f-2.md": entry("find", "id: F-2\ndate: 2026-10-03\nspecies: Pleurotus pulmonarius\ntitle: The sixth cap"),
    "cultures/c-2.md": entry("culture", "id: C-2\nfrom: F-2\nform: plate\ndate: 2026-10-04\ntitle: For the baker"),
    "batches/b-2.md": entry("batch", "id: B-2\nculture: C-2\nunits: 2\ndate: 2026-10-09\ntitle: Two by the door"),
}


@pytest.mark.parametrize(
    ("page", "title", "plain"),
    [
        ("finds/f-2/", "The sixth cap", "finds/f26-001/"),
        ("cultures/c-2/", "For the baker", "cultures/pp-26a/"),
        ("batches/b-2/", "Two by the door", "batches/b-031/"),
    ],
)
def test_a_title_is_below_the_species_on_its_page_in_its_list_and_in_the_diary(
    make_journal: Callable[..., Journal], page: str, title: str, plain: str
) -> None:
    site = Rendered(plan_site(make_journal({**WOOD, **TITLED}), {}))
    assert title == site[page].select_one("h1 + .own-title").get_text()
    assert "Pleurotus pulmonarius" in site[page].h1.get_text()
    assert not site[plain].select(".own-title")  # one that is made from kind, ID and species adds nothing
    assert [title] == [shown.get_text() for shown in site[page.partition("/")[0] + "/"].select(".own-title")]
    assert f", {title}" in site.words("diary/2026-10/")


@pytest.mark.parametrize(("texts", "is_shown"), [("", False), ('texts = "all"\n', True)])
def test_a_title_of_a_find_is_in_a_share_where_its_text_is(
    make_journal: Callable[..., Journal], texts: str, is_shown: bool
) -> None:
    journal = make_journal({"journal.toml": f'[shares.s]\nabout = "F-2"\n{texts}', **TITLED})
    site = Rendered(plan_site(redaction_of(journal, journal.settings.shares[0]).journal, {}, share="s"))
    for page in ("finds/", "finds/f-2/"):
        assert is_shown == ("The sixth cap" in site[page].decode())
        assert is_shown == bool(site[page].select(".own-title"))


RENAMED = {
    "journal.toml": '[tents.hut]\nname = "Hut"\n[shares.s]\nabout = ["F-2", "PP-2", "B-2", "hut"]\n',
    "f.md": entry("find", "id: F-2\ndate: 2026-09-12\nformerly: F-1"),
    "c.md": entry("culture", "id: PP-2\ndate: 2026-09-13\nfrom: F-2\nformerly: PP-1, SC-1"),
    "b.md": entry("batch", "id: B-2\ndate: 2026-10-13\nculture: PP-2\nformerly: B-1"),
    "d.md": entry("device", "id: fan-2\ndate: 2026-01-02\ntent: hut\ndoes: fan\nformerly: fan-1"),
}


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("finds/f-2/", "earlier ID F-1"),
        ("cultures/pp-2/", "earlier IDs PP-1, SC-1"),
        ("batches/b-2/", "earlier ID B-1"),
        ("tents/hut/power/", "earlier ID fan-1"),
    ],
)
def test_what_was_renamed_has_its_earlier_ids_among_its_facts_but_in_no_share(
    make_journal: Callable[..., Journal], path: str, words: str
) -> None:
    journal = make_journal(RENAMED)
    found = Rendered(plan_site(journal, {}))[path]
    told = [" ".join(part.get_text(" ").split()).replace(" ,", ",") for part in found.select("dl, .detail")]
    assert any(words in one for one in told)
    shared = Rendered(plan_site(redaction_of(journal, journal.settings.shares[0]).journal, {}, share="s"))
    assert "earlier ID" not in shared[path].get_text()


@pytest.mark.parametrize("path", ["finds/f-2/", "cultures/pp-2/", "batches/b-2/"])
def test_entries_stand_newest_first_on_every_page(make_journal: Callable[..., Journal], path: str) -> None:
    notes = {f"n{day}.md": noted(f"2026-11-0{day}", f"title: Day {day}", "F-2, PP-2, B-2") for day in (1, 2, 3)}
    page = Rendered(plan_site(make_journal({**RENAMED, **notes}), {}))[path]
    told = [str(one["datetime"]) for one in page.select("article.entry h3 time")]
    assert ["2026-11-03", "2026-11-02", "2026-11-01"] == told
