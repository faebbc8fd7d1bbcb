"""The way back to a find in a real browser: numbers against the library's rows, the arrow, and every state of a fix."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime
from math import cos, radians
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from geographiclib.geodesic import Geodesic

from journal.analysis.sun import sun_times, to_the_minute
from tests.browser.conftest import Host, Visit
from tests.outside.test_geodesy import GROUPS, ROWS
from tests.outside.test_sun import ROWS as SUN
from tests.outside.test_sun import assert_near, times_of

pytestmark = pytest.mark.browser

FIND = "finds/f26-001/index.html"
WATCHES = """() => {
  globalThis.asked = 0;
  globalThis.left = 0;
  const { geolocation } = navigator;
  const [watch, clear] = [geolocation.watchPosition.bind(geolocation), geolocation.clearWatch.bind(geolocation)];
  geolocation.watchPosition = (...all) => { globalThis.asked += 1; return watch(...all); };
  geolocation.clearWatch = (id) => { globalThis.left += 1; clear(id); };
}"""
SEEN = """(state) => {
  Object.defineProperty(document, "visibilityState", { get: () => state, configurable: true });
  document.dispatchEvent(new Event("visibilitychange"));
}"""
TURN = "([name, facts]) => dispatchEvent(new DeviceOrientationEvent(name, facts))"


def text(visit: Visit, name: str) -> str:
    return str(visit.page.inner_text(f"[data-walk-{name}]"))


def place_of(visit: Visit) -> tuple[float, float, float]:
    lat, lon, within_m = visit.page.get_attribute("[data-walk]", "data-walk").split()
    return float(lat), float(lon), float(within_m)


def turned_deg(visit: Visit) -> float:
    found = re.fullmatch(r"rotate\((-?[\d.]+)\)", visit.page.get_attribute("[data-walk-turn]", "transform"))
    assert found
    return float(found[1]) % 360


def fix_at(visit: Visit, east_m: float, north_m: float, accuracy: float = 12.0) -> dict[str, float]:
    """Where the device is, so far from the find."""
    lat, lon, _ = place_of(visit)
    return {
        "latitude": lat + north_m / 111_320,
        "longitude": lon + east_m / 111_320 / cos(radians(lat)),
        "accuracy": accuracy,
    }


@pytest.fixture
def walker(thumb: Callable[..., Visit]) -> Callable[..., Visit]:
    """Opens the find's page with the device so far east and north of it, and taps where it is told to begin."""

    def start(east_m: float = 300.0, north_m: float = -400.0, accuracy: float = 12.0, begins: bool = True) -> Visit:
        visit = thumb(FIND)
        visit.page.context.set_geolocation(fix_at(visit, east_m, north_m, accuracy))
        visit.page.context.grant_permissions(["geolocation", "accelerometer", "gyroscope", "magnetometer"])
        visit.page.evaluate(WATCHES)
        if begins:
            visit.page.click("[data-walk-start]")
            visit.until("!document.querySelector('[data-walk-shown]').hidden")
        return visit

    return start


def test_distance_and_bearing_are_those_of_the_published_rows(walker: Callable[..., Visit]) -> None:
    page = walker(begins=False).page
    rows = [row for row in ROWS if re.fullmatch(GROUPS["distance"], row["id"])]
    given = [[*row["inputs"]["point1_deg"], *row["inputs"]["point2_deg"]] for row in rows]
    for row, found in zip(
        rows, page.evaluate("(rows) => rows.map((row) => journalGeodesic.inverse(...row))", given), strict=True
    ):
        assert row["expected"]["distance_m"] == pytest.approx(found["metres"], abs=row["tolerance"]["distance_m"]), row[
            "id"
        ]
        if "azimuth_deg" in row["expected"]:
            off = (found["bearing"] - row["expected"]["azimuth_deg"] + 180) % 360 - 180
            assert 0 == pytest.approx(off, abs=row["tolerance"]["azimuth_deg"]), row["id"]
    assert page.evaluate("journalGeodesic.inverse(58.3, -8.9, 58.3, -8.9)") == {"metres": 0, "bearing": None}


def test_the_sun_is_that_of_the_published_rows_and_todays_is_reported(walker: Callable[..., Visit]) -> None:
    page = walker(begins=False).page
    asked = [[row["inputs"]["lat"], row["inputs"]["lon"], *map(int, row["inputs"]["date"].split("-"))] for row in SUN]
    ask = "(rows) => JSON.parse(JSON.stringify(rows.map((row) => journalSun(...row))))"
    for row, got in zip(SUN, page.evaluate(ask, asked), strict=True):
        moments = {name: text and datetime.fromisoformat(text) for name, text in got.items() if name != "always"}
        assert_near(row, moments)
        assert times_of(row).always == got["always"]
    assert re.fullmatch(
        r"Today the sun rises here at \d\d:\d\d and sets at \d\d:\d\d; twilight ends at \d\d:\d\d[ .].*",
        page.inner_text("[data-sun]"),
    )


