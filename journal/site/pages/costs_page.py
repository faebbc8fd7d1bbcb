"""Costs: what a kilogram cost, kilograms an hour of work, and what was sold, by line and for the whole journal."""

from __future__ import annotations

from collections.abc import Iterator

from journal.analysis.costs import COST_FORMULA, COST_SOURCE, LABOUR_FORMULA, BatchCost, Costs, JournalCosts
from journal.quantities import counted
from journal.site import addresses, wording
from journal.site.figures import Figure
from journal.site.pages.lookup import Lookup
from journal.site.plan import Page, Row
from journal.site.wording import MASS_UNITS

_MOST_ROWS = 200


def pages(lookup: Lookup) -> Iterator[Page]:
    """The page *Costs*; no share has one."""
    if lookup.share is not None:
        return
    found = lookup.analysis.costs
    context = {
        "title": "Costs",
        "place": "Batches",
        "has_any": found.has_any,
        "currency": lookup.settings.currency,
        "mass_unit": MASS_UNITS[lookup.units],
        "figures": tuple(_figures(lookup, found)),
        "lines": tuple(_line(lookup, one) for one in found.lines),
        "batches": tuple(_batch(lookup, one) for one in found.of_all.batches[-_MOST_ROWS:]),
        "formulas": (COST_FORMULA, LABOUR_FORMULA),
        "source": COST_SOURCE,
    }
    yield Page("costs", (), addresses.COSTS, "batches/costs.html", context, "main", growing=True)


def _money(lookup: Lookup, amount: float) -> str:
    return wording.money(amount, lookup.settings.currency)


def _by_mass(lookup: Lookup, per_kg: float) -> float:
    """The same for the unit of mass that the journal counts by."""
    return per_kg * MASS_UNITS[lookup.units].g / 1000


def _price(lookup: Lookup, per_kg: float) -> str:
    """`£8.71 a kg`."""
    return f"{_money(lookup, _by_mass(lookup, per_kg))} a {MASS_UNITS[lookup.units].symbol}"


def _mass(lookup: Lookup, kg: float) -> str:
    """`0.93 kg`; in US units `2.05 lb`."""
    unit = MASS_UNITS[lookup.units]
    return f"{wording.number(kg * 1000 / unit.g, 2)} {unit.symbol}"


def _figures(lookup: Lookup, found: JournalCosts) -> Iterator[Figure]:
    all_batches = found.of_all
    if all_batches.per_kg is not None:
        batches = counted(len(all_batches.costed), "finished batch", "finished batches")
        yield Figure(
            number=_price(lookup, all_batches.per_kg),
            words=f"what was paid for {batches} with a cost: substrate, spawn, bags, and notes about one batch",
            note=f"without {_money(lookup, found.other)} in notes about cultures or several batches"
            if found.other
            else "",
            inputs=tuple(_inputs(lookup, all_batches)),
            formula=COST_FORMULA,
            source=COST_SOURCE,
        )
    if found.per_kg is not None and (found.devices or found.services or found.other):
        yield _with_everything(lookup, found, found.per_kg)
    if all_batches.kg_per_h is not None:
        yield _work(lookup, found, all_batches.kg_per_h)
    if found.sold:
        paid = f"{_money(lookup, found.paid)} paid in all"
        yield Figure(number=_money(lookup, found.sold), words="sold", note=paid)


def _with_everything(lookup: Lookup, found: JournalCosts, per_kg: float) -> Figure:
    costed = found.of_all.costed
    same = "batch" if len(costed) == 1 else f"{len(costed)} batches"
    return Figure(
        number=_price(lookup, per_kg),
        words=f"with devices, services and other notes, over the same {same}",
        note="devices count whole, not spread over the years of their use",
        inputs=(
            ("batches", _money(lookup, sum(one.paid or 0.0 for one in costed))),
            ("devices", _money(lookup, found.devices)),
            ("services", _money(lookup, found.services)),
            ("other notes", _money(lookup, found.other)),
            ("harvested", wording.mass(sum(one.harvest_g for one in costed), lookup.units)),
        ),
        formula=COST_FORMULA,
        source=COST_SOURCE,
    )


def _work(lookup: Lookup, found: JournalCosts, kg_per_h: float) -> Figure:
    worked = found.of_all.worked
    batches = counted(len(worked), "finished batch", "finished batches")
    return Figure(
        number=f"{_mass(lookup, kg_per_h)} an hour",
        words=f"of work, over {batches} with minutes written",
        note=f"without {wording.hours(found.other_minutes / 60)} noted on cultures or several batches; "
        f"{wording.hours(found.minutes / 60)} in all"
        if found.other_minutes
        else f"{wording.hours(found.minutes / 60)} of work is written in all",
        inputs=(
            ("minutes", wording.number(sum(one.minutes or 0 for one in worked), 0)),
            ("harvested", wording.mass(sum(one.harvest_g for one in worked), lookup.units)),
        ),
        formula=LABOUR_FORMULA,
        source=COST_SOURCE,
    )


def _inputs(lookup: Lookup, costs: Costs) -> Iterator[tuple[str, str]]:
    yield "paid", _money(lookup, sum(one.paid or 0.0 for one in costs.costed))
    yield "harvested", wording.mass(sum(one.harvest_g for one in costs.costed), lookup.units)
    yield "batches", ", ".join(one.batch for one in costs.costed)


def _line(lookup: Lookup, costs: Costs) -> Row:
    count = len(costs.batches)
    return Row(
        label=lookup.label(costs.name) if costs.name else None,
        batches=lookup.labels(one.batch for one in costs.batches),
        harvested=wording.mass(costs.harvest_g, lookup.units),
        by_mass="" if costs.per_kg is None else _money(lookup, _by_mass(lookup, costs.per_kg)),
        costed=f"{len(costs.costed)} of {count}",
        an_hour="" if costs.kg_per_h is None else _mass(lookup, costs.kg_per_h),
        worked=f"{len(costs.worked)} of {count}",
        sold="" if costs.sold is None else _money(lookup, costs.sold),
    )


def _batch(lookup: Lookup, one: BatchCost) -> Row:
    return Row(
        label=lookup.label(one.batch),
        state="finished" if one.is_final else "so far",
        harvested=wording.mass(one.harvest_g, lookup.units),
        paid="" if one.paid is None else _money(lookup, one.paid),
        minutes="" if one.minutes is None else wording.number(one.minutes, 0),
        sold="" if one.sold is None else _money(lookup, one.sold),
    )
