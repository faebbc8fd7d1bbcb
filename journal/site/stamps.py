"""Whether values are the same in every part, compared with each other or by their stamps; and values as bytes."""

from __future__ import annotations

import io
import marshal
import pickle
import sys
from collections.abc import Callable, Collection, Hashable, Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from datetime import date, datetime, time, timedelta, timezone
from enum import Enum
from functools import cache
from hashlib import blake2b
from operator import attrgetter
from types import MappingProxyType, SimpleNamespace
from typing import Any, cast
from zoneinfo import ZoneInfo

from markupsafe import Markup

from journal.model import Batch, Culture, Device, Find, Journal, LoggerFile, Note, Photo, TentEntry, WeatherFile
from journal.site.plan import Page

STAMP_BYTES = 16


class Absent(Enum):
    """Stands for what is not there; the same as itself only."""

    ABSENT = "absent"


ABSENT = Absent.ABSENT

_PLAIN = (str, bytes, bool, int, type(None))
_BY_REPR = (float, date, datetime, time, range)
"""Types whose equal values may look different: 0.0 and -0.0, one moment in two time zones, two empty ranges."""


class Unfit(ValueError):
    """A value that has no stamp, or cannot be packed, or bytes that contain no value."""


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


# -- stamps --------------------------------------------------------------------------------------------------------

_PARTS_OF_MANY = frozenset({Find, Culture, Batch, Note, TentEntry, Device, Photo, LoggerFile, WeatherFile})
"""Types whose values are parts of many others, so that each is stamped once."""

_AS_THEY_ARE = frozenset({*_PLAIN, float})


class Stamps:
    """Makes stamps: two values have the same one if they are the same in every part, as by `same`. Between `begin` and
    `end` nothing that is stamped may change."""

    def __init__(self) -> None:
        self._own: dict[int, tuple[Any, bytes]] = {}
        self._before: dict[int, tuple[Any, bytes]] = {}

    def begin(self) -> None:
        self._before, self._own = self._own, {}

    def end(self) -> None:
        self._before = {}

    def of(self, value: object) -> bytes | None:
        """The stamp of a value; None for one that has a part of an unknown type, and is never the same as another."""
        try:
            if _parts_of(cast(Hashable, kind := type(value))) is not None:  # many keys may lead to one value
                return self._of_one(kind, value)
            return self._stamp(self._plain(value))
        except (Unfit, ValueError, RecursionError):
            return None

    @staticmethod
    def _stamp(plain: Any) -> bytes:
        # This version of the form tells nothing of how often an object is referred to, or whether a text is interned.
        return blake2b(marshal.dumps(plain, 2), digest_size=STAMP_BYTES).digest()

    def _plain(self, value: Any) -> Any:
        """The value as numbers, texts and tuples; the first part of a tuple says what it stands for."""
        kind = type(value)
        if kind in _AS_THEY_ARE:
            return value
        if kind in _PARTS_OF_MANY:
            return (0, self._of_one(kind, value))
        if kind is tuple or kind is list:
            return (1 if kind is tuple else 2, *self._each(value))
        if (parts := _parts_of(cast(Hashable, kind))) is not None:
            return (3, _name(cast(Hashable, kind)), *self._each(parts(value)))
        if kind in _BY_REPR:
            return (4, kind.__name__, repr(value))
        if kind is dict or kind is MappingProxyType:
            return (5 if kind is dict else 6, *self._each(value.keys()), *self._each(value.values()))
        if kind is set or kind is frozenset:
            return (7, kind.__name__, *_sorted_texts(value))
        if kind is SimpleNamespace:
            return (8, self._plain(vars(value)))
        if isinstance(value, tuple):
            return (9, _name(cast(Hashable, kind)), *self._each(value))
        if isinstance(value, Enum):
            return (10, _name(cast(Hashable, kind)), value.name)
        raise Unfit(kind)

    def _each(self, values: Collection[Any]) -> Iterable[Any]:
        if _AS_THEY_ARE.issuperset(map(type, values)):
            return values
        return [value if type(value) in _AS_THEY_ARE else self._plain(value) for value in values]

    def _of_one(self, kind: type, value: Any) -> bytes:
        known = self._own.get(id(value)) or self._before.get(id(value))
        if known is None or known[0] is not value:
            parts = _parts_of(cast(Hashable, kind))
            assert parts is not None
            known = (value, self._stamp((_name(cast(Hashable, kind)), *self._each(parts(value)))))
        self._own[id(value)] = known
        return known[1]


