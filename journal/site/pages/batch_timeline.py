"""The timeline of one batch: its chart with the climate where it was, and the tables beneath."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import timedelta
from itertools import groupby

from journal.analysis.calendar import midnight_s, zone_of
from journal.analysis.climate import BatchClimate, DayClimate, Location, LocationClimate, counted_in, spreads_of
from journal.analysis.in_range import TargetRanges, longest_calculated, share_calculated
from journal.analysis.progress import calendar_day
from journal.analysis.readings import Series
from journal.analysis.statistics import Summary
from journal.analysis.tent_settings import FIELDS, SettingName
from journal.model import Batch, Entry, When, sort_key
from journal.quantities import counted
from journal.settings import Tent
from journal.site import wording
from journal.site.charts import timeline_events
from journal.site.charts.climate_chart import climate_traces
from journal.site.charts.timeline import TimelineContent, TimelinePhoto, draw_timeline
from journal.site.charts.timeline_events import DayAxis, Happening
from journal.site.figures import Figure, figure
from journal.site.pages.entry_words import facts, headline, setting_facts, value_in_words
from journal.site.pages.lookup import Lookup
from journal.site.plan import Row, WhenRendered
from journal.site.wording import medians_words


def figures(air: BatchClimate, lookup: Lookup) -> Iterator[Figure]:
    """The share of time in range, the longest period out of range, and the short swings."""
    if air.shares.in_range is None or air.out_of_range is None:
        return
    share = share_calculated(air.shares, TargetRanges(None, None))
    if share is not None:
        covered = f"on {air.days_read} of {counted(air.days_spanned, 'day')}"
        words = f"of its time in range, of {_hours(air.shares.all_s / 3600)} read where it was, {covered}"
        close = f"{wording.percent((air.shares.cannot_tell or 0) * 100, 0)} too close to call"
        close += ", within the sensor's accuracy" + (" or with a value left out" if air.left_out else "")
        wanted = []  # in each tent that it was in and that has readings
        judged = [part for part in air.locations if part.readings and part.wanted.is_known]
        for part in {(part.location.tent, part.colonises): part for part in judged}.values():
            ranges = [wording.humidity_range(part.wanted.humidity_pct)] if part.wanted.humidity_pct else []
            if part.wanted.temperature_c:
                ranges.append(wording.temperature_range(part.wanted.temperature_c, lookup.units))
            while_colonising = " while colonising" if part.colonises else ""
            wanted.append((f"wanted in {part.location.tent}{while_colonising}", ", ".join(ranges) or "nothing"))
        shown = figure(share, words, lookup.units, note=close if air.shares.unsure_s else None, more=tuple(wanted))
        yield replace(shown, number=wording.in_range(air.shares))
    longest = air.out_of_range.longest
    words = "longest period out of range" + (f": {', '.join(longest.sides)}" if longest else "")
    swings = counted(air.out_of_range.swings, "short swing") + " as well"
    shown = figure(longest_calculated(air.out_of_range), words, note=swings if air.out_of_range.swings else None)
    yield replace(shown, number=_hours(air.out_of_range.longest_out_h))


def _is_mostly_assumed(lookup: Lookup, air: BatchClimate) -> bool:
    """Whether more than half of its time is too close to call by an accuracy that nobody stated."""
    judged = [part.location.tent for part in air.locations if part.readings and part.wanted.humidity_pct]
    is_assumed = any(lookup.analysis.readings[tent].accuracy_assumed for tent in judged)
    return is_assumed and (air.shares.cannot_tell or 0) > 0.5


def days(lookup: Lookup, air: BatchClimate, axis: DayAxis) -> Iterator[Row]:
    """The climate of each day, for the time the batch was there; with the tent if it was in several."""
    several = len({part.location.tent for part in air.locations}) > 1
    for part in air.locations:
        tent = lookup.analysis.climate.tents[part.location.tent]
        for day in tent.days:
            temperature, humidity = _read_on(day, part, tent.series, axis)
            read = wording.temperature(temperature.median, lookup.units).partition(" ")[0] if temperature else ""
            if temperature or humidity:
                yield Row(
                    day=axis.day_of(day.day),
                    date=wording.day_in_words(day.day).rpartition(" ")[0],
                    humidity=wording.number(humidity.median) if humidity else "",
                    temperature=read,
                    where=tent.tent.name if several else None,
                )


def _read_on(
    day: DayClimate, part: LocationClimate, series: Series, axis: DayAxis
) -> tuple[Summary | None, Summary | None]:
    """Temperature and humidity of a day during a stay; on a day of arrival or departure, only of the hours of the
    stay."""
    from_s, until_s = (midnight_s(day.day + timedelta(days=more), axis.zone) for more in (0, 1))
    if part.from_s <= from_s and until_s <= part.until_s:
        return day.temperature_c, day.humidity_pct
    hours = series.between(max(from_s, part.from_s), min(until_s, part.until_s))
    return spreads_of(series, counted_in(series, hours))


def _hours(hours: float) -> str:
    """`8.2 h`; in days from two days on."""
    return f"{wording.number(hours / 24)} days" if hours >= 48 else f"{wording.number(hours)} h"


_SHORT: Mapping[SettingName, str] = {
    "humidity set point": "humidity", "humidity differential": "differential", "temperature set point": "temperature",
    "light": "light", "light colour": "light colour", "exhaust": "exhaust", "air movement": "air",
}  # fmt: skip
"""The short name of a setting."""


def setting_changes(lookup: Lookup, air: BatchClimate, axis: DayAxis) -> Iterator[Happening]:
    """What each entry changed, in order; an entry that repeats a current setting changes nothing."""
    for stay, tent in _locations(lookup, air):
        for _, group in groupby(lookup.indexes.history_of_tent[tent.id], key=lambda change: change.path):
            changes = list(group)
            at_d = axis.at(changes[0].when)
            if at_d is not None and at_d >= 0 and _was_there(stay, changes[0].when):
                is_light = {change.what for change in changes} <= {"light", "light colour"}
                words = [f"{_SHORT[one.what]} {value_in_words(one.what, one.value, lookup.units)}" for one in changes]
                yield Happening("light" if is_light else "set", at_d, ", ".join(words))


def _locations(lookup: Lookup, air: BatchClimate) -> Iterator[tuple[Location, Tent]]:
    for location in dict.fromkeys(part.location for part in air.locations):
        tent = lookup.journal.by_id[location.tent.lower()]
        if isinstance(tent, Tent):
            yield location, tent


def _was_there(stay: Location, when: When) -> bool:
    """Whether a date is one of the days on which the batch was in a tent, the first and the last included."""
    day = calendar_day(when)
    return day is not None and stay.from_day <= day and (stay.until_day is None or day <= stay.until_day)


def timeline_chart(lookup: Lookup, batch: Batch) -> Row | None:
    """A batch's timeline; None if the day of its inoculation is not known."""
    content = timeline_content(lookup, batch)
    if content is None:
        return None
    air = lookup.analysis.climate.batches[batch.id]
    by_day = any(lookup.analysis.readings[part.location.tent].by_day for part in air.locations)
    medians = medians_words(air.humidity_pct, air.temperature_c, lookup.units, by_day)
    happened, read = _happened(lookup, batch, content.axis), tuple(days(lookup, air, content.axis))
    return Row(
        title=f"Timeline of {batch.id}, in days from inoculation",
        desc=_description(content, bool(happened or read)),
        foot=_foot(content, by_day),
        drawing=WhenRendered(draw_timeline, content),
        medians=f"Where it was: {medians}." if medians else None,
        figures=tuple(figures(air, lookup)),
        no_share=f"Time in range: {air.no_share}." if air.no_share and (content.traces or air.left_out) else None,
        left_out=wording.left_out(air.left_out, lookup.units),
        accuracy=wording.for_reader(wording.accuracy_assumed(is_most=True), lookup.share is not None)
        if _is_mostly_assumed(lookup, air)
        else None,
        happened=happened,
        days=read,
        degrees="°F" if lookup.units == "us" else "°C",
    )


