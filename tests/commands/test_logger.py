"""`journal logger`, and `journal start` beside a logger's file. The readings are invented."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from journal.cli import cli
from journal.problems import Refusal
from journal.reading.settings_file import read_settings

TOML = '[journal]\ntitle = "Woods"\ntime_zone = "Europe/London"\n\n[tents.hut]\nname = "Hut"\n\n[tents.loft]\n# mine\n'
OPEN = "Time;Temp;RH\n03/10/2026 14:05:00;14,5;92,1\n03/10/2026 14:15:00;14,6;92,3\n"
PLAIN = "Time,Temp (°C),RH (%)\n2026-11-25 14:05,14.5,92.1\n2026-11-25 14:10,14.6,92.3\n"


@pytest.fixture
def root(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A journal of two tents, from whose folder commands are typed."""
    folder = tmp_path / "my"
    (folder / "climate").mkdir(parents=True)
    (folder / "journal.toml").write_text(TOML, encoding="utf-8")
    monkeypatch.chdir(folder)
    return folder


def run(*words: str | Path, typed: str = "") -> Result:
    return CliRunner().invoke(cli, [str(word) for word in words], input=typed)


def refusal(*words: str | Path, typed: str = "") -> str:
    done = run(*words, typed=typed)
    assert isinstance(done.exception, Refusal), done.output
    return str(done.exception)


def file(root: Path, name: str, text: str) -> Path:
    (root / name).write_text(text, encoding="utf-8")
    return root / name


def test_what_the_file_leaves_open_is_asked_and_written_only_with_a_yes(root: Path) -> None:
    file(root, "climate/log-2026-10.csv", OPEN)
    answers = "\n\n\nday\nloft\nUTC\nabout 3\n± 3,5 %\n"
    done = run("logger", "climate/log-2026-10.csv", typed=answers + "n\n")
    assert 0 == done.exit_code, done.output
    assert "journal.toml was not changed" in done.stderr
    assert TOML == (root / "journal.toml").read_text(encoding="utf-8")
    done = run("logger", "climate/log-2026-10.csv", typed=answers + "y\n")
    assert "gives 2 readings for loft, from 2026-10-03 15:05 to 2026-10-03 15:15" in done.stderr
    written = (root / "journal.toml").read_text(encoding="utf-8")
    assert f"{TOML}\n{done.stdout}" == written
    (source,) = read_settings(written.encode())[0].climate
    assert ("climate/log-*.csv", "loft", "UTC") == (source.files, source.tent, source.time_zone)
    assert ("Time", "Temp", "RH", "°C") == (source.time, source.temperature, source.humidity, source.temperature_unit)
    assert ("%d/%m/%Y %H:%M:%S", 3.5) == (source.time_format, source.humidity_accuracy_pct)
    assert "How accurate its humidity is, as its maker says (like 3 %) [unknown]:" in done.stderr
    assert "write it like 3 %, or unknown" in done.stderr


@pytest.mark.parametrize(
    ("accuracy", "typed", "options"),
    [(None, "\n\n\n\n\n\n", ()), (None, "", ("--yes",)), (2.0, "", ("--yes", "--humidity-accuracy", "2 %"))],
)
def test_an_accuracy_that_is_not_known_is_a_line_to_fill_in(
    root: Path, accuracy: float | None, typed: str, options: tuple[str, ...]
) -> None:
    file(root, "climate/a.csv", PLAIN)
    assert 0 == run("logger", "climate/a.csv", *options, typed=f"{typed}y\n" if typed else "").exit_code
    text = (root / "journal.toml").read_text(encoding="utf-8")
    assert accuracy == read_settings(text.encode())[0].climate[0].humidity_accuracy_pct
    assert ("# humidity_accuracy" in text) == (accuracy is None)


def test_no_accuracy_is_asked_of_a_logger_without_humidity(root: Path) -> None:
    file(root, "climate/a.csv", "Time,Temp (°C)\n2026-11-25 14:05,14.5\n2026-11-25 14:10,14.6\n")
    done = run("logger", "climate/a.csv", "--humidity", "none", "--yes")
    assert (0, False) == (done.exit_code, "accurate" in done.stderr), done.output
    assert "humidity_accuracy" not in (root / "journal.toml").read_text(encoding="utf-8")


def test_options_answer_and_a_column_may_be_named_by_its_number(root: Path) -> None:
    file(root, "climate/a.csv", OPEN.replace("Temp;RH", "A;B"))
    options = ("--tent", "HUT", "--time", "1", "--temperature", "a", "--humidity", "3", "--month-first", "--yes")
    assert 0 == run("logger", "climate/a.csv", *options, "--time-zone", "UTC").exit_code
    (source,) = read_settings((root / "journal.toml").read_bytes())[0].climate
    assert ("hut", "A", "B", "%m/%d/%Y %H:%M:%S") == (
        source.tent, source.temperature, source.humidity, source.time_format,
    )  # fmt: skip


