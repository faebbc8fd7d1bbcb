"""What was planned before, and everything it was planned from, so that only what a change affects is planned again.

The journal, its analysis and its indexes are read through views, which note every part that is read. A result is kept
with these notes, and reused as long as each of the parts, looked up again, is exactly the same. A view notes every
access: an item by its key, and a mapping or list as a whole if it is iterated.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import fields, is_dataclass, replace
from datetime import date, datetime, time
from enum import Enum
from functools import cache
from itertools import compress, repeat
from operator import attrgetter, is_, is_not
from types import FunctionType, MappingProxyType, MethodType, SimpleNamespace
from typing import Any, Literal, TypeVar, cast

from journal.analysis.analysis import Analysis
from journal.analysis.progress import Progress
from journal.model import Journal
from journal.reading.entries import KeptSteps

T = TypeVar("T")

Path = tuple[str | tuple[Hashable], ...]
"""The path to a value from a named root: names of attributes, and keys of items, each key in a tuple of one."""

Read = Literal["whole", "item", "has"]
"""What was read at a path: all of it, one item by its key, or only whether there is one with that key."""

Items = Mapping[tuple[Path, Read], Mapping[Hashable, int]]
"""The numbers of all that was read at a path in one of these ways, by the key of the item; None where it is whole."""

Parts = Mapping[Path, Sequence[int]]
"""The numbers of all that was read as a whole, by the path of what it is a part of."""

Roots = Mapping[str, Any]

_ABSENT = object()


class _Kept:
    """A result with the numbers of what was read for it, and with the results that it was made of."""

    __slots__ = ("made_of", "reads", "value")

    def __init__(self, value: Any, reads: Iterable[int], made_of: _ByKind) -> None:
        self.value, self.reads, self.made_of = value, tuple(reads), made_of


_ByKind = dict[tuple[str, Hashable], _Kept]
"""Results by kind and key."""


class Memory:
    """What is kept from one plan of a journal to the next. A plan is made between `begin` and `end`; a plan that is
    interrupted leaves nothing. steps: what linking keeps from one reading of it to the next."""

    def __init__(self) -> None:
        self.steps = KeptSteps()
        self._roots: Mapping[str, Any] = {}
        self._now: Mapping[str, Any] = {}
        self._depends_on: object = None
        self._kept: _ByKind = {}
        self._used: _ByKind = {}
        self._reads: list[tuple[Path, Read]] = []
        self._items: dict[tuple[Path, Read], dict[Hashable, int]] = defaultdict(dict)
        self._parts: dict[Path, list[int]] = defaultdict(list)
        self._is_as_before = self._comparison({}, {})
        self._open: list[tuple[set[int], _ByKind]] = []

    def root(self, name: str) -> Any | None:
        """The root of that name which the last complete plan of this process was made from."""
        return self._roots.get(name)

    def begin(self, roots: Mapping[str, Any], depends_on: object = None) -> Mapping[str, Any]:
        """Views of what a plan is made from, by the same names. depends_on: what else everything is made from; if it is
        not the same as before, all is forgotten."""
        is_known = bool(self._roots) and same(depends_on, self._depends_on)
        self._kept, self._used, self._open = self._used if is_known else {}, {}, []
        self._is_as_before = self._comparison(self._roots, roots)
        self._roots, self._now, self._depends_on = {}, roots, depends_on
        return {name: self.seen((name,), root) for name, root in roots.items()}

    def end(self) -> None:
        """Completes the plan: what it used is kept for the next one."""
        self._roots, self._now, self._kept = self._now, {}, {}
        self._is_as_before = self._comparison({}, {})

    def _comparison(self, before: Roots, now: Roots) -> _Comparison:
        return _Comparison(before, now, self._reads, self._items, self._parts)

    def keep(self, kind: str, key: Hashable, make: Callable[[], T]) -> T:
        """What was made under this kind and key before, if everything read for it is unchanged; otherwise the result of
        `make`, which may read only views and what never changes between two plans."""
        at = (kind, key)
        known = self._used.get(at)
        if known is None and (known := self._as_before(at)):
            self._used |= known.made_of  # nothing that these read has changed either
        if known is None:
            reads, made_of = noted = set[int](), _ByKind()
            self._open.append(noted)
            try:
                value = make()
            finally:
                self._open.pop()
            known = _Kept(value, reads, made_of)
        self._used[at] = known
        if self._open:
            reads, made_of = self._open[-1]
            reads.update(known.reads)
            made_of |= {**known.made_of, at: known}
        return cast(T, known.value)

    def _as_before(self, at: tuple[str, Hashable]) -> _Kept | None:
        """What an earlier plan made, if everything read for it is unchanged."""
        known = self._kept.get(at)
        is_same = known is not None and all(map(self._is_as_before.__getitem__, known.reads))
        return known if is_same else None

    def number(self, path: Path, how: Read = "whole", key: Hashable = None) -> int:
        """The number of a part of what a plan is made from."""
        numbers = self._items[path, how]
        found = numbers.get(key)
        if found is None:
            found = numbers[key] = len(self._reads)
            self._reads.append((path, how))
            if how == "whole":
                self._parts[path[:-1]].append(found)
        return found

    def note(self, number: int) -> None:
        """Notes for what is being made that a part was read."""
        if self._open:
            self._open[-1][0].add(number)

    def seen(self, path: Path, value: Any) -> Any:
        """A value as a reader gets it: in a view if only a part of it may be read, else itself."""
        if isinstance(value, Mapping):
            return _MappingView(self, path, value)
        if isinstance(value, frozenset):
            return _SetView(self, path, value)
        return _View(self, path, value) if _has_parts(value) else value


class _Comparison(dict[int, bool]):
    """Whether a part, by its number, is the same now as before; compared when first asked."""

    def __init__(self, before: Roots, now: Roots, reads: Sequence[tuple[Path, Read]], items: Items, parts: Parts):
        super().__init__()
        self._reads, self._items, self._parts = reads, items, parts
        self._at: dict[Path, tuple[Any, Any]] = {(): (before, now)}
        self._compared: dict[tuple[int, int], tuple[Any, Any, bool]] = {}

    def __missing__(self, number: int) -> bool:
        path, how = self._reads[number]
        if how == "whole":
            whole_before, whole_now = self._at.get(path[:-1]) or self._both(path[:-1])
            if whole_before is whole_now:  # so are all its parts
                self.update(dict.fromkeys(self._parts[path[:-1]], True))
                return True
        before, now = self._at.get(path) or self._both(path)
        if how == "whole":
            self[number] = before is now or self._same(before, now)
        else:
            self._compare_items(before, now, how, self._items[path, how])
        return self[number]

    def _compare_items(self, before: Any, now: Any, how: Read, numbers: Mapping[Hashable, int]) -> None:
        """Compares all items that were read of one mapping or set: nearly always all of them are asked for."""
        if before is now or before is _ABSENT or now is _ABSENT:
            self.update(dict.fromkeys(numbers.values(), before is now))
        elif how == "has":
            both = map(is_, map(before.__contains__, numbers), map(now.__contains__, numbers))
            self.update(zip(numbers.values(), both, strict=True))
        else:
            ones, others = ([*map(values.get, numbers, repeat(_ABSENT))] for values in (before, now))
            self.update(zip(numbers.values(), map(is_, ones, others), strict=True))
            rows = zip(numbers.values(), ones, others, strict=True)
            for number, one, other in compress(rows, map(is_not, ones, others)):
                self[number] = self._same(one, other)

    def _both(self, path: Path) -> tuple[Any, Any]:
        """The values at the end of a path, before and now; `_ABSENT` if there is none."""
        above = path[:-1]
        before, now = self._at.get(above) or self._both(above)
        step = path[-1] if above else (path[0],)
        then = _step(before, step)
        both = self._at[path] = (then, then if before is now else _step(now, step))
        return both

    def _same(self, before: Any, now: Any) -> bool:
        """As `same`. Many items are often one object, such as the patch of each of its finds: two objects, kept here
        so that their identities stay theirs, are compared once."""
        pair = (id(before), id(now))
        if pair not in self._compared:
            self._compared[pair] = (before, now, same(before, now))
        return self._compared[pair][2]


def _step(value: Any, step: str | tuple[Hashable]) -> Any:
    """The attribute of that name, or the item with the key in a tuple of one; `_ABSENT` if there is none."""
    if value is _ABSENT:
        return _ABSENT
    try:
        return value[step[0]] if isinstance(step, tuple) else getattr(value, step)
    except (KeyError, AttributeError):
        return _ABSENT


def _has_parts(value: Any) -> bool:
    """Whether a value is read part by part, as mappings and objects are."""
    if isinstance(value, Journal | Analysis | Progress) or getattr(value, "is_read_in_parts", False):
        return True
    names = _field_names(cast(Hashable, type(value)))
    return any(isinstance(getattr(value, name), Mapping | frozenset) for name in names)


@cache
def _field_names(kind: Any) -> tuple[str, ...]:
    return tuple(part.name for part in fields(kind)) if is_dataclass(kind) else ()


class _View:
    """Stands for a value whose attributes are read one by one; its methods read through the view too."""

    def __init__(self, memory: Memory, path: Path, of: Any) -> None:
        self._memory, self._path, self._of = memory, path, of
        self._plain: dict[str, tuple[Any, int]] = {}

    def __getattr__(self, name: str) -> Any:
        if (known := self.__dict__["_plain"].get(name)) is not None:
            self._memory.note(known[1])
            return known[0]
        if isinstance(method := getattr(type(self._of), name, None), FunctionType):
            found: Any = MethodType(method, self)
        else:
            value, path = getattr(self._of, name), (*self._path, name)
            found = self._memory.seen(path, value)
            if found is value:
                number = self._memory.number(path)
                self._plain[name] = (value, number)
                self._memory.note(number)
                return found
        self.__dict__[name] = found
        return found


class _MappingView(Mapping[Any, Any]):
    def __init__(self, memory: Memory, path: Path, of: Mapping[Any, Any]) -> None:
        self._memory, self._path, self._of = memory, path, of
        self._items: dict[Any, tuple[Any, int]] = {}
        self._has: dict[Any, tuple[bool, int]] = {}
        self._number: int | None = None

    def __getitem__(self, key: Any) -> Any:
        found = self.get(key, _ABSENT)
        if found is _ABSENT:
            raise KeyError(key)
        return found

    def get(self, key: Any, default: Any = None) -> Any:
        known = self._items.get(key)
        if known is None:
            value = self._of.get(key, _ABSENT)
            if isinstance(value, Progress):
                number = self._memory.number(self._path, "has", key)
                value = _View(self._memory, (*self._path, (key,)), value)
            else:
                number = self._memory.number(self._path, "item", key)
            known = self._items[key] = (value, number)
        self._memory.note(known[1])
        return default if known[0] is _ABSENT else known[0]

    def __contains__(self, key: object) -> bool:
        known = self._has.get(key)
        if known is None:
            known = self._has[key] = (key in self._of, self._memory.number(self._path, "has", key))
        self._memory.note(known[1])
        return known[0]

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
        if self._number is None:
            self._number = self._memory.number(self._path)
        self._memory.note(self._number)
        return self._of


class _SetView(Set[Any]):
    def __init__(self, memory: Memory, path: Path, of: frozenset[Any]) -> None:
        self._memory, self._path, self._of = memory, path, of

    @classmethod
    def _from_iterable(cls, it: Any) -> Any:
        return frozenset(it)

    def __contains__(self, key: object) -> bool:
        self._memory.note(self._memory.number(self._path, "has", key))
        return key in self._of

    def __iter__(self) -> Iterator[Any]:
        return iter(self._whole())

    def __len__(self) -> int:
        return len(self._whole())

    def _whole(self) -> frozenset[Any]:
        self._memory.note(self._memory.number(self._path))
        return self._of


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
        return len(one) == len(other) and _are_same(one, other)
    parts = _parts_of(cast(Hashable, kind))
    if parts is not None:
        return _are_same(parts(one), parts(other))
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


def _are_same(ones: Sequence[Any], others: Sequence[Any]) -> bool:
    """Whether each is the same as its counterpart; most are the very objects."""
    return all(map(is_, ones, others)) or all(
        same(one, other) for one, other in zip(ones, others, strict=True) if one is not other
    )


@cache
def _parts_of(kind: Any) -> Callable[[Any], tuple[Any, ...]] | None:
    """A function that gives the values of all fields of a dataclass; None for another type."""
    if not is_dataclass(kind):
        return None
    names = [part.name for part in fields(kind)]
    if len(names) < 2:
        return lambda value: tuple(getattr(value, name) for name in names)
    return attrgetter(*names)


_LISTS = ("finds", "cultures", "batches", "notes", "tent_entries", "devices", "photos", "logs", "weather")


def as_before(before: Journal | None, journal: Journal) -> Journal:
    """The same journal, with the identical objects of an earlier one wherever their values are the same, so that
    comparing what is made from them is fast, and with the figures that were calculated from these."""
    if before is None:
        return journal
    lists: dict[str, Any] = {}
    for name in _LISTS:
        rows_before, rows = getattr(before, name), getattr(journal, name)
        known = {row.path: row for row in rows_before}
        rows = tuple(own if same(own := known.get(row.path), row) else row for row in rows)
        is_same = len(rows) == len(rows_before) and all(map(is_, rows, rows_before))
        lists[name] = rows_before if is_same else rows
    return replace(journal, **lists, figures=before.figures)
