"""journal.toml into settings."""

from __future__ import annotations

from dataclasses import fields
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.problems import Problem
from journal.reading.settings_file import SETTINGS, read_settings
from journal.settings import (
    CameraClock,
    ClimateSource,
    LabelSettings,
    LabelSize,
    OwnMap,
    Permit,
    Settings,
    Share,
    Tent,
    ValueRange,
    WeatherSource,
)
from tests.growth import filled, grows_faster_than_a_scan

WHOLE = """\
[journal]
title = "Wash-house & Woods"
author = "Night porter"
time_zone = "Europe/London"      # IANA name
units = "us"
site_url = "https://journal.example/tarn-skerry"
poison_centre = "+00 000 000"
as_of = 2026-11-25

[ingredients]
"oak pellets" = "93 %"
"wheat bran" = 88

[names]
"shelf oyster" = "Pleurotus pulmonarius"
[camera_clocks]
"Wren 4" = "47 min slow"
"Auk" = "1.5 h fast from 2026-03-29 until 2026-04-02"

[tents.wash-house]
name = "Wash-house tent"
width = "4 ft"
depth = "120 cm"
height = "6 ft 6 in"
floor = "single sheet, no film"
exhaust_flow = "118 cfm"
exhaust_flow_is = "rated"
humidity = "85–95 %"
temperature = "12–18 °C"

[tents.wash-house.every]
tank = "7 d"
duct = "2 weeks"

[tents.net-loft]

[[climate]]
files = "climate/wash-house-*.csv"
tent = "Wash-House"
time = "Time"
temperature = "Temp (°C)"
humidity = "RH (%)"
time_zone = "Europe/London"
time_format = "%d/%m/%Y %H:%M"
humidity_accuracy = "3 %"

[[climate]]
files = "climate/loft.csv"
tent = "net-loft"
temperature_unit = "°F"

[shares.mentor]
about = ["B-031", "PP-26A", "wash-house"]
since = 2026-09-01
positions = "area"
area = "0.01°"
times = "minute"
texts = "all"
by = false
locked = true
"""


def read(text: str) -> tuple[Settings, list[Problem]]:
    settings, problems = read_settings(text.encode())
    return settings, list(problems)


def told(text: str) -> list[tuple[int, str]]:
    return [(problem.line, problem.severity) for problem in read(text)[1]]


@pytest.mark.parametrize(
    "data", [WHOLE.encode(), WHOLE.replace("\n", "\r\n").encode(), b"\xef\xbb\xbf" + WHOLE.encode()]
)
def test_every_setting_is_read(data: bytes) -> None:
    settings, problems = read_settings(data)
    assert () == problems
    assert (
        Settings(
            title="Wash-house & Woods",
            author="Night porter",
            time_zone="Europe/London",
            units="us",
            site_url="https://journal.example/tarn-skerry",
            poison_centre="+00 000 000",
            as_of=date(2026, 11, 25),
            ingredients=(("oak pellets", 0.93), ("wheat bran", 0.88)),
            names=(("shelf oyster", "Pleurotus pulmonarius"),),
            camera_clocks=(
                CameraClock(camera="Wren 4", add_min=47),
                CameraClock(camera="Auk", add_min=-90, first=date(2026, 3, 29), last=date(2026, 4, 2)),
            ),
            tents=(
                Tent(
                    id="wash-house",
                    name="Wash-house tent",
                    width_m=1.2192,
                    depth_m=1.2,
                    height_m=1.9812,
                    floor="single sheet, no film",
                    exhaust_m3_h=118 * 1.69901079552,  # (0.3048 m)³ × 60
                    exhaust_flow_is="rated",
                    humidity_pct=ValueRange(85, 95),
                    temperature_c=ValueRange(12, 18),
                    every=(("tank", 7), ("duct", 14)),
                ),
                Tent(id="net-loft", name="net-loft"),
            ),
            climate=(
                ClimateSource(
                    files="climate/wash-house-*.csv",
                    tent="wash-house",
                    time="Time",
                    temperature="Temp (°C)",
                    humidity="RH (%)",
                    time_zone="Europe/London",
                    time_format="%d/%m/%Y %H:%M",
                    humidity_accuracy_pct=3,
                ),
                ClimateSource(files="climate/loft.csv", tent="net-loft", temperature_unit="°F"),
            ),
            shares=(
                Share(
                    name="mentor",
                    about=("B-031", "PP-26A", "wash-house"),
                    since=date(2026, 9, 1),
                    positions="area",
                    area_deg=0.01,
                    times="minute",
                    texts="all",
                    by=False,
                    locked=True,
                ),
            ),
        )
        == settings
    )


