"""The run of one batch: all that its chart and the table beneath it show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from journal.model import Batch, Entry, Photo, sort_key
from journal.reckoning.air import BatchAir
from journal.reckoning.days import zone_of
from journal.reckoning.timing import Run
from journal.site import wording
from journal.site.figures import Figure
from journal.site.pages.common import Lookup
from journal.site.pages.run_air import DayLine, days, figures, medians, traces
from journal.site.pages.run_sets import set_meanwhile, ticks
from journal.site.pages.telling import facts, headline, setting_facts
from journal.site.run.axis import Axis
from journal.site.run.drawing import drawn
from journal.site.run.happenings import Span, expected_span, last_day_of, moves_and_losses, pickings, stages
from journal.site.run.sheet import Drawing, HungPicture, Told


@dataclass(frozen=True, slots=True)
class Happened:
    """A row of the table beneath: the day, None where it is not known, its date, what happened."""

    day: int | None
    date: str
    words: str


@dataclass(frozen=True, slots=True)
class RunChart:
    """The chart of a run, its foot, the air in a sentence and in figures, and the tables beneath.

    no_share: why there is no share of time in band, where there are readings and none.
    """

    title: str
    desc: str
    foot: str
    drawing: Drawing
    medians: str | None
    figures: tuple[Figure, ...]
    no_share: str | None
    happened: tuple[Happened, ...]
    days: tuple[DayLine, ...]
    degrees: str


def run_chart(lookup: Lookup, batch: Batch) -> RunChart | None:
    """A batch's run; None where no day of its inoculation is known."""
    told = told_of(lookup, batch)
    if told is None:
        return None
    air = lookup.air.batches[batch.id]
    happened, read = tuple(_happened(lookup, batch, told.axis)), tuple(days(lookup, air, told.axis))
    return RunChart(
        title=f"The run of {batch.id}, in days from inoculation",
        desc=_description(told, bool(happened or read)),
        foot=_foot(told, any(lookup.series[part.stay.tent].by_day for part in air.stays)),
        drawing=drawn(told),
        medians=medians(air, lookup),
        figures=tuple(figures(air, lookup)),
        no_share=f"Time in band: {air.no_share}." if air.no_share and told.traces else None,
        happened=happened,
        days=read,
        degrees="°F" if lookup.units == "us" else "°C",
    )


def told_of(lookup: Lookup, batch: Batch) -> Told | None:
    """All that the drawing of a run shows; None where no day of its inoculation is known."""
    run, air = lookup.runs[batch.id], lookup.air.batches[batch.id]
    if run.day0 is None:
        return None
    axis = _axis(lookup, run, air)
    return Told(
        axis=axis,
        spans=_spans(lookup, run, axis),
        happenings=moves_and_losses(run, axis, _names(lookup)),
        picked=tuple(pickings(run, axis, lookup.units)),
        changes=tuple(ticks(lookup, air, axis)),
        pictures=tuple(_pictures(lookup, batch, axis)),
        traces=tuple(traces(lookup, air, axis)),
    )


def _axis(lookup: Lookup, run: Run, air: BatchAir) -> Axis:
    assert run.day0 is not None
    start = Axis(run.day0, 1, zone_of(lookup.settings))
    read_s = [lookup.series[part.stay.tent].stamps_s[part.readings[-1]] for part in air.stays if part.readings]
    readings_to_d = start.at_s(max(read_s)) if read_s else None
    end_d = last_day_of(run, lookup.expected.get(run.of.id), readings_to_d, start)
    return Axis(run.day0, end_d, start.zone)


def _spans(lookup: Lookup, run: Run, axis: Axis) -> tuple[Span, ...]:
    awaited = expected_span(lookup.expected.get(run.of.id), axis)
    until_d = axis.end_d if awaited is None else min(axis.end_d, max(awaited.from_d, _last_note_d(run, axis)))
    return (*stages(run, axis, until_d), *([awaited] if awaited else []))


def _last_note_d(run: Run, axis: Axis) -> float:
    return max((axis.day_of(note.date.first) + 1 for note in run.notes), default=1)


def _names(lookup: Lookup) -> dict[str, str]:
    return {tent.id.lower(): tent.name for tent in lookup.settings.tents}


def _pictures(lookup: Lookup, batch: Batch, axis: Axis) -> Iterator[HungPicture]:
    """Every photo of the batch and of the notes about it, on its day, in order, each once."""
    rows: dict[str, HungPicture] = {}
    entries: list[Entry] = [batch, *lookup.entries_on(batch)]
    for entry in entries:
        anchor = f"#{lookup.anchor(batch, entry)}" if entry is not batch else "#content"
        for use in entry.photos:
            picture = lookup.pictures.of(use.path, entry.title, use.caption)
            at_d = _day_of_photo(lookup.journal.photo_by_path.get(use.path), entry, axis)
            if picture.small and picture.large and at_d is not None and 0 <= at_d <= axis.scale.high:
                words = f"day {int(at_d)}" + (f": {use.caption}" if use.caption else "")
                rows.setdefault(picture.small, HungPicture(at_d, picture.small, picture.large, anchor, words))
    yield from sorted(rows.values(), key=lambda row: row.at_d)


def _day_of_photo(photo: Photo | None, entry: Entry, axis: Axis) -> float | None:
    if photo is None or photo.taken is None:
        return axis.at(entry.date)
    return axis.at_moment(photo.taken)


# The words


def _happened(lookup: Lookup, batch: Batch, axis: Axis) -> list[Happened]:
    """The table beneath: notes with what they tell, and what was set where it stood, by day.

    What happened on a day that nobody knows stands at the first that it can have been, without a number.
    """
    rows: list[tuple[Entry, str]] = []
    for note in lookup.runs[batch.id].notes:
        words = "; ".join(filter(None, (headline(note), *facts(note, lookup))))
        rows += [(note, words)] if words else []
    for tent, entry in set_meanwhile(lookup, lookup.air.batches[batch.id]):
        rows.append((entry, f"{tent.name}: {', '.join(setting_facts(entry, lookup.units))}"))
    rows.sort(key=lambda row: sort_key(row[0]))
    return [
        Happened(
            axis.day_of(entry.date.first) if entry.date.counts_days else None, wording.when_in_words(entry.date), words
        )
        for entry, words in rows
    ]


def _description(told: Told, has_table: bool) -> str:
    """What the chart shows, for those who cannot see it."""
    staged = [f"{span.stage} from day {int(span.from_d)}" for span in told.spans if not span.expected]
    picked = [f"{one.words} on day {int(one.at_d)}" for one in told.picked]
    said = [f"Stages: {', '.join(staged)}."]
    if picked:
        said.append(f"Picked: {', '.join(picked)}.")
    said += [f"{one.title[:1].upper()}{one.title[1:]}, as it was read where the batch stood." for one in told.traces]
    said += ["The numbers stand in the table beneath."] if has_table else []
    return " ".join(said)


def _foot(told: Told, by_day: bool) -> str:
    """What the axis counts and the shades mean, in a sentence or two. by_day: the air is told as medians of days."""
    words = [f"Days since inoculation, {wording.day_in_words(told.axis.day0)}."]
    if any(one.bands for one in told.traces):
        dips = "the line joins medians of days" if by_day else "short dips are mostly the door"
        words.append(f"The shaded band is what this batch wants; {dips}.")
    if any(dot for one in told.traces for dot in one.dots):
        words.append("Dots were read by eye, hollow ones with the door open.")
    if any(span.expected for span in told.spans):
        words.append("The dashed stretch is what is expected next.")
    return " ".join(words)
