"""What was kept back, for the author's own eyes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from journal.model import CoreLog, Journal, LoggerFile
from journal.settings import Share
from journal.sharing.grant import LeftOutOfShare
from journal.sharing.redact import redaction_of

WOOD = {
    "journal.toml": '[journal]\n[tents.hut]\nname = "Hut"\n',
    "f.md": "---\nkind: find\nid: F-1\ndate: 2026-09-12\nplace: Alder Bank\npermission: crofter\npatch: stem\n"
    "where: 58.30412, -8.90177\nlocality: area\n---\n",
    "c.md": "---\nkind: culture\nid: C-1\nfrom: F-1\ndate: 2026-09-13\n---\nOn.\n::: private\nno\n:::\n",
    "x.md": "---\nkind: culture\nid: X-1\nreceived from: unknown\ndate: 2026-09-13\nphotos: a.jpg\n---\n",
    "n.md": "---\nkind: note\nabout: C-1\ndate: 2026-09-20\nprivate: yes\n---\n",
    "b.md": "---\nkind: batch\nid: B-1\nculture: C-1\ndate: 2026-10-06\ncost: 12\n---\n",
    "h.md": "---\nkind: note\nabout: B-1\ndate: 2026-11-01\nharvest: 1 kg\nflush: 1\nminutes: 25\nsold: 14\n---\n",
    "v.md": "---\nkind: note\nabout: F-1\ndate: 2026-10-02\nharvest: 300 g\n---\n",
    "o.md": "---\nkind: note\nabout: C-1\ndate: 2026-08-20\n---\n",
}


@pytest.mark.parametrize(
    "kept_back",
    [
        LeftOutOfShare("entry", "Culture X-1", "not shared"),
        LeftOutOfShare("entry", "Note on C-1", "private"),
        LeftOutOfShare("entry", "Note on C-1", "before since"),
        LeftOutOfShare("text", "Culture C-1", "private passage"),
        LeftOutOfShare("place", "F-1", "never shared"),
        LeftOutOfShare("patch", "F-1", "never shared"),
        LeftOutOfShare("permission", "F-1", "never shared"),
        LeftOutOfShare("cost", "B-1", "never shared"),
        LeftOutOfShare("minutes", "Note on B-1: harvest", "never shared"),
        LeftOutOfShare("sold", "Note on B-1: harvest", "never shared"),
        LeftOutOfShare("mass picked at a visit", "Note on F-1: harvest", "never shared"),
        LeftOutOfShare("core log", "B-1", "never shared"),
        LeftOutOfShare("position", "F-1", "made coarse"),
        LeftOutOfShare("photo", "a.jpg", "not shared"),
        LeftOutOfShare("tent", "Hut", "not shared"),
        LeftOutOfShare("persons", "by, identified by, received from", "persons are not shared"),
    ],
    ids=str,
)
def test_it_is_reported_with_its_reason(make_journal: Callable[..., Journal], kept_back: LeftOutOfShare) -> None:
    share = Share(name="m", about=("C-1",), since=date(2026, 9, 1), positions="area")
    logs = [CoreLog(entry="b.md", log=LoggerFile(path="core.csv", tent=""))]
    assert kept_back in redaction_of(make_journal(WOOD, {"a.jpg": {}}, core_logs=logs), share).left_out


def test_words_of_finds_that_stay_out_are_reported(make_journal: Callable[..., Journal]) -> None:
    kept_back = LeftOutOfShare("words", "Find F-1", "words of finds")
    assert kept_back in redaction_of(make_journal(WOOD), Share(name="m", about=("C-1",))).left_out
    assert kept_back not in redaction_of(make_journal(WOOD), Share(name="m", about=("C-1",), texts="all")).left_out


def test_a_position_that_is_hidden_is_shown_as_such(make_journal: Callable[..., Journal]) -> None:
    withheld = redaction_of(make_journal(WOOD), Share(name="m", about=("C-1",))).left_out
    assert LeftOutOfShare("position", "F-1", "hidden") in withheld


def test_what_is_shared_whole_is_not_told(make_journal: Callable[..., Journal]) -> None:
    share = Share(name="m", about=("C-1", "hut"), by=True)
    named = {(one.what, one.which) for one in redaction_of(make_journal(WOOD), share).left_out}
    assert not {("tent", "Hut"), ("entry", "Culture C-1"), ("persons", "by, identified by, received from")} & named
