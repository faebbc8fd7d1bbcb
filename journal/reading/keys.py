"""The keys of an entry's front matter, each declared once, by kind of entry.

Everything that depends on a key follows from its declaration: reading, the model's field, what a share may show, the
column in `journal export` and the line in the README. Names are canonical: lower-case words with single spaces between
them ("humidity set point").
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from types import MappingProxyType
from typing import Literal

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

ShareRule = Literal["kept", "number", "words", "surroundings", "person", "made", "gone"]
"""What a share shows of a field.

kept: the value as it is: an ID that is shared, or one of a few fixed words. number: the value as it is, a number that
gives away no place and no time of day. words: the author's words, cleaned of everything that is not shared.
surroundings: the same, of where a find was: only where the share shows all texts. person: the same, only where the
share shows persons. made: replaced by `sharing.redact`. gone: never shown.
"""

UNITS: Mapping[str, str] = MappingProxyType(
    {
        "length": "m", "elevation": "m", "mass": "g", "mass of a lot": "g", "volume": "ml", "moisture": "pct",
        "humidity": "pct", "percentage": "pct",
        "humidity range": "pct", "temperature": "c", "temperature range": "c", "colour temperature": "k", "co2": "ppm",
        "energy": "kwh",
        "light level": "lux",
    }
)  # fmt: skip
"""The unit of a value by its notation, as it ends the name of the model's field."""


@dataclass(frozen=True, slots=True, eq=False)
class Key:
    """One key of one kind of entry; equal to itself alone.

    name: canonical. help: what it means; with what it takes, its line in the README (`reading.key_help`).
    notation: how its value is read: a name in `journal.reading.values.NOTATIONS`.
    share: what a share may show of it; a key that says nothing is in no share.
    old: older spellings, which are still read.
    field: the model's field; where "", the name with the notation's unit (`humidity_reading_pct`). None: it has none.
    column: its column in `journal export`; where "", the field. None: it has none.
    table: for a tent's key, the table of its tent in which the column stands: settings, readings or services.
    beside: a tent's key that only comments on the others, and makes no row of its table by itself.
    linked: the model's value comes from linking or from a calculation, not from this value as it is.
    several: it takes a list; its value is a tuple.
    commas: a comma-separated line is a list too.
    required: an entry of that kind without it is an error.
    words: the words it may be; for the notation "text" merely the usual ones.
    whole: one value of the list that cannot be read costs them all.
    """

    name: str
    help: str
    notation: str = "text"
    share: ShareRule = "gone"
    old: tuple[str, ...] = ()
    field: str | None = ""
    column: str | None = ""
    table: Literal["settings", "readings", "services"] = "settings"
    beside: bool = False
    linked: bool = False
    several: bool = False
    commas: bool = False
    required: bool = False
    words: tuple[str, ...] = ()
    whole: bool = False

    def __post_init__(self) -> None:
        if self.field == "":
            unit = UNITS.get(self.notation)
            object.__setattr__(self, "field", self.name.replace(" ", "_") + (f"_{unit}" if unit else ""))
        if self.column == "":
            object.__setattr__(self, "column", self.field)


_ID = Key("id", "an ID of its own", "id", share="kept", required=True)
_FORMERLY = Key(
    "formerly", "IDs that it had before: labels printed with them, and entries that name them, lead to it", "id",
    linked=True, several=True, commas=True,
)  # fmt: skip
_TREATMENT = Key(
    "treatment", "how it was sterilised or pasteurised: `121 °C 2.5 h`, `15 psi 2.5 h`, `lime 18 h`, `none`",
    share="words", old=("heat",),
)  # fmt: skip
_CORE_LOG = Key(
    "core log", "a CSV file of the temperature in the middle of the load while it was sterilised or pasteurised",
    "log file", field=None, column=None, linked=True,
)  # fmt: skip
_CERTAINTY = Key(
    "certainty", "how sure the name is (`confirmed` needs `identified by`)", "word", share="kept",
    words=("confirmed", "likely", "unsure"),
)  # fmt: skip
_IDENTIFIED_BY = Key("identified by", "who identified it, and how", share="made")

