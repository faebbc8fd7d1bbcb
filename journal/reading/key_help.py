"""What each key means, what it takes, and an example: for `journal keys`, for the page Format and for the README."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from journal.reading.everyday_words import also_read, stages_of
from journal.reading.keys import COMMON_KEYS, CURRENT_NAMES, KEYS, STAGES, Key
from journal.reading.values import NOTATIONS

KIND_MEANS: Mapping[str, str] = MappingProxyType(
    {
        "find": "a wild specimen",
        "culture": "anything alive in a vessel, from a plate to grain spawn",
        "batch": "units inoculated together: blocks, bags, jars, logs or beds",
        "note": "what was observed, done, harvested or lost, about one ID or several",
        "tent": "a setting changed, a manual reading, or a service done",
        "device": "what is used in a tent; its date is the day it went into use",
    }
)

TAKES: Mapping[str, str] = MappingProxyType(
    {
        "text": "text",
        "names": "IDs of devices, or names of sockets, with commas between",
        "yes or no": "`yes` or `no`",
        "date": "a date as far as it is known: `2026-10-03`, `2026-10-03 14:05`, `2026-10`, `2026`, `about 2026-10-03`",
        "next": "a day, then what is to be done; what has no day is listed last under what is due",
        "photo": "the name of a file next to the entry, with a caption after a colon where you like",
        "log file": "the name of a file next to the entry, with its column after a colon where it has several",
        "id": "an ID: a letter, then letters, digits and hyphens",
        "reference": "an ID, or a part of what it names: `B-031.2`",
        "position": "decimal degrees, degrees and minutes, ISO 6709, `geo:`, UTM or MGRS; `±8 m` says how sure it is",
        "length": "a number in m, cm, km, ft, in, yd or mi",
        "elevation": "a number in m or ft: `120 m`",
        "mass": "a number in g, kg, oz or lb",
        "volume": "a number in ml, cl, dl or l",
        "mass of a lot": "a number in g, kg, oz or lb; `in all` behind it where it is not of one unit",
        "mix part": "a name and its mass in g, kg, oz or lb; of water also a volume: `water 7.5 l`",
        "colony": "two numbers in mm, cm or in; one alone counts as both, with a warning",
        "count": "a whole number",
        "count from 1": "a whole number from 1",
        "moisture": "a number in %, under 100",
        "humidity": "a number in %",
        "percentage": "a number in %",
        "temperature": "a number in °C or °F",
        "humidity range": "two numbers in %",
        "temperature range": "two numbers in °C or °F",
        "light hours": "hours on and hours off, or times of day, or `on`, or `off`",
        "colour temperature": "a number in K",
        "exhaust": "how long it runs and how often, or `on`, or `off`",
        "energy": "a number in kWh (or Wh, MWh)",
        "co2": "a number in ppm",
        "light level": "a number in lux, klx or fc",
        "minutes": "a whole number, or a number in min or h: `25`, `1.5 h`, `1 h 30 min`",
        "money": "an amount in the `currency` of the settings",
    }
)
"""What a notation of `reading.values` takes, in words."""


# They are here and not with the keys because no page of a share shows them, so they must not count as words of the
# site.
_EXAMPLES: Mapping[str, str] = MappingProxyType(
    {
        "title": "First pins",
        "by": "Night porter",
        "done": "shaken",
        "species": "Pleurotus pulmonarius",
        "certainty": "likely",
        "identified by": "the ferry baker, spores",
        "place": "Alder Bank",
        "habitat": "wet birch and alder",
        "growing on": "fallen alder, bark on",
        "host": "alder",
        "growth": "clustered",
        "smell": "anise, faint",
        "weather": "three days of rain, 9 °C",
        "spore print": "pale lilac",
        "specimen": "one cap dried, voucher 12",
        "permission": "common wood, a basket a day",
        "permit": "common-wood",
        "locality": "area",
        "formerly": "B-013",
        "patch": "the fallen stem",
        "from": "F26-001",
        "received from": "the ferry baker",
        "medium": "malt agar with yeast",
        "treatment": "121 °C 2.5 h",
        "vessels": "5",
        "kept": "fridge door 2",
        "culture": "PP-26A",
        "substrate": "oak pellets, wheat bran",
        "container": "filter-patch bags",
        "mix": "oak pellets 5 kg, wheat bran 1.2 kg, water 8.6 kg",
        "wet mass": "2.3 kg",
        "dry mass": "870 g",
        "spawn mass": "200 g",
        "tent": "wash-house",
        "dried": "38 g",
        "dried from": "410 g",
        "flush": "1",
        "lost": "1",
        "moved to": "net-loft",
        "air movement": "oscillating fan, low",
        "why": "caps were drying at the edges",
        "serviced": "tank",
        "tank fill": "5.6 l",
        "controlled by": "timer-1",
        "rated for": "IP44",
        "price": "18, second hand",
        "sold": "14.50",
        "spare": "one in the drawer",
    }
)
"""An example value of each key for which its notation's own example does not fit."""

