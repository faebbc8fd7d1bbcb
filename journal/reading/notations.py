"""The notations that a key's value can be in: from a text to the typed value that the model needs."""

from __future__ import annotations

import re
import types
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import tzinfo
from types import MappingProxyType
from typing import Any, TypedDict

from journal import quantities
from journal.model import Band, Exhaust, LightHours, MixPart, Next, Position, Ref, When
from journal.problems import Unreadable, nearest, shortened
from journal.quantities import Mass, Read
from journal.reading import regimes
from journal.reading.dates import read_next, read_when
from journal.reading.ids import parse_id, parse_ref
from journal.reading.keys import KEYS, Key, canonical

Reader = Callable[[str, Key, tzinfo], Read[Any]]

_CONTROLS = re.compile("[\x00-\x08\x0b-\x1f\x7f]")
_MOST_DRY_BASIS_PCT = 85
_AIR_C = (-40, 60)
_LAMPS_K = (1000, 25000)


@dataclass(frozen=True, slots=True)
class Notation:
    """How a text is read. example: one that can be read, for documents and new entries.

    read: takes the text, the key and the journal's time zone; gives the value and what is odd about it, or raises
    Unreadable. makes: the type of the value.
    """

    read: Reader
    example: str
    makes: Any


def _plain(reader: Callable[[str], Read[Any]], example: str, makes: Any) -> Notation:
    return Notation(lambda text, _key, _zone: reader(text), example, makes)


def text_value(text: str) -> Read[str]:
    """The text itself; one with control characters is not read."""
    if _CONTROLS.search(text):
        raise Unreadable("it holds a character that is no text", "type it anew")
    return Read(text)


def _names(text: str) -> Read[str]:
    return text_value(", ".join(name for part in text.split(",") if (name := part.strip())))


def _word(text: str, key: Key, _zone: tzinfo) -> Read[str]:
    word = canonical(text)
    if word not in key.words:
        near = nearest(word[:60], key.words)
        known = " · ".join(key.words)
        raise Unreadable(
            f"{shortened(text)} is no {key.name}",
            f"did you mean {near}? It is one of {known}" if near else f"write one of {known}",
        )
    return Read(word)


_YES = frozenset({"yes", "true", "y", "on"})
_NO = frozenset({"no", "false", "n", "off"})


def yes_or_no(text: str) -> Read[bool]:
    """`yes` or `no` (also true, false)."""
    word = canonical(text)
    if word not in _YES | _NO:
        raise Unreadable(f"{shortened(text)} is neither yes nor no", "write yes or no")
    return Read(word in _YES)


def photo(text: str) -> Read[tuple[str, str | None]]:
    """A file name, with a caption after a colon and a space where there is one."""
    name, _, caption = text_value(text).value.partition(": ")
    return Read((name.strip(), caption.strip() or None))


def humidity(text: str) -> Read[float]:
    """Relative humidity, %; *odd* outside 0 to 100, and where a share (0.92) seems to have been written."""
    read = quantities.percentage(text)
    if not 0 <= read.value <= 100:
        return read.noting(f"{shortened(text)} is outside 0 to 100 %", "look at it again")
    return _noting_share(text, read)


def _noting_share(text: str, read: Read[float]) -> Read[float]:
    if 0 < read.value < 1:
        return read.noting(
            f"{shortened(text)} was read as {read.value:g} %", f"write {read.value * 100:g} % if that is meant"
        )
    return read


def moisture(text: str) -> Read[float]:
    """Wet-basis moisture, %; *odd* over 85, not read from 100 or below 0."""
    read = quantities.percentage(text)
    if not 0 <= read.value < 100:
        raise Unreadable(
            f"{shortened(text)} cannot be a wet-basis moisture",
            "it is water / (water + dry mass), under 100 %; a dry-basis value d is d / (100 + d) x 100",
        )
    if read.value > _MOST_DRY_BASIS_PCT:
        return read.noting(
            f"a moisture of {read.value:g} % is more than substrate holds",
            f"if it is dry-basis, write {100 * read.value / (100 + read.value):.0f} %",
        )
    return _noting_share(text, read)