def test_every_field_of_the_model_has_its_setting() -> None:
    of_tables = {table: {setting.field for setting in rows} for table, rows in SETTINGS.items()}
    tables = {"ingredients", "names", "tents", "climate", "shares", "camera_clocks", "labels", "maps"}
    tables |= {"weather", "permits"}
    # What a share adds or keeps back is no setting.
    assert {f.name for f in fields(Settings)} - tables - {"english_names"} == of_tables["journal"]
    assert {f.name for f in fields(Tent)} - {"id", "every", "unshared"} == of_tables["tents.NAME"]
    assert {f.name for f in fields(ClimateSource)} == of_tables["climate"]
    assert {f.name for f in fields(OwnMap)} == of_tables["map"]
    assert {f.name for f in fields(WeatherSource)} == of_tables["weather"]
    assert {f.name for f in fields(Permit)} - {"name"} == of_tables["permits.NAME"]
    assert {f.name for f in fields(Share)} - {"name"} == of_tables["shares.NAME"]
    assert {f.name for f in fields(LabelSettings)} - {"sizes", "reserved"} == of_tables["labels"]


def test_an_empty_file_gives_the_usual_settings() -> None:
    assert (Settings(), []) == read("")


def test_no_file_gives_the_usual_settings_and_is_odd() -> None:
    settings, (problem,) = read_settings(None, "journal.toml")
    assert (Settings(), "journal.toml", "warning") == (settings, problem.path, problem.severity)


@pytest.mark.parametrize(
    ("data", "line"),
    [
        (b'[journal]\ntitle = "x"\nauthor = Night porter\n', 3),
        (b"[journal]\ntitle = 'x", 2),
        (b"[journal\n", 1),
        (b'[journal]\ntitle = "a"\ntitle = "b"\n', 3),
        (b'[journal]\ntitle = "caf\xe9"\n', 2),
        (b"x = " + b"[" * 5000, 0),
        (b"x = " + b"1" * 5000, 0),
        (b"\x00", 1),
    ],
)
def test_a_file_that_is_no_toml_is_wrong_and_gives_the_usual_settings(data: bytes, line: int) -> None:
    settings, problems = read_settings(data)
    assert (Settings(), [("error", "this file is not TOML")]) == (
        settings,
        [(p.severity, p.message[:21]) for p in problems],
    )
    assert line == problems[0].line


@pytest.mark.parametrize(
    ("is_odd", "line"),
    [
        (True, 'author = "Night porter'),
        (True, 'author = Night porter"'),
        (True, "author = \"The ferry baker's"),
        (True, 'author = "Night \\"the\\" porter'),
        (True, "author = 'Night porter"),
        (True, "author = Night porter'"),
        (False, "author = Night porter"),
        (False, 'author = "The ferry baker\'s" son'),
        (False, 'author = "Night "porter""'),
    ],
)
def test_where_a_quote_is_missing_the_advice_is_to_check_the_quotes(is_odd: bool, line: str) -> None:
    (problem,) = read_settings(f'[journal]\n{line}\nunits = "us"\n\n[tents.loft]\n'.encode())[1]
    assert (2, is_odd) == (problem.line, "check the quotes on this line" in problem.fix)


def test_a_long_text_that_nobody_closed_is_named_where_it_begins() -> None:
    (problem,) = read_settings(b"[journal]\nauthor = 'Night porter'\ntitle = '''Woods\nand loft\nunits = 'us'\n")[1]
    assert 3 == problem.line


@pytest.mark.parametrize(
    ("text", "line", "near"),
    [
        ('[journal]\ntitel = "x"', 2, "title"),
        ('[journal]\n"time-zone" = "UTC"', 2, "time_zone"),
        ("[tent.wash-house]", 1, "tents"),
        ('[tents.a]\nwith = "4 ft"', 2, "width"),
        ('[journal]\naltitude = "120 m"', 2, "elevation"),
        ('[tents.a]\nshelves = "2 m²"', 2, "shelf_area"),
        ('[tents.a]\nexhaust_flow_in = "4 ft"', 2, "exhaust_flow_is"),
        ('[tents.a]\n[[climate]]\nfile = "x.csv"\ntent = "a"', 3, "files"),
        ('[shares.x]\nabout = ["B-1"]\nsinse = 2026-01-01', 3, "since"),
    ],
)
def test_an_unknown_setting_is_wrong_and_names_the_nearest(text: str, line: int, near: str) -> None:
    problem = next(problem for problem in read(text)[1] if "if you mean that" in problem.fix)
    assert (line, "error", f"write {near}, if you mean that") == (problem.line, problem.severity, problem.fix)


