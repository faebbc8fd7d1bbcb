"""What was planned before, and everything it was planned from, so that only what a change affects is planned again.

The journal, its analysis and its indexes are read through views, which note every part that is read. A result is kept
with these notes and with a stamp of each part, and reused as long as each of the parts, looked up again, has the same
stamp. A view notes every access: an item by its key, and a mapping or list as a whole if it is iterated.
"""

from __future__ import annotations

import gc
import os
from array import array
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Set
from contextlib import suppress
from dataclasses import fields, is_dataclass
from functools import cache
from hashlib import blake2b
from pathlib import Path as File
from types import FunctionType, MethodType
from typing import Any, Literal, TypeVar, cast

from journal.analysis.analysis import Analysis
from journal.analysis.progress import Progress
from journal.model import Entry, Journal
from journal.site.stamps import ABSENT, STAMP_BYTES, Stamps, Unfit, packed, unpacked

T = TypeVar("T")

Path = tuple[str | tuple[Hashable], ...]
"""The path to a value from a named root: names of attributes, and keys of items, each key in a tuple of one."""

Read = tuple[Path, Literal["whole", "item", "has"], Hashable]
"""What was read: the path to it, and the key of an item if only that was asked for."""

_FORM = b"2\n"
"""Changed whenever the meaning of the file changes; a file of another form is not read."""


class _Kept:
    """A result, in memory or packed or both, with the numbers of what was read for it."""

    __slots__ = ("_value", "data", "reads")

    def __init__(self, value: Any, reads: Iterable[int], data: bytes | None = None) -> None:
        self._value, self.reads, self.data = value, array("I", reads), data

    @property
    def value(self) -> Any:
        if self._value is ABSENT and self.data is not None:
            self._value = unpacked(self.data)
        return self._value

    def is_readable(self) -> bool:
        with suppress(Unfit):
            return self.value is not ABSENT
        return False

    def pack(self) -> bytes | None:
        """The result as bytes; None for one that cannot be packed."""
        if self.data is None:
            with suppress(Unfit):
                self.data = packed(self._value)
        return self.data


class Memory:
    """What is kept from one plan of a journal to the next. A plan is made between `begin` and `end`; a plan that is
    interrupted leaves nothing."""

    def __init__(self) -> None:
        self._roots: Mapping[str, Any] = {}
        self._now: Mapping[str, Any] = {}
        self._besides: bytes | None = None
        self._is_whole = False
        self._kept: dict[tuple[str, Hashable], _Kept] = {}
        self._used: dict[tuple[str, Hashable], _Kept] = {}
        self._alone: dict[tuple[str, str], tuple[bytes, Any]] = {}
        self._alone_now: dict[tuple[str, str], tuple[bytes, Any]] = {}
        self._reads: list[Read] = []
        self._numbers: dict[Read, int] = {}
        self._stamps: dict[int, bytes | None] = {}
        self._stamp = Stamps()
        self._parts = _Parts(self._stamp, {}, self._reads, {})
        self._open: list[set[int]] = []

    def root(self, name: str) -> Any | None:
        """The root of that name which the last complete plan of this process was made from."""
        return self._roots.get(name)

    def begin(self, roots: Mapping[str, Any], besides: object = None) -> Mapping[str, Any]:
        """Views of what a plan is made from, by the same names. besides: what else everything is made from; if it is
        not the same as before, all is forgotten."""
        self._stamp.begin()
        own = self._stamp.of(besides)
        is_known = self._is_whole and own is not None and own == self._besides
        self._kept, self._used, self._open = self._used if is_known else {}, {}, []
        self._parts = _Parts(self._stamp, roots, self._reads, self._stamps)
        self._roots, self._now, self._besides, self._is_whole = {}, roots, own, False
        self._alone, self._alone_now = self._alone_now, {}
        return {name: self.seen((name,), root) for name, root in roots.items()}

    def end(self) -> None:
        """Completes the plan: what it used is kept for the next one."""
        read = {number for kept in self._used.values() for number in kept.reads}
        stamps = self._parts.stamps
        self._stamps = {n: stamps[n] if n in stamps else self._parts.stamp_of(n) for n in read}
        self._roots, self._now, self._kept, self._is_whole = self._now, {}, {}, True
        self._alone = {}
        self._parts = _Parts(self._stamp, {}, self._reads, {})
        self._stamp.end()

    def keep(self, kind: str, key: Hashable, make: Callable[[], T]) -> T:
        """What was made under this kind and key before, if everything read for it is unchanged; otherwise the result of
        `make`, which may read only views and what never changes between two plans."""
        known = self._used.get((kind, key)) or self._as_before(kind, key)
        if known is None:
            reads: set[int] = set()
            self._open.append(reads)
            try:
                value = make()
            finally:
                self._open.pop()
            known = _Kept(value, reads)
        self._used[kind, key] = known
        if self._open:
            self._open[-1].update(known.reads)
        return cast(T, known.value)

    def alone(self, kind: str, entry: Entry, make: Callable[[Entry], T]) -> T:
        """What `make` makes of one entry and of nothing else, or what it made of the same in the plan before."""
        stamp = self._stamp.of(entry)
        known = self._alone.get((kind, entry.path))
        if stamp is None or known is None or known[0] != stamp:
            known = (stamp or b"", make(entry))
        self._alone_now[kind, entry.path] = known
        return cast(T, known[1])

    def _as_before(self, kind: str, key: Hashable) -> _Kept | None:
        """What an earlier plan made, if everything read for it is unchanged."""
        known = self._kept.get((kind, key))
        is_same = known is not None and all(map(self._parts.__getitem__, known.reads)) and known.is_readable()
        return known if is_same else None

    def number(self, path: Path, how: Literal["whole", "item", "has"] = "whole", key: Hashable = None) -> int:
        """The number of a part of what a plan is made from."""
        read = (path, how, key)
        found = self._numbers.get(read)
        if found is None:
            found = self._numbers[read] = len(self._reads)
            self._reads.append(read)
        return found

    def note(self, number: int) -> None:
        """Notes for what is being made that a part was read."""
        if self._open:
            self._open[-1].add(number)

    def seen(self, path: Path, value: Any) -> Any:
        """A value as a reader gets it: in a view if only a part of it may be read, else itself."""
        if isinstance(value, Mapping):
            return _MappingView(self, path, value)
        if isinstance(value, frozenset):
            return _SetView(self, path, value)
        return _View(self, path, value) if _has_parts(value) else value

    def save(self, file: File, bound: str) -> None:
        """Writes what the last complete plan used to a file, whole or not at all; a failing disk only makes the next
        build slower. bound: of the program that made it."""
        if not self._is_whole:
            return
        numbers = {old: new for new, old in enumerate(self._stamps)}
        kept = [(*key, array("I", map(numbers.__getitem__, row.reads)).tobytes(), data)
                for key, row in self._used.items() if (data := row.pack()) is not None]  # fmt: skip
        stamps = b"".join(stamp or bytes(STAMP_BYTES) for stamp in self._stamps.values())
        try:
            body = packed((self._besides, [self._reads[old] for old in numbers], stamps, kept, self._alone_now))
        except Unfit:
            return
        fresh = file.with_name(f"{file.name}.part")
        try:
            with fresh.open("wb") as opened:
                opened.writelines((_FORM, _checksum(body, bound), body))
            os.replace(fresh, file)
        except OSError:
            with suppress(OSError):
                fresh.unlink()

    @classmethod
    def load(cls, file: File, bound: str) -> Memory:
        """What `save` wrote with the same bound; an empty memory where there is no such file, or where it is cut,
        damaged or of another version."""
        memory = cls()
        try:
            with file.open("rb") as opened:
                form, checksum, body = opened.read(len(_FORM)), opened.read(STAMP_BYTES), opened.read()
        except OSError:
            return memory
        if form != _FORM or checksum != _checksum(body, bound):
            return memory
        was_on = gc.isenabled()
        gc.disable()  # nothing of what is read is garbage, and looking for some takes longer than reading
        try:
            memory._besides, memory._reads, stamps, kept, memory._alone_now = unpacked(body)
            memory._numbers = {read: number for number, read in enumerate(memory._reads)}
            cut = (stamps[at : at + STAMP_BYTES] for at in range(0, len(stamps), STAMP_BYTES))
            memory._stamps = {number: stamp if any(stamp) else None for number, stamp in enumerate(cut)}
            for kind, key, numbers, value in kept:
                row = memory._used[kind, key] = _Kept(ABSENT, (), value)
                row.reads.frombytes(numbers)
        except (Unfit, ValueError, TypeError):
            return cls()
        finally:
            if was_on:
                gc.enable()
        memory._is_whole = True
        return memory


