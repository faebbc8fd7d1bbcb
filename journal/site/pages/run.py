"""The run of one batch: all that its chart and the table beneath it show."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import inf, isnan
from zoneinfo import ZoneInfo

from journal.model import Band, Batch, Entry, Photo, Tent, TentEntry
from journal.reckoning.air_series import Series
from journal.reckoning.due import entries_about
from journal.reckoning.stays import Stay, stays_of
from journal.reckoning.timing import Run
from journal.site import wording
from journal.site.charts import scale_over
from journal.site.pages.common import Lookup
from journal.site.pages.telling import facts, headline, setting_facts
from journal.site.run.axis import Axis
from journal.site.run.drawing import Drawing, HungPicture, Told, Trace, drawn
from journal.site.run.happenings import (
    Happening,
    Kind,
    Span,
    expected_span,
    last_day_of,
    moves_and_losses,
    pickings,
    stages,
)
from journal.site.run.traces import trace


@dataclass(frozen=True, slots=True)
class Happened:
    """A row of the table beneath: the day, its date, what happened."""

    day: int
    date: str
    words: str


@dataclass(frozen=True, slots=True)
class RunChart:
    """The chart of a run for both widths, and its foot and table. Numbers of the air by day stand in `days`."""

    title: str
    desc: str
    foot: str
    narrow: Drawing
    wide: Drawing
    traces: tuple[Trace, ...]
    happened: tuple[Happened, ...]


def run_chart(lookup: Lookup, batch: Batch) -> RunChart | None:
    """A batch's run; None where no day of its inoculation is known."""
    run = lookup.runs[batch.id]
    if run.day0 is None:
        return None
    zone = ZoneInfo(lookup.settings.time_zone)
    stays = stays_of(batch, run)
    axis = _axis(lookup, run, stays, zone)
    told = Told(
        axis=axis,
        spans=_spans(lookup, run, axis),
        happenings=tuple(moves_and_losses(run, axis, {}, _names(lookup))),
        picked=tuple(pickings(batch, run, axis, _anchors(lookup, batch), lookup.units)),
        changes=tuple(_changes(lookup, stays, axis)),
        pictures=tuple(_pictures(lookup, batch, axis)),
        traces=tuple(_traces(lookup, batch, stays, axis)),
    )
    return RunChart(
        title=f"The run of {batch.id}, in days from inoculation",
        desc=_description(told),
        foot=_foot(told),
        narrow=drawn(told, wide=False),
        wide=drawn(told, wide=True),
        traces=told.traces,
        happened=tuple(_happened(lookup, run, stays, axis)),
    )


def _axis(lookup: Lookup, run: Run, stays: Iterable[Stay], zone: ZoneInfo) -> Axis:
    assert run.day0 is not None
    start = Axis(run.day0, 1, zone)
    last_s = max((_last_reading_s(lookup.series.get(stay.tent, Series()), stay, zone) for stay in stays), default=-inf)
    readings_to_d = start.at_s(last_s) if last_s > -inf else None
    return Axis(run.day0, last_day_of(run, lookup.expected.get(run.of.id), readings_to_d, start), zone)


def _last_reading_s(series: Series, stay: Stay, zone: ZoneInfo) -> float:
    inside = series.between(*stay.span_s(zone))
    return series.stamps_s[inside[-1]] if inside else -inf


def _spans(lookup: Lookup, run: Run, axis: Axis) -> tuple[Span, ...]:
    awaited = expected_span(lookup.expected.get(run.of.id), axis)
    until_d = axis.end_d if awaited is None else min(axis.end_d, max(awaited.from_d, _last_note_d(run, axis)))
    return (*stages(run, axis, until_d), *([awaited] if awaited else []))


def _last_note_d(run: Run, axis: Axis) -> float:
    return max((axis.day_of(note.date.first) + 1 for note in run.notes), default=1)


def _names(lookup: Lookup) -> dict[str, str]:
    return {tent.id.lower(): tent.name for tent in lookup.settings.tents}


def _anchors(lookup: Lookup, batch: Batch) -> dict[str, str]:
    return {entry.path: f"#{lookup.anchor(batch, entry)}" for entry in lookup.entries_on(batch)}


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
                words = f"day {int(at_d)}: {picture.alt}"
                rows.setdefault(picture.small, HungPicture(at_d, picture.small, picture.large, anchor, words))
    yield from sorted(rows.values(), key=lambda row: row.at_d)


def _day_of_photo(photo: Photo | None, entry: Entry, axis: Axis) -> float | None:
    if photo is None or photo.taken is None:
        return axis.at(entry.date)
    return axis.at_s(photo.taken.timestamp())


# The air, wherever it stood


def _traces(lookup: Lookup, batch: Batch, stays: Iterable[Stay], axis: Axis) -> Iterator[Trace]:
    """Humidity and temperature, each where anything was read or is wanted."""
    strands = [_strand(lookup, batch, stay, axis) for stay in stays]
    rows = [row for strand in strands for row in strand.rows]
    humidity = [(day, rh_pct, shut, eye) for day, rh_pct, _, shut, eye in rows]
    yield from _trace("humidity", "%", humidity, [s.humidity for s in strands if s.humidity], axis, 20, (0, 100))
    unit, shown = ("°F", _fahrenheit) if lookup.units == "us" else ("°C", float)
    temperature = [(day, shown(air_c), shut, eye) for day, _, air_c, shut, eye in rows]
    bands = [(a, b, shown(low), shown(high)) for a, b, low, high in (s.temperature for s in strands if s.temperature)]
    yield from _trace("temperature", unit, temperature, bands, axis, 8, None)


def _fahrenheit(celsius: float) -> float:
    return celsius * 9 / 5 + 32