def test_logger_files_of_a_tent_where_there_is_none_say_where_to_describe_one() -> None:
    problem = next(problem for problem in read('[[climate]]\nfiles = "a.csv"\ntent = "hut"')[1] if problem.line == 3)
    assert '"hut" is not a tent in the settings, which have none' == problem.message
    assert ("add [tents.hut]", True) == (problem.fix, problem.paste.startswith('[tents.hut]\nname = "Hut"\n'))


@pytest.mark.parametrize(
    ("zone", "near"),
    [("Europe/Londn", "Europe/London"), ("London", "Europe/London"), ("New York", "America/New_York")],
)
def test_an_unknown_time_zone_is_wrong_and_names_one_like_it(zone: str, near: str) -> None:
    settings, (problem,) = read(f'[journal]\ntime_zone = "{zone}"')
    assert ("UTC", 2, "error") == (settings.time_zone, problem.line, problem.severity)
    assert f"write {near}, if you mean that" == problem.fix


@pytest.mark.parametrize(
    ("table", "line", "expected"),
    [
        ("journal", "title = 3", "write text in quotation marks"),
        ("journal", 'title = ""', "write something"),
        ("journal", "title = true", "write text in quotation marks"),
        ("journal", 'units = "imperial"', "metric, us"),
        ("journal", 'time_zone = ["UTC"]', "write text in quotation marks"),
        ("journal", 'time_zone = "../UTC"', "not a time zone"),
        ("journal", 'time_zone = ""', "IANA name"),
        ("journal", 'site_url = "journal.example"', "https://journal.example"),
        ("journal", 'site_url = "javascript:alert(1)"', "https://journal.example"),
        ("journal", 'as_of = "yesterday"', "2026-09-01"),
        ("journal", "as_of = 2026", "2026-09-01"),
        ("ingredients", 'oak = "193 %"', "93 %"),
        ("ingredients", "oak = true", "93 %"),
        ("names", "shelf = 3", "Pleurotus pulmonarius"),
        ("names", 'shelf = ""', "write something"),
        ("camera_clocks", "a = 47", "write text in quotation marks"),
        ("camera_clocks", 'a = "slow"', "47 min slow"),
        ("camera_clocks", 'a = "47 slow"', "has no unit"),
        ("camera_clocks", 'a = "0 min slow"', "the measured value"),
        ("camera_clocks", 'a = "47 min slow until autumn"', "2026-09-01"),
        ("camera_clocks", 'a = "47 min slow from 2026-09-02 until 2026-09-01"', "the earlier day first"),
        ("tents.a", "width = 4", "4 ft"),
        ("tents.a", 'width = "4"', "120 cm"),
        ("tents.a", 'width = "-4 ft"', "the measured value"),
        ("tents.a", 'exhaust_flow = "118"', "200 m³/h"),
        ("tents.a", 'exhaust_flow_is = "guessed"', "rated, measured"),
        ("tents.a", 'humidity = "90 %"', "85–95 %"),
        ("tents.a", "temperature = [12, 18]", "12–18 °C"),
        ("tents.a", "every = 7", '[tents.a.every], then tank = "7 d"'),
        ("tents.a.every", "tank = 7", "7 d"),
        ("tents.a.every", 'tank = "0 d"', "the measured value"),
    ],
)
def test_a_setting_that_cannot_be_read_is_told_what_was_expected(table: str, line: str, expected: str) -> None:
    (problem,) = read(f"[{table}]\n{line}")[1]
    assert (2, "error") == (problem.line, problem.severity)
    assert expected in problem.sentence


def test_a_permit_that_ends_before_it_begins_is_refused_on_its_line() -> None:
    lines = '[permits.wood]\nlimit = "5 kg"\nfirst = 2026-10-01\nlast = 2026-09-01'
    settings, (problem,) = read(lines)
    assert (4, "error") == (problem.line, problem.severity)
    assert "last (2026-09-01) is before first (2026-10-01), so neither is used" == problem.message
    assert (Permit(name="wood", in_all_g=5000),) == settings.permits


@pytest.mark.parametrize(("elevation", "odd"), [("120 m", False), ("9000 m", True), ("-100 m", True)])
def test_an_elevation_where_hardly_anybody_lives_is_odd(elevation: str, odd: bool) -> None:
    settings, problems = read(f'[journal]\nelevation = "{elevation}"')
    assert float(elevation.split()[0]) == settings.elevation_m
    assert [(2, "warning")] * odd == [(one.line, one.severity) for one in problems]


