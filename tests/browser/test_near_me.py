"""What is near, worked out on the device from a folder of the sample site, with no server and no signal."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from journal.amounts import Units, way
from tests.browser.conftest import Visit

pytestmark = pytest.mark.browser

ROWS = json.loads((Path(__file__).parents[1] / "outside/geodesy.json").read_text(encoding="utf-8"))["rows"]
AT_THE_STEM = {"latitude": 58.3041, "longitude": -8.9018, "accuracy": 9}
GIVEN = """(state) => {
  Object.defineProperty(navigator, "geolocation", {
    configurable: true,
    value: {
      watchPosition(found, failed) {
        if (state.code) setTimeout(() => failed(state));
        else setTimeout(() => found({ coords: state, timestamp: Date.now() }));
        return 1;
      },
      clearWatch() {},
    },
  });
}"""

SAYS = """() => {
  const words = document.querySelector("[data-near-status]").textContent;
  return words.startsWith("Waiting") ? "" : words;
}"""


@pytest.fixture
def near(tab: Visit, sample_site: Path) -> Visit:
    return tab.afresh((sample_site / "near-me/index.html").as_uri())


def asked(near: Visit, state: dict[str, Any]) -> str:
    """What the page says after a tap, on a device whose position is so."""
    near.page.evaluate(GIVEN, state)
    near.page.focus("[data-near-ask]")
    near.page.keyboard.press("Enter")
    return str(near.until(SAYS))


def listed(near: Visit) -> list[str]:
    rows: list[str] = near.page.evaluate("[...document.querySelectorAll('.near li')].map((row) => row.innerText)")
    return [" ".join(row.split()) for row in rows]


def test_nothing_is_asked_of_the_device_before_the_tap(near: Visit) -> None:
    assert [] == listed(near)
    assert "" == near.page.inner_text("[data-near-status]")
    assert "prompt" == near.page.evaluate("navigator.permissions.query({ name: 'geolocation' }).then((p) => p.state)")


@pytest.mark.parametrize(
    ("words", "state"),
    [("was refused", {"code": 1}), ("no position now", {"code": 2})],
)
def test_it_says_plainly_why_there_is_no_position(near: Visit, words: str, state: dict[str, Any]) -> None:
    assert words in asked(near, state)
    assert [] == listed(near)


def test_what_is_near_stands_by_distance_no_surer_than_it_is(near: Visit) -> None:
    assert "± 9 m" in asked(near, AT_THE_STEM)
    stem, alder, stell, oak = listed(near)
    # 2.3 m from F25-009, which is known to ± 8 m: 2.3 + 9 + 8
    assert "within 20 m look around fruiting week 47 · last visit 4 days ago F25-009 F26-004" in stem
    assert "851 m south-west ± 9 m, and its own uncertainty is not known" in alder  # F26-002 has its place from a track
    assert "1.4 km north-east ± 17 m found in week 42" in stell
    assert "2.4 km south-west ± 24 m" in oak


def test_the_filter_leaves_what_fruited_in_these_weeks_of_other_years(near: Visit) -> None:
    """The sample is shown as of 25 November 2026; of its finds one alone fruited in a November before."""
    asked(near, AT_THE_STEM)
    near.page.focus("[data-near-season]")
    near.page.keyboard.press("Space")
    (only,) = listed(near)
    assert "the fallen stem" in only


THESE_WEEKS = [
    (True, ["2025-12-30"], "2026-01-06"),
    (True, ["2025-01-03"], "2026-12-28"),
    (False, ["2026-11-20"], "2026-11-25"),  # of this year
    (False, ["2025-11-10"], "2026-11-25"),
    (True, ["2025-11-11"], "2026-11-25"),
    (True, ["2024-02-29"], "2026-03-01"),
    (False, [], "2026-03-01"),
]


def test_these_weeks_are_two_weeks_either_way_over_new_year_too(near: Visit) -> None:
    script = "(rows) => rows.map(([, days, today]) => journalNear.fruitsNow(days, today))"
    assert [expected for expected, _, _ in THESE_WEEKS] == near.page.evaluate(script, THESE_WEEKS)


def test_distances_are_the_published_ones_to_what_a_wood_needs(near: Visit) -> None:
    """Karney's rows, Flinders Peak to Buninyong and field distances: to 1 cm within 1 km, 0.1 % within 1,000 km, 0.5 %
    within 10,000 km, 5 % to the antipodes; across the antimeridian and over the poles as well."""
    rows = [row for row in ROWS if "distance_m" in row["expected"] and "point1_deg" in row["inputs"]]
    assert len(rows) >= 25
    points = [(row["inputs"]["point1_deg"], row["inputs"]["point2_deg"]) for row in rows]
    found = near.page.evaluate("(points) => points.map((pair) => journalNear.way(...pair).metres)", points)
    for row, metres in zip(rows, found, strict=True):
        published = row["expected"]["distance_m"]
        share = 0.001 if published < 1e6 else 0.005 if published < 1e7 else 0.05
        near_enough = 0.01 if published < 1000 else published * share
        assert published == pytest.approx(metres, abs=near_enough), row["id"]


def test_bearings_are_the_published_ones(near: Visit) -> None:
    """Flinders Peak to Buninyong 306°52'05.37" (Geoscience Australia, GDA2020 Technical Manual)."""
    there = [[-37.95103341666667, 144.42486788888888], [-37.65282113888889, 143.92649552777777]]
    bearing = near.page.evaluate("(points) => journalNear.way(...points).bearing", there)
    assert 306 + 52 / 60 + 5.37 / 3600 == pytest.approx(bearing, abs=0.01)
    assert "north-west" == near.page.evaluate("(bearing) => journalNear.wind(bearing)", bearing)
    assert "north" == near.page.evaluate("journalNear.wind(359)")


