"""The diary: every entry by day, also what is about nothing in particular."""

from __future__ import annotations

from collections.abc import Callable

from journal.export.document import document
from journal.model import Journal
from journal.site.pages import plan_site
from journal.site.pages.lookup import Lookup
from journal.site.pages.search_rows import rows
from tests.reading.written import front
from tests.site.test_pages import Rendered

FREE = {
    "notes/a.md": front("note", date="2026-11-25 14:03") + "Bought rye, *20 kg*.\n",
    "notes/b.md": front("note", date="2026-11-25", next="2026-11-28 soak it"),
    "batches/B-031/batch.md": front("batch", id="B-031", date="2026-11-24"),
}


def test_a_note_about_nothing_stands_in_the_diary_alone(make_journal: Callable[..., Journal]) -> None:
    journal = make_journal(FREE)
    site = Rendered(plan_site(journal, {}))
    page = site["diary/2026-11/"]
    told = [page.select_one(f"[id='{anchor}']") for anchor in ("2026-11-25", "2026-11-25-2")]
    assert ["Bought rye, 20 kg." in one.get_text() for one in told if one] == [False, True]
    assert [[], []] == [one.select(".tag") for one in told if one]
    assert "Soak it" in site[""].get_text()
    assert "rye" not in site["batches/b-031/"].get_text()


def test_a_note_about_nothing_is_found_and_exported(make_journal: Callable[..., Journal]) -> None:
    journal = make_journal(FREE)
    found = {row.words: (row.path, row.id, row.kind) for row in rows(Lookup(journal, {})) if "rye" in row.words}
    assert [("diary/2026-11/index.html#2026-11-25-2", "", "note")] == list(found.values())
    assert [[], []] == [row["about"] for row in document(journal)["notes"]]
