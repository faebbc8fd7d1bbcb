"""The calculators, which run offline on the device, and how another page opens them with its values filled in.

The page contains the forms, the formulas and the sources (data/calculators.toml), what is known of ingredients, and the
measures of the tents; static/js/calculators.js calculates the numbers. Values are passed after `#?`, which no browser
sends to a host.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any
from urllib.parse import urlencode

from journal.analysis import heat, planning, psychrometrics, substrate, ventilation, yields
from journal.analysis.substrate import DRY_SHARES, mixed
from journal.analysis.tent_settings import current_settings, history_of
from journal.data import read_table
from journal.model import Batch
from journal.settings import Exhaust, Tent
from journal.site import addresses, wording
from journal.site.pages.lookup import Lookup
from journal.site.plan import Page, Row

ITS_OWN, COMMON = "yours, from the settings", "common practice"


def _calculator(*, fields: Any, results: Any, **texts: str) -> Row:
    """One calculator. short: its short name. lead: what it is for. results: its numbers with their calculations."""
    rows = (Row(key=row["key"], words=row["words"], workings=tuple(map(_working, row["workings"]))) for row in results)
    return Row(**texts, fields=tuple(_field(**row) for row in fields), results=tuple(rows))


def _field(*, limits: str = "", usual: Any = ("", ""), choices: Any = (), **values: Any) -> Row:
    """One value that a calculator asks for. limits: the name of limits that several fields share: least, above, most,
    below, in the kind's own unit (g, m, °C, m³/h, %, min), and the reason. kind: which of `units` it has, or "count" or
    "choice". usual: the unit at first, metric and US. optional: the rest can be calculated without it. choices: (value,
    words)."""
    unset = dict.fromkeys(("least", "above", "most", "below")) | {"why": "", "optional": False}
    shared = _TABLE["limits"][limits] if limits else {}
    return Row(**unset | shared | values, usual=tuple(usual), choices=tuple(map(tuple, choices)))


def _working(row: Mapping[str, str]) -> Row:
    """A formula, its own or one of the analysis by name, and its source; the page finds it by its key to put the
    numbers in."""
    formula = row.get("formula") or _FORMULAS[row["formula_of"]]
    return Row(key=row["key"], formula=formula, source=_SOURCES[row["source"]])


_TABLE = read_table("calculators")
_FORMULAS = {
    "water": substrate.WATER_FORMULA,
    "dew_point": psychrometrics.DEW_POINT_FORMULA,
    "deficit": psychrometrics.DEFICIT_FORMULA,
    "air_changes": ventilation.FORMULA,
    "boiling": heat.BOILING_FORMULA,
    "f0": heat.FORMULA,
    "plan_day": planning.DAY_FORMULA,
    "plan_units": planning.UNITS_FORMULA,
}
_SOURCES = {
    **_TABLE["sources"],
    "plain": yields.PLAIN_SOURCE,
    "water": substrate.WATER_SOURCE,
    "be": yields.BE_SOURCE,
    "spawn_wet": substrate.SPAWN_WET_SOURCE,
    "spawn_dry": substrate.SPAWN_DRY_SOURCE,
    "air_changes": ventilation.SOURCE,
    "boiling": heat.BOILING_SOURCE,
    "f0": heat.SOURCE,
    "plan": planning.PREDICTION_SOURCE,
}

UNITS: Mapping[str, tuple[str, ...]] = {kind: tuple(units) for kind, units in _TABLE["units"].items()}
"""Units to choose from, by kind; the other kinds have one unit only."""

CALCULATORS = tuple(_calculator(**row) for row in _TABLE["calculators"])
"""The calculators, in the order of their page."""

PLAN = _calculator(**_TABLE["plan"])
"""The one that is on the page *Plan*."""


MOST = 24
"""How many of the growing batches can be filled in from, the newest first; each batch's own page leads here too."""