@cache
def _name(kind: Any) -> str:
    return f"{kind.__module__}.{kind.__qualname__}"


def _sorted_texts(values: set[Any] | frozenset[Any]) -> list[str]:
    if any(type(each) is not str for each in values):
        raise Unfit("a set whose order is not known")
    return sorted(values)


# -- values as bytes -----------------------------------------------------------------------------------------------


def packed(value: object) -> bytes:
    """The value as bytes. Raises Unfit for one with a part of another type than plain ones, dates, zones, and the
    dataclasses, enumerations and named tuples of this program."""
    out = io.BytesIO()
    try:
        _Packer(out, 5).dump(value)
    except (pickle.PicklingError, TypeError, AttributeError, RecursionError) as error:
        raise Unfit(type(value)) from error
    return out.getvalue()


def unpacked(data: bytes) -> Any:
    """The value that was packed. The bytes can name no other types than `packed` takes, and nothing else is called.
    Raises Unfit for other bytes."""
    try:
        return _Unpacker(io.BytesIO(data)).load()
    except Exception as error:  # what is constructed of other bytes may raise anything
        raise Unfit("no packed value") from error


_KINDS = frozenset({SimpleNamespace, date, datetime, time, timedelta, timezone, Markup, range, set, frozenset})


@cache
def _is_known(kind: type) -> bool:
    if kind in _KINDS:
        return True
    is_named = issubclass(kind, tuple) and hasattr(kind, "_fields")
    if any("__call__" in vars(own) for own in kind.__mro__):
        return False
    return kind.__module__.startswith("journal.") and (is_dataclass(kind) or issubclass(kind, Enum) or is_named)


class _Reducers(dict[type, Callable[[Any], Any]]):
    """Type -> how its values are taken apart; found when first asked."""

    def __missing__(self, kind: type) -> Callable[[Any], Any]:
        if not _is_known(kind):
            raise Unfit(kind)
        parts = _parts_of(cast(Hashable, kind))
        if parts is None or hasattr(kind, "__post_init__") or any(not part.init for part in fields(kind)):
            raise KeyError(kind)  # the type's own way
        is_by_name = any(part.kw_only for part in fields(kind))
        made = (lambda value: (_by_name, (kind, parts(value)))) if is_by_name else lambda value: (kind, parts(value))
        return self.setdefault(kind, made)


def _apart(page: Page) -> Any:
    own = page.context
    context = own.data if isinstance(own, StoredContext) else packed(own)
    head = (page.endpoint, page.values, page.path, page.template, page.section, page.growing)
    return _page, (*head, dict(page._digests), context)


def _zone_apart(zone: ZoneInfo) -> Any:
    if not zone.key:
        raise Unfit("a zone without a name")
    return _zone, (zone.key,)


class _Packer(pickle.Pickler):
    dispatch_table = _Reducers({Page: _apart, ZoneInfo: _zone_apart})


class _Unpacker(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> Any:
        found = getattr(sys.modules.get(module), name, None)
        if found in _MAKERS or (isinstance(found, type) and _is_known(found)):
            return found
        raise Unfit(f"{module}.{name}")


class StoredContext(Mapping[str, Any]):
    """What a page's template gets, unpacked when it is first asked for."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self._whole: dict[str, Any] | None = None

    def whole(self) -> dict[str, Any]:
        if self._whole is None:
            self._whole = unpacked(self.data)
        return self._whole

    def __getitem__(self, key: str) -> Any:
        return self.whole()[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self.whole())

    def __len__(self) -> int:
        return len(self.whole())

    def __repr__(self) -> str:
        return repr(self.whole())


def _page(
    endpoint: str, values: tuple[tuple[str, str], ...], path: str, template: str, section: str, growing: bool,
    digests: dict[str, str], context: bytes,
) -> Page:  # fmt: skip
    page = Page(endpoint, values, path, template, StoredContext(context), section, growing)
    page._digests.update(digests)
    return page


def _zone(key: str) -> ZoneInfo:
    return ZoneInfo(key)


def _by_name(kind: Any, values: tuple[Any, ...]) -> Any:
    if not isinstance(kind, type):
        raise Unfit(kind)
    return kind(**dict(zip([part.name for part in fields(kind)], values, strict=True)))


_MAKERS = (_page, _zone, _by_name)
"""All that bytes can name besides types; none calls anything that it is given."""