@pytest.mark.parametrize(
    ("said", "accuracy_m", "uncertainty_m", "units"),
    [("± 27 ft", 0, 8, "us"), ("± 26 ft", 0, 7.9248, "us"), ("± 25 ft", 7.4, 0, "us"), ("± 8 m", 7.2, 0, "metric")],
)
def test_how_sure_a_distance_is_is_told_as_on_the_way_back(
    near: Visit, said: str, accuracy_m: float, uncertainty_m: float, units: str
) -> None:
    """Rounded up to whole metres or feet; 1 ft = 0.3048 m exactly (NIST SP 811, 2008, appendix B.8)."""
    words = near.page.evaluate(
        "([accuracy, own, units]) => journalNear.distanceWords({ metres: 400, bearing: 0 }, accuracy, own, units)[1]",
        [accuracy_m, uncertainty_m, units],
    )
    assert said == words


def test_what_a_place_is_within_is_never_told_smaller_than_it_is(near: Visit) -> None:
    """22 m are 72.18 ft, 1210 m more than 1.2 km (1 ft = 0.3048 m exactly: NIST SP 811, 2008, appendix B.8)."""
    words = near.page.evaluate(
        "(rows) => rows.map((row) => journalNear.distanceWords({ metres: 5, bearing: 0 }, ...row)[0])",
        [[9, 8, "us"], [9, 8, "metric"], [1200, 5, "metric"]],
    )
    assert ["within 73 ft", "within 22 m", "within 1.3 km"] == words


@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_distance_is_rounded_as_on_every_page(near: Visit, units: Units) -> None:
    ways = [2.5, 42, 999.4, 1150, 1609.3, 9950, 12_450, 1_288_103]
    words = near.page.evaluate(
        "([ways, units]) => ways.map((metres) => journalNear.distanceWords({ metres, bearing: 0 }, 1, 0, units)[0])",
        [ways, units],
    )
    assert [f"{way(metres, units)} north" for metres in ways] == words