def timeline_content(lookup: Lookup, batch: Batch) -> TimelineContent | None:
    """Everything that the drawing shows; None if the day of its inoculation is not known."""
    run, air = lookup.analysis.progress[batch.id], lookup.analysis.climate.batches[batch.id]
    if run.day0 is None:
        return None
    start, series = DayAxis(run.day0, 1, zone_of(lookup.settings)), lookup.analysis.readings
    read_s = [series[part.location.tent].stamps_s[part.readings[-1]] for part in air.locations if part.readings]
    readings_to_d = start.at_s(max(read_s)) if read_s else None
    expected = lookup.analysis.expected.get(run.of.id)
    axis = replace(start, end_d=timeline_events.last_day_of(run, expected, readings_to_d, start))
    names = {tent.id.lower(): tent.name for tent in lookup.settings.tents}
    awaited = timeline_events.expected_span(expected, axis)
    last_note_d = max((axis.day_of(note.date.first) + 1 for note in run.notes), default=1)
    until_d = axis.end_d if awaited is None else min(axis.end_d, max(awaited.from_d, last_note_d))
    parts = [(series[part.location.tent], part.readings) for part in air.locations]
    wanted = [
        (max(0.0, axis.at_s(part.from_s)), min(axis.end_d, axis.at_s(part.until_s)), part.wanted)
        for part in air.locations
    ]
    return TimelineContent(
        axis=axis,
        spans=(*timeline_events.stages(run, axis, until_d), *([awaited] if awaited else [])),
        happenings=timeline_events.moves_and_losses(run, axis, names),
        harvests=tuple(timeline_events.harvests(run, axis, lookup.units)),
        changes=tuple(setting_changes(lookup, air, axis)),
        pictures=tuple(_pictures(lookup, batch, axis)),
        traces=tuple(climate_traces(parts, wanted, (axis.scale, axis.midnight_s()), lookup.units)),
    )


