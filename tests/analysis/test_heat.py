"""What a core log comes to, worked by hand."""

from __future__ import annotations

from collections.abc import Sequence
from math import nan

import pytest

from journal.analysis.heat import f0_by_reading, heating_of, why_uncalculated
from journal.model import CoreLog, LoggerFile


def core(temperature_c: Sequence[float], *, every_s: float = 60) -> CoreLog:
    stamps = tuple(1e9 + every_s * at for at in range(len(temperature_c)))
    return CoreLog(
        entry="b.md", log=LoggerFile(path="c.csv", tent="", stamps_s=stamps, temperature_c=tuple(temperature_c))
    )


def test_times_over_an_edge_are_read_off_the_line_between_readings() -> None:
    """From 50 to 70 °C in 10 min half of it is over 60 °C; from 70 to 90 °C half is over 80 °C."""
    heating = heating_of(core([50, 70, 90, 90], every_s=600))
    assert heating is not None
    assert {60.0: 25, 70.0: 20, 80.0: 15} == pytest.approx(dict(heating.above))
    assert 10 == pytest.approx(heating.pasteurised_min)
    assert (90, 30, 0) == (heating.peak_c, heating.read_min, heating.unread_min)


def test_nothing_counts_between_readings_further_apart_than_ten_minutes() -> None:
    log = core([121.1, 121.1, nan, 121.1, 121.1], every_s=360)
    heating = heating_of(log)
    assert heating is not None
    assert (12, 12, 12) == (heating.f0_min, heating.read_min, heating.unread_min)
    assert [0, 6, 6, 12] == [f0_min for *_, f0_min in f0_by_reading(log)]


def test_a_probe_half_a_degree_off_changes_f0_by_an_eighth() -> None:
    """10^0.05 is 1.122."""
    heating = heating_of(core([121.1] * 11))
    assert heating is not None
    assert (10 / 1.122, 11.22) == pytest.approx(heating.f0_range_min, rel=1e-3)


@pytest.mark.parametrize("temperature_c", [[], [121.0], [nan, 121.0, nan]])
def test_one_reading_comes_to_nothing_and_why_is_said(temperature_c: list[float]) -> None:
    log = core(temperature_c)
    assert heating_of(log) is None
    assert f"has {'only one' if temperature_c else 'no'} usable reading, and two are needed" == why_uncalculated(log)


def test_readings_far_apart_come_to_nothing_and_why_is_said() -> None:
    assert "has no two readings within 10 minutes of each other" == why_uncalculated(core([121.0, 121.0], every_s=900))
    assert why_uncalculated(core([121.0, 121.0])) is None
