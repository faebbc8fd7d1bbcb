"""Median and range in words."""

from __future__ import annotations

import pytest

from journal.analysis.statistics import Summary
from journal.site.wording import Units, medians_words

HUMIDITY = Summary(90.2, 68.4, 95.1, 4032)
TEMPERATURE = Summary(15.0, 10.0, 18.0, 4000)


@pytest.mark.parametrize(
    ("words", "humidity", "temperature", "units"),
    [
        (
            "humidity 90.2 % (68.4 to 95.1 %), temperature 15 °C (10 to 18 °C): median and range of 4032 readings",
            HUMIDITY, TEMPERATURE, "metric",
        ),
        ("temperature 59 °F (50 to 64.4 °F): median and range of 4000 readings", None, TEMPERATURE, "us"),
        ("humidity 80 %: one reading", Summary(80.0, 80.0, 80.0, 1), None, "metric"),
        (None, None, None, "metric"),
    ],
)  # fmt: skip
def test_what_was_read_is_shown_by_its_median_its_range_and_how_much_it_was(
    words: str | None, humidity: Summary | None, temperature: Summary | None, units: Units
) -> None:
    assert words == medians_words(humidity, temperature, units)


def test_where_days_alone_are_shown_it_is_of_their_medians() -> None:
    words = medians_words(Summary(90.0, 85.0, 92.0, 12), None, "metric", by_day=True)
    assert "humidity 90 % (85 to 92 %): median and range of 12 days, by their medians" == words
