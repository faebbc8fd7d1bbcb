"""A number and its unit, as an author writes them, into SI values.

Every reader takes text and gives a `Parsed`: the value, with remarks. It raises `Unreadable` where the text is
not in its notation. Numbers have a decimal point or a decimal comma, thousands only in threes with spaces between
("1 200 g"); spaces may be of any width, a minus sign may be a hyphen or U+2212.

*Source* of the factors: A. Thompson and B. N. Taylor, Guide for the Use of the International System of Units, NIST
Special Publication 811 (2008), appendix B.8 and its footnotes: 1 in = 2.54 cm, 1 ft = 0.3048 m, 1 yd = 3 ft,
1 mi = 1760 yd, 1 lb (avoirdupois) = 453.592 37 g = 16 oz and t/°C = (t/°F - 32)/1.8 exactly.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Generic, TypeVar

from journal.problems import Unreadable, shortened

T = TypeVar("T")
U = TypeVar("U")


@dataclass(frozen=True, slots=True)
class QuantityRemark:
    """Why a value that was read deserves another look; message and fix as in `Problem`."""

    message: str
    fix: str = ""


@dataclass(frozen=True, slots=True)
class Parsed(Generic[T]):
    """A value, with remarks on how it was written."""

    value: T
    remarks: tuple[QuantityRemark, ...] = ()

    def then(self, step: Callable[[T], U]) -> Parsed[U]:
        """What `step` makes of the value, with the same remarks."""
        return Parsed(step(self.value), self.remarks)

    def noting(self, message: str, fix: str = "") -> Parsed[T]:
        """The same value with one more remark."""
        return Parsed(self.value, (*self.remarks, QuantityRemark(message, fix)))


@dataclass(frozen=True, slots=True)
class Mass:
    """g: grams a unit, or grams of the whole lot where in_all."""

    g: float
    in_all: bool = False


@dataclass(frozen=True, slots=True)
class Dimension:
    """What is measured: its name in a message, an example, the factor of each spelling of a unit, its usual units."""

    name: str
    example: str
    factors: Mapping[str, Decimal]
    units: tuple[str, ...]


def _dimension(name: str, example: str, *rows: tuple[str, str]) -> Dimension:
    factors = {unit.casefold(): Decimal(factor) for factor, units in rows for unit in units.split()}
    return Dimension(name, example, factors, tuple(units.split()[0] for _, units in rows))


MASS_G = _dimension(
    "mass",
    "412 g",
    ("1", "g gm gms gram grams gramme grammes"),
    ("1000", "kg kgs kilo kilos kilogram kilograms"),
    ("0.001", "mg"),
    ("28.349523125", "oz ounce ounces"),
    ("453.59237", "lb lbs pound pounds"),
)
VOLUME_ML = _dimension(
    "volume",
    "10 ml",
    ("1", "ml cc cm3 cm³ millilitre millilitres milliliter milliliters"),
    ("10", "cl"),
    ("100", "dl"),
    ("1000", "l litre litres liter liters ltr"),
)
LENGTH_M = _dimension(
    "length",
    "120 cm",
    ("1", "m metre metres meter meters"),
    ("0.01", "cm"),
    ("0.001", "mm"),
    ("1000", "km kilometre kilometres kilometer kilometers"),
    ("0.3048", "ft foot feet ' ′ ’"),
    ("0.0254", 'in inch inches " ″ ”'),
    ("0.9144", "yd yard yards"),
    ("1609.344", "mi mile miles"),
)
FLOW_M3_H = _dimension(
    "flow",
    "200 m³/h",
    ("1", "m3/h m³/h m^3/h m3/hr m³/hr"),
    ("60", "m3/min m³/min"),
    ("3600", "m3/s m³/s"),
    ("3.6", "l/s"),
    ("0.06", "l/min"),
    ("1.69901079552", "cfm ft3/min ft³/min"),  # (0.3048 m)³ × 60
)
DURATION_S = _dimension(
    "duration",
    "2.5 h",
    ("1", "s sec secs second seconds"),
    ("60", "min mins minute minutes"),
    ("3600", "h hr hrs hour hours"),
    ("86400", "d day days"),
    ("604800", "wk week weeks"),
)
AREA_M2 = _dimension("area", "2.2 m²", ("1", "m2 m² m^2 sqm"), ("0.09290304", "ft2 ft² ft^2 sqft"))
ENERGY_KWH = _dimension("energy", "128.4 kWh", ("1", "kWh"), ("0.001", "Wh"), ("1000", "MWh"))
ILLUMINANCE_LUX = _dimension(
    "light level",
    "640 lux",
    ("1", "lux lx"),
    ("1000", "klx klux"),
    ("10.763910416709722", "fc footcandle footcandles foot-candle foot-candles"),  # one lumen on a square foot
)
CO2_PPM = _dimension("share of carbon dioxide", "900 ppm", ("1", "ppm"), ("10000", "%"))

_PERCENT_SIGNS = frozenset({"", "%", "% rh", "%rh", "rh", "% r.h.", "percent", "per cent"})
_SPACES = re.compile("[\\s\u00a0\u2000-\u200a\u202f\u205f\u3000]+")
_NUMBER = re.compile(r"[+-]?(?:[0-9]{1,3}(?: [0-9]{3})+(?![0-9])|[0-9]+)(?:[.,][0-9]+)?|[+-]?\.[0-9]+")
_LIKE_THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}")
_TWO_TERMS = re.compile(r"(?P<first>[^0-9]+?)(?:,| and)? ?(?P<second>[0-9].*)")
_LONGEST = 200
_MOST_DIGITS = 12
_LONGEST_S = Decimal(36_525 * 86_400)
_MOST_COUNTED = 1_000_000


def normalised(text: str) -> str:
    """The text with single plain spaces and plain minus signs, no longer than a quantity can be; may raise."""
    plain = _SPACES.sub(" ", text).strip().replace("\u2212", "-").replace("º", "°")
    if len(plain) > _LONGEST:
        raise Unreadable(f"{shortened(plain)} is too long for a quantity", "write a number and a unit")
    return plain.replace("℃", "°C").replace("℉", "°F")


def _leading_number(text: str, example: str) -> tuple[str, Parsed[Decimal], str]:
    """The text with plain spaces and signs, the number that it begins with, and the rest."""
    plain = normalised(text)
    found = _NUMBER.match(plain)
    if not found:
        raise Unreadable(f"{shortened(plain)} does not start with a number", f"write it like {example}")
    written, rest = found[0], plain[found.end() :].strip()
    if rest[:1] in {",", "."} and rest[1:2].isdigit():
        raise Unreadable(f"{shortened(plain)} has two separators in one number", "write thousands without one: 1200.5")
    bare = written.replace(" ", "").replace(",", ".")
    if len(bare.strip("+-").partition(".")[0].lstrip("0")) > _MOST_DIGITS or len(bare) > 2 * _MOST_DIGITS:
        raise Unreadable(f"{shortened(plain)} has too many digits", f"write it like {example}")
    value = Parsed(Decimal(bare))
    mark = "comma" if "," in written else "point"
    if _LIKE_THOUSANDS.fullmatch(written) and (mark == "comma" or MASS_G.factors.get(_unit(rest)) == 1):
        read, thousands = f"{float(value.value):g}", re.sub("[.,]", "", written)
        value = value.noting(
            f"{written} was read as {read}, because a {mark} is a decimal {mark}",
            f"write {thousands} if you mean thousands, or {read} if not",
        )
    return plain, value, rest


def _unit(written: str) -> str:
    return written.strip().rstrip(".").casefold()


def _quantity(text: str, dimension: Dimension, *, signed: bool = False) -> Parsed[Decimal]:
    """One term ("412 g") or two ("5 lb 2 oz"), in the dimension's base unit."""
    plain, number, rest = _leading_number(text, dimension.example)
    if not signed and number.value < 0:
        raise Unreadable(f"{shortened(plain)} is below zero", f"write a {dimension.name} of 0 or more")
    if not rest:
        raise Unreadable(f"{shortened(plain)} has no unit", f"write one after the number, like {dimension.example}")
    factor = dimension.factors.get(_unit(rest))
    if factor is not None:
        return number.then(lambda value: value * factor)
    parts = _TWO_TERMS.fullmatch(rest)
    large = dimension.factors.get(_unit(parts["first"])) if parts else None
    if not parts or large is None:
        raise _unknown_unit(plain, rest, dimension)
    _, second, unit = _leading_number(parts["second"], dimension.example)
    small = dimension.factors.get(_unit(unit))
    if small is None:
        raise _unknown_unit(plain, unit, dimension)
    if small >= large:
        raise Unreadable(f"{shortened(plain)} names the smaller unit first", f"write it like {dimension.example}")
    sign = -1 if number.value < 0 else 1
    return Parsed(number.value * large + sign * second.value * small, number.remarks + second.remarks)