@pytest.mark.parametrize(
    ("written", "day"),
    [
        ("2026-11-25", date(2026, 11, 25)),
        ('"2026-11-25"', date(2026, 11, 25)),
        ("2026-11-25T10:00:00", date(2026, 11, 25)),
    ],
)
def test_a_day_is_read_with_quotation_marks_and_without(written: str, day: date) -> None:
    assert day == read(f"[journal]\nas_of = {written}")[0].as_of


@pytest.mark.parametrize(
    ("written", "share"), [('"93 %"', 0.93), ("93", 0.93), ("93.5", 0.935), ('"93"', 0.93), ("0", 0)]
)
def test_a_dry_share_is_read_as_a_percentage(written: str, share: float) -> None:
    settings, problems = read(f"[ingredients]\noak = {written}")
    assert ((("oak", pytest.approx(share)),), []) == (settings.ingredients, problems)


def test_a_dry_share_below_one_per_cent_is_odd() -> None:
    assert [(2, "warning")] == told("[ingredients]\noak = 0.93")


def test_a_tent_whose_name_is_not_an_id_is_wrong_and_left_out() -> None:
    settings, problems = read('[tents."the wash house"]\nname = "x"\n[tents.con]\n[tents.b]')
    assert ["b"] == [tent.id for tent in settings.tents]
    assert [(1, "error"), (3, "error")] == [(problem.line, problem.severity) for problem in problems]


def test_two_tents_whose_names_differ_in_capitals_alone_are_one() -> None:
    settings, problems = read("[tents.a]\n[tents.A]")
    assert (["a"], [(2, "error")]) == ([t.id for t in settings.tents], [(p.line, p.severity) for p in problems])


@pytest.mark.parametrize("files", ["../x.csv", "/etc/x.csv", "a/../../x.csv", "C:/x.csv", "..\\\\x.csv"])
def test_a_loggers_files_are_in_the_journal(files: str) -> None:
    settings, problems = read(f'[tents.a]\n[[climate]]\nfiles = "{files}"\ntent = "a"')
    assert ((), [(3, "error")]) == (settings.climate, [(p.line, p.severity) for p in problems])
    assert files not in problems[0].sentence


def test_a_loggers_tent_is_one_of_the_settings() -> None:
    for name in ("washhouse", "house"):
        settings, (problem,) = read(f'[tents.wash-house]\n[[climate]]\nfiles = "a.csv"\ntent = "{name}"')
        fix = f"write wash-house, if you mean that, or add [tents.{name}]"
        assert ((), 4, fix) == (settings.climate, problem.line, problem.fix)


def test_a_logger_source_needs_files_and_a_tent() -> None:
    settings, problems = read('[[climate]]\ntime = "x"\n[[climate]]')
    assert ((), [1, 1, 3, 3]) == (settings.climate, [problem.line for problem in problems])


def test_one_logger_source_may_be_a_plain_table() -> None:
    assert ["x.csv"] == [c.files for c in read('[tents.a]\n[climate]\nfiles = "x.csv"\ntent = "a"')[0].climate]


@pytest.mark.parametrize(
    "line",
    ['positions = "everything"', "since = 2026", 'locked = "perhaps"', "sinse = 2026-01-01", 'area = "0.5°"', "by = 1"],
)
def test_a_share_with_anything_wrong_in_it_is_not_made(line: str) -> None:
    settings, problems = read(f'[shares.x]\nabout = ["B-1"]\n{line}\n[shares.y]\nabout = "B-2"')
    assert [("y", ("B-2",))] == [(share.name, share.about) for share in settings.shares]
    assert [(1, "error"), (3, "error")] == [(problem.line, problem.severity) for problem in problems]


def test_a_share_shows_no_more_than_it_is_told_to() -> None:
    (share,) = read('[shares.x]\nabout = ["B-1"]')[0].shares
    assert ("hidden", 0.1, "day", False) == (share.positions, share.area_deg, share.times, share.by)


@pytest.mark.parametrize("size", ['"1°"', '"0.1"', '"0,1°"', "0.1", "1", '"0.001 °"'])
def test_an_areas_size_is_one_of_four(size: str) -> None:
    assert [] == read(f'[shares.x]\nabout = ["B-1"]\narea = {size}')[1]


@pytest.mark.parametrize("name", ["journal", "ingredients", "names", "tents", "climate", "shares", "camera_clocks"])
@pytest.mark.parametrize("value", ["3", '"x"', "[1]", "true"])
def test_what_is_not_a_table_where_one_must_be_is_wrong(name: str, value: str) -> None:
    settings, problems = read(f"{name} = {value}")
    assert (Settings(), [(1, "error")]) == (settings, [(p.line, p.severity) for p in problems])


