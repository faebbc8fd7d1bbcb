"""A line and its batch B-1 as files, and what a page of theirs is asked for."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from bs4 import BeautifulSoup, Tag

from journal.model import Journal
from journal.site.pages import plan_site
from tests.builders import entry, noted
from tests.site.test_pages import Rendered

Make = Callable[..., Rendered]
FIND = "id: F-1\ndate: 2025-09-12\nspecies: Pleurotus pulmonarius\ncertainty: likely"
LINE = {"f.md": entry("find", FIND), "c.md": entry("culture", "id: PP-1\ndate: 2025-09-13\nfrom: F-1")}
BATCH = "id: B-1\ndate: 2026-01-01\ntitle: Four blocks\nculture: PP-1\nunits: 4"
WEIGHED = f"{BATCH}\nwet mass: 2.3 kg\nmoisture: 62 %\nspawn mass: 200 g"
PICKED = (
    noted("2026-01-20", "lost: 1\ncause: green mould", "B-1.3"),
    noted("2026-02-01", "harvest: 1290 g\nflush: 1"),
    noted("2026-02-13", "harvest: 570 g\nflush: 2"),
)
SPENT = noted("2026-03-01", "stage: spent")


def site_with(make_journal: Callable[..., Journal]) -> Make:
    """Gives the rendered pages of the line and its batch, of these keys and notes, with other files on top."""

    def made(batch: str = WEIGHED, *notes: str, files: Mapping[str, str] | None = None) -> Rendered:
        told = {f"n{at}.md": text for at, text in enumerate(notes)}
        journal = make_journal({**LINE, "b.md": entry("batch", batch), **told, **(files or {})})
        return Rendered(plan_site(journal, {}))

    return made


def page_of(rendered: Rendered) -> BeautifulSoup:
    return rendered["batches/b-1/"]


def flat(part: Tag | None) -> str:
    """The words of a part that must be there."""
    assert part is not None
    return " ".join(part.get_text().split())


def rows_of(table: Tag | None) -> list[list[str]]:
    assert table is not None
    return [[flat(cell) for cell in row.select("th, td")] for row in table.select("tbody tr, tfoot tr")]
