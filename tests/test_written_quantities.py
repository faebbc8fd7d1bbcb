"""Any quantity in any unit is read as it was written, and any text is read or refused."""

from __future__ import annotations

from contextlib import suppress
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal import quantities as q
from journal.problems import Unreadable
from journal.quantities import Parsed

NUMBERS = st.decimals(min_value=0, max_value=10**9, places=3, allow_nan=False)
SPACES = st.sampled_from(["", " ", "\u00a0", "\u2009", "\u202f", "  "])


READERS = [
    (q.MASS_G, q.mass_g, 1), (q.VOLUME_ML, q.volume_ml, 1), (q.FLOW_M3_H, q.flow_m3_h, 1), (q.LENGTH_M, q.length_m, 1),
    (q.AREA_M2, q.area_m2, 1), (q.ENERGY_KWH, q.energy_kwh, 1), (q.ILLUMINANCE_LUX, q.illuminance_lux, 1),
    (q.CO2_PPM, q.co2_ppm, 1), (q.DURATION_S, q.duration_d, 86_400), (q.DURATION_S, q.duration_min, 60),
]  # fmt: skip
"""Each dimension, a reader of it, and how many of the dimension's units are one of the reader's."""


@given(NUMBERS, SPACES, st.sampled_from([(*row, unit) for row in READERS for unit in row[0].factors]))
def test_what_is_written_is_what_is_read(number: object, space: str, row: tuple[Any, ...]) -> None:
    dimension, read, per, name = row
    expected = float(str(number)) * float(dimension.factors[name])
    if dimension is q.DURATION_S and expected > 36_525 * 86_400:
        with pytest.raises(Unreadable, match="more than a hundred years"):
            read(f"{number}{space}{name}")
    else:
        assert pytest.approx(expected / per, rel=1e-12) == read(f"{number}{space}{name}").value


@given(st.decimals(-273, 10**6, places=2), SPACES, st.sampled_from([("°C", 1, 0), ("°F", 1.8, 32), ("K", 1, 273.15)]))
def test_a_temperature_is_the_one_that_was_written(
    celsius: object, space: str, scale: tuple[str, float, float]
) -> None:
    name, per, nought = scale
    written = f"{float(str(celsius)) * per + nought:.3f}{space}{name}"
    assert pytest.approx(float(str(celsius)), abs=0.001) == q.temperature_c(written).value


@given(NUMBERS)
def test_a_decimal_comma_says_the_same_as_a_point(number: object) -> None:
    point, comma = f"{number:.2f} kg", f"{number:.2f} kg".replace(".", ",")
    assert q.mass_g(point) == q.mass_g(comma)


@given(st.text())
def test_no_text_is_too_odd_to_be_refused_politely(text: str) -> None:
    for read in (q.mass_of_lot, q.length_m, q.temperature_c, q.percentage, q.kelvin, q.count, q.duration_d):
        with suppress(Unreadable):
            assert isinstance(read(text), Parsed)
