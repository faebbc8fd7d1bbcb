"""Logger files that nothing claims, and the settings that would read them. The readings are invented."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.problems import Problem
from journal.reading.logger_files import files_of, read_log
from journal.reading.logger_settings import pattern_of, read_unclaimed, unclaimed
from journal.reading.settings_file import read_settings
from journal.settings import ClimateSource, Settings, Tent

ZONE = "Europe/London"
PATH = "climate/wash-house-2026-11.csv"
HUT = Tent(id="hut", name="Wash-house")


def told(text: str, path: str = PATH, *tents: Tent, count: int = 1) -> Problem:
    settings = Settings(time_zone=ZONE, tents=tents)
    _, (problem,) = read_unclaimed(path, text.encode(), pattern_of(path, ()), count, settings)
    return problem


def rows_of(stamps: list[str], cells: str = "14.5,92.1", header: str = "Time,Temp (°C),RH (%)") -> str:
    return "\n".join([header, *(f"{stamp},{cells}" for stamp in stamps), ""])


DAY_FIRST = [f"{day:02}/11/2026 14:05" for day in range(11, 15)]


def test_a_file_that_nothing_claims_is_told_with_the_settings_that_read_it() -> None:
    problem = told(rows_of(DAY_FIRST), PATH, HUT, Tent(id="net-loft", name="Net-loft"), count=3)
    assert (PATH, 0, "warning") == (problem.path, problem.line, problem.severity)
    says = "no [[climate]] in journal.toml names this file and 2 more like it, so no readings are taken from there"
    assert says == problem.message
    assert f"run `journal logger {PATH}`, or add the lines below to journal.toml" == problem.fix
    assert problem.paste == (
        '[[climate]]                     # readings from 11/11/2026 14:05 on; columns separated by ","\n'
        'files = "climate/wash-house-*.csv"\n'
        'tent = "hut"                    # or "net-loft"\n'
        'time = "Time"\n'
        'time_format = "%d/%m/%Y %H:%M"  # like 11/11/2026 14:05\n'
        'temperature = "Temp (°C)"\n'
        'humidity = "RH (%)"\n'
        '# humidity_accuracy = "3 %"     # as its maker says; nearer to the range\'s end is too close to call\n'
        '# time_zone = "UTC"             # if the logger\'s clock is not set to Europe/London'
    )


@pytest.mark.parametrize(
    "text",
    [
        rows_of(DAY_FIRST),
        rows_of(["2026-11-01 00:00", "2026-11-01 00:05"]),
        rows_of([f"11/{day}/2026 2:05 PM" for day in range(11, 15)]),
        rows_of([f"{day} November 2026 14:05:09" for day in range(11, 15)]),
        rows_of([f"{day:02}.11.26 14:05" for day in range(11, 15)], "14,5;92,1", "Zeit;Temp [°C];RH").replace(
            "26 14:05,", "26 14:05;"
        ),
        "Logger,wash-house,model,3\nSerial,12;34\n\n" + rows_of(DAY_FIRST),
        rows_of(["2026-11-01T00:00:00Z", "2026-11-01T00:05:00Z"], "61.5,90", "Timestamp,Temperature,Humidity"),
        rows_of(DAY_FIRST, "12,14.5,92.1,3.6", "Date and time,Dew point (°C),Air (°C),Rel. humidity %,Battery (V)"),
        ",Time,,Wert,H\n,,,°C,%RH\n1,11/11/2026 14:05,,14.5,92.1\n2,13/11/2026 14:05,,14.5,92.1\n",
        "Time,T,H\n,°F,%RH\n" + rows_of(DAY_FIRST, "58.1,92.1").partition("\n")[2],
        rows_of(DAY_FIRST, "14.5,92.1", 'Time,"Temp ""A"", °C",RH\\%'),
    ],
)
def test_the_settings_offered_read_the_file_with_nothing_left_to_say(text: str) -> None:
    settings, problems = read_settings(f'[journal]\ntime_zone = "{ZONE}"\n\n{told(text).paste}\n'.encode())
    assert () == problems
    claims, unfit = files_of(settings.climate, [PATH])
    assert ((), [PATH]) == (unfit, [path for path, _ in claims])
    log, problems = read_log(PATH, text.encode(), settings.climate[0], ZONE)
    assert () == problems
    assert len(log.stamps_s) >= 2
    assert all(10 < degrees < 20 for degrees in log.temperature_c)
    assert all(85 < humidity < 95 for humidity in log.humidity_pct)


def test_what_the_file_leaves_open_is_a_remark_and_never_chosen() -> None:
    paste = told(rows_of(["03/10/2026 14:05", "04/10/2026 14:05"], "40,92.1", "Time,A,RH"), PATH, HUT).paste
    lines = [" ".join(line.split()) for line in paste.splitlines()]
    assert '# time_format = "%d/%m/%Y %H:%M" # if the day comes first: no day in the file exceeds 12' in lines
    assert '# time_format = "%m/%d/%Y %H:%M" # if the month comes first: no day in the file exceeds 12' in lines
    assert '# temperature = "" # one of: A (like 40), RH (like 92.1)' in lines
    warm = told(rows_of(["2026-10-03 14:05"] * 3, "40,92.1", "Time,Temp,RH"), PATH, HUT).paste
    assert '# temperature_unit = "°C" # or "°F": neither its name nor its values say' in " ".join(warm.split())


def test_a_last_line_that_is_cut_short_hides_no_format_and_a_whole_one_may_decide() -> None:
    assert '"%d/%m/%Y %H:%M"  # like' in told(rows_of(["12/11/2026 14:05", "13/11/2026 14:05"]), PATH, HUT).paste
    assert '"%d/%m/%Y %H:%M"  # like' in told(rows_of(["13/11/2026 14:05", "13/1"]), PATH, HUT).paste


def test_times_of_several_kinds_are_told_and_none_of_them_is_chosen() -> None:
    paste = told(
        rows_of(["25/11/2026 14:05", "11/25/2026 14:05", "Jan 3 26, 14:05", "25.11.26 14:05"]), PATH, HUT
    ).paste
    assert '# time_format = "%d/%m/%Y %H:%M" # the times are not all written in one way' in " ".join(paste.split())


CELLS = st.sampled_from(
    ["", " ", "Time", "T (°C)", "RH (%)", "%", "14.5", "14,5", "2026-11-25 14:05", "03/10/2026 14:05", "Nov 3, 26 2 PM"]
)


@given(st.lists(st.lists(CELLS, max_size=4), max_size=5), st.sampled_from(",;\t|"), st.text(max_size=20))
def test_any_file_is_one_problem_and_what_it_offers_is_settings(
    rows: list[list[str]], delimiter: str, more: str
) -> None:
    problem = told("\n".join([*(delimiter.join(row) for row in rows), more]), PATH, HUT)
    if problem.paste:
        settings, problems = read_settings(f"[tents.hut]\n{problem.paste}\n".encode())
        assert ((), 1) == (problems, len(settings.climate))


@pytest.mark.parametrize(
    ("says", "text"),
    [
        ("this file has no table of readings", "buy eggs\n"),
        ("this file has no readings", "Time,Temp (°C),RH (%)\n"),
        ("this file has no line with the names of its columns", "2026-11-01 00:00,14.5,92\n2026-11-01 00:05,14.5,92\n"),
        ("date and time of day are in two columns, Date and Time", "Date,Time,T,RH\n2026-11-01,14:05,14.5,92\n"),
        ("no column of this file has dates with a time of day", "No.,T,RH\n1,14.5,92\n2,14.5,92\n"),
        ("this is a spreadsheet, not CSV", "PK\x03\x04"),
    ],
)
def test_a_file_that_no_settings_could_read_says_why(says: str, text: str) -> None:
    problem = told(text, PATH, HUT)
    assert problem.message.endswith(f"; {says}")
    assert (True, "") == (bool(problem.fix), problem.paste)


def test_where_there_is_no_tent_yet_its_lines_come_first() -> None:
    assert told(rows_of(DAY_FIRST), "climate/Net Loft 2026-11.csv").paste.startswith("[tents.net-loft]\nname = ")
    assert told(rows_of(DAY_FIRST), "climate/2026.csv").paste.startswith("[tents.tent-1]\n")


@pytest.mark.parametrize(
    ("expected", "path"),
    [
        ("climate/wash-house-*.csv", PATH),
        ("climate/log_*.csv", "climate/log_20261101T1200.csv"),
        ("climate/hut *.csv", "climate/hut 2026-11-01 12.30.csv"),
        ("climate/Tent*.csv", "climate/Tent20261101.csv"),
        ("climate/probe-2.csv", "climate/probe-2.csv"),
        ("climate/2026-11.csv", "climate/2026-11.csv"),
        ("climate/net-loft-2026-11.csv", "climate/net-loft-2026-11.csv"),
        ("climate/hut[[]1].csv", "climate/hut[1].csv"),
        ("climate/hut 1?5.csv", "climate/hut 1:5.csv"),
    ],
)
def test_a_pattern_fits_the_files_of_other_months_and_none_that_is_claimed(expected: str, path: str) -> None:
    assert expected == pattern_of(path, ["climate/net-loft-2026-10.csv"])
    assert [path] == [found for found, _ in files_of([ClimateSource(files=expected, tent="hut")], [path])[0]]


def test_files_of_one_logger_are_one_group_and_other_folders_are_no_business_of_ours() -> None:
    paths = ["climate/a-2026-10.csv", "climate/a-2026-11.csv", "climate/b.csv", "costs.csv", "old/climate/b.csv"]
    source = ClimateSource(files="climate/b.csv", tent="hut")
    assert unclaimed([("climate/b.csv", source)], paths) == {
        "climate/a-*.csv": ["climate/a-2026-10.csv", "climate/a-2026-11.csv"],
        "old/climate/b.csv": ["old/climate/b.csv"],
    }
