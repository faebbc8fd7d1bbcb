"""Whether a tent's air is right, in figures and by day."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from journal.site.figures import Figure
from journal.site.pages.tent_climate import MOST_PERIODS, climate_part
from journal.site.plan import Row
from tests.site.pages.conftest import SETTINGS

DAY = "2026-11-25"


def part(hut: Any, *logs: Any, entries: dict[str, str] | None = None, **options: Any) -> Row:
    return climate_part(*hut.lookup(entries or {}, *logs, **options))


def figure_of(figures: tuple[Figure, ...], words: str) -> Figure:
    (found,) = [one for one in figures if words in one.words]
    return found


def test_the_share_in_range_is_that_of_the_last_two_weeks_with_that_of_all_beside_it(hut: Any) -> None:
    rows = hut.steady("2026-11-01 00:00", 24 * 11, rh_pct=70.0) + hut.steady("2026-11-12 00:00", 24 * 14)
    share = figure_of(part(hut, hut.log(rows)).figures, "in range")
    assert ("100 %", "56 % over all, read on 25 of 25 days") == (share.number, share.note)
    assert share.formula is not None
    assert ("in range", "336.4 h") in share.inputs  # 14 days, and the half hour for which the last reading stands


def test_what_cannot_be_told_for_the_loggers_accuracy_is_beside_the_share(hut: Any) -> None:
    rows = hut.steady(f"{DAY} 00:00", 6, rh_pct=90.0) + hut.steady(f"{DAY} 06:00", 6, rh_pct=86.0)
    share = figure_of(part(hut, hut.log(rows, 3.0)).figures, "in range")
    assert ("50 to 100 %", None) == (share.number, share.note)


def test_time_above_the_range_within_the_accuracy_is_said_to_be_so(hut: Any) -> None:
    rows = hut.steady(f"{DAY} 00:00", 24, rh_pct=96.0)
    found = part(hut, hut.log(rows, 2.0))
    assert "24.8 h above 95 %, within the sensor's accuracy" == figure_of(found.figures, "in range").note
    assert "too close to call" == found.days[0].in_range


def test_an_accuracy_that_nobody_stated_is_said_to_be_assumed(hut: Any) -> None:
    rows = hut.steady(f"{DAY} 00:00", 6)
    assert any("±5 % is assumed" in line for line in part(hut, hut.log(rows, None)).why_none)
    assert not any("assumed" in line for line in part(hut, hut.log(rows, 3.0)).why_none)


def test_the_longest_period_is_shown_with_how_far_it_went_and_the_short_swings_beside_it(hut: Any) -> None:
    rows = hut.steady(f"{DAY} 00:00", 12)
    for at in (8, 9, 10, 11, 30):
        rows[at] = (rows[at][0], 15.0, 80.0)
    longest = figure_of(part(hut, hut.log(rows)).figures, "longest")
    assert "1 h" == longest.number
    assert longest.words.endswith("too dry for 1 h, as far as 80 %, from 25 November 2026, 01:52")
    assert "not counting 1 short swing under 30 min, 0.3 h in total" == longest.note


def test_a_tent_never_out_of_range_has_no_period(hut: Any) -> None:
    found = part(hut, hut.log(hut.steady(f"{DAY} 00:00", 2)))
    assert "none" == figure_of(found.figures, "no period out of range").number
    assert () == found.periods


def test_the_dew_point_is_shown_with_how_much_colder_it_is_and_its_source(hut: Any) -> None:
    # 20 °C and 50 %: dew point 9.3 °C. Source: WMO-No. 8, saturation vapour pressure: 23.39 hPa at 20 °C, half of it
    # at 9.3 °C; from memory.
    dew = figure_of(part(hut, hut.log([(f"{DAY} 06:00", 20.0, 50.0)])).figures, "dew point")
    assert "9.3 °C" == dew.number
    assert "10.7 °C colder than the air" in dew.words
    assert dew.source is not None
    assert "ASHRAE" in dew.source
    assert (("air", "20 °C"), ("relative humidity", "50 %")) == dew.inputs


def test_a_difference_of_temperatures_has_no_shifted_zero_in_us_units(hut: Any) -> None:
    settings = '[journal]\nunits = "us"\n[tents.hut]\nname = "Hut"\nhumidity = "85–95 %"\n'
    dew = figure_of(part(hut, hut.log([(f"{DAY} 06:00", 20.0, 50.0)]), settings=settings).figures, "dew point")
    assert "48.7 °F" == dew.number  # 9.3 °C
    assert "19.3 °F colder" in dew.words  # 10.7 K × 9/5


# 144 m³/h for 2 of 15 minutes, through 1.2 × 1.2 × 2 m: 144 × 2 / 15 / 2.88 = 6.67 changes an hour.
def test_air_changes_are_at_most_where_the_flow_is_rated_and_say_what_they_assume(hut: Any) -> None:
    entries = {"s": hut.front("tent", about="hut", exhaust="2 min every 15 min")}
    changes = figure_of(part(hut, entries=entries).moved, "air changes")
    assert "at most 6.7" == changes.number
    assert ("the exhaust runs", "2 min every 15 min") in changes.inputs
    assert "free air" in dict(changes.more)["assumed"]


@pytest.mark.parametrize(
    ("exhaust", "why"),
    [("every 15 min", "how long the exhaust runs each time is not written"), ("", "no entry about it says how")],
)
def test_where_no_air_changes_are_calculated_the_page_says_why(hut: Any, exhaust: str, why: str) -> None:
    found = part(hut, entries={"s": hut.front("tent", about="hut", exhaust=exhaust, light="12/12")})
    assert [] == [one for one in found.moved if "air changes" in one.words]
    assert any(line.startswith(f"No air changes: {why}") for line in found.why_none)


_FILL = "---\nkind: tent\nabout: hut\ndate: 2026-11-{}\n{}\n---\n"
WATERED = {
    "a.md": _FILL.format("18", "exhaust: 2 min every 15 min\ntank fill: 4 l"),
    "b.md": _FILL.format("23", "tank fill: 4 l\nlight level: 640 lux"),
    "c.md": "---\nkind: batch\nid: B\ndate: 2026-11-01\nspecies: Pleurotus pulmonarius\ntent: hut\nculture: C\n---\n",
    "d.md": "---\nkind: culture\nid: C\ndate: 2026-10-01\nreceived from: x\nspecies: Pleurotus pulmonarius\n---\n",
}


def test_the_humidifiers_water_is_beside_the_air_that_the_exhaust_moves_at_most(hut: Any) -> None:
    found = part(hut, hut.log(hut.steady(f"{DAY} 00:00", 6)), entries=WATERED)
    water, light = figure_of(found.moved, "of water"), figure_of(found.moved, "of light read")
    assert ("0.033 kg an hour", True) == (water.number, water.note is not None)
    assert "beside at most 23 kg of air an hour, which it brings only from 77 % to 90 %, at 15 °C" in str(water.note)
    assert "at 50 %, about 2.3 air changes per hour" in str(water.note)
    assert "640 lux" == light.number
    assert (light.note or "").startswith("Pleurotus pulmonarius: 1000 to 1500 lux (P. Stamets")


def test_in_us_units_the_humidifiers_water_is_in_pounds(hut: Any) -> None:
    """0.0333 kg and 23.1 kg. Source: NIST SP 811 (2008), B.8: 1 lb (avoirdupois) = 0.453 592 37 kg."""
    settings = SETTINGS.replace("[journal]\n", '[journal]\nunits = "us"\n')
    found = part(hut, hut.log(hut.steady(f"{DAY} 00:00", 6)), entries=WATERED, settings=settings)
    water = figure_of(found.moved, "of water")
    assert "0.073 lb an hour" == water.number
    assert "beside at most 51 lb of air an hour" in str(water.note)


def test_light_is_compared_with_common_practice(hut: Any) -> None:
    entries = {"s": hut.front("tent", about="hut", light="8/16", light_colour="4000 K")}
    moved = part(hut, entries=entries).moved
    assert "8 h a day, 4 h less than is usual" in figure_of(moved, "of light:").words
    assert "redder than is usual" in figure_of(moved, "colour").words


def test_days_come_the_latest_first_with_medians_ranges_and_dew_points(hut: Any) -> None:
    rows = hut.steady("2026-11-24 00:00", 48, air_c=20.0, rh_pct=50.0, step_min=60)
    found = part(hut, hut.log(rows), settings='[tents.hut]\nname = "Hut"\nhumidity = "40–60 %"\n')
    assert ["2026-11-25", "2026-11-24"] == [day.iso for day in found.days]
    first = found.days[0]
    assert ("25 Nov", "50.1 %", "50 to 50.1 %", "20 °C", None) == (
        first.day, first.humidity, first.humidity_range, first.temperature, first.temperature_range,
    )  # fmt: skip
    assert ("100 %", "9.3 °C", "10.7 °C") == (first.in_range, first.dew_point, first.nearest)
    # 23.39 hPa at 20 °C, half of it lacking. Source: WMO-No. 8, saturation vapour pressure; from memory.
    assert "1.17 kPa" == first.deficit
    assert "7.3 g/kg" == first.ratio  # 0.622 × 11.7 / (1013.25 − 11.7)


@pytest.mark.parametrize(
    ("settings", "ratio", "said"),
    [
        # Sources: PsychroLib 2.5, GetHumRatioFromRelHum(20, 0.5, GetStandardAtmPressure(z)), by its published equations
        # (ASHRAE Fundamentals 2017, chapter 1, eq. 3, 6 and 20): 7.262 g/kg at sea level, 8.942 at 1700 m; by hand
        # 0.621945 × 1169.6 / (82 501 − 1169.6). 7000 gr = 1 lb: NIST SP 811 (2008), B.8.
        ("", "7.3 g/kg", "at sea level"),
        ('elevation = "1700 m"', "8.9 g/kg", "at 1700 m"),
        ('elevation = "1700 m"\nunits = "us"', "62.6 gr/lb", "at 5577.4 ft"),
    ],
)
def test_the_humidity_ratio_is_at_the_pressure_of_the_elevation_which_the_page_says_once(
    hut: Any, settings: str, ratio: str, said: str
) -> None:
    rows = [(f"{DAY} {hour}:00", 20.0, 50.0) for hour in ("06", "07")]
    found = part(hut, hut.log(rows), settings=SETTINGS.replace("[journal]", f"[journal]\n{settings}"))
    assert ratio == found.days[0].ratio
    assert [f"The air’s pressure is taken as that {said}."] == [row for row in found.why_none if "pressure" in row]


def test_only_the_last_fourteen_days_are_listed_and_those_before_are_counted(hut: Any) -> None:
    found = part(hut, hut.log(hut.steady("2026-11-06 00:00", 24 * 20, step_min=60)))
    assert (14, 6) == (len(found.days), found.more_days)


def test_a_fortnight_is_one_of_the_calendar_and_not_of_days_read(hut: Any) -> None:
    rows = hut.steady("2026-11-01 00:00", 24) + hut.steady("2026-11-25 00:00", 24)
    found = part(hut, hut.log(rows))
    assert (["2026-11-25"], 1) == ([day.iso for day in found.days], found.more_days)


def test_only_the_last_periods_are_listed_and_those_before_are_counted(hut: Any) -> None:
    rows = [(f"2026-11-{day:02} {clock}:00", 15.0, 70.0) for day in range(1, 11) for clock in ("06", "07")]
    found = part(hut, hut.log(rows))
    assert (MOST_PERIODS, 10 - MOST_PERIODS) == (len(found.periods), found.more_periods)
    assert "10 November 2026, 05:30 to 07:30" == found.periods[0].when


def test_what_counts_in_no_share_is_shown(hut: Any) -> None:
    before = hut.steady("2026-11-22 00:00", 24)
    stuck = [(stamp, 15.0, 91.5) for stamp, _, _ in hut.steady("2026-11-23 00:00", 25)]
    later = hut.steady("2026-11-24 06:45", 3)
    found = part(hut, hut.log(before + stuck + later))
    assert (
        "stuck for 24.8 h, 23 November 2026, 00:00 to 24 November 2026, 00:45",
        "silent for 6 h, 24 November 2026, 00:45 to 06:45",
    ) == found.left_out


@pytest.mark.parametrize(
    ("zone", "first", "last", "said"),
    [
        # On 25 October 2026 the clocks go back at 01:00 UTC in both zones. Source: the IANA time zone database.
        ("Europe/London", "2026-10-25 00:45", "2026-10-25 02:00", "25 October 2026, 01:45 (UTC+1) to 02:00 (UTC)"),
        ("Europe/Berlin", "2026-10-25 00:45", "2026-10-25 02:00", "25 October 2026, 02:45 (UTC+2) to 03:00 (UTC+1)"),
        (
            "America/St_Johns",
            "2026-11-01 03:00",
            "2026-11-01 05:00",
            "1 November 2026, 00:30 (UTC−2:30) to 01:30 (UTC−3:30)",
        ),
        ("Europe/London", "2026-10-26 00:45", "2026-10-26 02:00", "26 October 2026, 00:45 to 02:00"),
    ],
)
def test_a_time_over_a_change_of_the_clocks_has_their_offsets(
    hut: Any, zone: str, first: str, last: str, said: str
) -> None:
    settings = SETTINGS.replace('time_zone = "UTC"', f'time_zone = "{zone}"')
    hour_before = datetime.fromisoformat(first) - timedelta(hours=1)
    rows = [*hut.steady(f"{hour_before:%Y-%m-%d %H:%M}", 1), (first, 15.0, 90.0), (last, 15.1, 90.0)]
    (silent,) = part(hut, hut.log(rows), settings=settings).left_out
    assert silent.endswith(f" h, {said}")


def test_a_tent_never_read_has_no_figure_of_its_air_and_says_why(hut: Any) -> None:
    found = part(hut)
    assert ((), None, (), ()) == (found.figures, found.chart, found.days, found.rules)
    assert (
        "No time in range: the air was not read in it, or without a time of day, or with values that no tent has."
        in found.why_none
    )


def test_all_that_was_read_is_shown_in_a_sentence_where_it_was_read_on_several_days(hut: Any) -> None:
    rows = [("2026-11-20 06:00", 14.0, 84.0), ("2026-11-22 06:00", 16.0, 90.0), ("2026-11-25 06:00", 15.0, 92.0)]
    lookup, tent = hut.lookup({}, hut.log(rows))
    read = "humidity 90 % (84 to 92 %), temperature 15 °C (14 to 16 °C): median and range of 3 readings"
    assert f"Over all 3 days read: {read}." == climate_part(lookup, tent).medians
    lookup, tent = hut.lookup({}, hut.log(rows[:1]))
    assert climate_part(lookup, tent).medians is None


def test_readings_that_no_tent_has_are_in_no_figure_and_the_page_says_how_many_and_why(hut: Any) -> None:
    rows = [(stamp, 55.3, 90.0) for stamp, *_ in hut.steady(f"{DAY} 00:00", 6)]
    rows[3] = (rows[3][0], 60.5, 3.0)
    found = part(hut, hut.log(rows))
    assert not [one.words for one in found.figures if "dew point" in one.words or "too warm" in one.words]
    assert [None, None] == [found.days[0].temperature, found.days[0].dew_point]
    assert [
        f"{len(rows)} readings of temperature, 55.3 °C to 60.5 °C, are left out: no tent has less than −10 °C or more "
        "than 45 °C",
        "1 reading of humidity, 3 %, is left out: no tent has less than 10 %",
    ] == found.doubtful
    in_us = climate_part(
        *hut.lookup({}, hut.log(rows[:1]), settings=SETTINGS.replace("[journal]", '[journal]\nunits = "us"'))
    )
    assert ["1 reading of temperature, 131.5 °F, is left out: no tent has less than 14 °F or more than 113 °F"] == list(
        in_us.doubtful
    )


def test_the_light_published_for_a_species_stands_beside_its_own_name_too(hut: Any) -> None:
    named = {path: text.replace("Pleurotus pulmonarius", "shelf oyster") for path, text in WATERED.items()}
    settings = f'{SETTINGS}[names]\n"shelf oyster" = "Pleurotus pulmonarius"\n'
    found = part(hut, hut.log(hut.steady(f"{DAY} 00:00", 6)), entries=named, settings=settings)
    assert (figure_of(found.moved, "of light read").note or "").startswith("Pleurotus pulmonarius: 1000 to 1500 lux")
