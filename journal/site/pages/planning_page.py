"""Plan: when to inoculate and how much for a harvest by a day, and what is coming of every batch, week by week."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from journal.analysis.planning import PARTS, Part, Prospect, Range, units_needed
from journal.analysis.upcoming import MASS_RULE, WEEK_RULE, Coming, MassBy, weeks
from journal.model import Batch
from journal.quantities import MASS_G, counted
from journal.site import addresses, wording
from journal.site.charts.columns import ChartColumn, column_chart
from journal.site.pages.calculators import PLAN, UNITS
from journal.site.pages.long_lists import LongList, folded, newest_part
from journal.site.pages.lookup import Lookup, species_words
from journal.site.plan import Page, Row
from journal.site.wording import MASS_UNITS

_MOST_OF_A_WEEK, _MOST_FLUSHES, _MOST_OVERDUE = 6, 60, 12
LIST = LongList("left-out", "Left out of the plan", "Batches", addresses.PLAN, "batch", "batches")
_UP_TO: Mapping[Part, str] = {"first flush": "first flush", "all flushes": "last flush"}
_FIRST_DAY = " (its first day: no table tells how long a flush lasts)"
_TOLD_BY: Mapping[MassBy, str] = {
    "each flush": "its own BE",
    "own shares": "all flushes, divided as in your batches",
    "divided": "all flushes, divided evenly",
    "last flush": "its last flush",
}


def pages(lookup: Lookup) -> Iterator[Page]:
    """The page *Plan*; a share has none, since what it shows of batches need not be all of them."""
    if lookup.share is not None:
        return
    known = lookup.analysis.prospects
    newest, earlier = newest_part(
        [(batch.date.first, {"label": lookup.label(batch.id)}) for batch in _left_out(lookup)]
    )
    years, parts = folded(LIST, earlier)
    overdue = lookup.analysis.ahead.overdue[-_MOST_OVERDUE:]
    said = {lookup.label(one.batch) for one in overdue}
    context = {
        "title": "Plan",
        "place": "Batches",
        "plan": PLAN,
        "units_of": UNITS,
        "us": lookup.units == "us",
        "mass_unit": MASS_UNITS[lookup.units],
        "prospects": tuple(_asked(one) for one in known),
        "rows": tuple(_row(lookup, one) for one in known),
        "weeks": tuple(_weeks(lookup)),
        "chart": _chart(lookup),
        "rule": WEEK_RULE,
        "mass_rule": MASS_RULE,
        "coming": tuple(_coming(lookup)),
        "overdue": tuple(_flush(lookup, one) for one in overdue),
        "later": max(0, len(lookup.analysis.coming) - _MOST_FLUSHES),
        "left_out": [row["label"] for row in newest if row["label"] not in said],
        "left_out_years": years,
    }
    yield Page("plan", (), addresses.PLAN, "batches/plan.html", context, "main", growing=True)
    yield from parts


def _asked(one: Prospect) -> Row:
    """A species as the form offers it: numbers as a script reads them, low, middle and high of each. own: the days that
    the author's own batches took, the fewest first."""
    return Row(
        species=one.species + (f", line {one.line}" if one.line else ""),
        dry="" if one.dry_g is None else f"{one.dry_g:.10g}",
        values=tuple(
            (f"{name}-{part.partition(' ')[0]}", _three(span), span.words if span else "")
            for part in PARTS
            for name, span in (("days", one.days[part]), ("be", one.be_pct[part]))
        ),
        own=tuple((f"days-{part.partition(' ')[0]}", _took(one.days[part])) for part in PARTS),
    )


def _took(span: Range | None) -> str:
    return "" if span is None else " ".join(f"{days:.10g}" for days in sorted(days for _, days in span.own))


def _three(span: Range | None) -> str:
    return "" if span is None else " ".join(f"{round(value, 6):.10g}" for value in (span.low, span.middle, span.high))


def _row(lookup: Lookup, one: Prospect) -> Row:
    be = one.be_pct["all flushes"]
    units = ""
    if be and one.dry_g:
        most, least = (units_needed(MASS_UNITS[lookup.units].g, one.dry_g, value) for value in (be.low, be.high))
        units = f"{least} to {most}" if most else f"{least} or more"
        units = str(least) if least == most else units
    spans = [(_days_up_to(part, span), span) for part in PARTS if (span := one.days[part])]
    spans += [(f"BE up to the {_UP_TO[part]}", span) for part in PARTS if (span := one.be_pct[part])]
    flushes = [(f"BE of flush {number}", span) for number, span in enumerate(one.flush_be_pct, 1) if number > 1]
    each = ", ".join(map(_percents, one.flush_be_pct))
    told_by = max((len(span.own) for span in one.flush_be_pct), default=0)
    is_same = be is not None and told_by == len(be.own)
    those = "the same batches" if is_same else f"the {told_by} of them whose flushes are known"
    return Row(
        species=species_words(one.species),
        line=one.line,
        days=tuple(
            f"{wording.number(span.low, 0)} to {wording.number(span.high, 0)}" if span else ""
            for span in map(one.days.get, PARTS)
        ),
        be=_percents(be) if be else "",
        units=units,
        dry=wording.mass(one.dry_g, lookup.units) if one.dry_g else "",
        basis=(
            *(f"{what}: {span.words}" for what, span in spans),
            *([f"BE of each flush in turn, by {those}: {each}"] if each else ()),
        ),
        own=tuple(
            _own(what.replace(_FIRST_DAY, ", to its end"), span) for what, span in (*spans, *flushes) if span.own
        ),
    )


