"""The last that was read of a tent's air."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from math import nan

import pytest

from journal.analysis.readings import series_of
from journal.analysis.sensors import LastReading, LastReadings, last_readings
from journal.model import Journal, LoggerFile
from tests.reading.written import front

Make = Callable[..., Journal]
BANDS = '[journal]\ntime_zone = "UTC"\n[tents.hut]\nname = "Hut"\nhumidity = "85–95 %"\ntemperature = "12–18 °C"\n'


def read(make: Make, entries: dict[str, str], *logs: LoggerFile, toml: str = BANDS) -> LastReadings:
    journal = make({"journal.toml": toml, **{f"{name}.md": text for name, text in entries.items()}}, logs=logs)
    (tent,) = journal.settings.tents
    return last_readings(journal, tent, series_of(journal)["hut"], UTC)


def eye(date: str, humidity: str = "", temperature: str = "", door: str = "") -> str:
    keys = {"humidity_reading": humidity, "temperature_reading": temperature, "door": door}
    return front("tent", about="hut", date=date, **keys)


def logger(*rows: tuple[str, float, float], accuracy_pct: float | None = 0.0) -> LoggerFile:
    """Rows of (time, °C, %), on 25 November 2026."""
    stamps_s = tuple(datetime.fromisoformat(f"2026-11-25T{clock}+00:00").timestamp() for clock, _, _ in rows)
    return LoggerFile(
        path="log.csv", tent="hut", stamps_s=stamps_s, temperature_c=tuple(row[1] for row in rows),
        humidity_pct=tuple(row[2] for row in rows), humidity_accuracy_pct=accuracy_pct,
    )  # fmt: skip


def brief(row: LastReading | None) -> tuple[float | None, float | None, str, bool] | None:
    return row and (row.humidity_pct, row.temperature_c, row.when.iso[:16], row.is_manual)


def test_where_nothing_was_read_there_is_none(make_journal: Make) -> None:
    assert LastReadings() == read(make_journal, {"set": front("tent", about="hut", light="12/12")})


def test_the_later_of_logger_and_eye_stands(make_journal: Make) -> None:
    log = logger(("06:00", 15, 90), ("06:30", 15.5, 91))
    assert (91, 15.5, "2026-11-25T06:30", False) == brief(
        read(make_journal, {"e": eye("2026-11-25 06:10", "88 %")}, log).counted
    )
    assert (88, None, "2026-11-25T06:40", True) == brief(
        read(make_journal, {"e": eye("2026-11-25 06:40", "88 %")}, log).counted
    )


@pytest.mark.parametrize(("day", "is_manual"), [("2026-11-24", False), ("2026-11-25", False), ("2026-11-26", True)])
def test_a_reading_with_no_time_of_day_comes_first_on_its_day(make_journal: Make, day: str, is_manual: bool) -> None:
    found = read(make_journal, {"e": eye(day, "88 %")}, logger(("06:00", 15, 90))).counted
    assert found is not None
    assert is_manual == found.is_manual


def test_an_open_door_does_not_take_the_place_of_what_counts_and_is_given_beside_it(make_journal: Make) -> None:
    found = read(make_journal, {"e": eye("2026-11-25 07:10", "79 %", door="open")}, logger(("06:45", 17.5, 87)))
    assert (87, 17.5, "2026-11-25T06:45", False) == brief(found.counted)
    assert (79, None, "2026-11-25T07:10", True) == brief(found.uncounted)
    assert found.uncounted is not None
    assert found.uncounted.sides == ("too dry",)


def test_an_open_door_before_what_counts_is_past(make_journal: Make) -> None:
    found = read(make_journal, {"e": eye("2026-11-25 06:10", "82 %", door="open")}, logger(("06:45", 17.5, 87)))
    assert found.uncounted is None


def test_what_a_stuck_logger_says_is_passed_over(make_journal: Make) -> None:
    rows = [("00:15", 15.1, 90.2), *((f"{hour:02}:00", 15.0, 91.5) for hour in range(1, 24))]
    assert (90.2, 15.1, "2026-11-25T00:15", False) == brief(read(make_journal, {}, logger(*rows)).counted)


# Bands 85-95 % and 12-18 °C.
@pytest.mark.parametrize(
    ("humidity_pct", "temperature_c", "accuracy_pct", "verdict", "each", "sides"),
    [
        (90, 15, None, "in", ("in", "in"), ()),
        (84.9, 15, 0, "out", ("out", "in"), ("too dry",)),
        (84.9, 15, None, "cannot tell", ("cannot tell", "in"), ()),
        (96, 18.1, 0, "out", ("out", "out"), ("too damp", "too warm")),
        (87, 15, 3, "cannot tell", ("cannot tell", "in"), ()),
        (81, 11, 3, "out", ("out", "out"), ("too dry", "too cold")),
        (90, nan, None, "cannot tell", ("in", None), ()),
    ],
)
def test_it_is_compared_with_each_range_and_with_both(
    make_journal: Make,
    humidity_pct: float,
    temperature_c: float,
    accuracy_pct: float | None,
    verdict: str,
    each: tuple[str | None, str | None],
    sides: tuple[str, ...],
) -> None:
    log = logger(("06:00", temperature_c, humidity_pct), accuracy_pct=accuracy_pct)
    found = read(make_journal, {}, log).counted
    assert found is not None
    assert (verdict, each, sides) == (found.verdict, (found.humidity, found.temperature), found.sides)


def test_where_nothing_is_wanted_it_is_not_judged(make_journal: Make) -> None:
    found = read(make_journal, {}, logger(("06:00", 15, 90)), toml='[tents.hut]\nname = "Hut"\n').counted
    assert found is not None
    assert ("not counted", None, None) == (found.verdict, found.humidity, found.temperature)


def test_its_dew_point_is_that_of_published_tables(make_journal: Make) -> None:
    # Relative humidity 50 % at 20 °C: dew point 9.3 °C. Source: WMO-No. 8, Guide to Instruments, tables of
    # saturation vapour pressure (11.69 hPa at 9.3 °C is half of 23.39 hPa at 20 °C); from memory.
    found = read(make_journal, {}, logger(("06:00", 20, 50))).counted
    assert found is not None
    assert 9.3 == pytest.approx(found.dew_point_c, abs=0.05)


def test_of_air_told_by_the_day_the_day_is_given_and_no_time(make_journal: Make) -> None:
    last = read(make_journal, {}, replace(logger(("12:00", 15, 91)), by_day=True)).counted
    assert last is not None
    assert ("2026-11-25", "day", 91, "in") == (last.when.iso, last.when.exact, last.humidity_pct, last.verdict)


@pytest.mark.parametrize("date", ["2026-11-25", "2026-11-25 08:00"])
def test_a_value_that_no_tent_has_is_not_the_last_reading(make_journal: Make, date: str) -> None:
    found = read(make_journal, {"e": eye(date, "88 %", "60 °C")})
    assert found.counted is not None
    assert (88, None, "cannot tell") == (found.counted.humidity_pct, found.counted.temperature_c, found.counted.verdict)