_COST = Key("cost", "what was paid for it; counted in costs a kilogram", "money", linked=True)

_COMMON = (
    Key("kind", "what the entry is", "word", field=None, required=True, words=KINDS),
    Key(
        "date", "when it was; where absent, the earliest photo's time, else a date that begins the file's or folder's "
        "name", "date", share="made", linked=True,
    ),
    Key("title", "a few words; made from the rest where absent", share="made", linked=True),
    Key("by", "who; the author where absent", share="made", linked=True),
    Key(
        "photos", "file names next to the entry, each optionally `name: caption`", "photo", share="made", linked=True,
        several=True,
    ),
    Key("private", "`yes`: never in a share", "yes or no"),
    Key(
        "next", "what is to be done and when: `2026-11-28 raise the duct's far end`", "next", share="made",
        several=True,
    ),
    Key("done", "what was done; the words of a `next`, or `yes` for all, settle it", share="made", several=True),
)  # fmt: skip

_FIND = (
    _ID,
    _FORMERLY,
    Key("species", "as you have it, Latin or common", share="words"),
    _CERTAINTY,
    _IDENTIFIED_BY,
    Key("where", "a position", "position", share="made", field="position", linked=True),
    Key("place", "your name for the spot"),
    Key("habitat", "the ground, the trees and the wet around it", share="surroundings"),
    Key("growing on", "what it grows on: wood, dung, soil", share="surroundings"),
    Key("host", "the living or dead tree it belongs to", share="surroundings"),
    Key("growth", "alone, in rows, in a cluster", share="words"),
    Key("smell", "what it smells of", share="words"),
    Key("weather", "the days before", share="surroundings"),
    Key("elevation", "above sea level: `120 m` or `390 ft`", "elevation", share="made"),
    Key("spore print", "its colour", share="words"),
    Key("specimen", "what was kept, the voucher's number", share="words"),
    Key("permission", "who gave permission, or the rule that does"),
    Key("permit", "the name of a permit under `[permits]` in the settings, whose limits the picked mass counts for"),
    Key("picked mass", "fresh mass picked that day; at a later visit it is the note's `harvest`", "mass"),
    Key(
        "locality", "what a share may show of the position", "word", share="made",
        words=("hidden", "area", "exact"),
    ),
    Key(
        "patch", "your name for the patch it belongs to; where absent, finds whose places may be within 25 m of each "
        "other are one patch",
    ),
)  # fmt: skip

_CULTURE = (
    _ID,
    _FORMERLY,
    Key(
        "from", "IDs of what it was taken from", "reference", share="made", field="sources", column="parents",
        linked=True, several=True, commas=True,
    ),
    Key(
        "received from", "for what was given, traded or bought: from whom, or `unknown`; either this or `from`",
        share="person",
    ),
    Key(
        "species", "its parent's where absent; not confirmed if it is another species than its find's, or more exact",
        share="words",
    ),
    Key(
        "method", "how it was taken (where absent: `tissue` from a find or batch, `transfer` from a culture)", "word",
        share="kept", words=("tissue", "spores", "transfer", "received"),
    ),
    Key(
        "form", "what it is kept as", "word", share="words",
        words=("plate", "slant", "liquid", "syringe", "grain", "sawdust", "plugs", "spore print"),
    ),
    Key("medium", "what it grows on", share="words"),
    _TREATMENT,
    _CORE_LOG,
    Key("vessels", "how many were made", "count from 1", share="number"),
    Key("transfers before", "how many there were, according to the giver", "count", share="number", column=None),
    Key("master", "`yes` for the one you go back to", "yes or no", share="kept"),
    Key("kept", "where it is kept", share="words"),
)  # fmt: skip