def pages(lookup: Lookup) -> Iterator[Page]:
    settings = lookup.settings
    growing = [one for one in reversed(lookup.journal.batches) if not lookup.analysis.progress[one.id].is_over]
    context = {
        "title": "Calculators",
        "place": None,
        "calculators": CALCULATORS,
        "units_of": UNITS,
        "us": settings.units == "us",
        "ingredients": ingredients(settings.ingredients),
        "names": _names(lookup),
        "tents": [_tent(lookup, tent) for tent in settings.tents],
        "batches": [(lookup.label(batch.id), values_of(lookup, batch)) for batch in growing[:MOST]],
    }
    yield Page("calculators", (), addresses.CALCULATORS, "calculators/calculators.html", context, "main", growing=True)


def link_with(lookup: Lookup, batch: Batch) -> str:
    """The address of the calculators with a batch's values filled in, from the site's root."""
    return f"{addresses.CALCULATORS}#?{values_of(lookup, batch)}"


def values_of(lookup: Lookup, batch: Batch) -> str:
    """A batch's values as a query: masses in g a unit, `part` for each part of its mix, `fresh` all harvests."""
    run = lookup.analysis.progress[batch.id]
    moisture = batch.moisture_pct
    if moisture is None and batch.mix:
        moisture = mixed(batch.mix, lookup.settings.ingredients).moisture_pct
    pairs = [
        ("batch", batch.id),
        *(("part", f"{_plain(part.mass_g)} {part.name}") for part in batch.mix),
        ("wet", _plain(batch.wet_g)),
        ("moisture", _plain(moisture)),
        ("dry", _plain(batch.dry_g)),
        ("spawn", _plain(batch.spawn_g)),
        ("units", str(batch.units or "")),
        ("lost", str(run.lost_before_harvest)),
        ("fresh", _plain(run.harvest_g) if run.harvests else ""),
        ("tent", run.tent or ""),
    ]
    return urlencode([(name, value) for name, value in pairs if value])


def ingredients(measured: tuple[tuple[str, float], ...]) -> tuple[Row, ...]:
    """The author's own dry shares, then those of common practice, each by name."""
    rows = (
        *((name, share, True, ITS_OWN) for name, share in sorted(measured)),
        *((name, share, False, COMMON) for name, share in sorted(DRY_SHARES.items())),
    )
    return tuple(Row(name=name, dry_pct=_plain(share * 100), own=own, whose=whose) for name, share, own, whose in rows)


def _names(lookup: Lookup) -> tuple[str, ...]:
    """Suggestions while a name is typed: ingredients of mixes, then measured ones, then the usual ones."""
    used = [part.name for batch in reversed(lookup.journal.batches) for part in batch.mix]
    own = [name for name, _ in lookup.settings.ingredients]
    by_folded = {name.casefold(): name for name in [*sorted(DRY_SHARES), *own, *used]}
    first = dict.fromkeys(name.casefold() for name in [*used, *own, *sorted(DRY_SHARES)])
    return tuple(by_folded[name] for name in first)


def _tent(lookup: Lookup, tent: Tent) -> dict[str, Any]:
    """A tent's values: plain text in m, m³/h, min, °C or %, "" if not known. read: when its climate was last read."""
    change = current_settings(history_of(lookup.journal, tent)).get("exhaust")
    exhaust = change.value if change and isinstance(change.value, Exhaust) else None
    read = lookup.analysis.last_readings[tent.id].counted
    return {
        "id": tent.id,
        "name": tent.name,
        "width": _plain(tent.width_m),
        "depth": _plain(tent.depth_m),
        "height": _plain(tent.height_m),
        "flow": _plain(tent.exhaust_m3_h),
        "flow_is": tent.exhaust_flow_is or "rated",
        "runs": exhaust.mode if exhaust and exhaust.mode != "off" else "",
        "on": _plain(exhaust.on_min) if exhaust else "",
        "every": _plain(exhaust.every_min) if exhaust else "",
        "temperature": _plain(read.temperature_c) if read else "",
        "humidity": _plain(read.humidity_pct) if read else "",
        "read": wording.when_in_words(read.when) if read else "",
    }


def _plain(value: float | None) -> str:
    """A number as a script reads it, with no more digits than were weighed: `2300`, `61.5`; "" if there is none."""
    return "" if value is None else f"{round(value, 6):.10g}"
