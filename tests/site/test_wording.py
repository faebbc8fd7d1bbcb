"""Dates, quantities and counts as a person reads them."""

from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta, timezone

import pytest
from markupsafe import Markup

from journal.model import When
from journal.settings import Exhaust, LightHours, ValueRange
from journal.site import wording

SUMMER = timezone(timedelta(hours=1))


@pytest.mark.parametrize(
    ("expected", "when"),
    [
        ("22 November 2025", When("2025-11-22", date(2025, 11, 22), "day")),
        ("October 2026", When("2026-10", date(2026, 10, 1), "month")),
        ("2026", When("2026", date(2026, 1, 1), "year")),
        ("about 3 October 2026", When("about 2026-10-03", date(2026, 10, 3), "about")),
        (
            "12 September 2026, 14:05",
            When("…", date(2026, 9, 12), "minute", datetime(2026, 9, 12, 14, 5, tzinfo=SUMMER)),
        ),
    ],
)
def test_a_date_is_shown_as_far_as_it_is_known(expected: str, when: When) -> None:
    assert expected == wording.when_in_words(when)


@pytest.mark.parametrize(
    ("expected", "when"),
    [
        ("22 Nov 2025", When("2025-11-22", date(2025, 11, 22), "day")),
        ("Oct 2026", When("2026-10", date(2026, 10, 1), "month")),
        ("2026", When("2026", date(2026, 1, 1), "year")),
        ("about 3 Oct 2026", When("about 2026-10-03", date(2026, 10, 3), "about")),
        ("12 Sep 2026", When("…", date(2026, 9, 12), "minute", datetime(2026, 9, 12, 14, 5, tzinfo=SUMMER))),
    ],
)
def test_where_room_is_short_a_date_is_shown_in_few_words(expected: str, when: When) -> None:
    assert expected == wording.when_in_few_words(when)


@pytest.mark.parametrize(
    ("words", "causes"),
    [
        ("5 lost", [("", 5)]),
        ("5 lost: green mould", [("green mould", 5)]),
        ("5 lost: dropped", [("dropped", 5)]),
        ("5 lost: fell off the shelf", [("fell off the shelf", 5)]),
        ("5 lost: cause unknown", [("unknown", 5)]),
        ("5 lost: dropped 1, dried out 3, cause unknown 1", [("dropped", 1), ("dried out", 3), ("Unknown ", 1)]),
        ("5 lost: green mould 2, cause not noted 3", [("green mould", 2), ("", 3)]),
    ],
)
def test_a_loss_reads_well_whether_its_cause_is_a_thing_or_what_happened(
    words: str, causes: list[tuple[str, int]]
) -> None:
    assert words == wording.lost(5, causes)


# 1 ft = 0.3048 m and 1 mi = 1609.344 m exactly: NIST Special Publication 811 (2008), appendix B.8.
@pytest.mark.parametrize(
    ("metric", "us", "metres"),
    [
        ("8 m", "27 ft", 8),
        ("8 m", "26 ft", 7.9248),
        ("10 m", "32 ft", 9.7536),
        ("8 m", "25 ft", 7.4),
        ("1 m", "1 ft", 0.2),
        ("1.3 km", "4036 ft", 1230),
        ("13 km", "8.1 mi", 13000),
    ],
)
def test_a_radius_of_uncertainty_is_whole_and_never_smaller_than_it_is(metric: str, us: str, metres: float) -> None:
    assert (metric, us) == (wording.radius(metres), wording.radius(metres, "us"))


# Ounces and pounds: NIST Special Publication 811 (2008), appendix B.8, 1 oz = 28.349 523 g.
@pytest.mark.parametrize(
    ("metric", "us", "grams"),
    [
        ("570 g", "1 lb 4.1 oz", 570),
        ("1.29 kg", "2 lb 13.5 oz", 1290),
        ("3.4 g", "0.1 oz", 3.4),
        ("454 g", "1 lb", 453.59237),
        ("0 g", "0 oz", 0),
    ],
)
def test_a_mass_is_shown_in_the_units_of_the_journal(metric: str, us: str, grams: float) -> None:
    assert (metric, us) == (wording.mass(grams), wording.mass(grams, "us"))