_BATCH = (
    _ID,
    _FORMERLY,
    Key(
        "culture", "IDs of what it was inoculated with", "reference", share="made", field="cultures", linked=True,
        several=True, commas=True,
    ),
    Key("substrate", "what the units are made of", share="words"),
    Key("container", "what a unit is in", share="words"),
    Key("units", "how many were inoculated", "count from 1", share="number"),
    Key(
        "mix", "the whole lot: `oak pellets 5 kg, wheat bran 1.2 kg, water 8.6 kg` (or `water 8.6 l`)", "mix part",
        share="made", several=True, commas=True, whole=True,
    ),
    Key(
        "wet mass", "as bagged, before treatment and spawn; of a unit, or `13.8 kg in all`", "mass of a lot",
        share="number", field="wet_g", linked=True,
    ),
    Key("moisture", "of that substrate, wet basis, %", "moisture", share="number"),
    Key(
        "dry mass", "of substrate; of a unit, or `in all`", "mass of a lot", share="number", field="dry_g", linked=True,
    ),
    _TREATMENT,
    _CORE_LOG,
    Key("spawn mass", "of a unit", "mass", share="number", field="spawn_g"),
    Key("spawn volume", "of a unit, where the spawn is liquid: `10 ml`", "volume", share="number", field="spawn_ml"),
    replace(_COST, help="what was paid for the whole batch: substrate, spawn, bags; counted in its cost a kilogram"),
    Key("tent", "where it starts", "id", share="made", linked=True),
    Key(
        "wants humidity", "its own range (`90–95 %`); where absent, the tent's", "humidity range", share="number",
        column=None,
    ),
    Key(
        "wants temperature", "its own range (`12–18 °C`); where absent, the tent's", "temperature range",
        share="number", column=None,
    ),
    Key(
        "wants humidity while colonising",
        "its range from its inoculation until a note gives it a later stage, or a harvest; where absent, nothing is "
        "judged till then", "humidity range", share="number", column=None,
    ),
    Key(
        "wants temperature while colonising", "the same for the temperature", "temperature range", share="number",
        column=None,
    ),
)  # fmt: skip

_NOTE = (
    Key(
        "about", "IDs; where absent, the one entry of its folder that is not a note; else the note is about nothing in "
        "particular and is in the diary", "reference", share="made", linked=True, several=True, commas=True,
    ),
    Key("stage", "how far it is, by what the note is about", "stage", share="kept", words=_ALL_STAGES),
    Key("harvest", "fresh mass harvested, trimmed and unwashed", "mass", share="made"),
    Key("dried", "mass after drying", "mass", share="made"),
    Key("dried from", "fresh mass that went into the dryer; where absent, the whole harvest", "mass", share="made"),
    Key("flush", "the number of the flush", "count from 1", share="number"),
    Key("lost", "units or vessels lost that day", "count", share="made"),
    Key("cause", "why they were lost", share="words", words=(
        "green mould", "cobweb", "black mould", "bacteria", "mites", "gnats", "dried out", "dropped", "unknown",
    )),
    Key("moved to", "a tent's ID", "id", share="made", linked=True),
    Key(
        "colony", "two diameters of a colony on agar, at right angles; with the plate's number before a colon where "
        "`about` names none: `1: 34 × 36 mm, 2: 31 × 33 mm`", "colony", share="number", several=True, commas=True,
    ),
    Key("minutes", "how long the work took; counted in kilograms an hour", "minutes"),
    _COST,
    Key("sold", "what the harvest of that note was sold for", "money", linked=True),
    Key("species", "of a find, identified again", share="words"),
    _CERTAINTY,
    _IDENTIFIED_BY,
)  # fmt: skip

