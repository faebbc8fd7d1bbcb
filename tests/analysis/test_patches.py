"""Which finds are one patch, what it is called for good, when it was looked at, and when it fruits."""

from __future__ import annotations

import math
import random
from datetime import date
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic

from journal.analysis import patches
from journal.analysis.patches import (
    MOST_UNCERTAIN_M,
    REACH_M,
    UNSTATED_M,
    VISIT_STAGES,
    Patch,
    far_from_others,
    first_and_last_week,
    key_of_name,
    patches_of,
)
from journal.model import Find, Position, When
from journal.reading.keys import STAGES
from tests.builders import culture, find, journal_of, note, seeded
from tests.growth import grows_faster_than_a_scan

HOME = (58.3, -8.9)


def place(
    east_m: float = 0, north_m: float = 0, spread_m: float | None = 1.0, home: tuple[float, float] = HOME, **more: Any
) -> Position:
    """A place so far east and north of home, along the ellipsoid."""
    lat, lon = home
    for bearing, metres in ((90, east_m), (0, north_m)):
        at = Geodesic.WGS84.Direct(lat, lon, bearing, metres)
        lat, lon = at["lat2"], at["lon2"]
    return Position(lat, lon, spread_m, "entry", **more)


def at(id: str, on: int, position: Position | None, **more: Any) -> Find:
    return find(id, on, position=position, **more)


def grouped(*rows: Any) -> list[list[str]]:
    return [[one.id for one in patch.finds] for patch in patches_of(journal_of(*rows))]


@pytest.mark.parametrize(
    ("together", "apart_m", "first_m", "other_m"),
    [
        (True, REACH_M + 1.9, 1, 1),
        (False, REACH_M + 2.1, 1, 1),
        (True, REACH_M + 19.9, 8, 12),  # each as wide as it is uncertain
        (False, REACH_M + 20.1, 8, 12),
        (True, REACH_M + UNSTATED_M + 0.9, None, 1),  # Darwin Core: 30 m where none is recorded
        (False, REACH_M + UNSTATED_M + 1.1, None, 1),
        (True, 90, MOST_UNCERTAIN_M, 20),
        (False, 0, MOST_UNCERTAIN_M + 1, 1),  # may belong to any patch around
    ],
)
@pytest.mark.parametrize("bearing", ["east", "north"])
@pytest.mark.parametrize("home", [HOME, (0.0, 180.0), (-16.8, -179.99999), (90.0, 0.0), (-89.99999, 45.0), (0.0, 0.0)])
def test_finds_within_reach_are_one_patch_wherever_on_earth(
    together: bool, apart_m: float, first_m: float | None, other_m: float, bearing: str, home: tuple[float, float]
) -> None:
    """Distances are laid out by geographiclib: at home, on the antimeridian, at both poles, at 0, 0."""
    other = place(**{f"{bearing}_m": apart_m}, spread_m=other_m, home=home)
    rows = at("F-1", 0, place(spread_m=first_m, home=home)), at("F-2", 1, other)
    assert ([["F-1", "F-2"]] if together else []) == grouped(*rows)
    assert ([["F-2", "F-1"]] if together else []) == grouped(at("F-2", 0, other), at("F-1", 1, rows[0].position))


def test_a_row_of_finds_is_one_patch_by_way_of_those_between() -> None:
    row = [at(f"F-{number}", number, place(east_m=26 * number)) for number in range(40)]
    assert [[one.id for one in row]] == grouped(*row)
    assert 2 == len(grouped(*row[:19], *row[21:]))


def test_a_coarse_place_joins_nothing() -> None:
    rows = [at("F-1", 0, place(grid_deg=0.001)), at("F-2", 1, place(grid_deg=0.001))]
    assert [] == grouped(*rows, note("F-1, F-2", 300, stage="prime"))