def test_day_or_month_first_is_refused_where_the_file_leaves_it_open_and_nobody_answers(root: Path) -> None:
    file(root, "climate/a.csv", OPEN)
    says = (
        "no day in the file exceeds 12, so it does not show whether the day or the month comes first; "
        "give --day-first or --month-first"
    )
    assert says == refusal("logger", "climate/a.csv", "--yes")
    assert TOML == (root / "journal.toml").read_text(encoding="utf-8")


def test_a_day_over_twelve_decides(root: Path) -> None:
    file(root, "climate/a.csv", OPEN + "13/10/2026 14:15:00;14,6;92,3\n13/10/2026 14:25:00;14,6;92,3\n")
    assert 0 == run("logger", "climate/a.csv", "--yes").exit_code
    assert "%d/%m/%Y %H:%M:%S" == read_settings((root / "journal.toml").read_bytes())[0].climate[0].time_format


@pytest.mark.parametrize("before", [TOML, TOML.replace("\n", "\r\n"), TOML.rstrip("\n"), "\ufeff" + TOML])
def test_the_rest_of_the_settings_stays_byte_for_byte(root: Path, before: str) -> None:
    (root / "journal.toml").write_bytes(before.encode())
    file(root, "climate/a.csv", PLAIN)
    assert 0 == run("logger", "climate/a.csv", "--yes").exit_code
    after = (root / "journal.toml").read_bytes()
    assert after.startswith(before.encode())
    assert ("\r\n" in before) == (b'tent = "hut"' in after and b"\r\nhumidity" in after)
    settings, problems = read_settings(after)
    assert ((), 1) == (problems, len(settings.climate))


def test_no_zone_is_asked_of_times_that_have_their_offset(root: Path) -> None:
    rows = "".join(f"2026-11-25T14:{minute:02}:00Z,14.5,92.1\n" for minute in range(20))
    file(root, "climate/a.csv", f"Time,Temp (°C),RH (%)\nat noon 1,14.5,92.1\n{rows}")
    done = run("logger", "climate/a.csv", "--yes")
    assert (0, False) == (done.exit_code, "time zone" in done.stderr), done.output


def test_a_new_tent_comes_with_its_lines(root: Path) -> None:
    file(root, "climate/a.csv", PLAIN)
    assert 0 == run("logger", "climate/a.csv", "--tent", "cellar", "--yes").exit_code
    assert ["hut", "loft", "cellar"] == [t.id for t in read_settings((root / "journal.toml").read_bytes())[0].tents]


def test_a_file_from_elsewhere_is_copied_into_the_journal(root: Path, tmp_path: Path) -> None:
    file(tmp_path, "Export 2026-11.csv", PLAIN)
    assert 0 == run("logger", tmp_path / "Export 2026-11.csv", "--yes").exit_code
    assert PLAIN == (root / "climate" / "Export 2026-11.csv").read_text(encoding="utf-8")
    file(tmp_path, "Export 2026-11.csv", PLAIN + "2026-11-26 14:05,14.5,92.1\n")
    assert "is another file of that name" in refusal("logger", tmp_path / "Export 2026-11.csv")


def test_a_file_that_is_claimed_says_how_it_is_read_and_changes_nothing(root: Path) -> None:
    file(root, "climate/a.csv", PLAIN)
    run("logger", "climate/a.csv", "--yes")
    before = (root / "journal.toml").read_bytes()
    done = run("logger", "climate/a.csv", "--yes")
    assert "climate/a.csv gives 2 readings for hut, from 2026-11-25 14:05 to 2026-11-25 14:10." in done.stderr
    assert before == (root / "journal.toml").read_bytes()


def test_readings_that_are_of_the_tent_in_the_other_unit_only_are_asked_about_at_once(root: Path) -> None:
    settings = (root / "journal.toml").read_text("utf-8")
    (root / "journal.toml").write_text(
        settings + '\n[tents.cold]\nname = "Cold room"\ntemperature = "2-5 °C"\n', "utf-8"
    )
    rows = "".join(f"2026-11-25 14:{minute:02},{37 + minute % 5},92.1\n" for minute in range(20))
    file(root, "climate/cold.csv", f"Time,Temp (°C),RH (%)\n{rows}")
    done = run("logger", "climate/cold.csv", "--tent", "cold", "--yes")
    assert (0, True) == (done.exit_code, 'if that is °F, write temperature_unit = "°F"' in done.stderr), done.output
    fixed = (root / "journal.toml").read_text("utf-8") + 'temperature_unit = "°F"\n'
    (root / "journal.toml").write_text(fixed, "utf-8")
    assert "temperature" not in run("logger", "climate/cold.csv").stderr


