"""Rain and warmth before each outing, from a station beside the season: what was found, and what was not."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from math import isnan, nan

from journal.analysis.calendar import is_seen
from journal.analysis.kept import kept
from journal.analysis.patches import VISIT_STAGES
from journal.analysis.progress import calendar_day
from journal.model import Find, Journal, Note, WeatherFile
from journal.settings import Settings

USUAL_BASE_C = 5.0
"""The base of degree-days where the settings say none: below it, little grows (*common practice*)."""

RAIN_D = (7, 21)
WARM_D = 30
"""Days before an outing over which rain and degree-days are summed (*common practice*)."""

FORMULA = "degree-days = sum over the days of (greatest + least temperature) ÷ 2 − base, each at least 0"
SOURCE = (
    "degree-days: G. S. McMaster, W. W. Wilhelm, Agricultural and Forest Meteorology 87 (1997) 291–300, method 1; rain "
    "and temperatures: the station’s"
)


def degree_days(mean_c: float, base_c: float) -> float:
    """Of one day. *Source:* McMaster and Wilhelm 1997, method 1: a mean below the base counts as the base."""
    return max(0.0, mean_c - base_c)


@dataclass(frozen=True, slots=True)
class DaysBefore:
    """What the weather was before a day, that day left out. rain_mm: by number of days; degree_days: over `WARM_D`.
    None where the station misses a day of them."""

    rain_mm: Mapping[int, float | None]
    degree_days: float | None


@dataclass(frozen=True, slots=True)
class Outing:
    """A day on which somebody looked. found: IDs of finds of that day, seen young or prime, or harvested; nothing: of
    those looked at with nothing there, or past. before: None where the station tells nothing of the days before."""

    day: date
    found: tuple[str, ...]
    nothing: tuple[str, ...]
    before: DaysBefore | None


@dataclass(frozen=True, slots=True)
class Week:
    """A week as ISO 8601 counts it. rain_mm, degree_days: None where the station misses a day of it."""

    first: date
    rain_mm: float | None
    degree_days: float | None
    outings: tuple[Outing, ...]


@dataclass(frozen=True, slots=True)
class Weather:
    """The weather of a journal's stations by the day; where several tell of a day, the first that does. rain_mm,
    mean_c: the days that are told alone."""

    base_c: float
    rain_mm: Mapping[date, float]
    mean_c: Mapping[date, float]

    @property
    def years(self) -> tuple[int, ...]:
        """Those of which anything is told, in order."""
        return tuple(sorted({day.year for day in (*self.rain_mm, *self.mean_c)}))

    def rain_over(self, days: Iterable[date]) -> float | None:
        return _sum(self.rain_mm.get(day, nan) for day in days)

    def degree_days_over(self, days: Iterable[date]) -> float | None:
        return _sum(degree_days(self.mean_c[day], self.base_c) if day in self.mean_c else nan for day in days)

    def before(self, day: date) -> DaysBefore | None:
        if not self.rain_mm and not self.mean_c:
            return None  # as in most journals, and asked for each find
        rain = {count: self.rain_over(_days_before(day, count)) for count in RAIN_D}
        warm = self.degree_days_over(_days_before(day, WARM_D))
        return None if warm is None and not any(one is not None for one in rain.values()) else DaysBefore(rain, warm)


def weather_of(journal: Journal) -> Weather:
    return kept(journal, "weather", _weather, journal.settings, *journal.weather)


def _weather(settings: Settings, *files: WeatherFile) -> Weather:
    base_c = next((one.base_c for one in settings.weather if one.base_c is not None), USUAL_BASE_C)
    rain: dict[date, float] = {}
    mean: dict[date, float] = {}
    for row in (day for file in files for day in file.days):
        if not isnan(row.rain_mm):
            rain.setdefault(row.day, row.rain_mm)
        if not isnan(row.mean_c):
            mean.setdefault(row.day, row.mean_c)
    return Weather(base_c, rain, mean)


def _sum(values: Iterable[float]) -> float | None:
    total = sum(values)
    return None if isnan(total) else total


def _days_before(day: date, count: int) -> list[date]:
    return [day - timedelta(days=at) for at in range(1, count + 1)]


def outings(journal: Journal, weather: Weather) -> tuple[Outing, ...]:
    """Every day on which something was found, or a find was looked at again, in order; visits that found nothing are
    the effort that finds alone do not tell. Days not known exactly are left out."""
    visits = [note for note in journal.notes if note.stage in VISIT_STAGES or is_seen(note)]
    return kept(journal, "outings", _outings, weather, journal.finds, *visits)


def _outings(weather: Weather, finds: Iterable[Find], *visits: Note) -> tuple[Outing, ...]:
    ids = {find.id for find in finds}
    found: dict[date, dict[str, None]] = {}
    nothing: dict[date, dict[str, None]] = {}
    for find in finds:
        if (day := calendar_day(find.date)) is not None:
            found.setdefault(day, {})[find.id] = None
    for note in visits:
        day = calendar_day(note.date)
        if day is None:
            continue
        where = found if is_seen(note) else nothing
        for ref in note.about:
            if ref.id in ids:
                where.setdefault(day, {})[ref.id] = None
    return tuple(
        Outing(day, tuple(found.get(day, ())), tuple(nothing.get(day, ())), weather.before(day))
        for day in sorted({*found, *nothing})
    )


def weeks_of(year: int, weather: Weather, looked: Iterable[Outing]) -> tuple[Week, ...]:
    """The weeks of a year, as ISO 8601 counts them, from the first to the last of which anything is told."""
    looked = tuple(looked)
    weeks = []
    for number in range(1, date(year, 12, 28).isocalendar().week + 1):
        first = date.fromisocalendar(year, number, 1)
        days = [first + timedelta(days=at) for at in range(7)]
        own = tuple(one for one in looked if one.day in days)
        weeks.append(Week(first, weather.rain_over(days), weather.degree_days_over(days), own))
    known = [at for at, week in enumerate(weeks) if week.outings or (week.rain_mm, week.degree_days) != (None, None)]
    return tuple(weeks[known[0] : known[-1] + 1]) if known else ()