def test_a_find_alone_is_a_patch_once_it_is_visited_or_named() -> None:
    alone = at("F-1", 0, place())
    assert [] == grouped(alone, note("F-1", 3, done=("photographed",)))
    assert [["F-1"]] == grouped(alone, note("F-1", 300, stage="nothing there"))
    assert [["F-1"]] == grouped(at("F-1", 0, None, patch="stem"))
    assert [] == grouped(at("F-1", 0, None), note("F-1", 300, stage="prime"))


def test_a_name_joins_what_lies_apart_and_keeps_apart_what_lies_together() -> None:
    far = [at("F-1", 0, place(), patch="Fallen stem"), at("F-2", 1, place(east_m=900), patch="fallen  Stem")]
    assert [["F-1", "F-2"]] == grouped(*far)
    near = [at("F-1", 0, place(), patch="stem"), at("F-2", 1, place(), patch="stump"), at("F-3", 2, place())]
    assert [["F-1", "F-3"], ["F-2"]] == grouped(*near)


@pytest.mark.parametrize(
    ("key", "name"),
    [
        ("patch_fallen_stem", "  Fallen stem"),
        ("patch_fallen_stem", "fallen-stem!"),
        ("patch_cafe", "Café"),
        ("patch_f25_009", "F25-009"),  # never the address of an ID, which has no _
    ],
)
def test_the_key_of_a_name_is_plain_ascii(key: str, name: str) -> None:
    assert key == key_of_name(name)


def test_names_that_ascii_cannot_write_keep_apart() -> None:
    keys = {key_of_name(name) for name in ("дуб 1", "ель 1", "1", "!", "?", "x" * 200, "x" * 201)}
    assert 7 == len(keys)
    assert all(key.isascii() and len(key) < 80 and key.startswith("patch_") for key in keys)
    assert key_of_name("Дуб 1") == key_of_name("дуб  1")


def test_an_address_stays_when_later_finds_join() -> None:
    rows = [at("F-1", 0, place()), at("F-2", 1, place(east_m=10)), at("F-3", 9, place(east_m=120))]
    (before,) = patches_of(journal_of(*rows))
    later = [at("F-4", 10, place(east_m=20)), at("F-5", 11, place(east_m=130)), note("F-3", 12, stage="past")]
    after = patches_of(journal_of(*rows, *later))
    assert before.key == "f-1" == after[0].key
    assert ["f-1", "f-3"] == [patch.key for patch in after]


def two_patches(*more: Any) -> list[Patch]:
    """F-1 and F-2 in the west, F-3 and F-4 75 m to the east of them, and more."""
    west = [at("F-1", 0, place()), at("F-2", 1, place(north_m=5))]
    east = [at("F-3", 2, place(east_m=75)), at("F-4", 3, place(east_m=75, north_m=5))]
    return list(patches_of(journal_of(*west, *east, *more)))


def test_a_find_that_joins_two_patches_is_reported_and_the_later_address_leads_on() -> None:
    assert [[], []] == [list(patch.joined) for patch in two_patches()]
    (one,) = two_patches(at("F-5", 4, place(east_m=37, spread_m=15)))
    assert ("f-1", ("f-3",)) == (one.key, one.former)
    assert [("F-5", ("f-1", "f-3"), False)] == [(row.find.id, row.keys, row.apart) for row in one.joined]
    assert ["F-1", "F-2", "F-3", "F-4", "F-5"] == [row.id for row in one.finds]


def test_a_find_between_two_finds_alone_makes_a_patch_and_joins_none() -> None:
    (one,) = patches_of(
        journal_of(at("F-1", 0, place()), at("F-2", 1, place(east_m=50)), at("F-3", 2, place(east_m=25)))
    )
    assert ((), ()) == (one.joined, one.former)


def test_a_find_named_by_hand_that_joins_patches_is_shown_as_meant() -> None:
    (one,) = two_patches(at("F-5", 4, place(east_m=37, spread_m=15), patch="bank"))
    assert ("patch_bank", ("f-1", "f-3")) == (one.key, one.former)
    assert [("F-5", True)] == [(row.find.id, row.by_hand) for row in one.joined]


