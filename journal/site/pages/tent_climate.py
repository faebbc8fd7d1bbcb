"""The climate of a tent: figures, the last days against the range, periods out of range, what was left out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

from journal.analysis.calculation import Amount, Calculation
from journal.analysis.climate import DayClimate, TentClimate
from journal.analysis.due import entries_about
from journal.analysis.in_range import PERIOD_RULE, Shares, longest_calculated, share_calculated
from journal.analysis.psychrometrics import DEW_POINT_FORMULA
from journal.analysis.psychrometrics import SOURCE as DEW_POINT_SOURCE
from journal.analysis.sensors import LastReading
from journal.analysis.species_names import species_named
from journal.analysis.statistics import SUMMARY_RULE
from journal.analysis.tent_settings import current_settings, history_of, light_of
from journal.analysis.usual_times import light_in_words
from journal.analysis.ventilation import (
    DRY_ROOM_PCT,
    WaterInAir,
    air_changes,
    volume_of_m3,
    water_in_air,
    water_used,
    why_no_air_changes,
)
from journal.quantities import counted
from journal.settings import Exhaust, Tent, ValueRange
from journal.site import wording
from journal.site.charts.climate_chart import DAYS, climate_chart
from journal.site.figures import Figure, figure
from journal.site.pages.lookup import Lookup
from journal.site.pages.tent_now import period_words
from journal.site.plan import Row
from journal.site.wording import medians_words, range_words

MOST_PERIODS = 6


def climate_part(lookup: Lookup, tent: Tent) -> Row:
    air = lookup.analysis.climate.tents[tent.id]
    # Of the fourteen calendar days up to the last with readings.
    recent = tuple(day for day in air.days if air.days[-1].day - day.day < timedelta(days=DAYS))
    real = air.out_of_range.periods if air.out_of_range else ()
    words = medians_words(air.humidity_pct, air.temperature_c, lookup.units, air.series.by_day)
    return Row(
        figures=tuple(_figures(lookup, air, recent)),
        moved=tuple(_moved(lookup, tent)),
        why_none=(*_why_none(lookup, tent, air), *_pressure(lookup, air)),
        chart=climate_chart(air, lookup.settings),
        medians=f"Over all {counted(len(air.days), 'day')} read: {words}." if words and len(air.days) > 1 else None,
        days=tuple(_row(lookup, day, air.wanted.humidity_pct) for day in reversed(recent)),
        more_days=len(air.days) - len(recent),
        periods=tuple(
            Row(words=period_words(lookup, period), when=_span(lookup, period.from_s, period.until_s))
            for period in reversed(real[-MOST_PERIODS:])
        ),
        more_periods=max(0, len(real) - MOST_PERIODS),
        doubtful=wording.left_out(air.series.left_out, lookup.units),
        left_out=tuple(_left_out(lookup, air)),
        rules=(PERIOD_RULE, SUMMARY_RULE) if air.days and not air.series.by_day else (),
        by_day=air.series.by_day,
    )


def _figures(lookup: Lookup, air: TentClimate, recent: tuple[DayClimate, ...]) -> Iterator[Figure]:
    shares = sum((day.shares for day in recent), Shares())
    if not air.no_share and (calculated := share_calculated(shares, air.wanted)):
        note = list(wording.within_accuracy(shares, air.wanted.humidity_pct))
        if air.in_range_share is not None and len(air.days) > DAYS:
            note.append(f"{wording.in_range(air.shares)} over all, {_covered(air)}")
        span = min(DAYS, (recent[-1].day - recent[0].day).days + 1)
        words = (
            f"of the time read in the last {DAYS} days was in range; read on {len(recent)} of {counted(span, 'day')}"
        )
        shown = figure(calculated, words, lookup.units, note="; ".join(note) or None)
        yield replace(shown, number=wording.in_range(shares))
    yield from _longest(lookup, air)
    last = lookup.analysis.last_readings[air.tent.id]
    yield from _dew_point(lookup, air, last.counted or last.uncounted)


def _covered(air: TentClimate) -> str:
    return f"read on {air.days_read} of {counted(air.days_spanned, 'day')}"


def _longest(lookup: Lookup, air: TentClimate) -> Iterator[Figure]:
    out = air.out_of_range
    if out is None:
        return
    longest = out.longest
    swings = counted(out.swings, "short swing")
    note = f"not counting {swings} under 30 min, {wording.hours(out.swings_h)} in total" if out.swings else None
    if longest is None:
        yield Figure(number="none", words="no period out of range longer than 30 min", note=note)
        return
    words = f"longest period out of range: {period_words(lookup, longest)}, from {_moment(lookup, longest.from_s)}"
    yield figure(longest_calculated(out), words, lookup.units, note=note)


def _moment(lookup: Lookup, stamp_s: float) -> str:
    moment = lookup.moment(stamp_s)
    return f"{wording.day_in_words(moment.date())}, {wording.clock(moment)}"


def _span(lookup: Lookup, from_s: float, until_s: float) -> str:
    """`24 November 2026, 00:45 to 25 November 2026, 06:45`; the day once if it is the same."""
    first, last = lookup.moment(from_s), lookup.moment(until_s)
    from_clock, until_clock = wording.clocks(first, last)
    day = "" if first.date() == last.date() else f"{wording.day_in_words(last.date())}, "
    return f"{wording.day_in_words(first.date())}, {from_clock} to {day}{until_clock}"


def _dew_point(lookup: Lookup, air: TentClimate, last: LastReading | None) -> Iterator[Figure]:
    dew_c = last.dew_point_c if last else None
    if last is None or dew_c is None or last.temperature_c is None or last.humidity_pct is None:
        return
    inputs = (("air", Amount(last.temperature_c, "°C")), ("relative humidity", Amount(last.humidity_pct, "%")))
    calculated = Calculation(dew_c, "°C", inputs, DEW_POINT_FORMULA, DEW_POINT_SOURCE)
    margin = _difference(lookup, last.temperature_c - dew_c)
    when = "by the medians of the last day" if air.series.by_day else "at the last reading"
    words = f"dew point {when}: a surface {margin} colder than the air is wet"
    nearest = None
    if air.dampest is not None:
        margin, at = _difference(lookup, air.dampest.margin_c), wording.percent(air.dampest.humidity_pct)
        nearest = f"nearest: {margin} colder, at {at} on {_moment(lookup, air.dampest.stamp_s)}"
    yield figure(calculated, words, lookup.units, note=nearest)


def _difference(lookup: Lookup, celsius: float) -> str:
    """A difference of temperatures, which converts without an offset."""
    if lookup.units == "us":
        return f"{wording.number(celsius * 9 / 5)} °F"
    return f"{wording.number(celsius)} °C"


def _moved(lookup: Lookup, tent: Tent) -> Iterator[Figure]:
    """Air changes and light, by the current settings."""
    holding = current_settings(history_of(lookup.journal, tent))
    changes = air_changes(tent, exhaust_of(lookup, tent))
    if changes is not None:
        more = (("assumed", changes.assumption),)
        shown = figure(changes.calculation, "air changes per hour", lookup.units, more=more)
        most = "at most " if changes.is_ == "at most" else ""
        measured = "by the flow measured in place" if changes.is_ == "measured" else None
        yield replace(shown, number=f"{most}{wording.number(changes.per_hour)}", note=measured)
    yield from _water(lookup, tent)
    light = light_of(holding)
    if light.hours is not None and light.hours_words:
        yield Figure(number=f"{wording.number(light.hours.on_h)} h", words=f"of light: {light.hours_words}")
    if light.colour_k is not None and light.colour_words:
        colour = f"{wording.number(light.colour_k, 0)} K"
        yield Figure(number=colour, words=f"colour of the light: {light.colour_words}")
    yield from _light_level(lookup, tent)


def _light_level(lookup: Lookup, tent: Tent) -> Iterator[Figure]:
    """The light last read, beside what is published for the species that are there."""
    read = [entry for entry in entries_about(lookup.journal, tent) if entry.light_level_lux is not None]
    if not read:
        return
    run = lookup.analysis.progress
    here = [batch for batch in lookup.journal.batches if run[batch.id].tent == tent.id and not run[batch.id].is_over]
    usual_light = (
        light_in_words(name)
        for name in dict.fromkeys(species_named(batch.species, lookup.settings.names) for batch in here)
    )
    words = f"of light read, {wording.when_in_few_words(read[-1].date)}"
    yield Figure(
        number=wording.lux(read[-1].light_level_lux or 0), words=words, note="; ".join(filter(None, usual_light))
    )


def _water(lookup: Lookup, tent: Tent) -> Iterator[Figure]:
    """The humidifier's water since the exhaust was last set, beside the air that the exhaust moves at most."""
    set_last = current_settings(history_of(lookup.journal, tent)).get("exhaust")
    used = water_used(entries_about(lookup.journal, tent), set_last.when.first if set_last else None)
    if used is None:
        return
    air = lookup.analysis.climate.tents[tent.id]
    inside_c, inside_pct = (summary.median if summary else None for summary in (air.temperature_c, air.humidity_pct))
    elevation_m = lookup.settings.elevation_m
    in_air = water_in_air(used, tent, exhaust_of(lookup, tent), inside_c, inside_pct, elevation_m)
    unit = wording.MASS_UNITS[lookup.units]
    number = f"{wording.number(used.g_per_h / unit.g, 3)} {unit.symbol} an hour"
    words = f"of water went into the humidifier, {wording.days_in_words(used.first, used.last)}"
    note = _water_note(lookup, tent, in_air) if in_air else None
    shown = figure(
        used.calculation,
        words,
        lookup.units,
        note=note,
        more=(("assumed", _WATER_ASSUMED),),
    )
    yield replace(shown, number=number)


