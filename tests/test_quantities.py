"""Numbers and units, read as an author writes them."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from scipy import constants

from journal import quantities as q
from journal.problems import Unreadable
from journal.quantities import Mass, Parsed
from journal.site.pages.calculators import UNITS

# NIST SP 811 (2008), appendix B.8, as printed there (seven digits): pound (avoirdupois), ounce (avoirdupois), foot,
# inch, cubic foot per minute (m³/s). Not re-read here: from memory; the same factors
# are held below against scipy.constants, which has them from the definitions.
SP_811 = [
    (q.mass_g, "1 lb", 453.5924),
    (q.mass_g, "1 oz", 28.34952),
    (q.length_m, "1 ft", 0.3048),
    (q.length_m, "1 in", 0.0254),
    (q.flow_m3_h, "1 cfm", 4.719474e-4 * 3600),
]


@pytest.mark.parametrize(("read", "text", "si"), SP_811)
def test_a_factor_is_the_printed_one(read: Callable[[str], Parsed[float]], text: str, si: float) -> None:
    assert si == pytest.approx(read(text).value, rel=2e-7)  # half of the last printed digit


@pytest.mark.parametrize(
    ("read", "text", "si"),
    [
        (q.mass_g, "1 lb", constants.lb * 1000),
        (q.mass_g, "1 oz", constants.oz * 1000),
        (q.length_m, "1 ft", constants.foot),
        (q.length_m, "1 in", constants.inch),
        (q.flow_m3_h, "1 cfm", constants.foot**3 * 60),
        (q.length_m, "1 yd", constants.yard),
        (q.length_m, "1 mi", constants.mile),
        (q.temperature_c, "61 °F", constants.convert_temperature(61, "F", "C")),
        (q.temperature_c, "289 K", constants.convert_temperature(289, "K", "C")),
    ],
)
def test_a_factor_is_that_of_the_reference_library(read: Callable[[str], Parsed[float]], text: str, si: float) -> None:
    assert si == pytest.approx(read(text).value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "g"),
    [
        ("412 g", 412),
        ("412g", 412),
        ("1.2 kg", 1200),
        ("1,2 kg", 1200),
        ("4.035 kg", 4035),
        (".5 kg", 500),
        ("0,125 kg", 125),
        ("14.5 oz", 14.5 * 28.349523125),
        ("5 lb 2 oz", 82 * 28.349523125),
        ("5lb2oz", 82 * 28.349523125),
        ("5 lbs. 2 oz.", 82 * 28.349523125),
        ("1 kg 200 g", 1200),
        ("412\u00a0g", 412),
        ("412\u2009g", 412),
        ("412\u202fg", 412),
        ("1\u2009200 g", 1200),
        ("1 200 g", 1200),
        ("12 345,5 g", 12345.5),
        ("0 g", 0),
    ],
)
def test_a_mass_is_read_in_grams(text: str, g: float) -> None:
    assert Parsed(pytest.approx(g, rel=1e-12)) == q.mass_g(text)


@pytest.mark.parametrize(
    "text",
    [
        "", "412", "g", "many g", "412 stone", "-3 g", "\u22123 g", "1,200,000 g", "1,200.5 g", "1.200,5 g",
        "2 oz 5 lb", "5 lb 2", "5 lb 2 ml", "5 lb -2 oz", "412 g dry", "1e3 g", "٤١٢ g", "1 g" * 100,
        "9" * 5000 + " g", "½ lb",
    ],
)  # fmt: skip
def test_what_is_not_a_mass_is_not_read(text: str) -> None:
    with pytest.raises(Unreadable) as fault:
        q.mass_g(text)
    assert fault.value.message
    assert fault.value.fix
    assert len(fault.value.message) < 150


def test_a_mass_with_no_unit_is_told_to_have_one() -> None:
    with pytest.raises(Unreadable) as fault:
        q.mass_g("1.4")
    assert '"1.4" has no unit' == fault.value.message
    assert "412 g" in fault.value.fix


def test_an_unknown_unit_is_told_the_known_ones_once_each() -> None:
    with pytest.raises(Unreadable) as fault:
        q.mass_g("5 stone")
    assert '"stone" in "5 stone" is not a unit of mass' == fault.value.message
    units = fault.value.fix.partition("the units are ")[2]
    assert {"g", "kg", "mg", "oz", "lb"} == set(units.split(", "))


@pytest.mark.parametrize(
    ("text", "g", "mark", "thousands", "read"),
    [
        ("1,200 g", 1.2, "comma", "1200", "1.2"),
        ("12,000 kg", 12000, "comma", "12000", "12"),
        ("100,250 g", 100.25, "comma", "100250", "100.25"),
        ("1.840 g", 1.84, "point", "1840", "1.84"),
        ("12.000 grams", 12, "point", "12000", "12"),
        ("100.250g", 100.25, "point", "100250", "100.25"),
    ],
)
def test_a_mark_before_three_digits_is_a_decimal_mark_and_odd(
    text: str, g: float, mark: str, thousands: str, read: str
) -> None:
    """In German and most other languages of Europe a point separates thousands; a kitchen scale shows no milligrams."""
    found = q.mass_g(text)
    assert pytest.approx(g) == found.value
    (remark,) = found.remarks
    assert f"decimal {mark}" in remark.message
    assert f"write {thousands} if you mean thousands, or {read} if not" == remark.fix


@pytest.mark.parametrize(
    "text",
    ["1,2 g", "1,20 g", "0,200 g", "1,2345 g", "1.200 kg", "1.20 g", "0.200 g", "1.2345 g", "1.250 oz", "1 200 g"],
)
def test_no_other_comma_or_point_is_odd(text: str) -> None:
    assert () == q.mass_g(text).remarks


@pytest.mark.parametrize(
    ("text", "mass"),
    [
        ("13.8 kg in all", Mass(13800, in_all=True)),
        ("13.8 kg In All", Mass(13800, in_all=True)),
        ("30 lb 7 oz in all", Mass(487 * 28.349523125, in_all=True)),
        ("2.3 kg", Mass(2300)),
        ("2.3 kg each", Mass(2300)),
        ("2.3 kg per unit", Mass(2300)),
    ],
)
def test_a_mass_of_a_lot_says_whether_it_is_in_all(text: str, mass: Mass) -> None:
    read = q.mass_of_lot(text).value
    assert (pytest.approx(mass.g), mass.in_all) == (read.g, read.in_all)


@pytest.mark.parametrize(
    ("text", "m"),
    [
        ("120 cm", 1.2),
        ("4 ft", 1.2192),
        ("6.5 ft", 1.9812),
        ("6 ft 6 in", 1.9812),
        ("6'6\"", 1.9812),
        ("6′ 6″", 1.9812),
        ("-3 m", -3),
        ("\u22123 m", -3),
        ("-6 ft 6 in", -1.9812),
        ("1,8 m", 1.8),
    ],
)
def test_a_length_is_read_in_metres(text: str, m: float) -> None:
    assert pytest.approx(m, rel=1e-12) == q.length_m(text).value


@pytest.mark.parametrize(
    ("text", "m3_h"),
    [
        ("200 m³/h", 200),
        ("200 m3/h", 200),
        ("200 m^3/h", 200),
        ("118 cfm", 118 * 0.3048**3 * 60),
        ("118 CFM", 118 * 0.3048**3 * 60),
        ("55 l/s", 198),
        ("55 L/s", 198),
        ("2 m³/min", 120),
    ],
)
def test_a_flow_is_read_in_cubic_metres_an_hour(text: str, m3_h: float) -> None:
    assert pytest.approx(m3_h, rel=1e-12) == q.flow_m3_h(text).value


@pytest.mark.parametrize(
    ("text", "h"), [("2.5 h", 2.5), ("45 min", 0.75), ("2 h 30 min", 2.5), ("90 s", 0.025), ("7 d", 168), ("2 wk", 336)]
)
def test_a_duration_is_read_in_days_and_minutes(text: str, h: float) -> None:
    assert pytest.approx(h / 24, rel=1e-12) == q.duration_d(text).value
    assert pytest.approx(h * 60, rel=1e-12) == q.duration_min(text).value


@pytest.mark.parametrize(("text", "ppm"), [("900 ppm", 900), ("900 PPM", 900), ("0.09 %", 900)])
def test_carbon_dioxide_is_read_in_parts_per_million(text: str, ppm: float) -> None:
    assert pytest.approx(ppm) == q.co2_ppm(text).value


@pytest.mark.parametrize(
    ("text", "c"),
    [
        ("16 °C", 16),
        ("16°C", 16),
        ("16 C", 16),
        ("16 ℃", 16),
        ("16 º C", 16),
        ("-2,5 °C", -2.5),
        ("\u22122.5 °C", -2.5),
        ("32 °F", 0),
        ("212 F", 100),
        ("-40 °F", -40),
        ("-273.15 °C", -273.15),
        ("0 K", -273.15),
    ],
)
def test_a_temperature_is_read_in_degrees_celsius(text: str, c: float) -> None:
    assert pytest.approx(c, abs=1e-12) == q.temperature_c(text).value


@pytest.mark.parametrize("text", ["16", "16 °", "16 °X", "-273.16 °C", "-460 °F", "warm", "16 °C 5"])
def test_what_is_not_a_temperature_is_not_read(text: str) -> None:
    with pytest.raises(Unreadable):
        q.temperature_c(text)


@pytest.mark.parametrize("text", ["92 %", "92%", "92", "92.0 % RH", "92\u202f%", "92 percent"])
def test_a_percentage_is_read_bare_too(text: str) -> None:
    assert Parsed(92.0) == q.percentage(text)


@pytest.mark.parametrize("text", ["6500 K", "6500", "6500k", "6 500 K", "6500 kelvin"])
def test_a_colour_temperature_is_read_bare_too(text: str) -> None:
    assert Parsed(6500.0) == q.kelvin(text)


@pytest.mark.parametrize(("text", "n"), [("5", 5), ("05", 5), ("1 200", 1200), ("0", 0), ("1000000", 1_000_000)])
def test_a_count_is_a_whole_number(text: str, n: int) -> None:
    assert Parsed(n) == q.count(text)


@pytest.mark.parametrize("text", ["five", "1.5", "1,5", "5.0", "1,200", "-1", "5 plates", "1000001", "9" * 150])
def test_what_is_no_count_is_not_read(text: str) -> None:
    with pytest.raises(Unreadable):
        q.count(text)


def test_a_count_from_one_begins_at_one() -> None:
    assert Parsed(1) == q.count("1", least=1)
    with pytest.raises(Unreadable):
        q.count("0", least=1)


@pytest.mark.parametrize("read", [q.percentage, q.kelvin, q.co2_ppm, q.flow_m3_h, q.duration_d])
@pytest.mark.parametrize("text", ["", "soon", "5 apples", "%", "\u2212", "1..2", ","])
def test_every_reader_says_what_it_could_not_read(read: Callable[[str], Parsed[float]], text: str) -> None:
    with pytest.raises(Unreadable) as fault:
        read(text)
    assert fault.value.fix


def test_the_units_chosen_on_a_page_are_the_ones_read_and_its_script_has_their_factors() -> None:
    script = (Path(__file__).parent.parent / "static" / "js" / "amounts.js").read_text(encoding="utf-8")
    for dimension in (q.MASS_G, q.LENGTH_M, q.FLOW_M3_H):
        rows = re.search(rf"^    {dimension.name}: \{{(.*)\}}", script, re.MULTILINE)
        assert rows is not None
        factors = {unit.strip(' "'): float(factor) for unit, factor in (row.split(":") for row in rows[1].split(","))}
        assert {unit: float(dimension.factors[unit]) for unit in UNITS[dimension.name]} == factors


def test_a_temperature_is_the_same_in_either_scale() -> None:
    assert (212.0, 32.0, -40.0) == tuple(map(q.to_fahrenheit, (100, 0, -40)))  # the scales' own fixed points
    assert (100.0, 0.0, -40.0) == tuple(map(q.to_celsius, (212, 32, -40)))


@pytest.mark.parametrize("text", ["416000 wk", "36525.1 d", "99999999999 s", "5218 wk 200 d"])
def test_no_duration_is_longer_than_a_hundred_years(text: str) -> None:
    for read in (q.duration_d, q.duration_min):
        with pytest.raises(Unreadable, match="more than a hundred years"):
            read(text)
    assert 36_525 == q.duration_d("36525 d").value


@pytest.mark.parametrize("digits", ["9" * 13, "9" * 150, "0." + "0" * 150 + "1"])
def test_a_number_of_more_digits_than_are_measured_is_not_read(digits: str) -> None:
    for read in (q.mass_g, q.length_m, q.flow_m3_h):
        unit = {q.mass_g: "g", q.length_m: "m", q.flow_m3_h: "m³/h"}[read]
        with pytest.raises(Unreadable, match="too many digits"):
            read(f"{digits} {unit}")
    with pytest.raises(Unreadable, match="too many digits"):
        q.percentage(digits)


def test_leading_noughts_and_seventeen_digits_of_a_program_are_read() -> None:
    assert 412.0 == q.mass_g("0000000000000412 g").value
    assert 0.30000000000000004 == q.percentage("0.30000000000000004").value


@pytest.mark.parametrize(
    ("expected", "number", "one", "several"),
    [
        ("1 block", 1, "block", None),
        ("4 blocks", 4, "block", None),
        ("0 blocks", 0, "block", None),
        ("1 batch", 1, "batch", "batches"),
        ("2 batches", 2, "batch", "batches"),
    ],
)
def test_a_count_has_its_noun_in_the_right_number(expected: str, number: int, one: str, several: str | None) -> None:
    assert expected == q.counted(number, one, several)


@pytest.mark.parametrize(
    ("size_bytes", "exactly", "roughly"),
    [
        (0, "under 0.1 MB", "0.0 MB"),
        (49_999, "under 0.1 MB", "0.0 MB"),
        (60_000, "0.1 MB", "0.1 MB"),
        (9_940_000, "9.9 MB", "9.9 MB"),
        (9_960_000, "10.0 MB", "10 MB"),
        (1_234_560_000, "1,234.6 MB", "1,235 MB"),
    ],
)
def test_a_size_is_in_megabytes_of_a_million_bytes(size_bytes: int, exactly: str, roughly: str) -> None:
    assert exactly == q.size_in_mb(size_bytes)
    assert roughly == q.size_in_mb(size_bytes, roughly=True)


@pytest.mark.parametrize(
    ("ml", "text"), [(10, "10 ml"), (7500, "7.5 l"), (7500, "7,5 litres"), (20, "2 cl"), (5, "5 cc"), (250, "2.5 dl")]
)
def test_a_volume_is_read_in_millilitres(ml: float, text: str) -> None:
    """SI Brochure, 9th edition, table 8: 1 l = 1 dm³."""
    assert pytest.approx(ml) == q.volume_ml(text).value


@pytest.mark.parametrize(
    ("lux", "text"), [(640, "640 lux"), (1200, "1.2 klx"), (645.8, "60 fc"), (0, "0 lx"), (640, "640 LUX")]
)
def test_a_light_level_is_read_in_lux(lux: float, text: str) -> None:
    """A foot-candle is a lumen on a square foot: 1 / 0.3048^2 lux."""
    assert pytest.approx(lux, abs=0.05) == q.illuminance_lux(text).value


@pytest.mark.parametrize(("kwh", "text"), [(3, "3 kWh"), (3, "3 kwh"), (3, "3000 Wh"), (3, "0.003 MWh")])
def test_energy_is_read_in_kilowatt_hours_in_any_letters(kwh: float, text: str) -> None:
    assert pytest.approx(kwh) == q.energy_kwh(text).value


@pytest.mark.parametrize(
    ("text", "message", "fix"),
    [
        ("3 kw", '"3 kw" is power, not energy', "in kWh: 128.4 kWh"),
        ("3 W", '"3 W" is power, not energy', "in kWh: 128.4 kWh"),
        ("3 kj", "is not a unit of energy", "the units are kWh, Wh, MWh"),
    ],
)
def test_what_is_no_energy_says_how_its_unit_is_written(text: str, message: str, fix: str) -> None:
    with pytest.raises(Unreadable) as fault:
        q.energy_kwh(text)
    assert message in fault.value.message
    assert fix in fault.value.fix


@pytest.mark.parametrize(("text", "noted"), [("12.34", False), ("12.345", True), ("1,234", True), ("1.234 KWD", False)])
def test_money_with_more_than_two_decimals_is_noted(text: str, noted: bool) -> None:
    assert noted == bool(q.money(text).remarks)


@pytest.mark.parametrize(
    ("amount", "currency", "text"),
    [
        (18.4, "", "18.40"), (18.4, "£", "£18.40"), (18.4, "EUR", "18,40 EUR"), (18.4, "€", "18.40 €"),
        (3, "kr", "kr 3"), (1200, "$", "$ 1200"), (0, "", "0"),
    ],
)  # fmt: skip
def test_money_is_read_with_its_currency(amount: float, currency: str, text: str) -> None:
    assert q.Money(pytest.approx(amount), currency) == q.money(text).value


@pytest.mark.parametrize("text", ["", "two pounds", "-3", "£3 EUR", "18.40 buttons", "£", "about 3", "3 kg"])
def test_what_is_no_money_is_not_read(text: str) -> None:
    with pytest.raises(Unreadable):
        q.money(text)


@pytest.mark.parametrize(
    ("fits", "text", "code"),
    [
        (True, "3", None), (True, "3", "GBP"), (True, "£3", "GBP"), (True, "3 gbp", "GBP"), (True, "$3", "CAD"),
        (False, "€3", "GBP"), (False, "£3", None), (False, "3 SEK", "NOK"),
    ],
)  # fmt: skip
def test_money_fits_the_currency_that_it_names_or_any(fits: bool, text: str, code: str | None) -> None:
    assert fits == q.money(text).value.is_in(code)