def test_a_table_of_tables_holds_nothing_else() -> None:
    assert [(2, "error")] == told('[tents]\nwidth = "4 ft"')


def test_thousands_of_tables_are_read_in_one_go() -> None:
    def tables(text: str) -> None:
        assert () == read(text)[0].climate

    assert not grows_faster_than_a_scan(tables, filled("", '[[climate]]\nfiles = "x.csv"\ntent = "a"\n'), 10_000)


@given(st.binary(max_size=200))
def test_no_bytes_make_the_reader_stumble(data: bytes) -> None:
    assert isinstance(read_settings(data)[0], Settings)


VALUE = st.sampled_from(
    ["1", "1.5", "nan", "inf", "true", '"x"', '"4 ft"', "[]", "[1]", '["a"]', "{}", "{a = 1}", "2026-01-01", "10:00:00"]
)
NAME = st.sampled_from([s.name for rows in SETTINGS.values() for s in rows] + ["every", "x"])
TABLE = st.sampled_from(
    ["[journal]", "[ingredients]", "[tents.a]", "[tents.a.every]", "[[climate]]", "[shares.s]", "[x]"]
)


@given(st.lists(st.one_of(TABLE, st.tuples(NAME, VALUE).map(" = ".join)), max_size=10))
def test_no_setting_makes_the_reader_stumble(lines: list[str]) -> None:
    settings, problems = read("\n".join(lines))
    assert isinstance(settings, Settings)
    assert all(problem.message for problem in problems)


def test_keeper_is_an_older_name_of_author() -> None:
    settings, problems = read_settings(b'[journal]\nkeeper = "Night porter"\n')
    assert ("Night porter", ()) == (settings.author, problems)


@pytest.mark.parametrize("lines", ['keeper = "A"\nauthor = "B"', 'author = "B"\nkeeper = "A"'])
def test_author_under_both_names_is_written_twice(lines: str) -> None:
    settings, (problem,) = read_settings(f"[journal]\n{lines}\n".encode())
    assert "B" == settings.author
    assert lines.split("\n").index('keeper = "A"') + 2 == problem.line
    assert problem.message.startswith("author is written twice")


def test_labels_have_sizes_and_ids_printed_ahead() -> None:
    settings, problems = read(
        '[labels]\nsize = "slant"\nsheet = "letter"\ncheck_character = true\n[labels.sizes]\n'
        'slant = "40 x 12 mm"\nlid = "38.1 × 21.2 mm, margin 4.7 x 10.7 mm, gap 2.5 x 0 mm"\n'
        '[[reserved]]\nkind = "batch"\nids = ["B-034", "B-035"]\n[[reserved]]\nkind = "find"\nids = ["F26-020"]\n'
    )
    assert [] == problems
    lid = LabelSize(name="lid", width_mm=38.1, height_mm=21.2, margin_mm=(4.7, 10.7), gap_mm=(2.5, 0.0))
    assert settings.labels == LabelSettings(
        size="slant",
        sheet="Letter",
        has_check=True,
        sizes=(LabelSize(name="slant", width_mm=40, height_mm=12), lid),
        reserved=(("batch", "B-034"), ("batch", "B-035"), ("find", "F26-020")),
    )


@pytest.mark.parametrize(
    ("lines", "message"),
    [
        ('[labels.sizes]\na = "20 x 12 mm"', "too small or too large"),
        ('[labels.sizes]\na = "22 x 400 mm"', "too small or too large"),
        ('[labels.sizes]\na = "4 cm"', "is not a size of labels"),
        ('[labels.sizes]\na = "4.0.0 x 12 mm"', "is not a size of labels"),
        ("[labels.sizes]\na = 40", "is a number"),
        ('[labels]\nsheet = "A3"', "is not known"),
        ('[labels]\nsize = "blok"', '"blok" is not a size of labels, so `jar` is used'),
        ("labels = 3", "labels is not a table"),
        ('[[reserved]]\nkind = "note"\nids = ["N-1"]', "is not known"),
        ('[[reserved]]\nids = ["B-1"]', "kind"),
        ("reserved = 3", "is not a table"),
    ],
)
def test_labels_that_cannot_be_read_are_errors(lines: str, message: str) -> None:
    settings, (problem, *_) = read(lines + "\n")
    assert ((), "error") == (settings.labels.sizes + settings.labels.reserved, problem.severity)
    assert message in problem.message
