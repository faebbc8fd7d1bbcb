"""Rows of the document about the journal as a whole: what is planned and coming, what was lost, what it cost."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from journal.analysis.analysis import Analysis
from journal.analysis.costs import Costs, JournalCosts
from journal.analysis.losses import Lot, p_chart, steps_of
from journal.analysis.planning import PARTS, Prospect
from journal.analysis.upcoming import weeks

Row = dict[str, Any]


def rows_of_the_whole(found: Analysis) -> dict[str, list[Row]]:
    """Each table by its name.

    `plan` is by species what a batch comes to, up to the first flush and up to the last: days from inoculation (to the
    last harvest of that flush; by a table, to its first day) and BE on units inoculated, each from low to high by its
    basis (`own`: of four new batches in five, by three finished ones or more; `published`, `practice`: the range given;
    `few`: the least and the most of your batches, where no range is given); None where nothing is known. `flush_be_pct`
    is the mean BE of flush 1, 2 and so on in these batches; empty in rows up to the first. `coming` are the flushes
    still to come of the batches that grow, by the days in which they may; `middle_g` is what is expected, and `mass_by`
    what the masses are based on (`each flush`: its own BE; `own shares`: its share in your batches of the BE of all;
    `divided`: an even part of that; `last flush`: at most the last of its batch). `weeks` is what these make a week
    from its Monday.

    `costs` has a row for each line (None: batches of several lines, or of none) and one for the whole journal, in the
    currency of `journal`. `cost_per_kg` (with devices too) and `kg_per_h` are of the finished batches that tell their
    cost, or minutes.

    `losses` has a row for each lot: a culture with its vessels, a batch with its units. `step_share` is what was lost
    of all lots of its step, `low_share` and `high_share` the limits of its p-chart; None where there are too few lots.
    """
    return {
        "plan": [row for one in found.prospects for row in _prospect_rows(one)],
        "coming": [
            {
                "batch": one.batch,
                "flush": one.flush,
                "low_g": one.low_g,
                "middle_g": one.middle_g,
                "high_g": one.high_g,
                "mass_by": one.mass_by,
                "from": one.first.isoformat(),
                "to": one.last.isoformat(),
            }
            for one in found.coming
        ],
        "weeks": [
            {
                "week_from": week.monday.isoformat(),
                "low_g": week.low_g,
                "expected_g": week.expected_g,
                "high_g": week.high_g,
            }
            for week in weeks(found.coming)
        ],
        "costs": [*(_cost_row("line", one) for one in found.costs.lines), *_whole_cost_rows(found.costs)],
        "losses": [row for lots in steps_of(found.lots).values() for row in _loss_rows(lots)],
    }


def _prospect_rows(one: Prospect) -> Iterator[Row]:
    for part in PARTS:
        days, be = one.days[part], one.be_pct[part]
        row: Row = {"species": one.species, "line": one.line, "up_to": part, "dry_g": one.dry_g} | {
            f"{what}_{end}_{unit}": span and getattr(span, end)
            for what, unit, span in (("days", "d", days), ("be", "pct", be))
            for end in ("low", "middle", "high")
        }
        each = [span.middle for span in one.flush_be_pct] if part == "all flushes" else []
        row |= {"days_basis": days and days.basis, "be_basis": be and be.basis, "flush_be_pct": each}
        yield row


def _loss_rows(lots: Iterable[Lot]) -> Iterator[Row]:
    rows = [lot for lot in lots if lot.inoculated]
    chart = p_chart([(lot.lost, lot.inoculated) for lot in rows])
    for lot, one in zip(rows, chart.samples if chart else (), strict=True):
        has_any = chart is not None and not chart.are_few
        yield {
            "lot": lot.id,
            "step": lot.step,
            "made": lot.day.isoformat(),
            "inoculated": lot.inoculated,
            "lost": lot.lost,
            "lost_share": one.share,
            "step_share": chart.centre if chart else None,
            "low_share": one.low if has_any else None,
            "high_share": one.high if has_any else None,
            "is_outside": one.is_out if has_any else None,
            "causes": [f"{cause or 'unknown'} {count}" for cause, count in lot.causes],
            "treatment": lot.treatment,
            "spawn": list(lot.spawn),
            "may_lose_more": lot.may_lose_more,
        }


def _whole_cost_rows(costs: JournalCosts) -> Iterator[Row]:
    """One row, where anything of costs is written."""
    if costs.has_any:
        yield _cost_row("journal", costs.of_all) | {
            "devices_cost": costs.devices or None,
            "services_cost": costs.services or None,
            "other_cost": costs.other or None,
            "cost_per_kg_with_devices": costs.per_kg,
        }


def _cost_row(of: str, costs: Costs) -> Row:
    return {
        "of": of,
        "line": costs.name or None,
        "batches": [one.batch for one in costs.batches],
        "harvest_g": costs.harvest_g,
        "cost": costs.paid,
        "cost_per_kg": costs.per_kg,
        "batches_costed": len(costs.costed),
        "minutes": costs.minutes,
        "kg_per_h": costs.kg_per_h,
        "batches_worked": len(costs.worked),
        "sold": costs.sold,
        "devices_cost": None,
        "services_cost": None,
        "other_cost": None,
        "cost_per_kg_with_devices": None,
    }
