"""Daily climate: logger readings as one row a day, only for the days that are shared."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from datetime import UTC, date, datetime, time
from math import nan
from statistics import median

from journal.analysis.calendar import day_of, days_read, zone_of
from journal.analysis.climate import counted_in, locations_of
from journal.analysis.progress import Progress
from journal.analysis.readings import series_of
from journal.model import Batch, Journal, LoggerFile


class AllDays:
    """Every day from one on; for a tent that the share names."""

    def __init__(self, since: date | None) -> None:
        self._since = since

    def __contains__(self, day: object) -> bool:
        return self._since is None or (isinstance(day, date) and day >= self._since)


def days_in_tents(
    batches: Iterable[Batch], runs: Mapping[str, Progress], since: date | None, until: date
) -> dict[str, set[date]]:
    """The days on which one of these batches was in each tent, by the tent's ID; until: the last possible day."""
    found: dict[str, set[date]] = {}
    for batch in batches:
        for stay in locations_of(batch, runs[batch.id]):
            first = max(stay.from_day, since) if since else stay.from_day
            last = min(stay.until_day or until, until)
            found.setdefault(stay.tent, set()).update(
                date.fromordinal(day) for day in range(first.toordinal(), last.toordinal() + 1)
            )
    return found


def last_day_read(journal: Journal) -> date:
    """The last day on which any logger wrote."""
    last_s = max((log.stamps_s[-1] for log in journal.logs if log.stamps_s), default=0.0)
    return day_of(last_s, zone_of(journal.settings))


def climate_by_day(
    journal: Journal, days: Mapping[str, Container[date]], names: Mapping[str, str]
) -> tuple[LoggerFile, ...]:
    """One logger file a tent, with the medians of temperature and humidity of each day that is shared. names: the tents
    by ID, and their names in the share. Readings of a stuck logger are left out, and so are manual ones, which are
    entries. A row is at noon UTC of its day, so that it reveals no time of day and no time zone."""
    read = series_of(Journal(journal.settings, logs=journal.logs))
    logs = []
    for tent, name in names.items():
        if tent not in days or tent not in read:
            continue
        series = read[tent]
        stretches = days_read(series.stamps_s, zone_of(journal.settings))
        counted_by_day = ((day, counted_in(series, part)) for day, part in stretches)
        rows = [(day, counted) for day, counted in counted_by_day if counted and day in days[tent]]
        accuracies = [log.humidity_accuracy_pct or nan for log in journal.logs if log.tent.lower() == tent.lower()]
        if not rows:
            continue
        log = LoggerFile(
            path=f"air-{name}.csv",
            tent=name,
            stamps_s=tuple(datetime.combine(day, time(12), UTC).timestamp() for day, _ in rows),
            temperature_c=tuple(_median(series.temperature_c[at] for at in counted) for _, counted in rows),
            humidity_pct=tuple(_median(series.humidity_pct[at] for at in counted) for _, counted in rows),
            humidity_accuracy_pct=max((pct for pct in accuracies if pct == pct), default=None),
            by_day=True,
        )
        logs.append(log)
    return tuple(logs)


def _median(values: Iterable[float]) -> float:
    """Rounded to a tenth, which is finer than the accuracy of loggers; NaN if there are no readings."""
    known = [value for value in values if value == value]
    return round(median(known), 1) if known else nan
