"""One series of a tent's readings: the time each stands for, each moment once, and what reads with an open door."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest

from journal.analysis.readings import Series, series_of, weights_of
from journal.model import Journal, LoggerFile
from journal.settings import Settings, Tent
from tests.analysis.aired import START, logged, manual, series

START_S = datetime.fromisoformat(START).timestamp()


def minutes(found: Series) -> list[float]:
    return [(stamp_s - START_S) / 60 for stamp_s in found.stamps_s]


@pytest.mark.parametrize(
    ("expected_min", "stamps_min"),
    [
        ([], []),
        # Half-way to its neighbours, at most 30 min each side; beyond the first and last there is no neighbour.
        ([60], [0]),
        ([60, 60, 60], [0, 60, 120]),
        ([37.5, 15, 37.5], [0, 15, 30]),
        ([35, 35], [0, 10]),
        ([60, 60], [0, 600]),
        ([32.5, 32.5, 60], [0, 5, 600]),
    ],
)
def test_a_reading_stands_for_the_time_half_way_to_its_neighbours(
    expected_min: list[float], stamps_min: list[float]
) -> None:
    assert expected_min == [weight_s / 60 for weight_s in weights_of([60 * stamp for stamp in stamps_min])]


def test_files_and_readings_by_eye_make_one_series_in_order_of_time() -> None:
    found = series(
        logged([91, 92], start="2026-11-02T02:00+00:00", path="b.csv", accuracy_pct=3),
        logged([90, 89], path="a.csv"),
        manual("2026-11-02T01:30+00:00", 88, 15),
    )
    assert [0, 60, 90, 120, 180] == minutes(found)
    assert (90, 89, 88, 91, 92) == found.humidity_pct
    assert (16, 16, 15, 16, 16) == found.temperature_c
    assert (False, False, True, False, False) == found.is_manual
    assert (0, 0, 5, 3, 3) == found.accuracy_pct  # nobody stated that of what was read by eye
    assert found.accuracy_assumed


def test_a_moment_that_two_files_hold_is_shown_once() -> None:
    whole = logged([90, 91, 92, 93], path="november.csv")
    week = logged([80, 81], start="2026-11-02T01:00+00:00", path="week.csv")
    found = series(whole, week)
    assert (90, 91, 92, 93) == found.humidity_pct
    assert len(found) == len(set(found.stamps_s))


def test_at_one_moment_the_logger_counts_before_the_eye_and_an_open_door_is_open() -> None:
    found = series(logged([90, 91]), manual(START, 70, 12, door="open"))
    assert (90, 91) == found.humidity_pct
    assert (True, False) == found.door_open
    assert (False, False) == found.is_manual


def test_what_a_logger_could_not_read_is_taken_from_the_eye_at_that_moment() -> None:
    found = series(logged([None, 91], accuracy_pct=3), manual(START, 70, 12))
    assert (70, 91) == found.humidity_pct
    assert (16, 16) == found.temperature_c
    assert (5, 3) == found.accuracy_pct


def test_a_stuck_logger_yields_to_the_eye_at_that_moment() -> None:
    found = series(logged([90.1] * 14), manual("2026-11-02T03:00+00:00", 70, 12))
    assert (*[90.1] * 3, 70, *[90.1] * 10) == found.humidity_pct
    assert (*[True] * 3, False, *[True] * 10) == found.stuck


def test_a_row_without_any_number_is_not_a_reading() -> None:
    assert [0, 120] == minutes(series(logged([90, None, 92], [16, None, 16])))


def test_a_reading_by_eye_without_a_time_of_day_is_in_no_series() -> None:
    assert 0 == len(series(manual("2026-11-02", 90, 16)))


def test_a_file_without_one_of_the_columns_is_read_for_the_other() -> None:
    log = LoggerFile(path="a.csv", tent="HUT", stamps_s=(0.0, 60.0), humidity_pct=(90.0, 91.0))
    found = series_of(Journal(Settings(tents=(Tent(id="hut", name="Hut"),)), logs=(log,)))["hut"]
    assert (90, 91) == found.humidity_pct
    assert all(celsius != celsius for celsius in found.temperature_c)


def test_every_tent_has_a_series_and_no_other_tents_readings() -> None:
    tents = (Tent(id="hut", name="Hut"), Tent(id="loft", name="Loft"))
    found = series_of(Journal(Settings(tents=tents), logs=(logged([90]),)))
    assert {"hut": 1, "loft": 0} == {id: len(one) for id, one in found.items()}


def test_readings_between_two_moments_are_found_the_later_left_out() -> None:
    found = series(logged([90] * 5))
    assert range(1, 3) == found.between(START_S + 3600, START_S + 3 * 3600)
    assert range(5) == found.between(0, float("inf"))
    assert not found.between(START_S + 3600, START_S)


def test_a_stuck_stretch_runs_over_a_file_boundary_and_a_reading_by_eye() -> None:
    first = logged([88.0, *[90.1] * 7], path="october.csv")
    second = logged([*[90.1] * 6, 92.0], start="2026-11-02T08:00+00:00", path="november.csv")
    found = series(first, second, manual("2026-11-02T02:30+00:00", 85, 15))
    (stretch,) = found.stuck_stretches
    assert (1, 13) == ((stretch.from_s - START_S) / 3600, (stretch.until_s - START_S) / 3600)
    assert (88.0, 85, 92.0) == tuple(
        humidity for humidity, stuck in zip(found.humidity_pct, found.stuck, strict=True) if not stuck
    )


def test_a_gap_is_of_the_loggers_whatever_the_eye_read_in_it() -> None:
    later = logged([91, 90], start="2026-11-02T09:00+00:00", path="b.csv")
    found = series(logged([90, 91]), later, manual("2026-11-02T05:00+00:00", 88, 15))
    (gap,) = found.gaps
    assert (1, 9) == ((gap.from_s - START_S) / 3600, (gap.until_s - START_S) / 3600)


def a_day_each(*humidity_pct: float) -> LoggerFile:
    """What a share tells of a tent's air: each day's medians, as a row at noon."""
    return replace(logged(humidity_pct, every_min=1440, start="2026-11-02T12:00+00:00"), by_day=True)


def test_medians_told_by_the_day_stand_for_no_time_and_no_logger_is_silent_or_stuck() -> None:
    found = series(a_day_each(90, 90, 90, 90, 91))
    assert (True, 5, {0.0}) == (found.by_day, len(found), set(found.weights_s))
    assert ((), ()) == (found.gaps, found.stuck_stretches)
    assert not any(found.stuck)


def test_what_the_eye_read_on_a_day_that_is_told_is_in_its_median_and_is_alone_on_another() -> None:
    found = series(a_day_each(90, 91), manual("2026-11-02T08:00+00:00", 70), manual("2026-11-05T08:00+00:00", 80))
    assert [(90, False), (91, False), (80, True)] == list(zip(found.humidity_pct, found.is_manual, strict=True))


def test_a_value_that_no_tent_has_is_left_out_and_kept_apart_and_makes_no_gap() -> None:
    found = series(logged([90, 5, 92, 93, 94], [16, 60, 55.3, 16, 16]), manual("2026-11-02T02:30+00:00", 88, 60))
    assert [0, 120, 150, 180, 240] == minutes(found)
    assert (90, 92, 88, 93, 94) == found.humidity_pct
    assert [16, None, None, 16, 16] == [None if celsius != celsius else celsius for celsius in found.temperature_c]
    assert [("humidity", 5), ("temperature", 60), ("temperature", 55.3), ("temperature", 60)] == [
        (row.what, row.value) for row in found.left_out
    ]
    assert () == found.gaps
    hours = found.left_out_between(START_S + 3600, START_S + 7200)
    assert [("humidity", 5), ("temperature", 60)] == [(row.what, row.value) for row in hours]


def test_what_no_tent_has_is_told_as_left_out_also_without_a_time_of_day() -> None:
    read = manual("2026-11-02", 5, 71)
    found = series(replace(read, date=replace(read.date, exact="day", moment=None)))
    assert (0, {("temperature", 71), ("humidity", 5)}) == (len(found), {row[1:] for row in found.left_out})
    assert len(found.left_out_between(START_S - 86_400, START_S + 86_400)) == 2


def test_a_value_that_no_tent_has_yields_to_another_of_its_moment() -> None:
    found = series(logged([90, 91], [60, 16]), manual(START, 70, 12))
    assert (12, 16) == found.temperature_c