Span4 = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class _Strand:
    """The air of one stay. rows: (day, humidity %, temperature °C, door shut, by eye); bands over the stay."""

    rows: list[tuple[float, float, float, bool, bool]]
    humidity: Span4 | None
    temperature: Span4 | None


def _strand(lookup: Lookup, batch: Batch, stay: Stay, axis: Axis) -> _Strand:
    from_s, until_s = stay.span_s(axis.zone)
    series = lookup.series.get(stay.tent, Series())
    rows = [
        (
            axis.at_s(series.stamps_s[at]),
            series.humidity_pct[at],
            series.temperature_c[at],
            not series.door_open[at],
            series.by_eye[at],
        )
        for at in series.between(from_s, until_s)
        if not series.stuck[at]
    ]
    ends = (max(0.0, axis.at_s(from_s)), min(axis.end_d, axis.at_s(until_s)))
    tent = lookup.journal.by_id.get(stay.tent.lower())
    own = tent if isinstance(tent, Tent) else None
    return _Strand(
        rows,
        _over(ends, batch.wants_humidity_pct or (own.humidity_pct if own else None)),
        _over(ends, batch.wants_temperature_c or (own.temperature_c if own else None)),
    )


def _over(ends: tuple[float, float], band: Band | None) -> Span4 | None:
    return (*ends, band.low, band.high) if band and ends[1] > ends[0] else None


def _trace(
    title: str,
    unit: str,
    rows: list[tuple[float, float, bool, bool]],
    bands: list[Span4],
    axis: Axis,
    least_span: float,
    within: tuple[float, float] | None,
) -> Iterator[Trace]:
    """One measure; nothing where nothing was read."""
    known = [row for row in rows if not isnan(row[1])]
    if not known:
        return
    ends = [end for *_, low, high in bands for end in (low, high)]
    scale = scale_over([*(row[1] for row in known), *ends], least_span=least_span, within=within)
    logged = [row for row in known if not row[3]]
    wanted = list(dict.fromkeys(f"{wording.number(low)}–{wording.number(high)}" for *_, low, high in bands))
    yield Trace(
        title=f"{title}, {unit}",
        wants=", then ".join(wanted) or None,
        scale=scale,
        path=trace([row[0] for row in logged], [row[1] for row in logged], axis.scale, scale),
        bands=tuple(bands),
        dots=tuple((round(row[0], 3), row[1], not row[2]) for row in known if row[3]),
    )


# Settings, and the words


def _changes(lookup: Lookup, stays: Iterable[Stay], axis: Axis) -> Iterator[Happening]:
    """What was set in a tent while the batch stood there."""
    for _stay, entry in _set_meanwhile(lookup, stays, axis):
        at_d = axis.at(entry.date)
        words = list(setting_facts(entry, lookup.units))
        if at_d is not None and words:
            kind: Kind = "light" if words[0].startswith("light") else "set"
            yield Happening(kind, at_d, words[0].replace(" set to", ""))


def _set_meanwhile(lookup: Lookup, stays: Iterable[Stay], axis: Axis) -> Iterator[tuple[Stay, TentEntry]]:
    for stay in stays:
        tent = lookup.journal.by_id.get(stay.tent.lower())
        from_s, until_s = stay.span_s(axis.zone)
        for entry in entries_about(lookup.journal, tent) if isinstance(tent, Tent) else ():
            at_d = axis.at(entry.date)
            if at_d is not None and axis.at_s(from_s) <= at_d < axis.at_s(until_s) and any(
                setting_facts(entry, lookup.units)
            ):
                yield stay, entry


def _happened(lookup: Lookup, run: Run, stays: Iterable[Stay], axis: Axis) -> list[Happened]:
    """The table beneath: notes with what they tell, and what was set where it stood, by day."""
    rows: list[tuple[float, Entry, str]] = []
    for note in run.notes:
        words = "; ".join(filter(None, (headline(note), *facts(note, lookup))))
        rows.append((axis.at(note.date) or 0, note, words or "a note"))
    for stay, entry in _set_meanwhile(lookup, stays, axis):
        where = _names(lookup).get(stay.tent.lower(), stay.tent)
        rows.append((axis.at(entry.date) or 0, entry, f"{where}: {', '.join(setting_facts(entry, lookup.units))}"))
    rows.sort(key=lambda row: (row[0], row[1].path))
    return [
        Happened(int(at_d), wording.when_in_words(entry.date), words)
        for at_d, entry, words in rows
        if entry.date.counts_days
    ]


def _description(told: Told) -> str:
    """What the chart shows, for those who cannot see it."""
    staged = [f"{span.stage} from day {int(span.from_d)}" for span in told.spans if not span.expected]
    picked = [f"{one.words} on day {int(one.at_d)}" for one in told.picked]
    said = [f"Stages: {', '.join(staged)}."]
    if picked:
        said.append(f"Picked: {', '.join(picked)}.")
    said += [f"{one.title[:1].upper()}{one.title[1:]}, as it was read where the batch stood." for one in told.traces]
    return " ".join([*said, "The numbers stand in the table beneath."])


def _foot(told: Told) -> str:
    """What the axis counts and the shades mean, in a sentence or two."""
    words = [f"Days since inoculation, {wording.day_in_words(told.axis.day0)}."]
    if any(one.bands for one in told.traces):
        words.append("The shaded band is what this batch wants; short dips are mostly the door.")
    if any(dot for one in told.traces for dot in one.dots):
        words.append("Dots were read by eye, hollow ones with the door open.")
    if any(span.expected for span in told.spans):
        words.append("The dashed stretch is what is expected next.")
    return " ".join(words)