def test_a_find_between_two_named_patches_counts_to_the_older_and_that_is_reported() -> None:
    named = [at("F-1", 0, place(), patch="west"), at("F-2", 1, place(east_m=75), patch="east")]
    west, east = patches_of(journal_of(*named, at("F-3", 2, place(east_m=37, spread_m=15))))
    assert (["F-1", "F-3"], ["F-2"]) == ([one.id for one in west.finds], [one.id for one in east.finds])
    assert [(("patch_west", "patch_east"), True)] == [(row.keys, row.apart) for row in west.joined]


def test_what_was_past_but_harvested_was_fruiting() -> None:
    rows = [at("F-1", 0, place()), note("F-1", 10, stage="past", harvest_g=300.0), note("F-1", 20, stage="past")]
    (patch,) = patches_of(journal_of(*rows))
    assert [True, True, False] == [visit.is_fruiting for visit in patch.visits]


def test_a_visit_is_a_day_whatever_was_noted_on_it() -> None:
    rows = [
        at("F-1", 0, place()), at("F-2", 0, place()),
        note("F-1, F-2", 300, stage="nothing there"), note("F-1", 300, stage="young"),
        note("F-1", 365, stage="past"), note("F-2", 366, certainty="confirmed"), note("F-1", 367),
        note("F-1", When("2027-12", date(2027, 12, 1), "month"), stage="prime"),
    ]  # fmt: skip
    (patch,) = patches_of(journal_of(*rows))
    assert [
        (("F-1", "F-2"), (), True),
        ((), (("F-1", "nothing there"), ("F-1", "young"), ("F-2", "nothing there")), True),
        ((), (("F-1", "past"),), False),
        ((), (("F-1", "prime"),), True),
    ] == [(visit.found, tuple(sorted(visit.seen)), visit.is_fruiting) for visit in patch.visits]
    assert (date(2026, 9, 30), date(2027, 7, 27)) == patch.fruited
    assert date(2027, 9, 30) == patch.last_look.first  # the latest whose day is known


def test_every_stage_that_a_find_may_have_is_a_visit() -> None:
    assert set(STAGES["find"]) == VISIT_STAGES


def test_a_patch_shows_what_was_taken_from_its_finds() -> None:
    rows = [at("F-1", 0, place()), at("F-2", 0, place()), at("F-3", 0, place(east_m=900))]
    grown = [culture("A", "F-1, F-2", 1), culture("B", "A", 2), culture("C", "F-3", 2), culture("D", "F-2", 2)]
    (patch,) = patches_of(journal_of(*rows, *grown))
    assert ("A", "D") == patch.cultures


@pytest.mark.parametrize(
    ("expected", "days"),
    [
        (None, []),
        ((37, 37), ["2026-09-12"]),
        ((37, 44), ["2026-09-12", "2026-10-31", "2025-10-01"]),
        ((47, 5), ["2025-11-22", "2026-01-01", "2027-02-01"]),  # over New Year it begins in autumn
        ((1, 27), ["2026-01-01", "2026-07-02"]),  # gaps alike: the year's own order
    ],
)
def test_a_season_is_outside_the_longest_time_without(expected: tuple[int, int] | None, days: list[str]) -> None:
    assert expected == first_and_last_week(map(date.fromisoformat, days))


@pytest.mark.parametrize("home", [HOME, (-16.8, 179.9999), (89.9999, 10.0)])
def test_its_place_is_the_middle_and_surely_holds_its_finds(home: tuple[float, float]) -> None:
    spots = [place(home=home, spread_m=8), place(east_m=40, home=home, spread_m=8), place(north_m=20, home=home)]
    (patch,) = patches_of(journal_of(*(at(f"F-{number}", number, spot) for number, spot in enumerate(spots))))
    middle = patch.place
    assert middle is not None
    ways = [Geodesic.WGS84.Inverse(middle.lat_deg, middle.lon_deg, spot.lat_deg, spot.lon_deg)["s12"] for spot in spots]
    radius_m = max(way + (spot.uncertainty_m or 0) for way, spot in zip(ways, spots, strict=True))
    assert radius_m == pytest.approx(middle.uncertainty_m or 0, abs=0.12)
    assert sum(ways) / 3 < 30