def _days_up_to(part: Part, span: Range) -> str:
    """Days of one's own batches count to the last harvest of the flush, those of a table to the first."""
    is_told = span.basis in ("published", "practice")
    return f"days up to the {_UP_TO[part]}{_FIRST_DAY}" if is_told else f"days up to the end of the {_UP_TO[part]}"


def _percents(span: Range) -> str:
    """`44 to 99 %`; `70 %` where one batch alone tells it."""
    low, high = wording.number(span.low, 0), wording.percent(span.high, 0)
    return high if span.low == span.high else f"{low} to {high}"


def _own(what: str, span: Range) -> str:
    """`yours, days up to the end of the last flush: 75 in B-026`."""
    is_share = what.startswith("BE")
    values = (
        f"{wording.percent(value, 0) if is_share else wording.number(value, 0)} in {batch}" for batch, value in span.own
    )
    return f"yours, {what}: {', '.join(values)}"


def _weeks(lookup: Lookup) -> Iterator[Row]:
    for week in weeks(lookup.analysis.coming):
        low, middle, high = (_kg(lookup, g) for g in (week.low_g, week.expected_g, week.high_g))
        batches = list(dict.fromkeys(one.batch for one in week.coming))
        yield Row(
            iso=week.monday.isoformat(),
            words=wording.day_in_few_words(week.monday),
            low=low,
            expected=middle,
            high=high,
            batches=lookup.labels(batches[:_MOST_OF_A_WEEK]),
            others=max(0, len(batches) - _MOST_OF_A_WEEK),
        )


def _kg(lookup: Lookup, grams: float) -> str:
    """Of what is not there yet: to 0.1 kg (1 oz in US units), since nobody knows it nearer; `under 0.1 kg` of what is
    not nothing and would be told as that."""
    last_digit_g, last_digit = (float(MASS_G.factors["oz"]), "1 oz") if lookup.units == "us" else (100.0, "0.1 kg")
    steps = wording.half_up(grams / last_digit_g)
    if grams > 0 and not steps:
        return f"under {last_digit}"
    return wording.mass(steps * last_digit_g, "us") if lookup.units == "us" else f"{wording.number(steps / 10)} kg"


def _chart(lookup: Lookup) -> Row | None:
    found = weeks(lookup.analysis.coming)
    if not found:
        return None
    unit = MASS_UNITS[lookup.units]
    columns = [
        ChartColumn(
            wording.day_in_few_words(one.monday), one.expected_g / unit.g, one.low_g / unit.g, one.high_g / unit.g
        )
        for one in found
    ]
    first, last = found[0].monday, found[-1].monday
    return column_chart(
        "coming-weeks",
        f"What may be harvested, week by week, {wording.days_in_words(first, last)}",
        "A column from the least to the most that may come in each week, with a dot for what is expected. The table "
        "below gives the numbers.",
        f"{unit.symbol} in the week from",
        columns,
        least_span=1.0,
        within=(0.0, float("inf")),
    )


def _coming(lookup: Lookup) -> Iterator[Row]:
    for one in lookup.analysis.coming[:_MOST_FLUSHES]:
        yield _flush(
            lookup,
            one,
            masses=tuple(_kg(lookup, g) for g in (one.low_g, one.middle_g, one.high_g)),
            told_by=_TOLD_BY[one.mass_by] + (f" in {counted(one.batches, 'batch', 'batches')}" if one.batches else ""),
        )


def _flush(lookup: Lookup, one: Coming, **more: object) -> Row:
    days = dict.fromkeys((wording.day_in_few_words(one.first), wording.day_in_few_words(one.last)))
    return Row(
        label=lookup.label(one.batch),
        flush=one.flush,
        first_iso=one.first.isoformat(),
        days=" to ".join(days),
        **more,
    )


def _left_out(lookup: Lookup) -> list[Batch]:
    """The growing batches of which nothing is in the calendar, the newest first. Those that are overdue are among them,
    however many of them are named as such: one more changes no earlier part of the list."""
    in_calendar = {one.batch for one in lookup.analysis.coming}
    return [
        batch
        for batch in reversed(lookup.journal.batches)
        if not lookup.analysis.progress[batch.id].is_over and batch.id not in in_calendar
    ]
