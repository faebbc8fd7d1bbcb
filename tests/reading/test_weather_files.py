"""Days of a weather station, read from its CSV file."""

from __future__ import annotations

from datetime import date
from math import isnan, nan

import pytest

from journal.reading.logger_files import files_of
from journal.reading.settings_file import read_settings
from journal.reading.weather_files import read_weather
from journal.settings import WeatherSource

HEAD = "Date,Rain (mm),Max (°C),Min (°C)\n"
DAILY = WeatherSource(
    files="weather/*.csv", date="Date", rain="Rain (mm)", temperature_max="Max (°C)", temperature_min="Min (°C)"
)


@pytest.mark.parametrize(
    ("text", "source", "days"),
    [
        (f"{HEAD}2026-10-01,2.4,14,6\n2026-10-02,0,12,4\n", DAILY, [(1, 2.4, 10), (2, 0, 8)]),
        ("Date;Rain (mm);Max (°C);Min (°C)\n2026-10-01;2,4;14;6\n", DAILY, [(1, 2.4, 10)]),
        (f"{HEAD}2026-10-01,,14,\n2026-10-02,n/a,-,-\n", DAILY, [(1, nan, nan), (2, nan, nan)]),
        (
            "Time,Rain mm,Temp (°C)\n2026-10-01 06:00,1,4\n2026-10-01 14:00,0.5,12\n",
            WeatherSource(files="w.csv", date="Time", rain="Rain mm", temperature="Temp (°C)"),
            [(1, 1.5, 8)],
        ),
        (
            "Day,Rain (in),Mean (°F)\n01/10/2026,0.1,50\n",
            WeatherSource(files="w.csv", date="Day", rain="Rain (in)", temperature="Mean (°F)", date_format="%d/%m/%Y"),
            [(1, 2.54, 10)],
        ),
        (f"{HEAD}2026-10-01,-9999,999,-99\n", DAILY, [(1, nan, nan)]),
    ],
)  # fmt: skip
def test_a_day_is_its_rain_and_the_middle_of_its_temperatures(
    text: str, source: WeatherSource, days: list[tuple[int, float, float]]
) -> None:
    file, problems = read_weather("w.csv", text.encode(), source)
    assert () == problems
    assert [date(2026, 10, day) for day, _, _ in days] == [one.day for one in file.days]
    for (_, rain_mm, mean_c), one in zip(days, file.days, strict=True):
        assert (rain_mm, mean_c) == pytest.approx((one.rain_mm, one.mean_c), nan_ok=True)


@pytest.mark.parametrize(
    ("text", "says", "fix"),
    [
        ("Date,Rain,Max (°C),Min (°C)\n2026-10-01,1,2,1\n", 'no column "Rain (mm)"', "Rain"),
        (f"{HEAD}01/10/2026,1,2,1\n", "no day in this file can be read", "date_format"),
        ("nothing", "no table", "CSV"),
    ],
)
def test_a_file_that_cannot_be_read_is_an_error_with_a_fix(text: str, says: str, fix: str) -> None:
    file, (problem,) = read_weather("w.csv", text.encode(), DAILY)
    assert () == file.days
    assert ("error", True, True) == (problem.severity, says in problem.message, fix in problem.fix)


def test_rows_without_a_day_are_counted_and_the_others_used() -> None:
    text = f"{HEAD}2026-10-01,1,2,1\nsum 12,1,2,1\n"
    file, (problem,) = read_weather("w.csv", text.encode(), DAILY)
    assert 1 == len(file.days)
    assert ("warning", 3) == (problem.severity, problem.line)


def test_rain_without_a_unit_is_millimetres_and_said_so() -> None:
    source = WeatherSource(files="w.csv", date="Date", rain="Rain")
    file, (problem,) = read_weather("w.csv", b"Date,Rain\n2026-10-01,1\n", source)
    assert (1, "warning", True) == (
        file.days[0].rain_mm,
        problem.severity,
        "names no unit, so mm is used" in problem.message,
    )


def test_settings_name_the_files() -> None:
    toml = '[[weather]]\nfiles = "weather/*.csv"\ndate = "Date"\nrain = "Rain"\nbase = "41 °F"\n'
    settings, problems = read_settings(toml.encode())
    assert () == problems
    assert 5 == pytest.approx(settings.weather[0].base_c)
    claims, none = files_of(settings.weather, ["weather/a.csv", "climate/b.csv"])
    assert (["weather/a.csv"], ()) == ([path for path, _ in claims], none)
    assert "no file matches" in files_of(settings.weather, [])[1][0].message
    assert not isnan(settings.weather[0].base_c or nan)
