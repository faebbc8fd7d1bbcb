from __future__ import annotations

import tomllib
from pathlib import Path
from zoneinfo import available_timezones

import pytest

from journal.reading.entries import read_entry
from journal.reading.keys import KINDS
from journal.reading.settings_file import read_settings
from journal.settings import Settings
from journal.writing.new_journal import EXAMPLES, Answers, guess_time_zone, guess_units, settings_text, write_journal

ANSWERS = Answers("Wash-house & Woods", "Night porter", "Europe/London", "metric")


@pytest.mark.parametrize("title", ["plain", 'with "quotes" and \\', "two\nlines\tand a tab", "é — 菌", "\x7f\x01"])
def test_any_answer_is_valid_toml(title: str) -> None:
    """Source: tomllib, an implementation of TOML 1.0.0."""
    read = tomllib.loads(settings_text(Answers(title, "k", "UTC", "us")))
    assert read == {"journal": {"format": 1, "title": title, "author": "k", "time_zone": "UTC", "units": "us"}}


def test_the_remarks_are_valid_settings_too() -> None:
    lines = settings_text(ANSWERS).splitlines()
    remarks = ("# The journal's settings", "# A tent or room", "# What a permit", "# A weather", "# `journal keys")
    text = "\n".join(line.removeprefix("# ") for line in lines if not line.startswith(remarks))
    settings, problems = read_settings(text.encode())
    assert () == problems
    assert (("tank", 7.0),) == settings.tents[0].every
    assert ("GBP", 120, 1.7) == (settings.currency, settings.elevation_m, settings.tents[0].shelf_area_m2)
    assert ("common-wood", "weather/*.csv") == (settings.permits[0].name, settings.weather[0].files)


def test_the_examples_show_every_kind() -> None:
    drafts = [read_entry(name, text.encode(), Settings()) for name, text in EXAMPLES.items()]
    assert set(KINDS) == {draft.kind for draft in drafts if draft}


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_example_reads_without_a_problem(name: str) -> None:
    draft = read_entry(name, EXAMPLES[name].encode(), Settings())
    assert draft is not None
    assert draft.problems == ()


def test_settings_that_are_there_are_kept(tmp_path: Path) -> None:
    (tmp_path / "journal.toml").write_text("mine", encoding="utf-8")
    with pytest.raises(FileExistsError):
        write_journal(tmp_path, ANSWERS)
    assert (tmp_path / "journal.toml").read_text(encoding="utf-8") == "mine"


def test_an_example_that_was_changed_is_kept(tmp_path: Path) -> None:
    (tmp_path / "examples").mkdir()
    (tmp_path / "examples" / "note.txt").write_text("mine", encoding="utf-8")
    write_journal(tmp_path, ANSWERS)
    assert (tmp_path / "examples" / "note.txt").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    ("expected", "environment", "etc_timezone"),
    [
        ("Europe/Oslo", {"TZ": "Europe/Oslo"}, "Europe/London"),
        ("Europe/Oslo", {"TZ": ":Europe/Oslo"}, None),
        ("Europe/London", {}, "Europe/London\n"),
        ("Europe/London", {"TZ": "nowhere"}, "Europe/London"),
        ("UTC", {}, "nowhere"),
        ("UTC", {}, None),
    ],
)
def test_the_time_zone_is_the_computers(expected: str, environment, etc_timezone, tmp_path: Path) -> None:
    if etc_timezone is not None:
        (tmp_path / "timezone").write_text(etc_timezone, encoding="utf-8")
    assert expected == guess_time_zone(environment, tmp_path)


def test_the_time_zone_is_read_from_the_link_to_its_table(tmp_path: Path) -> None:
    table = tmp_path / "share" / "zoneinfo" / "Europe" / "Oslo"
    table.parent.mkdir(parents=True)
    table.touch()
    (tmp_path / "localtime").symlink_to(table)
    assert guess_time_zone({}, tmp_path) == "Europe/Oslo"
    assert "Europe/Oslo" in available_timezones()


@pytest.mark.parametrize(
    ("units", "zone", "environment"),
    [
        ("metric", "Europe/Berlin", {}),
        ("metric", "Europe/Berlin", {"LANG": "C.UTF-8"}),
        ("metric", "Europe/Berlin", {"LANG": "de_DE.UTF-8", "LANGUAGE": "en_US", "LC_TIME": "en_US.UTF-8"}),
        ("metric", "Europe/Berlin", {"LANG": "en_US.UTF-8", "LC_MEASUREMENT": "de_DE.UTF-8"}),
        ("metric", "Europe/Berlin", {"LC_ALL": "C", "LC_MEASUREMENT": "en_US.UTF-8", "LANG": "en_US.UTF-8"}),
        ("metric", "UTC", {"LANG": "en_GB.UTF-8"}),
        ("metric", "America/Toronto", {"LANG": "en_CA.UTF-8"}),
        ("metric", "America/Indiana/Nowhere", {}),
        ("us", "UTC", {"LANG": "en_US.UTF-8"}),
        ("us", "UTC", {"LC_ALL": "", "LC_MEASUREMENT": "es_US@x", "LANG": "de_DE.UTF-8"}),
        ("us", "UTC", {"LC_ALL": "en_US", "LANG": "de_DE.UTF-8"}),
        ("us", "America/Chicago", {"LANG": "C.UTF-8"}),
        ("us", "America/Indiana/Knox", {}),
        ("us", "US/Eastern", {}),
    ],
)
def test_us_units_are_offered_only_where_the_locale_or_the_time_zone_is_of_the_us(
    units: str, zone: str, environment: dict[str, str]
) -> None:
    """Sources: of the locales of the GNU C library en_US alone has `measurement 2`; the time zone database's zone.tab
    has the zones of each country; POSIX.1-2017, 8.2: LC_ALL goes before LC_MEASUREMENT, and that before LANG; one
    that is empty counts as not set."""
    assert units == guess_units(zone, environment)