@pytest.mark.parametrize(
    ("device", "place", "journal", "is_named", "is_far"),
    [
        ("Europe/Berlin", "53.6 10.05", "Europe/Berlin", False, False),
        ("UTC", "53.6 10.05", "Europe/Berlin", True, False),
        ("Pacific/Auckland", "53.6 10.05", "Europe/Berlin", True, False),
        ("UTC", "-40 175", "UTC", True, True),
        ("Asia/Kolkata", "22.5 88.3", "Asia/Kolkata", False, False),
    ],
)
def test_the_hours_of_the_sun_are_those_of_the_journal_whichever_zone_the_device_is_in(
    browser: Any, host: Host, device: str, place: str, journal: str, is_named: bool, is_far: bool
) -> None:
    context = browser.new_context(timezone_id=device, service_workers="block")
    page = context.new_page()
    page.goto(host.url(FIND))
    assert page.get_attribute("[data-sun]", "data-zone") == "Europe/London"
    page.evaluate(
        """([place, zone]) => {
          Object.assign(document.querySelector("[data-sun]").dataset, { sun: place, zone });
          document.documentElement.dataset.asOf = "2026-11-30";
          document.dispatchEvent(new Event("visibilitychange"));
        }""",
        [place, journal],
    )
    sun = sun_times(*map(float, place.split()), date(2026, 11, 30))
    form = "%H:%M on %Y-%m-%d" if is_far else "%H:%M"
    rise, set, dusk = (to_the_minute(moment).astimezone(ZoneInfo(journal)).strftime(form)
                       for moment in (sun.rise, sun.set, sun.dusk) if moment)  # fmt: skip
    named = f" (all in the time of {journal})" if is_named else ""
    hours = f"sun rises here at {rise} and sets at {set}; twilight ends at {dusk}{named}."
    told = f"{'The' if is_far else 'Today the'} {hours}"
    assert page.inner_text("[data-sun]").startswith(told)
    context.close()


def test_today_is_the_day_in_the_journals_zone(browser: Any, host: Host) -> None:
    context = browser.new_context(timezone_id="Pacific/Kiritimati", service_workers="block")
    page = context.new_page()
    page.goto(host.url(FIND))
    day = "(zone, moment) => journalSun.dayIn(zone, new Date(moment))"
    assert page.evaluate(f"() => ({day})('Europe/Berlin', '2026-11-30T22:30:00Z')") == "2026-11-30"
    assert page.evaluate(f"() => ({day})('Europe/Berlin', '2026-11-30T23:30:00Z')") == "2026-12-01"
    assert page.evaluate(f"() => ({day})('Nowhere/Unknown', '2026-11-30T23:30:00Z')") == "2026-12-01"
    context.close()


WORDS = [
    ("lengthWords(7.4, 'metric')", "7 m"),
    ("lengthWords(243, 'metric')", "240 m"),
    ("lengthWords(997, 'metric')", "1 km"),
    ("lengthWords(12345, 'metric')", "12.3 km"),
    ("lengthWords(1150, 'metric')", "1.2 km"),  # a half is rounded up, as on every page
    ("lengthWords(250_500, 'metric')", "251 km"),
    ("lengthWords(1_288_103, 'metric')", "1,288 km"),
    ("lengthWords(20, 'us')", "66 ft"),
    ("lengthWords(400, 'us')", "0.2 mi"),
    ("lengthWords(1.15 * 1609.344, 'us')", "1.2 mi"),
    ("spreadWords(7.2, 'metric')", "± 8 m"),
    ("spreadWords(8, 'us')", "± 27 ft"),
    ("spreadWords(9.7536, 'us')", "± 32 ft"),
    ("spreadWords(8.04, 'metric')", "± 8 m"),
    ("spreadWords(1210, 'metric')", "± 1.3 km"),
    ("spreadWords(3000, 'us')", "± 1.9 mi"),
    ("agoWords(89000)", "89 s ago"),
    ("agoWords(300000)", "5 min ago"),
    ("directionOf(337.4)", "north-west"),
    ("directionOf(350)", "north"),
    ("turnWords(-350)", "straight ahead"),
    ("turnWords(270)", "to the left"),
    ("turnWords(181)", "behind you"),
    ("turnWords(45)", "ahead, to the right"),
    # W3C Device Orientation Event Specification: alpha grows against the clock, a compass with it
    ("headingOf({absolute: true, alpha: 90}, 0)", 270),
    ("headingOf({absolute: true, alpha: 0}, 90)", 90),
    ("headingOf({absolute: false, alpha: 90}, 0)", None),
    ("headingOf({absolute: false, alpha: 90, webkitCompassHeading: 12}, 0)", 12),
    ("headingOf({webkitCompassHeading: -1, alpha: null}, 0)", None),
]


def test_lengths_times_directions_and_headings_in_words(walker: Callable[..., Visit]) -> None:
    page = walker(begins=False).page
    found = {script: page.evaluate(f"journalWalk.{script}") for script, _ in WORDS}
    assert dict(WORDS) == found