def _unknown_unit(plain: str, unit: str, dimension: Dimension) -> Unreadable:
    fix = f"write it like {dimension.example}; the units are {', '.join(dimension.units)}"
    return Unreadable(f"{shortened(unit)} in {shortened(plain)} is not a unit of {dimension.name}", fix)


def mass_g(text: str) -> Parsed[float]:
    """Grams, 0 or more: `412 g`, `1.2 kg`, `14.5 oz`, `5 lb 2 oz`. A mass without a unit is not read."""
    return _quantity(text, MASS_G).then(float)


def volume_ml(text: str) -> Parsed[float]:
    """Millilitres, 0 or more: `10 ml`, `7.5 l`."""
    return _quantity(text, VOLUME_ML).then(float)


def water_g(text: str) -> Parsed[float]:
    """Grams of water, by mass or by volume: 1 l is taken as 1 kg (*common practice*; 0.998 kg at 20 °C)."""
    try:
        return volume_ml(text)
    except Unreadable:
        return mass_g(text)


_IN_ALL = re.compile(r"(?P<mass>.+?) ?(?:(?P<all>\bin all)|\beach|\b(?:per|a) unit)", re.IGNORECASE)


def mass_of_lot(text: str) -> Parsed[Mass]:
    """A mass per unit (`2.3 kg`) or of the whole lot (`13.8 kg in all`)."""
    found = _IN_ALL.fullmatch(normalised(text))
    if not found:
        return mass_g(text).then(Mass)
    return mass_g(found["mass"]).then(lambda g: Mass(g, in_all=bool(found["all"])))


