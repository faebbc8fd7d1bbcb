"""The timeline of one batch: all that its chart and the table beneath it show."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import groupby

from journal.analysis.calendar import zone_of
from journal.analysis.climate import BatchClimate, Location
from journal.analysis.due import entries_about
from journal.analysis.progress import Progress, calendar_day
from journal.analysis.tent_settings import FIELDS, SettingName, history_of
from journal.model import Batch, Entry, TentEntry, When, sort_key
from journal.settings import Tent
from journal.site import wording
from journal.site.charts.timeline import TimelineContent, TimelinePhoto, draw_timeline
from journal.site.charts.timeline_events import (
    Axis,
    Happening,
    Kind,
    expected_span,
    harvests,
    last_day_of,
    moves_and_losses,
    stages,
)
from journal.site.pages.batch_climate import days, figures, medians, traces
from journal.site.pages.entry_words import facts, headline, setting_facts
from journal.site.pages.lookup import Lookup
from journal.site.pages.tent_setup import value_in_words
from journal.site.plan import Row

_SHORT: Mapping[SettingName, str] = {
    "humidity set point": "humidity",
    "humidity differential": "differential",
    "temperature set point": "temperature",
    "light": "light",
    "light colour": "light colour",
    "exhaust": "exhaust",
    "air movement": "air",
}
"""What a setting is called where there is little room."""


def setting_changes(lookup: Lookup, air: BatchClimate, axis: Axis) -> Iterator[Happening]:
    """What each entry set otherwise than before, in order; what only says again what holds is no change."""
    for stay, tent in _locations(lookup, air):
        for _, group in groupby(history_of(lookup.journal, tent), key=lambda change: change.path):
            changes = list(group)
            at_d = axis.at(changes[0].when)
            if at_d is not None and at_d >= 0 and _was_there(stay, changes[0].when):
                kind: Kind = "light" if {change.what for change in changes} <= {"light", "light colour"} else "set"
                words = [f"{_SHORT[one.what]} {value_in_words(one.what, one.value, lookup.units)}" for one in changes]
                yield Happening(kind, at_d, ", ".join(words))


def setting_entries(lookup: Lookup, air: BatchClimate) -> Iterator[tuple[Tent, TentEntry]]:
    """The entries that changed or repeated a setting of a tent while the batch stood in it."""
    for stay, tent in _locations(lookup, air):
        for entry in entries_about(lookup.journal, tent):
            sets = any(getattr(entry, field) is not None for field in FIELDS.values())
            if sets and _was_there(stay, entry.date):
                yield tent, entry


def _locations(lookup: Lookup, air: BatchClimate) -> Iterator[tuple[Location, Tent]]:
    for part in air.locations:
        tent = lookup.journal.by_id[part.location.tent.lower()]
        if isinstance(tent, Tent):
            yield part.location, tent


def _was_there(stay: Location, when: When) -> bool:
    """Whether a date is of the days on which the batch stood in a tent, the first and the last included."""
    day = calendar_day(when)
    return day is not None and stay.from_day <= day and (stay.until_day is None or day <= stay.until_day)


def timeline_chart(lookup: Lookup, batch: Batch) -> Row | None:
    """A batch's timeline; None where no day of its inoculation is known."""
    content = timeline_content(lookup, batch)
    if content is None:
        return None
    air = lookup.analysis.climate.batches[batch.id]
    happened, read = _happened(lookup, batch, content.axis), tuple(days(lookup, air, content.axis))
    return Row(
        title=f"Timeline of {batch.id}, in days from inoculation",
        desc=_description(content, bool(happened or read)),
        foot=_foot(content, any(lookup.analysis.readings[part.location.tent].by_day for part in air.locations)),
        drawing=draw_timeline(content),
        medians=medians(air, lookup),
        figures=tuple(figures(air, lookup)),
        no_share=f"Time in range: {air.no_share}." if air.no_share and content.traces else None,
        happened=happened,
        days=read,
        degrees="°F" if lookup.units == "us" else "°C",
    )


def timeline_content(lookup: Lookup, batch: Batch) -> TimelineContent | None:
    """All that the drawing shows; None where no day of its inoculation is known."""
    run, air = lookup.analysis.progress[batch.id], lookup.analysis.climate.batches[batch.id]
    if run.day0 is None:
        return None
    axis = _axis(lookup, run, air)
    awaited = expected_span(lookup.analysis.expected.get(run.of.id), axis)
    last_note_d = max((axis.day_of(note.date.first) + 1 for note in run.notes), default=1)
    until_d = axis.end_d if awaited is None else min(axis.end_d, max(awaited.from_d, last_note_d))
    return TimelineContent(
        axis=axis,
        spans=(*stages(run, axis, until_d), *([awaited] if awaited else [])),
        happenings=moves_and_losses(run, axis, {tent.id.lower(): tent.name for tent in lookup.settings.tents}),
        harvests=tuple(harvests(run, axis, lookup.units)),
        changes=tuple(setting_changes(lookup, air, axis)),
        pictures=tuple(_pictures(lookup, batch, axis)),
        traces=tuple(traces(lookup, air, axis)),
    )


def _axis(lookup: Lookup, run: Progress, air: BatchClimate) -> Axis:
    assert run.day0 is not None
    start = Axis(run.day0, 1, zone_of(lookup.settings))
    series = lookup.analysis.readings
    read_s = [series[part.location.tent].stamps_s[part.readings[-1]] for part in air.locations if part.readings]
    readings_to_d = start.at_s(max(read_s)) if read_s else None
    end_d = last_day_of(run, lookup.analysis.expected.get(run.of.id), readings_to_d, start)
    return Axis(run.day0, end_d, start.zone)


def _pictures(lookup: Lookup, batch: Batch, axis: Axis) -> Iterator[TimelinePhoto]:
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


def _happened(lookup: Lookup, batch: Batch, axis: Axis) -> tuple[Row, ...]:
    """The table beneath: notes with what they tell, and what was set where it stood, by day. What happened on a day
    that nobody knows stands at the first that it can have been, without a number."""
    rows: list[tuple[Entry, str]] = []
    for note in lookup.analysis.progress[batch.id].notes:
        words = "; ".join(filter(None, (headline(note), *facts(note, lookup.units))))
        rows += [(note, words)] if words else []
    for tent, entry in setting_entries(lookup, lookup.analysis.climate.batches[batch.id]):
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
    said = [f"Stages: {', '.join(staged)}."]
    if harvested:
        said.append(f"Harvested: {', '.join(harvested)}.")
    said += [f"{one.title[:1].upper()}{one.title[1:]}, as read where the batch stood." for one in content.traces]
    said += ["The table below gives the numbers."] if has_table else []
    return " ".join(said)


def _foot(content: TimelineContent, by_day: bool) -> str:
    """What the axis counts and the shades mean, in a sentence or two. by_day: the readings are daily medians."""
    words = [f"Days since inoculation, {wording.day_in_words(content.axis.day0)}."]
    if any(one.ranges for one in content.traces):
        swings = "the line joins the daily medians" if by_day else "short swings are mostly the open door"
        words.append(f"The shaded area is the range this batch wants; {swings}.")
    if any(dot for one in content.traces for dot in one.dots):
        words.append("Dots are manual readings, hollow ones with the door open.")
    if any(span.expected for span in content.spans):
        words.append("The dashed stretch is what is expected next.")
    return " ".join(words)