def _checksum(body: bytes, bound: str) -> bytes:
    whole = blake2b(bound.encode() + b"\0", digest_size=STAMP_BYTES)
    whole.update(body)
    return whole.digest()


class _Parts(dict[int, bool]):
    """Whether a part, by its number, is the same now as before; looked up when first asked."""

    def __init__(
        self, stamp: Stamps, roots: Mapping[str, Any], reads: list[Read], before: Mapping[int, bytes | None]
    ) -> None:
        super().__init__()
        self._stamp, self._roots, self._reads, self._before = stamp, roots, reads, before
        self._at: dict[Path, Any] = {}
        self.stamps: dict[int, bytes | None] = {}
        """Of the parts that were looked up; None for what is never the same."""

    def __missing__(self, number: int) -> bool:
        stamp = self.stamp_of(number)
        found = self[number] = stamp is not None and stamp == self._before.get(number)
        return found

    def stamp_of(self, number: int) -> bytes | None:
        path, how, key = self._reads[number]
        value = self._at.get(path, self)
        if value is self:  # not looked up yet
            value = self._at[path] = _at(self._roots, path)
        found = self.stamps[number] = self._stamp.of(value if how == "whole" else _in(value, how, key))
        return found


def _at(roots: Mapping[str, Any], path: Path) -> Any:
    """The value at the end of a path; `ABSENT` if there is none."""
    try:
        value: Any = roots
        for step in ((path[0],), *path[1:]):
            value = value[step[0]] if isinstance(step, tuple) else getattr(value, step)
    except (KeyError, AttributeError):
        return ABSENT
    return value


def _in(value: Any, how: str, key: Hashable) -> Any:
    if value is ABSENT:
        return ABSENT
    return value.get(key, ABSENT) if how == "item" else key in value


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
        found = self.get(key, ABSENT)
        if found is ABSENT:
            raise KeyError(key)
        return found

    def get(self, key: Any, default: Any = None) -> Any:
        known = self._items.get(key)
        if known is None:
            value = self._of.get(key, ABSENT)
            if isinstance(value, Progress):
                number = self._memory.number(self._path, "has", key)
                value = _View(self._memory, (*self._path, (key,)), value)
            else:
                number = self._memory.number(self._path, "item", key)
            known = self._items[key] = (value, number)
        self._memory.note(known[1])
        return default if known[0] is ABSENT else known[0]

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
