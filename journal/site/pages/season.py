"""The season of finds: the weeks of the year in which each species was found, drawn and as a table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from journal.reckoning.season import Season, seasons
from journal.site import wording
from journal.site.charts import Scale
from journal.site.pages.common import Lookup, Words, species_words

WEEKS = 53
"""The most weeks a year has, as ISO 8601 counts them."""

_YEAR = Scale(0, WEEKS * 7)
_SPECIES_PX = 52
_STRIP_PX = 24
_NAME_PX = 16
_MONTHS_PX = 24


@dataclass(frozen=True, slots=True)
class Bar:
    """One week: x, width in % of the chart; y, height in px."""

    x: str
    width: str
    y: float
    height: float


@dataclass(frozen=True, slots=True)
class Strip:
    """One species. name_y: baseline of its name; base_y: foot of its bars; in px. weeks: (week, its days), in words."""

    name: Words
    name_y: float
    base_y: float
    bars: tuple[Bar, ...]
    weeks: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class SeasonChart:
    """months: (x in %, name, whether a narrow screen has room for the name). most: years in the fullest week."""

    height: int
    tells: str
    strips: tuple[Strip, ...]
    months: tuple[tuple[str, str, bool], ...]
    most: int


def season_chart(lookup: Lookup) -> SeasonChart | None:
    """The season of every species found, or None where no find has a name and a day."""
    found = seasons(lookup.journal)
    if not found:
        return None
    most = max(len(years) for season in found for years in season.weeks.values())
    strips = tuple(_strip(season, at, most) for at, season in enumerate(found))
    return SeasonChart(
        height=_SPECIES_PX * len(found) + _MONTHS_PX,
        tells=f"{', '.join(season.species for season in found)}: the weeks of the year in which each was found.",
        strips=strips,
        months=tuple(_months()),
        most=most,
    )


def _strip(season: Season, at: int, most: int) -> Strip:
    top = at * _SPECIES_PX
    base = top + _NAME_PX + 6 + _STRIP_PX
    return Strip(
        name=species_words(season.species) or Words(season.species, False),
        name_y=top + _NAME_PX,
        base_y=base,
        bars=tuple(_bar(week, len(years), base, most) for week, years in season.weeks.items()),
        weeks=tuple(_weeks_in_words(season)),
    )


def _bar(week: int, years: int, base: float, most: int) -> Bar:
    height = round(_STRIP_PX * years / most, 1)
    x, end = (_YEAR.share(day) for day in ((week - 1) * 7, week * 7))
    return Bar(f"{x * 100:.2f}%", f"{(end - x) * 100:.2f}%", round(base - height, 1), height)


def _weeks_in_words(season: Season) -> Iterator[tuple[str, str]]:
    for week in season.weeks:
        days = [day for day in season.days if day.isocalendar().week == week]
        yield str(week), ", ".join(map(wording.day_in_words, days))


def _months() -> Iterator[tuple[str, str, bool]]:
    """Where each month begins, in a year whose first week begins on 1 January."""
    for month in range(1, 13):
        first = date(2001, month, 1)  # a common year that begins on a Monday
        yield _YEAR.percent(first.timetuple().tm_yday - 1), wording.month_in_words(first)[:3], month % 2 == 1
