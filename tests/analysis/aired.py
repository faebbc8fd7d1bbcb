"""Readings for tests: a logger's file from few numbers, and the series that it makes."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from math import nan
from typing import Literal

from journal.analysis.readings import Series, series_of
from journal.model import Journal, LoggerFile, TentEntry, When
from journal.settings import Settings, Tent, ValueRange

START = "2026-11-02T00:00+00:00"
"""A Monday on which no clock is changed."""


def logged(
    humidity_pct: Iterable[float | None],
    temperature_c: float | Iterable[float | None] | None = 16.0,
    *,
    every_min: float = 60,
    start: str = START,
    path: str = "climate/a.csv",
    accuracy_pct: float | None = 0.0,
) -> LoggerFile:
    """One file of exact readings `every_min` apart; None is a cell without a number, one temperature stands for all."""
    humidities = [nan if value is None else value for value in humidity_pct]
    temperatures = list(temperature_c) if isinstance(temperature_c, Iterable) else [temperature_c] * len(humidities)
    start_s = datetime.fromisoformat(start).timestamp()
    return LoggerFile(
        path=path,
        tent="hut",
        stamps_s=tuple(start_s + 60 * every_min * at for at in range(len(humidities))),
        temperature_c=tuple(nan if value is None else value for value in temperatures),
        humidity_pct=tuple(humidities),
        humidity_accuracy_pct=accuracy_pct,
    )


def manual(
    moment: str,
    humidity_pct: float | None = None,
    temperature_c: float | None = None,
    door: Literal["open", "shut"] | None = None,
) -> TentEntry:
    """What was read by eye: `2026-11-02T08:00+00:00`, or `2026-11-02` where no time was written."""
    read = datetime.fromisoformat(moment)
    has_time = "T" in moment
    return TentEntry(
        path=f"{moment}.md",
        date=When(moment, read.date(), "minute" if has_time else "day", read if has_time else None),
        title="",
        by="",
        about=("hut",),
        humidity_reading_pct=humidity_pct,
        temperature_reading_c=temperature_c,
        door=door,
    )


def series(*read: LoggerFile | TentEntry) -> Series:
    """The series of one tent from files and readings by eye."""
    logs = tuple(one for one in read if isinstance(one, LoggerFile))
    eyes = tuple(one for one in read if isinstance(one, TentEntry))
    tent = Tent(id="hut", name="Hut", humidity_pct=ValueRange(85, 95), temperature_c=ValueRange(12, 18))
    return series_of(Journal(Settings(tents=(tent,)), tent_entries=eyes, logs=logs))["hut"]
