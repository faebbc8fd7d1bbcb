"""The verdict on each reading and the shares of time they make: worked by hand, and what holds of any readings."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.analysis.calculation import Amount
from journal.analysis.in_range import (
    Judged,
    Shares,
    TargetRanges,
    Verdict,
    share_calculated,
    verdicts,
    wanted_by,
    wanted_in,
)
from journal.analysis.readings import Series, weights_of
from journal.settings import Tent, ValueRange
from tests.analysis.aired import logged, manual, series
from tests.builders import batch

BOTH = TargetRanges(ValueRange(85, 95), ValueRange(12, 18))
HUMIDITY_ALONE = TargetRanges(ValueRange(85, 95), None)
TEMPERATURE_ALONE = TargetRanges(None, ValueRange(12, 18))


def shares(found: Series, wanted: TargetRanges = BOTH) -> Shares:
    return Judged(found, wanted).shares(range(len(found)))


@pytest.mark.parametrize(
    ("verdict", "humidity_pct", "temperature_c", "wanted"),
    [
        ("in", 90, 16, BOTH),
        # Both ends of a band are in it.
        ("in", 85, 12, BOTH),
        ("in", 95, 18, BOTH),
        ("out", 84.9, 16, BOTH),
        ("out", 90, 18.1, BOTH),
        ("out", 80, 20, BOTH),
        # One value read: out is out, and in cannot be told.
        ("cannot tell", 90, None, BOTH),
        ("cannot tell", None, 16, BOTH),
        ("out", 80, None, BOTH),
        ("out", None, 20, BOTH),
        # One value wanted: it decides alone, and without it there is no verdict.
        ("in", 90, 30, HUMIDITY_ALONE),
        ("out", 80, 16, HUMIDITY_ALONE),
        ("not counted", None, 16, HUMIDITY_ALONE),
        ("in", 20, 16, TEMPERATURE_ALONE),
        ("not counted", 90, None, TEMPERATURE_ALONE),
        ("not counted", 90, 16, TargetRanges(None, None)),
    ],
)
def test_a_reading_is_in_where_temperature_and_humidity_both_are(
    verdict: Verdict, humidity_pct: float | None, temperature_c: float | None, wanted: TargetRanges
) -> None:
    assert (verdict,) == verdicts(series(logged([humidity_pct], temperature_c)), wanted)


@pytest.mark.parametrize(
    ("verdict", "humidity_pct", "band", "accuracy_pct"),
    [
        # Within 3 % of an edge nobody can tell on which side of it the air was.
        ("in", 88, ValueRange(85, 95), 3),
        ("cannot tell", 87.9, ValueRange(85, 95), 3),
        ("cannot tell", 82, ValueRange(85, 95), 3),
        ("out", 81.9, ValueRange(85, 95), 3),
        ("in", 92, ValueRange(85, 95), 3),
        ("cannot tell", 92.1, ValueRange(85, 95), 3),
        ("cannot tell", 98, ValueRange(85, 95), 3),
        ("out", 98.1, ValueRange(85, 95), 3),
        # No air is damper than 100 % or drier than 0 %, however far the logger is off.
        ("in", 99, ValueRange(85, 100), 3),
        ("in", 11, ValueRange(0, 30), 12),
        # A band narrower than the logger is accurate: nothing is surely in it.
        ("cannot tell", 90, ValueRange(88, 92), 3),
        ("in", 85, ValueRange(85, 95), 0),
        # The edge counts as written: 97.0 may have been 95, and 92.3 less 2.3 is 90 (with floats 89.99…).
        ("cannot tell", 97, ValueRange(85, 95), 2),
        ("out", 97.1, ValueRange(85, 95), 2),
        ("in", 92.3, ValueRange(90, 95), 2.3),
        # Nobody stated an accuracy: 5 % is assumed.
        ("in", 90, ValueRange(85, 95), None),
        ("cannot tell", 89.9, ValueRange(85, 95), None),
        ("out", 79.9, ValueRange(85, 95), None),
    ],
)
def test_nearer_to_an_edge_than_the_logger_is_accurate_nobody_can_tell(
    verdict: Verdict, humidity_pct: float, band: ValueRange, accuracy_pct: float | None
) -> None:
    found = series(logged([humidity_pct], accuracy_pct=accuracy_pct))
    assert (verdict,) == verdicts(found, TargetRanges(band, ValueRange(12, 18)))


def test_a_temperature_out_of_range_is_out_whatever_the_humidity_may_have_been() -> None:
    assert ("out",) == verdicts(series(logged([86], 20, accuracy_pct=3)), BOTH)


def test_the_share_is_of_time_and_not_of_readings() -> None:
    """Two readings an hour apart stand for 30 + 30 min each, one ten minutes after the second for 5 + 30."""
    found = series(logged([90, 90]), manual("2026-11-02T01:10+00:00", 79, 16))
    assert Shares(in_s=60 * (60 + 30 + 5), out_s=60 * (5 + 30)) == shares(found)
    assert 95 / 130 == pytest.approx(shares(found).in_range)


def test_readings_with_the_door_open_are_outside_every_share() -> None:
    found = series(logged([90, 90, 90]), manual("2026-11-02T01:30+00:00", 86, 20, door="open"))
    assert ("in", "in", "not counted", "in") == verdicts(found, BOTH)
    assert (1.0, 0.0, 0.0) == (shares(found).in_range, shares(found).out, shares(found).cannot_tell)
    assert 60 * (60 + 45 + 45) == shares(found).all_s


def test_a_reading_with_the_door_shut_counts() -> None:
    found = series(logged([90]), manual("2026-11-02T01:30+00:00", 80, 16, door="shut"))
    assert 0.5 == shares(found).in_range


def test_a_stuck_logger_is_outside_every_share() -> None:
    found = series(logged([80.1, *[90.1] * 13, 80.1, 80.1]))
    assert ("out", *["not counted"] * 13, "out", "out") == verdicts(found, BOTH)
    assert 0.0 == shares(found).in_range


def test_no_time_with_readings_is_not_a_share() -> None:
    assert (None, None, None) == (Shares().in_range, Shares().out, Shares().cannot_tell)
    assert share_calculated(Shares(), BOTH) is None


def test_a_share_shows_what_it_was_calculated_from() -> None:
    found = share_calculated(Shares(3600 * 6, 3600 * 2, 0), HUMIDITY_ALONE)
    assert found is not None
    assert (75.0, "%") == (found.value, found.unit)
    assert (
        ("humidity wanted, from", Amount(85, "%")),
        ("humidity wanted, to", Amount(95, "%")),
        ("in range", "6 h"),
        ("out of range", "2 h"),
        ("too close to call", "0 h"),
    ) == found.inputs
    assert "30 min each side" in found.source


@pytest.mark.parametrize(
    ("expected", "keys"),
    [
        (TargetRanges(ValueRange(85, 95), ValueRange(12, 18)), {}),
        (TargetRanges(ValueRange(90, 95), ValueRange(12, 18)), {"wants_humidity_pct": ValueRange(90, 95)}),
        (TargetRanges(ValueRange(85, 95), ValueRange(8, 12)), {"wants_temperature_c": ValueRange(8, 12)}),
    ],
)
def test_a_batch_wants_its_own_range_and_else_its_tents(expected: TargetRanges, keys: dict[str, ValueRange]) -> None:
    tent = Tent(id="hut", name="Hut", humidity_pct=ValueRange(85, 95), temperature_c=ValueRange(12, 18))
    assert expected == wanted_by(batch("B", **keys), tent)  # type: ignore[arg-type]
    assert BOTH == wanted_in(tent)


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        (None, BOTH),
        (None, TargetRanges(None, None)),
        ("no temperature is wanted, so the humidity decides alone", HUMIDITY_ALONE),
        ("no humidity is wanted, so the temperature decides alone", TEMPERATURE_ALONE),
    ],
)
def test_it_is_said_where_one_value_decides_alone(words: str | None, wanted: TargetRanges) -> None:
    assert words == wanted.one_sided


humidities = st.one_of(st.just(nan), st.floats(0, 100))
temperatures = st.one_of(st.just(nan), st.floats(-10, 40))
readings = st.lists(
    st.tuples(st.integers(1, 7200), temperatures, humidities, st.sampled_from([nan, 0.0, 3.0]), st.booleans()),
    min_size=1,
    max_size=30,
)


@st.composite
def any_series(draw: st.DrawFn) -> Series:
    steps_s, temperature_c, humidity_pct, accuracy_pct, door_open = zip(*draw(readings), strict=True)
    stamps_s = tuple(float(sum(steps_s[: at + 1])) for at in range(len(steps_s)))
    nothing = (False,) * len(stamps_s)
    return Series(
        stamps_s, temperature_c, humidity_pct, accuracy_pct, weights_of(stamps_s), door_open, nothing, nothing
    )  # fmt: skip


@st.composite
def nested_bands(draw: st.DrawFn, low: float, high: float) -> tuple[ValueRange, ValueRange]:
    """One band within another."""
    outer_low, inner_low, inner_high, outer_high = sorted(draw(st.floats(low, high)) for _ in range(4))
    return ValueRange(inner_low, inner_high), ValueRange(outer_low, outer_high)


@given(any_series(), nested_bands(0, 100), nested_bands(-10, 40))
def test_the_three_shares_make_one(
    found: Series, humidity: tuple[ValueRange, ValueRange], temperature: tuple[ValueRange, ValueRange]
) -> None:
    every = shares(found, TargetRanges(humidity[0], temperature[0]))
    parts = (every.in_range, every.out, every.cannot_tell)
    known = [part for part in parts if part is not None]
    assert len(known) in (0, 3)
    assert not known or sum(known) == pytest.approx(1)
    assert all(0 <= part <= 1 for part in known)


@given(any_series(), nested_bands(0, 100), nested_bands(-10, 40))
def test_a_wider_range_never_has_less_in_it_or_more_out_of_it(
    found: Series, humidity: tuple[ValueRange, ValueRange], temperature: tuple[ValueRange, ValueRange]
) -> None:
    narrow = shares(found, TargetRanges(humidity[0], temperature[0]))
    wide = shares(found, TargetRanges(humidity[1], temperature[1]))
    assert narrow.in_s <= wide.in_s
    assert narrow.out_s >= wide.out_s
    assert narrow.all_s == wide.all_s


@given(any_series(), nested_bands(0, 100))
def test_a_less_accurate_logger_is_never_surer(found: Series, humidity: tuple[ValueRange, ValueRange]) -> None:
    wanted = TargetRanges(humidity[0], None)
    sure = shares(replace(found, accuracy_pct=(0.0,) * len(found)), wanted)
    unsure = shares(replace(found, accuracy_pct=(5.0,) * len(found)), wanted)
    assert unsure.in_s <= sure.in_s
    assert unsure.out_s <= sure.out_s
    assert 0 == sure.unsure_s


@given(any_series(), nested_bands(0, 100), st.lists(st.integers(0, 30), min_size=2, max_size=5))
def test_the_shares_of_parts_add_up_to_that_of_the_whole(
    found: Series, humidity: tuple[ValueRange, ValueRange], cuts: list[int]
) -> None:
    judged = Judged(found, TargetRanges(humidity[0], None))
    edges = sorted({0, len(found), *(min(cut, len(found)) for cut in cuts)})
    parts = [judged.shares(range(one, other)) for one, other in pairwise(edges)]
    whole = sum(parts, Shares())
    expected = judged.shares(range(len(found)))
    assert (expected.in_s, expected.out_s, expected.unsure_s) == pytest.approx(
        (whole.in_s, whole.out_s, whole.unsure_s)
    )
