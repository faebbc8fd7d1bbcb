"""Losses over time: p-charts as a handbook has them, and the same losses by what lots have in common."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.losses import FEWEST_LOTS, by_month, by_spawn, by_treatment, causes_of, p_chart, steps_of

EXAMPLE = json.loads((Path(__file__).parents[1] / "outside" / "p_chart.json").read_text(encoding="utf-8"))

Make = Callable[..., Any]


def test_the_handbooks_worked_example_has_its_centre_its_limits_and_the_samples_outside() -> None:
    chart = p_chart([(lost, EXAMPLE["n"]) for lost in EXAMPLE["lost"]])
    assert chart is not None
    assert EXAMPLE["centre"] == pytest.approx(chart.centre, abs=0.00005)
    assert {(EXAMPLE["low"], EXAMPLE["high"])} == {(round(one.low, 4), round(one.high, 4)) for one in chart.samples}
    assert EXAMPLE["outside"] == [at for at, one in enumerate(chart.samples, 1) if one.is_out]
    assert (False, False) == (chart.are_few, chart.are_rough)


def test_limits_are_as_wide_as_the_lot_is_small_and_stay_between_nothing_and_all() -> None:
    chart = p_chart([(1, 4), (9, 96)])
    assert chart is not None
    assert 0.1 == chart.centre
    assert [(0.0, 0.55), (pytest.approx(0.0081, abs=1e-4), pytest.approx(0.1919, abs=1e-4))] == [
        (one.low, one.high) for one in chart.samples
    ]
    assert (True, True) == (chart.are_few, chart.are_rough)
    assert p_chart([(0, 0)]) is None


@pytest.mark.parametrize(("few", "lots"), [(True, FEWEST_LOTS - 1), (False, FEWEST_LOTS)])
def test_limits_take_twenty_lots(few: bool, lots: int) -> None:
    chart = p_chart([(1, 10)] * lots)
    assert chart is not None
    assert few == chart.are_few


FILES = {
    "a.md": "---\nkind: culture\nid: A\ndate: 2026-01-05\nreceived from: x\nform: plate\nvessels: 5\n"
    "treatment: 121 °C 45 min\n---\n",
    "g.md": "---\nkind: culture\nid: G\ndate: 2026-01-20\nfrom: A\nform: grain\nvessels: 4\n"
    "treatment: 121 °C 90 min\n---\n",
    "u.md": "---\nkind: culture\nid: U\ndate: 2026-01-21\nfrom: A\nform: grain\n---\n",
    "b.md": "---\nkind: batch\nid: B\ndate: 2026-02-10\nculture: G\nunits: 6\ntreatment: 121 °C 2.5 h\n---\n",
    "k.md": "---\nkind: batch\nid: K\ndate: 2026-02-20\nculture: G, U\nunits: 4\ntreatment: lime 18 h\n---\n",
    "n1.md": "---\nkind: note\nabout: A\ndate: 2026-01-12\nlost: 2\ncause: Green mould\n---\n",
    "n2.md": "---\nkind: note\nabout: B\ndate: 2026-02-20\nlost: 1\ncause: green mould\n---\n",
    "n3.md": "---\nkind: note\nabout: B\ndate: 2026-02-22\nlost: 1\n---\n",
    "n4.md": "---\nkind: note\nabout: K\ndate: 2026-03-01\nlost: 9\ncause: bacteria\nstage: discarded\n---\n",
}


@pytest.fixture
def found(make_journal: Make) -> Analysis:
    return Analysis(make_journal(FILES))


def test_a_lot_is_what_was_made_together_and_counted(found: Analysis) -> None:
    assert {"plate": ["A"], "grain": ["G"], "batch": ["B", "K"]} == {
        step: [lot.id for lot in lots] for step, lots in steps_of(found.lots).items()
    }
    assert [("A", 2, 5, False), ("G", 0, 4, False), ("B", 2, 6, True), ("K", 4, 4, False)] == [
        (lot.id, lot.lost, lot.inoculated, lot.may_lose_more) for lot in found.lots
    ]


def test_losses_are_told_by_treatment_by_spawn_and_by_month(found: Analysis) -> None:
    told = [
        [(row.name, row.share.part, row.share.whole) for row in rows]
        for rows in (by_treatment(found.lots), by_spawn(found.lots), by_month(found.lots))
    ]
    assert [
        [("batch: 121 °C 2.5 h", 2, 6), ("batch: lime 18 h", 4, 4), ("grain: 121 °C 90 min", 0, 4),
         ("plate: 121 °C 45 min", 2, 5)],
        [("G", 6, 10), ("U", 4, 4)],
        [("batch: 2026-02", 6, 10), ("grain: 2026-01", 0, 4), ("plate: 2026-01", 2, 5)],
    ] == told  # fmt: skip


def test_causes_are_counted_whatever_their_case_and_one_that_is_not_written_too(found: Analysis) -> None:
    assert (("bacteria", 9), ("green mould", 3), ("", 1)) == causes_of(found.lots)
    lot = next(lot for lot in found.lots if lot.id == "K")
    assert (4, 0, 4) == (lot.lost_to("bacteria"), lot.lost_to("mites"), lot.lost_to(None))
