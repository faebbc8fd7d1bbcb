"""Unlikely core logs, colonies, sales, flushes and dried masses are warnings where they stand."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from journal.amounts import Units
from journal.analysis.limits import limit
from journal.analysis.progress import progress_of
from journal.analysis.unlikely_measures import doubts_of_measures
from journal.model import Colony, CoreLog, Entry, LoggerFile
from journal.settings import Settings
from tests.builders import batch, culture, find, journal_of, note


def logged(day: str, *core_c: float, of: str = "B-1", every_s: int = 60) -> CoreLog:
    first_s = datetime.fromisoformat(f"{day}T12:00").replace(tzinfo=UTC).timestamp()
    stamps = tuple(first_s + every_s * at for at in range(len(core_c)))
    return CoreLog(
        entry=f"{of}.md", log=LoggerFile(path="core.csv", tent="", stamps_s=stamps, temperature_c=tuple(core_c))
    )


def told(
    *rows: Entry, core: CoreLog | None = None, elevation_m: float | None = None, units: Units = "metric"
) -> list[tuple[str, str, str]]:
    """The path, key and message of each doubt."""
    settings = Settings(elevation_m=elevation_m, units=units)
    journal = replace(journal_of(*rows), core_logs=(core,) if core else (), settings=settings)
    return [(one.entry.path, one.key, one.message) for one in doubts_of_measures(journal, progress_of(journal))]


SOAKED = [20.0, 121.1, 121.1]


@pytest.mark.parametrize(
    ("core", "says"),
    [
        (logged("2026-10-05", *SOAKED), None),
        (logged("2026-10-05", 20), "core.csv has only one usable reading, and two are needed"),
        (logged("2026-10-05", float("nan"), float("nan")), "core.csv has no usable reading"),
        (logged("2026-10-05", *SOAKED, every_s=900), "core.csv has no two readings within 10 minutes of each other"),
        (logged("2026-09-05", *SOAKED), None),
        (logged("2025-10-05", *SOAKED), "core.csv was written on 2025-10-05, and B-1 is of 2026-10-06"),
        (logged("2026-12-05", *SOAKED), "core.csv was written on 2026-12-05"),
    ],
)
def test_a_core_log_has_readings_of_about_the_day_of_its_load(core: CoreLog, says: str | None) -> None:
    found = told(batch("B-1", on=6), core=core)
    assert [("B-1.md", "core log")] * bool(says) == [(path, key) for path, key, _ in found]
    assert all(says is not None and message.startswith(says) for *_, message in found)


def test_a_log_that_could_not_be_read_at_all_is_an_error_of_its_file_and_no_doubt_besides() -> None:
    assert [] == told(batch("B-1", on=6), core=logged("2026-10-05"))


@pytest.mark.parametrize(
    ("treatment", "elevation_m", "peak_c", "says"),
    [
        # Saturated steam at 15 psi above the air: 120.955 °C at sea level, 118.26 °C at 1500 m (tests/outside).
        ("15 psi 2.5 h", None, 122.9, None),
        ("15 psi 2.5 h", None, 123.0, "reached 123 °C, but steam at the pressure under `treatment` has 121 °C"),
        ("15 psi 2.5 h", 1500.0, 121.1, "has 118.3 °C at 1500 m"),
        ("121 °C 2.5 h", 1500.0, 130.0, None),
        (None, None, 130.0, None),
    ],
)  # fmt: skip
def test_no_core_is_hotter_than_the_steam_around_it(
    treatment: str | None, elevation_m: float | None, peak_c: float, says: str | None
) -> None:
    core = logged("2026-10-05", 20, peak_c, peak_c)
    found = told(batch("B-1", on=6, treatment=treatment), core=core, elevation_m=elevation_m)
    assert bool(says) == bool(found)
    assert all(says is not None and says in message for *_, message in found)


def test_in_us_units_a_core_hotter_than_steam_is_told_in_them() -> None:
    """118.26 °C are 244.9 °F, 121.1 °C are 250 °F and 1500 m 4921.3 ft: NIST SP 811 (2008), B.8 and B.9."""
    core = logged("2026-10-05", 20, 121.1, 121.1)
    ((*_, message),) = told(batch("B-1", on=6, treatment="15 psi 2.5 h"), core=core, elevation_m=1500.0, units="us")
    assert message.startswith(
        "the core of core.csv reached 250 °F, but steam at the pressure under `treatment` has 244.9 °F at 4921.3 ft"
    )


def colonies(on: int, *sizes: tuple[int | None, float]) -> Entry:
    return note("C-1", on, colony=tuple(Colony(part, (mm, mm)) for part, mm in sizes))


@pytest.mark.parametrize(
    ("form", "rows", "says"),
    [
        ("plate", [colonies(3, (1, 20), (4, 20)), colonies(5, (1, 30), (4, 18))], None),
        (None, [colonies(3, (None, 20))], None),
        ("plate", [colonies(3, (5, 20))], "this is a colony on plate 5, but C-1 has 4 vessels"),
        ("plate", [colonies(3, (1, 34)), colonies(5, (1, 31.9))], "was 34 mm across on 2026-10-03, and now plate 1"),
        ("plate", [colonies(3, (None, 34)), colonies(5, (None, 20))], "and now it has 20 mm"),
        ("plate", [colonies(3, (1, 34), (2, 20)), colonies(5, (2, 30))], None),
        ("plate", [colonies(3, (None, 100)), colonies(3, (None, 9))], None),  # two plates of one day, not numbered
        ("grain", [colonies(3, (1, 34))], "measured on agar, but C-1 is of the form grain"),
    ],
)  # fmt: skip
def test_a_colony_is_on_a_plate_of_its_culture_and_grows(form: str | None, rows: list[Entry], says: str | None) -> None:
    found = told(culture("C-1", form=form, vessels=4), *rows)
    assert bool(says) == bool(found)
    assert all(says is not None and says in message and key == "colony" for _, key, message in found)


@pytest.mark.parametrize(
    ("keys", "doubted"),
    [({}, True), ({"harvest_g": 400.0}, False), ({"dried_g": 40.0}, False), ({"harvest_g": 0.0}, True)],
)
def test_what_is_sold_was_harvested(keys: dict[str, float], doubted: bool) -> None:
    found = told(batch("B-1", on=6), note("B-1", 20, sold=12.5, **keys))
    assert ["sold"] * doubted == [key for _, key, _ in found]


@pytest.mark.parametrize(
    ("stage", "harvest_g", "doubted"),
    [
        ("nothing there", 300.0, True),
        ("nothing there", 0.0, False),
        ("nothing there", None, False),
        ("past", 300.0, False),
    ],
)
def test_where_nothing_was_there_nothing_was_harvested(stage: str, harvest_g: float | None, doubted: bool) -> None:
    found = [row[1:] for row in told(find("F-1"), note("F-1", 20, stage=stage, harvest_g=harvest_g))]
    assert [("stage", "the stage is `nothing there`, but 300 g was harvested")] * doubted == found


@pytest.mark.parametrize(("metres", "usual"), [(-50, True), (-100, False), (6000, True), (9000, False)])
def test_elevations_have_limits(metres: float, usual: bool) -> None:
    assert usual == limit("elevation_m").allows(metres)


# Dried -------------------------------------------------------------------------------------------------------------

PICKED = note("B-1", 30, harvest_g=420.0, flush=1)


@pytest.mark.parametrize(
    ("message", "values"),
    [
        (None, {"harvest_g": 100.0, "dried_g": 10.0}),
        (None, {"harvest_g": 100.0, "dried_g": 50.0}),
        ("51 g dried is hardly what is left of 100 g fresh", {"harvest_g": 100.0, "dried_g": 51.0}),
        ("300 g dried is hardly what is left of 100 g fresh", {"harvest_g": 100.0, "dried_g": 300.0}),
        (None, {"harvest_g": 400.0, "dried_g": 30.0, "dried_from_g": 300.0}),
        (
            "30 g dried is hardly what is left of 30 g fresh",
            {"harvest_g": 400.0, "dried_g": 30.0, "dried_from_g": 30.0},
        ),
        (None, {"dried_g": 300.0}),  # of what is not said
    ],
)
def test_what_is_dried_is_much_lighter_than_what_went_into_the_dryer(
    message: str | None, values: dict[str, float]
) -> None:
    one = note("B-1", 31, flush=1, **values)
    assert ([(one.path, "dried", message)] if message else []) == told(batch("B-1", on=6, units=6), PICKED, one)


@pytest.mark.parametrize(
    ("message", "about", "on", "dried_from_g"),
    [
        (None, "B-1", 31, 525.0),  # a quarter more, as washed
        ("526 g went into the dryer, but only 420 g was harvested of B-1 by then", "B-1", 31, 526.0),
        ("2 kg went into the dryer, but only 420 g was harvested of B-1 by then", "B-1", 30, 2000.0),
        (None, "B-1", 29, 2000.0),  # nothing was harvested before: what is not written down cannot be compared
        (None, "B-2", 31, 2000.0),
        (None, "F-1", 31, 200.0),
        ("300 g went into the dryer, but only 200 g was harvested of F-1 by then", "F-1", 31, 300.0),
        (None, "B-1, F-1", 31, 620.0),
    ],
)
def test_no_more_goes_into_the_dryer_than_was_harvested(
    message: str | None, about: str, on: int, dried_from_g: float
) -> None:
    one = note(about, on, dried_from_g=dried_from_g)
    rows = (batch("B-1", on=6), batch("B-2", on=6), find("F-1", on=2, picked_mass_g=200.0))
    assert ([(one.path, "dried from", message)] if message else []) == told(*rows, PICKED, one)


def test_what_was_dried_before_is_not_there_to_be_dried_again() -> None:
    first, second = note("B-1", 31, dried_from_g=300.0), note("B-1", 32, dried_from_g=250.0)
    found = told(batch("B-1", on=6), PICKED, first, second)
    message = "250 g went into the dryer, but only 420 g was harvested of B-1 by then, of which 300 g was dried before"
    assert [(second.path, "dried from", message)] == found


# Flushes -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("messages", "flushes"),
    [
        ([], [(20, 1), (21, 1), (30, 2), (31, 1), (40, 3)]),  # one block lags
        ([], [(20, 1), (20, 2)]),
        ([], [(20, 2), (30, 3)]),
        ([], [(20, 1), (30, None), (40, 3)]),  # the one between may be the second
        ([], [(15, None), (20, 2), (25, 1)]),  # the first may be of any
        (["flush 7 of B-1 is dated 2026-10-25, before flush 3 (2026-10-30)"], [(20, 1), (22, 2), (25, 7), (30, 3)]),
        (["flush 7 of B-1 comes after flush 3, and no note has flushes 4 to 6"], [(20, 1), (22, 2), (25, 3), (30, 7)]),
        (["flush 3 of B-1 comes after flush 1, and no note has flush 2"], [(20, 1), (30, 3)]),
    ],
)
def test_flushes_come_in_the_order_of_their_numbers(messages: list[str], flushes: list[tuple[int, int | None]]) -> None:
    notes = [note("B-1", day, harvest_g=100.0, flush=flush) for day, flush in flushes]
    assert [("flush", message) for message in messages] == [
        (key, message) for _, key, message in told(batch("B-1", on=6), *notes)
    ]


@pytest.mark.parametrize("exact", ["about", "month"])
def test_a_flush_of_an_inexact_day_is_there_and_in_no_order(exact: Any) -> None:
    second = replace(note("B-1", 10, harvest_g=100.0, flush=2), path="second.md")
    second = replace(second, date=replace(second.date, exact=exact))
    notes = [note("B-1", day, harvest_g=100.0, flush=flush) for day, flush in ((20, 1), (30, 3))]
    assert told(batch("B-1", on=6), second, *notes) == []
