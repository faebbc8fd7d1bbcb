"""Losses: which share of each lot was lost, step by step on a p-chart, and by treatment, spawn and month."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from journal.analysis.losses import (
    EXPECTED_LOST,
    FEWEST_LOTS,
    P_CHART_FORMULA,
    P_CHART_SOURCE,
    LossGroup,
    Lot,
    PChart,
    by_month,
    by_spawn,
    by_treatment,
    causes_of,
    p_chart,
    steps_of,
)
from journal.quantities import counted
from journal.site import addresses, wording
from journal.site.charts.columns import ChartColumn, column_chart
from journal.site.pages.indexes import Label
from journal.site.pages.lookup import Lookup
from journal.site.plan import Page, Row

_MOST_CAUSES = 3
_MOST_DRAWN = 60
_MOST_ROWS = 40
_CHART_ROWS = 3.5
_HEAD_ROWS = 2
"""How high a step with a chart is, in steps without one, and the head of a table, in its rows: about."""


def pages(lookup: Lookup) -> Iterator[Page]:
    """The page *Losses*; a share has none, since what it shows of losses need not be all of them."""
    if lookup.share is not None:
        return
    lots = lookup.analysis.lots
    context = {
        "title": "Losses",
        "place": "Batches",
        "steps": _in_two([_step(lookup, step, rows) for step, rows in steps_of(lots).items()], _height_of_step),
        "groups": _in_two(_groups(lookup, lots), lambda group: len(group.rows) + _HEAD_ROWS),
        "formula": P_CHART_FORMULA,
        "source": P_CHART_SOURCE,
        "caveat": (
            "What shared one treatment was not lost or kept each by itself, so the truth is less certain than an "
            "interval says; a difference between two rows may come from anything else that differed."
        ),
    }
    yield Page("losses", (), addresses.LOSSES, "batches/losses.html", context, "main", growing=True)


def _in_two(rows: Sequence[Row], height: Callable[[Row], float]) -> tuple[tuple[Row, ...], ...]:
    """The rows in two columns, read one after the other, that end as nearly together as the rows allow."""
    heights = [height(row) for row in rows]
    at = min(range(len(rows) + 1), key=lambda at: max(sum(heights[:at]), sum(heights[at:])))
    return tuple(tuple(column) for column in (rows[:at], rows[at:]) if column)


def _height_of_step(step: Row) -> float:
    return _CHART_ROWS if step.chart else 1


def _groups(lookup: Lookup, lots: Sequence[Lot]) -> list[Row]:
    found = (
        ("By treatment", "Step and treatment", [_group(one, name=one.name) for one in by_treatment(lots)]),
        ("By spawn", "Batches made with", [_spawn(lookup, one) for one in by_spawn(lots)]),
        ("By month", "Step and month", [_group(one, name=_month_of(one)) for one in by_month(lots)]),
    )
    return [
        Row(title=title, column=column, anchor=title.lower().replace(" ", "-"), rows=tuple(rows[-_MOST_ROWS:]))
        for title, column, rows in found
        if rows
    ]


def _spawn(lookup: Lookup, group: LossGroup) -> Row:
    return _group(group, name=group.name, label=next(iter(lookup.labels([group.name])), None))


def _month_of(group: LossGroup) -> str:
    """`grain: October 2026`."""
    first = group.lots[0]
    return f"{first.step}: {wording.month_in_words(first.day)}"


def _step(lookup: Lookup, step: str, lots: Sequence[Lot]) -> Row:
    chart = p_chart([(lot.lost, lot.inoculated) for lot in lots])
    lost, inoculated = sum(lot.lost for lot in lots), sum(lot.inoculated for lot in lots)
    unit = "unit" if step == "batch" else "vessel"
    share = wording.percent(100 * lost / inoculated, 0) if inoculated else ""
    causes = causes_of(lots)
    by_cause = "; ".join(f"{cause or 'none written'} {count}" for cause, count in causes)
    return Row(
        step=step,
        anchor=step.replace(" ", "-"),
        summary=f"{lost} of {counted(inoculated, unit)} lost in {counted(len(lots), 'lot')}: {share}",
        causes=f"Causes: {by_cause}." if causes else None,
        few=_few_words(chart) if chart and lost else None,
        chart=_chart(step, None, lots, chart) if chart and lost else None,
        rows=tuple(_lot(lookup, lots[at], chart, at) for at in _newest(lots, _MOST_ROWS)) if chart else (),
        earlier=max(0, len(lots) - _MOST_ROWS),
        has_limits=chart is not None and not chart.are_few,
        by_cause=tuple(_by_cause(step, lots, causes)),
    )


def _newest(rows: Sequence[object], most: int) -> range:
    """The places of the last so many."""
    return range(max(0, len(rows) - most), len(rows))


def _by_cause(step: str, lots: Sequence[Lot], causes: Sequence[tuple[str, int]]) -> Iterator[Row]:
    """A chart for each of the usual causes, where there is more than one."""
    for cause, _ in causes[:_MOST_CAUSES] if len(causes) > 1 else ():
        chart = p_chart([(lot.lost_to(cause), lot.inoculated) for lot in lots])
        if chart:
            yield _chart(step, cause, lots, chart)


def _few_words(chart: PChart) -> str | None:
    if chart.are_few:
        return (
            f"Too few for limits: {counted(len(chart.samples), 'lot')}, and limits are drawn from {FEWEST_LOTS} on. "
            "Until then a point above the others does not mean that anything has changed."
        )
    if chart.are_rough:
        return f"The limits are rough: in most lots fewer than {EXPECTED_LOST} are expected to be lost."
    return None


def _chart(step: str, cause: str | None, lots: Sequence[Lot], chart: PChart) -> Row:
    columns = [
        ChartColumn(
            wording.month_in_words(lot.day)[:3] + f" {lot.day.year % 100:02d}",
            one.share * 100,
            None if chart.are_few else one.low * 100,
            None if chart.are_few else one.high * 100,
            is_out=one.is_out and not chart.are_few,
        )
        for lot, one in [(lots[at], chart.samples[at]) for at in _newest(lots, _MOST_DRAWN)]
    ]
    of = "" if cause is None else f" ({wording.cause(cause)})"
    limits = "" if chart.are_few else " A band shows the limits of each lot; a hollow dot is outside."
    centre = wording.percent(chart.centre * 100)
    return column_chart(
        "-".join(("losses", *step.split(), *("" if cause is None else cause or "unknown").split())),
        f"Share lost{of}, {step}, lot by lot",
        f"{_dots_of(len(columns), len(lots))}, and a line at {centre}, the share of all.{limits} The table below gives "
        "the numbers.",
        f"lost{of}, % of each lot",
        columns,
        level=chart.centre * 100,
        least_span=20,
        within=(0, 100),
    )


def _dots_of(drawn: int, lots: int) -> str:
    if lots == 1:
        return "A dot for the only lot"
    return f"A dot for each of the {'last ' if drawn < lots else ''}{drawn} lots, in order of their days"


def _lot(lookup: Lookup, lot: Lot, chart: PChart | None, at: int) -> Row:
    one = chart.samples[at] if chart else None
    few = chart is None or chart.are_few
    return Row(
        label=lookup.label(lot.id),
        iso=lot.day.isoformat(),
        day=wording.day_in_words(lot.day),
        inoculated=lot.inoculated,
        lost=lot.lost,
        share=wording.percent(one.share * 100, 0) if one else "",
        limits=f"{wording.number(one.low * 100, 0)} to {wording.percent(one.high * 100, 0)}" if one and not few else "",
        is_out=bool(one and one.is_out and not few),
        causes=", ".join(f"{wording.cause(cause)} {count}" for cause, count in lot.causes),
        so_far=lot.may_lose_more,
    )


def _group(group: LossGroup, *, name: str = "", label: Label | None = None) -> Row:
    share = group.share
    interval = f"{wording.number(share.low * 100, 0)} to {wording.percent(share.high * 100, 0)}"
    return Row(
        name=name,
        label=label,
        lots=len(group.lots),
        inoculated=share.whole,
        lost=share.part,
        share=wording.percent(share.value * 100, 0),
        interval=interval if len(group.lots) > 1 else "one lot: too few",
    )
