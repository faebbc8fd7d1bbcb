"""What everyday words mean in an entry: keys and values as people write them, with the format's own word for each.

The table is `data/everyday_words.toml`. A value with one meaning is read as that; others are only suggested.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from types import MappingProxyType

from journal.data import read_table
from journal.problems import is_opposite, nearest
from journal.reading.keys import KEYS, canonical

_TABLE = read_table("everyday_words")


def stages_of(kind: str) -> str:
    """The table's name for the list of stages that a note about this kind may give."""
    return f"stage of a {kind}"


@cache
def also_read(values_of: str) -> Mapping[str, str]:
    """Word -> the format's word that it is read as. values_of: a key (`form`), or a kind's stages (`stages_of`)."""
    rows: Mapping[str, Sequence[str]] = _TABLE["read"].get(values_of, {})
    return MappingProxyType({canonical(word): meant for meant, words in rows.items() for word in words})


def word_meant(values_of: str, written: str, allowed: Sequence[str]) -> str | None:
    """The allowed word that is written, or that an everyday word means; None if it is neither."""
    word = canonical(written)
    meant = word if word in allowed else also_read(values_of).get(word)
    return meant if meant in allowed else None


def words_to_try(values_of: str, written: str, allowed: Sequence[str]) -> tuple[str, ...]:
    """The allowed words that another word may mean: by meaning, else the nearest by spelling; () if there are none."""
    word = canonical(written[:60])
    offered: Sequence[str] | None = _TABLE["offer"].get(values_of, {}).get(word)
    if offered is not None:
        return tuple(offered)
    known = {**{one: one for one in allowed}, **also_read(values_of)}
    near = nearest(word, (one for one, meant in known.items() if not is_opposite(word, meant)))
    return (known[near],) if near else ()


def fix_of_word(values_of: str, written: str, allowed: Sequence[str]) -> str:
    """How to fix a word that is not one of those allowed."""
    meant = words_to_try(values_of, written, allowed)
    known = " · ".join(allowed)
    return f"write {' or '.join(meant)}, if you mean that; the words are {known}" if meant else f"write one of {known}"


def fix_of_key(written: str, kind: str | None) -> str:
    """How to fix an unknown key: what it means in an entry of this kind, else the nearest by spelling. kind: None if
    the entry does not say."""
    names = KEYS[kind] if kind else tuple(name for keys in KEYS.values() for name in keys)
    if kind and (by_meaning := fix_by_meaning(written, kind)):
        return by_meaning
    if near := nearest(written, names):
        return f"write {near}, if you mean that"
    return "remove it, or move it to the text below" + (f"; `journal keys {kind}` lists the keys" if kind else "")


def fix_by_meaning(written: str, kind: str) -> str | None:
    """The key of this kind that an everyday word means, or what to use if no single key fits; None for others."""
    if key := _keys_meant(kind).get(written):
        return f"write {key}, if you mean that"
    instead = _instead(kind).get(written)
    return instead.format(word=written) if instead else None


@cache
def _keys_meant(kind: str) -> Mapping[str, str]:
    rows = {**_TABLE["keys"]["every"], **_TABLE["keys"][kind]}
    return MappingProxyType({word: key for key, words in rows.items() for word in words})


@cache
def _instead(kind: str) -> Mapping[str, str]:
    rows = [*_TABLE["instead"]["every"], *_TABLE["instead"].get(kind, ())]
    return MappingProxyType({word: row["fix"] for row in rows for word in row["words"]})
