"""From the text of a key to the typed value that the model needs."""

from __future__ import annotations

import re
import types
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import tzinfo
from types import MappingProxyType
from typing import Any, TypedDict

from journal import quantities
from journal.amounts import lengths, number, temperatures
from journal.analysis.limits import Limit, limit
from journal.model import Colony, MixPart, Next, Position, Ref, When
from journal.problems import Unreadable, shortened
from journal.quantities import Mass, Money, Parsed, duration_min, mass_g, normalised, percentage
from journal.reading.dates import read_next, read_when
from journal.reading.everyday_words import fix_of_word, word_meant
from journal.reading.keys import KEYS, Key, canonical
from journal.reading.measures import colony, log_file, working_min
from journal.settings import Exhaust, LabelSize, LightHours, ValueRange

_NUMBER = r"[+-]?[0-9][0-9.,]*"
_RANGE = re.compile(
    rf"(?P<low>{_NUMBER}) ?(?P<unit>[^0-9]*?) ?(?:[-–—]|\bto\b) ?(?P<high>{_NUMBER}) ?(?P<last>[^0-9]*)"
)


def _range(text: str, reader: Callable[[str], Parsed[float]], example: str) -> Parsed[ValueRange]:
    plain = normalised(text)
    found = _RANGE.fullmatch(plain)
    if not found:
        raise Unreadable(f"{shortened(plain)} is not a range", f"write both ends, like {example}")
    high = reader(f"{found['high']} {found['last']}")
    low = reader(f"{found['low']} {found['unit'] or found['last']}")
    read = Parsed(ValueRange(*sorted((low.value, high.value))), low.remarks + high.remarks)
    if low.value > high.value:
        message = f"{shortened(plain)} has the higher end first and was read the other way round"
        return read.noting(message, f"write the lower end first, like {example}")
    return read


def humidity_range(text: str) -> Parsed[ValueRange]:
    """A range in %: `85–95 %`, `85-95 %`, `85 to 95 %`; with a remark on what no tent has."""
    found = _range(text, percentage, "85–95 %")
    usual = limit("humidity_pct")
    if not (usual.allows(found.value.low) and usual.allows(found.value.high)):
        return found.noting(f"{shortened(text)} is outside {usual} %", "check the numbers")
    return found


def temperature_range(text: str) -> Parsed[ValueRange]:
    """A range in °C: `12–18 °C`, `54 to 64 °F`, `-2–4 °C`; with a remark on what no tent has."""
    return _range(text, air_temperature, "12–18 °C")


_LIGHT_EXAMPLE = "write it like 12 h on, 12 h off, or 12:12, or 06:30–18:30"
_CLOCK = r"([01]?[0-9]|2[0-4]):([0-5][0-9])"
_CLOCK_TIMES = re.compile(rf"{_CLOCK} ?(?:[-–—]|\bto\b) ?{_CLOCK}")
_HOURS = r"([0-9]{1,2}(?:[.,][0-9]+)?)"
_ON_AND_OFF = re.compile(
    rf"{_HOURS} ?(?:h|hours?|hrs?) on ?[,/;:+]? ?(?:and )?{_HOURS} ?(?:h|hours?|hrs?) off", re.IGNORECASE
)
_RATIO = re.compile(rf"{_HOURS} ?[:/] ?{_HOURS}")


