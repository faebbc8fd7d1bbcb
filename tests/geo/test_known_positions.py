"""A place that is known is found by its numbers; what may be told is not."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from pyproj import Transformer

from journal.geo.known_positions import KnownPlaces, places_of

HERE = (58.3041234, -8.9017789)


def told(known: KnownPlaces, text: str) -> bool:
    return any(True for _ in known.mentions_in(text))


@given(
    lat=st.floats(-80, 83.9), lon=st.floats(-180, 179.9), decimals=st.integers(1, 7), cut=st.booleans()
)  # fmt: skip
def test_it_is_found_with_any_number_of_decimals_rounded_or_cut_off(
    lat: float, lon: float, decimals: int, cut: bool
) -> None:
    def written(number: float) -> str:
        text = f"{abs(number):.9f}"
        return text[: len(text) - 9 + decimals] if cut else f"{abs(number):.{decimals}f}"

    known = KnownPlaces(((lat, lon),), keen=True)
    assert told(known, f"at {written(lat)}, {written(lon)}")
    assert told(known, f"lon {written(lon)} lat {written(lat)}")


@given(lat=st.floats(-80, 83.9), lon=st.floats(-180, 179.9))
@example(lat=57.99999, lon=-8.99999)
def test_it_is_found_in_degrees_and_minutes_and_seconds(lat: float, lon: float) -> None:
    def minutes(angle: float) -> str:
        return f"{int(abs(angle))}°{abs(angle) * 60 % 60:.2f}'"

    def seconds(angle: float) -> str:
        whole = int(abs(angle) * 3600)
        return f"{whole // 3600}°{whole % 3600 // 60}'{whole % 60}\""

    known = KnownPlaces(((lat, lon),))
    for form in (minutes, seconds):
        text = f"{form(lat)} {form(lon)}"
        assert told(known, text)


@given(lat=st.floats(-79, 83), lon=st.floats(-179, 179))
def test_it_is_found_on_the_utm_grid_of_proj(lat: float, lon: float) -> None:
    """*Reference library:* pyproj; the wide zones of Norway and Svalbard are left to the program's own tests."""
    if lat >= 56 and 0 <= lon < 42:
        return
    zone = int((lon + 180) // 6) + 1
    grid = Transformer.from_crs(4326, (32600 if lat >= 0 else 32700) + zone, always_xy=True)
    east, north = grid.transform(lon, lat)
    assert told(KnownPlaces(((lat, lon),)), f"{zone} {east:06.0f} {north:07.0f}")


@pytest.mark.parametrize(
    ("is_told", "text"),
    [
        (True, "58.3041, -8.9018"),
        (True, "58.30412"),  # five decimals are half of it by themselves
        (False, "58.3041"),
        (False, "58.3042, 8.9031"),
        (False, "58.3041 and, a hundred letters later, which is farther than any position is written, 8.9018"),
        (True, "29V ND 05756 62574"),
        (True, "29VND0575662574"),
        (False, "29V ND 9999 9999"),
        (False, "humidity 58.3 %, lux 8.9"),
    ],
)
def test_it_takes_both_halves_or_many_digits(is_told: bool, text: str) -> None:
    if text.startswith("29V") and is_told:
        import mgrs

        square = mgrs.MGRS().toMGRS(*HERE)
        text = square if " " not in text else f"{square[:3]} {square[3:5]} {square[5:10]} {square[10:]}"
    assert is_told == told(KnownPlaces((HERE,)), text)


@pytest.mark.parametrize("text", ["58.3, -8.9", "58.30, -8.90", "58°18'N 8°54'W", "geo:58.3,-8.9"])
def test_what_may_be_told_is_not_found(text: str) -> None:
    assert told(KnownPlaces((HERE,)), text)
    assert not told(KnownPlaces((HERE,), allowed=((58.3, -8.9),)), text)


def test_unknown_positions_are_not_places() -> None:
    assert ((1.0, 2.0),) == places_of([(1.0, 2.0), (None, 2.0), (1.0, None), (1.0, 2.0)])


def test_where_nothing_is_known_nothing_is_found() -> None:
    assert not told(KnownPlaces(()), "58.3041234, -8.9017789")


@pytest.mark.parametrize(
    ("told_there", "text"), [(True, "58.304"), (True, "8.901 and so"), (False, "58.30"), (False, "58.305")]
)
def test_where_it_is_looked_for_keenly_three_decimals_are_half_of_it(told_there: bool, text: str) -> None:
    assert told_there == told(KnownPlaces((HERE,), keen=True), text)
