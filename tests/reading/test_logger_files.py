"""Logger files as loggers write them. The readings are invented; offsets of zones are those of the IANA database."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from math import isnan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.model import LoggerFile
from journal.problems import Problem
from journal.reading.csv_tables import _without_unit
from journal.reading.logger_files import files_of, read_log
from journal.settings import ClimateSource

PATH = "climate/wash-house-2026-11.csv"
ZONE = "Europe/London"
SOURCE = ClimateSource(
    files="climate/*.csv", tent="wash-house", time="Time", temperature="Temp (°C)", humidity="RH (%)"
)
DAY_FIRST = replace(SOURCE, time_format="%d/%m/%Y %H:%M")


def read(text: str, source: ClimateSource = SOURCE, encoding: str = "utf-8") -> tuple[LoggerFile, tuple[Problem, ...]]:
    return read_log(PATH, text.encode(encoding), source, ZONE)


def clean(text: str, source: ClimateSource = SOURCE, encoding: str = "utf-8") -> LoggerFile:
    log, problems = read(text, source, encoding)
    assert () == problems
    return log


def told(text: str, source: ClimateSource = SOURCE) -> list[tuple[int, str, str]]:
    return [(problem.line, problem.severity, problem.message) for problem in read(text, source)[1]]


def seconds(*iso: str) -> tuple[float, ...]:
    return tuple(datetime.fromisoformat(text).timestamp() for text in iso)


PLAIN = "Time,Temp (°C),RH (%)\n2026-11-01 00:00,14.5,92.1\n2026-11-01 00:05,14.4,91.8\n"
STAMPS = seconds("2026-11-01T00:00Z", "2026-11-01T00:05Z")


def test_plain_file_is_read_whole() -> None:
    log = clean(PLAIN, replace(SOURCE, humidity_accuracy_pct=3.0))
    expected = LoggerFile(
        path=PATH,
        tent="wash-house",
        stamps_s=STAMPS,
        temperature_c=(14.5, 14.4),
        humidity_pct=(92.1, 91.8),
        humidity_accuracy_pct=3.0,
        digest=sha256(PLAIN.encode()).hexdigest(),
    )
    assert expected == log


@pytest.mark.parametrize(
    "text",
    [
        PLAIN,
        PLAIN.replace(",", ";"),
        PLAIN.replace(",", "\t"),
        PLAIN.replace(",", "|"),
        PLAIN.replace(",", ";").replace(".", ","),
        PLAIN.replace("14.5,92.1", '"14,5","92,1"').replace("14.4,91.8", '"14,4","91,8"'),
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace("\n", "\r"),
        PLAIN.replace("\n", ",\n"),
        PLAIN.replace("Time,", '"Time",').replace("RH (%)", '"RH (%)"'),
        PLAIN.replace("14.5,92.1", " 14.5 °C, 92.1 % RH"),
        PLAIN.replace("2026-11-01 00:05", "2026-11-01T00:05:00Z"),
        PLAIN.replace("2026-11-01 00:05", "2026-11-01T01:05:00.000+01:00"),
        PLAIN.replace("2026-11-01 00:05", "2026-11-01 01:05:00 +0100"),
        PLAIN.replace("Temp (°C)", "TEMP  (ºC)"),
        "No.,Time,Temp (°C),RH (%),Dew\n1,2026-11-01 00:00,14.5,92.1,13.2\n2,2026-11-01 00:05,14.4,91.8,13\n",
        "Logger,wash-house\nSerial,12;34\n\nInterval,5 min\n" + PLAIN,
        PLAIN.replace("(%)\n", "(%)\n,°C,%RH\n"),
        PLAIN + "\n\nEnd of readings\n",
        PLAIN + "Average,14.45,91.95\nMin,14.4,91.8\n",
        PLAIN + ",,\n",
    ],
)
def test_delimiter_decimal_mark_preamble_and_footer_are_found_from_the_file(text: str) -> None:
    log = clean(text)
    assert (STAMPS, (14.5, 14.4), (92.1, 91.8)) == (log.stamps_s, log.temperature_c, log.humidity_pct)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_encoding_is_found_from_the_file(encoding: str) -> None:
    assert (14.5, 14.4) == clean(PLAIN, encoding=encoding).temperature_c


@pytest.mark.parametrize(
    ("name", "wanted"),
    [("Temp (°C)", "temp (°c)"), ("Temp (°C)", "Temp"), ("Temp [°C]", "Temp"), ("Temp (℃)", "Temp (°C)")],
)
def test_column_is_found_without_regard_to_case_and_unit(name: str, wanted: str) -> None:
    log = clean(PLAIN.replace("Temp (°C)", name), replace(SOURCE, temperature=wanted))
    assert (14.5, 14.4) == log.temperature_c


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("Temp (°F)", None),
        ("Temperature °F", None),
        ("T_F", None),
        ("T [degF]", None),
        ("Fahrenheit", None),
        ("Temp", "°F"),
    ],
)
def test_fahrenheit_is_turned_into_celsius(name: str, unit: str | None) -> None:
    text = f"Time,{name},RH\n2026-11-01 00:00,61.0,92\n"
    log = clean(text, replace(SOURCE, temperature=name, humidity="RH", temperature_unit=unit))
    assert log.temperature_c == pytest.approx((16.1111,), abs=1e-4)  # (61 - 32) × 5/9


def test_unit_in_the_line_under_the_header_counts() -> None:
    text = "Time,Temp,RH\n,°F,%\n2026-11-01 00:00,61.0,92\n"
    log = clean(text, replace(SOURCE, temperature="Temp", humidity="RH"))
    assert log.temperature_c == pytest.approx((16.1111,), abs=1e-4)


def test_units_that_disagree_are_reported_where_the_readings_speak_for_the_column_and_the_settings_rule() -> None:
    log, problems = read(PLAIN, replace(SOURCE, temperature_unit="°F"))
    assert log.temperature_c[0] == pytest.approx(-9.722, abs=1e-3)
    message = "the temperature column and its readings say °C, but the settings °F, which is used"
    assert [(1, "warning", message)] == [(p.line, p.severity, p.message) for p in problems]


def test_a_unit_that_the_author_corrected_is_not_warned_of_for_ever() -> None:
    log, problems = read(PLAIN.replace("14.5", "55.3").replace("14.4", "54.9"), replace(SOURCE, temperature_unit="°F"))
    assert log.temperature_c == pytest.approx((12.944, 12.722), abs=1e-3)
    assert not problems


def test_temperature_without_any_unit_is_celsius_and_odd() -> None:
    text = PLAIN.replace("Temp (°C)", "Temp")
    log, problems = read(text, replace(SOURCE, temperature="Temp"))
    assert (14.5, 14.4) == log.temperature_c
    assert ["warning"] == [p.severity for p in problems]


@pytest.mark.parametrize(
    ("stamp", "time_format"),
    [
        ("03/11/2026 14:05", "%d/%m/%Y %H:%M"),
        ("11/03/2026 2:05:00 PM", "%m/%d/%Y %I:%M:%S %p"),
        ("11/03/2026 02:05 pm", "%m/%d/%Y %I:%M %p"),
        ("3/11/2026 2:05 p.m.", "%d/%m/%Y %I:%M %p"),
        ("3/11/2026 2:05:00\u202fp.\u00a0m.", "%d/%m/%Y %I:%M:%S %p"),
        ("3.11.2026 2:05 P.M.", "%d.%m.%Y %I:%M %p"),
        ("03.11.26  14:05", "%d.%m.%y %H:%M"),
        ("3 Nov 2026 14:05", "%d %b %Y %H:%M"),
        ("14:05 03/11/2026", "%H:%M %d/%m/%Y"),
        ("20261103140500", "%Y%m%d%H%M%S"),
        ("03/11/2026 15:05 +0100", "%d/%m/%Y %H:%M %z"),
    ],
)
def test_declared_format_of_times_is_followed(stamp: str, time_format: str) -> None:
    text = f"Time,Temp (°C),RH (%)\n{stamp},14.5,92.1\n"
    log = clean(text, replace(SOURCE, time_format=time_format))
    assert seconds("2026-11-03T14:05Z") == log.stamps_s


@pytest.mark.parametrize("hour", [0, 1, 11, 12, 13, 23])
def test_twelve_hour_clock_tells_noon_from_midnight(hour: int) -> None:
    moment = datetime(2026, 11, 3, hour, 5, tzinfo=UTC)
    text = f"Time,Temp (°C),RH (%)\n{moment.strftime('%m/%d/%Y %I:%M %p')},14.5,92.1\n"
    assert (moment.timestamp(),) == clean(text, replace(SOURCE, time_format="%m/%d/%Y %I:%M %p")).stamps_s


def test_day_first_is_never_guessed() -> None:
    text = "Time,Temp (°C),RH (%)\n03/11/2026 14:05,14.5,92.1\n03/11/2026 14:10,14.5,92.1\n"
    log, problems = read(text)
    assert () == log.stamps_s
    says = 'no time in this file can be read; the first is "03/11/2026 14:05"'
    assert [(2, "error", says)] == [(p.line, p.severity, p.message) for p in problems]
    assert "write time_format" in problems[0].fix
    _, (problem,) = read(text, replace(SOURCE, time_format="%d.%m.%Y %H:%M"))
    either = (
        'write time_format = "%d/%m/%Y %H:%M" where the day comes first or '
        'time_format = "%m/%d/%Y %H:%M" where the month comes first'
    )
    assert [either, either] == [problems[0].fix, problem.fix]


@pytest.mark.parametrize(
    ("fix", "given", "stamp"),
    [
        (
            'the times have seconds (%S): write time_format = "%d/%m/%Y %H:%M:%S"',
            "%d/%m/%Y %H:%M", "25/11/2026 14:05:00",
        ),
        (
            'the times have no seconds (%S): write time_format = "%d/%m/%Y %H:%M"',
            "%d/%m/%Y %H:%M:%S", "25/11/2026 14:05",
        ),
        (
            'the times have AM or PM (%I for the hour, %p for AM or PM): write time_format = "%m/%d/%Y %I:%M %p"',
            "%m/%d/%Y %H:%M", "11/25/2026 2:05 PM",
        ),
        (
            'in the times the month comes first: write time_format = "%m/%d/%Y %H:%M"',
            "%d/%m/%Y %H:%M", "11/25/2026 14:05",
        ),
        (
            'the times have a year of two digits (%y): write time_format = "%d.%m.%y %H:%M"',
            "%d.%m.%Y %H:%M", "25.11.26 14:05",
        ),
        (
            'the times have other signs between their parts: write time_format = "%d.%m.%Y %H:%M"',
            "%d/%m/%Y %H:%M", "25.11.2026 14:05",
        ),
        ("remove time_format: the times are ISO 8601, which needs none", "%d/%m/%Y %H:%M", "2026-11-25 14:05"),
        ('write time_format = "%d %B %Y %H:%M"', None, "25 November 2026 14:05"),
    ],
)  # fmt: skip
def test_a_format_that_fits_no_time_is_told_what_it_lacks(fix: str, given: str | None, stamp: str) -> None:
    log, (problem,) = read(f"Time,Temp (°C),RH (%)\n{stamp},14.5,92.1\n", replace(SOURCE, time_format=given))
    assert ((), "error", fix) == (log.stamps_s, problem.severity, problem.fix)


def days_in_order(lines: str, *days: str) -> str:
    return "Time,Temp (°C),RH (%)\n" + "".join(f"{day} 14:05,14.5,92.1\n" for day in days) + lines


def test_a_format_that_a_tenth_of_the_rows_does_not_fit_is_an_error_and_uses_none_of_them() -> None:
    """Of days 1 to 30 written with the day first, a format with the month first fits the first twelve, wrongly."""
    text = days_in_order("", *(f"{day:02}/11/2026" for day in range(1, 31)))
    log, (problem,) = read(text, replace(SOURCE, time_format="%m/%d/%Y %H:%M"))
    assert () == log.stamps_s
    assert (14, "error") == (problem.line, problem.severity)
    says = 'time_format "%m/%d/%Y %H:%M" does not fit 18 of 30 rows, the first in line 14, so none of them is used'
    assert says == problem.message
    assert 'in the times the day comes first: write time_format = "%d/%m/%Y %H:%M"' == problem.fix
    assert 30 == len(clean(text, DAY_FIRST).stamps_s)


@pytest.mark.parametrize("spoilt", ["99/99/2026 14:05,14,90\n", "01/01/1970 00:00,14,90\n" * 9])
def test_rows_that_a_logger_spoilt_do_not_make_its_format_wrong(spoilt: str) -> None:
    days = [f"{day:02}/11/2026" for day in range(1, 13)]
    log, problems = read(days_in_order(spoilt, *days) + "13/11/2026 14:05,14,90\n", DAY_FIRST)
    assert 13 <= len(log.stamps_s)
    assert {"warning"} == {problem.severity for problem in problems}


@pytest.mark.parametrize("time_format", ["%d/%m/%Y", "%H:%M", "%Q", "%", "day first"])
def test_format_that_cannot_give_a_time_is_wrong(time_format: str) -> None:
    assert ["error"] == [severity for _, severity, _ in told(PLAIN, replace(SOURCE, time_format=time_format))]


@pytest.mark.parametrize(
    ("expected", "zone"),
    [("2026-07-01T11:00Z", None), ("2026-07-01T12:00Z", "UTC"), ("2026-07-01T16:00Z", "America/New_York")],
)
def test_times_without_offset_are_in_the_zone_of_the_source_else_the_journal(expected: str, zone: str | None) -> None:
    text = "Time,Temp (°C),RH (%)\n2026-07-01 12:00,14.5,92.1\n"
    assert seconds(expected) == clean(text, replace(SOURCE, time_zone=zone)).stamps_s


def table_of(*clocks: str) -> str:
    return "Time,Temp (°C),RH (%)\n" + "".join(f"2026-10-25 {clock},14.5,90\n" for clock in clocks)


@pytest.mark.parametrize(
    ("is_sure", "clocks", "utc"),
    [
        (  # Europe/London goes from BST to GMT at 01:00 UTC on 2026-10-25
            True, ("00:30", "01:00", "01:30", "01:00", "01:30", "02:00"),
            ("2026-10-24T23:30Z", "2026-10-25T00:00Z", "2026-10-25T00:30Z", "2026-10-25T01:00Z", "2026-10-25T01:30Z",
             "2026-10-25T02:00Z"),
        ),
        (
            True, ("00:00", "01:00", "01:00", "02:00"),
            ("2026-10-24T23:00Z", "2026-10-25T00:00Z", "2026-10-25T01:00Z", "2026-10-25T02:00Z"),
        ),
        (False, ("01:30", "02:00"), ("2026-10-25T00:30Z", "2026-10-25T02:00Z")),
        (True, ("01:30+00:00", "02:00"), ("2026-10-25T01:30Z", "2026-10-25T02:00Z")),
        (  # two rows that are out of order by minutes
            False, ("01:00", "01:10", "01:05", "01:15"),
            ("2026-10-25T00:00Z", "2026-10-25T00:10Z", "2026-10-25T01:05Z", "2026-10-25T01:15Z"),
        ),
    ],
)  # fmt: skip
def test_hour_that_comes_twice_is_read_by_the_order_of_the_rows_and_odd_where_that_is_not_sure(
    is_sure: bool, clocks: tuple[str, ...], utc: tuple[str, ...]
) -> None:
    log, problems = read(table_of(*clocks))
    assert seconds(*utc) == log.stamps_s
    assert ([] if is_sure else ["warning"]) == [p.severity for p in problems]
    assert is_sure is not any("comes twice" in p.message for p in problems)


def test_time_written_twice_within_the_doubled_hour_is_not_a_second_hour() -> None:
    log, problems = read(table_of("01:00", "01:05", "01:05", "01:10", "01:55", "01:00", "02:00"))
    assert seconds("2026-10-25T00:10Z") == log.stamps_s[2:3]
    assert ["a time occurs twice"] == [p.message for p in problems if "occurs twice" in p.message]


def test_doubled_hour_of_a_file_with_the_newest_row_first_is_read_backwards() -> None:
    log, problems = read(table_of("02:00", "01:30", "01:00", "01:30", "01:00", "00:30"))
    assert 6 == len(log.stamps_s)
    assert sorted(log.stamps_s) == list(log.stamps_s)
    assert ["the rows are not in time order"] == [p.message for p in problems if "time order" in p.message]


def test_hour_that_the_clock_change_leaves_out_is_odd() -> None:
    text = "Time,Temp (°C),RH (%)\n2026-03-29 00:55,14,90\n2026-03-29 01:30,14,90\n2026-03-29 02:30,14.5,90\n"
    log, problems = read(text)
    assert seconds("2026-03-29T00:55Z", "2026-03-29T01:30Z") == log.stamps_s
    assert [(3, "warning", "a time falls in the hour that is left out as the clocks are changed")] == [
        (p.line, p.severity, p.message) for p in problems if "left out" in p.message
    ]


@pytest.mark.parametrize("day", ["0001-01-01", "1969-12-31", "2200-01-01", "9999-12-31"])
def test_year_in_which_no_logger_ran_is_no_readable_time(day: str) -> None:
    assert [(4, "warning", "this row has no readable time")] == told(PLAIN + f"{day} 00:00,14,90\n")


@pytest.mark.parametrize("day", ["1970-01-01", "2199-12-31"])
def test_years_a_clock_may_show_are_read(day: str) -> None:
    assert 1 == len(clean(f"Time,Temp (°C),RH (%)\n{day} 00:00,14,90\n").stamps_s)


def test_rows_out_of_order_are_sorted_and_odd_once() -> None:
    text = PLAIN + "2026-10-31 23:55,14.9,90\n2026-11-01 00:02,14.8,90\n"
    log, problems = read(text)
    assert (14.9, 14.5, 14.8, 14.4) == log.temperature_c
    assert [(0, "warning", "the rows are not in time order")] == [(p.line, p.severity, p.message) for p in problems]


def test_doubled_time_keeps_its_first_reading_and_is_odd() -> None:
    log, problems = read(PLAIN + "2026-11-01 00:05,15.0,80\n2026-11-01 00:05,16.0,80\n")
    assert (14.5, 14.4) == log.temperature_c
    assert [(4, "warning", "2 times occur more than once, the first in line 4")] == [
        (p.line, p.severity, p.message) for p in problems
    ]


def test_rows_without_a_readable_time_are_counted_in_one_problem() -> None:
    rows = "??,14,90\n2026-11-01,14,90\n2026-13-01 00:00,14,90\n"
    log, problems = read(PLAIN + rows + "2026-11-01 00:20,14.0,90\n")
    assert 3 == len(log.stamps_s)
    assert [(4, "warning", "3 rows have no readable time, the first in line 4")] == [
        (p.line, p.severity, p.message) for p in problems
    ]


def test_last_line_that_was_cut_off_is_odd_where_words_at_the_end_are_not() -> None:
    assert [(4, "warning", "this row has no readable time")] == told(PLAIN + "2026-11-0")


@pytest.mark.parametrize("cell", ["", "-", "---", "NaN", "N/A", "null"])
def test_blank_cell_is_unknown_without_a_word(cell: str) -> None:
    log = clean(PLAIN + f"2026-11-01 00:10,{cell},90\n")
    assert isnan(log.temperature_c[2])
    assert 90 == log.humidity_pct[2]


@pytest.mark.parametrize("cell", ["warm", "1_6", "0x10", "1 6"])
def test_cell_that_holds_no_number_is_unknown_and_odd(cell: str) -> None:
    log, problems = read(PLAIN + f"2026-11-01 00:10,{cell},90\n2026-11-01 00:15,14,damp\n")
    assert isnan(log.temperature_c[2])
    assert isnan(log.humidity_pct[3])
    assert [(4, "warning", "2 rows have a cell that is not a number, the first in line 4")] == [
        (p.line, p.severity, p.message) for p in problems
    ]


@pytest.mark.parametrize("row", ["14,100.1", "14,-0.1", "-99.9,90", "850,90", "inf,90", "14,1e9"])
def test_impossible_reading_is_unknown_and_odd_once(row: str) -> None:
    log, problems = read(PLAIN + f"2026-11-01 00:10,{row}\n2026-11-01 00:15,{row}\n")
    assert 1 == sum(isnan(value[2]) for value in (log.temperature_c, log.humidity_pct))
    assert [(4, "warning")] == [(p.line, p.severity) for p in problems]
    assert problems[0].message.startswith("2 impossible readings (humidity outside 0 to 100 %")


def test_what_is_impossible_is_told_in_the_unit_of_the_column() -> None:
    limits = {"°C": "-60 to 150 °C", "°F": "-76 to 302 °F"}
    for unit, said in limits.items():
        source = replace(SOURCE, temperature=f"Temp ({unit})")
        _, problems = read(PLAIN.replace("°C", unit) + "2026-11-01 00:10,999,90\n", source)
        assert f"temperature outside {said})" in problems[0].message, unit


@pytest.mark.parametrize("row", ["14,0", "14,100", "-60,90", "150,90"])
def test_readings_at_the_limits_are_kept(row: str) -> None:
    clean(PLAIN + f"2026-11-01 00:10,{row}\n")


def test_missing_column_is_wrong_and_names_the_nearest() -> None:
    log, problems = read(PLAIN, replace(SOURCE, humidity="RH (pct)"))
    assert (14.5, 14.4) == log.temperature_c
    assert (True, True) == tuple(isnan(value) for value in log.humidity_pct)
    assert [(1, "error", 'there is no column "RH (pct)"')] == [(p.line, p.severity, p.message) for p in problems]
    assert '"RH (%)"' in problems[0].fix


@pytest.mark.parametrize(
    "source",
    [
        replace(SOURCE, time="Stamp"),
        replace(SOURCE, temperature="Warmth", humidity="Damp"),
        replace(SOURCE, time=None),
        replace(SOURCE, temperature=None, humidity=None),
    ],
)
def test_file_whose_columns_are_not_there_gives_no_readings(source: ClimateSource) -> None:
    log, problems = read(PLAIN, source)
    assert () == log.stamps_s
    assert {"error"} == {problem.severity for problem in problems}


def test_column_that_the_settings_do_not_name_is_unknown_without_a_word() -> None:
    log = clean(PLAIN, replace(SOURCE, humidity=None))
    assert (14.5, 14.4) == log.temperature_c
    assert all(isnan(value) for value in log.humidity_pct)


def test_commas_as_both_delimiter_and_decimal_mark_are_refused() -> None:
    text = "Time,Temp (°C),RH (%)\n2026-11-01 00:00,14,5,92,1\n2026-11-01 00:05,14,4,91,8\n"
    log, problems = read(text)
    assert () == log.stamps_s
    assert "more cells than the header" in problems[0].message


@pytest.mark.parametrize("data", [b"", b"\n\n", b"no table here", b"\0\0\0\0", b"\x89PNG\r\n\x1a\n", b"x" * 50_000])
def test_file_that_is_not_a_table_is_one_problem(data: bytes) -> None:
    log, problems = read_log(PATH, data, SOURCE, ZONE)
    assert () == log.stamps_s
    assert [("error", "this file has no table of readings")] == [(p.severity, p.message) for p in problems]


def test_header_without_rows_is_odd() -> None:
    assert [(1, "warning", "this file has no readings")] == told("Time,Temp (°C),RH (%)\n")


def test_month_at_one_minute_with_a_gap_and_an_open_quote_is_read_to_its_last_row() -> None:
    start = datetime(2026, 11, 1)
    minutes = [m for m in range(30 * 24 * 60) if not 10_000 <= m < 11_000]
    rows = [f"{(start + timedelta(minutes=m)):%d/%m/%Y %H:%M};{14 + m % 7 / 10:.1f};{90 + m % 5}" for m in minutes]
    rows[500] += ';"door'
    log = clean("Time;Temp (°C);RH (%);Note\n" + "\n".join(rows).replace(".", ","), DAY_FIRST)
    assert 42_200 == len(log.stamps_s)
    assert (start.replace(tzinfo=UTC).timestamp() + 60 * 43_199) == log.stamps_s[-1]
    assert 1001 * 60 == max(b - a for a, b in zip(log.stamps_s, log.stamps_s[1:], strict=False))


@given(st.lists(st.tuples(st.integers(0, 10_000_000), st.floats(-50, 140), st.floats(0, 100)), min_size=1))
def test_what_is_written_in_iso_8601_is_read_back(rows: list[tuple[int, float, float]]) -> None:
    text = "Time\tTemp (°C)\tRH (%)\n" + "".join(
        f"{datetime.fromtimestamp(1_790_000_000 + s, UTC).isoformat()}\t{t!r}\t{h!r}\n" for s, t, h in rows
    )
    log, _ = read(text)
    first = {1_790_000_000.0 + s: (t, h) for s, t, h in reversed(rows)}
    assert sorted(first.items()) == list(
        zip(log.stamps_s, zip(log.temperature_c, log.humidity_pct, strict=True), strict=True)
    )


@given(st.binary(max_size=400) | st.text(max_size=400).map(lambda text: (PLAIN + text).encode("utf-8", "replace")))
def test_any_bytes_end_as_a_log_in_time_order(data: bytes) -> None:
    log, problems = read_log(PATH, data, DAY_FIRST if len(data) % 2 else SOURCE, ZONE)
    assert sorted(set(log.stamps_s)) == list(log.stamps_s)
    assert len(log.stamps_s) == len(log.temperature_c) == len(log.humidity_pct)
    assert log.stamps_s or problems


def paths_of(pattern: str, *paths: str) -> list[str]:
    claims, _ = files_of((replace(SOURCE, files=pattern),), paths)
    return [path for path, _ in claims]


@pytest.mark.parametrize(
    ("claimed", "pattern"),
    [
        (True, "climate/wash-house-*.csv"),
        (True, "./climate/wash-house-*.csv"),
        (True, "climate/*.csv"),
        (True, "**/*.csv"),
        (True, "**/wash-house-2026-1[0-2].csv"),
        (True, "climate/**/wash-house-????-??.csv"),
        (False, "*.csv"),
        (False, "climate/net-loft-*.csv"),
        (False, "climate/*/wash-house-*.csv"),
        (False, "climate"),
    ],
)
def test_pattern_claims_files_folder_by_folder(claimed: bool, pattern: str) -> None:
    assert claimed == bool(paths_of(pattern, PATH))


def test_name_spelled_with_combining_accents_is_the_same_name() -> None:
    assert ["climate/h\u0061\u0308ll.csv"] == paths_of("climate/h\u00e4ll*.csv", "climate/h\u0061\u0308ll.csv")


def test_one_file_may_serve_two_sources_and_one_that_none_claims_is_passed_over() -> None:
    other = replace(SOURCE, tent="net-loft", temperature="Loft (°C)")
    claims, problems = files_of((SOURCE, other), (PATH, "notes/prices.csv"))
    assert ((PATH, SOURCE), (PATH, other)) == claims
    assert () == problems


def test_source_that_no_file_fits_is_odd() -> None:
    claims, problems = files_of((SOURCE,), ("notes/prices.csv",))
    assert () == claims
    assert [("journal.toml", "warning", "no file matches `files` in the [[climate]] of wash-house")] == [
        (p.path, p.severity, p.message) for p in problems
    ]


def test_file_that_ends_within_its_header_holds_no_readings_yet() -> None:
    assert [(1, "warning", "this file has no readings")] == told("Time,Temp (°C),RH (%)")


CUT_SHORT = {
    "plain": (PLAIN, SOURCE),
    "words before the header": ("Serial 12;;\r\n" + PLAIN.replace(",", ";").replace("\n", "\r\n"), SOURCE),
    "day first, in quotation marks": (
        '"Time","Temp (°C)","RH (%)"\n"01/11/2026 00:00","14,5","92,1"\n"01/11/2026 00:05","14,4","91,8"\n',
        DAY_FIRST,
    ),
    "a hundred lines before the header": ("#\n" * 99 + PLAIN, SOURCE),
}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize(("text", "source"), CUT_SHORT.values(), ids=CUT_SHORT)
def test_file_cut_off_anywhere_is_read_as_far_as_it_goes(text: str, source: ClimateSource, encoding: str) -> None:
    data = text.encode(encoding)
    whole = read_log(PATH, data, source, ZONE)
    for end in range(len(data)):
        begun, _ = read_log(PATH, data[:end], source, ZONE)
        whole_rows = max(0, len(begun.stamps_s) - 1)  # the last may be cut within a value
        assert begun.stamps_s[:whole_rows] == whole[0].stamps_s[:whole_rows]
        assert len(begun.stamps_s) <= len(whole[0].stamps_s)


def test_time_that_cannot_be_read_is_shown_however_long_its_row() -> None:
    long = "2026-11-01 at noon " + "x" * 5000
    problem = read("Time,Temp (°C),RH (%)\n" + f"{long},14.5,92.1\n")[1][0]
    assert "no time in this file can be read" in problem.message
    assert len(problem.message) < 200


def fits(parts: list[str], pattern: list[str]) -> bool:
    """By what a pattern means, every way tried."""
    if not pattern:
        return not parts
    if pattern[0] == "**":
        return any(fits(parts[skipped:], pattern[1:]) for skipped in range(len(parts) + 1))
    return bool(parts) and pattern[0] in ("*", parts[0]) and fits(parts[1:], pattern[1:])


@given(
    st.lists(st.sampled_from("ab"), min_size=1, max_size=5),
    st.lists(st.sampled_from(["**", "*", "a", "b"]), min_size=1, max_size=5),
)
def test_a_pattern_of_files_fits_what_it_means(parts: list[str], pattern: list[str]) -> None:
    claims, _ = files_of([replace(SOURCE, files="/".join(pattern))], ["/".join(parts)])
    assert fits(parts, pattern) == bool(claims)


@given(st.text("ab ()[],", max_size=12))
def test_a_unit_after_a_column_is_left_out_as_the_plain_pattern_does(name: str) -> None:
    plain = " ".join(name.split())
    assert re.sub(r"\s*(?:[\[(][^\])]*[\])]|,[^,]*)$", "", plain) == _without_unit(plain)


def test_file_of_more_lines_than_a_logger_writes_is_one_problem() -> None:
    log, (problem,) = read(PLAIN + "\n" * 2_000_000)
    assert () == log.stamps_s
    assert ("error", "this file has more than 2,000,000 lines") == (problem.severity, problem.message)
    assert "split it" in problem.fix