_WATER_ASSUMED = "room and tent are equally warm; water that the blocks give off is not counted"


def _pressure(lookup: Lookup, air: TentClimate) -> Iterator[str]:
    """The pressure that the humidity ratios and the mass of the air were calculated with."""
    if any(day.humidity_ratio_kg_kg is not None for day in air.days):
        elevation_m = lookup.settings.elevation_m
        at = "at sea level" if elevation_m is None else f"at {wording.length(elevation_m, lookup.units)}"
        yield f"The air’s pressure is taken as that {at}."


def _water_note(lookup: Lookup, tent: Tent, in_air: WaterInAir) -> str:
    """`beside at most 48 kg of air an hour, which it brings only from 85 % to 89 %, at 17.7 °C. …`."""
    is_rated, inside = tent.exhaust_flow_is != "measured", wording.percent(in_air.inside_pct, 0)
    unit = wording.MASS_UNITS[lookup.units]
    moved = f"{wording.number(in_air.air_kg_h * 1000 / unit.g, 0)} {unit.symbol}"
    air = f"beside {'at most ' if is_rated else ''}{moved} of air an hour"
    if in_air.from_pct <= 0:
        return air
    at = wording.temperature(in_air.inside_c, lookup.units)
    words = f"{air}, which it brings only from {wording.percent(in_air.from_pct, 0)} to {inside}, at {at}"
    volume_m3 = volume_of_m3(tent)
    if not is_rated or in_air.dry_room_m3_h is None or volume_m3 is None:
        return words
    changes = wording.number(in_air.dry_room_m3_h / volume_m3)
    return (
        f"{words}. In a drier room the real flow is lower: at {DRY_ROOM_PCT:g} %, about {changes} air changes per hour"
    )


