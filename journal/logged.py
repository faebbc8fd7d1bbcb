"""What loggers and weather stations wrote, once read: frozen values.

Units are at the end of a name, and None means unknown, as in `model.py`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggerFile:
    """One logger CSV, read. Columns of equal length, in time order; NaN where a cell holds no number.

    stamps_s: seconds since 1970-01-01T00:00Z. by_day: each row is a day's medians, and is at that day's noon.
    """

    path: str
    tent: str
    stamps_s: tuple[float, ...] = field(default=(), repr=False)
    temperature_c: tuple[float, ...] = field(default=(), repr=False)
    humidity_pct: tuple[float, ...] = field(default=(), repr=False)
    humidity_accuracy_pct: float | None = None
    digest: str = ""
    by_day: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CoreLog:
    """The temperature in the middle of what was sterilised or pasteurised. entry: path of the entry that names it.
    stamps_s, temperature_c: as in `LoggerFile`, of its tent nothing."""

    entry: str
    log: LoggerFile


@dataclass(frozen=True, slots=True)
class WeatherDay:
    """A day at a weather station. rain_mm, mean_c: NaN where it tells nothing; mean_c: half-way between the greatest
    and the least temperature."""

    day: date
    rain_mm: float
    mean_c: float


@dataclass(frozen=True, slots=True)
class WeatherFile:
    """One CSV file of a weather station, read. days: in order, each once."""

    path: str
    days: tuple[WeatherDay, ...] = field(repr=False)