def _pictures(lookup: Lookup, batch: Batch, axis: DayAxis) -> Iterator[TimelinePhoto]:
    """Every photo of the batch and of the notes about it, on its day, in order, each once."""
    rows: dict[str, TimelinePhoto] = {}
    entries: list[Entry] = [batch, *lookup.entries_on(batch)]
    for entry in entries:
        anchor = f"#{lookup.anchor(batch, entry)}" if entry is not batch else "#content"
        for use in entry.photos:
            picture = lookup.pictures.of(use.path, entry.title, use.caption)
            photo = lookup.journal.photo_by_path.get(use.path)
            at_d = axis.at_moment(photo.taken) if photo and photo.taken else axis.at(entry.date)
            if picture.small and picture.large and at_d is not None and 0 <= at_d <= axis.scale.high:
                words = f"day {int(at_d)}" + (f": {use.caption}" if use.caption else "")
                rows.setdefault(picture.small, TimelinePhoto(at_d, picture.small, picture.large, anchor, words))
    yield from sorted(rows.values(), key=lambda row: row.at_d)


def _happened(lookup: Lookup, batch: Batch, axis: DayAxis) -> tuple[Row, ...]:
    """The table beneath: notes with what they record, and settings of the tents it was in, by day. An event whose day
    is not known is placed at the earliest possible day, without a number."""
    rows: list[tuple[Entry, str]] = []
    for note in lookup.analysis.progress[batch.id].notes:
        words = "; ".join(filter(None, (headline(note), *facts(note, lookup.settings))))
        rows += [(note, words)] if words else []
    for stay, tent in _locations(lookup, lookup.analysis.climate.batches[batch.id]):
        for entry in lookup.indexes.entries_about_tent[
            tent.id
        ]:  # entries that changed or repeated a setting while it was there
            sets = any(getattr(entry, field) is not None for field in FIELDS.values())
            if sets and _was_there(stay, entry.date):
                rows.append((entry, f"{tent.name}: {', '.join(setting_facts(entry, lookup.units))}"))
    rows.sort(key=lambda row: sort_key(row[0]))
    known = [axis.day_of(entry.date.first) if entry.date.counts_days else None for entry, _ in rows]
    return tuple(
        Row(day=day, date=wording.when_in_words(entry.date), words=words)
        for day, (entry, words) in zip(known, rows, strict=True)
    )


def _description(content: TimelineContent, has_table: bool) -> str:
    """What the chart shows, for those who cannot see it."""
    staged = [f"{span.words} from day {int(span.from_d)}" for span in content.spans if not span.expected]
    harvested = [f"{one.words} on day {int(one.at_d)}" for one in content.harvests]
    sentences = [f"Stages: {', '.join(staged)}."]
    if harvested:
        sentences.append(f"Harvested: {', '.join(harvested)}.")
    sentences += [f"{wording.capitalised(one.title)}, as read where the batch was." for one in content.traces]
    sentences += ["The table below gives the numbers."] if has_table else []
    return " ".join(sentences)


def _foot(content: TimelineContent, by_day: bool) -> str:
    """What the axis counts and what the shades mean, in one or two sentences. by_day: the readings are daily
    medians."""
    words = [f"Days since inoculation, {wording.day_in_words(content.axis.day0)}."]
    if any(one.ranges for one in content.traces):
        swings = "the line joins the daily medians" if by_day else "the line is what was read"
        words.append(f"The area between two lines is the range this batch wants; {swings}.")
    if any(dot for one in content.traces for dot in one.dots):
        words.append("Dots are manual readings, hollow ones with the door open.")
    if any(span.expected for span in content.spans):
        words.append("The dashed stretch is what is expected next.")
    return " ".join(words)
