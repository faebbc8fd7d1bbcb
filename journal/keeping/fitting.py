"""Whether a value that came out of the cache is of the type that was put in: a cache may be damaged, or not ours."""

from __future__ import annotations

import types
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from functools import cache
from itertools import chain
from operator import attrgetter, itemgetter
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from journal.reading.entries import Draft
from journal.reading.keys import COMMON_KEYS, KEYS
from journal.reading.notations import type_of


def is_draft(value: object) -> bool:
    """Whether it is a draft, each of its values of the type that its key's notation makes; or None, as of no entry."""
    if value is None:
        return True
    if not (isinstance(value, Draft) and fits(value, Draft) and (value.kind is None or value.kind in KEYS)):
        return False
    keys = KEYS[value.kind] if value.kind else COMMON_KEYS
    return all(name in keys and fits(held, type_of(keys[name])) for name, held in value.values.items())


def fits(value: object, hint: Any) -> bool:
    """Whether a value is of a type, to the bottom: of its containers all values, of its dataclasses all fields.

    hint: a class, or a type made of `|`, `Literal`, `tuple`, `list`, `Mapping`. Exactly that class: no subclass fits.
    A whole number fits `float`. What is in a field of type `Any` is not looked at.
    """
    try:
        return _all_fit([value], hint)
    except (AttributeError, TypeError):  # an object that lacks its fields; one that cannot be hashed
        return False


def _all_fit(values: Sequence[Any], hint: Any) -> bool:
    """The same for many values at once, column by column, since readings come by the hundred thousand."""
    if hint is Any or not values:
        return True
    origin, inside = get_origin(hint), get_args(hint)
    if origin is Literal:
        return all(any(type(value) is type(word) and value == word for word in inside) for value in values)
    if origin in (Union, types.UnionType):
        return all(any(_all_fit([value], arm) for arm in inside) for value in values)
    found = set(map(type, values))
    if origin is tuple:
        return found == {tuple} and _tuples_fit(values, inside)
    if origin is list:
        return found == {list} and _all_fit(list(chain.from_iterable(values)), inside[0])
    if origin in (dict, Mapping):
        keys, held = (list(chain.from_iterable(part(value) for value in values)) for part in (dict.keys, dict.values))
        return found == {dict} and _all_fit(keys, inside[0]) and _all_fit(held, inside[1])
    return found <= ({float, int} if hint is float else {hint}) and _fields_fit(values, hint)


def _tuples_fit(values: Sequence[Any], inside: tuple[Any, ...]) -> bool:
    if inside[-1:] == (...,):
        return _all_fit(list(chain.from_iterable(values)), inside[0])
    is_long = set(map(len, values)) == {len(inside)}
    return is_long and all(_all_fit([*map(itemgetter(at), values)], hint) for at, hint in enumerate(inside))


def _fields_fit(values: Sequence[Any], hint: Any) -> bool:
    return all(_all_fit([*map(attrgetter(name), values)], inner) for name, inner in _fields_of(hint))


@cache
def _fields_of(hint: Any) -> tuple[tuple[str, Any], ...]:
    """Name and type of each field of a dataclass or a named tuple; none of any other class."""
    names = [field.name for field in fields(hint)] if is_dataclass(hint) else list(getattr(hint, "_fields", ()))
    hints = get_type_hints(hint) if names else {}
    return tuple((name, hints[name]) for name in names)
