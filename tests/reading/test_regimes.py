"""Bands, hours of light, exhaust cycles and mixes."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.model import MixPart
from journal.problems import Unreadable
from journal.quantities import Parsed
from journal.reading import values
from journal.settings import Exhaust, LightHours, ValueRange


@pytest.mark.parametrize(
    "text", ["85–95 %", "85-95 %", "85 to 95 %", "85–95%", "85 – 95", "85 % – 95 %", "85—95 %", "85,0–95,0 %"]
)
def test_a_range_of_humidity_is_read(text: str) -> None:
    assert Parsed(ValueRange(85, 95)) == values.humidity_range(text)


def test_a_range_beyond_all_air_is_odd() -> None:
    read = values.humidity_range("85–105 %")
    assert ValueRange(85, 105) == read.value
    assert read.remarks


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("12–18 °C", 12, 18),
        ("12 °C to 18 °C", 12, 18),
        ("-2–4 °C", -2, 4),
        ("-5--2 °C", -5, -2),
        ("\u22125 to \u22122 °C", -5, -2),
        ("50–59 °F", 10, 15),
    ],
)
def test_a_range_of_temperature_is_read_in_degrees_celsius(text: str, low: float, high: float) -> None:
    band = values.temperature_range(text).value
    assert (pytest.approx(low), pytest.approx(high)) == (band.low, band.high)


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("12 h on, 12 h off", LightHours(12)),
        ("12h on / 12h off", LightHours(12)),
        ("16 hours on and 8 hours off", LightHours(16)),
        ("12:12", LightHours(12)),
        ("18:6", LightHours(18)),
        ("12/12", LightHours(12)),
        ("10,5/13,5", LightHours(10.5)),
        ("06:30–18:30", LightHours(12, "06:30", "18:30")),
        ("6:30-18:30", LightHours(12, "06:30", "18:30")),
        ("06:30 to 18:00", LightHours(11.5, "06:30", "18:00")),
        ("18:00–06:00", LightHours(12, "18:00", "06:00")),
        ("00:00–24:00", LightHours(24, "00:00", "24:00")),
        ("on", LightHours(24)),
        ("off", LightHours(0)),
    ],
)
def test_hours_of_light_are_read(text: str, hours: LightHours) -> None:
    assert Parsed(hours) == values.light_hours(text)


@pytest.mark.parametrize(
    ("text", "exhaust"),
    [
        ("2 min every 15 min", Exhaust("cycle", 2, 15)),
        ("2 min on every 15 min", Exhaust("cycle", 2, 15)),
        ("30 s every 5 min", Exhaust("cycle", 0.5, 5)),
        ("1,5 min every 1 h", Exhaust("cycle", 1.5, 60)),
        ("every 15 min", Exhaust("cycle", None, 15)),
        ("every hour", Exhaust("cycle", None, 60)),
        ("on", Exhaust("on")),
        ("Off", Exhaust("off")),
    ],
)
def test_an_exhaust_cycle_is_read(text: str, exhaust: Exhaust) -> None:
    assert Parsed(exhaust) == values.exhaust(text)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("oak pellets 5 kg", MixPart("oak pellets", 5000)),
        ("oak pellets: 5 kg", MixPart("oak pellets", 5000)),
        ("wheat bran 1,2 kg", MixPart("wheat bran", 1200)),
        ("pellets 6 mm 5 kg", MixPart("pellets 6 mm", 5000)),
        ("water 1 200 g", MixPart("water", 1200)),
        ("5 kg oak pellets", MixPart("oak pellets", 5000)),
        ("5 kg of oak pellets", MixPart("oak pellets", 5000)),
        ("rye 5 lb 2 oz", MixPart("rye", pytest.approx(2324.66089625))),  # 82 oz of 28.349523125 g
        ("5 lb 2 oz rye", MixPart("rye", pytest.approx(2324.66089625))),
        ("water 7.5 l", MixPart("water", 7500)),  # 1 l as 1 kg: common practice
        ("7,5 litres of rain water", MixPart("rain water", 7500)),
        ("hot water 500 ml", MixPart("hot water", 500)),
    ],
)
def test_a_part_of_a_mix_is_read(text: str, part: MixPart) -> None:
    assert Parsed(part) == values.mix_part(text)


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (values.humidity_range, "92 %"),
        (values.humidity_range, "wet"),
        (values.temperature_range, "12–18"),
        (values.temperature_range, "12–18 %"),
        (values.light_hours, "12 h"),
        (values.light_hours, "12:30"),
        (values.light_hours, "12 h on, 10 h off"),
        (values.light_hours, "06:00–06:00"),
        (values.light_hours, "06:00–24:30"),
        (values.light_hours, "732"),
        (values.exhaust, "2 min"),
        (values.exhaust, "2 every 15"),
        (values.exhaust, "20 min every 15 min"),
        (values.exhaust, "every 0 min"),
        (values.exhaust, "sometimes"),
        (values.mix_part, "oak pellets"),
        (values.mix_part, "oak pellets 80 %"),
        (values.mix_part, "5 kg"),
        (values.mix_part, "oak 5 stone"),
        (values.mix_part, "vermiculite 5 l"),
    ],
)
def test_what_is_none_is_not_read(read: Callable[[str], Parsed[Any]], text: str) -> None:
    with pytest.raises(Unreadable) as fault:
        read(text)
    assert fault.value.fix


CLOCK = st.integers(0, 24 * 60 - 1)


@given(CLOCK, CLOCK)
def test_light_from_and_to_leaves_the_rest_of_the_day_dark(start: int, end: int) -> None:
    if start == end:
        return
    first, last = f"{start // 60:02}:{start % 60:02}", f"{end // 60:02}:{end % 60:02}"
    lit = values.light_hours(f"{first}–{last}").value
    dark = values.light_hours(f"{last}–{first}").value
    assert pytest.approx(24) == lit.on_h + dark.on_h
    assert (first, last) == (lit.lit_from, lit.lit_to)


@given(st.text(alphabet=st.sampled_from("0123456789:/–-,. honfevrykgºC%min"), max_size=30))
def test_no_text_makes_a_reader_stumble(text: str) -> None:
    readers = (values.light_hours, values.exhaust, values.mix_part, values.humidity_range, values.temperature_range)
    for read in readers:
        with suppress(Unreadable):
            assert isinstance(read(text), Parsed)
