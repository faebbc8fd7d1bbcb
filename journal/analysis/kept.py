"""Figures of a journal made once from the same things, also where these are in a journal that is read again.

Inputs are compared as objects, not by value, so everything that a figure is made from has to be among them, or follow
from them. Of a name only the last figure is kept, with its inputs, so that their identities stay theirs. Journals are
those that `Analysis` is made of, not views in which a page reads them.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from operator import is_
from typing import Any, Generic, TypeVar, cast

from journal.model import Journal

K = TypeVar("K", bound=Hashable)
T = TypeVar("T")

_Made = tuple[tuple[object, ...], Any]
"""Inputs, and what was made of them."""


def kept(journal: Journal, name: str, make: Callable[..., T], *inputs: object) -> T:
    """What `make` makes of these inputs, or what it made of the very same ones before."""
    known: _Made | None = journal.figures.get(name)
    if known is None or not _are_same(known[0], inputs):
        known = journal.figures[name] = (inputs, make(*inputs))
    return cast(T, known[1])


def kept_equal(journal: Journal, name: str, value: T) -> T:
    """The value, or the one that was kept under this name before where they are equal: for texts, and what is made of
    texts alone and has no order, of which equal ones are the same in everything."""
    known: _Made | None = journal.figures.get(name)
    if known is None or known[1] != value:
        known = journal.figures[name] = ((), value)
    return cast(T, known[1])


class EachKept(Generic[K, T]):
    """Figures by key, each made once from the same inputs."""

    def __init__(self, journal: Journal, name: str) -> None:
        self._journal, self._name = journal, name
        self._before: tuple[Mapping[K, _Made], Mapping[K, T]] = journal.figures.get(name, ({}, {}))
        self._made: dict[K, _Made] = {}

    def of(self, key: K, make: Callable[..., T], *inputs: object) -> T:
        """As `kept`."""
        known = self._made.get(key) or self._before[0].get(key)
        if known is None or not _are_same(known[0], inputs):
            known = (inputs, make(*inputs))
        self._made[key] = known
        return cast(T, known[1])

    def all(self) -> Mapping[K, T]:
        """The figures of all keys that were asked for, which are kept; the same mapping as before where nothing in it
        is another."""
        before, found = self._before
        made = self._made
        if len(made) != len(before) or not all(map(is_, made.values(), before.values())):
            found = {key: one for key, (_, one) in made.items()}
            self._journal.figures[self._name] = (made, found)
        return found


def each_kept(
    journal: Journal, name: str, make: Callable[..., T], inputs: Mapping[K, tuple[object, ...]]
) -> Mapping[K, T]:
    """For each key what `make` makes of its inputs, as by `EachKept`."""
    found: EachKept[K, T] = EachKept(journal, name)
    for key, own in inputs.items():
        found.of(key, make, *own)
    return found.all()


def _are_same(ones: tuple[object, ...], others: tuple[object, ...]) -> bool:
    return len(ones) == len(others) and all(map(is_, ones, others))