@pytest.mark.parametrize(
    ("expected", "words"),
    [
        # 1 ft = 0.3048 m exactly; °F = °C × 9/5 + 32 (NIST SP 811, B.8); 1 ft³/min = 1.699 011 m³/h.
        ("1.22 m", lambda: wording.length(1.2192)),
        ("4 ft", lambda: wording.length(1.2192, "us")),
        ("26 m", lambda: wording.length(26.4)),
        ("13 km", lambda: wording.way(13_000)),
        # Half up, as people round money (common practice): 14.40 / 2.56 = 5.625, and 0.125 is half-way too.
        ("£5.63", lambda: wording.money(14.40 / 2.56, "GBP")),
        ("£2.68", lambda: wording.money(2.675, "GBP")),
        ("−0.13 SEK", lambda: wording.money(-0.125, "SEK")),
        ("1,234.57", lambda: wording.money(1234.565, None)),
        ("€5,000,000,000.00", lambda: wording.money(5e9, "EUR")),
        ("0.00", lambda: wording.money(-0.004, None)),
        ("1,288 km", lambda: wording.way(1_288_103)),
        ("99.6 km", lambda: wording.way(99_600)),
        ("800 mi", lambda: wording.way(1_288_103, "us")),
        ("150 m", lambda: wording.way(150)),
        ("8.1 mi", lambda: wording.way(13_000, "us")),
        ("492 ft", lambda: wording.way(150, "us")),
        ("60.8 °F", lambda: wording.temperature(16, "us")),
        ("−3.5 °C", lambda: wording.temperature(-3.5)),
        # A half is rounded up (common practice), also where 0.145 × 100 leaves 14.499999999999998 and 1.005 is
        # 1.00499999999999989 in binary.
        ("13 %", lambda: wording.percent(2 / 16 * 100, 0)),
        ("15 %", lambda: wording.percent(0.145 * 100, 0)),
        ("14 %", lambda: wording.percent(14.4999999, 0)),
        ("0.3 %", lambda: wording.percent(0.25)),
        ("53 g", lambda: wording.mass(52.5)),
        ("1.01 kg", lambda: wording.mass(1005)),
        ("1.3 h", lambda: wording.hours(75 / 60)),
        ("−2.3 °C", lambda: wording.temperature(-2.25)),
        ("0 °C", lambda: wording.temperature(-0.04)),
        ("101 km", lambda: wording.way(100_500)),
        ("200 m³/h", lambda: wording.flow(200)),
        ("118 cfm", lambda: wording.flow(200.48, "us")),
        ("85–95 %", lambda: wording.humidity_range(ValueRange(85, 95))),
        ("12–18 °C", lambda: wording.temperature_range(ValueRange(12, 18))),
        ("53.6–64.4 °F", lambda: wording.temperature_range(ValueRange(12, 18), "us")),
        ("12 h on, 12 h off", lambda: wording.light(LightHours(12))),
        ("06:30–18:30 (12 h)", lambda: wording.light(LightHours(12, "06:30", "18:30"))),
        ("2 min every 15 min", lambda: wording.exhaust(Exhaust("cycle", 2, 15))),
        ("every 15 min (run time not written)", lambda: wording.exhaust(Exhaust("cycle", None, 15))),
        ("off", lambda: wording.exhaust(Exhaust("off"))),
        ("28 November to 4 December 2026", lambda: wording.days_in_words(date(2026, 11, 28), date(2026, 12, 4))),
        ("3 to 9 December 2026", lambda: wording.days_in_words(date(2026, 12, 3), date(2026, 12, 9))),
        ("28 December 2026 to 4 January 2027", lambda: wording.days_in_words(date(2026, 12, 28), date(2027, 1, 4))),
        ("3 December 2026", lambda: wording.days_in_words(date(2026, 12, 3), date(2026, 12, 3))),
        ("a, b and c", lambda: wording.joined(["a", "b", "c"])),
        ("a", lambda: wording.joined(["a"])),
        ("", lambda: wording.joined([])),
        ("between flushes", lambda: wording.stage_in_words("resting")),
        ("pinning", lambda: wording.stage_in_words("pinning")),
    ],
)
def test_words(expected: str, words: Callable[[], str]) -> None:
    assert expected == words()