_EXAMPLES_OF_KIND: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        ("find", "id"): "F26-001",
        ("culture", "id"): "PP-26A",
        ("device", "id"): "fan-1",
        ("tent", "about"): "wash-house",
    }
)


@dataclass(frozen=True, slots=True)
class KeyHelp:
    """A key as documentation shows it; text between backticks is written that way in an entry.

    means, takes: without a final full stop. example: a whole line of front matter. also: other words that are read as
    one of its words, "" for none. older: its older name, "" for none.
    """

    name: str
    means: str
    takes: str
    example: str
    required: bool
    also: str
    older: str


def help_of(kind: str | None) -> tuple[KeyHelp, ...]:
    """The keys of a kind, without those that every kind has; None: those."""
    if kind is None:
        return tuple(_help(key, "note") for key in COMMON_KEYS.values())
    return tuple(_help(key, kind) for name, key in KEYS[kind].items() if name not in COMMON_KEYS)


def _help(key: Key, kind: str) -> KeyHelp:
    takes = words_of(key) or TAKES[key.notation]
    return KeyHelp(
        name=key.name,
        means=key.help,
        takes=takes + ("; several are a list" + (", or one line with commas" if key.commas else "")) * key.several,
        example=f"{key.name}: {example_of(key, kind)}",
        required=key.required,
        also="; ".join(_also(key)),
        older=next((old for old, name in CURRENT_NAMES.items() if name == key.name), ""),
    )


def words_of(key: Key) -> str:
    """The words that a key may take, between backticks; for stages by kind; "" for other keys."""
    if key.notation == "stage":
        batch = STAGES["batch"]
        also = {"culture": tuple(one for one in STAGES["culture"] if one not in batch)}
        kinds = ((kind, also.get(kind, stages)) for kind, stages in STAGES.items() if stages)
        return "; ".join(f"of a {kind} {'also ' if kind in also else ''}{_quoted(stages)}" for kind, stages in kinds)
    return _quoted(key.words) + (", or your own words" if key.words and key.notation == "text" else "")


def example_of(key: Key, kind: str) -> str:
    """A value as the author of an entry of this kind may write it."""
    if key.name == "kind":
        return kind
    usual = key.words[0] if key.words and key.notation != "stage" else NOTATIONS[key.notation].example
    return _EXAMPLES_OF_KIND.get((kind, key.name)) or _EXAMPLES.get(key.name, usual)


def _also(key: Key) -> Iterator[str]:
    """`agar`, `petri` = `plate`: other words that are read as each word; for stages by kind."""
    lists = [(stages_of(kind), kind) for kind in STAGES] if key.notation == "stage" else [(key.name, "")]
    kinds: dict[tuple[str, str], list[str]] = {}
    for values_of, kind in lists:
        by_word: dict[str, list[str]] = {}
        for written, meant in also_read(values_of).items():
            by_word.setdefault(meant, []).append(written)
        for meant, words in by_word.items():
            kinds.setdefault((_quoted(words), meant), []).append(kind)
    for (quoted, meant), of in kinds.items():
        yield f"{'of a ' if of[0] else ''}{' or '.join(of)}{': ' if of[0] else ''}{quoted} = `{meant}`"


def _quoted(words: Iterable[str]) -> str:
    return ", ".join(f"`{word}`" for word in words)