def light_hours(text: str) -> Parsed[LightHours]:
    """Hours of light a day: `12 h on, 12 h off`, `12:12`, `12/12`, `06:30–18:30`, or `on` and `off` for all and none.

    Hours on and off make 24; clock times may run over midnight and are not the same.
    """
    plain = normalised(text)
    if plain.casefold() in {"on", "off"}:
        return Parsed(LightHours(24.0 if plain.casefold() == "on" else 0.0))
    if clock := _CLOCK_TIMES.fullmatch(plain):
        from_h, from_min, to_h, to_min = map(int, clock.groups())
        lit_from, lit_to = 60 * from_h + from_min, 60 * to_h + to_min
        if max(lit_from, lit_to) > 24 * 60 or lit_from == lit_to:
            raise Unreadable(f"{shortened(plain)} is not two different times of day", _LIGHT_EXAMPLE)
        lit_min = (lit_to - lit_from) % (24 * 60) or 24 * 60
        return Parsed(LightHours(lit_min / 60, f"{from_h:02}:{from_min:02}", f"{to_h:02}:{to_min:02}"))
    shares = _ON_AND_OFF.fullmatch(plain) or _RATIO.fullmatch(plain)
    if not shares:
        raise Unreadable(f"{shortened(plain)} is not a light schedule", _LIGHT_EXAMPLE)
    on_h, off_h = (float(part.replace(",", ".")) for part in shares.groups())
    if abs(on_h + off_h - 24) > 1e-9:
        message = f"the hours on and off in {shortened(plain)} add up to {on_h + off_h:g}, not 24"
        raise Unreadable(message, _LIGHT_EXAMPLE)
    return Parsed(LightHours(on_h))


_CYCLE = re.compile(r"(?:(?P<on>[0-9].*?) (?:on )?)?every (?P<every>.+)", re.IGNORECASE)


def exhaust(text: str) -> Parsed[Exhaust]:
    """How an exhaust runs: `2 min every 15 min`, `every 15 min` (run time unknown), `on`, `off`."""
    plain = normalised(text)
    if plain.casefold() == "on":
        return Parsed(Exhaust("on"))
    if plain.casefold() == "off":
        return Parsed(Exhaust("off"))
    found = _CYCLE.fullmatch(plain)
    if not found:
        fix = "write it like 2 min every 15 min, or on, or off"
        raise Unreadable(f"{shortened(plain)} is not an exhaust cycle", fix)
    every = duration_min(found["every"] if found["every"][0].isdigit() else f"1 {found['every']}")
    on = duration_min(found["on"]) if found["on"] else None
    if every.value <= 0 or (on and on.value > every.value):
        raise Unreadable(f"{shortened(plain)} runs longer than its interval", "write it like 2 min every 15 min")
    remarks = every.remarks + (on.remarks if on else ())
    return Parsed(Exhaust("cycle", on.value if on else None, every.value), remarks)


_AMOUNT = r"[0-9][0-9.,]*(?: [0-9]{3})* ?[a-z]+(?:(?:,| and)? [0-9][0-9.,]* ?(?:oz|ounces?))?\.?"
_NAME_FIRST = re.compile(rf"(?P<name>.*?[^\s:=]) ?[:=]? (?P<mass>{_AMOUNT})", re.IGNORECASE)
_MASS_FIRST = re.compile(rf"(?P<mass>{_AMOUNT}) (?:of )?(?P<name>[^0-9].*)", re.IGNORECASE)


_WATER = re.compile(r"\bwater\b", re.IGNORECASE)
_VOLUME = re.compile(rf"[0-9 ](?:{'|'.join(map(re.escape, quantities.VOLUME_ML.factors))})\.?$", re.IGNORECASE)


def mix_part(text: str) -> Parsed[MixPart]:
    """One part of a mix, name and mass in either order: `oak pellets 5 kg`, `5 lb 2 oz wheat bran`; of water also a
    volume, `water 7.5 l`."""
    plain = normalised(text)
    for pattern in (_NAME_FIRST, _MASS_FIRST):
        if found := pattern.fullmatch(plain):
            name = found["name"]
            is_water = _WATER.search(name) is not None
            if not is_water and _VOLUME.search(found["mass"]):
                fix = "weigh it; only of water is 1 l read, as 1 kg"
                raise Unreadable(f"{shortened(plain)} is a volume, not a mass", fix)
            amount = (quantities.water_g if is_water else mass_g)(found["mass"])
            return amount.then(lambda g: MixPart(name, g))  # noqa: B023
    raise Unreadable(f"{shortened(plain)} has no mass", "write a name and a mass, like oak pellets 5 kg")


_ID = re.compile(r"[A-Za-z][A-Za-z0-9-]{0,31}")
_PART = re.compile(r"\.0*([1-9][0-9]{0,5})")
# Windows' device names, which no file or folder may have. Source: Microsoft, Naming Files, Paths, and Namespaces.
_RESERVED = frozenset(
    {
        "con",
        "prn",
        "aux",
        "nul",
        "conin$",
        "conout$",
        *(f"{port}{n}" for port in ("com", "lpt") for n in "123456789¹²³"),
    }
)

