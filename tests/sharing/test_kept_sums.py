"""A share tells no sum as the whole where it keeps back a part, and says so."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.yields import PARTLY_SHARED
from journal.cache.resources import find_resources
from journal.model import Journal
from journal.settings import Share
from journal.sharing.grant import LeftOutOfShare
from journal.sharing.redact import redaction_of
from journal.site.app import create_app
from journal.site.pages import plan_site
from tests.builders import entry, noted

SINCE = date(2026, 11, 1)
BATCH = "units: 4\ndry mass: 250 g\ndate: 2026-10-06"
LINE = {
    "c.md": entry("culture", id="C-1", received_from="unknown", date="2026-09-01"),
    "d.md": entry("culture", id="D-1", received_from="unknown", date="2026-09-01"),
    "b1.md": entry("batch", BATCH, id="B-1", culture="C-1"),
    "b2.md": entry("batch", BATCH, id="B-2", culture="D-1"),
    "picked.md": noted("2026-11-10", "harvest: 500 g\nflush: 1"),
}
EARLY = {"early.md": noted("2026-10-28", "harvest: 200 g\nflush: 1\nstage: pinning")}
LOST = {"mixed.md": noted("2026-11-12", "lost: 1", "B-1, B-2")}  # of which nobody knows: no sum counts it
MIXED = {"mixed.md": noted("2026-11-12", "harvest: 200 g\nflush: 2", "B-1, D-1")}
HUSHED = {"hushed.md": noted("2026-11-12", "harvest: 200 g\nflush: 1\nprivate: yes")}
SINCE_THEN = {"since": SINCE}


def share(**more: Any) -> Share:
    return Share(name="m", about=("B-1", "C-1"), **more)


@pytest.mark.parametrize(
    ("is_told", "files", "more"),
    [
        (True, {}, {}),
        (True, {}, SINCE_THEN),
        (True, EARLY, {}),
        (False, EARLY, SINCE_THEN),
        (True, LOST, {}),
        (False, MIXED, {}),
        (True, HUSHED, {}),  # that there is a private note is not told either
    ],
)
def test_be_is_given_of_the_whole_alone(
    make_journal: Callable[..., Journal], is_told: bool, files: dict[str, str], more: dict[str, Any]
) -> None:
    shown = redaction_of(make_journal({**LINE, **files}), share(**more)).journal
    crop = Analysis(shown).yields["B-1"]
    of_all = [crop.be, crop.be_survived, crop.per_unit, crop.per_day, crop.be_per_day]
    figures = [*of_all, *(one.be for one in crop.flushes)]
    assert {is_told} == {figure is not None for figure in figures}
    assert is_told == (PARTLY_SHARED not in crop.missing)
    rolled = Analysis(shown).rollups.cultures["C-1"]
    assert is_told == (rolled.be is not None)
    assert ((), () if is_told else ("B-1",)) == (rolled.without_dry, rolled.partly_shared)


def page(journal: Journal, path: str) -> str:
    site = plan_site(journal, {}, "share")
    text = create_app(site.pages, find_resources() / "templates").test_client().get(path).text
    return " ".join(html.unescape(re.sub("<[^>]+>", " ", text)).split())


def test_the_pages_say_so(make_journal: Callable[..., Journal]) -> None:
    shown = redaction_of(make_journal({**LINE, **EARLY}), share(since=SINCE)).journal
    batch, culture = page(shown, "/batches/b-1/"), page(shown, "/cultures/c-1/")
    assert "4 units inoculated, 500 g harvested as far as shared." in batch
    assert PARTLY_SHARED in batch
    assert "Shared from 1 November 2026 on; earlier entries are not shared" in batch
    assert "BE 50 %" not in batch + culture
    assert "Some harvests or losses of B-1 are not shared, so they are left out of BE." in culture
    assert "Only shared entries are counted" in culture


def test_no_first_is_given_of_what_began_before_the_share(make_journal: Callable[..., Journal]) -> None:
    """Of pins that were seen before, a later note of pins would be told as the first."""
    files = {**LINE, **EARLY, "again.md": noted("2026-11-20", "stage: pinning")}
    whole, told = (
        page(redaction_of(make_journal(files), share(**more)).journal, "/batches/b-1/") for more in ({}, SINCE_THEN)
    )
    assert "inoculated to first pins 22 days" in whole
    assert "inoculated to first pins" not in told


def test_the_author_is_told(make_journal: Callable[..., Journal]) -> None:
    def kept_back(files: dict[str, str], **more: Any) -> tuple[LeftOutOfShare, ...]:
        return redaction_of(make_journal({**LINE, **files}), share(**more)).left_out

    assert LeftOutOfShare("BE", "B-1", "told as a part") in kept_back(EARLY, since=SINCE)
    assert LeftOutOfShare("BE", "B-1", "told as a part") in kept_back(MIXED)
    assert ["sum"] == [one.what for one in kept_back(MIXED) if one.reason == "not all shared"]
    assert LeftOutOfShare("sum", "Note on B-1, B-2: loss", "not all shared") in kept_back(LOST)
    assert () == tuple(one for one in kept_back({}) if one.what in ("BE", "sum", "sums of"))
    assert LeftOutOfShare("sums of", "B-1", "private sums") in kept_back(HUSHED)
