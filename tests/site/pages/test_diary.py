"""The diary: every entry by day, also what is about nothing in particular."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.export.document import document
from journal.model import Journal
from journal.site.pages import plan_site
from journal.site.pages.diary import rail_of
from journal.site.pages.lookup import Lookup
from journal.site.pages.search_rows import rows
from tests.reading.written import front
from tests.site.test_pages import Rendered, published

FREE = {
    "notes/a.md": front("note", date="2026-11-25 14:03") + "Bought rye, *20 kg*.\n",
    "notes/b.md": front("note", date="2026-11-25", next="2026-11-28 soak it"),
    "batches/B-031/batch.md": front("batch", id="B-031", date="2026-11-24"),
}


def test_a_note_about_nothing_is_in_the_diary_alone(make_journal: Callable[..., Journal]) -> None:
    journal = make_journal(FREE)
    site = Rendered(plan_site(journal, {}))
    page = site["diary/2026-11/"]
    told = [page.select_one(f"[id='{anchor}']") for anchor in ("2026-11-25", "2026-11-25-2")]
    assert ["Bought rye, 20\N{NO-BREAK SPACE}kg." in one.get_text() for one in told if one] == [False, True]
    assert [[], []] == [one.select(".tag") for one in told if one]
    assert "Soak it" in site[""].get_text()
    assert "rye" not in site["batches/b-031/"].get_text()


def test_a_note_about_nothing_is_found_and_exported(make_journal: Callable[..., Journal]) -> None:
    journal = make_journal(FREE)
    found = {row.words: (row.path, row.id, row.kind) for row in rows(Lookup(journal, {})) if "rye" in row.words}
    assert [("diary/2026-11/index.html#2026-11-25-2", "", "note")] == list(found.values())
    assert [[], []] == [row["about"] for row in document(journal)["notes"]]


SEEN = {
    "n/a.md": front("note", date="2026-11-03", photos="a.jpg") + "Words.\n",
    "n/b.md": front("note", date="2026-11-30", photos="b.jpg", about="B-031", harvest="400 g"),
    "f/find.md": front("find", id="F-1", date="2026-11-07") + "![the cluster](f.jpg)\n\nOn the stump.\n",
    "batches/B-031/batch.md": front("batch", id="B-031", date="2026-10-24"),
    "n/c.md": front("note", date="2026-10-31", photos="c.jpg", about="B-031", harvest="200 g"),
    "n/d.md": front("note", date="2026-10-30", photos="d.jpg"),
}
PHOTOS = ("n/a.jpg", "n/b.jpg", "f/f.jpg", "n/c.jpg", "n/d.jpg")


@pytest.fixture(scope="module")
def seen(make_journal: Callable[..., Journal]) -> Rendered:
    photos = {path: {"width": 1600, "height": 1200} for path in PHOTOS}
    return Rendered(plan_site(make_journal(SEEN, photos), published(*PHOTOS)))


def test_a_month_is_a_strip_of_its_days_with_its_best_photo(seen: Rendered) -> None:
    """November has a find, whose photo comes before that of the later harvest; October the photo of a harvest."""
    rows = seen["diary/"].select(".months > li.row")
    assert [["p2-320.webp"], ["p3-320.webp"]] == [
        [image["src"].rpartition("/")[2] for image in row.select(".thumb img:not(.mist)")] for row in rows
    ]
    strips = [row.select_one("svg.ticks") for row in rows]
    assert ["0 0 30 1", "0 0 31 1"] == [strip["viewbox"] for strip in strips]
    assert ["entries on 3 days", "entries on 3 days"] == [strip["aria-label"] for strip in strips]
    assert "M2.1 0h.8v1h-.8zM6.1 0h.8v1h-.8zM29.1 0h.8v1h-.8z" == strips[0].select("path")[-1]["d"]


def test_a_day_is_in_the_rail_and_its_photos_beside_its_text(seen: Rendered) -> None:
    days = seen["diary/2026-11/"].select(".day")
    assert ["30 Nov", "7 Nov", "3 Nov"] == [" ".join(day.h2.get_text().split()) for day in days]
    find = days[1].select_one("article")
    assert "On the stump." in find.get_text()
    assert ["p2-320.webp"] == [image["src"].rpartition("/")[2] for image in find.select("img:not(.mist)")]
    assert find.select_one(".sheet img") is not None  # also a photo that the text itself shows


@pytest.mark.parametrize(
    ("rail", "day"),
    [(("25", "Nov"), "25 November 2026"), (("", "October 2026"), "October 2026"), (("", "2026"), "2026"),
     (("", "about 3 October 2026"), "about 3 October 2026")],
)  # fmt: skip
def test_what_is_not_known_to_the_day_is_in_the_rail_in_full(rail: tuple[str, str], day: str) -> None:
    assert rail == rail_of(day)