# Pages of the site in the folders of ID pages: a thing with that ID would have no page of its own.
TAKEN = frozenset({"compare"})


def is_reserved(name: str) -> bool:
    """Whether Windows takes the name of a file or folder for one of its devices: also with an ending (`nul.jpg`)."""
    return name.partition(".")[0].rstrip(" ").lower() in _RESERVED


def parse_id(text: str) -> str:
    """The ID as written, without surrounding white space. Raises Unreadable if it cannot be an ID."""
    found = text.strip()
    if not _ID.fullmatch(found) or found.endswith("-"):
        fix = "write a letter A-Z, then up to 31 letters, digits and hyphens, with no hyphen at the end: B-031"
        raise Unreadable(f"{shortened(found)} cannot be an ID", fix)
    if is_reserved(found):
        raise Unreadable(f"{shortened(found)} is a name reserved by Windows", f"add a number: {found}-1")
    if found.lower() in TAKEN:
        raise Unreadable(f"{shortened(found)} is the address of a page of the site", f"add a number: {found}-1")
    return found


def parse_ref(text: str) -> Ref:
    """An ID, or a part of what it names: `B-031.2` is unit 2 of B-031. Raises Unreadable."""
    found = text.strip()
    name, dot, _ = found.partition(".")
    if not dot:
        return Ref(parse_id(found))
    number = _PART.fullmatch(found[len(name) :])
    if not number:
        raise Unreadable(f"{shortened(found)} does not name a part", "write a number from 1 after the dot: B-031.2")
    return Ref(parse_id(name), int(number[1]))


_LABEL_SIZE = re.compile(
    r"([0-9.]+) ?[x×] ?([0-9.]+) ?mm(?:, margin ([0-9.]+) ?[x×] ?([0-9.]+) ?mm)?"
    r"(?:, gap ([0-9.]+) ?[x×] ?([0-9.]+) ?mm)?"
)
LEAST_LABEL_MM, MOST_LABEL_MM = (22.0, 12.0), (200.0, 260.0)
"""Width and height: what has room for a code of 21 modules of 0.4 mm in its quiet zone, and what a sheet holds."""


def parse_label_size(text: str) -> LabelSize:
    """`38.1 x 21.2 mm, margin 4.7 x 10.7 mm, gap 2.5 x 0 mm`; margin and gap may be left out. Raises Unreadable."""
    found = _LABEL_SIZE.fullmatch(" ".join(text.split()))
    try:
        numbers = [float(number) if number else None for number in found.groups()] if found else []
    except ValueError:
        numbers = []
    if not numbers:
        fix = "write it like 40 x 20 mm, or 38 x 21 mm, margin 5 x 11 mm, gap 2.5 x 0 mm"
        raise Unreadable(f"{shortened(text)} is not a size of labels", fix)
    width, height, left, top, across, down = numbers
    (least_width, least_height), (most_width, most_height) = LEAST_LABEL_MM, MOST_LABEL_MM
    if not (least_width <= (width or 0) <= most_width and least_height <= (height or 0) <= most_height):
        between = f"{least_width:g} x {least_height:g} mm to {most_width:g} x {most_height:g} mm"
        raise Unreadable(f"{shortened(text)} is too small or too large for a label", f"write one of {between}")
    margin = None if left is None or top is None else (left, top)
    gap = (across or 0.0, down or 0.0)
    return LabelSize(name="", width_mm=width or 0, height_mm=height or 0, margin_mm=margin, gap_mm=gap)


ValueReader = Callable[[str, Key, tzinfo], Parsed[Any]]

_DIGIT = re.compile("[0-9]")
_METRES = re.compile(r"(?<![a-z])[kcm]?m(?:et(?:re|er)s?)?\.?\s*$", re.IGNORECASE)
_CONTROLS = re.compile("[\x00-\x08\x0b-\x1f\x7f]")
_MOST_DRY_BASIS_PCT = 85