ROUNDED: Sequence[tuple[str, float, int]] = [
    ("0", 0.0, 1), ("0", -0.0, 0), ("0", -0.04, 1), ("−0.1", -0.05, 1), ("0", 1e-300, 3), ("0", -5e-324, 2),
    ("0.13", 0.125, 2), ("−0.13", -0.125, 2), ("1", 0.5, 0), ("3", 2.5, 0), ("−2.3", -2.25, 1), ("1.01", 1.005, 2),
    # What calculating leaves of a half is a half; what is written to fourteen digits is as it is written.
    ("15", 0.145 * 100, 0), ("0.13", 0.1249999999999999, 2), ("1.4", 1.1 + 0.25, 1), ("1.5", 1.45 - 1e-15, 1),
    ("14", 14.4999999, 0), ("1", 1.0049999999999, 2), ("0.12", 0.12499999999999, 2),
    # Large: each digit that a float holds.
    ("5000000000", 5e9, 2), ("1000000000000", 1e12, 1), ("1234567890123", 1234567890123, 0),
    ("−1464209.977", -1464209.9774950016, 3), ("1464209.978", 1464209.9775, 3), ("1000000000001", 1e12 + 0.5, 0),
    ("1000000000000", 1e12 + 0.499, 0), ("100000000000.5", 1e11 + 0.45, 1), ("9007199254740994", 9007199254740994.0, 1),
    ("1125899906842624.2", 2.0**50 + 0.25, 1), ("−100000000000000000000000", -1e23, 2),
]  # fmt: skip
"""A number with at most so many decimals: half up (common practice), of the shortest decimal that reads back
as the same float (as Python and ECMAScript both write it: ECMA-262, Number::toString)."""


@pytest.mark.parametrize(("told", "value", "decimals"), ROUNDED)
def test_a_half_is_rounded_up_in_a_number_of_any_size(told: str, value: float, decimals: int) -> None:
    assert told == wording.number(value, decimals)
    assert float(told.replace("−", "-")) == wording.half_up(value, decimals)


def test_no_line_breaks_within_an_id_or_before_a_unit() -> None:
    words = "B-031.2 had 1.98 m & 53 % of 4 blocks at 14:05 h, as on 2026-10-12 by the well-known PP-26A-wild-heron-2"
    assert (
        '<span class="nowrap">B-031.2</span> had 1.98\N{NO-BREAK SPACE}m &amp; 53\N{NO-BREAK SPACE}% of 4 blocks at '
        "14:05 h, as on 2026-10-12 by the well-known PP-26A-wild-heron-2"
    ) == wording.unbroken(words)


def test_html_and_words_that_read_the_same_are_never_taken_for_each_other() -> None:
    text = "<b>53 g</b>"
    assert "<b>53\N{NO-BREAK SPACE}g</b>" == wording.unbroken(Markup(text))
    assert "&lt;b&gt;53\N{NO-BREAK SPACE}g&lt;/b&gt;" == wording.unbroken(text)
    assert "<b>53\N{NO-BREAK SPACE}g</b>" == wording.unbroken(Markup(text))


def test_no_line_breaks_between_a_day_and_its_month_but_behind_the_end_of_a_sentence() -> None:
    words = "from 25~Nov, 5~May 2026 or 11~October 2026, 1,860~g; p. 325. days up to 8 Decimals"
    assert words.replace("~", "\N{NO-BREAK SPACE}") == wording.with_units(words.replace("~", " "))


def test_what_is_copied_keeps_its_spaces_within_a_part_that_does_not_break() -> None:
    parts = (
        '<span class="nowrap">B-031.2</span>',
        '<span class="nowrap">1.2 kg</span>',
        '<span class="nowrap">121 °C</span>',
    )
    assert "of {}: bran {}, &lt;x&gt; {}".format(*parts) == wording.unbroken_code("of B-031.2: bran 1.2 kg, <x> 121 °C")


def test_ranges_of_temperature_in_a_text_are_told_in_the_units_of_the_journal() -> None:
    """Source: NIST SP 811 (2008), B.8: t/°C = (t/°F − 32)/1.8."""
    text = "8 to 14 days, at 24 to 29 °C; -5 to 7.5 °C are wanted"
    assert text == wording.ranges_in_units(text, "metric")
    assert "8 to 14 days, at 75 to 84 °F; 23 to 46 °F are wanted" == wording.ranges_in_units(text, "us")
