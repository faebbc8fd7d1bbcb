"""What was planned before, and everything it was planned from, so that only what a change affects is planned again.

The journal, its analysis and its indexes are read through views, which note every part that is read. A result is kept
with these notes, and reused as long as each of the parts, looked up again, is exactly the same. A view notes every
access: an item by its key, and a mapping or list as a whole if it is iterated.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping, Set
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import date, datetime, time
from enum import Enum
from functools import cache
from operator import attrgetter
from types import FunctionType, MappingProxyType, MethodType, SimpleNamespace
from typing import Any, Literal, TypeVar, cast

from journal.analysis.analysis import Analysis
from journal.analysis.progress import Progress
from journal.model import Journal

T = TypeVar("T")

Path = tuple[str | tuple[Hashable], ...]
"""The path to a value from a named root: names of attributes, and keys of items, each key in a tuple of one."""

Read = tuple[Path, Literal["whole", "item", "has"], Hashable]
"""What was read: the path to it, and the key of an item if only that was asked for."""

_ABSENT = object()


@dataclass(frozen=True, slots=True)
class _Kept:
    value: Any
    reads: frozenset[Read]


class Memory:
    """What is kept from one plan of a journal to the next. A plan is made between `begin` and `end`; a plan that is
    interrupted leaves nothing."""

    def __init__(self) -> None:
        self._roots: Mapping[str, Any] = {}
        self._now: Mapping[str, Any] = {}
        self._kept: dict[tuple[str, Hashable], _Kept] = {}
        self._used: dict[tuple[str, Hashable], _Kept] = {}
        self._is_as_before = _Comparison({}, {})
        self._open: list[set[Read]] = []

    def root(self, name: str) -> Any | None:
        """The root of that name which the last complete plan was made from."""
        return self._roots.get(name)

    def begin(self, roots: Mapping[str, Any], *, anew: bool) -> Mapping[str, Any]:
        """Views of what a plan is made from, by the same names. anew: forget what was kept."""
        kept = {} if anew or not self._roots else self._used
        self._kept, self._used, self._open = kept, {}, []
        self._is_as_before = _Comparison(self._roots, roots)
        self._roots = {}
        views = {name: self._seen((name,), root) for name, root in roots.items()}
        self._now = roots
        return views

    def end(self) -> None:
        """Completes the plan: what it used is kept for the next one."""
        self._roots, self._kept, self._is_as_before = self._now, {}, _Comparison({}, {})

    def keep(self, kind: str, key: Hashable, make: Callable[[], T]) -> T:
        """What was made under this kind and key before, if everything read for it is unchanged; otherwise the result of
        `make`, which may read only views and what never changes between two plans."""
        known = self._kept.get((kind, key))
        if known is None or not all(map(self._is_as_before.__getitem__, known.reads)):
            reads: set[Read] = set()
            self._open.append(reads)
            try:
                value = make()
            finally:
                self._open.pop()
            known = _Kept(value, frozenset(reads))
        self._used[kind, key] = known
        if self._open:
            self._open[-1] |= known.reads
        return cast(T, known.value)

    def note(self, path: Path, how: Literal["whole", "item", "has"] = "whole", key: Hashable = None) -> None:
        if self._open:
            self._open[-1].add((path, how, key))

    def _seen(self, path: Path, value: Any) -> Any:
        """A value as a reader gets it: in a view if only a part of it may be read."""
        if isinstance(value, Mapping):
            return _MappingView(self, path, value)
        if isinstance(value, frozenset):
            return _SetView(self, path, value)
        if _has_parts(value):
            return _View(self, path, value)
        self.note(path)
        return value


class _Comparison(dict[Read, bool]):
    """Whether a part is the same now as before; compared when first asked."""

    def __init__(self, before: Mapping[str, Any], now: Mapping[str, Any]) -> None:
        super().__init__()
        self._roots = (before, now)
        self._at: dict[Path, tuple[Any, Any]] = {}

    def __missing__(self, read: Read) -> bool:
        path, how, key = read
        both = self._at.get(path)
        if both is None:
            both = self._at[path] = (_at(self._roots[0], path), _at(self._roots[1], path))
        before, now = both if how == "whole" else (_in(both[0], how, key), _in(both[1], how, key))
        found = self[read] = same(before, now)
        return found


def _at(roots: Mapping[str, Any], path: Path) -> Any:
    """The value at the end of a path; `_ABSENT` if there is none."""
    try:
        value: Any = roots
        for step in ((path[0],), *path[1:]):
            value = value[step[0]] if isinstance(step, tuple) else getattr(value, step)
    except (KeyError, AttributeError):
        return _ABSENT
    return value


def _in(value: Any, how: str, key: Hashable) -> Any:
    if value is _ABSENT:
        return _ABSENT
    return value.get(key, _ABSENT) if how == "item" else key in value


def _has_parts(value: Any) -> bool:
    """Whether a value is read part by part, as mappings and objects are."""
    if isinstance(value, Journal | Analysis | Progress) or getattr(value, "is_read_in_parts", False):
        return True
    return is_dataclass(value) and any(
        isinstance(getattr(value, part.name), Mapping | frozenset) for part in fields(value)
    )


class _View:
    """Stands for a value whose attributes are read one by one; its methods read through the view too."""

    def __init__(self, memory: Memory, path: Path, of: Any) -> None:
        self._memory, self._path, self._of = memory, path, of

    def __getattr__(self, name: str) -> Any:
        if isinstance(method := getattr(type(self._of), name, None), FunctionType):
            found: Any = MethodType(method, self)
        else:
            value = getattr(self._of, name)
            found = self._memory._seen((*self._path, name), value)
            if found is value:
                return found
        self.__dict__[name] = found
        return found


class _MappingView(Mapping[Any, Any]):
    def __init__(self, memory: Memory, path: Path, of: Mapping[Any, Any]) -> None:
        self._memory, self._path, self._of = memory, path, of
        self._views: dict[Any, _View] = {}

    def __getitem__(self, key: Any) -> Any:
        found = self.get(key, _ABSENT)
        if found is _ABSENT:
            raise KeyError(key)
        return found

    def get(self, key: Any, default: Any = None) -> Any:
        if key in self._views:
            self._memory.note(self._path, "has", key)
            return self._views[key]
        value = self._of.get(key, default)
        if isinstance(value, Progress):
            self._memory.note(self._path, "has", key)
            value = self._views[key] = _View(self._memory, (*self._path, (key,)), value)
        else:
            self._memory.note(self._path, "item", key)
        return value

    def __contains__(self, key: object) -> bool:
        self._memory.note(self._path, "has", key)
        return key in self._of

    def __iter__(self) -> Iterator[Any]:
        return iter(self._whole())

    def __len__(self) -> int:
        return len(self._whole())

    def keys(self) -> Any:
        return self._whole().keys()

    def values(self) -> Any:
        return self._whole().values()

    def items(self) -> Any:
        return self._whole().items()

    def _whole(self) -> Mapping[Any, Any]:
        self._memory.note(self._path)
        return self._of


class _SetView(Set[Any]):
    def __init__(self, memory: Memory, path: Path, of: frozenset[Any]) -> None:
        self._memory, self._path, self._of = memory, path, of

    @classmethod
    def _from_iterable(cls, it: Any) -> Any:
        return frozenset(it)

    def __contains__(self, key: object) -> bool:
        self._memory.note(self._path, "has", key)
        return key in self._of

    def __iter__(self) -> Iterator[Any]:
        self._memory.note(self._path)
        return iter(self._of)

    def __len__(self) -> int:
        self._memory.note(self._path)
        return len(self._of)


_PLAIN = (str, bytes, bool, int, type(None))
_BY_REPR = (float, date, datetime, time, range)
"""Types whose equal values may look different: 0.0 and -0.0, one moment in two time zones, two empty ranges."""


def same(one: Any, other: Any) -> bool:
    """Whether two values are the same in every part, types and order included, so that anything made from them is too.
    Two values of an unknown type are never the same."""
    if one is other:
        return True
    kind = type(one)
    if kind is not type(other):
        return False
    if kind in _PLAIN:
        return bool(one == other)
    if kind in (tuple, list):
        return len(one) == len(other) and all(map(same, one, other))
    parts = _parts_of(cast(Hashable, kind))
    if parts is not None:
        return all(map(same, parts(one), parts(other)))
    if kind in _BY_REPR:
        return repr(one) == repr(other)
    if kind in (dict, MappingProxyType):
        return len(one) == len(other) and all(map(same, one.items(), other.items()))
    if kind in (set, frozenset):
        return bool(one == other) and all(type(each) is str for each in one)
    if kind is SimpleNamespace:
        return same(vars(one), vars(other))
    if isinstance(one, tuple):  # a named one
        return all(map(same, one, other))
    return isinstance(one, Enum) and one is other


@cache
def _parts_of(kind: Any) -> Callable[[Any], tuple[Any, ...]] | None:
    """A function that gives the values of all fields of a dataclass; None for another type."""
    if not is_dataclass(kind):
        return None
    names = [part.name for part in fields(kind)]
    if len(names) < 2:
        return lambda value: tuple(getattr(value, name) for name in names)
    return attrgetter(*names)


_LISTS = ("finds", "cultures", "batches", "notes", "tent_entries", "devices", "photos", "logs")


def as_before(before: Journal | None, journal: Journal) -> Journal:
    """The same journal, with the identical objects of an earlier one wherever their values are the same, so that
    comparing what is made from them is fast."""
    if before is None:
        return journal
    lists: dict[str, Any] = {}
    for name in _LISTS:
        known = {row.path: row for row in getattr(before, name)}
        rows = getattr(journal, name)
        lists[name] = tuple(own if same(own := known.get(row.path), row) else row for row in rows)
    return replace(journal, **lists)
