"""Costs and labour: only what is finished and told is divided, and what is about no batch counts for the whole."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.costs import JournalCosts, a_kilogram

Make = Callable[..., Any]


def note(name: str, about: str, lines: str) -> dict[str, str]:
    return {f"{name}.md": f"---\nkind: note\nabout: {about}\ndate: 2026-03-0{len(name)}\n{lines}\n---\n"}


def files() -> dict[str, str]:
    """Line A: B1 (1 kg for 12.00 with a note's 2.00, 30 min), B2 (2 kg, no cost told, 90 min), B3 (growing, paid 7.00).
    Of no line: B4 (lost whole, 5.00). A fan for 20.00, a service for 3.00, culture work of 15 min and 1.00."""
    made = {"a.md": "---\nkind: culture\nid: A\ndate: 2026-01-01\nreceived from: x\n---\n"}
    for id, lines in (
        ("B1", "culture: A\ncost: 10"),
        ("B2", "culture: A"),
        ("B3", "culture: A\ncost: 7"),
        ("B4", "cost: 5"),
    ):
        made[f"{id}.md"] = f"---\nkind: batch\nid: {id}\ndate: 2026-02-01\n{lines}\n---\n"
    return (
        made
        | {"journal.toml": "[journal]\ncurrency = 'GBP'\n[tents.hut]\nname = 'Hut'\n"}
        | note("n", "B1", "harvest: 1 kg\nflush: 1\nminutes: 30\nsold: 9\ncost: 2\nstage: spent")
        | note("nn", "B2", "harvest: 2 kg\nflush: 1\nminutes: 1.5 h\nstage: spent")
        | note("nnn", "B3", "harvest: 500 g\nflush: 1\nminutes: 10\nsold: £3")
        | note("nnnn", "B4", "lost: 1")
        | note("nnnnn", "A", "minutes: 15\ncost: 1")
        | note("nnnnnn", "B1, B2", "minutes: 20")
        | {"f.md": "---\nkind: device\nid: f\ndate: 2026-01-01\ntent: hut\ncost: 20\n---\n"}
        | {"t.md": "---\nkind: tent\nabout: hut\ndate: 2026-01-02\nserviced: tank\ncost: 3\n---\n"}
    )


@pytest.fixture(scope="module")
def found(make_journal: Make) -> JournalCosts:
    return Analysis(make_journal(files())).costs


def test_a_line_divides_what_is_finished_and_told(found: JournalCosts) -> None:
    line, none = found.lines
    assert ("A", "") == (line.name, none.name)
    assert (["B1"], 12.0) == ([one.batch for one in line.costed], line.per_kg)
    # 3 kg in the 120 minutes of B1 and B2; the note about both is nobody's own.
    assert (["B1", "B2"], 1.5) == ([one.batch for one in line.worked], line.kg_per_h)
    assert (19.0, 130.0, 12.0, 3500.0) == (line.paid, line.minutes, line.sold, line.harvest_g)
    assert (None, 5.0) == (none.per_kg, none.paid)
    assert ["B4"] == [one.batch for one in none.costed]


def test_over_all_batches_what_was_paid_for_a_lost_one_counts(found: JournalCosts) -> None:
    assert ["B1", "B4"] == [one.batch for one in found.of_all.costed]
    assert 17.0 == found.of_all.per_kg


def test_the_whole_journal_has_devices_services_and_everything_else_in_it(found: JournalCosts) -> None:
    assert (20.0, 3.0, 1.0, 35.0) == (found.devices, found.services, found.other, found.other_minutes)
    assert 12 + 7 + 5 + 20 + 3 + 1 == found.paid
    # Of the batches, B1 (1 kg) and B4 (lost whole) are finished and tell their cost: 17.00.
    assert 17 + 20 + 3 + 1 == found.paid_in_per_kg == found.per_kg
    assert (165.0, 12.0, True) == (found.minutes, found.sold, found.has_any)


def test_a_device_never_makes_a_kilogram_cheaper(make_journal: Make) -> None:
    """What a batch without a cost gave is in neither figure; nor is what was paid for one that grows."""
    costs = Analysis(make_journal(files() | {"f.md": files()["f.md"].replace("cost: 20", "cost: 0.5")})).costs
    assert (17.0, 17 + 0.5 + 3 + 1) == (costs.of_all.per_kg, costs.per_kg)


def test_devices_alone_give_no_cost_of_a_kilogram(make_journal: Make) -> None:
    written = {name: text for name, text in files().items() if name not in {"B1.md", "B4.md"}}
    costs = Analysis(make_journal({**written, "B1.md": files()["B1.md"].replace("cost: 10", "units: 2")})).costs
    assert (None, 31.0) == (costs.per_kg, costs.paid)


def test_where_nothing_is_written_nothing_is_told(make_journal: Make) -> None:
    costs = Analysis(make_journal({"b.md": "---\nkind: batch\nid: B\ndate: 2026-02-01\n---\n"})).costs
    assert (False, None, None) == (costs.has_any, costs.per_kg, costs.of_all.kg_per_h)
    assert None is a_kilogram(5.0, 0.0)