def air_temperature(text: str) -> Read[float]:
    """°C; *odd* outside -40 to 60."""
    read = quantities.temperature_c(text)
    if not _AIR_C[0] <= read.value <= _AIR_C[1]:
        return read.noting(f"{shortened(text)} is no temperature of a room", "look at its unit again")
    return read


def colour_temperature(text: str) -> Read[float]:
    """K; *odd* outside 1000 to 25000."""
    read = quantities.kelvin(text)
    if not _LAMPS_K[0] <= read.value <= _LAMPS_K[1]:
        return read.noting(f"{shortened(text)} is no colour temperature of a lamp", "look at it again")
    return read


def position(text: str) -> Read[Any]:
    """A model.Position."""
    from journal.reckoning.places import parse_position

    return Read(parse_position(text))


NOTATIONS: Mapping[str, Notation] = MappingProxyType(
    {
        "text": _plain(text_value, "willow, wet ground", str),
        "names": _plain(_names, "strip-1", str),
        "word": Notation(_word, "", str),
        "yes or no": _plain(yes_or_no, "yes", bool),
        "date": Notation(lambda text, _key, zone: read_when(text, zone), "2026-10-03 14:05", When),
        "next": _plain(read_next, "2026-11-28 raise the duct's far end", Next),
        "photo": _plain(photo, "IMG_0533.jpg: pins on the shaded side", tuple[str, str | None]),
        "id": _plain(lambda text: Read(parse_id(text)), "B-031", str),
        "reference": _plain(lambda text: Read(parse_ref(text)), "B-031.2", Ref),
        "position": _plain(position, "58.30412, -8.90177 ±8 m", Position),
        "length": _plain(quantities.length_m, "120 m", float),
        "mass": _plain(quantities.mass_g, "412 g", float),
        "mass of a lot": _plain(quantities.mass_of_lot, "13.8 kg in all", quantities.Mass),
        "mix part": _plain(regimes.mix_part, "oak pellets 5 kg", MixPart),
        "count": _plain(quantities.count, "2", int),
        "count from 1": _plain(lambda text: quantities.count(text, 1), "4", int),
        "moisture": _plain(moisture, "62 %", float),
        "humidity": _plain(humidity, "92 %", float),
        "percentage": _plain(quantities.percentage, "3 %", float),
        "temperature": _plain(air_temperature, "16 °C", float),
        "humidity band": _plain(regimes.humidity_band, "90–95 %", Band),
        "temperature band": _plain(regimes.temperature_band, "12–18 °C", Band),
        "light hours": _plain(regimes.light_hours, "12 h on, 12 h off", LightHours),
        "colour temperature": _plain(colour_temperature, "6500 K", float),
        "exhaust": _plain(regimes.exhaust, "2 min every 15 min", Exhaust),
        "co2": _plain(quantities.co2_ppm, "900 ppm", float),
    }
)
"""By the name that a `Key` gives in `notation`. A "word" is one of the key's own words."""

GIVES: Mapping[str, Any] = MappingProxyType(
    {
        **dict.fromkeys(("text", "names", "word", "id"), str),
        **dict.fromkeys(("count", "count from 1"), int),
        **dict.fromkeys(("length", "mass", "moisture", "humidity", "percentage", "temperature"), float),
        **dict.fromkeys(("colour temperature", "co2"), float),
        **dict.fromkeys(("humidity band", "temperature band"), Band),
        "yes or no": bool,
        "date": When,
        "next": Next,
        "photo": tuple[str, str | None],
        "reference": Ref,
        "position": Position,
        "mass of a lot": Mass,
        "mix part": MixPart,
        "light hours": LightHours,
        "exhaust": Exhaust,
    }
)
"""The type of the value that each notation gives."""


def _value_types() -> dict[str, Any]:
    """The types of each key's value; those of one name that differ by kind of entry as a union."""
    found: dict[str, Any] = {}
    for keys in KEYS.values():
        for key in keys.values():
            one: Any = GIVES[key.notation]
            given = types.GenericAlias(tuple, (one, ...)) if key.several else one
            found[key.name] = found[key.name] | given if key.name in found else given
    return found


VALUES: Any = TypedDict("VALUES", _value_types(), total=False)  # type: ignore[misc]
"""The values of an entry, by canonical key: what a `Draft` may hold."""