@pytest.mark.parametrize(
    ("says", "name", "text"),
    [
        ("does not end in .csv; export the readings as CSV, or rename it", "climate/a.xlsx", "PK"),
        ("this file has no line with the names of its columns; write one", "climate/a.csv", "2026-11-25 14:05,14,92\n"),
        ("there is no file", "climate/none.csv", None),
        ("fix journal.toml first: journal.toml:1: error: this file is not TOML", "journal.toml", "title: Woods\n"),
        ("the lines cannot be added at the end", "journal.toml", '[climate]\nfiles = "a.csv"\ntent = "hut"\n'),
    ],
)
def test_what_cannot_be_connected_is_refused_in_one_sentence(
    root: Path, says: str, name: str, text: str | None
) -> None:
    if text is not None:
        file(root, name, text)
    if name == "journal.toml":
        name = "climate/b.csv"
        file(root, name, PLAIN)
    before = (root / "journal.toml").read_bytes()
    assert says in refusal("logger", name, "--yes")
    assert before == (root / "journal.toml").read_bytes()


def test_the_journal_is_the_one_around_the_file_where_none_is_named(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file(root, "climate/a.csv", PLAIN)
    monkeypatch.chdir(tmp_path)
    assert 0 == run("logger", "my/climate/a.csv", "--yes").exit_code
    assert 1 == len(read_settings((root / "journal.toml").read_bytes())[0].climate)
    assert "no journal.toml" in refusal("logger", file(tmp_path, "b.csv", PLAIN))


ASKS_UNITS = ("--title", "Shore", "--author", "Porter", "--time-zone", "Europe/London")
START = (*ASKS_UNITS, "--units", "g")


def test_start_connects_the_logger_files_that_lie_there_already(tmp_path: Path) -> None:
    (tmp_path / "my" / "climate").mkdir(parents=True)
    file(tmp_path / "my", "climate/cellar-2026-11.csv", PLAIN)
    done = run("start", tmp_path / "my", *START, typed="\n\n\n\n\n\ny\n")
    assert 0 == done.exit_code, done.output
    settings, problems = read_settings((tmp_path / "my" / "journal.toml").read_bytes())
    assert ((), "metric", ["cellar"]) == (problems, settings.units, [tent.id for tent in settings.tents])
    assert ["climate/cellar-*.csv"] == [source.files for source in settings.climate]


def test_start_asks_for_a_logger_file_and_goes_on_where_it_cannot_be_read(tmp_path: Path) -> None:
    done = run("start", tmp_path / "my", *ASKS_UNITS, typed="g\ngone.csv\n")
    assert 0 == done.exit_code
    assert "there is no file gone.csv" in done.stderr
    assert (tmp_path / "my" / "journal.toml").is_file()
    file(tmp_path, "log.csv", PLAIN)
    asked = f"g\n'{tmp_path / 'log.csv'}'\n\n\n\n\n\n\ny\n"
    assert 0 == run("start", tmp_path / "other", *ASKS_UNITS, typed=asked).exit_code
    assert (tmp_path / "other" / "climate" / "log.csv").is_file()


def test_start_asks_nothing_where_options_say_all(tmp_path: Path) -> None:
    assert "logger" not in run("start", tmp_path / "my", *START, typed="gone.csv\n").stderr
    log = file(tmp_path, "log.csv", PLAIN)
    assert 0 == run("start", tmp_path / "other", *START, "--logger", log, typed="\n\n\n\n\n\ny\n").exit_code
    assert (tmp_path / "other" / "climate" / "log.csv").is_file()


@pytest.mark.parametrize(("units", "said"), [("metric", "kg"), ("metric", "G"), ("us", "oz"), ("us", "pounds")])
def test_start_takes_what_the_author_weighs_in_for_units(tmp_path: Path, units: str, said: str) -> None:
    words = ("start", tmp_path / "my", "--title", "S", "--author", "P", "--time-zone", "UTC")
    done = run(*words, typed=f"stone\n{said}\n")
    assert "Units (metric or us; g, kg or oz will do)" in done.stderr
    assert '"stone" is not known; write metric (g, kg, °C) or us (oz, lb, °F)' in done.stderr
    assert units == read_settings((tmp_path / "my" / "journal.toml").read_bytes())[0].units


def test_readings_that_no_tent_has_are_told_with_the_line_that_would_mend_them(root: Path) -> None:
    file(root, "climate/log-2026-11.csv", PLAIN.replace("14.5", "55.3").replace("14.6", "54.9"))
    done = run("logger", "climate/log-2026-11.csv", "--yes", "--tent", "hut")
    assert "2 readings of temperature outside -10 to 45 °C, which no tent has, left out (54.9 °C to 55.3 °C)" in (
        done.stderr
    )
    line = 'write temperature_unit = "°F" in the [[climate]] of hut with files = "climate/log-*.csv"'
    assert line in done.stderr
