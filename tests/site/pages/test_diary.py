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


SAID_ONCE = {
    "n/1.md": front("note", date="2026-11-01", about="B-031", lost="1", cause="green mould") + "At the rim.\n",
    "n/2.md": front("note", "", date="2026-11-02", about="B-031.1", photos="a.jpg"),
    "n/3.md": front("note", date="2026-11-03", about="B-031.2", harvest="300 g", flush="1", minutes="5"),
    "n/4.md": front("note", date="2026-11-04", about="B-031.1", photos="a.jpg") + "Wetter than before.\n",
    "n/5.md": front("note", date="2026-11-05", about="B-031", stage="contaminated", lost="1"),
    "n/6.md": front("note", date="2026-11-06", about="B-031", harvest="40 g", minutes="5", cost="2") + "Few.\n",
    "n/7.md": front("note", "", date="2026-11-07", photos="[a.jpg, b.jpg]"),
    "n/8.md": front("note", "", date="2026-11-08", about="B-031.1", next="2026-11-12 mist it"),
    "batches/B-031/batch.md": front("batch", id="B-031", date="2026-10-24", units="4"),
}


def test_an_entry_is_titled_by_what_it_says_and_says_it_once(make_journal: Callable[..., Journal]) -> None:
    photos = {path: {"width": 1600, "height": 1200} for path in ("n/a.jpg", "n/b.jpg")}
    site = Rendered(plan_site(make_journal(SAID_ONCE, photos), published(*photos)))
    told = {}
    for day in site["diary/2026-11/"].select("section.day"):
        title, said = day.select_one("h3 > a:last-of-type"), day.select_one(".facts")
        told[day.select_one("h2 b").get_text()] = tuple(
            part and part.get_text().replace("\xa0", " ") for part in (title, said)
        )
    assert {
        "1": ("1 lost: green mould", None),
        "2": ("photo of B-031.1", None),
        "3": ("300 g harvested, flush 1, 5 min of work", "of B-031.2"),
        "4": ("note of B-031.1", None),
        "5": ("1 contaminated", "1 lost"),
        "6": ("40 g harvested, 5 min of work", "cost 2.00"),
        "7": ("photos", None),
        "8": ("next: mist it", "of B-031.1"),
    } == told
