"""Which species a name means: a genus with its epithet, or nothing. What is vague or doubted means no species."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from types import MappingProxyType

COMMON_NAMES: Mapping[str, str] = MappingProxyType(
    {
        "black poplar mushroom": "Cyclocybe aegerita",
        "chestnut scalycap": "Pholiota adiposa",
        "golden oyster": "Pleurotus citrinopileatus",
        "hen of the woods": "Grifola frondosa",
        "king oyster": "Pleurotus eryngii",
        "king stropharia": "Stropharia rugosoannulata",
        "king trumpet": "Pleurotus eryngii",
        "lion's mane": "Hericium erinaceus",
        "maitake": "Grifola frondosa",
        "nameko": "Pholiota microspora",
        "pearl oyster": "Pleurotus ostreatus",
        "phoenix oyster": "Pleurotus pulmonarius",
        "pink oyster": "Pleurotus djamor",
        "pioppino": "Cyclocybe aegerita",
        "poplar mushroom": "Cyclocybe aegerita",
        "shaggy ink cap": "Coprinus comatus",
        "shaggy mane": "Coprinus comatus",
        "shiitake": "Lentinula edodes",
        "velvet foot": "Flammulina velutipes",
        "velvet shank": "Flammulina velutipes",
        "wine cap": "Stropharia rugosoannulata",
    }
)
"""Common names that mean one species to growers: *common practice*, from memory.

One that several species share (oyster, chestnut mushroom, enoki, shimeji) is not among them.
"""

SYNONYMS: Mapping[str, str] = MappingProxyType(
    {
        "agrocybe aegerita": "Cyclocybe aegerita",
        "lentinus edodes": "Lentinula edodes",
        "pholiota nameko": "Pholiota microspora",
    }
)
"""Older Latin names of the same species, from memory."""

_LATIN = {name.casefold(): name for name in (*COMMON_NAMES.values(), *SYNONYMS.values())}
_KNOWN: Mapping[str, str] = {**COMMON_NAMES, **SYNONYMS, **_LATIN}

_DOUBTS = frozenset(
    {
        "sp", "spp", "cf", "aff", "nr", "agg", "group", "complex", "or", "and", "maybe", "perhaps", "possibly",
        "probably", "likely", "another", "unknown", "not",
    }
)  # fmt: skip
_GROWERS_WORDS = frozenset(
    {
        "mushroom", "mushrooms", "oyster", "oysters", "fungus", "fungi", "cap", "caps", "foot", "shank", "mane",
        "ear", "trumpet", "polypore", "bracket", "clone",
    }
)  # fmt: skip
"""Words that end common names, so that `Blue oyster` is not read as a genus with its epithet."""

_BINOMIAL = re.compile(r"([a-z]{3,}) ([a-z]{2,}(?:-[a-z]+)*)(?: .*)?")


def species_named(text: str | None) -> str | None:
    """`Pleurotus pulmonarius` for a name that means one species, None for one that is vague, doubted or contradictory.

    The author's name and a variety behind the epithet are passed over; an abbreviated genus (`P. ostreatus`) names
    none. Behind a bracket or comma another name of the same species may stand.
    """
    words = _plain(text or "")
    if not words or "?" in words or "/" in words or _DOUBTS & set(re.findall(r"[a-z]+", words)):
        return None
    first, *others = [part.strip() for part in re.split(r"[(),;]", words)]
    named = [_known(first) or _binomial(first), *(_known(other) for other in others)]
    meant = {name for name in named if name}
    return meant.pop() if len(meant) == 1 else None


def _known(words: str) -> str | None:
    return _KNOWN.get(words) or _KNOWN.get(words.replace("-", " "))


def _binomial(words: str) -> str | None:
    found = _BINOMIAL.fullmatch(words)
    if not found or found[2] in _GROWERS_WORDS:
        return None
    name = f"{found[1]} {found[2]}"
    return _KNOWN.get(name, name.capitalize())


def _plain(text: str) -> str:
    folded = unicodedata.normalize("NFC", text).casefold().replace("’", "'")
    return re.sub(r"\s+", " ", re.sub(r"[*_]", "", folded)).strip()