@dataclass(frozen=True, slots=True)
class Notation:
    """How a text is read. example: a readable value, for documents and new entries.

    read: takes the text, the key and the journal's time zone; gives the value and its remarks, or raises
    Unreadable. makes: the type of the value.
    """

    read: ValueReader
    example: str
    makes: Any


def _plain(reader: Callable[[str], Parsed[Any]], example: str, makes: Any) -> Notation:
    return Notation(lambda text, _key, _zone: reader(text), example, makes)


def text_value(text: str) -> Parsed[str]:
    """The text itself; one with control characters is not read."""
    if _CONTROLS.search(text):
        raise Unreadable("it contains a control character", "type it again")
    return Parsed(text)


def _word(text: str, key: Key, _zone: tzinfo) -> Parsed[str]:
    word = word_meant(key.name, text, key.words)
    if word is None:
        raise Unreadable(f"{shortened(text)} is not a {key.name}", fix_of_word(key.name, text, key.words))
    return Parsed(word)


def _stage(text: str) -> Parsed[str]:
    """A stage as written, because the allowed stages and their meaning depend on what the note is about."""
    if _DIGIT.search(text):
        raise Unreadable(f"{shortened(text)} is not a stage", "write the stage alone; `journal keys note` lists them")
    return text_value(text).then(canonical)


def yes_or_no(text: str) -> Parsed[bool]:
    """`yes` or `no` (also true, false)."""
    word = canonical(text)
    is_yes = word in ("yes", "true", "y", "on")
    if not is_yes and word not in ("no", "false", "n", "off"):
        raise Unreadable(f"{shortened(text)} is not yes or no", "write yes or no")
    return Parsed(is_yes)


def photo(text: str) -> Parsed[tuple[str, str | None]]:
    """A file name, with an optional caption after a colon and a space."""
    name, _, caption = text_value(text).value.partition(": ")
    return Parsed((name.strip(), caption.strip() or None))


def humidity(text: str) -> Parsed[float]:
    """Relative humidity, %; with a remark on what no tent has, and where a share (0.92) seems to have been written."""
    read = _noting_share(text, quantities.percentage(text))
    usual = limit("humidity_pct")
    if not (usual.allows(read.value) or read.remarks):
        return read.noting(f"{shortened(text)} is outside {usual} %", "check the number")
    return read


def _noting_share(text: str, read: Parsed[float]) -> Parsed[float]:
    if 0 < read.value < 1:
        fix = f"write {read.value * 100:g} %, if you mean that"
        return read.noting(f"{shortened(text)} was read as {read.value:g} %", fix)
    return read


def moisture(text: str) -> Parsed[float]:
    """Wet-basis moisture, %; with a remark over 85; not read from 100 or below 0."""
    read = quantities.percentage(text)
    if not 0 <= read.value < 100:
        fix = "write water / (water + dry mass), under 100 %; for a dry-basis value d that is d / (100 + d) x 100"
        raise Unreadable(f"{shortened(text)} cannot be a wet-basis moisture", fix)
    if read.value > _MOST_DRY_BASIS_PCT:
        fix = f"if it is dry-basis, write {number(100 * read.value / (100 + read.value), 0)} %"
        return read.noting(f"a moisture of {read.value:g} % is more than substrate can hold", fix)
    return _noting_share(text, read)


def air_temperature(text: str) -> Parsed[float]:
    """°C; with a remark on what no tent has, in the unit of the text."""
    usual = limit("temperature_c")
    limits = temperatures(usual.low or 0, usual.high or 0, "us" if text.rstrip(" .")[-1:] in "Ff" else "metric")
    return _within(usual, quantities.temperature_c(text), f"{shortened(text)} is outside {limits}, so no tent's")


def elevation_m(text: str) -> Parsed[float]:
    """Metres above sea level; with a remark where hardly anybody is, in feet if the text is not in metres."""
    usual = limit("elevation_m")
    limits = lengths(usual.low or 0, usual.high or 0, "metric" if _METRES.search(text) else "us")
    return _within(usual, quantities.length_m(text), f"an elevation of {shortened(text)} is outside {limits}")


