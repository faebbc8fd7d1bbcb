"""What a place gave by area and day, worked by hand."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest

from journal.analysis.analysis import Analysis
from journal.analysis.place_yield import PlaceYield
from journal.model import Journal
from tests.builders import entry, noted

TOML = """[journal]
as_of = 2026-03-31
[tents.hut]
width = "1 m"
depth = "2 m"
shelf_area = "4 m²"
[tents.loft]
width = "1 m"
depth = "2 m"
[tents.bare]
[tents.empty]
"""
BATCH = {
    "b.md": entry("batch", "id: B-1\ndate: 2026-01-01\ntent: hut\nunits: 4"),
    "h1.md": noted("2026-01-20", "harvest: 3 kg\nflush: 1"),
    "m.md": noted("2026-02-10 12:00", "moved to: loft"),
    "h2.md": noted("2026-02-15", "harvest: 1 kg\nflush: 2"),
    "e.md": noted("2026-02-19", "stage: spent"),
}


@pytest.fixture(scope="module")
def places(make_journal: Callable[..., Journal]) -> Callable[..., dict[str, PlaceYield]]:
    def make(**more: str) -> dict[str, PlaceYield]:
        files = {f"{name}.md": text for name, text in more.items()}
        return dict(Analysis(make_journal({"journal.toml": TOML, **BATCH, **files})).place_yields)

    return make


def test_a_harvest_is_of_where_the_batch_stood(places: Callable[..., dict[str, PlaceYield]]) -> None:
    """3 kg on 4 m² of shelf from 1 January to 10 February, 41 days; 1 kg on 2 m² of floor on the 10 days after."""
    found = places()
    assert ["hut", "loft"] == list(found)
    hut, loft = found["hut"], found["loft"]
    assert (3000, 41, "shelf", 4) == (hut.harvest_g, hut.days, hut.area_is, hut.area_m2)
    assert (1000, 10, "floor", 2) == (loft.harvest_g, loft.days, loft.area_is, loft.area_m2)
    assert hut.calculation is not None
    assert loft.calculation is not None
    assert 3 / 4 / 41 == pytest.approx(hut.calculation.value)
    assert 1 / 2 / 10 == pytest.approx(loft.calculation.value)
    assert [(date(2026, 1, 1), 3000, 31), (date(2026, 2, 1), 0, 10)] == [
        (month.first, month.harvest_g, month.days) for month in hut.months
    ]


@pytest.mark.parametrize(("clock", "place"), [("", "hut"), (" 09:00", "hut"), (" 15:00", "loft")])
def test_on_the_day_of_a_move_the_hour_decides(
    clock: str, place: str, places: Callable[..., dict[str, PlaceYield]]
) -> None:
    found = places(h3=noted(f"2026-02-10{clock}", "harvest: 500 g\nflush: 1"))
    gave = {"hut": 3000, "loft": 1000}
    assert {**gave, place: gave[place] + 500} == {id: one.harvest_g for id, one in found.items()}


def test_days_are_counted_once_however_many_batches_stood_there_and_to_the_last_day_at_most(
    places: Callable[..., dict[str, PlaceYield]],
) -> None:
    hut = places(b2=entry("batch", "id: B-2\ndate: 2026-03-01\ntent: hut"))["hut"]
    assert (41 + 31, 90) == (hut.days, hut.days_spanned)
    assert (
        41
        == places(
            b2=entry("batch", "id: B-2\ndate: 2026-01-05\ntent: hut"), e2=noted("2026-01-09", "stage: discarded", "B-2")
        )["hut"].days
    )


def test_without_an_area_there_is_no_yield_by_area(places: Callable[..., dict[str, PlaceYield]]) -> None:
    bare = places(b2=entry("batch", "id: B-2\ndate: 2026-03-01\ntent: bare"))["bare"]
    assert (None, None, 31) == (bare.area_m2, bare.calculation, bare.days)


def meter(day: str, kwh: float) -> str:
    return entry("tent", f"about: hut\ndate: {day}\nmeter: {kwh} kWh")


def test_electricity_is_what_the_meter_went_up_by_over_what_was_harvested_meanwhile(
    places: Callable[..., dict[str, PlaceYield]],
) -> None:
    """100 to 160, then a new meter from 5 to 35: 90 kWh over the 3 kg of 20 January."""
    readings = [("2026-01-10", 100), ("2026-01-25", 160), ("2026-01-26", 5), ("2026-02-05", 35)]
    energy = places(**{f"t{at}": meter(*row) for at, row in enumerate(readings)})["hut"].energy
    assert energy is not None
    assert (90, 3000, 1) == (energy.amount, energy.harvest_g, energy.resets)
    assert 30 == energy.per_kg


@pytest.mark.parametrize(
    "readings",
    [
        [],
        [("2026-01-10", 100)],
        [("2026-01-10 08:00", 100), ("2026-01-10 20:00", 120)],
        [("2026-01-10", 9), ("2026-01-20", 5)],
    ],
)
def test_one_day_of_a_meter_reveals_nothing(
    readings: list[tuple[str, float]], places: Callable[..., dict[str, PlaceYield]]
) -> None:
    assert places(**{f"t{at}": meter(*row) for at, row in enumerate(readings)})["hut"].energy is None


def test_water_is_what_was_filled_in_after_the_first_time(places: Callable[..., dict[str, PlaceYield]]) -> None:
    """4 l, then 5 and 7 l: 12 l over the 3 kg of 20 January."""
    rows = [("2026-01-10", 4), ("2026-01-18", 5), ("2026-01-26", 7)]
    fills = {
        f"t{at}": entry("tent", f"about: hut\ndate: {day}\ntank fill: {fill} l") for at, (day, fill) in enumerate(rows)
    }
    water = places(**fills)["hut"].water
    assert water is not None
    assert (12, 3000, 4) == (water.amount, water.harvest_g, water.per_kg)
    assert places(t0=fills["t0"])["hut"].water is None


def test_nothing_harvested_is_no_kwh_a_kilogram(places: Callable[..., dict[str, PlaceYield]]) -> None:
    energy = places(t1=meter("2026-01-21", 100), t2=meter("2026-02-05", 120))["hut"].energy
    assert energy is not None
    assert (20, 0, None) == (energy.amount, energy.harvest_g, energy.per_kg)