_TENT = (
    Key(
        "about", "tent IDs", "id", share="made", column=None, linked=True, several=True, commas=True, required=True,
    ),
    Key(
        "humidity set point", "the relative humidity that the controller keeps to", "humidity", share="number",
        field="humidity_set_pct", column="humidity_pct",
    ),
    Key("humidity differential", "how far it may fall before the controller acts", "percentage", share="number"),
    Key(
        "temperature set point", "the temperature that the controller keeps to", "temperature", share="number",
        field="temperature_set_c", column="temperature_c",
    ),
    Key("light", "when the light is on: `12 h on, 12 h off` or `06:30–18:30`", "light hours", share="number"),
    Key("light colour", "its colour temperature", "colour temperature", share="number", field="light_k"),
    Key("exhaust", "how it runs: `2 min every 15 min`, `every 15 min`, `on`, `off`", "exhaust", share="number"),
    Key("air movement", "how the air is moved", share="words"),
    Key("humidity reading", "a manual reading", "humidity", share="number", column="humidity_pct", table="readings"),
    Key(
        "temperature reading", "a manual reading", "temperature", share="number", column="temperature_c",
        table="readings",
    ),
    Key("co2 reading", "a manual reading", "co2", share="number", field="co2_ppm", table="readings"),
    Key("meter", "the reading of the tent's electricity meter", "energy", table="readings"),
    Key(
        "light level", "a manual reading, at the height of the blocks", "light level", share="number",
        field="light_level_lux", table="readings",
    ),
    Key(
        "door", "how it was while reading", "word", share="kept", table="readings", beside=True,
        words=("open", "shut"),
    ),
    Key("why", "the reason for a change", share="words", beside=True),
    Key(
        "serviced", "what was done; the start of a service's name resets it; `probe-1 read 74 % over table salt "
        "at 20 °C` is compared with the humidity over that saturated salt", share="words", table="services",
        several=True,
    ),
    Key(
        "tank fill", "water filled into the humidifier's tank, up to the same mark each time: `5.6 l`", "volume",
        share="number", table="services",
    ),
    replace(_COST, help="what was paid for the service", table="services"),
)  # fmt: skip

_DEVICE = (
    _ID,
    _FORMERLY,
    Key("tent", "a tent's ID", "id", share="made", linked=True, required=True),
    Key("does", "what it is for", share="words", words=(
        "light", "humidifier", "fan", "exhaust", "damper", "controller", "timer", "probe", "heater", "power strip",
    )),
    Key(
        "powered by", "the device or socket one step nearer the wall", "names", share="made", old=("fed by",),
        linked=True,
    ),
    Key(
        "controlled by", "the timer or controller that switches it", "names", share="made", old=("switched by",),
        linked=True,
    ),
    Key("rated for", "the water rating; read for an IP code (`IP44`), or for `dry`, `damp`, `wet`", share="words"),
    Key("price", "what it cost, in your own words"),
    replace(_COST, help="what was paid for it; counted in the costs of the whole journal"),
    Key("spare", "whether there is another, and where", share="words"),
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

CURRENT_NAMES: Mapping[str, str] = MappingProxyType(
    {old: key.name for keys in KEYS.values() for key in keys.values() for old in key.old}
)
"""The name of each key that has an older spelling, by that spelling."""

_BETWEEN_WORDS = re.compile(r"[\s_-]+")


@lru_cache(maxsize=1024)
def canonical(written: str) -> str:
    """A key or an allowed word as the tables spell it: lower case, one space between words, `co₂` as `co2`."""
    return _BETWEEN_WORDS.sub(" ", unicodedata.normalize("NFKC", written)).strip().casefold()


def kinds_with(name: str) -> tuple[str, ...]:
    return tuple(kind for kind in KINDS if name in KEYS[kind])


def names_of(kinds: Iterable[str] = KINDS) -> tuple[str, ...]:
    """The canonical names of all keys of these kinds, each once."""
    return tuple(dict.fromkeys(name for kind in kinds for name in KEYS[kind]))