def _within(usual: Limit, read: Parsed[float], remark: str) -> Parsed[float]:
    return read if usual.allows(read.value) else read.noting(remark, "check the number and its unit")


def colour_temperature(text: str) -> Parsed[float]:
    """K; with a remark outside 1000 to 25000."""
    read = quantities.kelvin(text)
    if not 1000 <= read.value <= 25000:
        return read.noting(f"{shortened(text)} is not a usual colour temperature", "check the number")
    return read


def position(text: str) -> Parsed[Any]:
    """A model.Position."""
    from journal.geo.parse import parse_position

    return Parsed(parse_position(text))


NOTATIONS: Mapping[str, Notation] = MappingProxyType(
    {
        "text": _plain(text_value, "willow, wet ground", str),
        "names": _plain(
            lambda text: text_value(", ".join(name for part in text.split(",") if (name := part.strip()))),
            "strip-1",
            str,
        ),
        "word": Notation(_word, "", str),
        "stage": _plain(_stage, "pinning", str),
        "yes or no": _plain(yes_or_no, "yes", bool),
        "date": Notation(lambda text, _key, zone: read_when(text, zone), "2026-10-03 14:05", When),
        "next": _plain(read_next, "2026-11-28 raise the duct's far end", Next),
        "photo": _plain(photo, "IMG_0533.jpg: pins on the shaded side", tuple[str, str | None]),
        "log file": _plain(log_file, "core-2026-10-05.csv: Probe 1", tuple[str, str | None]),
        "id": _plain(lambda text: Parsed(parse_id(text)), "B-031", str),
        "reference": _plain(lambda text: Parsed(parse_ref(text)), "B-031.2", Ref),
        "position": _plain(position, "58.30412, -8.90177 ±8 m", Position),
        "length": _plain(quantities.length_m, "120 m", float),
        "elevation": _plain(elevation_m, "120 m", float),
        "mass": _plain(quantities.mass_g, "412 g", float),
        "volume": _plain(quantities.volume_ml, "10 ml", float),
        "mass of a lot": _plain(quantities.mass_of_lot, "13.8 kg in all", Mass),
        "mix part": _plain(mix_part, "oak pellets 5 kg", MixPart),
        "colony": _plain(colony, "34 × 36 mm", Colony),
        "count": _plain(quantities.count, "2", int),
        "count from 1": _plain(lambda text: quantities.count(text, 1), "4", int),
        "moisture": _plain(moisture, "62 %", float),
        "humidity": _plain(humidity, "92 %", float),
        "percentage": _plain(quantities.percentage, "3 %", float),
        "temperature": _plain(air_temperature, "16 °C", float),
        "humidity range": _plain(humidity_range, "90–95 %", ValueRange),
        "temperature range": _plain(temperature_range, "12–18 °C", ValueRange),
        "light hours": _plain(light_hours, "12 h on, 12 h off", LightHours),
        "colour temperature": _plain(colour_temperature, "6500 K", float),
        "exhaust": _plain(exhaust, "2 min every 15 min", Exhaust),
        "energy": _plain(quantities.energy_kwh, "128.4 kWh", float),
        "co2": _plain(quantities.co2_ppm, "900 ppm", float),
        "light level": _plain(quantities.illuminance_lux, "640 lux", float),
        "minutes": _plain(working_min, "25", float),
        "money": _plain(quantities.money, "18.40", Money),
    }
)
"""By the name that a `Key` gives in `notation`. A "word" is one of the key's own words."""


def _value_types() -> dict[str, Any]:
    """The types of each key's value; those of one name that differ by kind of entry as a union."""
    found: dict[str, Any] = {}
    for keys in KEYS.values():
        for key in keys.values():
            one: Any = NOTATIONS[key.notation].makes
            given = types.GenericAlias(tuple, (one, ...)) if key.several else one
            found[key.name] = found[key.name] | given if key.name in found else given
    return found


VALUES: Any = TypedDict("VALUES", _value_types(), total=False)  # type: ignore[misc]
"""The values of an entry, by canonical key: what a `Draft` may hold."""