def exhaust_of(lookup: Lookup, tent: Tent) -> Exhaust | None:
    """How the exhaust is set, None if no entry says."""
    holding = current_settings(history_of(lookup.journal, tent))
    value = holding["exhaust"].value if "exhaust" in holding else None
    return value if isinstance(value, Exhaust) else None


def _why_none(lookup: Lookup, tent: Tent, air: TentClimate) -> Iterator[str]:
    if air.no_share:
        yield f"No time in range: {air.no_share}."
    why = why_no_air_changes(tent, exhaust_of(lookup, tent))
    if why:
        yield wording.for_reader(f"No air changes: {why}.", lookup.share is not None)
    if air.series.accuracy_assumed and not air.no_share and air.wanted.humidity_pct:
        yield wording.for_reader(wording.accuracy_assumed(), lookup.share is not None)
    if air.one_sided:
        yield f"{wording.capitalised(air.one_sided)}."


def _row(lookup: Lookup, day: DayClimate, wanted: ValueRange | None) -> Row:
    units = lookup.units
    return Row(
        iso=day.day.isoformat(),
        day=f"{day.day.day} {wording.month_in_words(day.day)[:3]}",
        humidity=wording.percent(day.humidity_pct.median) if day.humidity_pct else None,
        humidity_range=range_words(day.humidity_pct, wording.percent),
        temperature=wording.temperature(day.temperature_c.median, units) if day.temperature_c else None,
        temperature_range=range_words(day.temperature_c, lambda value: wording.temperature(value, units)),
        in_range=wording.in_range_that_day(day.shares) if day.shares.in_range is not None else None,
        cannot_tell="; ".join(wording.within_accuracy(day.shares, wanted)) or None,
        dew_point=wording.temperature(day.dew_point_c, units) if day.dew_point_c is not None else None,
        nearest=_difference(lookup, day.dampest.margin_c) if day.dampest else None,
        deficit=f"{wording.number(day.deficit_pa / 1000, 2)} kPa" if day.deficit_pa is not None else None,
        ratio=None if day.humidity_ratio_kg_kg is None else wording.humidity_ratio(day.humidity_ratio_kg_kg, units),
    )


def _left_out(lookup: Lookup, air: TentClimate) -> Iterator[str]:
    """Periods that count for no share of time."""
    for what, stretches in (("stuck", air.series.stuck_stretches), ("silent", air.series.gaps)):
        for stretch in stretches:
            yield f"{what} for {wording.hours(stretch.hours)}, {_span(lookup, stretch.from_s, stretch.until_s)}"
