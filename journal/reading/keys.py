"""The keys of an entry's front matter: one table, by kind.

Whatever needs to know a key asks here: the reader of entries, the command that writes a new one, the tests of the
documents. Names are canonical: lower-case words with single spaces between them ("humidity set point").
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

KINDS = ("find", "culture", "batch", "note", "tent", "device")

_BATCH_STAGES = (
    "inoculated", "colonising", "colonised", "pinning", "fruiting", "resting", "spent", "contaminated", "discarded",
    "stored",
)  # fmt: skip
_CULTURE_STAGES = ("clean", "sectored", "doubtful", "dead")

STAGES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "batch": _BATCH_STAGES,
        "culture": (*_BATCH_STAGES, *_CULTURE_STAGES),
        "find": ("nothing there", "young", "prime", "past"),
        "device": ("faulty", "dead", "put away"),
        "tent": (),
    }
)
"""The stages that a note may give, by the kind of what it is about."""

_ALL_STAGES = tuple(dict.fromkeys(stage for stages in STAGES.values() for stage in stages))
_CERTAINTIES = ("confirmed", "likely", "unsure")


@dataclass(frozen=True, slots=True)
class Key:
    """One key of one kind of entry.

    name: canonical.
    notation: how its value is read: a name in `journal.reading.values.NOTATIONS`.
    several: it takes a list; its value is a tuple.
    commas: a comma-separated line is a list too.
    required: an entry of that kind without it is *wrong*.
    words: the words it may be; for the notation "text" merely the usual ones.
    whole: one value of the list that cannot be read costs them all.
    """

    name: str
    notation: str = "text"
    several: bool = False
    commas: bool = False
    required: bool = False
    words: tuple[str, ...] = ()
    whole: bool = False


def _words(name: str, *words: str) -> Key:
    return Key(name, "word", words=words)


def _texts(names: str) -> tuple[Key, ...]:
    return tuple(Key(name.strip()) for name in names.split(","))


_ID = Key("id", "id", required=True)

_COMMON = (
    Key("kind", "word", required=True, words=KINDS),
    Key("date", "date"),
    *_texts("title, by"),
    Key("photos", "photo", several=True),
    Key("private", "yes or no"),
    Key("next", "next", several=True),
    Key("done", several=True),
)

_FIND = (
    _ID,
    Key("species"),
    _words("certainty", *_CERTAINTIES),
    Key("identified by"),
    Key("where", "position"),
    *_texts("place, habitat, growing on, host, growth, smell, weather"),
    Key("elevation", "length"),
    *_texts("spore print, specimen, permission"),
    _words("locality", "hidden", "area", "exact"),
)

_CULTURE = (
    _ID,
    Key("from", "reference", several=True, commas=True),
    *_texts("received from, species"),
    _words("method", "tissue", "spores", "transfer", "received"),
    _words("form", "plate", "slant", "liquid", "grain", "sawdust", "plugs", "spore print"),
    *_texts("medium, treatment"),
    Key("vessels", "count from 1"),
    Key("transfers before", "count"),
    Key("master", "yes or no"),
    Key("kept"),
)

_BATCH = (
    _ID,
    Key("culture", "reference", several=True, commas=True),
    *_texts("substrate, container"),
    Key("units", "count from 1"),
    Key("mix", "mix part", several=True, commas=True, whole=True),
    Key("wet mass", "mass of a lot"),
    Key("moisture", "moisture"),
    Key("dry mass", "mass of a lot"),
    Key("treatment"),
    Key("spawn mass", "mass"),
    Key("tent", "id"),
    Key("wants humidity", "humidity band"),
    Key("wants temperature", "temperature band"),
)

_NOTE = (
    Key("about", "reference", several=True, commas=True),
    Key("stage", "word", words=_ALL_STAGES),
    Key("harvest", "mass"),
    Key("dried", "mass"),
    Key("flush", "count from 1"),
    Key("lost", "count"),
    Key("cause", words=(
        "green mould", "cobweb", "black mould", "bacteria", "mites", "gnats", "dried out", "dropped", "unknown",
    )),
    Key("moved to", "id"),
    Key("species"),
    _words("certainty", *_CERTAINTIES),
    Key("identified by"),
)  # fmt: skip

_TENT = (
    Key("about", "id", several=True, commas=True, required=True),
    Key("humidity set point", "humidity"),
    Key("humidity differential", "percentage"),
    Key("temperature set point", "temperature"),
    Key("light", "light hours"),
    Key("light colour", "colour temperature"),
    Key("exhaust", "exhaust"),
    Key("air movement"),
    Key("humidity reading", "humidity"),
    Key("temperature reading", "temperature"),
    Key("co2 reading", "co2"),
    _words("door", "open", "shut"),
    Key("why"),
    Key("serviced", several=True),
)

_DEVICE = (
    _ID,
    Key("tent", "id", required=True),
    Key("does", words=(
        "light", "humidifier", "fan", "exhaust", "damper", "controller", "timer", "probe", "heater", "power strip",
    )),
    Key("powered by", "names"),
    Key("controlled by", "names"),
    *_texts("rated for, price, spare"),
)  # fmt: skip


def _table(*keys: Key) -> Mapping[str, Key]:
    return MappingProxyType({key.name: key for key in (*_COMMON, *keys)})


KEYS: Mapping[str, Mapping[str, Key]] = MappingProxyType(
    {
        "find": _table(*_FIND),
        "culture": _table(*_CULTURE),
        "batch": _table(*_BATCH),
        "note": _table(*_NOTE),
        "tent": _table(*_TENT),
        "device": _table(*_DEVICE),
    }
)
"""Every key, by kind and then by canonical name, in the order in which an entry is best written."""

COMMON_KEYS: Mapping[str, Key] = _table()
"""The keys that every kind has."""

_BETWEEN_WORDS = re.compile(r"[\s_-]+")


def canonical(written: str) -> str:
    """A key or an allowed word as the tables spell it: lower case, one space between words, `co₂` as `co2`."""
    return _BETWEEN_WORDS.sub(" ", unicodedata.normalize("NFKC", written)).strip().casefold()


def kinds_with(name: str) -> tuple[str, ...]:
    """The kinds that have this key."""
    return tuple(kind for kind in KINDS if name in KEYS[kind])


def names_of(kinds: Iterable[str] = KINDS) -> tuple[str, ...]:
    """The canonical names of all keys of these kinds, each once."""
    return tuple(dict.fromkeys(name for kind in kinds for name in KEYS[kind]))