def length_m(text: str) -> Parsed[float]:
    """Metres, below zero too (an elevation): `120 cm`, `4 ft`, `6 ft 6 in`."""
    return _quantity(text, LENGTH_M, signed=True).then(float)


def area_m2(text: str) -> Parsed[float]:
    """Square metres, 0 or more: `2.2 m²`, `18 ft²`."""
    return _quantity(text, AREA_M2).then(float)


def energy_kwh(text: str) -> Parsed[float]:
    """Kilowatt hours, 0 or more: `128.4 kWh`, in capital or small letters. Watts are power and are not read."""
    plain, _, rest = _leading_number(text, ENERGY_KWH.example)
    if _unit(rest) in {"w", "kw", "mw"}:
        raise Unreadable(f"{shortened(plain)} is power, not energy", "write what the meter shows in kWh: 128.4 kWh")
    return _quantity(text, ENERGY_KWH).then(float)


def flow_m3_h(text: str) -> Parsed[float]:
    """Cubic metres an hour, 0 or more: `200 m³/h`, `118 cfm`, `55 l/s`."""
    return _quantity(text, FLOW_M3_H).then(float)


def _duration_s(text: str) -> Parsed[Decimal]:
    """Seconds, up to a hundred years: days are added to dates, which end with the year 9999."""
    read = _quantity(text, DURATION_S)
    if read.value > _LONGEST_S:
        raise Unreadable(f"{shortened(text)} is more than a hundred years", "check the number and the unit")
    return read


def duration_d(text: str) -> Parsed[float]:
    """Days, 0 or more: `7 d`, `2 weeks`, `36 h`."""
    return _duration_s(text).then(lambda s: float(s / 86400))


def duration_min(text: str) -> Parsed[float]:
    """Minutes, 0 or more: `15 min`, `30 s`, `1 h`."""
    return _duration_s(text).then(lambda s: float(s / 60))


def illuminance_lux(text: str) -> Parsed[float]:
    """Lux, 0 or more: `640 lux`, `1.2 klx`, `60 fc`."""
    return _quantity(text, ILLUMINANCE_LUX).then(float)


SIGNS: Mapping[str, frozenset[str]] = {
    "£": frozenset({"GBP"}),
    "€": frozenset({"EUR"}),
    "$": frozenset({"USD", "CAD", "AUD", "NZD", "SGD", "HKD", "MXN"}),
    "¥": frozenset({"JPY", "CNY"}),
    "kr": frozenset({"SEK", "NOK", "DKK", "ISK"}),
    "zł": frozenset({"PLN"}),
    "kč": frozenset({"CZK"}),
    "₹": frozenset({"INR"}),
}
"""Signs of money, with the currencies (ISO 4217) that they may stand for here."""

_OF_THOUSANDTHS = {"BHD", "IQD", "JOD", "KWD", "LYD", "OMR", "TND"}  # ISO 4217, list one: three decimals
_CODE = re.compile(r"[A-Za-z]{3}")


@dataclass(frozen=True, slots=True)
class Money:
    """An amount of money. currency: its sign or code as written, "" where a bare number was."""

    amount: float
    currency: str = ""

    def is_in(self, code: str | None) -> bool:
        """Whether it may be in the currency of that ISO 4217 code; a bare number may be in any."""
        written = self.currency.casefold()
        return not written or (code is not None and (written == code.casefold() or code in SIGNS.get(written, ())))


