"""The figures of a journal, tied together."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property

import pytest

from journal.analysis import analysis
from journal.analysis.analysis import Analysis
from journal.model import Journal
from journal.settings import Settings

Make = Callable[..., Journal]
FIGURES = [name for name, value in vars(Analysis).items() if isinstance(value, cached_property)]
LINE = {
    "c.md": "---\nkind: culture\nid: C\ndate: 2026-09-01\nreceived from: a friend\nform: grain\n---\n",
    "b.md": "---\nkind: batch\nid: B\ndate: 2026-10-01\nculture: C\nunits: 2\ndry mass: 500 g\n---\n",
}


def test_a_figure_is_calculated_when_it_is_asked_for_and_never_again(
    make_journal: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls: list[str] = []
    for name in ("lineage_of", "progress_of", "yields_of"):
        whole = getattr(analysis, name)
        monkeypatch.setattr(analysis, name, lambda *given, of=name, by=whole: (calls.append(of), by(*given))[1])
    found = Analysis(make_journal(LINE))
    assert [] == calls
    assert found.yields["B"].batch == "B"
    assert ["progress_of", "yields_of"] == calls
    assert found.comparison.lines[0].growing == ("B",)
    assert found.rollups is found.rollups
    assert ["lineage_of", "progress_of", "yields_of"] == sorted(calls)


@pytest.mark.parametrize("figure", FIGURES)
def test_a_journal_with_nothing_in_it_has_every_figure(figure: str) -> None:
    assert getattr(Analysis(Journal(settings=Settings())), figure) is not None


def test_there_are_figures() -> None:
    assert len(FIGURES) > 15