def test_nothing_is_asked_before_the_tap_and_nothing_while_the_page_is_hidden(walker: Callable[..., Visit]) -> None:
    visit = walker(begins=False)
    assert 0 == visit.page.evaluate("asked")
    visit.page.click("[data-walk-start]")
    visit.until("!document.querySelector('[data-walk-shown]').hidden")
    assert [] == visit.complaints
    visit.page.evaluate(SEEN, "hidden")
    assert [1, 1] == visit.page.evaluate("[asked, left]")
    visit.page.evaluate(SEEN, "visible")
    assert [2, 1] == visit.page.evaluate("[asked, left]")
    visit.page.click("[data-walk-stop]")
    assert [2, 2] == visit.page.evaluate("[asked, left]")
    assert not visit.page.is_visible("[data-walk-shown]")


def test_the_arrow_points_to_the_find_and_turns_with_the_compass(walker: Callable[..., Visit]) -> None:
    visit = walker(300, -400)
    fix = fix_at(visit, 300, -400)
    # reference library: C. F. F. Karney, geographiclib
    way = Geodesic.WGS84.Inverse(fix["latitude"], fix["longitude"], *place_of(visit)[:2])
    bearing = way["azi1"] % 360
    assert 500 == pytest.approx(way["s12"], abs=5)
    assert text(visit, "distance") == "500 m"
    assert bearing == pytest.approx(turned_deg(visit), abs=0.06)
    assert f"to the north-west, bearing {bearing:.0f}°; north is up" == text(visit, "bearing")
    assert "your position to ± 12 m" in text(visit, "told")
    assert re.match(r"Last position \d+ s ago, sure to ± 12 m", text(visit, "age"))
    said = text(visit, "said")
    assert said.startswith(f"500 m to the north-west, bearing {bearing:.0f}°")
    visit.page.wait_for_timeout(50)  # the browser's answer whether the compass may be used
    visit.page.evaluate(TURN, ["deviceorientationabsolute", {"alpha": 90, "absolute": True}])
    visit.until("document.querySelector('[data-walk-north]').getAttribute('transform') === 'rotate(-270.0)'")
    assert (bearing - 270) % 360 == pytest.approx(turned_deg(visit), abs=0.06)
    assert text(visit, "bearing").startswith("ahead, to the right; to the north-west")
    assert said == text(visit, "said"), "not every movement is read out"


@pytest.mark.parametrize(
    ("north_m", "accuracy", "words"),
    [(3, 12, "You are within the mark’s own ±"), (-25, 30, "You may be at the place: the mark is sure to ±")],
)
def test_no_arrow_where_the_mark_may_be_here(
    walker: Callable[..., Visit], north_m: float, accuracy: float, words: str
) -> None:
    visit = walker(0, north_m, accuracy)
    assert text(visit, "told").startswith(words)
    assert "ook around." in text(visit, "said")
    assert ("about here", "") == (text(visit, "distance"), text(visit, "bearing"))
    assert "hidden" == visit.page.get_attribute("[data-walk-arrow]", "visibility")
    radii = [float(visit.page.get_attribute(f"[data-walk-{name}-circle]", "r")) for name in ("mark", "fix")]
    # both circles on one scale
    assert place_of(visit)[2] / accuracy == pytest.approx(radii[0] / radii[1], rel=0.02)


def test_a_coarse_position_says_so(walker: Callable[..., Visit]) -> None:
    assert "only an approximate area, ± 1.5 km" in text(walker(9000, 0, 1500), "told")


def test_refused_and_failing_positions_are_shown_in_words(walker: Callable[..., Visit]) -> None:
    visit = walker(begins=False)
    visit.page.evaluate("navigator.geolocation.watchPosition = (good, bad) => { globalThis.fail = bad; return 7; }")
    for code, words in ((3, "No position yet"), (2, "no position now"), (1, "may not use the position")):
        visit.page.click("[data-walk-start]:visible, [data-walk-stop]:visible")
        visit.until("globalThis.fail !== undefined")
        visit.page.evaluate("(code) => { fail({ code }); delete globalThis.fail; }", code)
        assert words in text(visit, "status") == text(visit, "said")
        assert visit.page.is_visible("[data-walk-start]") is (code == 1), "a refusal ends it, the others may pass"
        if code != 1:
            visit.page.click("[data-walk-stop]")


def test_the_position_is_copied_and_opens_in_the_devices_own_maps(walker: Callable[..., Visit]) -> None:
    visit = walker(begins=False)
    visit.page.context.grant_permissions(["geolocation", "clipboard-read", "clipboard-write"])
    visit.page.click("[data-walk-copy]")
    visit.until("document.querySelector('[data-walk-status]').textContent === 'Position copied.'")
    assert text(visit, "text") == visit.page.evaluate("navigator.clipboard.readText()")
    assert visit.page.get_attribute("[data-walk-link]", "href").startswith("geo:58.")
    visit.page.add_init_script("Object.defineProperty(navigator, 'userAgent', { get: () => 'Mozilla/5.0 (iPhone)' })")
    visit.page.reload()
    assert visit.page.get_attribute("[data-walk-link]", "href").startswith("https://maps.apple.com/?ll=58.")