def money(text: str) -> Parsed[Money]:
    """An amount, 0 or more, with or without a sign or ISO 4217 code: `18.40`, `£18.40`, `18,40 EUR`."""
    plain = normalised(text)
    bare = re.sub("^[^0-9.,+-]+", "", plain)
    sign = plain.removesuffix(bare).strip()
    read, number, rest = _leading_number(bare, "18.40")
    written = sign or rest
    is_known = not written or written.casefold() in SIGNS or _CODE.fullmatch(written)
    if (sign and rest) or not is_known:
        raise Unreadable(f"{shortened(plain)} is not an amount of money", "write the amount alone, like 18.40")
    if number.value < 0:
        raise Unreadable(f"{shortened(read)} is below zero", "write an amount of 0 or more")
    if -int(number.value.as_tuple().exponent) > 2 and not number.remarks and written.upper() not in _OF_THOUSANDTHS:
        fix = f"write {number.value:.2f}, or thousands without a mark"
        number = number.noting(f"{shortened(read)} has more than two decimals", fix)
    return number.then(lambda amount: Money(float(amount), written))


def co2_ppm(text: str) -> Parsed[float]:
    """Parts per million by volume, 0 or more: `900 ppm`, `0.09 %`."""
    return _quantity(text, CO2_PPM).then(float)


def temperature_c(text: str) -> Parsed[float]:
    """Degrees Celsius: `16 °C`, `61 °F`, `289 K`. Not read below absolute zero (-273.15 °C) or without a unit."""
    plain, number, rest = _leading_number(text, "16 °C")
    unit = _unit(rest).replace("deg", "").replace("°", "").strip()
    if unit not in _TO_CELSIUS:
        message = f"{shortened(plain)} has no unit" if not unit else f"{shortened(rest)} is not a unit of temperature"
        raise Unreadable(message, "write it like 16 °C or 61 °F")
    read = number.then(_TO_CELSIUS[unit])
    if read.value < Decimal("-273.15"):
        raise Unreadable(f"{shortened(plain)} is below absolute zero", "write it like 16 °C or 61 °F")
    return read.then(float)


_TO_CELSIUS: Mapping[str, Callable[[Decimal], Decimal]] = {
    "c": lambda c: c,
    "f": lambda f: (f - 32) / Decimal("1.8"),
    "k": lambda k: k - Decimal("273.15"),
}


def percentage(text: str) -> Parsed[float]:
    """Per cent, of any size: `92 %`, `92% RH`, `92`."""
    plain, number, rest = _leading_number(text, "92 %")
    if rest.casefold() not in _PERCENT_SIGNS:
        raise Unreadable(f"{shortened(plain)} is not a percentage", "write it like 92 %")
    return number.then(float)


def kelvin(text: str) -> Parsed[float]:
    """A colour temperature in kelvin, above 0: `6500 K`, `6500`."""
    plain, number, rest = _leading_number(text, "6500 K")
    if _unit(rest) not in {"", "k", "kelvin"} or number.value <= 0:
        raise Unreadable(f"{shortened(plain)} is not a colour temperature", "write it in kelvin, like 6500 K")
    return number.then(float)


def to_fahrenheit(celsius: float) -> float:
    return celsius * 9 / 5 + 32


def to_celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) * 5 / 9


def count(text: str, least: int = 0) -> Parsed[int]:
    """A whole number from `least` to a million: `5`."""
    plain, number, rest = _leading_number(text, "5")
    if rest or "." in plain or "," in plain:
        raise Unreadable(f"{shortened(plain)} is not a whole number", "write the number alone, like 5")
    if not least <= number.value <= _MOST_COUNTED:
        raise Unreadable(f"{shortened(plain)} is not between {least} and {_MOST_COUNTED}", "write how many, like 5")
    return number.then(int)


def counted(number: int, one: str, several: str | None = None) -> str:
    """`1 block`, `1,200 blocks`; several: the plural where it is not made with an `s`."""
    return f"{number:,} {one if number == 1 else several or one + 's'}"


def size_in_mb(size_bytes: int, *, roughly: bool = False) -> str:
    """A size in MB (10^6 bytes): `12.3 MB`, `under 0.1 MB`; roughly, for what a device saves: `9.9 MB`, `12 MB`."""
    megabytes = size_bytes / 1_000_000
    if roughly:
        return f"{megabytes:.1f} MB" if megabytes < 9.95 else f"{megabytes:,.0f} MB"
    return f"{megabytes:,.1f} MB" if size_bytes >= 50_000 else "under 0.1 MB"