def spread_out(layout: str, count: int) -> list[Find]:
    """So many finds: all on one spot, in two heaps just out of reach, on a lattice 40 m wide, or in a line."""
    rows = []
    for number in range(count):
        small = (number * 7919 % 1000) / 100
        east_m, north_m = {
            "spot": (small, small / 3),
            "heaps": (small + 52 * (number % 2), small / 5),
            "lattice": (40 * (number % 70), 40 * (number // 70)),
            "line": (20 * number, 0),
        }[layout]
        lat, lon = HOME[0] + north_m / 111_400, HOME[1] + east_m / 58_600
        rows.append(at(f"F-{number}", number % 3650, Position(lat, lon, 1 + number % 7, "entry")))
    return rows


@pytest.mark.parametrize("layout", ["spot", "heaps", "lattice", "line"])
def test_time_grows_no_faster_than_the_number_of_finds(layout: str) -> None:
    made = {}

    def shape(size: int) -> str:
        made[size] = journal_of(*spread_out(layout, size // 4))
        return "x" * size

    assert None is grows_faster_than_a_scan(lambda text: patches_of(made[len(text)]), shape, 600)


def _scattered(seed: int) -> list[Position]:
    """Places in clusters and alone, also across the antimeridian and around a pole."""
    chance = random.Random(seed)
    middles = [(chance.uniform(-89, 89), chance.uniform(-179, 179)) for _ in range(3)] + [(0.2, 179.9), (89.7, 0.0)]
    places = [(lat + chance.gauss(0, 0.4), lon + chance.gauss(0, 0.8)) for lat, lon in middles for _ in range(5)]
    turned = [(min(lat, 90.0), (lon + 180) % 360 - 180) for lat, lon in places]
    return [Position(lat, lon, None, "entry") for lat, lon in chance.sample(turned, chance.randrange(1, len(turned)))]


@seeded(20)
def test_what_is_far_from_all_others_has_none_in_reach(seed: int) -> None:
    """Compared pair by pair along the ground (geographiclib): 1 m longer than a straight line at 100 km."""
    places = _scattered(seed)

    def apart_m(one: Position, other: Position) -> float:
        return Geodesic.WGS84.Inverse(one.lat_deg, one.lon_deg, other.lat_deg, other.lon_deg)["s12"]

    def has_near(one: Position) -> bool:
        return any(apart_m(one, other) <= 100_000 for other in places if other is not one)

    assert [*far_from_others(places, 100_000)] == [at for at, one in enumerate(places) if not has_near(one)]


def test_two_places_just_out_of_reach_are_both_far_from_others() -> None:
    """Also where one cube of a grid could hold both: 110 km apart, in all directions, at 200 spots."""
    chance = random.Random(1)
    for _ in range(200):
        here = Position(chance.uniform(-80, 80), chance.uniform(-180, 180), None, "entry")
        there = Geodesic.WGS84.Direct(here.lat_deg, here.lon_deg, chance.uniform(0, 360), 110_000)
        assert far_from_others([here, Position(there["lat2"], there["lon2"], None, "entry")], 100_000) == (0, 1)


def test_places_on_two_spots_are_hardly_compared(monkeypatch: pytest.MonkeyPatch) -> None:
    compared = []
    monkeypatch.setattr(patches, "dist", lambda *points: compared.append(points) or math.dist(*points))
    spots = [Position(lat, -8.9 + at * 1e-5, None, "entry") for lat in (58.3, 51.2) for at in range(300)]
    assert far_from_others([*spots, Position(40.0, 3.1, None, "entry")], 100_000) == (600,)
    assert len(compared) < 10
